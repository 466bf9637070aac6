"""What is staged, judged vessel by vessel: `vesselspec guard --check`."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace
from pathlib import PurePosixPath

from vesselspec.changes import Side, side
from vesselspec.changes.review import findings_only
from vesselspec.cli.common import State, earlier_state, state_of
from vesselspec.cli.status import status
from vesselspec.record import Memory
from vesselspec.report.guard import Guarded
from vesselspec.revisions import Repository, Snapshot, Staged
from vesselspec.revisions.staged import NOTHING
from vesselspec.rules.book import failed

#: Revisions that are read back for the last record that can be understood.
_BACK = 100


def judge_staged(index: Staged, on: datetime.date, fail_on: str) -> tuple[Guarded, ...]:
    """Judge every vessel whose record the next commit would change."""
    before, after = index.vessels()
    gone = {folder: _at_head(index, folder) for folder in before if folder not in after}
    found: list[Guarded] = []
    for folder in after:
        earlier, later = _at_head(index, folder), index.snapshot(folder)
        if _same(earlier, later):
            continue
        moved = next((old for old, snapshot in gone.items() if folder not in before and _same(snapshot, later)), None)
        if moved is not None:
            del gone[moved]
            continue
        renamed = [old for old, snapshot in gone.items() if folder not in before and _name(snapshot) == _name(later)]
        if len(renamed) == 1:
            earlier = gone.pop(renamed[0])
        judged = _judged(index, folder, earlier, later, on, fail_on)
        found += [judged] if judged is not None else []
    found += [Guarded(str(folder), None, 0) for folder in gone]
    return tuple(found)


def _at_head(index: Staged, folder: PurePosixPath) -> Snapshot:
    if not index.parents:
        return NOTHING
    return index.repository.with_folder(folder).snapshot(index.parents[0].id)


def _same(one: Snapshot, other: Snapshot) -> bool:
    return one.blobs == other.blobs and one.problems == other.problems


def _name(snapshot: Snapshot) -> object:
    """The name of a snapshot's vessel; like no other's where it cannot be understood."""
    vessel = state_of(snapshot).record.vessel if snapshot.has_vessel else None
    return vessel.about.name if vessel is not None else object()


def _judged(
    index: Staged, folder: PurePosixPath, earlier: Snapshot, later: Snapshot, on: datetime.date, fail_on: str
) -> Guarded | None:
    """The judgement of one vessel; None where only comments or order are different."""
    memory = Memory()
    repository = index.repository.with_folder(folder)
    after = state_of(later, memory)
    before = earlier_state(earlier, later, memory)
    if after.record.vessel is not None and before.record.vessel == after.record.vessel:
        return None
    if before.record.vessel is None and after.record.vessel is not None:
        before = _last_understood(repository, memory) or before
    now = side(after.name, after.record, on)
    others = (earlier_state(repository.snapshot(each.id), later, memory) for each in index.parents[1:])
    sides = [side(state.name, state.record, on) for state in (before, *others)]
    first, *also = (findings_only(each, now) for each in sides)
    found = replace(first, also=tuple(also))
    words = [finding.signal_word for finding in found.counting]
    crashed = any(any(failed(each.survey)) for each in _judgeable(now, *sides))
    return Guarded(
        str(folder), found, status(words, fail_on=fail_on, understood=now.boat is not None, rule_failed=crashed)
    )


def _judgeable(*sides: Side) -> Iterator[Side]:
    return (each for each in sides if each.boat is not None)


def _last_understood(repository: Repository, memory: Memory) -> State | None:
    """The last state before that can be understood: what hides what it brings is not held against who mends it."""
    for step in repository.steps("HEAD")[:_BACK]:
        snapshot = repository.at_step(step)
        if snapshot.has_vessel and (state := state_of(snapshot, memory)).record.vessel is not None:
            return state
    return None
