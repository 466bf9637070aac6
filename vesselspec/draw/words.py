"""How devices, ways and cables are called on a drawing."""

from __future__ import annotations

from vesselspec.draw.ends import Wire
from vesselspec.model.items import NO_LABEL, Way
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.units import show

#: Poles in the order in which they are written.
POLES = ("L1", "L2", "L3", "DC+", "DC-", "N", "PE")
NO_SIZE = "size not recorded"
_SHORT = {"residual-current-switch": "RCD switch"}


def size_of(network: Network, cable: str) -> str:
    """The size of a cable's cores, each named where they differ."""
    sizes = {run.name: run.size.text if run.size is not None else NO_SIZE for run in network.runs.get(cable, ())}
    if len(set(sizes.values())) <= 1:
        return next(iter(sizes.values()), NO_SIZE)
    return ", ".join(f"{name} {size}" for name, size in sizes.items())


def poles_of(cores: tuple[Wire, ...]) -> str:
    """The poles that a cable joins, in a fixed order."""
    found = {end.pole for wire in cores for end in wire.ends}
    return " ".join(pole for pole in POLES if pole in found) or "poles unknown"


def device_of(way: Way) -> str:
    """What sits in a way: "breaker L1 L2 50 A"."""
    if way.device == "blank":
        return "blank"
    parts = [_SHORT.get(way.device, way.device), *way.poles]
    parts.append(show("current", way.rating_a) if way.rating_a is not None else "rating not recorded")
    if way.residual_a:
        parts.append(f"RCD {show('current', way.residual_a)}")
    return " ".join(parts)


def label_of(way: Way) -> str:
    """The words beside a way, or that there are none."""
    if way.label == NO_LABEL:
        return "(no label on the panel)"
    said = way.label or way.name
    if said is not None:
        return said
    return "" if way.device == "blank" else "(label not recorded)"


def called(vessel: Vessel, place: str) -> str:
    """The name of a device, load, panel or way: what people say, or the id."""
    if place in vessel.ways:
        return label_of(vessel.ways[place][2])
    head = place.split("/", 1)[0]
    item = vessel.device(head) or vessel.panels.get(head)
    return item.name if item is not None and item.name else place


def inside(vessel: Vessel, place: str) -> str:
    """A place inside a panel in words: "section house, way 3"."""
    if place in vessel.ways:
        _panel, section, way = vessel.ways[place]
        return f"section {section.id}, way {way.id}"
    return f"section {place.split('/', 1)[1]}" if place in vessel.sections else "enclosure"


def is_dc(vessel: Vessel, system: str | None) -> bool:
    """Whether a system is DC; one that is not recorded is not."""
    found = vessel.systems.get(system or "")
    return found is not None and found.is_dc
