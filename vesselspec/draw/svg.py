"""Strokes and words as SVG: every word is escaped here, every number is a number."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from html import escape
from typing import Final

from vesselspec.draw.ink import CASING
from vesselspec.draw.text import clean, width

_FACE: Final = "Liberation Sans,Arial,Helvetica,sans-serif"
_BOLD: Final = 1.08


class Canvas:
    """A picture being drawn, from behind to the front. Units are points on paper."""

    def __init__(self) -> None:
        self._out: list[str] = []

    def line(self, x1: float, y1: float, x2: float, y2: float, *, width: float = 1.2, dashes: str = "") -> None:
        """A straight stroke."""
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        self._out.append(f'<path d="M{x1:g} {y1:g}L{x2:g} {y2:g}" stroke-width="{width:g}"{dashed}/>')

    def dot(self, x: float, y: float) -> None:
        """Where two conductors are joined."""
        self._out.append(f'<circle cx="{x:g}" cy="{y:g}" r="2.8" fill="#000"/>')

    def ring(self, x: float, y: float) -> None:
        """The end of a conductor that is joined to nothing here."""
        self._out.append(f'<circle cx="{x:g}" cy="{y:g}" r="2.6" fill="#fff"/>')

    def frame(self, x: float, y: float, wide: float, high: float, *, item: str) -> None:
        """The frame round a section or an enclosure."""
        self._out.append(
            f'<g data-item="{escape(item)}" data-kind="section"><rect x="{x:g}" y="{y:g}" width="{wide:g}" '
            f'height="{high:g}" fill="none" stroke-width="1.8"/></g>'
        )

    def text(
        self,
        x: float,
        y: float,
        said: str,
        *,
        size: float,
        bold: bool = False,
        anchor: str = "start",
        longest: int = 60,
    ) -> None:
        """A line of words; what is longer is cut with a mark that says so."""
        if not said:
            return
        weight = ' font-weight="bold"' if bold else ""
        self._out.append(
            f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}"{weight} stroke="none" '
            f'fill="#000">{_words(said, longest)}</text>'
        )

    def label(self, x: float, y: float, said: str, *, anchor: str = "start", longest: int = 30) -> None:
        """Small words on a conductor, with paper behind them."""
        shown = clean(said, longest)
        wide = width(shown, 8) + 4
        left = x if anchor == "start" else x - wide
        self._out.append(f'<rect x="{left:g}" y="{y - 5:g}" width="{wide:g}" height="10" fill="#fff" stroke="none"/>')
        at = left + 2
        self.text(at, y + 2.9, shown, size=8, longest=longest)

    def tag(self, x: float, y: float, said: Sequence[str]) -> None:
        """A cable's marker: words in a frame."""
        shown = [clean(line, 40) for line in said if line]
        wide = max(width(shown[0], 9) * _BOLD, *(width(line, 8) for line in shown), 20) + 8
        high = 11 * len(shown) + 3
        self._out.append(
            f'<rect x="{x:g}" y="{y - high / 2:g}" width="{wide:g}" height="{high:g}" rx="3" fill="#fff" '
            'stroke-width="0.9"/>'
        )
        for number, line in enumerate(shown):
            self.text(x + 4, y - high / 2 + 9.5 + 10.5 * number, line, size=9 if number == 0 else 8, bold=number == 0)

    def strands(self, colours: Sequence[str], x1: float, x2: float, y: float) -> None:
        """A core in the colours of its insulation, side by side from its edge to its middle and on."""
        wide, inner = 3.6, list(colours)
        if len(inner) > 2 and inner[0] == inner[-1] == CASING:  # a thin dark edge, whatever is inside
            self._out.append(f'<path d="M{x1:g} {y:g}H{x2:g}" stroke="{CASING}" stroke-width="4.4"/>')
            inner = inner[1:-1]
        step = wide / max(len(inner), 1)
        top = y - wide / 2
        for number, colour in enumerate(inner):
            at = top + step * (number + 0.5)
            self._out.append(f'<path d="M{x1:g} {at:g}H{x2:g}" stroke="{colour}" stroke-width="{step:g}"/>')

    def symbol(self, strokes: str, x: float, y: float, *, scale: float = 1.0) -> None:
        """A symbol round a point."""
        self._out.append(f'<g transform="translate({x:g} {y:g}) scale({scale:g})" fill="none">{strokes}</g>')

    def mark_live(self, x: float, y: float) -> None:
        """A word that is seen where a page says that the item is live; hidden otherwise."""
        self._out.append(
            f'<g class="when-live" visibility="hidden"><rect x="{x:g}" y="{y - 6:g}" width="28" height="12" '
            f'fill="#fff" stroke-width="1.6"/><text x="{x + 14:g}" y="{y + 3.2:g}" font-size="9" font-weight="bold" '
            'text-anchor="middle" stroke="none" fill="#000">LIVE</text></g>'
        )

    @contextmanager
    def group(self, *, item: str, kind: str, leads: str, says: str = "") -> Iterator[None]:
        """What belongs to one item of the record; a link where it leads somewhere."""
        title = f"<title>{_words(says, 200)}</title>" if says else ""
        opened = f'<g data-item="{escape(item)}" data-kind="{kind}">{title}'
        self._out.append(f'<a href="{escape(leads)}">{opened}' if leads else opened)
        yield
        self._out.append("</g></a>" if leads else "</g>")

    def done(self, wide: float, high: float, title: str) -> str:
        """The whole picture."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" width="{wide:g}pt" '
            f'height="{high:g}pt" font-family="{_FACE}" fill="none" stroke="#000" stroke-width="1.2">'
            f'<title>{_words(title, 160)}</title><rect width="{wide:g}" height="{high:g}" fill="#fff" stroke="none"/>'
            + "".join(self._out)
            + "</svg>\n"
        )


def _words(said: str, longest: int) -> str:
    return escape(clean(said, longest), quote=True)
