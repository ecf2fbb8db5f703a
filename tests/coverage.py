"""Prints the coverage that `cargo llvm-cov --json` measured: lines a file, and a folder against its goal in per cent.

  python3 tests/coverage.py FILE.json FOLDER=GOAL…
"""

import collections
import json
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent


def main():
    data = json.loads(pathlib.Path(sys.argv[1]).read_text())["data"][0]
    goals = {folder: float(goal) for folder, goal in (word.split("=") for word in sys.argv[2:])}
    sums = collections.defaultdict(lambda: [0, 0])
    print(f"{'file':<52} {'lines':>6} {'run':>6} {'%':>6}")
    for file in sorted(data["files"], key=lambda file: file["filename"]):
        name = pathlib.Path(file["filename"]).relative_to(ROOT)
        lines = file["summary"]["lines"]
        if name.parts[0] not in goals:
            continue
        sums[name.parts[0]][0] += lines["count"]
        sums[name.parts[0]][1] += lines["covered"]
        print(f"{str(name):<52} {lines['count']:>6} {lines['covered']:>6} {lines['percent']:>6.1f}")
    missed = 0
    for folder, goal in goals.items():
        count, covered = sums[folder]
        percent = 100 * covered / max(count, 1)
        missed += percent < goal
        print(f"{folder:<52} {count:>6} {covered:>6} {percent:>6.1f}  goal {goal:g}: {'met' if percent >= goal else 'MISSED'}")
    sys.exit(1 if missed else 0)


main()
