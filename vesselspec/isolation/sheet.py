"""The isolation sheet: what can make a place live, what to open, the proof, and what stays live beside it."""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from vesselspec.isolation.cut import least_cut
from vesselspec.isolation.energy import HOT, Energy, Supplies, is_ac
from vesselspec.isolation.hazards import Hazard, hazards_of, reasons_against, stored_in
from vesselspec.isolation.points import LIFT, OPEN, ORDER, Point, contact_points, source_points
from vesselspec.isolation.steps import Step, prove_at, steps_of
from vesselspec.isolation.target import Target
from vesselspec.model.devices import BatteryBank
from vesselspec.network.graph import LINES
from vesselspec.network.reach import Arrival, Witness
from vesselspec.rules import Boat

#: The least points without those out of reach; None where there are none.
_Cut = Callable[[frozenset[str]], tuple[Point, ...] | None]


class UnknownPointError(ValueError):
    """A point said to be out of reach that is no point of disconnection."""


@dataclass(frozen=True)
class Supply:
    """One source or converter of the boat, and whether it can make the place live."""

    id: str
    title: str  # its kind, in words
    space: str | None
    #: The potentials that it can put on the place, such as L1, N; empty where it cannot.
    poles: tuple[str, ...]
    #: The cables, devices and ways on a way of one of them to it, and the positions that this takes.
    path: tuple[str, ...]
    positions: tuple[tuple[str, str], ...]
    #: Whether it is the origin of the energy; a converter only passes another's on.
    primary: bool

    @property
    def reaches(self) -> bool:
        """Whether it can make the place live in any permitted position."""
        return bool(self.poles)


@dataclass(frozen=True)
class StaysLive:
    """A place in the same enclosure that the isolation does not make dead."""

    place: str
    #: The ways of a section that stay live with its bars, or without them.
    ways: tuple[str, ...]
    poles: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Alternative:
    """What to open instead, where a point is out of reach; empty where nothing else will do."""

    instead_of: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Sheet:
    """The whole sheet. `refusals` say why the record cannot declare the place dead; then there are no steps."""

    target: Target
    supplies: tuple[Supply, ...]
    points: tuple[Point, ...]
    alternatives: tuple[Alternative, ...]
    steps: tuple[Step, ...]
    prove: tuple[tuple[str, tuple[str, ...]], ...]
    stays_live: tuple[StaysLive, ...]
    hazards: tuple[Hazard, ...]
    refusals: tuple[Hazard, ...]
    #: Spaces in which a hand has to do something, in order.
    spaces: tuple[str, ...] = field(default=())

    @property
    def declared(self) -> bool:
        """Whether the record can say how the place is made dead."""
        return not self.refusals

    @property
    def persons(self) -> int:
        """Who is needed: whoever works, and one at every contact that no lock is known to hold."""
        return 1 + sum(point.how == OPEN and not point.lockable for point in self.points)

    @cached_property
    def substance(self) -> str:
        """Identity of what a reader would act on: points, steps, what stays live, hazards, refusals."""
        says: list[Any] = [self.target.place, [p.id for p in self.points], [s.says for s in self.steps]]
        says += [[[s.id, s.poles] for s in self.supplies], self.prove]
        says += [[[s.place, s.ways, s.poles, s.sources] for s in self.stays_live]]
        says += [[h.says for h in (*self.hazards, *self.refusals)]]
        return hashlib.sha256(json.dumps(says, ensure_ascii=False).encode()).hexdigest()[:16]


