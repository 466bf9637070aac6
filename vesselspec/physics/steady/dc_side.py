"""The DC circuit of an operating condition: batteries and charging sources over every core, loads and converters."""

from __future__ import annotations

import math
from collections.abc import Mapping

from vesselspec.model.devices import (
    BatteryBank,
    Charger,
    DcConverter,
    Inverter,
    InverterCharger,
    SolarController,
)
from vesselspec.model.items import System
from vesselspec.physics.steady import circuit as c
from vesselspec.physics.steady.assembly import ROUNDS, Assembly, Draft, given, unchanged
from vesselspec.physics.steady.charging import arrays_behind
from vesselspec.physics.steady.limited import LimitedCircuit, Settled
from vesselspec.physics.steady.notes import Trouble
from vesselspec.physics.steady.outlets import held_by_float, minus_of, put_arrays, put_outlets


class DcSide:
    """The DC circuit: built once, solved for what inverters draw and what AC leaves for charging."""

    def __init__(self, work: Assembly, chargers: tuple[str, ...]) -> None:
        self.work = work
        self.draft = work.conductors(dc=True, frequency_hz=0.0)
        self.outlets = put_outlets(work, self.draft, chargers)
        self._keys = tuple(dict.fromkeys(each.key for each in self.outlets))
        _banks(work, self.draft, held_by_float(work, self.draft, self.outlets))
        put_arrays(work, self.draft, self.outlets)
        _dc_loads(work, self.draft)
        self._first = len(self.draft.loads)
        self._solver = LimitedCircuit(self.draft.circuit(work.references), self.draft.limited)
        self._through: dict[str, float] = {}
        self.found: Settled | None = None

    # --- solving --------------------------------------------------------------------------------------

    def solve(self, inverter_w: Mapping[str, float], room_w: Mapping[str, float]) -> Settled:
        """Solve with what inverters give, and what AC leaves for charging, in W; converters settle in rounds."""
        through, limits = self._through, self._most(room_w)
        for _ in range(ROUNDS):
            del self.draft.loads[self._first :], self.draft.load_of[self._first :]
            for key, watts in inverter_w.items():
                _inverter(self.work, self.draft, key, watts)
            for key, amount in through.items():
                _input(self.work, self.draft, key, amount)
            self.found = self._solver.solve(self.draft.loads, list(limits.values()))
            wanted, now = self._wanted(), self._most(room_w)
            if unchanged(wanted, through) and unchanged(now, limits):
                break
            through, limits = wanted, now
        self._through = through
        return self.solved

    @property
    def solved(self) -> Settled:
        """The last solution."""
        if self.found is None:
            raise ValueError("the DC circuit has not been solved yet")
        return self.found

    def _volts(self, number: int) -> float:
        """Voltage at a limited source: that found last, or nominal; a collapsed one does not ask for all the world."""
        element = self.draft.limited[number]
        volts = element.nominal if self.found is None else self.found.volts(element)
        return max(volts, 0.1 * element.nominal) if math.isfinite(volts) else element.nominal

    def _most(self, room_w: Mapping[str, float]) -> dict[int, float]:
        """The limit of every limited source in A; where it is one of power, at the voltage found last."""
        limits = {number: each.amps for number, each in enumerate(self.draft.limited)}
        for each in self.outlets:
            if each.carries:
                continue
            volts, output = self._volts(each.number), each.output
            most = output.amps_at(volts)
            if output.watts is not None:
                most = min(most, max(0.0, output.watts - self._lost_w(each.key)) / volts)
            if each.key in room_w:
                device = self.work.vessel.devices[each.key]
                efficiency = device.efficiency if isinstance(device, InverterCharger) else None
                most = min(most, room_w[each.key] * (efficiency or 1.0) / volts)
            limits[each.number] = most * each.part
        return limits

    def _lost_w(self, key: str) -> float:
        """What a controller gives less for the loss between its arrays and itself, in W."""
        device = self.work.vessel.devices[key]
        efficiency = device.efficiency if isinstance(device, SolarController) else None
        taken = [n for n, (of, _, _) in enumerate(self.draft.load_of) if of == key]
        if self.found is None or not taken:
            return 0.0
        arrays = {array.id for array, _ in arrays_behind(self.work.vessel, self.work.network, self.work.state, key)}
        sent = math.fsum(given(self.draft, self.found, array).real for array in arrays)
        arrived = math.fsum(complex(self.found.solution.load_powers[n]).real for n in taken)
        return (sent - arrived) * (efficiency or 1.0)

    def _wanted(self) -> dict[str, float]:
        """What converters and controllers hand on to their input: in W, in A where a controller passes current on."""
        found = {}
        for key in self._keys:
            device = self.work.vessel.devices[key]
            if isinstance(device, DcConverter) or (isinstance(device, SolarController) and device.method == "mppt"):
                if device.efficiency is None and isinstance(device, DcConverter):
                    self.work.assume(key, "efficiency", "no loss", "currents too low")
                found[key] = self.given_w(key) / (device.efficiency or 1.0)
            elif isinstance(device, SolarController):
                found[key] = self.given_a(key)
        return found

    # --- what it finds ----------------------------------------------------------------------------------

    def given_w(self, key: str) -> float:
        """What a source gives at its outputs, in W."""
        return given(self.draft, self.solved, key).real

    def given_a(self, key: str) -> float:
        """What a charging source gives at its outputs, in A."""
        return math.fsum(self.solved.amps[each.number] for each in self.outlets if each.key == key)

    def drawn_w(self, key: str) -> float | None:
        """What a charger takes from AC for what it gives, or would give at nominal voltage; None where unknown."""
        mine = [each for each in self.outlets if each.key == key]
        if not mine:
            return self._unknown_output_w(key)
        if self.found is not None:
            return self._ac_w(key, self.given_w(key), self.given_a(key))
        known = [(self._volts(each.number), self.draft.limited[each.number].amps) for each in mine if not each.carries]
        return self._ac_w(key, math.fsum(v * a for v, a in known), math.fsum(a for _, a in known))

    def _ac_w(self, key: str, watts: float, amps: float) -> float:
        device = self.work.vessel.devices[key]
        if isinstance(device, Charger) and device.input_a is not None and device.charge_a:
            return self._input_w(device) * amps / device.charge_a
        efficiency = device.efficiency if isinstance(device, Charger | InverterCharger) else None
        if efficiency is None:
            self.work.assume(key, "efficiency", "no loss", "currents too low")
        return watts / (efficiency or 1.0)

    def _unknown_output_w(self, key: str) -> float | None:
        """AC power of a charger whose rated output is not recorded but whose input is."""
        device, demand = self.work.vessel.devices[key], self.work.demand.get(key)
        if isinstance(device, Charger) and device.input_a is not None and device.charge_a is None and demand:
            return self._input_w(device) * demand.factor
        return None

    def _input_w(self, device: Charger) -> float:
        system = self.work.system(device.system)
        return (device.input_a or 0.0) * (system.voltage.line_v if system is not None else 0.0)

    def troubles(self) -> list[Trouble]:
        """Sources that would have to give more than they can to carry their loads alone."""
        found = []
        for each in self.outlets:
            # The sum of its loads tells that of a converter already (rule `source-overloaded`).
            if not each.carries or not each.output.known or isinstance(self.work.vessel.devices[each.key], DcConverter):
                continue
            most, amps = each.output.amps_at(self._volts(each.number)) * each.part, self.solved.amps[each.number]
            if amps > most * (1 + 1e-9):
                text = f"{each.key} carries its loads without a battery and would have to give {amps:.1f} A; it gives "
                found.append(Trouble("overload", (each.key,), f"{text}{most:.4g} A at most"))
        return found


