"""From the rows of a list to a plan: every cell read, every row an entry, the same as one, or left out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from vesselspec.model.forms import ID_PATTERN, matches, specs
from vesselspec.model.items import UNTRACED, Item
from vesselspec.model.vessel import SHARED_IDS, Vessel, build_item, class_of
from vesselspec.sheets.amounts import CellError, NoUnitError, has_decimal_comma
from vesselspec.sheets.cells import is_unknown, read, write
from vesselspec.sheets.fields import COLUMNS, Column, column
from vesselspec.sheets.mapping import Seat, Seating, mapped
from vesselspec.sheets.mapping import plain as _plain
from vesselspec.sheets.names import Names, slug
from vesselspec.sheets.plan import CELL, CONFLICT, ROW, TOLD, Origin, Plan, Remark
from vesselspec.sheets.said import shorter, shown, typed
from vesselspec.sheets.table import Grid, SheetError, Value, letters
from vesselspec.sheets.table import shown as cell_text

MOST_ENTRIES = 5000
_LONGEST_NOTE = 3900
#: Names of rows that are no entries.
_SUMS = frozenset(("total", "totals", "sum", "subtotal", "sub total", "grand total"))


@dataclass
class _Row:
    """A row while it is read: its values by field, and its cells that could not be read."""

    number: int
    values: dict[str, Any] = field(default_factory=dict)
    unread: list[tuple[Seat, str, str]] = field(default_factory=list)
    bare: list[str] = field(default_factory=list)


class _LeftOutError(Exception):
    """A row that cannot become an entry; the message says why."""

    def __init__(self, reason: str, key: str = "") -> None:
        super().__init__(reason)
        self.reason, self.key = reason, key


def plan(
    kind: str, grid: Grid, vessel: Vessel, origin: Origin, columns: Mapping[str, str], units: Mapping[str, str]
) -> Plan:
    """Work out what a list would add to a vessel. Raises SheetError where the list cannot be understood at all."""
    seating = mapped(kind, grid, columns, units)
    return _Planner(kind, grid, vessel, origin, seating).plan()


class _Planner:
    def __init__(self, kind: str, grid: Grid, vessel: Vessel, origin: Origin, seating: Seating) -> None:
        self.kind, self.grid, self.vessel, self.origin, self.seating = kind, grid, vessel, origin, seating
        self.remarks: list[Remark] = []
        self.names = Names(vessel, self._ids_to_come() if kind == "loads" else ())
        taken = [seat.number for seat in seating.seats if seat.column is not None and seat.column.dimension]
        texts = (cell for number in taken for cell in self._column(number) if isinstance(cell, str))
        self.commas = grid.commas or any(map(has_decimal_comma, texts))
        self.taken = {key: name for name in SHARED_IDS for key in vessel.collection(name)}
        self.says_evidence = any((seat.key or "").startswith("evidence.") for seat in seating.seats)

    def plan(self) -> Plan:
        entries: dict[str, dict[str, Any]] = {}
        rows: dict[str, int] = {}
        same: list[str] = []
        bare: dict[str, int] = {}
        for number in range(self.seating.row + 1, len(self.grid.rows) + 1):
            if all(is_unknown(cell) for cell in self.grid.rows[number - 1]):
                continue
            row = self._read(number)
            for key in row.bare:
                bare[key] = bare.get(key, 0) + 1
            try:
                key, raw = self._entry(row)
                if key in entries:
                    self._twice(key, rows[key], raw == entries[key])
                elif key in self.taken:
                    self._known_already(row, key, raw)
                    same.append(key)
                else:
                    entries[key], rows[key] = raw, number
                    self._tell_unread(row)
            except _LeftOutError as error:
                seat = self.seating.seat(error.key)
                self._remark(CONFLICT if error.key == "=" else ROW, number, seat, error.reason)
            if len(entries) > MOST_ENTRIES:
                raise SheetError(f"{self.grid.name}: more than {MOST_ENTRIES} entries.", "Split the list.")
        for key, raw in entries.items():
            self._origin(raw, rows[key])
        return Plan(
            self.kind,
            self.grid,
            self.seating,
            entries,
            rows,
            tuple(same),
            tuple(sorted(self.remarks, key=lambda each: (each.row, each.column or 0))),
            (*self.seating.open, *self._without_unit(bare)),
        )

    # --- reading a row ---------------------------------------------------------------------------

    def _column(self, number: int) -> Iterator[Value]:
        for row in range(self.seating.row + 1, len(self.grid.rows) + 1):
            yield self.grid.at(row, number)

    def _ids_to_come(self) -> set[str]:
        found = set()
        for key in ("id", "name"):
            seat = self.seating.seat(key)
            if seat is not None:
                texts = (cell_text(cell).strip() for cell in self._column(seat.number) if not is_unknown(cell))
                found |= {text if matches(ID_PATTERN, text) and key == "id" else slug(text) for text in texts}
                break
        return found - {""}

    def _read(self, number: int) -> _Row:
        row = _Row(number)
        for seat in self.seating.seats:
            if seat.column is None:
                continue
            cell = self.grid.at(number, seat.number)
            try:
                value = self._value(seat, seat.column, cell)
            except NoUnitError as error:
                row.bare.append(seat.column.key)
                row.unread.append((seat, cell_text(cell), str(error)))
            except CellError as error:
                row.unread.append((seat, cell_text(cell), str(error)))
            else:
                if value is not None:
                    row.values[seat.column.key] = value
        return row

    def _value(self, seat: Seat, field_: Column, cell: Value) -> Any:
        key = field_.key
        if key in ("id", "panel", "way"):
            return None if is_unknown(cell) else cell_text(cell).strip()
        if field_.collections and not is_unknown(cell):
            text = cell_text(cell)
            if isinstance(field_.form.schema().get("items"), dict):  # a list of references
                parts = [each for each in text.replace(";", ",").replace("\n", ",").split(",") if each.strip()]
                return [self.names.entry(field_.collections, each) for each in parts]
            return self.names.entry(field_.collections, text)
        return read(field_.form, cell, seat.unit, commas=self.commas)

    # --- from a row to an entry ------------------------------------------------------------------

    def _entry(self, row: _Row) -> tuple[str, dict[str, Any]]:
        values = row.values
        key = self._id(row)
        if self.kind == "loads" and values.keys() <= {"id", "name"} and not row.unread and len(self.seating.seats) > 2:
            raise _LeftOutError("it has nothing but a name: it looks like a heading between the rows", "name")
        if _plain(values.get("name", values.get("id", ""))) in _SUMS:
            raise _LeftOutError("it looks like a sum", "name")
        raw = self._cable(row) if self.kind == "cables" else self._load(row)
        for name, value in values.items():
            head, _, inner = name.partition(".")
            if head in ("id", "panel", "way", "from", "to", "labels", "label", "kind"):
                continue
            if inner:
                raw.setdefault(head, {})[inner] = value
            else:
                raw[head] = value
        if "evidence" in raw and "how" not in raw["evidence"]:
            del raw["evidence"]
            self._remark(TOLD, row.number, self.seating.seat("evidence.by"), "how it is known is not said; left out")
        known = {spec.key for _, spec in specs(class_of(self.kind, raw))}
        for name in [each for each in raw if each not in known and each != "kind"]:
            seat = self.seating.seat(name)
            del raw[name]
            if seat is not None:
                row.unread.append((seat, cell_text(self.grid.at(row.number, seat.number)), "only receptacles have it"))
        if self.kind == "cables":
            raw = shorter(self.vessel, raw, build_item(self.kind, key, raw))
        order = ["kind", *(each.key for each in COLUMNS[self.kind])]
        return key, {name: raw[name] for name in sorted(raw, key=lambda name: _place(order, name))}

    def _id(self, row: _Row) -> str:
        values = row.values
        if "id" in values:
            text = values["id"]
            found = text if matches(ID_PATTERN, text) else slug(text, keep_case=True)
            if found != text and found:
                self._remark(TOLD, row.number, self.seating.seat("id"), f"its id becomes {found}")
        elif self.kind == "cables":
            text = values.get("label") or values.get("labels.from") or values.get("name") or ""
            found = slug(text, keep_case=True)
        else:
            text = values.get("name", "")
            found = slug(text)
        if not text:
            raise _LeftOutError("it has neither id nor name", "id")
        if not found:
            raise _LeftOutError("no id can be made of that; give the row one in a column `Id`", "name")
        return found

    def _load(self, row: _Row) -> dict[str, Any]:
        way = " ".join(row.values[key] for key in ("panel", "way") if key in row.values)
        if "way" in row.values:
            seat = self.seating.seat("way")
            try:
                found = self.names.entry(("places",), way)
                self._remark(
                    TOLD, row.number, seat, f"{found} is on record; a cable joins it to the load: import the cable list"
                )
            except CellError as error:
                self._remark(TOLD, row.number, seat, f"{error}; no way is made up")
        return {"kind": "receptacles"} if row.values.get("kind") == "receptacles" else {}

    def _cable(self, row: _Row) -> dict[str, Any]:
        values = row.values
        for unread, _, why in row.unread:
            if unread.key in ("from", "to"):
                raise _LeftOutError(f"{why}; no place is made up", unread.key)
        if "from" not in values and {"panel", "way"} <= values.keys():
            try:
                values["from"] = self.names.entry(("places",), f"{values['panel']} {values['way']}")
            except CellError as error:
                raise _LeftOutError(f"{error}; no way is made up", "way") from None
        raw: dict[str, Any] = {}
        for end in ("from", "to"):
            if end not in values:
                seat = self.seating.seat(end)
                self._remark(TOLD, row.number, seat, f"nothing is said of it: the {end} end becomes `{UNTRACED}`")
            raw[end] = values.get(end, UNTRACED)
        labels = {end: values[f"labels.{end}"] for end in ("from", "to") if f"labels.{end}" in values}
        if "label" in values:
            raw["label"] = values["label"]
        elif len(set(labels.values())) == 1 and len(labels) == 2:
            raw["label"] = labels["from"]
            labels = {}
        if labels:
            raw["labels"] = labels
        return raw

    # --- what is there already -------------------------------------------------------------------

    def _known_already(self, row: _Row, key: str, raw: Mapping[str, Any]) -> None:
        """Hold a row to the entry of its id; says nothing if they agree."""
        where = self.taken[key]
        if where != self.kind:
            raise _LeftOutError(f"the record has {key} among its {where} already", "id")
        there = self.vessel.collection(self.kind)[key]
        here = build_item(self.kind, key, dict(raw))
        differences = list(self._differences(row, there, here))
        if differences:
            raise _LeftOutError(f"{key} is in the record and says otherwise: {'; '.join(differences)}", "=")
        self._tell_unread(row)

    def _differences(self, row: _Row, there: Item, here: Item) -> Iterator[str]:
        keys = dict.fromkeys(key for key in row.values if key not in ("id", "panel", "way", "label"))
        if "label" in row.values:
            keys |= dict.fromkeys(("labels.from", "labels.to"))
        for key in keys:
            of = column(self.kind, key)
            old, new = typed(self.vessel, there, of), typed(self.vessel, here, of)
            if key == "note" and isinstance(old, str) and isinstance(new, str) and old.startswith(new):
                continue  # an earlier import has said there where it came from
            if old != new:
                said = write(of.form, row.values[key]) if key in row.values else shown(of.form, new)
                yield f"{key} is {shown(of.form, old)} there and {said} here"

    def _twice(self, key: str, earlier: int, equal: bool) -> None:
        reason = "says the same" if equal else "gives the same id; give one of them another"
        raise _LeftOutError(f"row {earlier} {reason} ({key})", "id")

    # --- what is told ----------------------------------------------------------------------------

    def _remark(self, weight: str, row: int, seat: Seat | None, reason: str) -> None:
        number = seat.number if seat is not None else None
        text = cell_text(self.grid.at(row, number)) if number is not None else ""
        self.remarks.append(Remark(weight, row, number, seat.heading if seat is not None else "", text, reason))

    def _tell_unread(self, row: _Row) -> None:
        for seat, _, why in row.unread:
            if seat.key not in row.bare:
                self._remark(CELL, row.number, seat, f"{why}; `{seat.key}` stays unknown")

    def _without_unit(self, bare: Mapping[str, int]) -> Iterator[tuple[str, str]]:
        for key, count in bare.items():
            seat = self.seating.seat(key)
            if seat is None:
                continue
            example = {"length": "ft", "size": "AWG", "current": "A", "power": "W"}.get(key, "UNIT")
            cells = "1 bare number" if count == 1 else f"{count} bare numbers"
            yield (
                f"column {letters(seat.number)} ({seat.heading}) has no unit for {cells}; none is guessed",
                f"say what it is, such as --unit {key}={example}, or leave the column out: --column '{seat.heading}='",
            )

    def _origin(self, raw: dict[str, Any], number: int) -> None:
        """Say in a new entry how it is known, and keep the words of the cells that could not be read."""
        notes = [raw["note"]] if "note" in raw else []
        if not self.says_evidence:
            raw["evidence"] = {
                "how": "documented",
                **({"by": self.origin.by} if self.origin.by is not None else {}),
                "when": self.origin.on.isoformat(),
            }
            notes.append(f"From {self.origin.file}, row {number}.")
        lost = [each for each in self.remarks if each.row == number and each.weight == CELL and each.text.strip()]
        notes += [f'Not understood there: {each.heading} "{each.text.strip()}".' for each in lost]
        if notes:
            raw["note"] = " ".join(notes)[:_LONGEST_NOTE]


def _place(order: list[str], name: str) -> int:
    """Where a field stands in the list's own order; a field with fields inside, where the first of those stands."""
    return next((at for at, key in enumerate(order) if key.partition(".")[0] == name), len(order))
