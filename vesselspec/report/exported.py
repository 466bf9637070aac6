"""What `export` has written: a line a file, or JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from vesselspec.report.survey import FORMAT, Subject
from vesselspec.sheets.table import Table


def exported_json(subject: Subject, files: Mapping[str, Sequence[Table]]) -> dict[str, Any]:
    """For machines: schema/export.schema.json. `files` are paths with the tables in each."""
    return {
        "format": FORMAT,
        "kind": "export",
        "vessel": subject.vessel,
        "state": subject.state,
        "understood": True,
        "files": [
            {"file": path, "tables": [{"name": each.name, "rows": len(each.rows)} for each in tables]}
            for path, tables in files.items()
        ],
        "problems": [],
    }
