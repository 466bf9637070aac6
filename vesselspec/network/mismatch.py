"""Where a potential first comes to a terminal that is not meant to carry it.

Facts, not opinions: each mismatch names the link at which a potential passes from a terminal meant for it
to one that is not. What that is worth is for the rules to say.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from vesselspec.network.graph import LINES, Emission, Link, Network, Terminal
from vesselspec.network.reach import Arrival, Reach, Step, Witness, agree
from vesselspec.network.zones import is_between

AC_ON_DC = "ac-on-dc"
DC_ON_AC = "dc-on-ac"
LINE_ON_NEUTRAL = "line-on-neutral"
LINE_ON_EARTH = "line-on-earth"
LINES_SWAPPED = "lines-swapped"
VOLTAGE_MIXED = "voltage-mixed"
DC_REVERSED = "dc-reversed"
POSITIVE_ON_EARTH = "positive-on-earth"

DC_POLES = ("DC+", "DC-")


@dataclass(frozen=True)
class Mismatch:
    """One place at which potentials go astray."""

    kind: str
    item: str  # the cable or device at which it happens
    cores: tuple[str, ...]
    witness: Witness
    sources: tuple[str, ...]
    #: Places whose terminals the potential then reaches though they are not meant for it.
    reached: tuple[str, ...]


def misfit(emission: Emission, terminal: Terminal, volts: float, single_line: bool) -> str | None:
    """Return how a potential misfits a terminal's own duty, or None where it belongs or nobody knows.

    `volts` is the nominal voltage to neutral of the terminal's system, 0 where unknown; `single_line` says
    that source or terminal has one line only, so that there is no second line to mistake it for.
    """
    pole = terminal.pole
    if pole == "":
        return None
    if emission.pole in LINES:
        if pole in LINES:
            if volts and emission.volts and volts != emission.volts:
                return VOLTAGE_MIXED
            return LINES_SWAPPED if pole != emission.pole and not single_line else None
        return {"N": LINE_ON_NEUTRAL, "PE": LINE_ON_EARTH}.get(pole, AC_ON_DC)
    if emission.pole == "N":
        return AC_ON_DC if pole == "DC+" else None
    if emission.pole == "DC+":
        if pole == "DC+":
            return VOLTAGE_MIXED if volts and emission.volts and volts != emission.volts else None
        return {"DC-": DC_REVERSED, "PE": POSITIVE_ON_EARTH}.get(pole, DC_ON_AC)
    if emission.pole == "DC-":
        return DC_ON_AC if pole in LINES else None
    return None


def mismatches(reached: Reach, volts: dict[str, float], single_line: frozenset[str]) -> tuple[Mismatch, ...]:
    """Return every mismatch, one for each kind and item, in order of the items' first link.

    `volts` gives each system's nominal voltage to neutral; `single_line` names the systems with one line.
    """
    network = reached.network
    found: dict[tuple[str, str], list[tuple[int, Arrival, Step]]] = {}
    neutrals: dict[str, list[tuple[int, Arrival, Step]]] = {}

    lone = _lone(network, single_line)

    def fits(emission: Emission, terminal: Terminal) -> str | None:
        alone = terminal in lone or network.terminals[emission.terminal] in lone
        return misfit(emission, terminal, volts.get(terminal.system or "", 0.0), alone)

    def look(number: int, link: Link, arrival: Arrival) -> None:
        for start, end in ((link.a, link.b), (link.b, link.a)):
            if (is_between(link) and reached.zones.of[start] != arrival.zone) or (link.one_way and start == link.b):
                continue
            here, there = network.terminals[start], network.terminals[end]
            if here.loose or fits(arrival.emission, here) is not None:
                continue
            hit = (number, arrival, Step(number, start, end))
            kind = fits(arrival.emission, there)
            if arrival.emission.pole in ("N", "DC-") and here.pole != arrival.emission.pole:
                continue  # neutral and negative meet in the earth; beyond it this mistake is told by what is live
            grounded = (here.pole == "N" and there.pole in DC_POLES) or (here.pole, there.pole) == ("DC-", "N")
            back = grounded or kind is not None
            if back and any(step.link == number for step in reached.witness(arrival, start).steps):
                continue  # it comes back over the link that it left by: astray further up
            if grounded and arrival.emission.pole == here.pole:
                neutrals.setdefault(link.item, []).append(hit)
            elif kind is not None:
                found.setdefault((kind, link.item), []).append(hit)

    for zone in reached.live_zones:
        members = reached.zones.members[zone]
        duties = {network.terminals[t] for t in members}
        poles = {(t.system, t.pole) for t in duties}
        if len({pole for _, pole in poles if pole}) <= 1 and len({s for s, p in poles if p}) <= 1:
            continue  # one duty only: nothing can misfit inside
        arrivals = reached.arrivals[zone]
        suspects = [a for a in arrivals if any(fits(a.emission, t) is not None for t in duties)]
        neutral_meets_negative = {"N", "DC-"} <= {pole for _, pole in poles}
        if not suspects and not neutral_meets_negative:
            continue
        numbers = sorted({n for t in members for n in network.at[t] if not is_between(network.links[n])})
        for arrival in suspects if not neutral_meets_negative else arrivals:
            for number in numbers:
                look(number, network.links[number], arrival)
    for number in reached.zones.between:
        link = network.links[number]
        for terminal in (link.a, link.b):
            for arrival in reached.at(terminal):
                if agree(arrival.needs, link.guards) is not None:
                    look(number, link, arrival)
    # Neutral and negative meet in the earth, never core to core. Beside a live core it is part of that mistake.
    for item, hits in neutrals.items():
        kinds = [kind for kind in (AC_ON_DC, DC_ON_AC) if (kind, item) in found]
        own = [hit for hit in hits if hit[1].emission.pole == "N"]
        kind = kinds[0] if kinds else AC_ON_DC if own else DC_ON_AC
        found.setdefault((kind, item), []).extend(own or hits)
    return tuple(
        _gather(reached, kind, item, hits, fits)
        for (kind, item), hits in sorted(found.items(), key=lambda entry: (entry[1][0][0], entry[0]))
    )


def strays(reached: Reach, volts: dict[str, float], single_line: frozenset[str]) -> dict[str, frozenset[str]]:
    """For each kind, every place at which a potential can be that misfits there: where it goes astray, and beyond.

    Wider than `mismatches`, which names only the first link: what is in none of these is free of that kind.
    """
    network = reached.network
    lone = _lone(network, single_line)
    found: dict[str, set[str]] = {}
    for zone in reached.live_zones:
        duties: dict[tuple[str, str | None, bool], list[int]] = {}
        for number in reached.zones.members[zone]:
            terminal = network.terminals[number]
            duties.setdefault((terminal.pole, terminal.system, terminal in lone), []).append(number)
        seen = {(a.emission.pole, a.emission.volts, network.terminals[a.emission.terminal] in lone): a.emission
                for a in reached.arrivals[zone]}  # fmt: skip
        for (*_, alone), emission in seen.items():
            for (_, system, lonely), numbers in duties.items():
                terminal = network.terminals[numbers[0]]
                kind = misfit(emission, terminal, volts.get(system or "", 0.0), alone or lonely)
                if kind is not None:
                    found.setdefault(kind, set()).update(network.terminals[number].place for number in numbers)
    return {kind: frozenset(places) for kind, places in found.items()}


def _lone(network: Network, single_line: frozenset[str]) -> frozenset[Terminal]:
    """Terminals with no second line beside them: of a system with one line, or of a device that has one only."""
    found: set[Terminal] = set()
    for place, numbers in network.places.items():
        lines = [network.terminals[number] for number in numbers if network.terminals[number].pole in LINES]
        alone = len(lines) == 1 and place.count("/") < 2  # a way of a panel has one line and stands for its bar
        found.update(terminal for terminal in lines if alone or terminal.system in single_line)
    return frozenset(found)


def _gather(
    reached: Reach,
    kind: str,
    item: str,
    hits: list[tuple[int, Arrival, Step]],
    fits: Callable[[Emission, Terminal], str | None],
) -> Mismatch:
    network = reached.network
    witnesses = []
    for number, arrival, step in hits:
        way = reached.witness(arrival, step.start)
        needs = agree(arrival.needs, network.links[number].guards) or arrival.needs
        witnesses.append(Witness(way.emission, needs, way.start, (*way.steps, step)))
    best = min(witnesses, key=lambda w: (w.emission.pole not in (*LINES, "DC+"), len(w.steps)))
    live = [hit for hit in hits if hit[1].emission.pole in (*LINES, "DC+")] or hits
    places: dict[str, None] = {}
    for _, arrival, step in live:
        zone = reached.zones.of[step.end]
        for terminal in reached.zones.members[zone]:
            at = network.terminals[terminal]
            if fits(arrival.emission, at) is not None:
                places[at.place] = None
    cores = _cores(network, item, {number for number, _, _ in hits})
    sources = dict.fromkeys(arrival.emission.source for _, arrival, _ in live)
    return Mismatch(kind, item, cores, best, tuple(sources), tuple(places))


def _cores(network: Network, item: str, hits: set[int]) -> tuple[str, ...]:
    """The cores that a potential goes astray on, with those of the same cable that are exchanged for them."""

    def poles(link: Link) -> tuple[str, str]:
        return network.terminals[link.a].pole, network.terminals[link.b].pole

    exchanged = {poles(network.links[number])[::-1] for number in hits}
    links = (n for n, link in enumerate(network.links) if link.item == item and link.core)
    return tuple(network.links[n].core for n in links if n in hits or poles(network.links[n]) in exchanged)
