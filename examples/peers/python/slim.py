"""Prints Python files as short as they get without changing what they do, for pasting into a board of little memory.

    python3 slim.py small.py bellwire/dead_man.py program.py

Comments, docstrings, blank lines and imports from the same folder go; an indentation is one space; statements share lines;
names that the files give away themselves become short, but for those of classes, top-level functions and imports (so hand over all files at once, the program
that uses them too). An interpreter needs several times the length of what it compiles, so it comes in pieces with an empty line after each:
paste them one by one, and collect garbage after each.
"""

import ast
import builtins
import io
import itertools
import keyword
import string
import sys
import tokenize

FOREIGN = {"read", "write", "self", *dir(builtins), *keyword.kwlist}
FOREIGN.update(*(dir(kind) for kind in (int, bytes, bytearray, list, dict, tuple, str)))
OPENERS = ("if", "elif", "else", "for", "while", "def", "class", "try", "except", "with")


def bare(source):
    """Without comments, docstrings, blank lines and imports from the same folder, and with narrow indentation."""
    unwanted = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)) and ast.get_docstring(node) is not None:
            unwanted.update(range(node.body[0].lineno, node.body[0].end_lineno + 1))
    comments = {}
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            comments[token.start[0]] = token.start[1]
    out = []
    for number, line in enumerate(source.splitlines(), 1):
        line = line[: comments.get(number, len(line))].rstrip()
        if number not in unwanted and line and not line.startswith("from ."):
            text = line.lstrip()
            out.append(" " * ((len(line) - len(text)) // 4) + text)
    return "\n".join(out) + "\n"


def own_names(source):
    """Arguments, variables, attributes and methods that the source defines."""
    tree = ast.parse(source)
    kept = {node.name for node in tree.body if isinstance(node, (ast.ClassDef, ast.FunctionDef))}
    kept.update(alias.name for node in ast.walk(tree) if isinstance(node, (ast.Import, ast.ImportFrom)) for alias in node.names)
    names = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            names.append(node.name)
        elif isinstance(node, ast.arg):
            names.append(node.arg)
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            names.append(node.attr)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            names.append(node.id)
    return [name for name in dict.fromkeys(names) if name not in FOREIGN | kept and not name.startswith("__")]


def with_short_names(source):
    """The same with each own name made short, the same everywhere."""
    letters = string.ascii_letters
    free = (name for name in itertools.chain(letters, map("".join, itertools.product(letters, letters))) if name not in FOREIGN)
    short = dict(zip(own_names(source), free))
    lines = source.splitlines(keepends=True)
    for token in reversed(list(tokenize.generate_tokens(io.StringIO(source).readline))):
        if token.type == tokenize.NAME and token.string in short:
            row, column = token.start
            line = lines[row - 1]
            lines[row - 1] = line[:column] + short[token.string] + line[token.end[1] :]
    return "".join(lines)


def joined(lines):
    """Simple statements one after the other share a line."""
    out = []
    for line in lines:
        text = line.lstrip()
        depth = len(line) - len(text)
        simple = text.split()[0].rstrip(":") not in OPENERS and not text.startswith((")", "]", "}"))
        if out and simple and out[-1][1] and out[-1][0] == depth:
            out[-1][2] += ";" + text
        else:
            out.append([depth, simple and not text.endswith(("(", "[", ",")), line])
    return [line for _, _, line in out]


def pieces(*sources):
    """The short form in pieces that can be pasted one by one: classes first, without their methods, then those and functions, longest
    first, for the longest piece needs the most memory, and then the rest."""
    classes, functions, rest = [], [], []
    for line in with_short_names("".join(map(bare, sources))).splitlines():
        if line.startswith(" def ") and " __init__" not in line:
            name = line.split("(")[0].split()[1]
            into = functions
            into.append([line[1:], f"{owner}.{name}={name}", f"del {name}"])
        elif line.startswith("def "):
            into = functions
            into.append([line, "", ""])
        elif line.startswith("class "):
            owner = line.split(":")[0].split("(")[0].split()[1]
            into = classes
            into.append([line])
        elif not line.startswith((" ", ")", "]", "}")):
            into = rest
            into.append([line])
        elif into is functions:
            into[-1].insert(-2, line[1:] if into[-1][-1] else line)
        else:
            into[-1].append(line)
    ordered = classes + sorted(functions, key=lambda lines: -sum(map(len, lines))) + rest
    return ["\n".join(joined(filter(None, lines))) + "\n" for lines in ordered]


if __name__ == "__main__":
    print("\n".join(pieces(*(open(path, encoding="utf-8").read() for path in sys.argv[1:]))))
