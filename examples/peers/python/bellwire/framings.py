"""What a small board leaves out: the other two framings, and words for the reject codes."""


class Slip:
    """W-6."""

    delimiter = 0xC0
    growth = 2

    def encode(self, frame):
        return frame.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc")

    def decode(self, candidate):
        out = bytearray()
        escaped = False
        for octet in candidate:
            if escaped and octet != 0xDC and octet != 0xDD:
                return 3
            if escaped:
                out.append(0xC0 if octet == 0xDC else 0xDB)
            elif octet != 0xDB:
                out.append(octet)
            escaped = octet == 0xDB and not escaped
        return 3 if escaped else out


class Datagram:
    """W-7: hand each datagram to `Wire.judge`; frames carry a tag (W-14)."""

    delimiter = None

    def encode(self, frame):
        return frame

    def decode(self, candidate):
        return candidate


REJECTS = (
    "broken code", "not canonical", "aborted", "bad escape", "too long", "too short", "bad FCS", "reserved kind",
    "session bits", "bad address", "not for us", "bad acknowledgement form", "bad length", "bad message number",
    "unknown extension", "bad open field", "other version", "not open", "other session", "outside window",
    "bad acknowledgement", "no room", "stale set-point",
)  # fmt: skip
