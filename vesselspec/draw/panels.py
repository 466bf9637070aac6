"""A panel: its sections as frames, every way as a row with its device, cable and what is at the far end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import graphviz

from vesselspec.draw.ends import head_of
from vesselspec.draw.markup import cell, label, row, table
from vesselspec.draw.paging import Extent, paged
from vesselspec.draw.rows import Line, Odd, Part, Run, parts_of
from vesselspec.draw.sheet import AC_LINE, DC_LINE, Sheet, new_graph
from vesselspec.draw.supply import points_drawn
from vesselspec.draw.text import clean, name_of, safe, wrap
from vesselspec.draw.words import called, device_of, inside, label_of, size_of
from vesselspec.model.items import Panel, Way
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.units import show

#: Width of the text in each column, in points.
NUMBER, LABEL, DEVICE, CABLE, CORES, FAR = 26, 114, 96, 70, 138, 140
#: Width of the text in the shapes beside the table.
BESIDE: Final = 94
_WIDTHS: Final = (NUMBER, LABEL, DEVICE, CABLE, CORES, FAR)
#: What a cell adds to the width of its text.
_AIR: Final = 8
_TITLES: Final = ("way", "label on the panel", "device", "cable", "cores: colour and pole", "far end")
_LEGEND: Final = (
    "Rounded frame: continues on the sheet that it names. Arrow shape: what feeds it (AC double line, DC single line).",
    "A core that its device does not open lands on this section's own bar of that pole, unless a note says otherwise.",
)


@dataclass(frozen=True)
class _Page:
    vessel: Vessel
    network: Network
    panel: Panel
    parts: tuple[Part, ...]
    drawn: frozenset[str]
    count: str = ""


def panel_sheet(vessel: Vessel, network: Network, panel_id: str, *, footer: str = "") -> Sheet:
    """Draw a panel on one sheet, however tall. Raises KeyError for a panel that does not exist."""
    panel = vessel.panels[panel_id]
    page = _Page(vessel, network, panel, parts_of(vessel, network, panel), points_drawn(vessel, network))
    return _sheet(page, f"panel-{panel_id}", footer)


def panel_sheets(vessel: Vessel, network: Network, panel_id: str, *, footer: str = "") -> tuple[Sheet, ...]:
    """Draw a panel on as many sheets as it takes to read them on A4. Raises KeyError as `panel_sheet` does."""
    panel = vessel.panels[panel_id]
    drawn = points_drawn(vessel, network)
    dealt = paged(parts_of(vessel, network, panel), lambda line: _measure(vessel, network, line, drawn))
    if len(dealt) <= 1:
        return (panel_sheet(vessel, network, panel_id, footer=footer),)
    sheets = []
    for number, parts in enumerate(dealt, 1):
        page = _Page(vessel, network, panel, parts, drawn, f"sheet {number} of {len(dealt)}")
        sheets.append(_sheet(page, f"panel-{panel_id}-{number}", footer))
    return tuple(sheets)


def _sheet(page: _Page, name: str, footer: str) -> Sheet:
    title = clean(page.panel.name or page.panel.id) + (f", {page.count}" if page.count else "")
    graph = new_graph(page.vessel, title, footer, [safe(line, 160) for line in _LEGEND])
    graph.attr("graph", nodesep="0.11", ranksep="0.3")
    frames = [row(cell(_head(page), heavy=True, pad=3)), row(cell(table([_titles()], cells=0)))]
    frames += [row(cell(_section(page, part))) for part in page.parts]
    graph.node("panel", label(table(frames, border=2, spacing=3)))
    here = {line.place for part in page.parts for line in part.lines} | {part.place for part in page.parts}
    for part in page.parts:
        for line in part.lines:
            _beside(graph, page, line, here)
    return Sheet(name, title, graph.source)


def _head(page: _Page) -> list[str]:
    panel = page.panel
    space = page.vessel.spaces.get(panel.space or "")
    where = f", in {clean(space.name or space.id)}" if space is not None else ""
    return [f"{clean(panel.name or panel.id)} ({panel.id}){where}"]


def _titles() -> str:
    return row(
        *(
            cell([title], least=points + _AIR, border=1, sides="LR", align="left")
            for title, points in zip(_TITLES, _WIDTHS, strict=True)
        )
    )


def _section(page: _Page, part: Part) -> str:
    rows = [
        row(
            cell(
                _section_head(page, part),
                columns=6,
                heavy=True,
                border=1,
                align="left",
                fill="#eeeeee",
                port=name_of(f"{part.place}=bars"),
            )
        )
    ]
    for line in part.lines:
        rows += _line(page, line)
    return table(rows, border=2)


def _section_head(page: _Page, part: Part) -> list[str]:
    section = part.section
    if section is None:
        return ["enclosure"]
    system = page.vessel.section_system(page.panel, section)
    words = [f"section {section.id}"]
    words.append(f"{'DC' if system.is_dc else 'AC'} ({system.id})" if system is not None else "system not recorded")
    words.append(f"bars {' '.join(part.bars)}" if part.bars else "bars not known")
    if section.rating_a is not None:
        words.append(f"bus rating {show('current', section.rating_a)}")
    if section.neutral_bar is not None:
        words.append(f"N bar shared with section {section.neutral_bar}")
    ways = [line.way for line in part.lines if line.way is not None]
    if len(ways) < len(section.ways):
        words.append(f"ways {ways[0].id} to {ways[-1].id}" if ways else "bars only")
    return list(wrap(", ".join(words), 560, longest=200))


@dataclass(frozen=True)
class _Texts:
    """A cable's three cells as they will be broken into lines; no cores where the cable is written elsewhere."""

    cable: tuple[str, ...]
    cores: tuple[str, ...]
    far: tuple[str, ...]
    reference: bool

    @property
    def height(self) -> float:
        """Height of the row, in points."""
        return max(12 * len(self.cable) + 6, 12 * len(self.cores) + 6, 12 * len(self.far) + 6 + 4 * self.reference)


