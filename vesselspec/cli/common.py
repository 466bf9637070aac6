"""What the commands share: their options, and how a state of the record is read."""

from __future__ import annotations

import contextlib
import datetime
import errno
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from vesselspec.model.forms import Day, matches
from vesselspec.record import Memory, Place, Problem, Record, read
from vesselspec.report.terminal import Page, no_commands
from vesselspec.revisions import RevisionError, Snapshot, below_top, find_vessel, read_folder
from vesselspec.revisions.errors import shown
from vesselspec.standards.signals import SIGNAL_WORDS

Decorator = Callable[[Any], Any]


def vessel_argument() -> Decorator:
    """The last argument of every command: where the vessel is."""
    return click.argument("vessel", type=click.Path(path_type=Path), default=Path())


def at_option() -> Decorator:
    """An older state."""
    return click.option("--at", metavar="REV", help="Look at an older state: any git revision. Default: the files.")


def output_option(*more: str) -> Decorator:
    """The form of the result; `more` beyond those that every command has."""
    return click.option(
        "--output",
        type=click.Choice(["text", "markdown", "json", *more]),
        default="text",
        show_default=True,
        help="Form of the result on standard output.",
    )


#: What programs other than ours read, beside JSON: `report/machine.py`.
MACHINE_FORMS = ("sarif", "annotations", "junit")


def fail_on_option() -> Decorator:
    """The threshold of exit status 1."""
    return click.option(
        "--fail-on",
        type=click.Choice(SIGNAL_WORDS, case_sensitive=False),
        default="WARNING",
        show_default=True,
        help="Gravest word that still passes is the one below this.",
    )


def day(ctx: click.Context, param: click.Parameter, value: str | None) -> datetime.date | None:
    """The callback of an option that takes a calendar day, as the record writes it."""
    found: datetime.date | None = None
    if value is not None:
        with contextlib.suppress(ValueError):
            found = Day().build(value) if matches(Day().schema()["pattern"], value) else None
        if found is None:
            raise click.BadParameter(f"{shown(value)} is not a day, year first, such as 2026-03-14.")
    return found


def on_option() -> Decorator:
    """The day on which concessions are judged: the one thing in a result that the clock can change."""
    return click.option(
        "--on",
        callback=day,
        metavar="DATE",
        default=lambda: datetime.date.today().isoformat(),
        help="Judge what is accepted as it holds on this day. Default: today, for older states too.",
    )


def one_state_only(output: str, option: str) -> None:
    """Refuse a machine form, which tells of one state or change, together with an option that asks for several."""
    if output in (*MACHINE_FORMS, "html"):
        raise click.UsageError(f"--output {output} tells of one state or change; with {option} use json.")


@dataclass(frozen=True)
class State:
    """A state of a record, read."""

    name: str
    record: Record
    snapshot: Snapshot | None = None
    #: The vessel's folder from the top of its repository, `.` where it is the top or there is none.
    folder: str = "."


def read_state(vessel: Path, at: str | None) -> State:
    """Read the files of a vessel, or an older state of them out of git."""
    if at is None:
        folder = find_vessel(vessel)
        return replace(state_of(read_folder(folder)), folder=str(below_top(folder)))
    from vesselspec.revisions import Repository

    repository = Repository.open(vessel, at=at)
    return replace(state_of(repository.snapshot(at)), folder=str(repository.folder))


def state_of(snapshot: Snapshot, memory: Memory | None = None) -> State:
    """Read a snapshot. What was refused in it makes the record one that cannot be understood.

    Whoever reads many snapshots of one vessel hands over the same memory.
    """
    if not snapshot.has_vessel and not snapshot.problems:
        raise RevisionError(
            f"There is no vessel.yaml at {snapshot.name}.",
            "Name a revision at which the vessel's record was there already, or check the folder.",
        )
    refused = tuple(
        Problem(Place(shown(problem.path).strip("'")), problem.reason, "", problem.remedy)
        for problem in snapshot.problems
    )
    record = replace(read(snapshot.files, memory), names=snapshot.names)
    if refused:
        record = Record(None, record.places, (*refused, *record.problems))
    return State(snapshot.name, record, snapshot)


