"""`vesselspec survey`: judge one state of the record."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from vesselspec.cli.common import (
    MACHINE_FORMS,
    at_option,
    fail_on_option,
    on_option,
    one_state_only,
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
@output_option(*MACHINE_FORMS)
@fail_on_option()
@on_option()
@click.option("--brief", is_flag=True, help="One line for each finding, without reason, way and remedy.")
@click.option("--coverage", is_flag=True, help="Also print how much each rule looked at; Markdown and JSON always do.")
@click.option("--commits", metavar="BASE..HEAD", help="Judge every commit of a range: which one brings or clears what.")
@click.option("--history", is_flag=True, help="Also look back for what was changed after anybody looked at it.")
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), help="Also write survey.md and the forms for machines."
)
def command(
    vessel: Path,
    at: str | None,
    output: str,
    fail_on: str,
    on: datetime.date,
    brief: bool,
    coverage: bool,
    commits: str | None,
    history: bool,
    out: Path | None,
) -> int:
    """Judge one state of the record of VESSEL (a folder; default: here).

    Every finding says where it stands, what is wrong, how it comes about, why it matters, what to do, and
    which published source or trade practice stands behind it. What cannot be judged for want of data is listed.
    What a concession in the record accepts is told apart and does not count for the exit status.

    With --history the revisions before the state are read for entries that were changed after their evidence: it takes
    some hundredths of a second a revision, and says nothing where there is no history.

    With --commits every commit of a range is judged against its parents. It fails (exit status 1) if any commit brings
    a finding that counts, or holds a record that cannot be understood, even if the range is sound at its end.
    """
    if commits is not None:
        if at is not None:
            raise click.UsageError("--at names one state and --commits a range: give one of them.")
        if history:
            raise click.UsageError("--history is about one state and --commits about a range: give one of them.")
        one_state_only(output, "--commits")
        from vesselspec.cli.commits import survey_commits

        return survey_commits(vessel, commits, output=output, fail_on=fail_on, on=on, brief=brief, out=out)
    from vesselspec.report import json
    from vesselspec.report import survey as report
    from vesselspec.rules import Boat, concede, survey
    from vesselspec.rules.book import failed

    state = read_state(vessel, at)
    record, found, boat = state.record, None, None
    subject = report.subject_of(record.vessel, state.name)
    if record.vessel is None:
        data = report.problems_json(subject, record.problems)
        markdown = report.problems_markdown(subject, record.problems)
        text = report.problems_text(page(), subject, record.problems)
        result = status((), fail_on=fail_on, understood=False)
    else:
        past = None
        if history:
            from vesselspec.cli.past import past_of

            past = past_of(vessel, at, record.vessel, on)
        boat = Boat(record.vessel, record.places, record.names, past)
        found = concede(boat, survey(boat), on)
        data = report.survey_json(subject, found)
        markdown = report.survey_markdown(subject, found)
        text = report.survey_text(page(), subject, found, full=not brief, coverage=coverage)
        words = [finding.signal_word for finding in found.counting]
        result = status(words, fail_on=fail_on, rule_failed=any(failed(found)))
    texts = {"text": text, "markdown": markdown, "json": json.dumps(data)}
    if out is not None or output in MACHINE_FORMS:
        from vesselspec.report import machine
        from vesselspec.report.outcome import of_problems, of_survey

        if found is None or boat is None:
            outcome = of_problems(subject, record.problems, folder=state.folder, fail_on=fail_on)
        else:
            outcome = of_survey(subject, found, boat, folder=state.folder, fail_on=fail_on)
        forms = machine.texts(outcome, MACHINE_FORMS if out is not None else (output,))
        texts |= forms
        if out is not None:
            pages = {"survey.md": markdown.encode(), "survey.json": texts["json"].encode()}
            write_files(out, {**pages, **machine.files("survey", forms)})
    put(texts[output], commands=output == "annotations")
    return result
