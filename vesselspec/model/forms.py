"""How one field is written in the record: its JSON Schema, its typed value, and the value shown again.

A form is the single declaration behind the published schema, the parser, the documentation and the
comparison of two revisions, so none of them can forget a field.
"""

from __future__ import annotations

import dataclasses
import datetime
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any, Protocol

from vesselspec import units

#: An id: starts with a letter or digit; no '/', ':' or blank, which have a meaning in addresses.
ID_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9._+-]{0,63}$"
#: A place: an id, `device/side`, `panel/section` or `panel/section/way`.
PLACE_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9._+-]{0,63}(/[A-Za-z0-9][A-Za-z0-9._+-]{0,63}){0,2}$"
#: Poles as the terminals are marked. IEC 60445 markings for AC; DC written so that no reader takes it for AC.
POLES = ("L1", "L2", "L3", "N", "PE", "DC+", "DC-")
POLE_PATTERN = r"^(L1|L2|L3|N|PE|DC\+|DC-)$"
#: A finding's identity, as the survey's JSON gives it.
FINGERPRINT_PATTERN = r"^[0-9a-f]{16}$"
MAX_TEXT = 4000

ID_SAYS = "an id: letters, digits and . _ + - after a letter or digit; at most 64 characters"
PLACE_SAYS = "an address: `id`, `device/side`, `panel/section` or `panel/section/way`"
POLE_SAYS = "a pole: L1 L2 L3 N PE DC+ DC-"
FINGERPRINT_SAYS = "a fingerprint: 16 of the digits 0-9 and a-f, in quotes"

Schema = dict[str, Any]


class Form(Protocol):
    """What every form can do.

    In a schema, `$comment` says beside a `pattern` what it accepts, in words that an error can use.
    """

    def schema(self) -> Schema:
        """Return the JSON Schema of the written value."""

    def build(self, raw: Any) -> Any:
        """Return the typed, immutable value of a written value that satisfies the schema."""

    def show(self, value: Any) -> str:
        """Return a typed value as a person would write it, for reports."""


@dataclasses.dataclass(frozen=True)
class Text:
    """Free text."""

    longest: int = MAX_TEXT

    def schema(self) -> Schema:
        return {"type": "string", "minLength": 1, "maxLength": self.longest}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Word:
    """One word out of a list."""

    choices: tuple[str, ...]

    def schema(self) -> Schema:
        return {"enum": list(self.choices)}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Flag:
    """true or false."""

    def schema(self) -> Schema:
        return {"type": "boolean"}

    def build(self, raw: Any) -> bool:
        return bool(raw)

    def show(self, value: bool) -> str:
        return "yes" if value else "no"


@dataclasses.dataclass(frozen=True)
class Count:
    """A whole number."""

    least: int = 1
    most: int = 100_000

    def schema(self) -> Schema:
        return {"type": "integer", "minimum": self.least, "maximum": self.most}

    def build(self, raw: Any) -> int:
        return int(raw)

    def show(self, value: int) -> str:
        return str(value)


@dataclasses.dataclass(frozen=True)
class Ratio:
    """A plain number between two bounds, such as a power factor."""

    least: float = 0.0
    most: float = 1.0

    def schema(self) -> Schema:
        return {"type": "number", "minimum": self.least, "maximum": self.most}

    def build(self, raw: Any) -> float:
        return float(raw)

    def show(self, value: float) -> str:
        return f"{value:g}"


@lru_cache(maxsize=8192)
def _parse(dimension: str, text: str) -> float:
    return units.parse(dimension, text)


@dataclasses.dataclass(frozen=True)
class Quantity:
    """A number with its unit; the typed value is in SI (temperatures in °C, charge in Ah)."""

    dimension: str

    def schema(self) -> Schema:
        of = units.DIMENSIONS[self.dimension]
        return {"type": "string", "pattern": of.pattern, "x-quantity": self.dimension}

    def build(self, raw: Any) -> float:
        return _parse(self.dimension, raw)

    def show(self, value: float) -> str:
        try:
            return units.show(self.dimension, value)
        except units.UnitError:  # more digits than a quantity has; a report must name it all the same
            return f"{value:g} {units.DIMENSIONS[self.dimension].si}"


