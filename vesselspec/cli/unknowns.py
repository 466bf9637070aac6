"""`vesselspec unknowns`: what nobody has recorded, as work."""

from __future__ import annotations

from pathlib import Path

import click

from vesselspec.cli.common import at_option, output_option, page, put, read_state, vessel_argument, write_files
from vesselspec.cli.status import NOT_UNDERSTOOD, OUR_BUG, SOUND


@click.command("unknowns")
@vessel_argument()
@at_option()
@output_option()
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Also write unknowns.md and unknowns.json.")
def command(vessel: Path, at: str | None, output: str, out: Path | None) -> int:
    """List what is not recorded of VESSEL (a folder; default: here), to be found out on board.

    What keeps a rule that guards life from judging comes first. Every line says what is missing, where to go for it
    and which rules wait; beneath stands how to find it out and what to beware of. Exit status 0, whatever is missing.
    """
    from vesselspec.report import json
    from vesselspec.report import survey as survey_report
    from vesselspec.report import unknowns as report
    from vesselspec.rules import Boat, survey
    from vesselspec.rules.book import failed
    from vesselspec.rules.unknowns import unknowns_of

    state = read_state(vessel, at)
    record = state.record
    subject = survey_report.subject_of(record.vessel, state.name)
    if record.vessel is None:
        problems = [survey_report.problem_json(problem) for problem in record.problems]
        data = {**report.unknowns_json(subject, ()), "understood": False, "problems": problems}
        markdown = survey_report.problems_markdown(subject, record.problems)
        text = survey_report.problems_text(page(), subject, record.problems)
        result = NOT_UNDERSTOOD
    else:
        boat = Boat(record.vessel, record.places, record.names)
        found = survey(boat)
        unknowns = unknowns_of(boat, found)
        data = report.unknowns_json(subject, unknowns)
        markdown = report.unknowns_markdown(subject, unknowns)
        text = report.unknowns_text(page(), subject, unknowns)
        result = OUR_BUG if any(failed(found)) else SOUND
    if out is not None:
        write_files(out, {"unknowns.md": markdown.encode(), "unknowns.json": json.dumps(data).encode()})
    put({"text": text, "markdown": markdown, "json": json.dumps(data)}[output])
    return result
