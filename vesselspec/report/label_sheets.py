"""Labels laid out on sheets: text as large as it fits and never cut, because half an address is another address."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Final

from vesselspec.draw.text import width
from vesselspec.report import html
from vesselspec.report.labels import Label, plain
from vesselspec.standards import figure

if TYPE_CHECKING:
    from markupsafe import Markup

_POINTS_PER_MM: Final = 72 / 25.4
_MARGIN_MM: Final = 2.0
#: Most printers leave this much of a sheet's edge white (common practice, no source).
_WHITE_EDGE_MM: Final = 5.0
#: Sizes of letters that are tried, in points: title and lines. What the smallest cannot hold is left out, and told.
_SIZES: Final = (
    (20.0, 10.0),
    (17.0, 9.5),
    (14.0, 9.0),
    (12.0, 8.5),
    (11.0, 8.0),
    (10.0, 7.5),
    (9.0, 7.0),
    (8.0, 6.5),
    (7.5, 6.0),
)
_LEADING: Final = 1.18
_BOLD: Final = 1.1
#: A code smaller than this is not read by a telephone held by hand (common practice, no source).
_LEAST_CODE_MM: Final = 14.0
_MOST_CODE_MM: Final = 26.0
#: After a space, but not before a unit or a short number; after what joins parts of an address.
_BREAKS: Final = re.compile(r"(?<= )(?!(?:[kmM]?(?:VA|A|V|W|Hz|Ah)|AWG|mm2|\d{1,2})\b)|(?<=[/_-])(?=\w{2})")


@dataclass(frozen=True)
class Grid:
    """How labels stand on a sheet of paper, in mm; the whole grid stands in the middle of the sheet."""

    id: str
    paper: str
    paper_width: float
    paper_height: float
    columns: int
    rows: int
    width: float
    height: float
    step_x: float
    step_y: float

    @property
    def places(self) -> int:
        """Labels on a sheet."""
        return self.columns * self.rows

    @property
    def margin_x(self) -> float:
        """Between a label's edge and its words, left and right: more where labels reach the edge of the paper."""
        return max(_MARGIN_MM, _WHITE_EDGE_MM - self.corner(0)[0])

    @property
    def margin_y(self) -> float:
        """The same above and below."""
        return max(_MARGIN_MM, _WHITE_EDGE_MM - self.corner(0)[1])

    def corner(self, place: int) -> tuple[float, float]:
        """The left and upper edge of a place, counted along the rows."""
        row, column = divmod(place, self.columns)
        left = (self.paper_width - (self.columns - 1) * self.step_x - self.width) / 2
        top = (self.paper_height - (self.rows - 1) * self.step_y - self.height) / 2
        return left + column * self.step_x, top + row * self.step_y


@cache
def grids() -> dict[str, Grid]:
    """The grids by id. Source: figures `label_grids` and `paper_sizes`."""
    papers = {row["paper"]: row for row in figure("paper_sizes").data["rows"]}
    return {
        row["grid"]: Grid(
            row["grid"],
            row["paper"],
            papers[row["paper"]]["width_mm"],
            papers[row["paper"]]["height_mm"],
            row["columns"],
            row["rows"],
            row["width_mm"],
            row["height_mm"],
            row["step_x_mm"],
            row["step_y_mm"],
        )
        for row in figure("label_grids").data["rows"]
    }


@dataclass(frozen=True)
class Set:
    """A label set in type: its lines broken, its sizes in points, and what it had no room for."""

    label: Label
    title: tuple[str, ...]
    lines: tuple[str, ...]
    title_pt: float
    line_pt: float
    code_mm: float
    left_out: tuple[str, ...]


def set_label(label: Label, grid: Grid) -> Set:
    """Set a label as large as its place allows. What has no room even in small letters is left out and told.

    A code gives way to words; of the lines the last go first.
    """
    largest = min(grid.height - 2 * grid.margin_y, _MOST_CODE_MM, grid.width / 2) if label.code else 0.0
    with_code = _set(label, grid, largest) if largest >= _LEAST_CODE_MM else None
    if with_code is not None and not with_code.left_out:
        return with_code
    without = _set(label, grid, 0.0)
    if with_code is not None and len(with_code.left_out) <= len(without.left_out):
        return with_code
    return replace(without, left_out=(*without.left_out, "its code")) if label.code else without


def _set(label: Label, grid: Grid, code_mm: float) -> Set:
    title, *lines = plain(label)
    room = (grid.width - 2 * grid.margin_x - (code_mm + 1.0 if code_mm else 0.0)) * _POINTS_PER_MM
    height = (grid.height - 2 * grid.margin_y) * _POINTS_PER_MM
    for kept in range(len(lines), -1, -1):
        for title_pt, line_pt in _SIZES:
            head = _broken(title, room / _BOLD, title_pt)
            rest = [_broken(line, room, line_pt) for line in lines[:kept]]
            if head is None or None in rest:
                continue
            body = tuple(part for parts in rest for part in parts or ())
            if (len(head) * title_pt + len(body) * line_pt) * _LEADING <= height:
                return Set(label, head, body, title_pt, line_pt, code_mm, tuple(lines[kept:]))
    return Set(label, (), (), 0, 0, 0, (title, *lines))


def _broken(text: str, room: float, size: float) -> tuple[str, ...] | None:
    """The text in lines that fit, broken only between words and parts of an address; None where a part is too wide."""
    done = [""]
    for piece in _BREAKS.split(text):
        if width((done[-1] + piece).rstrip(), size) <= room:
            done[-1] += piece
        elif width(piece.rstrip(), size) <= room:
            done.append(piece)
        else:
            return None
    return tuple(line.rstrip() for line in done)


def set_labels(labels: tuple[Label, ...], grid: Grid) -> tuple[Set, ...]:
    """Every label, set for this grid."""
    return tuple(set_label(label, grid) for label in labels)


def left_out(made: tuple[Set, ...]) -> Iterator[str]:
    """What the labels had no room for, a line each."""
    for each in made:
        if not each.title:
            yield f"{each.label.name}: too long for this grid; no label"
        elif each.left_out:
            yield f"{each.label.name}: no room for {'; '.join(each.left_out)}"


def sheets_html(title: str, stamp: str, made: tuple[Set, ...], grid: Grid, *, skip: int = 0) -> str:
    """The sheets as one page to print at its true size. `skip` places of the first sheet are used up already."""
    printed = [each for each in made if each.title]
    cells = [(*divmod(place, grid.places), each) for place, each in enumerate(printed, start=skip % grid.places)]
    sheets = [
        [
            {
                "left": left,
                "top": top,
                "set": each,
                "code": code(each.label.code) if each.code_mm else None,
            }
            for number, place, each in cells
            if number == sheet
            for left, top in (grid.corner(place),)
        ]
        for sheet in range(cells[-1][0] + 1 if cells else 0)
    ]
    return html.page(
        "labels.html",
        title=title,
        stamp=stamp,
        grid=grid,
        leading=_LEADING,
        sheets=sheets,
        left_out=list(left_out(made)),
    )


def code(said: str) -> Markup:
    """A two-dimensional code (ISO/IEC 18004) as SVG: black on white, with its quiet zone, scaled by the page."""
    import segno  # noqa: PLC0415 - only labels need it
    from markupsafe import Markup  # noqa: PLC0415

    drawn = segno.make_qr(said, error="m").svg_inline(border=4, dark="#000", light="#fff", omitsize=True)
    return Markup(drawn)  # noqa: S704 - made here of squares alone; the text is in none of it
