"""Typed both ways with a small-footprint interpreter on an emulated board with a heap of 10 048 octets: `inject focuser-goto`, decoded there by generated
code, and the focuser's state back; `log` shows both with names and units. 10 % of all frames are lost each way, more are damaged, and the board starts anew in
mid-conversation. Prints how much memory it needs."""

import tempfile
import threading

from board import Board
from board_generated import generated
from scripts import ROOT
from talk import seed_of
from typed import STUFFING, Line, ended

SOURCES = ("examples/peers/python/small.py", "tests/peers/board_focuser.py")
PLACES = (70000, 123456)


def life(folder, line, text, mine):
    """A board that runs the program; gives it and the memory before and after. The room is so tight that a piece which lost octets on its way, and the
    names that it left behind, can be too much: then a fresh board."""
    sources = ((ROOT / SOURCES[0]).read_text(), text, (ROOT / SOURCES[1]).read_text())
    for chances in (3, 2, 1, 0):
        board = Board(folder)
        try:
            before, loaded = board.load(*sources)
            board.start(f"main({mine})")
            board.until(b"OK")
            break
        except BaseException as error:
            board.close()
            if not chances or not isinstance(error, AssertionError):
                raise
    line.join(board.uart.fileno())
    return board, before, loaded


def converse(folder, text, seed):
    """Two lives; gives the frames of the log, how many errands were delivered, and the memory."""
    line = Line(folder, seed, STUFFING, board=True)
    board = None
    delivered = 0
    try:
        board, before, loaded = life(folder, line, text, 16)
        goto = line.inject("focuser-goto", f"position={PLACES[0]}", "--every", "100ms", "--for", "60s")
        limit = threading.Timer(60, goto.kill)
        limit.start()
        for told in goto.stdout:
            delivered += '"delivered"' in told
            if delivered == 10:
                break
        limit.cancel()
        assert delivered == 10, f"{delivered} delivered before the restart"
        line.part()
        board.close()
        board, before, loaded = life(folder, line, text, 32)
        delivered += ended(goto)
        delivered += ended(line.inject("focuser-goto", f"position={PLACES[1]}", "--every", "100ms", "--for", "3s"))
    finally:
        frames = line.close()
        if board:
            board.close()
    return frames, delivered, before, loaded, line


def main():
    seed = seed_of("board_typed")
    with tempfile.TemporaryDirectory() as folder:
        text, _ = generated(folder, "--messages", "focuser-goto,focuser-state")
        frames, delivered, before, loaded, line = converse(folder, text, seed)
    gone = [frame["values"]["position"] for frame in frames if frame["name"] == "focuser-goto"]
    states = [frame for frame in frames if frame["name"] == "focuser-state"]
    assert set(gone) == set(PLACES), gone
    assert {frame["values"]["position"] for frame in states} == set(PLACES), states
    assert states[0]["units"]["position"] and delivered > 10
    low = round(min(-frame["values"]["temperature"] for frame in states) * 100)  # the program tells it so
    print(
        f"board: seed {seed:#x}: typed both ways over a restart: {line.lost} frames lost, {line.damaged} damaged; {delivered} errands delivered; the log names"
        f" {len(gone)} focuser-goto and {len(states)} focuser-state"
    )
    print(
        f"board: heap: {before} octets free at first, {loaded} with the peer, the generated code of two messages and the program loaded, {low} at the worst"
        f" moment of the conversation: the peak is {before - low}"
    )
    print("1 passed, 0 failed")


if __name__ == "__main__":
    main()
