"""Impedance of conductors against every row of the published tables, and what must hold whatever the table."""

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.physics.conductors.impedance import ConductorImpedance, conductor_impedance, temperature_factor
from vesselspec.units import awg_area_mm2, parse_size

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "conductors.yaml"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
}
TABLE_8 = FACTS["nec_ch9_table8"]["rows"]
TABLE_9 = FACTS["nec_table9_single_phase_z"]["rows"]
CLASSES = FACTS["iec60228_max_resistance"]["rows"]
K_T = FACTS["iec60228_temperature_factor"]["rows"]
AWG = FACTS["awg_table"]["rows"]
THOUSAND_FT_M = 304.8


def _of(
    size: str, length_m: float = 1000.0, temperature_c: float = 20.0, frequency_hz: float = 0.0, parallel: int = 1
) -> ConductorImpedance:
    return conductor_impedance(
        size=parse_size(size),
        length_m=length_m,
        temperature_c=temperature_c,
        frequency_hz=frequency_hz,
        parallel=parallel,
    )


@pytest.mark.parametrize("row", TABLE_8, ids=lambda row: str(row["awg"]))
def test_every_row_of_table_8(row: dict[str, Any]) -> None:
    """NFPA 70 Chapter 9 Table 8, 75 °C, ohm per 1000 ft: coated stranded is ours, solid uncoated the least."""
    found = _of(f"{row['awg']} AWG", THOUSAND_FT_M, 75.0)
    assert found.r_ohm == pytest.approx(row["stranded_coated"], rel=1e-12)
    assert found.x_ohm == 0
    if row["solid_uncoated"] is not None:
        # Solid values equal IACS copper at 75 °C within 0.4 %.
        assert found.least_r_ohm == pytest.approx(row["solid_uncoated"], rel=0.004)
    assert found.least_r_ohm < row["stranded_uncoated"] < found.r_ohm
    assert "Table 8" in found.source
    assert not found.from_memory


@pytest.mark.parametrize("row", CLASSES, ids=lambda row: str(row["mm2"]))
def test_every_size_of_iec_60228(row: dict[str, Any]) -> None:
    """IEC 60228 Table 3, class 5 tinned, ohm/km at 20 °C; class 2 and plain have less, solid copper least."""
    found = _of(f"{row['mm2']} mm2")
    assert found.r_ohm == pytest.approx(row["class_5_tinned"], rel=1e-12)
    assert found.least_r_ohm < min(row["class_2_plain"], row["class_5_plain"]) < found.r_ohm
    assert "IEC 60228" in found.source
    assert not found.from_memory


@pytest.mark.parametrize("row", TABLE_9, ids=lambda row: str(row["awg"]))
def test_every_row_of_table_9(row: dict[str, Any]) -> None:
    """NFPA 70 Chapter 9 Table 9, PVC conduit, 60 Hz, ohm per 1000 ft line to neutral; printed to two digits."""
    found = _of(f"{row['awg']} AWG", THOUSAND_FT_M, 75.0, 60.0)
    assert found.x_ohm == pytest.approx(row["xl"], rel=1e-12)
    assert _of(f"{row['awg']} AWG", THOUSAND_FT_M, 75.0, 50.0).x_ohm == pytest.approx(row["xl"] * 50 / 60, rel=1e-12)
    # Its resistance is of uncoated wire, rounded: ours is above it by at most the coating and the rounding.
    assert 0.97 < found.r_ohm / row["r"] < 1.10


@pytest.mark.parametrize("row", AWG, ids=lambda row: str(row["awg"]))
def test_gauge_geometry_and_solid_resistance(row: dict[str, Any]) -> None:
    """ASTM B258 geometry (printed diameters and areas) and IACS copper at 20 °C."""
    mm2 = awg_area_mm2(row["awg"])
    assert mm2 == pytest.approx(row["calc_mm2"], abs=0.0005)
    assert mm2 == pytest.approx(row["cmil"] * FACTS["circular_mil"]["mm2_per_cmil"], rel=1e-3)
    assert _of(f"{row['awg']} AWG").least_r_ohm == pytest.approx(row["calc_r20_ohm_km"], abs=0.00005)


@pytest.mark.parametrize("row", K_T, ids=lambda row: str(row["t_C"]))
def test_temperature_against_the_factors_of_iec_60228(row: dict[str, Any]) -> None:
    """IEC 60228 k_t brings R at t to 20 °C with a coefficient of 0.004; ours is 1/254.5: 0.6 % apart at 100 °C."""
    assert temperature_factor(row["t_C"], 20.0) == pytest.approx(row["k_t"], rel=0.006)
    # With the table's own constant the form agrees to the printed three decimals.
    assert abs((230.0 + 20) / (230 + row["t_C"]) - row["k_t"]) <= 0.0005 + 1e-9


