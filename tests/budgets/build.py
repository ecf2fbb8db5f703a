"""Builds the images for a bare board with the distribution's compiler, and proves that no panic is left in them."""
import os, pathlib, shutil, subprocess, sys

import image

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
OUT = ROOT / "target" / "budgets"
TARGET = "thumbv6m-none-eabi"
IMAGES = ["empty", "listener", "receiver", "link_1", "link_8", "hub_8"]
# The features of `counts`: how the FCS is computed.
TABLES = {"none": "", "nibble": "fcs-nibble", "octet": "fcs-table"}
# What the table is measured with, and the packages that have it.
TOOLS = {"arm-none-eabi-objdump": "binutils-arm-none-eabi", "qemu-system-arm": "qemu-system-arm"}


def skip(why):
    print(f"skipped because {why}")
    sys.exit(3)


def prepare():
    """Installs by name what is missing, or skips."""
    OUT.mkdir(parents=True, exist_ok=True)
    missing = [package for tool, package in TOOLS.items() if not shutil.which(tool)]
    done = subprocess.run([ROOT / "tests" / "toolchain", OUT / "apt.log", *missing])
    if done.returncode:
        sys.exit(done.returncode)


def compiler():
    return subprocess.run(["/usr/bin/rustc", "--version"], capture_output=True, text=True).stdout.split()[1]


def cargo(features, names):
    """Builds images; gives what cargo said, or None if it was content."""
    flags = [f"link-arg=-T{HERE}/link.x", "link-arg=--nmagic"]
    environment = {key: value for key, value in os.environ.items() if key not in ["RUSTFLAGS", "RUSTUP_TOOLCHAIN"]}
    environment |= {
        "RUSTC": "/usr/bin/rustc", "RUSTC_BOOTSTRAP": "1", "CARGO_TARGET_DIR": str(OUT), "CARGO_TERM_COLOR": "never",
        "CARGO_TARGET_THUMBV6M_NONE_EABI_RUSTFLAGS": " ".join(["-Zemit-stack-sizes", *(f"-C {flag}" for flag in flags)]),
    }
    command = ["/usr/bin/cargo", "build", "--quiet", "--release", "-Zbuild-std=core", "--target", TARGET, "--features", features]
    for name in names:
        command += ["--bin", name]
    done = subprocess.run(command, cwd=HERE, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    return done.stdout if done.returncode else None


def images():
    """The images that are looked at, by name, and `counts` for each way to compute the FCS."""
    built = {}
    for table, features in TABLES.items():
        names = [*IMAGES, "counts"] if table == "none" else ["counts"]
        trouble = cargo(features, names)
        if trouble:
            sys.exit(f"the images do not build:\n{trouble}")
        for name in names:
            kept = OUT / (name if name != "counts" else f"counts_{table}")
            shutil.copy2(OUT / TARGET / "release" / name, kept)
            built[kept.name] = image.Image(kept)
    return built


def prove(images):
    """No panic in any image: by their symbols, and by linking them with a panic handler that cannot be linked. Gives what is wrong."""
    wrong = []
    for name, one in images.items():
        wrong += [f"{name}: {symbol} is left" for symbol in one.panics()]
    trouble = cargo("prove", IMAGES)
    if trouble:
        wrong.append(f"an image with a panic handler that cannot be linked was refused:\n{trouble}")
    trouble = cargo("prove,plant", ["empty"])
    if trouble is None or "a_panic_is_left_in_this_image" not in trouble:
        wrong.append("a panic was planted and the image was linked all the same: the proof proves nothing")
    return wrong
