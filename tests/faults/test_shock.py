"""One more fault, on boats small enough to be worked out by hand.

In `SHORE` line, neutral and earth have the same conductors all the way, and half of the supply's loop impedance lies
in its return: a line on a case divides 230 V into halves.
"""

from __future__ import annotations

import pytest

from vesselspec.physics.faults.shock import ShockStudy
from vesselspec.physics.faults.shock_entries import Entry, entries
from vesselspec.physics.faults.shock_outcome import Outcome, Silent
from vesselspec.physics.faults.shock_silent import silent

from .boats import BANK, SHORE, boat

TWO_CORES = SHORE.replace(
    "K: {type: three, from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m}",
    "K: {from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m, cores: {brown: L1, blue: N}}",
)
NO_SHORE_EARTH = SHORE.replace(
    "S: {type: three, from: shore, to: panel/main/0, size: 6 mm2, length: 5 m}",
    "S: {from: shore, to: panel/main/0, size: 6 mm2, length: 5 m, cores: {brown: L1, blue: N}}",
)
BONDED = (
    "  B: {from: panel/main, to: panel/main, size: 6 mm2, length: 1 m, cores: {grey: {from: N, to: PE}}}\nconditions:"
)


def outcomes(text: str) -> list[Outcome]:
    return [each for checks in boat(text).fault_checks for each in ShockStudy(checks).outcomes()]


def only(text: str, kind: str, item: str) -> Outcome:
    (found,) = [each for each in outcomes(text) if (each.failure.kind, each.failure.item) == (kind, item)]
    return found


def counting(text: str) -> list[Entry]:
    return [entry for entry in entries(outcomes(text)) if entry.counts]


def hangs(text: str) -> list[Silent]:
    return [each for checks in boat(text).fault_checks for each in silent(ShockStudy(checks))]


# --- a line on a case ------------------------------------------------------------------------------------


def test_with_its_earth_a_case_takes_the_share_of_the_earth_in_the_loop() -> None:
    """Loop: 0.23 ohm + 2 × 17.241 mohm mm²/m × (10/4 + 5/6 + 10/2.5) m/mm² = 0.4828 ohm; half of 230 V."""
    found = only(SHORE, "case", "kettle")
    assert found.verdict == "cleared"
    assert found.case_v == pytest.approx((115, 115))
    assert found.amps == pytest.approx(230 / 0.4828, rel=2e-3)
    assert found.within_s == 0.1  # 476 A is more than ten times 16 A
    assert found.device == "panel/main/1"
    assert counting(SHORE) == []


def test_a_thinner_earth_takes_the_greater_share() -> None:
    """Cord's earth 1 mm²: 172 mohm in place of 43. (0.115 + 0.1724 + 0.0144 + 0.0690) / 0.6121 of 230 V."""
    thin = SHORE.replace("cord: {size: 4 mm2,", "cord: {size: 4 mm2, earth_size: 1 mm2,")
    found = only(thin, "case", "kettle")
    assert found.case_v == pytest.approx((139.3, 139.3), rel=2e-3)


def test_without_an_earth_core_the_case_stands_at_line_voltage_and_nothing_opens() -> None:
    found = only(TWO_CORES, "case", "kettle")
    assert found.verdict == "stays live"
    assert found.case_v == pytest.approx((230, 230))
    assert found.places == ("kettle",)
    (entry,) = counting(TWO_CORES)
    assert entry.cause == ("unearthed", "kettle")


def test_double_insulation_has_no_case_to_touch() -> None:
    text = TWO_CORES.replace("power: 2 kW}", "power: 2 kW, double_insulated: true}")
    assert [each for each in outcomes(text) if each.failure.item == "kettle"] == []
    assert counting(text) == []


def test_one_lost_earth_ashore_is_one_entry_for_the_whole_boat() -> None:
    (entry,) = counting(NO_SHORE_EARTH)
    assert set(entry.places) == {"panel", "kettle"}
    assert set(entry.failing) == {"kettle", "panel"}
    assert entry.worst.case_v == pytest.approx((230, 230))


def test_an_unknown_electrode_leaves_everything_open_but_saves_nobody() -> None:
    plate = NO_SHORE_EARTH.replace("devices:", "devices:\n  plate: {kind: earth-point, duty: ground-plate}").replace(
        "conditions:", "  E: {from: plate, to: panel, size: 6 mm2, length: 2 m, cores: {green: PE}}\nconditions:"
    )
    (entry,) = counting(plate)
    assert entry.worst.case_v == pytest.approx((0, 230))
    assert entry.worst.hull_v == pytest.approx((0, 230))
    assert "plate" in entry.places


