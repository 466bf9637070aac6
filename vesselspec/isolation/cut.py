"""The least set of disconnections that makes a place dead: a minimum cut in which one device opens several poles.

A device that opens several conductors counts once, so this is no flow problem; it is solved exactly as a small
mixed-integer programme. Fixed connections and contacts that do not isolate are contracted first, and contacts on no
way to the place taken as closed, which leaves a few dozen points on any boat.

What is least, in this order: the risk of the points, with what safety depends on and goes dead with all of them; the
other loads that each contact takes dead by itself; the way from the source. That order is ours, no source; `points.py`
has its figures.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from vesselspec.isolation.energy import HOT, Supplies
from vesselspec.isolation.losses import Losses, parts_of, passages_of
from vesselspec.isolation.points import ESSENTIAL_LOST, Point
from vesselspec.isolation.programme import Programme, Weights


@dataclass(frozen=True)
class _Flow:
    """The contracted network: parts, contacts and one-way passages between them."""

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
    """The best points that keep `sources` (primary, each with its point) from the target terminals.

    `forced` are taken whatever they are, `forbidden` never. None where nothing allowed keeps them apart.
    """
    aims = frozenset(targets)
    on_a_way = {name for *_, name in _contracted(supplies, contacts, aims, sources).contacts}
    contacts = {name: point for name, point in contacts.items() if name in on_a_way}
    flow = _contracted(supplies, contacts, aims, sources)
    points = {**contacts, **sources}
    names = sorted({name for *_, name in flow.contacts} | {name for _, name in flow.sources} | forced)
    programme = Programme()
    column = {
        name: programme.variable(float(name in forced), float(name in forced or name not in forbidden), whole=True)
        for name in names
    }
    _hold_apart(programme, flow, column)
    losses = Losses.of(supplies, contacts)
    # Of no account is what no point takes dead, and what is dead whenever the place is.
    at_stake = losses.live((), without=flow.targets) - losses.live(names)
    fed = {
        _fed(programme, losses, column, part): said.essential
        for part, said in losses.behind.items()
        if said.essential and part in at_stake
    }
    risk = {column[name]: points[name].risk for name in names}
    demands: tuple[Weights, ...] = (
        {**risk, **{variable: -ESSENTIAL_LOST * essential for variable, essential in fed.items()}},
        {column[name]: losses.others(name) for name in contacts if name in column},
        # Last their order in the record, so that there is one answer.
        {column[name]: points[name].order * len(names) ** 2 + number for number, name in enumerate(names)},
    )
    found = programme.solve(demands)
    return None if found is None else tuple(points[name] for name in names if found[column[name]] > 0.5)


def _fed(programme: Programme, losses: Losses, column: Mapping[str, int], part: int) -> int:
    """A variable that is 1 where a part still can be fed: what flows into it from any source that is left."""
    fed = programme.variable()
    balance: dict[int, dict[int, float]] = defaultdict(dict)
    balance[part][fed] = -1

    def passes(name: str | None) -> int:
        flow = programme.variable()
        if name is not None and name in column:
            programme.row({flow: -1, column[name]: -1}, least=-1)
        return flow

    for start, source in sorted(losses.starts):
        balance[start][passes(source)] = 1
    for here, ways in losses.beside.items():
        for there, name in ways:
            flow = passes(name)
            balance[here][flow] = -1
            balance[there][flow] = 1
    for weights in balance.values():
        programme.row(weights, 0, 0)
    return fed


def _hold_apart(programme: Programme, flow: _Flow, column: Mapping[str, int]) -> None:
    """A part is live (1) wherever a live neighbour is not held off by an open point; the targets are not."""
    used = {part for a, b, _ in flow.contacts for part in (a, b)}
    used |= {part for pair in flow.passages for part in pair} | {part for part, _ in flow.sources}
    live = {part: programme.variable(0.0, float(part not in flow.targets)) for part in sorted(used)}
    for a, b, name in flow.contacts:
        programme.row({live[b]: 1, live[a]: -1, column[name]: 1})
        programme.row({live[a]: 1, live[b]: -1, column[name]: 1})
    for a, b in flow.passages:
        programme.row({live[b]: 1, live[a]: -1})
    for part, name in flow.sources:
        programme.row({live[part]: 1, column[name]: 1}, least=1)


def _contracted(
    supplies: Supplies, contacts: Mapping[str, Point], targets: frozenset[int], sources: Collection[str]
) -> _Flow:
    """The network between some sources and the targets."""
    network = supplies.network
    part = parts_of(network, contacts)
    point_of = {number: point.id for point in contacts.values() for number in point.links}
    between = {
        (min(part[link.a], part[link.b]), max(part[link.a], part[link.b]), point_of[n])
        for n, link in enumerate(network.links)
        if n in point_of and part[link.a] != part[link.b]
    }
    passages = passages_of(supplies, part)
    live = {(part[e.terminal], e.source) for e in network.emissions if e.source in sources and e.pole in HOT}
    aims = frozenset(part[terminal] for terminal in targets)
    kept = _on_a_way(between, passages, {p for p, _ in live}, aims)
    return _Flow(
        tuple(sorted((a, b, name) for a, b, name in between if a in kept and b in kept)),
        tuple(sorted((a, b) for a, b in passages if a in kept and b in kept)),
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
