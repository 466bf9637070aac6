"""Outward from a source: what it feeds before the first overcurrent device, and how far along the conductors.

The way may lead over several cables, bars, switches and selectors. Exclusive choices must agree along it, as
everywhere: no way leads through a selector in two positions. The way is the shortest by recorded lengths; a
length that is not recorded counts as nothing, so the distance is the least that it can be.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass
from itertools import count

from vesselspec.network.graph import LINES, CoreRun, Emission, Link, Network
from vesselspec.network.reach import Needs, agree, asks_no_more

_LIVE = (*LINES, "DC+")
#: Ways kept to one terminal. The next one goes on as if no position were taken yet: that names a way too many rather
#: than one too few, and ends the search where selectors in a row would double the ways without end.
_MOST_WAYS = 64


@dataclass(frozen=True, eq=False)
class Stretch:
    """A core that a source feeds with no overcurrent device before it, and the cores that lead to it."""

    link: int
    run: CoreRun
    before: Stretch | None
    #: Least distance from the source to the far end of the core, in m.
    metres: float
    #: Whether the way branches off a conductor that is exempt, and is measured from there.
    tapped: bool

    @property
    def way(self) -> tuple[Stretch, ...]:
        """All stretches from the source to this one, this one last."""
        return (*self.before.way, self) if self.before is not None else (self,)

    @property
    def unmeasured(self) -> tuple[str, ...]:
        """The cables along the way of which no length is recorded."""
        return tuple(dict.fromkeys(each.run.cable.id for each in self.way if each.run.cable.length_m is None))


@dataclass(frozen=True)
class Outward:
    """What one emission feeds: cores, nearest first, and the first device on every way with the core before it."""

    stretches: tuple[Stretch, ...]
    devices: dict[str, Stretch | None]
    #: Links that lie on a way to a device, or to an end that nobody knows.
    leading: frozenset[int]
    #: Every terminal before the first devices.
    terminals: frozenset[int]


def _protects(link: Link) -> bool:
    return link.protective


def outward(
    network: Network, emission: Emission, exempt: Collection[int] = (), stops: Callable[[Link], bool] = _protects
) -> Outward:
    """Go from a source along live conductors up to the first overcurrent devices, or whatever else `stops`.

    Links in `exempt` conduct and have no length: a way that branches off one is measured from there on.
    """
    found: dict[int, Stretch] = {}
    devices: dict[str, Stretch | None] = {}
    crossed: set[int] = set()
    ends = {emission.terminal}
    settled: dict[int, list[Needs]] = {}
    number = count()
    queue: list[tuple[float, int, int, Needs, Stretch | None, bool]] = []
    start = agree((), emission.guards)
    if start is not None:
        queue.append((0.0, next(number), emission.terminal, start, None, False))
    while queue:
        metres, _, here, needs, before, tapped = heapq.heappop(queue)
        if any(asks_no_more(old, dict(needs)) for old in settled.get(here, ())):
            continue
        if len(settled.setdefault(here, [])) >= _MOST_WAYS:
            needs = ()
        settled[here].append(needs)
        for at in network.at[here]:
            link = network.links[at]
            there = network.terminals[link.other(here)]
            if (there.pole not in _LIVE and not there.loose) or (link.one_way and here != link.a):
                continue
            if stops(link):
                devices.setdefault(link.item, before)
                ends.add(here)
                continue
            agreed = agree(needs, link.guards)
            if agreed is None:
                continue
            crossed.add(at)
            if there.loose:
                ends.add(link.other(here))
            further: tuple[float, Stretch | None, bool] = (metres, before, tapped)
            if link.kind == "core" and at in exempt:
                further = (0.0, None, True)
            elif link.kind == "core":
                run = network.core_of[at]
                stretch = Stretch(at, run, before, metres + (run.cable.length_m or 0.0), tapped)
                found.setdefault(at, stretch)
                further = (stretch.metres, stretch, tapped)
            heapq.heappush(queue, (further[0], next(number), link.other(here), agreed, *further[1:]))
    return Outward(tuple(found.values()), devices, frozenset(between(network, crossed, ends)), frozenset(settled))


def between(network: Network, links: set[int], ends: set[int]) -> set[int]:
    """Those of the links that lie on a way between two of the ends: what is left when all dead ends are cut back."""
    left: dict[int, set[int]] = defaultdict(set)
    for number in links:
        left[network.links[number].a].add(number)
        left[network.links[number].b].add(number)
    bare = [terminal for terminal in left if terminal not in ends]
    while bare:
        terminal = bare.pop()
        if len(left[terminal]) == 1:
            number = left[terminal].pop()
            other = network.links[number].other(terminal)
            left[other].discard(number)
            if other not in ends:
                bare.append(other)
    return {number for numbers in left.values() for number in numbers}
