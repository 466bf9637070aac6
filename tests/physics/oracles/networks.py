"""Random circuits of the shapes that boats have. The same seed gives the same circuit on every machine."""

from __future__ import annotations

import cmath
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from vesselspec.physics.steady.circuit import Branch, Circuit, Contact, Load, Source


@dataclass
class Draft:
    """A circuit being written."""

    nodes: int = 1  # node 0 is earth
    branches: list[Branch] = field(default_factory=list)
    contacts: list[Contact] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def circuit(self) -> Circuit:
        return Circuit(
            self.nodes,
            tuple(self.branches),
            tuple(self.contacts),
            tuple(self.sources),
            tuple(self.loads),
            (0,),
        )


@dataclass(frozen=True)
class Place:
    """A panel or outlet: the node of each of its poles, and the contacts in a row that make parallel pairs."""

    poles: dict[str, int]


def resistance(rng: random.Random) -> float:
    """Of a core: 0.5 mohm to 80 mohm, evenly over the decades."""
    return float(10 ** rng.uniform(-3.3, -1.1))


def core(rng: random.Random, ac: bool) -> complex:
    r = resistance(rng)
    return complex(r, r * rng.uniform(0.02, 0.9)) if ac else r


def cable(draft: Draft, rng: random.Random, a: Place, b: Place, ac: bool, parallel: int = 1) -> None:
    """Join two places pole by pole, with so many cables side by side."""
    for _ in range(parallel):
        for pole, node in b.poles.items():
            draft.branches.append(Branch(a.poles[pole], node, core(rng, ac)))


def behind_contacts(draft: Draft, rng: random.Random, place: Place, lines: Sequence[str]) -> Place:
    """The place behind a breaker: its lines run through a contact, or two or three in parallel."""
    poles = dict(place.poles)
    for line in lines:
        poles[line] = draft.node()
        for _ in range(rng.choice((1, 1, 2, 3))):
            draft.contacts.append(Contact(place.poles[line], poles[line]))
    return Place(poles)


