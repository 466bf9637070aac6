"""What a record can lack: each kind with the words rules use for it, how to find it out, and what to beware of.

The one place that maps a rule's `missing` words to a kind; the table is missing.toml.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

#: The kind of words that the table does not know.
OTHER = "other"


@dataclass(frozen=True)
class Kind:
    """A kind of missing thing. `caution` may be empty."""

    key: str
    title: str
    how: str
    caution: str
    phrases: tuple[str, ...]


@cache
def kinds() -> tuple[Kind, ...]:
    """Every kind, in the order in which they are tried; the last takes everything."""
    with Path(__file__).with_name("missing.toml").open("rb") as file:
        table = tomllib.load(file)
    return tuple(
        Kind(key, each["title"], each["how"], each.get("caution", ""), tuple(each["phrases"]))
        for key, each in table.items()
    )


@cache
def kind_of(missing: str) -> Kind:
    """The kind of what a rule calls missing: an exact phrase before one with `*`, and `other` for what is unknown."""
    for kind in kinds():
        if missing in kind.phrases:
            return kind
    return next(kind for kind in kinds() if any(_fits(phrase, missing) for phrase in kind.phrases))


def _fits(phrase: str, missing: str) -> bool:
    return re.fullmatch(".*".join(map(re.escape, phrase.split("*"))), missing, re.DOTALL) is not None
