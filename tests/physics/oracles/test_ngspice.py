"""Random circuits against ngspice, a general circuit simulator that knows nothing of ours."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from vesselspec.physics.steady.circuit import Circuit
from vesselspec.physics.steady.nodal import Solution, solve

from . import ngspice
from .networks import ALL, LINEAR, SHAPES, split_phase

WITHIN = 1e-6
LINEAR_EACH = 40
POWERED_EACH = 25
LOST_NEUTRALS = 30


@pytest.fixture(autouse=True)
def _ngspice() -> None:
    ngspice.require()


def assert_close(mine: npt.NDArray[np.complex128], theirs: npt.NDArray[np.complex128], scale: float) -> None:
    if len(mine):
        assert np.abs(mine - theirs).max() <= WITHIN * scale


def compare(circuit: Circuit, found: Solution, answer: ngspice.Answer) -> None:
    """Every node voltage within 1e-6 of the greatest emf, every current within 1e-6 of the greatest current."""
    assert found.status == "solved"
    assert not found.as_impedance or all(circuit.loads[index].impedance is None for index in found.as_impedance)
    volts = max(abs(source.emf) for source in circuit.sources)
    amps = max(float(np.abs(found.branch_currents).max()), float(np.abs(found.source_currents).max()))
    assert_close(found.node_voltages, answer.voltages, volts)
    assert_close(found.contact_currents, answer.contacts, amps)
    assert_close(found.source_currents, answer.sources, amps)
    assert found.residual_a <= 1e-8 * amps
    # Current of a branch from ngspice's voltages alone, as far as their difference has digits left.
    ends = np.array([(branch.a, branch.b) for branch in circuit.branches])
    z = np.array([branch.z for branch in circuit.branches], np.complex128)
    theirs = (answer.voltages[ends[:, 0]] - answer.voltages[ends[:, 1]]) / z
    assert_close(found.branch_currents, theirs, amps)


@pytest.mark.parametrize("shape", SHAPES)
def test_constant_currents_and_impedances(shape: str) -> None:
    circuits = [SHAPES[shape](seed, kinds=LINEAR) for seed in range(LINEAR_EACH)]
    for circuit, answer in zip(circuits, ngspice.run(circuits, dc=shape == "dc"), strict=True):
        compare(circuit, solve(circuit), answer)


def test_a_lost_neutral() -> None:
    circuits = [split_phase(seed, lost_neutral=True) for seed in range(LOST_NEUTRALS)]
    answers = ngspice.run(circuits, dc=False)
    shifted = 0
    for circuit, answer in zip(circuits, answers, strict=True):
        found = solve(circuit)
        compare(circuit, found, answer)
        shifted += any(
            abs(volts) > 1.1 * abs(load.nominal) for load, volts in zip(circuit.loads, found.load_voltages, strict=True)
        )
    assert shifted > LOST_NEUTRALS / 4  # the overvoltage that makes a lost neutral a danger does occur


@pytest.mark.parametrize("shape", SHAPES)
def test_constant_powers_draw_what_ngspice_finds(shape: str) -> None:
    """The converged currents of the loads, given to ngspice, must give the converged voltages."""
    circuits = [SHAPES[shape](1000 + seed, kinds=ALL) for seed in range(POWERED_EACH)]
    solutions = [solve(circuit) for circuit in circuits]
    currents = [list(solution.load_currents) for solution in solutions]
    answers = ngspice.run(circuits, currents, dc=shape == "dc")
    for circuit, found, answer in zip(circuits, solutions, answers, strict=True):
        compare(circuit, found, answer)
        served = [
            (load.power, power) for load, power in zip(circuit.loads, found.load_powers, strict=True) if load.power
        ]
        for asked, got in served:
            assert abs(got - complex(asked)) <= 1e-12 * abs(asked)


def test_dc_powers_that_ngspice_iterates_itself() -> None:
    """Behavioural sources P / v, solved by ngspice's own Newton iteration from nothing."""
    circuits = [SHAPES["dc"](2000 + seed, kinds=("power", "power", "impedance")) for seed in range(POWERED_EACH)]
    answers = ngspice.run(circuits, dc=True, powers=True)
    compared = 0
    for circuit, answer in zip(circuits, answers, strict=True):
        found = solve(circuit)
        within = all(
            abs(answer.voltages[load.a] - answer.voltages[load.b]) > ngspice.LEAST * abs(load.nominal)
            for load in circuit.loads
            if load.power
        )
        # Where ngspice had to leave the constant power, it too has found no solution at a usable voltage.
        assert within == (found.status == "solved" and _lowest(circuit, found) > ngspice.LEAST)
        if within:
            compare(circuit, found, answer)
            compared += 1
    assert compared >= 20


def _lowest(circuit: Circuit, found: Solution) -> float:
    powers = [index for index, load in enumerate(circuit.loads) if load.power]
    return min((abs(found.load_voltages[index] / circuit.loads[index].nominal) for index in powers), default=1.0)


@pytest.mark.parametrize("shape", ["single-phase", "split-phase", "three-phase"])
def test_ac_powers_by_fixed_point_around_ngspice(shape: str) -> None:
    """The iteration too is done with ngspice's voltages alone: current = conj(S / v), solve, again."""
    circuits = [SHAPES[shape](3000 + seed, kinds=ALL) for seed in range(3)]
    drawn = [[load.nominal and np.conj((load.power or 0) / load.nominal) for load in c.loads] for c in circuits]
    answers: list[ngspice.Answer] = []
    for _ in range(14):
        answers = ngspice.run(circuits, drawn, dc=False)
        for circuit, answer, currents in zip(circuits, answers, drawn, strict=True):
            for index, load in enumerate(circuit.loads):
                volts = answer.voltages[load.a] - answer.voltages[load.b]
                currents[index] = np.conj((load.power or 0) / volts)
    for circuit, answer in zip(circuits, answers, strict=True):
        compare(circuit, solve(circuit), answer)
