"""Golden vectors of the extensions 0x10 to 0x18 and of a leaf that hears what goes to all, from core/WIRE.md alone: writes star.json, or compares with --check.

AIR (0x16) has a file of its own, air.json. Frames are made by wire.py; what a leaf must do is played by the models below, written from W-45, W-60 and W-70.
"""

import json
import pathlib
import random
import sys

import wire
from wire import frame, number, open_body

FILE = pathlib.Path(__file__).resolve().parent / "star.json"
TIME_REQUEST, TIME, TRANSFER, JOIN, WELCOME, TURN, TO_ALL, ARRIVAL = 0x10, 0x11, 0x12, 0x13, 0x14, 0x15, 0x17, 0x18
ANSWERS = {"taken": 0, "full": 1, "held": 2, "impossible": 3}


def join(identity, wanted=0, awake=0):
    return number(identity, 8) + bytes([wanted]) + number(awake, 2)


def welcome(identity, answer, address=0, holder=0):
    return number(identity, 8) + bytes([ANSWERS[answer], address]) + number(holder, 8)


def told(session, broadcast, next):
    return number(session, 4) + number(broadcast, 4) + bytes([next])


def arrival(mine, fingerprint, payload, cause=6, numberless=False, flags=0):
    return number(mine, 4) + bytes([cause << 4 | numberless << 2 | flags]) + number(fingerprint, 4) + payload


def transfer(what, transfer_number, tag, rest=b"", round=0):
    """Section 11.2: the table of bodies; `tag` is left out of an OFFER, whose CRC follows."""
    return bytes([round << 4 | what, transfer_number]) + (b"" if what == 1 else number(tag, 2)) + rest


def bodies():
    """Fields, and the body that they make."""
    for sent, heard, answered in ((0, 0, 0), (1_000_000, 0xFFFF_FFFF, 3), (0xFFFF_FFFF, 0x0102_0304, 0x8000_0000)):
        yield TIME_REQUEST, {"sent": sent}, number(sent, 4)
        yield TIME, {"sent": sent, "heard": heard, "answered": answered}, number(sent, 4) + number(heard, 4) + number(answered, 4)
    for crc, size, part, topic, round in ((0xCBF4_3926, 1, 8, 0, 0), (0x0102_0304, 1 << 24, 1024, 0xFFFF, 15), (0, 0x1234, 0x0102, 7, 9)):
        yield TRANSFER, {"offer": {"number": 9, "crc": crc, "size": size, "part": part, "topic": topic}, "round": round}, transfer(
            1, 9, None, number(crc, 4) + number(size, 4) + number(part, 2) + number(topic, 2), round)
    for index in (0, 0x01_0203, 0xFF_FFFF):
        content = bytes(range(8))
        yield TRANSFER, {"part": index, "number": 9, "tag": 0x3926, "content": content.hex()}, transfer(2, 9, 0x3926, number(index, 3) + content)
        yield TRANSFER, {"part": index, "number": 9, "tag": 0x3926, "content": content.hex(), "round": 5}, transfer(
            3, 9, 0x3926, number(index, 3) + content, 5)
    yield TRANSFER, {"ask": True, "number": 255, "tag": 0xFFFF, "round": 1}, transfer(4, 255, 0xFFFF, round=1)
    for base, held, window in ((0, 0, 1), (0x01_0203, 0x8000_0001, 32)):
        yield TRANSFER, {"map": {"base": base, "held": held, "window": window}, "number": 1, "tag": 2, "round": 3}, transfer(
            5, 1, 2, number(base, 3) + number(held, 4) + bytes([window]), 3)
    yield TRANSFER, {"done": True, "number": 1, "tag": 2}, transfer(6, 1, 2)
    for reason in range(10):
        yield TRANSFER, {"stop": reason, "number": 1, "tag": 2}, transfer(7, 1, 2, bytes([reason]))
        yield TRANSFER, {"refuse": reason, "number": 1, "tag": 2}, transfer(8, 1, 2, bytes([reason]))
    for identity, wanted, awake in ((1, 0, 0), (0x0123_4567_89AB_CDEF, 250, 0xFFFF), (0xA57, 7, 300)):
        yield JOIN, {"identity": identity, "wanted": wanted, "awake": awake}, join(identity, wanted, awake)
    for answer, address, holder in (("taken", 1, 0), ("taken", 250, 0), ("full", 0, 0), ("held", 0, 0x0123_4567_89AB_CDEF), ("impossible", 0, 0)):
        fields = {"identity": 0xA57, "answer": answer, "address": address, "holder": holder}
        yield WELCOME, fields, welcome(0xA57, answer, address, holder)
    yield TURN, {}, b""
    for session, broadcast, next in ((0, 0, 0), (0x3_FFFF, 0x3_FFFF, 255), (0x1_0203, 0x2_0504, 6)):
        yield TO_ALL, {"session": session, "broadcast": broadcast, "next": next}, told(session, broadcast, next)
    yield TO_ALL, {"asks": True}, b""
    for mine, fingerprint, cause, numberless, payload in (
            (0x0403_0201, 0x0807_0605, 6, False, b"\x07\x01\x02\x03"), (0xFFFF_FFFF, 0, 0, False, b"\x00"), (0, 1, 7, True, b"\xFF\x7F\x00")):
        fields = {"mine": mine, "fingerprint": fingerprint, "cause": cause, "numberless": numberless, "payload": payload.hex()}
        yield ARRIVAL, fields, arrival(mine, fingerprint, payload, cause, numberless)
    for mine, answer in ((0x0403_0201, 0), (0, 1), (0xFFFF_FFFF, 0x80)):
        yield ARRIVAL, {"mine": mine, "answer": answer}, number(mine, 4) + bytes([answer])


