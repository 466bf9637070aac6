"""Allowable currents against every row of the published tables, and what must hold whatever the table."""

from itertools import pairwise, product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.physics.conductors.ampacity import Ampacity, ampacity
from vesselspec.standards import PRACTICES
from vesselspec.units import awg_area_mm2, parse_size

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "ampacity.yaml"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
}
TABLE_5 = FACTS["cfr33_183_425_table5"]["rows"]
NOTE_1 = FACTS["cfr33_table5_note1_engine_space"]["factors"]
NOTE_2 = FACTS["cfr33_table5_note2_bundling"]["rows"]
B2 = FACTS["iec_60364_5_52_b2_pvc3"]["rows"]
ISO = FACTS["iso_10133_table_a1_from_memory"]["rows"]
ISO_ENGINE = FACTS["iso_10133_engine_space_from_memory"]["factors"]
COLUMNS = {"t60": 60.0, "t75": 75.0, "t80": 80.0, "t90": 90.0, "t105": 105.0, "t125": 125.0, "t200": 200.0}
ISO_COLUMNS = {"t60": 60.0, "t70": 70.0, "t85_90": 85.0, "t105": 105.0, "t125": 125.0, "t200": 200.0}
SIZES = [f"{row['awg']} AWG" for row in TABLE_5] + [f"{row['mm2']} mm2" for row in ISO] + ["5 AWG", "185 mm2"]


def _known(  # what is most common, unless a test says otherwise
    size: str,
    insulation_c: float | None = 105.0,
    in_engine_space: bool | None = False,
    loaded_conductors: int | None = 1,
    voltage_v: float = 12.0,
    practice: str = "north-american",
    ambient_c: float | None = None,
) -> Ampacity:
    found = _asked(size, insulation_c, in_engine_space, loaded_conductors, voltage_v, practice, ambient_c)
    assert found is not None
    return found


def _asked(
    size: str,
    insulation_c: float | None = 105.0,
    in_engine_space: bool | None = False,
    loaded_conductors: int | None = 1,
    voltage_v: float = 12.0,
    practice: str = "north-american",
    ambient_c: float | None = None,
) -> Ampacity | None:
    return ampacity(
        size=parse_size(size),
        insulation_c=insulation_c,
        in_engine_space=in_engine_space,
        loaded_conductors=loaded_conductors,
        voltage_v=voltage_v,
        practice=practice,
        ambient_c=ambient_c,
    )


@pytest.mark.parametrize("row", TABLE_5, ids=lambda row: row["awg"])
def test_every_cell_of_table_5_with_both_notes(row: dict[str, Any]) -> None:
    """33 CFR 183.425 Table 5, note 1 (engine space), note 2 (bundles at 50 V or more)."""
    counts = [(1, 1.0), (2, 1.0)]
    for bundle in NOTE_2:
        counts += [(bundle["count_min"], bundle["factor"]), (bundle["count_max"] or 60, bundle["factor"])]
    size = f"{row['awg']} AWG"
    for (column, insulation_c), (count, factor), engine in product(COLUMNS.items(), counts, (False, True)):
        expected = row[column] * (NOTE_1[column] if engine else 1.0)
        at_120 = _known(size, insulation_c, engine, count, 120.0)
        assert at_120.low_a == at_120.high_a == pytest.approx(expected * factor, rel=1e-12)
        at_12 = _known(size, insulation_c, engine, count, 12.0)
        assert at_12.low_a == at_12.high_a == pytest.approx(expected, rel=1e-12)
        assert not at_120.unknown
        assert not at_120.from_memory


BUNDLES = {"n2": 2, "n3": 3, "n4_6": 6, "n7_24": 24}


@pytest.mark.parametrize("row", FACTS["boat_cable_105C_bundle_table"]["rows"], ids=lambda row: str(row["awg"]))
def test_every_cell_of_the_printed_105_c_bundle_table(row: dict[str, Any]) -> None:
    """ABYC E-11 Table VI A-D, 105 °C, as reprinted; printed rounding is within 0.16 A."""
    for (name, count), (place, engine) in product(BUNDLES.items(), (("out", False), ("in", True))):
        found = _known(f"{row['awg']} AWG", 105.0, engine, count, 120.0)
        assert found.low_a == found.high_a
        assert abs(found.low_a - row[f"{name}_{place}"]) <= 0.16


AMBIENT = FACTS["nec_ambient_correction_30C"]["rows"]


def _band(text: str) -> tuple[float, float]:
    low, dash, high = text.partition("-")
    return (float(low), float(high)) if dash else (0.0, float(low.split()[0]))


