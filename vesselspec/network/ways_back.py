"""The way from every terminal back to the source that feeds it, and which links of it no other way avoids.

Earth is left out: it is no way for a working current. Conductors between the same two terminals count as one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from vesselspec.network.graph import Network
from vesselspec.network.state import State


@dataclass(frozen=True)
class WaysBack:
    """For each terminal the link and the terminal that come next on the way to its nearest source; -1 at a source."""

    link: tuple[int, ...]
    towards: tuple[int, ...]
    fed: tuple[bool, ...]
    #: Links that every way to a source takes; empty where nobody asked for them.
    only: frozenset[int]
    #: The links that lie between the same two terminals as a link, itself included.
    together: Mapping[int, tuple[int, ...]]

    def links(self, terminal: int) -> tuple[tuple[int, int], ...] | None:
        """The (link, terminal beyond it) from a terminal to its source; None where nothing feeds it."""
        if not self.fed[terminal]:
            return None
        found = []
        while self.link[terminal] >= 0:
            found.append((self.link[terminal], self.towards[terminal]))
            terminal = self.towards[terminal]
        return tuple(found)

    def beside(self, link: int) -> tuple[int, ...]:
        """The links between the same two terminals, itself included."""
        return self.together.get(link, (link,))


def every_source(network: Network, part: Sequence[int]) -> list[int]:
    """Terminals that hold a potential by themselves: beside a battery, what charges it does not count."""
    batteries = {part[e.terminal] for e in network.emissions if e.supply == "battery"}
    return [
        e.terminal
        for e in network.emissions
        if e.pole != "PE" and (e.supply != "charging" or part[e.terminal] not in batteries)
    ]


def live_sources(state: State) -> list[int]:
    """The same, of the sources that run in a condition."""
    found = []
    for part, emissions in state.live.items():
        battery = any(e.supply == "battery" for e in emissions)
        found += [
            e.terminal
            for e in emissions
            if e.pole != "PE" and state.component[e.terminal] == part and not (battery and e.supply == "charging")
        ]
    return found


def ways_back(network: Network, closed: Sequence[bool], sources: Iterable[int], *, only: bool = True) -> WaysBack:
    """Spread from the sources over the closed links, nearest first."""
    count = len(network.terminals)
    around: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    together: dict[int, tuple[int, ...]] = {}
    for (a, b), every in network.between.items():
        numbers = [number for number in every if closed[number]]
        if numbers:
            around[a].append((numbers[0], b))
            around[b].append((numbers[0], a))
        if len(numbers) > 1:
            together.update(dict.fromkeys(numbers, tuple(numbers)))
    via, towards, fed = [-1] * count, [-1] * count, [False] * count
    starts = sorted(set(sources))
    for start in starts:
        fed[start] = True
    queue = deque(starts)
    while queue:
        here = queue.popleft()
        for number, there in around[here]:
            link = network.links[number]
            if not fed[there] and not (link.one_way and here != link.a):
                fed[there], via[there], towards[there] = True, number, here
                queue.append(there)
    return WaysBack(
        tuple(via),
        tuple(towards),
        tuple(fed),
        _bridges(around, starts) if only else frozenset(),
        together,
    )


def _bridges(around: list[list[tuple[int, int]]], starts: list[int]) -> frozenset[int]:
    """Links without which something would have no source: bridges, with all sources taken as one point.

    The depth at which each node is first met, and the least depth that its subtree touches by another way
    (Tarjan 1974), without recursion.
    """
    root = len(around)
    edges = [*around, [(-1 - place, start) for place, start in enumerate(starts)]]
    to_root = {start: -1 - place for place, start in enumerate(starts)}
    depth: dict[int, int] = {root: 0}
    low: dict[int, int] = {root: 0}
    found: set[int] = set()
    stack: list[tuple[int, int, int]] = [(root, root, 0)]  # node, edge it was entered by, next edge to look at
    entered: dict[int, int] = {}
    while stack:
        node, by, at = stack.pop()
        extra = [(to_root[node], root)] if node in to_root else []
        if at < len(edges[node]) + len(extra):
            stack.append((node, by, at + 1))
            number, there = edges[node][at] if at < len(edges[node]) else extra[0]
            if node != root and number == by:
                continue
            if there in depth:
                low[node] = min(low[node], depth[there])
            else:
                depth[there] = low[there] = len(depth)
                entered[there] = node
                stack.append((there, number, 0))
        elif node != root:
            above = entered[node]
            low[above] = min(low[above], low[node])
            if low[node] > depth[above] and by >= 0:
                found.add(by)
    return frozenset(found)
