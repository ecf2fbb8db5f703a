"""A hub and four leaves, each a process, on one medium through a faulty pass-through; each is killed (-9) at random and started again.

    star_kills.py udp|pty [SECONDS] [SEED]          120 s, and a fixed seed, if not given

    star_board 0 (hub) ----+                +---- star_board 1
                           +- pass-through -+---- ...
                           |     (ours)     +---- star_board 4

What one board says all others hear. On UDP one datagram in ten is lost, some are damaged, doubled, or held back and overtaken; on pseudo-terminals frames are lost
or damaged. After the kills the faults cease, nothing new is sent, and the books of all runs of all boards must balance:

- nothing arrives twice, nothing that was not accepted, and nothing out of order within a run of its sender;
- what was told *delivered* did arrive, what was told *not-sent* did not;
- every message has an outcome, but those of a run that was killed.
"""

import collections
import os
import pathlib
import pty
import random
import select
import signal
import socket
import subprocess
import sys
import tempfile
import time
import tty

ROOT = pathlib.Path(__file__).resolve().parents[2]
BOARD = os.environ.get("STAR_BOARD", str(ROOT / "target" / "debug" / "star_board"))
LEAVES = 4
LOST, DAMAGED, DOUBLED, LATE = 0.1, 0.03, 0.03, 0.05
# A late copy is held so long; the boards count with 200 ms.
HELD = 0.1
# How long the boards may take to settle; mostly it is a second.
SETTLING = 60


def fail(text):
    raise SystemExit(f"{text}\n0 passed, 1 failed")


class Datagrams:
    """The pass-through's sockets: one for each board."""

    ordered = False

    def __init__(self):
        self.ours = [socket.socket(socket.AF_INET, socket.SOCK_DGRAM) for _ in range(LEAVES + 1)]
        free = [socket.socket(socket.AF_INET, socket.SOCK_DGRAM) for _ in range(LEAVES + 1)]
        for one in self.ours + free:
            one.bind(("127.0.0.1", 0))
        self.theirs = [one.getsockname() for one in free]
        for one in free:
            one.close()
        self.files = [one.fileno() for one in self.ours]

    def endpoint(self, board):
        return f"udp:127.0.0.1:{self.ours[board].getsockname()[1]}@{self.theirs[board][1]}"

    def take(self, board):
        try:
            return [self.ours[board].recv(2048)]
        except OSError:
            # The board is just being started again.
            return []

    def put(self, board, frame):
        try:
            self.ours[board].sendto(frame, self.theirs[board])
        except OSError:
            pass


class Wire:
    """Pseudo-terminals, joined frame by frame as if each board had the line for itself while it speaks."""

    ordered = True

    def __init__(self):
        pairs = [pty.openpty() for _ in range(LEAVES + 1)]
        for _, slave in pairs:
            tty.setraw(slave)
        self.files = [master for master, _ in pairs]
        # Held open: a master without any user of its other side reads as an error.
        self.slaves = [slave for _, slave in pairs]
        self.rest = [b""] * (LEAVES + 1)

    def endpoint(self, board):
        return os.ttyname(self.slaves[board])

    def take(self, board):
        whole = self.rest[board] + os.read(self.files[board], 4096)
        *frames, self.rest[board] = whole.split(b"\0")
        return [b"\0" + frame + b"\0" for frame in frames if frame]

    def put(self, board, frame):
        os.write(self.files[board], frame)

    def cut(self, board):
        """What a killed board had begun to say, and what it had not read yet."""
        self.rest[board] = b""
        os.set_blocking(self.slaves[board], False)
        try:
            while os.read(self.slaves[board], 65536):
                pass
        except BlockingIOError:
            pass
        os.set_blocking(self.slaves[board], True)


