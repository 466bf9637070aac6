"""Fault levels of small boats, against figures worked out by hand from the printed tables."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from tests.bench.synthetic import record
from vesselspec.physics.faults.bolted import Net
from vesselspec.physics.faults.circuit import circuit_of
from vesselspec.physics.faults.levels import FaultStudy
from vesselspec.record import read
from vesselspec.rules import Boat

from .boats import BANK, SHORE, level, levels

#: Resistivity of copper of 100 % IACS in ohm mm²/m at 20 °C, and copper's temperature constant.
RHO, ZERO_C = 0.017241, 234.5


def hot(at_20_c: float, celsius: float = 70) -> float:
    return at_20_c * (ZERO_C + celsius) / (ZERO_C + 20)


def test_a_battery_at_its_terminals_and_behind_a_cable() -> None:
    """IEC 60228 class 5, tinned, 10 mm²: 1.95 ohm/km at 20 °C for the smallest; solid copper for the largest."""
    here = level(BANK, "bank", "DC+", "DC-")
    assert here.high_a == here.smallest_a == pytest.approx(2400)
    there = level(BANK, "bar", "DC+", "DC-")
    assert there.known
    assert there.low_a == there.high_a == pytest.approx(12 / (0.005 + RHO / 10 * 4), rel=1e-4)
    assert there.smallest_a == pytest.approx(12 / (0.005 + hot(0.00195) * 4), rel=1e-4)
    assert there.smallest_from == "bank"
    assert [(share.source, share.amps) for share in there.shares] == [("bank", pytest.approx(there.high_a))]
    assert any("12 V / 2400 A = 5 mohm" in step for step in there.derivation)
    assert any(step.startswith("largest: 12 V / |") for step in there.derivation)


def test_a_battery_takes_each_figure_for_the_side_it_is_worst_for() -> None:
    both = BANK.replace("2400 A}", "2400 A, internal_resistance: 6 mohm}")
    found = level(both, "bank", "DC+", "DC-")
    assert found.high_a == pytest.approx(2400)
    assert found.smallest_a == pytest.approx(2000)


@pytest.mark.parametrize(
    ("said", "estimate", "words"),
    [
        # (12 V - 7.2 V) / 800 A = 6 mohm (SAE J537 definition)
        ("cold_cranking_current: 800 A", 2000, "SAE J537"),
        # 3 to 20 mohm for each battery, two in parallel: 1.5 mohm
        ("chemistry: agm-lead-acid, strings: 2", 8000, "3 to 20 mohm"),
        ("chemistry: lithium-iron-phosphate", 6000, "2 to 20 mohm"),
    ],
)
def test_an_order_of_magnitude_is_labelled_and_decides_nothing(said: str, estimate: float, words: str) -> None:
    found = level(BANK.replace("short_circuit_current: 2400 A", said), "bank", "DC+", "DC-")
    assert found.estimate_a == pytest.approx(estimate)
    assert (found.low_a, found.high_a, found.known, found.smallest_a) == (0, math.inf, False, None)
    assert found.missing == (("bank", "its short-circuit current or internal resistance"),)
    assert any(words in step and "order of magnitude only" in step for step in found.derivation)


def test_a_battery_of_which_nothing_is_known_is_limited_by_its_cable_alone() -> None:
    text = BANK.replace(", short_circuit_current: 2400 A", "")
    assert math.isinf(level(text, "bank", "DC+", "DC-").high_a)
    found = level(text, "bar", "DC+", "DC-")
    assert found.high_a == pytest.approx(12 / (RHO / 10 * 4), rel=1e-4)
    assert (found.low_a, found.estimate_a, found.smallest_a) == (0, None, None)
    assert found.shares[0].amps is None
    assert found.missing_smallest == (("bank", "its short-circuit current or internal resistance"),)


def test_an_unknown_length_is_none_for_the_largest_and_judges_no_smallest() -> None:
    found = level(BANK.replace("length: 2 m, ", ""), "bar", "DC+", "DC-")
    assert (found.low_a, found.known) == (0, False)
    assert found.high_a == pytest.approx(2400)
    assert found.smallest_a is None
    assert found.missing == found.missing_smallest == (("C1", "its length"),)


def test_an_unknown_cable_elsewhere_does_not_matter() -> None:
    text = BANK.replace(
        "conditions:",
        "  C2: {from: bar, to: lamp, cores: {red: DC+, black: DC-}}\nloads:\n  lamp: {system: dc}\nconditions:",
    )
    assert level(text, "bar", "DC+", "DC-").known
    assert level(text, "lamp", "DC+", "DC-").missing == (("C2", "its size"),)


TWO = BANK.replace(
    "  bar: {", "  other: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}\n  bar: {"
).replace(
    "conditions:", "  C2: {from: other, to: bar, size: 10 mm2, length: 1 m, cores: {red: DC+, black: DC-}}\nconditions:"
)


def test_two_banks_together_and_the_weaker_alone() -> None:
    found = level(TWO, "bar", "DC+", "DC-")
    one, two = 12 / (0.005 + RHO / 10 * 4), 12 / (0.010 + RHO / 10 * 2)
    assert found.high_a == pytest.approx(one + two, rel=1e-4)
    assert {share.source: share.amps for share in found.shares} == {
        "bank": pytest.approx(one, rel=1e-4),
        "other": pytest.approx(two, rel=1e-4),
    }
    assert found.smallest_from == "other"
    assert found.smallest_a == found.smallest_by["other"]
    assert found.smallest_by["bank"] == pytest.approx(12 / (0.005 + hot(0.00195) * 4), rel=1e-4)
    assert found.smallest_by["other"] == pytest.approx(12 / (0.010 + hot(0.00195, 105) * 2), rel=1e-4)


def test_a_charger_adds_its_limit_once_however_many_outputs_it_has() -> None:
    text = BANK.replace(
        "  bar: {",
        "  charger: {kind: charger, system: ac, dc_system: dc, charge_current: 60 A, outputs: [one, two]}\n"
        "  shore: {kind: shore-inlet, system: ac}\n  bar: {",
    ).replace("systems:", "systems:\n  ac: {kind: ac-single-phase, voltage: 230 V}")
    cables = (
        "  A1: {from: charger/one, to: bar, cores: {red: DC+, black: DC-}}\n"
        "  A2: {from: charger/two, to: bar, cores: {red: DC+, black: DC-}}\n"
        "  A3: {from: shore, to: charger/ac, cores: {brown: L1, blue: N}}\n"
    )
    text = text.replace("conditions:", cables + "conditions:").replace("running: []", "running: [shore, charger]")
    alone = level(BANK, "bar", "DC+", "DC-")
    found = level(text, "bar", "DC+", "DC-")
    assert found.known
    assert found.low_a == pytest.approx(alone.high_a)
    assert found.high_a == pytest.approx(alone.high_a + 60)
    assert {(share.source, share.amps) for share in found.shares if share.limits_itself} == {("charger", 60)}
    assert found.smallest_a == pytest.approx(alone.smallest_a)
    assert any("common practice, no source" in step for step in found.derivation)


def test_a_supply_ashore_through_its_cord() -> None:
    """230 V / 1 kA = 0.23 ohm; cord 4 mm² and 10 m; 5 m of 6 mm²; 10 m of 2.5 mm², each out and back."""
    found = level(SHORE, "kettle", "L1", "N")
    r = 0.23 + 2 * RHO * (10 / 4 + 5 / 6 + 10 / 2.5)
    assert found.known
    assert found.high_a == pytest.approx(230 / r, rel=1e-4)
    # IEC 60228 class 5, tinned, at 20 °C: 5.09, 3.39 and 8.21 ohm/km; the cord at 105 °C, the cables at 70 °C.
    warm = 0.23 + 2 * (hot(0.00509, 105) * 10 + hot(0.00339) * 5 + hot(0.00821) * 10)
    assert found.smallest_a == pytest.approx(230 / warm, rel=2e-3)  # reactance is left out here
    earth = level(SHORE, "kettle", "L1", "PE")
    assert earth.high_a == pytest.approx(found.high_a)
    assert level(SHORE, "shore", "L1", "N").high_a == pytest.approx(230 / (0.23 + 2 * RHO * 2.5), rel=1e-4)


def test_a_supply_that_nobody_measured() -> None:
    text = SHORE.replace("supply_fault_current: 1 kA, ", "")
    found = level(text, "shore", "L1", "N")
    assert found.high_a == pytest.approx(230 / (2 * RHO * 2.5), rel=1e-4)
    assert (found.low_a, found.smallest_a) == (0, None)
    assert found.missing == (("shore", "its supply impedance or supply fault current"),)
    assert any("not recorded: not limited here" in step for step in found.derivation)
    bare = level(text.replace(", cord: {size: 4 mm2, length: 10 m}", ""), "shore", "L1", "N")
    assert math.isinf(bare.high_a)
    assert ("shore", "its cord") in bare.missing


def test_between_lines_a_measured_loop_may_lie_half_in_the_neutral() -> None:
    """0.2 ohm of loop on 120/240 V: at most 240 V / 0.2 ohm between the lines, at least 240 V / 0.4 ohm."""
    text = """