def earlier_state(before: Snapshot, after: Snapshot, memory: Memory | None = None) -> State:
    """The earlier of two states; before its first commit a record is that of the same boat with nothing in it."""
    from vesselspec.changes.review import empty_vessel
    from vesselspec.record import Places

    if before.has_vessel or before.problems:
        return state_of(before, memory)
    later, name = state_of(after, memory).record, f"{before.name}, no record yet"
    if later.vessel is None:
        return State(name, Record(None, Places(), later.problems))
    return State(name, Record(empty_vessel(later.vessel), Places(), ()))


def dated(vessel: Path, state: State) -> str:
    """A state with its revision and date, as every page that somebody acts on prints it."""
    snapshot = state.snapshot
    if snapshot is not None and snapshot.commit is not None:
        return f"{state.name} of {snapshot.commit.when.date().isoformat()}"
    last = _last_commit(vessel)
    if last is None or last.commit is None:
        return f"{state.name}, in no git repository"
    if snapshot is None:
        return state.name
    since = f"{last.commit.short} of {last.commit.when.date().isoformat()}"
    return f"{state.name}, as at {since}" if snapshot.blobs == last.blobs else f"{state.name}, CHANGED since {since}"


def revision_of(vessel: Path, state: State) -> str | None:
    """The abbreviated commit that a state is, or None where its files differ from every commit."""
    snapshot = state.snapshot
    if snapshot is None:
        return None
    if snapshot.commit is not None:
        return snapshot.commit.short
    last = _last_commit(vessel)
    same = last is not None and last.commit is not None and snapshot.blobs == last.blobs
    return last.commit.short if same and last is not None and last.commit is not None else None


def _last_commit(vessel: Path) -> Snapshot | None:
    from vesselspec.revisions import Repository

    try:
        return Repository.open(vessel, at="HEAD").snapshot("HEAD")
    except RevisionError:
        return None


def page() -> Page:
    """A page as wide as the terminal; coloured only where a person looks at it and has not refused it."""
    seen = sys.stdout is not None and sys.stdout.isatty()
    colour = seen and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
    return Page(width=min(shutil.get_terminal_size((100, 40)).columns, 120), colour=colour)


#: Signs in its environment by which a hosted CI, which obeys lines of its log, says that it is one.
_CI_SIGNS = ("CI", "GITHUB_ACTIONS", "TF_BUILD")


def hosted_ci() -> bool:
    """Whether the environment says that a hosted CI reads the output."""
    return any(os.environ.get(sign, "").lower() not in ("", "0", "false") for sign in _CI_SIGNS)


def put(text: str, *, commands: bool = False, exact: bool = False) -> None:
    """Write a result to standard output; characters that it cannot show become escapes.

    Unless the result is `commands` to a hosted CI, nothing in it can be one: in JSON too, \\u0023 is the same text.
    An `exact` text, such as a diff to be applied, keeps every character except where a hosted CI reads it.
    A reader that has gone away changes nothing about the result, and so nothing about the exit status.
    """
    if sys.stdout is None:
        return
    text = text if commands or (exact and not hosted_ci()) else no_commands(text)
    encoding = sys.stdout.encoding or "utf-8"
    try:
        sys.stdout.write(text.encode(encoding, "backslashreplace").decode(encoding))
        sys.stdout.flush()
    except OSError as error:
        # Python must not complain about the same thing again while shutting down.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if error.errno != errno.EPIPE:
            raise RevisionError(
                f"Standard output cannot be written: {error.strerror}.", "Make room, or send it somewhere else."
            ) from error


def write_files(out: Path, files: dict[str, bytes]) -> None:
    """Write files into a folder, each in one step: a reader sees the old file or the new one, whole.

    Parents are made. A file that is a symbolic link is replaced, never followed. Nothing takes its place before
    everything is written, so that a disk that is full leaves the earlier files as they were.
    """
    ready: dict[Path, Path] = {}
    try:
        for name, content in files.items():
            target = out / name
            target.parent.mkdir(parents=True, exist_ok=True)
            if target.is_dir() and not target.is_symlink():
                raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(target))
            handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=".vesselspec-")
            ready[target] = Path(temporary)
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(temporary).chmod(0o644)
        for target, written in ready.items():
            written.replace(target)
    except OSError as error:
        raise RevisionError(
            f"{shown(str(error.filename or out))} cannot be written: {error.strerror}.",
            "Name another folder with --out, or make this one writable.",
        ) from error
    finally:
        for written in ready.values():
            written.unlink(missing_ok=True)
