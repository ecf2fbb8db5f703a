"""The Bellwire wire, version 1, written from core/WIRE.md alone. Stuffing by PyPI `cobs`, FCS by PyPI `crccheck`.

Deliberately independent of the Rust: nothing here was read from it. Slow and plain; numbers in comments are rules.
"""

import cobs.cobs
import crccheck.crc

KINDS = {"open": 1, "errand": 2, "report": 3, "set-point": 4, "ack": 5, "notice": 6, "extended": 7}
NAMES = {code: name for name, code in KINDS.items()}
EXTENSIONS = {"probe": 1, "probe answer": 2, "statistics request": 3, "statistics": 4}
EXTENSION_NAMES = {code: name for name, code in EXTENSIONS.items()}
CLASSES = ("errand", "report", "set-point", "notice")
FRAMINGS = ("cobs", "octet-stuffing", "slip", "datagram")
DELIMITER = {"cobs": 0x00, "octet-stuffing": 0x7E, "slip": 0xC0, "datagram": None}
TEXT = frozenset([*range(0x07, 0x0E), 0x1B, *range(0x20, 0x7F)])

# Section 9: name of a reject -> code, rule.
REJECTS = {
    "broken code": (0, "W-3"), "not canonical": (1, "W-4"), "aborted": (2, "W-5"), "bad escape": (3, "W-6"),
    "too long": (4, "W-8"), "too short": (5, "W-10"), "bad FCS": (6, "W-11"), "reserved kind": (7, "W-12"),
    "session bits": (8, "W-13"), "bad address": (9, "W-15"), "not for us": (10, "W-15"),
    "bad acknowledgement form": (11, "W-16"), "bad length": (12, "W-17"), "bad message number": (13, "W-18"),
    "unknown extension": (14, "W-19"), "bad open field": (15, "W-20"), "other version": (16, "W-21"),
    "not open": (17, "W-27"), "other session": (18, "W-32"), "outside window": (19, "W-38"),
    "bad acknowledgement": (20, "W-40"), "no room": (21, "W-39"), "stale set-point": (22, "W-45"),
}


class Refused(Exception):
    """A rule was broken; the argument is the name of the reject."""


def number(value, octets):
    """Little-endian (the convention at the top of WIRE.md)."""
    return value.to_bytes(octets, "little")


def message_number(value):
    """W-18."""
    return bytes([value]) if value < 128 else bytes([value & 127 | 128, value >> 7])


