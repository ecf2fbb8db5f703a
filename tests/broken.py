"""Breaks one safety property of the firmware at a time, in a copy, and shows which scenario of the emulated boards notices: one table.

    tests/emulated --broken [SCENARIO...]      the firmware in Rust
    tests/c_firmware --broken [SCENARIO...]    the dome in C

Exit status 1 if a break goes unnoticed, or if the text to break is no longer there.
"""

import os
import pathlib
import shutil
import subprocess
import sys
from typing import NamedTuple

ROOT = pathlib.Path(__file__).resolve().parent.parent

# The properties that are broken.
NEW = "only a new set-point feeds the dead-man"
AGE = "freshness counts from the arrival"
LIMIT = "the stop comes at the limit"
PANIC = "a panic switches the outputs off"
LOST = "lost octets are counted and told"
ARM = "only an operator's act arms it"
SAME = "a board does what the role does here"


class Break(NamedTuple):
    """What is broken: the property, in words, the file, the text, what stands there instead, and the scenario that must notice."""

    property: str
    what: str
    file: str
    text: str
    instead: str
    scenario: str


class Firmware:
    """A copy of firmware that may be broken. `breaks` are its breaks; `build` gives the folder of the images for a scenario."""

    def spoil(self, one):
        """Puts the break in; gives the path and the sound text."""
        path = self.sources / one.file
        sound = path.read_text()
        if sound.count(one.text) != 1:
            sys.exit(f"{one.file} holds this {sound.count(one.text)} times, not once:\n{one.text}")
        path.write_text(sound.replace(one.text, one.instead))
        return path, sound

    def broken(self, one):
        """The images with the break in them."""
        path, sound = self.spoil(one)
        try:
            return self.build(one.scenario)
        finally:
            path.write_text(sound)


class Rust(Firmware):
    """The images of `examples/firmware` for the M0-class board."""

    copy = ROOT / "target" / "broken"
    sources = copy / "examples" / "firmware"
    newest = "                    self.newest = Some(message.arrived);\n"
    rearm = newest + "                    if matches!(self.rate.motion(), %s) { let _ = self.rate.rearm(now); }\n"
    wanted = "        let wanted = self.wanted(now);\n"
    breaks = [
        Break(NEW, "it is fed again with what has come before", "roles/src/dome.rs", wanted,
              "        let again = self.rate.output(now);\n"
              "        if self.newest.is_some() { self.rate.handle_set_point(again, now); }\n" + wanted, "duplicates"),
        Break(AGE, "a backlog counts as new", "roles/src/dome.rs", "self.rate.handle_set_point(rate, message.arrived);",
              "self.rate.handle_set_point(rate, now);", "backlog"),
        Break(PANIC, "outputs stay on in the panic handler", "board/src/fault.rs", "    outputs::all_off();\n", "", "panic"),
        Break(LOST, "an overrun is not told", "roles/src/dome.rs", "if lost != self.lost_told {", "if false && lost != self.lost_told {", "stall"),
        Break(ARM, "a restart re-arms", "roles/src/dome.rs", newest, rearm % "Motion::MustRearm(Reason::Boot)", "reset"),
        Break(ARM, "a new session re-arms", "roles/src/dome.rs", newest, rearm % "Motion::MustRearm(Reason::LinkEnded(_))", "new-desk"),
        Break(SAME, "a focuser on a board goes one µm less far", "roles/src/focuser.rs", "if position <= FARTHEST =>",
              "if position < FARTHEST =>", "mirror-focuser"),
        Break(SAME, "a rate stays fresh 10 ms longer on a board", "roles/src/dome.rs", "const FRESH: Duration = Duration::from_millis(500);",
              "const FRESH: Duration = Duration::from_millis(510);", "mirror-dome"),
    ]

    def __init__(self):
        """The sources that firmware is built from, without what earlier builds left except the firmware's own."""
        shutil.rmtree(self.copy / "core", ignore_errors=True)
        skip = shutil.ignore_patterns("target", ".git")
        for name in ["core", "examples", "host-cli", "tests"]:
            shutil.copytree(ROOT / name, self.copy / name, dirs_exist_ok=True, ignore=skip)
        shutil.copy(ROOT / "Cargo.toml", self.copy)

    def build(self, scenario):
        """The image of the dome can be told to panic."""
        image = "mirror" if scenario.startswith("mirror") else "dome"
        done = run([str(self.sources / "build"), "m0", image, "--", "--features", "plant"], CARGO_TARGET_DIR=str(self.copy / "target"))
        return (self.sources / done.strip().splitlines()[0]).parent


