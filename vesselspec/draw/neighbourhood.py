"""Some items and what they directly connect to, every core a line of its own: pictures for a change."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import graphviz

from vesselspec.draw.around import Around, around, bolts
from vesselspec.draw.ends import End, Wire, head_of, section_of, wires
from vesselspec.draw.ink import ink, is_known
from vesselspec.draw.marks import LEGEND, WORDS, check, framed, line_look
from vesselspec.draw.markup import cell, label, row, table, with_symbol
from vesselspec.draw.sheet import Sheet, new_graph
from vesselspec.draw.symbols import symbol_of
from vesselspec.draw.text import bold, name_of, safe, wrap
from vesselspec.draw.words import POLES, device_of, label_of, size_of
from vesselspec.model.items import Section, Way
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.units import show

_POINTS = 120
_LEGEND = (
    "Each core is drawn in the colour of its insulation, with the colour's name and its poles in the cable's box.",
    LEGEND,
)

_LOOSE = {"shape": "plaintext", "margin": "0.02", "width": "0.1", "height": "0.1"}


@dataclass(frozen=True)
class _Scene:
    vessel: Vessel
    network: Network
    cores: Mapping[str, tuple[Wire, ...]]
    shown: Around
    marks: Mapping[str, str]
    #: What was asked for, and the devices whose sides were.
    items: frozenset[str]
    touched: frozenset[tuple[str, str]]


def neighbourhood(
    vessel: Vessel,
    network: Network,
    items: Collection[str],
    *,
    marks: Mapping[str, str],
    footer: str = "",
    title: str = "what is around the change",
) -> Sheet:
    """Draw items by id, with their marks, and what they directly connect to.

    `marks` maps ids to added, removed or changed; raises ValueError for any other word. What this vessel does
    not have is named under the title.
    """
    check(marks)
    cores = wires(vessel, network)
    shown = around(vessel, cores, items)
    asked = frozenset(item if item in vessel.ways or item in vessel.sections else head_of(item) for item in items)
    scene = _Scene(vessel, network, cores, shown, marks, asked, _touched(vessel, cores, shown))
    legend = [safe(line, 160) for line in _LEGEND]
    absent = sorted({*scene.shown.missing, *(item for item in marks if item not in _markable(scene))})
    if absent:
        legend.append(_heavy(f"Not on this drawing: {_listed(absent, marks)}"))
    graph = new_graph(vessel, title, footer, legend, symbols=True)
    graph.attr("graph", nodesep="0.2", ranksep="0.5")
    for device in scene.shown.devices:
        _device(graph, scene, device)
    for panel in sorted({head_of(place) for place in (*scene.shown.sections, *scene.shown.enclosures)}):
        _panel(graph, scene, panel)
    for cable in scene.shown.cables:
        _cable(graph, scene, cable)
    _bolts(graph, scene)
    return Sheet("neighbourhood", title, graph.source)


def _heavy(words: str) -> str:
    return f"<b>{safe(words, 160)}</b>"


def _listed(absent: Collection[str], marks: Mapping[str, str]) -> str:
    return ", ".join(f"{item} ({WORDS[marks[item]]})" if item in marks else item for item in absent)


def _markable(scene: _Scene) -> frozenset[str]:
    return scene.shown.all | {head_of(place) for place in (*scene.shown.sections, *scene.shown.enclosures)}


# --- boxes ----------------------------------------------------------------------------------------


def _device(graph: graphviz.Digraph, scene: _Scene, key: str) -> None:
    device = scene.vessel.device(key)
    assert device is not None  # noqa: S101 - the scene shows what is there
    rows = [row(with_symbol(symbol_of(device), wrap(device.name or key, _POINTS), heavy=True, pad=3))]
    rows.append(row(cell(wrap(f"{key}, {device.kind}" if device.name else device.kind, _POINTS), pad=1)))
    for side in device.sides(scene.vessel.systems):
        place = f"{key}/{side.name}" if side.name else key
        rows += [
            _terminal(place, pole, f"{side.name} {pole}".strip())
            for pole in _terminals(scene, place)
            if key in scene.items or (place, pole) in scene.touched
        ]
    graph.node(name_of(key), label(framed(rows, scene.marks.get(key))))


def _touched(vessel: Vessel, cores: Mapping[str, tuple[Wire, ...]], shown: Around) -> frozenset[tuple[str, str]]:
    """Every terminal at which a line of the drawing ends."""
    found = {(end.place, end.pole) for cable in shown.cables for wire in cores[cable] for end in wire.ends}
    for device, place, pole in bolts(vessel):
        if device.id in shown.all and head_of(place) in shown.all:
            found |= {(place, pole), (f"{device.id}/line", pole)}
    return frozenset(found)


def _terminals(scene: _Scene, place: str) -> list[str]:
    return [pole for pole in POLES if (place, pole) in scene.network.index]


def _terminal(place: str, pole: str, words: str) -> str:
    return row(cell([words], border=1, sides="T", port=name_of(f"{place}:{pole}")))


def _panel(graph: graphviz.Digraph, scene: _Scene, key: str) -> None:
    panel = scene.vessel.panels[key]
    with graph.subgraph(name=f"cluster_{name_of(key)}") as frame:
        words = f"{panel.name} ({key})" if panel.name else key
        if key in scene.marks and key not in scene.shown.enclosures:
            words = f"{words} {WORDS[scene.marks[key]]}"
        frame.attr(label=label(bold(words)), penwidth="2", margin="10")
        if key in scene.shown.enclosures:
            rows = [row(cell(["enclosure"], heavy=True)), _terminal(key, "PE", "PE")]
            frame.node(name_of(key), label(framed(rows, scene.marks.get(key))))
        for section in panel.sections:
            if f"{key}/{section.id}" in scene.shown.sections:
                _section(frame, scene, f"{key}/{section.id}", section)


def _section(graph: graphviz.Digraph, scene: _Scene, place: str, section: Section) -> None:
    """A section as one box, ways above bars: the order of a cable's cores, so that their lines do not cross."""
    rows = [row(cell([f"section {section.id}"], heavy=True, pad=3))]
    ways = [(f"{place}/{way.id}", way) for way in section.ways]
    rows += [row(cell(_way(scene, at, way), pad=4)) for at, way in ways if at in scene.shown.ways]
    bars = [row(cell(["bars"], heavy=True))]
    whole = place in scene.items or head_of(place) in scene.items
    bars += [
        _terminal(place, pole, pole) for pole in _terminals(scene, place) if whole or (place, pole) in scene.touched
    ]
    rows.append(row(cell(table(bars, border=1), pad=4)))
    graph.node(name_of(place), label(framed(rows, scene.marks.get(place))))


