"""A link to one peer over a line that keeps order: sections 4, 5 and 7 of WIRE.md, with a window of 1."""

from .frames import ACK, ERRAND, EXTENDED, NOTICE, OPEN, SET_POINT, message_number, read_frame

QUEUE = 4  # errands that wait, and notices that wait
OPEN_OCTETS = 64  # an OPEN on the line, at most, in round numbers


class Port:
    """`uart` has `read()`, which gives octets or None, and `write(octets)`; `wire` is a `Wire`.

    `mine` is the own number, another one at each boot (W-22). `identity` is up to 64 bits, `keep_alive` milliseconds (0:
    none, at most 8500). All times are whole milliseconds of one clock."""

    def __init__(self, uart, wire, octets_per_second, mine, identity=0, fingerprint=0, cause=0, keep_alive=1000, tries=5):
        self.uart = uart
        self.wire = wire
        self.rate = octets_per_second
        self.mine = mine
        self.identity = identity
        self.fingerprint = fingerprint
        self.cause = cause
        self.keep_alive = keep_alive
        self.tries = tries
        self.takes = wire.longest - 2 - wire.width // 8
        self.frame_time = self.time_of(wire.on_line(wire.longest))
        self.first_pace = max(50, self.time_of(4 * OPEN_OCTETS))
        self.least = max(5, self.time_of(OPEN_OCTETS))
        self.guards = []
        self.events = []
        self.inbox = b""
        self.at = 0
        self.now = self.free_at = self.arrived = 0
        self.sent_at = self.prompted_at = self.challenged_at = self.probed_at = self.asked_at = -1000
        self.ask_at = self.theirs = self.owed = self.told = None
        self.up = False
        self.tickets = 0
        self.chance = mine & 0xFFFF
        self._forget()

    def _forget(self):
        """All numbers 0, nothing under way."""
        self.session = self.base = self.next = 0
        self.set_out = self.set_in = self.notice_out = self.notice_in = 0
        self.queue = []
        self.waiting = []
        self.notices = []
        self.item = self.trip = None
        self.owes_ack = self.yields = False
        self.pace = self.first_pace
        self.timeout = max(50, 8 * self.frame_time)

    def time_of(self, octets):
        """Milliseconds on the line, rounded up."""
        return 1 + octets * 1000 // self.rate

    # ---- the verbs: open, set, send, notice, service ----

    def open(self):
        """Asks for a session until there is one."""
        self.ask_at = self.now

    def set(self, payload):
        """The newest value of a set-point: it replaces one of the same message number that still waits (W-43)."""
        if not self._fits(payload):
            return False
        for index in range(len(self.waiting)):
            if message_number(self.waiting[index])[0] == message_number(payload)[0]:
                self.waiting[index] = payload
                return True
        self.waiting.append(payload)
        return True

    def send(self, payload, kind=ERRAND):
        """An errand (or a report): a ticket for its outcome, or None: certainly not sent."""
        if not self._fits(payload) or len(self.queue) >= QUEUE:
            return None
        self.tickets += 1
        self.queue.append((kind, payload, self.tickets))
        return self.tickets

    def notice(self, payload):
        """An unconfirmed message."""
        if not self._fits(payload) or len(self.notices) >= QUEUE:
            return False
        self.notices.append(payload)
        return True

    def service(self, now):
        """Takes what has arrived, sends what is due, drives what is guarded, and gives one event, or None.

        Call it until it gives None, and at least every few milliseconds while something moves."""
        self.now = now
        while not self.events:
            if self.at >= len(self.inbox):
                self.inbox = self.uart.read() or b""
                self.at = 0
                if not self.inbox:
                    break
            if not self.wire.raw:
                self.arrived = now
            found = self.wire.push(self.inbox[self.at])
            self.at += 1
            if found:
                self._take(found)
        self._look_at_clock()
        self._send_due()
        for guard in self.guards:
            guard.service(now)
        return self.events.pop(0) if self.events else None

    def _fits(self, payload):
        return self.up and 0 < len(payload) <= self.max_payload

    # ---- what arrives ----

    def _take(self, found):
        if found[0] == "frame":
            if self.ask_at is None:
                return  # not opened
            fields = read_frame(found[1])
            if isinstance(fields, int):
                found = "refused", fields
            elif fields[3] is not None:
                found = "refused", 10  # W-15
            elif fields[0] == OPEN:
                found = self._take_open(fields[8])
            elif fields[0] == EXTENDED:
                found = self._take_extended(fields[8])
            else:
                found = self._take_message(fields[0], fields[1], fields[5], fields[7], fields[8])
        if found:
            self.events.append(found)

    def _take_message(self, kind, session, ack, number, payload):
        """Kinds 2 to 6 (W-27, W-31, W-32, W-38 to W-40, W-44, W-47)."""
        now = self.now
        if not self.up:
            self._hasten()
            if self.told is None and now - self.prompted_at >= self.least:
                self.prompted_at = now
                self.owed = self.mine, self.theirs, True
            return "refused", 17
        if session != self.session & 3:
            if now - self.challenged_at >= self.first_pace:
                self.challenged_at = now
                self.owed = self.mine, self.theirs, True
            return "refused", 18
        self.heard_at = now
        if ack is not None:
            self._take_ack((ack - self.base) & 255)
        if kind == SET_POINT:
            missed = (number - self.set_in) & 255
            self.set_in = number + 1
            return "set-point", payload, number, missed, self.arrived
        if kind == NOTICE:
            missed = (number - self.notice_in) & 255
            self.notice_in = number + 1
            return "notice", payload, number, missed, self.arrived
        if kind == ACK:
            return None
        ahead = (number - self.next) & 255
        if ahead != 0 and ahead != 255:
            return "refused", 19
        self.owes_ack = True
        if ahead:
            return None
        self.next = (self.next + 1) & 255
        if not payload:
            return None
        return "errand" if kind == ERRAND else "report", payload, number, 0, self.arrived

    def _take_ack(self, ahead):
        if ahead > (self.item is not None):
            self.events.append(("refused", 20))
        elif ahead:
            if self.sendings == 1:
                self._sample(max(0, self.now - self.left_at))
            if self.item[1]:
                self.events.append(("outcome", self.item[2], "delivered"))
            self.item = None
            self.base = (self.base + 1) & 255

    def _sample(self, trip):
        """W-49 in whole numbers: 8 times SRTT and 4 times RTTVAR are kept."""
        if self.trip is None:
            self.trip = 8 * trip
            self.variation = 2 * trip
        else:
            self.variation += abs(self.trip // 8 - trip) - self.variation // 4
            self.trip += trip - self.trip // 8
        self.timeout = min(1000, max(5, 2 * self.frame_time, self.trip // 8 + max(1, self.variation)))

    def _take_open(self, body):
        """W-25 to W-30."""
        version = body[0]
        asks = body[1] & 1
        theirs = int.from_bytes(body[2:6], "little")
        echo = int.from_bytes(body[6:10], "little") if body[1] & 2 else None
        marks = int.from_bytes(body[13:17], "little") if version == 1 else 0
        differs = version != 1 or marks and self.fingerprint and marks != self.fingerprint
        if version != 1:
            self.events.append(("refused", 16))
        if self.up:
            if theirs == self.theirs and echo == self.mine and not differs:
                self.heard_at = self.now
                if asks:
                    self.owed = self.mine, theirs, False
                return None
            self._end("mismatch" if differs else "peer restarted")
        self.theirs = theirs
        answer = (self.mine, theirs, False) if asks else None
        if differs:
            self.owed = answer
            self.pace = 1000
            self.ask_at = self.now + self.pace
            for guard in self.guards:
                guard.hold()
            if self.told == (version, marks):
                return None
            self.told = version, marks
            return "mismatch", version, marks
        self.told = None
        self._hasten()
        if echo != self.mine:
            self.owed = self.mine, theirs, True
            return None
        self._forget()
        self.up = True
        self.owed = answer
        self.session = (self.mine + theirs) & 0x3FFFF
        self.max_payload = min(self.takes, body[11] | body[12] << 8)
        self.silence = body[17] * 100
        self.heard_at = self.now
        return "opened", body[18:26], body[1] >> 4 & 7

    def _take_extended(self, body):
        """Answers probes and requests for statistics (W-48); the only statistics are the layout."""
        self._hasten()
        if body[0] == 1 and self.now - self.probed_at >= self.least:
            self.probed_at = self.now
            self._transmit(b"\xe0\x02" + body[1:])
        if body[0] == 3 and self.now - self.asked_at >= self.least:
            self.asked_at = self.now
            self._transmit(b"\xe0\x04\x01")

    def _hasten(self):
        """Something valid was heard: asking goes back to its first pace (T_open)."""
        if not self.up and self.told is None and self.ask_at is not None:
            self.pace = self.first_pace
            self.ask_at = min(self.ask_at, self.now + self.pace)

    def _end(self, reason):
        """*End* of section 5.2: outcomes first, then the reason."""
        if self.item and self.item[1]:
            self.events.append(("outcome", self.item[2], "unknown"))
        for item in self.queue:
            self.events.append(("outcome", item[2], "not sent"))
        self.events.append(("ended", reason))
        self.mine = (self.mine + 1) & 0xFFFFFFFF
        self.theirs = self.owed = None
        self.up = False
        self._forget()
        self.ask_at = self.now + self.pace
        for guard in self.guards:
            guard.hold()

    # ---- what time brings ----

    def _random(self, most):
        """0 to `most`; enough to keep two boards from asking in step for ever."""
        self.chance = (self.chance * 75 + 74) % 65537
        return self.chance % (most + 1)

    def _look_at_clock(self):
        now = self.now
        if not self.up:
            if self.ask_at is not None and now >= self.ask_at:
                self.owed = self.mine, self.theirs, True
                self.ask_at = now + self.pace + self._random(self.pace // 2)
                self.pace = min(1000, 2 * self.pace)
        elif self.silence and now - self.heard_at >= self.silence + self.timeout:
            self._end("silence")
            self.owed = self.mine, None, True
        elif self.item and not self.is_due and now >= self.resend_at:
            kind, payload, ticket = self.item
            if payload and self.sendings >= self.tries:
                self.item = kind, b"", ticket  # W-37: a void
                self.events.append(("outcome", ticket, "unknown"))
            elif payload:
                self.events.append(("resent", ticket, self.sendings + 1))
            self.is_due = True

    # ---- what is sent ----

    def _send_due(self):
        if self.owed:
            self._transmit(self._open_frame())
            self.owed = None
        while self.up and self._send_one():
            pass
        idle = self.keep_alive and self.now - self.sent_at >= self.keep_alive
        if self.up and (self.owes_ack or idle):
            self.owes_ack = True
            self._send(ACK, b"")

    def _send_one(self):
        """A set-point, unless too much is unsent before it (W-46); after it another message has its turn."""
        if not self.waiting or self.yields:
            self.yields = False
            if self._send_other():
                return True
        if not self.waiting or self.free_at - self.now > self.frame_time:
            return False
        self._send(SET_POINT, self.waiting.pop(0), self.set_out)
        self.set_out += 1
        self.yields = True
        return True

    def _send_other(self):
        if self.item is None and self.queue:
            self.item = self.queue.pop(0)
            self.sendings = 0
            self.is_due = True
            self.patience = self.timeout
        if self.item and self.is_due:
            self._send(self.item[0], self.item[1], self.base)
            self.is_due = False
            self.sendings += 1
            self.left_at = self.free_at
            self.resend_at = self.free_at + self.patience + self._random(self.patience // 4)
            self.patience = min(1000, 2 * self.patience)  # W-50
            return True
        if not self.notices:
            return False
        self._send(NOTICE, self.notices.pop(0), self.notice_out)
        self.notice_out += 1
        return True

    def _send(self, kind, payload, number=None):
        control = kind << 5 | self.session & 3
        head = bytes([control | 4, self.next]) if self.owes_ack else bytes([control])
        self.owes_ack = False
        if number is not None:
            head += bytes([number & 255])
        self._transmit(head + payload)

    def _open_frame(self):
        mine, echo, asks = self.owed
        flags = asks | (0 if echo is None else 2) | self.cause << 4
        frame = bytes([OPEN << 5, 1, flags]) + mine.to_bytes(4, "little") + (echo or 0).to_bytes(4, "little")
        frame += bytes([1, self.takes & 255, self.takes >> 8]) + self.fingerprint.to_bytes(4, "little")
        return frame + bytes([(3 * self.keep_alive + 99) // 100]) + self.identity.to_bytes(8, "little")

    def _transmit(self, frame):
        octets = self.wire.encode(frame)
        self.uart.write(octets)
        self.sent_at = self.now
        self.free_at = max(self.now, self.free_at) + self.time_of(len(octets))
