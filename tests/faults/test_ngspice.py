"""Bolted faults in random networks against ngspice, with the short as a resistance of one microhm.

Mapping: that of the steady-state oracle; the short is a resistance with an ammeter (a source of 0 V) in series. Ours
is a fault without any resistance, so the resistance is added to the impedance that ours finds behind the fault.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.physics.oracles import ngspice
from tests.physics.oracles.networks import SHAPES
from vesselspec.physics.faults.bolted import Factored, Net, Phasors
from vesselspec.physics.steady.circuit import Circuit
from vesselspec.physics.steady.nodal import solve

from .shorts import SHORT_OHM, drawn, found, with_short

EACH = 40
WITHIN = 1e-6


@pytest.mark.parametrize("shape", SHAPES)
def test_faults_and_contributions(shape: str) -> None:
    """160 networks, DC and AC, radial and meshed, one to three sources: the current, and what each source gives."""
    ngspice.require()
    cases = [drawn(shape, 5000 + seed) for seed in range(EACH)]
    answers = ngspice.run([with_short(*case) for case in cases], dc=shape == "dc")
    for (circuit, a, b), answer in zip(cases, answers, strict=True):
        mine = found(circuit, a, b)
        z = mine.z[0]
        amps = mine.volts[0] / (z + SHORT_OHM)
        scale = max(float(np.abs(answer.sources).max()), abs(amps))
        assert abs(amps - answer.contacts[-1]) <= WITHIN * scale
        assert mine.amps[0] == pytest.approx(mine.volts[0] / z)
        # Between no fault and a bolted one a source's current moves in proportion to the fault's.
        idle = np.array([mine.given[row, 0] for row in range(len(circuit.sources))])
        rest = _at_rest(circuit)
        there = rest + (idle - rest) * (amps / mine.amps[0] if mine.amps[0] else 0)
        assert np.abs(there - answer.sources).max() <= WITHIN * scale


@pytest.mark.parametrize("shape", SHAPES)
def test_voltages_while_a_short_lasts(shape: str) -> None:
    """The same networks: the voltage of every node against every other, which is what a person between two touches."""
    ngspice.require()
    cases = [drawn(shape, 9000 + seed) for seed in range(EACH)]
    answers = ngspice.run([with_short(*case) for case in cases], dc=shape == "dc")
    for (circuit, a, b), answer in zip(cases, answers, strict=True):
        factored = Factored(Net.of(circuit))
        short = factored.short(a, b)
        assert short is not None
        amps, volts = short
        behind = (factored.rest[a] - factored.rest[b]) / amps
        there = factored.rest + (volts - factored.rest) * (behind / (behind + SHORT_OHM))
        same = factored.part == factored.part[a]
        mine, theirs = there[same] - there[a], answer.voltages[: circuit.nodes][same] - answer.voltages[a]
        assert np.abs(mine - theirs).max() <= WITHIN * max(abs(source.emf) for source in circuit.sources)


def _at_rest(circuit: Circuit) -> Phasors:
    return solve(circuit).source_currents