systems:
  ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}
devices:
  shore: {kind: shore-inlet, system: ac, supply_impedance: 0.2 ohm, cord: {size: 240 mm2, length: 1 mm}}
conditions:
  now: {running: [shore]}
"""
    assert level(text, "shore", "L1", "N").high_a == pytest.approx(600, rel=1e-3)
    both = level(text, "shore", "L1", "L2")
    assert both.high_a == pytest.approx(1200, rel=1e-3)
    assert both.smallest_a == pytest.approx(600, rel=1e-3)


GENERATOR = """
systems:
  ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}
devices:
  set: {kind: generator, system: ac, apparent_power: 12 kVA, subtransient_reactance: 12 %, neutral_earth_bond: true}
conditions:
  now: {running: [set]}
"""


def test_a_generator_by_its_subtransient_reactance() -> None:
    """12 kVA at 240 V is 50 A a line; 50 A / 12 % = 416.7 A, with sqrt(3) of it in the first half cycle at most."""
    for one, two in (("L1", "L2"), ("L1", "N"), ("L2", "PE")):
        found = level(GENERATOR, "set", one, two)
        assert found.high_a == pytest.approx(50 / 0.12)
        assert found.asymmetry == pytest.approx(math.sqrt(3))
        assert found.smallest_a is None
        assert found.missing_smallest == (("set", "its sustained short-circuit current"),)
    assert level(GENERATOR.replace("12 kVA", "12 kVA, rating: 40 A"), "set", "L1", "N").high_a == pytest.approx(
        40 / 0.12
    )


def test_without_a_bond_there_is_no_loop_to_earth() -> None:
    found = levels(GENERATOR.replace("neutral_earth_bond: true", "neutral_earth_bond: false"))
    assert found.level("set", ("L1", "PE")) is None
    assert found.level("set", ("L1", "N")) is not None
    assert ("set", ("L1", "PE")) not in list(found.pairs())


def test_three_phases_between_lines_and_to_neutral() -> None:
    text = GENERATOR.replace("ac-split-phase, voltage: 120/240 V", "ac-three-phase, voltage: 230/400 V")
    rated = 12000 / 3 / 230
    assert level(text, "set", "L1", "N").high_a == pytest.approx(rated / 0.12)
    assert level(text, "set", "L1", "L3").high_a == pytest.approx(rated / 0.12 * math.sqrt(3) / 2)


@pytest.mark.parametrize(
    ("device", "missing"),
    [
        ("{kind: generator, system: ac, apparent_power: 12 kVA}", "its subtransient reactance"),
        ("{kind: generator, system: ac, subtransient_reactance: 12 %}", "its rating"),
        ("{kind: inverter, system: ac, dc_system: dc, apparent_power: 2 kVA}", "its short-circuit current"),
    ],
)
def test_sources_that_are_not_known_say_what_is_missing(device: str, missing: str) -> None:
    text = f"""
