"""Whether an inverter can start what hangs on it, and whether a bank lasts a day with nothing that charges it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from vesselspec.model.devices import BatteryBank, Generator, Inverter, InverterCharger, Load
from vesselspec.model.forms import Pairs
from vesselspec.network.compile import INVERTING
from vesselspec.network.graph import LINES
from vesselspec.physics.loads.demand import SourceDemand, parts_of
from vesselspec.physics.loads.energy import DAY_H, BankDay, Stretch, day_of
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import Lacks, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, NOTICE

_NEAR = 1 + 1e-9
#: Loads that run for seconds or minutes: a demand factor without hours says nothing about their day.
_SHORT_USES = ("engine-cranking", "thruster", "windlass")

# --- starting on an inverter -----------------------------------------------------------------------


@dataclass(frozen=True)
class _Start:
    """One load starting on an inverter in one condition, in VA, and what the others take meanwhile."""

    condition: str
    load: str
    inrush: float
    others: float

    @property
    def total(self) -> float:
        return self.inrush + self.others


@rule(
    "inverter-surge",
    CAUTION,
    title="An inverter cannot start a load that hangs on it",
    why="It switches off or lets its voltage sink while the motor starts, and takes everything else on it along.",
    remedy="Move the load to another supply, fit a soft start, or leave other loads off while it starts.",
    source="electric load analysis; the inverter's own short-time rating",
    needs="the inrush of motors; the short-time output of the inverter; operating conditions in which it inverts",
)
def inverter_surge(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """The largest single inrush on top of the other loads, against the short-time output."""
    starts: dict[tuple[str, ...], list[_Start]] = defaultdict(list)
    unsure: dict[tuple[str, ...], dict[tuple[str, str], None]] = defaultdict(dict)
    for condition, demands in boat.demands.items():
        groups: dict[tuple[str, ...], list[SourceDemand]] = defaultdict(list)
        for each in demands.sources:
            # An inverter-charger that passes through is no source: what feeds it stands here in its place.
            if each.pole in LINES and _inverters(boat, each.sources):
                groups[each.sources].append(each)
        for sources, found in groups.items():
            loads = {draw.item for each in found for draw in each.draws} | {
                item for each in found for item, _ in each.unknown
            }
            for key in sorted(loads & boat.vessel.loads.keys()):
                load = boat.vessel.loads[key]
                if load.inrush_a is not None:
                    starts[sources].append(_start(boat, condition, key, load, found))
                elif load.motor:
                    yield Lacks(item=key, at=boat.at(key), missing="its inrush", stops=sources)
            unsure[sources].update(dict.fromkeys(lack for each in found for lack in each.unknown))
    for sources, each_start in starts.items():
        yield from _surge(boat, sources, each_start, tuple(unsure[sources]))


def _inverters(boat: Boat, sources: tuple[str, ...]) -> list[Inverter | InverterCharger]:
    """The inverters that are these sources; none where something else stands among them."""
    devices = [boat.vessel.devices.get(key) for key in sources]
    found = [device for device in devices if isinstance(device, Inverter | InverterCharger)]
    return found if len(found) == len(sources) else []


def _start(boat: Boat, condition: str, key: str, load: Load, found: list[SourceDemand]) -> _Start:
    """What a load asks for while it starts, and what those take that can run at the same time."""
    system = boat.vessel.systems[load.system or ""]
    lines = {each.pole for each in found}
    live = {pole for part in parts_of(load, system) for pole in part.poles}
    amps = load.inrush_a or 0.0
    if isinstance(load.power_w, Pairs):
        inrush = amps * system.voltage.line_v  # on one line at least
    elif live <= lines:
        volts = system.volts(load.sides({system.id: system})[0].poles)
        inrush = amps * volts * (math.sqrt(3) if len(live) == 3 else 1.0)
    else:  # its other lines hang on another unit
        inrush = amps * system.voltage.line_v * len(live & lines)
    turns = {other for other, each in boat.vessel.loads.items() if key in each.alternates_with}
    left_out = {key, *load.alternates_with, *turns}
    others = math.fsum(draw.amps for each in found for draw in each.draws if draw.item not in left_out)
    return _Start(condition, key, inrush, others * system.voltage.line_v)


def _surge(
    boat: Boat, sources: tuple[str, ...], starts: list[_Start], unsure: tuple[tuple[str, str], ...]
) -> Iterator[Says | Lacks | Sound]:
    worst: dict[str, _Start] = {}
    for each in sorted(starts, key=lambda each: (-each.total, each.condition, each.load)):
        worst.setdefault(each.condition, each)
    top = next(iter(worst.values()))
    units = _inverters(boat, sources)
    surges = [unit.surge_va for unit in units if unit.surge_va is not None]
    if len(surges) < len(units):
        lasting = [unit.apparent_va for unit in units if unit.apparent_va is not None]
        # What it gives continuously it gives for a short time too.
        if len(lasting) < len(units) or top.total > math.fsum(lasting) * _NEAR:
            for unit in units:
                if unit.surge_va is None:
                    yield Lacks(item=unit.id, at=boat.at(unit.id), missing="its short-time output")
        else:
            yield from map(Sound, sources)
        return
    limit = math.fsum(surges)
    yield from map(Sound, sources)
    over = [each for each in worst.values() if each.total > limit * _NEAR]
    if not over:
        for item, missing in unsure:
            yield Lacks(item=item, at=boat.at(item), missing=missing.replace("_", " "), stops=sources)
        return
    name = boat.vessel.name_of
    beside = f" beside {top.others:.4g} VA of other loads" if top.others else ""
    yield Says(
        items=(*sources, top.load),
        at=boat.at(sources[0], "surge_power"),
        measure=top.total / max(limit, 1.0),
        what=f"in {top.condition} {name(top.load)} starts on {' with '.join(map(name, sources))} with "
        f"{top.inrush:.4g} VA{beside}, {top.total:.4g} VA together; for a short time it gives {limit:g} VA",
        consequences=tuple(f"in {each.condition} {each.total:.4g} VA, starting {name(each.load)}" for each in over[1:]),
    )


# --- a day on the bank -----------------------------------------------------------------------------


@rule(
    "bank-cannot-last",
    NOTICE,
    title="A bank that nothing charges is empty before a day is over",
    why="Lights, pumps and alarms go out, and a battery that is emptied wholly ages or dies of it.",
    remedy="Record the hours of each load in `per_day`, shed loads in this condition, or charge within the day.",
    source="electric load analysis over demand factors; the bank's rated capacity",
    needs="the capacity of the bank; power or current of loads and their hours a day; operating conditions",
)
def bank_cannot_last(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Twenty-four hours of a condition against the whole rated capacity: a usable share from memory decides nothing."""
    for condition, demands in boat.demands.items():
        running = (boat.vessel.devices.get(key) for key in boat.vessel.conditions[condition].running)
        # A generating set's own dynamo is seldom recorded.
        kept = {device.start_battery for device in running if isinstance(device, Generator)}
        drawn = [
            each
            for each in demands.sources
            if each.pole == "DC+" and not kept.intersection(each.sources) and _alone(boat, condition, each.sources)
        ]
        if not drawn:
            continue
        days = _day(boat, condition)
        for each in drawn:
            banks = [days[source] for source in each.sources if source in days]
            flows = [day.stretches[0].flows for day in banks]
            taken = math.fsum(flow.drawn_a for flow in flows) * DAY_H
            if any(flow.charging or flow.uncounted for flow in flows) or not (taken or each.unknown):
                continue
            unknown = [day.bank.id for day in banks if day.bank.capacity_ah is None]
            for key in unknown:
                yield Lacks(item=key, at=boat.at(key), missing="its capacity")
            if not unknown:
                yield from _lasts(boat, each, taken, math.fsum(day.bank.capacity_ah or 0.0 for day in banks))


