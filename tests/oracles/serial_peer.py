"""pyserial at one end of a pseudo-terminal, `bellwire peer twin:PATH` at the other: a peer written from WIRE.md opens a session, sends an
errand, a report and a notice, and gets their acknowledgements; then it answers like a stranger and sends damage."""

import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time

import serial

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "vectors"))
import wire  # noqa: E402

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target" / "debug" / "bellwire"))
MINE = 0x0A0B0C00


class Peer:
    """The Python side: COBS, 16-bit FCS."""

    def __init__(self, port):
        self.port, self.rest = port, b""

    def send(self, octets, damage=False):
        image = bytearray(wire.wire(octets, "cobs"))
        if damage:
            image[3] ^= 0x10
        self.port.write(bytes(image))

    def frame(self, wanted, limit=10):
        """The next frame that is as wanted."""
        end = time.monotonic() + limit
        while time.monotonic() < end:
            self.rest += self.port.read(64)
            *whole, self.rest = self.rest.split(b"\x00")
            for place, candidate in enumerate(whole):
                if not candidate:
                    continue
                found = wire.find(candidate, "cobs")
                fields = wire.read_frame(bytes.fromhex(found["frame"]), False)
                if wanted(fields):
                    self.rest = b"\x00".join([*whole[place + 1:], self.rest])
                    return fields
        raise SystemExit("the frame waited for did not come\n0 passed, 1 failed")


def talk(port):
    peer = Peer(port)
    first = peer.frame(lambda f: f["kind"] == "open" and f["open"]["ask"])
    theirs = first["open"]["mine"]
    peer.send(wire.frame("open", payload=wire.open_body(ask=True, mine=MINE, echo=theirs, window=2, silence=30, identity=7)))
    answer = peer.frame(lambda f: f["kind"] == "open" and f["open"]["echo"] == MINE)
    theirs = answer["open"]["mine"]
    session = (MINE + theirs) % 2**18 & 3
    steps = 2
    for seq, (kind, payload) in enumerate([("errand", b"\x09\x28"), ("report", b"\x03" + bytes(5)), ("errand", b"\x02\x00")]):
        peer.send(wire.frame(kind, session=session, seq=seq, payload=payload))
        peer.frame(lambda f: f.get("next") == seq + 1 and f["session"] == session)
        steps += 1
    peer.send(wire.frame("errand", session=session, seq=2, payload=b"\x02\x00"))  # a repeat: acknowledged again
    peer.frame(lambda f: f.get("next") == 3)
    peer.send(wire.frame("notice", session=session, seq=0, payload=b"\x0A\x05hello"))
    peer.send(wire.frame("notice", session=session, seq=1, payload=b"\x0A\x05again"), damage=True)
    peer.send(wire.frame("extended", extension="probe", payload=b"\x01\x02abc"))
    answer = peer.frame(lambda f: f.get("extension") == "probe answer")
    assert answer["payload"] == b"\x01\x02abc".hex()
    keep = peer.frame(lambda f: f["kind"] == "ack", limit=3)
    assert keep["next"] == 3
    return steps + 3


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "desk"
        tool = subprocess.Popen([TOOL, "peer", f"twin:{path}", "--for", "12s", "--json"], stdout=subprocess.PIPE, text=True)
        try:
            while not path.exists():
                assert tool.poll() is None, "the tool ended early"
                time.sleep(0.02)
            with serial.Serial(str(path), 115200, timeout=0.05) as port:
                steps = talk(port)
            out, _ = tool.communicate(timeout=30)
        finally:
            tool.kill()
    records = [json.loads(line) for line in out.splitlines()]
    text = json.dumps(records)
    for wanted in ("errand", "report", "hello", "bad FCS"):
        assert wanted in text, (wanted, records)
    errands = [r for r in records if r.get("payload") in ("0200", "0928")]
    assert len(errands) == 2, errands
    print(f"{steps} exchanges by pyserial over a pseudo-terminal, {len(records)} records")
    print(f"{steps} passed, 0 failed")


main()
