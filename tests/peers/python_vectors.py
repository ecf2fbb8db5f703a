"""Holds the Python peer to every golden vector: frames, rejects, streams, conversations, and the scripts for a window of 1 on an ordered
line."""

import sys

from scripts import EXTENSIONS, KINDS, ROOT, Peer, Tally, left_out, load, play

sys.path.insert(0, str(ROOT / "examples/peers/python"))
import bellwire  # noqa: E402

FRAMINGS = {"cobs": bellwire.Cobs, "slip": bellwire.Slip, "datagram": bellwire.Datagram, "octet-stuffing": bellwire.OctetStuffing}
FIELDS = ("kind", "session", "tag", "to", "from", "next", "held", "number", "payload")


def wire_of(vector):
    framing = FRAMINGS[vector["framing"]]()
    if "map" in vector:
        framing.characters = vector["map"]
    return bellwire.Wire(framing, vector.get("buffer", 1100), vector["fcs"])


def finds(vector):
    """Everything found in the octets of a vector, as streams.json writes it."""
    wire = wire_of(vector)
    octets = bytes.fromhex(vector["wire"])
    datagram = vector["framing"] == "datagram"
    found = []
    for piece in [wire.judge(octets)] if datagram else map(wire.push, octets):
        if piece is None:
            continue
        what, value = piece
        if what == "frame":
            fields = bellwire.read_frame(value, datagram)
            what, value = ("refused", fields) if isinstance(fields, int) else ("frame", value)
        found.append({"reject": bellwire.REJECTS[value]} if what == "refused" else {what: value.hex()})
    return found


def check_frame(vector):
    frame = bytes.fromhex(vector["frame"])
    assert finds(vector) == [{"frame": vector["frame"]}]
    assert wire_of(vector).encode(frame).hex() == vector["wire"]
    want = vector["fields"]
    got = dict(zip(FIELDS, bellwire.read_frame(frame, vector["framing"] == "datagram")))
    got["kind"] = KINDS[got["kind"]]
    if got["kind"] in ("open", "extended"):
        assert got.pop("session") == 0
    if got["kind"] == "extended":
        got["extension"] = EXTENSIONS[got["payload"][0]]
        got["payload"] = got["payload"][1:]
    if "message" in want:
        got["message"] = bellwire.message_number(got["payload"])[0]
    got["payload"] = got["payload"].hex()
    got = {key: value for key, value in got.items() if value is not None}
    assert got == {key: value for key, value in want.items() if key != "open"}, got


def check_reject(vector):
    assert bellwire.REJECTS[vector["code"]] == vector["reject"]
    assert finds(vector) == [{"reject": vector["reject"]}]


def check_stream(vector):
    assert finds(vector) == vector["finds"]


def check_conversation(vector):
    """Every frame that was said is read, and written again octet for octet (the first delimiter may be saved, W-1)."""
    for step in vector["steps"]:
        if "sends" in step:
            assert finds(dict(vector, wire=step["sends"])) == [{"frame": step["frame"]}]
            assert wire_of(vector).encode(bytes.fromhex(step["frame"])).hex().endswith(step["sends"])


class PythonPeer(Peer):
    def __init__(self, device):
        super().__init__(device)
        self.inward = b""
        self.tickets = {}
        self.count = 0
        self.port = bellwire.Port(
            self, bellwire.Wire(bellwire.Cobs(), device["buffer"] - 12), device["octets_per_second"], device["mine"],
            device["identity"], device["fingerprint"], device["cause"], device["keep_alive"] // 1000, device["tries"],
        )  # fmt: skip
        self.port.open()

    def read(self):
        octets, self.inward = self.inward, b""
        return octets

    def write(self, octets):
        assert octets[0] == 0 and octets[-1] == 0
        self.sent.append(bellwire.Wire(bellwire.Cobs(), 1100).judge(octets[1:-1])[1])

    def feed(self, octets):
        self.inward += octets

    def hand_over(self, kind, payload):
        if kind == "set-point":
            taken = self.port.set(payload)
        elif kind == "notice":
            taken = self.port.notice(payload)
        else:
            taken = self.port.send(payload, bellwire.ERRAND if kind == "errand" else bellwire.REPORT)
            self.tickets[taken] = self.count
        self.count += 1
        return bool(taken)

    def service(self, now):
        event = self.port.service(now)
        if event is None:
            return None
        name = event[0]
        if name == "refused":
            return {"event": name, "reject": bellwire.REJECTS[event[1]]}
        if name == "outcome":
            return {"event": name, "item": self.tickets[event[1]], "outcome": event[2]}
        if name == "resent":
            return {"event": name, "item": self.tickets[event[1]], "tries": event[2]}
        if name == "text":
            return {"event": name, "octets": event[1].hex()}
        if name == "ended":
            return {"event": name, "reason": event[1]}
        if name in KINDS:
            return {"event": "message", "class": name, "payload": event[1].hex(), "number": event[2], "missed": event[3]}
        return {"event": name}


def main():
    tally = Tally("Python peer")
    checks = {"frames": check_frame, "rejects": check_reject, "streams": check_stream, "conversations": check_conversation}
    for name, check in checks.items():
        for vector in load(f"{name}.json"):
            tally.check(name, vector, check)
    for vector in load("sessions.json"):
        why = left_out(vector)
        if why:
            tally.leave(why)
        else:
            tally.check("sessions", vector, lambda vector: play(vector, PythonPeer(vector["device"])))
    sys.exit(tally.close())


main()