def bad_bodies():
    yield TIME_REQUEST, "three octets", bytes(3)
    yield TIME, "eleven octets", bytes(11)
    yield TIME, "thirteen octets", bytes(13)
    yield TRANSFER, "no octet", b""
    yield TRANSFER, "body 0", bytes(4)
    yield TRANSFER, "body 9", b"\x09" + bytes(4)
    yield TRANSFER, "offer of nothing", transfer(1, 9, None, number(1, 4) + number(0, 4) + number(64, 2) + number(0, 2))
    yield TRANSFER, "offer above 16 MiB", transfer(1, 9, None, number(1, 4) + number((1 << 24) + 1, 4) + number(64, 2) + number(0, 2))
    yield TRANSFER, "parts of seven octets", transfer(1, 9, None, number(1, 4) + number(64, 4) + number(7, 2) + number(0, 2))
    yield TRANSFER, "parts of 1025 octets", transfer(1, 9, None, number(1, 4) + number(64, 4) + number(1025, 2) + number(0, 2))
    yield TRANSFER, "map with a window of 33", transfer(5, 1, 2, number(0, 3) + number(0, 4) + bytes([33]))
    yield TRANSFER, "map with a window of 0", transfer(5, 1, 2, number(0, 3) + number(0, 4) + bytes([0]))
    yield TRANSFER, "done with an octet too many", transfer(6, 1, 2, b"\0")
    yield JOIN, "ten octets", join(1)[:-1]
    yield JOIN, "twelve octets", join(1) + b"\0"
    yield WELCOME, "seventeen octets", welcome(1, "full")[:-1]
    yield WELCOME, "answer 4", number(1, 8) + bytes([4, 0]) + bytes(8)
    yield WELCOME, "taken at 0", welcome(1, "taken", 0)
    yield WELCOME, "taken at 251", welcome(1, "taken", 251)
    yield TO_ALL, "eight octets", told(1, 2, 3)[:-1]
    yield TO_ALL, "ten octets", told(1, 2, 3) + b"\0"
    yield TO_ALL, "a session number of 19 bits", told(1 << 18, 2, 3)
    yield TO_ALL, "a broadcast number of 19 bits", told(1, 1 << 18, 3)
    yield ARRIVAL, "no payload", arrival(1, 2, b"")
    yield ARRIVAL, "a message number not in the shortest form", arrival(1, 2, b"\x81\x00")
    for bit in (0, 1, 3, 7):
        yield ARRIVAL, f"flag bit {bit}", arrival(1, 2, b"\x07", flags=1 << bit)
    yield ARRIVAL, "answer of four octets", number(1, 4)
    yield ARRIVAL, "answer of six octets", number(1, 4) + bytes(2)
    for answer in (2, 0x7F, 0x81):
        yield ARRIVAL, f"answer {answer}", number(1, 4) + bytes([answer])


