"""Contacts and ideal sources taken out of a circuit: nodes without resistance between them are one unknown."""

from __future__ import annotations

import numpy as np

from vesselspec.physics.steady.arrays import Indices, Numbers
from vesselspec.physics.steady.matrices import Incidence, Lu, components


class Joints:
    """The contacts and ideal sources: which nodes they make one, the voltages between those, and their currents."""

    def __init__(self, nodes: int, a: Indices, b: Indices, emf: Numbers) -> None:
        self.count, self.of_node = components(nodes, (a, b)) if len(a) else (nodes, np.arange(nodes, dtype=np.intp))
        self.offset: Numbers = np.zeros(nodes, emf.dtype)
        self.misfit = np.zeros(len(a))
        self._solver: Lu | None = None
        self._elements = Incidence(nodes, a, b)
        if not len(a):
            return
        _, first = np.unique(self.of_node, return_index=True)
        free = np.ones(nodes, np.bool_)
        free[first] = False
        self._free = np.flatnonzero(free)
        if len(self._free):
            grounded = self._elements.part(self._free, np.ones(len(a), np.bool_))
            self._solver = Lu(grounded.nodal(np.ones(len(a))))
            if np.any(emf):
                self.offset[self._free] = self._solver.solve(grounded.sums(emf))
        self.misfit = np.abs(self._elements.across(self.offset) - emf)

    def currents(self, drawn: Numbers) -> Numbers:
        """Current of each element from its a to its b, where every other element draws `drawn` from the nodes."""
        if self._solver is None:
            return np.zeros(len(self.misfit), drawn.dtype)
        potential = np.zeros_like(drawn)
        for _ in range(2):  # the second time for the rounding of the first
            left = drawn + self._elements.sums(self._elements.across(potential))
            potential[self._free] -= self._solver.solve(left[self._free])
        return self._elements.across(potential)

    def sum_at_nodes(self, currents: Numbers) -> Numbers:
        """What these currents sum to at every node."""
        return self._elements.sums(currents)
