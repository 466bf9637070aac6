"""`vesselspec handover`: the hand-over book, gathered here, made by `book/`, written into a folder of its own."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import (
    State,
    at_option,
    dated,
    on_option,
    put,
    read_state,
    revision_of,
    state_of,
    vessel_argument,
)
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import OUR_BUG, SOUND
from vesselspec.revisions import Repository, RevisionError

if TYPE_CHECKING:
    from vesselspec.book.contents import Drawing, Since, Visit
    from vesselspec.book.photos import Photo
    from vesselspec.model.vessel import Vessel
    from vesselspec.report.logbook_words import Revision
    from vesselspec.rules import Boat, Survey

_NO_HISTORY = "The record is in no git repository, so that its history is not known."


@click.command("handover")
@vessel_argument()
@at_option()
@on_option()
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    required=True,
    help="Folder for the book: a new one, an empty one, or an earlier book, which is brought up to date.",
)
@click.option("--pdf", type=click.Choice(["a4", "letter"]), help="Also one PDF on this paper; needs a browser.")
@click.option("--since", metavar="REV", help="The revision of the crew's last copy: what is new since is marked.")
@click.option(
    "--output",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="Form of what is said on standard output.",
)
def command(
    vessel: Path, at: str | None, on: datetime.date, out: Path, pdf: str | None, since: str | None, output: str
) -> int:
    """Write the hand-over book of VESSEL (a folder; default: here) into --out.

    It is a folder of pages that open in any browser without a network, to be copied, read on a telephone and printed:
    the boat at a glance, every panel with its ways, diagram, isolation sheet and history, cable and equipment
    schedules, operating conditions, load cards, batteries, deficiencies, what to find out, and a glossary. Photographs
    of the record (`photos`) are made smaller and lose place, date and all else that is not the picture.

    A folder that holds anything else is refused; what is not of the book is never deleted.
    """
    from vesselspec.book.contents import Book
    from vesselspec.book.pages import pages_of
    from vesselspec.cli.folder import refuse_foreign, write_book
    from vesselspec.report import json
    from vesselspec.report import survey as report
    from vesselspec.report.terminal import one_line
    from vesselspec.rules import Boat, concede, survey
    from vesselspec.rules.book import failed

    earlier = refuse_foreign(out)
    state = read_state(vessel, at)
    found = state.record.vessel
    if found is None:
        empty = _said(report.subject_of(None, state.name).vessel, state.name, out, {}, ())
        return not_understood(state.name, state.record, output, data=empty)
    boat = Boat(found, state.record.places, state.record.names)
    judged = concede(boat, survey(boat), on)
    new = _since(vessel, since, state, boat, judged, on) if since is not None else None
    visits, note = _history(vessel, at, found)
    book = Book(
        boat=boat,
        survey=judged,
        state=dated(vessel, state),
        day=on,
        revision=revision_of(vessel, state) or "",
        visits=visits,
        history_note=note,
        overview=_overview(boat, state.name),
        photos=_photos(vessel, at, found),
        since=new,
    )
    files = pages_of(book)
    if pdf is not None:
        from vesselspec.cli.printing import book_to_pdf

        title, paper = f"{found.about.name}: hand-over book", "A4" if pdf == "a4" else "letter"
        files |= {"book.pdf": book_to_pdf(files, title=title, stamp=f"Record: {book.state}.", paper=paper)}
    write_book(out, files, earlier)
    broken = tuple(each for each in book.photos.values() if each.problem)
    if output == "json":
        put(json.dumps(_said(found.about.name, book.state, out, files, broken)))
    else:
        put(f"{out / 'index.html'}\n{len(files)} files, {sum(map(len, files.values())) / 1e6:.1f} MB.\n")
        put("".join(f"not shown: photograph {one_line(each.path)}, {each.problem}\n" for each in broken))
    return OUR_BUG if any(failed(judged)) else SOUND


def _said(vessel: str, state: str, out: Path, files: dict[str, bytes], broken: tuple[Photo, ...]) -> dict[str, object]:
    """For machines: schema/handover.schema.json."""
    return {
        "format": 1,
        "kind": "handover",
        "vessel": vessel,
        "state": state,
        "understood": True,
        "out": str(out),
        "files": {name: len(content) for name, content in files.items()},
        "photographs_not_shown": [{"path": each.path, "reason": each.problem} for each in broken],
        "problems": [],
    }


def _history(vessel: Path, at: str | None, now: Vessel) -> tuple[tuple[Visit, ...], str]:
    """Every revision in words, and why that is not the whole history, if it is not."""
    from vesselspec.book.visits import visits_of
    from vesselspec.changes import logbook
    from vesselspec.cli.history import History
    from vesselspec.report.logbook_words import Revision

    try:
        repository = Repository.open(vessel, at=at or "HEAD")
        history = History(repository, at)
    except RevisionError:
        return (), _NO_HISTORY

    def revision(id: str) -> Revision:
        commit = history.commit(id)
        if commit is None:
            return Revision("", "", "", "", "")
        day = commit.when.date().isoformat()
        return Revision(commit.id, commit.short, day, commit.author, commit.subject, len(commit.parents) > 1)

    def visits() -> Iterator[logbook.Visit]:
        for node in history.walk.nodes:
            yield history.walk.visit(node, None)[0]

    found = visits_of(visits(), revision, history.walk.vessel, now)
    history.close()
    return found, "This is a shallow clone: the history before it is not here." if repository.is_shallow else ""


def _overview(boat: Boat, footer: str) -> tuple[Drawing, ...]:
    """What feeds what; nothing of what cannot be drawn."""
    from vesselspec.book.contents import Drawing
    from vesselspec.cli.pictures import as_files
    from vesselspec.draw import overview_sheets

    sheets = overview_sheets(boat.vessel, boat.network, footer=footer)
    files = as_files(sheets)
    drawn = [(sheet.title, files.get(f"{sheet.name}.svg")) for sheet in sheets]
    return tuple(Drawing(title, svg.decode()) for title, svg in drawn if svg is not None)


def _photos(vessel: Path, at: str | None, boat: Vessel) -> dict[str, Photo]:
    """The photographs that the record names, from the vessel's folder or, at a revision, from git."""
    from vesselspec.book.photos import MOST_BYTES, MOST_PHOTOS, Photo, photo_of
    from vesselspec.revisions import find_vessel
    from vesselspec.revisions.disk import read_picture

    paths = list(dict.fromkeys(path for _, _, item in boat.items() for path in item.photos))
    held = Repository.open(vessel, at=at).pictures(at, paths, MOST_BYTES) if at is not None and paths else {}
    folder = find_vessel(vessel) if at is None else None
    found = {}
    for number, path in enumerate(paths):
        if number >= MOST_PHOTOS:
            found[path] = Photo(path, problem=f"a book holds {MOST_PHOTOS} photographs")
            continue
        raw = held.get(path) if folder is None else read_picture(folder, path, MOST_BYTES)
        missing = Photo(path, problem="there is no such file in the vessel's folder, or it is too large or a link")
        found[path] = photo_of(path, raw) if raw is not None else missing
    return found


def _since(vessel: Path, since: str, state: State, boat: Boat, judged: Survey, on: datetime.date) -> Since:
    """What came after the revision of the crew's copy."""
    from vesselspec.book.contents import Since
    from vesselspec.changes.compare import compare
    from vesselspec.changes.review import Side, findings_only, side

    snapshot = Repository.open(vessel, at=since).snapshot(since)
    earlier = state_of(snapshot)
    if earlier.record.vessel is None:
        raise RevisionError(
            f"The record at {earlier.name} cannot be understood.", "Name the revision that is printed in the copy."
        )
    before, after = side(earlier.name, earlier.record, on), Side(state.name, state.record, boat, judged)
    found = findings_only(before, after)
    changes = compare(earlier.record.vessel, boat.vessel)
    return Since(dated(vessel, earlier), changes, earlier.record.vessel, found.new, found.cleared)