systems:
  ac: {{kind: ac-single-phase, voltage: 230 V}}
  dc: {{kind: dc, voltage: 12 V}}
devices:
  it: {device}
conditions:
  now: {{running: [it]}}
"""
    found = levels(text)
    place = next(place for place, pair in found.pairs() if pair == ("L1", "N"))
    here = found.level(place, ("L1", "N"))
    assert here is not None
    assert math.isinf(here.high_a)
    assert here.missing == (("it", missing),)


def test_an_isolation_transformer_hides_what_is_before_it() -> None:
    text = SHORE.replace(
        "panels:", "  transformer: {kind: isolation-transformer, system: ac, secondary_system: ac}\npanels:"
    ).replace("conditions:", "  T: {from: shore, to: transformer/primary, cores: {brown: L1, blue: N}}\nconditions:")
    found = level(text, "transformer/secondary", "L1", "N")
    assert math.isinf(found.high_a)
    assert found.missing == (("transformer", "its short-circuit impedance"),)


def test_a_transformer_gives_its_rated_current_over_its_short_circuit_impedance() -> None:
    """The rule on its plate; what is before it counts for the smallest fault alone."""
    text = SHORE.replace(
        "panels:",
        "  transformer: {kind: isolation-transformer, system: ac, secondary_system: ac, apparent_power: 6.9 kVA, "
        "short_circuit_impedance: 4 %}\npanels:",
    ).replace(
        "conditions:",
        "  T: {from: shore, to: transformer/primary, size: 6 mm2, length: 2 m, insulation: 70 degC, "
        "cores: {brown: L1, blue: N}}\nconditions:",
    )
    before, found = (level(text, f"transformer/{side}", "L1", "N") for side in ("primary", "secondary"))
    assert found.known
    assert found.high_a == pytest.approx(6900 / 230 / 0.04)
    assert before.smallest_a is not None
    assert found.smallest_a == pytest.approx(230 / (0.04 * 230 / 30 + 230 / before.smallest_a))
    assert found.missing_smallest == ()
    unknown = level(text.replace("supply_fault_current: 1 kA, ", ""), "transformer/secondary", "L1", "N")
    assert unknown.smallest_a is None
    assert unknown.missing_smallest == (("shore", "its supply impedance or supply fault current"),)


def test_half_a_winding_is_taken_at_its_worst() -> None:
    text = """
