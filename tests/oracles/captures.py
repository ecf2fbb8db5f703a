"""Captures by `bellwire log demo: -o`, read by two other programs' readers: python-pcapng and dpkt.

Both must find the same octets, times and directions; the plain decoder of wire.py must find in them the frames that `bellwire decode` finds.
"""

import collections
import json
import os
import pathlib
import subprocess
import sys
import tempfile

import dpkt
import pcapng

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "vectors"))
import wire  # noqa: E402

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target" / "debug" / "bellwire"))


def by_pcapng(path):
    """Chunks as (nanoseconds, port, way, octets). The link type must be a private one."""
    out = []
    with open(path, "rb") as file:
        for block in pcapng.FileScanner(file):
            if isinstance(block, pcapng.blocks.InterfaceDescription):
                assert 65001 <= block.link_type <= 65535, block.link_type
                assert block.timestamp_resolution == 1e-9, block.options
            if isinstance(block, pcapng.blocks.EnhancedPacket) and block.packet_data:
                flags = block.options["epb_flags"].inout
                stamp = block.timestamp_high << 32 | block.timestamp_low
                out.append((stamp, block.interface_id, block.packet_data, flags))
    return out


def by_dpkt(path):
    """The same, by dpkt: seconds with nine decimals, octets."""
    with open(path, "rb") as file:
        return [(stamp, octets) for stamp, octets in dpkt.pcapng.Reader(file) if octets]


def found(candidate):
    """What stands between two delimiters; of the radio board's layer (W-63) what its datagram is, or that it is a frame without one."""
    plain = wire.find(candidate, "cobs")
    if plain != {"reject": "unknown extension"}:
        return plain
    octets = wire.unstuff(candidate, "cobs")[:-2]
    assert octets[:2] == bytes([0xE0, 0x16]), octets.hex()
    head = {1: 3, 2: 8}.get(octets[2])
    return {"frame": octets.hex()} if head is None else wire.find(octets[head:], "datagram")


def check(path):
    chunks, other = by_pcapng(path), by_dpkt(path)
    assert len(chunks) == len(other) > 20, (len(chunks), len(other))
    for (stamp, _, octets, _), (seconds, again) in zip(chunks, other, strict=True):
        assert octets == again
        assert abs(float(seconds) - stamp / 1e9) < 1e-5, (seconds, stamp)
    stamps = [stamp for stamp, *_ in chunks]
    assert stamps == sorted(stamps), "not in the order of time"
    streams = collections.defaultdict(bytes)
    for _, port, octets, flags in chunks:
        streams[port, str(flags)] += octets
    frames = collections.Counter()
    for octets in streams.values():
        for candidate in wire.candidates(octets, "cobs"):
            frames[next(iter(found(candidate)))] += 1
    records = [json.loads(line) for line in
               subprocess.run([TOOL, "decode", path, "--json"], capture_output=True, text=True, check=True).stdout.splitlines()]
    decoded = collections.Counter(record["record"] for record in records)
    for kind in ("frame", "reject", "text"):
        assert frames[kind] == decoded[kind], (kind, frames, decoded)
    total = next(record for record in records if record["record"] == "sum")
    assert total["octets"] == sum(len(octets) for octets in streams.values())
    print(f"{path.name}: {len(chunks)} chunks, {dict(frames)} by both readers and by `decode`")
    return 2


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "night.pcapng"
        subprocess.run([TOOL, "log", "demo:", "-o", path, "--for", "6s"], check=True, stdout=subprocess.DEVNULL)
        count = check(path)
    print(f"{count} passed, 0 failed")


main()
