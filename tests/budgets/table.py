"""The table of budgets: rows, targets, the committed numbers and the README."""
import json, math, re, subprocess, sys

import build

COMMITTED = build.HERE / "table.json"
README = build.ROOT / "README.md"
BEGIN, END = "<!-- budgets: made by tests/budgets/run --accept -->\n", "<!-- budgets end -->\n"
# Ticks of the 16 MHz clock to instructions of 1024 ns.
PER_TICK = 125 / 2048


def counted(image):
    """What the image `counts` tells on the emulated board; instructions are without those of counting."""
    command = ["qemu-system-arm", "-M", "microbit", "-display", "none", "-monitor", "none", "-serial", "null", "-icount", "shift=10",
               "-semihosting-config", "enable=on,target=native", "-kernel", str(image.file)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    if done.returncode:
        sys.exit(f"{image.file.name} ended with code {done.returncode} on the emulated board:\n{done.stderr}")
    numbers = {name: int(value) for name, value in re.findall(r"^(.+)=(\d+)$", done.stderr, re.M)}
    numbers["instructions"] = lambda name: round((numbers[name] - numbers["nothing"]) * PER_TICK)
    return numbers


def deepest(image):
    """The stack that `Link::new` needs, and the other public call that needs the most."""
    called, own, _ = image.calls()
    calls = {name: image.stack(name) for name in called if name.startswith("call_")}
    blind = [name for name, stack in calls.items() if stack is None]
    if blind:
        sys.exit(f"the stack of {', '.join(blind)} cannot be known: recursion or a call through a register")
    # Without the frame of the function that only makes the call.
    calls = {name: stack - own[name] for name, stack in calls.items()}
    made = calls.pop("call_link_new")
    name = max(calls, key=calls.get)
    return made, name.removeprefix("call_"), calls[name]


def measure(images):
    """Rows: what, measured, target (None: for information)."""
    flash = lambda name: images[name].flash - images["empty"].flash
    count = {table: counted(images[f"counts_{table}"]) for table in build.TABLES}
    nibble = count["nibble"]
    instructions = nibble["instructions"]
    bare = lambda link, slots: nibble[link] - slots * nibble["frame buffer"] - nibble["statistics"]
    rows = [
        ("flash: listener (octet stuffing, FCS without table)", flash("listener"), 1536),
        ("flash: set-point receiver with dead-man", flash("receiver"), 3072),
        ("flash: full link, window 1", flash("link_1"), 6144),
        ("flash: full link, window 8", flash("link_8"), 8192),
        ("RAM: link, window 1, queue 4, without its 6 frame buffers and its statistics", bare("link, window 1, queue 4", 6), 192),
        ("RAM: the same with queue 1 (3 frame buffers)", bare("link, window 1, queue 1", 3), 192),
        ("RAM: the same with window 8, queue 8 (17 frame buffers)", bare("link, window 8, queue 8", 17), None),
        ("RAM: statistics of a link", nibble["statistics"], None),
        ("RAM: link, window 1, queue 4, all of it", nibble["link, window 1, queue 4"], None),
        ("flash: hub of 8 leaves on a shared wire", flash("hub_8"), None),
        ("RAM: hub of 8 leaves, all of it: 16 frames of 64 octets, its receive buffer, its statistics", nibble["hub of 8 leaves"], 4096),
        ("RAM: each leaf of it", (nibble["hub of 8 leaves"] - nibble["hub of 1 leaf"]) // 7, 64),
    ]
    made, name, stack = deepest(images["counts_nibble"])
    rows += [("stack: making a link (once, at the start)", made, 512), (f"stack: deepest other public call ({name})", stack, 512)]
    for table, word, target in [("none", "no table", 125), ("nibble", "32-octet table", 70), ("octet", "512-octet table", 45)]:
        one = count[table]
        for framing, what in [("cobs", "COBS"), ("stuffed", "octet stuffing")]:
            per = math.ceil(one["instructions"](f"{framing} in one piece") / one[f"{framing} octets"])
            rows.append((f"instructions per received wire octet: {what}, {word}", per, target))
    rows += [
        ("instructions: send a 32-octet errand", instructions("send"), 3500),
        ("instructions: handle its acknowledgement", instructions("handle an acknowledgement"), 1000),
        ("instructions: idle poll_event", instructions("poll_event, nothing to tell"), 60),
        ("instructions: idle poll_transmit", instructions("poll_transmit, nothing to send"), 60),
        ("instructions: idle handle_timeout, 1 ms later", instructions("handle_timeout, nothing due"), None),
        ("instructions: poll_wake", instructions("poll_wake"), None),
    ]
    left = sum(len(image.panics()) for image in images.values())
    allocators = sum(len(image.heap()) for image in images.values())
    rows += [("panic paths in any of these images", left, 0), ("heap: symbols of an allocator in any of these images", allocators, 0)]
    return rows


def verdict(measured, target):
    return "" if target is None else "yes" if measured <= target else "NO"


def show(rows):
    print(f"{'measured on thumbv6m, opt-level s, fat LTO, no defmt':<80} {'':>8} {'target':>7}  met")
    for what, measured, target in rows:
        print(f"{what:<80} {measured:>8} {'' if target is None else target:>7}  {verdict(measured, target)}")


def markdown(rows):
    lines = ["| measured on thumbv6m, opt-level `s`, fat LTO, no defmt | | target | met |", "|---|---:|---:|---|"]
    lines += [f"| {what} | {measured} | {'' if target is None else target} | {verdict(measured, target).lower()} |"
              for what, measured, target in rows]
    return "\n".join(lines) + "\n"


def readme(rows, accept):
    """What is wrong with the README's table."""
    text = README.read_text()
    if BEGIN not in text or END not in text:
        return ["README.md has no table of budgets (or its marks are gone)"]
    before, rest = text.split(BEGIN, 1)
    there, after = rest.split(END, 1)
    if accept:
        README.write_text(before + BEGIN + markdown(rows) + END + after)
    elif there != markdown(rows):
        return ["README.md has another table; tests/budgets/run --accept writes this one"]
    return []


def judge(rows, wrong, accept):
    """Compares with the committed table; gives the exit code."""
    now = {"compiler": build.compiler(), "rows": {what: measured for what, measured, _ in rows}}
    if accept:
        COMMITTED.write_text(json.dumps(now, indent=1) + "\n")
    before = json.loads(COMMITTED.read_text())
    same = before["compiler"] == now["compiler"]
    if same:
        for what in before["rows"].keys() | now["rows"].keys():
            old, new = before["rows"].get(what), now["rows"].get(what)
            if old != new:
                wrong.append(f"{what}: {new}, the committed table says {old}")
        wrong += readme(rows, accept)
    missed = sum(verdict(measured, target) == "NO" for _, measured, target in rows)
    aimed = sum(target is not None for _, _, target in rows)
    print(f"{aimed - missed} of {aimed} targets met; no panic is left, and one that was planted was found" if not wrong else "")
    for line in wrong:
        print(line)
    if wrong:
        print("run tests/budgets/run --accept if this is meant, and commit tests/budgets/table.json and README.md")
        return 1
    if not same:
        build.skip(f"the compiler is {now['compiler']} and the committed table is of {before['compiler']}; nothing was compared")
    print(f"{len(rows)} passed, 0 failed")
    return 0
