"""Two `bellwire` processes talk over pseudo-terminals, a third records between them, and things go wrong at random.

    mishaps.py [SECONDS] [SEED]          20 s, and a fixed seed, if not given

    peer ----- cable ----- tap -o FILE ----- inject
     A        (ours)        T                  B

Every few seconds one of them is killed (-9) and started again, the cable is pulled out and put back, the disk of the recording is full for a
while, or B is asked to stop. Checked, all the time and at the end:

- books: B's *delivered* <= what A told <= *delivered* + *unknown* + what was under way when B was killed; no errand twice. Where A itself was
  killed meanwhile its last words may be missing: then each *delivered* must have gone over the cable to A;
- what T showed is in its recording, by `decode` and by python-pcapng, whatever T died of;
- exit codes are the documented ones (a full disk: 74, naming the file), and nobody hangs: all end within PATIENCE when they should.
"""

import collections
import json
import os
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import time

import pcapng

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "vectors"))
import wire  # noqa: E402
from cable import Cable  # noqa: E402

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target" / "debug" / "bellwire"))
PATIENCE = 120
MESSAGE = 200
GOOD, NOT_GOOD, UNAVAILABLE, IO, KILLED = 0, 1, 69, 74, -signal.SIGKILL


def fail(text):
    raise SystemExit(f"{text}\n0 passed, 1 failed")


class Process:
    """One run of the tool, its output in files."""

    def __init__(self, folder, name, *arguments):
        self.name, self.out, self.err = name, folder / f"{name}.jsonl", folder / f"{name}.err"
        self.arguments = [str(argument) for argument in arguments]
        self.begin, self.end, self.asked = time.monotonic(), None, None
        with open(self.out, "wb") as out, open(self.err, "wb") as err:
            self.child = subprocess.Popen([TOOL, *self.arguments], stdin=subprocess.DEVNULL, stdout=out, stderr=err)

    def running(self):
        return self.child.poll() is None

    def signal(self, number):
        self.asked = number
        self.child.send_signal(number)

    def wait(self):
        try:
            code = self.child.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            fail(f"{self.name} {self.arguments} hangs: not ended in {PATIENCE} s; {self.said()}")
        self.end = time.monotonic()
        return code

    def said(self):
        return self.err.read_text(errors="replace")[-500:]

    def records(self):
        """Whole lines only: the last one of a killed process may be torn."""
        lines = self.out.read_bytes().split(b"\n")[:-1]
        return [json.loads(line) for line in lines]

    def forget(self):
        self.out.unlink()
        self.err.unlink()