@dataclasses.dataclass(frozen=True)
class ConductorSize:
    """A conductor size: AWG or mm²."""

    def schema(self) -> Schema:
        return {"type": "string", "pattern": units.SIZE_PATTERN, "x-quantity": "size"}

    def build(self, raw: Any) -> units.Size:
        return _size(raw)

    def show(self, value: units.Size) -> str:
        return value.text


@lru_cache(maxsize=256)
def _size(text: str) -> units.Size:
    return units.parse_size(text)


@dataclasses.dataclass(frozen=True)
class Voltage:
    """A system voltage such as `12 V` or `120/240 V`."""

    def schema(self) -> Schema:
        return {"type": "string", "pattern": units.SYSTEM_VOLTAGE_PATTERN, "x-quantity": "system-voltage"}

    def build(self, raw: Any) -> units.SystemVoltage:
        return units.parse_system_voltage(raw)

    def show(self, value: units.SystemVoltage) -> str:
        return value.text


@dataclasses.dataclass(frozen=True)
class Name:
    """A name that becomes part of addresses, such as an output. `taken` are those that mean something else there."""

    taken: tuple[str, ...] = ()

    def schema(self) -> Schema:
        schema: Schema = {"type": "string", "pattern": ID_PATTERN, "$comment": ID_SAYS}
        if self.taken:
            schema["not"] = {"enum": list(self.taken)}
        return schema

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Reference:
    """The id of an entry of one of the named collections."""

    collections: tuple[str, ...]

    def schema(self) -> Schema:
        return {"type": "string", "pattern": ID_PATTERN, "$comment": ID_SAYS}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class PlaceReference:
    """The address of a device, side, panel, section or way. `words` may stand in its stead.

    `entries`: what a finding names, which can be any entry; `spaces/galley` tells a space from a panel.
    """

    words: tuple[str, ...] = ()
    entries: bool = False

    def schema(self) -> Schema:
        return {"type": "string", "pattern": PLACE_PATTERN, "$comment": PLACE_SAYS}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class TerminalReference:
    """The address of one terminal: a place, a colon and a pole."""

    def schema(self) -> Schema:
        return {
            "type": "string",
            "pattern": PLACE_PATTERN[:-1] + ":" + POLE_PATTERN[1:],
            "$comment": "a terminal: `place:POLE`",
        }

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Landing:
    """Where one end of a core lands: a pole of the place at that end, a terminal, or a word of `says`."""

    pattern: str
    says: str

    def schema(self) -> Schema:
        return {"type": "string", "minLength": 1, "maxLength": 220, "pattern": self.pattern, "$comment": self.says}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class SectionReference:
    """The id of another section of the same panel."""

    def schema(self) -> Schema:
        return {"type": "string", "minLength": 1, "maxLength": 64}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Position:
    """Where the switch that is the key stands: a word, or for an interlock the address of the member that is closed."""

    def schema(self) -> Schema:
        return {"type": "string", "minLength": 1, "maxLength": 64}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Day:
    """A calendar day, year first. Written plain or quoted, it stays text in the file."""

    def schema(self) -> Schema:
        return {
            "type": "string",
            "pattern": r"^(19|20)[0-9]{2}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$",
            "$comment": "a day, year first: YYYY-MM-DD",
        }

    def build(self, raw: Any) -> datetime.date:
        return datetime.date.fromisoformat(raw)

    def show(self, value: datetime.date) -> str:
        return value.isoformat()


