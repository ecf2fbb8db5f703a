"""A Bellwire peer for a board with about 9 KB of heap: the wire of core/WIRE.md on an ordered line, with octet stuffing,
the 16-bit FCS and a window of 1. See README.md for what it leaves out. All times are whole milliseconds of one clock.

    port = Port(uart, 11520, mine)            # uart: read(most) gives octets or None, write(octets)
    while True:
        event = port.service(now())           # (what, value), or None
"""

ERRAND, REPORT, SET_POINT, ACK, NOTICE = 2, 3, 4, 5, 6
LONGEST = 52  # octets of a frame with its FCS; payloads up to 48
ON_LINE = 2 * LONGEST + 2  # octets that it takes on the line, at most


def fcs(octets):
    """CRC-16/IBM-SDLC (W-11)."""
    crc = 0xFFFF
    for octet in octets:
        crc ^= octet
        for _ in range(8):
            crc = crc >> 1 ^ (0x8408 if crc & 1 else 0)
    return crc ^ 0xFFFF


class Port:
    """A link to one peer. `mine` is the own number, another one at each boot (W-22); `terms` the end of OPEN from the window
    on: window, max payload (2), fingerprint (4), silence in 100 ms, identity (8). `up` says whether a session is open."""

    cause = 0  # why the board started (section 4)
    told = None

    def __init__(self, uart, rate, mine, characters=0x000A0008, terms=b"\x010\0\0\0\0\0\x1e\0\0\0\0\0\0\0\0"):
        self.uart = uart
        self.rate = rate
        self.mine = mine
        self.characters = characters
        self.terms = terms
        self.raw = bytearray()
        self.inbox = b""
        self.at = self.flip = self.now = self.free = self.arrived = self.heard = self.last = 0
        self.ask_at = 0
        self.gate = -1000
        self.owed = None  # an OPEN: whether it asks
        self.reply = None
        self.pace = 50
        self.up = False
        self.events = []
        self.guards = []
        self._forget(None)

    def _forget(self, theirs):
        """All numbers 0, nothing under way."""
        self.theirs = theirs
        self.session = 0
        self.base = self.next = self.set_out = self.notice_out = 0
        self.item = None
        self.waiting = {}
        self.owes = False

    # ---- the verbs: set, send, notice, service ----

    def set(self, payload):
        """The newest value of a set-point; sent once, at the next `service`."""
        if self.up:
            self.waiting[payload[: 1 + (payload[0] >> 7)]] = payload
        return self.up

    def send(self, payload, kind=ERRAND):
        """An errand or a report. False: certainly not sent, the link is down or the one before has no outcome yet."""
        if not self.up or self.item is not None:
            return False
        self.item = payload
        self.kind = kind
        self.sendings = 0
        self.due = self.now
        return True

    def notice(self, payload):
        """An unconfirmed message, at once."""
        if self.up:
            self._transmit(self._frame(NOTICE, self.notice_out, payload))
            self.notice_out += 1
        return self.up

    def service(self, now):
        """Takes what has arrived, sends what is due, drives what is guarded, and gives one event or None. Call it until it gives None."""
        self.now = now
        while not self.events:
            if self.at >= len(self.inbox):
                self.inbox = self.uart.read(32) or b""
                self.at = 0
                if not self.inbox:
                    break
            frame = self._push(self.inbox[self.at])
            self.at += 1
            if not frame:
                pass
            elif frame[0] == 32:
                self._take_open(frame)
            elif frame[0] == 224:
                self._answer(frame)
            elif 64 <= frame[0] < 224:
                self._take(frame)
        frame = self._due()
        while frame:
            self._transmit(frame)
            frame = self._due()
        for guard in self.guards:
            if self.up:
                guard.service(now)
            else:
                guard.hold()
        return self.events.pop(0) if self.events else None

    # ---- what arrives ----

    def _push(self, octet):
        """Collects a candidate (W-2, W-5, W-8); gives a frame without its FCS."""
        raw = self.raw
        if not raw:
            self.arrived = self.now
        if octet == 0x7E:
            good = not self.flip and 4 <= len(raw) <= LONGEST and fcs(raw) == 0x0F47
            self.raw = bytearray()
            self.flip = 0
            return raw[:-2] if good else None
        if octet == 0x7D and not self.flip:
            self.flip = 32
        elif self.flip or octet >= 32 or not self.characters >> octet & 1:
            if len(raw) <= LONGEST:
                raw.append(octet ^ self.flip)
            self.flip = 0
        return None

    def _take(self, frame):
        """Kinds 2 to 6."""
        kind = frame[0] >> 5
        at = 1 + (frame[0] >> 2 & 3)
        if at > 3 or frame[0] & 16 or len(frame) < at + (kind != ACK) or kind == ACK and (at == 1 or len(frame) > at):
            return  # W-15 to W-17
        payload = bytes(frame[at + 1 :])
        if payload and payload[0] > 127 and not (len(payload) > 1 and 0 < payload[1] < 128):
            return  # W-18
        if not self.up or frame[0] & 3 != self.session:
            if not self.told and self._may_answer(50 if self.up else self._time(64)):
                self.owed = 1  # W-27, W-32
            return
        self.heard = self.now
        if at > 1 and self.item is not None and frame[1] == (self.base + 1) & 255 and self.sendings:
            if self.item:
                self.events.append(("delivered", None))
            self.item = None
            self.base = frame[1]
        if kind == ERRAND or kind == REPORT:
            ahead = (frame[at] - self.next) & 255
            if ahead == 0:
                self.next = (self.next + 1) & 255
            elif ahead != 255:
                return  # W-38
            self.owes = True
            if ahead or not payload:
                return
        if payload:
            self.events.append((kind, payload))

    def _take_open(self, frame):
        """W-25 to W-30."""
        if len(frame) < 11 or frame[1] == 1 and len(frame) != 27:
            return
        asks = frame[2] & 1
        theirs = bytes(frame[3:7])
        echoes = frame[2] & 2 and frame[7:11] == self.mine.to_bytes(4, "little")
        marks = frame[14:18]
        ours = self.terms[3:7]
        differs = frame[1] != 1 or any(marks) and any(ours) and marks != ours
        if self.up:
            if theirs == self.theirs and echoes and not differs:
                self.heard = self.now
                if asks:
                    self.owed = 0
                return
            self._end("mismatch" if differs else "peer restarted")
        self.pace = 1000 if differs else 50
        self.ask_at = self.now + self.pace
        self.theirs = theirs
        if differs:
            if self.told != marks:
                self.events.append(("mismatch", marks))
        self.told = marks if differs else None
        if echoes and not differs:
            self._forget(theirs)
            self.up = True
            self.session = (self.mine + theirs[0]) & 3
            self.silence = frame[18] * 100
            self.heard = self.now
            self.events.append(("opened", bytes(frame[19:27])))
        self.owed = 1 if not self.up and not differs else 0 if asks else None

    def _answer(self, frame):
        """Probes and requests for statistics (W-48)."""
        if self._may_answer(self._time(64)):
            if len(frame) > 3 and frame[1] == 1:
                self.reply = b"\xe0\x02" + frame[2:]
            elif len(frame) == 2 and frame[1] == 3:
                self.reply = b"\xe0\x04\x01"

    def _may_answer(self, least):
        """At most one answer in so many milliseconds."""
        late = self.now - self.gate >= least
        if late:
            self.gate = self.now
        return late

    def _end(self, why):
        if self.item:
            self.events.append(("unknown" if self.sendings else "not sent", None))
        self.events.append(("ended", why))
        self.up = False
        self.mine = (self.mine + 1) & 0xFFFFFFFF
        self._forget(None)
        self.owed = None

    # ---- what time brings, and what is sent ----

    def _due(self):
        """The next frame to send, or None."""
        now = self.now
        if not self.up and now >= self.ask_at:
            self.ask_at = now + self.pace + (now * 7 + self.mine) % (self.pace // 2)
            self.pace = min(1000, 2 * self.pace)
            self.owed = 1
        if self.owed is not None:
            flags = self.owed | (2 if self.theirs else 0) | self.cause << 4
            self.owed = None
            return bytes([32, 1, flags]) + self.mine.to_bytes(4, "little") + (self.theirs or b"\0\0\0\0") + self.terms
        if self.reply:
            frame = self.reply
            self.reply = None
            return frame
        if not self.up:
            return None
        if self.silence and now - self.heard >= self.silence + 300:
            self._end("silence")
            self.ask_at = now
            return None
        for key in list(self.waiting):
            if self.free - now > self._time(ON_LINE):
                return None  # W-46
            self.set_out += 1
            return self._frame(SET_POINT, self.set_out - 1, self.waiting.pop(key))
        if self.item is not None and now >= self.due:
            if self.sendings == 5 and self.item:
                self.item = b""  # W-37: a void
                self.events.append(("unknown", None))
            pause = min(1000, max(50, 8 * self._time(ON_LINE)) << self.sendings)
            self.sendings = min(5, self.sendings + 1)
            self.due = max(now, self.free) + pause + (now * 7 + self.mine) % (pause // 4)
            return self._frame(self.kind, self.base, self.item)
        pause = self.terms[7] * 100 // 3
        if self.owes or pause and now - self.last >= pause:
            self.owes = True
            return self._frame(ACK, None, b"")
        return None

    def _time(self, octets):
        return 1 + octets * 1000 // self.rate

    def _frame(self, kind, number, payload):
        head = kind << 5 | self.session
        head = bytes([head | 4, self.next]) if self.owes else bytes([head])
        self.owes = False
        if number is not None:
            head += bytes([number & 255])
        return head + payload

    def _transmit(self, frame):
        out = bytearray(b"\x7e")
        for octet in frame + fcs(frame).to_bytes(2, "little"):
            if octet == 0x7E or octet == 0x7D or octet < 32 and self.characters >> octet & 1:
                out.append(0x7D)
                octet ^= 32
            out.append(octet)
        out.append(0x7E)
        self.uart.write(out)
        self.last = self.now
        self.free = max(self.now, self.free) + self._time(len(out))
