"""Checks what the Markdown files point at: relative links, anchors of headings, and paths of this repository in code marks.

  python3 tests/links.py        prints each broken one as FILE:LINE, and the count; exits 1 if there is one

An address on the network is not fetched. A path in code marks is checked if it begins with a folder of the top level; one with an
ellipsis, a star or a word in capitals (a placeholder) is none.
"""

import collections
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(\s*<?([^)\s>]+)>?[^)]*\)|!\[[^\]]*\]\(([^)\s]+)\)|^\[[^\]]+\]:\s+(\S+)")
PATH = re.compile(r"`((?:core|host-cli|tests|examples|fuzz|\.cargo|\.ci)/[^`\s]*)`")
PLACEHOLDER = re.compile(r"…|\.\.\.|[*{}<>]|(?:^|/)[A-Z]+(?:\.[a-z]+)?$")


def markdown():
    """Every Markdown file that git knows or would take, once: a symbolic link is the same text."""
    names = subprocess.run(["git", "ls-files", "-co", "--exclude-standard", "*.md"], cwd=ROOT, check=True, capture_output=True, text=True)
    paths = (ROOT / name for name in names.stdout.splitlines())
    return sorted(path for path in paths if path.exists() and not path.is_symlink())


def prose(text):
    """Numbered lines outside of fenced code."""
    fence = None
    for number, line in enumerate(text.splitlines(), 1):
        mark = re.match(r"\s*(```+|~~~+)", line)
        if mark and fence is None:
            fence = mark[1]
        elif mark and mark[1].startswith(fence):
            fence = None
        elif fence is None:
            yield number, line


def anchors(path):
    """Names of the headings, as they are made for a page: lower case, dashes for spaces, a number for a second one."""
    names, seen = set(), collections.Counter()
    for _, line in prose(path.read_text()):
        heading = re.match(r"#{1,6}\s+(.*?)\s*#*$", line)
        if heading:
            name = re.sub(r"[^\w\- ]", "", re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading[1]).lower()).replace(" ", "-")
            seen[name] += 1
            names.add(name if seen[name] == 1 else f"{name}-{seen[name] - 1}")
        names.update(re.findall(r'<a (?:id|name)="([^"]+)"', line))
    return names


def broken(path, target):
    """Why this link leads nowhere, or None."""
    if re.match(r"[a-z][a-z0-9+.-]*:", target):
        return None
    name, _, anchor = target.partition("#")
    there = (path.parent / name).resolve() if name else path
    if not there.is_relative_to(ROOT):
        return "leads out of the repository"
    if not there.exists():
        return "no such file"
    if anchor and (there.suffix != ".md" or anchor not in anchors(there)):
        return "no such heading"
    return None


def main():
    good, bad = 0, []
    for path in markdown():
        for number, line in prose(path.read_text()):
            where = f"{path.relative_to(ROOT)}:{number}"
            for found in LINK.finditer(re.sub(r"`[^`]*`", "", line)):
                target = next(filter(None, found.groups()))
                why = broken(path, target)
                bad += [f"{where}: {target}: {why}"] if why else []
                good += not why
            for name in PATH.findall(line):
                if PLACEHOLDER.search(name) and not (ROOT / name).exists():
                    continue
                # A file of the repository, or one beside the text that names it.
                there = any((base / name.split("#")[0]).exists() for base in (ROOT, path.parent))
                bad += [] if there else [f"{where}: `{name}`: no such file"]
                good += there
    print(*bad, sep="\n", end="\n" if bad else "")
    print(f"{good} passed, {len(bad)} failed")
    sys.exit(1 if bad else 0)


main()
