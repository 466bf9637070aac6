"""Demand factors that the record asks for and does not give: published ones, by what a load is for.

They are filled in when a vessel is built, so that every sum, solution and page counts the same. A load that asks for
one counts with the others of its use on the same section, for the published figures are for a feeder. Where no figure
is published the load counts as nothing, and every sum that it belongs to says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from vesselspec.model.forms import Pairs
from vesselspec.model.items import Condition, UnlistedDemand, Way
from vesselspec.standards import Figure, figure

if TYPE_CHECKING:
    from vesselspec.model.devices import Load
    from vesselspec.model.vessel import Vessel


@dataclass(frozen=True)
class Published:
    """One group of loads that ask for a published factor. `factor` is None where there is none for their use.

    `spare_a` and `spare_w` are what the figure has the feeder carry for its spare ways, by pole in A, or in W.
    """

    use: str | None
    feeder: str  # the section that they hang on; empty where that is not recorded way by way
    loads: tuple[str, ...]
    unlisted: tuple[str, ...]  # of them, those that count only because the condition asks for their use
    connected_w: float  # a load whose power is not recorded counts as none: errs to a higher factor
    factor: float | None
    text: str
    source: str
    spare_ways: tuple[str, ...] = ()
    spare_a: tuple[tuple[str, float], ...] = ()
    spare_w: float | None = None


def galley_demand_w(connected_w: float, rule: Mapping[str, Any]) -> float:
    """Demand of a galley feeder without spare ways: a first block in full, and a share of the rest."""
    first = max(float(rule["first_block_w"]), float(rule["first_block_share"]) * connected_w)
    return min(connected_w, first) + float(rule["remainder_percent"]) / 100 * max(0.0, connected_w - first)


def published_of(vessel: Vessel, condition: Condition) -> tuple[Published, ...]:
    """The groups of loads in a condition that ask for a published factor."""
    asking = {key: False for key, demand in condition.demand if demand.published and not demand.unlisted}
    listed = {key for key, demand in condition.demand if not demand.unlisted}
    for key, load in vessel.loads.items():
        if load.use in condition.published and key not in listed:
            asking[key] = True
    if not asking:
        return ()
    ways = _ways(vessel)
    groups: dict[tuple[str | None, str, str], list[str]] = {}
    for key in sorted(asking):
        use = vessel.loads[key].use if key in vessel.loads else None
        section = ways.get(key, "").rpartition("/")[0]
        groups.setdefault((use, section, "" if section else key), []).append(key)
    return tuple(
        _group(vessel, use, section, keys, tuple(key for key in keys if asking[key]), len({ways.get(k) for k in keys}))
        for (use, section, _), keys in sorted(groups.items(), key=lambda each: (each[0][0] or "", each[0][1:]))
    )


def filled_in(vessel: Vessel) -> Vessel:
    """The vessel with every published factor that its conditions ask for."""
    conditions = {key: _filled(vessel, each) for key, each in vessel.conditions.items()}
    return replace(vessel, conditions=MappingProxyType(conditions))


def asks(condition: Condition) -> bool:
    """Whether a condition asks for a published factor."""
    return bool(condition.published) or any(demand.published for _, demand in condition.demand)


def _filled(vessel: Vessel, condition: Condition) -> Condition:
    if not asks(condition):
        return condition
    factors: dict[str, float] = {}
    unlisted: list[str] = []
    for group in published_of(vessel, condition):
        factors.update(dict.fromkeys(group.loads, group.factor or 0.0))
        unlisted += group.unlisted
    demand = [
        (key, replace(each, factor=factors[key]) if each.published else each)
        for key, each in condition.demand
        if not each.unlisted
    ]
    demand += [(key, UnlistedDemand(factor=factors[key])) for key in sorted(unlisted)]
    return replace(condition, demand=Pairs(demand))


def _ways(vessel: Vessel) -> dict[str, str]:
    """The way from which a cable goes straight to each load."""
    found: dict[str, str] = {}
    for cable in vessel.cables.values():
        for near, far in ((cable.from_, cable.to), (cable.to, cable.from_)):
            if near in vessel.ways and far in vessel.loads:
                found.setdefault(far, near)
    return found


def _group(
    vessel: Vessel, use: str | None, section: str, keys: list[str], unlisted: tuple[str, ...], circuits: int
) -> Published:
    found = figure("cfr46_111_60_7")
    rule = next((row for row in found.data["rows"] if use in row.get("used_as", ())), None)
    watts = math.fsum(_watts(vessel.loads[key]) for key in keys if key in vessel.loads)
    if rule is None:
        text = f"no published factor for {use}: write one" if use else "its use is not recorded: write it, or a factor"
        return Published(use, section, tuple(keys), unlisted, watts, None, text, "")
    spare = tuple(_spare(vessel, section))
    if "first_block_w" in rule:
        return _galley(found, rule, Published(str(use), section, tuple(keys), unlisted, watts, 1.0, "", ""), spare)
    share = float(rule["percent_of_connected"]) / 100
    return Published(
        use=use,
        feeder=section,
        loads=tuple(keys),
        unlisted=unlisted,
        connected_w=watts,
        factor=share,
        text=f"{rule['circuit']}: {share * 100:g} % of the connected load",
        source=found.source,
        spare_ways=tuple(key for key, _ in spare),
        spare_w=watts / circuits * len(spare) if spare else None,
    )


def _galley(found: Figure, rule: Mapping[str, Any], group: Published, spare: Iterable[tuple[str, Way]]) -> Published:
    watts = group.connected_w
    demand = galley_demand_w(watts, rule)
    amps: dict[str, float] = {}
    for _, way in spare:
        for pole in way.poles:
            amps[pole] = amps.get(pole, 0.0) + (way.rating_a or 0.0) * float(rule["spare_ways_percent"]) / 100
    return replace(
        group,
        factor=demand / watts if watts else 1.0,
        text=(
            f"{rule['circuit']}: {rule['first_block']}, the remainder at {rule['remainder_percent']} %; "
            f"of {watts / 1000:.4g} kW connected {demand / 1000:.4g} kW"
        ),
        source=found.source,
        spare_ways=tuple(key for key, _ in spare),
        spare_a=tuple(sorted(amps.items())),
    )


def _watts(load: Load) -> float:
    if isinstance(load.power_w, Pairs):
        return math.fsum(watts for _, watts in load.power_w)
    return load.power_w or 0.0


def _spare(vessel: Vessel, section: str) -> Iterator[tuple[str, Way]]:
    for key, (_, _, way) in vessel.ways.items():
        if section and key.rpartition("/")[0] == section and way.spare and way.device != "blank":
            yield key, way
