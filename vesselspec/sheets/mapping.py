"""Which column of a list is which field: found by its heading, told before anything is done, and set by the user."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from vesselspec.sheets.amounts import unit_of, units_of
from vesselspec.sheets.fields import COLUMNS, HEADINGS, Column, column
from vesselspec.sheets.table import Grid, SheetError, Value, letters, shown

#: Rows in which the heading is looked for; titles and notes stand above it.
_SEARCHED = 40
_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
#: Words in brackets that change nothing about what the column holds.
_HARMLESS = frozenset(("one way", "each", "per item", "if known", "optional", "rated", "nominal", "max"))
_COLUMN_NAME = re.compile(r"column ([A-Z]{1,3})\Z", re.IGNORECASE)


@dataclass(frozen=True)
class Seat:
    """A column of the list and what is made of it."""

    number: int
    heading: str
    #: The field; None where the column is left out.
    column: Column | None = None
    unit: str | None = None
    #: How that was decided, or why it is left out.
    why: str = ""

    @property
    def key(self) -> str | None:
        """The field's name."""
        return self.column.key if self.column is not None else None


@dataclass(frozen=True)
class Seating:
    """The heading's rows, and every column in its order."""

    #: The last row of the heading; what follows are entries.
    row: int
    seats: tuple[Seat, ...]
    #: What must be settled before anything can be written: reason and remedy.
    open: tuple[tuple[str, str], ...] = ()

    def seat(self, key: str) -> Seat | None:
        """The column of a field."""
        return next((each for each in self.seats if each.key == key), None)


def plain(text: str) -> str:
    """A heading without capitals, signs and double blanks; `#` and `№` are `no`."""
    flat = unicodedata.normalize("NFKC", text.replace("#", " no ").replace("№", " no ")).casefold()
    words = "".join(char if char.isalnum() or char in "/²" else " " for char in flat.replace("'", ""))
    return " ".join(words.split())


def proposed(kind: str, number: int, heading: str) -> Seat:
    """What a heading alone says about its column."""
    base, unit, odd = _parts(heading)
    refused = HEADINGS[kind].refused
    why = refused.get(base) or refused.get(plain(heading.partition(":")[0]))
    if why:
        return Seat(number, heading, why=why.replace("HEADING", heading))
    found = _known(kind, base)
    if found is None and " " in base:  # a unit as the last word
        head, _, tail = base.rpartition(" ")
        found = _known(kind, head.removesuffix(" in"))
        if found is not None:
            unit = unit or tail
    if found is None:
        return Seat(number, heading, why="no field is known under this heading")
    field, own = found
    dimension = field.dimension
    stated = unit_of(dimension, unit) if dimension is not None and unit else None
    if unit and stated is None and plain(unit) not in _HARMLESS:
        hint = f"set --column '{heading}={field.key}' if that is what it holds"
        return Seat(number, heading, why=f"it may be `{field.key}`, but {unit!r} beside it is not understood; {hint}")
    if odd:
        return Seat(number, heading, why=odd)
    if stated and own and stated != own:
        return Seat(number, heading, why=f"its heading states {own} and {stated}")
    return Seat(number, heading, field, stated or own, "by its heading")


def mapped(kind: str, grid: Grid, columns: Mapping[str, str], units: Mapping[str, str]) -> Seating:
    """Find the heading and say what every column is.

    `columns` are the user's own words: heading, or `column E`, to field; an empty field leaves the column out.
    `units` gives the unit of a field whose heading states none. Raises SheetError where that cannot be done at all.
    """
    row, headings = heading_row(kind, grid, columns)
    seats = [proposed(kind, number, heading) for number, heading in enumerate(headings, 1) if heading]
    numbers = {each.number for each in seats}
    for name, key in columns.items():
        at = _named(name, seats)
        if at not in numbers:
            seats.append(Seat(at, ""))
        seats = [_set(kind, each, key) if each.number == at else each for each in seats]
    own = {each.key for each in seats if each.key is not None and each.why.startswith("set ")}
    seats = [
        Seat(each.number, each.heading, why=f"another column was set to be `{each.key}`")
        if each.key in own and not each.why.startswith("set ")
        else each
        for each in sorted(seats, key=lambda each: each.number)
    ]
    seats = _ways_settled(kind, seats)
    seats, problems = _with_units(kind, seats, units)
    return Seating(row, tuple(seats), (*_doubled(seats), *_lacking(kind, seats), *problems))


