"""Published figures, each with its source, read from the data files beside this module on first use."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

SUBJECTS: Final = (
    "ampacity",
    "protection",
    "colours",
    "conductors",
    "signs",
    "loads",
    "continuous",
    "tripping",
    "isolation",
    "shock",
    "paper",
)
"""The data files, in the order in which they are searched."""


@dataclass(frozen=True)
class Figure:
    """One published figure or table.

    `copies` is how many public copies were read; `from_memory` says that the figure, or a part that decides,
    was read in none. `edition` and `note` may be empty. `data` holds all the rest, frozen: a table is `rows`.
    """

    id: str
    title: str
    source: str
    edition: str
    copies: int
    from_memory: bool
    note: str
    data: Mapping[str, Any]


def cited(source: str, from_memory: bool, words: str = "from memory") -> str:
    """A source as a reader meets it: what is from memory says so, once."""
    return f"{source} ({words})" if from_memory and "from memory of" not in source else source


_NORTH_AMERICAN = ("CFR", "ABYC", "NFPA")
_ELSEWHERE = ("IEC", "ISO", "EN ", "BS ", "IMO", "common practice", "this program")


def abroad(source: str, practice: str) -> str:
    """A source as it is told under a practice: a North American rule says why it is applied to another boat."""
    own = any(word in source for word in _NORTH_AMERICAN) and not any(word in source for word in _ELSEWHERE)
    if practice == "north-american" or not own:
        return source
    return f"{source}; North American, applied for want of a recorded international rule"


@cache
def figure(figure_id: str) -> Figure:
    """The figure of that id. Raises KeyError, naming the id, if there is none."""
    for subject in SUBJECTS:
        found = figures(subject).get(figure_id)
        if found is not None:
            return found
    raise KeyError(f"no published figure has the id {figure_id!r}")


@cache
def figures(subject: str) -> Mapping[str, Figure]:
    """All figures of one data file by id, in its order. Raises FileNotFoundError for an unknown subject."""
    with Path(__file__).with_name(f"{subject}.toml").open("rb") as file:
        tables = tomllib.load(file)
    return MappingProxyType({figure_id: _figure(figure_id, table) for figure_id, table in tables.items()})


def _figure(figure_id: str, table: dict[str, Any]) -> Figure:
    return Figure(
        id=figure_id,
        title=table.pop("title"),
        source=table.pop("source"),
        edition=table.pop("edition", ""),
        copies=table.pop("copies"),
        from_memory=table.pop("from_memory"),
        note=table.pop("note", ""),
        data=_frozen(table),
    )


def _frozen(value: Any) -> Any:
    if isinstance(value, dict):
        return MappingProxyType({key: _frozen(item) for key, item in value.items()})
    if isinstance(value, list):
        return tuple(_frozen(item) for item in value)
    return value
