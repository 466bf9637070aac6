"""What taking in a list would add to a record, what it leaves out and why. Nothing is written here."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from vesselspec.sheets.mapping import Seating
from vesselspec.sheets.table import Grid, letters

#: What is said of a row or cell: a cell of which the field stays unknown, a row that is left out, an entry that is
#: in the record already and says something else, or a mere remark.
CELL, ROW, CONFLICT, TOLD = "cell", "row", "conflict", "told"


@dataclass(frozen=True)
class Remark:
    """Something about a row, or a cell of it, that whoever takes the list in must know."""

    weight: str
    row: int
    column: int | None
    heading: str
    text: str
    reason: str

    def place(self, grid: Grid) -> str:
        """Where: file, row, column."""
        return f"{grid.name}:{self.row}" + (f":{letters(self.column)}" if self.column else "")


@dataclass(frozen=True)
class Plan:
    """What a list would add. `entries` are ready to be written; `rows` says which row each came from."""

    kind: str
    grid: Grid
    seating: Seating
    entries: Mapping[str, Mapping[str, Any]]
    rows: Mapping[str, int]
    #: Ids that are in the record already and say the same.
    same: tuple[str, ...]
    remarks: tuple[Remark, ...]
    #: What must be settled before anything is written: reason and remedy.
    open: tuple[tuple[str, str], ...] = ()

    def of(self, *weights: str) -> tuple[Remark, ...]:
        """The remarks of some weights."""
        return tuple(each for each in self.remarks if each.weight in weights)


@dataclass(frozen=True)
class Origin:
    """How entries of a list are known that does not say it itself."""

    file: str
    on: datetime.date
    by: str | None = None
