"""Labels as lists: for a terminal, for a page, for programs, and as strips of shrink tube."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable
from typing import Any

from vesselspec.report.label_sheets import Grid, Set, left_out
from vesselspec.report.labels import CABLE, KINDS, Label, plain
from vesselspec.report.markdown import escape, quoted
from vesselspec.report.terminal import CAUTIONS, Page

TRACE_FIRST = "A label says what the record says: trace the cable or way and compare before you put it on."


def labels_text(page: Page, title: str, stamp: str, made: tuple[Set, ...]) -> str:
    """For a terminal: each label on a line, under the place where it belongs."""
    page.wrapped(title)
    page.wrapped(stamp)
    page.line()
    at = None
    for each in made:
        if each.label.at != at:
            at = each.label.at
            page.wrapped(at, rest="    ")
        head, *lines = plain(each.label)
        page.wrapped(f"[{each.label.kind}] {' | '.join((head, *lines))}", first="  ", rest="      ")
    page.line()
    page.wrapped(counted(made))
    for line in left_out(made):
        page.wrapped(f"- {line}", rest="  ")
    page.line()
    for caution in (TRACE_FIRST, *CAUTIONS):
        page.wrapped(caution)
    return page.text()


def labels_markdown(title: str, stamp: str, made: tuple[Set, ...]) -> str:
    """The same as a table to tick off."""
    lines = [f"# {escape(title)}", "", escape(stamp), "", *quoted((TRACE_FIRST, *CAUTIONS)), ""]
    lines += ["| done | where | on | says |", "|---|---|---|---|"]
    lines += [
        f"| [ ] | {escape(each.label.at)} | {escape(each.label.name)} | {escape(' | '.join(plain(each.label)))} |"
        for each in made
    ]
    lines += ["", counted(made), "", *(f"- {escape(line)}" for line in left_out(made))]
    return "\n".join(lines).rstrip() + "\n"


def labels_json(state: str, grid: str, made: tuple[Set, ...]) -> dict[str, Any]:
    """For programs: `schema/labels.schema.json`."""
    return {
        "format": 1,
        "kind": "labels",
        "state": state,
        "grid": grid,
        "labels": [
            {
                "kind": each.label.kind,
                "item": each.label.item,
                "end": each.label.end or None,
                "at": each.label.at,
                "title": each.label.title,
                "lines": list(each.label.lines),
                "code": each.label.code or None,
                "left_out": list(each.left_out),
            }
            for each in made
        ],
        "cautions": [TRACE_FIRST, *CAUTIONS],
    }


def strips_csv(labels: Iterable[Label]) -> str:
    """Strips of shrink tube for the ends of cables, a row each (RFC 4180): what to print, and where it belongs."""
    text = io.StringIO(newline="")
    rows = csv.writer(text)
    rows.writerow(("strip", "cable", "end", "at", "line 2", "line 3", "line 4"))
    for label in labels:
        if label.kind == CABLE:
            title, *lines = (_cell(line) for line in plain(label))
            rows.writerow((title, _cell(label.item), label.end, _cell(label.at), *(lines + [""] * 3)[:3]))
    return text.getvalue()


def _cell(text: str) -> str:
    """Text for a cell: an apostrophe before what a spreadsheet would take for a formula."""
    return f"'{text}" if text.lstrip().startswith(("=", "+", "-", "@")) else text


def grids_text(page: Page, grids: Iterable[Grid]) -> str:
    """The grids that there are."""
    for grid in grids:
        size = f"{grid.width:g} by {grid.height:g} mm"
        page.line(f"{grid.id:<12} {grid.columns} by {grid.rows} labels of {size} on {grid.paper}")
    page.wrapped("Measure yours and print one sheet on plain paper first: sheets of other makers differ.")
    return page.text()


def counted(made: tuple[Set, ...]) -> str:
    """How many of which kind."""
    numbers = Counter(each.label.kind for each in made)
    return f"{len(made)} labels: " + (", ".join(f"{numbers[kind]} {kind}" for kind in KINDS if numbers[kind]) or "none")
