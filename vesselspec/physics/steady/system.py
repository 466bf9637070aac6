"""The factored matrix of one topology, and the solution of a load set on it."""

from __future__ import annotations

from typing import Final

import numpy as np

from vesselspec.physics.steady.arrays import Bools, Indices, Numbers, as_phasors, cast_to, first_of, sealed, sums_at
from vesselspec.physics.steady.circuit import Circuit, Contradiction
from vesselspec.physics.steady.elements import Elements, LoadSet
from vesselspec.physics.steady.joints import Joints
from vesselspec.physics.steady.matrices import Incidence, Lu, components
from vesselspec.physics.steady.powers import Powers, Progress, settle
from vesselspec.physics.steady.solution import Islands, Solution, Status

FED: Final = 0.25
"""Share of its nominal voltage that must reach a constant power without load; below it, it is an impedance. Ours."""

_LOOP: Final = 1e-9  # of the greatest emf: what ideal sources in a loop may differ by
_ROUNDING: Final = 1e-12  # of voltage times the greatest admittance: what may be left where nothing flows
_UNBALANCED: Final = 1e-4  # of the greatest current: a residual that only a singular matrix leaves


class NodalSystem:
    """The factored matrix of one topology, and all that load sets on it share."""

    def __init__(self, circuit: Circuit, elements: Elements, demand: LoadSet, real: bool) -> None:
        self.circuit, self.elements, self.real = circuit, elements, real
        nodes = circuit.nodes
        cast = cast_to(real)
        self.branch_y, self.source_y = cast(elements.branch_y), cast(elements.source_y)
        self.source_emf, self.load_y = cast(elements.source_emf), cast(demand.y)
        branches = (elements.branch_a, elements.branch_b)
        sources = (elements.source_a, elements.source_b)
        ideals = (elements.ideal_a, elements.ideal_b)

        # Which loads alone hold two parts together: those go into the matrix as impedances.
        held = demand.y != 0
        _, part = components(nodes, branches, sources, ideals, (demand.a[held], demand.b[held]))
        drawing = (demand.power != 0) | (demand.current != 0)
        self.bridging = drawing & (part[demand.a] != part[demand.b])
        self.load_y = np.where(self.bridging, cast(demand.nominal_y), self.load_y)
        self.bridging_y = demand.nominal_y[self.bridging]
        tied = held | self.bridging
        loads = (demand.a[tied], demand.b[tied])
        count, island = components(nodes, branches, sources, ideals, loads)
        self.islands, self.contradictions, usable, joints = self._islands(count, island)
        self.joints, self.usable = joints, usable

        # Voltage of a node = unknown of its group (if it has one) + fixed part.
        group = joints.of_node
        root = np.zeros(joints.count, np.bool_)
        references = self.islands.reference[usable]
        root[group[references]] = True
        shift: Numbers = np.zeros(joints.count, joints.offset.dtype)
        shift[group[references]] = -joints.offset[references]
        solvable = np.zeros(joints.count, np.bool_)
        solvable[group] = usable[island]
        wanted = solvable & ~root
        number = np.full(joints.count, -1, np.intp)
        number[wanted] = np.arange(np.count_nonzero(wanted))
        self.size = int(np.count_nonzero(wanted))
        self.unknown: Indices = number[group]
        self.fixed: Numbers = np.where(usable[island], joints.offset + shift[group], 0.0)
        self.unknown_island: Indices = np.zeros(self.size, np.intp)
        self.unknown_island[number[wanted]] = first_of(group, island, joints.count)[wanted]

        a = np.concatenate((branches[0], sources[0], loads[0]))
        b = np.concatenate((branches[1], sources[1], loads[1]))
        y = np.concatenate((self.branch_y, self.source_y, self.load_y[tied]))
        emf = np.concatenate((np.zeros_like(self.branch_y), self.source_emf, np.zeros_like(self.load_y[tied])))
        between = Incidence(self.size, self.unknown[a], self.unknown[b])
        self.right: Numbers = between.sums(y * (emf - (self.fixed[a] - self.fixed[b])))
        self.scale = float(np.abs(y).max(initial=0.0))
        self.singular = False
        self._lu: Lu | None = None
        self.matrix = between.nodal(y)
        self._make_factor()

    def _islands(self, count: int, island: Indices) -> tuple[Islands, tuple[Contradiction, ...], Bools, Joints]:
        circuit, elements = self.circuit, self.elements
        joints = Joints(circuit.nodes, elements.ideal_a, elements.ideal_b, cast_to(self.real)(elements.ideal_emf))
        reference = first_of(island, np.arange(circuit.nodes, dtype=np.intp), count)
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
        parts = Islands(sealed(island), sealed(reference), sealed(dead), sealed(floating))
        return parts, tuple(contradictions), usable, joints

    def _make_factor(self) -> None:
        """Factor the matrix; where pivots on its diagonal do badly, with pivoting."""
        if not self.size:
            return
        for pivoting in (False, True):
            try:
                factor = Lu(self.matrix, pivoting=pivoting)
            except RuntimeError:
                continue
            probe = np.ones(self.size, self.right.dtype)
            target = self.matrix @ probe + self.scale
            if np.allclose(self.matrix @ factor.solve(target), target, rtol=1e-6, atol=1e-6 * np.abs(target).max()):
                self._lu = factor
                return
        self.singular = True

    def _linear(self, right: Numbers) -> Numbers:
        return self._lu.solve(right) if self._lu is not None else np.zeros_like(right)

    def solve(self, demand: LoadSet) -> Solution:
        """Solve with a load set whose matrix this is."""
        cast = cast_to(self.real)
        live = self.usable[self.islands.of_node[demand.a]] & ~self.bridging
        constant = np.flatnonzero(live & (demand.current != 0))
        current = cast(demand.current)
        right = self.right - self._between(demand, constant).sums(current[constant])
        x = self._linear(right)
        x = x + self._linear(right - self.matrix @ x)
        powered = np.flatnonzero(live & (demand.power != 0))
        unloaded = np.abs(self._voltages(x)[demand.a] - self._voltages(x)[demand.b])[powered]
        starved = unloaded < FED * demand.nominal[powered]
        powers = Powers(
            loads=powered,
            power=np.where(starved, 0.0, cast(demand.power[powered])),
            y=np.where(starved, cast(demand.nominal_y[powered]), 0.0),
            unloaded=unloaded,
            least=np.where(starved, demand.nominal[powered], 0.0),
            gap=self.fixed[demand.a[powered]] - self.fixed[demand.b[powered]],
            between=self._between(demand, powered),
            matrix=self.matrix,
            right=right,
            rows=np.arange(self.size, dtype=np.intp),
        )
        state = Progress(x, iterations=2)
        if len(powered) and not self.singular:
            settle(powers, self.islands.of_node[demand.a[powered]], self.unknown_island, self._linear, state)
        return self._result(demand, powers, state, np.concatenate((np.flatnonzero(self.bridging), powered[starved])))

    def _voltages(self, x: Numbers) -> Numbers:
        known = self.fixed
        if not self.size:
            return known
        voltages: Numbers = np.where(self.unknown >= 0, x[self.unknown], 0.0) + known
        return voltages

    def _between(self, demand: LoadSet, loads: Indices) -> Incidence:
        return Incidence(self.size, self.unknown[demand.a[loads]], self.unknown[demand.b[loads]])

    def _result(self, demand: LoadSet, powers: Powers, state: Progress, as_impedance: Indices) -> Solution:
        elements, islands = self.elements, self.islands
        voltages = self._voltages(state.x)
        branch = self.branch_y * (voltages[elements.branch_a] - voltages[elements.branch_b])
        source = self.source_y * (self.source_emf - (voltages[elements.source_a] - voltages[elements.source_b]))
        load_voltages = voltages[demand.a] - voltages[demand.b]
        load = self.load_y * load_voltages
        live = self.usable[islands.of_node[demand.a]] & ~self.bridging
        load = load + np.where(live, cast_to(self.real)(demand.current), 0.0)
        load[powers.loads] += powers.currents(load_voltages[powers.loads])
        drawn: Numbers = np.zeros(self.circuit.nodes, voltages.dtype)
        for a, b, current in (
            (elements.branch_a, elements.branch_b, branch),
            (elements.source_b, elements.source_a, source),
            (demand.a, demand.b, load),
        ):
            drawn += sums_at(self.circuit.nodes, a, b, current)
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
            node_voltages=as_phasors(voltages),
            branch_currents=as_phasors(branch),
            contact_currents=as_phasors(contact),
            source_currents=as_phasors(source),
            load_voltages=as_phasors(load_voltages),
            load_currents=as_phasors(load),
            load_powers=as_phasors(load_voltages * np.conj(load)),
            islands=islands,
            residual_a=float(residual.max()),
            iterations=state.iterations,
            as_impedance=tuple(sorted(as_impedance.tolist())),
            contradictions=self.contradictions,
            collapses=tuple(state.collapses),
        )