@dataclasses.dataclass(frozen=True)
class Fingerprint:
    """The identity of a finding."""

    def schema(self) -> Schema:
        return {"type": "string", "pattern": FINGERPRINT_PATTERN, "$comment": FINGERPRINT_SAYS}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class Pole:
    """One pole as marked on a terminal."""

    def schema(self) -> Schema:
        return {"enum": list(POLES)}

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class File:
    """The path of a file inside the vessel's folder."""

    def schema(self) -> Schema:
        # No absolute path, no drive, no step upwards, no control character.
        return {
            "type": "string",
            "maxLength": 240,
            "pattern": r"^(?!/)(?!.*(^|/)\.\.(/|$))[^\u0000-\u001f\\:]+$",
            "$comment": "a path inside the vessel's folder, with / between folders and no `..`",
        }

    def build(self, raw: Any) -> str:
        return str(raw)

    def show(self, value: str) -> str:
        return value


@dataclasses.dataclass(frozen=True)
class ListOf:
    """A list; the typed value is a tuple."""

    of: Form
    least: int = 1
    most: int = 200
    unique: bool = True

    def schema(self) -> Schema:
        return {
            "type": "array",
            "items": self.of.schema(),
            "minItems": self.least,
            "maxItems": self.most,
            "uniqueItems": self.unique,
        }

    def build(self, raw: Any) -> tuple[Any, ...]:
        return tuple(self.of.build(value) for value in raw)

    def show(self, value: tuple[Any, ...]) -> str:
        return ", ".join(self.of.show(each) for each in value)


class Pairs(tuple[tuple[str, Any], ...]):
    """An immutable, ordered mapping: hashable, so that frozen values can hold it."""

    __slots__ = ()

    def get(self, key: str) -> Any:
        """Return the value of a key, or None."""
        return next((value for name, value in self if name == key), None)


@dataclasses.dataclass(frozen=True)
class MapOf:
    """A mapping with keys of one pattern; the typed value is `Pairs`, in the order written.

    `keys` says what the keys refer to, where they do.
    """

    key_pattern: str
    key_says: str
    of: Form
    most: int = 5000
    keys: Form | None = None

    def schema(self) -> Schema:
        return {
            "type": "object",
            "propertyNames": {"pattern": self.key_pattern, "$comment": self.key_says},
            "additionalProperties": self.of.schema(),
            "maxProperties": self.most,
        }

    def build(self, raw: Any) -> Pairs:
        return Pairs((key, self.of.build(value)) for key, value in raw.items())

    def show(self, value: Pairs) -> str:
        return ", ".join(f"{key} {self.of.show(each)}" for key, each in value)


@dataclasses.dataclass(frozen=True)
class Either:
    """One of several forms, told apart by the type of what is written (text, number, list, mapping)."""

    by_type: tuple[tuple[type, Form], ...]

    def schema(self) -> Schema:
        # anyOf, told apart by type: a wrong value is explained by `explain` in the record layer.
        return {"anyOf": [form.schema() for _, form in self.by_type]}

    def build(self, raw: Any) -> Any:
        for kind, form in self.by_type:
            if isinstance(raw, kind) and not (isinstance(raw, bool) and kind is not bool):
                return form.build(raw)
        raise TypeError(f"no form for {raw!r}")

    def show(self, value: Any) -> str:
        for _, form in self.by_type:
            try:
                return form.show(value)
            except (TypeError, AttributeError, ValueError):
                continue
        return str(value)


@dataclasses.dataclass(frozen=True)
class Spec:
    """What the record's vocabulary says of one field."""

    key: str
    form: Form
    title: str
    text: str
    example: Any
    required: bool

    def schema(self) -> Schema:
        """Return the field's schema with the words an editor shows."""
        return {
            **self.form.schema(),
            "title": self.title,
            "description": self.text,
            "examples": [self.example],
        }


def declare(
    key: str, form: Form, title: str, text: str, example: Any, *, required: bool = False, default: Any = None
) -> Any:
    """Declare a dataclass field that the record writes as `key`."""
    spec = Spec(key, form, title, text, example, required)
    if required:
        return dataclasses.field(metadata={"spec": spec})
    return dataclasses.field(default=default, metadata={"spec": spec})


_SPECS: dict[type, tuple[tuple[str, Spec], ...]] = {}
_BY_KEY: dict[type, Mapping[str, tuple[str, Form]]] = {}


