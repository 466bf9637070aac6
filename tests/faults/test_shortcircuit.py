"""Balanced three-phase faults against pandapower's short-circuit calculation (IEC 60909), cases max and min.

Mapping. A bus is a node, the neutral of every bus is the reference. pandapower's fault current is c Un / (sqrt(3) Zk),
and an external grid is given by the short-circuit power S at its own terminals, so its impedance is c Un² / S. Ours
knows no c (c = 1): the emf is Un / sqrt(3), the grid's impedance the same c Un² / S, and pandapower's current is
divided by c, which it takes as 1.05 (max) and 0.95 (min) at a tolerance of 6 %. For case min pandapower warms lines
from 20 °C by 0.004 per °C; the same is done to the branches.
"""

from __future__ import annotations

import math
import random
import warnings
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from tests.physics.oracles.networks import resistance
from vesselspec.physics.faults.bolted import Net, faults
from vesselspec.physics.steady.circuit import Branch, Circuit, Source

LINE_V = 400.0
C = {"max": 1.05, "min": 0.95}
HOT_C = 80.0
CASES = 30


def network(seed: int) -> tuple[Any, list[tuple[int, int, complex]], list[tuple[int, float, float]]]:
    """A balanced network at random, in pandapower; its lines and its grids (bus, MVA, R/X) beside it."""
    rng = random.Random(f"three-phase fault {seed}")
    count = rng.randint(4, 40)
    lines = []
    pairs = [(rng.randrange(max(0, bus - 5), bus), bus) for bus in range(1, count)]
    pairs += [(a, b) for a, b in (rng.sample(range(count), 2) for _ in range(rng.choice((0, 0, 1, 3))))]
    for a, b in pairs:
        r = resistance(rng)
        lines.append((a, b, complex(r, r * rng.uniform(0.1, 2.0))))
    grids = [(0, rng.uniform(0.5, 20), rng.uniform(0.1, 1.5))]
    if rng.random() < 0.5:
        grids.append((count - 1, rng.uniform(0.1, 2), rng.uniform(0.1, 1.5)))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pandapower

        net = pandapower.create_empty_network()
        pandapower.create_buses(net, count, vn_kv=LINE_V / 1000)
        for bus, mva, rx in grids:
            pandapower.create_ext_grid(
                net, bus, s_sc_max_mva=mva, rx_max=rx, s_sc_min_mva=mva * 0.8, rx_min=rx, x0x_max=1.0, r0x0_max=rx
            )
        z = np.array([line[2] for line in lines])
        pandapower.create_lines_from_parameters(
            net,
            [line[0] for line in lines],
            [line[1] for line in lines],
            length_km=1.0,
            r_ohm_per_km=z.real,
            x_ohm_per_km=z.imag,
            c_nf_per_km=0.0,
            max_i_ka=1.0,
        )
        net.line["endtemp_degree"] = HOT_C
    return net, lines, grids


def theirs(net: Any, case: str) -> npt.NDArray[np.float64]:
    """Initial symmetrical fault current at every bus, in A, over c."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pandapower.shortcircuit import calc_sc

        calc_sc(net, fault="3ph", case=case, ip=False, ith=False, lv_tol_percent=6, branch_results=False)
        amps: npt.NDArray[np.float64] = net.res_bus_sc.ikss_ka.to_numpy() * 1000 / C[case]
        return amps


def circuit(lines: list[tuple[int, int, complex]], grids: list[tuple[int, float, float]], case: str) -> Circuit:
    """The same, one phase of it; the reference is the last node."""
    neutral = max(max(a, b) for a, b, _ in lines) + 1
    warm = 1 + 0.004 * (HOT_C - 20) if case == "min" else 1.0
    branches = tuple(Branch(a, b, complex(z.real * warm, z.imag)) for a, b, z in lines)
    sources = []
    for bus, mva, rx in grids:
        size = C[case] * LINE_V**2 / (mva * (0.8 if case == "min" else 1.0) * 1e6)
        x = size / math.hypot(1, rx)
        sources.append(Source(bus, neutral, LINE_V / math.sqrt(3), complex(rx * x, x)))
    return Circuit(neutral + 1, branches, (), tuple(sources), (), (neutral,))


@pytest.mark.parametrize("case", ["max", "min"])
def test_every_bus(case: str) -> None:
    for seed in range(CASES):
        net, lines, grids = network(seed)
        ours = circuit(lines, grids, case)
        buses = np.arange(ours.nodes - 1)
        mine = np.abs(faults(Net.of(ours), buses, np.full(len(buses), ours.nodes - 1), given=False).amps)
        assert mine == pytest.approx(theirs(net, case), rel=1e-6)
