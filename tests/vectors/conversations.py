"""Checks `conversations.json`, which two Rust links said, against WIRE.md: every frame, and the times that sections 5 and 7 ask for.

Each side is followed from the frames that reach it: which session it is in, what it may send, when it must have sent it.
"""

import json
import pathlib
import sys

import wire

HERE = pathlib.Path(__file__).resolve().parent
MASK = 2**18 - 1
T_KA = 1_000_000


class Estimator:
    """W-49, in microseconds. The largest frame: payload 48, header 8, FCS 2, stuffing 1, delimiters 2."""

    def __init__(self, rate):
        self.largest = 61 * 1_000_000 / rate
        self.rto = max(50_000, 8 * self.largest)
        self.srtt = None

    def sample(self, r):
        if self.srtt is None:
            self.srtt, self.var = r, r / 2
        else:
            self.var = 0.75 * self.var + 0.25 * abs(self.srtt - r)
            self.srtt = 0.875 * self.srtt + 0.125 * r
        self.rto = max(self.srtt + max(1_000, 4 * self.var), 5_000, 2 * self.largest)


class Side:
    def __init__(self, told, rate):
        self.name, self.mine, self.rate = told["name"], told["mine"], rate
        self.restart_number = told["mine"] + 16
        self.reset()

    def reset(self):
        self.theirs = None
        self.up = False
        self.busy_until = -1e9   # when the last octet of what was sent has left
        self.last_sent = None    # while up
        self.asked = None        # time of the last repeated OPEN and its pace
        self.clear()

    def clear(self):
        self.flights = {}        # number -> [time left, sendings]
        self.acknowledged = 0    # next number that the peer waits for
        self.estimator = Estimator(self.rate)
        self.missed = {"set-point": 0, "notice": 0}

    @property
    def session(self):
        return (self.mine + self.theirs) & MASK


