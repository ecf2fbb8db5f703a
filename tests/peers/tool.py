"""The tool, a tap and a peer in another language: `inject dome-goto`, the dome's report back, and what `tap` shows of both, with names and units."""

import json
import os
import subprocess
import sys
import tempfile
import time

from scripts import ROOT
from talk import c_echo

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target/debug/bellwire"))


def converse(command, folder):
    """The records of `inject` and of `tap` while the peer runs."""
    desk, board = f"{folder}/desk", f"{folder}/board"
    tap = subprocess.Popen([TOOL, "tap", f"twin:{desk}", f"twin:{board}", "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    peer = None
    try:
        limit = time.monotonic() + 10
        while not (os.path.exists(desk) and os.path.exists(board)):
            assert time.monotonic() < limit and tap.poll() is None, "the tap does not open"
            time.sleep(0.02)
        peer = subprocess.Popen([*command, board, f"{folder}/number", "0"], stdout=subprocess.DEVNULL)
        words = ["dome-goto", "azimuth=123.40", "--arm", "--json", "--wait", "20s"]
        inject = subprocess.run([TOOL, "inject", desk, *words], capture_output=True, text=True, timeout=60)
        assert inject.returncode == 0, inject
        time.sleep(1)
        tap.send_signal(2)
        out, _ = tap.communicate(timeout=10)
    finally:
        tap.kill()
        if peer:
            peer.kill()
            peer.wait()
    return [[json.loads(line) for line in text.splitlines()] for text in (inject.stdout, out)]


def check(name, command):
    with tempfile.TemporaryDirectory() as folder:
        injected, tapped = converse(command, folder)
    assert any(record.get("event") == "delivered" for record in injected), injected
    seen = {record["name"]: record for record in tapped if record["record"] == "frame" and "name" in record}
    assert seen["dome-goto"]["values"] == {"azimuth": 123.4}, seen
    assert seen["dome-state"]["values"] == {"azimuth": 0, "rate": 0, "shutter": 0, "motion": "held"}, seen
    assert seen["dome-state"]["units"]["rate"], seen
    print(f"{name}: inject dome-goto azimuth=123.40, and its report back, typed both ways")


def main():
    check("Python", [sys.executable, str(ROOT / "examples/peers/python/dome.py")])
    check("C", [str(c_echo())])
    print("2 passed, 0 failed")


main()