RELAY = b"\xFE\x7F"  # message number 16382 (W-18)
FAR = {"delivered": 1, "not sent": 2, "unknown": 3}


def relays():
    """W-68: what stands before a message from leaf to leaf, and before its outcome; the frames to the hub, from it to the far leaf, and from it to the first."""
    for other, name, message in ((4, 7, b"\x03\x28"), (250, 255, b"\x00"), (1, 0, b"\xFF\x7F\x01\x02")):
        fields = {"other": other, "name": name, "message": message.hex()}
        payload = RELAY + bytes([0, other, name]) + message
        for kind in ("errand", "report"):
            for to, sender in ((0, 3), (5, 0)):
                octets = frame(kind, session=1, tag=0x0C00, to=to, sender=sender, seq=9, payload=payload)
                yield {"name": f"relayed {kind} {json.dumps(fields)} from {sender}", "kind": kind, "relayed": fields, "payload": payload.hex(),
                       "wire": wire.wire(octets, "datagram").hex()}
    for outcome, what in FAR.items():
        payload = RELAY + bytes([what, 4, 7])
        octets = frame("report", session=1, tag=0x0C00, to=3, sender=0, seq=0, payload=payload)
        yield {"name": f"relayed: {outcome}", "kind": "report", "relayed": {"other": 4, "name": 7, "outcome": outcome}, "payload": payload.hex(),
               "wire": wire.wire(octets, "datagram").hex()}
    for name, payload in (("nothing behind the number", b""), ("two octets", b"\0\4"), ("no message", b"\0\4\7"), ("an outcome and more", b"\1\4\7\0"),
                          ("thing 4", b"\4\4\7"), ("thing 255", b"\xFF\4\7\3"), ("a number not in the shortest form", b"\0\4\7\x81\0"),
                          ("relayed twice", b"\0\4\7" + RELAY + b"\0\5\1\3")):
        yield {"name": f"not relayed: {name}", "not_relayed": (RELAY + payload).hex()}


def extensions():
    lines = [("cobs", 16), ("datagram", 16), ("octet-stuffing", 32)]
    for code, fields, body in bodies():
        # JOIN and WELCOME go without addresses (W-60), TURN and TO ALL with them; the others on both kinds of medium.
        ways = {JOIN: [None], WELCOME: [None], TURN: [(7, 0), (0, 250)], TO_ALL: [(0, 7)] if "asks" in fields else [(7, 0)],
                ARRIVAL: [(7, 0)] if "answer" in fields else [(0, 7)]}
        for way in ways.get(code, [None, (0, 3)]):
            address = {} if way is None else {"to": way[0], "sender": way[1]}
            octets = frame("extended", extension=code, payload=body, **address)
            for framing, width in lines:
                yield {"name": f"extension {code:#04x} {json.dumps(fields)}", "framing": framing, "fcs": width, "to": way and way[0],
                       "from": way and way[1], "code": code, "fields": fields, "body": body.hex(), "wire": wire.wire(octets, framing, width).hex()}
    for code, name, body in bad_bodies():
        yield {"name": f"extension {code:#04x}, {name}", "code": code, "bad": body.hex()}


