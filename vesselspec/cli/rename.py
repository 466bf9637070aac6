"""`vesselspec rename`: an entry gets another id, everywhere at once."""

from __future__ import annotations

from pathlib import Path

import click

from vesselspec.cli.common import vessel_argument
from vesselspec.cli.editing import finish, not_edited, opened, output_option, refusals
from vesselspec.cli.writing import dry_run_option, overwrite_option
from vesselspec.revisions import RevisionError


@click.command("rename")
@click.argument("old")
@click.argument("new")
@vessel_argument()
@dry_run_option()
@overwrite_option()
@output_option()
def command(old: str, new: str, vessel: Path, dry_run: bool, overwrite_uncommitted: bool, output: str) -> int:
    """Give the entry OLD the id NEW in every file of VESSEL (a folder; default: here), and keep the old one on record.

    OLD is an id or an address: C104, ac-main/shore for a section, ac-main/shore/4 for a way (NEW is then its new
    number), spaces/galley where several entries are called galley. Whatever refers to it follows: cables' ends and
    cores, positions and demands of conditions, interlocks, concessions. OLD is kept in `formerly`, so that old
    drawings, the history and concessions lead to it. Every other byte stays. Labels, notes and comments are the
    owner's words and stand as they are; those that say OLD are listed.

    The result is read again: unless it is the same boat with one entry renamed, nothing is written.
    """
    from vesselspec.changes import compare
    from vesselspec.changes.compare import RENAMED
    from vesselspec.record.renaming import rename, renaming
    from vesselspec.report.editing import Edited

    record = opened(vessel)
    if isinstance(record, tuple):
        return not_edited("rename", *record, output)
    with refusals():
        asked = renaming(record.vessel, old, new)
        renamed = rename(record.files, asked)
    changes = compare(record.vessel, record.again(renamed.files))
    expected = [(RENAMED, asked.collection, asked.now, asked.was, ())]
    if [(each.kind, each.collection, each.id, each.before_id, each.fields) for each in changes] != expected:
        raise RevisionError(
            f"Nothing was written: with {asked.was} called {asked.now} more would change than its id.",
            "Change it by hand, and look at the change with `vesselspec review`.",
        )
    times = f"{renamed.references} reference{'' if renamed.references == 1 else 's'}"
    files = f"{len(renamed.files)} file{'' if len(renamed.files) == 1 else 's'}"
    would = "would be" if dry_run else "is"
    edited = Edited(
        "rename",
        record.vessel.about.name,
        written=False,
        said=(f"{asked.was} {would} {asked.now} now: {times} followed, {files}.",),
        left=renamed.left,
        left_title=f"These words still say {asked.was}; they were left as they are:",
    )
    return finish(
        edited,
        record.folder,
        record.files,
        renamed.files,
        dry_run=dry_run,
        overwrite_uncommitted=overwrite_uncommitted,
        output=output,
    )
