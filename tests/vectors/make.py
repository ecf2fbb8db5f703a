"""Makes the golden vectors of frames, rejects and streams from WIRE.md (see README.md); `--check` compares instead of writing.

Every vector is also read back by the decoder of wire.py before it is written.
"""

import json
import pathlib
import sys

import wire
from wire import FRAMINGS, frame, message_number, open_body

HERE = pathlib.Path(__file__).resolve().parent
MAP = 0x000A0008  # W-5: 0x03, 0x11 and 0x13 stay off the wire
LINES = [(framing, width, 0) for framing in FRAMINGS for width in (16, 32)]
LINES += [("octet-stuffing", 16, MAP), ("octet-stuffing", 32, 0xFFFFFFFF)]
SAMPLE = bytes.fromhex("027E7D00C0DB11130003FF")  # message number 2, then every octet that some framing escapes


def good():
    """Frames of every kind with every option: name -> arguments of wire.frame."""
    yield "first OPEN of a boot by power", dict(kind="open", payload=open_body(ask=True, cause=1, mine=0x11223344))
    yield "OPEN that answers and asks", dict(kind="open", payload=open_body(
        ask=True, cause=3, mine=0x55667788, echo=0x11223344, window=8, max_payload=1024, fingerprint=0xCAFEF00D,
        silence=255, identity=0x0123456789ABCDEF))
    yield "OPEN that closes the exchange", dict(kind="open", payload=open_body(mine=0x11223344, echo=0x55667788))
    yield "OPEN with the smallest fields", dict(kind="open", payload=open_body(window=1, max_payload=16, silence=0))
    yield "OPEN of a numberless board", dict(kind="open", payload=open_body(ask=True, numberless=True, cause=7))
    yield "OPEN with an echo of zero", dict(kind="open", payload=open_body(mine=1, echo=0, cause=2))
    yield "OPEN of another version, short", dict(kind="open", payload=bytes([2, 1]) + bytes(8))
    yield "OPEN of another version, long", dict(kind="open", payload=bytes([9, 3]) + bytes(range(40)))
    yield "errand", dict(kind="errand", session=1, seq=0, payload=bytes([1, 0x10, 0x27]))
    yield "errand of number 255 and message number 128", dict(kind="errand", session=2, seq=255, payload=message_number(128))
    yield "errand void", dict(kind="errand", session=3, seq=7)
    yield "report", dict(kind="report", session=0, seq=128, payload=message_number(3) + bytes(5))
    yield "report of the largest message number", dict(kind="report", session=3, seq=1, payload=message_number(16383) + b"\xFF")
    yield "report void", dict(kind="report", session=1, seq=254)
    yield "set-point", dict(kind="set-point", session=1, seq=9, payload=bytes([0, 0xC8, 0x01]))
    yield "set-point of message number 127", dict(kind="set-point", session=1, seq=10, payload=message_number(127))
    yield "notice", dict(kind="notice", session=2, seq=33, payload=bytes([10, 5]) + b"hello")
    yield "acknowledgement, form 1", dict(kind="ack", session=1, next=1)
    yield "acknowledgement, form 2", dict(kind="ack", session=2, next=255, held=0x7F)
    for kind in wire.CLASSES:
        yield f"{kind} with an acknowledgement riding", dict(kind=kind, session=3, next=5, seq=6, payload=SAMPLE)
        yield f"{kind} with next and held", dict(kind=kind, session=0, next=0, held=0x15, seq=0, payload=SAMPLE)
        yield f"{kind} to leaf 250 from the hub", dict(kind=kind, session=1, to=250, sender=0, seq=4, payload=b"\x01")
    yield "notice to all", dict(kind="notice", to=255, sender=0, seq=200, payload=b"\x08\x00")
    yield "acknowledgement to the hub", dict(kind="ack", session=1, to=0, sender=1, next=2, held=0x80)
    yield "OPEN to a leaf", dict(kind="open", to=3, sender=0, payload=open_body(mine=5))
    yield "probe without filling", dict(kind="extended", extension="probe", payload=b"\x34\x12")
    yield "probe with 64 octets of filling", dict(kind="extended", extension="probe", payload=b"\x01\x00" + bytes(range(64)))
    yield "probe answer", dict(kind="extended", extension="probe answer", payload=b"\x34\x12\xAA")
    yield "statistics request", dict(kind="extended", extension="statistics request")
    yield "statistics, two counters", dict(kind="extended", extension="statistics", payload=b"\x01" + bytes([1, 0, 0, 0, 2, 0, 0, 0]))
    yield "statistics, layout alone", dict(kind="extended", extension="statistics", payload=b"\x01")
    yield "notice of zeros", dict(kind="notice", seq=0, payload=bytes(32))
    yield "notice of flags and escapes", dict(kind="notice", seq=1, payload=b"\x01" + b"\x7E\x7D\xC0\xDB" * 8)
    yield "notice of ones", dict(kind="notice", seq=2, payload=b"\x01" + b"\xFF" * 31)


