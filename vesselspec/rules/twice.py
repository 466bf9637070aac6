"""A circuit with two feeds: what one open device leaves live."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterator

from vesselspec.network.graph import LINES, Emission, Guard, Network
from vesselspec.network.reach import Arrival, Needs, agree
from vesselspec.network.zones import components
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.findings import WARNING
from vesselspec.rules.potentials import without


@rule(
    "circuit-fed-twice",
    WARNING,
    title="A circuit is fed through two devices at once",
    why="With one of them open the circuit stays live through the other; and the two share a fault, so that the "
    "conductor between them is protected by neither alone.",
    remedy="Make both dead and prove it, find what joins the two circuits and take it out, or feed the load through "
    "one device.",
    source=COMMON_PRACTICE,
    needs="where every core lands; switches, selectors and interlocks as they are on board",
    guards_life=True,
)
def fed_twice(boat: Boat) -> Iterator[Says | Sound]:
    """AC loads that one source feeds on one line through two devices, neither of which opens the other."""
    network = boat.network
    zone, borders = _circuits(network)
    told: set[tuple[str, ...]] = set()
    for key in boat.vessel.loads:
        lines = [number for pole in LINES if (number := network.index.get((key, pole))) is not None]
        found = None
        for number in lines:
            outer = borders.get(zone[number], {})
            feeding = len(outer) > 1 and sum(
                _leads_to_source(network, zone, zone[number], ends) for ends in outer.values()
            )
            found = found or (_two(boat, number, outer) if feeding > 1 else None)
        if lines and found is None:
            yield Sound(key)
        elif found is not None and found[0] not in told:
            told.add(found[0])
            devices, arrival, end = found
            witness = boat.reach.witness(arrival, end)
            names = " and ".join(map(boat.vessel.name_of, devices))
            yield Says(
                items=(key, *devices),
                at=boat.at(key),
                what=f"{boat.vessel.name_of(key)} is fed through {names} at once from "
                f"{boat.vessel.name_of(arrival.emission.source)}; with one of them open it stays live",
                witness=boat.told(witness),
                positions=boat.positions(witness.needs),
            )


#: Device → what lies beyond each of its contacts, and what that contact needs to conduct.
_Borders = dict[str, list[tuple[int, tuple[Guard, ...]]]]


def _circuits(network: Network) -> tuple[tuple[int, ...], dict[int, _Borders]]:
    """For each terminal its circuit, which no contact parts, and for each circuit the devices around it."""
    inside = [(link.a, link.b) for link in network.links if link.switch is None and not link.guards]
    zone = components(len(network.terminals), inside)
    borders: dict[int, _Borders] = defaultdict(lambda: defaultdict(list))
    for link in network.links:
        if link.switch is not None and zone[link.a] != zone[link.b]:
            borders[zone[link.a]][link.switch].append((link.b, link.guards))
            borders[zone[link.b]][link.switch].append((link.a, link.guards))
    return zone, borders


def _leads_to_source(
    network: Network, zone: tuple[int, ...], circuit: int, ends: list[tuple[int, tuple[Guard, ...]]]
) -> bool:
    """Whether a source lies beyond a device in some position, seen from a circuit: a quick look before the search."""
    sources = {emission.terminal for emission in network.emissions if emission.pole in LINES}
    seen = {end for end, _ in ends}
    queue = deque(seen)
    while queue:
        here = queue.popleft()
        if here in sources:
            return True
        there = (network.links[number].other(here) for number in network.at[here])
        new = {other for other in there if other not in seen and zone[other] != circuit}
        seen |= new
        queue.extend(new)
    return False


def _two(boat: Boat, load: int, outer: _Borders) -> tuple[tuple[str, ...], Arrival, int] | None:
    """Two devices beyond which one source stands on one line while the circuit is cut off, if there are such."""
    apart = without(boat.network, frozenset(outer))
    live: dict[tuple[str, str], list[tuple[str, Emission, Needs]]] = defaultdict(list)
    for device, ends in outer.items():
        for end, guards in ends:
            for arrival in apart.at(end):
                needs = agree(arrival.needs, guards)
                if arrival.emission.pole in LINES and needs is not None:
                    key = arrival.emission.group, arrival.emission.pole
                    live[key].append((device, arrival.emission, needs))
    for several in live.values():
        for number, (device, emission, needs) in enumerate(several):
            for other, _, beside in several[number + 1 :]:
                if other != device and agree(needs, beside) is not None:
                    here = next((each for each in boat.reach.at(load) if each.emission == emission), None)
                    if here is not None:
                        return tuple(sorted((device, other))), here, load
    return None
