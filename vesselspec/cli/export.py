"""`vesselspec export`: the record as spreadsheets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import at_option, dated, put, read_state, vessel_argument, write_files
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import SOUND

if TYPE_CHECKING:
    from vesselspec.sheets.table import Table

WORKBOOK = "schedules.xlsx"


@click.command("export")
@vessel_argument()
@at_option()
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    default=Path("sheets"),
    show_default=True,
    help="Folder for the files.",
)
@click.option(
    "--as",
    "form",
    type=click.Choice(["xlsx", "csv"]),
    default="xlsx",
    show_default=True,
    help="One workbook, or a text file for each table (commas, UTF-8).",
)
@click.option("--output", type=click.Choice(["text", "json"]), default="text", show_default=True, help="Form.")
def command(vessel: Path, at: str | None, out: Path, form: str, output: str) -> int:
    """Write VESSEL (a folder; default: here) as spreadsheets: a schedule of every panel, cables, loads, devices.

    The first sheet says of which revision they are. Values stand with their unit, as the record writes them, so that
    `import` takes lists of cables and loads in again. No cell is ever a formula; in CSV an apostrophe stands before
    text that would be taken for one. The same record gives the same bytes.

    A spreadsheet ages from the moment it is written; the record is what is kept.
    """
    from vesselspec.report import json
    from vesselspec.report import survey as report
    from vesselspec.report.exported import exported_json
    from vesselspec.report.terminal import CAUTIONS
    from vesselspec.sheets.files import about, as_csv, as_workbook
    from vesselspec.sheets.schedules import tables

    state = read_state(vessel, at)
    record = state.record
    subject = report.subject_of(record.vessel, state.name)
    if record.vessel is None:
        return not_understood(state.name, record, output, data=exported_json(subject, {}))
    made = tables(record.vessel, record.places)
    stamp = dated(vessel, state)
    made = (about([("Vessel", record.vessel.about.name), ("Record", stamp)], CAUTIONS, made), *made)
    if form == "csv":
        files = as_csv(made)
        held: dict[str, tuple[Table, ...]] = {
            str(out / name): (table,) for name, table in zip(files, made, strict=True)
        }
    else:
        footer = f"{record.vessel.about.name}, {stamp}. The record may be wrong: prove dead before touching."
        files = {WORKBOOK: as_workbook(made, footer)}
        held = {str(out / WORKBOOK): made}
    write_files(out, files)
    put("".join(f"{name}\n" for name in held) if output == "text" else json.dumps(exported_json(subject, held)))
    return SOUND
