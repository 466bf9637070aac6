"""Which lines of a panel go on which sheet, by how tall they will be."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from vesselspec.draw.rows import Line, Part
from vesselspec.draw.sheet import PAGE_HEIGHT

#: Room for the heading, the panel's own head and the column titles, in points.
HEADINGS: Final = 118
#: Room for a section's head.
SECTION: Final = 24


@dataclass(frozen=True)
class Extent:
    """How tall something is, in points: in the table, and in the references beside it."""

    rows: float
    beside: float = 0

    def __add__(self, other: Extent) -> Extent:
        return Extent(self.rows + other.rows, self.beside + other.beside)

    @property
    def fits(self) -> bool:
        """Whether it fits on a sheet."""
        return max(self.rows, self.beside) <= PAGE_HEIGHT - HEADINGS


Measure = Callable[[Line], Extent]


def paged(parts: tuple[Part, ...], measure: Measure) -> tuple[tuple[Part, ...], ...]:
    """Deal the sections out to sheets. A section stays whole where it fits on a sheet of its own."""
    sheets: list[list[Part]] = [[]]
    used = Extent(0)
    for part in parts:
        whole = _height(part, measure)
        if sheets[-1] and not (used + whole).fits and (whole.fits or not (used + Extent(SECTION * 4)).fits):
            sheets.append([])
            used = Extent(0)
        for piece in _pieces(part, used, measure):
            tall = _height(piece, measure)
            if sheets[-1] and not (used + tall).fits:
                sheets.append([])
                used = Extent(0)
            sheets[-1].append(piece)
            used += tall
    return tuple(tuple(sheet) for sheet in sheets if sheet)


def _height(part: Part, measure: Measure) -> Extent:
    return sum((measure(line) for line in part.lines), Extent(SECTION))


def _pieces(part: Part, used: Extent, measure: Measure) -> Iterator[Part]:
    """A section in pieces, of which the first fits beside what is used already and each other on a sheet."""
    lines: list[Line] = []
    total = used + Extent(SECTION)
    for line in part.lines:
        tall = measure(line)
        if lines and not (total + tall).fits:
            yield replace(part, lines=tuple(lines))
            lines, total = [], Extent(SECTION)
        lines.append(line)
        total += tall
    yield replace(part, lines=tuple(lines))
