"""Tables as values: what comes out of a spreadsheet, and what goes into one."""

from __future__ import annotations

import datetime
from dataclasses import dataclass


class SheetError(Exception):
    """A file that cannot be taken as a table; both sentences are for a terminal."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.reason, self.remedy = reason, remedy


@dataclass(frozen=True)
class Broken:
    """A cell that holds no value: an error, or a formula without a stored result."""

    reason: str


#: What a cell can hold. CSV gives text alone.
Value = str | int | float | bool | datetime.date | Broken | None


@dataclass(frozen=True)
class Grid:
    """A sheet as it was read: `rows[0]` is row 1 of the spreadsheet, and rows may differ in length."""

    #: How its cells are named in messages: the file, with the sheet where there are several.
    name: str
    rows: tuple[tuple[Value, ...], ...]
    #: How it was read, for the reader to agree with.
    notes: tuple[str, ...] = ()
    #: Whether it comes from where numbers have a decimal comma, so that a point may group thousands.
    commas: bool = False

    @property
    def columns(self) -> int:
        """The number of columns of its longest row."""
        return max(map(len, self.rows), default=0)

    def at(self, row: int, column: int) -> Value:
        """The value of a cell; row and column count from 1."""
        cells = self.rows[row - 1] if 0 < row <= len(self.rows) else ()
        return cells[column - 1] if column <= len(cells) else None


@dataclass(frozen=True)
class Table:
    """A sheet to be written. `name` is its title and, for CSV, the file's name."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str | int | float, ...], ...]


def letters(column: int) -> str:
    """The name that spreadsheets give to a column, from 1: A, B, … Z, AA."""
    name = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def shown(value: Value) -> str:
    """A cell's value as text."""
    match value:
        case None:
            return ""
        case Broken():
            return ""
        case bool():
            return "yes" if value else "no"
        case float():
            return digits(value)
        case datetime.datetime():
            return value.isoformat(" ", "minutes") if value.time() != datetime.time() else value.date().isoformat()
        case _:
            return str(value)


def digits(number: float) -> str:
    """A number without exponent and without the last digits, which binary arithmetic makes up."""
    text = f"{number:.12g}"
    return text if "e" not in text else f"{number:.9f}".rstrip("0").rstrip(".")
