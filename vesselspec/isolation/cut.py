"""The least set of disconnections that makes a place dead: a minimum cut in which one device opens several poles.

A device that opens several conductors costs once, so this is no flow problem; it is solved exactly as a small
mixed-integer programme (SciPy, HiGHS). Fixed connections and contacts that do not isolate are contracted first and
dead ends cut back, which leaves a few dozen points on any boat.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from vesselspec.isolation.energy import HOT, Supplies
from vesselspec.isolation.points import Point
from vesselspec.network.zones import components


@dataclass(frozen=True)
class _Flow:
    """The contracted network: parts, contacts and one-way passages between them."""

    count: int
    contacts: tuple[tuple[int, int, str], ...]  # part, part, point
    passages: tuple[tuple[int, int], ...]  # from part, to part
    sources: tuple[tuple[int, str], ...]  # part, source
    targets: frozenset[int]


def least_cut(
    supplies: Supplies,
    sources: Mapping[str, Point],
    contacts: Mapping[str, Point],
    targets: Iterable[int],
    *,
    forced: frozenset[str] = frozenset(),
    forbidden: frozenset[str] = frozenset(),
) -> tuple[Point, ...] | None:
    """The cheapest points that keep `sources` (primary, each with its point) from the target terminals.

    `forced` are taken whatever they cost, `forbidden` never. None where nothing allowed keeps them apart.
    """
    flow = _contracted(supplies, sources, contacts, frozenset(targets))
    points = {**contacts, **sources}
    names = sorted({name for *_, name in flow.contacts} | {name for _, name in flow.sources} | forced)
    column = {name: number for number, name in enumerate(names)}
    cost = [points[name].cost * 1000 + column[name] for name in names]
    rows: list[dict[int, float]] = []
    parts = {part: len(names) + n for n, part in enumerate(_parts(flow))}
    low, high = [0.0] * (len(names) + len(parts)), [1.0] * (len(names) + len(parts))
    for part in flow.targets:
        if part in parts:
            high[parts[part]] = 0.0
    # A part is live (1) wherever a live neighbour is not held off by an open point.
    for a, b, name in flow.contacts:
        rows.append({parts[b]: 1, parts[a]: -1, column[name]: 1})
        rows.append({parts[a]: 1, parts[b]: -1, column[name]: 1})
    rows += [{parts[b]: 1, parts[a]: -1} for a, b in flow.passages]
    least = [0.0] * len(rows)
    for part, name in flow.sources:
        rows.append({parts[part]: 1, column[name]: 1})
        least.append(1.0)
    for name in names:
        if name in forced:
            low[column[name]] = 1.0
        elif name in forbidden:
            high[column[name]] = 0.0
    taken = _solve(cost, rows, least, low, high, len(names))
    return None if taken is None else tuple(points[names[n]] for n in taken)


def _parts(flow: _Flow) -> list[int]:
    used = {part for a, b, _ in flow.contacts for part in (a, b)}
    used |= {part for pair in flow.passages for part in pair} | {part for part, _ in flow.sources}
    return sorted(used)


def _solve(
    cost: Sequence[float],
    rows: Sequence[dict[int, float]],
    least: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    points: int,
) -> tuple[int, ...] | None:
    import numpy as np  # noqa: PLC0415 - slow to import, and only here needed
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - as above
    from scipy.sparse import csr_matrix  # noqa: PLC0415 - as above

    if not low:
        return ()
    weights = np.zeros(len(low))
    weights[:points] = cost
    whole = np.zeros(len(low), dtype=int)
    whole[:points] = 1
    limits = []
    if rows:
        entries = [(row, column, value) for row, each in enumerate(rows) for column, value in each.items()]
        at_row, at_column, values = zip(*entries, strict=True)
        matrix = csr_matrix((values, (at_row, at_column)), shape=(len(rows), len(low)))
        limits = [LinearConstraint(matrix, lb=np.array(least), ub=np.inf)]
    found = milp(weights, integrality=whole, bounds=Bounds(np.array(low), np.array(high)), constraints=limits)
    if not found.success:
        return None
    return tuple(n for n in range(points) if found.x[n] > 0.5)


def _contracted(
    supplies: Supplies, sources: Mapping[str, Point], contacts: Mapping[str, Point], targets: frozenset[int]
) -> _Flow:
    network = supplies.network
    point_of = {number: point.id for point in contacts.values() for number in point.links}
    fixed = ((link.a, link.b) for n, link in enumerate(network.links) if n not in point_of and not link.one_way)
    part = components(len(network.terminals), fixed)
    between = {
        (min(part[link.a], part[link.b]), max(part[link.a], part[link.b]), point_of[n])
        for n, link in enumerate(network.links)
        if n in point_of and part[link.a] != part[link.b]
    }
    passages = {(part[link.a], part[link.b]) for link in network.links if link.one_way and part[link.a] != part[link.b]}
    for emission in network.emissions:
        for terminal in supplies.inputs.get((emission.source, emission.terminal), ()):
            if emission.pole in HOT:
                passages.add((part[terminal], part[emission.terminal]))
    for primary, secondary in network.transformers.values():  # fed at its secondary
        passages |= {(part[b], part[a]) for a in primary for b in secondary}
    live = {(part[e.terminal], e.source) for e in network.emissions if e.source in sources and e.pole in HOT}
    aims = frozenset(part[terminal] for terminal in targets)
    kept = _on_a_way(between, passages, {p for p, _ in live}, aims)
    return _Flow(
        max(part, default=-1) + 1,
        tuple(sorted((a, b, name) for a, b, name in between if a in kept and b in kept)),
        tuple(sorted((a, b) for a, b in passages if a in kept and b in kept and a != b)),
        tuple(sorted((p, name) for p, name in live if p in kept)),
        aims & kept,
    )


def _on_a_way(
    between: Iterable[tuple[int, int, str]], passages: Iterable[tuple[int, int]], starts: set[int], aims: frozenset[int]
) -> set[int]:
    """The parts left when all dead ends are cut back that hold neither a source nor a target."""
    beside: dict[int, set[int]] = defaultdict(set)
    for a, b, _ in between:
        beside[a].add(b)
        beside[b].add(a)
    fixed = starts | aims
    for a, b in passages:
        fixed |= {a, b}
    kept = set(beside) | fixed
    bare = [p for p in beside if len(beside[p]) == 1 and p not in fixed]
    while bare:
        end = bare.pop()
        kept.discard(end)
        for other in beside.pop(end):
            beside[other].discard(end)
            if len(beside[other]) == 1 and other not in fixed:
                bare.append(other)
    return kept
