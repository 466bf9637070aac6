"""`vesselspec isolate`: how to make a place dead, and the proof that it is."""

from __future__ import annotations

import datetime
import json as standard_json
from pathlib import Path
from typing import Any

import click

from vesselspec.cli.common import at_option, dated, page, put, read_state, vessel_argument, write_files
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import FINDINGS, SOUND
from vesselspec.cli.stderr import tell
from vesselspec.revisions import RevisionError

_MOST_BYTES = 4_000_000


@click.command("isolate")
@click.argument("place")
@vessel_argument()
@at_option()
@click.option(
    "--out-of-reach",
    "out_of_reach",
    metavar="POINT",
    multiple=True,
    help="A point not to use; may be given several times.",
)
@click.option(
    "--output",
    type=click.Choice(["text", "markdown", "json", "html"]),
    default="text",
    show_default=True,
    help="Form of the result on standard output.",
)
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), help="Also write the sheet as .html, .md and .json."
)
@click.option(
    "--compare",
    metavar="SHEET.json",
    type=click.Path(path_type=Path, dir_okay=False),
    help="An earlier sheet of the place: say what would be done differently now.",
)
def command(
    place: str,
    vessel: Path,
    at: str | None,
    out_of_reach: tuple[str, ...],
    output: str,
    out: Path | None,
    compare: Path | None,
) -> int:
    """Work out how PLACE (a panel, section, way, device, load, cable or space) of VESSEL is made dead.

    The sheet lists every source that can make the place live in any position of any switch, the least set of points
    to open, at the sources first, the order of work, where to prove dead, and what stays live beside it. It is checked
    against itself: with those points open nothing may reach the place. Where the record does not know enough, there
    is no sheet but a list of why not (exit status 1).

    The record may be wrong: nothing is dead until it has been proved dead on board.
    """
    from vesselspec.isolation import Target, UnknownPointError, find_target, sheet_of
    from vesselspec.report import isolation as report
    from vesselspec.report import json
    from vesselspec.report.isolation_page import sheet_html
    from vesselspec.rules import Boat

    state = read_state(vessel, at)
    found = state.record.vessel
    if found is None:
        return not_understood(state.name, state.record, output)
    boat = Boat(found, state.record.places)
    target = find_target(boat, place)
    if not isinstance(target, Target):
        hint = (
            f"Did you mean {target.near}?"
            if target.near
            else "Name a panel, section, way, device, load, cable or space."
        )
        raise RevisionError(f"There is no {place} in this record.", hint)
    today = datetime.datetime.now(tz=datetime.UTC).date()
    try:
        sheet = sheet_of(boat, target, out_of_reach=out_of_reach, day=today)
    except UnknownPointError as error:
        raise RevisionError(f"{error} is no point of disconnection.", "Name one that the sheet lists.") from error
    heading = report.Heading(found, dated(vessel, state), today.isoformat())
    data = report.sheet_json(heading, sheet)
    texts = {
        "text": lambda: report.sheet_text(page(), heading, sheet),
        "markdown": lambda: report.sheet_markdown(heading, sheet),
        "json": lambda: json.dumps(data),
        "html": lambda: sheet_html(heading, sheet),
    }
    if out is not None:
        name = f"isolate-{place.replace('/', '-')}"
        files = {
            f"{name}.{end}": texts[form]().encode()
            for form, end in (("html", "html"), ("markdown", "md"), ("json", "json"))
        }
        write_files(out, files)
    differs: tuple[str, ...] = ()
    if compare is not None:
        differs = report.changed_since(_earlier(compare, data), data)
        for line in differs:
            tell(f"changed since that sheet: {line}")
    put(texts[output]())
    return SOUND if sheet.declared and not differs else FINDINGS


def _earlier(path: Path, now: dict[str, Any]) -> dict[str, Any]:
    """A sheet as an earlier run wrote it."""
    remedy = "Name the .json that `vesselspec isolate --out` wrote."
    if not path.is_file():  # a pipe would be waited for
        raise RevisionError(f"{path} cannot be read as a sheet.", remedy)
    try:
        with path.open("rb") as file:
            raw = file.read(_MOST_BYTES + 1)
        read = standard_json.loads(raw) if len(raw) <= _MOST_BYTES else None
    except (OSError, ValueError, RecursionError) as error:
        raise RevisionError(f"{path} cannot be read as a sheet.", remedy) from error
    if not isinstance(read, dict) or read.get("kind") != "isolation" or read.get("format") != now["format"]:
        raise RevisionError(f"{path} is no isolation sheet.", remedy)
    lists = [key for key, value in now.items() if isinstance(value, list) and key not in ("spaces", "cautions")]
    if not all(_entries(read.get(key), now[key]) for key in lists):
        raise RevisionError(f"{path} is no isolation sheet.", remedy)
    return read


def _entries(earlier: Any, now: list[dict[str, Any]]) -> bool:
    """Whether a list of an earlier sheet has entries of the same shape."""
    shape = set(now[0]) if now else set()
    return isinstance(earlier, list) and all(isinstance(each, dict) and shape <= set(each) for each in earlier)
