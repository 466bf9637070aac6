"""The elements of a circuit, and a set of loads, as arrays; what cannot be computed with is named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vesselspec.physics.steady.arrays import Bools, Indices, Phasors, ends_of, inverse, phasors
from vesselspec.physics.steady.circuit import Circuit, ElementKind, Load, Problem


@dataclass(frozen=True, eq=False)
class Elements:
    """Branches, contacts and sources. Ideal elements are the contacts and, after them, the ideal sources."""

    branch_a: Indices
    branch_b: Indices
    branch_y: Phasors
    source_a: Indices
    source_b: Indices
    source_y: Phasors  # 0 where ideal
    source_emf: Phasors
    ideal: Indices  # numbers of the ideal sources
    ideal_a: Indices
    ideal_b: Indices
    ideal_emf: Phasors
    contacts: int
    problems: tuple[Problem, ...]
    real: bool

    @staticmethod
    def of(circuit: Circuit) -> Elements:
        """Read a circuit; `problems` names what cannot be computed with."""
        nodes = circuit.nodes
        branch_a, branch_b = ends_of((branch.a, branch.b) for branch in circuit.branches)
        branch_z = phasors(branch.z for branch in circuit.branches)
        contact_a, contact_b = ends_of((contact.a, contact.b) for contact in circuit.contacts)
        source_a, source_b = ends_of((source.plus, source.minus) for source in circuit.sources)
        emf = phasors(source.emf for source in circuit.sources)
        source_z = phasors(source.z for source in circuit.sources)
        references, _ = ends_of((node, node) for node in circuit.references)
        problems = [
            *([] if nodes > 0 else [Problem("circuit", 0, "it has no nodes")]),
            *_outside("reference", nodes, references),
            *_outside("branch", nodes, branch_a, branch_b),
            *_outside("contact", nodes, contact_a, contact_b),
            *_outside("source", nodes, source_a, source_b),
            *_where("branch", ~np.isfinite(branch_z), "its impedance is not a finite number"),
            *_where("branch", branch_z == 0, "its impedance is zero: a contact is meant"),
            *_where("source", ~np.isfinite(emf), "its emf is not a finite number"),
            *_where("source", ~np.isfinite(source_z), "its impedance is not a finite number"),
        ]
        ideal = np.flatnonzero(source_z == 0)
        real = not any(np.any(numbers.imag) for numbers in (branch_z, emf, source_z))
        return Elements(
            branch_a=branch_a,
            branch_b=branch_b,
            branch_y=inverse(branch_z),
            source_a=source_a,
            source_b=source_b,
            source_y=inverse(source_z),
            source_emf=emf,
            ideal=ideal,
            ideal_a=np.concatenate((contact_a, source_a[ideal])),
            ideal_b=np.concatenate((contact_b, source_b[ideal])),
            ideal_emf=np.concatenate((np.zeros(len(contact_a), np.complex128), emf[ideal])),
            contacts=len(contact_a),
            problems=tuple(problems),
            real=real,
        )


@dataclass(frozen=True, eq=False)
class LoadSet:
    """A load set. `power` and `current` are 0 where a load is of another kind, as is `y` where it is no impedance.

    `nominal_y` is the admittance in S that draws the power or the current at the nominal voltage.
    """

    a: Indices
    b: Indices
    power: Phasors
    current: Phasors
    y: Phasors
    nominal: npt.NDArray[np.float64]
    nominal_y: Phasors
    problems: tuple[Problem, ...]
    real: bool

    @staticmethod
    def of(loads: Sequence[Load], nodes: int) -> LoadSet:
        """Read a load set for a circuit of so many nodes."""
        a, b = ends_of((load.a, load.b) for load in loads)
        nominal = phasors(load.nominal for load in loads)
        power = phasors(0.0 if load.power is None else load.power for load in loads)
        current = phasors(0.0 if load.current is None else load.current for load in loads)
        z = phasors(1.0 if load.impedance is None else load.impedance for load in loads)
        said = np.array(
            [(load.power is not None) + (load.current is not None) + (load.impedance is not None) for load in loads],
            np.intp,
        )
        kinds = np.array([load.impedance is not None for load in loads], np.bool_)
        problems = (
            *_outside("load", nodes, a, b),
            *_where("load", said != 1, "it needs exactly one of power, current and impedance"),
            *_where("load", ~np.isfinite(nominal) | (nominal == 0), "its nominal voltage is zero or not a number"),
            *_where("load", ~np.isfinite(power), "its power is not a finite number"),
            *_where("load", ~np.isfinite(current), "its current is not a finite number"),
            *_where("load", ~np.isfinite(z) | (z == 0), "its impedance is zero or not a finite number"),
        )
        with np.errstate(all="ignore"):
            nominal_y = np.conj(power) / np.abs(nominal) ** 2 + current / nominal
        return LoadSet(
            a=a,
            b=b,
            power=power,
            current=current,
            y=np.where(kinds, inverse(z), 0.0),
            nominal=np.abs(nominal),
            nominal_y=nominal_y,
            problems=problems,
            real=not any(np.any(numbers.imag) for numbers in (power, current, z, nominal_y)),
        )

    def key(self, real: bool) -> bytes:
        """What the matrix of a system depends on: equal keys, equal matrix (save for loads that bridge)."""
        drawing = (self.power != 0) | (self.current != 0)
        return b"".join((bytes((real,)), self.a.tobytes(), self.b.tobytes(), self.y.tobytes(), drawing.tobytes()))


def _outside(kind: ElementKind, nodes: int, *ends: Indices) -> list[Problem]:
    bad = np.zeros(len(ends[0]), np.bool_)
    for end in ends:
        bad |= (end < 0) | (end >= nodes)
    return _where(kind, bad, f"it names a node that is not among 0 to {nodes - 1}")


def _where(kind: ElementKind, bad: Bools, text: str) -> list[Problem]:
    return [Problem(kind, int(index), text) for index in np.flatnonzero(bad)]
