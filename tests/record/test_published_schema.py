"""The schema of the record: against its meta-schema, a second validator, the published file and the vocabulary."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from vesselspec.model.devices import DEVICE_KINDS, LOAD_KINDS, Device
from vesselspec.model.forms import Entries, ListOf, MapOf, Nested, build, specs
from vesselspec.model.items import About, Core, Demand, Item
from vesselspec.model.schema import record_schema, schema_text
from vesselspec.model.vessel import COLLECTIONS, class_of
from vesselspec.record.explain import explain
from vesselspec.record.yaml import load

from .mutations import TEXTS, as_yaml, plain, spoilt

SCHEMA = record_schema()
PUBLISHED = Path(__file__).parents[2] / "schema/record.schema.json"


@cache
def rust() -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(SCHEMA)


@cache
def python() -> Draft202012Validator:
    return Draft202012Validator(SCHEMA)


def subschemas(schema: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema inside a schema with its path; examples and word lists are data, not schemas."""
    if not isinstance(schema, Mapping):
        return
    yield path, dict(schema)
    for key, value in schema.items():
        if key in ("properties", "$defs"):
            for name, inner in value.items():
                yield from subschemas(inner, f"{path}/{key}/{name}")
        elif key in ("items", "additionalProperties", "propertyNames", "if", "then", "not"):
            yield from subschemas(value, f"{path}/{key}")
        elif key in ("anyOf", "allOf"):
            for number, inner in enumerate(value):
                yield from subschemas(inner, f"{path}/{key}/{number}")


ALL = dict(subschemas(SCHEMA))
PROPERTIES = {
    path: schema for path, schema in ALL.items() if re.search(r"/properties/[^/]+$", path) and "/if/" not in path
}


def classes() -> list[type]:
    """Every class of the vocabulary, those nested in fields included."""
    waiting: list[type] = [About, Core, Demand]
    for holds in COLLECTIONS.values():
        waiting += [holds] if isinstance(holds, type) else holds.values()
    found: dict[type, None] = {}
    while waiting:
        cls = waiting.pop()
        found[cls] = None
        for _, spec in specs(cls):
            form: Any = spec.form
            while isinstance(form, ListOf | MapOf):
                form = form.of
            if isinstance(form, Nested | Entries) and form.of not in found:
                waiting.append(form.of)
    return list(found)


def test_it_is_a_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    jsonschema_rs.meta.validate(SCHEMA)


def test_the_published_file_is_what_the_code_says() -> None:
    assert PUBLISHED.read_text(encoding="utf-8") == schema_text(), f"{PUBLISHED.name} is stale: run `make schema`"


def test_every_property_explains_itself() -> None:
    wordless = {path for path, s in PROPERTIES.items() if not (s.get("title") and s.get("description"))}
    assert wordless == set()
    assert {path for path, schema in PROPERTIES.items() if not schema.get("examples")} == set()
    assert len(PROPERTIES) > 500


def test_every_example_satisfies_its_own_schema() -> None:
    # One look at each different schema is enough: the fields that all entries share are the same.
    different = {str(schema): (path, schema) for path, schema in PROPERTIES.items()}
    for path, schema in different.values():
        validator = Draft202012Validator({**schema, "$defs": SCHEMA["$defs"]})
        for example in schema["examples"]:
            assert [error.message for error in validator.iter_errors(example)] == [], path


def test_every_pattern_says_in_words_what_it_accepts() -> None:
    patterns = {path: schema for path, schema in ALL.items() if "pattern" in schema}
    assert {path for path, schema in patterns.items() if not {"$comment", "x-quantity"} & set(schema)} == set()
    # `explain` reads `$` as the end of the text, as JSON Schema does: no other use of it may creep in.
    assert not any(re.search(r"\\\$|\[[^\]]*\$", schema["pattern"]) for schema in patterns.values())
    assert all(schema["pattern"].startswith(("^", "(^")) for schema in patterns.values())


@pytest.mark.parametrize("name", sorted(TEXTS))
def test_both_validators_accept_every_fixture(name: str) -> None:
    assert rust().is_valid(load(TEXTS[name]))
    assert rust().is_valid(plain(name))
    assert python().is_valid(plain(name))