class Check:
    def __init__(self, conversation):
        self.c = conversation
        self.rate = conversation["octets_per_second"]
        self.framing = conversation["framing"]
        self.tagged = self.framing == "datagram"
        self.delay = 1_000 if self.tagged else 0
        self.sides = {told["name"]: Side(told, self.rate) for told in conversation["sides"]}
        self.under_way = []      # (arrival, receiver, fields)
        self.count = 0

    def need(self, good, step, why):
        if not good:
            raise SystemExit(f"{self.c['name']}: {why}: {step}\n0 passed, 1 failed")

    def run(self):
        for step in self.c["steps"]:
            side = self.sides[step["side"]]
            if "sends" in step:
                self.sends(side, step)
            elif "event" in step:
                getattr(self, "tells_" + step["event"], lambda *_: None)(side, step)
            elif step["happens"] == "restarts":
                side.reset()
                side.mine = side.restart_number
        return self.count

    def other(self, side):
        return next(s for s in self.sides.values() if s is not side)

    def sends(self, side, step):
        octets, at = bytes.fromhex(step["sends"]), step["at"]
        [candidate] = wire.candidates(octets, self.framing)
        found = wire.find(candidate, self.framing)
        self.need(found == {"frame": step["frame"]}, step, f"the decoder finds {found}")
        fields = wire.read_frame(bytes.fromhex(step["frame"]), self.tagged)
        # W-1: a delimiter in front unless back to back; the line sends one octet after the other.
        begins = max(at, side.busy_until)
        left = begins + len(octets) * 1_000_000 / self.rate
        if not self.tagged:
            back_to_back = side.busy_until + 2_000_000 / self.rate > at
            self.need((octets[0] == 0) != back_to_back, step, "a delimiter in front, unless back to back (W-1)")
        side.busy_until = left
        if not step["lost"]:
            self.under_way.append((left + self.delay, self.other(side), fields))
        if fields["kind"] == "open":
            self.sends_open(side, step, fields["open"], at)
        else:
            self.need(side.up, step, "sent only in UP (W-35)")
            self.need(fields["session"] == side.session & 3, step, "session bits (W-13, W-23)")
            self.need(fields.get("tag") == (side.session >> 2 if self.tagged else None), step, "tag (W-14)")
            self.need(at - side.last_sent <= T_KA + 1, step, "keep-alive (W-34)")
            if fields["kind"] in ("errand", "report"):
                self.sends_confirmed(side, step, fields, at, left)
        side.last_sent = at
        self.count += 1

    def sends_open(self, side, step, body, at):
        if body["mine"] != side.mine:
            challenge = self.tagged and side.up and body["mine"] == side.mine + 1
            self.need(challenge, step, "own number (W-22)")
            return
        if body["ask"] and not side.up:
            # W-24: T_open from the last asking, 0 to 50 % more, unless something was heard in between.
            if side.asked and side.asked[2] == body["echo"] and not self.heard_since(side, side.asked[0], at):
                when, pace, _ = side.asked
                self.need(pace <= at - when <= 1.5 * pace + 3_000, step, f"asked after {at - when} us, pace {pace} (T_open)")
                side.asked = (at, min(2 * pace, 30_000_000 if self.tagged else 1_000_000), body["echo"])
            else:
                side.asked = (at, 1_000_000 if self.tagged else 50_000, body["echo"])

    def heard_since(self, side, since, now):
        return any(receiver is side and since < arrival <= now + 1 for arrival, receiver, _ in self.under_way)

    def sends_confirmed(self, side, step, fields, at, left):
        number = fields["number"]
        self.need((number - side.acknowledged) % 256 < 4, step, "inside the window (W-37)")
        flight = side.flights.get(number)
        if flight is None:
            side.flights[number] = [left, 1, side.estimator.rto]
            return
        pace = min(flight[2], 1_000_000)
        self.need(pace - 2 <= at - flight[0] <= 1.25 * pace + 2_000, step,
                  f"resent after {at - flight[0]:.0f} us, time-out {pace:.0f} (W-49, W-50)")
        void = fields["payload"] == ""
        self.need(void == (flight[1] >= 5), step, "a void after the fifth sending (W-37)")
        side.flights[number] = [left, flight[1] + 1, pace * 2]

    # What a side tells must follow from what reached it.

    def take(self, side, step, good):
        """The frame that arrived at this time and is as `good` says. A receiver's FIFO may tell it two octet times later."""
        for index, (arrival, receiver, fields) in enumerate(self.under_way):
            if receiver is side and self.arrives(arrival, step) and good(fields):
                return self.under_way.pop(index)[2]
        self.need(False, step, "nothing that arrived then explains this")

    def arrives(self, arrival, step):
        return -1 <= step["at"] - arrival <= 2_000_000 / self.rate

    def tells_message(self, side, step):
        held_back = step["class"] == "errand"
        if held_back and not any(self.arrives(a, step) and f.get("number") == step["number"] for a, r, f in self.under_way if r is side):
            self.need(any(r is side and a < step["at"] and f.get("number") == step["number"] for a, r, f in self.under_way), step,
                      "arrived before, held until its turn (W-39)")
        else:
            self.take(side, step, lambda f: f["kind"] == step["class"] and f["number"] == step["number"] and f["payload"] == step["payload"])
        if step["class"] in ("set-point", "notice"):
            self.need(step["missed"] == (step["number"] - side.missed[step["class"]]) % 256, step, "missed, by the number (W-44, W-47)")
            side.missed[step["class"]] = step["number"] + 1

    def tells_outcome(self, side, step):
        if step["outcome"] == "delivered":
            fields = self.take(side, step, lambda f: "next" in f)
            for number in [n for n in side.flights if (fields["next"] - 1 - n) % 256 < 128]:
                left, sendings, _ = side.flights.pop(number)
                if sendings == 1:
                    side.estimator.sample(step["at"] - left)
            side.acknowledged = fields["next"]

    def tells_opened(self, side, step):
        fields = self.take(side, step, lambda f: f["kind"] == "open")
        body = fields["open"]
        if side.up or body["echo"] == side.mine + 1:
            side.mine = body["echo"]
        self.need(body["echo"] == side.mine, step, "the echo is ours (W-25, W-29b)")
        side.theirs, side.up, side.asked = body["mine"], True, None
        side.clear()
        side.last_sent = step["at"]
        self.need(step["session"] == side.session, step, "session number (W-23)")
        self.under_way = [(a, r, f) for a, r, f in self.under_way if a > step["at"]]

    def tells_ended(self, side, step):
        self.need(side.up, step, "only what is up ends")
        if step["reason"] == "silence":
            heard = max((a for a, r, _ in self.under_way if r is side), default=0)
            self.need(step["at"] - heard >= 3 * T_KA, step, "three keep-alives in a row (T_dead)")
        side.mine, side.up, side.theirs = side.mine + 1, False, None

    def tells_mismatch(self, side, step):
        self.take(side, step, lambda f: f["kind"] == "open")
        self.need(step["ours"] != step["theirs"] and not side.up, step, "both sides' values, which differ (W-30)")


def main():
    conversations = json.loads((HERE / "conversations.json").read_text())
    for conversation in conversations:
        print(f"{conversation['name']}: {Check(conversation).run()} frames")
    print(f"{len(conversations)} passed, 0 failed")


main()
