"""`vesselspec trace`: from an item up to every source and down to every load."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import at_option, dated, output_option, page, put, read_state, vessel_argument, write_files
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import SOUND
from vesselspec.cli.stderr import tell
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.report.trace import Trace
    from vesselspec.rules import Boat
    from vesselspec.tracing import Subject, Wiring


@click.command("trace")
@click.argument("item")
@vessel_argument()
@at_option()
@click.option(
    "--condition", metavar="ID", help="Only what is closed and running then. Default: any permitted position."
)
@click.option("--why", is_flag=True, help="Only up, each way terminal by terminal.")
@click.option("--open", "opened", is_flag=True, help="What goes dead if it is opened or taken away, and what does not.")
@click.option("--to", "other", metavar="ITEM", help="How the two items are connected.")
@output_option()
@click.option("--draw", is_flag=True, help="Also draw what the trace passes.")
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    default=Path("drawings"),
    show_default=True,
    help="Folder for the drawing.",
)
def command(
    item: str,
    vessel: Path,
    at: str | None,
    condition: str | None,
    why: bool,
    opened: bool,
    other: str | None,
    output: str,
    draw: bool,
    out: Path,
) -> int:
    """Trace ITEM of VESSEL (a folder; default: here) up to every source and down to every load.

    ITEM is a device, load, panel, section, way or cable, a space, or a terminal such as ac-main/inverter:N. The way up
    and down is told item by item: cables with their labels, colours, sizes and the spaces they pass, devices with their
    ratings, and the positions that a way takes. One shortest way from each source, never all of them. Of a space all
    that is in it is told first, and every cable that ends there or passes, with what can be live on it.

    The record may be wrong: where it knows no way, that proves nothing dead.
    """
    from vesselspec.report import json
    from vesselspec.report import trace as report
    from vesselspec.report.trace_json import trace_json
    from vesselspec.rules import Boat
    from vesselspec.tracing import any_position, in_condition

    if other is not None and (why or opened):
        raise click.UsageError("--to tells how two items are connected; --why and --open go with one.")
    state = read_state(vessel, at)
    found = state.record.vessel
    if found is None:
        return not_understood(state.name, state.record, output)
    boat = Boat(found, state.record.places)
    if condition is not None and condition not in found.conditions:
        near = difflib.get_close_matches(condition, found.conditions, n=1)
        hint = f"Did you mean {near[0]}?" if near else "Conditions: " + (", ".join(found.conditions) or "none") + "."
        raise RevisionError(f"There is no condition {shown(condition)} in this record.", hint)
    subject = _subject(boat, item)
    second = _subject(boat, other) if other is not None else None
    wiring = any_position(boat) if condition is None else in_condition(boat, condition)
    trace = _trace(boat, wiring, dated(vessel, state), subject, second, why=why, opened=opened)
    if draw:
        _draw(trace, state.name, out)
    texts = {
        "text": lambda: report.trace_text(page(), trace),
        "markdown": lambda: report.trace_markdown(trace),
        "json": lambda: json.dumps(trace_json(trace)),
    }
    put(texts[output]())
    return SOUND


def _subject(boat: Boat, item: str) -> Subject:
    from vesselspec.tracing import Subject, find_subject

    found = find_subject(boat, item)
    if not isinstance(found, Subject):
        hint = "Name a device, load, panel, section, way, cable or space."
        hint = f"Did you mean {found.near}?" if found.near else hint
        raise RevisionError(f"There is no {shown(item)} to trace in this record.", hint)
    return found


def _trace(
    boat: Boat, wiring: Wiring, state: str, subject: Subject, other: Subject | None, *, why: bool, opened: bool
) -> Trace:
    from vesselspec.report.trace import Trace
    from vesselspec.tracing import (
        NothingToOpenError,
        between,
        down_from,
        held_in,
        lost_by,
        unknown_about,
        up_from,
    )

    terminals = subject.terminals if other is None else (*subject.terminals, *other.terminals)
    unknown = unknown_about(boat, wiring, terminals)
    if other is not None:
        tied = between(wiring, subject.terminals, other.terminals)
        return Trace(boat, wiring, state, subject, other=other, between=tied, unknown=unknown)
    up = down = lost = None
    if opened:
        conditions = [wiring.condition] if wiring.condition else ["", *boat.vessel.conditions]
        try:
            lost = tuple(lost_by(boat, subject, each) for each in conditions)
        except NothingToOpenError as error:
            raise RevisionError(
                f"{subject.item} has no contact that opens, and is no source.",
                "Name a switch, breaker, fuse, way, selector, cable or source.",
            ) from error
    held = held_in(boat, wiring, subject) if subject.kind == "space" and not why and not opened else None
    if why or not opened:
        up = up_from(wiring, subject.terminals)
    if not why and not opened:
        down = down_from(wiring, subject)
    return Trace(boat, wiring, state, subject, held=held, up=up, down=down, lost=lost, told=why, unknown=unknown)


def _draw(trace: Trace, footer: str, out: Path) -> None:
    """Write the drawing of what a trace passes; say where."""
    from vesselspec.cli.pictures import as_files
    from vesselspec.report.trace_drawing import drawing

    files = as_files([drawing(trace, footer)])
    write_files(out, files)
    for name in sorted(files):
        tell(f"{out / name}")
