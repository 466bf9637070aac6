"""The steady-state solver: laws that hold of any circuit, closed forms, and what it says where there is no answer."""

from __future__ import annotations

import cmath
import math
import random
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.physics.steady.circuit import Branch, Circuit, Contact, Load, Source
from vesselspec.physics.steady.nodal import Factor, Solution, solve
from vesselspec.physics.steady.system import NodalSystem

from .oracles.networks import ALL, LINEAR, SHAPES, split_phase, vessel

SHAPE = st.sampled_from(sorted(SHAPES))
SEED = st.integers(10_000, 30_000)
CLOSE = 1e-7
settings.register_profile("circuits", max_examples=40, deadline=None)
CIRCUITS = settings.get_profile("circuits")


def emf_of(circuit: Circuit) -> float:
    return max(abs(source.emf) for source in circuit.sources)


def assert_same(one: npt.NDArray[Any], two: npt.NDArray[Any], scale: float, within: float = CLOSE) -> None:
    assert len(one) == len(two)
    if len(one):
        assert float(np.abs(one - two).max()) <= within * scale


# --- Laws --------------------------------------------------------------------------------------------


@CIRCUITS
@given(SHAPE, SEED)
def test_kirchhoff_and_ohm(shape: str, seed: int) -> None:
    circuit = SHAPES[shape](seed)
    found = solve(circuit)
    if found.status != "solved":
        return
    v, leaving = found.node_voltages, np.zeros(circuit.nodes, np.complex128)
    amps = max(1.0, float(np.abs(found.branch_currents).max()), float(np.abs(found.source_currents).max()))
    volts = emf_of(circuit)
    for branch, current in zip(circuit.branches, found.branch_currents, strict=True):
        leaving[branch.a] += current
        leaving[branch.b] -= current
        assert abs(v[branch.a] - v[branch.b] - branch.z * current) <= 1e-9 * volts
    for contact, current in zip(circuit.contacts, found.contact_currents, strict=True):
        leaving[contact.a] += current
        leaving[contact.b] -= current
        assert v[contact.a] == v[contact.b]
    for source, current in zip(circuit.sources, found.source_currents, strict=True):
        leaving[source.plus] -= current
        leaving[source.minus] += current
        assert abs(v[source.plus] - v[source.minus] - source.emf + source.z * current) <= 1e-9 * volts
    for load, current in zip(circuit.loads, found.load_currents, strict=True):
        leaving[load.a] += current
        leaving[load.b] -= current
    assert float(np.abs(leaving).max()) <= 1e-8 * amps
    assert float(np.abs(leaving).max()) == pytest.approx(found.residual_a, abs=1e-11 * amps)
    assert v[0] == 0


@CIRCUITS
@given(SHAPE, SEED)
def test_power_in_is_power_out(shape: str, seed: int) -> None:
    """Tellegen: what the emfs give is what impedances and loads take."""
    circuit = SHAPES[shape](seed)
    found = solve(circuit)
    emf = np.array([source.emf for source in circuit.sources])
    inner = np.array([source.z for source in circuit.sources])
    z = np.array([branch.z for branch in circuit.branches])
    given_va = np.sum(emf * np.conj(found.source_currents))
    taken_va = (
        np.sum(z * np.abs(found.branch_currents) ** 2)
        + np.sum(inner * np.abs(found.source_currents) ** 2)
        + np.sum(found.load_powers)
    )
    assert abs(given_va - taken_va) <= 1e-7 * max(1.0, np.sum(np.abs(emf * found.source_currents)))


@CIRCUITS
@given(SHAPE, SEED)
def test_superposition_of_linear_circuits(shape: str, seed: int) -> None:
    """Each source by itself, and the constant currents by themselves, add up."""
    circuit = SHAPES[shape](seed, kinds=LINEAR)
    still = tuple(replace(load, current=0.0) if load.current is not None else load for load in circuit.loads)
    silent = tuple(replace(source, emf=0.0) for source in circuit.sources)
    parts = [solve(replace(circuit, sources=silent))]
    for index, source in enumerate(circuit.sources):
        alone = (*silent[:index], source, *silent[index + 1 :])
        parts.append(solve(replace(circuit, sources=alone, loads=still)))
    total = np.sum([part.node_voltages for part in parts], axis=0)
    assert_same(solve(circuit).node_voltages, total, emf_of(circuit), 1e-9)


