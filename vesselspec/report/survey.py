"""A survey as terminal text, Markdown and JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.record import Problem
from vesselspec.report.markdown import code, escape, finding_markdown, quoted
from vesselspec.report.terminal import CAUTIONS, Page, conceded_words, counts_line, finding_lines, grouped, one_line
from vesselspec.rules import Conceded, Coverage, Finding, Survey, Unjudged, by_word

FORMAT = 1
_MOST_UNJUDGED = 40
_MOST_IDLE = 4
NOTHING = "nothing on this boat to judge"
#: The rule that looks at every operating condition: where it finds none, nothing that follows from them was judged.
_CONDITIONS = "condition-has-no-solution"


@dataclass(frozen=True)
class Subject:
    """What was surveyed: the vessel's name and the state of its record."""

    vessel: str
    state: str


def subject_of(vessel: Vessel | None, state: str) -> Subject:
    """Name a survey's subject."""
    return Subject(vessel.about.name if vessel is not None else "a record that cannot be understood", state)


def problem_json(problem: Problem) -> dict[str, Any]:
    """A problem of the record, for machines."""
    return {
        "rule": "record-not-understood",
        "place": place_json(problem),
        "found": problem.found,
        "expected": problem.expected,
        "remedy": problem.remedy,
    }


def place_json(of: Problem | Finding | Unjudged) -> dict[str, Any]:
    """A place in the record's files. Line and column count from 1; 0 means the file as a whole."""
    return {"file": of.place.file, "line": of.place.line, "column": of.place.column}


def finding_json(finding: Finding) -> dict[str, Any]:
    """A finding, for machines."""
    return {
        "rule": finding.rule,
        "signal_word": finding.signal_word,
        "items": list(finding.items),
        "place": place_json(finding),
        "message": finding.message,
        "why": finding.why,
        "remedy": finding.remedy,
        "source": finding.source,
        "witness": list(finding.witness),
        "positions": dict(finding.positions),
        "consequences": list(finding.consequences),
        "measure": None if finding.measure is None else round(finding.measure, 4),
        "fingerprint": finding.fingerprint,
        "concession": None if finding.conceded is None else _conceded_json(finding.conceded),
    }


def _conceded_json(conceded: Conceded) -> dict[str, Any]:
    return {
        "id": conceded.concession,
        "state": "accepted" if conceded.accepted else "mitigated",
        "accepted_by": conceded.by,
        "date": conceded.date.isoformat(),
        "until": conceded.until.isoformat(),
        "reason": conceded.reason,
        "mitigation": conceded.mitigation or None,
        "verified": conceded.verified,
    }


def unjudged_json(unjudged: Unjudged) -> dict[str, Any]:
    """What could not be judged, for machines."""
    return {
        "rule": unjudged.rule,
        "item": unjudged.item,
        "missing": unjudged.missing,
        "place": place_json(unjudged),
        "message": unjudged.message,
    }


def coverage_json(coverage: Coverage) -> dict[str, Any]:
    """How much a rule looked at, for machines."""
    return {
        "rule": coverage.rule,
        "sound": coverage.sound,
        "failed": coverage.failed,
        "not_judged": coverage.unknown,
        "nothing_to_judge": coverage.nothing,
    }


def coverage_line(survey: Survey) -> str:
    """How much all rules looked at, in one line: a rule that is silent because the boat has nothing for it says so."""
    each = survey.coverage
    sound, failed, unknown = (sum(getattr(c, name) for c in each) for name in ("sound", "failed", "unknown"))
    idle = [c.rule for c in each if c.nothing]
    line = f"{len(each) - len(idle)} rules looked at {sound + failed + unknown} places: {sound} sound as recorded, "
    line += f"{failed} amiss, {unknown} not judged"
    if idle:
        named = ", ".join(idle[:_MOST_IDLE]) + (f" and {len(idle) - _MOST_IDLE} more" if idle[_MOST_IDLE:] else "")
        line += f"; nothing on this boat to judge for {named}"
    if _CONDITIONS in idle:
        line += ". No operating condition is recorded, so loads, currents, voltage drop and fault levels are not judged"
    return line + "."


def _judged(coverage: Coverage) -> str:
    return NOTHING if coverage.nothing else str(coverage.sound)


def survey_json(subject: Subject, survey: Survey) -> dict[str, Any]:
    """A survey, for machines: schema/survey.schema.json."""
    return {
        "format": FORMAT,
        "kind": "survey",
        "vessel": subject.vessel,
        "state": subject.state,
        "understood": True,
        "findings": [finding_json(finding) for finding in survey.findings],
        "cannot_judge": [unjudged_json(each) for each in survey.cannot_judge],
        "counts": survey.counts(),
        "accepted": by_word(survey.accepted),
        "on": None if survey.on is None else survey.on.isoformat(),
        "coverage": [coverage_json(each) for each in survey.coverage],
        "problems": [],
    }


def problems_json(subject: Subject, problems: tuple[Problem, ...]) -> dict[str, Any]:
    """A record that cannot be understood, for machines; same shape as a survey."""
    return {
        **survey_json(subject, Survey((), ())),
        "understood": False,
        "problems": [problem_json(problem) for problem in problems],
    }


