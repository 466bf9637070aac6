"""Fault levels on board: what a bolted fault draws at every place, in every operating condition.

The *largest* fault is with every source that the condition brings together. Conductors are cold, 20 °C, of solid
copper of their full area, and without reactance: no real conductor has less. Running motors are not counted as
sources. The *smallest* is with one source alone, the weakest that feeds the place, and with conductors as hot as
their insulation allows. Voltages are nominal in both: see `sources` for why no voltage factor is applied.
Contacts, joints and devices have no impedance.

What is not recorded makes the largest fault an interval. `high_a` takes unknown conductors for no impedance and
unknown sources for stiff ones; `low_a` takes both for absent. Where the two agree nothing unknown matters there. An
estimated battery is as good as unknown here and has a figure of its own, `estimate_a`. A source that limits itself
(a charger, an alternator) adds its limit to `high_a`, as if the network did not share it.

This module imports NumPy and SciPy; import it where it is needed.
"""

from __future__ import annotations

import cmath
import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, OPEN_END, Network
from vesselspec.network.state import State, closed_links
from vesselspec.network.zones import components
from vesselspec.physics.faults.bolted import Faults, faults
from vesselspec.physics.faults.circuit import (
    COLD_C,
    HOT_C,
    Bools,
    Feed,
    Wiring,
    circuit_of,
    feeds_in,
    lands_on,
    wiring_of,
)
from vesselspec.physics.faults.inverse import Indices

_AGREE = 1e-6  # share by which the two ends of an interval may differ and still be one figure
_LEAST_A = 1e-6  # less is rounding

Pair = tuple[str, str]
Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Share:
    """What one source gives to a fault, in A; None where the record does not let it be told."""

    source: str
    amps: float | None
    limits_itself: bool = False


@dataclass(frozen=True)
class Level:
    """A bolted fault between two poles of a place, in A. `high_a` is infinite where nothing known limits it.

    `known`: nothing that is not recorded makes a difference to the largest fault. `asymmetry` is what the first half
    cycle has over the symmetrical current, from the impedance behind the fault. `smallest_a` is None where it cannot
    be told; `smallest_from` is the source that it is from, `smallest_by` what each source alone gives. `missing` and
    `missing_smallest` are what is not recorded and matters: (item, what).
    """

    condition: str
    place: str
    pair: Pair
    low_a: float
    high_a: float
    known: bool
    estimate_a: float | None
    asymmetry: float
    shares: tuple[Share, ...]
    smallest_a: float | None
    smallest_from: str
    smallest_by: Mapping[str, float | None]
    missing: tuple[tuple[str, str], ...]
    missing_smallest: tuple[tuple[str, str], ...]
    derivation: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Largest:
    """The largest faults at all pairs of AC or of DC: with the unknown as nothing, and as absent."""

    high: Faults
    high_owners: list[str]
    low: Faults
    low_owners: list[str]
    estimate: Reals | None