def specs(cls: type) -> tuple[tuple[str, Spec], ...]:
    """Return (attribute, declaration) of every field that the record can write for this class."""
    if cls not in _SPECS:
        fields = dataclasses.fields(cls)
        _SPECS[cls] = tuple((each.name, each.metadata["spec"]) for each in fields if "spec" in each.metadata)
    return _SPECS[cls]


def _by_key(cls: type) -> Mapping[str, tuple[str, Form]]:
    if cls not in _BY_KEY:
        _BY_KEY[cls] = {spec.key: (name, spec.form) for name, spec in specs(cls)}
    return _BY_KEY[cls]


def schema_of(cls: type, kind: str | None = None) -> Schema:
    """Return the JSON Schema of an entry of this class."""
    properties: Schema = {}
    required = [spec.key for _, spec in specs(cls) if spec.required]
    if kind is not None:
        properties["kind"] = {"const": kind, "title": "Kind", "description": _first_line(cls), "examples": [kind]}
    for _, spec in specs(cls):
        properties[spec.key] = spec.schema()
    schema: Schema = {
        "type": "object",
        "title": getattr(cls, "title", cls.__name__),
        "description": _first_line(cls),
        "properties": properties,
        "additionalProperties": False,
    }
    if required:
        schema["required"] = required
    return schema


def _first_line(cls: type) -> str:
    return (cls.__doc__ or "").strip().split("\n\n")[0].replace("\n", " ")


def build(cls: type, raw: Mapping[str, Any], **given: Any) -> Any:
    """Build an entry from written data that satisfies the schema."""
    keys = _by_key(cls)
    values = dict(given)
    for key, value in raw.items():
        if key == "kind" and key not in keys:
            continue  # it chose the class
        name, form = keys[key]
        values[name] = form.build(value)
    return cls(**values)


def unreal(cls: type, raw: Mapping[str, Any]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Yield the path of every written value that satisfies the schema and is not real, such as 2026-02-30, and why."""
    keys = _by_key(cls)
    for key, value in raw.items():
        if key in keys:
            yield from _unreal(keys[key][1], value, (key,))


def _unreal(form: Form, raw: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    match form:
        case Nested():
            for inner, reason in unreal(form.of, raw):
                yield (*path, *inner), reason
        case Entries():
            for key, entry in raw.items():
                for inner, reason in unreal(form.of, entry):
                    yield (*path, key, *inner), reason
        case ListOf():
            for number, each in enumerate(raw):
                yield from _unreal(form.of, each, (*path, number))
        case MapOf():
            for key, each in raw.items():
                yield from _unreal(form.of, each, (*path, key))
        case _:
            try:
                form.build(raw)
            except ValueError as error:
                yield path, str(error)


@dataclasses.dataclass(frozen=True)
class Nested:
    """A mapping with fields of its own."""

    of: type

    def schema(self) -> Schema:
        return schema_of(self.of)

    def build(self, raw: Any) -> Any:
        return build(self.of, raw)

    def show(self, value: Any) -> str:
        shown = [
            f"{spec.key} {spec.form.show(getattr(value, name))}"
            for name, spec in specs(self.of)
            if getattr(value, name) not in (None, ())
        ]
        return ", ".join(shown)


@dataclasses.dataclass(frozen=True)
class Entries:
    """A mapping from ids to entries of one class; typed, a tuple of entries that know their id."""

    of: type
    most: int = 400

    def schema(self) -> Schema:
        return {
            "type": "object",
            "propertyNames": {"pattern": ID_PATTERN, "$comment": ID_SAYS},
            "additionalProperties": schema_of(self.of),
            "maxProperties": self.most,
        }

    def build(self, raw: Any) -> tuple[Any, ...]:
        return tuple(build(self.of, entry, id=key) for key, entry in raw.items())

    def show(self, value: tuple[Any, ...]) -> str:
        return ", ".join(entry.id for entry in value)


def matches(pattern: str, text: str) -> bool:
    """Tell whether a whole text satisfies one of the patterns above."""
    return re.search(pattern, text) is not None
