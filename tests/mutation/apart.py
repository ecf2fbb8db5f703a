"""Mutants that cannot be woven, those of constants: each is built by itself, into the core's unit tests, and run against all of them."""

import resource
import subprocess

import build
import trial

TARGETS = ["-p", "bellwire", "--lib", "--features", build.FEATURES]


def program(tree, env):
    """The program of the unit tests, if they compile."""
    made, messages = build.cargo(tree, ["test", "--no-run"], env, TARGETS)
    built = [message["executable"] for message in messages if message.get("executable")]
    return built[0] if made.returncode == 0 else None


def seconds(path, folder):
    """What the tests take of the processor with the original."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    subprocess.run([path, "--test-threads=1"], cwd=folder, env=trial.environment(), check=True, capture_output=True)
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before


def tests(path, folder, limit):
    """Every test in one batch."""
    listed = subprocess.run([path, "--list", "--format=terse"], cwd=folder, capture_output=True, text=True, check=True).stdout
    names = [line.removesuffix(": test") for line in listed.splitlines() if line.endswith(": test")]
    return [trial.Test(path, folder, name, limit / len(names), set()) for name in names]


def mutated(text, mutant):
    lines = text.splitlines(keepends=True)
    starts = [sum(map(len, lines[:place["line"] - 1])) + place["column"] - 1 for place in (mutant["span"]["start"], mutant["span"]["end"])]
    return text[:starts[0]] + mutant["replacement"] + text[starts[1]:]


def run(root, mutants):
    """Outcomes, in order."""
    if not mutants:
        return []
    base = root / "target" / "mutants"
    tree, env = base / "alone", build.environment(base / "build-alone")
    # With its lints: a constant that is computed for ever does not compile.
    env["RUSTFLAGS"] = env["RUSTFLAGS"].replace("--cap-lints=allow", "")
    build.copy(root, tree, set())
    folder = tree / "core"
    original = program(tree, env)
    limit = seconds(original, folder)
    outcomes = []
    for mutant in mutants:
        file = tree / mutant["file"]
        text = file.read_text()
        build.put(file, mutated(text, mutant))
        built = program(tree, env)
        batch = built and tests(built, folder, limit)
        failed = built and trial.fails(batch, 0)
        build.put(file, text)
        outcome = "unviable" if not built else "missed" if not failed else "time-out" if failed == "time-out" else "caught"
        kept = {key: mutant[key] for key in ("name", "file", "function", "genre", "span")}
        outcomes.append(dict(kept, outcome=outcome, **({"by": failed} if failed else {})))
        print(f"by itself: {outcome:8} {mutant['name']}", flush=True)
    return outcomes
