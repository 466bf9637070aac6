"""A review: what changed, what it does, and which findings it brings, clears or leaves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from vesselspec.changes.compare import Change, compare
from vesselspec.changes.effects import Effects, effects
from vesselspec.model.vessel import Vessel
from vesselspec.record import Problem, Record
from vesselspec.rules import Boat, Finding, Survey, Unjudged, survey


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

    @property
    def understood(self) -> bool:
        """Whether both states can be understood."""
        return self.before.boat is not None and self.after.boat is not None

    @property
    def new(self) -> tuple[Finding, ...]:
        """Findings that only the later state has; all of it where the earlier cannot be understood."""
        known = _prints(self.before.survey.findings)
        return tuple(f for f in self.after.survey.findings if f.fingerprint not in known)

    @property
    def cleared(self) -> tuple[Finding, ...]:
        """Findings that only the earlier state has."""
        known = _prints(self.after.survey.findings)
        return tuple(f for f in self.before.survey.findings if f.fingerprint not in known) if self.understood else ()

    @property
    def inherited(self) -> tuple[Finding, ...]:
        """Findings of both states, as the later one tells them."""
        known = _prints(self.before.survey.findings)
        return tuple(f for f in self.after.survey.findings if f.fingerprint in known)

    @property
    def newly_unjudged(self) -> tuple[Unjudged, ...]:
        """What the change adds to what cannot be judged."""
        known = {(each.rule, each.item, each.missing) for each in self.before.survey.cannot_judge}
        return tuple(e for e in self.after.survey.cannot_judge if (e.rule, e.item, e.missing) not in known)


def _prints(findings: Iterable[Finding]) -> frozenset[str]:
    return frozenset(finding.fingerprint for finding in findings)


def side(name: str, record: Record) -> Side:
    """Judge one state by itself."""
    if record.vessel is None:
        return Side(name, record, None, Survey((), ()))
    boat = Boat(record.vessel, record.places)
    return Side(name, record, boat, survey(boat))


def review(before: Side, after: Side, reasons: tuple[Reason, ...] = ()) -> Review:
    """Judge the change from one state to another."""
    if before.boat is None or after.boat is None:
        return Review(before, after, reasons)
    changes = compare(before.boat.vessel, after.boat.vessel)
    changed = frozenset(name for change in changes for name in (change.id, change.before_id))
    return Review(before, after, reasons, changes, effects(before.boat, after.boat, changed))


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
