"""A change between two states of the record, read and judged: what `review` and `record-change` begin with."""

from __future__ import annotations

import datetime
import shlex
from collections.abc import Callable, Container
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from vesselspec.cli.common import earlier_state, state_of
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown
from vesselspec.revisions.values import MARKER

if TYPE_CHECKING:
    from vesselspec.changes import Reason, Review
    from vesselspec.revisions import Commit, Repository, Snapshot, Staged

#: Digits from which a revision that begins the id is taken for the id itself and not shown twice.
_TYPED_ID = 7


@dataclass(frozen=True)
class Change:
    """A change, judged, where it lies, and when both states were."""

    judged: Review
    repository: Repository
    #: The commit of the later state; None for the files on disk.
    end: Commit | None
    #: Dates of both states, in words.
    dates: tuple[str, str]


def read_change(command: str, base: str, head: str | None, vessel: Path, on: datetime.date, *, direct: bool) -> Change:
    """Judge the change from BASE to HEAD (None or `.`: the files on disk). `command` is named in remedies."""
    from vesselspec.changes import review, side
    from vesselspec.revisions import Repository

    on_disk = head in (None, ".")
    repository = Repository.open(vessel, at=head if head is not None and not on_disk else base)
    tip = start = repository.resolve(base)
    end = None if on_disk or head is None else _resolved(repository, command, base, head)
    if not direct:
        start = repository.merge_base(base, "HEAD" if end is None or head is None else head)
    after = repository.work_tree() if end is None else repository.snapshot(end.id)
    before, folder = _before(repository, start, after, lambda: _folders(repository, end))
    before = replace(before, name=_called(before, base, start, forked=start.id != tip.id) + folder)
    after = replace(after, name=_called(after, head, end))
    earlier = earlier_state(before, after)
    judged = review(
        side(earlier.name, earlier.record, on),
        side(after.name, state_of(after).record, on),
        _reasons(repository, start.id, "HEAD" if end is None else end.id),
    )
    now = f"as on disk on {on}" if end is None else f"of {end.when.date()}"
    dates = (f"of {start.when.date()}", now)
    return Change(judged, repository, end, dates)


def read_staged(base: str, vessel: Path, on: datetime.date, *, direct: bool) -> Change:
    """Judge the change from BASE to what is staged for the next commit."""
    from vesselspec.changes import review, side
    from vesselspec.changes.review import findings_only
    from vesselspec.revisions import Repository, staged
    from vesselspec.revisions.staged import NOTHING

    repository = Repository.open(vessel, at=base)
    index = staged(repository)
    after = index.snapshot(repository.folder)
    others: tuple[Commit, ...] = ()
    reasons: tuple[Reason, ...] = ()
    when = ""
    if index.parents or base != "HEAD":
        tip = start = repository.resolve(base)
        if not direct:
            start = repository.merge_base(base, "HEAD")
        before, folder = _before(repository, start, after, lambda: _staged_folders(index))
        before = replace(before, name=_called(before, base, start, forked=start.id != tip.id) + folder)
        others = index.parents[1:] if start == index.parents[0] else ()
        reasons = _reasons(repository, start.id, "HEAD")
        when = f"of {start.when.date()}"
    else:
        before = NOTHING
    earlier, later = earlier_state(before, after), side(after.name, state_of(after).record, on)
    parents = (earlier_state(repository.snapshot(each.id), after) for each in others)
    also = tuple(findings_only(side(each.name, each.record, on), later) for each in parents)
    judged = replace(review(side(earlier.name, earlier.record, on), later, reasons), also=also)
    return Change(judged, repository, None, (when, f"as staged on {on}"))


def _resolved(repository: Repository, command: str, base: str, head: str) -> Commit:
    """The commit that HEAD names; a folder in its place is the commonest slip."""
    try:
        return repository.resolve(head)
    except RevisionError as error:
        if Path(head).is_dir() and f"{base}{head}".isprintable():
            line = shlex.join(["vesselspec", command, base, ".", head])
            raise RevisionError(error.reason, f"It is a folder. To judge the files in it, type: {line}") from None
        raise


def _before(
    repository: Repository, start: Commit, after: Snapshot, folders: Callable[[], Container[PurePosixPath]]
) -> tuple[Snapshot, str]:
    """The earlier state, and in which folder it lay if in another one, in words.

    A folder that was given another name since is told by this: of all vessels that were there and are in none of the
    `folders` of now, one has the vessel's name.
    """
    snapshot = repository.snapshot(start.id)
    if snapshot.has_vessel or snapshot.problems or (vessel := state_of(after).record.vessel) is None:
        return snapshot, ""
    now = folders()
    gone = {each: repository.with_folder(each).snapshot(start.id) for each in repository.vessels(start.id)}
    found = [
        (earlier, f", then in {shown(str(folder))}")
        for folder, earlier in gone.items()
        if folder not in now
        and (was := state_of(earlier).record.vessel) is not None
        and was.about.name == vessel.about.name
    ]
    return found[0] if len(found) == 1 else (snapshot, "")


def _folders(repository: Repository, end: Commit | None) -> Container[PurePosixPath]:
    """Where vessels are at a commit, or on disk."""
    if end is not None:
        return repository.vessels(end.id)
    top = repository.place.work_tree or Path()
    return [each for each in repository.vessels("HEAD") if (top / each / MARKER).exists()]


def _staged_folders(index: Staged) -> Container[PurePosixPath]:
    """Where vessels are in what is staged."""
    before, after = index.vessels()
    return ({*index.repository.vessels("HEAD")} - {*before}) | {*after}


def _called(snapshot: Snapshot, ref: str | None, commit: Commit | None, *, forked: bool = False) -> str:
    if commit is None or ref is None:
        return snapshot.name
    called = "" if len(ref) >= _TYPED_ID and commit.id.startswith(ref.lower()) else ref
    called = f"where it branched off {ref}" if forked else called
    return f"{called} ({commit.short})" if called else commit.short


def _reasons(repository: Repository, base: str, head: str) -> tuple[Reason, ...]:
    from vesselspec.changes import Reason

    return tuple(
        Reason(commit.id, commit.when.date().isoformat(), commit.author, commit.subject, commit.body)
        for commit in repository.commits(base, head)
    )
