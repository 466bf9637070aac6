"""What editors are told beyond the JSON Schema itself: errors in words, and descriptions as Markdown.

The words are keywords that YAML language servers read and validators ignore. What a file may hold is the same.
"""

from __future__ import annotations

from typing import Any

from vesselspec import units
from vesselspec.model.forms import Schema


def for_editors(schema: Schema) -> Schema:
    """The same schema with the words that editors show."""
    told = {key: _inside(value) for key, value in schema.items()}
    if any("x-quantity" in branch for branch in told.get("anyOf", ())):
        told = _one_of_types(told)
    if "x-quantity" in told:
        told["errorMessage"] = told["patternErrorMessage"] = f"Expected {_quantity(told)}."
    elif "pattern" in told and "$comment" in told:
        told["patternErrorMessage"] = f"Expected {told['$comment']}."
        if told.get("type") == "string":
            told["errorMessage"] = f"Expected {told['$comment']}; in quotes where it looks like a number."
    if "`" in str(told.get("description", "")):
        told["markdownDescription"] = told["description"]  # plain text would be shown with its strokes escaped
    return told


def _inside(value: Any) -> Any:
    if isinstance(value, dict):
        return for_editors(value)
    if isinstance(value, list):
        return [_inside(each) for each in value]
    return value


def _one_of_types(schema: Schema) -> Schema:
    """Alternatives of different types, written as one: keywords of one type do not touch a value of another.

    Servers tell of a wrong alternative only its type, and of a wrong type what we say.
    """
    branches = schema.pop("anyOf")
    merged: Schema = {"type": [branch["type"] for branch in branches]}
    for branch in branches:
        merged |= {key: value for key, value in branch.items() if key != "type"}
    return merged | schema


def _quantity(schema: Schema) -> str:
    kind = schema["x-quantity"]
    example = next((each for each in schema.get("examples", ()) if isinstance(each, str)), None)
    if kind == "size":
        return f"a conductor size with its unit, such as {example or '12 AWG'}"
    if kind == "system-voltage":
        return f"a system voltage with its unit, such as {example or '120/240 V'}"
    dimension = units.DIMENSIONS[kind]
    article = "an" if dimension.title[0] in "aeiou" else "a"
    return f"{article} {dimension.title} with its unit, such as {example or dimension.example}"
