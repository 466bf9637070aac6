"""The way back through the revisions of a record, reading only those that can tell something of what is asked for."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from vesselspec.changes.compare import renamed
from vesselspec.changes.logbook import Visit, asked, done
from vesselspec.changes.review import empty_vessel
from vesselspec.changes.scope import Key, Near, earlier, near
from vesselspec.model.vessel import Vessel
from vesselspec.record import Record


@dataclass(frozen=True)
class Node:
    """A revision that changed the files of the vessel."""

    id: str
    #: Revisions that it follows, the first one first.
    parents: tuple[str, ...]
    #: File → identity of its content.
    files: Mapping[str, str]
    #: Whether what came before is not known: a shallow clone begins here.
    begins: bool = False


@dataclass
class Walk:
    """One way back from a revision. Nodes come newest first, none after one that it follows."""

    nodes: Sequence[Node]
    #: The record at a revision.
    read: Callable[[str], Record]
    #: What a file (by the identity of its content) says in the entries that are near, as plain data; None where the
    #: file cannot be understood by itself.
    says: Callable[[str, Near], Mapping[Key, object] | None]
    at: dict[str, Node] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self.at = {node.id: node for node in self.nodes}

    def vessel(self, revision: str) -> Vessel | None:
        """The boat at a revision, if its record can be understood."""
        return self.read(revision).vessel

    def base(self, parent: str | None) -> tuple[str | None, tuple[str, ...]]:
        """The nearest revision, from a parent on, whose record can be understood, and those passed over."""
        over = []
        while parent is not None and self.at[parent].files and self.vessel(parent) is None:
            over.append(parent)
            parent = next(iter(self.at[parent].parents), None)
        return (parent if parent is not None and self.at[parent].files else None), tuple(over)

    def visits(self, named: frozenset[Key] | None) -> tuple[Visit, ...]:
        """What each revision did to the named entries and what belongs to them (None: to everything), newest first.

        Left out are revisions that did nothing to them. An entry is followed back through every rename.
        """
        return _Pass(self, named).visits() if named is not None else tuple(self._whole())

    def visits_after(self, days: Mapping[str, datetime.date], last: datetime.date) -> Iterator[Visit]:
        """What each revision did to everything, newest first, as long as one of a day after `last` may follow.

        `days` has the day of each revision.
        """
        latest = [datetime.date.min]
        for node in reversed(self.nodes):
            latest.append(max(latest[-1], days.get(node.id, datetime.date.max)))
        for node, newest in zip(self.nodes, reversed(latest[1:]), strict=True):
            if newest <= last:
                return
            yield self.visit(node, None)[0]

    def _whole(self) -> list[Visit]:
        return [self.visit(node, None)[0] for node in self.nodes]

    def visit(
        self, node: Node, named: frozenset[Key] | None, gone: frozenset[Key] = frozenset()
    ) -> tuple[Visit, dict[str, frozenset[Key]]]:
        """A visit, and what the named entries are called in each revision that it follows.

        `gone` is sought under its own id throughout, whatever it went by later.
        """
        record = self.read(node.id)
        after = record.vessel
        if after is None:
            return Visit(node.id, next(iter(node.parents), None), problems=record.problems), {}
        base, over = self.base(next(iter(node.parents), None))
        before = self.vessel(base) if base is not None else None
        if node.begins:
            return Visit(node.id, None, first=True), {}
        start = before or empty_vessel(after)
        beside = {at: boat for parent in node.parents[1:] if (at := self.base(parent)[0]) and (boat := self.vessel(at))}
        names: dict[str, frozenset[Key]] = {}
        of = None
        if named is not None:
            behind = {**beside, **({base: start} if base is not None else {})}
            names = {at: earlier(named, renamed(boat, after)) | gone for at, boat in behind.items()}
            of = asked(start, after, named, names.get(base or "", named))
        visit = Visit(node.id, base, over, before is None, done(start, after, of, tuple(beside.values())))
        return visit, names


class _Pass:
    """One way back for some entries."""

    def __init__(self, walk: Walk, named: frozenset[Key]) -> None:
        self.walk = walk
        #: What the entries are called in a revision, as those that follow it say.
        self.named: defaultdict[str, frozenset[Key]] = defaultdict(frozenset)
        self.near: defaultdict[str, Near] = defaultdict(lambda: Near(frozenset(), frozenset()))
        self.found: dict[str, Visit] = {}
        #: Revisions that said nothing to the matter and were not read.
        self.skipped: set[str] = set()
        #: Revisions that cannot be understood between two that told something.
        self.over: set[str] = set()
        self.followers: defaultdict[str, list[str]] = defaultdict(list)
        for node in walk.nodes:
            if node.parents:
                self.followers[node.parents[0]].append(node.id)
        newest = walk.nodes[0].id if walk.nodes else None
        boat = walk.vessel(newest) if newest is not None else None
        there = {(collection, path) for collection, path, _ in boat.items()} if boat is not None else set()
        self.gone = named if named.isdisjoint(there) else frozenset()
        if newest is not None:
            self._pass_on(newest, named)

    def visits(self) -> tuple[Visit, ...]:
        for node in self.walk.nodes:
            close = self.near[node.id]
            if node.id in self.over and self._matters(node, close):
                self.found[node.id] = self.walk.visit(node, None)[0]
            if not self.named[node.id]:
                continue
            if len(node.parents) > 1 or self._matters(node, close):
                self._look(node)
            else:
                self.skipped.add(node.id)
                for parent in node.parents:
                    self.named[parent] |= self.named[node.id]
                    self.near[parent] |= close
        return tuple(self.found[node.id] for node in self.walk.nodes if node.id in self.found)

    def _matters(self, node: Node, close: Near) -> bool:
        """Whether a revision can have changed anything that is near."""
        files = self.walk.at[node.parents[0]].files if node.parents else {}
        before = self._said(files.items() - node.files.items(), close)
        after = self._said(node.files.items() - files.items(), close)
        return before is None or after is None or before != after

    def _said(self, files: Iterable[tuple[str, str]], close: Near) -> dict[Key, object] | None:
        """The entries in some files that are near; None where that cannot be told without the record."""
        found: dict[Key, object] = {}
        for _, content in files:
            said = self.walk.says(content, close)
            if said is None or not found.keys().isdisjoint(said):
                return None
            found |= said
        return found

    def _look(self, node: Node) -> None:
        visit, names = self.walk.visit(node, self.named[node.id], self.gone)
        if visit.problems:
            self.found[node.id] = visit
            self._catch_up(node.id)
            return
        if visit.done or (visit.first and self._there(node.id)):
            self.found[node.id] = visit
        for passed in visit.over:
            self.over.add(passed)
            self.near[passed] |= self.near[node.id]
        for at, keys in names.items():
            self._pass_on(at, keys)

    def _there(self, revision: str) -> bool:
        boat = self.walk.vessel(revision)
        keys = self.named[revision]
        return boat is not None and any((collection, path) in keys for collection, path, _ in boat.items())

    def _catch_up(self, revision: str) -> None:
        """What a revision that cannot be understood changed is told where the record can be understood again."""
        for follower in self.followers[revision]:
            if follower in self.skipped:
                self.skipped.discard(follower)
                self._look(self.walk.at[follower])

    def _pass_on(self, revision: str, keys: frozenset[Key]) -> None:
        self.named[revision] |= keys
        self.near[revision] |= near(self.walk.vessel(revision), keys)
