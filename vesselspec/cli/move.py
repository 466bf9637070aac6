"""`vesselspec move`: an entry to another file, or a circuit to another way."""

from __future__ import annotations

from pathlib import Path

import click

from vesselspec.cli.editing import Opened, finish, not_edited, opened, output_option, refusals
from vesselspec.cli.writing import dry_run_option, overwrite_option
from vesselspec.model.forms import File, matches
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown
from vesselspec.revisions.intake import hidden
from vesselspec.revisions.values import MARKER, SUFFIX


@click.command("move")
@click.argument("words", nargs=-1, required=True, metavar="ITEM [WHERE] [VESSEL]")
@click.option("--to-file", metavar="FILE", help="Move the entry ITEM to this file of the vessel's folder.")
@dry_run_option()
@overwrite_option()
@output_option()
def command(
    words: tuple[str, ...], to_file: str | None, dry_run: bool, overwrite_uncommitted: bool, output: str
) -> int:
    """Move an entry to another file, or a circuit to another way. VESSEL is a folder; default: here.

    ITEM --to-file panels/ac.yaml: the entry ITEM goes there with its comments, those directly above it among them. A
    file or collection that is not there yet is made. The boat stays the same; nothing needs to be told anybody.

    ITEM WHERE: two ways, such as ac-main/shore/4 ac-main/shore/13. The circuit on ITEM is landed on WHERE, which must
    be spare: its cables' ends change, and its label goes along. ITEM becomes spare and takes the label of WHERE, or
    `none`. Breakers stay what they are. What speaks of ITEM as a device (positions, interlocks, concessions) is
    listed and left. Record only what was done on board, and judge it with `vesselspec review`.

    To give a way another number, or a section or panel another name, use `vesselspec rename`.
    """
    places = 1 if to_file is not None else 2
    if not places <= len(words) <= places + 1:
        raise click.UsageError("Give ITEM WHERE [VESSEL], or ITEM --to-file FILE [VESSEL].")
    vessel = Path(words[places]) if len(words) > places else Path()
    record = opened(vessel)
    if isinstance(record, tuple):
        return not_edited("move", *record, output)
    how = (dry_run, overwrite_uncommitted, output)
    if to_file is not None:
        return _to_file(record, words[0], to_file, *how)
    return _to_way(record, words[0], words[1], *how)


def _to_file(record: Opened, item: str, file: str, dry_run: bool, overwrite_uncommitted: bool, output: str) -> int:
    from vesselspec.record import moving
    from vesselspec.report.editing import Edited

    _fit(record, file)
    found = [(name, key) for name, key, _ in record.vessel.items() if item in (key, f"{name}/{key}")]
    if not found:
        raise RevisionError(f"There is no {shown(item)} in the record.", "Give the id of an entry.")
    if len(found) > 1:
        names = " or ".join(f"{name}/{key}" for name, key in found)
        raise RevisionError(f"{shown(item)} can mean several entries.", f"Say {names}.")
    collection, key = found[0]
    if collection in ("sections", "ways"):
        raise RevisionError(f"{key} is part of {key.split('/')[0]}.", "Move the whole panel.")
    with refusals():
        new = moving.to_file(record.files, collection, key, file)
    if record.again(new) != record.vessel:
        raise RevisionError("Nothing was written: the record would say something else.", "Move it by hand.")
    edited = Edited(
        "move",
        record.vessel.about.name,
        written=False,
        said=(f"{collection}/{key} {'would stand' if dry_run else 'stands'} in {file} now.",),
    )
    return finish(
        edited,
        record.folder,
        record.files,
        new,
        dry_run=dry_run,
        overwrite_uncommitted=overwrite_uncommitted,
        output=output,
    )


def _fit(record: Opened, file: str) -> None:
    """Raise unless a path can be that of a file of this record."""
    fits = matches(File().schema()["pattern"], file) and len(file) <= 240 and file.endswith(SUFFIX)
    fits = fits and not hidden(file)
    parents = [file[:at] for at, char in enumerate(file) if char == "/"]
    if not fits or any((record.folder / parent / MARKER).exists() for parent in parents):
        why = "belongs to another vessel" if fits else "cannot be a file of this record"
        raise RevisionError(
            f"{shown(file)} {why}.", f"Give a path inside the vessel's folder that ends in {SUFFIX}: panels/ac.yaml."
        )


def _to_way(record: Opened, was: str, now: str, dry_run: bool, overwrite_uncommitted: bool, output: str) -> int:
    from vesselspec.changes import compare
    from vesselspec.changes.acts import acts
    from vesselspec.record import moving
    from vesselspec.report.editing import Edited

    with refusals():
        new = moving.to_way(record.files, record.vessel, was, now)
    after = record.again(new)
    changes = compare(record.vessel, after)
    ways = {each.id: {field.key for field in each.fields} for each in changes if each.collection == "ways"}
    if any(keys - {"spare", "label"} for keys in ways.values()) or not set(ways) <= {was, now}:
        raise RevisionError("Nothing was written: more would change than the circuit.", "Change it by hand.")
    edited = Edited(
        "move",
        record.vessel.about.name,
        written=False,
        said=tuple(f"{act.what}." for act in acts(changes, record.vessel, after)),
        left=tuple(moving.speaking_of({**record.files, **new}, was)),
        left_title=f"These speak of {was} as a device, and were left as they are:",
    )
    return finish(
        edited,
        record.folder,
        record.files,
        new,
        dry_run=dry_run,
        overwrite_uncommitted=overwrite_uncommitted,
        output=output,
    )