class Leaf:
    """A leaf at address 7 on a radio, without keep-alive and random parts, against W-24, W-45, W-60 and W-70. Times in us."""

    T_OPEN = 1_000_000  # section 7: max(2 L, 1 s), for L up to 0.5 s

    def __init__(self, lifetime, mine=0x2000, identity=0xA57):
        self.lifetime, self.mine, self.identity = lifetime, mine, identity
        self.hub, self.now, self.steps = None, 0, []
        self.told, self.wants, self.hush = None, False, 0

    def opening(self, echo=None, ask=True):
        body = open_body(ask=ask, mine=self.mine, echo=echo, window=1, max_payload=48, silence=0, identity=self.identity)
        return frame("open", to=0, sender=7, payload=body)

    def step(self, after=0, octets=None, sends=(), tells=()):
        step = {"after": after}
        if octets is not None:
            step["feed"] = wire.wire(octets, "datagram").hex()
        self.steps.append(step | {"sends": [wire.wire(sent, "datagram").hex() for sent in sends], "tells": list(tells)})

    def open(self, hub):
        """The hub answers the first OPEN at once and asks for nothing (W-25)."""
        self.hub, self.session = hub, (hub + self.mine) % 2**18
        body = open_body(mine=hub, echo=self.mine, window=1, max_payload=48, silence=0, identity=0xDE)
        self.step(0, None, [self.opening()])
        self.step(10, frame("open", to=7, sender=0, payload=body), [], [{"event": "opened", "session": self.session}])
        self.now += 10

    def pass_time(self, after):
        """An asking that was held back goes out when T_open has passed since the last one."""
        sent = self.wants and self.hush <= self.now + after
        self.now += after
        if sent:
            self.wants, self.hush = False, max(self.hush, self.now - after) + self.T_OPEN
        return [frame("extended", extension=TO_ALL, to=0, sender=7)] if sent else []

    def hear_told(self, after, session, broadcast, next):
        sends = self.pass_time(after)
        if session == self.session and self.told is None:
            self.told, self.until, self.first, self.due, self.last = broadcast, self.now + self.lifetime, next, next, {}
            self.wants = False
        self.step(after, frame("extended", extension=TO_ALL, to=7, sender=0, payload=told(session, broadcast, next)), sends)

    def hear(self, after, kind, broadcast, seq, payload):
        sends = self.pass_time(after)
        octets = frame(kind, session=broadcast & 3, tag=broadcast >> 2, to=255, sender=0, seq=seq, payload=payload)
        verdict = self.judge(kind, broadcast, seq, payload)
        if isinstance(verdict, str):
            tells = {"event": "refused", "reject": verdict}
        else:
            tells = {"event": "to all", "class": kind, "number": seq, "missed": verdict, "payload": payload.hex()}
        # An asking is due at once if none went out within T_open.
        self.step(after, octets, sends + self.pass_time(0), [tells])

    def judge(self, kind, broadcast, seq, payload):
        if self.told != broadcast:
            self.wants = True
            return "other session"
        if self.now < self.until and (seq - self.first) % 256 >= 128:
            return "outside window"
        if kind == "set-point":
            last = self.last.get(payload[0])
            if last and self.now < last[1] and not 1 <= (seq - last[0]) % 256 <= 127:
                return "stale set-point"
            self.last[payload[0]] = (seq, self.now + self.lifetime)
        # A late one is no loss: the number that is due is newer than it.
        if 1 <= (self.due - seq) % 256 <= 127:
            return 0
        missed, self.due = (seq - self.due) % 256, (seq + 1) % 256
        return missed


def to_all(seed):
    """A stream of frames to all with copies, gaps, late ones, another star's, and pauses of a lifetime."""
    dice = random.Random(seed)
    leaf = Leaf(lifetime=dice.choice((100_000, 500_000)))
    leaf.open(0x1000 + seed)
    hub, next = dice.randrange(2**18), dice.randrange(256)
    if seed % 2:
        leaf.hear(1_000, "notice", hub, next, b"\x08")
    leaf.hear_told(1_000, leaf.session ^ 1, hub, next)
    leaf.hear_told(1_000, leaf.session, hub, next)
    leaf.hear_told(1_000, leaf.session, hub, (next + 9) % 256)
    for _ in range(40):
        after = dice.choice((1, 1_000, 20_000, leaf.lifetime, leaf.lifetime - 1, 3 * leaf.T_OPEN))
        step = dice.choice((1, 1, 1, 1, 2, 5, 126, 127, 128, 129, 0, -1, -3, -128))
        kind = dice.choice(("set-point", "set-point", "notice"))
        broadcast = hub ^ dice.choice((0, 0, 0, 0, 0, 1, 1 << 17))
        seq = (next + step) % 256
        leaf.hear(after, kind, broadcast, seq, bytes([dice.randrange(3), dice.randrange(256)]))
        if broadcast == hub and 0 < step < 128:
            next = seq
    return leaf


