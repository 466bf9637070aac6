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

`elements` holds circuit and loads as arrays, `joints` what is without resistance, `system` the matrix of a topology,
`powers` the iteration of constant powers, `solution` what comes out. This file is the way in.

This module imports NumPy and SciPy; import it where it is needed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vesselspec.physics.steady.circuit import Circuit, Load
from vesselspec.physics.steady.elements import Elements, LoadSet
from vesselspec.physics.steady.solution import Islands, Solution, unsolvable
from vesselspec.physics.steady.system import NodalSystem

__all__ = ["Factor", "Islands", "Solution", "solve"]


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
        self._elements = Elements.of(circuit)
        self._systems: dict[bytes, NodalSystem] = {}

    def solve(self, loads: Sequence[Load] | None = None) -> Solution:
        """Solve with these loads, or with the circuit's own."""
        demand = LoadSet.of(self.circuit.loads if loads is None else loads, self.circuit.nodes)
        problems = self._elements.problems + demand.problems
        if problems:
            return unsolvable(self.circuit, len(demand.a), problems)
        real = self._elements.real and demand.real
        key = demand.key(real)
        system = self._systems.get(key)
        if system is not None and np.any(system.bridging):
            # What such loads draw is part of the matrix.
            key += demand.nominal_y[system.bridging].tobytes()
            if not np.array_equal(system.bridging_y, demand.nominal_y[system.bridging]):
                system = self._systems.get(key)
        if system is None:
            system = self._systems[key] = NodalSystem(self.circuit, self._elements, demand, real)
        return system.solve(demand)
