"""What one revision did to the boat, told entry by entry, and which changes nobody has looked at on board since."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from vesselspec.changes.compare import CHANGED, REMOVED, Change, compare
from vesselspec.changes.scope import Key, belonging
from vesselspec.changes.words import SAID_ABOUT, kind_of, tell
from vesselspec.model.items import Evidence
from vesselspec.model.vessel import Vessel
from vesselspec.record import Problem
from vesselspec.rules.past import SEEN, Altered, holders

#: Ways of knowing for which somebody was on board; the others are paper and guesses.
ON_BOARD = ("measured", "traced", "labelled")
ON_PAPER = ("documented", "assumed")


@dataclass(frozen=True)
class Told:
    """One change in trade words."""

    kind: str
    collection: str
    id: str
    before_id: str
    what: str
    #: What of the boat changed, by field; empty where the change is only in what is said about the entry.
    fields: tuple[str, ...]


@dataclass(frozen=True)
class Renewed:
    """An entry whose evidence was renewed, or given with the entry itself."""

    collection: str
    id: str
    evidence: Evidence
    was: str | None

    @property
    def on_board(self) -> bool:
        """Whether somebody was on board for it."""
        return self.evidence.how in ON_BOARD


@dataclass(frozen=True)
class Done:
    """What one revision did, as far as it was asked for."""

    changes: tuple[Told, ...] = ()
    renewed: tuple[Renewed, ...] = ()
    #: Changes of a merge that one of its side branches made; they are told there.
    brought: int = 0

    def __bool__(self) -> bool:
        return bool(self.changes or self.renewed or self.brought)


@dataclass(frozen=True)
class Asked:
    """The entries that a logbook is of, in the state after a revision and in the one before it."""

    after: frozenset[Key]
    before: frozenset[Key]


def asked(before: Vessel, after: Vessel, named: frozenset[Key], was: frozenset[Key]) -> Asked:
    """The entries of some names (after a revision, and as they were before it) and all that belongs to them."""
    return Asked(belonging(after, named), belonging(before, was))


def done(before: Vessel, after: Vessel, of: Asked | None = None, beside: Sequence[Vessel] = ()) -> Done:
    """What the step from one state to another did; to everything where `of` is None.

    `beside` are the other parents of a merge: what is as in one of them was done there.
    """
    changes = [each for each in compare(before, after) if of is None or _concerns(each, of)]
    others = [{(each.collection, each.id) for each in compare(other, after)} for other in beside if changes]
    own = [each for each in changes if all((each.collection, each.id) in other for other in others)]
    entries = {(collection, path): item for collection, path, item in after.items()} if own else {}
    told, renewed = [], []
    for change in own:
        item = entries.get((change.collection, change.id))
        field = change.field("evidence")
        if field is not None and field.after is not None and item is not None and item.evidence is not None:
            renewed.append(Renewed(change.collection, change.id, item.evidence, field.before))
            if change.kind == CHANGED and len(change.fields) == 1:
                continue
        told.append(_told(change, before, after))
    return Done(tuple(told), tuple(renewed), len(changes) - len(own))


def _concerns(change: Change, of: Asked) -> bool:
    return (change.collection, change.id) in of.after or (change.collection, change.before_id) in of.before


def _told(change: Change, before: Vessel, after: Vessel) -> Told:
    fields = tuple(each.key for each in change.fields if each.key.split("/", maxsplit=1)[0] not in SAID_ABOUT)
    # Evidence that somebody gave is told apart from what changed.
    kept = tuple(each for each in change.fields if each.key != "evidence" or each.after is None)
    sentence = tell(replace(change, fields=kept), before, after)
    return Told(kind_of(change), change.collection, change.id, change.before_id, sentence, fields)


@dataclass(frozen=True)
class Visit:
    """One revision in a logbook."""

    #: The revision; empty for files that are not committed.
    id: str
    #: The revision that it is compared with: its first parent, or the last one before it that can be understood.
    base: str | None
    #: Revisions between the two that cannot be understood: what they changed is told here.
    over: tuple[str, ...] = ()
    #: Whether nothing is known of what was before: the record, or a shallow clone, begins here.
    first: bool = False
    done: Done = Done()
    #: Why the revision itself cannot be understood; nothing is told of it then.
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Unverified:
    """An entry that was changed, and that nobody has looked at on board since for all that is recorded."""

    collection: str
    id: str
    #: The revision that changed it last.
    changed: str
    kind: str
    fields: tuple[str, ...]
    #: What the record gives for it now: its own evidence, or that of the section or panel that holds it.
    evidence: Evidence | None

    @property
    def why(self) -> str:
        """none: nobody says how it is known; on-paper: known from documents or assumed; older: seen before."""
        if self.evidence is None:
            return "none"
        return "older" if self.evidence.how in ON_BOARD else "on-paper"


def unverified(
    vessel: Vessel, visits: Iterable[Visit], days: Mapping[str, datetime.date], only: frozenset[Key] | None = None
) -> tuple[Unverified, ...]:
    """Entries whose last change is newer than what is known of them from on board, in the order of the record.

    `visits` newest first, `days` the day of each revision. A change counts as looked at if evidence from on board is
    given with it or after it, or bears its day or a later one. How the record or a shallow clone begins is no change.
    """
    return _changed_since(vessel, visits, days, only, ON_BOARD)


def altered(vessel: Vessel, visits: Iterable[Visit], days: Mapping[str, datetime.date]) -> tuple[Altered, ...]:
    """Entries that were changed after their evidence, whatever it is; those without any are not among them.

    `visits` newest first, `days` the day of each revision, that of uncommitted files included.
    """
    ways = (*ON_BOARD, *ON_PAPER)
    found = ((each, days.get(each.changed)) for each in _changed_since(vessel, visits, days, None, ways))
    return tuple(
        Altered(each.collection, each.id, each.fields, each.changed, day, each.evidence)
        for each, day in found
        if each.evidence is not None
    )


def _changed_since(
    vessel: Vessel,
    visits: Iterable[Visit],
    days: Mapping[str, datetime.date],
    only: frozenset[Key] | None,
    ways: tuple[str, ...],
) -> tuple[Unverified, ...]:
    """Entries whose last change is newer than evidence of these ways of knowing."""
    entries = {(collection, path): item for collection, path, item in vessel.items() if collection in SEEN}
    gives = {key: next((at for at in holders(*key) if entries[at].evidence is not None), key) for key in entries}
    called_now = {key: key for key in entries}  # what it was called at this point of the way back → now
    waiting = {key for key in entries if only is None or key in only}
    found: dict[Key, Unverified] = {}
    for visit in visits:
        if not waiting:
            break
        if visit.first:
            continue
        seen = {called_now.get((each.collection, each.id)) for each in visit.done.renewed if each.evidence.how in ways}
        waiting = {key for key in waiting if gives[key] not in seen}
        renames: dict[Key, Key] = {}
        for change in visit.done.changes:
            entry = called_now.get((change.collection, change.id))
            if entry is None or change.kind == REMOVED:
                continue
            if entry in waiting and change.fields:
                waiting.discard(entry)
                evidence = entries[gives[entry]].evidence
                if not _seen_since(evidence, days.get(visit.id), ways):
                    found[entry] = Unverified(*entry, visit.id, change.kind, change.fields, evidence)
            if change.before_id != change.id:
                renames[change.collection, change.before_id] = entry
        called_now |= renames
    return tuple(found[key] for key in entries if key in found)


def _seen_since(evidence: Evidence | None, day: datetime.date | None, ways: tuple[str, ...]) -> bool:
    if evidence is None or evidence.when is None or day is None:
        return False
    return evidence.how in ways and evidence.when >= day
