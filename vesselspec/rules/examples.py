"""What `explain` adds to a rule: lines of a record that it finds fault with, the same lines mended, its figures.

All of it stands in examples.toml.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

#: What the lines of an example are laid over.
BOAT, NOTHING = "boat", "nothing"
INTERNATIONAL, PLASTIC = "nothing, of international practice", "nothing, with a hull of plastic"


@dataclass(frozen=True)
class Example:
    """What is wrong in `bad`, and `good` in which it is mended. Where none fits on a page, `none` says why.

    `figures` are the ids of the published figures that the rule decides by.
    """

    about: str
    on: str
    bad: str
    good: str
    none: str = ""
    figures: tuple[str, ...] = ()


@cache
def examples() -> dict[str, Example]:
    """The example of every rule, by its id. Raises ValueError where what is to be mended is not there."""
    with Path(__file__).with_name("examples.toml").open("rb") as file:
        table = tomllib.load(file)
    found = {}
    for rule, each in table.items():
        if "none" in each:
            found[rule] = Example("", "", "", "", each["none"])
            continue
        bad = good = each["bad"]
        for old, new in each["mend"]:
            if good.count(old) != 1:
                raise ValueError(f"the example of {rule} has {old!r} {good.count(old)} times")
            good = good.replace(old, new)
        found[rule] = Example(each["about"], each.get("on", BOAT), bad, good, figures=tuple(each.get("figures", ())))
    return found
