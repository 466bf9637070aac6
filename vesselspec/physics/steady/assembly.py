"""What the circuits of an operating condition are built from: conductors, contacts, loads, and what is assumed."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

from vesselspec.model.devices import Load
from vesselspec.model.forms import Pairs
from vesselspec.model.items import Condition, System
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, CoreRun, Network
from vesselspec.network.state import State, closed_links
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.steady import circuit as c
from vesselspec.physics.steady.limited import Limited, Settled, diode
from vesselspec.physics.steady.loops import loops_of
from vesselspec.physics.steady.notes import Assumption, Trouble
from vesselspec.units import Size

#: Loads that are plain resistances: what they draw falls with the voltage. Common practice, no source.
RESISTIVE_USES = ("water-heating", "space-heating", "cooking")
#: Angle of each line of a system, in degrees.
_ANGLES = {
    "ac-single-phase": {"L1": 0.0},
    "ac-split-phase": {"L1": 0.0, "L2": 180.0},
    "ac-three-phase": {"L1": 0.0, "L2": -120.0, "L3": 120.0},
}
#: Times that what a converter hands on is corrected; chains are short and settle in two or three.
ROUNDS = 12
#: Share of a power handed on, or W where that is less than 1, below which it is not corrected again.
SETTLED = 1e-7

#: Temperature at which a loaded conductor's resistance is taken: the basis of NEC Chapter 9 Table 8. A cooler one
#: drops less, so the voltages err low, not high.
OPERATING_C = 75.0


@lru_cache(maxsize=16384)  # the same cores in every condition
def impedance(size: Size, length_m: float, frequency_hz: float) -> complex | None:
    """Impedance of a conductor in ohm at operating temperature; None where it has no length."""
    if length_m <= 0:
        return None
    found = conductor_impedance(size=size, length_m=length_m, temperature_c=OPERATING_C, frequency_hz=frequency_hz)
    return complex(found.r_ohm, found.x_ohm)


@dataclass
class Draft:
    """A circuit in the making, with what each element stands for. `diodes` gives the link of some limited sources."""

    nodes: int
    branches: list[c.Branch] = field(default_factory=list)
    branch_links: list[int] = field(default_factory=list)
    contacts: list[c.Contact] = field(default_factory=list)
    contact_links: list[int] = field(default_factory=list)
    sources: list[c.Source] = field(default_factory=list)
    source_of: list[tuple[str, str]] = field(default_factory=list)
    limited: list[Limited] = field(default_factory=list)
    limited_of: list[tuple[str, str]] = field(default_factory=list)
    diodes: dict[int, int] = field(default_factory=dict)
    loads: list[c.Load] = field(default_factory=list)
    load_of: list[tuple[str, tuple[str, str], float]] = field(default_factory=list)

    def node(self) -> int:
        """Add a node of the circuit's own and return its number."""
        self.nodes += 1
        return self.nodes - 1

    def contact(self, a: int, b: int, link: int = -1) -> None:
        """Join two nodes without resistance, for a link of the network or (-1) for none."""
        if a != b:
            self.contacts.append(c.Contact(a, b))
            self.contact_links.append(link)

    def branch(self, a: int, b: int, z: complex, link: int = -1) -> None:
        """Join two nodes by an impedance in ohm, for a link of the network or (-1) for none."""
        self.branches.append(c.Branch(a, b, z))
        self.branch_links.append(link)

    def source(self, plus: int, minus: int, emf: complex, z: complex, of: tuple[str, str]) -> None:
        """Put an emf in V behind an impedance in ohm between two nodes, for a source and its pole."""
        self.sources.append(c.Source(plus, minus, emf, z))
        self.source_of.append(of)

    def limit(self, element: Limited, of: tuple[str, str]) -> int:
        """Add a source that gives one way only and so much at most; return its number."""
        self.limited.append(element)
        self.limited_of.append(of)
        return len(self.limited) - 1

    def diode(self, a: int, b: int, nominal: float, link: int) -> None:
        """Let current pass from a to b only, for a link of the network."""
        self.diodes[self.limit(diode(a, b, nominal), ("", ""))] = link

    def circuit(self, references: tuple[int, ...]) -> c.Circuit:
        """Return the circuit as it stands."""
        return c.Circuit(
            self.nodes,
            tuple(self.branches),
            tuple(self.contacts),
            tuple(self.sources),
            tuple(self.loads),
            references,
        )


