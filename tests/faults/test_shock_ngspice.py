"""Each further failure against ngspice, on circuits written down by hand from the boats of `test_shock`.

Nothing of ours builds these circuits: nodes, resistances and what fails in them are worked out here from sizes and
lengths. Node 0 is true earth, where the neutral ashore is earthed; half of the supply's loop lies in its return.
"""

from __future__ import annotations

import pytest

from tests.physics.oracles import ngspice
from vesselspec.physics.faults.shock_outcome import Outcome
from vesselspec.physics.steady.circuit import Branch, Circuit, Source

from .boats import SHORE
from .test_shock import BONDED, INVERTER, NO_SHORE_EARTH, SPLIT, TWO_CORES, hangs, only

#: Copper at 20 °C, in ohm mm²/m.
COPPER = 0.017241
SUPPLY = 230 / 1000 / 2
CORD = COPPER * 10 / 4
FEEDER = COPPER * 5 / 6
BRANCH = COPPER * 10 / 2.5
KETTLE = 230**2 / 2000
#: What holds a node that nothing else does to earth, so that there is one answer.
NOTHING = 1e9
WITHIN = 3e-3


def volts(emfs: dict[tuple[int, int], float], ohms: dict[tuple[int, int], float]) -> list[complex]:
    """The voltage of every node to node 0. `emfs` from minus to plus, ideal; `ohms` between two nodes."""
    ngspice.require()
    nodes = 1 + max(node for pair in (*emfs, *ohms) for node in pair)
    circuit = Circuit(
        nodes,
        tuple(Branch(a, b, z) for (a, b), z in ohms.items()),
        sources=tuple(Source(plus, minus, emf) for (minus, plus), emf in emfs.items()),
        references=(0,),
    )
    (answer,) = ngspice.run([circuit], dc=False)
    return [complex(each) for each in answer.voltages]


def touched(found: Outcome) -> float:
    assert found.case_v is not None
    return found.case_v[1]


def test_a_line_on_a_case_with_its_earth() -> None:
    """1 emf, 2 case; the line's way out, the earth's way back."""
    at = volts({(0, 1): 230}, {(1, 2): SUPPLY + CORD + FEEDER + BRANCH, (2, 0): BRANCH + FEEDER + CORD + SUPPLY})
    found = only(SHORE, "case", "kettle")
    assert touched(found) == pytest.approx(abs(at[2]), rel=WITHIN)
    assert found.amps == pytest.approx(abs(at[2]) / (BRANCH + FEEDER + CORD + SUPPLY), rel=WITHIN)


def test_a_line_on_a_case_without_earth() -> None:
    at = volts({(0, 1): 230}, {(1, 2): SUPPLY + CORD + FEEDER + BRANCH, (2, 0): NOTHING})
    assert touched(only(TWO_CORES, "case", "kettle")) == pytest.approx(abs(at[2]), rel=WITHIN)


def test_an_open_earth_core_that_carried_the_neutral() -> None:
    """1 emf, 2 line at the kettle, 3 its case, which its element lifts."""
    text = SHORE.replace(
        "K: {type: three, from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m}",
        "K: {from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m, cores: {brown: L1, green: PE}}\n"
        "  X: {from: kettle, to: kettle, size: 2.5 mm2, length: 1 m, cores: {blue: {from: N, to: PE}}}",
    ).replace("now: {running: [shore]}", "now: {running: [shore], demand: {kettle: 1}}")
    at = volts({(0, 1): 230}, {(1, 2): SUPPLY + CORD + FEEDER + BRANCH, (2, 3): KETTLE, (3, 0): NOTHING})
    assert touched(only(text, "earth", "K")) == pytest.approx(abs(at[3]), rel=WITHIN)


def test_an_open_neutral() -> None:
    """1 and 2 the lines, 3 the neutral that comes from nowhere any more: 12 ohm to one line, 6 ohm to the other."""
    at = volts({(0, 1): 120, (2, 0): 120}, {(1, 3): 120**2 / 1200, (3, 2): 120**2 / 2400, (3, 0): NOTHING})
    found = only(SPLIT, "neutral", "shore")
    assert found.feeds is not None
    loads = sorted((abs(at[1] - at[3]), abs(at[3] - at[2])))
    assert list(found.feeds) == pytest.approx(loads, rel=1e-2)


def test_a_reversed_outlet_on_a_neutral_that_is_earthed_on_board() -> None:
    """1 emf, on what is the neutral on board; 2 the panel's bar and its case, with and without the shore's earth."""
    bond = COPPER * 1 / 6
    live = volts({(0, 1): 230}, {(1, 2): SUPPLY + CORD + FEEDER, (2, 0): NOTHING})
    found = only(NO_SHORE_EARTH.replace("conditions:", BONDED), "reversed", "shore")
    assert touched(found) == pytest.approx(abs(live[2]), rel=WITHIN)
    back = bond + FEEDER + CORD + SUPPLY
    shorted = volts({(0, 1): 230}, {(1, 2): SUPPLY + CORD + FEEDER, (2, 0): back})
    found = only(SHORE.replace("conditions:", BONDED), "reversed", "shore")
    assert found.amps == pytest.approx(abs(shorted[2]) / back, rel=WITHIN)


def test_a_welded_transfer_contact() -> None:
    """1 the inverter, whose neutral its relay joins with earth; 2 the pin of the inlet, held by nothing."""
    at = volts({(0, 1): 230}, {(1, 2): COPPER * 5 / 6, (2, 0): NOTHING})
    found = only(INVERTER, "transfer", "unit")
    assert found.places == ("shore:L1",)
    assert touched(found) == pytest.approx(abs(at[2]), rel=0.02)


def test_a_neutral_earth_relay_that_stays_open() -> None:
    """1 emf, 2 its neutral, 3 a case with a line on it: with the relay a current, without it none to open anything."""
    out, back = COPPER * 10 / 2.5, COPPER * 10 / 2.5
    closed = volts({(2, 1): 230}, {(1, 3): out, (3, 0): back, (0, 2): 1e-6})
    opened = volts({(2, 1): 230}, {(1, 3): out, (3, 0): back, (0, 2): NOTHING})
    assert abs(closed[3]) / back > 1000
    assert abs(opened[3]) / back < 1e-3
    assert [(each.kind, each.item) for each in hangs(INVERTER)] == [("relay-open", "unit")]


def test_a_residual_current_device_that_does_not_trip() -> None:
    """300 m of cable let too little through for the breaker: what opens is the residual-current device, or nothing."""
    way = '"1": {poles: [L1], rating: 16 A, curve: C, interrupting: 6 kA}'
    guarded = SHORE.replace("2.5 mm2, length: 10 m", "2.5 mm2, length: 300 m").replace(
        way, way.replace("6 kA}", "6 kA, residual_current: 30 mA, delay: 40 ms}")
    )
    long = COPPER * 300 / 2.5
    at = volts({(0, 1): 230}, {(1, 2): SUPPLY + CORD + FEEDER + long, (2, 0): long + FEEDER + CORD + SUPPLY})
    amps = abs(at[2]) / (long + FEEDER + CORD + SUPPLY)
    found = only(guarded, "case", "kettle")
    assert (found.verdict, found.amps) == ("cleared", pytest.approx(amps, rel=WITHIN))
    assert 0.03 < amps < 5 * 16  # more than the one needs, less than the other opens at once
    assert [(each.kind, each.item, each.places) for each in hangs(guarded)] == [
        ("residual", "panel/main/1", ("kettle",))
    ]
