"""One drawing, and what all drawings have in common: title, caution, letters, size of the paper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import graphviz

from vesselspec.draw.text import BREAK, safe
from vesselspec.model.vessel import Vessel

CAUTION: Final = "The record may be wrong: prove dead before touching."
#: Printable part of an A4 sheet, landscape, in points.
PAGE_WIDTH: Final = 802
PAGE_HEIGHT: Final = 555
#: What a line of symbols with their names takes, in points.
SYMBOLS_HEIGHT: Final = 30
#: Letters on the drawing, in points.
LETTERS: Final = 10
#: The face whose widths every layout engine knows; see `render` for what a viewer is told.
FACE: Final = "Helvetica"

#: Lines of feeders: two strokes for AC, one for DC. Both strokes have the arrow's colour: the engine draws the
#: arrow of a line that it had to turn round in the colour of the second.
AC_LINE: Final = "black:black"
DC_LINE: Final = "black"


@dataclass(frozen=True)
class Sheet:
    """A drawing as the source of the layout engine. `name` can serve as a file name."""

    name: str
    title: str
    dot: str


def new_graph(
    vessel: Vessel, title: str, footer: str, legend: Iterable[str] = (), *, symbols: bool = False
) -> graphviz.Digraph:
    """An empty drawing with its heading, which carries the vessel, the footer's words and the caution.

    `symbols`: it leaves room below for what they mean.
    """
    head = f'<font point-size="14"><b>{safe(vessel.about.name)}: {safe(title, 120)}</b></font>'
    lines = [head, f"<b>{safe(CAUTION)}</b>{'  ' + safe(footer, 120) if footer else ''}", *legend]
    graph = graphviz.Digraph("sheet")
    graph.attr(
        "graph",
        label=f"<{BREAK.join(lines)}>",
        labelloc="t",
        fontname=FACE,
        fontsize=str(LETTERS),
        rankdir="LR",
        size=f"{PAGE_WIDTH / 72:.2f},{(PAGE_HEIGHT - SYMBOLS_HEIGHT * symbols) / 72:.2f}",
        charset="UTF-8",
        bgcolor="white",
    )
    graph.attr("node", shape="plain", fontname=FACE, fontsize=str(LETTERS))
    graph.attr("edge", fontname=FACE, fontsize=str(LETTERS), arrowsize="0.7")
    return graph
