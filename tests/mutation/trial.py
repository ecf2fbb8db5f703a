"""Runs mutants against the tests that reach them."""

import collections
import concurrent.futures
import os
import pathlib
import resource
import selectors
import signal
import subprocess
import sys
import tempfile
import time

# A test of fewer seconds than this runs in one process with others of its program.
QUICK = 0.05
# A test of more seconds is left out: a survivor would run them all. What is missed may still be caught by one of these.
LONGEST = float(os.environ.get("MUTANT_LONGEST_TEST", "5"))
# Memory of a mutant, octets.
MEMORY = 4 << 30
Test = collections.namedtuple("Test", "program folder name seconds reached")


def environment(**more):
    return dict(os.environ, PROPTEST_RNG_SEED="1", PROPTEST_DISABLE_FAILURE_PERSISTENCE="true", PROPTEST_MAX_SHRINK_ITERS="0", RUST_BACKTRACE="0", **more)


def start(test, names, limit, env):
    def limits():
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    return subprocess.Popen([test.program, "--test-threads=1", "--exact", *names], cwd=test.folder, env=env, stdout=subprocess.PIPE,
                            stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, preexec_fn=limits, start_new_session=True)


def measure(tests):
    """Every test that is not too long, by itself: its seconds of processor time and the functions it reaches."""
    measured = []
    for name, (program, folder) in sorted(tests.items()):
        listed = subprocess.run([program, "--list", "--format=terse"], cwd=folder, capture_output=True, text=True, check=True).stdout
        for line in listed.splitlines():
            if not line.endswith(": test"):
                continue
            test = line.removesuffix(": test")
            with tempfile.TemporaryDirectory() as there:
                reached = pathlib.Path(there) / "reached"
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                run = start(Test(program, folder, test, 0, set()), [test], int(LONGEST) + 1, environment(BELLWIRE_REACHED=str(reached)))
                run.communicate()
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                seconds = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
                if run.returncode == -signal.SIGXCPU:
                    print(f"left out, it takes longer than {LONGEST:g} s: {name} {test}", flush=True)
                    continue
                if run.returncode != 0:
                    sys.exit(f"{name} {test} fails with the original")
                functions = set(map(int, reached.read_text().split())) if reached.exists() else set()
                measured.append(Test(program, folder, test, seconds, functions))
    return measured


def batches(tests):
    """Tests to run together: the quick ones of each program first, then the others one by one."""
    quick = collections.defaultdict(list)
    for test in tests:
        if test.seconds < QUICK:
            quick[test.program].append(test)
    slow = sorted((test for test in tests if test.seconds >= QUICK), key=lambda test: test.seconds)
    together = sorted(quick.values(), key=lambda batch: sum(test.seconds for test in batch))
    return together + [[test] for test in slow]


def fails(batch, mutant):
    """The name of the test of this batch that fails, "time-out", or None."""
    seconds = sum(test.seconds for test in batch)
    run = start(batch[0], [test.name for test in batch], int(4 * seconds) + 3, environment(BELLWIRE_MUTANT=str(mutant)))
    until = time.monotonic() + 60 + 20 * seconds
    text = b""
    try:
        with selectors.DefaultSelector() as ready:
            ready.register(run.stdout, selectors.EVENT_READ)
            while True:
                if not ready.select(max(0, until - time.monotonic())):
                    return "time-out"
                more = os.read(run.stdout.fileno(), 65536)
                text += more
                if not more:
                    break
                for line in text.split(b"\n")[:-1]:
                    if line.endswith(b"... FAILED"):
                        return line.decode().split()[1]
        code = run.wait()
        if code in (-signal.SIGXCPU, -signal.SIGKILL):
            return "time-out"
        return None if code == 0 else f"ends with {code}"
    finally:
        if run.poll() is None:
            os.killpg(run.pid, signal.SIGKILL)
        run.stdout.close()
        run.wait()


def judge(mutant, batched):
    outcome = {key: mutant[key] for key in ("name", "file", "function", "genre", "span")}
    if mutant["unviable"]:
        return dict(outcome, outcome="unviable")
    if not batched:
        return dict(outcome, outcome="unreached")
    for batch in batched:
        failed = fails(batch, mutant["number"])
        if failed == "time-out":
            return dict(outcome, outcome="time-out", by=batch[0].name)
        if failed:
            return dict(outcome, outcome="caught", by=failed)
    return dict(outcome, outcome="missed")


def run(tests, functions, jobs, keep):
    """Outcomes in order; `keep` is called with those so far now and then, for a run that is broken off."""
    measured = measure(tests)
    print(f"{len(measured)} tests, {sum(test.seconds for test in measured):.0f} s", flush=True)
    reaching = {function.number: batches([test for test in measured if function.number in test.reached]) for function in functions}
    work = [(mutant, reaching[function.number]) for function in functions for mutant in function.mutants]
    outcomes, begin = [], time.monotonic()
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        for outcome in pool.map(lambda item: judge(*item), work):
            outcomes.append(outcome)
            if len(outcomes) % 100 == 0:
                keep(outcomes)
                print(f"{len(outcomes)} of {len(work)} after {time.monotonic() - begin:.0f} s", flush=True)
    return outcomes