def sheet_of(
    boat: Boat, target: Target, *, out_of_reach: Iterable[str] = (), day: datetime.date | None = None
) -> Sheet:
    """Work out the sheet of a place, and prove it: with its points open nothing may reach the place any more.

    Points `out_of_reach` are not used. Evidence is held against `day`; without it, nothing is called old.
    Raises UnknownPointError for a point out of reach that there is not.
    """
    vessel, network = boat.vessel, boat.network
    supplies = Supplies(vessel, network)
    whole = supplies.energy(supplies.primary)
    alone = {key: supplies.energy([key]) for key in supplies.primary}
    sources = {key: point for key, point in source_points(supplies).items() if alone[key].live(target.terminals)}
    contacts = contact_points(vessel, network)
    forbidden = frozenset(out_of_reach)
    unknown = sorted(forbidden - contacts.keys() - set(supplies.primary))
    if unknown:
        raise UnknownPointError(unknown[0])
    arrivals = [arrival for terminal in target.terminals for arrival in whole.at(terminal)]
    forced = frozenset(a.emission.source for a in arrivals if a.emission.pole == "N") & sources.keys()
    aims = {terminal for terminal in target.terminals if any(a.emission.pole in HOT for a in whole.at(terminal))}
    for arrival in arrivals:
        key = (arrival.emission.source, arrival.emission.terminal)
        if key in whole.through:
            aims.add(whole.through[key])
        if is_ac(arrival.emission):
            aims.update(t for t in supplies.inputs.get(key, ()) if network.terminals[t].pole in HOT)

    def cut(without: frozenset[str]) -> tuple[Point, ...] | None:
        return least_cut(supplies, sources, contacts, aims, forced=forced - without, forbidden=without)

    points = cut(forbidden) if not (forced & forbidden) else None
    refusals = list(reasons_against(boat, target))
    if not whole.complete:
        refusals.append(Hazard("the search for what can be live was not complete", "divide the record's selectors"))
    if points is None:
        said = ", ".join(sorted(forbidden))
        refusals.append(Hazard(f"without {said} nothing recorded keeps every source away", "make that point reachable"))
    after = _after(supplies, points or ())
    still = after.live(target.terminals)
    if points is not None and still:
        refusals.append(
            Hazard(
                "with all of it open, potentials still reach "
                + ", ".join(network.terminals[t].name for t in still[:6]),
                "trace these by hand; the record does not say what feeds them",
            )
        )
    declared = points is not None and not refusals
    chosen = tuple(sorted(points or (), key=lambda point: ORDER.index(point.how)))
    listed = _listed(boat, supplies, target, whole, alone)
    reaching = [supply.id for supply in listed if supply.reaches]
    barriers = _local(boat, whole, target, {point.id for point in chosen})
    inverting = [s.id for s in listed if s.reaches and set(s.poles) & set(LINES)]
    holding = stored_in(boat, target, _dead_side(after, target))
    steps = steps_of(boat, chosen, inverting, barriers, holding) if declared else ()
    return Sheet(
        target=target,
        supplies=listed,
        points=chosen,
        alternatives=_alternatives(chosen, contacts, cut, forbidden) if declared else (),
        steps=steps,
        prove=prove_at(boat, target),
        stays_live=(*_posts(boat, target), *_staying(after, target.enclosed - target.terminals)) if declared else (),
        hazards=tuple(hazards_of(boat, target, reaching, day)),
        refusals=tuple(refusals),
        spaces=tuple(dict.fromkeys(step.space for step in steps if step.space)),
    )


def _after(supplies: Supplies, points: Iterable[Point]) -> Energy:
    dead = {point.id for point in points if point.is_source}
    links = [link for point in points for link in point.links]
    return supplies.energy([key for key in supplies.primary if key not in dead], links)


def _alternatives(
    points: tuple[Point, ...],
    contacts: dict[str, Point],
    cut: _Cut,
    forbidden: frozenset[str],
) -> tuple[Alternative, ...]:
    found = []
    for point in points:
        if point.id in contacts or point.how == LIFT:
            other = cut(forbidden | {point.id})
            fresh = tuple(p for p in other or () if p not in points)
            found.append(Alternative(point.id, fresh))
    return tuple(found)


def _local(boat: Boat, whole: Energy, target: Target, chosen: set[str]) -> tuple[str, ...]:
    """The last contact outside the place on the way of each potential to it, where it is not opened anyway."""
    network = boat.network
    found: dict[str, None] = {}
    seen: set[str] = set()
    for terminal in sorted(target.terminals):
        for arrival in whole.at(terminal):
            if arrival.emission.source in seen or arrival.emission.pole not in HOT:
                continue
            seen.add(arrival.emission.source)
            links = [step.link for step in whole.reach.witness(arrival, terminal).steps if step.link >= 0]
            outside = [
                network.links[n].item
                for n in links
                if network.links[n].switch and not {network.links[n].a, network.links[n].b} <= target.terminals
            ]
            if outside and outside[-1] not in chosen:
                found[outside[-1]] = None
    return tuple(found)


def _dead_side(after: Energy, target: Target) -> frozenset[str]:
    """The devices that stay joined to the place with the points open, contacts closed or not."""
    zones = after.reach.zones
    own = {zones.of[terminal] for terminal in target.terminals if zones.network.terminals[terminal].pole in HOT}
    heads = (terminal.place for number, terminal in enumerate(zones.network.terminals) if zones.of[number] in own)
    return frozenset(place.split("/", 1)[0] for place in heads)


