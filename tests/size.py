"""Keeps files and functions short: 400 lines a Rust file, 60 lines a function (with some grace, listed when used)."""

import pathlib
import re
import sys

FILE, FUNCTION, GRACE = 400, 60, 10
ROOT = pathlib.Path(__file__).resolve().parent.parent
HEAD = re.compile(r"^(\s*)(?:pub(?:\([^)]*\))? )?(?:const |async |unsafe |extern \"C\" )*fn (\w+)")


def functions(lines):
    """Name and length of each function: rustfmt closes it at the indentation of its head."""
    for start, line in enumerate(lines):
        head = HEAD.match(line)
        if not head or line.rstrip().endswith((";", "}")):
            continue
        close = head.group(1) + "}"
        for end in range(start + 1, len(lines)):
            if lines[end] == close:
                yield head.group(2), end - start + 1
                break
            if lines[end].startswith(head.group(1)) and lines[end].rstrip().endswith(";") and "{" not in "".join(lines[start:end + 1]):
                break


def main():
    bad, files, count = [], 0, 0
    for path in sorted(ROOT.glob("*/**/*.rs")):
        if "target" in path.parts:
            continue
        name = path.relative_to(ROOT)
        lines = path.read_text().splitlines()
        files += 1
        if len(lines) > FILE:
            bad.append(f"{name}: {len(lines)} lines, at most {FILE}")
        for function, length in functions(lines):
            count += 1
            if length > FUNCTION + GRACE:
                bad.append(f"{name}: fn {function}: {length} lines, at most {FUNCTION}")
            elif length > FUNCTION:
                print(f"note: {name}: fn {function}: {length} lines")
    print(*bad, sep="\n")
    print(f"{files} files, {count} functions")
    sys.exit(1 if bad else 0)


main()
