"""Quantities as people write them, and the SI numbers that the rest of the program computes with.

Text is read strictly: a number with a decimal point, at most one space, a unit. What a reader could take in
two ways (a bare number, a decimal comma, a thousands separator) is an error that says what to write instead.
Temperatures stay in degrees Celsius, charge in ampere-hours and energy in watt-hours, as the trade uses them.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Final

LONGEST_TEXT: Final = 40
"""Characters above which a text is refused unread."""

_INTEGER_DIGITS: Final = 9
_NUMBER: Final = rf"[0-9]{{1,{_INTEGER_DIGITS}}}(?:\.[0-9]{{1,9}})?"
_SIGNIFICANT: Final = 4


class UnitError(ValueError):
    """A text that is no quantity of the kind asked for: what was found, what was expected, an example."""


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity, its units and how to write it.

    `units` maps each accepted unit to (factor, offset): SI value = (number + offset) × factor.
    The first unit is the plain one, in which zero is shown. `pattern` is an anchored regular expression, for
    ECMA-262 and Python alike, that accepts just the texts that `parse` accepts.
    """

    name: str
    title: str
    si: str
    units: Mapping[str, tuple[float, float]]
    example: str
    pattern: str


def _dimension(name: str, si: str, example: str, units: Mapping[str, float | tuple[float, float]]) -> Dimension:
    pairs = {unit: size if isinstance(size, tuple) else (size, 0.0) for unit, size in units.items()}
    sign = "-?" if name == "temperature" else ""
    return Dimension(
        name=name,
        title="percentage" if name == "percent" else name.replace("-", " "),
        si=si,
        units=MappingProxyType(pairs),
        example=example,
        pattern=f"^{sign}{_NUMBER} ?(?:{'|'.join(pairs)})$",
    )


_FT_M: Final = 0.3048  # exact, by the definition of the international foot
_IN_M: Final = 0.0254  # exact, likewise

DIMENSIONS: Final[Mapping[str, Dimension]] = MappingProxyType(
    {
        dimension.name: dimension
        for dimension in (
            _dimension("current", "A", "30 A", {"A": 1.0, "mA": 1e-3, "kA": 1e3}),
            _dimension("voltage", "V", "120 V", {"V": 1.0, "mV": 1e-3, "kV": 1e3}),
            _dimension("power", "W", "1500 W", {"W": 1.0, "kW": 1e3, "MW": 1e6}),
            _dimension("apparent-power", "VA", "12 kVA", {"VA": 1.0, "kVA": 1e3}),
            _dimension("length", "m", "5.5 m", {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "ft": _FT_M, "in": _IN_M}),
            _dimension(
                "temperature",
                "degC",
                "50 degC",
                {"°C": 1.0, "degC": 1.0, "°F": (5 / 9, -32.0), "degF": (5 / 9, -32.0)},
            ),
            _dimension(
                "resistance",
                "ohm",
                "12 mohm",
                # The Greek letter and the ohm sign (U+2126) look the same; both are accepted.
                {"Ω": 1.0, "mΩ": 1e-3, "kΩ": 1e3, "ohm": 1.0, "mohm": 1e-3, "kohm": 1e3}
                | {"\u2126": 1.0, "m\u2126": 1e-3, "k\u2126": 1e3},
            ),
            _dimension("charge", "Ah", "200 Ah", {"Ah": 1.0, "mAh": 1e-3}),
            _dimension("frequency", "Hz", "60 Hz", {"Hz": 1.0}),
            _dimension("time", "s", "100 ms", {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}),
            _dimension("energy", "Wh", "2.4 kWh", {"Wh": 1.0, "kWh": 1e3}),
            _dimension("percent", "1", "80 %", {"%": 1e-2}),
        )
    }
)
"""Every kind of quantity, by name. The SI value of `percent` is the ratio: 80 % is 0.8."""

_SHOWN: Final[Mapping[str, tuple[tuple[float, str], ...]]] = {
    # (from this magnitude in SI, unit), greatest first; the last one takes what is smaller.
    "current": ((10e3, "kA"), (1.0, "A"), (0.0, "mA")),
    "voltage": ((10e3, "kV"), (0.1, "V"), (0.0, "mV")),
    "power": ((10e6, "MW"), (10e3, "kW"), (0.0, "W")),
    "apparent-power": ((10e3, "kVA"), (0.0, "VA")),
    "length": ((1.0, "m"), (0.0, "mm")),
    "temperature": ((0.0, "°C"),),
    "resistance": ((10e3, "kΩ"), (1.0, "Ω"), (0.0, "mΩ")),
    "charge": ((1.0, "Ah"), (0.0, "mAh")),
    "frequency": ((0.0, "Hz"),),
    "time": ((7200.0, "h"), (120.0, "min"), (1.0, "s"), (0.0, "ms")),
    "energy": ((10e3, "kWh"), (0.0, "Wh")),
    "percent": ((0.0, "%"),),
}