@settings(max_examples=80, deadline=None)
@given(spoilt())
def test_both_validators_agree_on_spoilt_fixtures(data: dict[str, Any]) -> None:
    accepted = rust().is_valid(data)
    # Python's `$` also matches before a last line break, JSON Schema's does not; `explain` knows that.
    if not re.search(r"\\n\"", as_yaml(data).decode()):
        assert python().is_valid(data) is accepted
    if not accepted:
        assert explain("vessel.yaml", load(as_yaml(data)))


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.__name__)
def test_every_declared_field_is_in_the_schema_and_back(cls: type) -> None:
    declared = frozenset(spec.key for _, spec in specs(cls)) | ({"kind"} if issubclass(cls, Device) else frozenset())
    objects = {frozenset(schema["properties"]): schema for schema in ALL.values() if "properties" in schema}
    schema = ALL.get(f"/$defs/{cls.__name__}", objects.get(declared))
    assert schema is not None
    assert set(schema["properties"]) == declared
    assert schema["additionalProperties"] is False
    assert set(schema.get("required", ())) == {spec.key for _, spec in specs(cls) if spec.required}
    silent = {each.name for each in fields(cls)} - {name for name, _ in specs(cls)}
    assert silent <= {"id"}, "a field without a declaration cannot be written, compared or explained"


def test_the_schema_describes_nothing_that_is_not_declared() -> None:
    declared = {frozenset(spec.key for _, spec in specs(cls)) for cls in classes()}
    for path, schema in ALL.items():
        if schema.get("additionalProperties") is False and path:
            described = frozenset(schema["properties"])
            assert described in declared or described - {"kind"} in declared, path


@pytest.mark.parametrize("cls", classes(), ids=lambda cls: cls.__name__)
def test_everything_can_be_built_from_its_own_examples(cls: type) -> None:
    raw = {spec.key: spec.example for _, spec in specs(cls)}
    given_id = {"id": "x"} if issubclass(cls, Item) else {}
    whole = build(cls, raw, **given_id)
    for name, spec in specs(cls):
        alone = spec.form.build(spec.example)
        assert getattr(whole, name) == alone
        assert spec.form.show(alone)
    hash(whole)
    needed = {spec.key: spec.example for _, spec in specs(cls) if spec.required}
    assert build(cls, needed, **given_id) == build(cls, needed, **given_id)


@pytest.mark.parametrize("kind", [*DEVICE_KINDS, *LOAD_KINDS])
def test_every_kind_is_accepted_with_its_own_examples_and_has_sides(kind: str) -> None:
    collection = "devices" if kind in DEVICE_KINDS else "loads"
    cls = {**DEVICE_KINDS, **LOAD_KINDS}[kind]
    entry = {"kind": kind} | {spec.key: spec.example for _, spec in specs(cls)}
    assert python().is_valid({collection: {"x": entry}})
    assert class_of(collection, entry) is cls
    built: Device = build(cls, entry, id="x")
    names = [side.name for side in built.sides({})]
    assert len(set(names)) == len(names) > 0
    # A name of a side becomes part of an address.
    address = {"cables": {"C": {"from": f"x/{names[-1]}" if names[-1] else "x", "to": "untraced"}}}
    assert python().is_valid(address)


@pytest.mark.parametrize(
    ("entry", "accepted"),
    [
        ({"kind": "charger", "outputs": ["house", "start-1"]}, True),
        ({"kind": "charger", "outputs": ["house bank"]}, False),  # no cable could name it
        ({"kind": "charger", "outputs": ["ac"]}, False),  # its input is called that
        ({"kind": "charge-splitter", "outputs": ["in"]}, False),
        ({"kind": "selector", "inputs": ["out"]}, False),
        ({"kind": "selector", "inputs": ["off"]}, False),
        ({"kind": "selector", "inputs": ["a/b"]}, False),
    ],
)
def test_names_of_sides_can_be_addressed(entry: dict[str, Any], accepted: bool) -> None:
    assert python().is_valid({"devices": {"x": entry}}) is accepted
    assert rust().is_valid({"devices": {"x": entry}}) is accepted


QUANTITIES = sorted(
    {
        (schema["x-quantity"], schema["pattern"])
        for schema in ALL.values()
        if schema.get("x-quantity") not in (None, "size", "system-voltage")
    }
)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_every_accepted_quantity_can_be_built_and_shown(data: st.DataObject) -> None:
    by_dimension = {
        spec.form.dimension: spec.form for cls in classes() for _, spec in specs(cls) if hasattr(spec.form, "dimension")
    }
    dimension, pattern = data.draw(st.sampled_from(QUANTITIES))
    form = by_dimension[dimension]
    text = data.draw(st.from_regex(pattern, fullmatch=True))
    assert form.show(form.build(text))
