"""What a command prints of a record that cannot be understood: the same everywhere, in the form asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from vesselspec.cli.common import page, put
from vesselspec.cli.status import NOT_UNDERSTOOD
from vesselspec.record import Record


def not_understood(
    state: str,
    record: Record,
    output: str = "text",
    *,
    kind: str = "not-understood",
    data: Mapping[str, Any] | None = None,
) -> int:
    """Print the problems of a record; return the exit status.

    JSON is that of schema/not-understood.schema.json, under another `kind` where a command's own schema holds it; or
    `data`, which is what that command prints where it finds nothing.
    """
    from vesselspec.report import json
    from vesselspec.report import survey as report

    subject = report.subject_of(None, state)
    if output == "json":
        own = data or {"format": report.FORMAT, "kind": kind, "vessel": subject.vessel, "state": state}
        put(json.dumps({**own, "understood": False, "problems": list(map(report.problem_json, record.problems))}))
    elif output == "markdown":
        put(report.problems_markdown(subject, record.problems))
    else:
        put(report.problems_text(page(), subject, record.problems))
    return NOT_UNDERSTOOD
