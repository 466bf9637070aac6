"""Bolted faults in a circuit: the current between any two nodes if they were joined, and what each source gives to it.

The current is the voltage between the two nodes without the fault over the impedance that the rest of the network
shows between them, Zaa + Zbb - 2 Zab (Helmholtz and Thévenin). One factorisation and selected inversion give it for
all pairs at once. Contacts, and sources without impedance, are taken out first, as for the steady state: the nodes
that they join become one unknown, with a known voltage between them. Loads are left out: they do not feed a fault.

This module imports NumPy and SciPy; import it where it is needed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix, csc_array, csr_array
from scipy.sparse.csgraph import connected_components

from vesselspec.physics.faults.inverse import Indices, Inverse, Numbers
from vesselspec.physics.steady.circuit import Circuit

Phasors = npt.NDArray[np.complex128]

_SAME = 1e-9  # share of an emf that counts as none


@dataclass(frozen=True, eq=False)
class Net:
    """A circuit as arrays: branches and contacts between nodes, and sources from `minus` to `plus`.

    An impedance of 0 makes a source ideal; a branch must have one that is not 0. Emf in V, impedance in ohm.
    """

    nodes: int
    branch_a: Indices
    branch_b: Indices
    branch_z: Phasors
    contact_a: Indices
    contact_b: Indices
    plus: Indices
    minus: Indices
    emf: Phasors
    source_z: Phasors

    @staticmethod
    def of(circuit: Circuit) -> "Net":
        """The same circuit; its loads are left out."""
        return Net(
            nodes=circuit.nodes,
            branch_a=_nodes(branch.a for branch in circuit.branches),
            branch_b=_nodes(branch.b for branch in circuit.branches),
            branch_z=np.fromiter((branch.z for branch in circuit.branches), np.complex128, len(circuit.branches)),
            contact_a=_nodes(contact.a for contact in circuit.contacts),
            contact_b=_nodes(contact.b for contact in circuit.contacts),
            plus=_nodes(source.plus for source in circuit.sources),
            minus=_nodes(source.minus for source in circuit.sources),
            emf=np.array([source.emf for source in circuit.sources], np.complex128),
            source_z=np.array([source.z for source in circuit.sources], np.complex128),
        )


def _nodes(numbers: Iterable[int]) -> Indices:
    return np.fromiter(numbers, np.intp)


@dataclass(frozen=True, eq=False)
class Faults:
    """Bolted faults between pairs of nodes, one entry a pair.

    `amps` flows from a to b through the fault: 0 where no source drives any, infinite where nothing limits it.
    `volts` is the voltage between them before the fault, `z` the impedance behind them, infinite where nothing joins
    them or no source feeds them. `given` has a row for each source: what it delivers to the fault, out of its plus
    pole; NaN for a source without impedance.
    """

    amps: Phasors
    volts: Phasors
    z: Phasors
    given: Phasors


def faults(net: Net, a: Indices, b: Indices, *, given: bool = True) -> Faults:
    """Bolted fault between each a and b, all other nodes left as they are. `given=False` leaves out who feeds it."""
    return Factored(net).faults(a, b, given=given)


def _components(nodes: int, *edges: tuple[Indices, Indices]) -> tuple[int, Indices]:
    a = np.concatenate([edge[0] for edge in edges])
    b = np.concatenate([edge[1] for edge in edges])
    if not len(a):
        return nodes, np.arange(nodes, dtype=np.intp)
    count, of_node = connected_components(csr_array((np.ones(len(a), np.int8), (a, b)), shape=(nodes, nodes)), False)
    return int(count), of_node.astype(np.intp)


class Factored:
    """The nodal system of a net, factored.

    `rest` is the voltage of every node without a fault, and `part` the number of the part of the net that hangs
    together galvanically: voltages of two nodes can be compared only within a part. `fed`: a source is in the part.
    """

    def __init__(self, net: Net) -> None:
        self.net = net
        ideal = net.source_z == 0
        self.ideal = ideal
        self.group, self.offset = _merged(net, np.flatnonzero(ideal))
        real = not (np.any(net.branch_z.imag) or np.any(net.emf.imag) or np.any(net.source_z.imag))
        narrow: Any = (lambda numbers: numbers.real.copy()) if real else (lambda numbers: numbers)
        self.y_source: Numbers = narrow(np.divide(1, net.source_z, out=np.zeros_like(net.source_z), where=~ideal))
        self.emf: Numbers = narrow(net.emf)
        a = self.group[np.concatenate((net.branch_a, net.plus[~ideal]))]
        b = self.group[np.concatenate((net.branch_b, net.minus[~ideal]))]
        y = np.concatenate((narrow(1 / net.branch_z), self.y_source[~ideal]))
        part_of_group = _components(net.nodes, (a, b))[1]
        self.part = part_of_group[self.group]
        # Unknowns: the groups of every part with a source, save one of each that the others are measured against.
        live = np.zeros(net.nodes, np.bool_)
        live[self.part[net.plus]] = True
        self.fed = live[self.part]
        asked = np.zeros(net.nodes, np.bool_)
        asked[self.group] = True
        groups = np.flatnonzero(asked & live[part_of_group])
        leader = np.full(net.nodes, -1, np.intp)  # by part; of several that are written to one place the last stays
        leader[part_of_group[groups[::-1]]] = groups[::-1]
        minus = np.sort(self.group[net.minus])[::-1]
        leader[part_of_group[minus]] = minus  # the node with most branches is best left out, and a minus pole has many
        asked[leader[leader >= 0]] = False
        wanted = np.flatnonzero(asked & live[part_of_group])
        number = np.full(net.nodes, -1, np.intp)
        number[wanted] = np.arange(len(wanted))
        self.unknown: Indices = number[self.group]
        used = live[part_of_group[a]] & (a != b)
        matrix = _nodal(len(wanted), number[a[used]], number[b[used]], y[used])
        self.inverse = Inverse(matrix) if len(wanted) else None
        self.dtype = matrix.dtype
        self.rest = self._at_rest(narrow)

    def _at_rest(self, narrow: Any) -> Numbers:
        """Voltage of every node without a fault."""
        net, ideal = self.net, self.ideal
        offset: Numbers = narrow(self.offset)
        right = np.zeros(0 if self.inverse is None else self.inverse.size, self.dtype)
        drive = self.y_source * (self.emf - (offset[net.plus] - offset[net.minus]))
        _add(right, self.unknown[net.plus[~ideal]], drive[~ideal])
        _add(right, self.unknown[net.minus[~ideal]], -drive[~ideal])
        if np.any(offset):
            push = narrow(1 / net.branch_z) * (offset[net.branch_a] - offset[net.branch_b])
            _add(right, self.unknown[net.branch_a], -push)
            _add(right, self.unknown[net.branch_b], push)
        solved = self.inverse.solve(right) if self.inverse is not None else right
        return self._spread(solved) + offset

    def _spread(self, solved: Numbers) -> Numbers:
        """A solution, node by node: 0 where a node has no unknown."""
        padded = np.append(solved, np.zeros(1, solved.dtype))
        spread: Numbers = padded[self.unknown]
        return spread

    def faults(self, a: Indices, b: Indices, *, given: bool) -> Faults:
        """Bolted fault between each a and b."""
        net = self.net
        joined = (self.part[a] == self.part[b]) & self.fed[a]
        volts = np.where(joined, self.rest[a] - self.rest[b], 0).astype(np.complex128)
        z = np.where(joined, self._between(a, b), np.inf).astype(np.complex128)
        same = joined & (self.group[a] == self.group[b])
        z[same] = 0
        greatest = np.abs(net.emf).max(initial=0.0)
        driven = np.abs(volts) > _SAME * greatest
        amps = np.zeros(len(a), np.complex128)
        sound = joined & ~same
        amps[sound] = volts[sound] / z[sound]
        amps[same & driven] = np.inf
        rows = self._given(a, b, amps) if given else np.zeros((0, len(a)), np.complex128)
        return Faults(amps, volts, z, rows)

    def short(self, a: int, b: int) -> tuple[complex, Numbers] | None:
        """Current of a bolted fault from a to b in A, and the voltage of every node while it flows.

        None where nothing limits it, or where no part with a source holds both.
        """
        if self.part[a] != self.part[b] or not self.fed[a] or self.group[a] == self.group[b] or self.inverse is None:
            return None
        right = np.zeros(self.inverse.size, self.dtype)
        _add(right, self.unknown[[a]], -np.ones(1))
        _add(right, self.unknown[[b]], np.ones(1))
        moves = self._spread(self.inverse.solve(right))
        amps = complex((self.rest[a] - self.rest[b]) / (moves[b] - moves[a]))
        return amps, self.rest + amps * moves

    def _between(self, a: Indices, b: Indices) -> Numbers:
        """Zaa + Zbb - 2 Zab of each pair; what has no unknown lies at the node that all is measured against."""
        if self.inverse is None:
            return np.zeros(len(a))
        one, two = self.unknown[a], self.unknown[b]
        has_one, has_two = one >= 0, two >= 0
        both = has_one & has_two & (self.part[a] == self.part[b])
        rows = np.concatenate((one[has_one], two[has_two], one[both]))
        columns = np.concatenate((one[has_one], two[has_two], two[both]))
        found = self.inverse.entries(rows, columns)
        first, second = int(has_one.sum()), int(has_two.sum())
        z = np.zeros(len(a), found.dtype)
        z[has_one] += found[:first]
        z[has_two] += found[first : first + second]
        z[both] -= 2 * found[first + second :]
        return z

    def _given(self, a: Indices, b: Indices, amps: Phasors) -> Phasors:
        net = self.net
        rows = np.full((len(net.plus), len(a)), np.nan, np.complex128)
        finite = np.where(np.isfinite(amps), amps, 0)
        for number in np.flatnonzero(~self.ideal):
            plus, minus = self.unknown[net.plus[number]], self.unknown[net.minus[number]]
            right = np.zeros(0 if self.inverse is None else self.inverse.size, self.dtype)
            _add(right, np.array([plus]), np.ones(1))
            _add(right, np.array([minus]), -np.ones(1))
            reach = self._spread(self.inverse.solve(right) if self.inverse is not None else right)
            mine = self.part[net.plus[number]] == self.part[a]
            share = np.where(mine, (reach[a] - reach[b]) * self.y_source[number], 0)
            before = self.rest[net.plus[number]] - self.rest[net.minus[number]]
            idle = self.y_source[number] * (self.emf[number] - before)
            row = idle * mine + share * finite
            row[~np.isfinite(amps)] = np.nan
            rows[number] = np.where(self.part[a] == self.part[b], row, 0)
        return rows


def _add(right: Numbers, unknown: Indices, amps: Numbers) -> None:
    """Add currents to the right side; a place of -1 has no equation."""
    kept = unknown >= 0
    np.add.at(right, unknown[kept], amps[kept])


def _merged(net: Net, ideal: Indices) -> tuple[Indices, Phasors]:
    """Number nodes by the group that contacts and ideal sources make one, with their voltage above its first node.

    Ideal sources that fight each other leave the voltage of the one named first.
    """
    count, group = _components(net.nodes, (net.contact_a, net.contact_b))
    offset = np.zeros(net.nodes, np.complex128)
    if len(ideal):
        above: dict[int, tuple[int, complex]] = {}

        def root(number: int) -> tuple[int, complex]:
            total = 0j
            while number in above:
                number, step = above[number]
                total += step
            return number, total

        for number in ideal.tolist():
            plus, minus = root(int(group[net.plus[number]])), root(int(group[net.minus[number]]))
            if plus[0] != minus[0]:
                above[plus[0]] = minus[0], minus[1] + complex(net.emf[number]) - plus[1]
        roots = np.arange(count, dtype=np.intp)
        steps = np.zeros(count, np.complex128)
        for number in above:
            roots[number], steps[number] = root(number)
        offset, group = steps[group], roots[group]
    return group, offset


def _nodal(size: int, a: Indices, b: Indices, y: Numbers) -> Any:
    """Nodal admittance matrix; an end of number -1 is the node that all is measured against."""
    has_a, has_b = a >= 0, b >= 0
    both = has_a & has_b
    return csc_array(
        coo_matrix(
            (
                np.concatenate((y[has_a], y[has_b], -y[both], -y[both])),
                (
                    np.concatenate((a[has_a], b[has_b], a[both], b[both])),
                    np.concatenate((a[has_a], b[has_b], b[both], a[both])),
                ),
            ),
            shape=(size, size),
        )
    )
