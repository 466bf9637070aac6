"""`vesselspec labels`: labels for cables, ways, panels and devices, to print."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit

import click

from vesselspec.cli.common import (
    State,
    at_option,
    dated,
    output_option,
    page,
    put,
    read_state,
    revision_of,
    vessel_argument,
    write_files,
)
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import NOT_UNDERSTOOD, SOUND
from vesselspec.report.labels import KINDS, Label, changed, chosen, labels_of
from vesselspec.revisions import RevisionError


def _address(ctx: click.Context, param: click.Parameter, value: str) -> str:
    """The callback of --book: where the book will lie."""
    try:
        parts = urlsplit(value)
    except ValueError:
        parts = urlsplit("?")
    if value and (parts.scheme not in ("http", "https", "file") or parts.query or parts.fragment):
        raise click.BadParameter("say an address such as https://example.org/boat/")
    return value if not value or value.endswith("/") else f"{value}/"


@click.command("labels")
@vessel_argument()
@at_option()
@output_option()
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), help="Write sheets (.html), strips (.csv), .json."
)
@click.option(
    "--grid", metavar="GRID", default="a4-3x8", show_default=True, help="How the sheet is divided; `--grid list`."
)
@click.option("--skip", type=click.IntRange(0, 500), default=0, help="Places of the first sheet that are used up.")
@click.option("--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Only labels of this kind; repeatable.")
@click.option("--item", "items", metavar="ID", multiple=True, help="Only at or on this item; repeatable.")
@click.option("--since", metavar="REV", help="Only labels that say something else than at REV, or that are new.")
@click.option(
    "--book", metavar="URL", default="", callback=_address, help="Where the hand-over book will lie, for codes."
)
@click.option("--pdf", is_flag=True, help="Also write the sheets as PDF; needs a browser. With --out.")
def command(
    vessel: Path,
    at: str | None,
    output: str,
    out: Path | None,
    grid: str,
    skip: int,
    kinds: tuple[str, ...],
    items: tuple[str, ...],
    since: str | None,
    book: str,
    pdf: bool,
) -> int:
    """Make labels for VESSEL (a folder; default: here), in the order of a walk through the boat.

    Every cable gets one at each end with its id, its system, and both ends; every way, panel, source and device one.
    A panel's label has a code with its page in the hand-over book and the revision of the record: a telephone opens
    it where --book says where the book lies, and reads the names where not. What a cable's record does not know, its
    label says in capitals.

    A label says what the record says: trace and compare before it goes on.
    """
    from vesselspec.report import json
    from vesselspec.report import label_lists as lists
    from vesselspec.report import label_sheets as sheets

    if grid == "list":
        put(lists.grids_text(page(), sheets.grids().values()))
        return SOUND
    if grid not in sheets.grids():
        raise click.BadParameter(f"there is no {grid}; there are: {', '.join(sheets.grids())}", param_hint="--grid")
    if pdf and out is None:
        raise click.UsageError("--pdf needs --out DIR.")
    state = read_state(vessel, at)
    made = _labels(vessel, state, book, output)
    if made is None:
        return NOT_UNDERSTOOD
    for item in items:
        if not chosen(made, (), (item,)):
            raise RevisionError(f"Nothing at {item} wears a label.", "Name a panel, section, way, cable or device.")
    if since is not None:
        then = _labels(vessel, read_state(vessel, since), book, output)
        if then is None:
            return NOT_UNDERSTOOD
        made = changed(made, then)
    picked = chosen(made, kinds, items)
    set_ = sheets.set_labels(picked, sheets.grids()[grid])
    title, stamp = _title(state), f"Record: {dated(vessel, state)}."
    data = lists.labels_json(state.name, grid, set_)
    if out is not None:
        sheet = sheets.sheets_html(title, stamp, set_, sheets.grids()[grid], skip=skip)
        files = {
            f"labels-{grid}.html": sheet.encode(),
            "strips.csv": lists.strips_csv(picked).encode(),
            "labels.json": json.dumps(data).encode(),
        }
        if pdf:
            from vesselspec.cli.printing import to_pdf

            files[f"labels-{grid}.pdf"] = to_pdf(sheet)
        write_files(out, files)
    texts = {
        "text": lambda: lists.labels_text(page(), title, stamp, set_),
        "markdown": lambda: lists.labels_markdown(title, stamp, set_),
        "json": lambda: json.dumps(data),
    }
    put(texts[output]())
    return SOUND


def _labels(vessel: Path, state: State, book: str, output: str) -> tuple[Label, ...] | None:
    """The labels of a state; None, and the reason told, where it cannot be understood."""
    from vesselspec.book.names import page_of
    from vesselspec.network.compile import compile_network

    found = state.record.vessel
    if found is None:
        not_understood(state.name, state.record, output)
        return None
    revision = revision_of(vessel, state)
    mark = f"#at={revision}" if revision is not None else ""
    codes = {panel: f"{book}{page_of('panel', panel)}{mark}" for panel in found.panels}
    return labels_of(found, compile_network(found), codes)


def _title(state: State) -> str:
    found = state.record.vessel
    return f"Labels: {found.about.name}" if found is not None else "Labels"