def _texts(vessel: Vessel, network: Network, run: Run, drawn: frozenset[str]) -> _Texts:
    far, reference = _far(vessel, run, drawn)
    far_lines = wrap(far, FAR - 8 if reference else FAR, lines=7, longest=160)
    if run.written_at:
        words = wrap(f"{run.cable.id}: see {inside(vessel, run.written_at)}", CABLE + CORES + _AIR)
        return _Texts(words, (), far_lines, reference)
    cores = ", ".join(f"{w.colour} {w.poles_seen(from_end=run.at_from)}" for w in run.cores) or "no cores recorded"
    return _Texts(
        wrap(f"{run.cable.id} {size_of(network, run.cable.id)}", CABLE, lines=4, longest=120),
        wrap(cores, CORES, lines=5, longest=240),
        far_lines,
        reference,
    )


def _far(vessel: Vessel, run: Run, drawn: frozenset[str]) -> tuple[str, bool]:
    """The far end in words, and whether it is on another sheet."""
    way = "from" if run.feeds and run.live else "to"
    head, _, side = run.far.partition("/")
    if not run.far:
        return "far end untraced", False
    if run.kind == "same":
        return f"{way} {inside(vessel, run.far)} of this panel", False
    if run.kind == "unknown":
        return f"{way} {run.far}, which is not in the record", False
    if run.kind == "panel":
        return f"{way} {_named(vessel, head)}, {inside(vessel, run.far)}: see its sheet", True
    said = _named(vessel, head) + (f", {side}" if side else "")
    if run.kind == "load":
        return said, False
    return f"{way} {said}" + (": see overview" if head in drawn else ""), head in drawn


def _named(vessel: Vessel, head: str) -> str:
    """A name with its id, unless the id is plain from the name."""
    name = called(vessel, head)
    return name if "-".join(name.lower().split()) == head or name == head else f"{name} ({head})"


def _line(page: _Page, line: Line) -> list[str]:
    texts = [_texts(page.vessel, page.network, run, page.drawn) for run in line.runs]
    if line.way is None:
        return [row(_bar_cell(line), *_cable_cells(text)) for text in texts]
    first = _way_cells(line, line.way, max(len(texts), 1))
    if not texts:
        return [row(*first, cell([_nothing(line.way)], columns=3, border=1, align="left"))]
    return [row(*(first if number == 0 else ()), *_cable_cells(text)) for number, text in enumerate(texts)]


def _way_cells(line: Line, way: Way, span: int) -> tuple[str, ...]:
    return (
        cell([way.id], heavy=True, border=1, rows=span, port=_port(line), least=NUMBER + _AIR),
        _text(wrap(label_of(way), LABEL), LABEL, rows=span, heavy=way.duty == "main"),
        _text(_device(way, connected=bool(line.runs)), DEVICE, rows=span),
    )


