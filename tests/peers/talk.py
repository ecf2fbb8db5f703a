"""Peers in other languages talk with the Rust core over pseudo-terminals: 300 errands each way, 10 % of all frames lost each way, more damaged,
and the peer restarts in mid-conversation. The books must balance."""

import json
import os
import pathlib
import subprocess
import sys
import tempfile
import zlib

from relay import Relay, twin
from scripts import ROOT

PARTNER = ROOT / "target/debug/peer_partner"
COUNT = 300
LOSS = 0.1


def seed_of(name):
    """As everywhere: fixed by the name, unless BELLWIRE_SEED says otherwise."""
    text = os.environ.get("BELLWIRE_SEED", "")
    if text == "random":
        return int.from_bytes(os.urandom(8), "little")
    return int(text, 0) if text else zlib.crc32(name.encode())


def lives(command, device, numbers):
    """The peer lives twice: the first life ends after a third of the errands. Gives what each life said."""
    first = subprocess.run([*command, device, numbers, str(COUNT // 3)], stdout=subprocess.PIPE, text=True, timeout=60)
    assert first.returncode == 9, first
    yield first.stdout
    second = subprocess.Popen([*command, device, numbers, "0"], stdout=subprocess.PIPE, text=True)
    yield second


def said(text, word):
    return [int(line.split()[1]) for line in text.splitlines() if line.startswith(word + " ")]


def check(books, texts):
    """Confirmed, so arrived; arrived, so confirmed or unknown; each once, and in order. Both ways."""
    delivered, unknown, echoes = (books[name] for name in ("delivered", "unknown", "echoes"))
    arrived = [counter for text in texts for counter in said(text, "arrived")]
    assert sorted(delivered + unknown) == list(range(COUNT)), "every errand has one outcome"
    assert arrived == sorted(set(arrived)), "each once, in order"
    assert set(delivered) <= set(arrived) <= set(delivered) | set(unknown)
    confirmed = {counter for text in texts for counter in said(text, "delivered")}
    doubtful = {counter for text in texts for counter in said(text, "unknown")}
    assert echoes == sorted(set(echoes)), "each echo once, in order"
    # What the first life had accepted when it died has no outcome: one under way and a full queue, at most.
    lost = set(said(texts[0], "accepted")) - confirmed - doubtful
    assert confirmed <= set(echoes) <= confirmed | doubtful | lost
    assert len(lost) <= 5, lost
    assert books["sessions"] >= 2
    return len(arrived)


def talk(name, command):
    seed = seed_of(name)
    left, left_path, left_held = twin()
    right, right_path, right_held = twin()
    relay = Relay(left, right, 0, LOSS, seed)
    with tempfile.TemporaryDirectory() as folder:
        numbers = str(pathlib.Path(folder) / "number")
        partner = subprocess.Popen([PARTNER, left_path, "cobs", "0", str(COUNT)], stdout=subprocess.PIPE, text=True)
        second = None
        try:
            texts = []
            for life in lives(command, right_path, numbers):
                if isinstance(life, str):
                    texts.append(life)
                else:
                    second = life
            out, _ = partner.communicate(timeout=120)
            assert partner.returncode == 0
        finally:
            partner.kill()
            if second:
                second.kill()
                texts.append(second.communicate()[0])
            relay.close()
            for end in (left, right, left_held, right_held):
                os.close(end)
    books = json.loads(out)
    arrived = check(books, texts)
    print(
        f"{name}: seed {seed:#x}: {relay.lost} frames lost, {relay.damaged} damaged, {relay.passed} passed; {COUNT} errands:"
        f" {len(books['delivered'])} delivered, {len(books['unknown'])} unknown, {arrived} arrived, {len(books['echoes'])} came back;"
        f" {books['sessions']} sessions"
    )


def c_echo():
    """The C peer, with every run-time check that the compiler has."""
    folder, c = ROOT / "target/peers", ROOT / "examples/peers/c"
    folder.mkdir(parents=True, exist_ok=True)
    flags = "-std=c99 -Wall -Wextra -Werror -pedantic -O1 -fsanitize=undefined,address -fno-sanitize-recover=all".split()
    sources = [str(path) for path in (*sorted(c.glob("*.c")), ROOT / "tests/peers/c_echo.c")]
    subprocess.run(["gcc", *flags, f"-I{c}", *sources, "-o", str(folder / "c_echo")], check=True)
    return folder / "c_echo"


def main():
    peers = {"Python": [sys.executable, str(ROOT / "tests/peers/python_echo.py")], "C": [str(c_echo())]}
    wanted = sys.argv[1:] or list(peers)
    for name in wanted:
        talk(name, peers[name])
    print(f"{len(wanted)} passed, 0 failed")


if __name__ == "__main__":
    main()
