"""Makes `sessions.json`: scripts for one link under test, from the state tables of WIRE.md (see README.md); `--check` compares.

The peer is played by hand. Every expectation follows from the rule named in `rules`; times are in microseconds.
"""

import json
import pathlib
import sys

import wire
from wire import frame, open_body

HERE = pathlib.Path(__file__).resolve().parent
MINE, THEIRS, OTHER = 0x1000, 0x2001, 0x300A  # own numbers of the device, the peer, and the peer after a restart
L = 100_000  # lifetime on unordered lines
QUIET = 2 * L + 250_000  # W-36: two lifetimes and the peer's longest answer time
SCRIPTS = []


class Script:
    """One device and what is done to it. 115 200 Bd, 64-octet buffer, unless told otherwise."""

    def __init__(self, name, *rules, framing="cobs", **device):
        self.framing = framing
        self.out = {"name": name, "rules": [f"W-{rule}" for rule in rules], "framing": framing, "fcs": 16,
                    "device": {"mine": MINE, "buffer": 64, "window": 1, "octets_per_second": 11520, "keep_alive": 1_000_000,
                               "tries": 5, "lifetime": 0 if framing != "datagram" else L, "fingerprint": 0,
                               "identity": 0x42, "cause": 1} | device,
                    "steps": []}
        self.pause = 0
        self.mine, self.theirs = MINE, None
        SCRIPTS.append(self.out)

    # What the device is told and fed. A step begins when the one before has ended.

    def step(self, sends=(), tells=(), **what):
        after, self.pause = self.pause, 0
        self.out["steps"].append({"after": after} | what | {
            "sends": [s.hex() if isinstance(s, bytes) else s for s in sends], "tells": list(tells)})
        return self

    def feed(self, octets, sends=(), tells=()):
        """The peer sends a frame, given without its FCS."""
        return self.step(sends, tells, feed=wire.wire(octets, self.framing).hex())

    def send(self, kind, payload, sends=(), tells=()):
        """The program on the device sends a message; items are counted from 0."""
        return self.step(sends, tells, send={"class": kind, "payload": payload.hex()})

    def later(self, span):
        """Time passes; the device's timers run, and it may neither send nor tell anything."""
        self.pause += span
        return self

    def wait(self, shortest, longest, sends, tells=()):
        """Time passes until the device has sent and told all this, which must be between the two spans from now."""
        return self.step(sends, tells, within=[shortest, longest])

    def done(self):
        """The last pause counts too."""
        return self.step() if self.pause else self

    # Frames.

    def mine_open(self, ask, echo=None, mine=None, **fields):
        """An OPEN that the device must send."""
        device = self.out["device"]
        body = dict(window=device["window"], max_payload=device["buffer"] - 16, fingerprint=device["fingerprint"],
                    silence=-(-3 * device["keep_alive"] // 100_000), identity=device["identity"], cause=device["cause"])
        return frame("open", payload=open_body(ask=ask, mine=self.mine if mine is None else mine, echo=echo, **body | fields))

    def peer_open(self, ask, echo=None, mine=THEIRS, **fields):
        """An OPEN of the peer."""
        body = dict(window=self.out["device"]["window"], silence=30, identity=0x43) | fields
        return frame("open", payload=open_body(ask=ask, mine=mine, echo=echo, **body))

    def of(self, kind, **fields):
        """A frame of the session in force."""
        session = (self.mine + self.theirs) % 2**18
        tag = session >> 2 if self.framing == "datagram" else None
        return frame(kind, session=session & 3, tag=tag, **fields)

    def up(self, **fields):
        """The device opens a session as the side that answers."""
        self.feed(self.peer_open(True, **fields), [self.mine_open(True, THEIRS)])
        self.theirs = THEIRS
        return self.feed(self.peer_open(False, MINE, **fields), tells=[OPENED])


OPENED = {"event": "opened"}


def ended(reason):
    return {"event": "ended", "reason": reason}


def refused(reject):
    return {"event": "refused", "reject": reject}


def message(kind, number, payload):
    return {"event": "message", "class": kind, "number": number, "payload": payload.hex()}


def outcome(item, what):
    return {"event": "outcome", "item": item, "outcome": what}


def opening():
    s = Script("a link that is down asks, and asks again", 24)
    s.wait(0, 75_000, [s.mine_open(True)])
    s.wait(50_000, 75_000, [s.mine_open(True)])

    s = Script("the pace of asking slows down to one second", 24)
    s.wait(0, 75_000, [s.mine_open(True)])
    for span in (50_000, 100_000, 200_000, 400_000, 800_000, 1_000_000, 1_000_000):
        s.wait(span, span * 3 // 2, [s.mine_open(True)])

    s = Script("the side that asked first", 25, 23)
    s.wait(0, 75_000, [s.mine_open(True)]).later(10_000)
    s.feed(s.peer_open(True, MINE), [s.mine_open(False, THEIRS)], [OPENED])

    s = Script("the side that answers", 26, 35)
    s.up()

    s = Script("both ask at the same time", 26, 35)
    s.wait(0, 75_000, [s.mine_open(True)]).later(10_000)
    s.feed(s.peer_open(True), [s.mine_open(True, THEIRS)])
    s.feed(s.peer_open(True, MINE), [s.mine_open(False, THEIRS)], [OPENED])
    s.feed(s.peer_open(False, MINE))

    s = Script("an OPEN that answers somebody else", 25, 26)
    s.feed(s.peer_open(False, 0x9999), [s.mine_open(True, THEIRS)])

    s = Script("own numbers wrap", 22, 23, mine=0xFFFF_FFFF)
    s.mine = 0xFFFF_FFFF
    s.feed(s.peer_open(True), [s.mine_open(True, THEIRS)])
    s.feed(s.peer_open(False, 0xFFFF_FFFF), tells=[OPENED])
    s.theirs = THEIRS
    s.feed(s.of("notice", payload=b"\x05\xAA"), tells=[message("notice", 0, b"\x05\xAA")])
    s.feed(s.peer_open(True, mine=OTHER), [s.mine_open(True, OTHER, mine=0)], [ended("peer restarted")])

    s = Script("a message before the session is open", 27)
    s.wait(0, 75_000, [s.mine_open(True)]).later(10_000)
    s.theirs = THEIRS
    s.feed(s.of("errand", payload=b"\x01"), [s.mine_open(True)], [refused("not open")])
    s.later(1_000)
    s.feed(s.of("notice", payload=b"\x01"), [], [refused("not open")])
    s.later(6_000)
    s.feed(s.of("ack", next=0), [s.mine_open(True)], [refused("not open")])

    s = Script("an answer that was lost is given again", 28)
    s.up().feed(s.peer_open(True, MINE), [s.mine_open(False, THEIRS)])
    s.feed(s.peer_open(False, MINE))
    s.send("errand", b"\x01", [s.of("errand", payload=b"\x01")])
    s.feed(s.of("ack", next=1), tells=[outcome(0, "delivered")])

    s = Script("the OPEN that is owed goes before everything else", 35)
    s.wait(0, 75_000, [s.mine_open(True)]).later(10_000)
    s.theirs = THEIRS
    s.step([s.mine_open(False, THEIRS), s.of("errand", payload=b"\x01")], [OPENED],
           feed=wire.wire(s.peer_open(True, MINE), "cobs").hex(), send={"class": "errand", "payload": "01"})

    s = Script("a peer that restarted", 29)
    s.up().feed(s.peer_open(True, mine=OTHER), [s.mine_open(True, OTHER, mine=MINE + 1)], [ended("peer restarted")])
    s.feed(s.peer_open(False, MINE + 1, mine=OTHER), tells=[OPENED])

    s = Script("a peer that ended the session and kept its number", 29)
    s.up().feed(s.peer_open(True), [s.mine_open(True, THEIRS, mine=MINE + 1)], [ended("peer restarted")])

    s = Script("another version", 30, 21)
    body = bytearray(open_body(version=2, ask=True, mine=THEIRS))
    s.feed(frame("open", payload=bytes(body) + b"more"), [{"kind": "open", "ask": False}],
           [refused("other version"), {"event": "mismatch"}])

    s = Script("another agreement", 30, fingerprint=0x1111_1111)
    s.feed(s.peer_open(True, fingerprint=0x2222_2222), [{"kind": "open", "ask": False}], [{"event": "mismatch"}])
    s.later(10_000)
    s.feed(s.peer_open(True, fingerprint=0x2222_2222), [{"kind": "open", "ask": False}])

    s = Script("another agreement while up", 30, fingerprint=0x1111_1111)
    s.up(fingerprint=0x1111_1111)
    s.feed(s.peer_open(True, mine=OTHER, fingerprint=0x2222_2222), [{"kind": "open", "ask": False, "mine": MINE + 1}],
           [ended("mismatch"), {"event": "mismatch"}])

    s = Script("another agreement under the numbers of this session", 28, 30, fingerprint=0x1111_1111)
    s.up(fingerprint=0x1111_1111)
    s.feed(s.peer_open(True, MINE, fingerprint=0x2222_2222), [{"kind": "open", "ask": False, "mine": MINE + 1}],
           [ended("mismatch"), {"event": "mismatch"}])

    s = Script("a stranger is not prompted while a mismatch stands", 27, 30, fingerprint=0x1111_1111)
    s.feed(s.peer_open(False, fingerprint=0x2222_2222), tells=[{"event": "mismatch"}])
    s.theirs = THEIRS
    s.later(20_000)
    s.feed(s.of("errand", payload=b"\x01"), tells=[refused("not open")])

    s = Script("a side without an agreement matches any", 30, fingerprint=0x1111_1111)
    s.up(fingerprint=0)

    s = Script("a message of another session", 32)
    s.up()
    s.theirs += 1
    stranger = s.of("errand", payload=b"\x01")
    s.theirs -= 1
    s.feed(stranger, [s.mine_open(True, THEIRS)], [refused("other session")])
    s.later(20_000)
    s.feed(stranger, [], [refused("other session")])
    s.later(60_000)
    s.feed(stranger, [s.mine_open(True, THEIRS)], [refused("other session")])

    s = Script("a message of this session", 31)
    s.up().feed(s.of("notice", payload=b"\x05\xAA"), tells=[message("notice", 0, b"\x05\xAA")])

    s = Script("a peer that falls silent", 33, keep_alive=0)
    s.up().wait(3_000_000, 4_600_000, [{"kind": "open", "ask": True, "mine": MINE + 1, "echo": None}],
                [ended("silence")])

    s = Script("a peer that promises nothing may be silent for long", 33, keep_alive=0)
    s.up(silence=0)
    s.later(60_000_000)
    s.feed(s.of("notice", payload=b"\x05"), tells=[message("notice", 0, b"\x05")])

    s = Script("frames of the session keep it alive", 31, 33, keep_alive=0)
    s.up()
    for seq in range(4):
        s.later(2_000_000)
        s.feed(s.of("notice", seq=seq, payload=b"\x05"), tells=[message("notice", seq, b"\x05")])

    s = Script("a side with nothing to say", 34)
    s.up().wait(900_000, 1_000_001, [{"kind": "ack", "next": 0}])
    s.wait(900_000, 1_000_001, [{"kind": "ack", "next": 0}])


def unordered():
    def up(name, *rules, **device):
        return Script(name, *rules, framing="datagram", **device).up()

    s = up("a stale copy of the peer's first OPEN", "29a")
    s.feed(s.peer_open(True), [s.mine_open(False, THEIRS)])
    s.feed(s.of("notice", payload=b"\x05"), tells=[message("notice", 0, b"\x05")])

    s = up("a stranger's OPEN is challenged first", "29c", "29b")
    s.feed(s.peer_open(True, mine=OTHER), [s.mine_open(True, OTHER, mine=MINE + 1)])
    s.feed(s.of("notice", payload=b"\x05"), tells=[message("notice", 0, b"\x05")])
    s.feed(s.peer_open(True, MINE + 1, mine=OTHER), [s.mine_open(False, OTHER, mine=MINE + 1)],
           [ended("peer restarted"), OPENED])
    s.mine, s.theirs = MINE + 1, OTHER
    s.feed(s.of("notice", seq=0, payload=b"\x05"), tells=[message("notice", 0, b"\x05")])

    s = up("a stranger that echoes the number in use is challenged too", "29c")
    s.feed(s.peer_open(True, MINE, mine=OTHER), [s.mine_open(True, OTHER, mine=MINE + 1)])

    s = up("a stranger with an echo of long ago", "29d")
    s.feed(s.peer_open(True, MINE - 7, mine=OTHER), [s.mine_open(False, THEIRS)])
    s.feed(s.peer_open(False, MINE - 7, mine=OTHER))
    s.feed(s.of("notice", payload=b"\x05"), tells=[message("notice", 0, b"\x05")])

    s = up("the tag must match", 32, 14)
    session = (MINE + THEIRS) % 2**18
    s.feed(frame("errand", session=session & 3, tag=(session >> 2) + 1, payload=b"\x01"),
           [s.mine_open(True, THEIRS)], [refused("other session")])

    s = up("set-points out of order", 45)
    point = lambda seq, number=0: s.of("set-point", seq=seq, payload=bytes([number, seq]))
    taken = lambda seq, number=0: [message("set-point", seq, bytes([number, seq]))]
    s.feed(point(5), tells=taken(5))
    s.feed(point(4), tells=[refused("stale set-point")])
    s.feed(point(5), tells=[refused("stale set-point")])
    s.feed(point(133), tells=[refused("stale set-point")])
    s.feed(point(4, 7), tells=taken(4, 7))
    s.feed(point(132), tells=taken(132))
    s.later(L - 1_000)
    s.feed(point(131), tells=[refused("stale set-point")])
    s.later(1_000)
    s.feed(point(130), tells=taken(130))


    s = up("set-points of more message numbers than a receiver keeps in mind", 45)
    for seq in range(8):
        s.feed(point(seq, seq), tells=taken(seq, seq))
    s.feed(point(8, 8), tells=[refused("no room")])
    s.later(L)
    s.feed(point(9, 8), tells=taken(9, 8))

    s = Script("a numberless board keeps quiet for two lifetimes", 36, framing="datagram", numberless=True, mine=0)
    s.wait(QUIET, QUIET, [{"kind": "open", "ask": True, "mine": 0, "echo": None}])

    s = Script("a numberless board hears nothing meanwhile", 36, framing="datagram", numberless=True, mine=0)
    s.feed(s.peer_open(True)).later(L)
    s.feed(s.peer_open(True))
    s.wait(QUIET - L, QUIET - L, [{"kind": "open", "ask": True, "mine": 0, "echo": None}])

    s = Script("a numberless board does not challenge", 36, framing="datagram", numberless=True, mine=0)
    s.mine = 0
    s.wait(QUIET, QUIET, [{"kind": "open", "ask": True}])
    s.feed(s.peer_open(True, 0), [{"kind": "open", "ask": False, "echo": THEIRS}], [OPENED])
    s.feed(s.peer_open(True, mine=OTHER))

    s = Script("a peer takes a numberless board's OPEN for a stale copy at first, and for a restart later", 36, framing="datagram")
    s.feed(s.peer_open(True, mine=0, numberless=True), [s.mine_open(True, 0)])
    s.theirs = 0
    s.feed(s.peer_open(False, MINE, mine=0, numberless=True), tells=[OPENED])
    s.later(L // 2)
    s.feed(s.peer_open(True, mine=0, numberless=True), [s.mine_open(False, 0)])
    s.later(L)
    s.feed(s.peer_open(True, mine=0, numberless=True), [s.mine_open(True, 0, mine=MINE + 1)], [ended("peer restarted")])


def confirmed():
    s = Script("an errand and its acknowledgement", 37, 40)
    s.up().send("errand", b"\x01\xAA", [s.of("errand", payload=b"\x01\xAA")])
    s.feed(s.of("ack", next=1), tells=[outcome(0, "delivered")])

    s = Script("numbers count up, one outstanding at a time", 37)
    s.up().send("errand", b"\x01", [s.of("errand", seq=0, payload=b"\x01")])
    s.send("report", b"\x02")
    s.feed(s.of("ack", next=1), [s.of("report", seq=1, payload=b"\x02")], [outcome(0, "delivered")])
    s.feed(s.of("ack", next=2), tells=[outcome(1, "delivered")])

    s = Script("an errand that is never answered", 37, 49, 50, keep_alive=0)
    s.up(silence=0).send("errand", b"\x01\xAA", [s.of("errand", payload=b"\x01\xAA")])
    pace = 50_000
    for count in range(2, 6):
        s.wait(pace, pace * 5 // 4 + 2_000, [s.of("errand", payload=b"\x01\xAA")],
               [{"event": "resent", "item": 0, "tries": count}])
        pace *= 2
    s.wait(pace, pace * 5 // 4 + 2_000, [s.of("errand")], [outcome(0, "unknown")])

    s = Script("an acknowledgement of what was never sent", 40)
    s.up().feed(s.of("ack", next=1), tells=[refused("bad acknowledgement")])
    s.send("errand", b"\x01", [s.of("errand", payload=b"\x01")])
    s.feed(s.of("ack", next=2), tells=[refused("bad acknowledgement")])
    s.feed(s.of("ack", next=1), tells=[outcome(0, "delivered")])

    # Unordered, so that a bit does not show a loss.
    s = Script("an errand is delivered by next, a report by its bit too", 40, window=4, framing="datagram")
    s.up().send("errand", b"\x01", [s.of("errand", seq=0, payload=b"\x01")])
    s.send("errand", b"\x02", [s.of("errand", seq=1, payload=b"\x02")])
    s.send("report", b"\x03", [s.of("report", seq=2, payload=b"\x03")])
    s.feed(s.of("ack", next=0, held=0b011), tells=[outcome(2, "delivered")])
    s.feed(s.of("ack", next=3), tells=[outcome(0, "delivered"), outcome(1, "delivered")])

    s = Script("an acknowledgement rides on any message", 40)
    s.up().send("errand", b"\x01", [s.of("errand", payload=b"\x01")])
    s.feed(s.of("notice", next=1, payload=b"\x05"), tells=[outcome(0, "delivered"), message("notice", 0, b"\x05")])

    s = Script("a bad acknowledgement costs no message", 40)
    s.up().feed(s.of("errand", next=3, payload=b"\x05"), [s.of("ack", next=1)],
                [refused("bad acknowledgement"), message("errand", 0, b"\x05")])

    s = Script("an errand arrives, and again", 38, 39)
    s.up().feed(s.of("errand", payload=b"\x01\xAA"), [s.of("ack", next=1)], [message("errand", 0, b"\x01\xAA")])
    s.later(10_000)
    s.feed(s.of("errand", payload=b"\x01\xAA"), [s.of("ack", next=1)])
    s.later(10_000)
    s.feed(s.of("errand", seq=1, payload=b"\x02"), [s.of("ack", next=2)], [message("errand", 1, b"\x02")])

    s = Script("a number outside the window", 38)
    s.up().feed(s.of("errand", seq=1, payload=b"\x01"), tells=[refused("outside window")])
    s.feed(s.of("errand", seq=254, payload=b"\x01"), tells=[refused("outside window")])

    s = Script("errands in order, reports at once", 39, window=4)
    s.up().feed(s.of("errand", seq=1, payload=b"\x01"), [s.of("ack", next=0, held=0b001)])
    s.later(10_000)
    s.feed(s.of("report", seq=2, payload=b"\x02"), [s.of("ack", next=0, held=0b011)], [message("report", 2, b"\x02")])
    s.later(10_000)
    s.feed(s.of("errand", seq=0, payload=b"\x00"), [s.of("ack", next=3)],
           [message("errand", 0, b"\x00"), message("errand", 1, b"\x01")])

    s = Script("a void fills its number and is handed to nobody", 39, window=4)
    s.up().feed(s.of("errand", seq=1, payload=b"\x01"), [s.of("ack", next=0, held=0b001)])
    s.later(10_000)
    s.feed(s.of("errand", seq=0), [s.of("ack", next=2)], [message("errand", 1, b"\x01")])

    s = Script("a restart of the peer with items under way", 41)
    s.up().send("errand", b"\x01", [s.of("errand", payload=b"\x01")]).send("errand", b"\x02")
    s.feed(s.peer_open(True, mine=OTHER), [s.mine_open(True, OTHER, mine=MINE + 1)],
           [outcome(0, "unknown"), outcome(1, "not sent"), ended("peer restarted")])
    s.feed(s.peer_open(False, MINE + 1, mine=OTHER), tells=[OPENED])
    s.later(300_000).done()

    s = Script("numbers start from 0 in each session", 25, 23)
    s.up().feed(s.of("errand", payload=b"\x01\xAA"), [s.of("ack", next=1)], [message("errand", 0, b"\x01\xAA")])
    s.feed(s.peer_open(True, mine=OTHER), [s.mine_open(True, OTHER, mine=MINE + 1)], [ended("peer restarted")])
    s.feed(s.peer_open(False, MINE + 1, mine=OTHER), tells=[OPENED])
    s.mine, s.theirs = MINE + 1, OTHER
    s.feed(s.of("errand", payload=b"\x01\xBB"), [s.of("ack", next=1)], [message("errand", 0, b"\x01\xBB")])


def unconfirmed():
    s = Script("set-points on an ordered line are all delivered", 44)
    s.up()
    for seq, missed in ((5, 5), (4, 254), (132, 127)):
        s.feed(s.of("set-point", seq=seq, payload=b"\x00"), tells=[message("set-point", seq, b"\x00") | {"missed": missed}])

    s = Script("a set-point is sent once", 43)
    s.up().send("set-point", b"\x00\x02", [s.of("set-point", payload=b"\x00\x02")])
    s.later(500_000).done()

    s = Script("a set-point waits for the line to drain, and the newest is sent", 43, 46)
    s.up().later(20_000)
    filling = b"\x05" + bytes(47)
    s.send("notice", filling, [s.of("notice", seq=0, payload=filling)])
    s.send("notice", filling, [s.of("notice", seq=1, payload=filling)])
    s.send("set-point", b"\x00\x02").send("set-point", b"\x07\x02").send("set-point", b"\x00\x04")
    # Two frames of 55 octets are unsent; the set-points may start when 64 are left: 46 octets later.
    s.wait(3_000, 5_500, [{"kind": "set-point", "number": 0}])
    s.wait(0, 5_500, [{"kind": "set-point", "number": 1}]).later(200_000).done()

    s = Script("the newest value of one message number, at once", 43)
    s.up().later(20_000)
    s.send("notice", filling, [s.of("notice", seq=0, payload=filling)])
    s.send("notice", filling, [s.of("notice", seq=1, payload=filling)])
    s.send("set-point", b"\x00\x02").send("set-point", b"\x00\x04")
    s.wait(3_000, 5_500, [s.of("set-point", seq=0, payload=b"\x00\x04")]).later(200_000).done()

    s = Script("notices have numbers of their own", 47)
    s.up().send("notice", b"\x05", [s.of("notice", seq=0, payload=b"\x05")])
    s.later(20_000)  # the line drains, or W-46 holds the set-point back
    s.send("set-point", b"\x00", [s.of("set-point", seq=0, payload=b"\x00")])
    s.send("notice", b"\x05", [s.of("notice", seq=1, payload=b"\x05")])
    s.send("set-point", b"\x00", [s.of("set-point", seq=1, payload=b"\x00")])
    s.feed(s.of("notice", seq=3, payload=b"\x05"), tells=[message("notice", 3, b"\x05") | {"missed": 3}])
    s.later(500_000).done()

    s = Script("a probe is answered by a link that is down", 48)
    probe = lambda name, id: frame("extended", extension=name, payload=bytes([id, 0, 0xEE]))
    s.wait(0, 75_000, [s.mine_open(True)]).later(10_000)
    s.feed(probe("probe", 1), [probe("probe answer", 1)])
    s.later(1_000)
    s.feed(probe("probe", 2))
    s.later(6_000)
    s.feed(probe("probe", 3), [probe("probe answer", 3)])

    s = Script("statistics are told", 48)
    s.up().feed(frame("extended", extension="statistics request"), [{"kind": "extended", "extension": "statistics"}])

    s = Script("an extension of a later version is counted and skipped", 19)
    s.up().feed(frame("extended", extension=0x20, payload=b"\x01\x02"), tells=[refused("unknown extension")])

    s = Script("an addressed frame on a line for two", 15)
    s.up().feed(s.of("notice", to=0, sender=1, payload=b"\x05"), tells=[refused("not for us")])

    s = Script("text between frames", 9)
    s.up().step(tells=[{"event": "text", "octets": b"boot ok\r\n".hex()}], feed=(b"boot ok\r\n\x00").hex())
    s.feed(s.of("notice", payload=b"\x05"), tells=[message("notice", 0, b"\x05")])


def main():
    for part in (opening, unordered, confirmed, unconfirmed):
        part()
    text = "[\n" + ",\n".join(json.dumps(script) for script in SCRIPTS) + "\n]\n"
    path = HERE / "sessions.json"
    good = True
    if "--check" in sys.argv:
        good = path.read_text() == text
        print(f"sessions.json: {len(SCRIPTS)} scripts, {'the same' if good else 'DIFFERENT'}")
    else:
        path.write_text(text)
        print(f"sessions.json: {len(SCRIPTS)} scripts written")
    print(f"{len(SCRIPTS) if good else 0} passed, {0 if good else len(SCRIPTS)} failed")
    sys.exit(0 if good else 1)


main()