@pytest.mark.parametrize("celsius", [0.0, 20.0, 30.0, 50.0, 60.0, 75.0, 90.0, 105.0])
def test_temperature_against_both_published_coefficients(celsius: float) -> None:
    """0.00393 at 20 °C (from memory at its third digit) and the 0.00323 at 75 °C of Table 8 note 2 (from memory)."""
    alpha = FACTS["copper_alpha_20"]["value"]
    assert temperature_factor(20.0, celsius) == pytest.approx(1 + alpha * (celsius - 20), rel=1e-4)
    at_75 = FACTS["nec_table8_temperature_rule"]["alpha_cu_at_75C_per_C"]
    assert temperature_factor(75.0, celsius) == pytest.approx(1 + at_75 * (celsius - 75), rel=2e-4)


@pytest.mark.parametrize(
    ("size", "row"),
    [
        ("5 AWG", "6 AWG"),
        ("13 AWG", "14 AWG"),
        ("20 AWG", "18 AWG"),
        ("22 AWG", "18 AWG"),
        ("3 mm2", "2.5 mm2"),
        ("300 mm2", "240 mm2"),
        ("0.35 mm2", "0.5 mm2"),
    ],
)
def test_a_size_between_rows_is_computed_by_area_and_says_so(size: str, row: str) -> None:
    found, listed = _of(size), _of(row)
    ratio = parse_size(row).mm2 / parse_size(size).mm2
    assert found.r_ohm == pytest.approx(listed.r_ohm * ratio, rel=1e-12)
    assert row in found.derivation[0]
    assert f"by area {size}" in found.derivation[0]


def test_metric_reactance_errs_high() -> None:
    """4 mm² lies between 12 AWG (3.3) and 10 AWG (5.3 mm²): the row of 12 AWG. IEC's 0.08 mohm/m is less for all."""
    assert _of("4 mm2", 1.0, 20.0, 60.0).x_ohm == _of("12 AWG", 1.0, 20.0, 60.0).x_ohm
    for row in CLASSES:
        assert _of(f"{row['mm2']} mm2", 1.0, 20.0, 50.0).x_ohm > 0.08e-3


def test_the_boat_constant_lies_between_the_two_resistances() -> None:
    """K = 10.75 ohm·cmil/ft (ABYC E-11, as reprinted) is IACS copper at about 29 °C: between least and tabled."""
    for row in TABLE_8:
        found = _of(f"{row['awg']} AWG", 0.3048, 30.0)
        by_k = FACTS["k_boat_voltage_drop"]["value"] / row["cmil"]
        assert found.least_r_ohm == pytest.approx(by_k, rel=0.01)
        assert by_k < found.r_ohm


SIZES = st.sampled_from([f"{row['awg']} AWG" for row in AWG] + [f"{row['mm2']} mm2" for row in CLASSES])
LENGTHS = st.floats(0.01, 300)
CELSIUS = st.floats(-40, 200)
HERTZ = st.sampled_from([0.0, 50.0, 60.0, 400.0])


@given(SIZES, LENGTHS, LENGTHS, CELSIUS, HERTZ)
def test_two_lengths_in_series_and_two_conductors_in_parallel(
    size: str, one: float, two: float, celsius: float, hertz: float
) -> None:
    whole, a, b = (_of(size, length, celsius, hertz).z_ohm for length in (one + two, one, two))
    assert whole == pytest.approx(a + b, rel=1e-9)
    assert _of(size, one, celsius, hertz, 2).z_ohm == pytest.approx(a / 2, rel=1e-9)


@given(SIZES, LENGTHS, CELSIUS, HERTZ)
def test_the_least_is_less_and_warmth_adds(size: str, length: float, celsius: float, hertz: float) -> None:
    found, warmer = _of(size, length, celsius, hertz), _of(size, length, celsius + 1, hertz)
    assert 0 < found.least_r_ohm < found.r_ohm < warmer.r_ohm
    assert found.x_ohm == warmer.x_ohm
    assert found.source
    assert found.derivation


@pytest.mark.parametrize("family", [[f"{row['awg']} AWG" for row in AWG], [f"{row['mm2']} mm2" for row in CLASSES]])
def test_a_larger_size_has_less_resistance(family: list[str]) -> None:
    for smaller, larger in pairwise(sorted(family, key=lambda size: parse_size(size).mm2)):
        assert _of(larger).r_ohm < _of(smaller).r_ohm
        assert _of(larger).least_r_ohm < _of(smaller).least_r_ohm


@pytest.mark.parametrize(
    "wrong",
    [
        {"length_m": 0.0},
        {"length_m": float("nan")},
        {"length_m": float("inf")},
        {"temperature_c": -100.0},
        {"temperature_c": float("nan")},
        {"frequency_hz": -50.0},
        {"frequency_hz": float("inf")},
        {"parallel": 0},
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="expected"):
        _of("12 AWG", **wrong)
