"""A circuit as plain data: nodes by number, and what lies between them. It knows no vessel and no solver.

Direct current is the case in which every number is real. For alternating current all numbers are phasors in one
frame: an emf of -120 V is the second leg of a split-phase supply, `cmath.rect(230, -2 * pi / 3)` the second phase.
A resistance and a reactance are given as one impedance, so no frequency is needed.
"""

from dataclasses import dataclass, field
from typing import Literal

ElementKind = Literal["branch", "contact", "source", "load", "reference", "circuit"]


@dataclass(frozen=True, slots=True)
class Branch:
    """A conductor, or any other known impedance `z` in ohm, not zero. Its current counts from `a` to `b`.

    A resistance under about 1e-7 ohm is lost in the rounding of voltages: say Contact instead.
    """

    a: int
    b: int
    z: complex


@dataclass(frozen=True, slots=True)
class Contact:
    """A closed contact of no known resistance. Its current counts from `a` to `b`.

    It is the limit of a resistance that goes to zero, the same for every contact and every ideal source: no voltage
    lies across it, and contacts in parallel share their current evenly.
    """

    a: int
    b: int


@dataclass(frozen=True, slots=True)
class Source:
    """An `emf` in V from `minus` to `plus` behind an impedance `z` in ohm, which is 0 for an ideal source.

    Its current counts as delivered: out of `plus`, back into `minus`; it is negative in a battery being charged.
    """

    plus: int
    minus: int
    emf: complex
    z: complex = 0.0


@dataclass(frozen=True, slots=True)
class Load:
    """What is drawn between two nodes; exactly one of `power`, `current` and `impedance` is given.

    `power` is constant, in VA (W + j var, negative where it feeds in); `current` a constant phasor in A in the frame
    of the emfs, from `a` to `b`; `impedance` in ohm. `nominal` is the voltage from `a` to `b` in V, not zero, that
    the load is made for. Only the iteration of a constant power starts from it, and it gives the impedance that
    stands in for a load which cannot be solved as it is (`Solution.as_impedance`). The angle of `nominal` does not
    matter to a constant power.
    """

    a: int
    b: int
    nominal: complex
    power: complex | None = None
    current: complex | None = None
    impedance: complex | None = None


@dataclass(frozen=True, slots=True)
class Circuit:
    """`nodes` nodes, numbered from 0, and the elements between them.

    `references` are the nodes that voltages are measured against, in order of preference: earth first. An island
    that holds none of them is measured against the minus pole of its first source.
    """

    nodes: int
    branches: tuple[Branch, ...] = ()
    contacts: tuple[Contact, ...] = ()
    sources: tuple[Source, ...] = ()
    loads: tuple[Load, ...] = ()
    references: tuple[int, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Problem:
    """An element that cannot be computed with, by its place in its tuple, and why."""

    kind: ElementKind
    index: int
    text: str


@dataclass(frozen=True, slots=True)
class Collapse:
    """An island whose constant powers cannot all be delivered.

    `scale` is the greatest share of them, all taken down alike, for which a solution was found; it is at most 1/128
    short of the greatest there is. `load` is the load whose voltage fell furthest there, to `voltage_ratio` of what
    it has without constant powers; `power` is its power then, in VA.
    """

    load: int
    scale: float
    power: complex
    voltage_ratio: float


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Ideal sources, and contacts, that close a loop whose emfs do not add up to zero: a short circuit."""

    sources: tuple[int, ...]
    contacts: tuple[int, ...]
