"""`vesselspec adopt`: take over an old boat's findings as they are, so that only new ones stand out."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import (
    day,
    fail_on_option,
    on_option,
    page,
    put,
    state_of,
    vessel_argument,
)
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import OUR_BUG, status
from vesselspec.cli.stderr import tell
from vesselspec.cli.writing import Rewrite, diff, dry_run_option, overwrite_option, write_record
from vesselspec.revisions import RevisionError, find_vessel, read_folder
from vesselspec.standards.signals import SIGNAL_WORDS

if TYPE_CHECKING:
    from vesselspec.rules import Survey

#: Where the concessions are written: a file of its own, so that nothing else in the record is touched.
FILE = "concessions.yaml"
_REASON = "Found when the record was adopted, and not mended yet"


@click.command("adopt")
@vessel_argument()
@click.option("--by", metavar="ROLE", required=True, help="Who answers for it: a role, not a person's name.")
@click.option("--until", callback=day, metavar="DATE", help="The last day on which it is accepted. Default: in a year.")
@click.option("--reason", metavar="TEXT", default=_REASON, show_default=True, help="Why it may stay for now.")
@on_option()
@fail_on_option()
@dry_run_option()
@overwrite_option()
def command(
    vessel: Path,
    by: str,
    until: datetime.date | None,
    reason: str,
    on: datetime.date,
    fail_on: str,
    dry_run: bool,
    overwrite_uncommitted: bool,
) -> int:
    """Accept today's findings of VESSEL (a folder; default: here) for a while, so that only new ones fail a change.

    A concession is written for every finding at or above --fail-on, into concessions.yaml beside vessel.yaml. What
    stands in that file already keeps every byte. What guards life is never accepted: it is listed, and the exit
    status is 1 as long as any of it is open. Run again, it adds only what no concession names yet.
    """
    from vesselspec.record import read
    from vesselspec.record.edit import EditError, insert
    from vesselspec.report.terminal import no_commands
    from vesselspec.rules import Boat, concede, survey
    from vesselspec.rules.adopting import adoptable, concessions_for
    from vesselspec.rules.book import failed
    from vesselspec.rules.concessions import named

    until = _until(on, until)
    by, reason = by.strip(), reason.strip()
    if not by or not reason:
        raise click.UsageError("--by and --reason must say something.")
    folder = find_vessel(vessel)
    snapshot = read_folder(folder)
    record = state_of(snapshot).record
    if record.vessel is None:
        return not_understood(snapshot.name, record)
    boat = Boat(record.vessel, record.places, record.names)
    judged = survey(boat)
    if broken := next(failed(judged), None):
        tell(f"vesselspec: {broken.message}. Nothing was written.")
        return OUR_BUG
    found = concede(boat, judged, on)
    words = SIGNAL_WORDS[: SIGNAL_WORDS.index(fail_on) + 1]
    take = adoptable(found, words, named(boat, found, on))
    entries = concessions_for(take, boat.vessel.concessions, on=on, until=until, by=by, reason=reason)
    old = snapshot.files.get(FILE)
    try:
        new = insert(old or b"", "concessions", entries)
    except EditError as error:
        raise RevisionError(f"{FILE} was left as it is. {error.reason}", error.remedy) from None
    later = read({**snapshot.files, FILE: new}) if entries else record
    if later.vessel is None:
        raise RevisionError(f"Nothing was written: {later.problems[0].message}.", later.problems[0].remedy)
    left = concede(Boat(later.vessel, later.places, record.names), judged, on)
    if entries and not dry_run:
        write_record(folder, [Rewrite(FILE, old, new)], overwrite_uncommitted=overwrite_uncommitted)
    if dry_run:
        put(diff([Rewrite(FILE, old, new)]), exact=True)
    said = _told(left, len(take), words, until, by, dry_run=dry_run)
    if dry_run:
        click.echo(no_commands(said), err=True, nl=False)  # the diff stays one that can be applied
    else:
        put(said)
    return status([finding.signal_word for finding in left.counting], fail_on=fail_on)


def _until(on: datetime.date, until: datetime.date | None) -> datetime.date:
    """The last day: the one given, or the same day next year."""
    from vesselspec.rules.concessions import MOST_YEARS, years_after

    if until is None:
        return years_after(on, 1)
    if not on <= until <= years_after(on, MOST_YEARS):
        raise click.UsageError(f"--until must lie within {MOST_YEARS} years after {on}: {until} does not.")
    return until


def _told(left: Survey, taken: int, words: tuple[str, ...], until: datetime.date, by: str, *, dry_run: bool) -> str:
    """What was done and what is left open."""
    from vesselspec.report.terminal import finding_lines
    from vesselspec.rules.concessions import guards_life

    out = page()
    done = f"would be accepted in {FILE}" if dry_run else f"accepted in {FILE}"
    findings = f"{taken} finding{'' if taken == 1 else 's'}"
    out.wrapped(f"{findings} {done} until {until} by {by}." if taken else "Nothing to accept; nothing was written.")
    open_ = [finding for finding in left.counting if finding.signal_word in words]
    for title, some in (
        (
            "What guards life cannot be accepted. Mend it; until then record a mitigation:",
            [*filter(guards_life, open_)],
        ),
        ("Left open; a concession that is there does not hold for it:", [f for f in open_ if not guards_life(f)]),
    ):
        if some:
            out.line()
            out.wrapped(title)
            for finding in some:
                finding_lines(out, finding, full=False)
    return out.text()
