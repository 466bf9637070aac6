"""Chosen entries of the inverse of a sparse symmetric matrix, without the inverse: selected inversion.

The matrix is factored once as L D Lᵀ in an order that keeps L sparse. From L D Lᵀ Z = 1 follows, for lo <= hi in that
order,

    Z[lo, hi] = (1 / d[lo] if lo == hi else 0) - sum over the entries k of column lo of L of  L[k, lo] * Z[k, hi]

the recurrence of Takahashi, Fagan and Chin (1973), and Erisman and Tinney (1975). Every k is an ancestor of lo in
the elimination tree, so each entry needs only entries nearer to the root. Diagonal entries need none outside of the
pattern of L; an entry that is outside needs a path up the tree. `Inverse.entries` first finds what the wanted entries
need, and then computes level by level from the root down, each level at once. The matrix may be complex; it is
symmetric then, not Hermitian.

This module imports NumPy and SciPy; import it where it is needed.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

Indices = npt.NDArray[np.intp]
Numbers = npt.NDArray[Any]  # float64 or complex128

_BLOCK = 256  # columns solved at a time where the factor is not symmetric


class Inverse:
    """The inverse of a symmetric matrix, entry by entry. Raises RuntimeError for a matrix that is exactly singular."""

    def __init__(self, matrix: Any) -> None:
        self.size: int = matrix.shape[0]
        options = {"SymmetricMode": True}
        self._matrix = csc_array(matrix)
        self._factors: Any = splu(self._matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
        #: Place of each row in the order of elimination.
        self._place: Indices = self._factors.perm_c.astype(np.intp)
        #: Whether every pivot lies on the diagonal, so that the factors are L D Lᵀ.
        self.symmetric = bool(np.array_equal(self._factors.perm_r, self._factors.perm_c))
        self._pivot: Numbers = np.zeros(0)
        if self.symmetric:
            self._read_factor()

    def _read_factor(self) -> None:
        """Keep L below its diagonal by columns, D, and the depth of each column in the elimination tree."""
        lower = self._factors.L
        size = self.size
        column = np.repeat(np.arange(size, dtype=np.intp), np.diff(lower.indptr))
        below = (lower.indices > column) & (lower.data != 0)
        self._row: Indices = lower.indices[below].astype(np.intp)
        self._value: Numbers = lower.data[below]
        self._count: Indices = np.bincount(column[below], minlength=size).astype(np.intp)
        self._start: Indices = np.concatenate(([0], np.cumsum(self._count)[:-1])).astype(np.intp)
        self._pivot = self._factors.U.diagonal()
        parent = np.full(size, -1, np.intp)
        has = np.flatnonzero(self._count)
        if len(has):
            parent[has] = np.minimum.reduceat(self._row, self._start[has])
        self._depth: Indices = _depths(parent)

    def solve(self, right: Numbers) -> Numbers:
        """The inverse times one vector, or times each column of a matrix."""
        if np.iscomplexobj(right) and not np.iscomplexobj(self._matrix.data):
            both: Numbers = self._factors.solve(right.real.copy()) + 1j * self._factors.solve(right.imag.copy())
            return both
        solved: Numbers = self._factors.solve(right.astype(self._matrix.dtype, copy=False))
        return solved

    def entries(self, a: Indices, b: Indices) -> Numbers:
        """The entries of the inverse in rows `a` and columns `b`, pair by pair."""
        if not len(a):
            return np.zeros(0, self._matrix.dtype)
        if not self.symmetric:
            return self._by_columns(a, b)
        one, two = self._place[a], self._place[b]
        wanted = np.minimum(one, two) * self.size + np.maximum(one, two)
        levels = self._needed(_distinct(wanted))
        keys = np.concatenate([level[0] for level in levels])
        order = np.argsort(keys)
        ranked = keys[order]
        value = np.zeros(len(keys), self._matrix.dtype)
        first = 0
        for level, needs, ends, numbers in levels:
            last = first + len(level)
            lo = level // self.size
            found = np.where(lo == level % self.size, 1 / self._pivot[lo], 0)
            if len(needs):
                terms = numbers * value[order[np.searchsorted(ranked, needs)]]
                found[ends >= 0] -= np.add.reduceat(terms, ends[ends >= 0])
            value[first:last] = found
            first = last
        return value[order[np.searchsorted(ranked, wanted)]]

    def _needed(self, wanted: Indices) -> list[tuple[Indices, Indices, Indices, Numbers]]:
        """What the wanted entries need, themselves included, from the root down.

        Each level has its entries (as lo * size + hi), the entries that they need, where among those each one's
        begin (-1: it needs none), and the factors of those.
        """
        size, depth = self.size, self._depth
        waiting: dict[int, list[Indices]] = {}

        def put(keys: Indices) -> None:
            level = depth[keys // size] + depth[keys % size]
            order = np.argsort(level, kind="stable")
            level, keys = level[order], keys[order]
            cuts = np.flatnonzero(np.diff(level)) + 1
            for part in np.split(keys, cuts) if len(keys) else ():
                waiting.setdefault(int(depth[part[0] // size] + depth[part[0] % size]), []).append(part)

        put(wanted)
        levels = []
        for number in range(max(waiting, default=-1), -1, -1):
            parts = waiting.pop(number, None)
            if parts is None:
                continue
            keys = _distinct(np.concatenate(parts))
            lo, hi = keys // size, keys % size
            count = self._count[lo]
            total = int(count.sum())
            begin = np.cumsum(count) - count
            position = np.arange(total) + np.repeat(self._start[lo] - begin, count)
            up, other = self._row[position], np.repeat(hi, count)
            needs = np.minimum(up, other) * size + np.maximum(up, other)
            if total:
                put(_distinct(needs))
            levels.append((keys, needs, np.where(count > 0, begin, -1), self._value[position]))
        return levels[::-1]

    def _by_columns(self, a: Indices, b: Indices) -> Numbers:
        """The same by whole columns, where a zero on the diagonal forced other pivots."""
        found = np.zeros(len(a), self._matrix.dtype)
        columns, which = np.unique(b, return_inverse=True)
        for first in range(0, len(columns), _BLOCK):
            part = columns[first : first + _BLOCK]
            right = np.zeros((self.size, len(part)), self._matrix.dtype)
            right[part, np.arange(len(part))] = 1
            solved = self.solve(right)
            mine = (which >= first) & (which < first + len(part))
            found[mine] = solved[a[mine], which[mine] - first]
        return found


def _depths(parent: Indices) -> Indices:
    """How many ancestors each node of a forest has; -1 is the parent of a root. Each round looks twice as far up."""
    ahead = np.append(parent, -1)  # what is past a root stays there: -1 is the last place
    depth = (ahead >= 0).astype(np.intp)
    while np.any(ahead >= 0):
        depth += depth[ahead]
        ahead = ahead[ahead]
    return depth[:-1]


def _distinct(keys: Indices) -> Indices:
    """Each key once, in order: by sorting, which is several times as fast here as np.unique."""
    ranked = np.sort(keys)
    first = np.ones(len(ranked), np.bool_)
    np.not_equal(ranked[1:], ranked[:-1], out=first[1:])
    found: Indices = ranked[first]
    return found
