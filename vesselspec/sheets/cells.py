"""One field in one cell: written for people, and read back; each follows the field's own declaration."""

from __future__ import annotations

import datetime
import json
import re
import unicodedata
from collections.abc import Hashable, Mapping
from functools import cache
from typing import Any, cast

from vesselspec.model.forms import (
    ConductorSize,
    Count,
    Day,
    Either,
    Flag,
    Form,
    ListOf,
    MapOf,
    Nested,
    Pole,
    Quantity,
    Ratio,
    Text,
    Word,
)
from vesselspec.record.yaml import YamlError, load, resolve
from vesselspec.sheets.amounts import CellError, number, quantity, size
from vesselspec.sheets.table import Broken, Value, digits, shown
from vesselspec.units import DIMENSIONS

#: What people write where they do not know.
_UNKNOWN = frozenset(
    ("", "?", "??", "???", "-", "--", "–", "—", "n/a", "na", "n.a.", "tbd", "tba", "tbc", "unknown", "not known")
)
_YES, _NO = frozenset(("yes", "y", "true", "x", "✓", "✔")), frozenset(("no", "n", "false"))
#: Text that needs no quotes inside brackets.
_BARE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._/+²%-]*( [A-Za-z0-9._/+²%-]+)*\Z")
_POLES = {"+": "DC+", "-": "DC-", "−": "DC-"}


def is_unknown(value: Value) -> bool:
    """Whether a cell says nothing, or that nobody knows."""
    return value is None or (isinstance(value, str) and value.strip().casefold() in _UNKNOWN)


def write(form: Form, raw: Any) -> str | int | float:
    """The cell of a field as the record writes it: quantities with their unit, lists with commas."""
    if raw is None:
        return ""
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    if isinstance(raw, int | float | str):
        return raw
    if isinstance(raw, list | tuple) and all(isinstance(each, str) for each in raw):
        return ", ".join(raw)
    return spoken(raw)


def spoken(raw: Any) -> str:
    """A mapping or list as the record writes it, without its outermost brackets: `black: L1, white: N`."""
    return _flow(raw)[1:-1]


def read(form: Form, value: Value, unit: str | None = None, *, commas: bool = False) -> Any:
    """A cell's value as the record writes it; None where it is unknown. `unit` is that of its column.

    Raises CellError, and NoUnitError for a bare number where the column has no unit.
    """
    if isinstance(value, Broken):
        raise CellError(value.reason)
    if is_unknown(value):
        return None
    raw = _read(form, value, unit, commas=commas)
    if not _validator(cast(Hashable, form)).is_valid(raw):
        raise CellError(_expected(form))
    try:
        form.build(raw)
    except ValueError as error:
        raise CellError(str(error)) from None
    return raw


def _read(form: Form, value: Value, unit: str | None, *, commas: bool) -> Any:
    if isinstance(value, datetime.date):
        if not isinstance(form, Day):
            raise CellError("the spreadsheet holds a date there; it may have made one of something else")
        return value.isoformat()[:10]
    match form:
        case Flag():
            return _flag(value)
        case Quantity(dimension):
            return quantity(dimension, _amount(value), unit, commas=commas)
        case ConductorSize():
            return size(_amount(value), unit, commas=commas)
        case Count():
            found = float(_bare(value, commas=commas))
            return int(found) if found.is_integer() else found
        case Ratio():
            text = shown(value).strip()
            if text.endswith("%"):
                return float(digits(float(_bare(text[:-1], commas=commas)) / 100))
            found = float(_bare(value, commas=commas))
            return int(found) if found.is_integer() else found
        case Word(choices):
            said = _plain(shown(value))
            return next((each for each in choices if _plain(each) == said), shown(value))
        case Pole():
            return _pole(shown(value))
        case ListOf(of):
            return _list(of, value)
        case Either(by_type):
            written = shown(value)
            inner = next(each for kind, each in by_type if (kind is dict) == (":" in written))
            return _read(inner, value, unit, commas=commas)
        case MapOf() | Nested():
            return _written(f"{{{shown(value)}}}")
        case Text():
            return shown(value).strip()
        case _:
            return shown(value).strip()


def _flow(raw: Any) -> str:
    if isinstance(raw, Mapping):
        return "{" + ", ".join(f"{_flow(key)}: {_flow(value)}" for key, value in raw.items()) + "}"
    if isinstance(raw, list | tuple):
        return "[" + ", ".join(map(_flow, raw)) + "]"
    if isinstance(raw, str) and _BARE.match(raw) and resolve(raw) == raw:
        return raw
    return json.dumps(raw, ensure_ascii=False)  # JSON is YAML


def _amount(value: Value) -> str | float:
    if isinstance(value, bool):
        raise CellError("it is yes or no, where an amount was expected")
    return value if isinstance(value, int | float) else shown(value)


def _bare(value: Value, *, commas: bool) -> str:
    if isinstance(value, bool):
        raise CellError("it is yes or no, where a number was expected")
    return digits(value) if isinstance(value, int | float) else number(shown(value), commas=commas)


def _flag(value: Value) -> bool:
    if isinstance(value, bool):
        return value
    said = shown(value).strip().casefold()
    if said in _YES:
        return True
    if said in _NO:
        return False
    raise CellError("expected yes or no")


def _pole(text: str) -> str:
    said = text.strip().upper().replace(" ", "").replace("−", "-")
    return _POLES.get(said, said)


def _list(of: Form, value: Value) -> list[Any]:
    text = shown(value).strip()
    if isinstance(of, Nested):
        found = _written(f"[{text}]")
        return found if isinstance(found, list) else [found]
    if isinstance(of, Pole):
        for separator in "/,;&":
            text = text.replace(separator, " ")
        return [_pole(each) for each in text.split()]
    parts = [each.strip() for each in text.replace(";", ",").replace("\n", ",").split(",")]
    return [_read(of, each, None, commas=False) for each in parts if each]


def _written(text: str) -> Any:
    """What a cell says that is written as in the record."""
    try:
        return load(text.encode("utf-8", "replace"))
    except YamlError as error:
        raise CellError(f"it is not written as in the record: {error.found}") from None


def _plain(text: str) -> str:
    """A word without capitals and with a hyphen for every blank."""
    return "-".join(unicodedata.normalize("NFKC", text).casefold().replace("_", " ").split()).replace("--", "-")


def _expected(form: Form) -> str:
    match form:
        case Word(choices):
            return f"expected one of {', '.join(choices)}"
        case ListOf(of):
            return _expected(of)
        case Either(by_type):
            return _expected(by_type[0][1])
        case Count(least, most) | Ratio(least, most):
            return f"expected a number from {least:g} to {most:g}"
        case Quantity(dimension):
            kind = DIMENSIONS[dimension]
            return f"expected {kind.title} as a plain number with its unit, such as {kind.example}"
        case Text(longest):
            return f"expected text of at most {longest} characters"
        case _:
            schema: Mapping[str, Any] = form.schema()
            said = schema.get("$comment") or ", ".join(map(str, schema.get("enum", ())))
            return f"expected {said}" if said else "it is not what the record can hold there"


@cache
def _validator(form: Any) -> Any:
    import jsonschema_rs  # noqa: PLC0415 - only what takes in a list pays for it

    return jsonschema_rs.validator_for(form.schema())