def test_a_residual_current_device_opens_only_through_somebody() -> None:
    way = '"1": {poles: [L1], rating: 16 A, curve: C, interrupting: 6 kA}'
    guarded = TWO_CORES.replace(way, way.replace("6 kA}", "6 kA, residual_current: 30 mA, delay: 40 ms}"))
    found = only(guarded, "case", "kettle")
    assert found.verdict == "opens when touched"
    assert found.residuals == (("panel/main/1", 0.03, 0.04),)


def test_a_conductor_of_unknown_size_may_leave_the_whole_voltage_on_the_case() -> None:
    unknown = SHORE.replace("size: 2.5 mm2, length: 10 m}", "length: 10 m}")
    found = only(unknown, "case", "kettle")
    assert found.verdict == "cannot judge"
    assert found.case_v is not None
    assert found.case_v[1] == pytest.approx(230)
    assert ("K", "its size") in found.missing


def test_a_device_that_opens_too_late_counts() -> None:
    weak = SHORE.replace("2.5 mm2, length: 10 m", "2.5 mm2, length: 300 m")
    (entry,) = counting(weak)
    assert (entry.verdict, entry.cause) == ("opens late", ("late", "panel/main/1"))


def test_a_touch_below_the_limit_needs_no_device() -> None:
    """An earth of 95 mm² all the way, and a stiff supply: hardly a tenth of the loop is earth."""
    text = SHORE.replace("supply_fault_current: 1 kA, cord: {size: 4 mm2,", "cord: {size: 4 mm2, earth_size: 95 mm2,")
    thick = "cores: {brown: L1, blue: N, green: {from: PE, size: 95 mm2}}"
    text = text.replace(
        "cable_types:\n  three: {insulation: 70 degC, cores: {brown: L1, blue: N, green: PE}}",
        (f"cable_types:\n  three: {{insulation: 70 degC, {thick}}}"),
    )
    found = only(text, "case", "kettle")
    assert found.case_v is not None
    assert found.case_v[1] == pytest.approx(230 * (25 / 95) / (25 / 95 + 10 / 4 + 5 / 6 + 10 / 2.5), rel=1e-2)
    assert (found.verdict, found.cause) == ("below the limit", ("below",))


def test_where_nothing_joins_neutral_and_earth_the_first_fault_cannot_be_judged() -> None:
    text = SHORE.replace(
        "shore: {kind: shore-inlet, system: ac, supply_fault_current: 1 kA, cord: {size: 4 mm2, length: 10 m}}",
        "shore: {kind: generator, system: ac, rating: 20 A, neutral_earth_bond: false}",
    )
    found = only(text, "case", "kettle")
    assert (found.verdict, found.cause) == ("cannot judge", ("floating", "shore"))


# --- other failures --------------------------------------------------------------------------------------

SPLIT = """
systems:
  ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}
devices:
  shore: {kind: shore-inlet, system: ac, supply_fault_current: 10 kA, cord: {size: 16 mm2, length: 1 m}}
panels:
  panel:
    system: ac
    sections:
      main:
        ways:
          "0": {poles: [L1, L2], rating: 50 A, duty: main}
          "1": {poles: [L1], rating: 20 A}
          "2": {poles: [L2], rating: 30 A}
loads:
  small: {system: ac, poles: [L1, N], power: 1200 W, power_factor: 1}
  large: {system: ac, poles: [L2, N], power: 2400 W, power_factor: 1}
cables:
  S: {from: shore, to: panel/main/0, size: 16 mm2, length: 1 m, cores: {black: L1, red: L2, white: N, green: PE}}
  C1: {from: panel/main/1, to: small, size: 16 mm2, length: 1 m, cores: {black: L1, white: N, green: PE}}
  C2: {from: panel/main/2, to: large, size: 16 mm2, length: 1 m, cores: {black: L2, white: N, green: PE}}
conditions:
  now: {running: [shore], demand: {small: 1, large: 1}}
"""


def test_a_lost_neutral_divides_both_lines_as_the_loads_do() -> None:
    """12 ohm and 6 ohm in a row at 240 V: 160 V and 80 V; ashore or in the feeder, it is one entry."""
    found = only(SPLIT, "neutral", "shore")
    assert found.verdict == "nothing live"
    assert found.feeds == pytest.approx((80, 160), rel=1e-2)
    (entry,) = [each for each in entries(outcomes(SPLIT)) if each.cause == ("neutral",)]
    assert entry.failing == ("shore", "S")
    assert counting(SPLIT) == []


