"""Plays the golden vectors to a peer. What a peer looks like from here is in `Peer`."""

import json
import pathlib

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
KINDS = ("", "open", "errand", "report", "set-point", "ack", "notice", "extended")
EXTENSIONS = {1: "probe", 2: "probe answer", 3: "statistics request", 4: "statistics"}


def load(name):
    return json.loads((ROOT / "tests/vectors" / name).read_text())


class Peer:
    """A peer under test, made for one script. Frames are without FCS; times are milliseconds."""

    def __init__(self, device):
        self.sent = []

    def feed(self, octets):
        """Octets arrive; they are taken at the next `service`."""

    def service(self, now):
        """The next event, as the vectors write it, or None; frames that are sent meanwhile go to `sent`."""

    def hand_over(self, kind, payload):
        """The program on the board sends. False if it is not taken."""


def same_frame(frame, want):
    """Whether a frame is as a script wants it: octets, or some fields of it."""
    if isinstance(want, str):
        return frame.hex() == want
    kind = frame[0] >> 5
    got = {"kind": KINDS[kind]}
    if kind == 1:
        got["ask"] = bool(frame[2] & 1)
        got["mine"] = int.from_bytes(frame[3:7], "little")
        got["echo"] = int.from_bytes(frame[7:11], "little") if frame[2] & 2 else None
    elif kind == 7:
        got["extension"] = EXTENSIONS[frame[1]]
    else:
        at = 1 + (frame[0] >> 2 & 3)
        got["next"] = frame[1] if at > 1 else None
        got["number"] = frame[at] if at < len(frame) else None
    return want == {key: got.get(key) for key in want}


def same_event(event, want):
    return want == {key: event.get(key) for key in want}


class Script:
    """One vector of sessions.json at work."""

    def __init__(self, peer, known=lambda event: True):
        self.peer = peer
        self.known = known
        self.now = 0
        self.told = []

    def serve(self):
        while True:
            event = self.peer.service(self.now)
            if event is None:
                return
            if self.known(event):
                self.told.append(event)

    def quiet_until(self, then):
        while self.now < then:
            self.now += 1
            if self.now < then:
                self.serve()
                assert not self.peer.sent and not self.told, f"at {self.now} ms: {self.peer.sent} {self.told}"

    def step(self, step):
        self.quiet_until(self.now + step["after"] // 1000)
        if "within" in step:
            self.wait(step, *(self.now + span / 1000 for span in step["within"]))
        else:
            self.act(step)
        assert self.matches(step), f"sent {[frame.hex() for frame in self.peer.sent]}, told {self.told}"
        self.peer.sent.clear()
        self.told.clear()

    def wait(self, step, begin, end):
        self.serve()
        while not self.matches(step) and self.now < end:
            self.now += 1
            self.serve()
        assert begin <= self.now <= end + 1, f"at {self.now} ms, not {begin}..{end}"

    def act(self, step):
        if "feed" in step:
            self.peer.feed(bytes.fromhex(step["feed"]))
        if "feed" in step and "send" in step:
            # The program sends as soon as it has the event of what arrived.
            self.told.append(self.peer.service(self.now))
        if "send" in step:
            what = step["send"]
            assert self.peer.hand_over(what["class"], bytes.fromhex(what["payload"])), "not taken"
        self.serve()

    def matches(self, step):
        sends = step["sends"]
        tells = [event for event in step["tells"] if self.known(event)]
        if len(self.peer.sent) != len(sends) or len(self.told) != len(tells):
            return False
        return all(map(same_frame, self.peer.sent, sends)) and all(map(same_event, self.told, tells))


def play(vector, peer, known=lambda event: True):
    """Plays one script."""
    script = Script(peer, known)
    for number, step in enumerate(vector["steps"]):
        try:
            script.step(step)
        except AssertionError as error:
            raise AssertionError(f"step {number}, {json.dumps(step)}: {error}") from error


def left_out(vector, unable=()):
    """Why a script is not for a peer with a window of 1 on an ordered line; None if it is."""
    if vector["framing"] == "datagram":
        return "an unordered link"
    if vector["device"]["window"] > 1:
        return "a window above 1"
    for name, why in unable:
        if vector["name"] == name:
            return why
    return None


class Tally:
    """Counts, and prints what failed and what was left out."""

    def __init__(self, name):
        self.name = name
        self.passed = self.failed = 0
        self.left = {}

    def check(self, file, vector, check):
        try:
            check(vector)
            self.passed += 1
        except Exception as error:
            self.failed += 1
            print(f"{self.name}: {file}: {vector['name']}: {type(error).__name__}: {error}")

    def leave(self, why):
        self.left[why] = self.left.get(why, 0) + 1

    def close(self):
        print(f"{self.name}:", *(f"{count} left out ({why});" for why, count in self.left.items()))
        print(f"{self.passed} passed, {self.failed} failed")
        return self.failed > 0
