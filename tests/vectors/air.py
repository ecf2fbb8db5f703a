"""Golden vectors of the radio board's layer (W-63) and of hearings (W-66), from the wire text alone: writes air.json, or compares with --check."""

import json
import pathlib
import struct
import sys

from cobs import cobs
from crccheck.crc import CrcX25

FILE = pathlib.Path(__file__).resolve().parent / "air.json"
SEND, HEARD, SENT, NOT_SENT = 1, 2, 3, 4


def fcs(octets):
    return struct.pack("<H", CrcX25.calc(octets))


def wire(body):
    frame = bytes([0xE0, 0x16]) + body
    return (b"\0" + cobs.encode(frame + fcs(frame)) + b"\0").hex()


def datagrams():
    ack = bytes([0xA5, 0x34, 0x12, 0x01])
    report = bytes([0x61, 0xCD, 0xAB, 0x00, 0x07, 0x19, 0x00, 0x00, 0xFF])
    for name, frame in (("an acknowledgement", ack), ("a report", report), ("253 octets", bytes(range(1, 254)))):
        yield name, frame + fcs(frame)
    yield "four octets, no frame", bytes(4)


def air():
    for name, datagram in datagrams():
        yield f"send {name}", {"form": "send", "datagram": datagram.hex()}, bytes([SEND]) + datagram
        for at, strength in ((0, None), (1_000_000, 0), (0xFFFF_FFFF, -93), (0x0100_0000, -254)):
            octet = 255 if strength is None else -strength
            body = bytes([HEARD]) + struct.pack("<IB", at, octet) + datagram
            fields = {"form": "heard", "at": at, "strength": strength, "datagram": datagram.hex()}
            yield f"heard {name}, {strength} dBm", fields, body
    for at in (0, 77, 0xFFFF_FFFF):
        yield f"sent at {at}", {"form": "sent", "at": at, "tail": "5c0e"}, struct.pack("<BI", SENT, at) + b"\x5c\x0e"
    for reason, name in enumerate(("other", "busy", "airtime", "too long", "broken")):
        fields = {"form": "not sent", "reason": name, "tail": "0100"}
        yield f"not sent: {name}", fields, bytes([NOT_SENT, reason, 1, 0])


def bad_air():
    yield "no form", b"", "bad length"
    yield "form 0", bytes(5), "unknown form"
    yield "form 5", bytes([5, 1, 2, 3, 4]), "unknown form"
    yield "form 255", bytes([255]), "unknown form"
    yield "send three octets", bytes([SEND, 1, 2, 3]), "bad length"
    yield "send nothing", bytes([SEND]), "bad length"
    yield "heard without a strength", struct.pack("<BI", HEARD, 5), "bad length"
    yield "heard three octets", struct.pack("<BIB", HEARD, 5, 60) + b"\1\2\3", "bad length"
    yield "sent without a tail", struct.pack("<BI", SENT, 5), "bad length"
    yield "sent with an octet too many", struct.pack("<BI", SENT, 5) + b"\1\2\3", "bad length"
    yield "not sent without a reason", bytes([NOT_SENT]), "bad length"
    yield "not sent with half a tail", bytes([NOT_SENT, 1, 9]), "bad length"
    yield "not sent with an octet too many", bytes([NOT_SENT, 1, 9, 9, 9]), "bad length"
    yield "reason 5", bytes([NOT_SENT, 5, 9, 9]), "unknown reason"


def hearings():
    message = bytes([7, 0x19])
    for sent, heard, age, strength in (
        (1, 0, None, None),
        (300, 12, 4, -93),
        (0xFFFF, 0x8000, 254, None),
        (0, 65535, 0, 0),
        (1, 1, 0, -254),
    ):
        octets = struct.pack("<HHBB", sent, heard, 255 if age is None else age, 255 if strength is None else -strength)
        fields = {"sent": sent, "heard": heard, "age": age, "strength": strength, "message": message.hex()}
        yield fields, (b"\xff\x7f" + octets + message).hex()
    yield {"message": message.hex()}, message.hex()
    yield {"error": "too short"}, "ff7f"
    yield {"error": "too short"}, "ff7f2c010c0004"
    yield {"error": "strength of nothing"}, "ff7f01000000ff5d0719"


def make():
    vectors = [{"name": name, "air": fields, "wire": wire(body)} for name, fields, body in air()]
    vectors += [{"name": name, "error": error, "wire": wire(body)} for name, body, error in bad_air()]
    vectors += [{"name": f"hearing {payload}", "hearing": fields, "payload": payload} for fields, payload in hearings()]
    return "[\n" + ",\n".join(json.dumps(vector) for vector in vectors) + "\n]\n"


def main():
    text = make()
    if "--check" in sys.argv:
        if FILE.read_text() != text:
            sys.exit(f"{FILE.name} is not what the wire text makes")
        print(f"{FILE.name}: {text.count(chr(10)) - 2} vectors as the wire text makes them")
    else:
        FILE.write_text(text)


main()
