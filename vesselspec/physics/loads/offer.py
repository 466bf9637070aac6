"""What a source could run in a condition: the loads behind it as candidates, and every limit on their way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.model.devices import SUPPLIES, Charger, InverterCharger, Receptacles
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.network.state import State
from vesselspec.physics.loads.burden import Burden, Element, Ways
from vesselspec.physics.loads.fit import UNRANKED, Candidate


@dataclass(frozen=True)
class Counted:
    """A load as it is counted: at which share of its full current, and what that draws from the source."""

    load: str
    factor: float
    lines: Mapping[str, float]  # pole of the source → A
    in_condition: bool


@dataclass(frozen=True)
class Offer:
    """Candidates and limits. `limit_a` is None where neither the record nor the caller gives one."""

    source: str
    condition: str
    rating_a: float | None
    limit_a: float | None
    candidates: tuple[Candidate, ...]
    counted: Mapping[str, Counted]
    limits: Mapping[Element, float]
    unjudged: tuple[tuple[str, str], ...]  # (load, what is not recorded): no current is known
    at_least: tuple[tuple[str, str], ...]  # (item, what is not recorded): the current is a lower bound
    barred: tuple[tuple[str, tuple[str, ...]], ...]  # (load, kinds of supply that may feed it)
    unrated: tuple[Element, ...]
    parallel: tuple[tuple[str, str], ...]


def _rule_factor(vessel: Vessel, key: str, factor: float | None, *, by_demand: bool) -> float:
    """The share that counts: all of it, but what is plugged into receptacles only as the condition says."""
    if factor is None:
        return 1.0
    return factor if by_demand or isinstance(vessel.loads.get(key), Receptacles) else 1.0


def offer_of(
    vessel: Vessel,
    network: Network,
    condition: Condition,
    state: State,
    source: str,
    *,
    limit_a: float | None = None,
    every_load: bool = False,
    by_demand: bool = False,
    factors: Mapping[str, float] | None = None,
) -> Offer:
    """Gather what a source could run: the condition's loads and chargers, or every one that it reaches.

    Essential loads are always among them: they may start in any condition.

    `factors` overrides the share at which single loads count.
    """
    ways = Ways(vessel, network, condition, state)
    listed = {key: demand.factor for key, demand in condition.demand if demand.factor > 0}
    chargers = [key for key, each in vessel.devices.items() if isinstance(each, Charger | InverterCharger)]
    more = (*vessel.loads, *(key for key in chargers if key in condition.running)) if every_load else ()
    essential = {key for key, load in vessel.loads.items() if load.essential}
    keys = sorted({key for key in (*vessel.loads, *chargers) if key in listed} | essential | set(more))
    burdens = [(burden, below) for key in keys if (burden := ways.burden(key)).fed and (below := burden.below(source))]
    rating = _rating(ways, source)
    limit = min((each for each in (limit_a, rating) if each is not None), default=None)
    candidates: list[Candidate] = []
    counted: dict[str, Counted] = {}
    unjudged: list[tuple[str, str]] = []
    at_least: dict[tuple[str, str], None] = {}
    barred: list[tuple[str, tuple[str, ...]]] = []
    for burden, below in burdens:
        key = burden.load
        load = vessel.loads.get(key)
        supply = _supply(vessel, burden)
        if load is not None and load.only_from and supply not in (None, *load.only_from):
            barred.append((key, load.only_from))
            continue
        if not any(below.values()):
            unjudged += burden.unknown or [(key, "power")]
            continue
        at_least.update(dict.fromkeys(burden.unknown))
        factor = (factors or {}).get(key, _rule_factor(vessel, key, listed.get(key), by_demand=by_demand))
        counted[key] = Counted(key, factor, _lines(below, source, factor), key in listed)
        candidates.append(
            Candidate(
                load=key,
                amps={element: amps * factor for element, amps in below.items()},
                essential=load is not None and load.essential,
                importance=(load.importance if load is not None else None) or UNRANKED,
                may_wait=load is not None and load.may_wait,
                alternates_with=load.alternates_with if load is not None else (),
            )
        )
    used = sorted({element for each in candidates for element in each.amps})
    limits = {element: value for element in used if (value := _limit(ways, element, source, limit)) is not None}
    return Offer(
        source=source,
        condition=condition.id,
        rating_a=rating,
        limit_a=limit,
        candidates=tuple(candidates),
        counted=counted,
        limits=limits,
        unjudged=tuple(unjudged),
        at_least=tuple(at_least),
        barred=tuple(barred),
        unrated=tuple(element for element in used if element not in limits),
        parallel=tuple((burden.load, place) for burden, _ in burdens for place in burden.parallel),
    )


def _supply(vessel: Vessel, burden: Burden) -> str | None:
    """The kind of supply that feeds a load; a transformer only hands one on."""
    for (sources, _), _amps in burden.levels:
        device = vessel.devices.get(sources[0])
        if device is not None and device.supply in SUPPLIES:
            return device.supply
    return None


def _lines(below: Mapping[Element, float], source: str, factor: float) -> Mapping[str, float]:
    return {
        element.pole: amps * factor
        for element, amps in sorted(below.items())
        if element.kind == "source" and source in element.sources and amps > 0
    }


def _rating(ways: Ways, source: str) -> float | None:
    """The rating of each line of a source, or of those that stand in parallel with it."""
    found = [
        rating for element, rating in ways.ratings.items() if element.kind == "source" and source in element.sources
    ]
    known = [rating for rating in found if rating is not None]
    return min(known) if known and len(known) == len(found) else None


def _limit(ways: Ways, element: Element, source: str, limit: float | None) -> float | None:
    if element.kind == "source" and source in element.sources:
        return limit
    return ways.ratings.get(element)
