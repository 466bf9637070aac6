"""Limited sources: small circuits by hand, and the law of each state on random ones."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.physics.steady.circuit import Branch, Circuit, Load, Source
from vesselspec.physics.steady.limited import Limited, LimitedCircuit, diode

BANK = Source(1, 0, 12.0, 0.1)


def test_below_its_voltage_it_gives_its_limit() -> None:
    """10 A into 12 V behind 0.1 ohm: 13 V, below 14.4 V."""
    found = LimitedCircuit(Circuit(2, sources=(BANK,), references=(0,)), [Limited(1, 0, 14.4, 10.0, 12.0)]).solve()
    assert found.modes == ("limit",)
    assert found.amps == pytest.approx((10.0,))
    assert found.solution.node_voltages[1].real == pytest.approx(13.0)


def test_at_its_voltage_it_gives_what_is_asked_for() -> None:
    """40 A would make 16 V: at 14.4 V it gives (14.4 - 12) / 0.1 = 24 A."""
    found = LimitedCircuit(Circuit(2, sources=(BANK,), references=(0,)), [Limited(1, 0, 14.4, 40.0, 12.0)]).solve()
    assert found.modes == ("hold",)
    assert found.amps == pytest.approx((24.0,))


def test_above_its_voltage_it_gives_nothing() -> None:
    found = LimitedCircuit(Circuit(2, sources=(BANK,), references=(0,)), [Limited(1, 0, 11.0, 40.0, 12.0)]).solve()
    assert found.modes == ("off",)
    assert found.amps == pytest.approx((0.0,))


def test_two_on_one_bar_the_lower_gives_way() -> None:
    """14.4 V and 13.5 V, 10 A each, at a bank that takes 15 A at 13.5 V: 10 A and 5 A."""
    limited = [Limited(1, 0, 14.4, 10.0, 12.0), Limited(1, 0, 13.5, 10.0, 12.0)]
    found = LimitedCircuit(Circuit(2, sources=(BANK,), references=(0,)), limited).solve()
    assert found.modes == ("limit", "hold")
    assert found.amps == pytest.approx((10.0, 5.0))


def test_diodes_keep_banks_apart_and_let_charging_through() -> None:
    """One alternator, 30 A, two banks of 0.1 ohm and 0.2 ohm: 20 A and 10 A; without it, nothing passes."""
    circuit = Circuit(
        4, sources=(Source(2, 0, 12.0, 0.1), Source(3, 0, 12.0, 0.2)), loads=(Load(3, 0, 12.0, impedance=6.0),)
    )
    diodes = [diode(1, 2, 12.0), diode(1, 3, 12.0)]
    still = LimitedCircuit(circuit, [*diodes, Limited(1, 0, math.inf, 0.0, 12.0)]).solve()
    assert still.amps[0] == pytest.approx(0.0, abs=1e-6)
    assert still.solution.source_currents[0].real == pytest.approx(0.0, abs=1e-6)
    without = Circuit(4, sources=circuit.sources)
    found = LimitedCircuit(without, [*diodes, Limited(1, 0, math.inf, 30.0, 12.0)]).solve()
    assert found.amps == pytest.approx((20.0, 10.0, 30.0))


def test_a_source_alone_holds_its_loads() -> None:
    circuit = Circuit(2, loads=(Load(1, 0, 12.0, power=60.0),), references=(0,))
    found = LimitedCircuit(circuit, [Limited(1, 0, 12.0, math.inf, 12.0, "hold")]).solve()
    assert found.amps == pytest.approx((5.0,))


@settings(max_examples=60, deadline=None)
@given(
    ohms=st.lists(st.floats(0.001, 0.3), min_size=6, max_size=6),
    watts=st.lists(st.floats(0, 150), min_size=3, max_size=3),
    chargers=st.lists(st.tuples(st.floats(11, 16), st.floats(0, 80), st.integers(1, 3)), min_size=1, max_size=4),
)
def test_every_state_keeps_its_law_and_power_balances(
    ohms: list[float], watts: list[float], chargers: list[tuple[float, float, int]]
) -> None:
    circuit = Circuit(
        5,
        branches=(Branch(1, 2, ohms[0]), Branch(2, 3, ohms[1]), Branch(1, 3, ohms[2]), Branch(4, 2, ohms[3])),
        sources=(Source(1, 0, 12.0, ohms[4]), Source(4, 0, 12.6, ohms[5])),
        loads=tuple(Load(node, 0, 12.0, power=power) for node, power in zip((1, 2, 3), watts, strict=True)),
        references=(0,),
    )
    limited = [Limited(node, 0, volts, amps, 12.0) for volts, amps, node in chargers]
    found = LimitedCircuit(circuit, limited).solve()
    if found.solution.status != "solved":
        return
    assert found.settled
    for each, amps in zip(limited, found.amps, strict=True):
        across = found.volts(each)
        assert -1e-5 <= amps <= each.amps + 1e-4
        if amps > 1e-4:
            assert across <= each.volts + 1e-6
        if amps < each.amps - 1e-3:
            assert across >= each.volts - 1e-6
    s = found.solution
    given_w = sum(found.volts(each) * amps for each, amps in zip(limited, found.amps, strict=True))
    given_w += sum((s.node_voltages[x.plus] * i).real for x, i in zip(circuit.sources, s.source_currents, strict=False))
    taken_w = sum((v * i).real for v, i in zip(s.load_voltages[:3], s.load_currents[:3], strict=True))
    taken_w += sum(abs(i) ** 2 * b.z.real for b, i in zip(circuit.branches, s.branch_currents, strict=True))
    assert given_w == pytest.approx(taken_w, rel=1e-6, abs=1e-6)
