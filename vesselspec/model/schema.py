"""The published JSON Schema of a record file, made from the vocabulary."""

from __future__ import annotations

from typing import Any

from vesselspec.model.forms import ID_PATTERN, Schema, schema_of
from vesselspec.model.items import About
from vesselspec.model.vessel import COLLECTIONS, DEFAULT_KIND

SCHEMA_ID = "urn:vesselspec:schema:record:1"

_SAYS = {
    "spaces": "Compartments with their temperature and hazards.",
    "systems": "Voltage systems.",
    "devices": "Sources, converters, switches, protective devices outside panels, busbars, earth points.",
    "panels": "Panels with their sections and ways.",
    "loads": "What uses electricity.",
    "cable_types": "Make-ups that many cables share.",
    "bundles": "Bundles, ducts and conduits.",
    "cables": "Cables, core by core where it matters.",
    "interlocks": "Mechanisms that let only one of several breakers be closed.",
    "conditions": "Operating conditions.",
}


def record_schema() -> Schema:
    """Return the JSON Schema (2020-12) of one YAML file of a record."""
    definitions: Schema = {}
    properties: Schema = {"vessel": {**schema_of(About), "description": "The vessel itself; in vessel.yaml only."}}
    for name, holds in COLLECTIONS.items():
        if isinstance(holds, type):
            definitions[holds.__name__] = schema_of(holds)
            entry: Schema = {"$ref": f"#/$defs/{holds.__name__}"}
        else:
            entry = _discriminated(name, holds, definitions)
        properties[name] = {
            "type": "object",
            "title": name.replace("_", " ").capitalize(),
            "description": _SAYS[name] + " Each by its id.",
            "propertyNames": {"pattern": ID_PATTERN},
            "additionalProperties": entry,
        }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        "title": "Vessel electrical record",
        "description": "One YAML file of the record of a vessel's AC and DC electrical system.",
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
        "$defs": definitions,
    }


def _discriminated(name: str, holds: Any, definitions: Schema) -> Schema:
    """Choose by `kind` with if/then, so that an error names the field and not a branch of oneOf."""
    default = DEFAULT_KIND.get(name)
    rules = []
    for kind, cls in holds.items():
        definitions[cls.__name__] = schema_of(cls, kind)
        condition: Schema = {"properties": {"kind": {"const": kind}}}
        if kind != default:
            condition["required"] = ["kind"]
        rules.append({"if": condition, "then": {"$ref": f"#/$defs/{cls.__name__}"}})
    schema: Schema = {
        "type": "object",
        "properties": {
            "kind": {
                "enum": list(holds),
                "title": "Kind",
                "description": "What it is; it decides which other fields there are."
                + (f" `{default}` if left out." if default else ""),
            }
        },
        "allOf": rules,
    }
    if default is None:
        schema["required"] = ["kind"]
    return schema