class C(Firmware):
    """The dome in C, which can be told to panic, with the library that is there."""

    sources = ROOT / "target" / "c_firmware" / "broken"
    newest = "        dome->has_newest = true;\n"
    rearm = newest + "        if (motion(dome) == BELLWIRE_MOTION_MUST_REARM && dome->reason == %s && bellwire_dead_man_rearm(&dome->rate, now)) {}\n"
    fed = "    rate = wanted(dome, now);\n"
    breaks = [
        Break(NEW, "it is fed again with what has come before", "dome/dome.c", fed,
              "    if (dome->has_newest && bellwire_dead_man_output(&dome->rate, now, &rate) == BELLWIRE_STATUS_OK)\n"
              "        sound(dome, bellwire_dead_man_set_point(&dome->rate, rate, now));\n" + fed, "duplicates"),
        Break(AGE, "a backlog counts as new", "dome/dome.c", "message.as.dome_rate.rate, event->arrived)", "message.as.dome_rate.rate, now)", "backlog"),
        Break(AGE, "octets are stamped in the loop, not in the interrupt", "board/uart.c", "    incoming.taken = taken;\n",
              "    incoming.taken = taken;\n    *arrived = board_now();\n", "backlog"),
        Break(LIMIT, "the freshness limit is another one", "dome/dome.c", "#define FRESH 500000u", "#define FRESH 501000u", "cut"),
        Break(PANIC, "outputs stay on in the panic handler", "board/stop.c", "    board_set_outputs(0);\n", "", "panic"),
        Break(LOST, "an overrun is not told", "dome/dome.c", "if (dome->sensors.lost != dome->lost_told) {",
              "if (0 && dome->sensors.lost != dome->lost_told) {", "stall"),
        Break(LOST, "an overrun is not counted", "board/uart.c", "        lost++;\n        return;\n", "        return;\n", "stall"),
        Break(ARM, "a restart re-arms", "dome/dome.c", newest, rearm % "BELLWIRE_REASON_BOOT", "reset"),
        Break(ARM, "a new session re-arms", "dome/dome.c", newest, rearm % "BELLWIRE_REASON_LINK_ENDED", "new-desk"),
        Break(ARM, "after a stop the stop value re-arms", "dome/dome.c", newest, rearm % "BELLWIRE_REASON_NO_NEWS", "duplicates"),
    ]

    def __init__(self):
        shutil.rmtree(self.sources, ignore_errors=True)
        shutil.copytree(ROOT / "examples/firmware/c", self.sources)

    def build(self, _scenario):
        out = self.sources / "out"
        target = os.environ.get("CARGO_TARGET_DIR", str(ROOT / "examples/firmware/target"))
        run(["make", "--silent", "-C", str(self.sources), "-o", "library", "PLANT=1", f"CARGO_TARGET_DIR={target}", f"OUT={out}"])
        return out


def run(command, **environment):
    """What the command says; the end if it fails."""
    done = subprocess.run(command, env=dict(os.environ, **environment), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit("the broken firmware does not build:\n" + done.stderr)
    return done.stdout


def row(*cells):
    print("{:<40} {:<53} {:<15} {}".format(*cells), flush=True)


def main():
    firmware = {"rust": Rust, "c": C}[sys.argv[1]]()
    play, wanted = sys.argv[2], sys.argv[3:]
    passed = failed = 0
    row("property", "break", "scenario", "which fails because")
    for one in (it for it in firmware.breaks if not wanted or it.scenario in wanted):
        done = subprocess.run([play, str(firmware.broken(one)), one.scenario], capture_output=True, text=True, check=False)
        noticed = done.returncode == 1 and "0 passed, 1 failed" in done.stdout
        why = next((line for line in done.stderr.splitlines() if line and not line.startswith(("thread", " "))), "")
        row(one.property, one.what, one.scenario, why[:120] if noticed else "NOTHING FAILED: the break goes unnoticed")
        passed, failed = passed + noticed, failed + (not noticed)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