def scripts():
    for seed in range(24):
        leaf = to_all(seed)
        yield {"name": f"to all, {seed}", "rules": ["W-45", "W-70"], "address": {"known": 7}, "lifetime": leaf.lifetime,
               "mine": leaf.mine, "identity": leaf.identity, "steps": leaf.steps}
    for name, address, leaf in joinings():
        yield {"name": name, "rules": ["W-60"], "address": address, "lifetime": leaf.lifetime, "mine": leaf.mine,
               "identity": leaf.identity, "steps": leaf.steps}


def joinings():
    """W-60, with the pace of section 7 (T_open) and no random part."""
    ask = lambda leaf, wanted=0: frame("extended", extension=JOIN, payload=join(leaf.identity, wanted, 300))
    answer = lambda leaf, *rest: frame("extended", extension=WELCOME, payload=welcome(leaf.identity, *rest))
    leaf = Leaf(500_000)
    leaf.step(0, None, [ask(leaf)])
    for pause in (1, 2, 4, 8, 16, 30, 30):
        leaf.step(pause * leaf.T_OPEN - 1)
        leaf.step(1, None, [ask(leaf)])
    leaf.step(5, frame("extended", extension=WELCOME, payload=welcome(leaf.identity ^ 1, "taken", 7)))
    leaf.step(5, answer(leaf, "taken", 7), [leaf.opening()], [{"event": "joined", "address": 7}])
    leaf.step(5, answer(leaf, "taken", 9))
    yield "asked at the pace of an opening, taken, a late copy", {"asked": True}, leaf
    leaf = Leaf(500_000)
    leaf.step(0, None, [ask(leaf, 7)])
    leaf.step(5, answer(leaf, "held", 0, 0xF0), [], [{"event": "not joined", "answer": "held", "holder": 0xF0}])
    leaf.step(5, answer(leaf, "held", 0, 0xF0))
    leaf.step(29_999_999)
    leaf.step(1, None, [ask(leaf, 7)])
    leaf.step(5, answer(leaf, "taken", 8))
    leaf.step(5, answer(leaf, "full"), [], [{"event": "not joined", "answer": "full", "holder": 0}])
    leaf.step(5, answer(leaf, "taken", 7), [leaf.opening()], [{"event": "joined", "address": 7}])
    yield "wanted, held by another board, then free", {"wanted": 7}, leaf
    leaf = Leaf(100_000)
    leaf.step(0, None, [ask(leaf)])
    leaf.step(0, answer(leaf, "taken", 7), [leaf.opening()], [{"event": "joined", "address": 7}])
    for pause in (1, 2, 4):
        leaf.step(pause * leaf.T_OPEN - 1)
        leaf.step(1, None, [leaf.opening()])
    leaf.step(leaf.T_OPEN - 1)
    leaf.step(1, None, [ask(leaf)])
    yield "taken and forgotten: asks again after eight T_open without a session", {"asked": True}, leaf


def main():
    vectors = [*extensions(), *relays(), *scripts()]
    text = "[\n" + ",\n".join(json.dumps(vector) for vector in vectors) + "\n]\n"
    if "--check" in sys.argv:
        if FILE.read_text() != text:
            sys.exit(f"{FILE.name} is not what the wire text makes")
        print(f"{FILE.name}: {len(vectors)} vectors as the wire text makes them")
    else:
        FILE.write_text(text)
        print(f"{FILE.name}: {len(vectors)} vectors written")


main()