def parse(dimension: str, text: str) -> float:
    """Read a quantity as written, for example `parse("length", "18 ft")`.

    Returns A, V, W, VA, m, °C, ohm, Ah, Hz, s, Wh, or for percent the ratio. Only a temperature can be below
    zero. Raises UnitError for any other text, KeyError for a dimension that does not exist.
    """
    kind = DIMENSIONS[dimension]
    if len(text) > LONGEST_TEXT or not _compiled(kind.pattern).fullmatch(text):
        raise UnitError(_complaint(text, kind))
    number, unit = _split(text)
    factor, offset = kind.units[unit]
    # 15 significant digits: '1100 mm' is 1.1 m, not 1.1000000000000001 m.
    return float(f"{(float(number) + offset) * factor:.15g}")


def show(dimension: str, value: float, *, unit: str | None = None) -> str:
    """Write an SI value as short text for people, at most four significant figures: '20 A', '30 mA', '18 ft'.

    `value` is in the unit that `parse` returns; `unit` fixes the unit that is written, else it follows the
    magnitude. Raises UnitError if the value is not finite, has more than 9 digits before the point in that unit,
    or the unit is not one of the dimension's.
    """
    kind = DIMENSIONS[dimension]
    if not math.isfinite(value):
        raise UnitError(f"{_a(kind.title)} of {value} cannot be written; a finite number was expected")
    if unit is None:
        plain = next(iter(kind.units))
        unit = next(name for least, name in _SHOWN[dimension] if abs(value) >= least) if value else plain
    if unit not in kind.units:
        raise UnitError(f"{unit!r} is no unit of {kind.title}; write {_alternatives(kind)}")
    factor, offset = kind.units[unit]
    digits = _plain(value / factor - offset)
    if len(digits.partition(".")[0].lstrip("-")) > _INTEGER_DIGITS:
        raise UnitError(f"{_a(kind.title)} of {value:g} is too great to be written in {unit}")
    return f"{digits} {unit}"


def _plain(number: float) -> str:
    """Four significant figures without exponent, trailing zeros or a negative zero."""
    digits = f"{float(f'{number:.{_SIGNIFICANT}g}'):.9f}".rstrip("0").rstrip(".")
    return "0" if digits == "-0" else digits


# --- Conductor sizes ------------------------------------------------------------------------------

SIZE_PATTERN: Final = (
    r"^(?:(?:30|[12][0-9]|[0-9]|[1-4]/0) ?AWG"
    r"|(?:[1-9][0-9]{0,3}(?:\.[0-9]{1,3})?|0\.0?[1-9][0-9]{0,2}) ?(?:mm2|mm²))$"
)
"""Accepts just the texts that `parse_size` accepts."""


@dataclass(frozen=True, order=True)
class Size:
    """Size of a conductor. Sizes are equal, and ordered, by cross-section, however they were spelt.

    `text` is the one spelling used in output ('1/0 AWG', '6 mm2'); `mm2` the cross-section in mm²;
    `awg` the gauge as text ('12', '4/0'), or None for a metric size.
    """

    text: str = field(compare=False)
    mm2: float
    awg: str | None = field(compare=False)


def parse_size(text: str) -> Size:
    """Read the size of a conductor: '12 AWG', '4/0 AWG', '6 mm2' or '6 mm²'. '0 AWG' is '1/0 AWG'.

    The area of a gauge is that of the solid round wire which defines it. Raises UnitError.
    """
    if len(text) > LONGEST_TEXT or not _compiled(SIZE_PATTERN).fullmatch(text):
        raise UnitError(_size_complaint(text))
    if text.endswith("AWG"):
        gauge = text.removesuffix("AWG").rstrip()
        gauge = "1/0" if gauge == "0" else gauge
        return Size(text=f"{gauge} AWG", mm2=awg_area_mm2(gauge), awg=gauge)
    number = re.sub(r" ?mm[2²]$", "", text)
    return Size(text=f"{_trimmed(number)} mm2", mm2=float(number), awg=None)


def awg_area_mm2(gauge: str) -> float:
    """Area in mm² of a gauge written '12', '0' or '4/0': a solid round wire of the defined diameter.

    Source: ASTM B258, diameter = 0.127 mm × 92^((36 − n) / 39), with n = 0 for 1/0, −1 for 2/0 and so on.
    """
    n = 1 - int(gauge.removesuffix("/0")) if gauge.endswith("/0") else int(gauge)
    diameter_mm = 0.127 * math.pow(92, (36 - n) / 39)
    return math.pi / 4 * diameter_mm**2


# --- Nominal voltage of a system ------------------------------------------------------------------

_VOLTS: Final = r"[1-9][0-9]{0,4}(?:\.[0-9]{1,2})?"
SYSTEM_VOLTAGE_PATTERN: Final = rf"^{_VOLTS}(?:/{_VOLTS})? ?V$"
"""Accepts the texts that `parse_system_voltage` accepts, except that it cannot check the ratio of a pair."""

_PAIR_TOLERANCE: Final = 0.05  # ours: nominal pairs are round figures, 400/230 is 1.739 and not √3


@dataclass(frozen=True)
class SystemVoltage:
    """Nominal voltage of a system, equal by meaning: '400/230 V' is '230/400 V'.

    `line_v` is line to neutral, or the DC voltage, in V; `between_lines_v` is line to line in V, None if only
    one voltage is written.
    """

    text: str = field(compare=False)
    line_v: float
    between_lines_v: float | None


