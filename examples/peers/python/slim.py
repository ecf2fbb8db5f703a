"""Prints Python files as short as they get without changing what they do, for pasting into a board of little memory.

    python3 slim.py small.py bellwire/dead_man.py program.py

Comments, docstrings, blank lines, imports from the same folder and what nothing uses go (but a function `main` stays); whole numbers stand where
their names stood; an indentation is one space; statements share lines; names that the files give away themselves become short, but for those of
classes, imports and top-level functions without a leading underscore. So hand over all files at once, the program that uses them too. An
interpreter needs several times the length of what it compiles, so it comes in pieces with an empty line after each: paste them one by one, and
collect garbage after each.
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
    unwanted, empty = set(), set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)) and ast.get_docstring(node) is not None:
            unwanted.update(range(node.body[0].lineno, node.body[0].end_lineno + 1))
            if len(node.body) == 1 and not isinstance(node, ast.Module):
                empty.add(node.body[0].lineno)
    comments = {}
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            comments[token.start[0]] = token.start[1]
    out = []
    for number, line in enumerate(source.splitlines(), 1):
        line = line[: comments.get(number, len(line))].rstrip()
        if number in empty:
            out.append(" " * ((len(line) - len(line.lstrip())) // 4) + "pass")
        if number not in unwanted and line and not line.startswith("from ."):
            text = line.lstrip()
            out.append(" " * ((len(line) - len(text)) // 4) + text)
    return "\n".join(out) + "\n"


def whole_numbers(source):
    """Names that the source gives to whole numbers once and for all, with the numbers, and the lines that do so."""
    tree = ast.parse(source)
    stored = [node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)]
    taken = {node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)}
    numbers, lines = {}, set()
    for node in tree.body:
        if not isinstance(node, ast.Assign) or len(node.targets) > 1:
            continue
        target = node.targets[0]
        names = target.elts if isinstance(target, ast.Tuple) else [target]
        values = node.value.elts if isinstance(node.value, ast.Tuple) else [node.value]
        found = [calculated(value, numbers) for value in values]
        if len(names) == len(found) and None not in found and all(isinstance(name, ast.Name) and stored.count(name.id) == 1 and name.id not in taken for name in names):
            numbers.update(zip((name.id for name in names), found))
            lines.update(range(node.lineno, node.end_lineno + 1))
    return numbers, lines


def calculated(node, numbers):
    """A whole number that can be calculated now, or None."""
    parts = list(ast.walk(node))
    if not all(isinstance(part, (ast.Constant, ast.Name, ast.BinOp, ast.UnaryOp, ast.operator, ast.unaryop, ast.expr_context)) for part in parts):
        return None
    if not all(part.id in numbers for part in parts if isinstance(part, ast.Name)):
        return None
    value = eval(compile(ast.Expression(node), "", "eval"), {"__builtins__": {}}, dict(numbers))
    return value if type(value) is int else None


def with_numbers(source):
    """The same with whole numbers where their names stood."""
    numbers, lines = whole_numbers(source)
    texts = {name: f"({number})" if number < 0 or f"{name}." in source else str(number) for name, number in numbers.items()}
    kept = [line for number, line in enumerate(source.splitlines(keepends=True), 1) if number not in lines]
    return renamed("".join(kept), texts)


def used_only(source):
    """The same without functions, methods and values that nothing uses."""
    tree = ast.parse(source)
    used = {"main", "__init__"}
    used.update(node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute))
    used.update(node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load))
    parts = tree.body + [part for node in tree.body if isinstance(node, ast.ClassDef) for part in node.body]
    unwanted = set()
    for part in parts:
        name = part.name if isinstance(part, ast.FunctionDef) else None
        if part in tree.body and isinstance(part, ast.Assign) and isinstance(part.targets[0], ast.Name):
            name = part.targets[0].id
        if name is not None and name not in used:
            unwanted.update(range(part.lineno, part.end_lineno + 1))
    if not unwanted:
        return source
    return used_only("".join(line for number, line in enumerate(source.splitlines(keepends=True), 1) if number not in unwanted))


class Names:
    """The names that a source gives away itself, and short ones for them. Attributes, names of the whole program and those inside a function
    share their letters, for an interpreter keeps every name that it has ever seen."""

    def __init__(self, source):
        self.tree = ast.parse(source)
        self.functions = [node for node in ast.walk(self.tree) if isinstance(node, ast.FunctionDef)]
        self.methods = [part for node in self.tree.body if isinstance(node, ast.ClassDef) for part in node.body]
        self.kept = set(FOREIGN)
        for node in ast.walk(self.tree):
            if isinstance(node, ast.alias):
                self.kept.add(node.asname or node.name)
            elif isinstance(node, (ast.FunctionDef, ast.ClassDef)) and node not in self.methods and not node.name.startswith("_"):
                self.kept.add(node.name)
            elif isinstance(node, ast.keyword):
                self.kept.add(node.arg)
        self.attributes = self.short(self.own_attributes(), string.ascii_letters)
        inside = {part for function in self.functions for part in ast.walk(function)}
        stored = [node.id for node in ast.walk(self.tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store) and node not in inside.union(self.class_values())]
        own = [node.name for node in self.functions if node not in self.methods]
        self.wide = self.short(stored + own, string.ascii_uppercase)

    def short(self, names, letters):
        free = itertools.chain(letters, map("".join, itertools.product(letters, letters)))
        wanted = [name for name in dict.fromkeys(names) if name not in self.kept and not name.startswith("__")]
        return dict(zip(wanted, (name for name in free if name not in self.kept)))

    def class_values(self):
        return [target for part in self.methods if isinstance(part, ast.Assign) for target in part.targets]

    def own_attributes(self):
        for part in self.methods:
            if isinstance(part, ast.FunctionDef):
                yield part.name
        yield from (target.id for target in self.class_values())
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
                yield node.attr

    def places(self):
        """Line, column, old and new name, wherever a name stands."""
        seen = {}
        for function in self.functions:
            parts = list(ast.walk(function))
            names = [part.arg for part in parts if isinstance(part, ast.arg)]
            names += [part.id for part in parts if isinstance(part, ast.Name) and isinstance(part.ctx, ast.Store)]
            narrow = self.short(names, string.ascii_lowercase)
            seen.update((part, narrow[name]) for part in parts if (name := getattr(part, "arg", getattr(part, "id", None))) in narrow and not isinstance(part, ast.keyword))
            column = function.col_offset + len("def ")
            new = (self.attributes if function in self.methods else self.wide).get(function.name)
            yield function.lineno, column, function.name, new
        for node in ast.walk(self.tree):
            if isinstance(node, ast.arg):
                yield node.lineno, node.col_offset, node.arg, seen.get(node)
            elif isinstance(node, ast.Name):
                outer = self.attributes if node in self.class_values() else self.wide
                yield node.lineno, node.col_offset, node.id, seen.get(node) or outer.get(node.id)
            elif isinstance(node, ast.Attribute):
                yield node.end_lineno, node.end_col_offset - len(node.attr), node.attr, self.attributes.get(node.attr)


def with_short_names(source):
    """The same with each own name made short."""
    lines = source.splitlines(keepends=True)
    for line, column, old, new in sorted(Names(source).places(), key=lambda place: place[:2], reverse=True):
        text = lines[line - 1]
        assert text.isascii() and text[column:].startswith(old), text
        lines[line - 1] = text[:column] + (new or old) + text[column + len(old) :]
    return "".join(lines)


def renamed(source, texts):
    """The same with other texts for some names."""
    lines = source.splitlines(keepends=True)
    for token in reversed(list(tokenize.generate_tokens(io.StringIO(source).readline))):
        if token.type == tokenize.NAME and token.string in texts:
            row, column = token.start
            line = lines[row - 1]
            lines[row - 1] = line[:column] + texts[token.string] + line[token.end[1] :]
    return "".join(lines)


def entries(group):
    """A table over several lines as an empty one and a statement for each entry."""
    if not group[0].endswith(" = {"):
        return [group]
    name = group[0].split()[0]
    out = [[name + "={}"]]
    for line in group[1:-1]:
        if line[0] == " " and line[1] not in " )]}":
            key, value = line.strip().split(": ", 1)
            out.append([f"{name}[{key}]={value}"])
        else:
            out[-1].append(line)
    for entry in out[1:]:
        entry[-1] = entry[-1].rstrip(",")
    return out


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
    short = with_short_names(used_only(with_numbers("".join(map(bare, sources)))))
    for line in short.splitlines():
        if line.startswith(" def ") and " __init__" not in line:
            name = line.split("(")[0].split()[1]
            into = functions
            into.append([line[1:].replace(f" {name}(", " _(", 1), f"{owner}.{name}=_", "del _"])
        elif line.startswith("def "):
            into = functions
            into.append([line, "", ""])
        elif line.startswith("class "):
            owner = line.split(":")[0].split("(")[0].split()[1]
            into = classes
            into.append([line])
        elif not line.startswith((" ", ")", "]", "}", "except", "else", "finally")):
            into = rest
            into.append([line])
        elif into is functions:
            into[-1].insert(-2, line[1:] if into[-1][-1] else line)
        else:
            into[-1].append(line)
    rest = [entry for group in rest for entry in entries(group)]
    ordered = classes + sorted(functions, key=lambda lines: -sum(map(len, lines))) + rest
    return ["\n".join(joined(filter(None, lines))) + "\n" for lines in ordered]


if __name__ == "__main__":
    print("\n".join(pieces(*(open(path, encoding="utf-8").read() for path in sys.argv[1:]))))
