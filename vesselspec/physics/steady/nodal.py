"""Steady state of a circuit: every voltage and every current, with constant-power loads, or why there is none.

Method. Contacts and ideal sources are taken out first: the nodes that they join become one unknown, with a known
offset of voltage between them, and what is left is a symmetric nodal matrix of the known impedances. It is factored
once; every load set on the same topology is solved with the same factor. The current of each contact and ideal
source then follows from Kirchhoff's current law, evenly shared where they close loops. That is the limit of equal
resistances going to zero, without the loss of digits that a very small resistance would bring.

Constant powers are iterated as injected currents. For loads that draw from a resistive network this converges up to
the very limit of what it can deliver, and to the upper of the two voltages. Where it is slow or fails, Newton's
method takes over on the islands concerned, and its answer counts only where the determinant of the Jacobian has kept
the sign that it has without load: the classical test against the lower voltage. Where that fails too, the powers of
the island are raised from nothing as far as a solution can be followed.

Nothing is raised for a bad network: `Solution.status` says what is wrong.

This module imports NumPy and SciPy; import it where it is needed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix, csc_array, csr_array, diags_array
from scipy.sparse import hstack as sparse_hstack
from scipy.sparse import vstack as sparse_vstack
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from vesselspec.physics.steady.circuit import Circuit, Collapse, Contradiction, ElementKind, Load, Problem

Status = Literal["solved", "collapsed", "contradiction", "undetermined", "dead", "invalid"]

TOLERANCE: Final = 1e-9
"""Greatest estimated error of any load's voltage, relative to it, at which the iteration stops."""

FED: Final = 0.25
"""Share of its nominal voltage that must reach a constant power without load; below it, it is an impedance. Ours."""

_INJECTIONS: Final = 40
_PATIENCE: Final = 8
_SLOW: Final = 0.8  # ratio of two steps above which Newton is quicker
_NEWTONS: Final = 25
_FINEST: Final = 1 / 128  # of the powers, when a collapse is bounded
_LOOP: Final = 1e-9  # of the greatest emf: what ideal sources in a loop may differ by
_ROUNDING: Final = 1e-12  # of voltage times the greatest admittance: what may be left where nothing flows
_UNBALANCED: Final = 1e-4  # of the greatest current: a residual that only a singular matrix leaves

_Indices = npt.NDArray[np.intp]
_Bools = npt.NDArray[np.bool_]
_Numbers = npt.NDArray[Any]  # float64 in a DC circuit, else complex128
Phasors = npt.NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class Islands:
    """The connected parts of a circuit. `of_node` gives the island of each node; the rest has one entry an island.

    `reference` is the node that its voltages are measured against; `dead` says that it has no source, so that all
    its voltages are 0; `floating` that it has one, but no tie to the circuit's first reference. Loads connect too:
    what hangs on a live line by a load alone is as live as the line.
    """

    of_node: _Indices
    reference: _Indices
    dead: _Bools
    floating: _Bools


@dataclass(frozen=True, eq=False)
class Solution:
    """Result of a steady state; all phasors in V, A and VA, in the order of the circuit's elements.

    `status`, the gravest that holds of any island:
    invalid: `problems` names elements that cannot be computed with; there are no figures.
    contradiction: `contradictions` names ideal sources that fight each other; figures of those islands are NaN.
    undetermined: the matrix is singular (a resonance without loss, say); figures of live islands are NaN, or not to be
    trusted where it is so nearly.
    collapsed: `collapses` names loads that cannot be served; figures there are those at the collapse's scale.
    dead: no island has a source; all figures are 0.
    solved: all is well.

    Load currents count from `a` to `b`, branch and contact currents too, source currents as delivered.
    `as_impedance` names the constant powers and currents that were taken as the impedance that draws them at their
    nominal voltage, for as they are they have no stable state: loads that alone tie two parts of the network
    together (a lost neutral, an open return), and constant powers which less than a quarter of their nominal
    voltage reaches. `residual_a` is the greatest sum of the currents at any node. `iterations` counts solutions of
    the linear system.
    """

    status: Status
    node_voltages: Phasors
    branch_currents: Phasors
    contact_currents: Phasors
    source_currents: Phasors
    load_voltages: Phasors
    load_currents: Phasors
    load_powers: Phasors
    islands: Islands
    residual_a: float
    iterations: int
    as_impedance: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = ()
    contradictions: tuple[Contradiction, ...] = ()
    collapses: tuple[Collapse, ...] = ()


