"""Published tables row by row through the code: when devices open, what conductors stand, how soon it must be dead."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.physics.faults.tripping import (
    Band,
    Limit,
    adiabatic_k,
    band_of_breaker,
    band_of_family,
    band_of_fuse,
    deadline,
    order,
    stands,
    withstand,
)
from vesselspec.units import parse_size

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "tripping.yaml"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
}
HOUR = 3600


# --- IEC 60898-1 -------------------------------------------------------------------------------------


@pytest.mark.parametrize("rating", [6, 16, 32, 40, 63, 80, 125])
@pytest.mark.parametrize("row", FACTS["iec60898_instantaneous"]["rows"], ids=lambda row: row["type"])
def test_household_breakers(row: dict[str, Any], rating: float) -> None:
    """IEC 60898-1 Table 7 and the bands of B, C and D: each printed point, and either side of it."""
    band = band_of_breaker(rating, row["type"])
    conventional = (1 if rating <= 63 else 2) * HOUR
    held = band.soonest(1.13 * rating)
    assert held is not None
    assert held.seconds == conventional
    assert band.latest(1.44 * rating) is None
    assert seconds(band.latest(1.45 * rating)) == conventional
    assert seconds(band.soonest(2.55 * rating)) == 1
    assert seconds(band.latest(2.55 * rating)) == (60 if rating <= 32 else 120)
    assert seconds(band.soonest(row["low"] * rating)) == (0.1 if row["low"] > 2.55 else 1)
    assert band.soonest((row["low"] + 0.01) * rating) is None
    assert seconds(band.latest((row["high"] - 0.01) * rating)) == (60 if rating <= 32 else 120)
    assert seconds(band.latest(row["high"] * rating)) == 0.1
    assert not any(limit.from_memory for limit in (*band.opens, *band.holds))


def seconds(limit: Limit | None) -> float | None:
    return None if limit is None else limit.seconds


# --- other families ------------------------------------------------------------------------------------


@pytest.mark.parametrize("rating", [16, 63, 100])
def test_industrial_breakers(rating: float) -> None:
    """IEC 60947-2: 1.05 and 1.3 times; 1 h up to 63 A was read, 2 h above is from memory."""
    band = band_of_family("iec-60947-2", rating)
    hours = 1 if rating <= 63 else 2
    assert seconds(band.latest(1.3 * rating, memory=True)) == hours * HOUR
    assert seconds(band.soonest(1.05 * rating, memory=True)) == hours * HOUR
    assert (band.latest(1.3 * rating) is None) == (rating > 63)


@pytest.mark.parametrize(
    ("family", "read", "more", "key"),
    [
        ("ul-489", "ul489_calibration", "ul489_calibration_more", "max_trip_min"),
        ("ul-248", "ul248_overload", "ul248_overload_more", "max_min"),
    ],
)
def test_north_american_rows(family: Any, read: str, more: str, key: str) -> None:
    """UL 489 and UL 248: every row at the ends of its range; what was read decides, what is from memory is marked."""
    for row in FACTS[read]["rows"]:
        rating = row["rating_max_A"]
        band = band_of_family(family, rating)
        limit = band.latest(row["percent"] / 100 * rating * 1.0001)
        assert limit is not None
        assert limit.seconds <= row[key] * 60
    for row in FACTS[more]["rows"]:
        first, _, last = row["rating"].removesuffix(" A").removeprefix("over ").partition("-")
        for rating in (float(first) + (1 if "over" in row["rating"] else 0), float(last or 600)):
            limit = band_of_family(family, rating).latest(row["percent"] / 100 * rating, memory=True)
            assert limit is not None
            assert limit.from_memory
            assert limit.seconds == row[key] * 60
            read_one = band_of_family(family, rating).latest(row["percent"] / 100 * rating)
            assert read_one is None or read_one.seconds > limit.seconds


def test_the_shortest_row_that_covers_a_rating_counts() -> None:
    """UL 248: 200 % within 2 min up to 30 A, 4 min up to 60 A."""
    assert seconds(band_of_family("ul-248", 30).latest(60)) == 120
    assert seconds(band_of_family("ul-248", 35).latest(70)) == 240


@pytest.mark.parametrize("row", FACTS["iec60269_gG"]["rows"], ids=lambda row: row["rating"])
def test_general_fuses(row: dict[str, Any]) -> None:
    """IEC 60269-1 Table 2, from memory: never used unless asked for."""
    rating = {"16-63 A": 63, "over 63 to 160 A": 160, "over 160 to 400 A": 400, "over 400 A": 630}[row["rating"]]
    band = band_of_fuse(rating, "gG")
    assert seconds(band.latest(1.6 * rating, memory=True)) == row["t_conv_h"] * HOUR
    assert seconds(band.soonest(1.25 * rating, memory=True)) == row["t_conv_h"] * HOUR
    assert band.latest(100 * rating) is None
    assert band.soonest(0.1) is None


@pytest.mark.parametrize("row", FACTS["blade_fuse_times"]["rows"], ids=lambda row: str(row["percent"]))
def test_blade_fuses(row: dict[str, Any]) -> None:
    """SAE J1284 / ISO 8820-3, from memory."""
    band = band_of_fuse(20, "blade")
    amps = row["percent"] / 100 * 20
    assert seconds(band.soonest(amps, memory=True)) == row["min_s"]
    assert seconds(band.latest(amps, memory=True)) == row["max_s"]
    assert band.latest(amps) is None


@pytest.mark.parametrize("family", ["strip", "stud", "plug"])
def test_families_without_a_bound_say_so(family: str) -> None:
    assert family in band_of_fuse(30, family).why_none
    assert "UL 1077" in band_of_breaker(20, None).why_none
    assert "not recorded" in band_of_fuse(30, None).why_none
    assert "gG fuse of 10 A" in band_of_fuse(10, "gG").why_none


BANDS = st.one_of(
    st.builds(band_of_breaker, st.sampled_from([6, 10, 16, 25, 32, 40, 63, 100]), st.sampled_from("BCD")),
    st.builds(
        band_of_family, st.sampled_from(["iec-60947-2", "ul-489", "ul-248", "gG", "blade"]), st.integers(16, 400)
    ),
)


@given(BANDS, st.floats(0.1, 5000), st.floats(1, 10))
def test_more_current_never_opens_a_device_later(band: Band, amps: float, times: float) -> None:
    for memory in (False, True):
        one, two = band.latest(amps, memory=memory), band.latest(amps * times, memory=memory)
        assert one is None or (two is not None and two.seconds <= one.seconds)
        held, later = band.soonest(amps, memory=memory), band.soonest(amps * times, memory=memory)
        assert later is None or (held is not None and held.seconds >= later.seconds)
        if one is not None and held is not None:
            assert held.seconds <= one.seconds


# --- disconnection -------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["tn", "tt"])
@pytest.mark.parametrize("current", ["ac", "dc"])
def test_table_41_1(system: str, current: str) -> None:
    """IEC 60364-4-41:2005 Table 41.1, every row, at its upper end and just above the end of the row before."""
    rows = FACTS[f"iec60364_41_1_{system}"]["rows"]
    for row, ends in zip(rows, ((50.01, 120), (120.01, 230), (230.01, 400), (400.01, 1000)), strict=True):
        for volts in ends:
            found = deadline(volts, 16, dc=current == "dc", tt=system == "tt")
            assert (None if found is None else found.seconds) == row[current]


def test_distribution_circuits_and_low_voltage() -> None:
    """IEC 60364-4-41 clauses 411.3.2.3-4: 5 s in TN, 1 s in TT; nothing is asked for up to 50 V."""
    assert deadline(50, 16) is None
    assert deadline(24, 400) is None
    for tt, rest in ((False, FACTS["iec60364_distribution"]["tn"]), (True, FACTS["iec60364_distribution"]["tt"])):
        final, distribution = deadline(230, 32, tt=tt), deadline(230, 32.1, tt=tt)
        assert final is not None
        assert distribution is not None
        assert (final.seconds < 1, distribution.seconds) == (True, rest)


# --- withstand -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("metal", ["copper", "aluminium"])
@pytest.mark.parametrize("row", FACTS["k_conductor_in_cable"]["rows"], ids=lambda row: row["insulation"])
def test_k_of_conductors_in_a_cable(row: dict[str, Any], metal: str) -> None:
    """IEC 60364-5-54 Table A.54.4 from the formula of Annex A, to the whole number that is printed."""
    assert adiabatic_k(row["ti_C"], row["tf_C"], metal) == pytest.approx(row[metal], abs=0.75)


@pytest.mark.parametrize("row", FACTS["k_separate_pe"]["rows"], ids=lambda row: row["insulation"])
def test_k_of_separate_protective_conductors(row: dict[str, Any]) -> None:
    """Table A.54.2, from 30 °C."""
    assert adiabatic_k(30, row["tf_C"]) == pytest.approx(row["copper"], abs=0.75)
    assert adiabatic_k(30, row["tf_C"], "aluminium") == pytest.approx(row["aluminium"], abs=0.75)


@pytest.mark.parametrize("row", FACTS["k_bare"]["rows"], ids=lambda row: row["place"])
def test_k_of_bare_conductors(row: dict[str, Any]) -> None:
    """Table A.54.6, from 30 °C."""
    assert adiabatic_k(30, row["tf_C"][0]) == pytest.approx(row["copper"], abs=0.75)
    assert adiabatic_k(30, row["tf_C"][1], "aluminium") == pytest.approx(row["aluminium"], abs=0.75)


def test_withstand_by_table_and_between_materials() -> None:
    """2.5 mm² with PVC 70 °C: (115 × 2.5)² = 82 656 A² s. 105 °C: from 87 to 135, for PVC or XLPE."""
    pvc = withstand(parse_size("2.5 mm2"), 70)
    assert pvc is not None
    assert (pvc.low, pvc.high) == (82656.25, 82656.25)
    boat = withstand(parse_size("2.5 mm2"), 105)
    assert boat is not None
    assert boat.low == pytest.approx((adiabatic_k(105, 160) * 2.5) ** 2)
    assert boat.high == pytest.approx((adiabatic_k(105, 250) * 2.5) ** 2)
    assert withstand(parse_size("2.5 mm2"), None) is None
    assert withstand(parse_size("2.5 mm2"), 200) is None


def test_a_conductor_stands_it_or_not_or_nobody_can_tell() -> None:
    c16, d125 = band_of_breaker(16, "C"), band_of_breaker(125, "D")
    can = withstand(parse_size("2.5 mm2"), 70)
    assert can is not None
    # C16 opens within 0.1 s from 160 A: 900² × 0.1 = 81 000 A² s, just below 82 656.
    assert stands(c16, can, 160, 900)[0] == "certain"
    assert stands(c16, can, 160, 910)[0] == "undecided"
    # Below 160 A it may take 60 s, which the formula is not for.
    assert stands(c16, can, 159, 900)[0] == "undecided"
    assert stands(c16, can, None, 900)[0] == "undecided"
    # D125 stays closed for 0.1 s at 1250 A: 156 250 A² s.
    assert stands(d125, can, 400, 1250)[0] == "not"
    assert stands(d125, can, None, 1250)[0] == "not"
    assert stands(d125, can, None, 1251)[0] == "undecided"
    # At 318.75 A it stays closed for 1 s: 101 600 A² s.
    assert stands(d125, can, 300, 400)[0] == "not"
    assert stands(d125, can, None, 400)[0] == "undecided"
    assert stands(d125, can, 280, 400, sure_a=285)[0] == "undecided"
    assert stands(d125, can, 400, 900)[0] == "undecided"
    assert stands(d125, can, 400, 401)[0] == "undecided"
    assert stands(band_of_breaker(20, None), can, 100, 2000)[0] == "undecided"


# --- selectivity ---------------------------------------------------------------------------------------


def test_what_opens_first() -> None:
    b6, c16, c63, d32 = (band_of_breaker(*each) for each in ((6, "B"), (16, "C"), (63, "C"), (32, "D")))
    # C10 upstream of D32: at 100 A the upstream one opens within 0.1 s, the nearer one holds for 0.1 s up to 320 A.
    assert order(d32, band_of_breaker(10, "C"), 500).verdict == "not"
    # With no more than 14 A neither is sure to open; from 14.5 A C10 opens within the hour for which D32 holds.
    assert order(d32, band_of_breaker(10, "C"), 14).verdict == "undecided"
    assert order(d32, band_of_breaker(10, "C"), 14.5).verdict == "not"
    # B6 before C63: open by 30 A within 0.1 s; C63 holds for 0.1 s up to 315 A.
    found = order(b6, c63, 315)
    assert (found.verdict, found.up_to_a) == ("certain", 315)
    assert order(b6, c63, 316).verdict == "undecided"
    assert order(c16, c16, 1000).verdict == "undecided"
    assert order(c16, band_of_fuse(100, "class-t"), 1000).verdict == "undecided"
    assert order(band_of_breaker(20, None), c63, 100).verdict == "undecided"


@given(BANDS, BANDS, st.floats(1, 5000))
def test_two_devices_cannot_both_be_first(one: Band, two: Band, most: float) -> None:
    if order(one, two, most).verdict == "certain":
        assert order(two, one, most).verdict != "certain"
        assert order(one, two, most * 0.99).verdict != "not"
