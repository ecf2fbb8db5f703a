"""The JSON Schema of agreements, by the PyPI package jsonschema: it is a schema itself, takes what the reader takes, and refuses what it can see.

A schema sees the shape of a file, not its meaning: that a name is used twice, that a unit is none, that a range lies outside of its type is
for the reader (`bellwire agreement`). How many of the hostile files are left to it is counted exactly.
"""

import json
import pathlib
import re
import tomllib

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parents[2]

# The hostile files that a shape cannot tell from good ones: names used twice; ranges, steps and values that stop outside of their types; no units; numbers
# without end or with too many digits.
MEANING = re.compile(
    r"(board|link|message|message-field)-twice|meaning-(6|7|10|11|13|15|16|18|26|27|28|29|33)"
    r"|message-field-(offset-[1-5]|scale-[23]|unit-1[0-4])"
)


def manual():
    """The example of the manual."""
    return re.search(r"```toml\n(.*?)```", (ROOT / "host-cli/AGREEMENT.md").read_text(), re.S)[1]


def hostile():
    """Every hostile file that is TOML at all: name and content."""
    for path in sorted((ROOT / "fuzz/corpus/agreement").glob("*.toml")):
        try:
            yield path.stem, tomllib.loads(path.read_bytes().decode())
        except (tomllib.TOMLDecodeError, RecursionError):
            continue


def main():
    schema = json.loads((ROOT / "host-cli/agreement.schema.json").read_text())
    kind = jsonschema.validators.validator_for(schema, default=None)
    assert kind is jsonschema.Draft202012Validator, f"the schema says that it is {schema.get('$schema')}"
    kind.check_schema(schema)
    print("good: the schema is one of draft 2020-12")
    validator = kind(schema)
    good = {
        "the observatory": (ROOT / "examples/observatory/agreement.toml").read_text(),
        "every type": (ROOT / "tests/generated/agreement.toml").read_text(),
        "the manual's example": manual(),
    }
    for name, text in good.items():
        errors = [f"{error.json_path}: {error.message}" for error in validator.iter_errors(tomllib.loads(text))]
        assert not errors, f"{name}: {errors}"
        print(f"good: {name} passes")
    refused = left = 0
    for name, content in hostile():
        is_refused = not validator.is_valid(content)
        is_meant = bool(MEANING.fullmatch(name))
        assert is_refused != is_meant, f"{name}: {'refused' if is_refused else 'taken'} by the schema"
        refused, left = refused + is_refused, left + (not is_refused)
    print(f"good: {refused} hostile files are refused; {left} have faults of meaning, which only the reader finds")
    assert refused > 200
    print(f"{len(good) + 2} passed, 0 failed")


main()
