"""A stranger's input to `bellwire decode`: each golden vector as hex, lines held low and high, 100 MB of random octets, a console's text.

Random octets may make a frame only by the odds of the FCS: 2^-16 for each candidate that reaches it (RFC 3385 section 3). The count that
gets through must lie inside a binomial interval of six standard deviations (plus six, for small counts).
"""

import concurrent.futures
import json
import math
import os
import pathlib
import random
import resource
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
VECTORS = ROOT / "tests" / "vectors"
sys.path.insert(0, str(VECTORS))
import wire  # noqa: E402

TOOL = os.environ.get("BELLWIRE_BIN", str(ROOT / "target" / "debug" / "bellwire"))
SEED = 20260102
MEGABYTE = 1_000_000
BEFORE_FCS = {"broken code", "not canonical", "aborted", "bad escape", "too long", "too short", "bad FCS"}


def fail(text):
    raise SystemExit(f"{text}\n0 passed, 1 failed")


def decode(source, *options, given=None):
    done = subprocess.run([TOOL, "decode", source, "--json", *options], input=given, capture_output=True)
    if done.returncode not in (0, 1):
        fail(f"decode {options}: exit {done.returncode}: {done.stderr.decode()}")
    return [json.loads(line) for line in done.stdout.splitlines()]


def line_of(vector):
    options = ["--framing", vector["framing"], "--fcs", str(vector["fcs"])]
    return options + (["--map", hex(vector["map"])] if "map" in vector else [])


def vector(v):
    """A vector on standard input, as hex text."""
    records = decode("-", *line_of(v), given=" ".join(v["wire"][i:i + 2] for i in range(0, len(v["wire"]), 2)).encode())
    got = []
    for record in records:
        if record["record"] == "frame":
            got.append(("frame", record["kind"], record.get("number"), record.get("payload", "")))
        elif record["record"] == "reject":
            got.append(("reject", record["name"], record["rule"]))
        elif record["record"] == "text":
            got.append(("text", record["text"]))
    if "fields" in v:
        f = v["fields"]
        wanted = [("frame", f["kind"], f.get("number"), f["payload"])]
    elif "reject" in v:
        wanted = [("reject", v["reject"], v["rule"])]
    else:
        wanted = []
        for find in v["finds"]:
            if "frame" in find:
                f = wire.read_frame(bytes.fromhex(find["frame"]), False)
                wanted.append(("frame", f["kind"], f.get("number"), f["payload"]))
            elif "reject" in find:
                wanted.append(("reject", find["reject"], wire.REJECTS[find["reject"]][1]))
            else:
                wanted.append(("text", bytes.fromhex(find["text"]).decode()))
    if got != wanted:
        fail(f"{v['name']} {line_of(v)}: {got}, wanted {wanted}")


def vectors():
    # A small buffer is the board's; the tool takes what is long.
    all_of = [v for name in ("frames", "rejects", "streams") for v in json.loads((VECTORS / f"{name}.json").read_text())
              if "buffer" not in v]
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        list(pool.map(vector, all_of))
    print(f"{len(all_of)} vectors as hex on standard input")
    return 1


def held(folder):
    for octet in (0x00, 0xFF):
        path = folder / f"held-{octet:02x}"
        path.write_bytes(bytes([octet]) * 10 * MEGABYTE)
        for framing in ("cobs", "octet-stuffing", "slip"):
            total = decode(path, "--framing", framing)[-1]
            if total["frames"]:
                fail(f"a line held at {octet:#04x} made {total['frames']} frames of {framing}")
    print("10 MB of zeros and of ones make no frame")
    return 1


def peak():
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024


