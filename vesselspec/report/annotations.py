"""A survey or a review as workflow commands: lines that a hosted CI shows at the lines of the record.

One line is one command, `::error file=…,line=…,col=…,title=…::message`. What would end a property, a message or the
line is written as a percent escape. Such a CI shows ten of a kind for each step and drops the rest, so there are ten
at most: gravest first, and the last one counts everything, shown or not.
"""

from __future__ import annotations

from collections.abc import Iterable

from vesselspec.record import Place
from vesselspec.report.outcome import NOT_UNDERSTOOD, Outcome
from vesselspec.report.terminal import conceded_words, one_line
from vesselspec.rules import Finding
from vesselspec.rules.findings import CAUTION, DANGER, NOTICE, WARNING

MOST = 10
_COMMANDS = {DANGER: "error", WARNING: "error", CAUTION: "warning", NOTICE: "notice"}


def workflow_commands(outcome: Outcome) -> str:
    """Return the lines, each with its line break."""
    lines = [*_problems(outcome), *_findings(outcome)]
    shown = lines[: MOST - 1]
    hidden = len(lines) - len(shown)
    more = f" {hidden} more not shown here; `vesselspec {outcome.kind}` tells all." if hidden else ""
    last = command("notice", title=outcome.title, message=[outcome.summary + more])
    return "".join(f"{line}\n" for line in (*shown, last))


def _problems(outcome: Outcome) -> Iterable[str]:
    for each in outcome.problems:
        yield command("error", title=NOT_UNDERSTOOD, message=each.sentences, **_at(outcome, each.place))


def _findings(outcome: Outcome) -> Iterable[str]:
    for finding in outcome.counting:
        title = f"{finding.signal_word} {finding.rule}"
        yield command(
            _COMMANDS[finding.signal_word], title=title, message=_said(finding), **_at(outcome, finding.place)
        )
    for finding in outcome.inherited:
        if not finding.accepted:
            title = f"Inherited {finding.signal_word} {finding.rule}"
            yield command("notice", title=title, message=_said(finding), **_at(outcome, finding.place))


def _said(finding: Finding) -> list[str]:
    conceded = [conceded_words(finding.conceded)] if finding.conceded is not None else []
    consequences = ["; ".join(finding.consequences) + "."] if finding.consequences else []
    return [f"{finding.message}.", *consequences, *conceded, f"Remedy: {finding.remedy}"]


def _at(outcome: Outcome, place: Place | None) -> dict[str, str]:
    if place is None:
        return {}
    at = {"file": outcome.path(place)}
    if place.line:
        at |= {"line": str(place.line), "col": str(max(place.column, 1))}
    return at


def command(name: str, *, message: Iterable[str], title: str, **at: str) -> str:
    """One workflow command; a message may have several paragraphs."""
    properties = ",".join(f"{key}={_property(value)}" for key, value in {**at, "title": title}.items())
    return f"::{name} {properties}::{_data(chr(10).join(one_line(each) for each in message if each))}"


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(one_line(text)).replace(":", "%3A").replace(",", "%2C")