def spread(
    draft: Draft, rng: random.Random, start: Place, count: int, *, ac: bool, lines: Sequence[str], meshed: bool
) -> list[Place]:
    """A tree of places that hangs on `start`; meshed adds a few ties between them."""
    places = [start]
    for _ in range(count):
        feeder = rng.choice(places[-6:])
        if rng.random() < 0.5:
            feeder = behind_contacts(draft, rng, feeder, lines)
        place = Place({pole: draft.node() for pole in start.poles})
        cable(draft, rng, feeder, place, ac, parallel=rng.choice((1, 1, 1, 2, 3)))
        places.append(place)
    if meshed:
        for _ in range(max(1, count // 4)):
            a, b = rng.sample(places, 2)
            cable(draft, rng, a, b, ac)
    return places


def load(rng: random.Random, a: int, b: int, nominal: complex, watts: float, *, ac: bool, kinds: Sequence[str]) -> Load:
    """A load of about so many watts, of one of the kinds."""
    angle = math.acos(rng.uniform(0.75, 1.0)) * (1 if rng.random() < 0.85 else -1) if ac else 0.0
    power = cmath.rect(watts * rng.uniform(0.3, 1.0), angle) if ac else watts * rng.uniform(0.3, 1.0)
    kind = rng.choice(kinds)
    if kind == "power":
        return Load(a, b, nominal, power=power)
    current = power.conjugate() / nominal.conjugate()
    if kind == "current":
        return Load(a, b, nominal, current=current)
    return Load(a, b, nominal, impedance=abs(nominal) ** 2 / complex(power).conjugate() if ac else nominal**2 / power)


LINEAR = ("current", "impedance")
ALL = ("power", "current", "impedance")


def dc(seed: int, *, kinds: Sequence[str] = ALL) -> Circuit:
    """12 V, 24 V or 48 V: one to three banks, negatives at earth through a bond, radial or meshed, both poles real."""
    rng = random.Random(f"dc {seed}")
    draft = Draft()
    volts = rng.choice((12.8, 25.6, 51.2))
    start = Place({"+": draft.node(), "-": draft.node()})
    draft.branches.append(Branch(start.poles["-"], 0, resistance(rng)))
    draft.sources.append(Source(start.poles["+"], start.poles["-"], volts, rng.choice((0.0, resistance(rng)))))
    places = spread(draft, rng, start, rng.randint(3, 14), ac=False, lines="+", meshed=rng.random() < 0.5)
    for _ in range(rng.randint(0, 2)):
        at = rng.choice(places[1:])
        emf = volts * rng.uniform(0.97, 1.06)
        draft.sources.append(Source(at.poles["+"], at.poles["-"], emf, resistance(rng)))
    for place in places[1:]:
        for _ in range(rng.randint(0, 2)):
            draft.loads.append(load(rng, place.poles["+"], place.poles["-"], volts, volts * 6, ac=False, kinds=kinds))
    return draft.circuit()


def ac_single(seed: int, *, kinds: Sequence[str] = ALL) -> Circuit:
    """120 V or 230 V, line, neutral and protective conductor, one or two sources in step, bond at the first."""
    rng = random.Random(f"ac {seed}")
    draft = Draft()
    volts = rng.choice((120.0, 230.0))
    start = Place({"L": draft.node(), "N": draft.node(), "PE": draft.node()})
    draft.branches.append(Branch(start.poles["PE"], 0, complex(resistance(rng), 0.001)))
    draft.branches.append(Branch(start.poles["N"], start.poles["PE"], complex(resistance(rng), 0.001)))
    z = rng.choice((0.0, core(rng, True)))
    draft.sources.append(Source(start.poles["L"], start.poles["N"], volts, z))
    places = spread(draft, rng, start, rng.randint(3, 12), ac=True, lines="L", meshed=rng.random() < 0.5)
    if rng.random() < 0.4:
        at = rng.choice(places[1:])
        emf = cmath.rect(volts * rng.uniform(0.98, 1.02), rng.uniform(-0.02, 0.02))
        draft.sources.append(Source(at.poles["L"], at.poles["N"], emf, core(rng, True)))
    for place in places[1:]:
        for _ in range(rng.randint(0, 2)):
            draft.loads.append(load(rng, place.poles["L"], place.poles["N"], volts, volts * 15, ac=True, kinds=kinds))
        if rng.random() < 0.1:  # a leakage to earth
            draft.loads.append(Load(place.poles["L"], place.poles["PE"], volts, impedance=complex(25e3, 10)))
    return draft.circuit()


def split_phase(seed: int, *, kinds: Sequence[str] = ALL, lost_neutral: bool = False) -> Circuit:
    """120/240 V with unbalanced legs. A lost neutral is broken at the source; its loads are impedances then."""
    rng = random.Random(f"split {seed}")
    draft = Draft()
    start = Place({"L1": draft.node(), "N": draft.node(), "L2": draft.node(), "PE": draft.node()})
    poles = start.poles
    draft.branches.append(Branch(poles["PE"], 0, complex(resistance(rng), 0.001)))
    draft.branches.append(Branch(poles["N"], poles["PE"], complex(resistance(rng), 0.001)))
    draft.sources.append(Source(poles["L1"], poles["N"], 120.0, core(rng, True)))
    draft.sources.append(Source(poles["L2"], poles["N"], -120.0, core(rng, True)))
    first = start
    if lost_neutral:
        first = Place({**poles, "N": draft.node()})
        kinds = ("impedance",)
    places = spread(draft, rng, first, rng.randint(3, 10), ac=True, lines=("L1", "L2"), meshed=rng.random() < 0.3)
    for place in places[1:]:
        for line, sign in (("L1", 1), ("L2", -1)):
            if rng.random() < (0.8 if sign > 0 else 0.5):
                draft.loads.append(
                    load(rng, place.poles[line], place.poles["N"], sign * 120.0, 2500, ac=True, kinds=kinds)
                )
        if rng.random() < 0.4:
            draft.loads.append(load(rng, place.poles["L1"], place.poles["L2"], 240.0, 4000, ac=True, kinds=kinds))
    return draft.circuit()


def three_phase(seed: int, *, kinds: Sequence[str] = ALL) -> Circuit:
    """400/230 V, four wires and the protective conductor, loads between line and neutral and between lines."""
    rng = random.Random(f"three {seed}")
    draft = Draft()
    lines = ("L1", "L2", "L3")
    emf = {line: cmath.rect(230.0, -2 * math.pi / 3 * index) for index, line in enumerate(lines)}
    start = Place({pole: draft.node() for pole in (*lines, "N", "PE")})
    poles = start.poles
    draft.branches.append(Branch(poles["PE"], 0, complex(resistance(rng), 0.001)))
    draft.branches.append(Branch(poles["N"], poles["PE"], complex(resistance(rng), 0.001)))
    draft.sources.extend(Source(poles[line], poles["N"], emf[line], core(rng, True)) for line in lines)
    places = spread(draft, rng, start, rng.randint(3, 10), ac=True, lines=lines, meshed=rng.random() < 0.4)
    for place in places[1:]:
        for line in lines:
            if rng.random() < 0.6:
                draft.loads.append(
                    load(rng, place.poles[line], place.poles["N"], emf[line], 4000, ac=True, kinds=kinds)
                )
        if rng.random() < 0.3:
            a, b = rng.sample(lines, 2)
            draft.loads.append(load(rng, place.poles[a], place.poles[b], emf[a] - emf[b], 7000, ac=True, kinds=kinds))
    return draft.circuit()


SHAPES: dict[str, Callable[..., Circuit]] = {
    "dc": dc,
    "single-phase": ac_single,
    "split-phase": split_phase,
    "three-phase": three_phase,
}


def is_dc(circuit: Circuit) -> bool:
    return all(complex(branch.z).imag == 0 for branch in circuit.branches)


def without_contacts(circuit: Circuit, z: complex) -> Circuit:
    """The same with every contact a small impedance, for an engine that has no better."""
    small = tuple(Branch(contact.a, contact.b, z) for contact in circuit.contacts)
    return replace(circuit, branches=circuit.branches + small, contacts=())


def vessel(circuits: int, seed: int = 1) -> Circuit:
    """A split-phase vessel of so many branch circuits, about six nodes each: breaker, cable, outlet, load.

    Panels of 40 ways; their mains grow with the vessel, so that it can be served at any size.
    """
    rng = random.Random(f"vessel {seed}")
    draft = Draft()
    share = 2.0 / circuits
    start = Place({pole: draft.node() for pole in ("L1", "L2", "N", "PE")})
    poles = start.poles
    draft.branches.append(Branch(poles["PE"], 0, complex(0.01, 0.001)))
    draft.branches.append(Branch(poles["N"], poles["PE"], complex(1e-3, 1e-4)))
    draft.sources.append(Source(poles["L1"], poles["N"], 120.0, complex(share, share)))
    draft.sources.append(Source(poles["L2"], poles["N"], -120.0, complex(share, share)))
    for _ in range(max(1, circuits // 40)):
        panel = Place({pole: draft.node() for pole in poles})
        draft.branches.extend(Branch(poles[pole], panel.poles[pole], complex(0.004, 0.002)) for pole in poles)
        for way in range(40 if circuits >= 40 else circuits):
            line, sign = (("L1", 1), ("L2", -1))[way % 2]
            out, outlet = draft.node(), draft.node()
            neutral, earth, inner, return_ = (draft.node() for _ in range(4))
            draft.contacts.append(Contact(panel.poles[line], out))
            z = core(rng, True)
            draft.branches.append(Branch(out, outlet, z))
            draft.branches.append(Branch(panel.poles["N"], neutral, z))
            draft.branches.append(Branch(panel.poles["PE"], earth, z))
            draft.branches.append(Branch(outlet, inner, complex(0.02, 0.001)))
            draft.branches.append(Branch(neutral, return_, complex(0.02, 0.001)))
            draft.loads.append(load(rng, inner, return_, sign * 120.0, 300, ac=True, kinds=ALL))
    return draft.circuit()
