"""The AC circuit of an operating condition: shore, generators and inverters over every core, loads and chargers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.model.devices import Charger, Generator, InverterCharger, IsolationTransformer, ShoreInlet
from vesselspec.model.items import System
from vesselspec.network.compile import PASS_THROUGH
from vesselspec.network.graph import LINES
from vesselspec.physics.steady import circuit as c
from vesselspec.physics.steady.assembly import ROUNDS, Assembly, Draft, given, impedance, unchanged
from vesselspec.physics.steady.charging import share_of
from vesselspec.physics.steady.limited import Settled
from vesselspec.physics.steady.nodal import Factor
from vesselspec.physics.steady.notes import Trouble


@dataclass(frozen=True)
class _Inlet:
    """A charger's AC side: one element of the draft for each pair of poles."""

    key: str
    first: int
    pairs: int


class AcSide:
    """The AC circuit: built once, solved for what chargers draw."""

    def __init__(self, work: Assembly) -> None:
        self.work = work
        frequencies = [s.frequency_hz for s in work.vessel.systems.values() if s.frequency_hz]
        self.draft = work.conductors(dc=False, frequency_hz=max(frequencies, default=0.0))
        self.support: dict[str, complex] = {}
        self.over: dict[str, Trouble] = {}
        _ac_sources(work, self.draft)
        _ac_loads(work, self.draft)
        self._inlets = list(_inlets(work, self.draft))
        self._first = len(self.draft.loads)
        self._factor = Factor(self.draft.circuit(work.references))
        self._through: dict[str, complex] = {}
        self.found: Settled

    @property
    def chargers(self) -> tuple[str, ...]:
        """The chargers that AC reaches."""
        return tuple(each.key for each in self._inlets)

    def solve(self, charging_w: Mapping[str, float]) -> None:
        """Solve with what each charger draws, in W; what devices hand on is settled in rounds."""
        draft = self.draft
        for each in self._inlets:
            share = complex(charging_w.get(each.key, 0.0)) / each.pairs
            for number in range(each.first, each.first + each.pairs):
                old = draft.loads[number]
                draft.loads[number] = c.Load(old.a, old.b, old.nominal, power=share)
        self._solve(self._through)
        for _ in range(ROUNDS):
            wanted = _handed_on(self)
            if unchanged(wanted, self._through):
                break
            self._solve(wanted)

    def _solve(self, through: Mapping[str, complex]) -> None:
        draft = self.draft
        self._through, self.support = dict(through), {}
        del draft.loads[self._first :], draft.load_of[self._first :]
        for key, va in through.items():
            _hand_on(self, key, va)
        self.found = Settled(self._factor.solve(draft.loads), (), (), True)

    def inverter_w(self, key: str) -> float:
        """What an inverter gives, support beside another source included, in W."""
        support = sum(va.real for item, va in self.support.items() if item.split(":")[0] == key)
        return given(self.draft, self.found, key).real + support

    def room_w(self, device: InverterCharger) -> float | None:
        """What the input limit leaves for charging beside what passes through, in W; None without a limit."""
        if device.input_limit_a is None:
            return None
        nodes = self.found.solution.node_voltages
        left = []
        for pole, number in _relays(self.work, self.draft, device):
            a, n = self.work.at(f"{device.id}/ac-in", pole), self.work.at(f"{device.id}/ac-in", "N")
            if a is not None and n is not None:
                passed = abs(complex(self.found.solution.contact_currents[number]))
                left.append(max(0.0, device.input_limit_a - passed) * abs(complex(nodes[a] - nodes[n])))
        return min(left) * len(left) if left else None


def _ac_sources(work: Assembly, draft: Draft) -> None:
    present = {e.source: e for each in work.state.live.values() for e in each if e.pole in LINES}
    for key in sorted(present.keys() - work.left_out):
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


def _inlets(work: Assembly, draft: Draft) -> list[_Inlet]:
    """Put the AC side of every charger that runs into the draft, drawing nothing yet."""
    found = []
    for key, device in work.vessel.devices.items():
        if not isinstance(device, Charger | InverterCharger) or key in work.left_out:
            continue
        share = share_of(work.condition, key)
        if share == 0 or (share is None and key not in work.running):
            continue
        if isinstance(device, InverterCharger) and work.state.positions.get(key) != PASS_THROUGH:
            continue
        place = f"{key}/ac" if isinstance(device, Charger) else f"{key}/ac-in"
        system = work.system(device.system)
        lines = [pole for pole in LINES if work.at(place, pole) is not None]
        if system is None or not lines:
            continue
        two = (lines[0], lines[1]) if len(lines) == 2 and work.at(place, "N") is None else None
        first = len(draft.loads)
        for pair in [two] if two else [(pole, "N") for pole in lines]:
            a, b = work.at(place, pair[0]), work.at(place, pair[1])
            if a is None or b is None or not work.fed(a):
                work.unfed[key] = None
                continue
            volts = system.volts(pair)
            draft.loads.append(c.Load(a, b, volts, power=0j))
            draft.load_of.append((key, pair, volts))
        if len(draft.loads) > first:
            found.append(_Inlet(key, first, len(draft.loads) - first))
    return found


def _handed_on(side: AcSide) -> dict[str, complex]:
    """What transformers take at their primary, and what inverter-chargers add to keep to their input limit."""
    work, side.over = side.work, {}
    wanted: dict[str, complex] = {}
    for key in work.network.transformers:
        va = given(side.draft, side.found, key)
        if va:
            wanted[key] = va
    for key, device in work.vessel.devices.items():
        if isinstance(device, InverterCharger) and work.state.positions.get(key) == PASS_THROUGH:
            wanted |= _support(side, device)
    return wanted


def _relays(work: Assembly, draft: Draft, device: InverterCharger) -> list[tuple[str, int]]:
    """The closed contacts through which an inverter-charger passes its lines, each with its pole."""
    inside, found = f"{device.id}/ac-in", []
    for number, link in enumerate(draft.contact_links):
        if link >= 0 and work.network.links[link].item == device.id:
            terminal = work.network.terminals[work.network.links[link].a]
            if terminal.place == inside and terminal.pole in LINES:
                found.append((terminal.pole, number))
    return found


def _support(side: AcSide, device: InverterCharger) -> dict[str, complex]:
    """What an inverter-charger adds from its battery on each line, in VA, to keep to its input limit.

    Its own charging is no reason: it is cut down first (`AcSide.room_w`).
    """
    work = side.work
    if device.input_limit_a is None:
        return {}
    wanted: dict[str, complex] = {}
    for pole, number in _relays(work, side.draft, device):
        drawn = abs(complex(side.found.solution.contact_currents[number]))
        before = abs(side.support.get(f"{device.id}:{pole}", 0j))
        volts = abs(work.emf(work.vessel.systems[device.system or ""], pole))
        excess = drawn + before / volts - device.input_limit_a
        if excess > 0 and device.support:
            wanted[f"{device.id}:{pole}"] = complex(excess * volts)
        elif excess > 1e-6:
            text = f"{device.id} draws {drawn:.1f} A on {pole}; its input limit is {device.input_limit_a:g} A"
            side.over[f"{device.id}:{pole}"] = Trouble("overload", (device.id,), text)
    return wanted


def _hand_on(side: AcSide, key: str, va: complex) -> None:
    work, draft = side.work, side.draft
    item, _, pole = key.partition(":")
    device = work.vessel.devices[item]
    if isinstance(device, InverterCharger):
        side.support[key] = va
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
