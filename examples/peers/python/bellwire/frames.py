"""What a frame says: section 3 of WIRE.md."""

OPEN, ERRAND, REPORT, SET_POINT, ACK, NOTICE, EXTENDED = 1, 2, 3, 4, 5, 6, 7


def read_frame(frame, tagged=False):
    """The reject code of the first rule that is broken, else (kind, session bits, tag, to, from, next, held, number,
    payload); a field that the frame does not have is None. `tagged`: on an unordered link."""
    control = frame[0]
    kind = control >> 5
    form = control >> 2 & 3
    session = control & 3
    at = 1
    tag = to = sender = ack = held = number = None
    if kind == 0:
        return 7
    alone = kind == OPEN or kind == EXTENDED
    if alone and session:
        return 8
    if form == 3 or alone and form or kind == ACK and not form:
        return 11
    addressed = control & 0x10
    if len(frame) < 1 + (2 if tagged and not alone else 0) + (2 if addressed else 0) + form + (not alone and kind != ACK):
        return 12
    if tagged and not alone:
        tag = frame[1] | frame[2] << 8
        at = 3
    if addressed:
        to = frame[at]
        sender = frame[at + 1]
        if 251 <= to <= 254 or sender > 250:
            return 9
        at += 2
    if form:
        ack = frame[at]
        if form == 2:
            held = frame[at + 1]
        at += form
    if not alone and kind != ACK:
        number = frame[at]
        at += 1
    payload = frame[at:]
    code = check_payload(kind, payload)
    if code is not None:
        return code
    return kind, session, tag, to, sender, ack, held, number, payload


def check_payload(kind, payload):
    """The reject code of the rule that a payload or body breaks, or None."""
    length = len(payload)
    if kind == ACK:
        return 12 if length else None
    if kind == OPEN:
        if length < 10 or payload[0] == 1 and length != 26:
            return 12
        if payload[0] == 1:
            if payload[1] & 0x88 or not 1 <= payload[10] <= 8 or not 16 <= payload[11] | payload[12] << 8 <= 1024:
                return 15
        return None
    if kind == EXTENDED:
        if length == 0:
            return 12
        what = payload[0]
        if what == 255:
            return 7
        if what == 0 or what > 4:
            return 14
        if what == 3:
            return None if length == 1 else 12
        if what == 4:
            return None if length % 4 == 2 else 12
        return None if 3 <= length <= 67 else 12
    if length == 0:
        return None if kind == ERRAND or kind == REPORT else 13
    if payload[0] < 128 or length > 1 and 0 < payload[1] < 128:
        return None
    return 13


def message_number(payload):
    """The message number that a payload starts with (W-18), and how many octets it takes."""
    if payload[0] < 128:
        return payload[0], 1
    return payload[0] & 127 | payload[1] << 7, 2
