"""pandapower as an oracle: its Newton-Raphson power flow of balanced three-phase networks, mapped to one phase.

Mapping. A bus is a node, the neutral of every bus is the reference, for in a balanced system nothing flows in it. A
line of r + jx per phase is a branch without capacitance. An external grid is an ideal source of line voltage / √3. A
three-phase load of P + jQ is a constant power of a third of it; a load of constant impedance (in pandapower's
per-cent columns) draws that power at nominal voltage. Its own tolerance is set to 1e-10 MVA (0.1 mVA).

pandapower and pandas warn of their own future while they are imported and run, so warnings are off inside here.
"""

from __future__ import annotations

import cmath
import math
import random
import warnings
from typing import Any

import numpy as np
import numpy.typing as npt

from vesselspec.physics.steady.circuit import Branch, Circuit, Load, Source

from .networks import resistance

LINE_V = 400.0


def draw(seed: int) -> Circuit:
    """Balanced network at random: node 0 neutral, node 1 the grid, radial or meshed; sometimes a second grid."""
    rng = random.Random(f"flow {seed}")
    phase = LINE_V / math.sqrt(3)
    count = rng.randint(5, 30)
    branches, loads = [], []
    sources = [Source(1, 0, phase * rng.uniform(0.98, 1.03))]
    for node in range(2, count):
        feeder = rng.randrange(max(1, node - 5), node)
        r = resistance(rng)
        branches.append(Branch(feeder, node, complex(r, r * rng.uniform(0.1, 2.0))))
    for _ in range(rng.choice((0, 0, 2, 4))):
        a, b = rng.sample(range(1, count), 2)
        r = resistance(rng)
        branches.append(Branch(a, b, complex(r, r * rng.uniform(0.1, 2.0))))
    if rng.random() < 0.3:
        sources.append(Source(count - 1, 0, phase * cmath.rect(rng.uniform(0.99, 1.01), rng.uniform(-0.01, 0.01))))
    for node in range(2, count):
        if rng.random() < 0.6:
            va = cmath.rect(rng.uniform(500, 4000), math.acos(rng.uniform(0.75, 1.0)))
            if rng.random() < 0.8:
                loads.append(Load(node, 0, phase, power=va))
            else:
                loads.append(Load(node, 0, phase, impedance=phase**2 / va.conjugate()))
    return Circuit(count, tuple(branches), (), tuple(sources), tuple(loads), (0,))


def network(circuit: Circuit) -> Any:
    """The circuit as a pandapower network."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pandapower

        net = pandapower.create_empty_network()
        pandapower.create_buses(net, circuit.nodes - 1, vn_kv=LINE_V / 1000)
        for source in circuit.sources:
            assert source.z == 0
            pandapower.create_ext_grid(
                net,
                source.plus - 1,
                vm_pu=abs(source.emf) * math.sqrt(3) / LINE_V,
                va_degree=math.degrees(cmath.phase(source.emf)),
            )
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
        constant = np.array([load.power is not None for load in circuit.loads], np.bool_)
        va = np.array([_nominal_va(load) for load in circuit.loads], np.complex128) * 3e-6
        pandapower.create_loads(
            net,
            [load.a - 1 for load in circuit.loads],
            p_mw=va.real,
            q_mvar=va.imag,
            const_z_p_percent=np.where(constant, 0.0, 100.0),
            const_z_q_percent=np.where(constant, 0.0, 100.0),
        )
        return net


def _nominal_va(load: Load) -> complex:
    if load.power is not None:
        return complex(load.power)
    assert load.impedance is not None
    return complex(abs(load.nominal) ** 2 / complex(load.impedance).conjugate())


def run(net: Any) -> None:
    """One power flow, from a flat start."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pandapower

        pandapower.runpp(
            net,
            algorithm="nr",
            init="flat",
            tolerance_mva=1e-10,
            max_iteration=50,
            numba=False,
            calculate_voltage_angles=True,
        )


def solve(circuit: Circuit) -> npt.NDArray[np.complex128]:
    """Voltage of every node of a circuit that `draw` made."""
    net = network(circuit)
    run(net)
    bus = net.res_bus
    volts = bus.vm_pu.to_numpy() * LINE_V / math.sqrt(3) * np.exp(1j * np.radians(bus.va_degree.to_numpy()))
    return np.concatenate(([0.0], volts)).astype(np.complex128)
