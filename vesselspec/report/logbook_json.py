"""A logbook for machines."""

from __future__ import annotations

from typing import Any

from vesselspec.changes.logbook import ON_BOARD, Unverified
from vesselspec.changes.since import Since
from vesselspec.model.items import Evidence
from vesselspec.report.logbook_loads import load_json
from vesselspec.report.logbook_words import Entry, Logbook, Revision, cleared_before, to_do
from vesselspec.report.survey import FORMAT, Subject, finding_json, problem_json
from vesselspec.report.terminal import CAUTIONS


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


def no_logbook_json(subject: Subject) -> dict[str, Any]:
    """A logbook without anything in it."""
    return logbook_json(Logbook(subject.vessel, subject.state, "", "", None, (), (), None, {}))


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
