"""Sparse matrices of a circuit: what is connected, incidence, nodal admittances, and their factors."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix, csc_array, csr_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from vesselspec.physics.steady.arrays import Indices, Numbers


def components(nodes: int, *edges: tuple[Indices, Indices]) -> tuple[int, Indices]:
    """How many connected parts the edges make of the nodes, and the part of each node."""
    a = np.concatenate([edge[0] for edge in edges])
    b = np.concatenate([edge[1] for edge in edges])
    graph = csr_array((np.ones(len(a), np.int8), (a, b)), shape=(nodes, nodes))
    count, of_node = connected_components(graph, directed=False)
    return int(count), of_node.astype(np.intp)


def incidence(rows: int, a: Indices, b: Indices) -> Any:
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


def nodal_matrix(size: int, a: Indices, b: Indices, y: Numbers) -> Any:
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
