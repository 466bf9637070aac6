"""Two supplies at once that do not run in step, short of being joined: one neutral, or one load, between both."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from vesselspec.model.devices import Load, ShoreInlet
from vesselspec.network.graph import LINES
from vesselspec.network.reach import Arrival, Needs, Witness, agree
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.bonds import neutrals
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.findings import WARNING
from vesselspec.rules.potentials import joints


def _joined(boat: Boat) -> set[tuple[str, str]]:
    """The pairs of sources whose lines can be joined: told as that, and not again."""
    return {pair for pairs in kept(boat, "_joints", joints).values() for pair, *_ in pairs}


# --- one neutral for two inlets --------------------------------------------------------------------


@rule(
    "shore-neutrals-joined",
    WARNING,
    title="The neutrals of two shore inlets can be joined on board",
    why="What one cord brings returns in part through the other: protection against leakage trips or is blinded, and a "
    "neutral can carry more than its cord is made for with every breaker closed. With one cord unplugged its pins are "
    "joined to the other's neutral, which is live where line and neutral are exchanged ashore.",
    remedy="Keep the neutrals of the two inlets apart: a neutral bar for each section, and mains or a selector that "
    "open the neutral with the lines where both can feed one section.",
    source=COMMON_PRACTICE,
    needs="every inlet, selector and interlock with its poles; neutrals core by core",
    guards_life=True,
)
def neutrals_joined(boat: Boat) -> Iterator[Says | Sound]:
    """The neutral of one inlet at the pins of another, over every permitted set of positions."""
    facts, joined = neutrals(boat), _joined(boat)
    inlets = [each for each in facts.emissions if isinstance(boat.vessel.devices.get(each.source), ShoreInlet)]
    for emission in inlets if len(inlets) > 1 else ():
        yield Sound(emission.source)
    found: dict[str, list[tuple[str, str, Witness]]] = {}
    for one, other in combinations(inlets, 2):
        arrivals = facts.arrivals(one, other.terminal)
        if arrivals and (min(one.group, other.group), max(one.group, other.group)) not in joined:
            way = facts.way(min(arrivals, key=lambda each: len(each.needs)), other.terminal)
            found.setdefault(_meets(boat, way), []).append((one.source, other.source, way))
    for item, pairs in found.items():
        sources = tuple(dict.fromkeys(source for one, other, _ in pairs for source in (one, other)))
        way = pairs[0][2]
        yield Says(
            items=(item, *sources),
            at=boat.at(item),
            what=f"the neutrals of {' and '.join(map(boat.vessel.name_of, sources))} can be joined through "
            + (f"cable {item}" if item in boat.vessel.cables else boat.vessel.name_of(item)),
            witness=boat.told(way),
            positions=boat.positions(way.needs),
            consequences=_in_phase(boat, sources),
        )


def _meets(boat: Boat, way: Witness) -> str:
    """What joins two neutrals: a cable between two sections, else the bar or device on which both land."""
    network, sections = boat.network, boat.vessel.sections
    places = [network.terminals[number].place for number in (way.start, *(step.end for step in way.steps))]
    for step in way.steps:
        link = network.links[step.link]
        ends = [network.terminals[number].place for number in (link.a, link.b)]
        if link.kind == "core" and ends[0] != ends[1] and all(end in sections for end in ends):
            return link.item
    return next((place for place in places if place in sections), places[len(places) // 2].split("/", 1)[0])


def _in_phase(boat: Boat, sources: tuple[str, ...]) -> tuple[str, ...]:
    """What a splitter ashore does to inlets that feed different lines."""
    lines = {
        each.source: {e.pole for e in boat.network.emissions if e.source == each.source and e.pole in LINES}
        for each in boat.network.emissions
        if each.source in sources
    }
    if len({frozenset(poles) for poles in lines.values()}) < 2:
        return ()
    return (
        "fed from one leg ashore, as by a splitter, the common neutral carries the sum of both lines' currents and not "
        "their difference, and what stands between the lines gets no voltage",
    )


# --- one load on two sources -----------------------------------------------------------------------


@rule(
    "load-between-two-sources",
    WARNING,
    title="One load can stand on lines of two sources that do not run in step",
    why="It gets any voltage between none and twice its own. With one of the two unplugged or stopped, the other comes "
    "through the load to its pins and terminals, which everybody takes for dead.",
    remedy="Feed all its lines from one source at a time, through one device that opens them together.",
    source=COMMON_PRACTICE,
    needs="every source, selector and interlock; which inverters run in step; where every core lands",
    guards_life=True,
)
def between_two(boat: Boat) -> Iterator[Says | Sound]:
    """Loads and converters with two lines that come from different sources in some permitted positions."""
    joined = _joined(boat)
    for place, held in boat.poles_at.items():
        lines = [pole for pole in LINES if pole in held]
        head = place.split("/", 1)[0]
        if len(lines) < 2 or not isinstance(boat.vessel.loads.get(head), Load):
            continue
        found = _two(boat, place, lines, joined)
        if found is None:
            yield Sound(head)
            continue
        one, other, needs = found
        ways = [boat.reach.witness(arrival, boat.network.index[place, pole]) for pole, arrival in (one, other)]
        sources = tuple(sorted(arrival.emission.source for _, arrival in (one, other)))
        yield Says(
            items=(head, *sources),
            at=boat.at(head),
            what=f"{boat.vessel.name_of(head)} can stand on {one[0]} from "
            f"{boat.vessel.name_of(one[1].emission.source)} and {other[0]} from "
            f"{boat.vessel.name_of(other[1].emission.source)} at the same time",
            witness=(*boat.told(ways[0]), *boat.told(ways[1])),
            positions=boat.positions(needs),
        )


def _two(
    boat: Boat, place: str, lines: list[str], joined: set[tuple[str, str]]
) -> tuple[tuple[str, Arrival], tuple[str, Arrival], Needs] | None:
    """Two lines of a place with sources of different groups that can feed at once; None where there are none."""
    at = {
        pole: [a for a in boat.reach.at(boat.network.index[place, pole]) if a.emission.pole in LINES] for pole in lines
    }
    for one, other in combinations(lines, 2):
        for a in at[one]:
            for b in at[other]:
                groups = a.emission.group, b.emission.group
                if groups[0] == groups[1] or (min(groups), max(groups)) in joined:
                    continue
                needs = agree(a.needs, b.needs)
                if needs is not None:
                    return (one, a), (other, b), needs
    return None
