"""Builds a copy of the workspace with the mutants woven in, leaving out those that do not compile."""

import json
import os
import pathlib
import shutil
import subprocess
import sys

import weave

FEATURES = "std,fcs-host,postcard,embedded-io-06,embedded-io-07,embedded-io-async-06,embedded-io-async-07"
PARTS = ["Cargo.toml", "Cargo.lock", "README.md", "core", "host-cli", "tests", "examples", "fuzz"]
PACKAGES = os.environ.get("MUTANT_PACKAGES", "bellwire bellwire-tests").split()
TARGETS = [*(word for package in PACKAGES for word in ("-p", package)), *os.environ.get("MUTANT_TARGETS", "--lib --tests").split(), "--features", ",".join(f"bellwire/{f}" for f in FEATURES.split(","))]


def put(path, text):
    """Writes what has changed only, so that an unchanged file is not built again."""
    if not path.exists() or path.read_text() != text:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


def copy(root, tree, woven):
    """The workspace without what is woven; files that are gone go here too."""
    def skip(path):
        return any(part in ("target", "__pycache__", ".git", "proptest-regressions") for part in path.parts)

    sources = set()
    for part in PARTS:
        source = root / part
        files = [source] if source.is_file() else [path for path in source.rglob("*") if path.is_file()]
        for path in files:
            name = path.relative_to(root)
            if skip(name):
                continue
            sources.add(name)
            if str(name) in woven:
                continue
            to = tree / name
            if not to.exists() or to.read_bytes() != path.read_bytes():
                to.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(path, to)
                os.utime(to)
    for path in list(tree.rglob("*.rs")):
        if path.relative_to(tree) not in sources and path.name != "mutants.rs":
            path.unlink()


def crate_root(text):
    text = text.replace("#![forbid(unsafe_code)]", "#![feature(core_intrinsics, const_eval_select)]\n#![allow(internal_features)]")
    text = text.replace('#[cfg(any(feature = "std", test))]\nextern crate std;', "extern crate std;\nmod mutants;")
    assert "mod mutants;" in text
    return text


def environment(target):
    flags = "--cap-lints=allow" + (" -Clink-arg=-fuse-ld=mold" if shutil.which("mold") else "")
    # Not optimised: what is woven takes far longer to compile than the tests to run.
    return dict(os.environ, CARGO_PROFILE_DEV_OPT_LEVEL="0", RUSTC_BOOTSTRAP="1", RUSTFLAGS=flags, CARGO_TARGET_DIR=str(target), CARGO_PROFILE_DEV_DEBUG="0", CARGO_TERM_COLOR="never")


def cargo(tree, words, env, targets=TARGETS):
    made = subprocess.run(["cargo", *words, *targets, "--message-format=json"], cwd=tree, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    return made, [json.loads(line) for line in made.stdout.splitlines() if line.startswith("{")]


def build(root, functions):
    """Names and files of the test programs. Marks mutants as unviable until the rest compiles."""
    base = root / "target" / "mutants"
    tree, env = base / "tree", environment(base / "build")
    files = weave.by_file(functions)
    texts = {file: (root / file).read_text() for file in files}
    copy(root, tree, {*files, "core/src/lib.rs"})
    put(tree / "core/src/mutants.rs", (root / "tests/mutation/mutants.rs").read_text())
    texts.setdefault("core/src/lib.rs", (root / "core/src/lib.rs").read_text())
    # What did not compile the last time will not do so now, if the list is the same; else all are tried.
    names, memory = [mutant["name"] for function in functions for mutant in function.mutants], base / "unviable.json"
    known = json.loads(memory.read_text()) if memory.exists() else {}
    unviable = set(known["unviable"]) if known.get("names") == names else set()
    while True:
        lines = {}
        for file, text in texts.items():
            text, lines[file] = weave.woven(text, files[file], unviable)
            put(tree / file, crate_root(text) if file == "core/src/lib.rs" else text)
        made, messages = cargo(tree, ["check"], env)
        if made.returncode == 0:
            break
        errors = [m["message"] for m in messages if m.get("reason") == "compiler-message" and m["message"]["level"] == "error"]
        bad = {number for error in errors for span in error["spans"] for first, last, number in lines.get(span["file_name"], [])
               if first <= span["line_start"] <= last}
        if not bad - unviable:
            print(made.stderr, *(error["rendered"] for error in errors), sep="\n")
            sys.exit("the woven source does not compile, and no mutant is to blame")
        unviable |= bad
        print(f"{len(bad)} more do not compile, {len(unviable)} in all", flush=True)
    memory.write_text(json.dumps({"names": names, "unviable": sorted(unviable)}))
    for function in functions:
        for mutant in function.mutants:
            mutant["unviable"] = mutant["number"] in unviable
    made, messages = cargo(tree, ["test", "--no-run"], env)
    if made.returncode != 0:
        print(made.stderr, *(m["message"]["rendered"] for m in messages if m.get("reason") == "compiler-message"), sep="\n")
        sys.exit("the tests do not build")
    return {m["target"]["name"]: (m["executable"], pathlib.Path(m["manifest_path"]).parent) for m in messages if m.get("executable") and m["profile"]["test"]}
