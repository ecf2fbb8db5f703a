"""Holds the C peer to the golden vectors: COBS and octet stuffing with the 16-bit FCS, and the scripts for a window of 1."""

import ctypes
import subprocess
import sys

from scripts import EXTENSIONS, KINDS, ROOT, Peer, Tally, left_out, load, play

FLAGS = "-std=c99 -Wall -Wextra -Werror -pedantic -O1 -shared -fPIC -fsanitize=undefined -fno-sanitize-recover=all".split()
REJECTS = {}
UNABLE = (
    ("numbers count up, one outstanding at a time", "errands that wait"),
    ("a restart of the peer with items under way", "errands that wait"),
)
FRAMINGS = ("cobs", "octet-stuffing")
EVENTS = ("", "opened", "ended", "mismatch", "message", "delivered", "unknown", "not sent", "resent", "text", "refused")
ENDS = ("peer restarted", "silence", "mismatch")


def library(largest):
    folder = ROOT / "target/peers"
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"libshim{largest}.so"
    sources = [*sorted((ROOT / "examples/peers/c").glob("*.c")), ROOT / "tests/peers/shim.c"]
    command = ["gcc", *FLAGS, f"-DBW_LARGEST={largest}", f"-I{ROOT / 'examples/peers/c'}", *map(str, sources), "-o", str(path)]
    subprocess.run(command, check=True)
    return ctypes.CDLL(str(path))


LARGE, SMALL = library(1024), library(48)


def prepare(vector, lib=LARGE):
    lib.shim_line(FRAMINGS.index(vector["framing"]), vector.get("map", 0))


def finds(octets, lib=LARGE):
    found = []
    buffer, length = ctypes.create_string_buffer(2200), ctypes.c_uint16()
    for octet in octets:
        code = lib.shim_push(octet, buffer, ctypes.byref(length))
        if code == -2:
            found.append({"frame": buffer.raw[: length.value].hex()})
        elif code == -3:
            found.append({"text": buffer.raw[: length.value].hex()})
        elif code >= 0:
            found.append({"reject": REJECTS[code]})
    return found


def encoded(frame):
    out = ctypes.create_string_buffer(2200)
    length = LARGE.shim_encode(frame, len(frame), out)
    return out.raw[:length]


def check_frame(vector):
    prepare(vector)
    frame = bytes.fromhex(vector["frame"])
    if len(frame) > 1034:
        assert finds(bytes.fromhex(vector["wire"])) == [{"reject": "too long"}]
        return
    assert finds(bytes.fromhex(vector["wire"])) == [{"frame": vector["frame"]}]
    assert encoded(frame).hex() == vector["wire"]
    fields = (ctypes.c_int * 9)()
    LARGE.shim_fields(frame, len(frame), fields)
    got = dict(zip(("kind", "session", "to", "from", "next", "held", "number"), fields[1:8]))
    got["kind"] = KINDS[got["kind"]]
    want = vector["fields"]
    for name in ("session", "to", "from", "next", "held", "number"):
        assert got[name] == want.get(name, 0 if name in ("session", "number") else -1), (name, got)
    payload = frame[len(frame) - fields[8] :]
    if got["kind"] == "extended":
        assert EXTENSIONS[payload[0]] == want["extension"]
        payload = payload[1:]
    assert got["kind"] == want["kind"] and payload.hex() == want["payload"]


def check_reject(vector):
    lib = SMALL if "buffer" in vector else LARGE
    prepare(vector, lib)
    assert finds(bytes.fromhex(vector["wire"]), lib) == [{"reject": vector["reject"]}]


def check_stream(vector):
    lib = SMALL if "buffer" in vector else LARGE
    prepare(vector, lib)
    assert finds(bytes.fromhex(vector["wire"]), lib) == vector["finds"]


class CPeer(Peer):
    def __init__(self, device):
        super().__init__(device)
        self.items = []
        self.count = 0
        SMALL.shim_port(
            device["mine"], device["fingerprint"], ctypes.c_uint64(device["identity"]), device["cause"],
            device["keep_alive"] // 1000, device["octets_per_second"], device["tries"],
        )  # fmt: skip

    def feed(self, octets):
        SMALL.shim_feed(octets, len(octets))

    def hand_over(self, kind, payload):
        taken = SMALL.shim_send(KINDS.index(kind), payload, len(payload))
        if kind in ("errand", "report"):
            self.items.append(self.count)
        self.count += 1
        self.gather()
        return bool(taken)

    def gather(self):
        out = ctypes.create_string_buffer(8192)
        length = SMALL.shim_sent(out)
        octets = out.raw[:length]
        SMALL.shim_line(0, 0)
        self.sent.extend(bytes.fromhex(found["frame"]) for found in finds(octets, SMALL))

    def service(self, now):
        told, octets = (ctypes.c_int * 8)(), ctypes.create_string_buffer(600)
        SMALL.shim_service(now, told, octets)
        self.gather()
        name = EVENTS[told[0]]
        octets = octets.raw[: told[7]].hex()
        if not name:
            return None
        if name in ("delivered", "unknown", "not sent"):
            return {"event": "outcome", "item": self.items.pop(0), "outcome": name}
        if name == "resent":
            return {"event": name, "item": self.items[0], "tries": told[4]}
        if name == "message":
            return {"event": name, "class": KINDS[told[1]], "payload": octets, "number": told[2], "missed": told[3]}
        return {"event": name, "reject": REJECTS.get(told[6]), "reason": ENDS[told[5]], "octets": octets}


def main():
    tally = Tally("C peer")
    REJECTS.update((vector["code"], vector["reject"]) for vector in load("rejects.json"))
    REJECTS.update({10: "not for us", 16: "other version", 17: "not open", 18: "other session", 19: "outside window", 20: "bad acknowledgement"})
    for name, check in {"frames": check_frame, "rejects": check_reject, "streams": check_stream}.items():
        for vector in load(f"{name}.json"):
            if vector["framing"] in FRAMINGS and vector["fcs"] == 16:
                tally.check(name, vector, check)
            else:
                tally.leave(f"{name} of another framing or FCS")
    for vector in load("sessions.json"):
        why = left_out(vector, UNABLE)
        if why:
            tally.leave(why)
        else:
            tally.check("sessions", vector, lambda vector: play(vector, CPeer(vector["device"])))
    sys.exit(tally.close())


main()
