"""Octets on the line and frames between them: sections 1 and 2 of WIRE.md."""


def fcs(octets, width=16):
    """The frame check sequence (W-11), as octets: CRC-16/IBM-SDLC, or CRC-32/ISO-HDLC for a width of 32."""
    polynomial = 0x8408 if width == 16 else 0xEDB88320
    ones = (1 << width) - 1
    crc = ones
    for octet in octets:
        crc ^= octet
        for _ in range(8):
            crc = crc >> 1 ^ (polynomial if crc & 1 else 0)
    return (crc ^ ones).to_bytes(width // 8, "little")


class Cobs:
    """W-3 and W-4. `decode` gives the frame, or the reject code of section 9."""

    delimiter = 0
    growth = None

    def encode(self, frame):
        out = bytearray(b"\x01")
        code = 0
        for octet in frame:
            if out[code] == 255:
                code = len(out)
                out.append(1)
            if octet:
                out.append(octet)
                out[code] += 1
            else:
                code = len(out)
                out.append(1)
        return out

    def decode(self, candidate):
        out = bytearray()
        at = 0
        code = 0
        while at < len(candidate):
            last = code
            code = candidate[at]
            if at + code > len(candidate):
                return 0
            if last == 255 and code == 1 and at + 1 == len(candidate):
                return 1
            if at and last < 255:
                out.append(0)
            out.extend(candidate[at + 1 : at + code])
            at += code
        return out


class OctetStuffing:
    """W-5. `characters` is the control-character map: bit n keeps octet n, below 0x20, off the wire."""

    delimiter = 0x7E
    growth = 2

    def __init__(self, characters=0):
        self.characters = characters

    def encode(self, frame):
        out = bytearray()
        for octet in frame:
            if octet == 0x7E or octet == 0x7D or octet < 32 and self.characters >> octet & 1:
                out.append(0x7D)
                octet ^= 0x20
            out.append(octet)
        return out

    def decode(self, candidate):
        out = bytearray()
        escaped = False
        for octet in candidate:
            if escaped:
                out.append(octet ^ 0x20)
                escaped = False
            elif octet == 0x7D:
                escaped = True
            elif octet >= 32 or not self.characters >> octet & 1:
                out.append(octet)
        if escaped:
            return 2
        return out or None


class Wire:
    """Frames to octets on the line and back. `longest`: of a frame with its FCS, in octets; `width`: of the FCS, in bits."""

    def __init__(self, framing, longest=52, width=16):
        self.framing = framing
        self.longest = longest
        self.width = width
        self.raw = bytearray()
        self.skips = self.is_piece = False

    def on_line(self, length):
        """The most octets that a frame of this length, with its FCS, takes on the line (section 1)."""
        if self.framing.growth:
            return self.framing.growth * length + 2
        return length + max(1, (length + 253) // 254) + 2

    def encode(self, frame):
        """The octets on the line, both delimiters included (W-1)."""
        octets = self.framing.encode(bytes(frame) + fcs(frame, self.width))
        if self.framing.delimiter is None:
            return octets
        ends = bytes([self.framing.delimiter])
        return ends + octets + ends

    def push(self, octet):
        """None, ("frame", octets without FCS), ("text", octets) or ("refused", code of section 9)."""
        raw = self.raw
        if octet != self.framing.delimiter:
            if self.skips:
                return None
            raw.append(octet)
            if len(raw) <= 2 * self.longest:
                return None
            self.raw = bytearray()
            self.is_piece = is_text(raw)
            self.skips = not self.is_piece
            return ("text", bytes(raw)) if self.is_piece else ("refused", 4)
        self.raw = bytearray()
        found = None
        if raw:
            found = self.judge(raw, 4 if self.is_piece else None)
        self.skips = self.is_piece = False
        return found

    def judge(self, candidate, code=None):
        """What one candidate is: a frame; unless something is wrong with it already."""
        frame = self.framing.decode(candidate)
        if code is None and isinstance(frame, int):
            code = frame
        if code is None and frame is not None:
            end = len(frame) - self.width // 8
            if len(frame) > self.longest:
                code = 4
            elif len(frame) < (4 if self.width == 16 else 5):
                code = 5
            elif fcs(frame[:end], self.width) != frame[end:]:
                code = 6
            else:
                return "frame", bytes(frame[:end])
        if is_text(candidate):
            return "text", bytes(candidate)
        return None if code is None else ("refused", code)


def is_text(octets):
    """W-9."""
    for octet in octets:
        if not (0x20 <= octet <= 0x7E or 7 <= octet <= 13 or octet == 0x1B):
            return False
    return True
