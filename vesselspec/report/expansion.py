"""The full form of an item: every core with its two terminals, and all that its type filled in."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from vesselspec import units
from vesselspec.model.forms import specs
from vesselspec.model.items import Item
from vesselspec.network.graph import Network
from vesselspec.report.terminal import Page
from vesselspec.rules import Boat


@dataclass(frozen=True)
class CoreLine:
    """One core: where it lands at both ends."""

    cable: str
    core: str
    colour: str | None
    size: str | None
    one: str
    two: str


@dataclass(frozen=True)
class Expansion:
    """An item with its fields, terminals and cores."""

    item: str
    fields: tuple[tuple[str, str], ...]
    terminals: tuple[str, ...]
    cores: tuple[CoreLine, ...]


def known(boat: Boat) -> list[str]:
    """Every id and address that can be expanded."""
    vessel = boat.vessel
    return [*vessel.cables, *vessel.devices, *vessel.loads, *vessel.panels, *vessel.sections, *vessel.ways]


def expand(boat: Boat, item: str) -> Expansion | None:
    """Expand an item, or return None if there is none of that name."""
    vessel = boat.vessel
    entry: Item | None = vessel.cables.get(item) or vessel.device(item) or vessel.panels.get(item)
    if entry is None and item in vessel.sections:
        entry = vessel.sections[item][1]
    if entry is None and item in vessel.ways:
        entry = vessel.ways[item][2]
    if entry is None:
        return None
    network = boat.network
    said = [
        (spec.key, spec.form.show(value))
        for name, spec in specs(type(entry))
        if spec.key not in ("cores", "sections", "ways") and _said(entry, name, value := getattr(entry, name))
    ]
    if item in vessel.cables:
        cable = vessel.cables[item]
        own = {key for key, _ in said}
        if "insulation" not in own and (rating := boat.insulation(cable)) is not None:
            said.append(("insulation", units.show("temperature", rating) + f" (from type {cable.type})"))
        if "sheath" not in own and (sheath := boat.sheath(cable)) is not None:
            said.append(("sheath", ("yes" if sheath else "no") + f" (from type {cable.type})"))
        return Expansion(item, tuple(said), (), _cores(network, [item]))
    terminals = network.within(item)
    cables = dict.fromkeys(
        network.links[number].item
        for terminal in terminals
        for number in network.at[terminal]
        if network.links[number].kind == "core"
    )
    inside = {network.terminals[number].name for number in terminals}
    cores = tuple(core for core in _cores(network, list(cables)) if {core.one, core.two} & inside)
    return Expansion(item, tuple(said), tuple(network.terminals[n].name for n in terminals), cores)


def _said(entry: Item, name: str, value: Any) -> bool:
    """Whether a value says something: a flag that is off by itself does not, one that somebody put off does."""
    by_itself = next(each.default for each in fields(entry) if each.name == name)
    return value is not None and value != () and not (value is False and by_itself is False)


def _cores(network: Network, cables: list[str]) -> tuple[CoreLine, ...]:
    lines = []
    for cable in cables:
        for run in network.runs.get(cable, ()):
            ends = ("not landed", "not landed")
            if run.link >= 0:
                link = network.links[run.link]
                ends = (network.terminals[link.a].name, network.terminals[link.b].name)
            size = run.size.text if run.size is not None else None
            lines.append(CoreLine(cable, run.name, run.colour, size, *ends))
    return tuple(lines)


def expansion_json(found: Expansion) -> dict[str, Any]:
    """An expansion, for machines."""
    return {
        "format": 1,
        "kind": "expansion",
        "item": found.item,
        "fields": dict(found.fields),
        "terminals": list(found.terminals),
        "cores": [
            {"cable": c.cable, "core": c.core, "colour": c.colour, "size": c.size, "from": c.one, "to": c.two}
            for c in found.cores
        ],
    }


def expansion_text(page: Page, found: Expansion) -> str:
    """An expansion, for a terminal."""
    page.wrapped(found.item)
    for key, value in found.fields:
        page.wrapped(f"{key}: {value}", first="  ", rest="    ")
    if found.terminals:
        page.wrapped("terminals: " + ", ".join(found.terminals), first="  ", rest="    ")
    for core in found.cores:
        colour = "colour not recorded" if core.colour is None else core.colour
        called = core.core if core.core == colour else f"{core.core} ({colour})"
        size = core.size or "size not recorded"
        page.wrapped(f"{core.cable} {called}, {size}: {core.one} — {core.two}", first="  ", rest="    ")
    return page.text()
