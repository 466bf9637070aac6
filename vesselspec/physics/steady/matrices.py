"""Sparse matrices of a circuit: what is connected, incidence, nodal admittances, and their factors."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array, csr_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from vesselspec.physics.steady.arrays import Bools, Indices, Numbers, sums_at


def components(nodes: int, *edges: tuple[Indices, Indices]) -> tuple[int, Indices]:
    """How many connected parts the edges make of the nodes, and the part of each node."""
    a = np.concatenate([edge[0] for edge in edges])
    b = np.concatenate([edge[1] for edge in edges])
    graph = csr_array((np.ones(len(a), np.int8), (a, b)), shape=(nodes, nodes))
    count, of_node = connected_components(graph, directed=False)
    return int(count), of_node.astype(np.intp)


class Incidence:
    """What lies between the nodes of a system: every element runs from its a to its b; a node of -1 is none of them."""

    def __init__(self, nodes: int, a: Indices, b: Indices) -> None:
        self.nodes, self.a, self.b = nodes, a, b

    def sums(self, current: Numbers) -> Numbers:
        """Sum of the currents of the elements that leave each node."""
        return sums_at(self.nodes + 1, self.a + 1, self.b + 1, current)[1:]

    def across(self, voltage: Numbers) -> Numbers:
        """Voltage from a to b of each element; that of a node of -1 is 0."""
        padded = np.concatenate((np.zeros(1, voltage.dtype), voltage))
        across: Numbers = padded[self.a + 1] - padded[self.b + 1]
        return across

    def part(self, nodes: Indices, elements: Bools) -> Incidence:
        """Some of the elements, between some of the nodes, which are numbered anew in this order."""
        number = np.full(self.nodes + 1, -1, np.intp)  # what stands last is that of -1
        number[nodes] = np.arange(len(nodes))
        return Incidence(len(nodes), number[self.a[elements]], number[self.b[elements]])

    def nodal(self, y: Numbers) -> Any:
        """Nodal matrix of one admittance for each element."""
        a, b = self.a >= 0, self.b >= 0
        both = a & b
        rows = np.concatenate((self.a[a], self.b[b], self.a[both], self.b[both]))
        columns = np.concatenate((self.a[a], self.b[b], self.b[both], self.a[both]))
        values = np.concatenate((y[a], y[b], -y[both], -y[both]))
        return csc_array((values, (rows, columns)), shape=(self.nodes, self.nodes))


class Lu:
    """Sparse LU factors. Raises RuntimeError for a matrix that is exactly singular."""

    def __init__(self, matrix: Any, *, pivoting: bool = False) -> None:
        self.matrix = csc_array(matrix)
        self._real = not np.iscomplexobj(self.matrix.data)
        if pivoting:
            self._factors: Any = splu(self.matrix)
        else:
            mode = {"SymmetricMode": True}
            self._factors = splu(self.matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=mode)

    def solve(self, right: Numbers) -> Numbers:
        """The solution for one right side, which may be complex where the matrix is real."""
        if self._real and np.iscomplexobj(right):
            both = self._factors.solve(np.column_stack((right.real, right.imag)))
            joined: Numbers = both[:, 0] + 1j * both[:, 1]
            return joined
        solved: Numbers = self._factors.solve(right)
        return solved

    def determinant_is_positive(self) -> bool:
        """Sign of the determinant of a real matrix."""
        negative = int(np.count_nonzero(self._factors.U.diagonal() < 0))
        return (negative + _parity(self._factors.perm_r) + _parity(self._factors.perm_c)) % 2 == 0


def _parity(permutation: npt.NDArray[Any]) -> int:
    size = len(permutation)
    cycles = components(size, (np.arange(size, dtype=np.intp), permutation.astype(np.intp)))[0]
    return (size - cycles) % 2
