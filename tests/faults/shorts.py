"""Random circuits with a fault in each, for all outside engines."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np

from tests.physics.oracles.networks import SHAPES
from vesselspec.physics.faults.bolted import Faults, Net, faults
from vesselspec.physics.steady.circuit import Branch, Circuit, Contact

#: Resistance of a bolted short for an engine that wants one, in ohm. What it changes is reckoned with.
SHORT_OHM = 1e-6


def stiffened(circuit: Circuit) -> Circuit:
    """The circuit with an impedance in every source, and no loads."""
    sources = tuple(replace(source, z=source.z or 0.004) for source in circuit.sources)
    return replace(circuit, sources=sources, loads=())


def drawn(shape: str, seed: int) -> tuple[Circuit, int, int]:
    """A circuit of a shape, and two of its nodes between which there is voltage."""
    circuit = stiffened(SHAPES[shape](seed))
    rng = random.Random(f"short {shape} {seed}")
    net = Net.of(circuit)
    greatest = max(abs(source.emf) for source in circuit.sources)
    while True:
        a, b = rng.sample(range(circuit.nodes), 2)
        if abs(faults(net, np.array([a]), np.array([b]), given=False).volts[0]) > 0.05 * greatest:
            return circuit, a, b


def with_short(circuit: Circuit, a: int, b: int) -> Circuit:
    """The same with a short of SHORT_OHM from a to b; its current is that of the last contact."""
    middle = circuit.nodes
    return replace(
        circuit,
        nodes=circuit.nodes + 1,
        branches=(*circuit.branches, Branch(a, middle, SHORT_OHM)),
        contacts=(*circuit.contacts, Contact(middle, b)),
    )


def found(circuit: Circuit, a: int, b: int) -> Faults:
    """What ours finds for that fault."""
    return faults(Net.of(circuit), np.array([a]), np.array([b]))
