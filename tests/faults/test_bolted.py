"""Bolted faults against a dense solve for each pair, against the steady state, and by what must hold of any network."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.oracles.networks import SHAPES
from vesselspec.physics.faults.bolted import Faults, Net, faults
from vesselspec.physics.steady.circuit import Branch, Circuit, Contact, Source
from vesselspec.physics.steady.nodal import solve

from .shorts import SHORT_OHM, drawn, found, stiffened, with_short

SEEDS = st.integers(0, 10**6)
SHAPE = st.sampled_from(sorted(SHAPES))


def one(circuit: Circuit, a: int, b: int) -> Faults:
    return faults(Net.of(circuit), np.array([a]), np.array([b]))


def every_pair(nodes: int) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    a, b = np.triu_indices(nodes, 1)
    return a.astype(np.intp), b.astype(np.intp)


@settings(max_examples=60, deadline=None)
@given(SHAPE, SEEDS)
def test_all_pairs_against_a_dense_solve_each(shape: str, seed: int) -> None:
    """Thévenin by brute force: a dense matrix, contacts as 1e9 S, 1 A between the two nodes."""
    circuit = replace(stiffened(SHAPES[shape](seed)), contacts=())
    nodes = circuit.nodes
    matrix = np.zeros((nodes, nodes), complex)
    drive = np.zeros(nodes, complex)
    for branch in circuit.branches:
        _stamp(matrix, branch.a, branch.b, 1 / branch.z)
    for source in circuit.sources:
        _stamp(matrix, source.plus, source.minus, 1 / source.z)
        drive[source.plus] += source.emf / source.z
        drive[source.minus] -= source.emf / source.z
    live = np.abs(matrix).sum(0) > 0
    live[0] = False
    inverse = np.zeros((nodes, nodes), complex)
    index = np.flatnonzero(live)
    if np.linalg.matrix_rank(matrix[np.ix_(index, index)]) < len(index):
        return  # open contacts left a part without earth; the islands have their own test
    inverse[np.ix_(index, index)] = np.linalg.inv(matrix[np.ix_(index, index)])
    volts = inverse @ drive
    a, b = every_pair(nodes)
    joined = (live[a] | (a == 0)) & (live[b] | (b == 0))
    mine = faults(Net.of(circuit), a[joined], b[joined], given=False)
    a, b = a[joined], b[joined]
    z = inverse[a, a] + inverse[b, b] - inverse[a, b] - inverse[b, a]
    assert np.abs(mine.z - z).max() <= 1e-9 * np.abs(z).max()
    assert np.abs(mine.volts - (volts[a] - volts[b])).max() <= 1e-9 * np.abs(volts).max()


def _stamp(matrix: npt.NDArray[np.complex128], a: int, b: int, y: complex) -> None:
    matrix[a, a] += y
    matrix[b, b] += y
    matrix[a, b] -= y
    matrix[b, a] -= y


@settings(max_examples=60, deadline=None)
@given(SHAPE, SEEDS)
def test_the_steady_state_with_a_short_in_it(shape: str, seed: int) -> None:
    """The solver of the steady state, given the short as a resistance of one microhm."""
    circuit, a, b = drawn(shape, seed)
    mine = found(circuit, a, b)
    shorted = solve(with_short(circuit, a, b))
    scale = max(float(np.abs(shorted.source_currents).max()), 1.0)
    assert abs(mine.volts[0] / (mine.z[0] + SHORT_OHM) - shorted.contact_currents[-1]) <= 1e-6 * scale


@settings(max_examples=60, deadline=None)
@given(SHAPE, SEEDS)
def test_reciprocity_and_the_sum_of_what_sources_give(shape: str, seed: int) -> None:
    circuit, a, b = drawn(shape, seed)
    there, back = one(circuit, a, b), one(circuit, b, a)
    assert there.z[0] == pytest.approx(back.z[0], rel=1e-9)
    assert there.amps[0] == pytest.approx(-back.amps[0], rel=1e-9, abs=1e-9)
    # The power before the fault, and with it, balances: sum of E I = sum of Z I² is checked through the solver's own
    # currents; here the sources' currents must be those of a solved circuit in which a contact is the fault.
    bolted = solve(replace(circuit, contacts=(*circuit.contacts, Contact(a, b))))
    scale = max(float(np.abs(bolted.source_currents).max()), 1.0)
    assert np.abs(there.given[:, 0] - bolted.source_currents).max() <= 1e-7 * scale


@settings(max_examples=80, deadline=None)
@given(SEEDS, st.floats(0.001, 1.0))
def test_a_source_more_never_lowers_a_fault(seed: int, ohm: float) -> None:
    """DC, equal emfs and so no current before the fault."""
    circuit, a, _ = drawn("dc", seed)
    volts = max(abs(source.emf) for source in circuit.sources)
    even = replace(circuit, sources=tuple(replace(source, emf=volts) for source in circuit.sources))
    plus, minus = even.sources[0].plus, even.sources[0].minus
    more = replace(even, sources=(*even.sources, Source(plus, minus, volts, ohm)))
    for node in {a, plus, circuit.branches[-1].b}:
        before, after = one(even, node, minus), one(more, node, minus)
        assert abs(after.amps[0]) >= abs(before.amps[0]) * (1 - 1e-9) - 1e-6


@settings(max_examples=80, deadline=None)
@given(SEEDS, st.floats(1.0, 50.0), st.data())
def test_a_longer_cable_never_raises_a_fault(seed: int, factor: float, data: st.DataObject) -> None:
    circuit, a, b = drawn("dc", seed)
    volts = max(abs(source.emf) for source in circuit.sources)
    even = replace(circuit, sources=tuple(replace(source, emf=volts) for source in circuit.sources))
    number = data.draw(st.integers(0, len(circuit.branches) - 1))
    longer = [replace(x, z=x.z * factor) if n == number else x for n, x in enumerate(even.branches)]
    before, after = one(even, a, b), one(replace(even, branches=tuple(longer)), a, b)
    assert abs(after.z[0]) >= abs(before.z[0]) * (1 - 1e-9)
    start = even.sources[0]
    at = [abs(one(each, a, start.minus).amps[0]) for each in (even, replace(even, branches=tuple(longer)))]
    assert at[1] <= at[0] * (1 + 1e-9) + 1e-6 or len(even.sources) > 1


@given(st.floats(1e-4, 1.0), st.floats(5, 400), st.floats(1e-6, 0.5))
def test_no_length_is_the_level_of_the_source(r: float, volts: float, cable: float) -> None:
    """A 12 V block of 5 mohm gives 2400 A at its terminals whatever hangs on it; a contact adds nothing."""
    circuit = Circuit(4, (Branch(2, 3, cable),), (Contact(1, 2),), (Source(1, 0, volts, r),), (), (0,))
    assert one(circuit, 1, 0).amps[0] == pytest.approx(volts / r)
    assert one(circuit, 2, 0).amps[0] == pytest.approx(volts / r)
    assert one(circuit, 3, 0).amps[0] == pytest.approx(volts / (r + cable))


def test_an_ideal_source_limits_nothing_and_is_seen_through() -> None:
    circuit = Circuit(3, (Branch(1, 2, 0.01),), (), (Source(1, 0, 24.0),), (), (0,))
    here = faults(Net.of(circuit), np.array([1, 2, 1]), np.array([0, 0, 2]))
    assert np.isinf(here.amps[0])
    assert here.amps[1] == pytest.approx(2400)
    assert here.amps[2] == 0
    assert np.isnan(here.given[0]).all()


def test_ideal_sources_in_series_and_a_stiff_one_beside_them() -> None:
    """Two of 12 V in series and one of 24 V with 10 mohm: at the far end of 5 mohm the ideal ones give it all."""
    circuit = Circuit(
        4, (Branch(2, 3, 0.005),), (), (Source(1, 0, 12.0), Source(2, 1, 12.0), Source(2, 0, 24.0, 0.01)), (), (0,)
    )
    far = one(circuit, 3, 0)
    assert far.amps[0] == pytest.approx(4800)
    assert far.given[2, 0] == pytest.approx(0)
    assert one(circuit, 3, 1).volts[0] == pytest.approx(12.0)


def test_parts_that_nothing_joins() -> None:
    circuit = Circuit(5, (Branch(3, 4, 0.1),), (), (Source(1, 0, 12.0, 0.01),), (), (0,))
    apart = faults(Net.of(circuit), np.array([1, 3, 1]), np.array([3, 4, 2]))
    assert not apart.amps.any()
    assert np.isinf(apart.z[[0, 2]]).all()
    assert not apart.given.any()


def test_no_source_and_no_pairs() -> None:
    circuit = Circuit(2, (Branch(0, 1, 1.0),), (), (), (), (0,))
    assert not one(circuit, 0, 1).amps.any()
    assert len(faults(Net.of(circuit), np.zeros(0, np.intp), np.zeros(0, np.intp)).amps) == 0


def test_a_fault_between_joined_nodes_drives_nothing() -> None:
    circuit = Circuit(3, (), (Contact(1, 2),), (Source(1, 0, 12.0, 0.01),), (), (0,))
    assert one(circuit, 1, 2).amps[0] == 0
