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
from vesselspec.isolation.perhaps import LostEnd, lost_end_hazards, lost_ends
from vesselspec.isolation.points import LIFT, OPEN, ORDER, Point, contact_points, source_points
from vesselspec.isolation.steps import Step, prove_at, steps_of
from vesselspec.isolation.supplies import Supply, listed_for
from vesselspec.isolation.target import Target
from vesselspec.isolation.unsure import (
    Stuck,
    can_be_kept_off,
    lost_besides,
    stuck,
    unfed,
    unfed_here,
    unjoined,
    unjoined_hazard,
)
from vesselspec.model.devices import BatteryBank, Generator
from vesselspec.network.graph import LINES
from vesselspec.rules import Boat
from vesselspec.rules.boat import kept as once

#: The least points without those out of reach; None where there are none.
_Cut = Callable[[frozenset[str]], tuple[Point, ...] | None]


class UnknownPointError(ValueError):
    """A point said to be out of reach that is no point of disconnection."""


@dataclass(frozen=True)
class StaysLive:
    """A place in the same enclosure that the isolation does not make dead."""

    place: str
    #: The ways of a section that stay live with its bars, or without them.
    ways: tuple[str, ...]
    poles: tuple[str, ...]
    sources: tuple[str, ...]
    #: What of the place it is, and what is not known of it, where that is not plain.
    what: str = ""


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
    #: Cables with an end that nobody has found, which may be in this enclosure.
    lost_ends: tuple[LostEnd, ...] = field(default=())

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
        says += [[[s.place, s.ways, s.poles, s.sources, s.what] for s in self.stays_live]]
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
    supplies = once(boat, "isolation_supplies", lambda boat: Supplies(boat.vessel, boat.network))
    whole, alone = supplies.whole, supplies.alone
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
    bare = unjoined(supplies)
    outputs = unfed(supplies, whole)
    refusals = [*reasons_against(boat, target), *unfed_here(boat, target, outputs, supplies)]
    if not whole.complete:
        refusals.append(Hazard("the search for what can be live was not complete", "divide the record's selectors"))
    if points is None:
        said = ", ".join(sorted(forbidden))
        refusals.append(Hazard(f"without {said} nothing recorded keeps every source away", "make that point reachable"))
    after = _after(supplies, points or (), outputs)
    still = _after(supplies, points or ()).live(target.terminals) if outputs else after.live(target.terminals)
    if points is not None and still:
        refusals.append(
            Hazard(
                "with all of it open, potentials still reach "
                + ", ".join(network.terminals[t].name for t in still[:6]),
                "trace these by hand; the record does not say what feeds them",
            )
        )
    declared = points is not None and not refusals
    everywhere = source_points(supplies)
    besides = [everywhere[key] for key in bare if can_be_kept_off(boat, key) and key not in forbidden]
    chosen = tuple(sorted({*(points or ()), *besides}, key=lambda point: (ORDER.index(point.how), point.id)))
    risky = supplies.energy(supplies.primary, kept=outputs) if outputs else whole
    listed = listed_for(boat, supplies, target, risky, alone)
    reaching = [supply.id for supply in listed if supply.reaches]
    opened = {point.id for point in chosen}
    kept = tuple(_stuck(supplies, target, chosen)) if declared else ()
    near = (*_local(boat, whole, target, opened), *(b for each in kept for b in each.barriers if b not in opened))
    barriers = tuple(dict.fromkeys(near))
    inverting = [s.id for s in listed if s.reaches and set(s.poles) & set(LINES)]
    holding = stored_in(boat, target, _dead_side(after, target))
    steps = steps_of(boat, chosen, inverting, barriers, holding, target.enclosures) if declared else ()
    lost = tuple(lost_ends(boat, target, after))
    return Sheet(
        target=target,
        supplies=listed,
        points=chosen,
        alternatives=_alternatives(chosen, contacts, cut, forbidden) if declared else (),
        steps=steps,
        prove=prove_at(boat, target),
        stays_live=(
            *_posts(boat, target),
            *_controls(boat, target),
            *_staying(after, target.enclosed - target.terminals),
        )
        if declared
        else (),
        hazards=(
            *(each.hazard(boat) for each in kept),
            *unjoined_hazard(boat, bare),
            *lost_end_hazards(boat, lost),
            *hazards_of(boat, target, reaching, day),
            *(lost_besides(boat, target, whole, after) if declared else ()),
        ),
        refusals=tuple(refusals),
        spaces=tuple(dict.fromkeys(step.space for step in steps if step.space)),
        lost_ends=lost if declared else (),
    )


def _left(supplies: Supplies, points: Iterable[Point]) -> tuple[list[str], list[int]]:
    """The primary sources that points leave alive, and the links that they open."""
    dead = {point.id for point in points if point.is_source}
    links = [link for point in points for link in point.links]
    return [key for key in supplies.primary if key not in dead], links


def _after(supplies: Supplies, points: Iterable[Point], kept: Iterable[tuple[str, int]] = ()) -> Energy:
    return supplies.energy(*_left(supplies, points), kept)


def _stuck(supplies: Supplies, target: Target, points: Iterable[Point]) -> Iterable[Stuck]:
    return stuck(supplies, target, *_left(supplies, points))


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


def _all_staying(boat: Boat, target: Target, after: Energy) -> tuple[StaysLive, ...]:
    beside = target.enclosed - target.terminals
    return (*_posts(boat, target), *_controls(boat, target), *_staying(after, beside))


def _posts(boat: Boat, target: Target) -> tuple[StaysLive, ...]:
    """The batteries in the place: off the boat's wiring or not, their posts stay live."""
    return tuple(
        StaysLive(key, (), ("DC+", "DC-"), (key,))
        for key in target.enclosures
        if isinstance(boat.vessel.devices.get(key), BatteryBank)
    )


def _controls(boat: Boat, target: Target) -> tuple[StaysLive, ...]:
    """The wires that start and control a generator that is worked on: what feeds its controller no record says."""
    found = []
    for key in target.enclosures:
        if isinstance(device := boat.vessel.devices.get(key), Generator):
            battery = (device.start_battery,) if device.start_battery else ()
            until = f", as far as {device.start_switch}" if battery and device.start_switch else ""
            what = f"start and control wires{until}; which circuit feeds its controller is NOT RECORDED"
            found.append(StaysLive(key, (), ("DC+",), battery, what))
    return tuple(found)


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
