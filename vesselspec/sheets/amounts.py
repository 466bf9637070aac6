"""Quantities and conductor sizes as people type them, brought to the one way in which the record writes them.

Nothing is converted and nothing guessed: what could be read in two ways is refused with both readings.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from vesselspec.sheets.fields import SIZE
from vesselspec.sheets.table import digits
from vesselspec.units import DIMENSIONS


class CellError(ValueError):
    """A cell that cannot be understood; the message says why, as the end of a sentence."""


class NoUnitError(CellError):
    """A bare number where a quantity was expected."""


#: Spellings of units, without capitals, that can mean one thing only.
_SPELT: Mapping[str, Mapping[str, str]] = {
    "current": {"a": "A", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "ma": "mA", "ka": "kA"},
    "voltage": {"v": "V", "volt": "V", "volts": "V", "kv": "kV"},
    "power": {"w": "W", "watt": "W", "watts": "W", "kw": "kW", "kilowatt": "kW", "kilowatts": "kW"},
    "apparent-power": {"va": "VA", "kva": "kVA"},
    "length": {
        **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
        **dict.fromkeys(("cm", "centimetres", "centimeters"), "cm"),
        **dict.fromkeys(("mm", "millimetres", "millimeters"), "mm"),
        **dict.fromkeys(("ft", "foot", "feet", "'", "′"), "ft"),
        **dict.fromkeys(("in", "inch", "inches", '"', "″"), "in"),
    },
    "temperature": {"c": "degC", "°c": "degC", "degc": "degC", "f": "degF", "°f": "degF", "degf": "degF"},
    "time": {"h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "minutes": "min", "sec": "s", "seconds": "s"},
    "charge": {"ah": "Ah"},
    SIZE: {
        "awg": "AWG",
        **dict.fromkeys(("mm2", "mm²", "mm^2", "sq mm", "sqmm", "sq. mm", "qmm"), "mm2"),
    },
}
_NUMBER_FIRST = re.compile(r"([+-]?[0-9]+(?:[.,'’ \u00a0\u2009\u202f][0-9]+)*)(.*)\Z", re.DOTALL)
_POINT = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?\Z")
_GROUPED = re.compile(r"[0-9]{1,3}([ \u00a0\u2009\u202f'’][0-9]{3})+(\.[0-9]+)?\Z")
_COMMA_GROUPS_POINT = re.compile(r"[0-9]{1,3}(,[0-9]{3})+\.[0-9]+\Z|[0-9]{1,3}(,[0-9]{3}){2,}\Z")
_POINT_GROUPS_COMMA = re.compile(r"[0-9]{1,3}(\.[0-9]{3})+,[0-9]+\Z|[0-9]{1,3}(\.[0-9]{3}){2,}\Z")
_COMMA = re.compile(r"[0-9]+,[0-9]+\Z")
_GAUGE = re.compile(r"#?(?:AWG)?\s*#?\s*([1-4]/0|0{1,4}|[0-9]{1,2})\s*(.*)\Z", re.IGNORECASE)
#: Words after a gauge that name no series: the heading or --unit must say that it is AWG.
_GAUGE_WORDS = ("", "ga", "ga.", "gauge", "g")


def unit_of(dimension: str, text: str) -> str | None:
    """The unit of a dimension that a text means, as the record writes it; None if it is none."""
    text = text.strip()
    own = ("AWG", "mm2") if dimension == SIZE else DIMENSIONS[dimension].units
    return text if text in own else _SPELT.get(dimension, {}).get(text.casefold())


def units_of(dimension: str) -> tuple[str, ...]:
    """The units that can be named for a dimension."""
    return ("AWG", "mm2") if dimension == SIZE else tuple(u for u in DIMENSIONS[dimension].units if u.isascii())


def number(text: str, *, commas: bool = False) -> str:
    """The digits of a number with a decimal point. `commas`: its list has decimal commas.

    Raises CellError for what could be read in two ways.
    """
    text = text.strip()
    if _POINT.match(text):
        if commas and re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", text):
            raise CellError(f"{text} may be {text.replace('.', '')}: this list seems to have decimal commas")
        return text.removeprefix("+")
    if _GROUPED.match(text):
        return re.sub(r"[^0-9.]", "", text)
    if _COMMA_GROUPS_POINT.match(text):
        return text.replace(",", "")
    if _POINT_GROUPS_COMMA.match(text):
        return text.replace(".", "").replace(",", ".")
    if _COMMA.match(text):
        whole, part = text.split(",")
        if len(part) == 3 and len(whole) <= 3 and not whole.startswith("0"):
            raise CellError(f"{text} may be {whole}.{part} or {whole}{part}")
        return f"{whole}.{part}"
    raise CellError("it is no number that can be read in one way only")


def has_decimal_comma(text: str) -> bool:
    """Whether a number with a decimal comma, and with no other reading, stands at the start of a text."""
    found = _NUMBER_FIRST.match(text.strip())
    if found is None:
        return False
    head = found[1].strip()
    try:
        return bool(_COMMA.match(head) or _POINT_GROUPS_COMMA.match(head)) and "." in number(head)
    except CellError:
        return False


def quantity(dimension: str, value: str | float, unit: str | None, *, commas: bool = False) -> str:
    """A quantity as the record writes it. `unit` is that of the column, if it has one."""
    title = DIMENSIONS[dimension].title
    if isinstance(value, int | float):
        head, tail = digits(value), ""
    else:
        found = _NUMBER_FIRST.match(value.strip())
        if found is None:
            raise CellError(f"it does not start with a number; expected {_a(title)}")
        head, tail = number(found[1], commas=commas), found[2].strip()
    if not tail:
        if unit is None:
            raise NoUnitError("it has no unit, and neither has its heading")
        return f"{head} {unit}"
    own = unit_of(dimension, tail)
    if own is None:
        raise CellError(f"{tail[:20]!r} is no unit of {title}")
    if unit is not None and own != unit:
        raise CellError(f"it is in {own}, and its column in {unit}")
    return f"{head} {own}"


def size(value: str | float, unit: str | None, *, commas: bool = False) -> str:
    """A conductor size as the record writes it. A gauge is AWG only where the cell or the column says so."""
    if isinstance(value, int | float):
        if unit is None:
            raise NoUnitError("it says neither AWG nor mm2, and neither does its heading")
        if unit == "AWG" and value == 0:
            raise CellError("a gauge of 0 in a number cell may be 00 or more noughts that the spreadsheet dropped")
        return f"{digits(value)} {unit}"
    text = value.strip()
    gauge = _GAUGE.match(text)
    says_awg = re.match(r"#?AWG", text, re.IGNORECASE) is not None
    if gauge is not None:
        figure = f"{len(gauge[1])}/0" if set(gauge[1]) == {"0"} else gauge[1].lstrip("0")
        tail = gauge[2].casefold()
        if (says_awg and not tail) or (tail == "awg"):
            if unit == "mm2":
                raise CellError("it is in AWG, and its column in mm2")
            return f"{figure} AWG"
        if tail in _GAUGE_WORDS and (unit != "mm2" or "/" in gauge[1] or tail or text.startswith("#")):
            if unit is None:
                raise NoUnitError("it says neither AWG nor mm2, and neither does its heading")
            if unit == "AWG":
                return f"{figure} AWG"
            raise CellError("it is a gauge, and its column is in mm2")
    found = _NUMBER_FIRST.match(text)
    if found is None:
        raise CellError("it is no conductor size")
    head, tail = found[1], found[2].strip()
    own = unit_of(SIZE, tail) if tail else unit
    if own is None:
        if not tail:
            raise NoUnitError("it says neither AWG nor mm2, and neither does its heading")
        raise CellError("it is no conductor size alone, such as '12 AWG' or '6 mm2'")
    if unit is not None and own != unit:
        raise CellError(f"it is in {own}, and its column in {unit}")
    return f"{number(head, commas=commas)} {own}"


def _a(title: str) -> str:
    return f"{'an' if title[0] in 'aeiou' else 'a'} {title}"
