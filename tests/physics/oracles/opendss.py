"""OpenDSS as an oracle for AC circuits at conductor level.

Mapping. OpenDSS hangs a load on one bus, between two of its nodes, so every place of a vessel is a bus, and its
poles are nodes 1 to 5 of it; earth is node 0. The network is therefore drawn here as `Site`, of which both a
`Circuit` and an OpenDSS script are made. A cable is one Line with as many phases as it has cores, its impedance
matrix diagonal (a core has the impedance of `Branch`, no mutual impedance) and its capacitance zero. A bond is a
Reactor. A source is a one-phase Vsource between two nodes of its bus, with Z0 = Z1 so that its own impedance is Z1.
A load is a one-phase Load between two nodes: model 1 (constant P and Q) or model 2 (constant impedance), allowed to
fall to 10 % and rise to 300 % of its voltage before OpenDSS would change the model.

OpenDSS iterates injected currents too, but from its own matrix (with the loads as admittances in it) and its own
sparse solver. Its own tolerance is set to 1e-10.
"""

from __future__ import annotations

import cmath
import math
import random
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import opendssdirect

from vesselspec.physics.steady.circuit import Branch, Circuit, Load, Source

from .networks import core, resistance

HZ = 60.0


@dataclass
class Site:
    """Places with poles, drawn once for both programs. Places are numbers, poles are numbers from 1."""

    poles: int
    cables: list[tuple[int, int, list[complex]]] = field(default_factory=list)
    bonds: list[tuple[int, int, int, complex]] = field(default_factory=list)  # place, pole, pole or 0, z
    sources: list[tuple[int, int, int, complex, complex]] = field(default_factory=list)  # place, pole, pole, emf, z
    loads: list[tuple[int, int, int, complex, complex, bool]] = field(default_factory=list)  # …, nominal, VA, constant
    places: int = 1

    def node(self, place: int, pole: int) -> int:
        return 0 if pole == 0 else 1 + place * self.poles + pole - 1

    def circuit(self) -> Circuit:
        branches = [
            Branch(self.node(a, pole), self.node(b, pole), z)
            for a, b, cores in self.cables
            for pole, z in enumerate(cores, 1)
        ]
        branches += [Branch(self.node(place, pole), self.node(place, other), z) for place, pole, other, z in self.bonds]
        sources = [Source(self.node(p, plus), self.node(p, minus), emf, z) for p, plus, minus, emf, z in self.sources]
        loads = [
            Load(self.node(p, a), self.node(p, b), nominal, power=va)
            if constant
            else Load(self.node(p, a), self.node(p, b), nominal, impedance=abs(nominal) ** 2 / va.conjugate())
            for p, a, b, nominal, va, constant in self.loads
        ]
        return Circuit(1 + self.places * self.poles, tuple(branches), (), tuple(sources), tuple(loads), (0,))

    def script(self) -> list[str]:
        commands = ["clear", f"set defaultbasefrequency={HZ:g}"]
        for number, (place, plus, minus, emf, z) in enumerate(self.sources):
            what = "new circuit.site" if number == 0 else f"new vsource.s{number}"
            commands.append(
                f"{what} phases=1 bus1=p{place}.{plus} bus2=p{place}.{minus} basekv={abs(emf) / 1000!r} pu=1 "
                f"angle={math.degrees(cmath.phase(emf))!r} frequency={HZ:g} "
                f"z1=[{z.real!r}, {z.imag!r}] z0=[{z.real!r}, {z.imag!r}]"
            )
        nodes = ".".join(str(pole) for pole in range(1, self.poles + 1))
        for number, (a, b, cores) in enumerate(self.cables):
            commands.append(
                f"new line.c{number} phases={self.poles} bus1=p{a}.{nodes} bus2=p{b}.{nodes} length=1 units=none "
                f"rmatrix=[{_triangle([z.real for z in cores])}] xmatrix=[{_triangle([z.imag for z in cores])}] "
                f"cmatrix=[{_triangle([0.0] * self.poles)}]"
            )
        for number, (place, pole, other, z) in enumerate(self.bonds):
            commands.append(
                f"new reactor.b{number} phases=1 bus1=p{place}.{pole} bus2=p{place}.{other} r={z.real!r} x={z.imag!r}"
            )
        for number, (place, pole, other, nominal, va, constant) in enumerate(self.loads):
            commands.append(
                f"new load.l{number} phases=1 bus1=p{place}.{pole}.{other} kv={abs(nominal) / 1000!r} "
                f"kw={va.real / 1000!r} kvar={va.imag / 1000!r} model={1 if constant else 2} vminpu=0.1 vmaxpu=3"
            )
        # Without bases OpenDSS judges each node by its own voltage, and an earth without current never comes to rest.
        commands += ["set voltagebases=[0.4]", "calcvoltagebases"]
        return [*commands, "set tolerance=1e-10", "set maxiterations=500", "set controlmode=off", "solve"]


