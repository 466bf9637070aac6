"""`vesselspec logbook`: what was done to an item, a panel or the boat, revision by revision."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import at_option, dated, output_option, page, put
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import OUR_BUG, SOUND
from vesselspec.model.forms import Day, matches
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown
from vesselspec.revisions.unknown import UNSHALLOW

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from vesselspec.changes.loads import LoadEffect
    from vesselspec.changes.logbook import Unverified, Visit
    from vesselspec.changes.scope import Key
    from vesselspec.changes.since import Judged, Since
    from vesselspec.cli.history import History
    from vesselspec.model.vessel import Vessel
    from vesselspec.report.logbook_words import Revision
    from vesselspec.rules import Finding

LAST_VISIT = "last visit"


@click.command("logbook")
@click.argument("item", required=False)
@click.argument("vessel", type=click.Path(path_type=Path), required=False)
@at_option()
@output_option()
@click.option(
    "--since",
    metavar="WHEN",
    help="Only what came on or after a day (2026-03-14), after a revision, or after the 'last visit'.",
)
@click.option("--by", metavar="ROLE", help="Whose last visit: the role in `by` of the evidence. Default: anybody's.")
@click.option("--feeders", is_flag=True, help="Also tell what each entry did to the load of every section's bus.")
@click.option("--findings", is_flag=True, help="Also judge the revisions: what each brought, and since when it is so.")
def command(
    item: str | None,
    vessel: Path | None,
    at: str | None,
    output: str,
    since: str | None,
    by: str | None,
    feeders: bool,
    findings: bool,
) -> int:
    """Tell what was done to ITEM in the record of VESSEL (a folder; default: here), newest first.

    ITEM is any entry, by id or address, now or formerly there; without it, the whole boat is told. One argument that
    is a folder is VESSEL. To a panel, section, way, device or load belong the cables that landed in it at the time;
    to a panel, section or way also the loads behind them. Renames by `formerly` and moves between files are followed.
    A merge is compared with its first parent; what a side branch did is told where it was done.

    The last visit is the newest entry in which evidence from on board (measured, traced or labelled) of something
    in the logbook was renewed; with --by, evidence of that role.

    Each entry tells what its revision did to the load of every source, largest first, over all operating conditions.
    --feeders adds the buses of the sections, about a twentieth of a second for each revision of a boat with 150
    circuits. --findings judges one revision after the other, about a third of a second each: a finding may have gone
    and come again.
    """
    from vesselspec.cli.history import History
    from vesselspec.report import json
    from vesselspec.report import logbook as report
    from vesselspec.report.logbook_json import logbook_json, no_logbook_json
    from vesselspec.report.logbook_words import Entry, Logbook
    from vesselspec.report.survey import subject_of
    from vesselspec.revisions import Repository

    folder = vessel or Path()
    if item is not None and vessel is None and Path(item).is_dir():
        folder, item = Path(item), None
    if by is not None and since != LAST_VISIT:
        raise RevisionError("--by says whose last visit is meant.", f"Give it with --since '{LAST_VISIT}'.")
    repository = Repository.open(folder, at=at or "HEAD")
    history = History(repository, at)
    state = history.state()
    boat = state.record.vessel
    if boat is None:
        empty = no_logbook_json(subject_of(None, state.name))
        return not_understood(state.name, state.record, output, data=empty)
    named, key = _named(boat, item)
    visits = history.walk.visits(named)
    if named is not None and key is None and not visits:
        raise _unknown(boat, item or "")
    told = _Told(history, boat, visits, named, key)
    begins = told.begin(since, by)
    shown_visits = [visit for visit in visits if begins.keeps(visit)]
    revisions = {node.id: told.revision(node.id) for node in history.walk.nodes}
    entries = [
        Entry(
            revisions[visit.id],
            visit,
            told.judged(visit) if findings else None,
            told.loads(visit, feeders=feeders),
        )
        for visit in shown_visits
    ]
    book = Logbook(
        vessel=boat.about.name,
        state=dated(folder, state),
        subject=_subject(boat, item, key),
        key=key,
        asked_of=item or "",
        entries=tuple(entries),
        unverified=told.unverified(),
        since=told.since() if findings else None,
        revisions=revisions,
        asked_since=since or "",
        begins_after=begins.words,
        fetch=UNSHALLOW if repository.is_shallow else "",
    )
    history.close()
    forms = {
        "text": lambda: report.logbook_text(page(), book),
        "markdown": lambda: report.logbook_markdown(book),
        "json": lambda: json.dumps(logbook_json(book)),
    }
    put(forms[output]())
    return OUR_BUG if history.crashed else SOUND


def _named(boat: Vessel, item: str | None) -> tuple[frozenset[Key] | None, Key | None]:
    """What is followed back, and the entry of now if there is one."""
    from vesselspec.changes.scope import entries_that_were, entry_formerly, find_entry

    if item is None:
        return None, None
    key = find_entry(boat, item) or entry_formerly(boat, item)
    return (frozenset({key}) if key is not None else entries_that_were(item)), key


def _unknown(boat: Vessel, item: str) -> RevisionError:
    import difflib

    known = [path for _, path, _ in boat.items()]
    near = difflib.get_close_matches(item, known, n=3, cutoff=0.5)
    remedy = f"Did you mean {', '.join(near)}?" if near else "Name an entry by id or address, or none for all."
    return RevisionError(f"{shown(item)} is not in this record, and was not in any revision of it.", remedy)


def _subject(boat: Vessel, item: str | None, key: Key | None) -> str:
    if item is None:
        return "the whole boat"
    if key is None:
        return f"{item}, which is not on board now"
    name = boat.name_of(key[1])
    return name if item in (key[1], f"{key[0]}/{key[1]}") else f"{name}, formerly {item}"


@dataclass(frozen=True)
class _Begin:
    """Where a logbook begins that is not of the whole history."""

    words: str = ""
    without: frozenset[str] = frozenset()

    def keeps(self, visit: Visit) -> bool:
        return visit.id not in self.without


@dataclass(frozen=True)
class _Told:
    """What is told of the visits."""

    history: History
    boat: Vessel
    visits: Sequence[Visit]
    named: frozenset[Key] | None
    key: Key | None

    def revision(self, revision: str) -> Revision:
        from vesselspec.report.logbook_words import Revision

        commit = self.history.commit(revision)
        if commit is None:
            return Revision("", "", "", "", "")
        day = commit.when.date().isoformat()
        return Revision(commit.id, commit.short, day, commit.author, commit.subject, len(commit.parents) > 1)

    def begin(self, since: str | None, by: str | None) -> _Begin:
        """Leave out what came before a day, a revision or a visit."""
        if since is None:
            return _Begin()
        if since == LAST_VISIT:
            return self._after_last_visit(by)
        if matches(Day().schema()["pattern"], since):
            day = _day(since)
            old = {at for at, step in self.history.steps.items() if step.commit.when.date() < day}
            return _Begin(f"the day before {since}", frozenset(old))
        commit = self.history.repository.resolve(since)
        named = commit.short if commit.id.startswith(since) else f"{since} ({commit.short})"
        return _Begin(f"{named} of {commit.when.date().isoformat()}", self.history.repository.ancestors(commit.id))

    def _after_last_visit(self, by: str | None) -> _Begin:
        who = f"of the role {shown(by)}" if by is not None else "of anybody"
        for visit in self.visits:
            for each in visit.done.renewed:
                if each.on_board and (by is None or (each.evidence.by or "").casefold() == by.casefold()):
                    commit = self.history.commit(visit.id)
                    if commit is None:
                        return _Begin("the evidence given in the files on disk", frozenset(self.history.steps))
                    words = f"the last visit {who}: {commit.short} of {commit.when.date().isoformat()}"
                    return _Begin(words, self.history.repository.ancestors(commit.id))
        raise RevisionError(
            f"There is no last visit {who}: no evidence from on board was given for this in any revision.",
            "Leave out --since for the whole history, or name a day or a revision.",
        )

    def loads(self, visit: Visit, *, feeders: bool) -> tuple[LoadEffect, ...] | None:
        """What the revision of a visit did to the loads; None where no state before it is known."""
        from vesselspec.changes.loads import load_effects

        if visit.base is None or not visit.done.changes:
            return () if visit.base is not None else None
        after = self.history.loads(visit.id, feeders=feeders)
        return load_effects(self.history.loads(visit.base, feeders=feeders), after, self._names(visit))

    def _names(self, visit: Visit) -> Mapping[str, str]:
        """Earlier id or address → what it is called after the visit."""
        from vesselspec.changes.compare import names_of, renamed

        before = self.history.walk.vessel(visit.base) if visit.base is not None else None
        after = self.history.walk.vessel(visit.id)
        return names_of(renamed(before, after)) if before is not None and after is not None else {}

    def judged(self, visit: Visit) -> Judged | None:
        from vesselspec.changes.since import judged

        after = self.history.walk.vessel(visit.id)
        if after is None or (visit.first and visit.base is None and not visit.done):
            return None
        was = self.history.findings(visit.base) if visit.base is not None else ()
        paths = {path for change in visit.done.changes for path in (change.id, change.before_id)}
        return judged(
            was, self.history.findings(visit.id), self._names(visit), lambda finding: self._concerns(finding, paths)
        )

    def since(self) -> tuple[Since, ...]:
        from vesselspec.changes.since import since

        newest = self.history.walk.nodes[0].id
        now = tuple(each for each in self.history.findings(newest) if self._concerns(each, set()))
        return since(self.history.walk, now, self.history.findings)

    def unverified(self) -> tuple[Unverified, ...]:
        from vesselspec.changes.logbook import unverified

        days = {at: step.commit.when.date() for at, step in self.history.steps.items()}
        return unverified(self.boat, self.visits, days, self._entries())

    def _entries(self) -> frozenset[Key] | None:
        from vesselspec.changes.scope import belonging

        return None if self.named is None else belonging(self.boat, self.named)

    def _concerns(self, finding: Finding, paths: set[str]) -> bool:
        from vesselspec.changes.scope import about

        entries = self._entries()
        return entries is None or about(finding.items, entries | {("", path) for path in paths})


def _day(written: str) -> datetime.date:
    try:
        found: datetime.date = Day().build(written)
    except ValueError:
        raise RevisionError(f"{shown(written)} is not a day of the calendar.", "Give one, year first.") from None
    return found
