"""Prints the features of a Cargo.toml, one a line (all but `default`)."""

import sys
import tomllib

with open(sys.argv[1], "rb") as file:
    for name in tomllib.load(file)["features"]:
        if name != "default":
            print(name)
