"""What the commands that edit a record share: it is read, edited, read again, written and told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import Decorator, page, put, state_of
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import SOUND
from vesselspec.cli.writing import Rewrite, diff, rewrites, write_record
from vesselspec.model.vessel import Vessel
from vesselspec.record import Record, read
from vesselspec.revisions import RevisionError, find_vessel, read_folder

if TYPE_CHECKING:
    from vesselspec.report.editing import Edited


@dataclass(frozen=True)
class Opened:
    """A record that can be understood, to be edited."""

    folder: Path
    files: Mapping[str, bytes]
    vessel: Vessel
    name: str

    def again(self, files: Mapping[str, bytes]) -> Vessel:
        """The vessel with some files changed. Raises RevisionError where that cannot be understood."""
        record = read({**self.files, **files})
        if record.vessel is None:
            from vesselspec.report.terminal import one_line

            first = record.problems[0]
            why = one_line(f"with that, {first.place}: {first.found}.")
            raise RevisionError(f"Nothing was written: {why}", one_line(first.remedy))
        return record.vessel


def opened(vessel: Path) -> Opened | tuple[str, Record]:
    """The record of a folder; where it cannot be understood, its name and what was read."""
    folder = find_vessel(vessel)
    snapshot = read_folder(folder)
    record = state_of(snapshot).record
    if record.vessel is None:
        return snapshot.name, record
    return Opened(folder, snapshot.files, record.vessel, snapshot.name)


def not_edited(command: str, name: str, record: Record, output: str) -> int:
    """Tell why a record cannot be edited; return the exit status."""
    from vesselspec.report.editing import Edited, edited_json
    from vesselspec.report.survey import subject_of

    nothing = edited_json(Edited(command, subject_of(None, name).vessel, written=False, said=()))
    return not_understood(name, record, output, data=nothing)


@contextmanager
def refusals() -> Iterator[None]:
    """An edit that cannot be made ends the command with its reason and remedy."""
    from vesselspec.record.rewrite import EditError
    from vesselspec.report.terminal import one_line

    try:
        yield
    except EditError as error:
        raise RevisionError(f"Nothing was written. {one_line(error.reason)}", one_line(error.remedy)) from None


def output_option() -> Decorator:
    """The form of what an edit tells."""
    return click.option(
        "--output",
        type=click.Choice(["text", "json"]),
        default="text",
        show_default=True,
        help="Form of the result on standard output.",
    )


def finish(
    edited: Edited,
    folder: Path,
    old: Mapping[str, bytes],
    new: Mapping[str, bytes],
    *,
    dry_run: bool,
    overwrite_uncommitted: bool,
    output: str,
) -> int:
    """Write what has changed, or show it, and tell; return the exit status."""
    changes = rewrites(old, new)
    if changes and not dry_run:
        write_record(folder, changes, overwrite_uncommitted=overwrite_uncommitted)
    tell(replace(edited, written=bool(changes) and not dry_run), changes, dry_run=dry_run, output=output)
    return SOUND


def tell(edited: Edited, changes: tuple[Rewrite, ...], *, dry_run: bool, output: str) -> None:
    """Print what an edit did or would do."""
    from vesselspec.report import json
    from vesselspec.report.editing import EditedFile, edited_json, edited_text
    from vesselspec.report.terminal import no_commands

    edited = replace(edited, files=tuple(EditedFile(each.file, each.old is None, diff([each])) for each in changes))
    if output == "json":
        put(json.dumps(edited_json(edited)))
        return
    text = edited_text(page(), edited)
    if dry_run:
        put(diff(changes), exact=True)
        click.echo(no_commands(text), err=True, nl=False)  # the diff stays one that can be applied
    else:
        put(text)
