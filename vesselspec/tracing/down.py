"""Down: every load and converter that an item can feed, with one shortest way to each of its poles."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from vesselspec.isolation.energy import HOT
from vesselspec.network.graph import Emission, Network
from vesselspec.network.reach import Arrival, reach
from vesselspec.network.zones import zones_of
from vesselspec.tracing.blocks import beyond
from vesselspec.tracing.chain import Chain, Spread
from vesselspec.tracing.subject import Subject
from vesselspec.tracing.wiring import Wiring


@dataclass(frozen=True)
class Drain:
    """A load or the input of a converter, at one terminal that the item feeds."""

    item: str
    kind: str  # load | converter
    terminal: int
    chain: Chain


@dataclass(frozen=True)
class Down:
    """What an item feeds. A load is named where a live conductor from the item comes to it."""

    drains: tuple[Drain, ...]
    #: What each converter that is fed by the item, or by another one here, feeds in its turn.
    through: Mapping[str, tuple[Drain, ...]]
    #: Every terminal beyond the item, on the live side.
    terminals: frozenset[int]
    #: Whether a source feeds the item; where none is recorded, everything joined to it is told as beyond it.
    fed: bool


def down_from(wiring: Wiring, subject: Subject) -> Down:
    """Trace an item to every load and converter beyond it, and on through those converters.

    Beyond a cable or a contact is what is fed through it, not what else lands on its terminals.

    Exact for a condition. Over all positions no load is missed; one too many can be named where a way to it would
    have to pass the same terminal twice because of what an exclusive choice shuts.
    """
    search = _Search(wiring)
    item = subject.place
    own = own_links(wiring.unearthed, subject)
    drains, reached, fed = search.beyond(item, subject.terminals, own, _points(wiring.unearthed, subject, own))
    through: dict[str, tuple[Drain, ...]] = {}
    waiting = [drain.item for drain in drains if drain.kind == "converter"]
    while waiting:
        key = waiting.pop(0)
        if key in through or key == item:
            continue
        outputs = [e.terminal for e in wiring.network.emissions if e.source == key and e.pole in HOT]
        through[key], _, _ = search.beyond(key, outputs)
        waiting += [drain.item for drain in through[key] if drain.kind == "converter"]
    return Down(drains, through, reached, fed)


def own_links(network: Network, subject: Subject) -> frozenset[int]:
    """The cores or contacts of an item through which it feeds; none for a source, a place, or a single terminal.

    Through a space it is the cores of its cables.
    """
    if subject.kind == "terminal" or any(e.source == subject.item for e in network.emissions):
        return frozenset()
    if subject.kind == "space":
        cables = frozenset(subject.cables)
        return frozenset(n for n, k in enumerate(network.links) if k.item in cables and k.kind == "core")
    return frozenset(n for n, k in enumerate(network.links) if k.item == subject.item and k.kind in ("core", "contact"))


def _points(network: Network, subject: Subject, links: frozenset[int]) -> frozenset[int]:
    """The terminals of an item that themselves count as passed; of a cable or contact none, of a space what is in it.

    A cable that only passes a space ends outside: what else lands there is not beyond the space.
    """
    if subject.kind == "space":
        return frozenset(t for key in subject.inside for t in network.within(key))
    return frozenset() if links else frozenset(subject.terminals)


class _Search:
    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.network = network = wiring.unearthed
        self.zones = zones_of(network)
        self.sources = tuple(e.terminal for e in network.emissions if e.pole in HOT)
        #: What may be at the end of a way, by terminal.
        self.ends: dict[int, tuple[str, str]] = {}
        for terminals, source in ((at, key[0]) for key, at in wiring.supplies.inputs.items()):
            self.ends.update(dict.fromkeys(terminals, (source, "converter")))
        for key in wiring.vessel.loads:
            self.ends.update({t: (key, "load") for t in network.within(key) if network.terminals[t].pole != "PE"})

    def beyond(
        self,
        item: str,
        terminals: Iterable[int],
        links: frozenset[int] = frozenset(),
        points: frozenset[int] | None = None,
    ) -> tuple[tuple[Drain, ...], frozenset[int], bool]:
        terminals = tuple(terminals)
        points = frozenset(terminals) if points is None else points
        at = [t for t in terminals if self.network.terminals[t].pole != "PE"]
        live = {t: [a for a in self.wiring.unearthed_reach.at(t) if a.emission.pole in HOT] for t in at}
        starts = [t for t in at if live[t]]
        fed = bool(starts)
        if fed:
            passed = beyond(self.network, self.sources, points.intersection(starts), links=links)
        else:  # everything joined to it, unless another position tells line from load
            passed = self._by_position(at, links, points) or beyond(self.network, at, at)
        needs = {(self.zones.of[t], a.needs): t for t in starts for a in live[t]}
        needs = needs or {(self.zones.of[t], ()): t for t in at}
        own = [Emission("", "trace", "", t, "", None, 0.0, guards) for (_, guards), t in needs.items()]
        found = reach(self.zones, starts=own)
        spread = Spread(found, starts or at)
        drains: list[Drain] = []
        reached: set[int] = set()
        for zone, arrivals in found.arrivals.items():
            inside = passed.intersection(self.zones.members[zone])
            reached |= inside
            nearest = min(arrivals, key=_turns)
            drains += [Drain(*self.ends[t], t, spread.chain(nearest, t)) for t in inside if t in self.ends]
        order = {t: number for number, t in enumerate(self.ends)}
        drains.sort(key=lambda drain: order[drain.terminal])
        return tuple(d for d in drains if d.item != item), frozenset(reached), fed

    def _by_position(self, at: list[int], links: frozenset[int], points: frozenset[int]) -> frozenset[int]:
        """What lies beyond terminals where a source is on: in a condition that leaves them dead."""
        whole = self.wiring.whole
        if whole is None:
            return frozenset()
        live = [t for t in at if any(a.emission.pole in HOT for a in whole.unearthed_reach.at(t))]
        sources = (e.terminal for e in whole.network.emissions if e.pole in HOT)
        # What is open in the condition has no link in its network: look at it where it can be closed.
        return beyond(whole.unearthed, sources, points.intersection(live), links=links)


def _turns(arrival: Arrival) -> tuple[int, int]:
    """How many zones a search has passed, and how many positions that takes."""
    count, at = 0, arrival.before
    while at is not None:
        count, at = count + 1, at.before
    return count, len(arrival.needs)
