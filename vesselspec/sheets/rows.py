"""The rows of a list, cell by cell: what each says by field, and what of it cannot be understood."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from vesselspec.model.forms import ID_PATTERN, ListOf, matches
from vesselspec.model.vessel import Vessel
from vesselspec.sheets.amounts import CellError, NoUnitError, has_decimal_comma
from vesselspec.sheets.cells import is_unknown, read
from vesselspec.sheets.fields import Column
from vesselspec.sheets.mapping import Seat, Seating
from vesselspec.sheets.names import Names, slug
from vesselspec.sheets.table import Broken, Grid, Value
from vesselspec.sheets.table import shown as cell_text


@dataclass
class Row:
    """A row: its values by field as the record writes them, and its cells that could not be read, with why."""

    number: int
    values: dict[str, Any] = field(default_factory=dict)
    unread: list[tuple[Seat, str]] = field(default_factory=list)
    #: Fields of which the cell is a bare number, and the column has no unit.
    bare: list[str] = field(default_factory=list)


class Rows:
    """Reads the rows under a heading; `names` is what their references are looked up in."""

    def __init__(self, kind: str, grid: Grid, vessel: Vessel, seating: Seating) -> None:
        self._grid, self._seating = grid, seating
        self.names = Names(vessel, self._coming() if kind == "loads" else {})
        measured = [seat.number for seat in seating.seats if seat.column is not None and seat.column.dimension]
        texts = (grid.at(row, number) for number in measured for row in self._numbers())
        self._commas = grid.commas or any(isinstance(text, str) and has_decimal_comma(text) for text in texts)

    def __iter__(self) -> Iterator[Row]:
        """Every row that says anything and does not repeat the heading, as the next page of a list may."""
        heading = [seat.heading for seat in self._seating.seats]
        for number in self._numbers():
            cells = self._grid.rows[number - 1]
            if all(is_unknown(cell) for cell in cells):
                continue
            if [cell_text(self._grid.at(number, seat.number)) for seat in self._seating.seats] != heading:
                yield self._read(number)

    def _numbers(self) -> range:
        return range(self._seating.row + 1, len(self._grid.rows) + 1)

    def _coming(self) -> dict[str, str]:
        """The ids that the rows of a load list will have, with their names: one load may take turns with another."""
        found = {}
        for number in self._numbers():
            id_, name = (
                cell_text(self._grid.at(number, seat.number)).strip() if seat is not None else ""
                for seat in map(self._seating.seat, ("id", "name"))
            )
            key = id_ if matches(ID_PATTERN, id_) else slug(id_, keep_case=True) or slug(name)
            if key:
                found[key] = name or key
        return found

    def _read(self, number: int) -> Row:
        row = Row(number)
        for seat in self._seating.seats:
            if seat.column is None:
                continue
            cell = self._grid.at(number, seat.number)
            try:
                value = self._value(seat, seat.column, cell)
            except NoUnitError as error:
                row.bare.append(seat.column.key)
                row.unread.append((seat, str(error)))
            except CellError as error:
                row.unread.append((seat, str(error)))
            else:
                if value is not None:
                    row.values[seat.column.key] = value
        return row

    def _value(self, seat: Seat, field_: Column, cell: Value) -> Any:
        if isinstance(cell, Broken):
            raise CellError(cell.reason)
        if field_.key in ("id", "panel", "way"):
            return None if is_unknown(cell) else cell_text(cell).strip()
        if field_.collections and not is_unknown(cell):
            text = cell_text(cell)
            if isinstance(field_.form, ListOf):
                parts = [each for each in text.replace(";", ",").replace("\n", ",").split(",") if each.strip()]
                return [self.names.entry(field_.collections, each) for each in parts]
            return self.names.entry(field_.collections, text)
        return read(field_.form, cell, seat.unit, commas=self._commas)
