"""A range of commits, each judged: which one brings or clears which finding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from vesselspec.changes.review import Reason, Review, Side, findings_only
from vesselspec.rules import Finding
from vesselspec.rules.earlier import Earlier

#: What a commit can be for the record.
JUDGED, UNTOUCHED, NOT_UNDERSTOOD, NO_RECORD = "judged", "untouched", "not understood", "no record"


@dataclass(frozen=True)
class Step:
    """One commit: what it makes of the record, held to its parents."""

    reason: Reason
    verdict: str
    #: The state at the commit; None where it has no record.
    side: Side | None
    brings: tuple[Finding, ...] = ()
    clears: tuple[Finding, ...] = ()
    #: Fingerprints that each cleared finding has, or had before something was renamed.
    cleared_prints: tuple[frozenset[str], ...] = ()

    @property
    def counting(self) -> tuple[Finding, ...]:
        """What it brings that no concession accepts."""
        return tuple(finding for finding in self.brings if not finding.accepted)


@dataclass(frozen=True)
class Span:
    """The whole range, oldest commit first."""

    start: Side
    end: Side
    steps: tuple[Step, ...]

    @cached_property
    def whole(self) -> Review:
        """The end held to the start, without what lies between."""
        return findings_only(self.start, self.end)

    @property
    def broken(self) -> tuple[Step, ...]:
        """Commits at which the record cannot be understood, or is gone."""
        return tuple(step for step in self.steps if step.verdict in (NOT_UNDERSTOOD, NO_RECORD))

    @cached_property
    def cleared_by(self) -> Mapping[tuple[str, str], str]:
        """(commit that brings it, fingerprint) → the later commit that clears it; what stays is not there."""
        found: dict[tuple[str, str], str] = {}
        for number, step in enumerate(self.steps):
            for finding in step.brings:
                for later in self.steps[number + 1 :]:
                    if any(finding.fingerprint in prints for prints in later.cleared_prints):
                        found[step.reason.id, finding.fingerprint] = later.reason.id
                        break
        return found


def step(reason: Reason, side: Side, parents: Sequence[Side]) -> Step:
    """Judge one commit against what each of its parents says.

    A merge brings what none of its parents has, and clears what all of them have. The states of the parents are the
    last ones that can be understood, so that what a broken commit hides is told at the next one.
    """
    if side.boat is None:
        return Step(reason, NOT_UNDERSTOOD, side)
    if not parents:
        return Step(reason, JUDGED, side, side.survey.findings)
    reviews = [findings_only(parent, side) for parent in parents]
    new = [frozenset(finding.fingerprint for finding in each.new) for each in reviews]
    brings = tuple(finding for finding in reviews[0].new if all(finding.fingerprint in prints for prints in new))
    gone = [frozenset(each.print_now(finding) for finding in each.cleared) for each in reviews]
    first = reviews[0]
    clears = tuple(f for f in first.cleared if all(first.print_now(f) in prints for prints in gone))
    boat = first.before.boat
    earlier = Earlier({}) if boat is None else Earlier.of(boat.vessel)
    return Step(reason, JUDGED, side, brings, clears, tuple(frozenset(earlier.prints(f)) for f in clears))
