"""Weaves mutants into the source: the body of a function becomes a `match` whose arms are its mutants, and the original."""

import collections
import re

ARM = re.compile(r'//[^\n]*|/\*.*?\*/|b?r(#*)".*?"\1|b?"(?:\\.|[^"\\])*"|b?\'(?:\\.[^\']*|[^\'\\])\'', re.S)


class Function:
    """A function with mutants: where its body is, and the body of each mutant."""

    def __init__(self, file, start, end, name):
        self.file, self.start, self.end, self.name = file, start, end, name
        self.number = 0
        self.mutants = []


def blank(text):
    """The text with comments and literals blanked out, octet for octet, so that braces can be counted."""
    return ARM.sub(lambda found: re.sub(r"[^\n]", " ", found.group()), text)


def offset(starts, place):
    return starts[place["line"] - 1] + place["column"] - 1


def body(code, start, end):
    """From the brace that opens the body to behind the one that closes it."""
    end = code.rindex("}", start, end) + 1
    for opening in (found.start() for found in re.finditer("{", code[start:end])):
        depth = 0
        for at in range(start + opening, end):
            depth += {"{": 1, "}": -1}.get(code[at], 0)
            if depth == 0:
                break
        if at == end - 1:
            return start + opening, end
    raise ValueError("no body")


def functions(root, mutants):
    """Functions with their mutants by file; and the mutants that stand in no function or in one within another."""
    found, apart = {}, []
    texts = {}
    for mutant in mutants:
        file = mutant["file"]
        if file not in texts:
            text = (root / file).read_text()
            starts = [0]
            for line in text.split("\n"):
                starts.append(starts[-1] + len(line) + 1)
            texts[file] = text, blank(text), starts
        text, code, starts = texts[file]
        if not mutant.get("function"):
            apart.append(mutant)
            continue
        span = mutant["function"]["span"]
        start, end = body(code, offset(starts, span["start"]), offset(starts, span["end"]))
        function = found.setdefault((file, start, end), Function(file, start, end, mutant["function"]["function_name"]))
        left, right = offset(starts, mutant["span"]["start"]), offset(starts, mutant["span"]["end"])
        function.mutants.append(dict(mutant, body=text[start:left] + mutant["replacement"] + text[right:end]))
    kept = []
    for function in found.values():
        if any(other is not function and other.file == function.file and other.start < function.end and function.start < other.end
               for other in found.values()):
            apart += function.mutants
        else:
            kept.append(function)
    number = 0
    for place, function in enumerate(kept):
        function.number = place
        for mutant in function.mutants:
            number += 1
            mutant["number"] = number
    return kept, apart


def woven(text, functions, unviable):
    """The text with every viable mutant of these functions, and the lines of each mutant: (first, last, number)."""
    lines = []
    pieces, at, line = [], 0, 1

    def put(piece):
        nonlocal line
        pieces.append(piece)
        line += piece.count("\n")

    for function in sorted(functions, key=lambda function: function.start):
        put(text[at:function.start])
        put(f"{{ match crate::mutants::chosen({function.number}) {{\n")
        for mutant in function.mutants:
            if mutant["number"] in unviable:
                continue
            first = line
            put(f"{mutant['number']} => {mutant['body']}\n")
            lines.append((first, line - 1, mutant["number"]))
        put("_ => " + text[function.start:function.end] + "\n} }")
        at = function.end
    put(text[at:])
    return "".join(pieces), lines


def by_file(functions):
    files = collections.defaultdict(list)
    for function in functions:
        files[function.file].append(function)
    return files
