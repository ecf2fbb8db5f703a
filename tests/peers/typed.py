"""Typed both ways: `inject` sends messages by name to a peer that was built with generated code, which reports its state; `log` shows both with names and units
from a recording of the line. 10 % of all frames are lost each way, more are damaged, and the peer starts anew in mid-conversation.
`typed.py [C] [Python]`."""

import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import time

from board_generated import AGREEMENT, TOOL, generated
from relay import Relay, twin
from scripts import ROOT
from talk import LOSS, seed_of

STUFFING = ("--framing", "octet-stuffing", "--map", "0x000A0008")
DOME = (
    ("dome-goto", "azimuth=123.40", {"azimuth": 123.4}, "dome-goto 12340", "dome-state", {"azimuth": 123.4}),
    ("shutter", "move=open", {"move": "open"}, "shutter (0|open)", "dome-state", {"azimuth": 0, "shutter": 100}),
    ("dome-rate", "rate=-12.50", {"rate": -12.5}, "dome-rate (-1250|0)", "dome-state", {"rate": 0}),
)


class Line:
    """The tool's end, a tap that records, a relay that loses, and the board's end."""

    def __init__(self, folder, seed, options=(), board=None):
        self.options = options
        self.desk = f"{folder}/desk"
        self.recording = f"{folder}/line.pcapng"
        tap = [TOOL, "tap", f"twin:{folder}/board", f"twin:{self.desk}", "--agreement", AGREEMENT, "-o", self.recording, *options]
        self.tap = subprocess.Popen(tap, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        limit = time.monotonic() + 20
        while not (os.path.exists(self.desk) and os.path.exists(f"{folder}/board")):
            assert time.monotonic() < limit and self.tap.poll() is None, "the tap does not open"
            time.sleep(0.02)
        self.left = os.open(f"{folder}/board", os.O_RDWR | os.O_NOCTTY)
        self.right, self.path, self.held = twin()
        self.seed = seed
        self.relay = None
        self.lost = self.damaged = 0
        if board is None:
            self.join(self.right)

    def join(self, end):
        self.part()
        self.relay = Relay(self.left, end, 0x7E if self.options else 0, LOSS, self.seed)
        self.seed += 1

    def part(self):
        if self.relay:
            self.relay.close()
            self.lost += self.relay.lost
            self.damaged += self.relay.damaged
            self.relay = None

    def inject(self, name, value, *more):
        words = [name, value, "--agreement", AGREEMENT, "--arm", "--json", "--wait", "30s", *self.options, *more]
        return subprocess.Popen([TOOL, "inject", self.desk, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    def close(self):
        """Ends the tap; gives the frames that `log` shows of the recording."""
        self.part()
        self.tap.send_signal(2)
        self.tap.wait(20)
        for end in (self.left, self.right, self.held):
            os.close(end)
        log = subprocess.run([TOOL, "log", self.recording, "--json", "--agreement", AGREEMENT], capture_output=True, text=True, check=True)
        records = map(json.loads, log.stdout.splitlines())
        return [record for record in records if record["record"] == "frame" and "name" in record]


def ended(inject):
    """How many messages `inject` told to be delivered. A restart of the peer ends it early, and under loss an outcome may stay unknown: then it ends with 1."""
    out, err = inject.communicate(timeout=90)
    assert inject.returncode in (0, 1), (inject.returncode, err)
    return [json.loads(line).get("event") for line in out.splitlines()].count("delivered")


def dome(name, command, folder):
    """Two lives of a dome; gives the frames of the log, what the two lives said, and how many were delivered."""
    line = Line(folder, seed_of(name))
    said, delivered = [], 0
    peer = None
    try:
        peer = subprocess.Popen([*command, line.path, "0x100", "6"], stdout=subprocess.PIPE, text=True)
        goto = line.inject(*DOME[0][:2], "--every", "60ms", "--for", "30s")
        said.append(peer.communicate(timeout=60)[0])
        assert peer.returncode == 9, peer.returncode
        peer = subprocess.Popen([*command, line.path, "0x110", "0"], stdout=subprocess.PIPE, text=True)
        delivered += ended(goto)
        for message in DOME[1:]:
            delivered += ended(line.inject(*message[:2], "--every", "60ms", "--for", "1500ms"))
    finally:
        if peer:
            peer.kill()
            said.append(peer.communicate()[0])
        frames = line.close()
    return frames, said, delivered, line


def check(frames, said, delivered, name, line):
    """Every message that the log names has the values that were sent, both ways, and the peer understood the same."""
    known = {message: values for message, _, values, _, _, _ in DOME}
    known["dome-rate"] = None
    for frame in frames:
        if frame["name"] in known and known[frame["name"]] is not None:
            assert frame["values"] == known[frame["name"]], frame
    for message, _, _, pattern, reply, state in DOME:
        assert re.search(f"^arrived {pattern}$", "".join(said), re.M), (message, said)
        assert any(frame["name"] == message for frame in frames), message
        replies = [frame for frame in frames if frame["name"] == reply and state.items() <= frame["values"].items()]
        assert replies and replies[0]["units"]["azimuth"], (message, frames[-3:])
    assert {frame["values"]["rate"] for frame in frames if frame["name"] == "dome-rate"} == {-12.5, 0}
    arrived = len(re.findall("^arrived (dome-goto|shutter)", "".join(said), re.M))
    assert delivered <= arrived and "refused" not in "".join(said), (delivered, arrived)
    print(
        f"{name}: seed {seed_of(name):#x}: typed both ways over a restart: {line.lost} frames lost, {line.damaged} damaged; {delivered} errands delivered,"
        f" {arrived} arrived; the log names {len(frames)} messages, {sum(frame['name'] == 'dome-state' for frame in frames)} of them replies"
    )


def c_typed(folder):
    """The C peer, with every run-time check that the compiler has."""
    subprocess.run([TOOL, "generate", AGREEMENT, "--only", "c", "--board", "dome", "--to", folder], check=True, stdout=subprocess.DEVNULL)
    c = ROOT / "examples/peers/c"
    flags = "-std=c99 -Wall -Wextra -Werror -pedantic -O1 -fsanitize=undefined,address -fno-sanitize-recover=all".split()
    sources = [str(path) for path in (*sorted(c.glob("*.c")), ROOT / "tests/peers/c_typed.c", pathlib.Path(folder) / "observatory.c")]
    subprocess.run(["gcc", *flags, f"-I{c}", f"-I{folder}", *sources, "-o", f"{folder}/c_typed"], check=True)
    return [f"{folder}/c_typed"]


def python_typed(folder):
    generated(folder, "--board", "dome")
    os.environ["PYTHONPATH"] = folder
    return [sys.executable, str(ROOT / "tests/peers/python_typed.py")]


def main():
    wanted = sys.argv[1:] or ["C", "Python"]
    for name in wanted:
        with tempfile.TemporaryDirectory() as folder:
            command = {"C": c_typed, "Python": python_typed}[name](folder)
            frames, said, delivered, line = dome(name, command, folder)
        check(frames, said, delivered, name, line)
    print(f"{len(wanted)} passed, 0 failed")


if __name__ == "__main__":
    main()
