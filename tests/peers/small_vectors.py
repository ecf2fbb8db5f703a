"""Holds the small Python peer to the golden vectors: what it takes and refuses of octet stuffing with the 16-bit FCS, and the scripts for a
window of 1, put into octet stuffing."""

import sys

from scripts import KINDS, ROOT, Peer, Tally, left_out, load, play

sys.path.insert(0, str(ROOT / "examples/peers/python"))
import bellwire  # noqa: E402
import small  # noqa: E402

MAP = 0x000A0008
OURS = (("octet-stuffing", 16), ("cobs", 16))
UNABLE = (
    ("numbers count up, one outstanding at a time", "errands that wait"),
    ("a restart of the peer with items under way", "errands that wait"),
)


def stuffed():
    return bellwire.Wire(bellwire.OctetStuffing(MAP), 1100)


def translated(octets):
    """Octets of COBS put into octet stuffing; what is no frame there is none here."""
    out = b""
    for candidate in octets.split(b"\x00"):
        if candidate:
            what, frame = bellwire.Wire(bellwire.Cobs(), 1100).judge(candidate)
            out += stuffed().encode(frame) if what == "frame" else b"\x7e" + candidate + b"\x7e"
    return out


def known(event):
    """It does not tell these."""
    return event["event"] not in ("refused", "resent", "text")


class SmallPeer(Peer):
    def __init__(self, device):
        super().__init__(device)
        self.inward = b""
        self.items = []
        self.count = 0
        terms = bytes([1]) + (device["buffer"] - 16).to_bytes(2, "little") + device["fingerprint"].to_bytes(4, "little")
        terms += bytes([-(-3 * device["keep_alive"] // 100_000)]) + device["identity"].to_bytes(8, "little")
        self.port = small.Port(self, device["octets_per_second"], device["mine"], MAP, terms)
        self.port.cause = device["cause"]
        self.expects = None

    def read(self, most):
        octets, self.inward = self.inward, b""
        return octets

    def write(self, octets):
        assert octets[0] == 0x7E and octets[-1] == 0x7E
        assert self.port.characters != MAP or not {3, 0x11, 0x13} & set(octets)
        self.sent.append(bellwire.Wire(bellwire.OctetStuffing(), 1100).judge(octets[1:-1])[1])

    def feed(self, octets):
        self.inward += translated(octets)

    def hand_over(self, kind, payload):
        taken = {"set-point": self.port.set, "notice": self.port.notice, "errand": self.port.send}[kind](payload)
        if kind == "errand":
            self.items.append(self.count)
        self.count += 1
        return taken

    def service(self, now):
        event = self.port.service(now)
        if event is None:
            return None
        what, value = event
        if what in ("delivered", "unknown", "not sent"):
            return {"event": "outcome", "item": self.items.pop(0), "outcome": what}
        if isinstance(what, int):
            return Unnumbered(event="message", payload=value.hex(), **{"class": KINDS[what]})
        return {"event": what, "reason": value}


class Unnumbered(dict):
    """A message; its number and how many were missed are not told, so any will do."""

    def get(self, key):
        return ANY if key in ("number", "missed") else super().get(key)


class Any:
    def __eq__(self, other):
        return True

    __hash__ = None


ANY = Any()


def check_frame(vector):
    """Takes the frame, and stuffs it as the vector says."""
    octets = bytes.fromhex(vector["wire"])
    port = SmallPeer(load("sessions.json")[0]["device"]).port
    port.characters = vector.get("map", 0)
    found = [frame for frame in map(port._push, octets) if frame]
    if len(vector["frame"]) // 2 + 2 > small.LONGEST:
        assert not found
        return
    assert [bytes(frame).hex() for frame in found] == [vector["frame"]]
    port.uart = Recorder()
    port._transmit(found[0])
    assert port.uart.octets.hex() == vector["wire"]


class Recorder:
    def write(self, octets):
        self.octets = bytes(octets)


def check_reject(vector):
    """Nothing is told, no session is opened, and at most an OPEN or an answer to an extension is sent."""
    peer = SmallPeer(load("sessions.json")[0]["device"])
    if vector["framing"] == "cobs":
        peer.feed(bytes.fromhex(vector["wire"]))
    else:
        peer.port.characters = vector.get("map", 0)
        peer.inward = bytes.fromhex(vector["wire"])
    assert peer.service(0) is None and not peer.port.up
    assert all(frame[0] == 0x20 for frame in peer.sent), peer.sent


def main():
    small.ON_LINE = 55  # the scripts count on the times of COBS
    tally = Tally("small Python peer")
    for name, check in {"frames": check_frame, "rejects": check_reject}.items():
        for vector in load(f"{name}.json"):
            if (vector["framing"], vector["fcs"]) in ((("octet-stuffing", 16),) if name == "frames" else OURS):
                tally.check(name, vector, check)
            else:
                tally.leave(f"{name} of another framing or FCS")
    for vector in load("sessions.json"):
        why = left_out(vector, UNABLE)
        if why:
            tally.leave(why)
        else:
            tally.check("sessions", vector, lambda vector: play(vector, SmallPeer(vector["device"]), known))
    sys.exit(tally.close())


main()
