"""Mutants that no test can tell from the original, with the argument: lines of argued.md.

  - `FILE` `what is replaced by what in which function` at `the source line`: argument
"""

import re

LINE = re.compile(r"^- `([^`]+)` `([^`]+)` at `(.+?)`: (.+)$")


def key(root, mutant):
    """What names a mutant even after lines have moved: the file, what is done, and the line it is done to."""
    if "key" in mutant:
        return mutant["key"]
    lines = (root / mutant["file"]).read_text().splitlines()
    what = re.sub(r"^[^:]+:\d+:\d+: ", "", mutant["name"])
    return f"{mutant['file']} | {what} | {lines[mutant['span']['start']['line'] - 1].strip()}"


def read(root):
    """Arguments by key."""
    path = root / "tests" / "mutation" / "argued.md"
    found = (LINE.match(line) for line in path.read_text().splitlines()) if path.exists() else ()
    return {f"{line[1]} | {line[2]} | {line[3]}": line[4] for line in found if line}