class FaultStudy:
    """What all conditions of a vessel share: conductors, pairs of poles, and the circuits that were solved before."""

    def __init__(self, vessel: Vessel, network: Network) -> None:
        self.vessel, self.network = vessel, network
        self.wiring: Wiring = wiring_of(vessel, network)
        #: The links between two terminals that are meant to be live.
        self.live: Bools = ~lands_on(network, ("N", "DC-", "PE", OPEN_END))
        wired = _landed(network)
        nearest = _nearest_return(network, wired)
        self.pairs = {dc: _pairs(network, wired, nearest, dc=dc) for dc in (False, True)}
        self.number = {dc: {key: n for n, key in enumerate(pairs.keys)} for dc, pairs in self.pairs.items()}
        self._largest: dict[object, _Largest] = {}
        self._alone: dict[object, Reals] = {}

    def of(self, condition: Condition, state: State) -> FaultLevels:
        """The fault levels of one condition."""
        return FaultLevels(self, condition, state)

    def largest(self, closed: Bools, feeds: tuple[Feed, ...], nodes: int, *, dc: bool) -> _Largest:
        """The largest faults over these links with these feeds together."""
        stiff = tuple(feed for feed in feeds if not feed.limits_itself)
        key = (dc, closed.tobytes(), tuple((feed.source, feed.plus, feed.star) for feed in stiff))
        if key not in self._largest:
            a, b = self.pairs[dc].a, self.pairs[dc].b
            net, owners = circuit_of(self.wiring, closed, stiff, nodes, "high")
            high = low = faults(net, a, b)
            low_owners, estimate = owners, None
            gaps = np.any(closed & self.wiring.core & np.isnan(self.wiring.cold))
            if gaps or any(feed.supply.missing or feed.cord_missing for feed in stiff):
                net, low_owners = circuit_of(self.wiring, closed, stiff, nodes, "low")
                low = faults(net, a, b)
            if any(feed.supply.estimate is not None for feed in stiff):
                net, _ = circuit_of(self.wiring, closed, stiff, nodes, "estimate")
                estimate = np.abs(faults(net, a, b, given=False).amps)
            self._largest[key] = _Largest(high, owners, low, low_owners, estimate)
        return self._largest[key]

    def alone(self, closed: Bools, feed: Feed, nodes: int) -> Reals | None:
        """The fault that one feed gives alone at every pair; None where its impedance is not recorded."""
        if feed.supply.most is None or feed.cord_missing:
            return None
        key = (feed.dc, closed.tobytes(), feed.source, feed.plus, feed.star)
        if key not in self._alone:
            a, b = self.pairs[feed.dc].a, self.pairs[feed.dc].b
            net, _ = circuit_of(self.wiring, closed, [feed], nodes, "alone")
            self._alone[key] = np.abs(faults(net, a, b, given=False).amps)
        return self._alone[key]


