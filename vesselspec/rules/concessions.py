"""Findings that are accepted for a while, and what is wrong with the accepting.

Judged after all rules have run, on a day that is given: nothing here looks at a clock. A concession that is
out of date, too wide or in doubt accepts nothing, so that no slip of its own can hide a finding.
"""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Mapping
from dataclasses import dataclass, replace

from vesselspec.model.concessions import Concession, Mitigation
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, RULE_FAILED, RULES, Rule
from vesselspec.rules.earlier import Earlier
from vesselspec.rules.findings import (
    CAUTION,
    DANGER,
    NOTICE,
    SIGNAL_WORDS,
    WARNING,
    WORSE,
    At,
    Conceded,
    Finding,
    Survey,
)
from vesselspec.rules.mitigation import can_be_checked, doubt, in_words

#: A concession without `covers` that takes in more findings than this was not written with each in mind. Ours.
MOST_COVERED = 20
#: Beyond this many years "until" means "never". Ours.
MOST_YEARS = 5

_PRACTICE = f"{COMMON_PRACTICE}; a concession in the sense of ISO 9000 is given for a quantity and a time"


def _rule(id: str, signal_word: str, title: str, why: str, remedy: str) -> Rule:
    return Rule(
        id, signal_word, title, why, remedy, _PRACTICE, judge=_with_the_rest, needs="the concessions themselves"
    )


def _with_the_rest(boat: Boat) -> tuple[()]:
    """Concessions are judged together, after the rules: `concede`."""
    return ()


OUT_OF_DATE = _rule(
    "concession-out-of-date",
    CAUTION,
    "A concession does not hold on this day",
    "It was given for a time. Whoever gave it has to look again before it is given for longer.",
    "Mend what it accepts and delete it, or have it accepted anew with its date and how long it now holds.",
)
UNMATCHED = _rule(
    "concession-unmatched",
    NOTICE,
    "A concession accepts something that is not found",
    "If the same fault is made again, it would be accepted without anybody having looked at it.",
    "If it was mended, delete the concession, or take out what was mended; otherwise correct what it names.",
)
TOO_WIDE = _rule(
    "concession-too-wide",
    CAUTION,
    "A concession would accept what nobody has looked at",
    "It accepts what is found later as well, unseen. It is taken as accepting nothing.",
    "Name the rule and the items, or write one concession for each finding; `vesselspec adopt` writes them so.",
)
GROWN = _rule(
    "concession-grown",
    CAUTION,
    "More is found than a concession covered when it was written",
    "What was accepted was less. The new part was not looked at, and is not accepted.",
    "Mend the new part, or have it accepted anew and written into `covers`.",
)
GUARDS_LIFE = _rule(
    "concession-of-what-guards-life",
    WARNING,
    "A concession accepts what guards life",
    "No signature makes it safe. It can be mitigated until it is mended, and counts until then.",
    "Mend it. Until then record as `mitigation` what stands open and locked, and in `measures` what else is done.",
)
IN_DOUBT = _rule(
    "concession-mitigation-fails",
    WARNING,
    "A mitigation does not do what a concession says it does",
    "Somebody relies on it.",
    "Find what does cut the way and lock that, record it open in every operating condition, and mend the fault.",
)
#: The pseudo-rules about concessions, by id: explained like rules, never accepted themselves.
ABOUT: Mapping[str, Rule] = {each.id: each for each in (OUT_OF_DATE, UNMATCHED, TOO_WIDE, GROWN, GUARDS_LIFE, IN_DOUBT)}


def guards_life(finding: Finding) -> bool:
    """Whether a finding can only be mitigated: every DANGER, and what its rule says guards life."""
    rule = RULES.get(finding.rule)
    return finding.signal_word == DANGER or (rule is not None and rule.guards_life)


def can_be_accepted(finding: Finding) -> bool:
    """Whether any concession could accept it: not what guards life, nor what is about the judging itself."""
    return finding.rule in RULES and not guards_life(finding)


def years_after(day: datetime.date, years: int) -> datetime.date:
    """The same day some years later; the last day of February for a leap day."""
    year = min(day.year + years, datetime.MAXYEAR)
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


def named(boat: Boat, found: Survey, on: datetime.date) -> frozenset[Finding]:
    """The findings that some concession names, whether it holds or not."""
    judging = _Judging(boat, found, on, Earlier.of(boat.vessel))
    concessions = boat.vessel.concessions.values()
    return frozenset(f for f in found.findings if any(judging.meant(each, f) for each in concessions))


