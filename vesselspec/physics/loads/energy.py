"""Twenty-four hours: what every bank gives and takes through a day of conditions, and how long generators run.

A load takes its rated current times its demand factor times its share of the day (`per_day` of 24 h): the product of
load, duty and time factor. It is spread evenly over the time that the boat is in that condition. A charging source
with a time per day runs in one piece at the end of that time, which is the hardest on the bank. Banks that stand in
parallel share by capacity. What a charging source gives beside the loads of its bus goes into the bank as far as the
bank takes it. Each step's sums are kept, so that the balance closes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from vesselspec.model.devices import (
    BatteryBank,
    Charger,
    DcConverter,
    Generator,
    Inverter,
    InverterCharger,
)
from vesselspec.model.items import Condition, DayPlan, Demand
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING, PASS_THROUGH
from vesselspec.network.graph import Network
from vesselspec.network.state import State
from vesselspec.physics.loads.battery import USABLE, Assumed, Bank, bank_of
from vesselspec.physics.loads.burden import Ways
from vesselspec.physics.steady.charging import arrays_behind, output_of, rated_output

DAY_H = 24.0
#: Length of a step, in h: short beside everything that a state of charge does.
STEP_H = 0.05


@dataclass(frozen=True)
class Stretch:
    """A part of the day that the boat spends in one condition."""

    condition: str
    hours: float


@dataclass(frozen=True)
class Charging:
    """What a charging source could give a bank while it runs, in A, and for which share of the time."""

    source: str
    amps: float
    share: float


@dataclass(frozen=True)
class Flows:
    """Currents of one bank in one condition: what is drawn on average, and what could be given."""

    drawn_a: float
    charging: tuple[Charging, ...]
    at_least: bool  # a load's power is not recorded: more may be drawn
    uncounted: tuple[str, ...]  # charging sources whose output here is not recorded: more may be given

    def offered_at(self, part: float) -> float:
        """What charging sources could give, in A; 0 is the beginning of the time in the condition, 1 its end."""
        return math.fsum(each.amps for each in self.charging if part >= 1 - each.share)


@dataclass(frozen=True)
class Point:
    """The state of charge at an hour of the day."""

    hour: float
    state: float


@dataclass(frozen=True)
class StretchBalance:
    """One bank over one stretch: charge drawn by loads, given by chargers, into and out of the bank, in Ah."""

    condition: str
    hours: float
    flows: Flows
    loads_ah: float
    given_ah: float
    in_ah: float
    out_ah: float
    stored_ah: float  # of what went in, what can be drawn again
    taken_ah: float  # what went out, counted by Peukert's law
    unmet_ah: float  # asked for when the bank was empty
    begins: float | None  # state of charge at its beginning and end; None where the capacity is not recorded
    ends: float | None
    low_after_h: float | None  # hours into it at which the bank passes its low limit

    @property
    def alone(self) -> bool:
        """Whether loads draw from the bank with nothing recorded or running that charges it."""
        return self.flows.drawn_a > 0 and not self.flows.charging and not self.flows.uncounted


@dataclass(frozen=True)
class BankDay:
    """One bank over the day. `points` is empty where its capacity is not recorded."""

    bank: Bank
    stretches: tuple[StretchBalance, ...]
    points: tuple[Point, ...]
    start: float
    low_after_h: float | None  # hour of the day at which it reaches its low limit
    low_at_best_h: float | None  # the same if sources whose output is not recorded kept it full while they run
    empty_at_best: bool  # whether it is then emptied
    lasts_h: Mapping[str, float | None]  # condition → hours from full to the low limit; None: never, or not known

    @property
    def end(self) -> float | None:
        """State of charge at the end."""
        return self.points[-1].state if self.points else None

    @property
    def lasts(self) -> bool | None:
        """Whether it stays above its low limit all day; None where what is not recorded could turn the answer."""
        if not self.points or self.bank.low is None:
            return None
        if self.low_after_h is None:
            return None if self.at_least else True
        return None if self.low_at_best_h is None else False

    @property
    def firm(self) -> bool:
        """Whether `lasts` stands on more than a usable share from memory: that is recorded, or the bank is emptied."""
        return self.firm_limit or self.empty_at_best

    @property
    def firm_limit(self) -> bool:
        """Whether the low limit is not from memory."""
        return not any(each.field == USABLE and each.from_memory for each in self.bank.assumed)

    @property
    def uncounted(self) -> tuple[str, ...]:
        """Charging sources that may give more than is counted."""
        return tuple(dict.fromkeys(source for each in self.stretches for source in each.flows.uncounted))

    @property
    def at_least(self) -> bool:
        """Whether more may be drawn than is counted."""
        return any(each.flows.at_least for each in self.stretches)


@dataclass(frozen=True)
class Day:
    """The whole day."""

    stretches: tuple[Stretch, ...]
    banks: tuple[BankDay, ...]
    generator_h: Mapping[str, float]
    idle: tuple[str, ...]  # banks that nothing recorded draws from or charges
    not_counted: tuple[tuple[str, str, str], ...]  # (condition, item, what is not recorded)
    assumed: tuple[Assumed, ...]
    id: str = ""  # of the record, where it is one of its days


def time_share(demand: Demand) -> float:
    """Share of the day that something runs."""
    return 1.0 if demand.hours_s is None else min(demand.hours_s / 3600 / DAY_H, 1.0)


def average(demand: Demand) -> float:
    """Share of a load's rated current over the day: demand factor times its hours of 24."""
    return demand.factor * time_share(demand)


