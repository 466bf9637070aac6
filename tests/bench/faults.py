"""Fault levels at all terminals: ours against pandapower's short-circuit calculation and against a solve per terminal.

Nothing here passes or fails. Two kinds of network of N branch circuits:

balanced    one phase of a three-phase vessel, three nodes a circuit; pandapower maps it (every bus, three-phase fault)
conductors  every core of a split-phase vessel, six nodes a circuit; it does not (every node to earth, and
            at every outlet line to neutral and line to earth)

pandapower runs in both of its modes, with the dense inverse of its matrix (its default) and without.
"""

from __future__ import annotations

import gc
import math
import random
import time
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

from tests.physics.oracles.networks import resistance, vessel
from vesselspec.physics.faults.bolted import Net, faults
from vesselspec.physics.faults.inverse import Inverse
from vesselspec.physics.steady.circuit import Branch, Circuit, Source

LINE_V = 400.0
C_MAX = 1.05
GRID_MVA, GRID_RX = 10.0, 0.5
RUNS = 9


def balanced(circuits: int) -> Circuit:
    """Main, panels of forty ways, and for each circuit breaker outlet, outlet and appliance; node 0 is the neutral."""
    rng = random.Random(f"balanced {circuits}")
    branches: list[Branch] = []
    node = 1

    def hang(feeder: int) -> int:
        nonlocal node
        node += 1
        r = resistance(rng)
        branches.append(Branch(feeder, node, complex(r, r * rng.uniform(0.1, 1.0))))
        return node

    for number in range(circuits):
        if number % 40 == 0:
            panel = hang(1)
        hang(hang(hang(panel)))
    size = C_MAX * LINE_V**2 / (GRID_MVA * 1e6)
    x = size / math.hypot(1, GRID_RX)
    source = Source(1, 0, LINE_V / math.sqrt(3), complex(GRID_RX * x, x))
    return Circuit(node + 1, tuple(branches), (), (source,), (), (0,))


def ours(circuit: Circuit) -> Any:
    """All nodes to node 0, from the plain circuit on."""
    nodes = np.arange(1, circuit.nodes)
    return np.abs(faults(Net.of(circuit), nodes, np.zeros(len(nodes), np.intp), given=False).amps)


def at_outlets(circuit: Circuit, circuits: int) -> Any:
    """Line to neutral and line to earth at every outlet: pairs that lie outside of the factor's pattern."""
    line = np.array([5 + 244 * panel + 4 + 6 * way + 1 for panel in range(circuits // 40) for way in range(40)])
    net = Net.of(circuit)
    return faults(net, np.concatenate((line, line)), np.concatenate((line + 1, line + 2)), given=False).amps


def one_solve_each(circuit: Circuit) -> Any:
    """The same factor, and one solve for every terminal."""
    from vesselspec.physics.faults import bolted

    system = bolted.Factored(Net.of(circuit))
    assert system.inverse is not None
    return _diagonal(system.inverse)


def _diagonal(inverse: Inverse) -> Any:
    found = np.zeros(inverse.size, np.complex128)
    for number in range(inverse.size):
        unit = np.zeros(inverse.size, np.complex128)
        unit[number] = 1
        found[number] = inverse.solve(unit)[number]
    return found


def theirs(circuit: Circuit, *, dense: bool) -> Callable[[], Any]:
    """pandapower's calculation on the same network, built beforehand; `dense` is its default mode."""
    import pandapower
    from pandapower.shortcircuit import calc_sc

    net = pandapower.create_empty_network()
    pandapower.create_buses(net, circuit.nodes - 1, vn_kv=LINE_V / 1000)
    pandapower.create_ext_grid(net, 0, s_sc_max_mva=GRID_MVA, rx_max=GRID_RX)
    z = np.array([branch.z for branch in circuit.branches])
    pandapower.create_lines_from_parameters(
        net,
        [branch.a - 1 for branch in circuit.branches],
        [branch.b - 1 for branch in circuit.branches],
        length_km=1.0,
        r_ohm_per_km=z.real,
        x_ohm_per_km=z.imag,
        c_nf_per_km=0.0,
        max_i_ka=1.0,
    )

    def run() -> Any:
        calc_sc(
            net,
            fault="3ph",
            case="max",
            ip=False,
            ith=False,
            lv_tol_percent=6,
            branch_results=False,
            inverse_y=dense,
        )
        return net.res_bus_sc.ikss_ka.to_numpy() * 1000 / C_MAX

    return run


def timed(work: Callable[[], Any], runs: int = RUNS) -> tuple[float, Any]:
    """The best time in s after one run that does not count, and the result.

    Fresh memory for a factor of 8,000 circuits costs between nothing and as much as the work, by what else the machine
    does: the best run is that without it.
    """
    result = work() if runs > 1 else None
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return min(times), result


def main() -> None:
    """Print the figures."""
    warnings.simplefilter("ignore")
    gc.disable()  # as the command line does: looking through the other engine's objects would be timed with ours
    growth: dict[str, dict[int, float]] = {"balanced": {}, "conductors": {}, "pole pairs": {}}
    for circuits in (500, 2000, 8000):
        network = balanced(circuits)
        seconds, amps = timed(lambda network=network: ours(network))  # type: ignore[misc]
        growth["balanced"][circuits] = seconds
        print(f"{circuits:5} circuits, balanced, {network.nodes - 1:6} buses: ours {seconds * 1000:8.1f} ms")
        if circuits <= 2000:
            for dense, mode in ((True, "default"), (False, "without the dense inverse")):
                other, check = timed(theirs(network, dense=dense), 3 if circuits <= 500 else 1)
                off = float(np.abs(amps / check - 1).max())
                ratio = f"ours is 1/{other / seconds:.0f} of it; differ by {off:.1e}"
                print(f"{'':15}pandapower, {mode}: {other * 1000:8.0f} ms: {ratio}")
            each, _ = timed(lambda network=network: one_solve_each(network), 1)  # type: ignore[misc]
            print(f"{'':15}a solve each {each * 1000:6.0f} ms: ours is 1/{each / seconds:.0f} of it")
        wires = vessel(circuits)
        seconds, _ = timed(lambda wires=wires: ours(wires))  # type: ignore[misc]
        growth["conductors"][circuits] = seconds
        print(f"{circuits:5} circuits, conductors, {wires.nodes:6} nodes: ours {seconds * 1000:8.1f} ms")
        seconds, _ = timed(lambda wires=wires, circuits=circuits: at_outlets(wires, circuits))  # type: ignore[misc]
        growth["pole pairs"][circuits] = seconds
        print(f"{circuits:5} circuits, pole pairs at outlets: ours {seconds * 1000:8.1f} ms")
    for kind, times in growth.items():
        print(f"{kind}: 8,000 circuits take {times[8000] / times[2000]:.1f} times 2,000; target 5")
    print("target at 2,000: 1/50 of pandapower")


if __name__ == "__main__":
    main()
