"""Random AC circuits at conductor level against OpenDSS, which iterates constant powers by itself."""

from __future__ import annotations

import numpy as np
import pytest

from vesselspec.physics.steady import nodal as steady

from .opendss import SYSTEMS, draw, solve

EACH = 20
#: Share of the greatest emf. Both iterations stop well below it; measured differences are under 1e-9.
WITHIN = 1e-8


@pytest.mark.parametrize("system", SYSTEMS)
def test_constant_powers_and_impedances(system: str) -> None:
    worst = 0.0
    for seed in range(EACH):
        site = draw(system, seed)
        circuit = site.circuit()
        found = steady.solve(circuit)
        assert found.status == "solved"
        volts = max(abs(source.emf) for source in circuit.sources)
        worst = max(worst, float(np.abs(found.node_voltages - solve(site)).max()) / volts)
    assert worst <= WITHIN
