"""What every source has to supply in an operating condition: the sum of its loads over demand factors.

A load's current is taken at nominal voltage. Where the record leaves something out (a power factor, a
charger's input current) the sum is a lower bound and says so; nothing is made up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.devices import (
    BatteryBank,
    Charger,
    DcConverter,
    Device,
    Generator,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    Load,
    ShoreInlet,
)
from vesselspec.model.forms import Pairs
from vesselspec.model.items import Condition, System
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING
from vesselspec.network.graph import LINES, Emission, Network
from vesselspec.network.state import State


@dataclass(frozen=True)
class Draw:
    """What one load takes from one pole of a source, in A."""

    item: str
    amps: float


@dataclass(frozen=True)
class SourceDemand:
    """The demand on one pole of a source (or of banks that stand in parallel) in one condition."""

    condition: str
    sources: tuple[str, ...]
    pole: str
    amps: float
    rating_a: float | None
    draws: tuple[Draw, ...]  # largest first
    unknown: tuple[tuple[str, str], ...]  # (item, what is not recorded): the sum is a lower bound

    @property
    def margin_a(self) -> float | None:
        """What is left of the rating, in A; negative where it is exceeded."""
        return None if self.rating_a is None else self.rating_a - self.amps


@dataclass(frozen=True)
class Demands:
    """All demands of one condition, and the loads in it that nothing feeds."""

    sources: tuple[SourceDemand, ...]
    unfed: tuple[str, ...]


@dataclass(frozen=True)
class Part:
    """The current of one part of a load through each of its live poles."""

    poles: tuple[str, ...]
    amps: float | None
    unknown: str | None  # a field that is not recorded: amps is a lower bound, or None


def parts_of(load: Load, system: System | None) -> Iterator[Part]:
    """Yield the parts of a load at nominal voltage and full demand."""
    if system is None:
        yield Part((), None, "system")
        return
    poles = load.sides({system.id: system})[0].poles
    if isinstance(load.power_w, Pairs):
        for pair, watts in load.power_w:
            yield _part(load, system, tuple(pair.split("-", 1)) if system.kind != "dc" else ("DC+", "DC-"), watts)
    else:
        yield _part(load, system, poles, load.power_w)


def _part(load: Load, system: System, poles: tuple[str, ...], watts: float | None) -> Part:
    live = tuple(pole for pole in poles if pole in LINES or pole == "DC+")
    volts = system.volts(poles)
    if load.current_a is not None and not isinstance(load.power_w, Pairs):
        return Part(live, load.current_a, None)
    per_volt = math.sqrt(3) * volts if len(live) == 3 else volts
    if load.apparent_va is not None and not isinstance(load.power_w, Pairs):
        return Part(live, load.apparent_va / per_volt, None)
    if watts is None:
        return Part(live, None, "power")
    if load.power_factor is not None or system.is_dc:
        return Part(live, watts / per_volt / (load.power_factor or 1.0), None)
    # Without a power factor the current is at least that of a pure resistance.
    return Part(live, watts / per_volt, "power_factor" if load.motor else None)


def rating_of(device: Device | None, system: System | None, poles: int) -> float | None:
    """Rated current of a source for each of its lines, in A; None where the record does not give it."""
    match device:
        case ShoreInlet():
            return device.rating_a
        case Generator() if device.rating_a is not None:
            return device.rating_a
        case Generator() | Inverter() | InverterCharger() | IsolationTransformer():
            if device.apparent_va is None or system is None:
                return None
            return device.apparent_va / system.voltage.line_v / max(poles, 1)
        case BatteryBank():
            return device.max_discharge_a
        case DcConverter():
            return device.rating_a
        case _:
            return None


class _Sum:
    def __init__(self, vessel: Vessel, network: Network, state: State) -> None:
        self.vessel, self.network, self.state = vessel, network, state
        self.draws: dict[tuple[tuple[str, ...], str], dict[str, float]] = {}
        self.unknown: dict[tuple[tuple[str, ...], str], dict[tuple[str, str], None]] = {}
        self.unfed: dict[str, None] = {}
        self.poles: dict[tuple[str, ...], int] = {}

    def sources_at(self, place: str, pole: str) -> tuple[tuple[str, ...], str] | None:
        """The sources, and the pole of theirs, behind a terminal.

        Beside a battery, what charges it is not counted on; a converter without one carries its loads itself.
        """
        number = self.network.index.get((place, pole))
        if number is None:
            return None
        live = [e for e in self.state.at(number) if e.pole == pole or (pole in LINES and e.pole in LINES)]
        if pole == "DC+":
            live = [e for e in live if e.supply == "battery"] or live
        if not live:
            return None
        first: Emission = next((e for e in live if e.pole == pole), live[0])
        # Sources that do not run in step carry nothing together: that they meet is told as the danger it is.
        in_step = [e for e in live if e.pole == first.pole and (pole not in LINES or e.group == first.group)]
        together = tuple(sorted({e.source for e in in_step}))
        return together, first.pole

    def add(self, item: str, place: str, pole: str, amps: float | None, missing: str | None) -> None:
        behind = self.sources_at(place, pole)
        if behind is None:
            self.unfed[item] = None
            return
        if amps is not None and amps > 0:
            at = self.draws.setdefault(behind, {})
            at[item] = at.get(item, 0.0) + amps
        if missing is not None:
            self.unknown.setdefault(behind, {})[item, missing] = None


def demands_of(vessel: Vessel, network: Network, condition: Condition, state: State) -> Demands:
    """Sum the demand on every source in a condition."""
    total = _Sum(vessel, network, state)
    for key, demand in condition.shares:
        load = vessel.loads.get(key)
        if demand.factor == 0:
            if demand.published:
                _no_factor(total, key)
            continue  # it does not run
        if load is not None:
            for part in parts_of(load, vessel.systems.get(load.system or "")):
                if not part.poles:
                    total.unfed[key] = None
                for pole in part.poles:
                    amps = None if part.amps is None else part.amps * demand.factor
                    total.add(key, key, pole, amps, part.unknown)
        else:
            _charging(total, vessel.devices.get(key), demand.factor)
    _hand_on(total)
    found = []
    for sources, pole in sorted(total.draws.keys() | total.unknown.keys()):
        draws = sorted(
            (Draw(item, amps) for item, amps in total.draws.get((sources, pole), {}).items()),
            key=lambda draw: (-draw.amps, draw.item),
        )
        ratings = [_rating(vessel, network, source) for source in sources]
        known = [rating for rating in ratings if rating is not None]
        found.append(
            SourceDemand(
                condition.id,
                sources,
                pole,
                math.fsum(draw.amps for draw in draws),
                math.fsum(known) if len(known) == len(ratings) else None,
                tuple(draws),
                tuple(total.unknown.get((sources, pole), ())),
            )
        )
    return Demands(tuple(found), tuple(total.unfed))


def _rating(vessel: Vessel, network: Network, source: str) -> float | None:
    emitted = [e for e in network.emissions if e.source == source and (e.pole in LINES or e.pole == "DC+")]
    ac = [e for e in emitted if e.pole in LINES] or emitted
    system = vessel.systems.get(ac[0].system or "") if ac else None
    return rating_of(vessel.devices.get(source), system, len({e.pole for e in ac}))


def _charging(total: _Sum, device: Device | None, factor: float) -> None:
    """Add a charger's draw on its AC supply."""
    if not isinstance(device, Charger | InverterCharger):
        return
    side = "ac" if isinstance(device, Charger) else "ac-in"
    system = total.vessel.systems.get(device.system or "")
    dc = total.vessel.systems.get(device.dc_system or "")
    lines = [pole for pole in LINES if (f"{device.id}/{side}", pole) in total.network.index]
    if system is None or not lines:
        return
    amps: float | None = None
    missing: str | None = None
    if isinstance(device, Charger) and device.input_a is not None:
        amps = device.input_a
    elif device.charge_a is not None and dc is not None:
        # At least the DC power: the charging voltage lies above nominal, and no charger is free of loss.
        neutral = (f"{device.id}/{side}", "N") in total.network.index
        volts = system.volts((*lines, "N") if neutral and len(lines) == 1 else tuple(lines))
        amps = device.charge_a * dc.voltage.line_v / (math.sqrt(3) * volts if len(lines) == 3 else volts)
        if device.efficiency:
            amps /= device.efficiency
        else:
            missing = "input_current" if isinstance(device, Charger) else "efficiency"
    else:
        missing = "charge_current"
    if isinstance(device, InverterCharger) and device.input_limit_a is not None and amps is not None:
        amps = min(amps, device.input_limit_a)
    for pole in lines:
        total.add(device.id, f"{device.id}/{side}", pole, None if amps is None else amps * factor, missing)