def test_equal_loads_do_not_notice_a_lost_neutral() -> None:
    equal = SPLIT.replace("2400 W", "1200 W")
    assert [each for each in outcomes(equal) if each.failure.kind == "neutral" and each.feeds is not None] == []


def test_a_reversed_outlet_alone_leaves_switched_off_loads_live_inside() -> None:
    found = only(SHORE, "reversed", "shore")
    assert found.verdict == "nothing live"
    assert found.live_off == ("kettle",)
    both = SHORE.replace('"1": {poles: [L1]', '"1": {poles: [L1, N]')
    assert [each for each in outcomes(both) if each.failure.kind == "reversed"] == []


def test_a_reversed_outlet_on_a_neutral_that_is_earthed_on_board() -> None:
    """With the shore's earth it is a short for the device ashore; without it every case is at line voltage."""
    shorted = only(SHORE.replace("conditions:", BONDED), "reversed", "shore")
    assert shorted.verdict == "cannot judge"
    assert shorted.amps is not None
    assert shorted.amps > 300
    live = only(NO_SHORE_EARTH.replace("conditions:", BONDED), "reversed", "shore")
    assert live.verdict == "stays live"
    assert live.case_v == pytest.approx((230, 230), rel=1e-3)
    assert live.culprits == ("B",)
    assert set(live.places) == {"panel", "kettle"}


@pytest.mark.parametrize(("poles", "verdict"), [("[L1, N]", "opens when touched"), ("[L1]", "stays live")])
def test_a_residual_device_helps_on_a_live_neutral_only_if_it_opens_it(poles: str, verdict: str) -> None:
    main = '"0": {poles: [L1], rating: 32 A, duty: main, curve: C, interrupting: 6 kA'
    guarded = NO_SHORE_EARTH.replace("conditions:", BONDED).replace(
        main, main.replace("[L1]", poles) + ", residual_current: 30 mA, delay: 40 ms"
    )
    own = "S: {from: shore, to: panel/main/0, size: 6 mm2, length: 5 m, cores: {brown: L1, blue: N}}"
    assert own in guarded
    assert only(guarded, "reversed", "shore").verdict == verdict


INVERTER = """
systems:
  ac: {kind: ac-single-phase, voltage: 230 V, frequency: 50 Hz}
  dc: {kind: dc, voltage: 24 V}
devices:
  bank: {kind: battery-bank, system: dc, short_circuit_current: 2400 A}
  shore: {kind: shore-inlet, system: ac}
  unit: {kind: inverter-charger, system: ac, dc_system: dc, neutral_earth_relay: true}
loads:
  kettle: {system: ac, power: 2 kW}
  lamp: {system: ac, power: 20 W}
cables:
  D: {from: bank, to: unit/dc, size: 50 mm2, length: 1 m, cores: {red: DC+, black: DC-}}
  S: {from: shore, to: unit/ac-in, size: 6 mm2, length: 5 m, cores: {brown: L1, blue: N, green: PE}}
  K: {from: unit/ac-out, to: kettle, size: 2.5 mm2, length: 10 m, cores: {brown: L1, blue: N, green: PE}}
  L: {from: unit/ac-out, to: lamp, size: 2.5 mm2, length: 10 m, cores: {brown: L1, blue: N, green: PE}}
conditions:
  now: {running: [unit], demand: {kettle: 1}}
"""


def test_a_welded_transfer_contact_puts_the_inverter_on_the_bare_pins_of_the_inlet() -> None:
    found = only(INVERTER, "transfer", "unit")
    assert found.verdict == "stays live"
    assert found.places == ("shore:L1",)
    assert found.case_v is not None
    assert found.case_v[1] == pytest.approx(230, rel=0.02)
    assert counting(INVERTER) == []  # no present deficiency takes part: it is told, and does not count


def test_a_neutral_earth_relay_is_missed_by_nobody_until_a_line_touches_a_case() -> None:
    (found,) = hangs(INVERTER)
    assert (found.kind, found.item, set(found.places)) == ("relay-open", "unit", {"kettle", "lamp"})
    assert hangs(INVERTER.replace("neutral_earth_relay: true", "neutral_earth_relay: false")) == []