def _alone(boat: Boat, condition: str, sources: tuple[str, ...]) -> bool:
    """Whether these are banks, with nothing that charges at their terminals; what inverts does not charge."""
    state = boat.states[condition]
    terminals = (boat.network.index.get((source, "DC+")) for source in sources)
    charging = {e.source for t in terminals if t is not None for e in state.at(t) if e.supply == "charging"}
    return all(state.positions.get(each) == INVERTING for each in charging) and all(
        isinstance(boat.vessel.devices.get(source), BatteryBank) for source in sources
    )


def _day(boat: Boat, condition: str) -> dict[str, BankDay]:
    """A day of one condition; what runs only for moments, and has no hours recorded, is left out."""
    vessel = boat.vessel
    own = vessel.conditions[condition]
    demand = Pairs(
        (key, each)
        for key, each in own.demand
        if each.hours_s is not None or key not in vessel.loads or vessel.loads[key].use not in _SHORT_USES
    )
    as_judged = replace(vessel, conditions={**vessel.conditions, condition: replace(own, demand=demand)})
    day = day_of(as_judged, boat.network, boat.states, [Stretch(condition, DAY_H)])
    return {each.bank.id: each for each in day.banks}


def _lasts(boat: Boat, each: SourceDemand, taken: float, capacity: float) -> Iterator[Says | Lacks | Sound]:
    yield from map(Sound, each.sources)
    if taken <= capacity * _NEAR:
        for item, missing in each.unknown:
            yield Lacks(item=item, at=boat.at(item), missing=missing.replace("_", " "), stops=each.sources)
        return
    names = " with ".join(map(boat.vessel.name_of, each.sources))
    lower = "at least " if each.unknown else ""
    yield Says(
        items=(*each.sources, each.condition),
        at=boat.at(each.sources[0], "capacity"),
        measure=taken / capacity if capacity else None,
        what=f"in {each.condition} nothing charges {names}, and 24 h take {lower}{taken:.4g} Ah; the whole rated "
        f"capacity is {capacity:g} Ah, gone after {DAY_H * capacity / taken:.2g} h",
        consequences=("what may be used of it without harm is less, and so is the time",),
    )