#: What is not recorded where a condition asks for a published factor and there is none.
NO_FACTOR = "demand_factor"


def _no_factor(total: _Sum, key: str) -> None:
    """It runs, at nobody knows what share: every sum that it belongs to is a lower bound."""
    load, device = total.vessel.loads.get(key), total.vessel.devices.get(key)
    if load is not None:
        for part in parts_of(load, total.vessel.systems.get(load.system or "")):
            for pole in part.poles:
                total.add(key, key, pole, None, NO_FACTOR)
    elif isinstance(device, Charger | InverterCharger):
        side = "ac" if isinstance(device, Charger) else "ac-in"
        for pole in LINES:
            if (f"{key}/{side}", pole) in total.network.index:
                total.add(key, f"{key}/{side}", pole, None, NO_FACTOR)


def _output_va(total: _Sum, source: str, system: System | None) -> float:
    volts = system.voltage.line_v if system is not None else 0.0
    return math.fsum(
        amps * volts / len(sources)
        for (sources, _), draws in total.draws.items()
        if source in sources
        for amps in draws.values()
    )


@dataclass(frozen=True)
class _Through:
    """A device that takes from its input what its output gives."""

    place: str
    poles: tuple[str, ...]
    input: System | None
    output: System | None
    efficiency: float | None


