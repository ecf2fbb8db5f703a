"""The dome in Python with generated code, for typed.py: `python_typed.py DEVICE OWN-NUMBER ARRIVALS`, with the folder of observatory.py in PYTHONPATH. It does as
the messages say and reports its state after each; after so many arrivals (0: never) it dies where it stands. Nothing turns."""

import os
import sys
import time

from scripts import ROOT

sys.path.insert(0, str(ROOT / "examples/peers/python"))
import bellwire  # noqa: E402
import observatory  # noqa: E402
from dome import Device  # noqa: E402


class Dome:
    def __init__(self):
        self.state = {"azimuth": 0, "rate": 0, "shutter": 0, "motion": "held"}
        self.dead_man = bellwire.DeadMan(500, 0, lambda rate: self.state.update(rate=rate))

    def obey(self, octets, arrived):
        """Does as the message says; whether it was one."""
        try:
            number, values = observatory.decode(octets)
        except observatory.Fault as fault:
            print("refused", fault.args[2], flush=True)
            return False
        (value,) = values.values()
        print("arrived", observatory.NAMES[number], value, flush=True)
        if number == observatory.DOME_RATE:
            self.dead_man.news(value, arrived)
        elif number == observatory.DOME_GOTO:
            self.state["azimuth"] = value
        elif number == observatory.SHUTTER:
            self.state["shutter"] = 100 if value == "open" else 0
        return True


def main():
    device, mine, deadly = sys.argv[1], int(sys.argv[2], 0), int(sys.argv[3])
    port = bellwire.Port(Device(device), bellwire.Wire(bellwire.Cobs()), 11520, mine, 0xD0, observatory.FINGERPRINT)
    dome = Dome()
    port.guards.append(dome.dead_man)
    port.open()
    owed = False
    arrivals = 0
    while True:
        event = port.service(time.monotonic_ns() // 1_000_000)
        if event is None:
            if owed and port.send(observatory.encode(observatory.DOME_STATE, dome.state), bellwire.REPORT) is not None:
                owed = False
            time.sleep(0.0005)
        elif event[0] in ("errand", "set-point") and dome.obey(event[1], event[4]):
            owed = True
            arrivals += 1
            if arrivals == deadly:
                os._exit(9)


main()