def noise(folder):
    rng = random.Random(SEED)
    short, whole = folder / "noise-10", folder / "noise-100"
    short.write_bytes(rng.randbytes(10 * MEGABYTE))
    with open(whole, "wb") as file:
        for _ in range(100):
            file.write(rng.randbytes(MEGABYTE))
    for framing in ("cobs", "octet-stuffing", "slip"):
        # Summed up line by line here, so that only the tool's own memory counts.
        counts, before = {}, {}
        for path in (short, whole):
            command = [TOOL, "decode", str(path), "--json", "--framing", framing]
            # /usr/bin/env python3 -c: a process of its own, so that its peak is that of this one child.
            code = ("import json,resource,subprocess,sys\n"
                    "run=subprocess.Popen(sys.argv[1:],stdout=subprocess.PIPE,stderr=subprocess.DEVNULL)\n"
                    "last=b''\n"
                    "for line in run.stdout: last=line\n"
                    "run.wait()\n"
                    "print(json.dumps([resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss,json.loads(last)]))")
            out = subprocess.run([sys.executable, "-c", code, *command], capture_output=True, check=True).stdout
            before[path], counts[path] = json.loads(out)
        total = counts[whole]
        passed = total["frames"] + sum(n for name, n in total["reasons"].items() if name not in BEFORE_FCS)
        checked = passed + total["reasons"].get("bad FCS", 0)
        mean = checked / 65536
        bound = mean + 6 * math.sqrt(mean) + 6
        print(f"100 MB of noise as {framing}: {checked} candidates reach the FCS, {passed} pass it (mean {mean:.1f}), "
              f"{total['frames']} of them a frame; peak {before[short] // 1024} MiB for 10 MB, {before[whole] // 1024} MiB for 100 MB")
        if not max(0, mean - 6 * math.sqrt(mean) - 6) <= passed <= bound:
            fail(f"{framing}: {passed} candidates of {checked} pass the FCS, at most {bound:.0f} expected")
        if before[whole] > 32 * 1024 or before[whole] > before[short] + 4 * 1024:
            fail(f"{framing}: memory grows: {before}")
    return 3


CONSOLE = ["\r\n\r\ndome login: ", "root\r\n", "Password: \r\n", "Last login: Tue\r\n", "dome:~# ", "ls /dev/tty*\r\n/dev/ttyS0\r\n",
           "\x1b[1mbold\x1b[0m\r\n", "{\"json\": [1, 2]}\r\n", "~~~ }}} ~~~\r\n", "dome:~# exit\r\n"]


def console(folder):
    """A login console around frames: every frame is found, and the text comes out as it went in."""
    for framing in ("cobs", "octet-stuffing", "slip"):
        stream, delimiter = b"", bytes([wire.DELIMITER[framing]])
        for count, text in enumerate(CONSOLE * 20):
            stream += text.encode()
            stream += wire.wire(wire.frame("set-point", session=1, seq=count % 256, payload=b"\x00" + wire.message_number(count)), framing)
        path = folder / f"console-{framing}"
        path.write_bytes(stream + delimiter)
        records = decode(path, "--framing", framing)
        numbers = [r["number"] for r in records if r["record"] == "frame"]
        if numbers != [count % 256 for count in range(len(CONSOLE) * 20)]:
            fail(f"{framing}: {len(numbers)} frames amid text")
        text = "".join(r["text"] for r in records if r["record"] == "text")
        wanted = "".join(CONSOLE) * 20
        if framing == "octet-stuffing":
            text, wanted = text.replace("~", ""), wanted.replace("~", "")  # 0x7E is the delimiter
        if text != wanted or any(r["record"] == "reject" for r in records):
            fail(f"{framing}: the text is not what it was")
    print(f"{len(CONSOLE) * 20} frames amid a console's text, both whole, in three framings")
    return 1


def denied(folder):
    """A device that the user may not open: exit 77, and a word on what to do."""
    folder.chmod(0o755)
    tool = folder / "bellwire"  # a copy, which anybody may run
    shutil.copy(TOOL, tool)
    tool.chmod(0o755)
    main_end, end = os.openpty()
    device = os.ttyname(end)
    os.chmod(device, 0)
    who = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}
    done = subprocess.run([tool, "check", device], capture_output=True, text=True, cwd="/", **who)
    os.close(main_end)
    os.close(end)
    if done.returncode != 77 or device not in done.stderr or "next" not in done.stderr:
        fail(f"a device without permission: exit {done.returncode}: {done.stderr}")
    print(f"without permission: exit 77.\n{done.stderr}")
    return 1


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        count = vectors() + held(folder) + noise(folder) + console(folder) + denied(folder)
    print(f"{count} passed, 0 failed")


main()