def long():
    """Payloads around the block length of COBS, and the longest of all: zeros, none, and counting octets."""
    for size in (246, 247, 248, 249, 250, 251, 252, 253, 254, 255, 256, 509, 1024):
        yield f"notice of {size} octets without a zero", bytes([5]) + bytes(1 + at % 255 for at in range(size - 1))
    yield "notice of 1024 zeros", bytes(1024)
    yield "notice of 1024 escapes", b"\x01" + b"\x7D" * 1023


def frames():
    def entry(name, framing, width, control_map, octets):
        on_wire = wire.wire(octets, framing, width, control_map)
        assert wire.find(inner(on_wire, framing), framing, width, control_map) == {"frame": octets.hex()}, name
        return line(framing, width, control_map) | {
            "name": name, "wire": on_wire.hex(), "frame": octets.hex(),
            "fields": wire.read_frame(octets, framing == "datagram")}

    for framing, width, control_map in LINES:
        for name, args in good():
            tag = 0xA55A if framing == "datagram" else None
            yield entry(name, framing, width, control_map, frame(tag=tag, **args))
    for framing, width in (("cobs", 16), ("cobs", 32), ("octet-stuffing", 16), ("slip", 32)):
        for name, payload in long():
            yield entry(name, framing, width, 0, frame("notice", session=1, seq=0x42, payload=payload))
    for tag in (0, 0xFFFF):
        yield entry(f"errand with tag {tag}", "datagram", 16, 0, frame("errand", tag=tag, payload=b"\x01"))


def inner(on_wire, framing):
    """The only candidate in a wire image."""
    (candidate,) = wire.candidates(on_wire, framing)
    return candidate


def line(framing, width, control_map=0, buffer=None):
    out = {"framing": framing, "fcs": width}
    if control_map:
        out["map"] = control_map
    if buffer:
        out["buffer"] = buffer
    return out


def bad_frames():
    """Frames with a right FCS that break a rule of sections 3, 4 or 6: name, reject, octets."""
    k = lambda kind: wire.KINDS[kind] << 5
    yield "kind 0", "reserved kind", b"\x00\x01\x02\x03"
    yield "kind 0 with all other bits", "reserved kind", b"\x1F\x01\x02\x03\x04"
    yield "extension 0xFF", "reserved kind", b"\xE0\xFF"
    yield "extension 0xFF with a body", "reserved kind", b"\xE0\xFF\xFF\xFF"
    yield "session bits in OPEN", "session bits", frame("open", control=k("open") | 1, payload=open_body())
    yield "session bits in EXTENDED", "session bits", frame("extended", control=k("extended") | 2, extension=3)
    for address in (251, 252, 253, 254):
        yield f"to {address}", "bad address", frame("notice", to=address, sender=1, payload=b"\x01")
    for address in (251, 254, 255):
        yield f"from {address}", "bad address", frame("ack", to=0, sender=address, next=0)
    yield "form 3", "bad acknowledgement form", frame("notice", form=3, next=1, held=2, payload=b"\x01")
    yield "ACK of form 0", "bad acknowledgement form", frame("ack", payload=b"\x00")
    yield "ACK of form 3", "bad acknowledgement form", frame("ack", form=3, next=1, held=2)
    yield "OPEN of form 1", "bad acknowledgement form", frame("open", form=1, next=1, payload=open_body())
    yield "EXTENDED of form 2", "bad acknowledgement form", frame("extended", next=1, held=2, extension=3)
    yield "ACK with octets left over", "bad length", frame("ack", next=1, payload=b"\x00")
    yield "ACK that ends before held", "bad length", frame("ack", form=2, next=1)
    yield "addresses cut off", "bad length", b"\xD0\x01"
    yield "errand without a sequence number", "bad length", frame("errand", form=1, next=3)[:2]
    yield "OPEN one octet short", "bad length", frame("open", payload=open_body()[:-1])
    yield "OPEN one octet long", "bad length", frame("open", payload=open_body() + b"\x00")
    yield "OPEN of another version, cut inside echo", "bad length", frame("open", payload=b"\x02\x00" + bytes(7))
    yield "probe without an id", "bad length", frame("extended", extension="probe", payload=b"\x01")
    yield "probe with 65 octets of filling", "bad length", frame("extended", extension="probe", payload=bytes(67))
    yield "statistics request with a body", "bad length", frame("extended", extension=3, payload=b"\x00")
    yield "statistics with half a counter", "bad length", frame("extended", extension=4, payload=b"\x01\x00\x00")
    yield "set-point without payload", "bad message number", frame("set-point", next=1)
    yield "notice without payload", "bad message number", frame("notice", next=1)
    yield "message number of three octets", "bad message number", frame("errand", payload=b"\x80\x80\x01")
    yield "message number not in the shortest form", "bad message number", frame("report", payload=b"\x81\x00")
    yield "message number cut off", "bad message number", frame("notice", payload=b"\x80")
    for code in (0x00, 0x05, 0x20, 0xFE):
        yield f"extension {code:#04x}", "unknown extension", frame("extended", extension=code, payload=b"\x01\x02")
    yield "window 0", "bad open field", frame("open", payload=open_body(window=0))
    yield "window 9", "bad open field", frame("open", payload=open_body(window=9))
    yield "max payload 15", "bad open field", frame("open", payload=open_body(max_payload=15))
    yield "max payload 1025", "bad open field", frame("open", payload=open_body(max_payload=1025))
    for bit in (3, 7):
        body = bytearray(open_body())
        body[1] |= 1 << bit
        yield f"flag bit {bit}", "bad open field", frame("open", payload=bytes(body))


