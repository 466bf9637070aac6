"""From the rows of a list to a plan: every cell read, every row an entry, the same as one, or left out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from vesselspec.model.forms import ID_PATTERN, matches, specs
from vesselspec.model.items import UNTRACED, Cable, Item
from vesselspec.model.vessel import SHARED_IDS, Vessel, build_item, class_of
from vesselspec.sheets.amounts import CellError
from vesselspec.sheets.cells import write
from vesselspec.sheets.fields import COLUMNS, column
from vesselspec.sheets.mapping import Seat, Seating, mapped
from vesselspec.sheets.mapping import plain as _plain
from vesselspec.sheets.names import plain as loosely
from vesselspec.sheets.names import slug
from vesselspec.sheets.plan import CELL, CONFLICT, ROW, TOLD, Origin, Plan, Remark
from vesselspec.sheets.rows import Row, Rows
from vesselspec.sheets.said import shorter, shown, typed
from vesselspec.sheets.table import Grid, SheetError, letters
from vesselspec.sheets.table import shown as cell_text

MOST_ENTRIES = 5000
_LONGEST_NOTE = 3900
#: First words of rows that are no entries.
_SUMS = frozenset(("total", "totals", "sum", "subtotal", "sub", "grand"))


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
        self.reader = Rows(kind, grid, vessel, seating)
        self.names = self.reader.names
        self.taken = {key: name for name in SHARED_IDS for key in vessel.collection(name)}
        self.once = {
            old: key for name in SHARED_IDS for key, item in vessel.collection(name).items() for old in item.formerly
        }
        self.ends = {
            frozenset((cable.from_, cable.to)): cable.id
            for cable in vessel.cables.values()
            if UNTRACED not in (cable.from_, cable.to)
        }
        self.says_evidence = any((seat.key or "").startswith("evidence.") for seat in seating.seats)

    def plan(self) -> Plan:
        entries: dict[str, dict[str, Any]] = {}
        rows: dict[str, int] = {}
        same: list[str] = []
        bare: dict[str, int] = {}
        for row in self.reader:
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
                    entries[key], rows[key] = raw, row.number
                    self._tell_unread(row)
                    self._tell_alike(key, row)
                    self._tell_coreless(key, raw, row)
            except _LeftOutError as error:
                seat = self.seating.seat(error.key)
                self._remark(CONFLICT if error.key == "=" else ROW, row.number, seat, error.reason)
            if len(entries) > MOST_ENTRIES:
                raise SheetError(f"{self.grid.name}: more than {MOST_ENTRIES} entries.", "Split the list.")
        for key, raw in entries.items():
            self._drop_dangling(raw, rows[key], entries)
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

    # --- from a row to an entry ------------------------------------------------------------------

    def _entry(self, row: Row) -> tuple[str, dict[str, Any]]:
        values = row.values
        key = self._id(row)
        if key in self.once and key not in self.taken:
            raise _LeftOutError(f"{key} is what {self.once[key]} was called; use its id of today", "id")
        if self.kind == "loads" and values.keys() <= {"id", "name"} and not row.unread and len(self.seating.seats) > 2:
            raise _LeftOutError("it has nothing but a name: it looks like a heading between the rows", "name")
        if _plain(values.get("name", values.get("id", ""))).split(" ")[0] in _SUMS:
            raise _LeftOutError("it looks like a sum", "name")
        raw = self._cable(row) if self.kind == "cables" else self._load(row, key)
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
                row.unread.append((seat, "only receptacles have it, and the row is none by its `kind`"))
        if self.kind == "cables":
            raw = shorter(self.vessel, raw, build_item(self.kind, key, raw))
        order = ["kind", *(each.key for each in COLUMNS[self.kind])]
        return key, {name: raw[name] for name in sorted(raw, key=lambda name: _place(order, name))}

    def _id(self, row: Row) -> str:
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
            found = self.names.called("loads", text) or slug(text)
            if device := self.names.called("devices", text):
                raise _LeftOutError(f"the record has it among its devices: {device}", "name")
        if not text:
            raise _LeftOutError("it has neither id nor name", "id")
        if not found:
            raise _LeftOutError("no id can be made of that; give the row one in a column `Id`", "name")
        return found

    def _load(self, row: Row, key: str) -> dict[str, Any]:
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
        there = self.vessel.loads.get(key)
        kind = row.values.get("kind", there.kind if there is not None else "load")
        return {} if kind == "load" else {"kind": kind}

    def _cable(self, row: Row) -> dict[str, Any]:
        values = row.values
        for unread, why in row.unread:
            if unread.key in ("from", "to"):
                raise _LeftOutError(f"{why}; no place is made up", unread.key)
        if "from" not in values:
            self._from_panel_and_way(row)
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

    def _from_panel_and_way(self, row: Row) -> None:
        """Take the from end out of two columns, where the row fills both."""
        said = [key for key in ("panel", "way") if key in row.values]
        if len(said) == 2:
            try:
                row.values["from"] = self.names.entry(("places",), f"{row.values['panel']} {row.values['way']}")
            except CellError as error:
                raise _LeftOutError(f"{error}; no way is made up", "way") from None
        elif said and (seat := self.seating.seat(said[0])) is not None:
            other = "way" if said == ["panel"] else "panel"
            row.unread.append((seat, f"its {other} is not said (a merged cell counts for its first row)"))

    # --- what is there already -------------------------------------------------------------------

    def _known_already(self, row: Row, key: str, raw: Mapping[str, Any]) -> None:
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

    def _differences(self, row: Row, there: Item, here: Item) -> Iterator[str]:
        keys = dict.fromkeys(key for key in row.values if key not in ("id", "panel", "way", "label"))
        if "label" in row.values:
            keys |= dict.fromkeys(("labels.from", "labels.to"))
        for key in keys:
            of = column(self.kind, key)
            old, new = typed(self.vessel, there, of), typed(self.vessel, here, of)
            if key == "note" and isinstance(old, str) and isinstance(new, str) and old.startswith(new):
                continue  # an earlier import has said there where it came from
            if key == "name" and isinstance(old, str) and isinstance(new, str) and loosely(old) == loosely(new):
                continue
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

    def _tell_unread(self, row: Row) -> None:
        for seat, why in row.unread:
            if seat.key not in row.bare:
                self._remark(CELL, row.number, seat, f"{why}; `{seat.key}` stays unknown")

    def _tell_alike(self, key: str, row: Row) -> None:
        """Tell of an entry of another id that may be the same thing."""
        values = row.values
        if self.kind == "cables" and {"from", "to"} <= values.keys():
            other = self.ends.get(frozenset((values["from"], values["to"])))
            if other is not None:
                said = f"{other} runs between the same places already; is {key} the same cable?"
                self._remark(TOLD, row.number, self.seating.seat("id"), said)
        elif self.kind == "loads" and "id" in values and "name" in values:
            other = self.names.called("loads", values["name"]) or self.names.called("devices", values["name"])
            if other not in (None, key):
                said = f"{other} has this name already; is {key} the same?"
                self._remark(TOLD, row.number, self.seating.seat("name"), said)

    def _tell_coreless(self, key: str, raw: Mapping[str, Any], row: Row) -> None:
        """A cable of which no core is known joins nothing in the eyes of every rule."""
        item = build_item(self.kind, key, dict(raw))
        if isinstance(item, Cable) and not self.vessel.cores_of(item):
            said = "neither its type nor its cores are said: nothing is traced through it until they are put in"
            self._remark(TOLD, row.number, None, said)

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

    def _drop_dangling(self, raw: dict[str, Any], number: int, entries: Mapping[str, Any]) -> None:
        """Take out a load's turns with a row that was left out after all."""
        others = [key for key in raw.get("alternates_with", ()) if key in self.taken or key in entries]
        if "alternates_with" in raw and others != raw["alternates_with"]:
            seat = self.seating.seat("alternates_with")
            self._remark(CELL, number, seat, "it names a row that is left out; `alternates_with` stays unknown")
            del raw["alternates_with"]

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
            raw["note"] = " ".join((*map(_sentence, notes[:-1]), notes[-1]))[:_LONGEST_NOTE]


def _sentence(text: str) -> str:
    """A cell's words with a full stop, as more is said behind them."""
    return text if text.rstrip().endswith((".", "!", "?", ":", ";")) else f"{text.rstrip()}."


def _place(order: list[str], name: str) -> int:
    """Where a field stands in the list's own order; a field with fields inside, where the first of those stands."""
    return next((at for at, key in enumerate(order) if key.partition(".")[0] == name), len(order))