def _banks(work: Assembly, draft: Draft, full: Mapping[str, float]) -> None:
    """Put the banks into the draft: at nominal voltage, or at the float voltage of what keeps them full."""
    for emission in sorted(work.network.emissions, key=lambda e: (e.source, e.terminal)):
        device, system = work.vessel.devices[emission.source], work.system(emission.system)
        minus = minus_of(work, emission)
        if isinstance(device, BatteryBank) and emission.pole == "DC+" and minus is not None and system is not None:
            emf = full.get(device.id, system.voltage.line_v)
            draft.source(emission.terminal, minus, emf, _internal(work, device, system), (device.id, "DC+"))


def _internal(work: Assembly, bank: BatteryBank, system: System) -> complex:
    if bank.internal_ohm is not None:
        return complex(bank.internal_ohm)
    if bank.short_circuit_a:
        return complex(system.voltage.line_v / bank.short_circuit_a)
    work.assume(bank.id, "internal resistance", "a stiff battery", "voltages too high")
    return 0j


def _dc_loads(work: Assembly, draft: Draft) -> None:
    for key, demand in work.demand.items():
        load = work.vessel.loads.get(key)
        system = work.system(load.system) if load is not None else None
        if load is not None and system is not None and system.is_dc and demand.factor > 0:
            for poles, volts, va in work.parts(load, system):
                work.add_load(draft, load, poles, volts, va * demand.factor)


def _inverter(work: Assembly, draft: Draft, key: str, watts: float) -> None:
    device = work.vessel.devices[key]
    if not isinstance(device, Inverter | InverterCharger):
        return
    system = work.system(device.dc_system)
    plus, minus = work.at(f"{key}/dc", "DC+"), work.at(f"{key}/dc", "DC-")
    if system is None or plus is None or minus is None:
        return
    if device.efficiency is None and watts > 0:
        work.assume(key, "efficiency", "no loss", "battery currents too low")
    if device.idle_w is None:
        work.assume(key, "idle power", "none", "battery currents too low")
    total = max(watts, 0.0) / (device.efficiency or 1.0) + (device.idle_w or 0.0)
    if total > 0:
        draft.loads.append(c.Load(plus, minus, system.voltage.line_v, power=complex(total)))
        draft.load_of.append((key, ("DC+", "DC-"), system.voltage.line_v))


def _input(work: Assembly, draft: Draft, key: str, amount: float) -> None:
    """What a converter draws at its input in W, or a controller that passes current on in A."""
    device = work.vessel.devices[key]
    place, of = f"{key}/in", device.in_system if isinstance(device, DcConverter) else None
    if isinstance(device, SolarController):
        place, of = f"{key}/array", device.array_system
    system, plus, minus = work.system(of), work.at(place, "DC+"), work.at(place, "DC-")
    if system is None or plus is None or minus is None:
        return
    nominal = system.voltage.line_v
    if isinstance(device, SolarController) and device.method != "mppt":
        draft.loads.append(c.Load(plus, minus, nominal, current=amount))
    else:
        draft.loads.append(c.Load(plus, minus, nominal, power=complex(amount)))
    draft.load_of.append((key, ("DC+", "DC-"), nominal))
