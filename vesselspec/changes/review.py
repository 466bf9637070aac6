"""A review: what changed, what it does, and which findings it brings, clears or leaves."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from vesselspec.changes.compare import Change, called, compare, names_of, renamed
from vesselspec.changes.effects import Effects, effects
from vesselspec.model.vessel import Vessel
from vesselspec.record import Problem, Record
from vesselspec.rules import SIGNAL_WORDS, Boat, Finding, Survey, Unjudged, concede, survey
from vesselspec.rules.findings import WORSE


@dataclass(frozen=True)
class Side:
    """One of the two states: its record, and what the rules say of it if it can be understood."""

    name: str
    record: Record
    boat: Boat | None
    survey: Survey

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Why the record cannot be understood; empty if it can."""
        return self.record.problems


@dataclass(frozen=True)
class Reason:
    """One commit of the change: who (a role), when, and why."""

    id: str
    when: str
    author: str
    subject: str
    body: str


@dataclass(frozen=True)
class Review:
    """The whole judgement of a change."""

    before: Side
    after: Side
    reasons: tuple[Reason, ...] = ()
    changes: tuple[Change, ...] = ()
    effects: Effects = field(default_factory=lambda: Effects((), (), (), ()))
    #: Earlier id or address → what it is called now: what is renamed keeps its findings.
    names: Mapping[str, str] = field(default_factory=dict)
    #: The same later state held to each other parent of a merge: what one of them has, the merge does not bring.
    also: tuple[Review, ...] = ()

    @property
    def understood(self) -> bool:
        """Whether both states can be understood."""
        return self.before.boat is not None and self.after.boat is not None

    @property
    def new(self) -> tuple[Finding, ...]:
        """Findings that only the later state has, or that the change makes graver or worse.

        All of them where the earlier state cannot be understood.
        """
        return tuple(f for f in self.after.survey.findings if not self._was_there(f))

    @property
    def on(self) -> datetime.date | None:
        """The day on which concessions were judged; None where neither state has any."""
        return self.after.survey.on or self.before.survey.on

    @property
    def counting(self) -> tuple[Finding, ...]:
        """New findings that no concession accepts."""
        return tuple(f for f in self.new if not f.accepted)

    @property
    def accepts_own(self) -> tuple[Finding, ...]:
        """New findings that a concession covers which the change itself brings or alters."""
        own = {change.id for change in self.changes if change.collection == "concessions"}
        return tuple(f for f in self.new if f.conceded is not None and f.conceded.concession in own)

    @property
    def cleared(self) -> tuple[Finding, ...]:
        """Findings that only the earlier state has."""
        known = frozenset(f.fingerprint for f in self.after.survey.findings)
        found = (f for f in self.before.survey.findings if known_as(f, self.names) not in known)
        return tuple(found) if self.understood else ()

    def print_now(self, finding: Finding) -> str:
        """The fingerprint that an earlier finding would have with the names of now."""
        return known_as(finding, self.names)

    @property
    def inherited(self) -> tuple[Finding, ...]:
        """Findings of both states, as the later one tells them."""
        return tuple(f for f in self.after.survey.findings if self._was_there(f))

    @property
    def newly_unjudged(self) -> tuple[Unjudged, ...]:
        """What the change adds to what cannot be judged."""
        known = {(e.rule, called(e.item, self.names), e.missing) for e in self.before.survey.cannot_judge}
        return tuple(e for e in self.after.survey.cannot_judge if (e.rule, e.item, e.missing) not in known)

    @cached_property
    def _known(self) -> Mapping[str, Finding]:
        """Every earlier finding by its fingerprint."""
        return {known_as(finding, self.names): finding for finding in self.before.survey.findings}

    def _was_there(self, finding: Finding) -> bool:
        return self._had(finding) or any(other._had(finding) for other in self.also)

    def _had(self, finding: Finding) -> bool:
        earlier = self._known.get(finding.fingerprint)
        if earlier is None or (
            finding.group and not {called(i, self.names) for i in earlier.items}.issuperset(finding.items)
        ):
            return False  # one more item in the same plight is worse, not inherited
        if SIGNAL_WORDS.index(earlier.signal_word) > SIGNAL_WORDS.index(finding.signal_word):
            return False
        return (finding.measure or 0.0) <= (earlier.measure or 0.0) * (1 + WORSE)


def known_as(finding: Finding, names: Mapping[str, str]) -> str:
    """The fingerprint that an earlier finding would have with the names of now."""
    if not names:
        return finding.fingerprint

    def now(words: Iterable[str]) -> tuple[str, ...]:
        return tuple(called(word, names) for word in words)

    return replace(
        finding, items=now(finding.items), group=now(finding.group), arguments=now(finding.arguments)
    ).fingerprint


def side(name: str, record: Record, on: datetime.date) -> Side:
    """Judge one state by itself, its concessions as they hold on a day: the same for both states of a review."""
    if record.vessel is None:
        return Side(name, record, None, Survey((), ()))
    boat = Boat(record.vessel, record.places, record.names)
    return Side(name, record, boat, concede(boat, survey(boat), on))


def review(before: Side, after: Side, reasons: tuple[Reason, ...] = ()) -> Review:
    """Judge the change from one state to another."""
    if before.boat is None or after.boat is None:
        return Review(before, after, reasons)
    changes = compare(before.boat.vessel, after.boat.vessel)
    changed = frozenset(name for change in changes for name in (change.id, change.before_id))
    names = names_of(renamed(before.boat.vessel, after.boat.vessel))
    return Review(before, after, reasons, changes, effects(before.boat, after.boat, changed, names), names)


def findings_only(before: Side, after: Side) -> Review:
    """The same without what changed and what it does, which takes longer: for new, cleared and inherited findings."""
    if before.boat is None or after.boat is None:
        return Review(before, after)
    return Review(before, after, names=names_of(renamed(before.boat.vessel, after.boat.vessel)))


def touched(found: Review) -> dict[str, str]:
    """Every id that the change touches, with added, removed or changed, for a picture of its neighbourhood."""
    marks: dict[str, str] = {}
    for change in found.changes:
        if change.collection in ("cables", "devices", "loads", "ways", "sections", "panels"):
            mark = change.kind if change.kind in ("added", "removed") else "changed"
            marks[change.id] = mark
            if change.before_id != change.id:
                marks[change.before_id] = mark
    return marks


def empty_vessel(of: Vessel) -> Vessel:
    """The state before the first record: the same boat with nothing recorded."""
    return Vessel(about=of.about)
