"""What stands between every source and every conductor: the last overcurrent device on each way.

A segment is what no overcurrent device and no exclusive contact divides. Live potentials are spread from
segment to segment; looking back along the way that each came shows the device that limits it, or that none does.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.network.graph import Emission, Network
from vesselspec.network.reach import Needs, agree
from vesselspec.network.zones import components

_LIVE = ("L1", "L2", "L3", "DC+")
#: Ways kept by which one source reaches one segment through one device last. Beyond it the answer is marked
#: incomplete, never silently cut.
MOST_WAYS = 64


@dataclass(frozen=True)
class Feed:
    """One way by which a segment is fed: through a device last, or (device None) straight from the source."""

    emission: Emission
    device: str | None


@dataclass(frozen=True)
class Feeds:
    """The segment of every terminal, and the feeds of every segment.

    `incomplete` are the segments to which more ways lead than are kept: what lies beyond them may have other feeds too.
    """

    segment: tuple[int, ...]
    of: Mapping[int, tuple[Feed, ...]]
    incomplete: frozenset[int] = frozenset()

    def at(self, terminal: int) -> tuple[Feed, ...]:
        """The feeds of the segment that a terminal is in."""
        return self.of.get(self.segment[terminal], ())


@dataclass(frozen=True)
class _Way:
    emission: Emission
    segment: int
    needs: Needs
    device: str | None
    #: Every segment that it comes by; it comes by none twice.
    over: frozenset[int]


def feeds_of(network: Network) -> Feeds:
    """Find the feeds of every segment."""
    divides = [link.protective or bool(link.guards) or link.one_way for link in network.links]
    joined = ((k.a, k.b) for k, cut in zip(network.links, divides, strict=True) if not cut)
    segment = components(len(network.terminals), joined)
    exits: dict[int, list[tuple[int, int]]] = {}
    for number, link in enumerate(network.links):
        if divides[number] and network.terminals[link.a].pole in _LIVE:
            exits.setdefault(segment[link.a], []).append((number, segment[link.b]))
            if not link.one_way:
                exits.setdefault(segment[link.b], []).append((number, segment[link.a]))

    ways: dict[tuple[int, Emission, str | None], list[_Way]] = {}
    queue: deque[_Way] = deque()
    incomplete: set[int] = set()

    def arrive(way: _Way) -> None:
        same = ways.setdefault((way.segment, way.emission, way.device), [])
        if any(o.over <= way.over and set(o.needs) <= set(way.needs) for o in same):
            return
        if len(same) >= MOST_WAYS:
            incomplete.add(way.segment)
            return
        same.append(way)
        queue.append(way)

    for emission in network.emissions:
        needs = agree((), emission.guards)
        if emission.pole in _LIVE and needs is not None:
            start = segment[emission.terminal]
            arrive(_Way(emission, start, needs, None, frozenset((start,))))
    while queue:
        way = queue.popleft()
        for number, there in exits.get(way.segment, ()):
            if there in way.over:
                continue
            link = network.links[number]
            needs = agree(way.needs, link.guards)
            if needs is not None:
                device = link.item if link.protective else way.device
                arrive(_Way(way.emission, there, needs, device, way.over | {there}))
    found: dict[int, dict[Feed, None]] = {}
    for place, emission, device in ways:
        found.setdefault(place, {})[Feed(emission, device)] = None
    return Feeds(segment, {place: tuple(each) for place, each in sorted(found.items())}, frozenset(incomplete))
