"""The dome of the observatory, played by a computer: it turns only while news of its rate is fresh. Nothing is attached.

    python3 dome.py DEVICE          # a serial device or a pseudo-terminal, 115200 Bd

Errands 1 (dome-goto) and 2 (shutter) are told; errand 5 (rearm) is the operator's act. After each errand it reports
its state (message 3). Caution: on a real board this turns a motor; a dead-man is no emergency stop. See README.md.
"""

import os
import random
import sys
import termios
import time
import tty

from bellwire import REPORT, Cobs, DeadMan, Port, Wire, message_number

DOME_RATE, DOME_STATE, REARM = 0, 3, 5


class Device:
    """A serial device that never waits."""

    def __init__(self, path):
        self.file = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.file)
        settings = termios.tcgetattr(self.file)
        settings[4] = settings[5] = termios.B115200
        termios.tcsetattr(self.file, termios.TCSANOW, settings)

    def read(self):
        try:
            return os.read(self.file, 256)
        except BlockingIOError:
            return None

    def write(self, octets):
        while octets:
            try:
                octets = octets[os.write(self.file, octets) :]
            except BlockingIOError:
                time.sleep(0.001)


def signed(octets):
    """A postcard integer with a sign: the value and the octets after it."""
    value = shift = 0
    for at in range(len(octets)):
        value |= (octets[at] & 127) << shift
        shift += 7
        if octets[at] < 128:
            return (value >> 1) ^ -(value & 1), octets[at + 1 :]
    raise ValueError("rate: cut off")


def state(motor):
    """Azimuth 0, the rate, shutter closed, and what the dead-man does (0 held or to be re-armed, 1 running)."""
    rate = motor.rate
    zigzag = rate * 2 if rate >= 0 else -rate * 2 - 1
    varint = bytes([zigzag]) if zigzag < 128 else bytes([zigzag & 127 | 128, zigzag >> 7 & 127 | (128 if zigzag > 16383 else 0)])
    varint += bytes([zigzag >> 14]) if zigzag > 16383 else b""
    return bytes([DOME_STATE, 0]) + varint + bytes([0, 1 if rate else 0])


class Motor:
    """Says what a motor would do."""

    rate = None

    def drive(self, rate):
        if rate != self.rate:
            print(f"motor: {rate / 100:.2f} deg/s", flush=True)
        self.rate = rate


def main():
    motor = Motor()
    port = Port(Device(sys.argv[1]), Wire(Cobs()), octets_per_second=11520, mine=random.getrandbits(32), identity=0xD0)
    dead_man = DeadMan(500, 0, motor.drive)
    port.guards.append(dead_man)
    port.open()
    while True:
        now = time.monotonic_ns() // 1_000_000
        event = port.service(now)
        if event is None:
            time.sleep(0.001)
        elif event[0] == "set-point" and message_number(event[1])[0] == DOME_RATE:
            dead_man.news(signed(event[1][1:])[0], event[4])
        elif event[0] == "errand":
            if message_number(event[1])[0] == REARM:
                print("re-armed" if dead_man.rearm(now) else "not re-armed: the newest rate must be fresh, and 0", flush=True)
            else:
                print("errand", event[1].hex(" "), flush=True)
            port.send(state(motor), REPORT)
        elif event[0] != "set-point":
            print(*event, flush=True)


if __name__ == "__main__":
    main()
