"""What a logbook tells, and how each part of it is said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from vesselspec.changes.compare import ADDED
from vesselspec.changes.loads import LoadEffect
from vesselspec.changes.logbook import Renewed, Unverified, Visit
from vesselspec.changes.scope import Key
from vesselspec.changes.since import Judged, Since
from vesselspec.model.items import Evidence
from vesselspec.rules import Finding

_MOST_ROWS = 30
NOT_COMMITTED = "not committed"
FOOT = "For what a change did to protection and potentials: vesselspec review --direct BEFORE AFTER."


@dataclass(frozen=True)
class Revision:
    """Who made a revision, when, and in what words; all of it as written."""

    id: str
    short: str
    #: Empty where it is not committed.
    date: str
    author: str
    subject: str
    merge: bool = False


@dataclass(frozen=True)
class Entry:
    """One revision with what it did."""

    revision: Revision
    visit: Visit
    judged: Judged | None
    #: What it did to the loads, largest first; None where there is nothing to hold it to.
    loads: tuple[LoadEffect, ...] | None = None


@dataclass(frozen=True)
class Logbook:
    """All that a page tells."""

    vessel: str
    #: The state that it leads to, with revision and date.
    state: str
    #: What it is of: in words, as it was asked for (empty: the whole boat), and its entry if it is there now.
    subject: str
    asked_of: str
    key: Key | None
    entries: tuple[Entry, ...]
    unverified: tuple[Unverified, ...]
    #: Findings of now; None where they were not asked for.
    since: tuple[Since, ...] | None
    revisions: dict[str, Revision]
    #: What the entries begin after, as it was asked for and in words; empty for the whole history.
    asked_since: str = ""
    begins_after: str = ""
    #: The line to type where the clone is shallow.
    fetch: str = ""


def cleared_before(book: Logbook, since: Since) -> list[str]:
    """Revisions told of that cleared the same finding before it came again."""
    return [
        entry.revision.id
        for entry in book.entries
        for each in (entry.judged.cleared if entry.judged is not None else ())
        if each.fingerprint == since.finding.fingerprint
    ]


def to_do(each: Unverified) -> str:
    """What to do about a change that nobody has looked at, in one sentence without a full stop."""
    fields = list(dict.fromkeys(field.split("/")[0].replace("_", " ") for field in each.fields))
    what = "that it is there as recorded" if each.kind == ADDED else ", ".join(fields)
    return f"on board, check {what}; correct the record where it differs, and renew its evidence"


def evidence_words(evidence: Evidence | None) -> str:
    """Evidence in words."""
    if evidence is None:
        return "no evidence recorded"
    by = f" by {evidence.by}" if evidence.by else ""
    when = f" on {evidence.when.isoformat()}" if evidence.when is not None else ", day not recorded"
    return f"{evidence.how}{by}{when}"


def unverified_words(book: Logbook, each: Unverified) -> str:
    """One entry that nobody has looked at since it was changed."""
    revision = book.revisions[each.changed]
    kind = each.kind if each.kind in ("added", "renamed") else "changed"
    at = f"{kind} {revision.date} in {revision.short}" if revision.date else f"{kind}, {NOT_COMMITTED}"
    return f"{each.id}: {at}; {evidence_words(each.evidence)}. To do: {to_do(each)}."


def since_words(book: Logbook, each: Since) -> str:
    """Since when a finding is there."""
    revision = book.revisions[each.brought]
    if each.first:
        began = "this shallow clone begins" if book.fetch else "the record begins"
        return f"since {began}: {_who(revision)}"
    words = f"since {_who(revision)}"
    if each.perhaps:
        shorts = ", ".join(book.revisions[one].short for one in each.perhaps)
        words += f"; or since {shorts}, which cannot be understood"
    if gone := cleared_before(book, each):
        words += f"; was there before, cleared in {', '.join(book.revisions[one].short for one in gone)}"
    return words


def _who(revision: Revision) -> str:
    if not revision.date:
        return f"the files on disk, {NOT_COMMITTED}"
    return f"{revision.date}, {revision.short}, {revision.author}: {revision.subject}"


def by_evidence(renewed: Sequence[Renewed]) -> Iterator[tuple[str, list[str]]]:
    """Renewed evidence, gathered: (the evidence in words, ids)."""
    found: dict[str, list[str]] = {}
    for each in renewed:
        found.setdefault(evidence_words(each.evidence), []).append(each.id)
    yield from found.items()


def head_words(book: Logbook) -> str:
    """What the page is."""
    return f"Logbook of {book.subject} on {book.vessel}, {book.state}"


def notes(book: Logbook) -> list[str]:
    """What to know before reading: the span, and where the history is cut off."""
    many = len(book.entries)
    span = f" after {book.begins_after}" if book.begins_after else ""
    found = [f"{many} {'entry' if many == 1 else 'entries'}{span}, newest first."]
    if book.fetch:
        found.append(f"This clone is shallow: what was before its oldest commit is not told. Type: {book.fetch}")
    return found


def visit_notes(book: Logbook, entry: Entry) -> list[str]:
    """What to know of one entry beside its changes."""
    visit, found = entry.visit, list[str]()
    if visit.problems:
        found.append("The record of this revision cannot be understood; what it changed is told where it can again.")
    elif visit.first and visit.base is None and not visit.done:
        found.append("This shallow clone begins here; what was before is not told.")
    elif not visit.done:
        found.append("No entry of the record differs.")
    if visit.over:
        shorts = ", ".join(book.revisions[each].short for each in visit.over)
        found.append(f"Told together with {shorts}, whose record cannot be understood.")
    if visit.done.brought:
        many = visit.done.brought
        found.append(f"Brings in {many} change{'s' if many != 1 else ''} of a side branch, told where made.")
    return found


def changes_of(entry: Entry) -> list[str]:
    """The changes of an entry as sentences; the beginning of a whole record is counted instead."""
    changes = entry.visit.done.changes
    if entry.visit.first and len(changes) > _MOST_ROWS and all(each.kind == ADDED for each in changes):
        counts: dict[str, int] = {}
        for each in changes:
            counts[each.collection] = counts.get(each.collection, 0) + 1
        spoken = (f"{count} {name if count > 1 else name[:-1]}".replace("_", " ") for name, count in counts.items())
        return [f"recorded for the first time: {', '.join(spoken)}"]
    return [each.what for each in changes]


def finding_words(finding: Finding) -> str:
    """A finding in one line."""
    return f"{finding.signal_word} {finding.rule}: {finding.message}"


def elsewhere(judged: Judged) -> str:
    """How many findings came or went elsewhere, in words."""
    many = judged.elsewhere
    return f"{many} finding{'s' if many != 1 else ''} new or cleared elsewhere on board"


def few(items: Sequence[str]) -> list[str]:
    """As many as a page can hold, and how many more there are."""
    more = len(items) - _MOST_ROWS
    return [*items[:_MOST_ROWS], *([f"and {more} more; --output json lists all"] if more > 0 else [])]