def day_of(
    vessel: Vessel,
    network: Network,
    states: Mapping[str, State],
    stretches: Sequence[Stretch],
    *,
    start: float = 1.0,
    id: str = "",
) -> Day:
    """Follow every bank through the stretches, from a state of charge at their beginning."""
    banks = {key: each for key, each in vessel.devices.items() if isinstance(each, BatteryBank)}
    missing: dict[tuple[str, str, str], None] = {}
    flows: dict[str, dict[str, Flows]] = {}
    for name in dict.fromkeys(each.condition for each in stretches):
        work = _Averages(vessel, network, vessel.conditions[name], states[name])
        flows[name] = work.flows()
        missing.update(dict.fromkeys((name, item, lacks) for item, lacks in work.missing))
    used = [key for key in banks if any(f.drawn_a or f.charging or f.at_least for n in flows for f in [flows[n][key]])]
    found = tuple(_bank_day(bank_of(banks[key]), stretches, {n: flows[n][key] for n in flows}, start) for key in used)
    generators = {
        key: math.fsum(each.hours for each in stretches if key in vessel.conditions[each.condition].running)
        for key, device in vessel.devices.items()
        if isinstance(device, Generator)
    }
    return Day(
        stretches=tuple(stretches),
        banks=found,
        generator_h={key: hours for key, hours in generators.items() if hours},
        idle=tuple(key for key in banks if key not in used),
        not_counted=tuple(missing),
        assumed=tuple(each for bank in found for each in bank.bank.assumed),
        id=id,
    )


def stretches_of(plan: DayPlan) -> tuple[Stretch, ...]:
    """A day of the record."""
    return tuple(Stretch(part.condition, part.time_s / 3600) for part in plan.parts)


def is_whole(stretches: Sequence[Stretch]) -> bool:
    """Whether stretches make 24 hours."""
    return abs(math.fsum(each.hours for each in stretches) - DAY_H) < 1e-6


