"""Times of the steady state, side by side with two general engines: `python -m tests.bench.steady`.

One operating condition of a split-phase vessel of so many branch circuits. Ours: import apart; elements and factor
once; then a load set on the factor. ngspice: its whole process on the same network, with our converged load currents
as current sources, for it has no constant power in AC; so it is spared the iteration, but has to start, to read the
netlist and to write its result, while ours leaves out Python's own start and that import. pandapower: a warm `runpp`
of a balanced radial network with as many loads, which is one sixth of the nodes, for it has no neutral conductor.

Nothing here passes or fails.
"""

from __future__ import annotations

import importlib
import statistics
import time
from collections.abc import Callable
from typing import Any

RUNS = 5


def median_ms(work: Callable[[], object], runs: int = RUNS) -> float:
    """Median time of a call in ms, after one that does not count."""
    times = []
    for _ in range(runs + 1):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:]) * 1000


def radial(circuits: int) -> Any:
    """A balanced three-phase network, panels of 40 ways, of the kind that pandapower is compared with."""
    from vesselspec.physics.steady.circuit import Branch, Circuit, Load, Source

    volts = 400 / 3**0.5
    branches, loads, node = [], [], 2
    for _ in range(max(1, circuits // 40)):
        panel, node = node, node + 1
        branches.append(Branch(1, panel, complex(0.004, 0.002)))
        for _ in range(min(40, circuits)):
            branches.append(Branch(panel, node, complex(0.03, 0.003)))
            loads.append(Load(node, 0, volts, power=complex(250, 100)))
            node += 1
    return Circuit(node, tuple(branches), (), (Source(1, 0, volts),), tuple(loads), (0,))


def main() -> None:
    """Print the figures."""
    start = time.perf_counter()
    steady = importlib.import_module("vesselspec.physics.steady.nodal")
    print(f"import of the solver with NumPy and SciPy: {(time.perf_counter() - start) * 1000:.0f} ms\n")
    networks: Any = importlib.import_module("tests.physics.oracles.networks")
    ngspice: Any = importlib.import_module("tests.physics.oracles.ngspice")
    powerflow: Any = importlib.import_module("tests.physics.oracles.powerflow")
    for circuits in (500, 2000, 8000):
        circuit = networks.vessel(circuits)
        factor = steady.Factor(circuit)
        found = factor.solve()
        cold = median_ms(lambda c=circuit: steady.solve(c))  # type: ignore[misc]
        warm = median_ms(factor.solve)
        print(f"{circuits} branch circuits, {circuit.nodes} nodes, {found.iterations} solutions of the factor")
        print(f"  ours, elements + factor + solve    {cold:9.1f} ms")
        print(f"  ours, one more load set            {warm:9.1f} ms")
        if ngspice.PROGRAM:
            currents = [found.load_currents.tolist()]
            netlist = ngspice.deck([circuit], currents, dc=False)
            spice = median_ms(lambda text=netlist: ngspice.process(text), 1 if circuits > 2000 else 3)  # type: ignore[misc]
            print(f"  ngspice, whole process, linear     {spice:9.1f} ms  = {spice / cold:6.1f} × ours whole")
        balanced = radial(circuits)
        net = powerflow.network(balanced)
        flow = median_ms(lambda n=net: powerflow.run(n), 3)  # type: ignore[misc]
        mine = median_ms(lambda c=balanced: steady.solve(c))  # type: ignore[misc]
        again = median_ms(steady.Factor(balanced).solve)
        print(f"  balanced network of {balanced.nodes} nodes: ours {mine:.1f} ms, one more load set {again:.1f} ms")
        print(f"  pandapower, warm runpp             {flow:9.1f} ms  = {flow / mine:6.1f} × ours whole\n")


if __name__ == "__main__":
    main()
