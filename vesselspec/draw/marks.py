"""What became of an item in a change, told by word and frame, never by colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from vesselspec.draw.markup import cell, row, table

WORDS: Final[Mapping[str, str]] = {"added": "+ added", "removed": "− removed", "changed": "≠ changed"}
LEGEND: Final = "+ added: thick frame and lines. − removed: dashed frame and lines. ≠ changed: double frame."


def framed(rows: Sequence[str], mark: str | None) -> str:
    """A box round some rows, with the mark's word as its last row."""
    if mark is None:
        return table(rows, border=1)
    marked = [*rows, row(cell([WORDS[mark]], heavy=True, border=1, sides="T", columns=3))]
    if mark == "changed":
        return table([row(cell(table(marked, border=1)))], border=1, spacing=3)
    return table(marked, border=4 if mark == "added" else 2, dashed=mark == "removed")


def line_look(mark: str | None) -> dict[str, str]:
    """Attributes of the lines of a marked cable."""
    if mark == "added":
        return {"penwidth": "3.5"}
    return {"penwidth": "2", "style": "dashed"} if mark == "removed" else {"penwidth": "2"}


def check(marks: Mapping[str, str]) -> None:
    """Raise ValueError for a mark that does not exist."""
    for item, mark in marks.items():
        if mark not in WORDS:
            raise ValueError(f"unknown mark {mark!r} of {item}; expected one of {', '.join(WORDS)}")
