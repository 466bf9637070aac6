"""Every class of the record with two different values for each of its fields, out of the declarations themselves."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from vesselspec import units
from vesselspec.model.devices import DEVICE_KINDS, LOAD_KINDS
from vesselspec.model.forms import (
    ConductorSize,
    Count,
    Day,
    Either,
    Entries,
    File,
    Fingerprint,
    Flag,
    Landing,
    ListOf,
    MapOf,
    Name,
    Nested,
    Pairs,
    PlaceReference,
    Pole,
    Position,
    Quantity,
    Ratio,
    Reference,
    SectionReference,
    Spec,
    TerminalReference,
    Text,
    Voltage,
    Word,
    specs,
)
from vesselspec.model.items import UNTRACED, About, Cable, Core, CoreForm, Demand, DemandForm, Item, Panel, Section, Way
from vesselspec.model.vessel import COLLECTIONS, Vessel


def values(form: Any) -> tuple[Any, Any]:
    """Two different typed values that a field of this form can have."""
    match form:
        case Text():
            return "first words", "other words"
        case Word():
            return form.choices[0], form.choices[1]
        case Flag():
            return True, False
        case Count():
            return form.least, form.least + 1
        case Ratio():
            return form.most, form.least
        case Quantity():
            unit = next(iter(units.DIMENSIONS[form.dimension].units))
            return units.parse(form.dimension, f"7 {unit}"), 0.0
        case ConductorSize():
            return units.parse_size("12 AWG"), units.parse_size("6 mm2")
        case Voltage():
            return units.parse_system_voltage("12 V"), units.parse_system_voltage("120/240 V")
        case Name() | Reference() | SectionReference() | Position():
            return "alpha", "beta"
        case PlaceReference():
            return "alpha/one", "beta"
        case TerminalReference() | Landing():
            return "alpha:L1", "beta/one:N"
        case Fingerprint():
            return "0123456789abcdef", "fedcba9876543210"
        case Day():
            return datetime.date(2026, 3, 14), datetime.date(2026, 3, 15)
        case Pole():
            return "L1", "N"
        case File():
            return "photos/one.jpg", "photos/two.jpg"
        case ListOf():
            one, two = values(form.of)
            return (one,), (two,)
        case MapOf():
            one, two = values(form.of)
            key = "L1-N" if form.key_pattern.startswith("^(L[123]") else "black"
            return Pairs(((key, one),)), Pairs(((key, two),))
        case Either():
            return values(form.by_type[0][1])[0], values(form.by_type[1][1])[0]
        case CoreForm():
            return Core(from_="L1", to="L1"), Core(from_="alpha/one:L1", to="free", colour="red")
        case DemandForm():
            return Demand(factor=1.0), Demand(factor=0.5, hours_s=3600.0)
        case Nested():
            return minimal(form.of), replace(minimal(form.of), **dict([nested_fields(form.of)[-1]]))
        case _:
            raise NotImplementedError(form)


def nested_fields(cls: type) -> list[tuple[str, Any]]:
    """(attribute, a value that it does not have by itself) of each field."""
    plain = minimal(cls)
    return [
        (name, next(value for value in values(spec.form) if value != getattr(plain, name))) for name, spec in specs(cls)
    ]


def minimal(cls: type, **given: Any) -> Any:
    """An entry that says only what it must."""
    must = {name: values(spec.form)[0] for name, spec in specs(cls) if spec.required and spec.key not in HELD}
    if cls is Panel:
        must["sections"] = (Section(id="s", ways=(Way(id="1"),)),)
    if cls is Cable:
        must |= {"from_": UNTRACED, "to": UNTRACED}
    return cls(**must | given)


HELD = ("sections", "ways")
ABOUT = About(record=1, name="Test", practice="north-american")

#: Where an entry of each class stands: collection, or sections and ways inside a panel.
CLASSES: list[tuple[str, type]] = [
    *((name, cls) for name, cls in COLLECTIONS.items() if isinstance(cls, type)),
    *(("devices", cls) for cls in DEVICE_KINDS.values()),
    *(("loads", cls) for cls in LOAD_KINDS.values()),
    ("sections", Section),
    ("ways", Way),
    ("vessel", About),
]


def holding(collection: str, item: Any) -> Vessel:
    """A vessel with this one entry."""
    if collection == "vessel":
        return Vessel(about=item)
    if collection == "ways":
        return holding("sections", Section(id="s", ways=(item,)))
    if collection == "sections":
        return holding("panels", Panel(id="p", sections=(item,)))
    return Vessel(about=ABOUT, **{collection: MappingProxyType({item.id: item})})


def address(collection: str) -> str:
    return {"sections": "p/s", "ways": "p/s/1", "vessel": "vessel"}.get(collection, "x")


def entry(collection: str, cls: type) -> Any:
    if cls is About:
        return ABOUT
    key = {"sections": "s", "ways": "1"}.get(collection, "x")
    return minimal(cls, id=key)


def fields_of(cls: type) -> Iterator[tuple[str, Spec]]:
    """Every field that can differ: the format's number cannot, and what a panel holds are entries of their own."""
    for name, spec in specs(cls):
        if not isinstance(spec.form, Entries) and (cls, name) != (About, "record"):
            yield name, spec


def entries(vessel: Vessel) -> dict[tuple[str, str], Item]:
    return {(collection, path): item for collection, path, item in vessel.items()}
