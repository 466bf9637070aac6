"""From a schema violation to words that the writer of the record can act on."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from vesselspec import units
from vesselspec.model.forms import ID_PATTERN, PLACE_PATTERN
from vesselspec.model.schema import record_schema
from vesselspec.record.places import Place
from vesselspec.record.problems import Problem
from vesselspec.record.yaml import Map, Seq

#: More than this in one file is one mistake many times over.
MOST_PROBLEMS = 200

_TYPE_WORDS = {
    "object": "a mapping (`field: value` lines)",
    "array": "a list",
    "string": "text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
}


@cache
def _explainer() -> Any:
    from jsonschema import Draft202012Validator  # noqa: PLC0415 - 60 ms that a sound record need not pay

    return Draft202012Validator(record_schema())


def explain(file: str, data: Any) -> list[Problem]:
    """Return every problem of one file's data against the record's schema, in order of place."""
    problems: dict[Problem, None] = {}
    for error in _explainer().iter_errors(data):
        for leaf in _leaves(error):
            for problem in _problems(file, data, leaf):
                problems[problem] = None
        if len(problems) >= MOST_PROBLEMS:
            break
    return sorted(problems)


def _leaves(error: Any) -> Iterator[Any]:
    """Follow `anyOf` into the branch that fits the type of what was written."""
    if error.validator != "anyOf":
        yield error
        return
    branches: dict[int, list[Any]] = {}
    for inner in error.context:
        branches.setdefault(inner.schema_path[0], []).append(inner)
    fitting = [b for b in branches.values() if not any(e.validator == "type" and not e.path for e in b)]
    for inner in fitting[0] if fitting else [error]:
        if inner is error:
            yield error
        else:
            yield from _leaves(inner)


def _walk(data: Any, path: list[str | int]) -> tuple[int, int, Any]:
    """Return the position of the key that a path ends at, and its value."""
    line, column, node = 1, 1, data
    for key in path:
        if isinstance(node, Map) and isinstance(key, str):
            line, column = node.keys_at[key]
        elif isinstance(node, Seq) and isinstance(key, int):
            line, column = node.at[key]
        node = node[key]
    return line, column, node


def _value_at(data: Any, path: list[str | int]) -> tuple[int, int]:
    """Return the position of the value that a path ends at."""
    if not path:
        return 1, 1
    *front, last = path
    _, _, parent = _walk(data, front)
    if isinstance(parent, Map) and isinstance(last, str):
        return parent.values_at[last]
    line, column, _ = _walk(data, path)
    return line, column


def _close(word: str, choices: Iterator[str] | list[str]) -> str:
    near = difflib.get_close_matches(word, list(choices), n=1, cutoff=0.6)
    return f"did you mean `{near[0]}`?" if near else ""


def _shown(value: Any) -> str:
    if isinstance(value, Mapping):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    text = str(value)
    return f"`{text if len(text) <= 60 else text[:57] + '...'}`"


def _spoken(path: list[str | int]) -> str:
    return "/".join(str(key) for key in path) or "the file"


def _example(schema: Mapping[str, Any]) -> str:
    examples = schema.get("examples") or ()
    return f"for example `{examples[0]}`" if examples and isinstance(examples[0], str | int | float) else ""


def _problems(file: str, data: Any, error: Any) -> Iterator[Problem]:
    path = list(error.absolute_path)
    line, column, _ = _walk(data, path)
    of = Place(file, line, column)
    value_at = Place(file, *_value_at(data, path))
    match error.validator:
        case "additionalProperties":
            yield from _unknown_fields(file, error, path)
        case "required":
            missing = next((key for key in error.validator_value if key not in error.instance), "?")
            known = error.schema.get("properties", {}).get(missing, {})
            yield Problem(
                of,
                f"{_spoken(path)} has no `{missing}`",
                known.get("description", f"the field `{missing}`").rstrip("."),
                f"add `{missing}:` {_example(known)}".rstrip(),
            )
        case "enum" | "const":
            choices = [str(c) for c in error.validator_value] if error.validator == "enum" else []
            near = _close(str(error.instance), choices)
            yield Problem(
                value_at,
                f"{_spoken(path)} is {_shown(error.instance)}",
                "one of " + ", ".join(choices) if choices else f"`{error.validator_value}`",
                near or "choose one of these",
            )
        case "type" | "anyOf":
            yield Problem(value_at, f"{_spoken(path)} is {_shown(error.instance)}", *_typed(error))
        case "pattern":
            yield _pattern(of, value_at, path, error)
        case "propertyNames":
            yield Problem(of, f"{_spoken(path)}: {_shown(error.instance)} as a key", "an id", _id_help())
        case _:
            yield Problem(value_at, f"{_spoken(path)}: {error.message[:200]}", "", _example(error.schema))


def _unknown_fields(file: str, error: Any, path: list[str | int]) -> Iterator[Problem]:
    known = list(error.schema.get("properties", {}))
    for key in error.instance:
        if key not in known:
            yield Problem(
                Place(file, *error.instance.keys_at[key]),
                f"{_spoken(path)} has the unknown field `{key}`",
                "one of " + ", ".join(known),
                _close(key, known) or "delete it, or put it into `note`",
            )


def _typed(error: Any) -> tuple[str, str]:
    schema = error.schema
    dimension = schema.get("x-quantity")
    if error.validator == "anyOf":
        dimension = next((s["x-quantity"] for s in schema["anyOf"] if "x-quantity" in s), None)
    bare_number = isinstance(error.instance, int | float) and not isinstance(error.instance, bool)
    if dimension and bare_number:
        example = _example(schema) or _dimension_example(dimension)
        return "a number with its unit", f"write the unit, {example}"
    if error.validator == "anyOf":
        kinds = dict.fromkeys(_TYPE_WORDS.get(branch.get("type", ""), "another form") for branch in schema["anyOf"])
        return " or ".join(kinds), _example(schema) or "see the field's description in the schema"
    wanted = _TYPE_WORDS.get(error.validator_value, str(error.validator_value))
    if error.validator_value == "string" and bare_number:
        return wanted, f"put it in quotes: '{error.instance}'"
    return wanted, _example(schema) or f"write {wanted}"


def _dimension_example(dimension: str) -> str:
    if dimension in units.DIMENSIONS:
        return f"for example `{units.DIMENSIONS[dimension].example}`"
    return "for example `12 AWG`" if dimension == "size" else "for example `120/240 V`"


def _pattern(of: Place, value_at: Place, path: list[str | int], error: Any) -> Problem:
    dimension = error.schema.get("x-quantity")
    text = error.instance
    if dimension is not None:
        try:
            if dimension == "size":
                units.parse_size(text)
            elif dimension == "system-voltage":
                units.parse_system_voltage(text)
            else:
                units.parse(dimension, text)
        except units.UnitError as reason:
            return Problem(
                value_at,
                f"{_spoken(path)}: {reason}",
                "",
                f"write {_example(error.schema) or _dimension_example(dimension)}",
            )
    pattern = error.validator_value
    if pattern == ID_PATTERN and _is_key(path, text, error):
        return Problem(of, f"{_spoken([*path, text])}: `{text}` is not an id", "an id", _id_help())
    if pattern in (ID_PATTERN, PLACE_PATTERN):
        what = "an id" if pattern == ID_PATTERN else "an address: `id`, `device/side` or `panel/section/way`"
        return Problem(value_at, f"{_spoken(path)} is {_shown(text)}", what, _id_help())
    poles = "a pole, a terminal `place:POLE`, `untraced`, `free` or `spare`"
    return Problem(
        value_at,
        f"{_spoken(path)} is {_shown(text)}",
        error.schema.get("description", poles).rstrip("."),
        _example(error.schema) or "a pole (L1 L2 L3 N PE DC+ DC-), a terminal `place:POLE`, `untraced` or `free`",
    )


def _is_key(path: list[str | int], text: str, error: Any) -> bool:
    return "propertyNames" in error.absolute_schema_path and text not in path


def _id_help() -> str:
    return "letters, digits, and . _ + - ; start with a letter or digit; at most 64 characters"
