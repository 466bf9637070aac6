"""Contacts and ideal sources taken out of a circuit: nodes without resistance between them are one unknown."""

from __future__ import annotations

from typing import Any

import numpy as np

from vesselspec.physics.steady.arrays import Indices, Numbers
from vesselspec.physics.steady.matrices import Lu, components, incidence


class Joints:
    """The contacts and ideal sources: which nodes they make one, the voltages between those, and their currents."""

    def __init__(self, nodes: int, a: Indices, b: Indices, emf: Numbers) -> None:
        self.count, self.of_node = components(nodes, (a, b)) if len(a) else (nodes, np.arange(nodes, dtype=np.intp))
        self.offset: Numbers = np.zeros(nodes, emf.dtype)
        self.misfit = np.zeros(len(a))
        self._solver: Any = None
        self._incidence: Any = None
        if not len(a):
            return
        _, first = np.unique(self.of_node, return_index=True)
        free = np.ones(nodes, np.bool_)
        free[first] = False
        self._incidence = incidence(nodes, a, b)
        self._free = np.flatnonzero(free)
        if len(self._free):
            grounded = self._incidence[self._free]
            self._solver = Lu(grounded @ grounded.T)
            if np.any(emf):
                self.offset[self._free] = self._solver.solve(grounded @ emf)
        self.misfit = np.abs(self._incidence.T @ self.offset - emf)

    def currents(self, drawn: Numbers) -> Numbers:
        """Current of each element from its a to its b, where every other element draws `drawn` from the nodes."""
        if self._solver is None:
            return np.zeros(len(self.misfit), drawn.dtype)
        potential = np.zeros_like(drawn)
        for _ in range(2):  # the second time for the rounding of the first
            left = drawn + self._incidence @ (self._incidence.T @ potential)
            potential[self._free] -= self._solver.solve(left[self._free])
        result: Numbers = self._incidence.T @ potential
        return result

    def sum_at_nodes(self, currents: Numbers) -> Numbers | float:
        """What these currents sum to at every node."""
        return 0.0 if self._incidence is None else self._incidence @ currents