systems:
  shore: {kind: ac-single-phase, voltage: 240 V}
  ac: {kind: ac-split-phase, voltage: 120/240 V}
devices:
  inlet: {kind: shore-inlet, system: shore, supply_fault_current: 2 kA, cord: {size: 16 mm2, length: 10 m}}
  transformer: {kind: isolation-transformer, system: shore, secondary_system: ac, apparent_power: 12 kVA,
                short_circuit_impedance: 3 %}
cables:
  T: {from: inlet, to: transformer/primary, size: 16 mm2, length: 1 m, insulation: 70 degC,
      cores: {black: L1, white: N}}
conditions:
  now: {running: [inlet]}
"""
    before = level(text, "transformer/primary", "L1", "N").smallest_a
    assert before is not None
    for pair, volts, windings in ((("L1", "N"), 120, 1), (("L1", "L2"), 240, 2)):
        found = level(text, "transformer/secondary", *pair)
        own = windings * 0.03 * 120 / 50
        assert found.high_a == pytest.approx(volts / own)
        assert found.smallest_a == pytest.approx(volts / (1.5 * own + 240 / before * (volts / 240) ** 2))


SPLITTER = """
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  alternator: {kind: alternator, system: dc, rating: 90 A, self_limiting: true}
  splitter: {kind: charge-splitter, system: dc, outputs: [one, two]}
  first: {kind: battery-bank, system: dc, short_circuit_current: 2 kA}
  second: {kind: battery-bank, system: dc, short_circuit_current: 1 kA}
cables:
  A: {from: alternator, to: splitter/in, cores: {red: DC+}}
  B: {from: splitter/one, to: first, cores: {red: DC+}}
  C: {from: splitter/two, to: second, cores: {red: DC+}}
  N1: {from: alternator, to: first, cores: {black: DC-}}
  N2: {from: first, to: second, cores: {black: DC-}}
conditions:
  now: {running: [alternator]}
