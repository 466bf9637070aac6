"""Quantities as written: against the definitions of the units, and against a JSON Schema validator."""

import re
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vesselspec.units import (
    DIMENSIONS,
    LONGEST_TEXT,
    SIZE_PATTERN,
    SYSTEM_VOLTAGE_PATTERN,
    UnitError,
    parse,
    parse_size,
    parse_system_voltage,
    show,
)

# Characters of quantities and of the mistakes in them.
SCRAPS = st.text(alphabet="0123456789.,-+ eE_'/\n\tAkmMVWhHzsinftcdegCF°ΩΩohmG%2²٣µ", max_size=14)


@pytest.mark.parametrize(
    ("dimension", "text", "expected"),
    [
        # International yard and pound agreement: 1 ft = 0.3048 m exactly, 12 in to the foot.
        ("length", "1 ft", 0.3048),
        ("length", "18 ft", 5.4864),
        ("length", "1 in", 0.0254),
        ("length", "5.5 m", 5.5),
        ("length", "550cm", 5.5),
        ("length", "1100 mm", 1.1),
        ("length", "1.23456789 m", 1.23456789),
        # Fahrenheit scale: water freezes at 32, boils at 212; both scales meet at −40.
        ("temperature", "32 degF", 0.0),
        ("temperature", "212 °F", 100.0),
        ("temperature", "-40 degF", -40.0),
        ("temperature", "-1.5 °C", -1.5),
        # SI prefixes (SI Brochure): k, M, m.
        ("current", "30 mA", 0.03),
        ("current", "10 kA", 10_000.0),
        ("voltage", "3.7 mV", 0.0037),
        ("voltage", "1 kV", 1000.0),
        ("power", "1.5kW", 1500.0),
        ("power", "2 MW", 2e6),
        ("apparent-power", "12 kVA", 12_000.0),
        ("resistance", "12 mohm", 0.012),
        ("resistance", "12 mΩ", 0.012),
        ("resistance", "12 m\u2126", 0.012),
        ("resistance", "25 kohm", 25_000.0),
        ("charge", "500 mAh", 0.5),
        ("frequency", "60 Hz", 60.0),
        ("time", "100 ms", 0.1),
        ("time", "2 min", 120.0),
        ("time", "1 h", 3600.0),
        ("energy", "2.4 kWh", 2400.0),
        ("percent", "12.5%", 0.125),
        ("current", "0 A", 0.0),
    ],
)
def test_text_becomes_the_si_value(dimension: str, text: str, expected: float) -> None:
    assert parse(dimension, text) == expected