def concede(boat: Boat, found: Survey, on: datetime.date) -> Survey:
    """Mark what the record's concessions accept on a day, and add what is wrong with them."""
    concessions = boat.vessel.concessions
    if not concessions:
        return found
    judging = _Judging(boat, found, on, Earlier.of(boat.vessel))
    marks: dict[Finding, Conceded] = {}
    complaints: list[Finding] = []
    grown: list[tuple[Concession, list[Finding]]] = []
    for concession in concessions.values():
        verdict = judging.verdict(concession)
        complaints += verdict.complaints
        if verdict.beyond:
            grown.append((concession, verdict.beyond))
        for finding, mark in verdict.marks.items():
            marks.setdefault(finding, mark)
    for concession, beyond in grown:
        if more := [finding for finding in beyond if finding not in marks]:
            complaints.append(judging.grown(concession, more))
    marked = (replace(f, conceded=marks[f]) if f in marks else f for f in found.findings)
    return replace(found, findings=tuple(sorted((*marked, *complaints), key=lambda f: f.order)), on=on)


@dataclass
class _Verdict:
    """What one concession does on the day."""

    marks: dict[Finding, Conceded]
    complaints: list[Finding]
    #: Found, and more than what it covered.
    beyond: list[Finding]


@dataclass(frozen=True)
class _Judging:
    boat: Boat
    found: Survey
    on: datetime.date
    earlier: Earlier

    def verdict(self, concession: Concession) -> _Verdict:
        """What a concession accepts, and what is wrong with it."""
        verdict = _Verdict({}, [], [])
        vague = self._vague(concession)
        matched = [] if vague else [f for f in self.found.findings if f.rule in RULES and self.meant(concession, f)]
        if vague:
            verdict.complaints.append(self._says(TOO_WIDE, concession, (), vague))
            return verdict
        if concession.until > years_after(concession.date, MOST_YEARS):
            what = f"is given for longer than {MOST_YEARS} years, until {concession.until}"
            told = self._says(TOO_WIDE, concession, ("until",), what)
            remedy = f"Give it a day within {MOST_YEARS} years; it can be accepted anew when that has come."
            verdict.complaints.append(replace(told, remedy=remedy))
            return verdict
        if gone := self._gone(concession, matched):
            verdict.complaints.append(gone)
        if not matched:
            return verdict
        if not concession.date <= self.on <= concession.until:
            verdict.complaints.append(self._not_in_force(concession))
            return verdict
        if len(matched) > MOST_COVERED and not concession.covers:
            what = f"takes in {len(matched)} findings and does not say in `covers` which"
            verdict.complaints.append(self._says(TOO_WIDE, concession, ("items",), what))
            return verdict
        covered = [finding for finding in matched if self._covered(concession, finding)]
        verdict.beyond = [finding for finding in matched if finding not in covered]
        mortal = [finding for finding in covered if guards_life(finding)]
        if mortal and concession.mitigation is None:
            what = f"accepts {_told(mortal)}, which can be mitigated and not accepted"
            verdict.complaints.append(self._says(GUARDS_LIFE, concession, (), what))
            covered = [finding for finding in covered if not guards_life(finding)]
        for finding in covered:
            failing = self._doubt(concession, finding)
            if failing is None:
                verdict.marks[finding] = _mark(concession, finding)
            else:
                verdict.complaints.append(failing)
        return verdict

    def _vague(self, concession: Concession) -> str:
        """Why a concession names no finding in particular, or empty if it does."""
        if concession.fingerprint is None and concession.rule is None:
            return "names neither a finding by its `fingerprint` nor a `rule` with its `items`"
        if concession.fingerprint is None and not concession.items:
            return f"names the rule {concession.rule} without saying on which items"
        return ""

    def meant(self, concession: Concession, finding: Finding) -> bool:
        """Whether a concession is about a finding."""
        if concession.rule not in (None, finding.rule) or (concession.rule is None and concession.fingerprint is None):
            return False
        if concession.fingerprint is not None and concession.fingerprint not in self.earlier.prints(finding):
            return False
        return not concession.items or any(name in concession.items for name in self.earlier.called(finding.items[0]))

    def _covered(self, concession: Concession, finding: Finding) -> bool:
        """Whether it covered the finding when it was written, and as grave as it is now."""
        several = finding.culprits[1:] and concession.items
        if several and not all(set(self.earlier.called(item)) & set(concession.items) for item in finding.culprits):
            return False  # one more of a kind is not what was accepted
        if not concession.covers:
            return True
        for each in self.earlier.prints(finding):
            then = concession.covers.get(each)
            if then is not None and SIGNAL_WORDS.index(then.signal_word) <= SIGNAL_WORDS.index(finding.signal_word):
                return then.measure is None or (finding.measure or 0.0) <= then.measure * (1 + WORSE)
        return False

    def _gone(self, concession: Concession, matched: list[Finding]) -> Finding | None:
        """The word that there is nothing, or nothing on some items, to accept any more; None if there is."""
        rule = concession.rule
        if rule is not None and rule not in RULES:
            near = difflib.get_close_matches(rule, RULES, n=1)
            told = self._says(UNMATCHED, concession, ("rule",), f"names the rule {rule}, which there is not")
            return replace(told, remedy=f"Did you mean `{near[0]}`?") if near else told
        crashed = {f.items[0] for f in self.found.findings if f.rule == RULE_FAILED}
        if crashed and (rule is None or rule in crashed):
            return None
        # What cannot be judged now may still be so: it is no reason to delete anything.
        if any(each.rule == rule and each.unknown and not each.judged for each in self.found.coverage):
            return None
        unjudged = {each.item for each in self.found.cannot_judge if each.rule == rule}
        at_fault = [item for finding in matched for item in (finding.culprits or finding.items[:1])]
        seen = {name for item in at_fault for name in self.earlier.called(item)} | unjudged
        missing = [item for item in concession.items if item not in seen]
        if matched and not missing:
            return None
        if not matched and (unjudged & set(concession.items)):
            return None
        on = f" on {', '.join(missing)}" if matched else ""
        told = self._says(UNMATCHED, concession, (), f"has nothing{on} to accept any more")
        return replace(told, remedy=self._culprit(concession, missing) or told.remedy)

    def _culprit(self, concession: Concession, missing: list[str]) -> str | None:
        """Where a finding of the rule is about the item, but names another one first: the commonest slip."""
        for finding in self.found.findings:
            if finding.rule == concession.rule and any(item in finding.items[1:] for item in missing):
                return f"Did you mean `{finding.items[0]}`, which {finding.rule} names first?"
        return None

    def _not_in_force(self, concession: Concession) -> Finding:
        if self.on < concession.date:
            return self._says(OUT_OF_DATE, concession, ("date",), f"holds only from {concession.date}")
        return self._says(OUT_OF_DATE, concession, ("until",), f"ran out on {concession.until}")

    def _doubt(self, concession: Concession, finding: Finding) -> Finding | None:
        """The word that what is said to mitigate a finding does not, if the record shows so."""
        mitigation = concession.mitigation
        if mitigation is None or not can_be_checked(mitigation):
            return None
        failing = doubt(self.boat, mitigation, finding)
        if failing is None:
            return None
        what = f"relies on {_checked(mitigation)} against {finding.rule} of {finding.items[0]}: {failing}"
        told = self._says(IN_DOUBT, concession, ("mitigation",), what)
        return replace(told, arguments=(finding.fingerprint,))

    def grown(self, concession: Concession, more: list[Finding]) -> Finding:
        """The word that more is found than was covered."""
        what = f"did not cover {_told(more)}, or not as grave as now; that is not accepted"
        return self._says(GROWN, concession, ("covers",), what)

    def _says(self, rule: Rule, concession: Concession, fields: tuple[str, ...], what: str) -> Finding:
        return Finding(
            rule=rule.id,
            signal_word=rule.signal_word,
            items=(f"concessions/{concession.id}",),
            place=self.boat.place(At("concessions", concession.id, fields)),
            message=f"the concession {concession.id} {what}",
            why=rule.why,
            remedy=rule.remedy,
            source=rule.source,
        )


def _told(findings: list[Finding]) -> str:
    first = f"{findings[0].rule} of {findings[0].items[0]}"
    return first if len(findings) == 1 else f"{first} and {len(findings) - 1} more"


def _mitigation(concession: Concession) -> str:
    return in_words(concession.mitigation) if concession.mitigation is not None else ""


def _checked(mitigation: Mitigation) -> str:
    return in_words(replace(mitigation, measures=None))


def _mark(concession: Concession, finding: Finding) -> Conceded:
    checked = concession.mitigation is not None and can_be_checked(concession.mitigation)
    return Conceded(
        concession=concession.id,
        accepted=not guards_life(finding),
        by=concession.accepted_by,
        date=concession.date,
        until=concession.until,
        reason=concession.reason,
        mitigation=_mitigation(concession),
        verified=True if checked else None,
    )