"""


def test_diodes_keep_banks_apart_and_let_the_alternator_through() -> None:
    first, second = (level(SPLITTER, bank, "DC+", "DC-") for bank in ("first", "second"))
    assert (first.low_a, first.high_a) == (pytest.approx(2000), pytest.approx(2090))
    assert (second.low_a, second.high_a) == (pytest.approx(1000), pytest.approx(1090))
    assert second.smallest_by == {"second": pytest.approx(1000)}


def test_an_open_switch_parts_what_it_stands_between() -> None:
    text = TWO.replace("  bar: {", "  tie: {kind: switch, system: dc}\n  bar: {").replace(
        "from: other, to: bar", "from: other, to: tie/line"
    )
    text = text.replace(
        "conditions:",
        "  C3: {from: tie/load, to: bar, size: 10 mm2, length: 1 m, cores: {red: DC+, black: DC-}}\nconditions:",
    )
    together = level(text, "bar", "DC+", "DC-")
    apart = level(text.replace("running: []", "running: [], positions: {tie: open}"), "bar", "DC+", "DC-")
    assert {share.source for share in together.shares} == {"bank", "other"}
    assert {share.source for share in apart.shares} == {"bank"}
    assert apart.high_a < together.high_a


def test_every_level_of_a_larger_vessel_against_a_dense_solve() -> None:
    """A synthetic vessel of 60 circuits in each of its conditions, all views, pairs picked at random."""
    text = record(60).decode()
    for kind, said in (
        ("shore-inlet", "supply_impedance: 0.1 ohm, cord: {size: 6 AWG, length: 15 m}"),
        ("generator", "apparent_power: 24 kVA, subtransient_reactance: 14 %"),
        ("battery-bank", "internal_resistance: 2 mohm"),
    ):
        assert f"kind: {kind}," in text
        text = text.replace(f"kind: {kind},", f"kind: {kind}, {said},")
    read_back = read({"vessel.yaml": text.encode()})
    assert read_back.vessel is not None
    boat = Boat(read_back.vessel, read_back.places)
    study = FaultStudy(boat.vessel, boat.network)
    rng = np.random.default_rng(5)
    compared = 0
    for key, condition in boat.vessel.conditions.items():
        found = study.of(condition, boat.states[key])
        for dc in (False, True):
            feeds = tuple(feed for feed in found.feeds if feed.dc == dc and not feed.limits_itself)
            net, _ = circuit_of(study.wiring, found._own[dc], feeds, found._nodes, "low")
            if not len(net.plus):
                continue
            a, b = study.pairs[dc].a, study.pairs[dc].b
            picked = rng.choice(len(a), min(len(a), 30), replace=False)
            amps = found._solved[dc].low.amps[picked]
            dense = _dense(net)
            for one, two, mine in zip(a[picked], b[picked], amps, strict=True):
                assert mine == pytest.approx(dense(int(one), int(two)), rel=1e-9, abs=1e-6)
                compared += 1
    assert compared >= 100


def _dense(net: Net) -> Callable[[int, int], complex]:
    """Contacts as joined rows, everything else as a dense matrix with a pseudo-inverse."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ones = np.ones(len(net.contact_a))
    joined = coo_array((ones, (net.contact_a, net.contact_b)), shape=(net.nodes, net.nodes))
    count, group = connected_components(joined, directed=False)
    matrix = np.zeros((count, count), complex)
    drive = np.zeros(count, complex)
    rows = [*zip(net.branch_a, net.branch_b, net.branch_z, np.zeros(len(net.branch_a)), strict=True)]
    rows += [*zip(net.plus, net.minus, net.source_z, net.emf, strict=True)]
    for a, b, z, emf in rows:
        one, two = group[a], group[b]
        matrix[one, one] += 1 / z
        matrix[two, two] += 1 / z
        matrix[one, two] -= 1 / z
        matrix[two, one] -= 1 / z
        drive[one] += emf / z
        drive[two] -= emf / z
    _, part = connected_components(coo_array(np.abs(matrix)), directed=False)
    keep = np.ones(count, bool)
    keep[[np.flatnonzero(part == number)[0] for number in range(part.max() + 1)]] = False
    inverse = np.zeros((count, count), complex)
    inverse[np.ix_(keep, keep)] = np.linalg.inv(matrix[np.ix_(keep, keep)])
    volts = inverse @ drive

    def amps(one: int, two: int) -> complex:
        a, b = group[one], group[two]
        if part[a] != part[b] or a == b:
            return 0j
        return complex((volts[a] - volts[b]) / (inverse[a, a] + inverse[b, b] - inverse[a, b] - inverse[b, a]))

    return amps


#: A bank of 12 V and 5 mohm, 2 m of 10 mm² out and back to a busbar, a fuse on the busbar, a lamp.
FUSED = BANK.replace(
    "cables:\n",
    """  fuse: {kind: fuse, system: dc, rating: 10 A, mounted_on: "bar:DC+"}
loads:
  lamp: {system: dc, power: 20 W}
cables:
""",
)


def test_a_fault_behind_a_fuse_in_one_conductor_is_none_larger_than_before_it() -> None:
    """The return of the busbar that feeds the fuse counts, not that of the bank: two conductors, not one."""
    bar, behind = level(FUSED, "bar", "DC+", "DC-"), level(FUSED, "fuse/load", "DC+", "DC-")
    assert behind.low_a == pytest.approx(bar.low_a)
    assert behind.smallest_a == pytest.approx(bar.smallest_a)
    assert behind.low_a < 2400
    assert "no return is wired here: a fault to bar:DC-" in behind.derivation


def test_the_return_core_of_its_cable_says_where_a_fault_behind_a_fuse_returns() -> None:
    """Its black core starts at the bank itself: one conductor of 2 m lies in the way, the positive one."""
    text = FUSED.replace(
        "conditions:\n",
        """  L: {from: fuse/load, to: lamp, size: 4 mm2, length: 3 m, cores: {red: DC+, black: {from: "bank:DC-"}}}
conditions:
""",
    )
    bar, behind = level(text, "bar", "DC+", "DC-"), level(text, "fuse/load", "DC+", "DC-")
    source, loop = 12 / 2400, 12 / bar.low_a
    assert 12 / behind.low_a == pytest.approx(source + (loop - source) / 2)
    assert "no return is wired here: a fault to bank:DC-" in behind.derivation
