"""What can run at once: the exact best set of loads that every rating on their way allows.

What is best: essential loads always run. Then the loads are taken class by class, in the crew's order of importance
(`importance` 1 to 9, then those without one; within one importance those that may wait come last): as many of a class
as fit, and none of it is ever given up for any number of a lower class. Of sets equal in all that, the one that has
the load with the earlier id runs. Each step is a mixed-integer programme, solved to its optimum.

Loads that alternate take turns, so that an element carries at any moment only what can draw at the same time: the
largest sum over a set of loads of which no two alternate.

Currents are counted in hundredths of an ampere, loads rounded up and limits down, so that no rounding of the solver
decides anything. SciPy is imported when a set has to be searched for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from vesselspec.physics.loads.burden import Element

#: Hundredths of an ampere.
UNIT_A = 0.01
#: A group of loads that alternate among each other may have so many; a larger one is taken as not alternating.
MOST_IN_TURN = 12
#: Loads whose order by id one programme settles: 2 ** 15 is far within what the solver tells apart.
BLOCK = 16
#: After importance 9: loads that have none.
UNRANKED = 10


@dataclass(frozen=True)
class Candidate:
    """A load that may run, and what it puts on each element, in A."""

    load: str
    amps: Mapping[Element, float]
    essential: bool = False
    importance: int = UNRANKED
    may_wait: bool = False
    alternates_with: tuple[str, ...] = ()

    @property
    def rank(self) -> tuple[int, bool]:
        """Its class; the least is the most important."""
        return (self.importance, self.may_wait)


@dataclass(frozen=True)
class Excess:
    """A limit that would be exceeded: by which element, its limit, and what it would carry, in A."""

    element: Element
    limit_a: float
    would_be_a: float

    @property
    def over_a(self) -> float:
        """By how much."""
        return self.would_be_a - self.limit_a


@dataclass(frozen=True)
class LeftOff:
    """A load that does not run with the rest, and the limits that it would exceed; worst first."""

    load: str
    because: tuple[Excess, ...]


@dataclass(frozen=True)
class Margin:
    """What an element carries of its limit, in A."""

    element: Element
    limit_a: float
    amps: float

    @property
    def left_a(self) -> float:
        """What is left."""
        return self.limit_a - self.amps


@dataclass(frozen=True)
class Fit:
    """The best set. Where even the essential loads do not fit, they are all that runs, and `excess` says where."""

    fits: bool
    runs: tuple[str, ...]
    left_off: tuple[LeftOff, ...]
    excess: tuple[Excess, ...]
    margins: tuple[Margin, ...]  # least left first
    classes: tuple[tuple[tuple[int, bool], int, int], ...]  # (class, how many run, how many there are)


def _worst(excess: Excess) -> tuple[int, bool, Element]:
    """Most exceeded first; of equal ones the source, for that is what the crew knows."""
    return (-round(excess.over_a / UNIT_A), excess.element.kind != "source", excess.element)


class Limits:
    """Candidates and limits in whole hundredths, with the question whether a set fits."""

    def __init__(self, candidates: Iterable[Candidate], limits: Mapping[Element, float]) -> None:
        self.candidates = tuple(sorted(candidates, key=lambda each: each.load))
        self.limits_a = dict(sorted(limits.items()))
        self.limits = {element: math.floor(amps / UNIT_A + 1e-6) for element, amps in self.limits_a.items()}
        self.units = {
            each.load: {e: math.ceil(a / UNIT_A - 1e-6) for e, a in each.amps.items() if e in self.limits and a > 0}
            for each in self.candidates
        }
        self.turns = tuple(_turns(self.candidates))
        self._in_turn = {load for group in self.turns for load in group[0]}

    def carried(self, loads: Iterable[str]) -> dict[Element, int]:
        """What each element has to carry when these loads run, in hundredths of an ampere; nothing where it is none."""
        running = set(loads)
        total = self._sums(running - self._in_turn)
        for _, at_once in self.turns:
            turns = [self._sums(each & running) for each in at_once]
            for element in {element for sums in turns for element in sums}:
                total[element] = total.get(element, 0) + max(sums.get(element, 0) for sums in turns)
        return total

    def _sums(self, loads: Iterable[str]) -> dict[Element, int]:
        total: dict[Element, int] = {}
        for load in loads:
            for element, units in self.units[load].items():
                total[element] = total.get(element, 0) + units
        return total

    def excess(self, loads: Iterable[str]) -> tuple[Excess, ...]:
        """The limits that these loads exceed together; worst first."""
        carried = self.carried(loads)
        found = []
        for element, limit in self.limits.items():
            units = carried.get(element, 0)
            if units > limit:
                found.append(Excess(element, self.limits_a[element], units * UNIT_A))
        return tuple(sorted(found, key=_worst))

    def fits(self, loads: Iterable[str]) -> bool:
        """Whether these loads can run together."""
        return all(units <= self.limits[element] for element, units in self.carried(loads).items())

    def margins(self, loads: Iterable[str]) -> tuple[Margin, ...]:
        """What is left on every element that any candidate uses; least first."""
        carried = self.carried(loads)
        used = {element for units in self.units.values() for element in units}
        found = [Margin(element, self.limits_a[element], carried.get(element, 0) * UNIT_A) for element in sorted(used)]
        return tuple(sorted(found, key=lambda each: (each.left_a, each.element)))


def _turns(candidates: Sequence[Candidate]) -> Iterator[tuple[frozenset[str], tuple[frozenset[str], ...]]]:
    """Groups of loads that alternate, each with the largest sets in it of which no two do."""
    known = {each.load for each in candidates}
    apart: dict[str, set[str]] = {load: set() for load in known}
    for each in candidates:
        for other in each.alternates_with:
            if other in known and other != each.load:
                apart[each.load].add(other)
                apart[other].add(each.load)
    seen: set[str] = set()
    for load in sorted(known):
        if load in seen or not apart[load]:
            continue
        group, waiting = {load}, [load]
        while waiting:
            for other in apart[waiting.pop()] - group:
                group.add(other)
                waiting.append(other)
        seen |= group
        if len(group) <= MOST_IN_TURN:
            yield frozenset(group), tuple(_at_once(sorted(group), apart))


def _at_once(group: Sequence[str], apart: Mapping[str, set[str]]) -> list[frozenset[str]]:
    """The largest sets of a group of which no two members alternate."""
    sets: list[frozenset[str]] = [frozenset()]
    for load in group:
        sets += [each | {load} for each in sets if not each & apart[load]]
    return [each for each in sets if not any(each < other for other in sets)]


def best_fit(candidates: Iterable[Candidate], limits: Mapping[Element, float]) -> Fit:
    """Find the best set of loads within the limits."""
    work = Limits(candidates, limits)
    essential = tuple(each.load for each in work.candidates if each.essential)
    excess = work.excess(essential)
    if excess:
        return _result(work, essential, excess)
    every = tuple(each.load for each in work.candidates)
    return _result(work, every if work.fits(every) else _search(work, essential), ())


def _result(work: Limits, runs: tuple[str, ...], excess: tuple[Excess, ...]) -> Fit:
    running = set(runs)
    left = [each.load for each in work.candidates if each.load not in running]
    ranks = sorted({each.rank for each in work.candidates if not each.essential})
    of = {rank: [each.load for each in work.candidates if each.rank == rank and not each.essential] for rank in ranks}
    return Fit(
        fits=not excess,
        runs=tuple(sorted(runs)),
        left_off=tuple(LeftOff(load, work.excess((*runs, load))) for load in left),
        excess=excess,
        margins=work.margins(runs),
        classes=tuple((rank, sum(load in running for load in loads), len(loads)) for rank, loads in of.items()),
    )


class _Programme:
    """The mixed-integer programme: one 0-or-1 variable a load, and one current for each group in turn and element."""

    def __init__(self, work: Limits) -> None:
        import numpy as np  # noqa: PLC0415 - only where a set has to be searched for
        from scipy import optimize, sparse  # noqa: PLC0415 - as above

        self.np, self.optimize = np, optimize
        self.work = work
        self.loads = [each.load for each in work.candidates]
        self.column = {load: number for number, load in enumerate(self.loads)}
        self.lower = np.zeros(len(self.loads))
        self.upper = np.ones(len(self.loads))
        rows: list[dict[int, float]] = []
        most: list[float] = []
        extra = len(self.loads)
        in_turn = {load for group, _ in work.turns for load in group}
        for element, limit in work.limits.items():
            row = {
                self.column[load]: float(units[element])
                for load, units in work.units.items()
                if element in units and load not in in_turn
            }
            for group, at_once in work.turns:
                if not any(element in work.units[load] for load in group):
                    continue
                row[extra] = 1.0
                for each in at_once:
                    rows.append({self.column[load]: float(work.units[load].get(element, 0)) for load in each})
                    rows[-1][extra] = -1.0
                    most.append(0.0)
                extra += 1
            if row:
                rows.append(row)
                most.append(float(limit))
        self.width = extra
        self.matrix = sparse.csr_array(
            (
                [value for row in rows for value in row.values()],
                (
                    [number for number, row in enumerate(rows) for _ in row],
                    [column for row in rows for column in row],
                ),
            ),
            shape=(len(rows), extra),
        )
        self.most = np.array(most)
        self.counts: list[tuple[list[int], int]] = []

    def solve(self, wanted: Mapping[int, float]) -> tuple[str, ...] | None:
        """The set in which the wanted columns weigh most, or None where there is none."""
        np, optimize = self.np, self.optimize
        goal = np.zeros(self.width)
        goal[list(wanted)] = [-weight for weight in wanted.values()]
        constraints: list[Any] = [optimize.LinearConstraint(self.matrix, -np.inf, self.most)]
        for columns, least in self.counts:
            row = np.zeros((1, self.width))
            row[0, columns] = 1.0
            constraints.append(optimize.LinearConstraint(row, least, np.inf))
        spare = self.width - len(self.loads)
        found = optimize.milp(
            goal,
            integrality=np.concatenate([np.ones(len(self.loads)), np.zeros(spare)]),
            bounds=optimize.Bounds(
                np.concatenate([self.lower, np.zeros(spare)]),
                np.concatenate([self.upper, np.full(spare, np.inf)]),
            ),
            constraints=constraints,
            options={"mip_rel_gap": 0.0},
        )
        if found.status == 2:  # infeasible
            return None
        if found.x is None or found.status != 0:
            raise RuntimeError(f"the search for the best set of loads stopped: {found.message}")
        chosen = tuple(load for load, value in zip(self.loads, found.x, strict=False) if value > 0.5)
        if not self.work.fits(chosen):
            raise RuntimeError("the solver's set does not fit; a limit or a load is out of all proportion")
        return chosen


def _kept(found: tuple[str, ...] | None) -> tuple[str, ...]:
    if found is None:
        raise RuntimeError("the search for the best set of loads lost the set that it had")
    return found


def _search(work: Limits, essential: tuple[str, ...]) -> tuple[str, ...]:
    programme = _Programme(work)
    for load in essential:
        programme.lower[programme.column[load]] = 1.0
    for each in work.candidates:  # what cannot run even alone with the essential loads needs no search
        if not each.essential and not work.fits((*essential, each.load)):
            programme.upper[programme.column[each.load]] = 0.0
    chosen: tuple[str, ...] = essential
    for rank in sorted({each.rank for each in work.candidates if not each.essential}):
        columns = [programme.column[each.load] for each in work.candidates if each.rank == rank and not each.essential]
        chosen = _kept(programme.solve(dict.fromkeys(columns, 1.0)))
        programme.counts.append((columns, sum(programme.column[load] in set(columns) for load in chosen)))
    # Of equal sets, the one with the earlier ids: powers of two put the first load of a block above all the rest of it.
    for start in range(0, len(programme.loads), BLOCK):
        block = programme.loads[start : start + BLOCK]
        weights = {programme.column[load]: float(2 ** (BLOCK - 1 - place)) for place, load in enumerate(block)}
        if not set(block) <= set(chosen):
            chosen = _kept(programme.solve(weights))
        for load in block:
            value = 1.0 if load in chosen else 0.0
            programme.lower[programme.column[load]] = programme.upper[programme.column[load]] = value
    return chosen


# --- combinations for the load card ------------------------------------------------------------------


@dataclass(frozen=True)
class Together:
    """A set of loads, whether it fits, and the tightest limit: what is left of it, or by how much it is exceeded."""

    loads: tuple[str, ...]
    fits: bool
    tightest: Margin | None


def together(work: Limits, loads: Iterable[str], always: Iterable[str] = ()) -> Together:
    """Judge one set, with what always runs beside it.

    `tightest` is the limit that is exceeded most; where all are kept, the line of a source with least left, for what
    a load leaves on its own breaker is of no use to another.
    """
    chosen = tuple(sorted(loads))
    running = (*always, *chosen)
    carried = work.carried(running)
    margins = [Margin(element, work.limits_a[element], units * UNIT_A) for element, units in sorted(carried.items())]
    fits = work.fits(running)
    if fits:
        margins = [each for each in margins if each.element.kind == "source" and not each.element.continuous] or margins
    tightest = min(margins, key=_tightness, default=None)
    return Together(chosen, fits, tightest)


def _tightness(margin: Margin) -> tuple[int, bool, Element]:
    """Least left first; of equal ones the source, for that is what the crew knows."""
    return (round(margin.left_a / UNIT_A), margin.element.kind != "source", margin.element)


def combinations(
    work: Limits, loads: Sequence[str], always: Iterable[str] = ()
) -> tuple[tuple[Together, ...], tuple[Together, ...]]:
    """The largest sets that fit and the smallest that do not, of at most a dozen or so loads."""
    base = tuple(always)
    ordered = sorted(loads)
    fitting: set[frozenset[str]] = {frozenset()} if work.fits(base) else set()
    failing: list[frozenset[str]] = []
    layer = set(fitting)
    while layer:
        grown = {each | {load} for each in layer for load in ordered if load not in each}
        layer = set()
        for each in sorted(grown, key=sorted):
            if any(bad <= each for bad in failing):
                continue
            if work.fits((*base, *each)):
                layer.add(each)
            else:
                failing.append(each)
        fitting |= layer
    largest = [
        each for each in fitting if each and not any(each | {load} in fitting for load in ordered if load not in each)
    ]

    def told(sets: Iterable[frozenset[str]], *, most_first: bool) -> tuple[Together, ...]:
        order = sorted(sets, key=lambda each: (-len(each) if most_first else len(each), sorted(each)))
        return tuple(together(work, each, base) for each in order)

    return told(largest, most_first=True), told(failing, most_first=False)
