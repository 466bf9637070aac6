"""A logbook as terminal text, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from vesselspec.changes.compare import ADDED
from vesselspec.changes.loads import LoadEffect
from vesselspec.changes.logbook import ON_BOARD, Renewed, Unverified, Visit
from vesselspec.changes.scope import Key
from vesselspec.changes.since import Judged, Since
from vesselspec.model.items import Evidence
from vesselspec.record import Problem
from vesselspec.report.logbook_loads import load_json, load_words
from vesselspec.report.markdown import code, escape, quoted
from vesselspec.report.survey import FORMAT, finding_json, problem_json
from vesselspec.report.terminal import CAUTIONS, Page, one_line
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


def logbook_json(book: Logbook) -> dict[str, Any]:
    """For machines: schema/logbook.schema.json."""
    key = book.key
    return {
        "format": FORMAT,
        "kind": "logbook",
        "vessel": book.vessel,
        "state": book.state,
        "understood": True,
        "of": {"asked": book.asked_of, "collection": key[0] if key else None, "id": key[1] if key else None}
        if book.asked_of
        else None,
        "since": {"asked": book.asked_since, "begins_after": book.begins_after} if book.asked_since else None,
        "shallow": bool(book.fetch),
        "entries": [_entry_json(each) for each in book.entries],
        "unverified": [_unverified_json(book, each) for each in book.unverified],
        "findings": None if book.since is None else [_since_json(book, each) for each in book.since],
        "problems": [],
        "cautions": list(CAUTIONS),
    }


def problems_json(vessel: str, state: str, problems: Sequence[Problem]) -> dict[str, Any]:
    """A record that cannot be understood, for machines; same shape as a logbook."""
    book = Logbook(vessel, state, "", "", None, (), (), None, {})
    return {**logbook_json(book), "understood": False, "problems": [problem_json(each) for each in problems]}


def _entry_json(entry: Entry) -> dict[str, Any]:
    visit, judged = entry.visit, entry.judged
    return {
        **_revision_json(entry.revision),
        "merge": entry.revision.merge,
        "compared_with": visit.base,
        "includes_not_understood": list(visit.over),
        "first": visit.first,
        "understood": not visit.problems,
        "problems": [problem_json(problem) for problem in visit.problems],
        "changes": [
            {
                "kind": each.kind,
                "collection": each.collection,
                "id": each.id,
                "before_id": each.before_id,
                "what": each.what,
                "fields": list(each.fields),
            }
            for each in visit.done.changes
        ],
        "evidence": [
            {"collection": each.collection, "id": each.id, "now": _evidence_json(each.evidence), "was": each.was}
            for each in visit.done.renewed
        ],
        "told_at_side_branches": visit.done.brought,
        "loads": load_json(entry.loads),
        "findings": None
        if judged is None
        else {
            "new": [finding_json(each) for each in judged.new],
            "cleared": [finding_json(each) for each in judged.cleared],
            "elsewhere": judged.elsewhere,
        },
    }


def _revision_json(revision: Revision) -> dict[str, Any]:
    return {
        "commit": revision.id or None,
        "date": revision.date or None,
        "author": revision.author or None,
        "subject": revision.subject or None,
    }


def _evidence_json(evidence: Evidence | None) -> dict[str, Any] | None:
    if evidence is None:
        return None
    when = evidence.when.isoformat() if evidence.when is not None else None
    return {"how": evidence.how, "by": evidence.by, "when": when, "on_board": evidence.how in ON_BOARD}


def _unverified_json(book: Logbook, each: Unverified) -> dict[str, Any]:
    return {
        "collection": each.collection,
        "id": each.id,
        "changed": _revision_json(book.revisions[each.changed]),
        "kind": each.kind,
        "fields": list(each.fields),
        "evidence": _evidence_json(each.evidence),
        "why": each.why,
        "to_do": to_do(each),
    }


def _since_json(book: Logbook, each: Since) -> dict[str, Any]:
    return {
        "finding": finding_json(each.finding),
        "since": _revision_json(book.revisions[each.brought]),
        "first": each.first,
        "perhaps_since": list(each.perhaps),
        "cleared_before_by": cleared_before(book, each),
    }


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


def _elsewhere(judged: Judged) -> str:
    many = judged.elsewhere
    return f"{many} finding{'s' if many != 1 else ''} new or cleared elsewhere on board"


def _few(items: Sequence[str]) -> list[str]:
    more = len(items) - _MOST_ROWS
    return [*items[:_MOST_ROWS], *([f"and {more} more; --output json lists all"] if more > 0 else [])]


# --- terminal -----------------------------------------------------------------------------------


def logbook_text(page: Page, book: Logbook) -> str:
    """A logbook for a terminal."""
    page.wrapped(one_line(head_words(book)))
    for note in notes(book):
        page.wrapped(note)
    page.line()
    for entry in book.entries:
        _entry_lines(page, book, entry)
    if book.unverified:
        page.line("Changed, and not looked at on board since")
        for each in book.unverified:
            page.wrapped(one_line(unverified_words(book, each)), first="  ? ", rest="    ")
        page.line()
    if book.since is not None:
        page.line("Since when the findings of now are there, concessions aside")
        for found in book.since:
            page.line(f"  {page.word(found.finding.signal_word)} {found.finding.rule}")
            page.wrapped(one_line(found.finding.message), first="      ")
            page.wrapped(one_line(since_words(book, found)), first="      ")
        if not book.since:
            page.line("  none")
        page.line()
    page.wrapped(FOOT)
    page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def _entry_lines(page: Page, book: Logbook, entry: Entry) -> None:
    revision = entry.revision
    page.wrapped(one_line(f"{revision.date or NOT_COMMITTED}  {revision.short}  {revision.author}".rstrip()))
    if revision.subject:
        page.wrapped(one_line(revision.subject), first="    ")
    for note in visit_notes(book, entry):
        page.wrapped(note, first="    ")
    for problem in entry.visit.problems[:3]:
        page.wrapped(one_line(f"{problem.place}: {problem.message}"), first="    ! ", rest="      ")
    for sentence in _few(changes_of(entry)):
        page.wrapped(one_line(sentence), first="  • ", rest="    ")
    for words, ids in by_evidence(entry.visit.done.renewed):
        page.wrapped(one_line(f"evidence: {words}: {', '.join(_few(ids))}"), first="  ✓ ", rest="    ")
    for sentence in load_words(entry.loads or (), of_all=not book.asked_of):
        page.wrapped(one_line(sentence), first="  ~ ", rest="    ")
    if entry.judged is not None:
        for found in entry.judged.new:
            page.wrapped(one_line(f"new: {finding_words(found)}"), first="  + ", rest="    ")
        for found in entry.judged.cleared:
            page.wrapped(one_line(f"cleared: {finding_words(found)}"), first="  - ", rest="    ")
        if entry.judged.elsewhere:
            page.wrapped(_elsewhere(entry.judged), first="  · ")
    page.line()


# --- Markdown -----------------------------------------------------------------------------------


def logbook_markdown(book: Logbook) -> str:
    """A logbook as Markdown."""
    lines = [f"# {escape(f'Logbook of {book.subject}')}", "", f"{escape(book.vessel)}, {escape(book.state)}", ""]
    lines += [line for note in notes(book) for line in (escape(note), "")]
    lines += quoted(CAUTIONS)
    for entry in book.entries:
        lines += _entry_markdown(book, entry)
    if book.unverified:
        lines += ["## Changed, and not looked at on board since", ""]
        lines += [*(f"- [ ] {escape(unverified_words(book, each))}" for each in book.unverified), ""]
    if book.since is not None:
        lines += ["## Since when the findings of now are there, concessions aside", ""]
        for found in book.since:
            lines.append(f"- {escape(finding_words(found.finding))}  ")
            lines.append(f"  {escape(since_words(book, found))}")
        lines += ["" if book.since else "None.", ""]
    return "\n".join([*lines, escape(FOOT), ""])


def _entry_markdown(book: Logbook, entry: Entry) -> list[str]:
    revision = entry.revision
    where = f"{revision.date or NOT_COMMITTED}, {revision.short}"
    lines = [f"## {escape(where)}" + (f", {escape(revision.author)}" if revision.author else ""), ""]
    lines += [f"**{escape(revision.subject)}**", ""] if revision.subject else []
    lines += [line for note in visit_notes(book, entry) for line in (escape(note), "")]
    rows = [f"- {code(str(each.place))}: {escape(each.message)}" for each in entry.visit.problems]
    rows += [f"- {escape(sentence)}" for sentence in changes_of(entry)]
    rows += [f"- Evidence: {escape(w)}: {escape(', '.join(ids))}" for w, ids in by_evidence(entry.visit.done.renewed)]
    loads = load_words(entry.loads or (), of_all=not book.asked_of)
    rows += [f"- {escape(sentence[:1].upper() + sentence[1:])}" for sentence in loads]
    if entry.judged is not None:
        rows += [f"- New: {escape(finding_words(found))}" for found in entry.judged.new]
        rows += [f"- Cleared: {escape(finding_words(found))}" for found in entry.judged.cleared]
        if entry.judged.elsewhere:
            rows.append(f"- {_elsewhere(entry.judged)}")
    return [*lines, *rows, *([""] if rows else [])]
