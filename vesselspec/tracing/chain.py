"""A way through the network as a chain of cables and contacts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vesselspec.network.graph import Network
from vesselspec.network.reach import Arrival, Needs, Reach, Step, agree


@dataclass(frozen=True)
class Hop:
    """One item that a way passes, with its steps: links of that item, from terminal to terminal."""

    item: str
    kind: str  # cable | contact | inside | transformer
    steps: tuple[Step, ...]

    @property
    def start(self) -> int:
        """The terminal at which the way comes to the item."""
        return self.steps[0].start

    @property
    def end(self) -> int:
        """The terminal at which the way leaves the item."""
        return self.steps[-1].end


@dataclass(frozen=True)
class Chain:
    """A way from one terminal to another, and the positions that it takes."""

    start: int
    end: int
    hops: tuple[Hop, ...]
    needs: Needs


_KINDS = {"core": "cable", "contact": "contact", "joint": "inside"}


def chain_of(network: Network, start: int, end: int, steps: Iterable[Step], needs: Needs) -> Chain:
    """Gather steps by the item that they belong to. What lies inside one place is no hop of its own."""
    hops: list[Hop] = []
    for step in steps:
        if step.link < 0:
            item, kind = network.terminals[step.end].place.split("/", 1)[0], "transformer"
        else:
            link = network.links[step.link]
            item, kind = link.item, _KINDS[link.kind]
            if kind == "inside" and network.terminals[step.start].place == network.terminals[step.end].place:
                continue
        if hops and (hops[-1].item, hops[-1].kind) == (item, kind):
            hops[-1] = Hop(item, kind, (*hops[-1].steps, step))
        else:
            hops.append(Hop(item, kind, (step,)))
    stands = tuple((key, states) for choice, states in needs for key in network.together[choice])
    return Chain(start, end, tuple(hops), stands)


class Spread:
    """Ways from a set of terminals to what a search from them found; each zone is walked once for all of them."""

    def __init__(self, reach: Reach, starts: Iterable[int]) -> None:
        self.reach, self.starts = reach, tuple(starts)
        self._trees: dict[tuple[int, ...], dict[int, tuple[int, int]]] = {}

    def chain(self, arrival: Arrival, goal: int) -> Chain:
        """The way to a terminal of the arrival's zone, with what its own links need and no more."""
        back: list[Step] = []
        at: Arrival | None = arrival
        while at is not None:
            zone = at.zone
            entries = (at.entry,) if at.before is not None else tuple(t for t in self.starts if self._zone(t) == zone)
            tree = self._tree(entries)
            while tree[goal][1] >= 0:
                link, before = tree[goal]
                back.append(Step(link, before, goal))
                goal = before
            if at.before is not None:
                leave = self.reach.network.links[at.link].other(at.entry)
                back.append(Step(at.link, leave, at.entry))
                goal = leave
            at = at.before
        network = self.reach.network
        steps = back[::-1]
        needs: Needs = ()
        for step in steps:
            needs = agree(needs, network.links[step.link].guards) or needs
        end = steps[-1].end if steps else goal
        return chain_of(network, goal, end, steps, needs)

    def _zone(self, terminal: int) -> int:
        return self.reach.zones.of[terminal]

    def _tree(self, entries: tuple[int, ...]) -> dict[int, tuple[int, int]]:
        if entries not in self._trees:
            self._trees[entries] = self.reach.tree(entries)
        return self._trees[entries]
