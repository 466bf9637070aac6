"""What a source could run in a condition: the loads behind it as candidates, and every limit on their way.

Limits are the ratings; the share of them that loads of three hours or more may take of an ordinary breaker or fuse,
and of a shore supply, which stands behind one; and what the conductors may carry, at the least that what is not
recorded about them leaves open. A generator's, inverter's or bank's rating is its own figure for lasting load.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from vesselspec.model.devices import SUPPLIES, Charger, InverterCharger, Receptacles, ShoreInlet
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.network.state import State
from vesselspec.physics.conductors.ampacity import Ampacity
from vesselspec.physics.loads.burden import Burden, Element, Ways
from vesselspec.physics.loads.fit import UNRANKED, Candidate
from vesselspec.physics.loads.loading import breaker_share

#: What the conductor that is a link of the network may carry.
Carries = Callable[[int], Ampacity | None]
#: Devices of which a share only is for loads of three hours or more.
_SHARED = ("breaker", "fuse")


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
    share: float | None  # of ratings that loads of three hours or more may take; None where no figure applies
    no_duty: tuple[str, ...]  # loads that are not counted as continuous because their duty is not recorded
    ampacities: Mapping[Element, Ampacity]  # of the conductors on the way, where known
    no_ampacity: tuple[Element, ...]  # conductors whose ampacity is not known: not considered


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
    carries: Carries | None = None,
) -> Offer:
    """Gather what a source could run: the condition's loads and chargers, or every one that it reaches.

    Essential loads are always among them: they may start in any condition.

    `factors` overrides the share at which single loads count. Without `carries` no conductor limits anything.
    """
    ways = Ways(vessel, network, condition, state)
    # Without a published factor, what asks for one counts in full.
    listed = {key: demand.factor or 1.0 for key, demand in condition.shares if demand.factor > 0 or demand.published}
    chargers = [key for key, each in vessel.devices.items() if isinstance(each, Charger | InverterCharger)]
    more = (*vessel.loads, *(key for key in chargers if key in condition.running)) if every_load else ()
    essential = {key for key, load in vessel.loads.items() if load.essential}
    keys = sorted({key for key in (*vessel.loads, *chargers) if key in listed} | essential | set(more))
    burdens = [(burden, below) for key in keys if (burden := ways.burden(key)).fed and (below := burden.below(source))]
    rating = _rating(ways, source)
    limit = min((each for each in (limit_a, rating) if each is not None), default=None)
    share = breaker_share() if vessel.about.practice == "north-american" else None
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
        amps = {element: amps * factor for element, amps in below.items()}
        if share is not None and load is not None and load.duty == "continuous":
            amps |= {replace(each, continuous=True): amps[each] for each in below if _is_shared(vessel, each, source)}
        candidates.append(
            Candidate(
                load=key,
                amps=amps,
                essential=load is not None and load.essential,
                importance=(load.importance if load is not None else None) or UNRANKED,
                may_wait=load is not None and load.may_wait,
                alternates_with=load.alternates_with if load is not None else (),
            )
        )
    used = sorted({element for each in candidates for element in each.amps})
    ampacities = _ampacities(ways, used, carries)
    limits: dict[Element, float] = {element: found.low_a for element, found in ampacities.items()}
    for element in used:
        value = _limit(ways, element, source, limit)
        if value is not None and element.kind != "cable":
            limits[element] = value * (share or 1.0) if element.continuous else value
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
        unrated=tuple(e for e in used if e not in limits and e.kind != "cable" and not e.continuous),
        parallel=tuple((burden.load, place) for burden, _ in burdens for place in burden.parallel),
        share=share if any(element.continuous for element in used) else None,
        no_duty=() if share is None else tuple(key for key in counted if _without_duty(vessel, key)),
        ampacities=ampacities,
        no_ampacity=tuple(e for e in used if e.kind == "cable" and e not in ampacities),
    )


def _is_shared(vessel: Vessel, element: Element, source: str) -> bool:
    """Whether a share of this rating only is for loads of three hours or more."""
    if element.kind == "source":
        return source in element.sources and isinstance(vessel.devices.get(source), ShoreInlet)
    return element.kind in _SHARED


def _without_duty(vessel: Vessel, key: str) -> bool:
    load = vessel.loads.get(key)
    return load is None or (load.duty is None and not isinstance(load, Receptacles))


def _ampacities(ways: Ways, used: Iterable[Element], carries: Carries | None) -> dict[Element, Ampacity]:
    """What each conductor on the way may carry, where it can be told: insulation too cool for its space cannot."""
    if carries is None:
        return {}
    found = {element: carries(ways.cores[element]) for element in used if element.kind == "cable"}
    return {element: each for element, each in found.items() if each is not None and (each.low_a or not each.unknown)}


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
    return ways.ratings.get(replace(element, continuous=False))