def fcs(frame, width):
    """W-11."""
    check = crccheck.crc.CrcX25 if width == 16 else crccheck.crc.Crc32
    return number(check.calc(frame), width // 8)


def open_body(version=1, ask=False, numberless=False, cause=0, mine=0, echo=None, window=1, max_payload=48,
              fingerprint=0, silence=30, identity=0):
    """Section 4, without the control octet."""
    flags = ask << 0 | (echo is not None) << 1 | numberless << 2 | cause << 4
    return (bytes([version, flags]) + number(mine, 4) + number(echo or 0, 4) + bytes([window])
            + number(max_payload, 2) + number(fingerprint, 4) + bytes([silence]) + number(identity, 8))


def frame(kind, session=0, tag=None, to=None, sender=None, next=None, held=None, extension=None, seq=0,
          payload=b"", form=None, control=None):
    """Section 3, without the FCS. `form` and `control` override what follows from the rest, to build wrong frames."""
    if form is None:
        form = 0 if next is None else 1 if held is None else 2
    if control is None:
        control = KINDS[kind] << 5 | (to is not None) << 4 | form << 2 | session & 3
    out = bytes([control])
    if tag is not None and kind not in ("open", "extended"):
        out += number(tag, 2)
    if to is not None:
        out += bytes([to, sender])
    if next is not None:
        out += bytes([next])
    if held is not None:
        out += bytes([held])
    if kind == "extended":
        out += bytes([extension if isinstance(extension, int) else EXTENSIONS[extension]])
    if kind in CLASSES:
        out += bytes([seq])
    return out + payload


def stuff(octets, framing, control_map=0):
    """W-3 to W-7, without delimiters."""
    if framing == "cobs":
        return cobs.cobs.encode(octets)
    if framing == "octet-stuffing":
        out = bytearray()
        for octet in octets:
            if octet in (0x7E, 0x7D) or (octet < 0x20 and control_map >> octet & 1):
                out += bytes([0x7D, octet ^ 0x20])
            else:
                out.append(octet)
        return bytes(out)
    if framing == "slip":
        return octets.replace(b"\xDB", b"\xDB\xDD").replace(b"\xC0", b"\xDB\xDC")
    return octets


def wire(octets, framing, width=16, control_map=0, lead=True, check=None):
    """A whole frame on the wire (W-1): `octets` is the frame without its FCS; `check` overrides the FCS."""
    candidate = stuff(octets + (fcs(octets, width) if check is None else check), framing, control_map)
    if framing == "datagram":
        return candidate
    delimiter = bytes([DELIMITER[framing]])
    return (delimiter if lead else b"") + candidate + delimiter


def unstuff(candidate, framing, control_map=0):
    """The frame and FCS in a candidate, or Refused."""
    if framing == "cobs":
        out, at = bytearray(), 0
        while at < len(candidate):
            code = candidate[at]
            if at + code > len(candidate):
                raise Refused("broken code")
            out += candidate[at + 1:at + code]
            at += code
            if at < len(candidate) and code < 255:
                out.append(0)
            if code == 255 and candidate[at:] == b"\x01":
                raise Refused("not canonical")
        return bytes(out)
    if framing == "octet-stuffing":
        if candidate.endswith(b"\x7D"):
            raise Refused("aborted")
        out, octets = bytearray(), iter(candidate)
        for octet in octets:
            if octet == 0x7D:
                out.append(next(octets) ^ 0x20)
            elif octet >= 0x20 or not control_map >> octet & 1:
                out.append(octet)
        return bytes(out)
    if framing == "slip":
        out, octets = bytearray(), iter(candidate)
        for octet in octets:
            if octet == 0xDB:
                escaped = {0xDC: 0xC0, 0xDD: 0xDB}.get(next(octets, None))
                if escaped is None:
                    raise Refused("bad escape")
                octet = escaped
            out.append(octet)
        return bytes(out)
    return candidate


def read_open(body):
    """Section 4, W-20 and W-21."""
    if len(body) < 10:
        raise Refused("bad length")
    word = lambda at, octets: int.from_bytes(body[at:at + octets], "little")
    flags = body[1]
    out = {"version": body[0], "ask": bool(flags & 1), "numberless": bool(flags & 4), "cause": flags >> 4 & 7,
           "mine": word(2, 4), "echo": word(6, 4) if flags & 2 else None}
    if body[0] != 1:
        return out
    if len(body) != 26:
        raise Refused("bad length")
    out |= {"window": body[10], "max_payload": word(11, 2), "fingerprint": word(13, 4), "silence": body[17],
            "identity": word(18, 8)}
    if flags & 0x88 or not 1 <= body[10] <= 8 or not 16 <= out["max_payload"] <= 1024:
        raise Refused("bad open field")
    return out


def read_message_number(payload):
    """W-18."""
    if payload[:1] and payload[0] < 128:
        return payload[0]
    if len(payload) >= 2 and 0 < payload[1] < 128:
        return payload[0] & 127 | payload[1] << 7
    raise Refused("bad message number")


def read_frame(octets, tagged):
    """Fields of a frame without its FCS, or Refused (W-12 to W-21)."""
    rest = bytearray(octets)

    def take(count=1):
        if len(rest) < count:
            raise Refused("bad length")
        out = int.from_bytes(rest[:count], "little")
        del rest[:count]
        return out

    control = take()
    kind, form = NAMES.get(control >> 5), control >> 2 & 3
    if kind is None:
        raise Refused("reserved kind")
    fields = {"kind": kind}
    if kind in ("open", "extended"):
        if control & 3:
            raise Refused("session bits")
    else:
        fields["session"] = control & 3
    allowed = {"open": (0,), "extended": (0,), "ack": (1, 2)}.get(kind, (0, 1, 2))
    if form not in allowed:
        raise Refused("bad acknowledgement form")
    if tagged and kind not in ("open", "extended"):
        fields["tag"] = take(2)
    if control & 16:
        to, sender = take(), take()
        if 251 <= to <= 254 or sender > 250:
            raise Refused("bad address")
        fields |= {"to": to, "from": sender}
    if form:
        fields["next"] = take()
    if form == 2:
        fields["held"] = take()
    if kind == "extended":
        code = take()
        if code == 0xFF:
            raise Refused("reserved kind")
        if code not in EXTENSION_NAMES:
            raise Refused("unknown extension")
        fields["extension"] = EXTENSION_NAMES[code]
    if kind in CLASSES:
        fields["number"] = take()
    payload = bytes(rest)
    if kind == "open":
        fields["open"] = read_open(payload)
    elif kind == "ack" and payload:
        raise Refused("bad length")
    elif kind == "extended":
        name, size = fields["extension"], len(payload)
        good = {"probe": 2 <= size <= 66, "probe answer": 2 <= size <= 66, "statistics request": size == 0,
                "statistics": size % 4 == 1}[name]
        if not good:
            raise Refused("bad length")
    elif kind in CLASSES and (payload or kind in ("set-point", "notice")):
        fields["message"] = read_message_number(payload)
    fields["payload"] = payload.hex()
    return fields


def candidates(octets, framing, control_map=0):
    """W-2: what stands between delimiters, silence left out; what follows the last one is not complete yet."""
    if framing == "datagram":
        return [octets]
    dropped = {octet for octet in range(32) if framing == "octet-stuffing" and control_map >> octet & 1}
    return [c for c in octets.split(bytes([DELIMITER[framing]]))[:-1]
            if c and (TEXT.issuperset(c) or not dropped.issuperset(c))]


def find(candidate, framing, width=16, control_map=0, buffer=2100):
    """One of {"frame": hex}, {"reject": name}, {"text": hex}."""
    try:
        octets = unstuff(candidate, framing, control_map)
        if len(octets) > buffer:
            raise Refused("too long")
        if len(octets) < (4 if width == 16 else 5):
            raise Refused("too short")
        inner, check = octets[:-width // 8], octets[-width // 8:]
        if fcs(inner, width) != check:
            raise Refused("bad FCS")
    except Refused as refused:
        if all(octet in TEXT for octet in candidate):
            return {"text": candidate.hex()}
        return {"reject": str(refused)}
    try:
        read_frame(inner, framing == "datagram")
    except Refused as refused:
        return {"reject": str(refused)}
    return {"frame": inner.hex()}