class FaultLevels:
    """Every fault level of one condition: arrays inside, a `Level` for a place and a pair of poles when asked."""

    def __init__(self, study: FaultStudy, condition: Condition, state: State) -> None:
        self.study, self.condition, self.state = study, condition.id, state
        self.closed: Bools = np.array(closed_links(study.network, condition, state), np.bool_)
        self.feeds = feeds_in(study.vessel, study.network, state)
        self._nodes = len(study.network.terminals) + sum(feed.star >= 0 for feed in self.feeds)
        self._upstream: dict[str, tuple[float | None, tuple[tuple[str, str], ...]]] = {}
        self._behind_parts: dict[tuple[bool, int, int], tuple[list[Feed], list[Feed]]] = {}

    def pairs(self) -> Iterator[tuple[str, Pair]]:
        """Every place and pair of poles at which a fault draws current, AC first."""
        for dc in (False, True):
            pairs = self.study.pairs[dc]
            for number, (key, terminal) in enumerate(zip(pairs.keys, pairs.a.tolist(), strict=True)):
                if self.state.at(terminal) and self._high(number, dc=dc) > _LEAST_A:
                    yield key

    def largest(self, place: str, pair: Pair) -> tuple[float, float] | None:
        """The largest fault at a place, at least and at most, in A; None where no source drives one there."""
        found = self._find(place, pair)
        if found is None:
            return None
        number, dc = found
        high = self._high(number, dc=dc)
        return None if high <= _LEAST_A else (abs(complex(self._solved[dc].low.amps[number])), high)

    def toward(self, sources: frozenset[str], place: str, pair: Pair) -> tuple[float, float]:
        """What some of the sources give to a fault at a place, at least and at most, in A."""
        found = self._find(place, pair)
        if found is None:
            return 0.0, 0.0
        number, dc = found
        solved = self._solved[dc]
        extra = _limits(feed for feed in self._behind(number, dc=dc)[1] if feed.source in sources)
        high = _together(solved.high, solved.high_owners, number, sources) + extra
        return _together(solved.low, solved.low_owners, number, sources), min(high, self._high(number, dc=dc))

    def alone(self, source: str, place: str, pair: Pair) -> float | None:
        """What one source alone gives to a fault by the figures that are recorded, even if it cannot sustain it.

        None where that cannot be told: its impedance or a conductor on the way is not recorded, or there is no way.
        """
        found = self._find(place, pair)
        if found is None:
            return None
        number, dc = found
        for feed in self._behind(number, dc=dc)[0]:
            if feed.source == source:
                amps = self._small(feed, number)
                return amps if amps > _LEAST_A else None
        return None

    def asymmetry(self, place: str, pair: Pair) -> float:
        """RMS current of the first half cycle over the symmetrical one: sqrt(1 + 2 exp(-2 pi R / X))."""
        found = self._find(place, pair)
        if found is None:
            return 1.0
        z = complex(self._solved[found[1]].high.z[found[0]])
        if z.imag <= 1e-9 or not math.isfinite(z.real):
            return 1.0
        return math.sqrt(1 + 2 * math.exp(-2 * math.pi * z.real / z.imag))

    def level(self, place: str, pair: Pair) -> Level | None:
        """The fault between two poles of a place, with all that is to be said of it; None where there is none."""
        found = self._find(place, pair)
        if found is None or self.largest(place, pair) is None:
            return None
        number, dc = found
        solved = self._solved[dc]
        stiff, limited = self._behind(number, dc=dc)
        stiff_a, low = abs(complex(solved.high.amps[number])), abs(complex(solved.low.amps[number]))
        known = math.isfinite(stiff_a) and stiff_a - low <= _AGREE * stiff_a
        by = {feed.source: self._trusted(feed, number) for feed in stiff or limited}
        told = [(amps, source) for source, amps in by.items() if amps is not None]
        smallest = min(told) if told and len(told) == len(by) else None
        return Level(
            condition=self.condition,
            place=place,
            pair=pair,
            low_a=low,
            high_a=self._high(number, dc=dc),
            known=known,
            estimate_a=None if solved.estimate is None or known else float(solved.estimate[number]),
            asymmetry=self.asymmetry(place, pair),
            shares=(*_shares(solved, number, stiff), *(Share(f.source, f.supply.limit_a, True) for f in limited)),
            smallest_a=None if smallest is None else smallest[0],
            smallest_from="" if smallest is None else smallest[1],
            smallest_by=by,
            missing=() if known else self._lacks(number, stiff, dc=dc),
            missing_smallest=() if smallest else self._lacks(number, stiff or limited, dc=dc, smallest=True),
            derivation=tuple(self._derivation(number, stiff, limited, smallest, dc=dc)),
        )

    def missing(self, place: str, pair: Pair, *, smallest: bool = False) -> tuple[tuple[str, str], ...]:
        """What is not recorded and matters to the largest, or to the smallest, fault at a place."""
        found = self._find(place, pair)
        if found is None:
            return ()
        stiff, limited = self._behind(found[0], dc=found[1])
        return self._lacks(found[0], stiff or limited, dc=found[1], smallest=smallest)

    # --- inside --------------------------------------------------------------------------------------

    def _find(self, place: str, pair: Pair) -> tuple[int, bool] | None:
        """The number of a pair of poles that a source feeds, and whether it is DC."""
        dc = pair[0] == "DC+"
        number = self.study.number[dc].get((place, pair))
        if number is None or not self.state.at(int(self.study.pairs[dc].a[number])):
            return None
        return number, dc

    @cached_property
    def _own(self) -> dict[bool, Bools]:
        """What conducts of the AC and of the DC circuit. A diode conducts where a battery stands before it."""
        wiring, part = self.study.wiring, self.state.component
        closed = self.closed & ~wiring.one_way
        batteries = {part[n] for feed in self.feeds if feed.dc and not feed.limits_itself for n, _ in feed.plus}
        for number in np.flatnonzero(self.closed & wiring.one_way).tolist():
            closed[number] = part[wiring.a[number]] in batteries
        return {False: closed & wiring.in_ac & ~wiring.one_way, True: closed & wiring.in_dc}

    @cached_property
    def _solved(self) -> dict[bool, _Largest]:
        found = {}
        for dc in (False, True):
            feeds = tuple(feed for feed in self.feeds if feed.dc == dc)
            found[dc] = self.study.largest(self._own[dc], feeds, self._nodes, dc=dc)
        return found

    def _behind(self, number: int, *, dc: bool) -> tuple[list[Feed], list[Feed]]:
        """The sources that feed a pair of poles and can take its current back: stiff ones, and those with a limit."""
        part, pairs = self.state.component, self.study.pairs[dc]
        key = (dc, part[int(pairs.a[number])], part[int(pairs.b[number])])
        if key not in self._behind_parts:
            here = {emission.terminal for emission in self.state.live.get(key[1], ())}
            mine = [
                feed
                for feed in self.feeds
                if feed.dc == dc
                and any(terminal in here for terminal, _ in feed.plus)
                and any(part[n] == key[2] for n in (*feed.minus, *(terminal for terminal, _ in feed.plus)))
            ]
            limited = [feed for feed in mine if feed.limits_itself]
            self._behind_parts[key] = [feed for feed in mine if not feed.limits_itself], limited
        return self._behind_parts[key]

    def _high(self, number: int, *, dc: bool) -> float:
        return abs(complex(self._solved[dc].high.amps[number])) + _limits(self._behind(number, dc=dc)[1])

    def _small(self, feed: Feed, number: int) -> float:
        closed = self._own[feed.dc] & ~self.study.wiring.one_way
        alone = self.study.alone(closed, feed, self._nodes)
        amps = float(alone[number]) if alone is not None else 0.0
        if amps <= _LEAST_A or feed.source not in self.study.network.transformers:
            return amps
        before, _ = self._before(feed)
        _, pair = self.study.pairs[feed.dc].keys[number]
        lines = sum(pole in LINES for pole in pair)
        volts = max(abs(emf) for _, emf in feed.plus) * (1 if lines < 2 else math.sqrt(3) if feed.plus[2:] else 2)
        return volts / (volts / amps + before * volts**2) if before is not None else 0.0

    def _before(self, feed: Feed) -> tuple[float | None, tuple[tuple[str, str], ...]]:
        """The impedance of what feeds a transformer's primary, and what is not recorded of it.

        In ohm at its secondary for each V² there, from the smallest fault at its primary. Magnitudes are added, which
        errs to the smaller fault.
        """
        if feed.source not in self._upstream:
            self._upstream[feed.source] = None, ()  # one that comes back to itself has none
            place = f"{feed.source}/primary"
            terminals = (self.study.network.terminals[n] for n in self.study.network.transformers[feed.source][0])
            poles = [terminal.pole for terminal in terminals]
            pair = (poles[0], poles[1]) if poles[1:] else (poles[0], "N")
            level = self.level(place, pair)
            device = self.study.vessel.devices[feed.source]
            system = self.study.vessel.systems.get(device.system or "") if hasattr(device, "system") else None
            if level is not None and system is not None:
                found = 1 / level.smallest_a / system.volts(pair) if level.smallest_a is not None else None
                self._upstream[feed.source] = found, level.missing_smallest
        return self._upstream[feed.source]

    def _trusted(self, feed: Feed, number: int) -> float | None:
        """What a feed gives alone, if it can be relied on."""
        amps = self._small(feed, number)
        return amps if amps > _LEAST_A and not feed.supply.missing_smallest else None

    def _lacks(
        self, number: int, feeds: list[Feed], *, dc: bool, smallest: bool = False
    ) -> tuple[tuple[str, str], ...]:
        return tuple(dict.fromkeys(self._missing(number, feeds, dc=dc, smallest=smallest)))

    def _missing(
        self, number: int, feeds: list[Feed], *, dc: bool, smallest: bool = False
    ) -> Iterator[tuple[str, str]]:
        for feed in feeds:
            word = feed.supply.missing_smallest if smallest else feed.supply.missing
            if word:
                yield feed.source, word
            elif smallest and feed.source in self.study.network.transformers:
                yield from self._before(feed)[1]
            if feed.cord_missing:
                yield feed.source, feed.cord_missing
        ends = {n for feed in feeds for n in (*feed.minus, *(n for n, _ in feed.plus))}
        for end in (self.study.pairs[dc].a, self.study.pairs[dc].b):
            yield from self._between(int(end[number]), ends, dc=dc)

    @cached_property
    def _parts(self) -> dict[bool, tuple[int, ...]]:
        """The parts that hang together by conductors of known impedance alone."""
        wiring, count = self.study.wiring, len(self.study.network.terminals)
        found = {}
        for dc, own in self._own.items():
            known = own & ~(wiring.core & np.isnan(wiring.cold))
            found[dc] = components(count, zip(wiring.a[known].tolist(), wiring.b[known].tolist(), strict=True))
        return found

    def _between(self, terminal: int, ends: set[int], *, dc: bool) -> Iterator[tuple[str, str]]:
        """The unknown conductors on the shortest way, in unknown conductors, from a terminal to any of the ends."""
        part, wiring = self._parts[dc], self.study.wiring
        goals = {part[end] for end in ends}
        came: dict[int, tuple[int, int]] = {part[terminal]: (-1, -1)}
        queue = deque([part[terminal]])
        while queue:
            here = queue.popleft()
            if here in goals:
                while came[here][0] >= 0:
                    link, here = came[here]
                    yield wiring.missing[link]
                return
            for link in wiring.missing:
                if self._own[dc][link]:
                    a, b = part[wiring.a[link]], part[wiring.b[link]]
                    for one, two in ((a, b), (b, a)):
                        if one == here and two not in came:
                            came[two] = link, here
                            queue.append(two)

    def _derivation(
        self, number: int, stiff: list[Feed], limited: list[Feed], smallest: tuple[float, str] | None, *, dc: bool
    ) -> Iterator[str]:
        solved = self._solved[dc]
        if number in self.study.pairs[dc].elsewhere:
            yield f"no return is wired here: a fault to {self.study.pairs[dc].elsewhere[number]}"
        for feed in stiff:
            yield from feed.supply.derivation
            for item in (feed.supply.missing, feed.cord_missing):
                if item:
                    yield f"{feed.source}: {item} is not recorded: not limited here"
        volts, z = abs(complex(solved.high.volts[number])), complex(solved.high.z[number])
        if z and math.isfinite(z.real):
            yield (
                f"largest: {volts:.4g} V / |{_mohm(z.real, z)} + j{_mohm(z.imag, z)} mohm| = "
                f"{volts / abs(z):.4g} A; conductors of solid copper at {COLD_C:g} °C, their reactance left out"
            )
        for feed in limited:
            yield from (f"{told}: added" for told in feed.supply.derivation)
        if smallest is not None:
            yield (
                f"smallest: {smallest[1]} alone, conductors at the temperature of their insulation "
                f"({HOT_C:g} °C where that is not recorded): {smallest[0]:.4g} A"
            )


