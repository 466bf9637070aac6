"""Where energy can be held off: at the sources themselves, and at contacts on the DC side that a hand can open.

A contact on the AC side never counts: a breaker alone is no isolation of a source for AC work, nor is a control, a
relay or an interlock (29 CFR 1910.333(b)(2)(ii)(B)).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from vesselspec.isolation.energy import Supplies
from vesselspec.model.devices import (
    Alternator,
    BatteryBank,
    Breaker,
    Fuse,
    Generator,
    Selector,
    ShoreInlet,
    SolarArray,
    Switch,
)
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network

#: How a point is made dead.
UNPLUG, STOP, ENGINE, COVER, LIFT, OPEN, PULL = "unplug", "stop", "engine", "cover", "lift", "open", "pull"
#: The order of work: what can be started again first, bare battery terminals last.
ORDER = (UNPLUG, STOP, ENGINE, COVER, OPEN, PULL, LIFT)

#: How far a point is from being safe, in an order of preference that is ours, no source: at the source and lockable
#: first; a fuse in the pocket is as good as a lock; what nothing can lock, the sun, and bare battery posts last.
_AT_SOURCE = {UNPLUG: 10, STOP: 10, ENGINE: 10, COVER: 45, LIFT: 200}
_HELD, _UNKNOWN, _NO_LOCK = 10, 30, 40
#: What a fuse, whose holder stays live, and an engine come behind where all else is equal, in contacts from the source.
_BEHIND = 2
_MOST_DEPTH = 8
#: What each essential load counts that goes dead with the points. A place dead for work and a boat without its steering
#: both want somebody to stand by, so more than two of them outweigh a contact of which nobody knows whether it locks.
ESSENTIAL_LOST = 10


@dataclass(frozen=True)
class Point:
    """One disconnection: at a source, or of a contact with all its poles."""

    id: str
    how: str
    #: How far it is from being safe; 10 where a lock or a pocket holds it.
    risk: int
    #: The links that it opens; empty for a source.
    links: frozenset[int]
    #: Whether a lock can hold it; None where nobody recorded it.
    lockable: bool | None
    #: Where it stands in a choice in which all else is equal: nearest to the source first.
    order: int = 0

    @property
    def is_source(self) -> bool:
        """Whether it takes the potential of a source away rather than opening a contact."""
        return not self.links


def source_points(supplies: Supplies) -> dict[str, Point]:
    """How each primary source is made dead at itself."""
    found: dict[str, Point] = {}
    for key in supplies.primary:
        match supplies.vessel.devices[key]:
            case ShoreInlet():
                how, lockable = UNPLUG, None
            case Generator() as device:
                how, lockable = STOP, _lockable(supplies.vessel, device.start_switch or "")
            case Alternator():
                how, lockable = ENGINE, None
            case SolarArray():
                how, lockable = COVER, False
            case BatteryBank():
                how, lockable = LIFT, False
            case _:
                continue
        found[key] = Point(key, how, _AT_SOURCE[how], frozenset(), lockable, _BEHIND if how == ENGINE else 0)
    return found


def _lockable(vessel: Vessel, place: str) -> bool | None:
    device = vessel.devices.get(place)
    return getattr(device, "lockable", None)


def contact_points(vessel: Vessel, network: Network) -> dict[str, Point]:
    """The contacts on the DC side that a hand can open and hold open."""
    depth = _depths(network)
    links: dict[str, set[int]] = {}
    for number, link in enumerate(network.links):
        poles = {network.terminals[link.a].pole, network.terminals[link.b].pole}
        if link.kind == "contact" and poles <= {"DC+", "DC-"}:
            links.setdefault(link.item, set()).add(number)
    found: dict[str, Point] = {}
    for item, numbers in links.items():
        said = _contact(vessel, item)
        if said is not None:
            how, risk, lockable = said
            order = min(min(depth[network.links[n].a], depth[network.links[n].b]) for n in numbers)
            order += _BEHIND if how == PULL else 0
            found[item] = Point(item, how, risk, frozenset(numbers), lockable, order)
    return found


def _contact(vessel: Vessel, item: str) -> tuple[str, int, bool | None] | None:
    """How a contact is held open, its risk, and whether it can be locked; None for what does not isolate."""
    if item in vessel.ways:
        way = vessel.ways[item][2]
        is_fuse, lockable = way.device == "fuse", way.lockable
    else:
        device = vessel.devices.get(item)
        match device:
            case Fuse():
                is_fuse, lockable = True, None
            case Switch(operation="manual") | Breaker():
                is_fuse, lockable = False, device.lockable
            case Selector(operation="manual", lockable=True) if () in device.table().values():
                is_fuse, lockable = False, True
            case _:
                return None
    if is_fuse:
        return PULL, _HELD, None
    return OPEN, _HELD if lockable else _UNKNOWN if lockable is None else _NO_LOCK, lockable


def _depths(network: Network) -> list[int]:
    """How many contacts lie between each terminal and the nearest source that needs no other."""
    depth = [_MOST_DEPTH] * len(network.terminals)
    queue: deque[int] = deque()
    for emission in network.emissions:
        if emission.supply == "battery" and emission.pole == "DC+" and depth[emission.terminal]:
            depth[emission.terminal] = 0
            queue.append(emission.terminal)
    while queue:
        here = queue.popleft()
        for number in network.at[here]:
            link = network.links[number]
            there, far = link.other(here), depth[here] + (link.kind == "contact")
            if far < depth[there]:
                depth[there] = far
                (queue.append if link.kind == "contact" else queue.appendleft)(there)
    return depth