def test_an_earth_core_that_many_cases_hang_on_is_told() -> None:
    two = SHORE.replace("loads:", "loads:\n  lamp: {system: ac, power: 20 W}").replace(
        "conditions:", "  L: {type: three, from: panel/main/1, to: lamp, size: 2.5 mm2, length: 10 m}\nconditions:"
    )
    (found,) = hangs(two)
    assert (found.kind, found.item, set(found.places)) == ("earth", "S", {"kettle", "lamp"})


def test_an_earth_that_carries_the_neutral_current_is_live_once_it_opens() -> None:
    """Neutral landed on the case, and no neutral core home: the earth core carries it, and its loss is deadly."""
    text = SHORE.replace(
        "K: {type: three, from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m}",
        "K: {from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m, cores: {brown: L1, green: PE}}\n"
        "  X: {from: kettle, to: kettle, size: 2.5 mm2, length: 1 m, cores: {blue: {from: N, to: PE}}}",
    ).replace("now: {running: [shore]}", "now: {running: [shore], demand: {kettle: 1}}")
    found = only(text, "earth", "K")
    assert found.verdict == "stays live"
    assert found.case_v == pytest.approx((230, 230), rel=1e-2)
    assert found.places == ("kettle",)


def test_a_boat_without_ac_has_nothing_to_tell() -> None:
    assert outcomes(BANK) == []
    assert hangs(BANK) == []


@pytest.mark.parametrize("text", [SHORE, TWO_CORES, NO_SHORE_EARTH, SPLIT, INVERTER])
@pytest.mark.parametrize("bonded", [False, True])
def test_what_a_review_leaves_unsolved_makes_no_metal_live(text: str, bonded: bool) -> None:
    """The shorter way has every outcome in which metal is live."""
    bond = BONDED if text not in (INVERTER, SPLIT) else "conditions:"
    record = text.replace("conditions:", bond) if bonded else text
    whole = [each for each in outcomes(record) if each.verdict != "nothing live"]
    short = [each for checks in boat(record).fault_checks for each in ShockStudy(checks).outcomes(metal_only=True)]
    assert [each for each in short if each.verdict != "nothing live"] == whole


INVERTED = """
systems:
  ac: {kind: ac-single-phase, voltage: 230 V, frequency: 50 Hz}
  dc: {kind: dc, voltage: 12 V}
devices:
  bank: {kind: battery-bank, system: dc, short_circuit_current: 2 kA}
  inverter: {kind: inverter, system: ac, dc_system: dc, neutral_earth_bond: true, short_circuit_current: 80 A}
  breaker: {kind: breaker, system: ac, poles: [L1], rating: 16 A, curve: B}
loads:
  kettle: {system: ac, power: 1 kW}
cable_types:
  three: {size: 2.5 mm2, insulation: 70 degC, cores: {brown: L1, blue: N, green-yellow: PE}}
cables:
  D: {from: bank, to: inverter/dc, size: 35 mm2, length: 1 m, insulation: 70 degC, cores: {red: DC+, black: DC-}}
  A: {type: three, from: inverter/ac, to: breaker/line, length: 1 m}
  K: {type: three, from: breaker/load, to: kettle, length: 5 m}
conditions:
  now: {running: [inverter]}
"""


@pytest.mark.parametrize(
    ("current", "time", "verdict", "device"),
    [
        ("80 A", "", "cannot judge", ""),  # how long it holds is not recorded
        ("80 A", "200 ms", "cleared", ""),  # off by itself within the 0.4 s of a final circuit
        ("80 A", "5 s", "cleared", "breaker"),  # B16 opens at once from 5 × 16 A
        ("30 A", "5 s", "opens late", "breaker"),  # below 3 × 16 A it holds for longer than that
        ("60 A", "5 s", "cannot judge", "breaker"),  # between the two it may or may not
    ],
)
def test_an_inverter_switches_off_or_a_device_opens_on_what_it_gives(
    current: str, time: str, verdict: str, device: str
) -> None:
    said = f"short_circuit_current: {current}" + (f", short_circuit_time: {time}" if time else "")
    found = only(INVERTED.replace("short_circuit_current: 80 A", said), "case", "kettle")
    assert (found.verdict, found.device) == (verdict, device)
    assert bool(found.missing) == (not time)


def test_what_a_long_cable_keeps_back_of_an_inverter_opens_nothing_for_certain() -> None:
    said = "short_circuit_current: 80 A, short_circuit_time: 5 s"
    found = only(INVERTED.replace("short_circuit_current: 80 A", said).replace("5 m}", "150 m}"), "case", "kettle")
    assert found.verdict == "cannot judge"
