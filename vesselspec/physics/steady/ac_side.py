"""The AC circuit of an operating condition: shore, generators and inverters over every core, loads and chargers."""

from __future__ import annotations

from vesselspec.model.devices import Charger, Generator, InverterCharger, IsolationTransformer, ShoreInlet
from vesselspec.model.items import System
from vesselspec.network.compile import PASS_THROUGH
from vesselspec.network.graph import LINES
from vesselspec.physics.steady import circuit as c
from vesselspec.physics.steady.assembly import ROUNDS, Assembly, Draft, Trouble, impedance
from vesselspec.physics.steady.nodal import Solution, solve


def solve_ac(work: Assembly) -> tuple[Draft, Solution]:
    """Build and solve the AC circuit; what converters hand on is settled in rounds."""
    frequencies = [s.frequency_hz for s in work.vessel.systems.values() if s.frequency_hz]
    draft = work.conductors(dc=False, frequency_hz=max(frequencies, default=0.0))
    _ac_sources(work, draft)
    _ac_loads(work, draft)
    _chargers(work, draft)
    through: dict[str, complex] = {}
    first = len(draft.loads)
    solution = solve(draft.circuit(work.references))
    for _ in range(ROUNDS):
        wanted = _handed_on(work, draft, solution)
        if all(abs(wanted[key] - through.get(key, 0)) <= 1e-6 * max(1.0, abs(wanted[key])) for key in wanted):
            break
        through = wanted
        del draft.loads[first:], draft.load_of[first:]
        for key, va in wanted.items():
            _hand_on(work, draft, key, va)
        solution = solve(draft.circuit(work.references))
    for trouble in work.over.values():
        work.troubles[trouble] = None
    return draft, solution


def _ac_sources(work: Assembly, draft: Draft) -> None:
    present = {e.source: e for each in work.state.live.values() for e in each if e.pole in LINES}
    for key in sorted(present):
        device = work.vessel.devices[key]
        place = work.network.terminals[present[key].terminal].place
        system = work.system(present[key].system)
        if system is None:
            continue
        lines = [pole for pole in LINES if work.at(place, pole) is not None]
        neutral = work.at(place, "N")
        if isinstance(device, ShoreInlet):
            _shore(work, draft, device, system, lines)
            continue
        if neutral is None:
            neutral = draft.node()  # the source's own mid-point, brought out nowhere
        for pole in lines:
            plus = work.at(place, pole)
            if plus is not None:
                draft.source(plus, neutral, work.emf(system, pole), 0.0, (key, pole))
        if isinstance(device, Generator):
            work.assume(key, "voltage regulation", "constant voltage", "voltages too high under load")


def _shore(work: Assembly, draft: Draft, device: ShoreInlet, system: System, lines: list[str]) -> None:
    """The supply ashore: neutral and earth are joined there, behind the cord."""
    star = draft.node()
    z = complex(device.supply_ohm) if device.supply_ohm is not None else 0j
    if device.supply_ohm is None and device.supply_fault_a:
        z = complex(system.voltage.line_v / device.supply_fault_a)
    elif device.supply_ohm is None:
        work.assume(device.id, "supply impedance", "a stiff supply", "voltages too high, fault currents too high")
    for pole in lines:
        inner = draft.node()
        draft.source(inner, star, work.emf(system, pole), z, (device.id, pole))
        _cord(work, draft, device, inner, pole, system)
    for pole in ("N", "PE"):
        if work.at(device.id, pole) is not None:
            _cord(work, draft, device, star, pole, system)


def _cord(work: Assembly, draft: Draft, device: ShoreInlet, outer: int, pole: str, system: System) -> None:
    pin = work.at(device.id, pole)
    if pin is None:
        return
    cord = device.cord
    size = None if cord is None else (cord.earth_size or cord.size) if pole == "PE" else cord.size
    z = None
    if cord is None or size is None or cord.length_m is None:
        work.assume(device.id, "cord size or length", "no voltage drop in it", "voltages too high")
    else:
        z = impedance(size, cord.length_m, system.frequency_hz or 0.0)
    if z is None:
        draft.contact(outer, pin)
    else:
        draft.branch(outer, pin, z)


def _ac_loads(work: Assembly, draft: Draft) -> None:
    for key, demand in work.demand.items():
        load = work.vessel.loads.get(key)
        system = work.system(load.system) if load is not None else None
        if load is None or system is None or system.is_dc or demand.factor == 0:
            continue
        for poles, volts, va in work.parts(load, system):
            work.add_load(draft, load, poles, volts, va * demand.factor)