def solve(circuit: Circuit) -> Solution:
    """Solve a circuit with its own loads. `Factor` is quicker for several load sets."""
    return Factor(circuit).solve()


class Factor:
    """A circuit made ready to be solved with many load sets.

    Constant powers and currents may differ from set to set at no cost. A set with other impedances, or one that
    draws nothing where another load alone holds up a part of the network, costs one more factorisation, kept too.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self._elements = _Elements.of(circuit)
        self._systems: dict[bytes, _System] = {}

    def solve(self, loads: Sequence[Load] | None = None) -> Solution:
        """Solve with these loads, or with the circuit's own."""
        demand = _Demand.of(self.circuit.loads if loads is None else loads, self.circuit.nodes)
        problems = self._elements.problems + demand.problems
        if problems:
            return _unsolvable(self.circuit, demand, problems)
        real = self._elements.real and demand.real
        key = demand.key(real)
        system = self._systems.get(key)
        if system is not None and np.any(system.bridging):
            # What such loads draw is part of the matrix.
            key += demand.nominal_y[system.bridging].tobytes()
            if not np.array_equal(system.bridging_y, demand.nominal_y[system.bridging]):
                system = self._systems.get(key)
        if system is None:
            system = self._systems[key] = _System(self.circuit, self._elements, demand, real)
        return system.solve(demand)


