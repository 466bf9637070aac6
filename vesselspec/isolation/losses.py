"""The loads that go dead with points open, so that a sheet takes away no more than it must.

Every other contact counts as closed and every other source as running, as in the search for what can be live. A load
counts once, by the first of its lines or positives.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from vesselspec.isolation.energy import HOT, Supplies
from vesselspec.isolation.points import Point
from vesselspec.network.graph import Network
from vesselspec.network.zones import components


def parts_of(network: Network, contacts: Mapping[str, Point]) -> tuple[int, ...]:
    """For each terminal its part: all that is joined without one of the contacts, and both ways."""
    opens = {number for point in contacts.values() for number in point.links}
    fixed = ((link.a, link.b) for n, link in enumerate(network.links) if n not in opens and not link.one_way)
    return components(len(network.terminals), fixed)


def passages_of(supplies: Supplies, part: tuple[int, ...]) -> set[tuple[int, int]]:
    """Where energy passes one way from part to part: diodes, converters, and transformers fed at their secondary."""
    network = supplies.network
    found = {(part[link.a], part[link.b]) for link in network.links if link.one_way}
    for emission in network.emissions:
        if emission.pole in HOT:
            for terminal in supplies.inputs.get((emission.source, emission.terminal), ()):
                found.add((part[terminal], part[emission.terminal]))
    for primary, secondary in network.transformers.values():
        found |= {(part[b], part[a]) for a in primary for b in secondary}
    return {(a, b) for a, b in found if a != b}


@dataclass(frozen=True)
class Behind:
    """How many loads a part feeds, those that safety depends on and the others."""

    essential: int
    others: int


@dataclass(frozen=True)
class Losses:
    """The boat in parts, with the loads in each."""

    starts: frozenset[tuple[int, str]]  # part, source
    #: For each part, the parts next to it and the contact between; none where nothing opens it.
    beside: Mapping[int, tuple[tuple[int, str | None], ...]]
    behind: Mapping[int, Behind]

    @classmethod
    def of(cls, supplies: Supplies, contacts: Mapping[str, Point]) -> Losses:
        """Everything contracted that none of the contacts opens. Loads that nothing feeds are left out."""
        network, part = supplies.network, parts_of(supplies.network, contacts)
        beside: dict[int, dict[tuple[int, str | None], None]] = defaultdict(dict)
        for name, point in contacts.items():
            for link in (network.links[number] for number in sorted(point.links)):
                beside[part[link.a]][part[link.b], name] = None
                beside[part[link.b]][part[link.a], name] = None
        for a, b in sorted(passages_of(supplies, part)):
            beside[a][b, None] = None
        hot = (e for e in network.emissions if e.source in supplies.primary and e.pole in HOT)
        starts = frozenset((part[emission.terminal], emission.source) for emission in hot)
        loads: dict[int, list[bool]] = defaultdict(list)
        for key, load in supplies.vessel.loads.items():
            lines = [t for t in network.within(key) if network.terminals[t].pole in HOT]
            if lines:
                loads[part[lines[0]]].append(load.essential)
        whole = cls(starts, {p: tuple(each) for p, each in beside.items()}, {})
        live = whole.live(())
        behind = {p: Behind(sum(each), len(each) - sum(each)) for p, each in sorted(loads.items()) if p in live}
        return cls(whole.starts, whole.beside, behind)

    def live(self, opened: Collection[str], without: Collection[int] = ()) -> set[int]:
        """The parts that are live with some points open, and some parts out of the way."""
        found = {part for part, source in self.starts if source not in opened and part not in without}
        waiting = list(found)
        while waiting:
            for there, contact in self.beside.get(waiting.pop(), ()):
                if there not in found and there not in without and (contact is None or contact not in opened):
                    found.add(there)
                    waiting.append(there)
        return found

    def others(self, contact: str) -> int:
        """How many of the loads that safety does not depend on a contact takes dead by itself."""
        live = self.live([contact])
        return sum(said.others for part, said in self.behind.items() if part not in live)
