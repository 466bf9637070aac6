"""What the rules on earth share: what earth conductors join, and by which way."""

from __future__ import annotations

from collections import deque

from vesselspec.network.reach import Step
from vesselspec.network.zones import components
from vesselspec.rules.boat import Boat, kept


def earth_parts(boat: Boat, without: frozenset[str] = frozenset()) -> tuple[int, ...]:
    """For each terminal the number of the part that earth conductors join, those inside some devices left out."""

    def work(_: Boat) -> tuple[int, ...]:
        network = boat.network
        pairs = [
            (link.a, link.b) for link in network.links if link.item not in without and _is_earth(boat, link.a, link.b)
        ]
        return components(len(network.terminals), pairs)

    return kept(boat, f"_earth_parts:{','.join(sorted(without))}", work)


def steps_between(boat: Boat, start: int, end: int, without: frozenset[str] = frozenset()) -> tuple[Step, ...]:
    """A shortest way by earth conductors between two terminals of one part; empty where there is none."""
    network = boat.network
    before: dict[int, Step] = {}
    queue = deque((start,))
    while queue and end not in before:
        here = queue.popleft()
        for number in network.at[here]:
            link = network.links[number]
            there = link.other(here)
            if link.item not in without and there != start and there not in before and _is_earth(boat, here, there):
                before[there] = Step(number, here, there)
                queue.append(there)
    steps: list[Step] = []
    at = end
    while at in before:
        steps.append(before[at])
        at = before[at].start
    return tuple(reversed(steps))


def _is_earth(boat: Boat, one: int, two: int) -> bool:
    return boat.network.terminals[one].pole == boat.network.terminals[two].pole == "PE"