def parse_system_voltage(text: str) -> SystemVoltage:
    """Read '12 V', '230 V', '120/240 V' or '400/230 V'; the smaller of a pair is line to neutral.

    A pair must stand as 1 to 2 (split phase) or 1 to √3 (three phases). Raises UnitError.
    """
    example = "write a system voltage, for example '12 V', '120/240 V' or '400/230 V'"
    if len(text) > LONGEST_TEXT or not _compiled(SYSTEM_VOLTAGE_PATTERN).fullmatch(text):
        raise UnitError(f"{_common_complaint(text, 'V') or _found(text) + ' is no system voltage'}; {example}")
    figures = text.removesuffix("V").rstrip()
    spelt = f"{figures} V"
    if "/" not in figures:
        return SystemVoltage(text=spelt, line_v=float(figures), between_lines_v=None)
    low, high = sorted(float(figure) for figure in figures.split("/"))
    if not any(math.isclose(high / low, ratio, rel_tol=_PAIR_TOLERANCE) for ratio in (2, math.sqrt(3))):
        raise UnitError(
            f"{_found(text)} is neither split phase (1 to 2) nor three-phase (1 to 1.73): "
            f"the ratio is 1 to {_plain(high / low)}; {example}"
        )
    return SystemVoltage(text=spelt, line_v=low, between_lines_v=high)


# --- What to say about a text that cannot be read -------------------------------------------------


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


def _split(text: str) -> tuple[str, str]:
    """Number and unit of a text that fits its pattern."""
    number = re.match(r"-?[0-9.]+", text)
    end = number.end() if number else 0
    return text[:end], text[end:].lstrip(" ")


def _trimmed(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


def _found(text: str) -> str:
    return repr(text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 1] + "…")


def _a(title: str) -> str:
    return f"{'an' if title[0] in 'aeiou' else 'a'} {title}"


def _alternatives(kind: Dimension) -> str:
    names = [unit for unit in kind.units if unit.isascii()]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _common_complaint(text: str, unit: str) -> str | None:
    """The mistakes that any quantity can have, or None."""
    if not text.strip():
        return "nothing is written here"
    found = _found(text)
    if len(text) > LONGEST_TEXT:
        return f"{found} is too long for a quantity"
    if text != text.strip():
        return f"{found} starts or ends with blank space"
    if re.search(r"[0-9],[0-9]", text):
        return f"{found} has a comma; use a decimal point and no thousands separator"
    if re.search(r"[0-9] [0-9]|[0-9][_'’][0-9]", text):
        return f"{found} has a thousands separator; write the digits together"
    if re.match(r"[+-]?[0-9.]+[eE][+-]?[0-9]", text):
        return f"{found} has an exponent; write the digits out"
    if re.match(r"[+-]?\.[0-9]|[+-]?[0-9]+\.(?![0-9])", text):
        return f"{found} lacks a digit beside its decimal point"
    if text.startswith("+"):
        return f"{found} has a plus sign; leave it out"
    if re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", text):
        return f"{found} has no unit"
    if re.match(rf"-[0-9.]+ ?{re.escape(unit)}$", text):
        return f"{found} is negative"
    if re.match(r"[0-9.]+\s{2,}|[0-9.]+[^\S ]", text):
        return f"{found} has more than one space between number and unit"
    if not re.match(r"[+-]?[0-9]", text):
        return f"{found} does not start with a number"
    return None


def _complaint(text: str, kind: Dimension) -> str:
    remedy = f"write {_a(kind.title)}, for example '{kind.example}'"
    tail = re.match(r"[+-]?[0-9.]+ ?([^\s0-9.]\S*)$", text) if len(text) <= LONGEST_TEXT else None
    unit = tail[1] if tail else ""
    common = _common_complaint(text, unit if unit in kind.units and kind.name != "temperature" else kind.si)
    if common:
        return f"{common}; {remedy}"
    if unit and unit not in kind.units:
        other = next((d.title for d in DIMENSIONS.values() if unit in d.units), None)
        is_what = f"'{unit}' is a unit of {other}" if other else f"'{unit}' is not a unit of {kind.title}"
        return f"{_found(text)}: {is_what}; {remedy} (units: {_alternatives(kind)})"
    return f"{_found(text)} cannot be read (at most 9 digits before the point and 9 after it); {remedy}"


def _size_complaint(text: str) -> str:
    remedy = "write a conductor size, for example '12 AWG', '4/0 AWG' or '6 mm2'"
    common = _common_complaint(text, "mm2")
    if common:
        return f"{common}; {remedy}"
    found = _found(text)
    if re.fullmatch(r"0{2,4} ?AWG", text):
        return f"{found} is written '{text.count('0')}/0 AWG'; {remedy}"
    if text.endswith("AWG"):
        return f"{found} is no gauge known here (30 to 1, 1/0 to 4/0); {remedy}"
    if text.endswith(("mm2", "mm²")):
        return f"{found} is no area known here (0.01 to 9999.999 mm2); {remedy}"
    return f"{found} is no conductor size; {remedy}"
