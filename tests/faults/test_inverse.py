"""Selected inversion against the dense inverse and against one solve per entry."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix, csc_array
from scipy.sparse.linalg import splu

from vesselspec.physics.faults.inverse import Inverse


def network(seed: int, nodes: int, loops: int, *, phasors: bool) -> Any:
    """A random nodal matrix: a tree to earth, with so many branches more."""
    rng = random.Random(seed)
    pairs = [(node, rng.randrange(max(0, node - 12), node)) for node in range(1, nodes)]
    pairs += [(a, b) for a, b in (rng.sample(range(nodes), 2) for _ in range(loops if nodes > 1 else 0))]
    y = np.array([10 ** rng.uniform(0, 3) for _ in pairs])
    values = y * np.exp(-1j * np.array([rng.uniform(0, 1.4) for _ in pairs])) if phasors else y
    a, b = (np.array([pair[side] for pair in pairs], np.intp) for side in (0, 1))
    earth = np.zeros(nodes, values.dtype)
    earth[0] = 50.0
    rows = np.concatenate((a, b, a, b, np.arange(nodes)))
    columns = np.concatenate((b, a, a, b, np.arange(nodes)))
    data = np.concatenate((-values, -values, values, values, earth))
    return csc_array(coo_matrix((data, (rows, columns)), shape=(nodes, nodes)))


@settings(max_examples=120, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 90), st.integers(0, 25), st.booleans())
def test_every_entry_is_that_of_the_dense_inverse(seed: int, nodes: int, loops: int, phasors: bool) -> None:
    matrix = network(seed, nodes, loops, phasors=phasors)
    inverse = Inverse(matrix)
    assert inverse.symmetric
    a, b = (grid.ravel() for grid in np.meshgrid(np.arange(nodes), np.arange(nodes)))
    dense = np.linalg.inv(matrix.toarray())
    assert np.abs(inverse.entries(a, b) - dense[a, b]).max() <= 1e-9 * np.abs(dense).max()


@pytest.mark.parametrize("phasors", [False, True])
def test_a_few_entries_of_a_large_network_are_those_of_a_solve_each(phasors: bool) -> None:
    matrix = network(7, 3000, 60, phasors=phasors)
    rng = np.random.default_rng(1)
    a, b = rng.integers(0, 3000, 40), rng.integers(0, 3000, 40)
    found = Inverse(matrix).entries(a, b)
    solver = splu(csc_array(matrix))
    for row, column, entry in zip(a, b, found, strict=True):
        unit = np.zeros(3000, matrix.dtype)
        unit[column] = 1
        assert entry == pytest.approx(solver.solve(unit)[row], rel=1e-9)


def test_entries_may_repeat_and_be_none() -> None:
    inverse = Inverse(network(3, 30, 4, phasors=False))
    twice = inverse.entries(np.array([4, 9, 4]), np.array([9, 4, 9]))
    assert twice[0] == twice[1] == twice[2]
    assert len(inverse.entries(np.zeros(0, np.intp), np.zeros(0, np.intp))) == 0


def test_a_long_chain_is_no_trouble() -> None:
    nodes = 5000
    main = np.full(nodes, 2.0)
    off = np.full(nodes - 1, -1.0)
    index = np.arange(nodes)
    chain = csc_array(
        coo_matrix(
            (
                np.concatenate((main, off, off)),
                (np.concatenate((index, index[1:], index[:-1])), np.concatenate((index, index[:-1], index[1:]))),
            ),
            shape=(nodes, nodes),
        )
    )
    # The inverse of that matrix is known: min(i, j) (n + 1 - max(i, j)) / (n + 1), counted from 1.
    a, b = np.array([0, 10, 4999, 2500]), np.array([0, 4000, 4999, 2501])
    low, high = np.minimum(a, b) + 1, np.maximum(a, b) + 1
    assert Inverse(chain).entries(a, b) == pytest.approx(low * (nodes + 1 - high) / (nodes + 1), rel=1e-9)


def test_a_zero_on_the_diagonal_is_worked_round() -> None:
    matrix = csc_array(np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.5], [0.0, 0.5, 2.0]]))
    inverse = Inverse(matrix)
    assert not inverse.symmetric
    a, b = (grid.ravel() for grid in np.meshgrid(np.arange(3), np.arange(3)))
    assert inverse.entries(a, b) == pytest.approx(np.linalg.inv(matrix.toarray())[a, b])


def test_a_singular_matrix_is_refused() -> None:
    with pytest.raises(RuntimeError, match="singular"):
        Inverse(csc_array(np.array([[1.0, -1.0], [-1.0, 1.0]])))


def test_a_complex_right_side_on_a_real_matrix() -> None:
    matrix = network(5, 20, 3, phasors=False)
    right = np.arange(20) + 1j
    assert matrix @ Inverse(matrix).solve(right) == pytest.approx(right)
