"""What sources and section feeders carry in each condition, and what a step from one state to another did to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from vesselspec.changes.compare import called
from vesselspec.physics.loads.loading import loading_of
from vesselspec.rules import Boat

#: Currents are compared to a hundredth of an ampere: less is arithmetic, not wiring.
_STEP_A = 0.01

SOURCE, SECTION = "source", "section"


@dataclass(frozen=True)
class Carrier:
    """One pole of a source (or of banks in parallel, joined by +), or of a section's bus, in one condition."""

    condition: str
    kind: str  # source | section
    item: str
    pole: str


@dataclass(frozen=True)
class Carried:
    """What it carries by demand factors at nominal voltage, in A. `at_least`: something is not recorded."""

    amps: float
    rating_a: float | None
    at_least: bool


@dataclass(frozen=True)
class Loads:
    """All that is carried in each condition that the record has."""

    conditions: frozenset[str] = frozenset()
    carried: Mapping[Carrier, Carried] = field(default_factory=dict)


@dataclass(frozen=True)
class LoadEffect:
    """A load that moved. None is a carrier that is not there, or that carries nothing then."""

    carrier: Carrier
    before: Carried | None
    after: Carried | None

    @property
    def change_a(self) -> float:
        """By how much, in A; a lower bound where either side is."""
        return _amps(self.after) - _amps(self.before)


def loads_of(boat: Boat, *, sections: bool = False) -> Loads:
    """What each source carries in each condition and, on request, each section's bus; that costs far more."""
    carried = {**dict(_sources(boat)), **(dict(_sections(boat)) if sections else {})}
    return Loads(frozenset(boat.vessel.conditions), carried)


def _sources(boat: Boat) -> Iterator[tuple[Carrier, Carried]]:
    for condition, demands in boat.demands.items():
        for each in demands.sources:
            carrier = Carrier(condition, SOURCE, "+".join(sorted(each.sources)), each.pole)
            yield carrier, Carried(each.amps, each.rating_a, bool(each.unknown))


def _sections(boat: Boat) -> Iterator[tuple[Carrier, Carried]]:
    for key, condition in boat.vessel.conditions.items():
        for feeder in loading_of(boat.vessel, boat.network, condition, boat.states[key], None).feeders:
            bus = feeder.bus
            ratings = [each for each in (bus.rating_a, feeder.device_rating_a) if each is not None]
            carrier = Carrier(key, SECTION, bus.element.item, bus.element.pole)
            yield carrier, Carried(bus.amps, min(ratings, default=None), bool(bus.unknown))


def load_effects(before: Loads, after: Loads, names: Mapping[str, str]) -> tuple[LoadEffect, ...]:
    """What moved, the largest first. `names`: earlier id or address → what it is called now.

    A condition that only one of the states has moves nothing: it is new, or gone.
    """
    old = {_renamed(carrier, names): carried for carrier, carried in before.carried.items()}
    both = after.conditions & {called(condition, names) for condition in before.conditions}
    carriers = (each for each in {**after.carried, **old} if each.condition in both)
    found = [LoadEffect(each, old.get(each), after.carried.get(each)) for each in carriers]
    moved = [each for each in found if abs(each.change_a) >= _STEP_A]
    return tuple(sorted(moved, key=lambda each: (-abs(each.change_a), *_order(each.carrier))))


def _renamed(carrier: Carrier, names: Mapping[str, str]) -> Carrier:
    items = "+".join(sorted(called(item, names) for item in carrier.item.split("+")))
    return Carrier(called(carrier.condition, names), carrier.kind, items, carrier.pole)


def _order(carrier: Carrier) -> tuple[bool, str, str, str]:
    return carrier.kind != SOURCE, carrier.item, carrier.pole, carrier.condition


def _amps(carried: Carried | None) -> float:
    return carried.amps if carried is not None else 0.0
