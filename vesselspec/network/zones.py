"""Zones: terminals that conductors and freely operable contacts can join.

A contact that stands alone (a breaker, a switch) is open or closed whatever the rest of the boat does, so
for the question "what can be live" it is taken as closed. What is left between zones are the contacts of
exclusive choices: few on any boat, which keeps the search over them small and exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from vesselspec.network.graph import Link, Network


def components(size: int, pairs: Iterable[tuple[int, int]]) -> tuple[int, ...]:
    """Return for each of `size` nodes the number of its connected component, numbered in node order."""
    # The climb to the root is written out: a call for each end of each pair would take most of the time.
    parent = list(range(size))
    for one, other in pairs:
        a, b = one, other
        while parent[a] != a:
            parent[a] = a = parent[parent[a]]
        while parent[b] != b:
            parent[b] = b = parent[parent[b]]
        if a < b:
            parent[b] = a
        else:
            parent[a] = b
    # A parent is never behind its child, so that it has its number first.
    number, count = [0] * size, 0
    for node, above in enumerate(parent):
        if above == node:
            number[node] = count
            count += 1
        else:
            number[node] = number[above]
    return tuple(number)


def is_between(link: Link) -> bool:
    """Whether a link lies between zones: it needs an exclusive choice, or conducts one way only."""
    return bool(link.guards) or link.one_way


@dataclass(frozen=True)
class Zones:
    """The zone of every terminal, and the links that lie between zones."""

    network: Network
    of: tuple[int, ...]
    between: tuple[int, ...]

    @cached_property
    def members(self) -> tuple[tuple[int, ...], ...]:
        """The terminals of each zone."""
        lists: list[list[int]] = [[] for _ in range(max(self.of, default=-1) + 1)]
        for terminal, zone in enumerate(self.of):
            lists[zone].append(terminal)
        return tuple(map(tuple, lists))

    @cached_property
    def exits(self) -> dict[int, tuple[tuple[int, int, int], ...]]:
        """For each zone the (link, terminal here, terminal there) that lead out of it, in order."""
        found: dict[int, list[tuple[int, int, int]]] = {}
        for number in self.between:
            link = self.network.links[number]
            found.setdefault(self.of[link.a], []).append((number, link.a, link.b))
            if not link.one_way:
                found.setdefault(self.of[link.b], []).append((number, link.b, link.a))
        return {zone: tuple(ways) for zone, ways in found.items()}


def zones_of(network: Network) -> Zones:
    """Contract a network to its zones."""
    inside = ((link.a, link.b) for link in network.links if not is_between(link))
    between = tuple(number for number, link in enumerate(network.links) if is_between(link))
    return Zones(network, components(len(network.terminals), inside), between)
