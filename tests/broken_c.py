"""Breaks one safety property of the dome in C at a time, in a copy, and shows which scenario of the emulated boards notices.

    tests/c_firmware --broken

Exit status 1 if a break goes unnoticed, or if the text to break is no longer there.
"""

import os
import pathlib
import shutil
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
COPY = ROOT / "target" / "c_firmware" / "broken"

FED = "    rate = wanted(dome, now);\n"
NEWEST = "        dome->has_newest = true;\n"
REARM = "        if (motion(dome) == BELLWIRE_MOTION_MUST_REARM && %s && bellwire_dead_man_rearm(&dome->rate, now)) {}\n"

# What is broken, the file, the text, what stands there instead, and the scenario that must notice.
BREAKS = [
    ("the dead-man is fed again with what has come before", "dome/dome.c", FED,
     "    if (dome->has_newest && bellwire_dead_man_output(&dome->rate, now, &rate) == BELLWIRE_STATUS_OK)\n"
     "        sound(dome, bellwire_dead_man_set_point(&dome->rate, rate, now));\n" + FED, "duplicates"),
    ("a backlog counts as new", "dome/dome.c", "message.as.dome_rate.rate, event->arrived)", "message.as.dome_rate.rate, now)", "backlog"),
    ("octets are stamped in the loop, not in the interrupt", "board/uart.c", "    incoming.taken = taken;\n",
     "    incoming.taken = taken;\n    *arrived = board_now();\n", "backlog"),
    ("the freshness limit is another one", "dome/dome.c", "#define FRESH 500000u", "#define FRESH 501000u", "cut"),
    ("outputs stay on in the panic handler", "board/stop.c", "    board_set_outputs(0);\n", "", "panic"),
    ("an overrun is not told", "dome/dome.c", "if (dome->sensors.lost != dome->lost_told) {",
     "if (0 && dome->sensors.lost != dome->lost_told) {", "stall"),
    ("an overrun is not counted", "board/uart.c", "        lost++;\n        return;\n", "        return;\n", "stall"),
    ("a restart re-arms", "dome/dome.c", NEWEST, NEWEST + REARM % "dome->reason == BELLWIRE_REASON_BOOT", "reset"),
    ("after a stop the stop value re-arms", "dome/dome.c", NEWEST, NEWEST + REARM % "dome->reason == BELLWIRE_REASON_NO_NEWS", "duplicates"),
]


def build():
    """The image that can be told to panic, with the library that is there."""
    target = os.environ.get("CARGO_TARGET_DIR", str(ROOT / "examples/firmware/target"))
    command = ["make", "--silent", "-C", str(COPY), "-o", "library", "PLANT=1", f"CARGO_TARGET_DIR={target}", f"OUT={COPY / 'out'}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit("the broken firmware does not build:\n" + done.stderr)


def main():
    shutil.rmtree(COPY, ignore_errors=True)
    shutil.copytree(ROOT / "examples/firmware/c", COPY)
    passed = failed = 0
    for what, name, text, instead, scenario in BREAKS:
        path = COPY / name
        intact = path.read_text()
        if intact.count(text) != 1:
            sys.exit(f"{name} holds this {intact.count(text)} times, not once:\n{text}")
        path.write_text(intact.replace(text, instead))
        build()
        path.write_text(intact)
        done = subprocess.run([sys.argv[1], str(COPY / "out"), scenario], capture_output=True, text=True, check=False)
        noticed = done.returncode == 1 and "0 passed, 1 failed" in done.stdout
        why = next((line for line in done.stderr.splitlines() if line and not line.startswith(("thread", " "))), "")
        print(f"{what:<54} {scenario:<11} {'noticed' if noticed else 'NOT NOTICED'}: {why[:150]}", flush=True)
        passed, failed = passed + noticed, failed + (not noticed)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
