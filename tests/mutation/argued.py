"""Mutants that no test can tell from the original, with the argument: lines of argued.md.

  - `FILE` `what is replaced by what in which function` at `the source line` column N: argument

where column 1 is the first character of the line that is no space.
"""

import re

LINE = re.compile(r"^- `([^`]+)` `([^`]+)` at `(.+?)` column (\d+): (.+)$")


def key(root, mutant):
    """What names a mutant even after lines have moved: the file, what is done, and the line it is done to."""
    if "key" in mutant:
        return mutant["key"]
    lines = (root / mutant["file"]).read_text().splitlines()
    what = re.sub(r"^[^:]+:\d+:\d+: ", "", mutant["name"])
    line = lines[mutant["span"]["start"]["line"] - 1]
    column = mutant["span"]["start"]["column"] - len(line) + len(line.lstrip())
    return " | ".join((mutant["file"], what, line.strip(), str(column)))


def read(root):
    """Arguments by key."""
    path = root / "tests" / "mutation" / "argued.md"
    found = (LINE.match(line) for line in path.read_text().splitlines()) if path.exists() else ()
    return {" | ".join(line.groups()[:4]): line[5] for line in found if line}
