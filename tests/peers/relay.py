"""A line between two file descriptors that loses whole frames."""

import os
import pty
import random
import select
import threading
import tty


class Relay:
    """Joins two descriptors; each frame is lost with odds of `loss`, and with a third of that has an octet damaged."""

    def __init__(self, left, right, delimiter, loss, seed):
        self.ends = {left: right, right: left}
        self.delimiter = bytes([delimiter])
        self.loss = loss
        self.dice = random.Random(seed)
        self.rest = {left: b"", right: b""}
        self.passed = self.lost = self.damaged = 0
        self.open = True
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.thread.start()

    def close(self):
        self.open = False
        self.thread.join()

    def run(self):
        while self.open:
            for end in select.select(list(self.ends), [], [], 0.1)[0]:
                try:
                    octets = os.read(end, 4096)
                    self.carry(self.ends[end], self.rest[end] + octets, end)
                except OSError:  # nobody is there
                    select.select([], [], [], 0.01)

    def carry(self, into, octets, end):
        *frames, self.rest[end] = octets.split(self.delimiter)
        for frame in frames:
            if frame and self.dice.random() < self.loss:
                self.lost += 1
                frame = b""
            elif frame and self.dice.random() < self.loss / 3:
                self.damaged += 1
                place = self.dice.randrange(len(frame))
                frame = frame[:place] + bytes([frame[place] ^ 1 << self.dice.randrange(8)]) + frame[place + 1 :]
            self.passed += bool(frame)
            os.write(into, frame + self.delimiter)


def twin():
    """A pseudo-terminal: our descriptor and the path of its other side, which stays even when nobody has it open."""
    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    return ours, os.ttyname(theirs), theirs
