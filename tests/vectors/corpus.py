"""Makes the seed corpus of the decoder fuzz targets from the golden vectors: choice octet, cut octet, then the wire."""

import hashlib
import json
import pathlib

HERE = pathlib.Path(__file__).resolve().parent
CORPUS = HERE.parent.parent / "fuzz" / "corpus"
CHOICE = {0: 0, 0x000A0008: 2, 0xFFFFFFFF: 4}


def main():
    count = 0
    vectors = [v for name in ("streams", "rejects", "frames") for v in json.loads((HERE / f"{name}.json").read_text())]
    kept = {}
    for vector in vectors:
        target = vector["framing"].replace("-", "_")
        wire = bytes.fromhex(vector["wire"])
        if len(wire) > 600 or kept.setdefault(target, 0) >= 40 and "finds" not in vector:
            continue
        kept[target] += 1
        data = bytes([CHOICE[vector.get("map", 0)] | vector["fcs"] // 32, len(wire) % 7]) + wire
        folder = CORPUS / target
        folder.mkdir(parents=True, exist_ok=True)
        (folder / hashlib.sha256(data).hexdigest()[:12]).write_bytes(data)
        count += 1
    print(f"{count} inputs")


main()