def _mohm(part: float, whole: complex) -> str:
    """A part of an impedance in mohm; what is rounding beside the whole is 0."""
    return f"{part * 1000:.4g}" if abs(part) > 1e-9 * abs(whole) else "0"


def _limits(feeds: Iterator[Feed] | list[Feed]) -> float:
    """What sources that limit themselves give at most, each counted once however many outputs it has."""
    return math.fsum({feed.source: feed.supply.limit_a or 0.0 for feed in feeds}.values())


def _shares(solved: _Largest, number: int, feeds: list[Feed]) -> Iterator[Share]:
    """What each source gives to the largest fault: the greatest current of its poles."""
    for source in dict.fromkeys(feed.source for feed in feeds):
        rows = [row for row, owner in enumerate(solved.high_owners) if owner == source]
        amps = [abs(complex(solved.high.given[row, number])) for row in rows]
        if any(math.isnan(each) for each in amps):
            yield Share(source, None)
        elif amps and max(amps) > _LEAST_A:
            yield Share(source, max(amps))


def _together(found: Faults, owners: list[str], number: int, sources: frozenset[str]) -> float:
    """The current of some sources into a fault; all of it where the part of one of them cannot be told."""
    total = abs(complex(found.amps[number]))
    if all(owner in sources for owner in owners):
        return total
    # Of a source with several poles the one that gives most counts: its others are the way back.
    by: dict[str, complex] = {}
    for row, owner in enumerate(owners):
        if owner in sources:
            amps = complex(found.given[row, number])
            if cmath.isnan(amps):
                return total
            by[owner] = max(amps, by.get(owner, 0j), key=abs)
    return min(abs(sum(by.values())), total)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Every pair of poles of every place, and the terminals between which it lies.

    A fuse or switch in one conductor has no return of its own, and `elsewhere` says what a fault behind it is taken
    to: the return core of the cable that leaves there, at that end; without one, the return of the nearest place
    towards the source that has one. So it is never more than the fault at the place that feeds it, by that return.
    A return that runs back by itself, in a cable of its own, is not known to lie beside it and does not count.
    """

    keys: tuple[tuple[str, Pair], ...]
    a: Indices
    b: Indices
    elsewhere: Mapping[int, str]


def _pairs(network: Network, wired: Sequence[bool], nearest: Mapping[int, int], *, dc: bool) -> _Pairs:
    found: list[tuple[tuple[str, Pair], int, int]] = []
    elsewhere: dict[int, str] = {}
    for place, numbers in network.places.items():
        poles = {network.terminals[n].pole: n for n in numbers if not network.terminals[n].loose}
        lines = [pole for pole in (("DC+",) if dc else LINES) if pole in poles]
        if not lines:
            continue
        if place.count("/") == 2:  # a way has the poles of its device only; the others are the section's
            for pole in ("N", "DC-", "PE"):
                bar = network.index.get((place.rpartition("/")[0], pole))
                if bar is not None:
                    poles.setdefault(pole, bar)
        for line in lines:
            for back in ("DC-", "PE") if dc else ("N", "PE", *LINES):
                end = poles.get(back)
                if end is None or (back in LINES and back <= line):
                    continue
                if back in ("DC-", "N") and not wired[end] and poles[line] in nearest:
                    beside = _return_beside(network, wired, poles[line])
                    end = nearest[poles[line]] if beside is None else beside
                    elsewhere[len(found)] = network.terminals[end].name
                found.append(((place, (line, back)), poles[line], end))
    return _Pairs(
        tuple(key for key, _, _ in found),
        np.array([a for _, a, _ in found], np.intp),
        np.array([b for _, _, b in found], np.intp),
        elsewhere,
    )


def _landed(network: Network) -> list[bool]:
    """Whether each terminal can reach the return of any source, all contacts taken as closed."""
    part = components(len(network.terminals), ((link.a, link.b) for link in network.links))
    ends = {part[each.terminal] for each in network.emissions if each.pole in ("N", "DC-")}
    return [number in ends for number in part]


def _return_beside(network: Network, wired: Sequence[bool], live: int) -> int | None:
    """The end of the return core of a cable whose live core lands on a terminal: the return that lies there."""
    for number in network.at[live]:
        link = network.links[number]
        for run in network.runs[link.item] if link.kind == "core" else ():
            if run.link >= 0:
                beside = network.links[run.link]
                end = beside.a if live == link.a else beside.b
                if network.terminals[end].pole in ("N", "DC-") and wired[end]:
                    return end
    return None


def _nearest_return(network: Network, wired: Sequence[bool]) -> dict[int, int]:
    """For each live terminal the return of the nearest place towards its nearest source; what only charges is last."""
    nearest: dict[int, int] = {}
    for charging in (False, True):
        queue: deque[int] = deque()
        for each in network.emissions:
            place = network.terminals[each.terminal].place
            end = network.index.get((place, "DC-" if each.pole == "DC+" else "N"))
            live = each.pole == "DC+" or each.pole in LINES
            if live and end is not None and (each.supply == "charging") == charging and each.terminal not in nearest:
                nearest[each.terminal] = end
                queue.append(each.terminal)
        while queue:
            here = queue.popleft()
            for number in network.at[here]:
                there = network.links[number].other(here)
                terminal = network.terminals[there]
                if there not in nearest and terminal.pole in (*LINES, "DC+"):
                    own = network.index.get((terminal.place, "DC-" if terminal.pole == "DC+" else "N"))
                    nearest[there] = own if own is not None and wired[own] else nearest[here]
                    queue.append(there)
    return nearest
