"""A survey or a review as JUnit XML: one test case for each rule that looked at something.

There is no standard for it. Shape: one `testsuite`; a `testcase` each with at most one of `error`, `failure` and
`skipped`, since most readers keep only the first, and one `system-out`. It fails where `--fail-on` makes the exit
status tell of it. A rule that could judge nothing for want of data is skipped, not passed.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from vesselspec.report.outcome import NOT_UNDERSTOOD, Outcome, Trouble
from vesselspec.report.terminal import conceded_words, counts_line, one_line
from vesselspec.rules import Finding, Unjudged, by_word
from vesselspec.rules.book import RULE_FAILED

#: What XML 1.0 (section 2.2, Char) does not allow, beyond what `clean` has made visible already.
_NO_CHAR = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass
class _Case:
    """What one rule said."""

    failing: list[Finding] = field(default_factory=list)
    milder: list[Finding] = field(default_factory=list)
    accepted: list[Finding] = field(default_factory=list)
    inherited: list[Finding] = field(default_factory=list)
    crashed: list[Finding] = field(default_factory=list)
    unjudged: list[Unjudged] = field(default_factory=list)
    judged: int = 0


def junit(outcome: Outcome) -> str:
    """Return the XML text: pure ASCII, one line break at the end."""
    suite = ET.Element("testsuite")
    read = _element(suite, NOT_UNDERSTOOD, outcome)
    if not outcome.understood:
        _said(read, "error", NOT_UNDERSTOOD, outcome.summary, [_problem(outcome, each) for each in outcome.problems])
    for rule, case in _cases(outcome).items():
        _fill(_element(suite, rule, outcome), outcome, case)
    counts = {name: str(len(suite.findall(f"testcase/{tag}"))) for name, tag in _COUNTED.items()}
    counts["tests"] = str(len(suite))
    suite.attrib |= {"name": _attribute(outcome.title), **counts}
    ET.SubElement(suite, "system-out").text = _text(
        [outcome.state, outcome.summary] if outcome.understood else [outcome.summary]
    )
    whole = {name: value for name, value in counts.items() if name != "skipped"}
    root = ET.Element("testsuites", {"name": f"vesselspec {outcome.kind}", **whole})
    root.append(suite)
    ET.indent(root)
    # Characters beyond ASCII become references, so that no terminal or pipe can spoil them.
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="us-ascii").decode("ascii")}\n'


_COUNTED = {"failures": "failure", "errors": "error", "skipped": "skipped"}


def _cases(outcome: Outcome) -> dict[str, _Case]:
    """Every rule that looked at something, in the order of the rule book; then what is about the judging itself."""
    cases = {each.rule: _Case(judged=each.judged) for each in outcome.coverage}
    for finding in outcome.findings:
        rule = finding.items[0] if finding.rule == RULE_FAILED else finding.rule
        case = cases.setdefault(rule, _Case(judged=1))
        if finding.rule == RULE_FAILED:
            case.crashed.append(finding)
        elif finding.accepted:
            case.accepted.append(finding)
        elif outcome.fails(finding):
            case.failing.append(finding)
        else:
            case.milder.append(finding)
    for finding in outcome.inherited:
        cases.setdefault(finding.rule, _Case(judged=1)).inherited.append(finding)
    for each in outcome.cannot_judge:
        cases.setdefault(each.rule, _Case()).unjudged.append(each)
    nothing = {each.rule for each in outcome.coverage if each.nothing}
    return {rule: case for rule, case in cases.items() if rule not in nothing or case != _Case()}


def _fill(element: ET.Element, outcome: Outcome, case: _Case) -> None:
    told = [
        *_lines(outcome, "Found, milder than what fails", case.milder),
        *_lines(outcome, "Accepted for a while", case.accepted),
        *_lines(outcome, "Inherited", case.inherited),
        *(f"Not judged: {outcome.shown(each.place)}: {each.item}: {each.missing}" for each in case.unjudged),
    ]
    if case.crashed:
        _said(element, "error", RULE_FAILED, case.crashed[0].message, [each.message for each in case.crashed])
    elif case.failing:
        first = case.failing[0]
        head = first.message if len(case.failing) == 1 else f"{counts_line(by_word(case.failing))}: {first.message}"
        _said(element, "failure", first.signal_word, head, _full(outcome, case.failing))
    elif case.accepted and not case.milder:
        reasons = [conceded_words(each.conceded) for each in case.accepted if each.conceded is not None]
        _said(element, "skipped", "accepted", " ".join(reasons), [])
    elif not case.judged:
        _said(element, "skipped", "not judged", "Not judged for want of data.", [])
    if told:
        ET.SubElement(element, "system-out").text = _text(told)


def _full(outcome: Outcome, findings: Sequence[Finding]) -> Iterable[str]:
    for finding in findings:
        yield f"{outcome.shown(finding.place)}: {finding.signal_word}: {finding.message}."
        yield from (f"  - {each}" for each in finding.consequences)
        if finding.conceded is not None:
            yield f"  {conceded_words(finding.conceded)}"
        yield from (f"  {number}. {step}" for number, step in enumerate(finding.witness, 1))
        if finding.positions:
            yield "  With: " + "; ".join(f"{choice} at {states}" for choice, states in finding.positions) + "."
        yield f"  Why: {finding.why}"
        yield f"  Remedy: {finding.remedy}"
        yield f"  Source: {finding.source}."


def _lines(outcome: Outcome, how: str, findings: Iterable[Finding]) -> Iterable[str]:
    for finding in findings:
        words = f" {conceded_words(finding.conceded)}" if finding.conceded is not None else ""
        yield f"{how}: {outcome.shown(finding.place)}: {finding.signal_word}: {finding.message}.{words}"


def _problem(outcome: Outcome, trouble: Trouble) -> str:
    where = f"{outcome.shown(trouble.place)}: " if trouble.place is not None else ""
    return f"{where}{' '.join(trouble.sentences)}"


def _element(suite: ET.Element, rule: str, outcome: Outcome) -> ET.Element:
    return ET.SubElement(suite, "testcase", {"classname": f"vesselspec.{outcome.kind}", "name": _attribute(rule)})


def _said(element: ET.Element, tag: str, kind: str, message: str, text: Iterable[str]) -> None:
    said = ET.SubElement(element, tag, {"type": kind, "message": _attribute(message)})
    said.text = _text(text) or None


def _attribute(text: str) -> str:
    return _NO_CHAR.sub(_visible, one_line(text))


def _text(lines: Iterable[str]) -> str:
    """Each on one line of its own, whatever it holds."""
    return "\n".join(_NO_CHAR.sub(_visible, one_line(line)) for line in lines)


def _visible(found: re.Match[str]) -> str:
    return f"\\u{ord(found[0]):04x}"
