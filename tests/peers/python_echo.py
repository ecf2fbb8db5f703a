"""The Python peer for talk.py: sends each errand back. `python_echo.py DEVICE NUMBER-FILE LIFE ARRIVALS`: after so many arrivals (0: never)
it dies where it stands. Prints a line for each thing that happens."""

import os
import sys
import time

from scripts import ROOT

sys.path.insert(0, str(ROOT / "examples/peers/python"))
import bellwire  # noqa: E402
from dome import Device  # noqa: E402

ERRAND, ECHO, BYE = 100, 101, 103


def stored_number(path):
    """Read N, store N + 16 before the first frame, use N (W-22)."""
    try:
        number = int(open(path).read())
    except FileNotFoundError:
        number = 0x100
    with open(path, "w") as file:
        file.write(str(number + 16))
    return number


def say(*words):
    os.write(1, (" ".join(map(str, words)) + "\n").encode())


def main():
    device, numbers, deadly = sys.argv[1], sys.argv[2], int(sys.argv[3])
    port = bellwire.Port(Device(device), bellwire.Wire(bellwire.Cobs()), 11520, stored_number(numbers))
    port.open()
    pending = []
    tickets = {}
    arrivals = 0
    while True:
        event = port.service(time.monotonic_ns() // 1_000_000)
        if event is None:
            while pending and port.up:
                ticket = port.send(bytes([ECHO]) + pending[0])
                if ticket is None:
                    break
                tickets[ticket] = int.from_bytes(pending.pop(0), "little")
                say("accepted", tickets[ticket])
            time.sleep(0.0005)
        elif event[0] == "errand" and event[1][0] == ERRAND:
            say("arrived", int.from_bytes(event[1][1:], "little"))
            pending.append(event[1][1:])
            arrivals += 1
            if arrivals == deadly:
                os._exit(9)
        elif event[0] == "outcome":
            say(event[2].replace(" ", "-"), tickets[event[1]])
        elif event[0] in ("opened", "ended"):
            say(*event[:2])


main()
