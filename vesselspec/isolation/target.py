"""The place to be made dead: a panel, section, way, device, load, cable or space, as terminals."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from vesselspec.model.items import UNTRACED
from vesselspec.rules import Boat


@dataclass(frozen=True)
class Target:
    """A place with its terminals, and with the enclosure that has to be opened to work on it."""

    place: str
    kind: str  # panel | section | way | device | load | cable | space
    terminals: frozenset[int]
    #: Panels, devices and loads whose covers come off, in order.
    enclosures: tuple[str, ...]
    #: Their terminals, those of the place included.
    enclosed: frozenset[int]
    #: Cables with an end in one of the enclosures, or that pass the space.
    cables: tuple[str, ...]


@dataclass(frozen=True)
class NoSuchPlace:
    """A place that the record does not hold, and what was perhaps meant."""

    said: str
    near: str | None


def find_target(boat: Boat, place: str) -> Target | NoSuchPlace:
    """Find a place by its id or address; `spaces/ID` is the space where something else has the same id."""
    vessel, network = boat.vessel, boat.network
    if (space := place.removeprefix("spaces/")) != place and space in vessel.spaces:
        return _space(boat, space)
    head = place.split("/", 1)[0]
    if place in vessel.panels:
        kind = "panel"
    elif place in vessel.sections:
        kind = "section"
    elif place in vessel.ways:
        kind = "way"
    elif place in vessel.loads:
        kind = "load"
    elif place in vessel.devices or (head in vessel.devices and network.within(place)):
        kind = "device"
    elif place in vessel.cables:
        return _cable(boat, place)
    elif place in vessel.spaces:
        return _space(boat, place)
    else:
        known = [*vessel.panels, *vessel.sections, *vessel.devices, *vessel.loads, *vessel.cables, *vessel.spaces]
        near = difflib.get_close_matches(place, known, n=1, cutoff=0.5)
        return NoSuchPlace(place, near[0] if near else None)
    return _target(boat, place, kind, frozenset(network.within(place)), (head,))


def _target(boat: Boat, place: str, kind: str, terminals: frozenset[int], heads: tuple[str, ...]) -> Target:
    enclosed = terminals | {t for head in heads for t in boat.network.within(head)}
    cables = dict.fromkeys(cable for head in heads for cable in _landing_in(boat, head))
    return Target(place, kind, terminals, heads, frozenset(enclosed), tuple(cables))


def _landing_in(boat: Boat, head: str) -> list[str]:
    """The cables with an end, whole or of one core, in a panel or at a device."""
    return [
        cable for at, cables in boat.cables_at.items() if at == head or at.startswith(head + "/") for cable in cables
    ]


def _cable(boat: Boat, key: str) -> Target:
    network, cable = boat.network, boat.vessel.cables[key]
    ends = {
        terminal
        for run in network.runs.get(key, ())
        if run.link >= 0
        for terminal in (network.links[run.link].a, network.links[run.link].b)
    }
    heads = {network.terminals[t].place.split("/", 1)[0] for t in ends if not network.terminals[t].loose}
    heads |= {end.split("/", 1)[0] for end in (cable.from_, cable.to) if end != UNTRACED}
    known = tuple(sorted(head for head in heads if boat.vessel.device(head) or head in boat.vessel.panels))
    target = _target(boat, key, "cable", frozenset(ends), known)
    return Target(key, "cable", target.terminals, known, target.enclosed, tuple(dict.fromkeys((key, *target.cables))))


def _space(boat: Boat, key: str) -> Target:
    vessel = boat.vessel
    heads = tuple(
        head
        for head in (*vessel.panels, *vessel.devices, *vessel.loads)
        if (space := vessel.space_of(head)) is not None and space.id == key
    )
    passing = [
        cable.id for cable in vessel.cables.values() if key in cable.route or any(j.space == key for j in cable.joints)
    ]
    network = boat.network
    through = {
        terminal
        for cable in passing
        for run in network.runs.get(cable, ())
        if run.link >= 0
        for terminal in (network.links[run.link].a, network.links[run.link].b)
    }
    inside = _target(boat, key, "space", frozenset(t for head in heads for t in network.within(head)), heads)
    terminals = inside.terminals | through
    cables = tuple(dict.fromkeys((*inside.cables, *passing)))
    return Target(key, "space", terminals, heads, inside.enclosed | terminals, cables)