@pytest.mark.parametrize("row", AMBIENT, ids=lambda row: str(row["ambient_C"]))
def test_every_published_factor_for_the_ambient_applies_outside_engine_spaces(row: dict[str, Any]) -> None:
    """NFPA 70 Table 310.15(B)(1), on Table 5: cooler places gain nothing; without a figure nothing is left."""
    cell = next(each for each in TABLE_5 if each["awg"] == "10")
    for ambient_c, (column, insulation_c) in product(_band(row["ambient_C"]), COLUMNS.items()):
        read = {"t80": "t75", "t105": "t90", "t125": "t90", "t200": "t90"}.get(column, column)  # next cooler: errs low
        factor = min(row[read] or 0.0, 1.0) if ambient_c > 30 else 1.0
        found = _known("10 AWG", insulation_c, ambient_c=ambient_c)
        assert found.low_a == found.high_a == pytest.approx(cell[column] * factor)
        assert not found.from_memory
        assert ("310.15(B)(1)" in found.source) == (ambient_c > 30)
        inside = _known("10 AWG", insulation_c, in_engine_space=True, ambient_c=ambient_c)
        least = NOTE_1[column] if ambient_c <= 50 else min(NOTE_1[column], factor)
        assert inside.low_a == pytest.approx(cell[column] * least)


def test_the_two_codes_agree_on_50_degrees() -> None:
    """Why the factors of NFPA 70 may stand on Table 5: at the engine space's 50 °C they equal its note 1."""
    row = next(each for each in AMBIENT if each["ambient_C"] == "46-50")
    assert {column: row[column] for column in ("t60", "t75", "t90")} == {
        column: NOTE_1[column] for column in ("t60", "t75", "t90")
    }


@pytest.mark.parametrize(
    "row", [each for each in AMBIENT if _band(each["ambient_C"])[0] > 30], ids=lambda r: r["ambient_C"]
)
def test_the_ambient_factors_are_those_of_the_heat_balance(row: dict[str, Any]) -> None:
    """sqrt((Tc - Ta) / (Tc - 30)): heat made by the square of the current, heat lost by the difference."""
    ambient_c = _band(row["ambient_C"])[1]
    for column, insulation_c in (("t60", 60), ("t75", 75), ("t90", 90)):
        left = max(insulation_c - ambient_c, 0) / (insulation_c - 30)
        if row[column] is None:
            assert left**0.5 < 0.35
        else:
            assert row[column] == pytest.approx(left**0.5, abs=0.01)


@pytest.mark.parametrize("ambient_c", [30, 40, 45, 50, 55])
def test_the_international_table_has_a_column_for_the_ambient(ambient_c: int) -> None:
    """IEC 60364-5-52 method B2, 70 °C: the column itself, and the next hotter one between two."""
    for row in B2:
        for asked in (ambient_c, ambient_c - 1):
            found = _known(f"{row['mm2']} mm2", 70.0, loaded_conductors=3, voltage_v=230.0, practice="international",
                           ambient_c=float(asked))  # fmt: skip
            assert found.low_a == row[f"a{ambient_c}C"]
    beyond = _known("2.5 mm2", 70.0, loaded_conductors=3, voltage_v=230.0, practice="international", ambient_c=56.0)
    assert beyond.low_a == 0


@pytest.mark.parametrize(("voltage_v", "factor"), [(49.9, 1.0), (50.0, 0.7), (120.0, 0.7)])
def test_bundles_count_from_50_volts(voltage_v: float, factor: float) -> None:
    """33 CFR 183.425 Table 5 note 2."""
    assert _known("12 AWG", loaded_conductors=3, voltage_v=voltage_v).low_a == pytest.approx(45 * factor)


@pytest.mark.parametrize(
    ("insulation_c", "expected"),
    [(59.9, None), (60.0, 25.0), (74.0, 25.0), (79.0, 25.0), (80.0, 35.0), (104.9, 40.0), (150.0, 50.0), (250.0, 55.0)],
)
def test_insulation_between_columns_takes_the_lower(insulation_c: float, expected: float | None) -> None:
    """33 CFR 183.425 Table 5, 12 AWG: 25, 25, 35, 40, 45, 50, 55 A at 60, 75, 80, 90, 105, 125, 200 °C."""
    found = _asked("12 AWG", insulation_c)
    assert (found.low_a if found else None) == expected