class Night:
    """All that runs, and what was found out."""

    def __init__(self, folder, disk, seed, can_be_full):
        self.folder, self.disk, self.rng, self.can_be_full = folder, disk, random.Random(seed), can_be_full
        self.ends = [folder / "board", folder / "desk"]
        self.twin = folder / "twin"
        self.cable = Cable(self.ends)
        self.counts = collections.Counter()
        self.runs, self.peers = [], []
        self.peer = self.tap = self.inject = None

    # -- starting -------------------------------------------------------------------------------------------------------------------

    def start_peer(self):
        name = f"peer-{len(self.peers)}"
        self.peer = Process(self.folder, name, "peer", self.ends[0], "--json", "--own-number-file", self.folder / "peer.number")
        self.peers.append(self.peer)

    def start_tap(self):
        number = self.counts["taps"]
        self.counts["taps"] += 1
        self.capture = self.disk / f"night-{number}.pcapng"
        self.tap = Process(self.folder, f"tap-{number}", "tap", self.ends[1], f"twin:{self.twin}", "-o", self.capture, "--json")
        until = time.monotonic() + PATIENCE
        while not (self.twin.exists() and self.capture.exists()):
            if not self.tap.running() and self.tap.child.returncode == UNAVAILABLE and self.is_left_behind():
                # The number of the killed one's pseudo-terminal is another program's now: the tool cannot know, and says what to do.
                self.twin.unlink()
                self.counts["dead twins removed by hand"] += 1
                self.tap.forget()
                return self.start_tap()
            if not self.tap.running() or time.monotonic() > until:
                fail(f"{self.tap.name} did not start: {self.tap.said()}")
            time.sleep(0.01)
        return None

    def is_left_behind(self):
        return "remove it if no program uses it" in self.tap.said()

    def start_inject(self):
        number = len(self.runs)
        # Below 256 messages, so that a sequence number names one of them.
        payload, seconds = number.to_bytes(4, "little").hex(), self.rng.uniform(0.5, 6)
        self.inject = Process(self.folder, f"inject-{number}", "inject", self.twin, "errand", MESSAGE, "--payload", payload, "--every", "30ms",
                              "--for", f"{seconds:.1f}s", "--json", "--own-number-file", self.folder / "inject.number")
        self.runs.append(self.inject)

    # -- mishaps --------------------------------------------------------------------------------------------------------------------

    def mishap(self):
        mishaps = [self.kill_peer, self.kill_tap, self.kill_inject, self.unplug, self.full, self.stop_inject]
        act = self.rng.choices(mishaps, [3, 3, 3, 3, int(self.can_be_full), 1])[0]
        self.counts[act.__name__] += 1
        act()

    def kill_peer(self):
        self.peer.signal(signal.SIGKILL)
        self.peer.wait()
        self.start_peer()

    def kill_tap(self):
        self.tap.signal(signal.SIGKILL)
        self.after_tap(KILLED)

    def kill_inject(self):
        self.inject.signal(signal.SIGKILL)

    def stop_inject(self):
        self.inject.signal(signal.SIGINT)

    def unplug(self):
        self.cable.unplug()
        time.sleep(self.rng.uniform(0.05, 3))
        self.cable.plug()

    def full(self):
        """No room on the recording's disk until the tap gives up."""
        filler = self.disk / "filler"
        with open(filler, "wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(4096))
            except OSError:
                pass
        until = time.monotonic() + PATIENCE
        while self.tap.running():
            self.keep_injecting()
            if time.monotonic() > until:
                fail(f"{self.tap.name} goes on, though its disk is full")
            time.sleep(0.05)
        filler.unlink()
        self.after_tap(IO)

    def keep_injecting(self):
        """Judges and starts B again when it is through."""
        if self.inject.running():
            if time.monotonic() > self.inject.begin + PATIENCE:
                fail(f"{self.inject.name} hangs: {self.inject.said()}")
            return
        code = self.inject.wait()
        if self.inject.asked is None and code == KILLED or code not in (GOOD, NOT_GOOD, UNAVAILABLE, IO, KILLED):
            fail(f"{self.inject.name} ended with {code}: {self.inject.said()}")
        self.counts[f"inject exit {code}"] += 1
        self.inject.code = code
        self.start_inject()

    # -- checks ---------------------------------------------------------------------------------------------------------------------

    def after_tap(self, wanted, again=True):
        code = self.tap.wait()
        if code != wanted:
            fail(f"{self.tap.name} ended with {code}, wanted {wanted}: {self.tap.said()}")
        if wanted == IO and str(self.capture) not in self.tap.said():
            fail(f"{self.tap.name} does not name the file: {self.tap.said()}")
        self.check_capture(full=wanted == IO)
        self.capture.unlink()
        self.tap.forget()
        if again:
            self.start_tap()

    def check_capture(self, full):
        shown = [frame_of(record) for record in self.tap.records() if record["record"] == "frame"]
        done = subprocess.run([TOOL, "decode", self.capture, "--json"], capture_output=True)
        if done.returncode != GOOD:
            fail(f"{self.capture} is not readable: exit {done.returncode}: {done.stderr.decode()}")
        records = [json.loads(line) for line in done.stdout.splitlines()]
        saved = [frame_of(record) for record in records if record["record"] == "frame"]
        both = min(len(shown), len(saved)) if full else len(shown)
        # On a full disk what came when there was no room any more is shown all the same.
        if shown[:both] != saved[:both]:
            fail(f"{self.tap.name}: {len(shown)} frames shown, {len(saved)} saved, and not the same")
        octets = by_pcapng(self.capture)
        if octets != (told := next(record for record in records if record["record"] == "sum")["octets"]):
            fail(f"{self.capture}: {octets} octets by python-pcapng, {told} by `decode`")
        self.counts["frames shown by tap"] += len(shown)
        self.counts["frames saved"] += len(saved)

    def books(self):
        passed, told = self.passed(), self.told()
        total = collections.Counter()
        for number, run in enumerate(self.runs):
            payload = b"\xc8\x01".hex() + number.to_bytes(4, "little").hex()
            events = collections.Counter(r["event"] for r in run.records() if r["record"] == "event")
            delivered, unknown = events["delivered"], events["unknown"]
            arrived, over = told[payload], len(passed[payload])
            words = f"{run.name} (exit {run.code}): {delivered} delivered, {unknown} unknown, {arrived} arrived, {over} over the cable"
            if arrived > over or delivered > over:
                fail(f"{words}: something came twice, or from nowhere")
            if run.code != KILLED and arrived > delivered + unknown:
                fail(f"{words}: what arrived has no outcome")
            killed = any(run.begin <= peer.end <= run.end for peer in self.peers if peer.asked == signal.SIGKILL)
            if delivered > arrived and not killed:
                fail(f"{words}: delivered did not arrive")
            total.update(delivered=delivered, unknown=unknown, arrived=arrived, not_sent=events["not-sent"],
                         last_words_lost=max(0, delivered - arrived))
        self.counts.update(total)

    def told(self):
        """Messages that any A told, by payload."""
        records = (record for peer in self.peers for record in peer.records())
        return collections.Counter(r["payload"] for r in records if r["record"] == "frame" and r["kind"] == "errand")

    def passed(self):
        """Sequence numbers of errands that went over the cable toward A, by payload."""
        passed = collections.defaultdict(set)
        for segment in self.cable.carried[1]:
            for candidate in wire.candidates(bytes(segment), "cobs"):
                found = wire.find(candidate, "cobs")
                fields = wire.read_frame(bytes.fromhex(found["frame"]), False) if "frame" in found else {}
                if fields.get("kind") == "errand":
                    passed[fields["payload"]].add(fields["number"])
        return passed

    # -- the course of it -----------------------------------------------------------------------------------------------------------

    def run(self, seconds):
        self.start_peer()
        self.start_tap()
        self.start_inject()
        end = time.monotonic() + seconds
        due, report = time.monotonic() + 1, time.monotonic() + 60
        while time.monotonic() < end:
            self.keep_injecting()
            if not self.peer.running() or not self.tap.running():
                fail(f"ended by itself: {self.peer.said()} {self.tap.said()}")
            if time.monotonic() > due:
                self.mishap()
                due = time.monotonic() + 0.5 + self.rng.expovariate(1 / 4)
            if time.monotonic() > report:
                report += 60
                print(f"{end - time.monotonic():.0f} s to go, {dict(self.counts)}", flush=True)
            time.sleep(0.02)
        self.calm()

    def calm(self):
        """Nothing goes wrong any more: the last B must be told *delivered* for all it sends."""
        self.inject.code = self.inject.wait()
        time.sleep(2)
        self.start_inject()
        self.inject.code = self.inject.wait()
        if self.inject.code != GOOD:
            fail(f"in the calm at the end {self.inject.name} ended with {self.inject.code}: {self.inject.said()}")
        for process in (self.peer, self.tap):
            process.signal(signal.SIGINT)
        if (code := self.peer.wait()) != GOOD:
            fail(f"{self.peer.name} ended with {code}: {self.peer.said()}")
        self.after_tap(GOOD, again=False)
        self.books()


def frame_of(record):
    return record["direction"], record["kind"], record.get("number"), record.get("payload")


def by_pcapng(path):
    """Octets in the whole blocks of a capture; a torn tail ends them."""
    octets = 0
    try:
        with open(path, "rb") as file:
            for block in pcapng.FileScanner(file):
                if isinstance(block, pcapng.blocks.EnhancedPacket):
                    octets += len(block.packet_data)
    except (pcapng.exceptions.PcapngException, EOFError, ValueError):
        pass
    return octets


def main():
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20
    seed = int(sys.argv[2], 0) if len(sys.argv) > 2 else 20261125
    print(f"seed {seed}, {seconds:.0f} s", flush=True)
    with tempfile.TemporaryDirectory() as name:
        folder, disk = pathlib.Path(name), pathlib.Path(name) / "disk"
        disk.mkdir()
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", disk], capture_output=True).returncode == 0
        if not mounted:
            print("no small disk can be mounted here: without full disks")
        night = Night(folder, disk, seed, mounted)
        try:
            night.run(seconds)
        finally:
            for process in (night.peer, night.tap, night.inject):
                if process and process.running():
                    process.child.kill()
                    process.child.wait()
            if mounted:
                subprocess.run(["umount", disk], check=True)
    for what, count in sorted(night.counts.items()):
        print(f"{what:24} {count}")
    print("1 passed, 0 failed")


main()
