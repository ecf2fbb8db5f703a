"""COBS against PyPI `cobs`, both FCS against PyPI `crccheck`, octet stuffing and SLIP against the plain Python of wire.py."""

import pathlib
import random
import subprocess
import sys

import cobs.cobs
import crccheck.crc

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "vectors"))
import wire  # noqa: E402

SEED = 20260101
TOOL = ROOT / "target" / "debug" / "examples" / "octets"


def rust(job, inputs):
    lines = "\n".join(octets.hex() for octets in inputs)
    out = subprocess.run([TOOL, job], input=lines + "\n", capture_output=True, text=True, check=True).stdout
    return out.split("\n")[:-1]


def samples():
    rng = random.Random(SEED)
    kinds = [lambda: rng.randrange(256), lambda: 0, lambda: rng.randrange(1, 256), lambda: rng.choice([0, 1, 255]),
             lambda: rng.choice([0x7D, 0x7E, 0xC0, 0xDB, 0xDC, 0xDD, 0x5D, 0x5E])]
    sizes = [*range(0, 20), *range(250, 260), 507, 508, 509, 510, 762, 763, 1500]
    out = [bytes(kind() for _ in range(size)) for size in sizes for kind in kinds]
    out += [bytes(rng.choice(kinds)() for _ in range(rng.randrange(400))) for _ in range(3000)]
    return [octets for octets in out if octets]


def same(name, got, wanted, inputs):
    for one, other, octets in zip(got, wanted, inputs, strict=True):
        if one != other:
            raise SystemExit(f"{name}: {octets.hex()}: Rust {one}, Python {other}\n0 passed, 1 failed")
    print(f"{name}: {len(inputs)} alike")
    return 1


def uncobs(octets):
    try:
        out = cobs.cobs.decode(octets).hex()
    except cobs.cobs.DecodeError:
        return False
    return out


def main():
    inputs = samples()
    count = same("cobs", rust("cobs", inputs), [cobs.cobs.encode(o).hex() for o in inputs], inputs)
    count += same("fcs16", rust("fcs16", inputs), [crccheck.crc.CrcX25.calc(o).to_bytes(2, "little").hex() for o in inputs], inputs)
    count += same("fcs32", rust("fcs32", inputs), [crccheck.crc.Crc32.calc(o).to_bytes(4, "little").hex() for o in inputs], inputs)
    for framing in ("octet-stuffing", "slip"):
        stuffed = [wire.stuff(octets, framing) for octets in inputs]
        count += same(framing, rust(framing, inputs), [s.hex() for s in stuffed], inputs)
        count += same(f"un-{framing}", rust(f"un-{framing}", stuffed), [o.hex() for o in inputs], stuffed)
    # Decoding anything without a zero: alike, but for what is not canonical, which PyPI `cobs` takes and W-4 refuses.
    candidates = [octets.replace(b"\x00", b"\x03") for octets in inputs] + [cobs.cobs.encode(octets) for octets in inputs]
    full = b"\xFF" + bytes(range(1, 255))
    candidates += [full + b"\x01", full + full + b"\x01", b"\x05abcd" + full + b"\x01"]
    got = rust("un-cobs", candidates)
    wanted, odd = [], 0
    for octets, one in zip(candidates, got, strict=True):
        decoded = uncobs(octets)
        if decoded is not False and cobs.cobs.encode(bytes.fromhex(decoded)) != octets:
            odd += 1
            wanted.append("refused: not canonical")
        else:
            wanted.append("refused: broken code" if decoded is False else decoded)
    count += same(f"un-cobs ({odd} not canonical)", got, wanted, candidates)
    print(f"{count} passed, 0 failed")


main()
