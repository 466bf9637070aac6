"""Which potential of which source can reach which terminal, over all permitted switch positions.

Every exclusive choice (selector, interlock, transfer relay) has one state at a time. A potential that has
come to a zone carries the states that its way there needs; a further contact must agree with them. Of two
ways to the same zone the one that needs less is kept, so the answer is that of trying every combination
of positions, without trying them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from vesselspec.network.graph import LINES, Emission, Guard, Network
from vesselspec.network.zones import Zones, is_between

#: What a way needs: each choice with the states that are still possible, sorted by choice.
Needs = tuple[Guard, ...]

#: Ways kept for one potential in one zone. Beyond it the answer is marked incomplete, never silently cut.
MOST_WAYS = 512


def agree(needs: Needs, guards: Iterable[Guard]) -> Needs | None:
    """Return the needs together with further guards, or None if no state of some choice satisfies all."""
    merged = dict(needs)
    for choice, states in guards:
        left = merged.get(choice, states) & states
        if not left:
            return None
        merged[choice] = left
    return tuple(sorted(merged.items(), key=lambda item: item[0]))


def asks_no_more(one: Needs, of: Mapping[str, frozenset[str]]) -> bool:
    """Whether `one` holds wherever the needs `of` do."""
    return len(one) <= len(of) and all(choice in of and of[choice] <= states for choice, states in one)


@dataclass(frozen=True)
class Arrival:
    """A potential in a zone: where it came in, what that needs, and the arrival that it came from."""

    emission: Emission
    zone: int
    entry: int  # terminal
    needs: Needs
    link: int  # the link it came over; -1 at the source
    before: Arrival | None


@dataclass(frozen=True)
class Step:
    """One step of a witness: over a link from one terminal to the next."""

    link: int  # -1 backwards through an isolation transformer
    start: int
    end: int


@dataclass(frozen=True)
class Witness:
    """How a potential gets from its source to a terminal, and the positions that it takes."""

    emission: Emission
    needs: Needs
    start: int
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Reach:
    """Every potential in every zone that it can come to."""

    zones: Zones
    arrivals: Mapping[int, tuple[Arrival, ...]]
    incomplete: frozenset[int]

    @property
    def network(self) -> Network:
        """The network searched."""
        return self.zones.network

    def at(self, terminal: int) -> tuple[Arrival, ...]:
        """The arrivals in the zone of a terminal."""
        return self.arrivals.get(self.zones.of[terminal], ())

    @cached_property
    def live_zones(self) -> tuple[int, ...]:
        """The zones that something can reach, in order."""
        return tuple(sorted(self.arrivals))

    def witness(self, arrival: Arrival, terminal: int) -> Witness:
        """Return a shortest way, within each zone, from the source to a terminal of the arrival's zone."""
        chain: list[Arrival] = []
        at: Arrival | None = arrival
        while at is not None:
            chain.append(at)
            at = at.before
        chain.reverse()
        steps: list[Step] = []
        for here, following in zip(chain, [*chain[1:], None], strict=True):
            if following is None:
                steps += self._inside(here.entry, terminal)
            else:
                leave = self._way_out(here, following)
                steps += self._inside(here.entry, leave)
                steps.append(Step(following.link, leave, following.entry))
        return Witness(arrival.emission, arrival.needs, chain[0].entry, tuple(steps))

    def _way_out(self, here: Arrival, following: Arrival) -> int:
        """The terminal at which a way leaves a zone for the next one."""
        if following.link >= 0:
            return self.network.links[following.link].other(following.entry)
        _, secondary = self.network.transformers[following.emission.source]
        return next(terminal for terminal in secondary if self.zones.of[terminal] == here.zone)

    def _inside(self, start: int, goal: int) -> list[Step]:
        if start == goal:
            return []
        tree = self.tree((start,), goal)
        steps: list[Step] = []
        at = goal
        while at != start:
            link, before = tree[at]
            steps.append(Step(link, before, at))
            at = before
        steps.reverse()
        return steps

    def tree(self, starts: Iterable[int], goal: int | None = None) -> dict[int, tuple[int, int]]:
        """Breadth-first inside a zone: for each terminal reached the link and terminal it is reached from.

        Starts are given (-1, -1). Stops early at `goal`.
        """
        network = self.network
        tree = dict.fromkeys(starts, (-1, -1))
        queue = deque(tree)
        while queue:
            here = queue.popleft()
            if here == goal:
                break
            for number in network.at[here]:
                link = network.links[number]
                if is_between(link):
                    continue
                there = link.other(here)
                if there not in tree:
                    tree[there] = (number, here)
                    queue.append(there)
        return tree


def reach(zones: Zones, *, without: frozenset[int] = frozenset(), starts: Iterable[Emission] | None = None) -> Reach:
    """Spread every emission (or those of `starts`) over all permitted positions; links in `without` do not conduct."""
    network = zones.network
    found: dict[int, list[Arrival]] = {}
    incomplete: set[int] = set()
    queue: deque[Arrival] = deque()

    def arrive(arrival: Arrival) -> None:
        here = found.setdefault(arrival.zone, [])
        same = [other for other in here if other.emission == arrival.emission]
        needs = dict(arrival.needs)
        if any(asks_no_more(other.needs, needs) for other in same):
            return
        if len(same) >= MOST_WAYS:
            incomplete.add(arrival.zone)
            return
        beaten = [other for other in same if asks_no_more(arrival.needs, dict(other.needs))]
        for other in beaten:
            here.remove(other)
        here.append(arrival)
        queue.append(arrival)

    for emission in network.emissions if starts is None else starts:
        needs = agree((), emission.guards)
        if needs is not None:
            arrive(Arrival(emission, zones.of[emission.terminal], emission.terminal, needs, -1, None))
    while queue:
        arrival = queue.popleft()
        if arrival not in found[arrival.zone]:
            continue  # a way that asks for less has replaced it
        for link, _, there in zones.exits.get(arrival.zone, ()):
            if link in without:
                continue
            needs = agree(arrival.needs, network.links[link].guards)
            if needs is not None:
                arrive(Arrival(arrival.emission, zones.of[there], there, needs, link, arrival))
        for derived in _through_transformers(zones, arrival):
            arrive(derived)
    ordered = {zone: tuple(found[zone]) for zone in sorted(found)}
    return Reach(zones, ordered, frozenset(incomplete))


def _through_transformers(zones: Zones, arrival: Arrival) -> Iterable[Arrival]:
    """A transformer fed at its secondary makes its primary live: the potential is then the transformer's own."""
    emission = arrival.emission
    if emission.pole not in LINES:
        return
    for key, (primary, secondary) in zones.network.transformers.items():
        if emission.source == key or arrival.zone not in {zones.of[t] for t in secondary}:
            continue
        for terminal in primary:
            at = zones.network.terminals[terminal]
            # Its voltage is known where both sides are on one system.
            volts = emission.volts if at.system == emission.system else 0.0
            back = Emission(key, "transformer", key, terminal, at.pole, at.system, volts)
            yield Arrival(back, zones.of[terminal], terminal, arrival.needs, -1, arrival)
