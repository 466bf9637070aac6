"""From a schema violation to words that the writer of the record can act on."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from vesselspec import units
from vesselspec.model.forms import ID_SAYS, PLACE_SAYS
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
    from jsonschema import Draft202012Validator, ValidationError, validators  # noqa: PLC0415 - a sound record needs none

    def pattern(_: Any, pattern: str, instance: Any, schema: Any) -> Iterator[Any]:
        # In JSON Schema `$` is the very end of the text; in Python it may stand before a last line break too.
        if isinstance(instance, str) and not re.search(pattern.replace("$", r"\Z"), instance):
            yield ValidationError("does not match")

    extended: Any = validators
    return extended.extend(Draft202012Validator, {"pattern": pattern})(record_schema())


def explain(file: str, data: Any) -> list[Problem]:
    """Return every problem of one file's data that the record's schema refuses, in order of place.

    There is always at least one: data that was refused must never look as if it were not there.
    """
    problems: dict[Problem, None] = {}
    for error in _explainer().iter_errors(data):
        for leaf in _leaves(error):
            for problem in _problems(file, data, leaf):
                problems[problem] = None
        if len(problems) >= MOST_PROBLEMS:
            more = Problem(
                Place(file),
                f"more than {MOST_PROBLEMS} problems in this file",
                "",
                "correct those that are listed first",
            )
            return [more, *sorted(problems)]
    unknown = Problem(Place(file, 1, 1), "the file does not satisfy the schema", "", "check it with an editor")
    return sorted(problems) or [unknown]


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
    return f"`{_cut(_flow(value))}`"


def _cut(text: str) -> str:
    return text if len(text) <= 70 else text[:67] + "..."  # an id has at most 64 characters


def _flow(value: Any) -> str:
    """Write a value as YAML on one line."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_quoted(key)}: {_flow(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    return str(value).lower() if isinstance(value, bool) else str(value)


def _quoted(key: str) -> str:
    return key if not key.isdigit() else f'"{key}"'


def _spoken(path: list[str | int]) -> str:
    return "/".join(_cut(str(key)) for key in path) or "the file"


def _example(schema: Mapping[str, Any]) -> str:
    examples = schema.get("examples")
    return f"for example `{_flow(examples[0])}`" if examples else ""


def _problems(file: str, data: Any, error: Any) -> Iterator[Problem]:
    path = list(error.absolute_path)
    line, column, _ = _walk(data, path)
    of = Place(file, line, column)
    value_at = Place(file, *_value_at(data, path))
    match error.validator:
        case "additionalProperties":
            yield from _unknown_fields(file, error, path)
        case "required":
            yield from _missing_fields(of, error, path)
        case "enum":
            choices = [_flow(choice) for choice in error.validator_value]
            near = _close(error.instance, choices) if isinstance(error.instance, str) else ""
            found = f"{_spoken(path)} is {_shown(error.instance)}"
            yield Problem(value_at, found, "one of " + ", ".join(choices), near or "choose one of these")
        case "type" | "anyOf":
            yield Problem(value_at, f"{_spoken(path)} is {_shown(error.instance)}", *_typed(error))
        case "pattern":
            yield _pattern(file, value_at, path, data, error)
        case _:
            yield Problem(value_at, *_limit(path, error))


def _missing_fields(of: Place, error: Any, path: list[str | int]) -> Iterator[Problem]:
    for missing in error.validator_value:
        if missing not in error.instance:
            known = error.schema.get("properties", {}).get(missing, {})
            yield Problem(
                of,
                f"{_spoken(path)} has no `{missing}`",
                known.get("description", f"the field `{missing}`").rstrip("."),
                f"add `{missing}:` {_example(known)}".rstrip(),
            )


def _limit(path: list[str | int], error: Any) -> tuple[str, str, str]:
    """Found, expected and remedy where a value of the right type is too long, too great or not permitted."""
    value, limit, schema = error.instance, error.validator_value, error.schema
    what = {"string": "characters", "array": "entries", "object": "fields"}.get(schema.get("type", ""), "")
    found = f"{_spoken(path)} is {_shown(value)}"
    remedy = _example(schema)
    match error.validator:
        case "minimum" | "maximum":
            number = "a whole number" if schema.get("type") == "integer" else "a number"
            least, most = schema["minimum"], schema["maximum"]
            return found, f"{number} from {least} to {most}" if least < most else str(most), remedy or "correct it"
        case "minLength" | "minItems" | "minProperties" if not value:
            return f"{_spoken(path)} is empty", f"at least {limit} of its {what}", remedy or "leave it out if unknown"
        case "minLength" | "minItems" | "minProperties":
            return f"{_spoken(path)} has {len(value)} {what}", f"at least {limit}", remedy
        case "maxLength" | "maxItems" | "maxProperties":
            return f"{_spoken(path)} has {len(value)} {what}", f"at most {limit}", "shorten it, or split it"
        case "uniqueItems":
            return f"{_spoken(path)} names something twice", "each once", "delete one of the two"
        case "not":
            taken = ", ".join(limit["enum"])
            return found, f"a name other than {taken}", "choose another; this one has a meaning of its own here"
    return f"{_spoken(path)}: {_cut(error.message)}", "", remedy


def _unknown_fields(file: str, error: Any, path: list[str | int]) -> Iterator[Problem]:
    known = list(error.schema.get("properties", {}))
    for key in error.instance:
        if key not in known:
            merge = "merge keys are no YAML 1.2: write the fields out, or give cables a common `type`"
            yield Problem(
                Place(file, *error.instance.keys_at[key]),
                f"{_spoken(path)} has the unknown field `{_cut(key)}`",
                "one of " + ", ".join(known),
                merge if key == "<<" else _close(key, known) or "delete it, or put it into `note`",
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
    if error.validator_value == "string" and (bare_number or isinstance(error.instance, bool)):
        return wanted, "put it in quotes"
    return wanted, _example(schema) or f"write {wanted}"


def _dimension_example(dimension: str) -> str:
    if dimension in units.DIMENSIONS:
        return f"for example `{units.DIMENSIONS[dimension].example}`"
    return "for example `12 AWG`" if dimension == "size" else "for example `120/240 V`"


def _pattern(file: str, value_at: Place, path: list[str | int], data: Any, error: Any) -> Problem:
    schema, text = error.schema, error.instance
    says = schema.get("$comment") or schema.get("description", "").rstrip(".")
    if error.absolute_schema_path[-2] == "propertyNames":
        _, _, holder = _walk(data, path)
        found = f"{_spoken([*path, text])}: `{_cut(text)}` cannot be a key here"
        return Problem(Place(file, *holder.keys_at[text]), found, says, _help(says))
    dimension = schema.get("x-quantity")
    if dimension is not None:
        try:
            if dimension == "size":
                units.parse_size(text)
            elif dimension == "system-voltage":
                units.parse_system_voltage(text)
            else:
                units.parse(dimension, text)
        except units.UnitError as reason:
            remedy = f"write {_example(schema) or _dimension_example(dimension)}"
            return Problem(value_at, f"{_spoken(path)}: {reason}", "", remedy)
    return Problem(value_at, f"{_spoken(path)} is {_shown(text)}", says, _example(schema) or _help(says))


def _help(says: str) -> str:
    if says == PLACE_SAYS:
        return "join ids with /; no blanks"
    return "rename it, and what refers to it; `name` can hold any words" if says == ID_SAYS else "correct it"
