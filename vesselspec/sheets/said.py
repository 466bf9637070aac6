"""What an entry says field by field, as its list has it: for a cable, with what its type fills in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from vesselspec.model.devices import Load
from vesselspec.model.forms import Form, specs
from vesselspec.model.items import FREE, SPARE, Cable, Core, Item
from vesselspec.model.vessel import Vessel
from vesselspec.sheets.fields import COLUMNS, Column

#: Fields that a cable's type fills in where the cable does not say them.
_BY_TYPE = ("size", "insulation", "sheath")


def typed(vessel: Vessel, item: Item, column: Column) -> Any:
    """The typed value of a field, None where the record does not say; a cable with what its type says."""
    if column.key == "kind":
        return item.kind if isinstance(item, Load) else None
    head, _, inner = column.key.partition(".")
    if isinstance(item, Cable):
        if head == "labels":
            return item.label_at(inner)
        if head == "cores":
            return tuple(sorted(vessel.cores_of(item))) or None
        kind = vessel.cable_type(item)
        if head in _BY_TYPE and _field(item, head) is None and kind is not None:
            return _field(kind, head)
    value = _field(item, head)
    if inner and value is not None:
        value = _field(value, inner)
    return None if value == () else value


def written(vessel: Vessel, item: Item, raw: Mapping[str, Any], column: Column, of_type: Mapping[str, Any]) -> Any:
    """The same as the record's files write it. `raw` is the entry there, `of_type` its cable type."""
    head, _, inner = column.key.partition(".")
    if column.key in ("id", "kind"):
        return item.id if column.key == "id" else typed(vessel, item, column)
    if isinstance(item, Cable):
        if head == "labels":
            return item.label_at(inner)
        if head == "cores":
            return {name: _core(core) for name, core in vessel.cores_of(item)} or None
        if head in _BY_TYPE and head not in raw:
            return of_type.get(head)
    value = raw.get(head)
    if inner:
        value = value.get(inner) if isinstance(value, Mapping) else None
    return value


def shorter(vessel: Vessel, raw: dict[str, Any], item: Item) -> dict[str, Any]:
    """A cable's entry without what its type says already. `item` is the same cable, built."""
    kind = vessel.cable_type(item) if isinstance(item, Cable) else None
    if kind is None or not isinstance(item, Cable):
        return raw
    kept = dict(raw)
    for key in _BY_TYPE:
        if key in kept and _field(item, key) == _field(kind, key):
            del kept[key]
    if "cores" in kept:
        usual = {name: core.whole() for name, core in kind.cores}
        own = {name: raw["cores"][name] for name, core in item.cores if usual.get(name) != core.whole()}
        kept["cores"] = own
        if not own:
            del kept["cores"]
    return kept


def shown(form: Form, value: Any) -> str:
    """A typed value for people."""
    if value is None:
        return "nothing"
    if isinstance(value, tuple) and value and isinstance(value[0], tuple) and isinstance(value[0][1], Core):
        return ", ".join(f"{name} {_core(core)}" for name, core in value)
    return form.show(value)


def titles(kind: str) -> tuple[str, ...]:
    """The headings of a list as it is exported."""
    return tuple(each.title for each in COLUMNS[kind] if each.exported)


def _core(core: Core) -> Any:
    """A core as the record writes it."""
    if core.from_ == core.to and core.colour is None and core.size is None:
        return SPARE if core.from_ == FREE else core.from_
    shown = {spec.key: getattr(core, name) for name, spec in specs(Core)}
    return {key: getattr(value, "text", value) for key, value in shown.items() if value is not None}


def _field(value: Any, key: str) -> Any:
    return next((getattr(value, name) for name, spec in specs(type(value)) if spec.key == key), None)