@CIRCUITS
@given(SHAPE, SEED, st.integers(2, 5))
def test_a_split_load_is_the_whole_load(shape: str, seed: int, pieces: int) -> None:
    circuit = SHAPES[shape](seed)

    def piece(load: Load) -> Load:
        return replace(
            load,
            power=None if load.power is None else load.power / pieces,
            current=None if load.current is None else load.current / pieces,
            impedance=None if load.impedance is None else load.impedance * pieces,
        )

    split = replace(circuit, loads=tuple(piece(load) for load in circuit.loads for _ in range(pieces)))
    whole, parts = solve(circuit), solve(split)
    assert whole.status == parts.status
    if whole.status == "solved":
        assert_same(whole.node_voltages, parts.node_voltages, emf_of(circuit))
        assert_same(whole.load_powers, parts.load_powers.reshape(-1, pieces).sum(axis=1), 1e5)


@CIRCUITS
@given(SHAPE, SEED)
def test_order_and_numbers_do_not_matter(shape: str, seed: int) -> None:
    circuit = SHAPES[shape](seed)
    rng = random.Random(seed)
    number = list(range(circuit.nodes))
    rng.shuffle(number)

    def shuffled(elements: tuple[Any, ...]) -> tuple[list[int], tuple[Any, ...]]:
        order = list(range(len(elements)))
        rng.shuffle(order)
        return order, tuple(elements[index] for index in order)

    def moved(elements: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(replace(element, a=number[element.a], b=number[element.b]) for element in elements)

    branch_order, branches = shuffled(circuit.branches)
    contact_order, contacts = shuffled(circuit.contacts)
    load_order, loads = shuffled(circuit.loads)
    source_order, sources = shuffled(circuit.sources)
    other = Circuit(
        circuit.nodes,
        moved(branches),
        moved(contacts),
        tuple(replace(source, plus=number[source.plus], minus=number[source.minus]) for source in sources),
        moved(loads),
        tuple(number[node] for node in circuit.references),
    )
    one, two = solve(circuit), solve(other)
    assert one.status == two.status
    if one.status != "solved":
        return
    amps = max(1.0, float(np.abs(one.branch_currents).max()))
    assert_same(one.node_voltages, two.node_voltages[number], emf_of(circuit))
    assert_same(one.branch_currents[branch_order], two.branch_currents, amps)
    assert_same(one.contact_currents[contact_order], two.contact_currents, amps)
    assert_same(one.source_currents[source_order], two.source_currents, amps)
    assert_same(one.load_currents[load_order], two.load_currents, amps)


@CIRCUITS
@given(SHAPE, SEED, st.data())
def test_out_of_service_is_removed(shape: str, seed: int, data: st.DataObject) -> None:
    """A load that draws nothing, a core cut off at one end, and a part without tie change nothing."""
    circuit = SHAPES[shape](seed)
    if not circuit.loads:
        return
    gone = data.draw(st.integers(0, len(circuit.loads) - 1))
    load = circuit.loads[gone]
    idle = replace(load, power=0.0, current=None, impedance=None)
    n = circuit.nodes
    stays = replace(
        circuit,
        nodes=n + 3,
        loads=(*circuit.loads[:gone], idle, *circuit.loads[gone + 1 :]),
        branches=(*circuit.branches, Branch(load.a, n, 0.01), Branch(n + 1, n + 2, 0.01)),
    )
    removed = replace(circuit, loads=circuit.loads[:gone] + circuit.loads[gone + 1 :])
    one, two = solve(stays), solve(removed)
    assert one.status == two.status
    assert_same(one.node_voltages[:n], two.node_voltages, emf_of(circuit))
    assert one.load_currents[gone] == 0
    assert abs(one.node_voltages[n] - one.node_voltages[load.a]) <= 1e-9 * emf_of(circuit)


@CIRCUITS
@given(SHAPE, SEED, st.data())
def test_series_and_parallel_equivalents(shape: str, seed: int, data: st.DataObject) -> None:
    circuit = SHAPES[shape](seed)
    index = data.draw(st.integers(0, len(circuit.branches) - 1))
    share = data.draw(st.floats(0.1, 0.9))
    branch, rest = circuit.branches[index], circuit.branches[:index] + circuit.branches[index + 1 :]
    n = circuit.nodes
    series = replace(
        circuit,
        nodes=n + 1,
        branches=(*rest, Branch(branch.a, n, branch.z * share), Branch(n, branch.b, branch.z * (1 - share))),
    )
    parallel = replace(
        circuit, branches=(*rest, replace(branch, z=branch.z / share), replace(branch, z=branch.z / (1 - share)))
    )
    whole = solve(circuit)
    if whole.status == "solved":
        assert_same(whole.node_voltages, solve(series).node_voltages[:n], emf_of(circuit))
        assert_same(whole.node_voltages, solve(parallel).node_voltages, emf_of(circuit))


@CIRCUITS
@given(
    st.lists(st.floats(10, 3000), min_size=1, max_size=6),
    st.floats(0.005, 0.1),
    st.floats(0, 0.5),
    st.sampled_from(ALL),
)
def test_a_symmetric_split_phase_leaves_the_neutral_without_current(
    watts: list[float], ohm: float, tan: float, kind: str
) -> None:
    """Equal legs, equal loads: nothing flows in the neutral, and half of the line voltage lies on each leg."""
    z = complex(ohm, ohm / 2)
    sources = (Source(1, 0, 120.0, z), Source(2, 0, -120.0, z))
    branches, loads = [], []
    one, neutral, two = 1, 0, 2
    node = 3
    for power in watts:
        branches += [Branch(one, node, z), Branch(neutral, node + 1, z), Branch(two, node + 2, z)]
        one, neutral, two = node, node + 1, node + 2
        node += 3
        va = complex(power, power * tan)
        for line, volts in ((one, 120.0), (two, -120.0)):
            loads.append(
                {
                    "power": Load(line, neutral, volts, power=va),
                    "current": Load(line, neutral, volts, current=va.conjugate() / volts),
                    "impedance": Load(line, neutral, volts, impedance=volts**2 / va.conjugate()),
                }[kind]
            )
    found = solve(Circuit(node, tuple(branches), (), sources, tuple(loads), (0,)))
    if found.status == "solved":
        line_a = float(np.abs(found.branch_currents[::3]).max())
        assert float(np.abs(found.branch_currents[1::3]).max()) <= 1e-9 * line_a
        assert_same(found.load_voltages[::2], -found.load_voltages[1::2], 120.0)


# --- Contacts and ideal sources ----------------------------------------------------------------------


@CIRCUITS
@given(st.integers(0, 10_000))
def test_contacts_in_rings_share_as_equal_resistances_do(seed: int) -> None:
    """Contacts in any mesh against a dense solution of the same mesh of equal resistances."""
    rng = random.Random(seed)
    n = rng.randint(2, 8)
    pairs = [(rng.randrange(node), node) for node in range(1, n)]
    pairs += [tuple(rng.sample(range(n), 2)) for _ in range(rng.randint(0, 8))]  # type: ignore[misc]
    amps = np.array([rng.uniform(-50, 50) for _ in range(n)])
    loads = tuple(Load(node, n, 12.0, current=float(current)) for node, current in enumerate(amps))
    circuit = Circuit(n + 1, (), tuple(Contact(a, b) for a, b in pairs), (Source(0, n, 12.0, 0.001),), loads, (n,))
    found = solve(circuit)
    incidence = np.zeros((n, len(pairs)))
    for column, (a, b) in enumerate(pairs):
        incidence[a, column] += 1
        incidence[b, column] -= 1
    drawn = amps.copy()
    drawn[0] -= amps.sum()
    expected = incidence.T @ np.linalg.pinv(incidence @ incidence.T) @ -drawn
    assert_same(found.contact_currents, expected, 50.0, 1e-10)
    assert found.residual_a <= 1e-9


def test_a_thousand_contacts_beside_milliohms() -> None:
    """Currents of contacts keep all their digits, whatever flows beside them."""
    n = 1000
    contacts = tuple(Contact(0, 1 + index) for index in range(n))
    loads = tuple(Load(1 + index, n + 1, 12.0, current=1e-3 * (index + 1)) for index in range(n))
    found = solve(Circuit(n + 2, (), contacts, (Source(0, n + 1, 12.0, 1e-5),), loads, (n + 1,)))
    assert found.contact_currents.real == pytest.approx([1e-3 * (index + 1) for index in range(n)], rel=1e-9)


def test_ideal_sources_side_by_side_share_and_in_series_add() -> None:
    side = solve(Circuit(2, (), (), (Source(1, 0, 12.0), Source(1, 0, 12.0)), (Load(1, 0, 12.0, power=120.0),), (0,)))
    assert side.source_currents.real.tolist() == pytest.approx([5.0, 5.0])
    series = solve(Circuit(3, (), (), (Source(1, 0, 12.0), Source(2, 1, 12.0)), (Load(2, 0, 24.0, power=120.0),), (0,)))
    assert series.node_voltages.real.tolist() == pytest.approx([0.0, 12.0, 24.0])
    assert series.source_currents.real.tolist() == pytest.approx([5.0, 5.0])


def test_an_ideal_source_is_the_limit_of_a_small_impedance() -> None:
    for seed in range(20):
        circuit = split_phase(seed, kinds=LINEAR)
        ideal = replace(circuit, sources=tuple(replace(source, z=0.0) for source in circuit.sources))
        near = replace(circuit, sources=tuple(replace(source, z=1e-7) for source in circuit.sources))
        one, two = solve(ideal), solve(near)
        assert_same(one.node_voltages, two.node_voltages, 120.0, 1e-6)
        assert_same(one.source_currents, two.source_currents, float(np.abs(one.source_currents).max()), 1e-5)


@pytest.mark.parametrize(
    ("sources", "contacts", "fighting", "between"),
    [
        ((Source(1, 0, 12.0), Source(1, 0, 24.0)), (), (0, 1), ()),
        ((Source(1, 0, 12.0), Source(2, 0, 24.0)), (Contact(1, 2),), (0, 1), (0,)),
        ((Source(1, 0, 120.0), Source(2, 0, -120.0)), (Contact(1, 2),), (0, 1), (0,)),
        ((Source(1, 0, 12.0),), (Contact(1, 0),), (0,), (0,)),
        ((Source(1, 1, 12.0),), (), (0,), ()),
        ((Source(1, 0, 230.0), Source(1, 0, 230.0j)), (), (0, 1), ()),
    ],
)
def test_ideal_sources_that_fight(
    sources: tuple[Source, ...],
    contacts: tuple[Contact, ...],
    fighting: tuple[int, ...],
    between: tuple[int, ...],
) -> None:
    healthy = (Source(4, 3, 12.0, 0.01),)
    loads = (Load(1, 0, 12.0, power=10.0), Load(4, 3, 12.0, power=10.0))
    found = solve(Circuit(5, (), contacts, sources + healthy, loads, (0,)))
    assert found.status == "contradiction"
    assert [item.sources for item in found.contradictions] == [fighting]
    assert [item.contacts for item in found.contradictions] == [between]
    assert np.isnan(found.node_voltages[0])
    assert np.isnan(found.load_currents[0])
    # The island beside it is solved all the same.
    assert found.load_powers[1] == pytest.approx(10.0)
    assert found.residual_a <= 1e-9


# --- Constant powers and their limits ------------------------------------------------------------------


def one_load(power: complex, z: complex, emf: float = 12.0) -> Circuit:
    return Circuit(2, (), (), (Source(1, 0, emf, z),), (Load(1, 0, emf, power=power),), (0,))


@CIRCUITS
@given(st.floats(0.01, 0.99999), st.floats(0.001, 10.0), st.sampled_from([12.0, 48.0, 230.0]))
def test_one_dc_load_in_closed_form(share: float, r: float, emf: float) -> None:
    """v = E/2 + √(E²/4 − P·R), up to the greatest power E²/4R: always the upper of the two voltages."""
    found = solve(one_load(share * emf**2 / (4 * r), r, emf))
    assert found.status == "solved"
    expected = emf / 2 * (1 + math.sqrt(1 - share))
    assert found.load_voltages[0].real == pytest.approx(expected, rel=2e-9 / math.sqrt(1 - share))


def greatest(emf: float, z: complex, angle: float) -> float:
    """Greatest apparent power in VA of a load of that angle behind z: E² / (4 |Z| cos²((θ − φ)/2))."""
    return emf**2 / (4 * abs(z) * math.cos((cmath.phase(z) - angle) / 2) ** 2)


@CIRCUITS
@given(st.floats(0.01, 0.999), st.floats(0.001, 1.0), st.floats(0, 1.5), st.floats(-1.0, 1.2))
def test_one_ac_load_in_closed_form(share: float, size: float, turn: float, angle: float) -> None:
    """|v|² is the upper root of a quadratic in S, R and X."""
    z = cmath.rect(size, turn)
    power = cmath.rect(share * greatest(120.0, z, angle), angle)
    found = solve(one_load(power, z, 120.0))
    assert found.status == "solved"
    # v = E − Z·conj(S/v)  ⇒  |v|⁴ + |v|²·(2·Re(Z·conj S) − E²) + |Z·S|² = 0
    b, c = 2 * (z * power.conjugate()).real - 120.0**2, abs(z * power) ** 2
    upper = math.sqrt((-b + math.sqrt(max(b * b - 4 * c, 0.0))) / 2)
    assert abs(found.load_voltages[0]) == pytest.approx(upper, rel=1e-6)
    assert found.load_powers[0] == pytest.approx(power, rel=1e-9)


@pytest.mark.parametrize("over", [1.001, 1.05, 1.5, 4.0, 50.0])
@pytest.mark.parametrize(("z", "angle"), [(0.05, 0.0), (0.05 + 0.02j, 0.5), (0.01 + 0.05j, 0.6), (0.03 + 0.03j, -0.4)])
def test_a_collapse_names_the_load_and_the_power(over: float, z: complex, angle: float) -> None:
    limit = greatest(12.0, z, angle)
    found = solve(one_load(cmath.rect(limit * over, angle), z))
    assert found.status == "collapsed"
    (collapse,) = found.collapses
    assert collapse.load == 0
    assert collapse.scale <= 1 / over <= collapse.scale + 2 / 128
    assert collapse.power == pytest.approx(cmath.rect(limit * over, angle) * collapse.scale)
    # The figures are those of that power, and the voltage is still the upper one.
    assert found.load_powers[0] == pytest.approx(collapse.power, rel=1e-6)
    assert abs(found.load_voltages[0]) / 12.0 == pytest.approx(collapse.voltage_ratio)
    assert found.residual_a <= 1e-6 * abs(found.load_currents[0])


def test_a_collapse_leaves_other_islands_alone() -> None:
    weak = (Source(1, 0, 12.0, 0.05), Source(3, 2, 24.0, 0.01))
    loads = (Load(3, 2, 24.0, power=240.0), Load(1, 0, 12.0, power=5000.0), Load(1, 0, 12.0, power=1.0))
    found = solve(Circuit(4, (), (), weak, loads, (0,)))
    assert found.status == "collapsed"
    assert [collapse.load for collapse in found.collapses] == [1]
    assert found.load_powers[0] == pytest.approx(240.0)
    assert found.collapses[0].scale == pytest.approx(720 / 5001, abs=1 / 64)


def test_a_collapse_names_the_load_at_the_end_of_the_line() -> None:
    branches = tuple(Branch(node, node + 1, 0.02) for node in range(1, 6))
    loads = tuple(Load(node, 0, 12.0, power=60.0 if node < 6 else 400.0) for node in range(2, 7))
    found = solve(Circuit(7, branches, (), (Source(1, 0, 12.0, 0.01),), loads, (0,)))
    assert found.status == "collapsed"
    assert found.collapses[0].load == len(loads) - 1
    assert found.collapses[0].voltage_ratio == pytest.approx(float(np.abs(found.load_voltages).min()) / 12.0)


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_the_bound_of_a_collapse_holds_in_networks(shape: str) -> None:
    """At the scale found, the network is solved; 1/50 above it, it collapses again. Overloaded random networks."""
    seen = 0
    for seed in range(12):
        circuit = SHAPES[shape](500 + seed, kinds=("power",))
        heavy = tuple(replace(load, power=load.power * 150) for load in circuit.loads if load.power)
        found = solve(replace(circuit, loads=heavy))
        if found.status != "collapsed":
            continue
        seen += 1
        scale = found.collapses[0].scale

        def at(share: float, circuit: Circuit = circuit, heavy: tuple[Load, ...] = heavy) -> Solution:
            scaled = tuple(replace(load, power=(load.power or 0) * share) for load in heavy)
            return solve(replace(circuit, loads=scaled))

        assert scale == 0 or at(scale).status == "solved"
        assert at(scale + 1 / 50).status == "collapsed"
        assert found.residual_a <= 1e-5 * float(np.abs(found.source_currents).max())
    assert seen >= 6


def test_a_load_that_feeds_in_raises_the_voltage() -> None:
    found = solve(one_load(-100.0, 0.05))
    assert found.status == "solved"
    assert found.load_voltages[0].real == pytest.approx(6 + math.sqrt(36 + 5))
    assert found.source_currents[0].real < 0


def test_the_angle_of_nominal_does_not_matter_to_a_power() -> None:
    circuit = split_phase(7, kinds=("power",))
    turned = replace(circuit, loads=tuple(replace(load, nominal=load.nominal * 1j) for load in circuit.loads))
    assert_same(solve(circuit).node_voltages, solve(turned).node_voltages, 120.0, 1e-12)


# --- Islands, and loads without a stable state ----------------------------------------------------------


def test_islands_have_a_reference_each() -> None:
    sources = (Source(2, 1, 12.0, 0.01), Source(4, 3, 24.0, 0.01))
    branches = (Branch(0, 1, 0.01), Branch(5, 6, 1.0))
    found = solve(Circuit(8, branches, (), sources, (), (0, 6)))
    islands = found.islands
    assert found.status == "solved"
    assert islands.of_node[0] == islands.of_node[2]
    assert islands.reference[islands.of_node[2]] == 0
    assert islands.reference[islands.of_node[4]] == 3  # the minus pole of its first source
    assert islands.reference[islands.of_node[5]] == 6  # its preferred node
    assert islands.floating[islands.of_node].tolist() == [False, False, False, True, True, False, False, False]
    assert islands.dead[islands.of_node].tolist() == [False, False, False, False, False, True, True, True]
    assert found.node_voltages.real.tolist() == pytest.approx([0, 0, 12, 0, 24, 0, 0, 0])


def test_the_first_preferred_node_of_an_island_is_its_reference() -> None:
    circuit = Circuit(3, (Branch(0, 1, 1.0),), (), (Source(2, 1, 12.0, 1.0),), (), (1, 0))
    assert solve(circuit).islands.reference.tolist() == [1]
    assert solve(replace(circuit, references=(0, 1))).islands.reference.tolist() == [0]
    assert solve(replace(circuit, references=())).islands.floating.tolist() == [True]


@pytest.mark.parametrize("reference", [0, 1, 2, 3])
def test_the_reference_can_be_any_pole_of_ideal_sources(reference: int) -> None:
    """Voltages are measured against it, whichever node of the joined ones it is; nothing else changes."""
    sources = (Source(1, 0, 12.0), Source(2, 1, 12.0))
    load = (Load(3, 0, 24.0, power=100.0),)
    circuit = Circuit(4, (Branch(2, 3, 0.1),), (), sources, load, (reference,))
    found, usual = solve(circuit), solve(replace(circuit, references=(0,)))
    assert found.node_voltages[reference] == 0
    shifted = usual.node_voltages - usual.node_voltages[reference]
    assert_same(found.node_voltages, shifted, 24.0, 1e-9)
    assert_same(found.source_currents, usual.source_currents, 5.0, 1e-8)


def test_nothing_is_dead_quietly() -> None:
    found = solve(Circuit(3, (Branch(0, 1, 1.0),), (), (), (Load(1, 0, 12.0, power=5.0),), (0,)))
    assert found.status == "dead"
    assert not np.any(found.node_voltages)
    assert not np.any(found.load_currents)


@pytest.mark.parametrize("kind", ALL)
def test_an_open_return_is_live_through_its_load(kind: str) -> None:
    """The far side of a load whose return is cut lies at full voltage, and nothing flows."""
    load = {
        "power": Load(1, 2, 120.0, power=500 + 100j),
        "current": Load(1, 2, 120.0, current=4.0),
        "impedance": Load(1, 2, 120.0, impedance=30.0),
    }[kind]
    found = solve(Circuit(4, (Branch(2, 3, 0.1),), (), (Source(1, 0, 120.0, 0.1),), (load,), (0,)))
    assert found.status == "solved"
    assert found.node_voltages[3] == pytest.approx(120.0)
    assert abs(found.load_currents[0]) <= 1e-9
    assert found.as_impedance == (() if kind == "impedance" else (0,))
    assert not np.any(found.islands.dead)


def test_two_islands_tied_by_one_load() -> None:
    """A load between the positives of two banks without common negative: no current, and it is said."""
    sources = (Source(1, 0, 12.0, 0.01), Source(3, 2, 24.0, 0.01))
    found = solve(Circuit(4, (), (), sources, (Load(1, 3, 12.0, power=100.0),), (0,)))
    assert found.status == "solved"
    assert found.as_impedance == (0,)
    assert found.node_voltages.real.tolist() == pytest.approx([0, 12, -12, 12])
    assert len(found.islands.reference) == 1


def test_a_power_that_no_voltage_reaches_is_an_impedance() -> None:
    """Wired from line to the same line, or from neutral to earth, a load draws next to nothing."""
    branches = (Branch(1, 2, 0.1), Branch(1, 3, 0.1))
    loads = (Load(2, 3, 120.0, power=1500.0), Load(2, 0, 120.0, power=600.0))
    found = solve(Circuit(4, branches, (), (Source(1, 0, 120.0, 0.1),), loads, (0,)))
    assert found.status == "solved"
    assert found.as_impedance == (0,)
    assert abs(found.load_currents[0]) < 0.1
    assert found.load_powers[1] == pytest.approx(600.0)


def test_a_power_in_an_open_series_is_what_it_is_at_nominal_voltage() -> None:
    """Two reactive loads over a lost neutral, as powers, as currents, and as the impedances that they are at 120 V."""
    one, two = 300 + 200j, 500 - 100j
    sources = (Source(1, 0, 120.0, 0.01), Source(2, 0, -120.0, 0.01))

    def found(*loads: Load) -> Solution:
        return solve(Circuit(4, (), (), sources, loads, (0,)))

    z = [120.0**2 / va.conjugate() for va in (one, two)]
    ohms = found(Load(1, 3, 120.0, impedance=z[0]), Load(3, 2, 120.0, impedance=z[1]))
    powers = found(Load(1, 3, 120.0, power=one), Load(3, 2, 120.0, power=two))
    amps = found(Load(1, 3, 120.0, current=one.conjugate() / 120), Load(3, 2, 120.0, current=two.conjugate() / 120))
    assert powers.as_impedance == amps.as_impedance == (0, 1)
    assert_same(powers.node_voltages, ohms.node_voltages, 120.0, 1e-12)
    assert_same(amps.node_voltages, ohms.node_voltages, 120.0, 1e-12)


def test_a_starved_power_beside_a_collapse_draws_what_its_impedance_does() -> None:
    """10 V of 120 V reach it without load, so it is 14.4 ohm; its neighbour collapses."""
    branches = (Branch(1, 2, 1.0), Branch(2, 0, 5.0))
    loads = (Load(2, 0, 120.0, power=1000.0), Load(1, 0, 12.0, power=1e5))
    found = solve(Circuit(3, branches, (), (Source(1, 0, 12.0, 0.01),), loads, (0,)))
    assert found.status == "collapsed"
    assert found.as_impedance == (0,)
    assert [collapse.load for collapse in found.collapses] == [1]
    assert (found.load_voltages[0] / found.load_currents[0]).real == pytest.approx(14.4)
    assert found.residual_a <= 1e-6


def test_half_voltage_does_reach_a_power() -> None:
    """A 240 V load on 120 V is a mistake that draws double current: that is to be seen."""
    found = solve(Circuit(2, (), (), (Source(1, 0, 120.0, 0.01),), (Load(1, 0, 240.0, power=1200.0),), (0,)))
    assert found.as_impedance == ()
    assert abs(found.load_currents[0]) > 10


# --- One factor for many load sets --------------------------------------------------------------------


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_load_sets_share_a_factor(shape: str, monkeypatch: pytest.MonkeyPatch) -> None:
    circuit = SHAPES[shape](77)
    made: list[int] = []
    real = NodalSystem

    def counted(*arguments: Any) -> Any:
        made.append(1)
        return real(*arguments)

    monkeypatch.setattr("vesselspec.physics.steady.nodal.NodalSystem", counted)
    factor = Factor(circuit)

    def scaled(share: float) -> tuple[Load, ...]:
        return tuple(
            replace(
                load,
                power=None if load.power is None else load.power * share,
                current=None if load.current is None else load.current * share,
            )
            for load in circuit.loads
        )

    found = [factor.solve(scaled(share)) for share in (1.0, 0.5, 0.1, 0.9)]
    assert len(made) == 1
    assert_same(factor.solve().node_voltages, found[0].node_voltages, 1.0, 0.0)
    for share, solution in zip((1.0, 0.5, 0.1, 0.9), found, strict=True):
        assert_same(solution.node_voltages, solve(replace(circuit, loads=scaled(share))).node_voltages, emf_of(circuit))
    lighter = tuple(
        load if load.impedance is None else replace(load, impedance=load.impedance * 2) for load in circuit.loads
    )
    assert_same(
        factor.solve(lighter).node_voltages, solve(replace(circuit, loads=lighter)).node_voltages, emf_of(circuit)
    )


def test_load_sets_over_a_lost_neutral() -> None:
    """Loads that alone hold up a neutral are part of the matrix, and each set gets its own."""
    factor = Factor(
        Circuit(4, (), (), (Source(1, 0, 120.0), Source(2, 0, -120.0)), (), (0,)),
    )
    for one, two in ((100.0, 200.0), (200.0, 200.0), (100.0, 200.0), (50.0, 150.0), (0.0, 100.0)):
        found = factor.solve((Load(1, 3, 120.0, power=one), Load(3, 2, 120.0, power=two)))
        expected = 240 * two / (one + two)  # the smaller load takes the larger share
        assert abs(found.load_voltages[0]) == pytest.approx(expected)
        assert found.as_impedance == ((0, 1) if one else (1,))


# --- What cannot be computed ----------------------------------------------------------------------------

NAN, INF = math.nan, math.inf
SOUND = Circuit(
    2, (Branch(0, 1, 1.0),), (Contact(0, 1),), (Source(1, 0, 12.0, 1.0),), (Load(1, 0, 12.0, power=1.0),), (0,)
)


@pytest.mark.parametrize(
    ("circuit", "kind", "says"),
    [
        (replace(SOUND, branches=(Branch(0, 1, 0.0),)), "branch", "zero"),
        (replace(SOUND, branches=(Branch(0, 1, NAN),)), "branch", "finite"),
        (replace(SOUND, branches=(Branch(0, 1, complex(1, INF)),)), "branch", "finite"),
        (replace(SOUND, branches=(Branch(0, 2, 1.0),)), "branch", "node"),
        (replace(SOUND, contacts=(Contact(-1, 1),)), "contact", "node"),
        (replace(SOUND, sources=(Source(1, 0, NAN, 1.0),)), "source", "emf"),
        (replace(SOUND, sources=(Source(1, 0, 12.0, INF),)), "source", "impedance"),
        (replace(SOUND, sources=(Source(1, 9, 12.0, 1.0),)), "source", "node"),
        (replace(SOUND, loads=(Load(1, 0, 12.0),)), "load", "exactly one"),
        (replace(SOUND, loads=(Load(1, 0, 12.0, power=1.0, current=1.0),)), "load", "exactly one"),
        (replace(SOUND, loads=(Load(1, 0, 0.0, power=1.0),)), "load", "nominal"),
        (replace(SOUND, loads=(Load(1, 0, NAN, power=1.0),)), "load", "nominal"),
        (replace(SOUND, loads=(Load(1, 0, 12.0, power=NAN),)), "load", "power"),
        (replace(SOUND, loads=(Load(1, 0, 12.0, current=INF),)), "load", "current"),
        (replace(SOUND, loads=(Load(1, 0, 12.0, impedance=0.0),)), "load", "impedance"),
        (replace(SOUND, loads=(Load(1, 7, 12.0, power=1.0),)), "load", "node"),
        (replace(SOUND, references=(5,)), "reference", "node"),
        (Circuit(0), "circuit", "no nodes"),
    ],
)
def test_inputs_are_checked_and_named(circuit: Circuit, kind: str, says: str) -> None:
    found = solve(circuit)
    assert found.status == "invalid"
    problem = found.problems[0]
    assert (problem.kind, problem.index) == (kind, 0)
    assert says in problem.text
    assert np.all(np.isnan(found.node_voltages))
    assert len(found.branch_currents) == len(circuit.branches)


def test_a_load_set_is_checked_too() -> None:
    found = Factor(SOUND).solve((Load(1, 0, 12.0, power=1.0), Load(1, 5, 12.0, power=1.0)))
    assert found.status == "invalid"
    assert [(problem.kind, problem.index) for problem in found.problems] == [("load", 1)]


def test_a_resonance_without_loss_is_undetermined() -> None:
    branches = (Branch(1, 2, 1j), Branch(2, 0, -1j))
    found = solve(Circuit(3, branches, (), (Source(1, 0, 5.0),), (), (0,)))
    assert found.status == "undetermined"
    assert np.isnan(found.node_voltages[2])


@pytest.mark.parametrize(
    "circuit",
    [
        Circuit(1),
        Circuit(1, references=(0,)),
        Circuit(3, contacts=(Contact(0, 1), Contact(1, 2), Contact(2, 0))),
        Circuit(2, sources=(Source(1, 0, 12.0),)),
        Circuit(2, sources=(Source(1, 0, 12.0, 0.1),)),
        Circuit(1, branches=(Branch(0, 0, 1.0),), contacts=(Contact(0, 0),), loads=(Load(0, 0, 1.0, power=5.0),)),
        Circuit(2, sources=(Source(1, 0, 0.0, 0.1),), loads=(Load(1, 0, 12.0, power=5.0),)),
    ],
)
def test_small_and_odd_circuits(circuit: Circuit) -> None:
    found = solve(circuit)
    assert found.status in ("solved", "dead")
    assert np.all(np.isfinite(found.node_voltages))
    assert found.residual_a == 0


def test_results_cannot_be_written_to() -> None:
    found = solve(SOUND)
    with pytest.raises(ValueError, match="read-only"):
        found.node_voltages[0] = 1.0


def test_a_large_vessel_comes_to_rest_in_few_steps() -> None:
    circuit = vessel(2000)
    assert circuit.nodes > 12_000
    found = solve(circuit)
    assert found.status == "solved"
    assert found.iterations <= 12
    assert found.residual_a <= 1e-9 * float(np.abs(found.source_currents).max())


def test_a_large_vessel_overloaded_collapses_soon() -> None:
    """The slow path, at a size where it would hurt."""
    circuit = vessel(500)
    heavy = tuple(
        load if load.power is None or index % 50 else replace(load, power=load.power * 400)
        for index, load in enumerate(circuit.loads)
    )
    found = solve(replace(circuit, loads=heavy))
    assert found.status == "collapsed"
    assert heavy[found.collapses[0].load] is not circuit.loads[found.collapses[0].load]