def bad_wires():
    """Candidates refused before a frame is read: name, reject, framing, fcs, map, buffer, wire."""
    sample = frame("notice", seq=1, payload=SAMPLE)
    yield "code past the end", "broken code", "cobs", 16, 0, None, b"\x00\x05\x80\x90\x00"
    yield "code past the end in the second block", "broken code", "cobs", 16, 0, None, b"\x00\x02\x80\x09\x90\x01\x00"
    yield "code 0xFF alone", "broken code", "cobs", 16, 0, None, b"\x00\xFF\x00"
    full = bytes(range(1, 255))
    yield "a full block, then 0x01", "not canonical", "cobs", 16, 0, None, b"\x00\xFF" + full + b"\x01\x00"
    yield "two full blocks, then 0x01", "not canonical", "cobs", 32, 0, None, b"\x00\xFF" + full + b"\xFF" + full + b"\x01\x00"
    whole = frame("notice", seq=1, payload=full[:250])
    padded = wire.wire(whole, "cobs")[:-1] + b"\x01\x00"
    assert len(whole) == 252 and padded[1] == 0xFF
    yield "a good frame with a block too many", "not canonical", "cobs", 16, 0, None, padded
    yield "abort", "aborted", "octet-stuffing", 16, 0, None, wire.wire(sample, "octet-stuffing")[:-1] + b"\x7D\x7E"
    yield "abort at once", "aborted", "octet-stuffing", 16, 0, None, b"\x7E\x80\x7D\x7E"
    yield "escape before another octet", "bad escape", "slip", 16, 0, None, b"\xC0\x80\xDB\x01\x02\x03\xC0"
    yield "escape at the end", "bad escape", "slip", 32, 0, None, b"\xC0\x80\x01\x02\x03\x04\xDB\xC0"
    long_one = frame("notice", seq=1, payload=bytes([1]) + b"\x81" * 200)
    for framing in FRAMINGS:
        for width in (16, 32):
            yield "longer than the buffer", "too long", framing, width, 0, 64, wire.wire(long_one, framing, width)
            for size in range(1, width // 8 + (2 if width == 16 else 1)):
                if framing == "datagram":
                    short = b"\x80" * size
                else:
                    d = bytes([wire.DELIMITER[framing]])
                    short = d + wire.stuff(b"\x80" * size, framing) + d
                yield f"{size} octets", "too short", framing, width, 0, None, short
            check = bytearray(wire.fcs(sample, width))
            check[0] ^= 1
            yield "one bit of the FCS flipped", "bad FCS", framing, width, 0, None, wire.wire(sample, framing, width, check=check)
            other = wire.fcs(sample, 48 - width)
            yield "the other FCS", "bad FCS", framing, width, 0, None, wire.wire(sample, framing, width, check=other)
            backward = wire.fcs(sample, width)[::-1]
            yield "FCS with its octets swapped", "bad FCS", framing, width, 0, None, wire.wire(sample, framing, width, check=backward)
    yield "no octet", "too short", "cobs", 16, 0, None, b"\x00\x01\x00"


def rejects():
    def entry(name, reject, framing, width, control_map, buffer, on_wire):
        found = wire.find(inner(on_wire, framing), framing, width, control_map, buffer or 2100)
        assert found == {"reject": reject}, (name, framing, width, found)
        code, rule = wire.REJECTS[reject]
        return line(framing, width, control_map, buffer) | {
            "name": name, "wire": on_wire.hex(), "reject": reject, "code": code, "rule": rule}

    for args in bad_wires():
        yield entry(*args)
    for framing, width in (("cobs", 16), ("octet-stuffing", 32), ("slip", 16)):
        for name, reject, octets in bad_frames():
            yield entry(name, reject, framing, width, 0, None, wire.wire(octets, framing, width))
    short_tag = frame("set-point", tag=0x0102, seq=1, payload=b"")[:2] + b""
    yield entry("tag cut off", "bad length", "datagram", 16, 0, None, wire.wire(short_tag, "datagram"))


def streams():
    """Octets in a row and everything that is found in them, in order."""
    def entry(name, rules, framing, width, control_map, buffer, *parts):
        octets = b"".join(parts)
        finds = [wire.find(c, framing, width, control_map, buffer or 2100) for c in wire.candidates(octets, framing, control_map)]
        return line(framing, width, control_map, buffer) | {
            "name": name, "rules": [f"W-{rule}" for rule in rules], "wire": octets.hex(), "finds": finds}

    one = frame("set-point", session=1, seq=1, payload=b"\x00\x02")
    two = frame("set-point", session=1, seq=2, payload=b"\x00\x04")
    for framing in FRAMINGS[:3]:
        d = bytes([wire.DELIMITER[framing]])
        w = lambda octets, **more: wire.wire(octets, framing, **more)
        half = w(one)[:4]
        yield entry("two frames back to back", [1], framing, 16, 0, None, w(one), w(two, lead=False))
        yield entry("a first frame without its delimiter", [2], framing, 16, 0, None, w(one, lead=False))
        yield entry("silence between frames", [2], framing, 16, 0, None, w(one), d * 9, w(two))
        yield entry("noise in the gap costs no frame", [1], framing, 16, 0, None, w(one), b"\x9A\x81\xEE\xF7\x80", w(two))
        yield entry("a frame cut short by the next one", [10], framing, 16, 0, None, half, w(two))
        yield entry("a lost closing delimiter is made good by the next opening one", [1],
                    framing, 16, 0, None, w(one)[:-1], w(two))
        yield entry("boot messages around a frame", [9], framing, 16, 0, None, b"\r\nboot: 14 MHz, 3 sensors\r\n", w(one),
                    b"dome login: ", w(two), b"last words", d)
        yield entry("an incomplete tail", [2], framing, 16, 0, None, w(one), half)
        yield entry("a line held low", [12], framing, 16, 0, None, b"\x00" * 40, w(one))
        yield entry("a line held high", [12], framing, 16, 0, None, b"\xFF" * 40, w(one))
    full_map = wire.wire(one, "octet-stuffing", control_map=0xFFFFFFFF)
    yield entry("control characters put in on the way are dropped", [5], "octet-stuffing", 16, MAP, None,
                b"\x11".join(bytes([octet]) for octet in wire.wire(two, "octet-stuffing", control_map=MAP)))
    yield entry("control characters alone are silence", [2, 5], "octet-stuffing", 16, MAP, None,
                b"\x7E\x11\x13\x7E\x03", wire.wire(one, "octet-stuffing"), b"\x13\x11\x7E")
    yield entry("a line end alone is text, whatever the map", [9], "octet-stuffing", 16, 0xFFFFFFFF, None, b"\x7E\r\n\x7E")
    yield entry("escapes that were not needed are taken", [5], "octet-stuffing", 16, 0, None, full_map)
    every = b"\x7E" + b"".join(bytes([0x7D, octet ^ 0x20]) for octet in one + wire.fcs(one, 16)) + b"\x7E"
    yield entry("every octet escaped", [5], "octet-stuffing", 16, 0, None, every)
    yield entry("an abort costs one frame", [5], "octet-stuffing", 16, 0, None, b"\x7E\x81\x82\x7D\x7E", wire.wire(one, "octet-stuffing", lead=False))
    yield entry("text that looks aborted is text", [9], "octet-stuffing", 16, 0, None, b"\x7Eset {a}\x7E")
    yield entry("a candidate too long costs no other", [8], "cobs", 16, 0, 64, wire.wire(frame("notice", payload=b"\x01" + b"\x90" * 300), "cobs"),
                wire.wire(one, "cobs", lead=False))


def dump(name, vectors, check):
    vectors = list(vectors)
    text = "[\n" + ",\n".join(json.dumps(v) for v in vectors) + "\n]\n"
    path = HERE / name
    if check:
        same = path.read_text() == text
        print(f"{name}: {len(vectors)} vectors, {'the same' if same else 'DIFFERENT'}")
        return len(vectors), same
    path.write_text(text)
    print(f"{name}: {len(vectors)} vectors written")
    return len(vectors), True


def main():
    check = "--check" in sys.argv
    results = [dump(name, make(), check) for name, make in
               (("frames.json", frames), ("rejects.json", rejects), ("streams.json", streams))]
    print(f"{sum(n for n, same in results if same)} passed, {sum(n for n, same in results if not same)} failed")
    sys.exit(0 if all(same for _, same in results) else 1)


main()
