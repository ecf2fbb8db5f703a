"""A cable between two pseudo-terminals that can be pulled out, and that knows what it carried."""

import os
import pathlib
import pty
import select
import threading
import tty


class Cable(threading.Thread):
    """Joins the paths `ends[0]` and `ends[1]`; unplugged, neither is there. `carried[n]` is what went out of end n, in segments: a segment
    ends where the cable was pulled."""

    def __init__(self, ends):
        super().__init__(daemon=True)
        self.ends = [pathlib.Path(end) for end in ends]
        self.carried = ([bytearray()], [bytearray()])
        self.lost = 0
        self._lock = threading.Lock()
        self._masters, self._slaves = [], []
        self.plug()
        self.start()

    def plug(self):
        with self._lock:
            for end in self.ends:
                master, slave = pty.openpty()
                tty.setraw(slave)
                os.set_blocking(master, False)
                self._masters.append(master)
                # Held open: a master without any user of its other side reads as an error.
                self._slaves.append(slave)
                end.symlink_to(os.ttyname(slave))
            for stream in self.carried:
                stream.append(bytearray())

    def unplug(self):
        with self._lock:
            for end in self.ends:
                end.unlink()
            for file in self._masters + self._slaves:
                os.close(file)
            self._masters, self._slaves = [], []

    def run(self):
        while True:
            with self._lock:
                if self._masters:
                    self._pass_on()
            # Not under the lock, so that it can be pulled out.
            select.select([], [], [], 0.002)

    def _pass_on(self):
        ready, _, _ = select.select(self._masters, [], [], 0.005)
        for source in ready:
            end = self._masters.index(source)
            try:
                octets = os.read(source, 4096)
            except BlockingIOError:
                continue
            self.carried[end][-1].extend(octets)
            try:
                done = os.write(self._masters[1 - end], octets)
            except BlockingIOError:
                done = 0
            # Nobody reads there: a wire loses what nobody takes.
            self.lost += len(octets) - done