# --- Elements as arrays ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Elements:
    """Branches, contacts and sources. Ideal elements are the contacts and, after them, the ideal sources."""

    branch_a: _Indices
    branch_b: _Indices
    branch_y: Phasors
    source_a: _Indices
    source_b: _Indices
    source_y: Phasors  # 0 where ideal
    source_emf: Phasors
    ideal: _Indices  # numbers of the ideal sources
    ideal_a: _Indices
    ideal_b: _Indices
    ideal_emf: Phasors
    contacts: int
    problems: tuple[Problem, ...]
    real: bool

    @staticmethod
    def of(circuit: Circuit) -> "_Elements":
        nodes = circuit.nodes
        branch_a, branch_b = _ends((branch.a, branch.b) for branch in circuit.branches)
        branch_z = _phasors(branch.z for branch in circuit.branches)
        contact_a, contact_b = _ends((contact.a, contact.b) for contact in circuit.contacts)
        source_a, source_b = _ends((source.plus, source.minus) for source in circuit.sources)
        emf = _phasors(source.emf for source in circuit.sources)
        source_z = _phasors(source.z for source in circuit.sources)
        references, _ = _ends((node, node) for node in circuit.references)
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
        return _Elements(
            branch_a=branch_a,
            branch_b=branch_b,
            branch_y=_inverse(branch_z),
            source_a=source_a,
            source_b=source_b,
            source_y=_inverse(source_z),
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
class _Demand:
    """A load set. `power` and `current` are 0 where a load is of another kind, as is `y` where it is no impedance.

    `nominal_y` is the admittance in S that draws the power or the current at the nominal voltage.
    """

    a: _Indices
    b: _Indices
    power: Phasors
    current: Phasors
    y: Phasors
    nominal: npt.NDArray[np.float64]
    nominal_y: Phasors
    problems: tuple[Problem, ...]
    real: bool

    @staticmethod
    def of(loads: Sequence[Load], nodes: int) -> "_Demand":
        a, b = _ends((load.a, load.b) for load in loads)
        nominal = _phasors(load.nominal for load in loads)
        power = _phasors(0.0 if load.power is None else load.power for load in loads)
        current = _phasors(0.0 if load.current is None else load.current for load in loads)
        z = _phasors(1.0 if load.impedance is None else load.impedance for load in loads)
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
        return _Demand(
            a=a,
            b=b,
            power=power,
            current=current,
            y=np.where(kinds, _inverse(z), 0.0),
            nominal=np.abs(nominal),
            nominal_y=nominal_y,
            problems=problems,
            real=not any(np.any(numbers.imag) for numbers in (power, current, z, nominal_y)),
        )

    def key(self, real: bool) -> bytes:
        """What the matrix of a system depends on: equal keys, equal matrix (save for loads that bridge)."""
        drawing = (self.power != 0) | (self.current != 0)
        return b"".join((bytes((real,)), self.a.tobytes(), self.b.tobytes(), self.y.tobytes(), drawing.tobytes()))


def _ends(pairs: Iterable[tuple[int, int]]) -> tuple[_Indices, _Indices]:
    both = np.array([node for pair in pairs for node in pair], np.intp).reshape(-1, 2)
    return both[:, 0].copy(), both[:, 1].copy()


def _phasors(numbers: Iterable[complex]) -> Phasors:
    return np.array(list(numbers), np.complex128)


def _inverse(z: Phasors) -> Phasors:
    """1/z, and 0 where z is 0 or no number."""
    usable = (z != 0) & np.isfinite(z)
    return np.divide(1.0, z, out=np.zeros_like(z), where=usable)


def _outside(kind: ElementKind, nodes: int, *ends: _Indices) -> list[Problem]:
    bad = np.zeros(len(ends[0]), np.bool_)
    for end in ends:
        bad |= (end < 0) | (end >= nodes)
    return _where(kind, bad, f"it names a node that is not among 0 to {nodes - 1}")


def _where(kind: ElementKind, bad: _Bools, text: str) -> list[Problem]:
    return [Problem(kind, int(index), text) for index in np.flatnonzero(bad)]


def _unsolvable(circuit: Circuit, demand: _Demand, problems: tuple[Problem, ...]) -> Solution:
    def nothing(count: int) -> Phasors:
        return _sealed(np.full(count, np.nan, np.complex128))

    nodes = max(circuit.nodes, 0)
    loads = len(demand.a)
    none = np.zeros(0, np.intp)
    return Solution(
        status="invalid",
        node_voltages=nothing(nodes),
        branch_currents=nothing(len(circuit.branches)),
        contact_currents=nothing(len(circuit.contacts)),
        source_currents=nothing(len(circuit.sources)),
        load_voltages=nothing(loads),
        load_currents=nothing(loads),
        load_powers=nothing(loads),
        islands=Islands(np.full(nodes, -1, np.intp), none, none.astype(np.bool_), none.astype(np.bool_)),
        residual_a=float("nan"),
        iterations=0,
        problems=problems,
    )


def _sealed(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    array.setflags(write=False)
    return array


# --- Topology ----------------------------------------------------------------------------------------


def _components(nodes: int, *edges: tuple[_Indices, _Indices]) -> tuple[int, _Indices]:
    a = np.concatenate([edge[0] for edge in edges])
    b = np.concatenate([edge[1] for edge in edges])
    graph = csr_array((np.ones(len(a), np.int8), (a, b)), shape=(nodes, nodes))
    count, of_node = connected_components(graph, directed=False)
    return int(count), of_node.astype(np.intp)


def _incidence(rows: int, a: _Indices, b: _Indices) -> Any:
    """Matrix with a column per element: 1 in the row of a, -1 in that of b; a row of -1 is left out."""
    columns = np.arange(len(a))
    has_a, has_b = a >= 0, b >= 0
    return csr_array(
        (
            np.concatenate((np.ones(has_a.sum()), -np.ones(has_b.sum()))),
            (np.concatenate((a[has_a], b[has_b])), np.concatenate((columns[has_a], columns[has_b]))),
        ),
        shape=(rows, len(a)),
    )


class _Joints:
    """The contacts and ideal sources: which nodes they make one, the voltages between those, and their currents."""

    def __init__(self, nodes: int, a: _Indices, b: _Indices, emf: _Numbers) -> None:
        self.count, self.of_node = _components(nodes, (a, b)) if len(a) else (nodes, np.arange(nodes, dtype=np.intp))
        self.offset: _Numbers = np.zeros(nodes, emf.dtype)
        self.misfit = np.zeros(len(a))
        self._solver: Any = None
        self._incidence: Any = None
        if not len(a):
            return
        _, first = np.unique(self.of_node, return_index=True)
        free = np.ones(nodes, np.bool_)
        free[first] = False
        self._incidence = _incidence(nodes, a, b)
        self._free = np.flatnonzero(free)
        if len(self._free):
            grounded = self._incidence[self._free]
            self._solver = _Lu(grounded @ grounded.T)
            if np.any(emf):
                self.offset[self._free] = self._solver.solve(grounded @ emf)
        self.misfit = np.abs(self._incidence.T @ self.offset - emf)

    def currents(self, drawn: _Numbers) -> _Numbers:
        """Current of each element from its a to its b, where every other element draws `drawn` from the nodes."""
        if self._solver is None:
            return np.zeros(len(self.misfit), drawn.dtype)
        potential = np.zeros_like(drawn)
        for _ in range(2):  # the second time for the rounding of the first
            left = drawn + self._incidence @ (self._incidence.T @ potential)
            potential[self._free] -= self._solver.solve(left[self._free])
        result: _Numbers = self._incidence.T @ potential
        return result

    def sum_at_nodes(self, currents: _Numbers) -> _Numbers | float:
        return 0.0 if self._incidence is None else self._incidence @ currents


class _Lu:
    """Sparse LU factors. Raises RuntimeError for a matrix that is exactly singular."""

    def __init__(self, matrix: Any, *, pivoting: bool = False) -> None:
        self.matrix = csc_array(matrix)
        self._real = not np.iscomplexobj(self.matrix.data)
        if pivoting:
            self._factors: Any = splu(self.matrix)
        else:
            mode = {"SymmetricMode": True}
            self._factors = splu(self.matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=mode)

    def solve(self, right: _Numbers) -> _Numbers:
        """The solution for one right side, which may be complex where the matrix is real."""
        if self._real and np.iscomplexobj(right):
            both = self._factors.solve(np.column_stack((right.real, right.imag)))
            joined: _Numbers = both[:, 0] + 1j * both[:, 1]
            return joined
        solved: _Numbers = self._factors.solve(right)
        return solved

    def determinant_is_positive(self) -> bool:
        """Sign of the determinant of a real matrix."""
        negative = int(np.count_nonzero(self._factors.U.diagonal() < 0))
        return (negative + _parity(self._factors.perm_r) + _parity(self._factors.perm_c)) % 2 == 0


def _parity(permutation: npt.NDArray[Any]) -> int:
    size = len(permutation)
    cycles = _components(size, (np.arange(size, dtype=np.intp), permutation.astype(np.intp)))[0]
    return (size - cycles) % 2


# --- The nodal system --------------------------------------------------------------------------------


@dataclass(eq=False)
class _State:
    """Unknowns of a system under way, with what is known of the iteration for each island."""

    x: _Numbers
    iterations: int = 0
    collapses: list[Collapse] = field(default_factory=list)


class _System:
    """The factored matrix of one topology, and all that load sets on it share."""

    def __init__(self, circuit: Circuit, elements: _Elements, demand: _Demand, real: bool) -> None:
        self.circuit, self.elements, self.real = circuit, elements, real
        nodes = circuit.nodes
        cast = _cast(real)
        self.branch_y, self.source_y = cast(elements.branch_y), cast(elements.source_y)
        self.source_emf, self.load_y = cast(elements.source_emf), cast(demand.y)
        branches = (elements.branch_a, elements.branch_b)
        sources = (elements.source_a, elements.source_b)
        ideals = (elements.ideal_a, elements.ideal_b)

        # Which loads alone hold two parts together: those go into the matrix as impedances.
        held = demand.y != 0
        _, part = _components(nodes, branches, sources, ideals, (demand.a[held], demand.b[held]))
        drawing = (demand.power != 0) | (demand.current != 0)
        self.bridging = drawing & (part[demand.a] != part[demand.b])
        self.load_y = np.where(self.bridging, cast(demand.nominal_y), self.load_y)
        self.bridging_y = demand.nominal_y[self.bridging]
        tied = held | self.bridging
        loads = (demand.a[tied], demand.b[tied])
        count, island = _components(nodes, branches, sources, ideals, loads)
        self.islands, self.contradictions, usable, joints = self._islands(count, island)
        self.joints, self.usable = joints, usable

        # Voltage of a node = unknown of its group (if it has one) + fixed part.
        group = joints.of_node
        root = np.zeros(joints.count, np.bool_)
        references = self.islands.reference[usable]
        root[group[references]] = True
        shift: _Numbers = np.zeros(joints.count, joints.offset.dtype)
        shift[group[references]] = -joints.offset[references]
        solvable = np.zeros(joints.count, np.bool_)
        solvable[group] = usable[island]
        wanted = solvable & ~root
        number = np.full(joints.count, -1, np.intp)
        number[wanted] = np.arange(np.count_nonzero(wanted))
        self.size = int(np.count_nonzero(wanted))
        self.unknown: _Indices = number[group]
        self.fixed: _Numbers = np.where(usable[island], joints.offset + shift[group], 0.0)
        self.unknown_island: _Indices = np.zeros(self.size, np.intp)
        self.unknown_island[number[wanted]] = _first_of(group, island, joints.count)[wanted]

        a = np.concatenate((branches[0], sources[0], loads[0]))
        b = np.concatenate((branches[1], sources[1], loads[1]))
        y = np.concatenate((self.branch_y, self.source_y, self.load_y[tied]))
        emf = np.concatenate((np.zeros_like(self.branch_y), self.source_emf, np.zeros_like(self.load_y[tied])))
        across = _incidence(self.size, self.unknown[a], self.unknown[b])
        self.right: _Numbers = across @ (y * (emf - (self.fixed[a] - self.fixed[b])))
        self.scale = float(np.abs(y).max(initial=0.0))
        self.singular = False
        self._lu: _Lu | None = None
        self.matrix = _nodal(self.size, self.unknown[a], self.unknown[b], y)
        self._make_factor()

    def _islands(self, count: int, island: _Indices) -> tuple[Islands, tuple[Contradiction, ...], _Bools, _Joints]:
        circuit, elements = self.circuit, self.elements
        joints = _Joints(circuit.nodes, elements.ideal_a, elements.ideal_b, _cast(self.real)(elements.ideal_emf))
        reference = _first_of(island, np.arange(circuit.nodes, dtype=np.intp), count)
        reference[island[elements.source_b][::-1]] = elements.source_b[::-1]
        for node in reversed(circuit.references):
            reference[island[node]] = node
        dead = np.ones(count, np.bool_)
        dead[island[elements.source_a]] = False
        floating = ~dead
        if circuit.references:
            floating[island[circuit.references[0]]] = False
        usable = ~dead
        contradictions = []
        if np.any(elements.ideal_emf):
            fights = joints.misfit > _LOOP * np.abs(elements.ideal_emf).max()
            where = island[elements.ideal_a]
            for number in np.unique(where[fights]):
                inside = np.flatnonzero(fights & (where == number))
                contradictions.append(
                    Contradiction(
                        sources=tuple(elements.ideal[inside[inside >= elements.contacts] - elements.contacts].tolist()),
                        contacts=tuple(inside[inside < elements.contacts].tolist()),
                    )
                )
                usable[number] = False
        parts = Islands(_sealed(island), _sealed(reference), _sealed(dead), _sealed(floating))
        return parts, tuple(contradictions), usable, joints

    def _make_factor(self) -> None:
        """Factor the matrix; where pivots on its diagonal do badly, with pivoting."""
        if not self.size:
            return
        for pivoting in (False, True):
            try:
                factor = _Lu(self.matrix, pivoting=pivoting)
            except RuntimeError:
                continue
            probe = np.ones(self.size, self.right.dtype)
            target = self.matrix @ probe + self.scale
            if np.allclose(self.matrix @ factor.solve(target), target, rtol=1e-6, atol=1e-6 * np.abs(target).max()):
                self._lu = factor
                return
        self.singular = True

    def _linear(self, right: _Numbers) -> _Numbers:
        return self._lu.solve(right) if self._lu is not None else np.zeros_like(right)

    def solve(self, demand: _Demand) -> Solution:
        """Solve with a load set whose matrix this is."""
        cast = _cast(self.real)
        live = self.usable[self.islands.of_node[demand.a]] & ~self.bridging
        constant = np.flatnonzero(live & (demand.current != 0))
        current = cast(demand.current)
        right = self.right - self._across(demand, constant) @ current[constant]
        x = self._linear(right)
        x = x + self._linear(right - self.matrix @ x)
        powered = np.flatnonzero(live & (demand.power != 0))
        unloaded = np.abs(self._voltages(x)[demand.a] - self._voltages(x)[demand.b])[powered]
        starved = unloaded < FED * demand.nominal[powered]
        across = self._across(demand, powered)
        powers = _Powers(
            loads=powered,
            power=np.where(starved, 0.0, cast(demand.power[powered])),
            y=np.where(starved, cast(demand.nominal_y[powered]), 0.0),
            unloaded=unloaded,
            least=np.where(starved, demand.nominal[powered], 0.0),
            gap=self.fixed[demand.a[powered]] - self.fixed[demand.b[powered]],
            across=across,
            from_across=across.T.tocsr(),
            matrix=self.matrix,
            right=right,
            rows=np.arange(self.size, dtype=np.intp),
        )
        state = _State(x, iterations=2)
        if len(powered) and not self.singular:
            self._iterate(powers, self.islands.of_node[demand.a[powered]], state)
        return self._result(demand, powers, state, np.concatenate((np.flatnonzero(self.bridging), powered[starved])))

    def _voltages(self, x: _Numbers) -> _Numbers:
        known = self.fixed
        if not self.size:
            return known
        voltages: _Numbers = np.where(self.unknown >= 0, x[self.unknown], 0.0) + known
        return voltages

    def _across(self, demand: _Demand, loads: _Indices) -> Any:
        return _incidence(self.size, self.unknown[demand.a[loads]], self.unknown[demand.b[loads]])

    # --- constant powers ---

    def _iterate(self, powers: "_Powers", island: _Indices, state: _State) -> None:
        """Bring the constant powers to rest, island by island where need be."""
        start = state.x
        for number in self._inject(powers, island, state):
            rows, mine = np.flatnonzero(self.unknown_island == number), island == number
            state.x[rows] = start[rows]
            part = powers.part(mine, rows)
            part.follow(state)
            powers.power[mine] = part.power

    def _inject(self, powers: "_Powers", island: _Indices, state: _State) -> _Indices:
        """Iterate on injected currents. Returns the islands that have not come to rest."""
        x, voltage = state.x, powers.voltage(state.x)
        before = np.full(len(self.usable), np.inf)
        unsettled = np.unique(island)
        with np.errstate(all="ignore"):
            for count in range(_INJECTIONS):
                x = self._linear(powers.right - powers.across @ powers.currents(voltage))
                state.iterations += 1
                last, voltage = voltage, powers.voltage(x)
                worst = np.zeros(len(self.usable))
                np.maximum.at(worst, island, powers.change(last, voltage))
                ratio = np.where(worst > 0, worst / before, 0.0)
                # The steps form a geometric series; noise at the last digits does not.
                error = np.where(ratio < 1, worst * np.maximum(1.0, ratio / (1 - ratio)), np.inf)
                unsettled = np.flatnonzero((error > TOLERANCE) & (worst > 0.1 * TOLERANCE))
                if not len(unsettled) or (count > _PATIENCE and np.all(ratio[unsettled] > _SLOW)):
                    break
                before = worst
        state.x = np.where(np.isfinite(x), x, 0.0)
        return unsettled

    # --- result ---

    def _result(self, demand: _Demand, powers: "_Powers", state: _State, as_impedance: _Indices) -> Solution:
        elements, islands = self.elements, self.islands
        voltages = self._voltages(state.x)
        branch = self.branch_y * (voltages[elements.branch_a] - voltages[elements.branch_b])
        source = self.source_y * (self.source_emf - (voltages[elements.source_a] - voltages[elements.source_b]))
        load_voltages = voltages[demand.a] - voltages[demand.b]
        load = self.load_y * load_voltages
        live = self.usable[islands.of_node[demand.a]] & ~self.bridging
        load = load + np.where(live, _cast(self.real)(demand.current), 0.0)
        load[powers.loads] += powers.currents(load_voltages[powers.loads])
        drawn: _Numbers = np.zeros(self.circuit.nodes, voltages.dtype)
        for a, b, current in (
            (elements.branch_a, elements.branch_b, branch),
            (elements.source_b, elements.source_a, source),
            (demand.a, demand.b, load),
        ):
            drawn += _sums(self.circuit.nodes, a, b, current)
        joint = self.joints.currents(drawn)
        residual = np.abs(drawn + self.joints.sum_at_nodes(joint)) if len(drawn) else np.zeros(1)
        source[elements.ideal] = -joint[elements.contacts :]
        contact = joint[: elements.contacts]
        unanswered = ~islands.dead & ~(self.usable & (not self.singular))
        if np.any(unanswered):
            gone = unanswered[islands.of_node]
            voltages = np.where(gone, np.nan, voltages)
            residual = np.where(gone, 0.0, residual)
            branch = np.where(gone[elements.branch_a], np.nan, branch)
            source = np.where(gone[elements.source_a], np.nan, source)
            contact = np.where(gone[elements.ideal_a[: elements.contacts]], np.nan, contact)
            load_voltages = np.where(gone[demand.a], np.nan, load_voltages)
            load = np.where(gone[demand.a], np.nan, load)
        most = max((float(np.nanmax(np.abs(i), initial=0.0)) for i in (branch, source, load, contact)), default=0.0)
        rounding = _ROUNDING * float(np.nanmax(np.abs(voltages), initial=0.0)) * self.scale
        unbalanced = not float(residual.max()) <= _UNBALANCED * most + rounding
        status: Status = "solved"
        if self.contradictions:
            status = "contradiction"
        elif self.singular or unbalanced:
            status = "undetermined"
        elif state.collapses:
            status = "collapsed"
        elif islands.dead.all():
            status = "dead"
        return Solution(
            status=status,
            node_voltages=_given(voltages),
            branch_currents=_given(branch),
            contact_currents=_given(contact),
            source_currents=_given(source),
            load_voltages=_given(load_voltages),
            load_currents=_given(load),
            load_powers=_given(load_voltages * np.conj(load)),
            islands=islands,
            residual_a=float(residual.max()),
            iterations=state.iterations,
            as_impedance=tuple(sorted(as_impedance.tolist())),
            contradictions=self.contradictions,
            collapses=tuple(state.collapses),
        )


def _cast(real: bool) -> Any:
    """What makes a phasor array as narrow as the circuit allows."""
    return (lambda array: array.real.copy()) if real else (lambda array: array)


def _given(numbers: _Numbers) -> Phasors:
    return _sealed(numbers.astype(np.complex128))


def _first_of(key: _Indices, value: _Indices, count: int) -> _Indices:
    """For each key, the value at its first place."""
    first = np.zeros(count, np.intp)
    first[key[::-1]] = value[::-1]
    return first


def _sums(nodes: int, a: _Indices, b: _Indices, current: _Numbers) -> _Numbers:
    """Sum of currents that leave each node."""

    def real(part: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return np.bincount(a, part, nodes) - np.bincount(b, part, nodes)

    return real(current.real) + 1j * real(current.imag) if np.iscomplexobj(current) else real(current)


def _nodal(size: int, a: _Indices, b: _Indices, y: _Numbers) -> Any:
    """Nodal admittance matrix; a terminal of number -1 has a known voltage."""
    has_a, has_b = a >= 0, b >= 0
    both = has_a & has_b & (a != b)
    return csc_array(
        coo_matrix(
            (
                np.concatenate((y[has_a & (a != b)], y[has_b & (a != b)], -y[both], -y[both])),
                (
                    np.concatenate((a[has_a & (a != b)], b[has_b & (a != b)], a[both], b[both])),
                    np.concatenate((a[has_a & (a != b)], b[has_b & (a != b)], b[both], a[both])),
                ),
            ),
            shape=(size, size),
        )
    )


@dataclass(eq=False)
class _Powers:
    """The constant powers of a load set, or those of one island: their currents, and Newton's method for them.

    `power` is 0 where the load is starved, and `y` the admittance that then takes its place, else 0. `unloaded` is the
    voltage without constant powers; `least` the nominal voltage of a starved load, which its changes are measured by,
    else 0. `rows` are the unknowns of the system that `matrix`, `right` and `across` are cut down to, `gap` the known
    part of the voltages.
    """

    loads: _Indices
    power: _Numbers
    y: _Numbers
    unloaded: npt.NDArray[np.float64]
    least: npt.NDArray[np.float64]
    gap: _Numbers
    across: Any
    from_across: Any
    matrix: Any
    right: _Numbers
    rows: _Indices

    def part(self, mine: _Bools, rows: _Indices) -> "_Powers":
        """Some of the loads, with the unknowns that they depend on."""
        across = self.across[rows][:, np.flatnonzero(mine)]
        return _Powers(
            loads=self.loads[mine],
            power=self.power[mine],
            y=self.y[mine],
            unloaded=self.unloaded[mine],
            least=self.least[mine],
            gap=self.gap[mine],
            across=across,
            from_across=across.T.tocsr(),
            matrix=csc_array(csr_array(self.matrix)[rows][:, rows]),
            right=self.right[rows],
            rows=rows,
        )

    def voltage(self, x: _Numbers) -> _Numbers:
        """Voltage across each load in V."""
        voltage: _Numbers = self.from_across @ x + self.gap
        return voltage

    def currents(self, voltage: _Numbers) -> _Numbers:
        """Current that each draws in A."""
        drawn = np.divide(self.power, voltage, out=np.zeros_like(voltage), where=self.power != 0)
        currents: _Numbers = np.conj(drawn) + self.y * voltage
        return currents

    def change(self, before: _Numbers, after: _Numbers) -> npt.NDArray[np.float64]:
        """Relative change of each load's voltage; that of a starved one counts from its nominal voltage."""
        change: npt.NDArray[np.float64] = np.abs(after - before) / np.maximum(np.abs(after), self.least)
        return np.where(np.isfinite(change), change, np.inf)

    def follow(self, state: _State) -> None:
        """Solve with Newton's method; where that fails, raise the powers as far as a solution can be followed.

        Leaves the solution in `state`, and in `power` what was served.
        """
        x, full, scale, step = state.x[self.rows], self.power, 0.0, 1.0
        while scale < 1 and step >= _FINEST:
            target = min(1.0, scale + step)
            self.power = full * target
            found = self._newton(x, state)
            if found is None:
                step /= 2
            else:
                x, scale = found, target
        self.power = full * scale
        state.x[self.rows] = x
        if scale < 1:
            ratio = np.full(len(full), np.inf)
            np.divide(np.abs(self.voltage(x)), self.unloaded, out=ratio, where=full != 0)
            # Where nothing at all can be served, all voltages are whole: the greatest power is the one to blame.
            worst = int(np.argmin(ratio) if scale else np.argmax(np.abs(full)))
            state.collapses.append(
                Collapse(int(self.loads[worst]), scale, complex(self.power[worst]), float(ratio[worst]))
            )

    def _newton(self, x: _Numbers, state: _State) -> _Numbers | None:
        """Solution near x for the upper voltage, or None."""
        with np.errstate(all="ignore"):
            voltage = self.voltage(x)
            error = self._mismatch(x, voltage)
            for _ in range(_NEWTONS):
                factor = self._jacobian(voltage)
                if factor is None:
                    return None
                state.iterations += 1
                full = self._correction(factor, -error)
                step, size = 1.0, np.linalg.norm(error)
                for _ in range(8):
                    new = x + step * full
                    new_voltage = self.voltage(new)
                    new_error = self._mismatch(new, new_voltage)
                    if np.linalg.norm(new_error) < size:
                        break
                    step /= 2
                change = self.change(voltage, new_voltage)
                if not np.all(np.isfinite(new)):
                    return None
                x, voltage, error = new, new_voltage, new_error
                if step > 0.5 and np.all(change <= TOLERANCE):
                    factor = self._jacobian(voltage)
                    return x if factor is not None and factor.determinant_is_positive() else None
                if step < 1 / 64 and np.all(change > TOLERANCE):
                    return None
        return None

    def _mismatch(self, x: _Numbers, voltage: _Numbers) -> _Numbers:
        mismatch: _Numbers = self.matrix @ x + self.across @ self.currents(voltage) - self.right
        return mismatch

    def _jacobian(self, voltage: _Numbers) -> _Lu | None:
        slope = np.conj(np.divide(self.power, voltage**2, out=np.zeros_like(voltage), where=self.power != 0))
        if not np.all(np.isfinite(slope)):
            return None
        linear = self.matrix + self._between(self.y)
        try:
            if not np.iscomplexobj(slope):
                return _Lu(linear - self._between(slope), pivoting=True)
            bent = self._between(slope)
            top = sparse_hstack((linear.real - bent.real, -linear.imag - bent.imag))
            bottom = sparse_hstack((linear.imag - bent.imag, linear.real + bent.real))
            return _Lu(sparse_vstack((top, bottom)), pivoting=True)
        except RuntimeError:
            return None

    def _between(self, y: _Numbers) -> Any:
        """Nodal matrix of one admittance in the place of each load."""
        return csc_array(self.across @ diags_array(y) @ self.from_across)

    def _correction(self, factor: _Lu, error: _Numbers) -> _Numbers:
        if not np.iscomplexobj(error):
            return factor.solve(error)
        both = factor.solve(np.concatenate((error.real, error.imag)))
        half = len(error)
        joined: _Numbers = both[:half] + 1j * both[half:]
        return joined
