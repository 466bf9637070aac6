"""A survey or a review as other programs need it: what fails, what is noted, and where in a repository it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.changes import Review
from vesselspec.record import Place, Problem
from vesselspec.report.review import name_of, verdict
from vesselspec.report.survey import Subject
from vesselspec.report.terminal import counts_line
from vesselspec.rules import SIGNAL_WORDS, Boat, Coverage, Finding, Survey, Unjudged, by_word
from vesselspec.rules.book import RULE_FAILED
from vesselspec.rules.findings import At

#: The id under which other programs are told that a record cannot be understood.
NOT_UNDERSTOOD = "record-not-understood"

#: How a step of a witness begins, and the address that stands first in it (rules/boat.py, `told`).
_STEP = re.compile(r"(?:cable |inside |backwards through |where |[^ ]+ of )?([^ ,]+)")


@dataclass(frozen=True)
class Trouble:
    """Something in the files that cannot be understood."""

    #: None where it stands in an earlier state, of which no line can be shown.
    place: Place | None
    message: str
    remedy: str

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is wrong, and what to do about it if that is known."""
        return (f"{self.message}.", *([f"Remedy: {self.remedy}"] if self.remedy else []))


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What was judged, what was found, and what of it fails."""

    kind: str  # survey or review
    vessel: str
    #: What state or states were judged; a sentence where they cannot be.
    state: str
    #: The vessel's folder from the top of its repository, `.` where it is the top or there is no repository.
    folder: str
    #: The mildest signal word that fails.
    fail_on: str
    #: All findings of a survey; the new ones of a review. Accepted ones too.
    findings: tuple[Finding, ...] = ()
    #: What a review found in the earlier state already.
    inherited: tuple[Finding, ...] = ()
    #: What cannot be judged; in a review what newly cannot.
    cannot_judge: tuple[Unjudged, ...] = ()
    coverage: tuple[Coverage, ...] = ()
    problems: tuple[Trouble, ...] = ()
    boat: Boat | None = None

    @property
    def understood(self) -> bool:
        """Whether the record, or both states of it, could be read, so that anything was judged."""
        return not self.problems

    @property
    def crashed(self) -> tuple[Finding, ...]:
        """The findings that say that a rule of ours failed."""
        return tuple(f for f in (*self.findings, *self.inherited) if f.rule == RULE_FAILED)

    @property
    def counting(self) -> tuple[Finding, ...]:
        """Findings that no concession accepts, gravest first; in a review new ones only."""
        return tuple(f for f in self.findings if not f.accepted)

    @property
    def title(self) -> str:
        """What it is, in a few words."""
        return f"{self.kind.capitalize()} of {self.vessel}"

    @property
    def summary(self) -> str:
        """All of it in a sentence or two: nothing that was found or not judged is left uncounted."""
        if not self.understood:
            return f"{self.state} Problems: {len(self.problems)}."
        accepted = sum(f.accepted for f in (*self.findings, *self.inherited))
        words = [f"{'Found' if self.kind == 'survey' else 'New'}: {counts_line(by_word(self.counting))}."]
        if self.kind == "review":
            words.append(f"Inherited: {counts_line(by_word(f for f in self.inherited if not f.accepted))}.")
        words += [f"Accepted for a while: {accepted}."] if accepted else []
        newly = "Newly not" if self.kind == "review" else "Not"
        return " ".join([*words, f"{newly} judged for want of data: {len(self.cannot_judge)}."])

    def fails(self, finding: Finding) -> bool:
        """Whether a finding is as grave as the threshold, so that the exit status tells of it."""
        return SIGNAL_WORDS.index(finding.signal_word) <= SIGNAL_WORDS.index(self.fail_on)

    def path(self, place: Place) -> str:
        """A place's file from the top of the repository, with forward strokes."""
        return place.file if self.folder in ("", ".") else f"{self.folder}/{place.file}"

    def shown(self, place: Place) -> str:
        """A place as a reader types it: file, line, column, from the top of the repository."""
        return str(Place(self.path(place), place.line, place.column))

    def place_of(self, item: str) -> Place | None:
        """Where an id or address stands; None if the record has none such."""
        if self.boat is None:
            return None
        address = item.split(":", 1)[0]
        collection, _, inner = address.partition("/")
        at = At(collection, inner) if collection == "concessions" else self.boat.at(address)
        place = self.boat.place(at) if at.collection else None
        return place if place is not None and place.line else None

    def place_of_step(self, step: str) -> Place | None:
        """Where the thing stands that a step of a witness goes through."""
        found = _STEP.match(step)
        return self.place_of(found[1]) if found is not None else None


def of_survey(subject: Subject, found: Survey, boat: Boat, *, folder: str, fail_on: str) -> Outcome:
    """A survey of a record that could be understood."""
    return Outcome(
        kind="survey",
        vessel=subject.vessel,
        state=subject.state,
        folder=folder,
        fail_on=fail_on,
        findings=found.findings,
        cannot_judge=found.cannot_judge,
        coverage=found.coverage,
        boat=boat,
    )


def of_problems(subject: Subject, problems: tuple[Problem, ...], *, folder: str, fail_on: str) -> Outcome:
    """A survey that came to nothing."""
    return Outcome(
        kind="survey",
        vessel=subject.vessel,
        state=f"{subject.state}: the record cannot be understood; nothing was judged.",
        folder=folder,
        fail_on=fail_on,
        problems=tuple(Trouble(each.place, each.message, each.remedy) for each in problems),
    )


def of_review(found: Review, *, folder: str, fail_on: str) -> Outcome:
    """A review: what is new fails, what is inherited is noted."""
    judged = found.understood
    return Outcome(
        kind="review",
        vessel=name_of(found),
        state=f"{found.before.name} → {found.after.name}" if judged else verdict(found),
        folder=folder,
        fail_on=fail_on,
        findings=found.new if judged else (),
        inherited=found.inherited if judged else (),
        cannot_judge=found.newly_unjudged if judged else (),
        coverage=found.after.survey.coverage if judged else (),
        problems=tuple(_troubles(found)),
        boat=found.after.boat if judged else None,
    )


def _troubles(found: Review) -> Iterator[Trouble]:
    for each in found.after.problems:
        yield Trouble(each.place, each.message, each.remedy)
    for each in found.before.problems:
        yield Trouble(None, f"{found.before.name}, {each.place}: {each.message}", each.remedy)
