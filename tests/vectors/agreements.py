"""Writes hostile agreement files into fuzz/corpus/agreement: each of them must be refused with a clear fault, and none may end the tool.

Run it again after a change here; what it writes follows from this file alone.
"""

import pathlib

FOLDER = pathlib.Path(__file__).resolve().parent.parent.parent / "fuzz/corpus/agreement"

HEAD = {"agreement": '"hut"', "version": "1", "hub": '"desk"'}
LINK = {"name": '"wire"', "payload": "48"}
BOARD = {"name": '"dome"', "link": '"wire"'}
MESSAGE = {"name": '"dome-rate"', "number": "0", "class": '"set-point"', "way": '"hub-to-leaf"', "board": '"dome"', "fresh": '"500ms"', "stop": '"brake"'}
FIELD = {"name": '"rate"', "type": '"i16"', "unit": '"deg/s"', "scale": "0.01", "offset": "0", "range": "[-20, 20]"}
PARTS = {"": HEAD, "[[link]]": LINK, "[[board]]": BOARD, "[[message]]": MESSAGE, "[[message.field]]": FIELD}

# Values that fit no key of the parts above, but for the exceptions below.
VALUES = ["-1", "99999999999999999999999999", "0xFFFFFFFFF", "nan", "-inf", "1e999", "1979-05-27", "true", "[]", "{}", '""',
          '"\\u0000"', '"\\u001b[2J"', '"DÔME!"', '"' + "a" * 300 + '"', '[["dome"]]']
FITTING = {("number", "[]"), ("board", "[]"), ("offset", "-1")}

# Key, value, and further keys: faults of meaning.
MEANING = [
    {"type": '"choice"'}, {"type": '"flags"'}, {"type": '"text"'}, {"type": '"octets"'}, {"type": '"bool"'}, {"type": '"f32"'},
    {"type": '"u8"'}, {"range": "[20, -20]"}, {"range": "[0]"}, {"range": "[0, 1, 2]"}, {"range": "[0, 0.001]"}, {"range": "[0, 400]"},
    {"range": '["a", "b"]'}, {"range": "[-inf, inf]"}, {"scale": "0"}, {"scale": "0.0000000001"}, {"scale": "1e2"},
    {"scale": "9999999999999999.0"}, {"offset": "0.00000000001"}, {"count": "0"}, {"count": "33"}, {"optional": "1"}, {"most": "5"},
    {"words": '["a"]'}, {"names": '["a"]'}, {"bits": "8"}, {"unit": '"°/s"'}, {"unit": '"deg//s"'}, {"at-stop": "21"},
    {"at-stop": '"now"'}, {"colour": "1"}, {"Name": '"x"'}, {"count": '"4"'}, {"offset": "100000"},
]

TEXTS = [
    "", "\n", "\ufeff", "[", "[[", "]]", "=", "a", "a =", "= 1", "a = 1\na = 2", "[a]\n[a]", "[[message]]\n[message]", "message = 1\n[[message]]",
    "a = '''", 'a = """', "a = \"\\q\"", "a = 01", "a = 1__0", "a = {b = 1", "a.b.c = 1\na.b = 2", "\x00", "\x7f", "\r", "# only a remark",
    "a = " + "[" * 5000, "a = " + "[" * 70 + "]" * 70, ".".join(["a"] * 3000) + " = 1", "a" * 5000 + " = 1", "[" + ".".join(["a"] * 79) + "]",
    "[[message]]\n" * 500, "[[message.field]]\nname = \"x\"", "[[board]]\n" * 200, "agreement = \"a\"\nversion = 1\nhub = \"a\"\nmessage = [1, 2]",
    "{\"agreement\": \"hut\"}", "<agreement/>", "agreement: hut", "\N{SNOWMAN} = 1", "a = '\N{SNOWMAN}" + "\N{SNOWMAN}" * 400,
]


def text(parts):
    return "\n".join("\n".join(([head] if head else []) + [f"{key} = {value}" for key, value in part.items()]) for head, part in parts) + "\n"


def files():
    """Every hostile file, by name."""
    whole = list(PARTS.items())
    for at, (head, part) in enumerate(whole):
        short = head.strip("[]").replace(".", "-") or "head"
        for key in part:
            with_ = lambda new: text(whole[:at] + [(head, new)] + whole[at + 1:])
            if key not in ("board", "link", "unit", "scale", "offset", "range") and not (key == "name" and head == "[[link]]"):
                yield f"{short}-without-{key}", with_({name: value for name, value in part.items() if name != key})
            for number, value in enumerate(VALUES):
                if (key, value) not in FITTING:
                    yield f"{short}-{key}-{number}", with_({**part, key: value})
        yield f"{short}-twice", text(whole[:at] + [(head or "x = 1", part), (head or "y = 1", part)] + whole[at + 1:])
    for number, change in enumerate(MEANING):
        yield f"meaning-{number}", text(whole[:-1] + [("[[message.field]]", {**FIELD, **change})])
    for number, nonsense in enumerate(TEXTS):
        yield f"text-{number}", nonsense
        if nonsense.strip() and not nonsense.startswith("#"):
            yield f"text-{number}-after", text(whole) + nonsense


def main():
    FOLDER.mkdir(parents=True, exist_ok=True)
    for old in FOLDER.glob("*.toml"):
        old.unlink()
    seen = set()
    for name, content in files():
        if content in seen:
            continue
        seen.add(content)
        (FOLDER / f"{name}.toml").write_bytes(content.encode())
    print(f"{len(seen)} hostile agreement files in {FOLDER.name}")


main()
