"""What the rules on currents and voltages share: the way from each load to its source, and the limits it is held to."""

from __future__ import annotations

from vesselspec.model.devices import Load
from vesselspec.model.items import System
from vesselspec.network.graph import CoreRun
from vesselspec.network.state import closed_links
from vesselspec.network.ways_back import WaysBack, every_source, live_sources, ways_back
from vesselspec.network.zones import components
from vesselspec.physics.conductors.ampacity import Ampacity
from vesselspec.physics.conductors.drop import Limit, branch_limit, dc_limit, total_limit
from vesselspec.physics.loads.supply import Supply, draws_of, supplies_of
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.protection import core_ampacity, loaded_conductors


def core_volts(boat: Boat, run: CoreRun) -> float:
    """Nominal voltage that a core is on: that of its ends' systems."""
    link = boat.network.links[run.link]
    systems = [boat.vessel.systems.get(boat.network.terminals[n].system or "") for n in (link.a, link.b)]
    return max((system.voltage.line_v for system in systems if system is not None), default=0.0)


def ampacity_on(boat: Boat, link: int) -> Ampacity | None:
    """What the core that is a link may carry; None where its size is not recorded or not in the tables."""
    run = boat.network.core_of[link]
    return core_ampacity(boat, run, core_volts(boat, run), loaded_conductors(boat).get(run.cable.id, 1))


def back_of(boat: Boat) -> WaysBack:
    """The way from every terminal to its nearest source, whatever the positions."""
    return kept(boat, "_ways_back", _back_of)


def _back_of(boat: Boat) -> WaysBack:
    network = boat.network
    part = components(len(network.terminals), ((link.a, link.b) for link in network.links if not link.one_way))
    return ways_back(network, [True] * len(network.links), every_source(network, part))


def supplies(boat: Boat) -> dict[str, tuple[Supply, ...]]:
    """What every load drops on its way at its own rated current alone."""
    return kept(boat, "_supplies", _supplies)


def _supplies(boat: Boat) -> dict[str, tuple[Supply, ...]]:
    back = back_of(boat)
    return {
        key: tuple(supplies_of(boat.vessel, boat.network, back, load))
        for key, load in boat.vessel.loads.items()
        if load.use != "engine-cranking"
    }


def unsummed(boat: Boat) -> frozenset[str]:
    """Items and places between a source and something of which nobody recorded what it draws.

    What is worked out for them is too low, so that they cannot be called sound.
    """
    return kept(boat, "_unsummed", _unsummed)


def _unsummed(boat: Boat) -> frozenset[str]:
    network, vessel = boat.network, boat.vessel
    unknown = {item for each in boat.demands.values() for one in each.sources for item, _ in one.unknown}
    unknown |= {
        key
        for key, load in vessel.loads.items()
        if load.use != "engine-cranking"
        and any(draw.amps is None for draw in draws_of(load, vessel.systems.get(load.system or "")))
    }
    if not unknown:
        return frozenset()
    ways = [back_of(boat)]
    for key, condition in vessel.conditions.items():
        state = boat.states[key]
        ways.append(ways_back(network, closed_links(network, condition, state), live_sources(state), only=False))
    found: set[str] = set()
    waiting = sorted(unknown)
    while waiting:  # what is fed through a converter is drawn on its other side too
        for terminal in network.within(waiting.pop()):
            for back in ways:
                for number, towards in back.links(terminal) or ():
                    place = network.terminals[towards].place
                    head = place.split("/", 1)[0]
                    if head in vessel.devices and head not in found:
                        waiting.append(head)
                    found |= {network.links[number].item, place, head}
    return frozenset(found)


def limits_of(boat: Boat, load: Load, system: System, practice: str | None = None) -> tuple[Limit, ...]:
    """The limits of voltage drop that apply to a load: of its branch, and from the source."""
    by = practice or boat.vessel.about.practice
    total = total_limit(by, dc=system.is_dc, use=load.use, essential=load.essential)
    branch = branch_limit(by, dc=system.is_dc)
    return tuple(limit for limit in (branch, total) if limit is not None)


def class_limit(boat: Boat, load: Load, system: System) -> tuple[Limit | None, Limit | None]:
    """The limit from the source, and the laxer one that holds whatever the use is where it is not recorded."""
    practice = boat.vessel.about.practice
    total = total_limit(practice, dc=system.is_dc, use=load.use, essential=load.essential)
    if total is not None:
        return total, None
    return dc_limit(practice, strict=True), dc_limit(practice, strict=False)
