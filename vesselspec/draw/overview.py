"""One sheet for the whole vessel: sources, converters, selectors, panels with their sections, and the feeders.

What a feeder is stands in the box that it feeds, at the head of its arrow: text on lines is what makes such
sheets hard to read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import graphviz

from vesselspec.draw.ends import head_of
from vesselspec.draw.markup import cell, label, row, table, with_symbol
from vesselspec.draw.sheet import AC_LINE, DC_LINE, Sheet, new_graph
from vesselspec.draw.split import split_points
from vesselspec.draw.supply import Feeder, feeders, is_converter, is_source, mounted, points_drawn, returns
from vesselspec.draw.symbols import symbol_of
from vesselspec.draw.text import BREAK, bold, name_of, safe, width, wrap
from vesselspec.draw.words import poles_of, size_of
from vesselspec.model.devices import Device, Load, Selector, _InLine
from vesselspec.model.items import Panel, Section
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.units import show

#: Width of the text in a box, in points.
_POINTS = 96
#: The same beside a symbol.
_BESIDE = 84
_FEED = 104
#: Boxes up to which one sheet can be read, and boxes that a sheet of several holds.
_FEW, _MOST = 14, 24


@dataclass(frozen=True)
class _Extract:
    """What one sheet shows of the whole."""

    name: str
    title: str
    points: frozenset[str]
    lines: tuple[Feeder, ...]


def overview(vessel: Vessel, network: Network, *, footer: str = "") -> Sheet:
    """Draw what feeds what on one sheet, without the branch circuits."""
    lines = feeders(vessel, network)
    everything = frozenset((*points_drawn(vessel, network), *vessel.sections))
    return _sheet(vessel, network, _Extract("overview", "overview", everything, lines), footer)


def overview_sheets(vessel: Vessel, network: Network, *, footer: str = "") -> tuple[Sheet, ...]:
    """Draw the same on as many sheets as can be read on A4: AC, and each DC supply. Converters stand on both."""
    whole = overview(vessel, network, footer=footer)
    lines = feeders(vessel, network)
    everything = frozenset((*points_drawn(vessel, network), *vessel.sections))
    if len(everything) <= _FEW:
        return (whole,)
    extracts = []
    dealt = split_points(vessel, lines, everything, most=_MOST)
    for number, points in enumerate(dealt, 1):
        inside = tuple(line for line in lines if (line.start, line.dc) in points and (line.end, line.dc) in points)
        dc = any(of_dc for _point, of_dc in points)
        title = f"overview, sheet {number} of {len(dealt)}, {'DC' if dc else 'AC'}"
        extracts.append(_Extract(f"overview-{number}", title, frozenset(point for point, _dc in points), inside))
    return tuple(_sheet(vessel, network, extract, footer) for extract in extracts)


def _sheet(vessel: Vessel, network: Network, extract: _Extract, footer: str) -> Sheet:
    hidden = len(returns(vessel, network))
    legend = [
        "AC feeder: double line. DC feeder: single line. Each is named in the box that it feeds: cable, size, poles.",
        "Thick frame: source. Double frame: converter. Underlined: load. "
        f"Not drawn: branch circuits, and {hidden} cables with returns or earth only.",
    ]
    graph = new_graph(vessel, extract.title, footer, [safe(line, 160) for line in legend], symbols=True)
    graph.attr("graph", nodesep="0.09", ranksep="0.3")
    if len(extract.points) <= _FEW or not any(line.dc for line in extract.lines):
        # Sections of one panel may stand apart: an inverter's section comes after it. Big DC sheets get too wide.
        graph.attr("graph", newrank="true", ranksep="0.24")
    into: dict[str, list[Feeder]] = defaultdict(list)
    for feeder in extract.lines:
        into[feeder.end].append(feeder)
    bolted = mounted(vessel)
    homes = {device.id: holder for holder, devices in bolted.items() for device in devices}
    points = extract.points | {homes[point] for point in extract.points if point in homes}
    for device in (*vessel.devices.values(), *vessel.loads.values()):
        if device.id in points and device.id not in homes:
            rows = [*_feeds(network, into.get(device.id, ())), row(with_symbol(symbol_of(device), _device(device)))]
            rows += [
                row(cell(_device(guest), border=1, port=name_of(guest.id), sides="T"))
                for guest in bolted.get(device.id, ())
            ]
            graph.node(name_of(device.id), label(_framed(device, rows)))
    for panel in vessel.panels.values():
        _panel(graph, vessel, network, panel, into, points)
    for number, feeder in enumerate(extract.lines, 1):
        _feeder(graph, feeder, homes, f"cable_{number}_{name_of(feeder.cable)}")
    return Sheet(extract.name, extract.title, graph.source)


def _framed(device: Device, rows: Sequence[str]) -> str:
    if is_source(device):
        return table(rows, border=3, rounded=True)
    if is_converter(device):
        return table([row(cell(table(rows, border=1)))], border=1, spacing=2)
    if isinstance(device, Load):
        return table(rows, border=1, sides="B")
    return table(rows, border=1)


def _device(device: Device) -> list[str]:
    name = device.name or device.id
    lines = list(wrap(name, _BESIDE, lines=3))
    if "-".join(name.lower().split()) != device.id:
        lines += wrap(device.id, _BESIDE, lines=3)
    if isinstance(device, _InLine):
        lines.append(device.kind if device.rating_a is None else f"{device.kind} {show('current', device.rating_a)}")
    elif isinstance(device, Selector):
        lines.append("selector switch" if device.rating_a is None else f"selector {show('current', device.rating_a)}")
    return lines


def _feeds(network: Network, feeds: Sequence[Feeder]) -> list[str]:
    return [
        row(
            cell(
                _said(network, feeder),
                pad=1,
                border=1,
                sides="B",
                port=name_of(feeder.cable),
                align="left",
            )
        )
        for feeder in feeds
    ]


def _said(network: Network, feeder: Feeder) -> tuple[str, ...]:
    """Id, size and poles of a feeder, on one line where they fit."""
    cable, poles = f"{feeder.cable} {size_of(network, feeder.cable)}", poles_of(feeder.cores)
    one = f"{cable} {poles}"
    return (one,) if width(one) <= _FEED else (*wrap(cable, _FEED, lines=4, longest=120), *wrap(poles, _FEED))


def _panel(
    graph: graphviz.Digraph,
    vessel: Vessel,
    network: Network,
    panel: Panel,
    into: Mapping[str, Sequence[Feeder]],
    points: frozenset[str],
) -> None:
    sections = [section for section in panel.sections if f"{panel.id}/{section.id}" in points]
    if not sections:
        return
    with graph.subgraph(name=f"cluster_{name_of(panel.id)}") as frame:
        lines = wrap(panel.name or panel.id, _POINTS * 1.2)
        frame.attr(label=label(BREAK.join(bold(line) for line in lines)), penwidth="1.5", margin="4")
        for section in sections:
            place = f"{panel.id}/{section.id}"
            rows = [*_feeds(network, into.get(place, ())), row(cell(_section(vessel, panel, section)))]
            frame.node(name_of(place), label(table(rows, border=1)))


def _section(vessel: Vessel, panel: Panel, section: Section) -> list[str]:
    system = vessel.section_system(panel, section)
    kind = "system?" if system is None else "DC" if system.is_dc else "AC"
    return [
        *wrap(section.id, _POINTS, lines=2),
        f"{kind}, {len(section.ways)} way{'' if len(section.ways) == 1 else 's'}",
    ]


def _feeder(graph: graphviz.Digraph, feeder: Feeder, homes: Mapping[str, str], id: str) -> None:
    if feeder.start in homes:
        start = f"{name_of(homes[feeder.start])}:{name_of(feeder.start)}:e"
    else:
        start = name_of(feeder.start)
    end = homes.get(feeder.end, feeder.end)
    look = {"color": DC_LINE if feeder.dc else AC_LINE, "id": id}  # by which a page knows whose line it is
    if head_of(feeder.start) == head_of(feeder.end):
        look["constraint"] = "false"  # a tie between sections is no step further from the source
    graph.edge(start, f"{name_of(end)}:{name_of(feeder.cable)}:w", **look)