def _through(total: _Sum, key: str, device: Device) -> _Through | None:
    systems = total.vessel.systems
    match device:
        case IsolationTransformer():
            lines = tuple(pole for pole in LINES if (f"{key}/primary", pole) in total.network.index)
            first, second = systems.get(device.system or ""), systems.get(device.secondary_system or "")
            return _Through(f"{key}/primary", lines, first, second, 1.0)
        case Inverter() | InverterCharger():
            if isinstance(device, InverterCharger) and total.state.positions.get(key) != INVERTING:
                return None
            dc, ac = systems.get(device.dc_system or ""), systems.get(device.system or "")
            return _Through(f"{key}/dc", ("DC+",), dc, ac, device.efficiency)
        case DcConverter():
            into, out = systems.get(device.in_system or ""), systems.get(device.out_system or "")
            return _Through(f"{key}/in", ("DC+",), into, out, device.efficiency)
        case _:
            return None


def _hand_on(total: _Sum) -> None:
    """Hand the load of every transformer, inverter and DC-DC converter on to what feeds it, the furthest first."""
    waiting = {key: way for key, device in total.vessel.devices.items() if (way := _through(total, key, device))}
    behind = {
        key: {source for pole in way.poles for source in (total.sources_at(way.place, pole) or ((), ""))[0]}
        for key, way in waiting.items()
    }
    while waiting:
        ready = [key for key in waiting if not any(key in behind[other] for other in waiting if other != key)]
        for key in ready or sorted(waiting)[:1]:  # in a loop, somebody has to be first
            _pass_on(total, key, waiting.pop(key))


def _pass_on(total: _Sum, key: str, way: _Through) -> None:
    output = _output_va(total, key, way.output)
    missing = {each: None for (sources, _), lacks in total.unknown.items() if key in sources for each in lacks}
    if way.input is None or not way.poles or not (output or missing):
        return
    amps = output / (way.efficiency or 1.0) / way.input.voltage.line_v / len(way.poles)
    if not way.efficiency:
        missing[key, "efficiency"] = None
    for pole in way.poles:
        total.add(key, way.place, pole, amps, None)
        at = total.sources_at(way.place, pole)
        if at is not None:
            total.unknown.setdefault(at, {}).update(missing)