def _way(scene: _Scene, place: str, way: Way) -> str:
    rows = [row(cell(wrap(f"way {way.id}: {label_of(way)}", _POINTS), heavy=True, pad=3))]
    rows.append(row(cell(wrap(device_of(way), _POINTS, lines=3), pad=1)))
    main = way.duty == "main"
    rows.append(row(cell(["from here to the bars" if main else "from the bars to here"], pad=1)))
    rows += [_terminal(place, pole, pole) for pole in _terminals(scene, place)]
    return framed(rows, scene.marks.get(place))


# --- cables ---------------------------------------------------------------------------------------


def _cable(graph: graphviz.Digraph, scene: _Scene, key: str) -> None:
    cable = scene.vessel.cables[key]
    size = size_of(scene.network, key)
    length = "length not recorded" if cable.length_m is None else show("length", cable.length_m)
    rows = [row(cell(wrap(f"cable {key}", _POINTS), heavy=True, pad=3))]
    rows.append(row(cell(wrap(f"{size}, {length}", _POINTS, lines=3, longest=120), pad=1)))
    rows += [
        row(cell(_core_words(wire), border=1, sides="T", port=name_of(wire.run.name))) for wire in scene.cores[key]
    ]
    if not scene.cores[key]:
        rows.append(row(cell(["no cores recorded"], border=1, sides="T")))
    mark = scene.marks.get(key)
    node = f"cable={name_of(key)}"
    graph.node(node, label(framed(rows, mark)))
    for wire in scene.cores[key]:
        if not any(end.place for end in wire.ends):
            continue  # its words say all
        at = f"{node}:{name_of(wire.run.name)}"
        look = {**line_look(mark), "color": ink(wire.colour), "arrowhead": "none"}
        graph.edge(_landing(graph, scene, key, wire, "from", wire.from_), f"{at}:w", **look)
        end = _landing(graph, scene, key, wire, "to", wire.to)
        if _turns_back(wire):
            graph.edge(f"{end.removesuffix(':w')}:e", f"{at}:w", **look)
        else:
            graph.edge(f"{at}:e", end, **look)


def _turns_back(wire: Wire) -> bool:
    """Whether a core starts and ends in the same panel or device: both lines then come from that side."""
    return bool(wire.to.place) and head_of(wire.from_.place) == head_of(wire.to.place)


def _core_words(wire: Wire) -> tuple[str, ...]:
    colour = wire.colour if is_known(wire.colour) else f"{wire.colour} (colour not known)"
    name = "" if wire.run.name == wire.colour else f"{wire.run.name}: "
    size = wire.run.core.size
    own = f", {size.text}" if size is not None else ""
    return wrap(f"{name}{colour} {wire.poles}{own}", _POINTS, lines=3, longest=160)


def _landing(graph: graphviz.Digraph, scene: _Scene, cable: str, wire: Wire, which: str, end: End) -> str:
    if end.place:
        node = name_of(section_of(scene.vessel, end.place) or head_of(end.place))
        return f"{node}:{name_of(f'{end.place}:{end.pole}')}:{'e' if which == 'from' else 'w'}"
    loose = f"loose={name_of(cable)}={name_of(wire.run.name)}={which}"
    graph.node(loose, label("<br/>".join(safe(line) for line in wrap(end.words, _POINTS, lines=3))), **_LOOSE)
    return loose


def _bolts(graph: graphviz.Digraph, scene: _Scene) -> None:
    for device, place, pole in bolts(scene.vessel):
        if device.id in scene.shown.all and head_of(place) in scene.shown.all:
            here = f"{device.id}/line"
            graph.edge(
                f"{name_of(section_of(scene.vessel, place) or head_of(place))}:{name_of(f'{place}:{pole}')}:e",
                f"{name_of(device.id)}:{name_of(f'{here}:{pole}')}:w",
                label=label(table([row(cell(["bolted"], pad=5))])),
                penwidth="3",
                arrowhead="none",
            )
