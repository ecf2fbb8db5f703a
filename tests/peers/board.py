"""The small Python peer on a small-footprint interpreter, on an emulated board with a heap of 10 048 octets, talks with the Rust core: 10 % of
all frames lost each way, more damaged, and the board starts anew in mid-conversation. Prints how much memory it needs."""

import json
import os
import pathlib
import socket
import subprocess
import sys
import tempfile
import time

from relay import Relay, twin
from scripts import ROOT
from talk import LOSS, PARTNER, seed_of

sys.path.insert(0, str(ROOT / "examples/peers/python"))
import slim  # noqa: E402

FIRMWARE = pathlib.Path("/usr/share/firmware-microbit-micropython/firmware.hex")
SOURCES = ("examples/peers/python/small.py", "examples/peers/python/bellwire/dead_man.py", "tests/peers/board_echo.py")
COUNT = 200


class Board:
    """The emulator, its UART on a socket, and the interpreter's raw prompt."""

    def __init__(self, folder):
        path = str(pathlib.Path(folder) / "uart")
        listener = socket.socket(socket.AF_UNIX)
        listener.bind(path)
        listener.listen()
        command = f"qemu-system-arm -M microbit -display none -monitor none -device loader,file={FIRMWARE}"
        self.process = subprocess.Popen([*command.split(), "-chardev", f"socket,id=u0,path={path}", "-serial", "chardev:u0"])
        self.uart, _ = listener.accept()
        listener.close()
        os.unlink(path)
        self.uart.settimeout(10)
        self.until(b">>> ")
        self.uart.sendall(b"\x01")
        self.until(b"raw REPL; CTRL-B to exit\r\n>")

    def until(self, mark):
        """Reads up to a mark, an octet at a time so that nothing after it is taken."""
        got = b""
        while not got.endswith(mark):
            octet = self.uart.recv(1)
            assert octet, "the emulator ended"
            got += octet
        return got

    def start(self, source):
        """Pastes a piece, no faster than the interpreter reads."""
        octets = source.encode() + b"\x04"
        for at in range(0, len(octets), 16):
            self.uart.sendall(octets[at : at + 16])
            time.sleep(0.002)

    def run(self, source):
        """Pastes a piece; gives what it printed. Nothing paces the line, so octets may be lost under load: then once more."""
        for _ in range(4):
            self.start(source)
            printed, error = self.until(b"\x04>")[:-2].split(b"\x04")
            if printed[:2] == b"OK" and not error:
                return printed[2:].decode().strip()
            if b"MemoryError" in error:
                break
        raise AssertionError((source, printed, error))

    def free(self):
        return int(self.run("import gc;gc.collect();print(gc.mem_free())"))

    def load(self, *sources):
        """Pastes programs; gives the memory that is free before and after."""
        before = self.free()
        self.run("import micropython;micropython.opt_level(3)")  # no numbers of lines
        for piece in slim.pieces(*sources):
            self.run(piece)
            self.free()
        return before, self.free()

    def close(self):
        self.process.kill()
        self.process.wait()
        self.uart.close()


def converse(folder, seed):
    left, left_path, left_held = twin()
    partner = subprocess.Popen([PARTNER, left_path, "octet-stuffing", str(0x000A0008), str(COUNT)], stdout=subprocess.PIPE, text=True)
    board = None
    try:
        lost = damaged = 0
        for life, seconds in ((1, 2.0), (2, 60)):
            board = Board(folder)
            before, after = board.load(*((ROOT / path).read_text() for path in SOURCES))
            board.start(f"main({life * 16})")
            board.until(b"OK")
            relay = Relay(board.uart.fileno(), left, 0x7E, LOSS, seed + life)
            try:
                out, _ = partner.communicate(timeout=seconds)
                assert life == 2, "the conversation was over before the restart"
            except subprocess.TimeoutExpired:
                assert life == 1, "the partner does not end"
            relay.close()
            lost += relay.lost
            damaged += relay.damaged
            board.close()
    finally:
        partner.kill()
        if board:
            board.close()
        os.close(left)
        os.close(left_held)
    return json.loads(out), before, after, lost, damaged


def main():
    seed = seed_of("board")
    with tempfile.TemporaryDirectory() as folder:
        books, before, after, lost, damaged = converse(folder, seed)
    delivered, unknown, echoes = (books[name] for name in ("delivered", "unknown", "echoes"))
    assert sorted(delivered + unknown) == list(range(COUNT)), "every errand has one outcome"
    assert echoes == sorted(set(echoes)), "each echo once, in order"
    # What came back while four waited to go was left out; most must come back all the same.
    assert len(echoes) > COUNT * 3 // 4, len(echoes)
    notice = bytes.fromhex(books["notices"][-1])
    arrived, streamed, low = (int.from_bytes(notice[at : at + 2], "little") for at in (1, 3, 5))
    print(
        f"board: seed {seed:#x}: {lost} frames lost, {damaged} damaged; {COUNT} errands: {len(delivered)} delivered, {len(unknown)} unknown,"
        f" {len(echoes)} came back; {arrived} and {streamed} set-points arrived in the second life; {books['sessions']} sessions"
    )
    print(
        f"board: heap: {before} octets free at first, {after} with the peer, a dead-man and the program loaded, {low} at the worst moment of"
        f" the conversation: the peak is {before - low}"
    )
    assert books["sessions"] >= 2 and streamed > 0
    print("1 passed, 0 failed")


if __name__ == "__main__":
    main()
