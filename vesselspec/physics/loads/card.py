"""The load card of a source: its large loads, what runs beside them, and which of them go together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations as pairs_of

from vesselspec.model.devices import Receptacles
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.network.state import State
from vesselspec.physics.loads.fit import Limits, Together, combinations, together
from vesselspec.physics.loads.offer import Carries, Counted, Offer, offer_of

#: A load is large from this share of the source's limit on any line, and a card has room for so many. Both are ours.
LARGE_SHARE = 0.1
MOST_LARGE = 12


@dataclass(frozen=True)
class Card:
    """Everything on a load card. What always runs is counted beside every combination."""

    offer: Offer
    large: tuple[Counted, ...]  # at full current, largest first
    beside: tuple[Counted, ...]  # counted beside all of them
    beside_lines: Mapping[str, float]
    aside: tuple[Counted, ...]  # neither large nor listed in the condition: not counted
    base: Together | None  # what runs beside, alone
    alone: tuple[Together, ...]
    pairs: Mapping[tuple[str, str], Together]
    largest: tuple[Together, ...]
    failing: tuple[Together, ...]


def card_of(
    vessel: Vessel,
    network: Network,
    condition: Condition,
    state: State,
    source: str,
    *,
    limit_a: float | None = None,
    carries: Carries | None = None,
) -> Card:
    """Work out a source's card. `offer.limit_a` is None, and nothing is judged, where no limit is known."""

    def offered(factors: Mapping[str, float]) -> Offer:
        return offer_of(
            vessel,
            network,
            condition,
            state,
            source,
            limit_a=limit_a,
            every_load=True,
            factors=factors,
            carries=carries,
        )

    full = offered({})
    limit = full.limit_a
    by_size = sorted(full.counted.values(), key=lambda each: (-max(each.lines.values(), default=0.0), each.load))
    large = [each.load for each in by_size if limit is not None and _is_large(vessel, each, limit)][:MOST_LARGE]
    shares = {
        key: demand.factor
        for key, demand in condition.shares
        if key not in large and not (key in vessel.loads and vessel.loads[key].essential)
    }
    offer = offered(shares)
    small = [each for each in offer.counted.values() if each.load not in large]
    always_on = {each.load for each in offer.candidates if each.essential}
    beside = [each for each in small if each.in_condition or each.load in always_on]
    aside = [each for each in small if each not in beside]
    always = tuple(each.load for each in beside)
    work = Limits(offer.candidates, offer.limits)
    lines: dict[str, float] = {}
    for each in beside:
        for pole, amps in each.lines.items():
            lines[pole] = lines.get(pole, 0.0) + amps
    largest, failing = combinations(work, large, always) if large else ((), ())
    return Card(
        offer=offer,
        large=tuple(offer.counted[key] for key in large),
        beside=tuple(beside),
        beside_lines=lines,
        aside=tuple(aside),
        base=together(work, (), always) if always else None,
        alone=tuple(together(work, (key,), always) for key in large),
        pairs={(one, two): together(work, (one, two), always) for one, two in pairs_of(large, 2)},
        largest=largest,
        failing=failing,
    )


def _is_large(vessel: Vessel, counted: Counted, limit: float) -> bool:
    """Receptacles are none: what is plugged in is not known."""
    load = vessel.loads.get(counted.load)
    return not isinstance(load, Receptacles) and max(counted.lines.values(), default=0.0) >= LARGE_SHARE * limit
