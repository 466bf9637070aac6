"""Voltage at the loads: what their own current drops on its way, and what is left in every condition."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vesselspec.model.devices import ShoreInlet
from vesselspec.model.items import System
from vesselspec.network.graph import LINES
from vesselspec.physics.conductors.drop import Limit, at_nominal, branch_limit, feeder_limit, share
from vesselspec.physics.loads.supply import Supply
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import Lacks, Open, Says, Sound, rule
from vesselspec.rules.circuits import class_limit, supplies
from vesselspec.rules.findings import CAUTION, NOTICE, At
from vesselspec.standards import cited

if TYPE_CHECKING:
    from vesselspec.physics.steady.flow import Flow

_NEAR = 1 + 1e-9
#: Reactance over resistance of a conductor, for the angle that a load of unity power factor leaves. Ours: NEC Chapter 9
#: Table 9 has less up to 4 AWG.
_LEAST_ASIDE = 0.2


@dataclass(frozen=True)
class Lost:
    """A drop, as a share of nominal, against a limit. `where` tells how it was found."""

    ratio: float
    limit: Limit
    where: str
    condition: str = ""
    branch: float = 0.0  # the share of it that lies behind the last point of distribution
    start: str = ""

    @property
    def excess(self) -> float:
        """How many times the limit."""
        return self.ratio / self.limit.ratio


def sound(boat: Boat) -> Iterator[tuple[str, Flow]]:
    """The conditions that have a solution."""
    return ((key, flow) for key, flow in boat.flows.items() if not flow.troubles)


def _shares(boat: Boat) -> dict[bool, float]:
    """The least share of a solved drop that the formula leaves, for DC (True) and AC (False)."""
    practice = boat.vessel.about.practice
    sizes = {run.size for run in boat.network.cores if run.size is not None}
    return {dc: min((share(s, practice, frequency_hz=None if dc else 60.0) for s in sizes), default=1.0)
            for dc in (True, False)}  # fmt: skip


def source_loss(boat: Boat, flow: Flow, condition: str, terminal: int, system: System) -> float:
    """What the source itself loses, as a share of nominal: internal resistance of the bank, impedance ashore.

    Negative for a bank that charging lifts above nominal: what its loads lose in the wiring counts from there.
    """
    network, state = boat.network, boat.states[condition]
    nominal = system.voltage.line_v
    found: list[float] = []
    live = state.at(terminal)
    banks = tuple(emission for emission in live if emission.supply == "battery")
    for emission in banks if system.is_dc and banks else live:
        if system.is_dc:
            minus = network.index.get((network.terminals[emission.terminal].place, "DC-"))
            if emission.pole == "DC+" and minus is not None and emission.volts == nominal:
                found.append(1 - (flow.dc_volts[emission.terminal] - flow.dc_volts[minus]) / nominal)
        elif emission.pole in LINES:
            device = boat.vessel.devices.get(emission.source)
            given = (each for each in flow.sources if (each.source, each.pole) == (emission.source, emission.pole))
            amps = max((each.amps for each in given), default=0.0)
            ohm = None
            if isinstance(device, ShoreInlet):
                ohm = device.supply_ohm
                if ohm is None and device.supply_fault_a:
                    ohm = nominal / device.supply_fault_a
            found.append((ohm or 0.0) * amps / nominal)
    return min(found, default=0.0) if banks else max(min(found, default=0.0), 0.0)


def wiring_drops(boat: Boat, condition: str, flow: Flow) -> Iterator[tuple[str, tuple[str, str], float, float]]:
    """(load, poles, share lost in the wiring at least, share lost as solved) of every load of a condition."""
    shares = kept(boat, "_shares", _shares)
    for each in flow.loads:
        load = boat.vessel.loads.get(each.load)
        system = boat.vessel.systems.get(load.system or "") if load is not None else None
        if load is None or system is None:
            continue
        terminal = boat.network.index.get((each.load, each.poles[0]))
        if terminal is None:
            continue
        lost = 1 - each.volts / each.nominal_v
        wiring = lost - source_loss(boat, flow, condition, terminal, system)
        if not system.is_dc and wiring > 0:  # the formula R·cosφ + X·sinφ leaves out the angle between the voltages
            factor = load.power_factor or 1.0
            aside = max(math.sqrt(1 - factor * factor) / factor, _LEAST_ASIDE)
            wiring = max(wiring - (wiring * aside) ** 2 / 2, 0.0)
        yield (
            each.load,
            each.poles,
            at_nominal(wiring, shares[system.is_dc], most_lost(boat, flow, dc=system.is_dc)),
            lost,
        )


def most_lost(boat: Boat, flow: Flow, *, dc: bool) -> float:
    """The largest drop at any load of a kind, as a share of nominal.

    Loads of constant power draw more at a lower voltage, none more than this would make it; what is solved less this
    share is what flows at nominal voltage at least.
    """
    known: dict[tuple[str, bool], float] = kept(boat, "_most_lost", lambda _: {})
    if (flow.condition, dc) not in known:
        lost = [1 - each.volts / each.nominal_v for each in flow.loads if ("DC+" in each.poles) == dc]
        known[flow.condition, dc] = max(0.0, *lost, 0.0)
    return known[flow.condition, dc]


def _of_loads(boat: Boat) -> dict[str, list[Lost]]:
    """The drops of every load beyond a limit, the certain share only: an empty list where all limits are kept."""
    found: dict[str, list[Lost]] = defaultdict(list)
    practice = boat.vessel.about.practice
    for key, parts in supplies(boat).items():
        load = boat.vessel.loads[key]
        system = boat.vessel.systems.get(load.system or "")
        if system is None:
            continue
        limit, _ = class_limit(boat, load, system)
        branch = branch_limit(practice, dc=system.is_dc)
        over = found[key] if parts and (branch or limit) else []
        for part in parts:
            inner, start = part.branch.low, part.branch.start
            if branch is not None and _exceeds(inner, branch):
                over.append(Lost(inner, branch, f"{_alone(part)}, from {start}", "", inner, start))
            if limit is not None and _exceeds(part.total.low, limit):
                over.append(Lost(part.total.low, limit, f"{_alone(part)}, from the source", "", inner, start))
    for condition, flow in sound(boat):
        factors = {key: demand.factor for key, demand in boat.vessel.conditions[condition].demand}
        for key, poles, least, solved in wiring_drops(boat, condition, flow):
            load = boat.vessel.loads[key]
            system = boat.vessel.systems[load.system or ""]
            limit, _ = class_limit(boat, load, system)
            if limit is None:
                continue
            over = found[key]
            if not _exceeds(least, limit):
                continue
            own = _part(supplies(boat).get(key, ()), poles)
            inner = 0.0 if own is None else own.branch.low * factors.get(key, 1.0)
            where = f"in {condition} with all that runs there ({solved * 100:.3g} % with hot conductors and the source)"
            start = "" if own is None else own.branch.start
            over.append(Lost(least, limit, where, condition, inner, start))
    return found


def _exceeds(ratio: float, limit: Limit) -> bool:
    return ratio > limit.ratio * _NEAR


def _alone(part: Supply) -> str:
    return f"at its own {part.total.draw.amps or 0.0:.3g} A alone ({'-'.join(part.total.draw.between)})"


def _part(parts: tuple[Supply, ...], poles: tuple[str, str]) -> Supply | None:
    return next((part for part in parts if set(poles) <= set(part.branch.draw.between)), None)


def _feeders(boat: Boat) -> dict[str, list[Lost]]:
    """What the feeders of DC panels lose in every condition: at the bars of each section."""
    found: dict[str, list[Lost]] = defaultdict(list)
    limit = feeder_limit(boat.vessel.about.practice, dc=True)
    shares = kept(boat, "_shares", _shares)
    if limit is None:
        return found
    for condition, flow in sound(boat):
        for path, (panel, section) in boat.vessel.sections.items():
            system = boat.vessel.section_system(panel, section)
            plus, minus = boat.network.index.get((path, "DC+")), boat.network.index.get((path, "DC-"))
            if system is None or not system.is_dc or plus is None or minus is None:
                continue
            if not boat.states[condition].at(plus):
                continue
            lost = 1 - (flow.dc_volts[plus] - flow.dc_volts[minus]) / system.voltage.line_v
            wiring = lost - source_loss(boat, flow, condition, plus, system)
            least = at_nominal(wiring, shares[True], most_lost(boat, flow, dc=True))
            where = f"in {condition} with all that runs there ({lost * 100:.3g} % with hot conductors and the source)"
            found[path].append(Lost(least, limit, where, condition, 0.0, path))
    return found


@rule(
    "voltage-drop-too-large",
    CAUTION,
    title="Too much voltage is lost on the way to a load or panel",
    why="Lights go dim, pumps and motors run slow and hot, electronics restart, and a fault current may be too small "
    "for the device to see.",
    remedy="Run a larger or shorter conductor, or share the loads out over more circuits.",
    source="voltage drop limits of the vessel's practice",
    needs="power or current and use of every load; size and length of every cable on its way; operating conditions",
)
def too_much_drop(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Each load's own circuit at rated current, and every load and DC panel in every condition."""
    feeders = {path: worst for path, each in _feeders(boat).items() if (worst := _over(each))}
    yield from (Open(path) for path in feeders if path in boat.meaningless)
    feeders = {path: worst for path, worst in feeders.items() if path not in boat.meaningless}
    behind: dict[str, list[tuple[str, Lost]]] = defaultdict(list)
    for key, each in _of_loads(boat).items():
        over = _over(each)
        if over and key in boat.meaningless:
            yield Open(key)
        elif over:
            yield from _judged(boat, key, over, behind)
        else:
            yield from _lacking(boat, key)
    for place in dict.fromkeys([*feeders, *behind]):
        yield _at_feeder(boat, place, feeders.get(place, []), behind.get(place, []))
    for key, load in boat.vessel.loads.items():
        unsaid = load.power_w is None and load.current_a is None and load.apparent_va is None
        if key in supplies(boat) and unsaid:
            yield Lacks(item=key, at=boat.at(key), missing="its power or current")


