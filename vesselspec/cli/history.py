"""The revisions of a vessel's record for a command that looks back through them: read once each, judged once each."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace

from vesselspec.changes.loads import Loads, loads_of
from vesselspec.changes.scope import Key, Near, entries_near
from vesselspec.changes.walk import Node, Walk
from vesselspec.cli.common import State, state_of
from vesselspec.cli.progress import Progress
from vesselspec.model.vessel import Vessel
from vesselspec.record import Memory, Place, Places, Problem, Record
from vesselspec.revisions import WORK_TREE, Commit, Repository, RevisionError, Snapshot, Step
from vesselspec.revisions.values import MARKER, SUFFIX
from vesselspec.rules import Boat, Finding, survey
from vesselspec.rules.book import failed

#: Steps whose files are asked of git in one go.
_AHEAD = 512
#: Records kept: a state is looked at as the later one and then as the earlier one, seldom again.
_RECORDS = 16
#: Files of which it is kept what they say of what is asked for.
_SAID = 64


class History:
    """All revisions that lead to one, and what is known of each."""

    def __init__(self, repository: Repository, at: str | None) -> None:
        self.repository = repository
        self.steps = {step.commit.id: step for step in repository.steps(at or "HEAD")}
        self._order = list(self.steps)
        self._position = {revision: position for position, revision in enumerate(self._order)}
        on_disk = _on_disk(repository) if at is None else None
        #: The revision that all leads to; None for the files on disk.
        self.at = at if on_disk is not None else at or "HEAD"
        newest = next(iter(self.steps.values()), None)
        same = on_disk is None or (newest is not None and repository.at_step(newest).blobs == on_disk.blobs)
        self.on_disk = None if same else on_disk
        self.crashed = False
        self._fetched = 0
        self._memory = Memory()
        self._records: OrderedDict[object, Record] = OrderedDict()
        self._said: OrderedDict[tuple[str, Near], Mapping[Key, object] | None] = OrderedDict()
        self._judged: list[tuple[Vessel, frozenset[str] | None, tuple[Finding, ...]]] = []
        self._findings: dict[object, tuple[Finding, ...]] = {}
        self._loads: dict[tuple[object, bool], Loads] = {}
        self._surveys = 0
        self._progress = Progress()
        nodes = [Node(step.commit.id, step.parents, _record_files(step), step.begins) for step in self.steps.values()]
        if self.on_disk is not None:
            nodes.insert(0, Node("", tuple(self._order[:1]), self.on_disk.blobs))
        self.walk = Walk(nodes, self.record, self.says)

    def commit(self, revision: str) -> Commit | None:
        """The commit of a revision; None for files that are not committed."""
        return self.steps[revision].commit if revision else None

    def snapshot(self, revision: str) -> Snapshot:
        """The files at a revision."""
        if not revision and self.on_disk is not None:
            return self.on_disk
        position = self._position[revision]
        if position >= self._fetched:
            ahead = [self.steps[each] for each in self._order[position : position + _AHEAD]]
            self._fetched = position + self.repository.fetch(ahead)
        return self.repository.at_step(self.steps[revision])

    def record(self, revision: str) -> Record:
        """The record at a revision. One without a vessel cannot be understood."""
        key = self._key(revision)
        if key in self._records:
            self._records.move_to_end(key)
            return self._records[key]
        snapshot = self.snapshot(revision)
        if snapshot.has_vessel or snapshot.problems:
            record = state_of(snapshot, self._memory).record
        else:
            gone = Problem(Place(MARKER), f"there is no {MARKER}", "the vessel's record", "")
            record = Record(None, Places(), (gone,))
        self._records[key] = record
        if len(self._records) > _RECORDS:
            self._records.popitem(last=False)
        self._progress.tell(f"read back to {revision[:10]}")
        return record

    def says(self, blob: str, near: Near) -> Mapping[Key, object] | None:
        """What a file says in the entries that are near; None if it cannot be understood by itself."""
        content = self.repository.held(blob)
        if content is None:
            return None
        # Only a backslash can hide an id from this look.
        ids = near.heads | {name for _, name in near.entries}
        if b"\\" not in content and not any(each.encode() in content for each in ids):
            return {}
        if (blob, near) not in self._said:
            self._said[blob, near] = entries_near(content, near)
            if len(self._said) > _SAID:
                self._said.popitem(last=False)
        return self._said[blob, near]

    def findings(self, revision: str) -> tuple[Finding, ...]:
        """What the rules say at a revision that can be understood; concessions, which depend on the day, aside."""
        key = self._key(revision)
        if key not in self._findings:
            record = self.record(revision)
            boat = record.vessel
            if boat is None:
                return ()
            # A change of comments or of order changes no finding.
            same = next((said for was, names, said in self._judged if names == record.names and was == boat), None)
            if same is None:
                self._surveys += 1
                self._progress.tell(f"judged {self._surveys} of at most {len(self.walk.nodes)} revisions")
                found = survey(Boat(boat, record.places, record.names))
                self.crashed |= any(failed(found))
                same = found.findings
                self._judged = [(boat, record.names, same), *self._judged[:2]]
            self._findings[key] = same
        return self._findings[key]

    def loads(self, revision: str, *, feeders: bool) -> Loads:
        """What sources (and section feeders) carry at a revision; worked out once for each content of the record."""
        key = (self._key(revision), feeders)
        if key not in self._loads:
            record = self.record(revision)
            if record.vessel is None:
                return Loads()
            self._loads[key] = loads_of(Boat(record.vessel, record.places), sections=feeders)
            self._progress.tell(f"summed up the loads of {len(self._loads)} revisions")
        return self._loads[key]

    def state(self) -> State:
        """The state that all leads to."""
        if self.at is not None:
            return state_of(self.repository.snapshot(self.at), self._memory)
        return state_of(self.on_disk or replace(self.snapshot(self._order[0]), name=WORK_TREE, commit=None))

    def close(self) -> None:
        """Clear the line that told how far it is."""
        self._progress.clear()

    def _key(self, revision: str) -> object:
        if not revision and self.on_disk is not None:
            names = self.on_disk.names
        else:
            names = frozenset(each.path for each in self.steps[revision].listing.values())
        return tuple(sorted(self.walk.at[revision].files.items())), names


def _record_files(step: Step) -> Mapping[str, str]:
    return {each.path: each.blob for each in step.listing.values() if each.path.endswith(SUFFIX)}


def _on_disk(repository: Repository) -> Snapshot | None:
    """The files on disk, if the vessel is there."""
    if repository.place.work_tree is None:
        return None
    try:
        found = repository.work_tree()
    except RevisionError:
        return None  # not checked out: what is committed is told
    return found if found.has_vessel or found.problems else None
