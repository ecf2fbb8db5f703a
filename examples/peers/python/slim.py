"""Prints Python files as short as they get without changing what they do, for pasting into a board of little memory.

    python3 slim.py small.py bellwire/dead_man.py

Comments, docstrings, blank lines and imports from the same folder go; an indentation is one space. An interpreter needs
several times the length of what it compiles, so it comes in pieces, an empty line after each: paste them one by one.
"""

import ast
import io
import sys
import tokenize


def docstring_lines(source):
    """Numbers of all lines that docstrings take."""
    lines = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)) and ast.get_docstring(node) is not None:
            text = node.body[0]
            lines.update(range(text.lineno, text.end_lineno + 1))
    return lines


def slim(source):
    """The short form."""
    unwanted = docstring_lines(source)
    comments = {}
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            comments[token.start[0]] = token.start[1]
    out = []
    for number, line in enumerate(source.splitlines(), 1):
        line = line[: comments.get(number, len(line))].rstrip()
        if number in unwanted or not line or line.startswith("from ."):
            continue
        text = line.lstrip()
        out.append(" " * ((len(line) - len(text)) // 4) + text)
    return "\n".join(out) + "\n"


def pieces(source):
    """The short form in pieces that can be pasted one by one: classes first without their methods, then those, longest first, for the
    longest piece needs the most memory, and then the rest."""
    classes, methods, rest = [], [], []
    for line in slim(source).splitlines():
        if line.startswith(" def ") and " __init__" not in line:
            name = line.split("(")[0].split()[1]
            methods.append([line, f"{owner}.{name}={name}\ndel {name}"])
            into = methods
        elif line.startswith("class "):
            owner = line.split(":")[0].split("(")[0].split()[1]
            classes.append([line])
            into = classes
        elif line.startswith((" ", ")", "]", "}")):
            into[-1].insert(len(into[-1]) - (into is methods), line)
        else:
            rest.append([line])
            into = rest
    for method in methods:
        method[:-1] = [line[1:] for line in method[:-1]]
    ordered = classes + sorted(methods, key=lambda method: -sum(map(len, method))) + rest
    return ["\n".join(lines) + "\n" for lines in ordered]


if __name__ == "__main__":
    for path in sys.argv[1:]:
        print("\n".join(pieces(open(path, encoding="utf-8").read())))
