"""Balanced three-phase networks against pandapower's Newton-Raphson power flow."""

from __future__ import annotations

import numpy as np
import pytest

from vesselspec.physics.steady import nodal as steady

from .powerflow import LINE_V, draw, solve

CASES = 24
#: Share of the line voltage; pandapower stops at a mismatch of 0.1 mVA.
WITHIN = 1e-8


@pytest.mark.parametrize("half", [0, 1])
def test_power_flow(half: int) -> None:
    for seed in range(half, CASES, 2):
        circuit = draw(seed)
        found = steady.solve(circuit)
        assert found.status == "solved"
        assert float(np.abs(found.node_voltages - solve(circuit)).max()) <= WITHIN * LINE_V