def heading_row(kind: str, grid: Grid, columns: Mapping[str, str] | None = None) -> tuple[int, tuple[str, ...]]:
    """The last row of the heading and its texts. Raises SheetError where no row looks like one."""
    said = {plain(name) for name in columns or {}}
    best, most, headings = 0, 0, []
    for row in range(1, min(len(grid.rows), _SEARCHED) + 1):
        texts = [each for each in grid.rows[row - 1] if isinstance(each, str) and each.strip()]
        if not any(_counts(kind, text, said) for text in texts):
            continue
        merged = _with_above(kind, grid, row, said)
        known = sum(_counts(kind, text, said) for text in merged)
        if known > most and known >= min(2, len(texts)):
            best, most, headings = row, known, merged
    if not best:
        raise SheetError(
            f"{grid.name}: no row looks like the heading of a list of {kind}.",
            f"Give each column a heading, such as {', '.join(_some(kind))}, or name them: --column 'HEADING=FIELD'.",
        )
    if _is_units(grid, best + 1):
        beneath = [_text(grid.at(best + 1, number)).strip("()[] ") for number in range(1, grid.columns + 1)]
        headings = [f"{own} ({unit})" if own and unit else own for own, unit in zip(headings, beneath, strict=True)]
        best += 1
    return best, tuple(headings)


def _with_above(kind: str, grid: Grid, row: int, said: set[str]) -> list[str]:
    """The texts of a row; an empty cell has the heading above it, as cells that are merged downwards do."""
    own = [_text(grid.at(row, number)) for number in range(1, grid.columns + 1)]
    above = [_text(grid.at(row - 1, number)) if row > 1 else "" for number in range(1, grid.columns + 1)]
    return [text or (up if _counts(kind, up, said) else "") for text, up in zip(own, above, strict=True)]


def score(kind: str, grid: Grid) -> int:
    """How many columns of a sheet are known fields; 0 where it is no such list."""
    try:
        _, headings = heading_row(kind, grid)
    except SheetError:
        return 0
    return sum(proposed(kind, 1, heading).column is not None for heading in headings if heading)


def _text(value: Value) -> str:
    return " ".join(shown(value).split())


def _counts(kind: str, text: str, said: set[str]) -> bool:
    return bool(text) and (plain(text) in said or proposed(kind, 1, text).column is not None)


def _is_units(grid: Grid, row: int) -> bool:
    """Whether a row holds nothing but units: the second half of a heading."""
    texts = [_text(each).strip("()[] ") for each in (grid.rows[row - 1] if row <= len(grid.rows) else ())]
    texts = [each for each in texts if each]
    dimensions = ("current", "voltage", "power", "apparent-power", "length", "temperature", "size")
    return bool(texts) and all(any(unit_of(each, text) for each in dimensions) for text in texts)


def _parts(heading: str) -> tuple[str, str, str]:
    """The words of a heading, what stands in brackets, and why it cannot be taken, if so."""
    inside = _BRACKETS.search(heading)
    unit = inside[1].strip() if inside else ""
    base = plain(_BRACKETS.sub(" ", heading))
    there_and_back = {"round trip", "both ways", "there and back", "return", "total", "loop"}
    odd = "the record's length is one way, and this one seems to be there and back"
    return base, unit, odd if plain(unit) in there_and_back else ""


def _known(kind: str, base: str) -> tuple[Column, str | None] | None:
    if not base:
        return None
    for each in COLUMNS[kind]:
        if base in (plain(each.title), plain(each.key.replace("_", " ").replace(".", " "))):
            return each, None
    known = HEADINGS[kind].known.get(base)
    return (column(kind, known.key), known.unit) if known is not None else None


def _named(name: str, seats: Sequence[Seat]) -> int:
    """The number of the column that the user means."""
    found = [each.number for each in seats if plain(each.heading) == plain(name)]
    if len(found) == 1:
        return found[0]
    if len(found) > 1:
        which = " or ".join(f"`column {letters(each)}`" for each in found)
        raise SheetError(f"--column {name!r}: {len(found)} columns have this heading.", f"Say {which} instead.")
    if lettered := _COLUMN_NAME.match(name.strip()):
        number = 0
        for char in lettered[1].upper():
            number = number * 26 + ord(char) - ord("A") + 1
        return number
    headings = ", ".join(each.heading for each in seats)
    raise SheetError(f"--column {name!r}: no column has this heading.", f"Headings: {headings}; or say `column E`.")


