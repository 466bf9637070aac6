"""Limited sources on random DC networks against ngspice, which is told nothing of limits.

Every combination of states of the sources (at its limit, holding its voltage, off) is a linear circuit of its own.
ngspice solves them all; the one in which every source keeps the law of its state is the answer.
"""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import numpy as np
import pytest

from vesselspec.physics.steady.circuit import Circuit, Load, Source
from vesselspec.physics.steady.limited import Limited, LimitedCircuit, Mode, diode

from . import ngspice
from .networks import LINEAR, dc

WITHIN = 1e-6
STATES: tuple[Mode, ...] = ("limit", "hold", "off")
CIRCUITS = 40


@pytest.fixture(autouse=True)
def _ngspice() -> None:
    ngspice.require()


def network(seed: int) -> tuple[Circuit, list[Limited]]:
    """A DC network whose sources all have a resistance, with up to three chargers and diodes somewhere in it."""
    rng = random.Random(f"limited {seed}")
    circuit = dc(seed, kinds=LINEAR)
    volts = abs(circuit.sources[0].emf)
    # An ideal source beside one that holds its voltage would leave nothing to decide.
    circuit = replace(circuit, sources=tuple(replace(s, z=s.z or 0.004) for s in circuit.sources))
    ends = [(load.a, load.b) for load in circuit.loads]
    chosen = rng.sample(ends, min(len(ends), rng.randint(1, 2)))
    limited = [
        Limited(a, b, volts * rng.uniform(0.97, 1.1), rng.choice((2.0, 10.0, 60.0, 300.0)), volts) for a, b in chosen
    ]
    limited = [replace(each, volts=math.inf) if rng.random() < 0.2 else each for each in limited]
    if len(ends) > 2 and rng.random() < 0.5:
        (a, _), (b, _) = rng.sample(ends, 2)
        if a != b:
            limited.append(diode(a, b, volts))
    return circuit, limited


def with_states(circuit: Circuit, limited: list[Limited], modes: tuple[Mode, ...]) -> Circuit:
    held = [Source(x.plus, x.minus, x.volts) for x, mode in zip(limited, modes, strict=True) if mode == "hold"]
    given = [
        Load(x.plus, x.minus, x.nominal, current=-x.amps) for x, m in zip(limited, modes, strict=True) if m == "limit"
    ]
    return replace(circuit, sources=(*circuit.sources, *held), loads=(*circuit.loads, *given))


def lawful(circuit: Circuit, limited: list[Limited], modes: tuple[Mode, ...], answer: ngspice.Answer) -> bool:
    at = len(circuit.sources)
    for each, mode in zip(limited, modes, strict=True):
        across = (answer.voltages[each.plus] - answer.voltages[each.minus]).real
        if mode == "hold":
            amps = answer.sources[at].real
            at += 1
            if not -1e-5 <= amps <= each.amps + 1e-5:
                return False
        elif (mode == "limit" and across > each.volts + 1e-7) or (mode == "off" and across < each.volts - 1e-7):
            return False
    return True


def test_the_states_that_ngspice_leaves() -> None:
    seen: set[Mode] = set()
    for seed in range(CIRCUITS):
        circuit, limited = network(seed)
        choices = [
            [
                mode
                for mode in STATES
                if not (mode == "limit" and math.isinf(each.amps)) and not (mode != "limit" and math.isinf(each.volts))
            ]
            for each in limited
        ]
        every = list(itertools.product(*choices))
        answers = ngspice.run([with_states(circuit, limited, modes) for modes in every], dc=True)
        true = [n for n, modes in enumerate(every) if lawful(circuit, limited, modes, answers[n])]
        assert true, seed
        answer = answers[true[0]]
        found = LimitedCircuit(circuit, limited).solve()
        assert found.settled
        assert found.solution.status == "solved"
        volts = max(abs(source.emf) for source in circuit.sources)
        assert np.abs(found.solution.node_voltages - answer.voltages).max() <= WITHIN * volts
        amps = max(np.abs(found.solution.branch_currents).max(), np.abs(answer.sources).max())
        own = slice(0, len(circuit.sources))
        assert np.abs(found.solution.source_currents[own] - answer.sources[own]).max() <= WITHIN * amps
        at = len(circuit.sources)
        for each, mode, mine in zip(limited, every[true[0]], found.amps, strict=True):
            theirs = each.amps if mode == "limit" else 0.0
            if mode == "hold":
                theirs, at = answer.sources[at].real, at + 1
            assert mine == pytest.approx(theirs, abs=WITHIN * amps)
        seen.update(found.modes)
    assert seen == set(STATES)  # each state does occur