class Wires:
    """Every link of a network as an element, by frequency: conditions differ only by which of them conduct."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self._at: dict[float, list[c.Branch | c.Contact]] = {}

    def at(self, frequency_hz: float) -> list[c.Branch | c.Contact]:
        """An impedance where a link is a conductor of known size and length, else a contact."""
        if frequency_hz not in self._at:
            self._at[frequency_hz] = [self._element(n, frequency_hz) for n in range(len(self.network.links))]
        return self._at[frequency_hz]

    def _element(self, number: int, frequency_hz: float) -> c.Branch | c.Contact:
        link, run = self.network.links[number], self.network.core_of.get(number)
        if run is not None and run.size is not None and run.cable.length_m is not None:
            z = impedance(run.size, run.cable.length_m, frequency_hz)
            if z is not None:
                return c.Branch(link.a, link.b, z)
        return c.Contact(link.a, link.b)

    @cached_property
    def unknown(self) -> Mapping[int, CoreRun]:
        """The conductors without a recorded size or length, by link."""
        return {n: run for n, run in self.network.core_of.items() if run.size is None or run.cable.length_m is None}


class Assembly:
    """What both circuits of one condition are built from, and what building them has found out."""

    def __init__(
        self, vessel: Vessel, network: Network, condition: Condition, state: State, wires: Wires | None = None
    ) -> None:
        self.wires = wires or Wires(network)
        self.vessel, self.network, self.condition, self.state = vessel, network, condition, state
        self.closed = closed_links(network, condition, state)
        self.demand = dict(condition.shares)
        self.loops = loops_of(vessel, network, state, condition)
        self.left_out = {key for loop in self.loops for key in loop.left_out}
        self.assumptions: dict[Assumption, None] = {}
        self.troubles: dict[Trouble, None] = {}
        self.unfed: dict[str, None] = {}
        self.running = set(condition.running)
        self.references = tuple(n for n, t in enumerate(network.terminals) if t.pole == "PE")

    def assume(self, item: str, missing: str, taken: str, errs: str) -> None:
        """Note what is not recorded and what was taken for it."""
        self.assumptions[Assumption(item, missing, taken, errs)] = None

    def system(self, key: str | None) -> System | None:
        """Return a system of the record."""
        return self.vessel.systems.get(key or "")

    def at(self, place: str, pole: str) -> int | None:
        """Return the terminal of a place for a pole."""
        return self.network.index.get((place, pole))

    def fed(self, terminal: int) -> bool:
        """Whether a source that was not left out is live at a terminal."""
        return any(emission.source not in self.left_out for emission in self.state.at(terminal))

    def conductors(self, *, dc: bool, frequency_hz: float) -> Draft:
        """Start a circuit with every conductor and closed contact of the condition."""
        draft = Draft(len(self.network.terminals))
        for number, element in enumerate(self.wires.at(frequency_hz)):
            if not self.closed[number] or (self.network.links[number].one_way and not dc):
                continue
            if isinstance(element, c.Branch):
                draft.branches.append(element)
                draft.branch_links.append(number)
            elif self.network.links[number].one_way:
                system = self.system(self.network.terminals[element.a].system)
                draft.diode(element.a, element.b, system.voltage.line_v if system is not None else 12.0, number)
            elif element.a != element.b:
                draft.contacts.append(element)
                draft.contact_links.append(number)
        for number, run in self.wires.unknown.items():
            if self.closed[number] and (not dc or self._is_dc(number)):
                missing = "size" if run.size is None else "length"
                self.assume(
                    run.cable.id, missing, "no voltage drop in it", "voltages too high, fault currents too high"
                )
        return draft

    def _is_dc(self, number: int) -> bool:
        link = self.network.links[number]
        return any(self.network.terminals[n].pole in ("DC+", "DC-") for n in (link.a, link.b))

    def load_element(self, load: Load, poles: tuple[str, str], volts: float, va: complex) -> c.Load | None:
        """Element for a part of a load: a resistance where it is one, else a constant power in VA."""
        a, b = self.at(load.id, poles[0]), self.at(load.id, poles[1])
        if a is None or b is None:
            return None
        if load.use in RESISTIVE_USES and va.imag == 0 and va.real > 0:
            return c.Load(a, b, volts, impedance=volts * volts / va.real)
        return c.Load(a, b, volts, power=va)

    def emf(self, system: System, pole: str) -> complex:
        """Phasor of a line of a system against its neutral, in V."""
        angle = _ANGLES.get(system.kind, {}).get(pole, 0.0)
        return cmath.rect(system.voltage.line_v, math.radians(angle))

    def add_load(self, draft: Draft, load: Load, poles: tuple[str, str], volts: float, va: complex) -> None:
        """Add a part of a load, unless nothing feeds it."""
        element = self.load_element(load, poles, volts, va)
        number = self.at(load.id, poles[0])
        if element is None or number is None or not self.fed(number):
            self.unfed[load.id] = None
            return
        draft.loads.append(element)
        draft.load_of.append((load.id, poles, volts))

    def parts(self, load: Load, system: System) -> Iterator[tuple[tuple[str, str], float, complex]]:
        """Pole pairs with nominal voltage and rated complex power."""
        if isinstance(load.power_w, Pairs):
            for pair, watts in load.power_w:
                one, _, two = pair.partition("-") if not system.is_dc else ("DC+", "-", "DC-")
                yield (one, two), system.volts((one, two)), self.va(load, watts)
            return
        poles = load.sides(self.vessel.systems)[0].poles
        live = [pole for pole in poles if pole in LINES] or [pole for pole in poles if pole == "DC+"]
        if not live:
            self.unfed[load.id] = None  # its poles are none of its system's
            return
        total = self.rated(load, system, poles, len(live))
        if total is None:
            self.assume(load.id, "power", "no current", "currents too low")
            return
        if system.is_dc:
            yield ("DC+", "DC-"), system.voltage.line_v, total
        elif len(live) == 1:
            yield (live[0], "N"), system.voltage.line_v, total
        elif len(live) == 2:
            yield (live[0], live[1]), system.volts(tuple(live)), total
        else:
            for one, two in zip(live, (*live[1:], live[0]), strict=True):
                yield (one, two), system.volts((one, two)), total / len(live)

    def rated(self, load: Load, system: System, poles: tuple[str, ...], live: int) -> complex | None:
        """Rated power of a load in VA, W and var; None where it is not recorded."""
        volts = system.volts(poles)
        if load.current_a is not None:
            return self.turned(load, load.current_a * volts * (math.sqrt(3) if live == 3 else 1.0), system)
        if load.apparent_va is not None:
            return self.turned(load, load.apparent_va, system)
        return None if not isinstance(load.power_w, float) else self.va(load, load.power_w)

    def turned(self, load: Load, va: float, system: System) -> complex:
        """Apparent power at the load's power factor, lagging."""
        if system.is_dc:
            return complex(va)
        pf = load.power_factor if load.power_factor is not None else 1.0
        return complex(va * pf, va * math.sqrt(max(0.0, 1 - pf * pf)))

    def va(self, load: Load, watts: float) -> complex:
        """Complex power of so many W at the load's power factor."""
        system = self.system(load.system)
        if system is None or system.is_dc:
            return complex(watts)
        if load.power_factor is None:
            if load.motor:
                self.assume(load.id, "power factor", "1", "currents too low")
            return complex(watts)
        return complex(watts, watts * math.tan(math.acos(load.power_factor)))


def given(draft: Draft, found: Settled, key: str) -> complex:
    """What a source gives, in VA: the sum over its poles."""
    nodes = found.solution.node_voltages
    total = 0j
    for number, (source, _) in enumerate(draft.source_of):
        if source == key:
            element = draft.sources[number]
            volts = complex(nodes[element.plus] - nodes[element.minus])
            total += volts * complex(found.solution.source_currents[number]).conjugate()
    for number, (source, _) in enumerate(draft.limited_of):
        if source == key:
            total += found.volts(draft.limited[number]) * found.amps[number]
    return total


def unchanged(now: Mapping[Any, complex], before: Mapping[Any, complex]) -> bool:
    """Whether what is handed on has settled."""
    return now.keys() == before.keys() and all(
        now[key] == before[key] or abs(now[key] - before[key]) <= SETTLED * max(1.0, abs(now[key])) for key in now
    )