class _Averages:
    """Average currents on every bank in one condition."""

    def __init__(self, vessel: Vessel, network: Network, condition: Condition, state: State) -> None:
        self.vessel, self.network, self.condition, self.state = vessel, network, condition, state
        self.demand = dict(condition.shares)
        self.missing: dict[tuple[str, str], None] = {}
        self.drawn: dict[str, float] = {}
        self.charging: dict[str, list[Charging]] = {}
        self.uncounted: dict[str, list[str]] = {}
        self.short: set[str] = set()

    def flows(self) -> dict[str, Flows]:
        """Sum up: loads, what inverters need for themselves, converters, charging sources."""
        ways = Ways(self.vessel, self.network, self.condition, self.state)
        for key, demand in self.condition.demand:
            if key not in self.vessel.loads or (demand.factor == 0 and not demand.published):
                continue
            burden = ways.burden(key)
            if demand.factor == 0:
                burden = replace(burden, unknown=((key, "demand factor"), *burden.unknown))
            for (sources, pole), amps in burden.levels:
                if pole == "DC+":
                    self._share(self.drawn, sources, amps[Ways.of_root((sources, pole))] * average(demand))
                    if burden.unknown:
                        self.short |= set(sources)
            self.missing.update(dict.fromkeys(burden.unknown))
        for key, device in self.vessel.devices.items():
            if isinstance(device, Inverter | InverterCharger) and key in self.condition.running:
                self._idle(key, device)
            elif key in self.condition.running or key in self.demand:
                self._source(key)
        return {
            key: Flows(
                self.drawn.get(key, 0.0),
                tuple(self.charging.get(key, ())),
                key in self.short,
                tuple(self.uncounted.get(key, ())),
            )
            for key, device in self.vessel.devices.items()
            if isinstance(device, BatteryBank)
        }

    def _share(self, into: dict[str, float], banks: Sequence[str], amps: float) -> None:
        """Banks in parallel share by capacity; in equal parts where one of them has none recorded."""
        sizes = {
            key: device.capacity_ah for key in banks if isinstance(device := self.vessel.devices.get(key), BatteryBank)
        }
        known = [size for size in sizes.values() if size]
        total = math.fsum(known) if len(known) == len(sizes) else 0.0
        for key, size in sizes.items():
            part = size / total if total and size else 1 / len(sizes)
            into[key] = into.get(key, 0.0) + amps * part

    def _banks_at(self, terminal: int) -> tuple[str, ...]:
        return tuple(sorted({e.source for e in self.state.at(terminal) if e.supply == "battery" and e.pole == "DC+"}))

    def _idle(self, key: str, device: Inverter | InverterCharger) -> None:
        if isinstance(device, InverterCharger) and self.state.positions.get(key) == PASS_THROUGH:
            self._source(key)
            return
        if isinstance(device, InverterCharger) and self.state.positions.get(key) != INVERTING:
            return
        terminal = self.network.index.get((f"{key}/dc", "DC+"))
        system = self.vessel.systems.get(device.dc_system or "")
        if terminal is None or system is None or not (banks := self._banks_at(terminal)):
            return
        if device.idle_w is None:
            self.missing[key, "idle power"] = None
            self.short |= set(banks)
        else:
            self._share(self.drawn, banks, device.idle_w / (device.efficiency or 1.0) / system.voltage.line_v)

    def _source(self, key: str) -> None:
        """Add what a charging source offers to the banks that it reaches."""
        reached = self._reached(key)
        if not reached:
            return
        device = self.vessel.devices[key]
        output = output_of(self.vessel, self.network, self.state, self.condition, key)
        if output is None:
            return
        if not output.known:
            unrated = rated_output(device)[0] is None
            self.missing[key, "its charging current" if unrated else "its share in this condition's demand"] = None
            for bank in dict.fromkeys(bank for banks in reached for bank in banks):
                self.uncounted.setdefault(bank, []).append(key)
            return
        part = self._time_share(key)
        total = output.amps_at(self._nominal_v(key))
        parts = len(device.outputs) if isinstance(device, Charger) else len(reached)
        offered: dict[str, float] = {}
        for banks in reached:
            self._share(offered, banks, total / parts)
        for bank, amps in offered.items():
            self.charging.setdefault(bank, []).append(Charging(key, amps, part))
        if isinstance(device, DcConverter):
            self._converter_input(device, total * part)

    def _time_share(self, key: str) -> float:
        """Share of the day that a source gives: as its own demand says, or that of the arrays behind it."""
        arrays = (array.id for array, _ in arrays_behind(self.vessel, self.network, self.state, key))
        said = (self.demand[each] for each in (key, *arrays) if each in self.demand)
        return next((time_share(each) for each in said if each.hours_s is not None), 1.0)

    def _nominal_v(self, key: str) -> float:
        """Nominal voltage of what a source charges."""
        emitted = (e for e in self.network.emissions if e.source == key and e.pole == "DC+")
        systems = (self.vessel.systems.get(each.system or "") for each in emitted)
        return next((system.voltage.line_v for system in systems if system is not None), 0.0)

    def _reached(self, key: str) -> list[tuple[str, ...]]:
        """The banks behind each output of a charging source, diodes included."""
        found: list[tuple[str, ...]] = []
        for emission in self.network.emissions:
            if emission.source != key or emission.pole != "DC+" or emission.supply != "charging":
                continue
            banks = self._banks_at(emission.terminal)
            if not banks:
                behind = {
                    each.source
                    for each in self.network.emissions
                    if each.supply == "battery" and each.pole == "DC+" and emission in self.state.at(each.terminal)
                }
                banks = tuple(sorted(behind))
            if banks:
                found.append(banks)
        return found

    def _converter_input(self, device: DcConverter, amps: float) -> None:
        terminal = self.network.index.get((f"{device.id}/in", "DC+"))
        systems = self.vessel.systems
        inside, outside = systems.get(device.in_system or ""), systems.get(device.out_system or "")
        if terminal is None or inside is None or outside is None or not (banks := self._banks_at(terminal)):
            return
        if device.efficiency is None:
            self.missing[device.id, "efficiency"] = None
            self.short |= set(banks)
        watts = amps * outside.voltage.line_v / (device.efficiency or 1.0)
        self._share(self.drawn, banks, watts / inside.voltage.line_v)


