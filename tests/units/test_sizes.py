"""Sizes of conductors: against the published gauge table and the metric series."""

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.units import Size, UnitError, awg_area_mm2, parse_size

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "conductors.yaml"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
}
GAUGES = [*(str(n) for n in range(30, 0, -1)), "1/0", "2/0", "3/0", "4/0"]


def _unit_of_fourth_figure(value: float) -> float:
    return float(10 ** (math.floor(math.log10(value)) - 3))


@pytest.mark.parametrize("row", FACTS["awg_table"]["rows"], ids=lambda row: row["awg"])
def test_a_gauge_is_the_printed_wire_within_its_rounding(row: dict[str, Any]) -> None:
    """Lessons In Electric Circuits, Volume I, table of gauges; diameters have at most 4 figures (ASTM B258)."""
    area_mm2 = parse_size(f"{row['awg']} AWG").mm2
    diameter_in = math.sqrt(area_mm2 * 4 / math.pi) / 25.4
    assert abs(diameter_in - row["d_in"]) <= _unit_of_fourth_figure(row["d_in"]) / 2
    # The table prints areas from rounded diameters: at most 0.1 % away, as the fact's note says.
    cmil_mm2: float = FACTS["circular_mil"]["mm2_per_cmil"]
    assert area_mm2 / cmil_mm2 == pytest.approx(row["cmil"], rel=1e-3)
    assert area_mm2 == pytest.approx(row["calc_mm2"], abs=0.0005)


def test_the_anchors_of_the_gauge_are_met() -> None:
    """ASTM B258: 4/0 is 0.46 in, each step multiplies the diameter by the 39th root of 92."""
    anchors = FACTS["awg_definition"]["anchors"]
    assert awg_area_mm2("4/0") == pytest.approx(math.pi / 4 * (anchors["awg_4_0_d_in"] * 25.4) ** 2, rel=1e-12)
    for thin, thick in pairwise(GAUGES):
        step = math.sqrt(awg_area_mm2(thick) / awg_area_mm2(thin))
        assert step == pytest.approx(anchors["ratio_per_step"], rel=1e-7)


def test_every_gauge_is_read_in_order_of_its_area() -> None:
    sizes = [parse_size(f"{gauge} AWG") for gauge in GAUGES]
    assert sorted(sizes) == sizes
    assert len(set(sizes)) == len(GAUGES)
    assert [size.awg for size in sizes] == GAUGES


@pytest.mark.parametrize(
    ("one", "other"),
    [("0 AWG", "1/0 AWG"), ("6 mm²", "6 mm2"), ("6.0 mm2", "6mm2"), ("12AWG", "12 AWG"), ("1.50 mm2", "1.5 mm²")],
)
def test_spellings_of_one_size_are_equal(one: str, other: str) -> None:
    first, second = parse_size(one), parse_size(other)
    assert first == second
    assert first.text == second.text
    assert hash(first) == hash(second)


def test_sizes_of_both_kinds_are_ordered_by_area() -> None:
    """10 AWG is 5.261 mm², 8 AWG 8.366 mm² (ASTM B258)."""
    assert parse_size("10 AWG") < parse_size("6 mm2") < parse_size("8 AWG")
    assert parse_size("6 mm2").awg is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12", "has no unit"),
        ("2,5 mm2", "has a comma"),
        ("31 AWG", "is no gauge known here (30 to 1, 1/0 to 4/0)"),
        ("5/0 AWG", "is no gauge known here"),
        ("000 AWG", "is written '3/0 AWG'"),
        ("07 AWG", "is no gauge known here"),
        ("0 mm2", "is no area known here"),
        ("-6 mm2", "is negative"),
        ("6 mm", "is no conductor size"),
        ("#12", "does not start with a number"),
        ("6 AWG ", "starts or ends with blank space"),
        ("", "nothing is written here"),
    ],
)
def test_what_is_no_size_says_so(text: str, says: str) -> None:
    with pytest.raises(UnitError, match="for example '12 AWG', '4/0 AWG' or '6 mm2'") as caught:
        parse_size(text)
    assert says in str(caught.value)


@given(gauge=st.sampled_from(GAUGES) | st.none(), mm2=st.integers(10, 9_999_999))
def test_the_one_spelling_reads_back_as_the_same_size(gauge: str | None, mm2: int) -> None:
    text = f"{gauge} AWG" if gauge else f"{mm2 / 1000:.3f} mm2"
    size = parse_size(text)
    again: Size = parse_size(size.text)
    assert (again.text, again.mm2, again.awg) == (size.text, size.mm2, size.awg)
