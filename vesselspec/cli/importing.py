"""`vesselspec import`: take in a load list or cable list, shown before anything is written."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Mapping
from pathlib import Path

import click

from vesselspec.cli.common import day, page, put, state_of, vessel_argument
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import FINDINGS, NOT_UNDERSTOOD, SOUND
from vesselspec.cli.writing import Rewrite, overwrite_option, write_record
from vesselspec.revisions import RevisionError, find_vessel, read_folder
from vesselspec.revisions.errors import shown


def _pairs(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for value in values:
        name, equals, of = value.rpartition("=")
        if not equals or not name.strip():
            raise click.BadParameter(f"{shown(value)} is not two names with an equals sign between them.")
        if name.strip() in found:
            raise click.BadParameter(f"{shown(name.strip())} is given twice.")
        found[name.strip()] = of.strip()
    return found


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@vessel_argument()
@click.option("--kind", type=click.Choice(["loads", "cables"]), required=True, help="What the list holds.")
@click.option("--sheet", metavar="NAME", help="The sheet of a workbook. Default: the one that looks like such a list.")
@click.option(
    "--column",
    "columns",
    metavar="HEADING=FIELD",
    multiple=True,
    callback=_pairs,
    help="What a column holds, by its heading or as `column E`; without FIELD it is left out.",
)
@click.option(
    "--unit",
    "units",
    metavar="FIELD=UNIT",
    multiple=True,
    callback=_pairs,
    help="The unit of a field whose heading does not state one, such as length=ft or size=AWG.",
)
@click.option("--to-file", metavar="NAME", help="The record's file that takes them. Default: loads.yaml, cables.yaml.")
@click.option("--by", metavar="ROLE", help="Whose list it is: a role, not a person's name.")
@click.option("--on", callback=day, metavar="DATE", help="The day to write beside new entries. Default: today.")
@click.option("--write", is_flag=True, help="Write it. Default: only show, and on a terminal ask.")
@overwrite_option()
@click.option("--full", is_flag=True, help="List everything, however long.")
@click.option("--output", type=click.Choice(["text", "json"]), default="text", show_default=True, help="Form.")
def command(
    file: Path,
    vessel: Path,
    kind: str,
    sheet: str | None,
    columns: Mapping[str, str],
    units: Mapping[str, str],
    to_file: str | None,
    by: str | None,
    on: datetime.date | None,
    write: bool,
    overwrite_uncommitted: bool,
    full: bool,
    output: str,
) -> int:
    """Take the list FILE (.csv or .xlsx) into VESSEL (a folder; default: here). Shows first, and writes with --write.

    Shown are what each column is taken for, what would be added, and what is left out, with row and column. A bare
    number without a unit is never given one, what the list does not know stays unknown, and nothing in the record is
    changed: an entry that says something else there is told with both values. A cable whose end is not on record is
    left out; no panel or way is made up. Take in loads before the cables that lead to them.

    Exit status: 0 all of the list is taken or there already; 1 something is left out; 2 not understood, or something
    must be settled first.
    """
    from vesselspec.record import read
    from vesselspec.record.edit import EditError, insert
    from vesselspec.report import json
    from vesselspec.report import survey as survey_report
    from vesselspec.report.list_plan import no_plan_json, plan_json, plan_text
    from vesselspec.sheets.intake import read_list
    from vesselspec.sheets.plan import CELL, CONFLICT, ROW, Origin
    from vesselspec.sheets.planner import plan
    from vesselspec.sheets.table import SheetError

    folder = find_vessel(vessel)
    snapshot = read_folder(folder)
    record = state_of(snapshot).record
    subject = survey_report.subject_of(record.vessel, snapshot.name)
    if record.vessel is None:
        return not_understood(snapshot.name, record, output, data=no_plan_json(subject, kind))
    target = _target(to_file or f"{kind}.yaml")
    origin = Origin(file.name, on or datetime.date.today(), by.strip() if by and by.strip() else None)
    try:
        grid = read_list(kind, file.name, _content(file), sheet)
        found = plan(kind, grid, record.vessel, origin, columns, units)
    except SheetError as error:
        raise RevisionError(error.reason, error.remedy) from None
    old = snapshot.files.get(target)
    try:
        new = insert(old or b"", kind, found.entries)
    except EditError as error:
        raise RevisionError(f"{target} was left as it is. {error.reason}", error.remedy) from None
    if found.entries:
        later = read({**snapshot.files, target: new})
        if later.vessel is None:
            problem = later.problems[0]
            raise RevisionError(f"Nothing was written: {problem.place}: {problem.message}.", problem.remedy)
    ready = bool(found.entries) and not found.open
    if output == "text":
        put(plan_text(page(), subject, found, target, full=full))
        write = write or (ready and _agreed(target))
    done = write and ready
    if done:
        write_record(folder, [Rewrite(target, old, new)], overwrite_uncommitted=overwrite_uncommitted)
    if output == "json":
        put(json.dumps(plan_json(subject, found, target, written=done)))
    else:
        put(_end(target, found_open=bool(found.open), ready=ready, done=done))
    if found.open:
        return NOT_UNDERSTOOD
    return FINDINGS if found.of(CELL, ROW, CONFLICT) else SOUND


def _end(target: str, *, found_open: bool, ready: bool, done: bool) -> str:
    if done:
        return f"Written to {target}. Read it over, survey the boat, and commit it.\n"
    if found_open:
        return "Nothing was written.\n"
    return "Nothing was written; --write does it.\n" if ready else ""


def _agreed(target: str) -> bool:
    """Ask whoever sits at a terminal; nobody there means no."""
    if not (sys.stdin is not None and sys.stdin.isatty() and sys.stdout is not None and sys.stdout.isatty()):
        return False
    return click.confirm(f"Write them into {target}?", default=False)


def _content(file: Path) -> bytes:
    from vesselspec.sheets.intake import MOST_BYTES

    if file.exists() and not file.is_file():  # a pipe would be waited for
        raise RevisionError(f"{shown(str(file))} cannot be read: it is no file.", "Name the list's file.")
    try:
        with file.open("rb") as opened:
            return opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise RevisionError(f"{shown(str(file))} cannot be read: {error.strerror}.", "Name the list's file.") from None


def _target(name: str) -> str:
    """The file inside the vessel's folder that takes the entries."""
    if "/" in name or "\\" in name or name.startswith(".") or not name.endswith(".yaml"):
        raise click.UsageError(f"--to-file: {shown(name)} is no name of a .yaml file in the vessel's folder.")
    return name