def _triangle(diagonal: list[float]) -> str:
    return " | ".join(
        " ".join(repr(value) if column == row else "0" for column in range(row + 1))
        for row, value in enumerate(diagonal)
    )


def solve(site: Site) -> npt.NDArray[np.complex128]:
    """Voltage of every node of the site's circuit, by OpenDSS."""
    for command in site.script():
        opendssdirect.Text.Command(command)
    assert opendssdirect.Solution.Converged()
    by_name = dict(
        zip(opendssdirect.Circuit.AllNodeNames(), _complex(opendssdirect.Circuit.AllBusVolts()), strict=True)
    )
    return np.array(
        [0.0] + [by_name[f"p{place}.{pole}"] for place in range(site.places) for pole in range(1, site.poles + 1)],
        np.complex128,
    )


def _complex(values: object) -> list[complex]:
    numbers = np.asarray(values)
    if np.iscomplexobj(numbers):
        return [complex(number) for number in numbers]
    return [complex(re, im) for re, im in zip(numbers[::2], numbers[1::2], strict=True)]


#: emf of each line of a system, by name.
SYSTEMS: dict[str, list[complex]] = {
    "single-phase": [230.0 + 0j],
    "split-phase": [120.0 + 0j, -120.0 + 0j],
    "three-phase": [cmath.rect(230.0, -2 * math.pi / 3 * index) for index in range(3)],
}


def draw(system: str, seed: int) -> Site:
    """A site at random: lines, then N, then PE; bonds and sources at place 0, radial with some ties and doublings."""
    rng = random.Random(f"{system} {seed}")
    emf = SYSTEMS[system]
    site = Site(len(emf) + 2)
    neutral, earth = len(emf) + 1, len(emf) + 2
    site.bonds.append((0, neutral, earth, complex(resistance(rng), 0.001)))
    site.bonds.append((0, earth, 0, complex(resistance(rng), 0.001)))
    for line, volts in enumerate(emf, 1):
        site.sources.append((0, line, neutral, volts, core(rng, True)))
    site.places = rng.randint(4, 14)
    for place in range(1, site.places):
        feeder = rng.randrange(max(0, place - 4), place)
        for _ in range(rng.choice((1, 1, 2))):
            site.cables.append((feeder, place, [core(rng, True) for _ in range(site.poles)]))
    for _ in range(rng.choice((0, 0, 1, 2))):
        a, b = rng.sample(range(site.places), 2)
        site.cables.append((a, b, [core(rng, True) for _ in range(site.poles)]))
    if rng.random() < 0.3:
        place = rng.randrange(1, site.places)
        for line, volts in enumerate(emf, 1):
            site.sources.append((place, line, neutral, volts * cmath.rect(1.01, 0.01), core(rng, True)))
    for place in range(1, site.places):
        for line, volts in enumerate(emf, 1):
            if rng.random() < 0.7:
                va = cmath.rect(rng.uniform(100, 7000 if len(emf) == 1 else 3000), math.acos(rng.uniform(0.75, 1.0)))
                site.loads.append((place, line, neutral, volts, va, rng.random() < 0.7))
        if len(emf) > 1 and rng.random() < 0.4:
            a, b = rng.sample(range(len(emf)), 2)
            va = cmath.rect(rng.uniform(500, 5000), math.acos(rng.uniform(0.75, 1.0)))
            site.loads.append((place, a + 1, b + 1, emf[a] - emf[b], va, rng.random() < 0.7))
    return site
