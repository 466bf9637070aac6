"""`vesselspec faults`: what a fault draws at every place, and whether what should stop it can."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

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
)
from vesselspec.cli.status import status

if TYPE_CHECKING:
    from vesselspec.rules import Boat


@click.command("faults")
@vessel_argument()
@at_option()
@output_option()
@fail_on_option()
@on_option()
@click.option("--condition", "wanted", metavar="NAME", help="Only this operating condition. Default: all.")
@click.option("--place", metavar="PLACE", help="Only this panel, section, device or load, and what is in it.")
def command(
    vessel: Path,
    at: str | None,
    output: str,
    fail_on: str,
    on: datetime.date,
    wanted: str | None,
    place: str | None,
) -> int:
    """Work out fault levels and hold every protective device of VESSEL (a folder; default: here) to them.

    For every operating condition: the largest and the smallest fault between poles and to earth, and who feeds it;
    whether each device can break it, how soon it opens by published bounds, whether the conductor stands it, and
    which device opens first. What cannot be told for want of data is said.
    """
    from vesselspec.report import json
    from vesselspec.report import survey as survey_report
    from vesselspec.rules import Boat, Survey, concede, survey
    from vesselspec.rules.book import failed
    from vesselspec.rules.faults import FAULT_RULES

    state = read_state(vessel, at)
    record = state.record
    subject = survey_report.subject_of(record.vessel, state.name)
    if record.vessel is None:
        data = {
            **survey_report.problems_json(subject, record.problems),
            "kind": "faults",
            "notes": [],
            "conditions": [],
        }
        del data["coverage"]  # that is of all rules
        markdown = survey_report.problems_markdown(subject, record.problems)
        text = survey_report.problems_text(page(), subject, record.problems)
        put({"text": text, "markdown": markdown, "json": json.dumps(data)}[output])
        return status((), fail_on=fail_on, understood=False)

    from vesselspec.report import faults as report
    from vesselspec.report.fault_rows import gather
    from vesselspec.report.faults_json import faults_json

    boat = Boat(record.vessel, record.places)
    _check(boat, wanted, place)
    checks = [each for each in boat.fault_checks if wanted in (None, each.levels.condition)]
    rows = gather(boat, checks, place, whole=output == "json")
    every = concede(boat, survey(boat), on)
    mine = tuple(finding for finding in every.findings if finding.rule in FAULT_RULES)
    broken = any(failed(every))
    found = Survey(mine, tuple(each for each in every.cannot_judge if each.rule in FAULT_RULES), on=every.on)
    if output == "json":
        put(json.dumps(faults_json(subject, boat, rows, found)))
    elif output == "markdown":
        put(report.faults_markdown(subject, boat, rows, found))
    else:
        put(report.faults_text(page(), subject, boat, rows, found))
    return status([finding.signal_word for finding in found.counting], fail_on=fail_on, rule_failed=broken)


def _check(boat: Boat, wanted: str | None, place: str | None) -> None:
    """Refuse a name that the record does not have."""
    import difflib

    from vesselspec.report.terminal import one_line

    for option, word, known in (
        ("--condition", wanted, tuple(boat.vessel.conditions)),
        ("--place", place, tuple({part for each in boat.network.places for part in _parts(each)})),
    ):
        if word is not None and word not in known:
            near = difflib.get_close_matches(word, known, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise click.BadParameter(f"the record has no {one_line(word)}{hint}", param_hint=option)


def _parts(place: str) -> list[str]:
    """A place and all that it is in."""
    parts = place.split("/")
    return ["/".join(parts[:depth]) for depth in range(1, len(parts) + 1)]
