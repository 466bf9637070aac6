"""What a change does: to the load of every source, to conductors and their protection, to what can be live where."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from vesselspec.changes.compare import called
from vesselspec.changes.shocks import shock_effects
from vesselspec.changes.solved import SolvedEffects, solved_effects
from vesselspec.model.vessel import natural
from vesselspec.network.graph import LINES
from vesselspec.physics.loads.demand import SourceDemand
from vesselspec.rules import Boat
from vesselspec.rules.protection import Protection, core_ampacity, guarded_cores, loaded_conductors, protections

if TYPE_CHECKING:
    from vesselspec.physics.faults.shock_entries import Entry

#: Currents are compared to a hundredth of an ampere: less is arithmetic, not wiring.
_STEP_A = 0.01


@dataclass(frozen=True)
class SourceEffect:
    """The demand on one pole of a source in one condition, before and after."""

    condition: str
    source: str
    pole: str
    before_a: float | None
    after_a: float | None
    rating_a: float | None
    #: Something is not recorded: there can be more afterwards than `after_a`, and less left than `margin_a`.
    at_least: bool = False

    @property
    def margin_a(self) -> float | None:
        """What is left of the rating afterwards, in A."""
        return None if self.rating_a is None or self.after_a is None else self.rating_a - self.after_a


@dataclass(frozen=True)
class ConductorEffect:
    """What a cable's live cores may carry, before and after, in A (lowest, highest)."""

    cable: str
    before_size: str | None
    after_size: str | None
    before_a: tuple[float, float] | None
    after_a: tuple[float, float] | None


@dataclass(frozen=True)
class ProtectionEffect:
    """A device and the conductor it limits: rating and the most that is allowed, before and after, in A."""

    cable: str
    device: str
    before_a: float | None
    before_limit_a: float | None
    after_a: float | None
    after_limit_a: float | None
    #: protected | not protected | cannot judge | not there
    before: str
    after: str


@dataclass(frozen=True)
class PotentialEffect:
    """What can be live in a panel's section or at a device, gained and lost."""

    place: str
    gained: tuple[str, ...]
    lost: tuple[str, ...]


@dataclass(frozen=True)
class Effects:
    """All effects of a change."""

    sources: tuple[SourceEffect, ...]
    conductors: tuple[ConductorEffect, ...]
    protection: tuple[ProtectionEffect, ...]
    potentials: tuple[PotentialEffect, ...]
    solved: SolvedEffects = field(default_factory=SolvedEffects)
    #: Where one further failure is enough now to leave a case live.
    shocks: tuple[Entry, ...] = ()


def effects(
    before: Boat, after: Boat, changed: frozenset[str] = frozenset(), names: Mapping[str, str] = MappingProxyType({})
) -> Effects:
    """Compare two boats. Only what differs is listed; `changed` names the entries that the change itself touches.

    `names` says what is called otherwise now: a new name alone has no effect.
    """
    old, new = _protections(before, names), _protections(after, {})
    return Effects(
        tuple(_sources(before, after, names)),
        tuple(_conductors(before, after, names)),
        tuple(_protection(old, new, changed)),
        tuple(_potentials(before, after, names)),
        solved_effects(before, after, names),
        shock_effects(before, after, changed, names),
    )


_Names = Mapping[str, str]


def _demands(boat: Boat, names: _Names) -> dict[tuple[str, str, str], SourceDemand]:
    return {
        (called(condition, names), "+".join(sorted(called(source, names) for source in each.sources)), each.pole): each
        for condition, demands in boat.demands.items()
        for each in demands.sources
    }


def _sources(before: Boat, after: Boat, names: _Names) -> Iterator[SourceEffect]:
    old, new = _demands(before, names), _demands(after, {})
    for key in sorted(old.keys() | new.keys()):
        one, two = old.get(key), new.get(key)
        was = one.amps if one is not None else None
        now = two.amps if two is not None else None
        rating = two.rating_a if two is not None else one.rating_a if one is not None else None
        earlier = one.rating_a if one is not None else rating
        at_least = two is not None and bool(two.unknown)
        newly = at_least and not (one is not None and one.unknown)
        if abs((was or 0.0) - (now or 0.0)) >= _STEP_A or rating != earlier or newly:
            condition, source, pole = key
            yield SourceEffect(condition, source, pole, was, now, rating, at_least)


