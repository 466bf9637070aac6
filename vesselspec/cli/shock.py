"""`vesselspec shock`: where one further failure leaves metal live with nothing to switch it off."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import at_option, output_option, page, put, read_state
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import FINDINGS, OUR_BUG, SOUND
from vesselspec.revisions import RevisionError

if TYPE_CHECKING:
    from vesselspec.isolation import Target
    from vesselspec.physics.faults.shock_entries import Entry
    from vesselspec.physics.faults.shock_outcome import Outcome
    from vesselspec.rules import Boat, Finding


@click.command("shock")
@click.argument("place", required=False)
@click.argument("vessel", type=click.Path(path_type=Path), required=False)
@at_option()
@output_option()
@click.option("--condition", "wanted", metavar="NAME", help="Only this operating condition. Default: all.")
def command(place: str | None, vessel: Path | None, at: str | None, output: str, wanted: str | None) -> int:
    """Look for a fault on top of a fault at PLACE (a panel, way, device, load, cable, space; default: the whole boat).

    Two things must go wrong before somebody dies of a touch. Taken is the record of VESSEL (a folder; default: here)
    as it is, with every deficiency that is there already, and one further failure: a line on a case, a reversed outlet
    ashore, a lost neutral, a contact that sticks. Told is what is live then, at how many volts, what that does to a
    person, and what ends it. A single argument that is a folder is VESSEL.

    Exit status 1: a present deficiency and one further failure leave a case live with nothing to clear it in time.
    """
    if vessel is None:
        alone = place is not None and Path(place).is_dir()
        vessel, place = (Path(str(place)), None) if alone else (Path(), place)
    from vesselspec.report import json
    from vesselspec.report.survey import subject_of

    state = read_state(vessel, at)
    record = state.record
    subject = subject_of(record.vessel, state.name)
    if record.vessel is None:
        return not_understood(state.name, record, output, kind="shock")

    from vesselspec.isolation import Target, find_target
    from vesselspec.physics.faults.shock import ShockStudy
    from vesselspec.physics.faults.shock_entries import entries
    from vesselspec.physics.faults.shock_silent import silent
    from vesselspec.report import shock as report
    from vesselspec.report.shock_words import Report
    from vesselspec.report.terminal import one_line
    from vesselspec.rules import Boat

    boat = Boat(record.vessel, record.places)
    target = None if place is None else find_target(boat, place)
    if target is not None and not isinstance(target, Target):
        wrong = "Name a panel, section, way, device, load, cable or space."
        raise RevisionError(
            f"There is no {one_line(target.said)} in this record.",
            f"Did you mean {target.near}?" if target.near else wrong,
        )
    if wanted is not None and wanted not in record.vessel.conditions:
        raise click.BadParameter(f"the record has no {one_line(wanted)}", param_hint="--condition")
    studies = [ShockStudy(each) for each in boat.fault_checks if wanted in (None, each.levels.condition)]
    outcomes = [each for study in studies for each in study.outcomes() if _concerns(target, each)]
    found = entries(outcomes)
    hangs = tuple(each for study in studies for each in silent(study) if _named(target, (each.item, *each.places)))
    related, failed = _related(boat, found)
    whole = Report(subject, record.vessel, place, found, hangs, related)
    texts = {
        "text": lambda: report.shock_text(page(), whole),
        "markdown": lambda: report.shock_markdown(whole),
        "json": lambda: json.dumps(report.shock_json(whole)),
    }
    put(texts[output]())
    if failed:
        return OUR_BUG
    return FINDINGS if whole.counting else SOUND


def _concerns(target: Target | None, outcome: Outcome) -> bool:
    """Whether an outcome is about a place: it fails, becomes live, or is what should end it."""
    failure = outcome.failure
    return _named(target, (failure.item, failure.detail, outcome.device, *outcome.places, *outcome.live_off))


def _named(target: Target | None, words: tuple[str, ...]) -> bool:
    if target is None:
        return True
    exact = target.kind in ("way", "section")
    heads = {target.place} if exact else {target.place, *target.enclosures}
    return any(word == head or word.startswith((f"{head}/", f"{head}:")) for word in words for head in heads)


#: Rules whose findings tell why a case has no earth, or a device does not open in time.
_RULES = ("earth-core-missing", "line-on-earth", "line-on-neutral", "neutral-on-other-section", "device-opens-too-late")


def _related(boat: Boat, found: tuple[Entry, ...]) -> tuple[dict[Entry, tuple[Finding, ...]], bool]:
    """The findings of the survey about what an entry rests on; and whether a rule crashed."""
    from vesselspec.rules import survey
    from vesselspec.rules.book import failed

    counting = [entry for entry in found if entry.counts]
    if not counting:
        return {}, False
    result = survey(boat, only=_RULES)
    related = {}
    for entry in counting:
        about = {*entry.failing, *entry.places[:1], *(each.device for each in entry.outcomes)}
        about |= {item for each in entry.outcomes for item in each.culprits}
        related[entry] = tuple(finding for finding in result.findings if about & set(finding.items))
    return related, any(failed(result))