def _set(kind: str, seat: Seat, key: str) -> Seat:
    if not key:
        return Seat(seat.number, seat.heading, why="set to be left out")
    try:
        field = column(kind, key)
    except KeyError:
        fields = ", ".join(each.key for each in COLUMNS[kind])
        raise SheetError(f"--column: a list of {kind} has no field {key!r}.", f"Fields: {fields}.") from None
    stated = unit_of(field.dimension, _parts(seat.heading)[1]) if field.dimension is not None else None
    if stated is None and field.dimension is not None:
        known = _known(kind, _parts(seat.heading)[0])
        last = plain(seat.heading).rpartition(" ")[2]
        own = known[1] if known is not None and known[0].key == key else None
        stated = own or unit_of(field.dimension, last)
    return Seat(seat.number, seat.heading, field, stated, "set by --column")


def _ways_settled(kind: str, seats: Sequence[Seat]) -> list[Seat]:
    """Say what columns of panels and ways are good for: a load holds none, a cable may have its start from them."""
    starts = any(seat.key == "from" for seat in seats)
    found = []
    for seat in seats:
        told = seat
        if seat.key in ("panel", "way") and kind == "loads":
            told = replace(seat, why=f"{seat.why}; only looked up, for a cable is what joins a load to a way")
        elif seat.key in ("panel", "way") and starts:
            told = Seat(seat.number, seat.heading, why="another column says where the cables start")
        found.append(told)
    return found


def _with_units(kind: str, seats: Sequence[Seat], units: Mapping[str, str]) -> tuple[list[Seat], list[tuple[str, str]]]:
    found, problems = list(seats), []
    for key, said in units.items():
        try:
            dimension = column(kind, key).dimension
        except KeyError:
            dimension = None
        if dimension is None:
            fields = ", ".join(each.key for each in COLUMNS[kind] if each.dimension is not None)
            raise SheetError(f"--unit: {key!r} of {kind} is no field with a unit.", f"Fields: {fields}.")
        unit = unit_of(dimension, said)
        if unit is None:
            raise SheetError(f"--unit: {said!r} is no unit of {key}.", f"Units: {', '.join(units_of(dimension))}.")
        for at, seat in enumerate(found):
            if seat.key != key:
                continue
            if seat.unit not in (None, unit):
                problems.append(
                    (
                        f"the heading {seat.heading!r} states {seat.unit}, and --unit says {unit}",
                        "leave --unit out, or correct the heading",
                    )
                )
            found[at] = Seat(seat.number, seat.heading, seat.column, unit, f"{seat.why}; its unit by --unit")
    return found, problems


def _doubled(seats: Sequence[Seat]) -> list[tuple[str, str]]:
    found: dict[str, list[Seat]] = {}
    for seat in seats:
        if seat.key is not None:
            found.setdefault(seat.key, []).append(seat)
    return [
        (
            f"`{key}` could be {' or '.join(f'column {letters(each.number)} ({each.heading})' for each in some)}",
            f"choose one: --column 'column {letters(some[0].number)}={key}'",
        )
        for key, some in found.items()
        if len(some) > 1
    ]


def _lacking(kind: str, seats: Sequence[Seat]) -> list[tuple[str, str]]:
    keys = {seat.key for seat in seats}
    lacking = []
    if kind == "loads" and not keys & {"id", "name"}:
        lacking.append(("no column names the loads", "set one: --column 'HEADING=name'"))
    if kind == "cables":
        if not keys & {"id", "label", "labels.from", "name"}:
            lacking.append(("no column holds the cables' ids or labels", "set one: --column 'HEADING=id'"))
        if "from" not in keys and not {"panel", "way"} <= keys:
            lacking.append(
                ("no column says where the cables start", "set one: --column 'HEADING=from', or `panel` and `way`")
            )
        if "to" not in keys:
            lacking.append(("no column says where the cables end", "set one: --column 'HEADING=to'"))
    return lacking


def _some(kind: str) -> tuple[str, ...]:
    return ("Name", "Power (W)", "Space") if kind == "loads" else ("Id", "From", "To", "Size", "Length (m)")
