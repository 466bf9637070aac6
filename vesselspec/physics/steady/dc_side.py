"""The DC circuit of an operating condition: batteries over every core, loads, inverters, chargers and converters."""

from __future__ import annotations

import math

from vesselspec.model.devices import BatteryBank, Charger, DcConverter, Inverter, InverterCharger
from vesselspec.model.items import System
from vesselspec.network.compile import INVERTING, PASS_THROUGH
from vesselspec.network.graph import Emission
from vesselspec.physics.steady import circuit as c
from vesselspec.physics.steady.assembly import ROUNDS, Assembly, Draft
from vesselspec.physics.steady.nodal import Solution, solve


def solve_dc(work: Assembly, ac: Draft, ac_solution: Solution) -> tuple[Draft, Solution]:
    """Build and solve the DC circuit, with what inverters of the solved AC circuit draw from it."""
    draft = work.conductors(dc=True, frequency_hz=0.0)
    _dc_sources(work, draft)
    for key, demand in work.demand.items():
        load = work.vessel.loads.get(key)
        system = work.system(load.system) if load is not None else None
        if load is not None and system is not None and system.is_dc and demand.factor > 0:
            for poles, volts, va in work.parts(load, system):
                work.add_load(draft, load, poles, volts, va * demand.factor)
    for key, device in work.vessel.devices.items():
        if isinstance(device, Inverter | InverterCharger):
            support = math.fsum(va.real for item, va in work.support.items() if item.split(":")[0] == key)
            _inverter(work, draft, device, work.given(ac, ac_solution, key).real + support)
    first = len(draft.loads)
    through: dict[str, float] = {}
    solution = solve(draft.circuit(work.references))
    for _ in range(ROUNDS):
        wanted = {
            key: work.given(draft, solution, key).real
            for key, device in work.vessel.devices.items()
            if isinstance(device, DcConverter)
        }
        if all(abs(wanted[key] - through.get(key, 0.0)) <= 1e-6 * max(1.0, abs(wanted[key])) for key in wanted):
            break
        through = wanted
        del draft.loads[first:], draft.load_of[first:]
        for key, watts in wanted.items():
            _dc_converter(work, draft, key, watts)
        solution = solve(draft.circuit(work.references))
    return draft, solution


def _dc_sources(work: Assembly, draft: Draft) -> None:
    batteries = {work.state.component[e.terminal] for e in _dc_emissions(work) if e.supply == "battery"}
    for emission in _dc_emissions(work):
        place = work.network.terminals[emission.terminal].place
        plus, minus = emission.terminal, work.at(place, "DC-")
        system = work.system(emission.system)
        device = work.vessel.devices[emission.source]
        if minus is None or system is None:
            continue
        if isinstance(device, BatteryBank):
            draft.source(plus, minus, system.voltage.line_v, _internal(work, device, system), (device.id, "DC+"))
        elif isinstance(device, Charger | InverterCharger) and device.id in work.demand:
            _charge(work, draft, device, plus, minus, system)
        elif isinstance(device, DcConverter) and work.state.component[plus] not in batteries:
            draft.source(plus, minus, system.voltage.line_v, 0.0, (device.id, "DC+"))
        elif emission.supply == "charging" and device.id in work.running:
            work.assume(device.id, "its output in this condition", "no charging", "battery currents too high")


def _dc_emissions(work: Assembly) -> list[Emission]:
    found = [e for each in work.state.live.values() for e in each if e.pole == "DC+"]
    return sorted(set(found), key=lambda e: (e.source, e.terminal))


def _internal(work: Assembly, bank: BatteryBank, system: System) -> complex:
    if bank.internal_ohm is not None:
        return complex(bank.internal_ohm)
    if bank.short_circuit_a:
        return complex(system.voltage.line_v / bank.short_circuit_a)
    work.assume(bank.id, "internal resistance", "a stiff battery", "voltages too high")
    return 0j


def _charge(
    work: Assembly, draft: Draft, device: Charger | InverterCharger, plus: int, minus: int, system: System
) -> None:
    if isinstance(device, InverterCharger) and work.state.positions.get(device.id) != PASS_THROUGH:
        return
    if device.charge_a is None:
        return
    outputs = len(device.outputs) if isinstance(device, Charger) else 1
    amps = device.charge_a * work.demand[device.id].factor / outputs
    draft.loads.append(c.Load(plus, minus, system.voltage.line_v, current=-amps))
    draft.load_of.append((device.id, ("DC+", "DC-"), system.voltage.line_v))


def _inverter(work: Assembly, draft: Draft, device: Inverter | InverterCharger, watts: float) -> None:
    inverting = isinstance(device, Inverter) or work.state.positions.get(device.id) == INVERTING
    inverting = inverting or any(key.split(":")[0] == device.id for key in work.support)
    system = work.system(device.dc_system)
    plus, minus = work.at(f"{device.id}/dc", "DC+"), work.at(f"{device.id}/dc", "DC-")
    if not inverting or device.id not in work.running or system is None or plus is None or minus is None:
        return
    if device.efficiency is None and watts > 0:
        work.assume(device.id, "efficiency", "no loss", "battery currents too low")
    if device.idle_w is None:
        work.assume(device.id, "idle power", "none", "battery currents too low")
    total = max(watts, 0.0) / (device.efficiency or 1.0) + (device.idle_w or 0.0)
    if total > 0:
        draft.loads.append(c.Load(plus, minus, system.voltage.line_v, power=complex(total)))
        draft.load_of.append((device.id, ("DC+", "DC-"), system.voltage.line_v))


def _dc_converter(work: Assembly, draft: Draft, key: str, watts: float) -> None:
    device = work.vessel.devices[key]
    if not isinstance(device, DcConverter) or watts <= 0:
        return
    system = work.system(device.in_system)
    plus, minus = work.at(f"{key}/in", "DC+"), work.at(f"{key}/in", "DC-")
    if system is None or plus is None or minus is None:
        return
    if device.efficiency is None:
        work.assume(key, "efficiency", "no loss", "currents too low")
    power = complex(watts / (device.efficiency or 1.0))
    draft.loads.append(c.Load(plus, minus, system.voltage.line_v, power=power))
    draft.load_of.append((key, ("DC+", "DC-"), system.voltage.line_v))