class Star:
    def __init__(self, folder, medium, seed):
        self.folder, self.medium, self.rng = folder, medium, random.Random(seed)
        self.quiet = folder / "quiet"
        self.boards = [None] * (LEAVES + 1)
        self.late, self.counts, self.faulty = [], collections.Counter(), True
        for board in range(LEAVES + 1):
            self.start(board)

    def start(self, board):
        words = [BOARD, board, LEAVES, self.medium.endpoint(board), self.folder / f"books-{board}", self.quiet]
        self.boards[board] = subprocess.Popen([str(word) for word in words], stderr=open(self.folder / f"errors-{board}", "ab"))

    def kill(self):
        board = self.rng.randrange(LEAVES + 1)
        self.alive()
        self.boards[board].send_signal(signal.SIGKILL)
        self.boards[board].wait()
        if self.medium.ordered:
            self.medium.cut(board)
        self.counts["kills of the hub" if board == 0 else "kills of leaves"] += 1
        self.start(board)

    def alive(self):
        for board, process in enumerate(self.boards):
            if process.poll() is not None:
                fail(f"board {board} ended by itself, {process.returncode}: {(self.folder / f'errors-{board}').read_text()[-2000:]}")

    def spoil(self, frame):
        """What becomes of a frame at one listener."""
        if not self.faulty:
            return [frame]
        luck = self.rng.random()
        if luck < LOST:
            self.counts["lost"] += 1
            return []
        if luck < LOST + DAMAGED:
            self.counts["damaged"] += 1
            at = self.rng.randrange(1, max(2, len(frame) - 1))
            # Not a delimiter: that would be two frames.
            return [frame[:at] + bytes([frame[at] ^ 0x10 or 1]) + frame[at + 1 :]]
        if not self.medium.ordered and luck < LOST + DAMAGED + DOUBLED:
            self.counts["doubled"] += 1
            return [frame, frame]
        return [frame]

    def serve(self, seconds):
        until = time.monotonic() + seconds
        while (now := time.monotonic()) < until:
            ready, _, _ = select.select(self.medium.files, [], [], 0.005)
            for file in ready:
                speaker = self.medium.files.index(file)
                for frame in self.medium.take(speaker):
                    self.counts["frames"] += 1
                    for board in range(LEAVES + 1):
                        for copy in self.spoil(frame) if board != speaker else []:
                            self.hand(board, copy, now)
            while self.late and self.late[0][0] <= now:
                _, board, frame = self.late.pop(0)
                self.medium.put(board, frame)

    def hand(self, board, frame, now):
        if self.faulty and not self.medium.ordered and self.rng.random() < LATE:
            self.counts["late"] += 1
            self.late.append((now + HELD, board, frame))
        else:
            self.medium.put(board, frame)


def books(folder):
    """The lines of all boards: what happened, to which message; and the last start of each board."""
    lines, last = [], {}
    for board in range(LEAVES + 1):
        # Each line is one write: that of a killed process is whole, or not there.
        for line in (folder / f"books-{board}").read_text().splitlines():
            what, sender, to, start, count = line.split(" ")
            if what == "start":
                last[board] = start
            else:
                lines.append((what, (int(sender), int(to), start, int(count))))
    return lines, last


def settled(folder):
    """Whether every message of a board that lives has its outcome."""
    lines, last = books(folder)
    ended = {message for what, message in lines if what not in ("accept", "arrive")}
    return all(message in ended or message[2] != last[message[0]] for what, message in lines if what == "accept")


def balance(folder):
    lines, last = books(folder)
    by = collections.defaultdict(collections.Counter)
    newest = collections.defaultdict(int)
    for what, message in lines:
        by[what][message] += 1
        if what == "arrive":
            flow, count = message[:3], message[3]
            if count <= newest[flow]:
                fail(f"{message} arrived twice or after {newest[flow]}")
            newest[flow] = count
    outcomes = by["delivered"] + by["unknown"] + by["not-sent"]
    for message in by["arrive"]:
        if message not in by["accept"]:
            fail(f"{message} arrived and was never accepted")
    for message, times in outcomes.items():
        if times > 1 or message not in by["accept"]:
            fail(f"{message} has {times} outcomes, accepted {by['accept'][message]} times")
    for message in by["delivered"]:
        if message not in by["arrive"]:
            fail(f"{message} was told delivered and never arrived")
    for message in by["not-sent"]:
        if message in by["arrive"]:
            fail(f"{message} was told not sent and arrived")
    open_ones = [message for message in by["accept"] if message not in outcomes]
    for message in open_ones:
        if message[2] == last[message[0]]:
            fail(f"{message} of a board that lives has no outcome")
    sums = {what: len(by[what]) for what in ["accept", "delivered", "unknown", "not-sent", "arrive"]}
    sums["unknown that arrived"] = sum(message in by["arrive"] for message in by["unknown"])
    sums["under way when their sender was killed"] = len(open_ones)
    if sums["accept"] != sums["delivered"] + sums["unknown"] + sums["not-sent"] + len(open_ones) or sums["delivered"] == 0:
        fail(f"the sums do not balance: {sums}")
    return sums


def main():
    words = sys.argv[1:]
    if not words or words[0] not in ("udp", "pty"):
        sys.exit("usage: star_kills.py udp|pty [SECONDS] [SEED]")
    seconds = float(words[1]) if len(words) > 1 else 120
    seed = int(words[2], 0) if len(words) > 2 else 0x57A2
    with tempfile.TemporaryDirectory() as folder:
        star = Star(pathlib.Path(folder), Datagrams() if words[0] == "udp" else Wire(), seed)
        until = time.monotonic() + seconds
        try:
            while time.monotonic() < until:
                star.serve(star.rng.uniform(0.2, 3))
                star.kill()
            star.quiet.touch()
            star.faulty = False
            begin = time.monotonic()
            star.serve(2)
            while not settled(star.folder) and time.monotonic() - begin < SETTLING:
                star.serve(1)
            # What comes too late, or twice, would come now.
            star.serve(1)
            star.alive()
        finally:
            for process in star.boards:
                process.kill()
                process.wait()
        sums = balance(star.folder)
    print(f"{words[0]}, {seconds:.0f} s, seed {seed:#x}: " + ", ".join(f"{star.counts[it]} {it}" for it in sorted(star.counts)))
    print(", ".join(f"{count} {what}" for what, count in sums.items()))
    print("1 passed, 0 failed")


main()