@pytest.mark.parametrize(
    ("dimension", "text", "says"),
    [
        ("current", "15", "'15' has no unit; write a current, for example '30 A'"),
        ("temperature", "-5", "'-5' has no unit; write a temperature, for example '50 degC'"),
        (
            "current",
            "1,5 A",
            "'1,5 A' has a comma; use a decimal point and no thousands separator; write a current, for example '30 A'",
        ),
        ("power", "1 500 W", "'1 500 W' has a thousands separator; write the digits together"),
        ("power", "1_500 W", "has a thousands separator"),
        ("power", "1'500 W", "has a thousands separator"),
        ("length", "-5 m", "'-5 m' is negative; write a length"),
        ("length", "-5 ft", "'-5 ft' is negative; write a length"),
        ("current", "+5 A", "has a plus sign"),
        ("current", "1e3 A", "has an exponent; write the digits out"),
        ("current", ".5 A", "lacks a digit beside its decimal point"),
        ("current", "5. A", "lacks a digit beside its decimal point"),
        ("current", "5  A", "more than one space"),
        ("current", "5\tA", "more than one space"),
        ("current", " 5 A", "starts or ends with blank space"),
        ("current", "5 A\n", "starts or ends with blank space"),
        ("current", "", "nothing is written here; write a current"),
        ("current", "nan A", "does not start with a number"),
        ("current", "inf A", "does not start with a number"),
        ("current", "30 a", "'a' is not a unit of current; write a current, for example '30 A' (units: A, mA"),
        ("apparent-power", "5 kW", "'kW' is a unit of power; write an apparent power"),
        ("power", "5 mW", "'mW' is not a unit of power"),
        ("current", "1234567890 A", "at most 9 digits before the point"),
        ("current", "9" * 500 + " A", "is too long for a quantity"),
        ("current", "٣ A", "does not start with a number"),
    ],
)
def test_an_error_says_what_was_found_and_what_to_write(dimension: str, text: str, says: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(dimension, text)
    message = str(caught.value)
    assert says in message
    assert f"for example '{DIMENSIONS[dimension].example}'" in message
    assert len(message) < 200


@pytest.mark.parametrize("name", DIMENSIONS)
def test_the_example_of_a_dimension_can_be_read_and_each_unit_is_explained(name: str) -> None:
    kind = DIMENSIONS[name]
    assert kind.name == name
    assert parse(name, kind.example) > 0
    for unit in kind.units:
        assert parse(name, f"1 {unit}") == parse(name, f"1{unit}")


@pytest.mark.parametrize(
    ("dimension", "value", "expected"),
    [
        ("current", 20.0, "20 A"),
        ("current", 0.03, "30 mA"),
        ("current", 10_000.0, "10 kA"),
        ("current", 5000.0, "5000 A"),
        ("current", -12.5, "-12.5 A"),
        ("current", 0.0, "0 A"),
        ("current", -0.0, "0 A"),
        ("current", 23.456789, "23.46 A"),
        ("voltage", 118.94, "118.9 V"),
        ("voltage", 0.36, "0.36 V"),
        ("power", 1500.0, "1500 W"),
        ("power", 12_500.0, "12.5 kW"),
        ("length", 5.5, "5.5 m"),
        ("length", 0.178, "178 mm"),
        ("temperature", 50.0, "50 °C"),
        ("temperature", -5.0, "-5 °C"),
        ("temperature", 0.0, "0 °C"),
        ("resistance", 0.0123, "12.3 mΩ"),
        ("time", 0.1, "100 ms"),
        ("time", 90.0, "90 s"),
        ("time", 3600.0, "60 min"),
        ("energy", 2400.0, "2400 Wh"),
        ("percent", 0.8, "80 %"),
        ("current", 1e-30, "0 mA"),
    ],
)
def test_a_value_is_shown_short(dimension: str, value: float, expected: str) -> None:
    assert show(dimension, value) == expected


def test_the_unit_shown_can_be_chosen() -> None:
    assert show("length", 5.4864, unit="ft") == "18 ft"
    assert show("power", 1500.0, unit="kW") == "1.5 kW"
    assert show("temperature", -40.0, unit="degF") == "-40 degF"
    with pytest.raises(UnitError, match="'W' is no unit of length; write m, cm, mm, ft or in"):
        show("length", 1.0, unit="W")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_not_finite_is_never_shown(value: float) -> None:
    with pytest.raises(UnitError, match="cannot be written"):
        show("current", value)


UNITS = [(name, unit) for name, kind in DIMENSIONS.items() for unit in (None, *kind.units)]


@pytest.mark.parametrize(("name", "unit"), UNITS)
@given(exponent=st.floats(-3, 5), negative=st.booleans())
def test_what_is_shown_reads_back_within_four_figures(
    name: str, unit: str | None, exponent: float, negative: bool
) -> None:
    value = 10**exponent * (-1 if negative and name == "temperature" else 1)
    text = show(name, value, unit=unit)
    factor, offset = DIMENSIONS[name].units[text.split(" ")[1]]
    if text.startswith("-") and name != "temperature":
        pytest.fail(f"{text} shows a positive value as negative")
    # Half a unit of the fourth figure, or of the ninth decimal, which is the last one written.
    allowed = factor * (5e-4 * abs(value / factor - offset) + 0.5e-9)
    assert abs(parse(name, text) - value) <= allowed * (1 + 1e-9)


@given(name=st.sampled_from(sorted(DIMENSIONS)), value=st.floats(-9e6, 9e6))
def test_no_value_is_shown_with_an_exponent(name: str, value: float) -> None:
    assert re.fullmatch(r"-?[0-9]{1,9}(\.[0-9]{1,9})? \S+", show(name, value))


@pytest.mark.parametrize("value", [1e9, -1e12, 1.7975e308])
def test_what_could_not_be_read_back_is_not_shown(value: float) -> None:
    with pytest.raises(UnitError, match="is too great to be written in Ah"):
        show("charge", value)


def _accepts(read: Any, text: str) -> bool:
    try:
        read(text)
    except UnitError:
        return False
    return True


READERS: dict[str, tuple[str, Any]] = {
    **{name: (kind.pattern, lambda text, name=name: parse(name, text)) for name, kind in DIMENSIONS.items()},
    "size": (SIZE_PATTERN, parse_size),
}


@pytest.mark.parametrize("name", READERS)
@given(data=st.data())
def test_a_schema_with_the_pattern_accepts_just_what_is_read(name: str, data: st.DataObject) -> None:
    """The validator is an independent engine for ECMA-262 patterns."""
    pattern, read = READERS[name]
    in_schema = jsonschema_rs.validator_for({"type": "string", "pattern": pattern})
    fitting = st.from_regex(pattern[1:-1], fullmatch=True)
    text = data.draw(st.one_of(fitting, SCRAPS, st.tuples(fitting, SCRAPS).map("".join), st.text()))
    assert in_schema.is_valid(text) == _accepts(read, text)


@pytest.mark.parametrize("name", READERS)
@given(data=st.data())
def test_what_the_pattern_makes_is_read_and_short(name: str, data: st.DataObject) -> None:
    pattern, read = READERS[name]
    text = data.draw(st.from_regex(pattern[1:-1], fullmatch=True))
    assert len(text) <= LONGEST_TEXT
    assert _accepts(read, text)


@given(text=SCRAPS | st.text(max_size=60))
def test_nothing_but_a_unit_error_comes_out_of_any_text(text: str) -> None:
    for read in (parse_size, parse_system_voltage, *(reader for _, reader in READERS.values())):
        _accepts(read, text)


# --- Nominal voltages ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "line_v", "between_lines_v"),
    [
        ("12 V", 12.0, None),
        ("24V", 24.0, None),
        ("12.8 V", 12.8, None),
        ("120/240 V", 120.0, 240.0),
        ("240/120 V", 120.0, 240.0),
        # Nominal pairs of IEC 60038.
        ("400/230 V", 230.0, 400.0),
        ("230/400 V", 230.0, 400.0),
        ("120/208 V", 120.0, 208.0),
        ("277/480V", 277.0, 480.0),
        ("400/690 V", 400.0, 690.0),
    ],
)
def test_a_system_voltage_is_read(text: str, line_v: float, between_lines_v: float | None) -> None:
    found = parse_system_voltage(text)
    assert (found.line_v, found.between_lines_v) == (line_v, between_lines_v)
    assert jsonschema_rs.is_valid({"pattern": SYSTEM_VOLTAGE_PATTERN}, text)
    assert parse_system_voltage(found.text) == found


