"""What taking in a list would do, before it is done: terminal text and JSON."""

from __future__ import annotations

from typing import Any

from vesselspec.report.survey import FORMAT, Subject
from vesselspec.report.terminal import Page, one_line
from vesselspec.sheets.mapping import Seat
from vesselspec.sheets.plan import CELL, CONFLICT, ROW, TOLD, Plan, Remark
from vesselspec.sheets.table import letters

_TITLES = {
    CONFLICT: "In the record already, and different; the record stays as it is:",
    ROW: "Rows that are left out:",
    CELL: "Cells that are left out; the field stays unknown, and a new entry's note keeps the words:",
    TOLD: "To be known:",
}
_SHOWN = 30


def plan_text(page: Page, subject: Subject, plan: Plan, file: str, *, full: bool = False) -> str:
    """For a terminal: the columns first, then what would be added, and everything that would not."""
    grid = plan.grid
    page.wrapped(f"{grid.name}: a list of {plan.kind} for {subject.vessel}")
    page.wrapped(f"{'; '.join((*grid.notes, f'heading in row {plan.seating.row}'))}.")
    page.line()
    _columns(page, plan)
    if plan.open:
        page.line()
        page.line("To be settled first; until then nothing is written:")
        for reason, remedy in plan.open:
            page.wrapped(f"{reason}: {remedy}.", first="  - ", rest="    ")
    for weight, title in _TITLES.items():
        _remarks(page, plan, title, plan.of(weight), full=full)
    page.line()
    count = len(plan.entries)
    what = plan.kind if count != 1 else plan.kind.removesuffix("s")
    page.wrapped(f"{count} {what} would go into {file}." if count else "Nothing would be added.")
    if count:
        ids = list(plan.entries)
        more = "" if full or len(ids) <= _SHOWN else f" and {len(ids) - _SHOWN} more (--full lists all)"
        page.wrapped(", ".join(ids if full else ids[:_SHOWN]) + more, first="  ")
    if plan.same:
        page.wrapped(f"{len(plan.same)} in the record already and the same.")
    return page.text()


def _columns(page: Page, plan: Plan) -> None:
    taken = [(_named(seat), seat) for seat in plan.seating.seats]
    width = min(max((len(name) for name, _ in taken), default=0), 36)
    for name, seat in taken:
        if seat.column is None:
            page.wrapped(f"{name:<{width}}  is left out: {seat.why}", first="  ", rest="      ")
        else:
            dimension = seat.column.dimension
            unit = f" in {seat.unit}" if seat.unit else (" (unit in each cell)" if dimension is not None else "")
            page.wrapped(f"{name:<{width}}  is {seat.key}{unit}, {seat.why}", first="  ", rest="      ")


def _named(seat: Seat) -> str:
    return f"{letters(seat.number)} {one_line(seat.heading)[:60]}"


def _remarks(page: Page, plan: Plan, title: str, remarks: tuple[Remark, ...], *, full: bool) -> None:
    if not remarks:
        return
    page.line()
    page.line(title)
    alike: dict[tuple[int | None, str, str], list[Remark]] = {}
    for each in remarks:
        alike.setdefault((each.column, each.text, each.reason), []).append(each)
    groups = list(alike.values())
    for some in groups if full else groups[:_SHOWN]:
        first = some[0]
        text = f" {_quoted(first)}" if first.text.strip() else ""
        rows = ", ".join(str(each.row) for each in (some[1:] if full else some[1:9]))
        rows += "" if full or len(some) <= 9 else f" and {len(some) - 9} more"
        also = f" Also row{'s' if len(some) > 2 else ''} {rows}." if len(some) > 1 else ""
        page.wrapped(f"{first.place(plan.grid)}{text}: {first.reason}.{also}", first="  ", rest="      ")
    if not full and len(groups) > _SHOWN:
        page.wrapped(f"and {len(groups) - _SHOWN} more; --full lists all.", first="  ")


def _quoted(remark: Remark) -> str:
    text = one_line(remark.text.strip())
    text = text if len(text) <= 60 else f"{text[:59]}…"
    return f'{one_line(remark.heading)[:60]} "{text}"' if remark.heading else f'"{text}"'


def plan_json(subject: Subject, plan: Plan, file: str, *, written: bool) -> dict[str, Any]:
    """For machines: schema/import.schema.json."""
    return {
        **_head(subject, plan.kind),
        "source": plan.grid.name,
        "read": list(plan.grid.notes),
        "heading_row": plan.seating.row,
        "columns": [
            {
                "column": letters(seat.number),
                "heading": seat.heading,
                "field": seat.key,
                "unit": seat.unit,
                "why": seat.why,
            }
            for seat in plan.seating.seats
        ],
        "open": [{"reason": reason, "remedy": remedy} for reason, remedy in plan.open],
        "file": file,
        "added": [{"id": key, "row": plan.rows[key], "entry": dict(raw)} for key, raw in plan.entries.items()],
        "same": list(plan.same),
        "remarks": [
            {
                "weight": each.weight,
                "row": each.row,
                "column": letters(each.column) if each.column else None,
                "heading": each.heading,
                "text": each.text,
                "reason": each.reason,
            }
            for each in plan.remarks
        ],
        "written": written,
        "problems": [],
    }


def no_plan_json(subject: Subject, kind: str) -> dict[str, Any]:
    """The same where the list was not looked at."""
    return {**_head(subject, kind), "written": False, "problems": []}


def _head(subject: Subject, kind: str) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "kind": "import",
        "vessel": subject.vessel,
        "understood": True,
        "list": kind,
    }
