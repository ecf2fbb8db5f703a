"""Kills `bellwire log - -o FILE` 500 times at random moments; and a full disk.

What is shown was recorded before: so every frame that a line on standard output tells of must be in the file, read by python-pcapng (another
program's reader) up to the torn tail. On a full disk the tool must say so, exit with 74, and leave what was saved readable.
"""

import concurrent.futures
import json
import os
import pathlib
import random
import subprocess
import sys
import tempfile
import threading
import time

import pcapng

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "vectors"))
import wire  # noqa: E402

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target" / "debug" / "bellwire"))
SEED = 20260103
KILLS = int(os.environ.get("BELLWIRE_KILLS", "500"))


def fail(text):
    raise SystemExit(f"{text}\n0 passed, 1 failed")


def image(count):
    """A notice that carries its own count."""
    return wire.wire(wire.frame("notice", seq=count % 256, payload=b"\x0A" + count.to_bytes(4, "little")), "cobs")


def recorded(path):
    """Octets of all whole packet blocks; a torn tail ends them."""
    octets = b""
    try:
        with open(path, "rb") as file:
            for block in pcapng.FileScanner(file):
                if isinstance(block, pcapng.blocks.EnhancedPacket):
                    octets += block.packet_data
    except (pcapng.exceptions.PcapngException, EOFError, ValueError):
        pass
    return octets


def payloads(octets):
    out = []
    for candidate in wire.candidates(octets, "cobs"):
        found = wire.find(candidate, "cobs")
        if "frame" in found:
            out.append(wire.read_frame(bytes.fromhex(found["frame"]), False)["payload"])
    return out


def feed(tool, rng, stop):
    """Frames in bursts with pauses, cut anywhere, until the tool is gone."""
    count, stream = 0, b""
    try:
        while not stop.is_set():
            for _ in range(rng.randrange(1, 20)):
                stream += image(count)
                count += 1
            cut = rng.randrange(len(stream) + 1)
            tool.stdin.write(stream[:cut])
            tool.stdin.flush()
            stream = stream[cut:]
            time.sleep(rng.random() * 0.004)
    except (BrokenPipeError, ValueError, OSError):
        pass


def kill(folder, number):
    """One run; gives how many frames were shown, and how many were in the file."""
    rng = random.Random(SEED + number)
    path = folder / f"{number}.pcapng"
    tool = subprocess.Popen([TOOL, "log", "-", "-o", path, "--json"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                            stderr=subprocess.DEVNULL)
    stop = threading.Event()
    feeder = threading.Thread(target=feed, args=(tool, rng, stop))
    feeder.start()
    killer = threading.Timer(0.005 + rng.random() * 0.075, tool.kill)
    killer.start()
    shown = tool.stdout.read()
    tool.wait()
    stop.set()
    feeder.join()
    # The last line may be torn as well.
    lines = shown.split(b"\n")[:-1]
    told = [record["payload"] for record in map(json.loads, lines) if record["record"] == "frame"]
    saved = payloads(recorded(path)) if path.exists() else []
    if told != saved[:len(told)]:
        fail(f"kill {number} (seed {SEED}): {len(told)} frames shown, {len(saved)} in the file; first missing "
             f"{next((t for t, s in zip(told, saved + [None] * len(told)) if t != s), None)}")
    size = path.stat().st_size if path.exists() else 0
    path.unlink(missing_ok=True)
    return len(told), len(saved), size


def kills(folder):
    with concurrent.futures.ThreadPoolExecutor(4) as pool:
        results = list(pool.map(lambda number: kill(folder, number), range(KILLS)))
    shown, saved = sum(r[0] for r in results), sum(r[1] for r in results)
    with_frames = sum(1 for r in results if r[0])
    print(f"{KILLS} kills, {with_frames} of them after frames were shown: {shown} frames shown, all in the files; {saved} saved")
    if with_frames < KILLS // 4:
        fail("too few kills after the first frame to mean anything")
    return 1


def full_disk(folder):
    disk, how = folder / "disk", "a full file system"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", disk], capture_output=True).returncode == 0
    limit = []
    if not mounted:
        how, limit = "a limit on the size of a file", ["bash", "-c", "trap '' XFSZ; ulimit -f 512; exec \"$@\"", "bash"]
    try:
        stream = b"".join(image(count) for count in range(100_000))
        path = disk / "night.pcapng"
        run = subprocess.run([*limit, TOOL, "log", "-", "-o", path, "--json"], input=stream, capture_output=True, timeout=120)
        text = run.stderr.decode()
        if run.returncode != 74:
            fail(f"{how}: exit {run.returncode}, wanted 74: {text}")
        if str(path) not in text:
            fail(f"{how}: the message does not name the file: {text}")
        told = [r["payload"] for r in map(json.loads, run.stdout.split(b"\n")[:-1]) if r["record"] == "frame"]
        saved = payloads(recorded(path))
        # What came when there was no room any more is shown all the same; what was saved is whole.
        both = min(len(told), len(saved))
        if not saved or told[:both] != saved[:both]:
            fail(f"{how}: {len(told)} shown, {len(saved)} saved, not the same")
        print(f"{how}: exit 74, {len(told)} frames shown, {len(saved)} saved and readable. It said:\n{text}")
    finally:
        if mounted:
            subprocess.run(["umount", disk], check=True)
    return 1


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        count = kills(folder) + full_disk(folder)
    print(f"{count} passed, 0 failed")


main()