def survey_text(page: Page, subject: Subject, survey: Survey, *, full: bool, coverage: bool = False) -> str:
    """A survey for a terminal; `coverage` adds how much each rule looked at."""
    page.wrapped(f"Survey of {subject.vessel}, {subject.state}")
    page.line()
    for finding in survey.counting:
        finding_lines(page, finding, full=full)
        if full:
            page.line()
    if survey.counting and not full:
        page.line()
    _accepted_lines(page, survey.accepted)
    _unjudged_lines(page, survey)
    if coverage:
        _coverage_lines(page, survey)
    page.wrapped(coverage_line(survey))
    page.wrapped(f"{_counted(survey)}; {len(survey.cannot_judge)} not judged for want of data.")
    page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def _counted(survey: Survey) -> str:
    line = counts_line(survey.counts())
    return f"{line}; {len(survey.accepted)} accepted as of {survey.on}" if survey.accepted else line


def _accepted_lines(page: Page, accepted: tuple[Finding, ...]) -> None:
    if accepted:
        page.line("Accepted for a while, and not counted:")
        for finding in accepted:
            words = f"{finding.signal_word} {finding.rule}: {finding.message}."
            page.wrapped(words, first="  = ", rest="    ")
            if finding.conceded is not None:
                page.wrapped(conceded_words(finding.conceded), first="      ")
        page.line()


def _accepted_markdown(accepted: tuple[Finding, ...]) -> list[str]:
    if not accepted:
        return []
    lines = ["## Accepted for a while, and not counted", "", "| finding | what | concession |", "|---|---|---|"]
    for f in accepted:
        words = conceded_words(f.conceded) if f.conceded is not None else ""
        lines.append(f"| {f.signal_word} `{f.rule}` | {escape(f.message)} | {escape(words)} |")
    return [*lines, ""]


def _unjudged_lines(page: Page, survey: Survey) -> None:
    groups = list(grouped(survey.cannot_judge))
    if not groups:
        return
    page.line("Not recorded, and therefore not judged:")
    for item, missing, rules in groups[:_MOST_UNJUDGED]:
        page.wrapped(f"{item}: {missing} (for {', '.join(rules)})", first="  ? ", rest="    ")
    if len(groups) > _MOST_UNJUDGED:
        page.line(f"  … and {len(groups) - _MOST_UNJUDGED} more; --output json lists all")
    page.line()


def _coverage_lines(page: Page, survey: Survey) -> None:
    width = max(len(NOTHING), *(len(each.rule) for each in survey.coverage))
    page.line(f"{'What each rule looked at':<{width}}  {'sound':>6}  {'amiss':>6}  {'not judged':>10}")
    for each in survey.coverage:
        told = f"  {NOTHING}" if each.nothing else f"  {each.sound:>6}  {each.failed:>6}  {each.unknown:>10}"
        page.line(f"{each.rule:<{width}}{told}")
    page.line()


def problems_text(page: Page, subject: Subject, problems: tuple[Problem, ...]) -> str:
    """A record that cannot be understood, for a terminal."""
    page.wrapped(f"{subject.state}: the record cannot be understood; nothing was judged.")
    page.line()
    for problem in problems:
        page.line(one_line(str(problem.place)))
        page.wrapped(problem.message, first="    ")
        if problem.remedy:
            page.wrapped(problem.remedy, first="    → ", rest="      ")
    page.line()
    page.line(f"{len(problems)} problem{'s' if len(problems) != 1 else ''}.")
    return page.text()


def survey_markdown(subject: Subject, survey: Survey) -> str:
    """A survey as Markdown."""
    lines = [f"# Survey of {escape(subject.vessel)}", "", escape(subject.state), ""]
    lines += quoted(CAUTIONS)
    lines += [f"**{_counted(survey)}**", ""]
    for finding in survey.counting:
        lines += finding_markdown(finding, level=2)
    lines += _accepted_markdown(survey.accepted)
    groups = list(grouped(survey.cannot_judge))
    if groups:
        lines += ["## Not judged for want of data", "", "| item | not recorded | needed for |", "|---|---|---|"]
        lines += [f"| {escape(i)} | {escape(m)} | {escape(', '.join(r))} |" for i, m, r in groups]
        lines.append("")
    lines += ["## What was judged", "", escape(coverage_line(survey)), ""]
    lines += ["| rule | sound | amiss | not judged |", "|---|---:|---:|---:|"]
    lines += [f"| {escape(c.rule)} | {_judged(c)} | {c.failed} | {c.unknown} |" for c in survey.coverage]
    lines.append("")
    return "\n".join(lines)


def problems_markdown(subject: Subject, problems: tuple[Problem, ...]) -> str:
    """A record that cannot be understood, as Markdown."""
    lines = [f"# {escape(subject.state)}", "", "The record cannot be understood; nothing was judged.", ""]
    for problem in problems:
        remedy = f" ({escape(problem.remedy)})" if problem.remedy else ""
        lines.append(f"- {code(str(problem.place))}: {escape(problem.message)}{remedy}")
    lines.append("")
    return "\n".join(lines)