def _posts(boat: Boat, target: Target) -> tuple[StaysLive, ...]:
    """The batteries in the place: off the boat's wiring or not, their posts stay live."""
    return tuple(
        StaysLive(key, (), ("DC+", "DC-"), (key,))
        for key in target.enclosures
        if isinstance(boat.vessel.devices.get(key), BatteryBank)
    )


def _staying(after: Energy, terminals: Iterable[int]) -> tuple[StaysLive, ...]:
    network = after.reach.network
    poles: dict[str, dict[str, None]] = {}
    ways: dict[str, dict[str, None]] = {}
    sources: dict[str, set[str]] = {}
    for terminal in after.live(terminals):
        at = network.terminals[terminal]
        parts = at.place.split("/")
        place = "/".join(parts[:2])
        if len(parts) == 3:
            ways.setdefault(place, {})[parts[2]] = None
        poles.setdefault(place, {})[at.pole] = None
        sources.setdefault(place, set()).update(a.emission.source for a in after.at(terminal))
    return tuple(
        StaysLive(place, tuple(ways.get(place, ())), tuple(each), tuple(sorted(sources[place])))
        for place, each in poles.items()
    )


def _listed(
    boat: Boat, supplies: Supplies, target: Target, whole: Energy, alone: dict[str, Energy]
) -> tuple[Supply, ...]:
    """Every source and converter on board, those that can reach the place first."""
    first: dict[str, tuple[int, Arrival]] = {}
    poles: dict[str, dict[str, None]] = {}
    for terminal in sorted(target.terminals):
        for arrival in whole.at(terminal):
            first.setdefault(arrival.emission.source, (terminal, arrival))
            poles.setdefault(arrival.emission.source, {})[arrival.emission.pole] = None
    for key, energy in alone.items():  # through converters too
        for terminal in energy.live(target.terminals):
            for arrival in energy.at(terminal):
                first.setdefault(key, (terminal, arrival))
                poles.setdefault(key, {})[arrival.emission.pole] = None
    every = dict.fromkeys((*supplies.primary, *(e.source for e in boat.network.emissions)))
    found = [_supply(boat, supplies, key, tuple(poles.get(key, ())), first.get(key), alone, whole) for key in every]
    return tuple(sorted(found, key=lambda supply: not supply.reaches))


def _supply(
    boat: Boat,
    supplies: Supplies,
    key: str,
    poles: tuple[str, ...],
    first: tuple[int, Arrival] | None,
    alone: dict[str, Energy],
    whole: Energy,
) -> Supply:
    device = boat.vessel.devices[key]
    path: tuple[str, ...] = ()
    positions: tuple[tuple[str, str], ...] = ()
    if first is not None:
        energy = alone[key] if key in alone and first[1].emission.source != key else whole
        path, positions = _path(boat, supplies, energy, key, *first)
    return Supply(key, device.title, device.space, poles, path, positions, key in alone)


def _items(boat: Boat, witness: Witness) -> list[str]:
    """The source of a witness, and every cable and contact that it passes."""
    links = [boat.network.links[step.link] for step in witness.steps if step.link >= 0]
    return list(dict.fromkeys((witness.emission.source, *(k.item for k in links if k.kind in ("core", "contact")))))


def _path(
    boat: Boat, supplies: Supplies, energy: Energy, key: str, terminal: int, arrival: Arrival
) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """How a source's energy comes to a terminal, item by item, converters among them."""
    reach = energy.neutral if arrival.emission.pole == "N" else energy.reach
    witness = reach.witness(arrival, terminal)
    lines = _items(boat, witness)
    needs = dict(boat.positions(witness.needs))
    source, seen = arrival.emission, {arrival.emission.source}
    while source.source != key:
        inputs = supplies.inputs.get((source.source, source.terminal), ())
        fed = next(((t, a) for t in inputs for a in energy.reach.at(t) if a.emission.source not in seen), None)
        if fed is None:
            break
        before = energy.reach.witness(fed[1], fed[0])
        lines = [*_items(boat, before), *lines]
        needs = {**dict(boat.positions(before.needs)), **needs}
        source = fed[1].emission
        seen.add(source.source)
    return tuple(lines), tuple(sorted(needs.items()))
