"""`vesselspec survey`: judge one state of the record."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from vesselspec.cli.common import (
    at_option,
    fail_on_option,
    on_option,
    output_option,
    page,
    put,
    read_state,
    vessel_argument,
    write_files,
)
from vesselspec.cli.status import status


@click.command("survey")
@vessel_argument()
@at_option()
@output_option()
@fail_on_option()
@on_option()
@click.option("--brief", is_flag=True, help="One line for each finding, without reason, way and remedy.")
@click.option("--coverage", is_flag=True, help="Also print how much each rule looked at; Markdown and JSON always do.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Also write survey.md and survey.json.")
def command(
    vessel: Path,
    at: str | None,
    output: str,
    fail_on: str,
    on: datetime.date,
    brief: bool,
    coverage: bool,
    out: Path | None,
) -> int:
    """Judge one state of the record of VESSEL (a folder; default: here).

    Every finding says where it stands, what is wrong, how it comes about, why it matters, what to do, and
    which published source or trade practice stands behind it. What cannot be judged for want of data is listed.
    What a concession in the record accepts is told apart and does not count for the exit status.
    """
    from vesselspec.report import json
    from vesselspec.report import survey as report
    from vesselspec.rules import Boat, concede, survey
    from vesselspec.rules.book import failed

    state = read_state(vessel, at)
    record = state.record
    subject = report.subject_of(record.vessel, state.name)
    if record.vessel is None:
        data = report.problems_json(subject, record.problems)
        markdown = report.problems_markdown(subject, record.problems)
        text = report.problems_text(page(), subject, record.problems)
        result = status((), fail_on=fail_on, understood=False)
    else:
        boat = Boat(record.vessel, record.places)
        found = concede(boat, survey(boat), on)
        data = report.survey_json(subject, found)
        markdown = report.survey_markdown(subject, found)
        text = report.survey_text(page(), subject, found, full=not brief, coverage=coverage)
        words = [finding.signal_word for finding in found.counting]
        result = status(words, fail_on=fail_on, rule_failed=any(failed(found)))
    if out is not None:
        write_files(out, {"survey.md": markdown.encode(), "survey.json": json.dumps(data).encode()})
    put({"text": text, "markdown": markdown, "json": json.dumps(data)}[output])
    return result
