"""What feeds what, cut down to sources, converters, switching and sections, for the overview."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.draw.ends import Wire, head_of, section_of, wires
from vesselspec.model.devices import (
    Charger,
    ChargeSplitter,
    DcConverter,
    Device,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    Load,
    Selector,
    SolarController,
    _InLine,
)
from vesselspec.model.vessel import Vessel, natural
from vesselspec.network.graph import LINES, Network

LIVE = (*LINES, "DC+")
_INPUTS = {
    Charger: ("ac",),
    ChargeSplitter: ("in",),
    DcConverter: ("in",),
    Inverter: ("dc",),
    InverterCharger: ("ac-in", "dc"),
    IsolationTransformer: ("primary",),
    SolarController: ("array",),
}
_CONVERTERS = tuple(_INPUTS)


@dataclass(frozen=True)
class Feeder:
    """A cable that carries a line or a positive between two points of the overview, in feeding direction."""

    cable: str
    start: str  # device, load or section
    end: str
    dc: bool
    cores: tuple[Wire, ...]


def is_converter(device: Device) -> bool:
    """Whether it turns one supply into another."""
    return isinstance(device, _CONVERTERS)


def is_source(device: Device) -> bool:
    """Whether it is where a supply comes from."""
    return bool(device.supply) and not is_converter(device)


def point_of(vessel: Vessel, place: str) -> str:
    """What stands for a place on the overview: its section, or its device or load."""
    return section_of(vessel, place) or head_of(place)


def feeders(vessel: Vessel, network: Network) -> tuple[Feeder, ...]:
    """Every cable between two points of the overview, except those from a panel to a load."""
    found = []
    for cable, cores in sorted(wires(vessel, network).items(), key=lambda pair: natural(pair[0])):
        live = [wire for wire in cores if wire.from_.pole in LIVE and wire.to.pole in LIVE]
        for start, end in sorted({(wire.from_.place, wire.to.place) for wire in live}):
            points = point_of(vessel, start), point_of(vessel, end)
            if points[0] == points[1] or _is_branch(vessel, *points):
                continue
            ends = (end, start) if gives(vessel, end) or takes(vessel, start) else (start, end)
            dc = all(wire.from_.pole == "DC+" for wire in live)
            found.append(Feeder(cable, point_of(vessel, ends[0]), point_of(vessel, ends[1]), dc, cores))
    return tuple(found)


def points_drawn(vessel: Vessel, network: Network) -> frozenset[str]:
    """The devices, loads and sections that the overview shows, worked out once for a network."""
    store = network.__dict__
    if "points_drawn" not in store:
        store["points_drawn"] = _points_drawn(vessel, network)
    found: frozenset[str] = store["points_drawn"]
    return found


def _points_drawn(vessel: Vessel, network: Network) -> frozenset[str]:
    points = {point for feeder in feeders(vessel, network) for point in (feeder.start, feeder.end)}
    return frozenset((*points, *(device.id for device in vessel.devices.values() if is_source(device))))


def returns(vessel: Vessel, network: Network) -> tuple[str, ...]:
    """The cables that carry no line and no positive: negatives, neutrals, earth and bonding."""
    return tuple(
        cable
        for cable, cores in sorted(wires(vessel, network).items(), key=lambda pair: natural(pair[0]))
        if cores and not any(end.pole in LIVE for wire in cores for end in wire.ends)
    )


def mounted(vessel: Vessel) -> dict[str, tuple[_InLine, ...]]:
    """The protective devices and switches that are bolted to each source."""
    found: dict[str, tuple[_InLine, ...]] = {}
    for device in vessel.devices.values():
        if isinstance(device, _InLine) and device.mounted_on is not None:
            holder = vessel.devices.get(head_of(device.mounted_on.rsplit(":", 1)[0]))
            if holder is not None and is_source(holder):
                found[holder.id] = (*found.get(holder.id, ()), device)
    return found


def _is_branch(vessel: Vessel, one: str, two: str) -> bool:
    return (one in vessel.loads and two in vessel.sections) or (two in vessel.loads and one in vessel.sections)


def _side(vessel: Vessel, place: str) -> tuple[Device | None, str]:
    head, _, side = place.partition("/")
    return vessel.device(head), side


def gives(vessel: Vessel, place: str) -> bool:
    """Whether a place is where a supply comes out."""
    device, side = _side(vessel, place)
    if device is None:
        return False
    if is_source(device):
        return True
    if is_converter(device):
        return side not in _INPUTS[type(device)]
    return (isinstance(device, Selector) and side == "out") or (isinstance(device, _InLine) and side == "load")


def takes(vessel: Vessel, place: str) -> bool:
    """Whether a place is where a supply goes in."""
    if place in vessel.ways:
        return vessel.ways[place][2].duty == "main"
    device, side = _side(vessel, place)
    if device is None:
        return False
    if is_converter(device):
        return side in _INPUTS[type(device)]
    if isinstance(device, Selector):
        return side != "out"
    return isinstance(device, Load) or (isinstance(device, _InLine) and side == "line")