def _text(
    lines: Sequence[str], points: float, *, rows: int = 1, heavy: bool = False, columns: int = 1, port: str = ""
) -> str:
    return cell(lines, border=1, align="left", least=points + _AIR, rows=rows, heavy=heavy, columns=columns, port=port)


def _port(line: Line) -> str:
    """Where the shapes beside a line point: the way, or the row of one cable at the bars."""
    return name_of(line.place if line.way is not None else f"{line.place}#{line.runs[0].cable.id}")


def _device(way: Way, *, connected: bool) -> tuple[str, ...]:
    said = device_of(way)
    if way.duty == "main" and way.device != "blank":
        said = f"main {said}"
    return wrap(f"{said}, marked spare" if connected and way.spare else said, DEVICE, lines=3)


def _bar_cell(line: Line) -> str:
    words = "on the earth terminal" if "/" not in line.place else "directly on the section's bars"
    return _text([words], NUMBER + LABEL + DEVICE + 2 * _AIR, columns=3, port=_port(line))


def _cable_cells(text: _Texts) -> tuple[str, ...]:
    far = _text(text.far, FAR)
    if text.reference:
        inner = table(
            [row(cell("", least=3), cell(text.far, pad=1, align="left", least=FAR - 4))], border=1, rounded=True
        )
        far = cell(inner, border=1, pad=1)
    if not text.cores:
        return _text(text.cable, CABLE + CORES + _AIR, columns=2), far
    return _text(text.cable, CABLE), _text(text.cores, CORES), far


def _nothing(way: Way) -> str:
    if way.device == "blank":
        return ""
    return "spare: nothing connected" if way.spare else "no cable recorded"


def _measure(vessel: Vessel, network: Network, line: Line, drawn: frozenset[str]) -> Extent:
    tall = sum(_texts(vessel, network, run, drawn).height for run in line.runs)
    if line.way is not None:
        own = max(len(wrap(label_of(line.way), LABEL)), len(_device(line.way, connected=bool(line.runs))))
        tall = max(tall, 12 * own + 6)
    feeds = [_feed_words(vessel, run) for run in line.runs if _is_fed(run)]
    notes = [_note_words(odd) for run in line.runs for odd in run.odd]
    return Extent(tall, sum(12 * len(words) + 20 for words in (*feeds, *notes)))


def _is_fed(run: Run) -> bool:
    return run.feeds and run.live and not run.written_at


def _feed_words(vessel: Vessel, run: Run) -> tuple[str, ...]:
    if run.kind == "panel":
        panel = vessel.panels[head_of(run.far)]
        words = f"from {panel.name or panel.id}, {inside(vessel, run.far)}: see its sheet"
    elif run.kind == "same":
        words = f"from {inside(vessel, run.far)} of this panel"
    else:
        words = f"from {called(vessel, run.far)}: see overview" if run.far else "from an untraced place"
    return wrap(words, BESIDE, lines=7, longest=160)


def _note_words(odd: Odd) -> tuple[str, ...]:
    return wrap(f"Note: {odd.words}", BESIDE, lines=9, longest=200)


def _beside(graph: graphviz.Digraph, page: _Page, line: Line, here: set[str]) -> None:
    """The shapes beside a row: what feeds it, and notes of cores that land elsewhere."""
    at = f"panel:{_port(line)}:w"
    for run in line.runs:
        key = f"{name_of(line.place)}={name_of(run.cable.id)}"
        if _is_fed(run):
            name = f"feed={key}"
            words = _feed_words(page.vessel, run)
            graph.node(
                name, _shape(words), shape="cds", margin="0.15,0.03", height=f"{(16 * len(words) + 10) / 72:.2f}"
            )
            graph.edge(name, at, color=DC_LINE if run.dc else AC_LINE)
        for number, odd in enumerate(run.odd):
            name = f"note={key}={number}"
            graph.node(name, _shape(_note_words(odd)), shape="note", margin="0.06,0.04", height="0.2")
            graph.edge(name, at, style="dotted", penwidth="1.5", arrowhead="none")
            if odd.at in here:
                port = odd.at if odd.at in page.vessel.ways else f"{odd.at}=bars"
                graph.edge(name, f"panel:{name_of(port)}:w", style="dotted", penwidth="1.5")


def _shape(lines: Sequence[str]) -> str:
    return label("".join(f'{safe(line)}<br align="left"/>' for line in lines))
