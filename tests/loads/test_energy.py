"""Twenty-four hours of batteries: Peukert, definitions, a day by hand, and a balance that closes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.model.items import Demand
from vesselspec.physics.loads.battery import bank_of, counted_amps, peukert_hours
from vesselspec.physics.loads.energy import Day, Stretch, average, day_of, is_whole, stretches_of
from vesselspec.report.energy import alone_sentences
from vesselspec.standards import figure

from .boats import Raw, battery, built, cable

REFERENCE = Path(__file__).parents[1] / "data" / "reference"
EXAMPLES: dict[str, dict[str, Any]] = {
    each["id"]: each
    for each in YAML(typ="safe").load((REFERENCE / "batteries.yaml").read_text(encoding="utf-8"))["examples"]
}


def day(record: Raw, *stretches: tuple[str, float], start: float = 1.0) -> Day:
    vessel, network, states = built(record)
    return day_of(vessel, network, states, [Stretch(*each) for each in stretches], start=start)


# --- published figures ----------------------------------------------------------------------------


def test_peukert_keeps_the_printed_capacity_at_its_rate_where_the_naive_form_does_not() -> None:
    """Rated form: 20 h at the 20-hour rate. The published naive example gives 14.5 h for the same battery."""
    inputs, naive = EXAMPLES["peukert_naive_5A"]["inputs"], EXAMPLES["peukert_naive_5A"]["expected"]["t_h"]
    rated = peukert_hours(capacity_ah=inputs["capacity"], rated_h=20, exponent=inputs["n"], amps=inputs["i_A"])
    assert rated == pytest.approx(20)
    assert inputs["capacity"] / inputs["i_A"] ** inputs["n"] == pytest.approx(naive["value"], abs=naive["tol"])


@pytest.mark.parametrize(("place", "key"), [(0, "t10_h"), (1, "t20_h")])
def test_peukert_with_one_hour_is_the_naive_form(place: int, key: str) -> None:
    """t = H (C / (I H))^n with H = 1 h is C^n / I^n; the naive examples are that over C^(n − 1)."""
    inputs, expected = EXAMPLES["peukert_naive_10A"]["inputs"], EXAMPLES["peukert_naive_10A"]["expected"][key]
    capacity, exponent, amps = inputs["capacity"], inputs["n"], inputs["i_A"][place]
    hours = peukert_hours(capacity_ah=capacity, rated_h=1, exponent=exponent, amps=amps)
    assert hours / capacity ** (exponent - 1) == pytest.approx(expected["value"], abs=expected["tol"])


def test_battery_hours_of_a_textbook() -> None:
    inputs, expected = EXAMPLES["battery_hours"]["inputs"], EXAMPLES["battery_hours"]["expected"]
    found = peukert_hours(capacity_ah=inputs["capacity_Ah"], rated_h=20, exponent=1, amps=inputs["i_dis_A"])
    assert found == pytest.approx(expected["discharge_h"]["value"])


@given(st.floats(10, 1000), st.floats(1, 100), st.floats(1, 1.6), st.floats(0.1, 500))
def test_a_discharge_never_counts_as_less_than_it_is(
    capacity: float, hours: float, exponent: float, amps: float
) -> None:
    found = counted_amps(capacity_ah=capacity, rated_h=hours, exponent=exponent, amps=amps)
    assert found >= amps * (1 - 1e-9)
    if amps <= capacity / hours:
        assert found == pytest.approx(amps)


def test_cold_cranking_and_reserve_capacity_are_as_defined() -> None:
    """SAE J537 as printed: 30 s at −18 °C to 7.2 V; minutes at 25 A and 27 °C to 10.5 V."""
    data = figure("cca_definition").data
    assert (data["cca_s"], data["cca_temp_C"], data["cca_V"]) == (30, -18, 7.2)
    assert (data["rc_A"], data["rc_temp_C"], data["rc_V"]) == (25, 27, 10.5)


def test_demand_of_a_marina_as_published() -> None:
    """Ten receptacles of 50 A at 240 V: 120 kVA, 80 % of it."""
    example = EXAMPLES["marina_demand_10"]
    inputs, expected = example["inputs"], example["expected"]
    row = next(row for row in figure("nec_555_6").data["rows"] if row["receptacles"] == "9-14")
    connected = inputs["slips"] * inputs["i_A"] * inputs["v_V"] / 1000
    assert connected == pytest.approx(expected["connected_kVA"]["value"])
    assert connected * row["percent"] / 100 == pytest.approx(expected["demand_kVA"]["value"])


def test_use_factor_is_the_product() -> None:
    """IMO MEPC.1/Circ.866: ku = kl · kd · kt; 0.6 of full load for 6 h of 24."""
    assert average(Demand(factor=0.6, hours_s=6 * 3600)) == pytest.approx(0.6 * 6 / 24)
    assert average(Demand(factor=0.6)) == 0.6


# --- a day of the record ----------------------------------------------------------------------------


def test_a_day_of_conditions_by_hand() -> None:
    """8 h alongside from full, a night of 8 h away, 8 h alongside: 5 A draw 40 Ah of 100, 5 A left give back 34 Ah."""
    parts = [{"condition": name, "time": "8 h"} for name in ("alongside", "away", "alongside")]
    vessel, network, states = built(battery() | {"days": {"home": {"parts": parts}}})
    stretches = stretches_of(vessel.days["home"])
    assert is_whole(stretches)
    (bank,) = day_of(vessel, network, states, stretches, id="home").banks
    first, night, last = bank.stretches
    assert (first.begins, first.ends, night.ends) == pytest.approx((1, 1, 0.6))
    assert [each.alone for each in bank.stretches] == [False, True, False]
    assert night.low_after_h is None
    assert last.ends == pytest.approx(0.6 + 8 * 5 * 0.85 / 100, abs=0.002)
    assert alone_sentences(vessel, bank) == [
        "bank, 8 h of away: from 100 % to 60 %; WORKS, above its low limit of 50 %"
    ]


def test_nights_that_follow_each_other_are_one_and_end_at_the_limit() -> None:
    """5 A out of 100 Ah: half is gone 10 h into the two nights together, 4 h into the second."""
    vessel, network, states = built(battery(conditions={"also-away": {"running": [], "demand": {"lamp": 1}}}))
    stretches = [Stretch(*each) for each in (("alongside", 6), ("away", 6), ("also-away", 12))]
    (bank,) = day_of(vessel, network, states, stretches).banks
    assert bank.low_after_h == pytest.approx(16)
    assert bank.stretches[2].low_after_h == pytest.approx(4)
    (said,) = alone_sentences(vessel, bank)
    assert said.startswith("bank, 18 h of away, also-away: from 100 % to 10 %; NOT ENOUGH: at its low limit of 50 %")
    assert said.endswith("after 10 h 00 min")


def test_hours_per_day_are_of_a_whole_day_in_the_condition() -> None:
    """12 h a day of 5 A is 2.5 A on average: 20 Ah in 8 h of it."""
    record = battery(conditions={"away": {"demand": {"lamp": {"factor": 1, "per_day": "12 h"}}}})
    (bank,) = day(record, ("alongside", 16), ("away", 8)).banks
    assert bank.stretches[1].loads_ah == pytest.approx(20)


# --- a day by hand --------------------------------------------------------------------------------


def test_a_day_away_by_hand() -> None:
    """60 W at 12 V is 5 A, the 20-hour rate: 50 Ah of 100 after 10 h, and empty after 20 h."""
    (bank,) = day(battery(), ("away", 24)).banks
    assert bank.low_after_h == pytest.approx(10)
    assert bank.lasts is False
    assert bank.firm
    (stretch,) = bank.stretches
    assert (stretch.loads_ah, stretch.out_ah, stretch.unmet_ah) == pytest.approx((120, 100, 20))
    assert bank.end == 0
    assert bank.lasts_h["away"] == pytest.approx(10)


def test_peukert_counts_above_the_rate() -> None:
    """10 A is twice the rate: 20 h · (1/2)^1.2 = 8.706 h for all of it, half of that to the low limit."""
    record = battery(loads={"lamp": {"power": "120 W"}})
    (bank,) = day(record, ("away", 24)).banks
    assert bank.low_after_h == pytest.approx(20 * 0.5**1.2 / 2, rel=1e-3)


def test_a_charger_carries_the_load_and_fills_the_bank() -> None:
    """Alongside from half full: 10 A less 5 A of load, of which 85 % can be drawn again."""
    (bank,) = day(battery(), ("alongside", 24), start=0.5).banks
    assert bank.lasts
    (stretch,) = bank.stretches
    assert stretch.out_ah == 0
    assert bank.end is not None
    assert bank.end > 0.95
    three = next(point for point in bank.points if point.hour == pytest.approx(3))
    assert three.state == pytest.approx(0.5 + 3 * 5 * 0.85 / 100)


def test_a_charger_with_hours_runs_at_the_end() -> None:
    record = battery(conditions={"alongside": {"demand": {"lamp": 1, "charger": {"factor": 1, "per_day": "6 h"}}}})
    (bank,) = day(record, ("alongside", 24)).banks
    at_18 = next(point for point in bank.points if point.hour == pytest.approx(18))
    assert at_18.state == pytest.approx(1 - 0.05 * 18)
    assert bank.end == pytest.approx(0.1 + 6 * 5 * 0.85 / 100)


def test_the_bank_takes_no_more_than_it_accepts() -> None:
    record = battery(devices={"charger": {"charge_current": "100 A"}, "bank": {"charge_acceptance": "20 A"}})
    (bank,) = day(record, ("alongside", 24), start=0.2).banks
    one = next(point for point in bank.points if point.hour == pytest.approx(1))
    assert one.state == pytest.approx(0.2 + 20 * 0.85 / 100)


def test_acceptance_falls_towards_full() -> None:
    vessel, _, _ = built(battery())
    bank = bank_of(vessel.devices["bank"])  # type: ignore[arg-type]
    found = [bank.acceptance_at(state) for state in (0.5, 0.8, 0.9, 1.0)]
    assert found == pytest.approx([25, 25, 12.5, 0.5])


def test_generator_hours_are_those_of_its_conditions() -> None:
    record = battery(
        devices={"generator": {"kind": "generator", "system": "ac", "rating": "30 A"}},
        conditions={"evening": {"running": ["generator"], "demand": {"lamp": 1}}},
    )
    assert day(record, ("away", 20), ("evening", 4)).generator_h == {"generator": 4}


# --- unknown stays unknown ------------------------------------------------------------------------


def test_without_a_capacity_there_is_charge_but_no_state() -> None:
    record = battery()
    del record["devices"]["bank"]["capacity"]
    (bank,) = day(record, ("away", 24)).banks
    assert (bank.points, bank.lasts, bank.end) == ((), None, None)
    assert bank.stretches[0].loads_ah == pytest.approx(120)


def test_a_source_of_unknown_output_leaves_the_verdict_open() -> None:
    record = battery(
        devices={"alternator": {"kind": "alternator", "system": "dc", "rating": "90 A"}},
        cables={"D3": cable("bank", "alternator", "DC+", "DC-")},
        conditions={"away": {"running": ["alternator"]}},
    )
    found = day(record, ("away", 24))
    (bank,) = found.banks
    assert bank.lasts is None
    assert bank.low_after_h == pytest.approx(10)
    assert found.not_counted == (("away", "alternator", "its share in this condition's demand"),)
    record["conditions"]["away"]["demand"]["alternator"] = 0.5
    assert day(record, ("away", 24)).banks[0].lasts


def test_even_at_best_it_does_not_last() -> None:
    record = battery(
        devices={"alternator": {"kind": "alternator", "system": "dc", "rating": "90 A"}},
        cables={"D3": cable("bank", "alternator", "DC+", "DC-")},
        conditions={"under-way": {"running": ["alternator"], "demand": {"lamp": 1}}},
    )
    (bank,) = day(record, ("under-way", 6), ("away", 18)).banks
    assert bank.lasts is False
    assert bank.low_at_best_h == pytest.approx(16)


def test_a_load_of_unknown_power_leaves_it_open() -> None:
    record = battery(
        loads={"fan": {"system": "dc"}, "lamp": {"power": "6 W"}},
        cables={"D3": cable("bank", "fan", "DC+", "DC-")},
        conditions={"away": {"demand": {"fan": 1, "lamp": 1}}},
    )
    (bank,) = day(record, ("away", 24)).banks
    assert bank.at_least
    assert bank.lasts is None


def test_figures_from_memory_are_named_and_do_not_decide_alone() -> None:
    record = battery(loads={"lamp": {"power": "36 W"}})
    for field in ("usable_share", "charge_acceptance", "peukert", "capacity_over"):
        del record["devices"]["bank"][field]
    (bank,) = day(record, ("away", 24)).banks
    fields = {each.field: each.from_memory for each in bank.bank.assumed}
    assert fields["usable share"]
    assert not fields["peukert"]
    assert bank.lasts is False
    assert not bank.firm
    without = dict(record["devices"]["bank"])
    del without["chemistry"]
    record["devices"]["bank"] = without
    assert day(record, ("away", 24)).banks[0].lasts is None


# --- the balance ----------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(["away", "alongside"]), st.floats(0.5, 12)), min_size=1, max_size=4),
    st.floats(0, 1),
    st.integers(1, 400),
    st.integers(1, 80),
)
def test_the_balance_closes(parts: list[tuple[str, float]], start: float, watts: int, charge: int) -> None:
    record = battery(loads={"lamp": {"power": f"{watts} W"}}, devices={"charger": {"charge_current": f"{charge} A"}})
    (bank,) = day(record, *parts, start=start).banks
    assert bank.end is not None
    stored = sum(each.stored_ah - each.taken_ah for each in bank.stretches)
    assert bank.end == pytest.approx(start + stored / 100, abs=1e-9)
    for each in bank.stretches:
        assert each.loads_ah == pytest.approx(each.given_ah - each.in_ah + each.out_ah + each.unmet_ah, abs=1e-9)
        assert min(each.given_ah, each.in_ah, each.out_ah, each.unmet_ah) >= -1e-9
    assert all(-1e-12 <= point.state <= 1 + 1e-12 for point in bank.points)


@settings(max_examples=20, deadline=None)
@given(st.integers(10, 200), st.integers(1, 100))
def test_a_larger_load_never_lasts_longer(watts: int, more: int) -> None:
    def low(power: int) -> float:
        (bank,) = day(battery(loads={"lamp": {"power": f"{power} W"}}), ("away", 24)).banks
        return bank.low_after_h if bank.low_after_h is not None else 25.0

    assert low(watts + more) <= low(watts) + 1e-9


def test_a_stretch_in_two_pieces_is_the_same_stretch() -> None:
    (whole,), (pieces,) = day(battery(), ("away", 24)).banks, day(battery(), ("away", 10), ("away", 14)).banks
    assert whole.end == pieces.end
    assert whole.low_after_h == pytest.approx(pieces.low_after_h)


def test_banks_in_parallel_share_by_capacity() -> None:
    other = {"kind": "battery-bank", "system": "dc", "chemistry": "flooded-lead-acid", "capacity": "300 Ah"}
    record = battery(devices={"second": other}, cables={"D3": cable("bank", "second", "DC+", "DC-")})
    found = {each.bank.id: each.stretches[0].loads_ah for each in day(record, ("away", 24)).banks}
    assert found == pytest.approx({"bank": 30, "second": 90})