_Protections = Mapping[tuple[str, str], Protection]


def _protections(boat: Boat, names: _Names) -> _Protections:
    """The weakest core of each cable against each device that limits it."""
    found: dict[tuple[str, str], Protection] = {}
    for each in protections(boat):
        key = (called(each.cable, names), called(each.device, names))
        known = found.get(key)
        if known is None or _low(each) < _low(known):
            found[key] = each
    return found


def _low(protection: Protection) -> float:
    return protection.carries.low_a if protection.carries is not None else -1.0


_Carries = tuple[float, float] | None


def _carried(boat: Boat, names: _Names) -> dict[str, tuple[str | None, _Carries]]:
    """The size of each cable and what its weakest live core may carry, behind a device or not."""
    together = loaded_conductors(boat)
    spans: dict[str, tuple[float, float]] = {}
    for each in guarded_cores(boat):
        cable = each.run.cable.id
        found = core_ampacity(boat, each.run, each.volts, together[cable])
        if found is not None:
            low, high = spans.get(cable, (math.inf, math.inf))
            spans[cable] = (min(low, found.low_a), min(high, found.high_a))
    return {called(cable, names): (_size(boat, cable), spans.get(cable)) for cable in boat.vessel.cables}


def _size(boat: Boat, cable: str) -> str | None:
    return next((run.size.text for run in boat.network.runs.get(cable, ()) if run.size is not None), None)


def _conductors(before: Boat, after: Boat, names: _Names) -> Iterator[ConductorEffect]:
    old, new = _carried(before, names), _carried(after, {})
    for cable in sorted(old.keys() | new.keys(), key=natural):
        (size_was, was), (size_now, now) = old.get(cable, (None, None)), new.get(cable, (None, None))
        if (size_was, was) != (size_now, now):
            yield ConductorEffect(cable, size_was, size_now, was, now)


_VERDICTS = {True: "protected", False: "not protected", None: "cannot judge"}


def _protection(old: _Protections, new: _Protections, changed: frozenset[str]) -> Iterator[ProtectionEffect]:
    def row(protection: Protection | None) -> tuple[Any, Any, str]:
        if protection is None:
            return None, None, "not there"
        limit = protection.least.max_rating_a if protection.least is not None else None
        return protection.rating_a, limit, _VERDICTS[protection.verdict]

    for key in sorted(old.keys() | new.keys()):
        was, now = row(old.get(key)), row(new.get(key))
        # A device further off that now also limits an existing conductor, or no longer does, says nothing new
        # where the conductor is protected by it, unless the conductor itself or the device was touched.
        only_one_side = (was[2] == "not there") != (now[2] == "not there")
        known = any(cable == key[0] for cable, _ in old) and any(cable == key[0] for cable, _ in new)
        if only_one_side and known and "protected" in (was[2], now[2]) and not changed & set(key):
            continue
        if was != now:
            yield ProtectionEffect(key[0], key[1], was[0], was[1], now[0], now[1], was[2], now[2])


def potentials_at(boat: Boat, place: str, names: _Names = MappingProxyType({})) -> frozenset[str]:
    """What can be live at a place, in words such as "L1 of shore-1"."""
    found: set[str] = set()
    for terminal in boat.network.within(place):
        for arrival in boat.reach.at(terminal):
            if arrival.emission.pole in (*LINES, "DC+"):
                found.add(f"{arrival.emission.pole} of {called(arrival.emission.source, names)}")
    return frozenset(found)


def _places(boat: Boat) -> dict[str, None]:
    return dict.fromkeys((*boat.vessel.sections, *boat.vessel.devices))


def _live(boat: Boat, names: _Names) -> dict[str, frozenset[str]]:
    return {called(place, names): potentials_at(boat, place, names) for place in _places(boat)}


def _potentials(before: Boat, after: Boat, names: _Names) -> Iterator[PotentialEffect]:
    old, new = _live(before, names), _live(after, {})
    for place in {**old, **new}:
        was, now = old.get(place, frozenset()), new.get(place, frozenset())
        if was != now:
            yield PotentialEffect(place, tuple(sorted(now - was)), tuple(sorted(was - now)))