@pytest.mark.parametrize(
    ("size", "placed"),
    [
        # Areas by ASTM B258: 18 AWG 0.823, 16 1.309, 14 2.081, 12 3.309, 10 5.261, 8 8.366, 4/0 107.2 mm².
        ("0.75 mm2", None),
        ("1 mm2", "18 AWG"),
        ("1.5 mm2", "16 AWG"),
        ("2.5 mm2", "14 AWG"),
        ("4 mm2", "12 AWG"),
        ("6 mm2", "10 AWG"),
        ("10 mm2", "8 AWG"),
        ("50 mm2", "1 AWG"),
        ("120 mm2", "4/0 AWG"),
        ("20 AWG", None),
        ("5 AWG", "6 AWG"),
    ],
)
def test_a_size_between_rows_errs_low_and_says_so(size: str, placed: str | None) -> None:
    found = _asked(size)
    if placed is None:
        assert found is None
    else:
        assert found is not None
        assert found.low_a == _known(placed).low_a
        assert f"{size} by the row of {placed} (errs low)" in found.derivation[0]


@pytest.mark.parametrize("row", B2, ids=lambda row: str(row["mm2"]))
def test_every_size_of_method_b2(row: dict[str, Any]) -> None:
    """IEC 60364-5-52 method B2, PVC 70 °C, three loaded conductors, at 30 °C and, in engine spaces, 50 °C."""
    for engine, column in ((False, "a30C"), (True, "a50C")):
        found = _known(f"{row['mm2']} mm2", 70.0, engine, 3, 230.0, "international")
        assert found.low_a == found.high_a == row[column]
        assert "method B2" in found.source
        assert not found.from_memory


@pytest.mark.parametrize("row", ISO, ids=lambda row: str(row["mm2"]))
def test_every_cell_of_the_small_craft_table(row: dict[str, Any]) -> None:
    """ISO 10133:2012 Annex A from memory; nothing is left of 60 °C insulation in a space of 60 °C."""
    for column, insulation_c in ISO_COLUMNS.items():
        outside = _known(f"{row['mm2']} mm2", insulation_c, False, 9, 12.0, "international")
        engine = _known(f"{row['mm2']} mm2", insulation_c, True, 9, 12.0, "international")
        assert outside.low_a == outside.high_a == row[column]
        assert engine.low_a == engine.high_a == pytest.approx(row[column] * ISO_ENGINE.get(column, 0.0))
        assert outside.from_memory
        assert "from memory" in outside.source
    assert _known(f"{row['mm2']} mm2", 90.0, practice="international").low_a == row["t85_90"]


def test_method_b2_counts_from_50_volts() -> None:
    """IEC 60364-5-52 method B2: 2.5 mm² 20 A; ISO 10133 from memory: 25 A."""
    assert _known("2.5 mm2", 70.0, voltage_v=50.0, practice="international").low_a == 20.0
    assert _known("2.5 mm2", 70.0, voltage_v=49.9, practice="international").low_a == 25.0


def test_international_off_the_table() -> None:
    assert _asked("185 mm2", practice="international") is None
    assert _asked("0.5 mm2", practice="international") is None
    assert _asked("1 mm2", 70.0, voltage_v=230.0, practice="international") is None  # B2 starts at 1.5 mm²
    assert _asked("10 mm2", 50.0, practice="international") is None


@pytest.mark.parametrize(
    ("count", "bunched"),
    # IEC 60364-5-52 Table B.52.17 from memory: 2 circuits 0.8, 3 circuits 0.7, 12 circuits 0.45, 20 circuits 0.38.
    [(4, 0.8), (5, 0.7), (6, 0.7), (20, 0.45), (40, 0.38), (99, 0.38), (None, 0.38)],
)
def test_more_than_three_conductors_leave_a_range_abroad(count: int | None, bunched: float) -> None:
    found = _known("2.5 mm2", 70.0, False, count, 230.0, "international")
    assert found.high_a == 20.0
    assert found.low_a == pytest.approx(20.0 * bunched)
    assert found.unknown == ("bundle",)
    assert found.from_memory


def test_unknowns_are_named_only_where_they_matter() -> None:
    everything = _known("12 AWG", None, None, None, 120.0)
    assert everything.unknown == ("insulation", "space", "bundle")
    # 33 CFR 183.425: 25 A × 0.58 × 0.4 at worst, 55 A at best.
    assert everything.low_a == pytest.approx(25 * 0.58 * 0.4)
    assert everything.high_a == 55.0
    assert _known("12 AWG", None, None, None, 12.0).unknown == ("insulation", "space")
    assert _known("12 AWG", 200.0, None).unknown == ()  # note 1: the factor at 200 °C is 1.00
    assert _known("12 AWG").unknown == ()


def test_the_derivation_can_be_followed() -> None:
    assert _known("12 AWG", 105.0, True, 3, 120.0).derivation == (
        "33 CFR 183.425 Table 5: 12 AWG, 105 °C insulation: 45 A",
        "engine space: × 0.85 = 38.25 A",
        "3 loaded conductors together: × 0.7 = 26.77 A",
    )
    at_least, at_most = _known("12 AWG", 105.0, None).derivation
    assert at_least.startswith("at least: ")
    assert "38.25 A" in at_least
    assert at_most.startswith("at most: ")
    assert "45 A" in at_most