def _bank_day(bank: Bank, stretches: Sequence[Stretch], flows: Mapping[str, Flows], start: float) -> BankDay:
    balances, points, low_after = _follow(bank, stretches, flows, start, hopeful=False)
    best, low_at_best = points, low_after
    if low_after is not None and any(flow.uncounted for flow in flows.values()):
        _, best, low_at_best = _follow(bank, stretches, flows, start, hopeful=True)
    return BankDay(
        bank=bank,
        stretches=tuple(balances),
        points=tuple(points),
        start=start,
        low_after_h=low_after,
        low_at_best_h=low_at_best,
        empty_at_best=any(point.state <= 0 for point in best),
        lasts_h={name: _lasts(bank, flow) for name, flow in flows.items()},
    )


def _follow(
    bank: Bank, stretches: Sequence[Stretch], flows: Mapping[str, Flows], start: float, *, hopeful: bool
) -> tuple[list[StretchBalance], list[Point], float | None]:
    """Step through the day. Hopefully: sources whose output is not recorded keep the bank full while they run."""
    state, hour = start, 0.0
    points = [Point(0.0, state)] if bank.capacity_ah else []
    balances: list[StretchBalance] = []
    low_after = 0.0 if points and bank.low is not None and state < bank.low else None
    for each in stretches:
        flow, begins, low_here = flows[each.condition], state, None
        steps = max(1, math.ceil(each.hours / STEP_H - 1e-9))
        length = each.hours / steps
        sums = [0.0] * 5
        for number in range(steps):
            before = state
            taken = _step(bank, flow, (number + 0.5) / steps, state, length)
            sums = [total + part for total, part in zip(sums, taken, strict=True)]
            if not bank.capacity_ah:
                continue
            state = min(1.0, max(0.0, state + (taken[2] - taken[3]) / bank.capacity_ah))
            if hopeful and flow.uncounted:
                state = 1.0
            if low_here is None and bank.low is not None and state < bank.low - 1e-12:
                inside = (before - bank.low) / (before - state) if before > bank.low else 0.0
                low_here = length * (number + inside)
                low_after = hour + low_here if low_after is None else low_after
            points.append(Point(hour + length * (number + 1), state))
        hour += each.hours
        into, out, stored, taken_ah, unmet = sums
        loads = flow.drawn_a * each.hours
        given = loads - out - unmet + into
        balances.append(
            StretchBalance(
                condition=each.condition,
                hours=each.hours,
                flows=flow,
                loads_ah=loads,
                given_ah=0.0 if abs(given) < 1e-9 else given,
                in_ah=into,
                out_ah=out,
                stored_ah=stored,
                taken_ah=taken_ah,
                unmet_ah=unmet,
                begins=begins if bank.capacity_ah else None,
                ends=state if bank.capacity_ah else None,
                low_after_h=low_here,
            )
        )
    return balances, points, low_after


def _step(bank: Bank, flow: Flows, part: float, state: float, hours: float) -> tuple[float, float, float, float, float]:
    """One step: Ah into and out of the bank, stored and taken by its own count, and asked for in vain."""
    net = flow.offered_at(part) - flow.drawn_a
    if net >= 0:
        most = bank.acceptance_at(state)
        amps = net if most is None else min(net, most)
        into = amps * hours
        if bank.capacity_ah:
            room = (1.0 - state) * bank.capacity_ah / bank.returned
            into = min(into, room)
        return into, 0.0, into * bank.returned, 0.0, 0.0
    out = -net * hours
    taken = bank.drain(-net) * hours
    unmet = 0.0
    if bank.capacity_ah and taken > state * bank.capacity_ah:
        share = state * bank.capacity_ah / taken
        out, taken, unmet = out * share, taken * share, out * (1 - share)
    return 0.0, out, 0.0, taken, unmet


def _lasts(bank: Bank, flow: Flows) -> float | None:
    """Hours from full to the low limit, beside what charges all the time; None where it never comes or is not known."""
    net = flow.drawn_a - flow.offered_at(0.0)
    if net <= 0 or bank.capacity_ah is None or bank.usable_share is None:
        return None
    return bank.capacity_ah * bank.usable_share / bank.drain(net)


def whole_days(conditions: Iterable[str]) -> tuple[tuple[Stretch, ...], ...]:
    """A day spent wholly in each condition."""
    return tuple((Stretch(name, DAY_H),) for name in conditions)