def _over(each: list[Lost]) -> list[Lost]:
    """Those that exceed their limit, the worst first, binding limits before recommendations."""
    over = [lost for lost in each if _exceeds(lost.ratio, lost.limit)]
    return sorted(over, key=lambda lost: (not lost.limit.binding, -lost.excess, lost.where))


def _judged(
    boat: Boat, key: str, over: list[Lost], behind: dict[str, list[tuple[str, Lost]]]
) -> Iterator[Says | Lacks]:
    load = boat.vessel.loads[key]
    system = boat.vessel.systems[load.system or ""]
    _, lax = class_limit(boat, load, system)
    if lax is not None:
        certain = [Lost(x.ratio, lax, x.where, x.condition, x.branch, x.start) for x in over if x.ratio > lax.ratio]
        if not certain:
            missing = "its use, which decides between 3 % and 10 % of voltage drop"
            yield Lacks(item=key, at=boat.at(key), missing=missing)
            return
        over = _over(certain)
    worst = over[0]
    upstream = worst.ratio - worst.branch
    if worst.start and worst.start != key and upstream > worst.branch:
        behind[worst.start].append((key, worst))
        return
    part = next((p for p in supplies(boat).get(key, ())), None)
    offered = ""
    cable = None
    if part is not None and part.branch.legs:
        cable = part.branch.legs[0].cable
        budget = (worst.limit.ratio - upstream) * part.branch.draw.volts
        from vesselspec.rules.sizing import remedy  # noqa: PLC0415 - only a finding needs it

        offered = remedy(boat, key, drop_v=budget)
    yield Says(
        items=(key,) if cable is None else (key, cable),
        at=boat.at(key) if cable is None else At("cables", cable, ("size",)),
        what=f"{boat.vessel.name_of(key)} loses at least {worst.ratio * 100:.3g} % of its voltage {worst.where}; "
        f"{_allowed(worst.limit)}",
        remedy=f"{offered[0].upper()}{offered[1:]}." if offered else None,
        source=cited(worst.limit.source, worst.limit.from_memory),
        signal_word=None if worst.limit.binding else NOTICE,
        consequences=tuple(_more(boat, over, part)),
        measure=worst.excess,
    )


