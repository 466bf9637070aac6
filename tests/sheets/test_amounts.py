"""Quantities and sizes as people type them: one reading, or none."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec import units
from vesselspec.sheets.amounts import CellError, NoUnitError, has_decimal_comma, number, quantity, size, unit_of


@pytest.mark.parametrize(
    ("dimension", "said", "unit", "meant"),
    [
        ("length", "7.5 m", None, "7.5 m"),
        ("length", "7,5 m", None, "7.5 m"),
        ("length", "0,125 m", None, "0.125 m"),
        ("length", "18", "ft", "18 ft"),
        ("length", "18 feet", None, "18 ft"),
        ("length", "18'", None, "18 ft"),
        ("length", 5.5, "m", "5.5 m"),
        ("length", 0.1 + 0.2, "m", "0.3 m"),
        ("length", "20 ft", "ft", "20 ft"),
        ("current", "12Amps", None, "12 A"),
        ("power", "1,500.5 W", None, "1500.5 W"),
        ("power", "1.500,5 W", None, "1500.5 W"),
        ("power", "1 500 W", None, "1500 W"),
        ("power", "1\u00a0500", "W", "1500 W"),
        ("power", "1.2 kw", None, "1.2 kW"),
        ("power", 1500, "W", "1500 W"),
        ("apparent-power", "3 KVA", None, "3 kVA"),
        ("temperature", "105 C", None, "105 degC"),
    ],
)
def test_a_quantity_has_one_reading(dimension: str, said: str | float, unit: str | None, meant: str) -> None:
    assert quantity(dimension, said, unit) == meant
    units.parse(dimension, meant)


@pytest.mark.parametrize(
    ("dimension", "said", "unit", "why"),
    [
        ("length", "18", None, "no unit"),
        ("length", 18, None, "no unit"),
        ("power", "1,500 W", None, "1.500 or 1500"),
        ("length", "20 ft", "m", "its column in m"),
        ("length", "ca. 20 ft", None, "start with a number"),
        ("length", "18'6\"", None, "one way"),
        ("length", "20 A", None, "no unit of length"),
        ("power", "5 mw", None, "no unit of power"),  # milli or mega
        ("current", "10-15 A", None, "no unit of current"),
        ("current", "1.2.3 A", None, "one way"),
    ],
)
def test_what_has_none_or_two_is_refused(dimension: str, said: str | float, unit: str | None, why: str) -> None:
    with pytest.raises(CellError, match=why):
        quantity(dimension, said, unit)


def test_a_point_may_group_thousands_where_the_list_has_decimal_commas() -> None:
    assert quantity("power", "1.200 W", None) == "1.200 W"
    with pytest.raises(CellError, match="may be 1200"):
        quantity("power", "1.200 W", None, commas=True)
    assert quantity("power", "1.25 W", None, commas=True) == "1.25 W"
    assert has_decimal_comma("7,5 m")
    assert not any(map(has_decimal_comma, ("1,500 W", "7.5 m", "a,5", "1,234,567")))


@pytest.mark.parametrize(
    ("said", "unit", "meant"),
    [
        ("10 AWG", None, "10 AWG"),
        ("10awg", None, "10 AWG"),
        ("AWG 10", None, "10 AWG"),
        ("#10 AWG", None, "10 AWG"),
        ("4/0 AWG", None, "4/0 AWG"),
        ("0000 AWG", None, "4/0 AWG"),
        ("#10", "AWG", "10 AWG"),
        ("10 ga", "AWG", "10 AWG"),
        ("2/0", "AWG", "2/0 AWG"),
        (10, "AWG", "10 AWG"),
        (2.5, "mm2", "2.5 mm2"),
        ("2,5", "mm2", "2.5 mm2"),
        ("6 mm²", None, "6 mm2"),
        ("6 sq mm", None, "6 mm2"),
    ],
)
def test_a_size_has_one_reading(said: str | float, unit: str | None, meant: str) -> None:
    assert size(said, unit) == meant
    units.parse_size(meant)


@pytest.mark.parametrize(
    ("said", "unit"), [("10", None), (10, None), ("#10", None), ("10 ga", None), ("2/0", None), ("2.5", None)]
)
def test_a_bare_gauge_is_never_taken_for_awg(said: str | float, unit: str | None) -> None:
    with pytest.raises(NoUnitError):
        size(said, unit)


@pytest.mark.parametrize(
    ("said", "unit", "why"),
    [
        ("10/3 AWG", None, "no conductor size"),
        ("10 AWG", "mm2", "its column in mm2"),
        ("2/0", "mm2", "it is a gauge"),
        ("6 mm2", "AWG", "its column in AWG"),
        (0, "AWG", "dropped"),
        ("thick", "AWG", "no conductor size"),
    ],
)
def test_what_may_be_another_size_is_refused(said: str | float, unit: str, why: str) -> None:
    with pytest.raises(CellError, match=why):
        size(said, unit)


@settings(max_examples=60)
@given(st.text(alphabet="0123456789.,' +-", max_size=12))
def test_a_number_that_is_read_has_its_own_digits(said: str) -> None:
    """Brute force: dropping everything but digits from what was said and what was read leaves the same digits."""
    try:
        found = number(said)
    except CellError:
        return
    assert [c for c in found if c.isdigit()] == [c for c in said if c.isdigit()]


def test_units_that_could_be_two_are_none() -> None:
    assert unit_of("power", "MW") == "MW"
    assert unit_of("power", "mw") is None
    assert unit_of("length", "M") == "m"
    assert unit_of("size", "ga") is None
