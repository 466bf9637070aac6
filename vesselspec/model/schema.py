"""The published JSON Schema of a record file, made from the vocabulary."""

from __future__ import annotations

import json
import sys
from typing import Any

from vesselspec.model.editors import for_editors
from vesselspec.model.forms import ID_PATTERN, ID_SAYS, Schema, schema_of
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
    "days": "Days on board, as conditions that follow each other.",
    "concessions": "Findings that are accepted for a while.",
}
_EXAMPLES: Schema = {
    "spaces": {"engine-room": {"engine_space": True, "ambient": "50 degC"}},
    "systems": {"ac-120-240": {"kind": "ac-split-phase", "voltage": "120/240 V", "frequency": "60 Hz"}},
    "devices": {"shore-1": {"kind": "shore-inlet", "system": "ac-120-240", "rating": "50 A"}},
    "panels": {"ac-main": {"sections": {"shore": {"ways": {"1": {"poles": ["L1"], "rating": "20 A"}}}}}},
    "loads": {"water-heater": {"system": "ac-120-240", "poles": ["L1", "N"], "power": "1500 W"}},
    "cable_types": {"boat-12-3": {"size": "12 AWG", "cores": {"black": "L1", "white": "N", "green": "PE"}}},
    "bundles": {"port-duct": {"name": "Duct along the port side"}},
    "cables": {"C104": {"type": "boat-12-3", "from": "ac-main/shore/1", "to": "water-heater", "length": "7.5 m"}},
    "interlocks": {"source-slide": {"between": ["ac-main/shore/1", "ac-main/shore/2"]}},
    "conditions": {"alongside": {"running": ["shore-1"], "demand": {"water-heater": 1.0}}},
    "days": {"at-home": {"parts": [{"condition": "alongside", "time": "24 h"}]}},
    "concessions": {
        "C307-labels": {
            "rule": "cable-end-unlabelled",
            "items": ["C307"],
            "reason": "Behind the headliner until the refit.",
            "accepted_by": "surveyor",
            "date": "2026-03-14",
            "until": "2027-03-14",
        }
    },
}


def record_schema() -> Schema:
    """Return the JSON Schema (2020-12) of one YAML file of a record."""
    definitions: Schema = {}
    properties: Schema = {
        "vessel": {
            **schema_of(About),
            "description": "The vessel itself; in vessel.yaml only.",
            "examples": [{"record": 1, "name": "Example", "practice": "north-american"}],
        }
    }
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
            "examples": [_EXAMPLES[name]],
            "propertyNames": {"pattern": ID_PATTERN, "$comment": ID_SAYS},
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
        "title": name.removesuffix("s").replace("_", " ").capitalize(),
        "properties": {
            "kind": {
                "enum": list(holds),
                "title": "Kind",
                "description": "What it is; it decides which other fields there are."
                + (f" `{default}` if left out." if default else ""),
                "examples": list(holds)[:1],
            }
        },
        "allOf": rules,
    }
    if default is None:
        schema["required"] = ["kind"]
    return schema


def schema_text() -> str:
    """The published file's text."""
    return json.dumps(for_editors(record_schema()), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(schema_text())