def _chargers(work: Assembly, draft: Draft) -> None:
    for key, demand in work.demand.items():
        device = work.vessel.devices.get(key)
        if not isinstance(device, Charger | InverterCharger) or demand.factor == 0:
            continue
        if isinstance(device, InverterCharger) and work.state.positions.get(key) != PASS_THROUGH:
            continue
        place = f"{key}/ac" if isinstance(device, Charger) else f"{key}/ac-in"
        system = work.system(device.system)
        watts = _charging_w(work, device)
        lines = [pole for pole in LINES if work.at(place, pole) is not None]
        if system is None or watts is None or not lines:
            continue
        two = (lines[0], lines[1]) if len(lines) == 2 and work.at(place, "N") is None else None
        pairs = [two] if two else [(pole, "N") for pole in lines]
        for pair in pairs:
            a, b = work.at(place, pair[0]), work.at(place, pair[1])
            if a is None or b is None or not work.state.at(a):
                work.unfed[key] = None
                continue
            volts = system.volts(pair)
            share = watts * demand.factor / len(pairs)
            draft.loads.append(c.Load(a, b, volts, power=complex(share)))
            draft.load_of.append((key, pair, volts))


def _charging_w(work: Assembly, device: Charger | InverterCharger) -> float | None:
    """AC power at full charging, in W."""
    system, dc = work.system(device.system), work.system(device.dc_system)
    if isinstance(device, Charger) and device.input_a is not None and system is not None:
        return device.input_a * system.voltage.line_v
    if device.charge_a is None or dc is None:
        work.assume(device.id, "charging current", "no current", "currents too low")
        return None
    efficiency = device.efficiency if isinstance(device, InverterCharger) else None
    if efficiency is None:
        work.assume(device.id, "efficiency", "no loss", "currents too low")
    return device.charge_a * dc.voltage.line_v / (efficiency or 1.0)


def _handed_on(work: Assembly, draft: Draft, solution: Solution) -> dict[str, complex]:
    """What transformers take at their primary, and what inverter-chargers add to keep to their input limit."""
    wanted: dict[str, complex] = {}
    for key in work.network.transformers:
        va = work.given(draft, solution, key)
        if va:
            wanted[key] = va
    for key, device in work.vessel.devices.items():
        if isinstance(device, InverterCharger) and work.state.positions.get(key) == PASS_THROUGH:
            wanted |= _support(work, draft, solution, device)
    return wanted


def _support(work: Assembly, draft: Draft, solution: Solution, device: InverterCharger) -> dict[str, complex]:
    """What an inverter-charger adds from its battery on each line, in VA, to keep to its input limit."""
    if device.input_limit_a is None:
        return {}
    wanted: dict[str, complex] = {}
    inside = f"{device.id}/ac-in"
    for number, link in enumerate(draft.contact_links):
        if link < 0 or work.network.links[link].item != device.id:
            continue
        terminal = work.network.terminals[work.network.links[link].a]
        if terminal.place != inside or terminal.pole not in LINES:
            continue
        drawn = abs(complex(solution.contact_currents[number])) + _drawn(work, draft, solution, device.id, inside)
        given = abs(work.support.get(f"{device.id}:{terminal.pole}", 0j))
        volts = abs(work.emf(work.vessel.systems[device.system or ""], terminal.pole))
        excess = drawn + given / volts - device.input_limit_a
        if excess > 0 and device.support:
            wanted[f"{device.id}:{terminal.pole}"] = complex(excess * volts)
        elif excess > 1e-6:
            text = f"{device.id} draws {drawn:.1f} A on {terminal.pole}; its input limit is {device.input_limit_a:g} A"
            work.over[f"{device.id}:{terminal.pole}"] = Trouble("overload", (device.id,), text)
    return wanted


def _drawn(work: Assembly, draft: Draft, solution: Solution, load: str, place: str) -> float:
    """The charging current of an inverter-charger itself, in A, on each line of its input."""
    own = [number for number, (item, _, _) in enumerate(draft.load_of) if item == load]
    return max((abs(complex(solution.load_currents[number])) for number in own), default=0.0) if place else 0.0


def _hand_on(work: Assembly, draft: Draft, key: str, va: complex) -> None:
    item, _, pole = key.partition(":")
    device = work.vessel.devices[item]
    if isinstance(device, InverterCharger):
        work.support[key] = va
        a, b = work.at(f"{item}/ac-out", pole), work.at(f"{item}/ac-out", "N")
        system = work.system(device.system)
        if a is not None and b is not None and system is not None:
            draft.loads.append(c.Load(a, b, system.voltage.line_v, power=-va))
            draft.load_of.append((f"{item} (support)", (pole, "N"), system.voltage.line_v))
        return
    if isinstance(device, IsolationTransformer):
        system = work.system(device.system)
        lines = [pole for pole in LINES if work.at(f"{key}/primary", pole) is not None]
        if system is None or not lines:
            return
        other = "N" if work.at(f"{key}/primary", "N") is not None else lines[-1]
        pairs = [(pole, other) for pole in lines if pole != other]
        for pair in pairs:
            a, b = work.at(f"{key}/primary", pair[0]), work.at(f"{key}/primary", pair[1])
            if a is not None and b is not None:
                volts = system.volts(pair)
                draft.loads.append(c.Load(a, b, volts, power=va / len(pairs)))
                draft.load_of.append((key, pair, volts))