def test_system_voltages_are_equal_by_meaning() -> None:
    assert parse_system_voltage("400/230 V") == parse_system_voltage("230/400V")
    assert parse_system_voltage("120 V") != parse_system_voltage("120/240 V")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12", "has no unit"),
        ("12,8 V", "has a comma"),
        ("0 V", "is no system voltage"),
        ("120/240", "is no system voltage"),
        ("120/420 V", "the ratio is 1 to 3.5"),
        ("230/230 V", "the ratio is 1 to 1;"),
        ("120 / 240 V", "is no system voltage"),
        ("120/208/240 V", "is no system voltage"),
        ("12 VDC", "is no system voltage"),
        ("-12 V", "is negative"),
    ],
)
def test_what_is_no_system_voltage_says_so(text: str, says: str) -> None:
    with pytest.raises(UnitError, match="for example '12 V', '120/240 V' or '400/230 V'") as caught:
        parse_system_voltage(text)
    assert says in str(caught.value)


@given(text=st.from_regex(SYSTEM_VOLTAGE_PATTERN[1:-1], fullmatch=True) | SCRAPS)
def test_no_system_voltage_is_read_that_the_schema_refuses(text: str) -> None:
    if _accepts(parse_system_voltage, text):
        assert jsonschema_rs.is_valid({"pattern": SYSTEM_VOLTAGE_PATTERN}, text)
    elif "/" not in text:
        assert not jsonschema_rs.is_valid({"pattern": SYSTEM_VOLTAGE_PATTERN}, text)
