"""The generated Python module of the observatory, all of its messages, on a small-footprint interpreter, on an emulated board with a heap of 10 048
octets: every payload is read and written as CPython does it, and refused with the same fault and field. Prints how much memory it needs."""

import ast
import importlib.util
import os
import pathlib
import random
import struct
import subprocess
import sys
import tempfile

from board import Board, slim
from scripts import ROOT
from talk import seed_of

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target/debug/bellwire"))
AGREEMENT = str(ROOT / "examples/observatory/agreement.toml")
VALUES = 12  # random payloads of each message
BATCH = 100  # octets that go to the board at once


def generated(folder, *more):
    """The text of the Python module, and the module."""
    subprocess.run([TOOL, "generate", AGREEMENT, "--only", "python", "--to", str(folder), *more], check=True, stdout=subprocess.DEVNULL)
    path = pathlib.Path(folder) / "observatory.py"
    spec = importlib.util.spec_from_file_location("observatory", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return path.read_text(), module


def coarse(value):
    """The nearest number that the interpreter can hold: its floats have 30 bits."""
    bits = struct.unpack("<I", struct.pack("<f", value))[0] & ~3
    return struct.unpack("<f", struct.pack("<I", bits))[0]


def value(dice, kind, low, high):
    """A value of the field, an end of its range as often as any other."""
    if kind == "bool":
        return dice.random() < 0.5
    if kind == "choice":
        return dice.choice(low)
    if kind == "text":
        return "".join(dice.choice("aZ ~\u00e9\u20ac\U0001f514") for _ in range(dice.randrange(high // 4)))
    if kind == "octets":
        return dice.randbytes(dice.randrange(high + 1))
    if kind[0] == "f":
        return dice.choice((-0.0, 0.0, coarse(low), coarse(high), coarse(dice.uniform(low, high))))
    return dice.choice((low, high, min(max(0, low), high), dice.randint(low, high)))


def payloads(module, dice):
    """Good ones, all of these cut and with something behind, and with one octet changed; and what no message is."""
    yield from (b"", b"\x11", b"\x80", b"\xff\x7f", b"\xff\xff\xff\xff\x7f", b"\x80\x00")
    for number, fields in module.MESSAGES.items():
        for turn in range(VALUES):
            found = {}
            for name, kind, low, high, count, optional in fields:
                if not optional or dice.random() < 0.7:
                    found[name] = [value(dice, kind, low, high) for _ in range(count)] if count else value(dice, kind, low, high)
            good = module.encode(number, found)
            yield good
            if turn < 2:
                yield from (good[:length] for length in range(1, min(len(good), 24)))
                yield good + b"\0"
            if turn < 4 and not any(field[1][0] == "f" for field in fields):
                for _ in range(6):
                    place = dice.randrange(len(good))
                    yield good[:place] + bytes([dice.choice((0, 1, 3, 0x7F, 0x80, 0xC0, 0xFF))]) + good[place + 1 :]
        if number == 14:
            yield from (b"\x0e\0\0\0\0" + bits for bits in (b"\0\0\xc0\x7f", b"\0\0\x80\x7f", b"\0\0\0\x80", b"\0\0\x80\xc2"))
            yield b"\x0e\x80\0\x80\x80\0\x80\0\x80\0\0\0\0\0"  # more octets than the numbers need
            yield b"\x0e\x80\x80\x80\0"


def by_cpython(module, octets):
    try:
        return module.encode(*module.decode(octets))
    except module.Fault as fault:
        return fault.args


def batches(payloads):
    """As many as fit a piece of source."""
    batch = []
    for octets in payloads:
        if batch and sum(len(octets) + 1 for octets in batch) + len(octets) > BATCH:
            yield batch
            batch = []
        batch.append(octets)
    yield batch


def check(board, module, asked):
    for batch in batches(asked):
        words = "".join(octets.hex() + " " for octets in batch)
        answers = board.run(f"main('{words}',{len(words)})").splitlines()
        assert len(answers) == len(batch), (batch, answers)
        for octets, answer in zip(batch, answers):
            wanted = by_cpython(module, octets)
            assert ast.literal_eval(answer) == wanted, f"{octets.hex()}: {answer} on the board, {wanted} by CPython"


def main():
    seed = seed_of("board_generated")
    with tempfile.TemporaryDirectory() as folder:
        text, module = generated(folder)
        asked = list(payloads(module, random.Random(seed)))
        board = Board(folder)
        try:
            before, loaded = board.load(text, (ROOT / "tests/peers/board_values.py").read_text())
            check(board, module, asked)
            low = int(board.run("print(main('',0))"))
        finally:
            board.close()
    refused = sum(isinstance(by_cpython(module, octets), tuple) for octets in asked)
    print(f"generated module on the board: seed {seed:#x}: {len(asked)} payloads, {refused} of them refused, as by CPython")
    print(
        f"generated module on the board: heap: {before} octets free at first, {loaded} with all {len(module.MESSAGES)} messages loaded, {low} at the worst"
        f" moment: the peak is {before - low}"
    )
    print("1 passed, 0 failed")


if __name__ == "__main__":
    main()
