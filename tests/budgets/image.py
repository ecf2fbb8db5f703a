"""What an ELF image says of itself: flash, memory, functions, panics, and the stack that a function and all it calls need."""
import pathlib, re, subprocess, tempfile

TOOL = "arm-none-eabi-"


def run(tool, *arguments):
    return subprocess.run([TOOL + tool, *map(str, arguments)], check=True, capture_output=True, text=True).stdout


class Image:
    def __init__(self, file):
        self.file = pathlib.Path(file)
        text, self.data, self.bss = map(int, run("size", file).splitlines()[1].split()[:3])
        self.flash = text + self.data
        self._calls = None

    def functions(self):
        """Octets and name of every function, largest first."""
        found = []
        for line in run("nm", "-C", "--print-size", "--radix=d", self.file).splitlines():
            parts = line.split(maxsplit=3)
            if len(parts) == 4 and parts[2] in "tTwW":
                found.append((int(parts[1]), parts[3]))
        return sorted(found, reverse=True)

    def panics(self):
        """Symbols of the panic machinery."""
        names = [line.split(maxsplit=2)[-1] for line in run("nm", "-C", self.file).splitlines()]
        return [name for name in names if re.search(r"panicking|rust_begin_unwind", name)]

    def heap(self):
        """Symbols of an allocator."""
        names = [line.split(maxsplit=2)[-1] for line in run("nm", "-C", self.file).splitlines()]
        return [name for name in names if re.search(r"__rust_alloc|__rg_alloc|^malloc$", name)]

    def entry(self):
        return "image" if "image" in self.calls()[0] else next(iter(self.calls()[0]))

    def calls(self):
        """By function: the functions that it calls or jumps to, and its own frame; those with calls through a register apart."""
        if self._calls is None:
            self._calls = self._read()
        return self._calls

    def _read(self):
        frames = self._frames()
        called, own, blind, name = {}, {}, set(), None
        for line in run("objdump", "-d", "--no-show-raw-insn", self.file).splitlines():
            head = re.match(r"([0-9a-f]+) <(.+)>:$", line)
            if head:
                name = head.group(2)
                called[name], own[name] = set(), frames.get(int(head.group(1), 16))
                continue
            code = re.match(r"\s*[0-9a-f]+:\t(\S+)\s*(.*)$", line)
            if not code or name is None:
                continue
            word, rest = code.groups()
            to = re.search(r"<([^>+]+)>", rest)
            if re.match(r"b(l|\.n|\.w)?$|b(eq|ne|cs|cc|hi|ls|ge|lt|gt|le|mi|pl)(\.n)?$", word) and to and to.group(1) != name:
                called[name].add(to.group(1))
            elif word == "blx" or (word == "bx" and "lr" not in rest):
                blind.add(name)
            elif own[name] is None and word == "push":
                own[name] = 4 * (rest.count(",") + 1)
        return called, {name: frame or 0 for name, frame in own.items()}, blind

    def _frames(self):
        """Frame by address, from the section that the compiler writes: an address and an unsigned LEB128 number each."""
        with tempfile.TemporaryDirectory() as folder:
            section = pathlib.Path(folder) / "sizes"
            subprocess.run([TOOL + "objcopy", f"--dump-section=.stack_sizes={section}", self.file, f"{folder}/copy"], capture_output=True)
            octets = section.read_bytes() if section.exists() else b""
        frames, at = {}, 0
        while at + 4 < len(octets):
            address, size, shift = int.from_bytes(octets[at:at + 4], "little") & ~1, 0, 0
            at += 4
            while True:
                size |= (octets[at] & 0x7F) << shift
                shift, more, at = shift + 7, octets[at] & 0x80, at + 1
                if not more:
                    break
            if address:
                frames[address] = size
        return frames

    def stack(self, name, above=()):
        """The stack that a function needs, octets; None if it cannot be known: recursion, or a call through a register."""
        called, own, blind = self.calls()
        if name not in called or name in above or name in blind:
            return None
        deepest = 0
        for other in called[name]:
            depth = self.stack(other, (*above, name)) if other in called else 0
            if depth is None:
                return None
            deepest = max(deepest, depth)
        return own[name] + deepest
