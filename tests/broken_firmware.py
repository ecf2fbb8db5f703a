"""Breaks one safety property of the firmware at a time, in a copy, and shows which scenario of the emulated boards notices.

    tests/emulated --broken [SCENARIO...]

Exit status 1 if a break goes unnoticed, or if the text to break is no longer there.
"""

import os
import pathlib
import shutil
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
COPY = ROOT / "target" / "broken"
FIRMWARE = COPY / "examples" / "firmware"

# What is broken, the file, the text, what stands there instead, and the scenario that must notice.
BREAKS = [
    ("the dead-man is fed again with what has come before", "roles/src/dome.rs",
     "        let wanted = self.wanted(now);\n",
     "        let again = self.rate.output(now);\n"
     "        if self.newest.is_some() { self.rate.handle_set_point(again, now); }\n"
     "        let wanted = self.wanted(now);\n",
     "duplicates"),
    ("a backlog counts as new", "roles/src/dome.rs",
     "self.rate.handle_set_point(rate, message.arrived);",
     "self.rate.handle_set_point(rate, now);",
     "backlog"),
    ("outputs stay on in the panic handler", "board/src/fault.rs",
     "    outputs::all_off();\n", "",
     "panic"),
    ("an overrun is not told", "roles/src/dome.rs",
     "if lost != self.lost_told {", "if false && lost != self.lost_told {",
     "stall"),
    ("a restart re-arms", "roles/src/dome.rs",
     "                    self.newest = Some(message.arrived);\n",
     "                    self.newest = Some(message.arrived);\n"
     "                    if self.rate.motion() == Motion::MustRearm(Reason::Boot) { let _ = self.rate.rearm(now); }\n",
     "reset"),
    ("a new session re-arms", "roles/src/dome.rs",
     "                    self.newest = Some(message.arrived);\n",
     "                    self.newest = Some(message.arrived);\n"
     "                    if matches!(self.rate.motion(), Motion::MustRearm(_)) { let _ = self.rate.rearm(now); }\n",
     "queue"),
    ("a focuser on a board goes one µm less far than here", "roles/src/focuser.rs",
     "if position <= FARTHEST =>", "if position < FARTHEST =>",
     "mirror-focuser"),
    ("a rate stays fresh 10 ms longer on a board than here", "roles/src/dome.rs",
     "const FRESH: Duration = Duration::from_millis(500);", "const FRESH: Duration = Duration::from_millis(510);",
     "mirror-dome"),
]


def copy():
    """The sources that firmware is built from, without what earlier builds left except the firmware's own."""
    shutil.rmtree(COPY / "core", ignore_errors=True)
    skip = shutil.ignore_patterns("target", ".git")
    for name in ["core", "examples", "host-cli", "tests"]:
        shutil.copytree(ROOT / name, COPY / name, dirs_exist_ok=True, ignore=skip)
    shutil.copy(ROOT / "Cargo.toml", COPY)


def build(image):
    """The image; that of the dome can be told to panic."""
    env = dict(os.environ, CARGO_TARGET_DIR=str(COPY / "target"))
    command = [str(FIRMWARE / "build"), "m0", image, "--", "--features", "plant"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit("the broken firmware does not build:\n" + done.stderr)
    return (FIRMWARE / done.stdout.strip().splitlines()[0]).parent


def main():
    play = sys.argv[1]
    copy()
    passed = failed = 0
    chosen = [it for it in BREAKS if not sys.argv[2:] or it[-1] in sys.argv[2:]]
    for what, name, text, instead, scenario in chosen:
        path = FIRMWARE / name
        sound = path.read_text()
        if sound.count(text) != 1:
            sys.exit(f"{name} holds this {sound.count(text)} times, not once:\n{text}")
        path.write_text(sound.replace(text, instead))
        try:
            images = build("mirror" if scenario.startswith("mirror") else "dome")
        finally:
            path.write_text(sound)
        done = subprocess.run([play, str(images), scenario], capture_output=True, text=True, check=False)
        noticed = done.returncode == 1 and "0 passed, 1 failed" in done.stdout
        why = next((line for line in done.stderr.splitlines() if line and not line.startswith(("thread", " "))), "")
        print(f"{what:<52} {scenario:<11} {'noticed' if noticed else 'NOT NOTICED'}: {why[:150]}", flush=True)
        passed, failed = passed + noticed, failed + (not noticed)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