def _allowed(limit: Limit) -> str:
    return f"{limit.ratio * 100:g} % is {'recommended' if limit.recommendation else 'allowed'}"


def _scopes(over: list[Lost]) -> Iterator[str]:
    limits = dict.fromkeys(lost.limit for lost in over)
    yield from (f"{limit.ratio * 100:g} %: {limit.scope}" for limit in limits)
    yield from dict.fromkeys(text for limit in limits for text in limit.beside)


def _more(boat: Boat, over: list[Lost], part: Supply | None) -> Iterator[str]:
    for lost in over[1:]:
        yield f"{lost.ratio * 100:.3g} % {lost.where}; {_allowed(lost.limit)}"
    if part is not None:
        for item, missing in part.total.unknown:
            yield f"{missing} of {item} is not recorded, and what it drops is not in these figures"
    yield from _scopes(over)


def _at_feeder(boat: Boat, place: str, own: list[Lost], loads: list[tuple[str, Lost]]) -> Says:
    everything = _over([*own, *(lost for _, lost in loads)])
    worst = _over(own)[0] if own else everything[0]
    names = {id(lost): key for key, lost in loads}
    what = (
        f"at {boat.vessel.name_of(place)} at least {worst.ratio * 100:.3g} % of the voltage is lost {worst.where}"
        if worst in own
        else f"before {boat.vessel.name_of(place)} so much voltage is lost that "
        f"{boat.vessel.name_of(names[id(worst)])} loses at least {worst.ratio * 100:.3g} % {worst.where}"
    )
    more = [
        f"{boat.vessel.name_of(key)}: {lost.ratio * 100:.3g} % {lost.where}" for key, lost in loads if lost is not worst
    ]
    more += [f"{lost.ratio * 100:.3g} % {lost.where}" for lost in own if lost is not worst]
    return Says(
        items=(place, *dict.fromkeys(key for key, _ in loads)),
        group=(place,),
        at=boat.at(place),
        measure=worst.excess,
        what=f"{what}; {_allowed(worst.limit)}",
        remedy=f"Run a larger conductor to {place}, or move loads to another feeder.",
        source=worst.limit.source,
        signal_word=None if worst.limit.binding else NOTICE,
        consequences=(*more, *_scopes(everything)),
    )


def _lacking(boat: Boat, key: str) -> Iterator[Lacks | Sound | Open]:
    """What is not recorded on the load's own branch, where what is known of it passes."""
    parts = supplies(boat).get(key, ())
    known = parts and all(part.total.high_v is not None for part in parts)
    yield Sound(key) if known else Open(key)
    for part in parts:
        for item, missing in part.branch.unknown:
            yield Lacks(item=item, at=At("cables", item), missing=f"its {missing}", stops=(key,))