@pytest.mark.parametrize("practice", ["", "north american"])
def test_an_unknown_practice_is_refused(practice: str) -> None:
    with pytest.raises(ValueError, match="unknown practice"):
        _asked("12 AWG", practice=practice)


def test_no_conductor_is_alone_with_none() -> None:
    with pytest.raises(ValueError, match="0 loaded conductors; expected at least 1"):
        _asked("12 AWG", loaded_conductors=0)


# --- What must hold whatever the table -------------------------------------------------------------

insulations = st.sampled_from([60.0, 70.0, 75.0, 80.0, 85.0, 90.0, 105.0, 125.0, 150.0, 200.0])
counts = st.integers(1, 60)
voltages = st.sampled_from([12.0, 24.0, 48.0, 50.0, 120.0, 230.0])
practices = st.sampled_from(PRACTICES)
sizes = st.sampled_from(SIZES)


@given(
    size=sizes,
    insulation_c=insulations,
    engine=st.booleans(),
    count=counts,
    voltage_v=voltages,
    practice=practices,
    hidden=st.sets(st.sampled_from(["insulation", "space", "bundle"])),
)
def test_what_is_not_known_always_covers_what_is(
    size: str,
    insulation_c: float,
    engine: bool,
    count: int,
    voltage_v: float,
    practice: str,
    hidden: set[str],
) -> None:
    inner = _asked(size, insulation_c, engine, count, voltage_v, practice)
    outer = _asked(
        size,
        None if "insulation" in hidden else insulation_c,
        None if "space" in hidden else engine,
        None if "bundle" in hidden else count,
        voltage_v,
        practice,
    )
    if inner is None:
        return
    assert outer is not None
    assert 0 <= outer.low_a <= inner.low_a <= inner.high_a <= outer.high_a
    # Abroad, how more than three conductors are arranged is never known.
    arrangement = {"bundle"} if practice == "international" and voltage_v >= 50 and count > 3 else set()
    assert set(outer.unknown) <= hidden | arrangement
    assert (outer.low_a < outer.high_a) == bool(outer.unknown)


@given(insulation_c=insulations, engine=st.booleans(), count=counts, voltage_v=voltages, practice=practices)
def test_a_larger_conductor_never_carries_less(
    insulation_c: float, engine: bool, count: int, voltage_v: float, practice: str
) -> None:
    by_area = sorted(SIZES, key=lambda size: parse_size(size).mm2)
    found = [_asked(size, insulation_c, engine, count, voltage_v, practice) for size in by_area]
    held = [one for one in found if one]
    assert len(held) > 10
    for smaller, larger in pairwise(held):
        assert smaller.low_a <= larger.low_a
        assert smaller.high_a <= larger.high_a


@given(size=sizes, engine=st.booleans(), count=counts, voltage_v=voltages)
def test_hotter_insulation_never_carries_less(size: str, engine: bool, count: int, voltage_v: float) -> None:
    """Within one table: 33 CFR at any voltage, ISO 10133 under 50 V."""
    for practice in PRACTICES if voltage_v < 50 else PRACTICES[:1]:
        amps = [_asked(size, column, engine, count, voltage_v, practice) for column in (60.0, 75.0, 90.0, 125.0)]
        held = [one.low_a for one in amps if one]
        assert held == sorted(held)


@given(size=sizes, insulation_c=insulations, count=counts, voltage_v=voltages, practice=practices)
def test_an_engine_space_or_company_never_raises_the_current(
    size: str, insulation_c: float, count: int, voltage_v: float, practice: str
) -> None:
    outside = _asked(size, insulation_c, False, count, voltage_v, practice)
    if outside is None:
        return
    engine = _known(size, insulation_c, True, count, voltage_v, practice)
    more = _known(size, insulation_c, False, count + 1, voltage_v, practice)
    assert engine.low_a <= outside.low_a
    assert engine.high_a <= outside.high_a
    assert more.low_a <= outside.low_a
    assert more.high_a <= outside.high_a


@given(size=sizes, insulation_c=insulations, engine=st.booleans(), count=counts, voltage_v=voltages)
def test_north_american_figures_never_exceed_the_cell_of_the_next_gauge(
    size: str, insulation_c: float, engine: bool, count: int, voltage_v: float
) -> None:
    """A size by another size's row errs low: no figure of a gauge that is larger than the size is used."""
    found = _asked(size, insulation_c, engine, count, voltage_v)
    area = parse_size(size).mm2
    cells = [row["t200"] for row in TABLE_5 if awg_area_mm2(row["awg"]) <= area]
    assert (found is None) == (not cells)
    if found:
        assert found.high_a <= max(cells)
