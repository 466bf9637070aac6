"""A survey or a review in SARIF 2.1.0 (OASIS, with errata 01): what code hosts and editors read.

What it takes from the standard beyond the obvious: a finding that a concession accepts is a suppressed result
(3.35); what cannot be judged is a result of kind `open` (3.27.9), so that silence is not taken for soundness; a
witness is a code flow (3.36); a review has baseline states (3.27.24). Nothing in it depends on a clock or a machine.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from urllib.parse import quote

from vesselspec import __version__
from vesselspec.record import Place
from vesselspec.report.markdown import escape
from vesselspec.report.outcome import NOT_UNDERSTOOD, Outcome, Trouble
from vesselspec.report.rules import acceptance, rule_markdown, standing
from vesselspec.report.terminal import clean, conceded_words
from vesselspec.rules import RULES, SIGNAL_WORDS, Conceded, Finding, Rule, Unjudged
from vesselspec.rules.book import RULE_FAILED
from vesselspec.rules.concessions import ABOUT
from vesselspec.rules.findings import CAUTION, DANGER, NOTICE, WARNING, fingerprint_of

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
#: The key of our fingerprint. Its number rises when findings come to be identified otherwise.
FINGERPRINT = "vesselspecFinding/v1"
#: What relative addresses start from, by the name that readers of SARIF commonly know.
ROOT = "%SRCROOT%"

#: What fails a check by default (`--fail-on`) is an error.
LEVELS = {DANGER: "error", WARNING: "error", CAUTION: "warning", NOTICE: "note"}
#: How pressing among results of one level, 0 to 100 (3.27.25).
_RANKS = dict(zip(SIGNAL_WORDS, (100.0, 75.0, 50.0, 25.0), strict=True))

#: What is reported beside the rule book, as (title, why).
_OTHERS = {
    NOT_UNDERSTOOD: (
        "The record cannot be understood",
        "Judging the rest would look like judging the whole, so nothing was judged.",
    ),
    RULE_FAILED: (
        "A rule of this program failed",
        "A rule that did not run has found nothing, which is not the same as nothing being wrong.",
    ),
}


def sarif(outcome: Outcome) -> dict[str, Any]:
    """Return a SARIF log with one run."""
    descriptors = [*(_descriptor(each) for each in (*RULES.values(), *ABOUT.values())), *map(_other, _OTHERS)]
    rules = {each["id"]: number for number, each in enumerate(descriptors)}
    name = f"vesselspec-{outcome.kind}/"
    run = {
        "tool": {
            "driver": {
                "name": "vesselspec",
                "version": __version__,
                "semanticVersion": __version__,
                "rules": descriptors,
            }
        },
        # Several vessels of one repository are several analyses: one must not replace the other.
        "automationDetails": {"id": name if outcome.folder in ("", ".") else f"{name}{clean(outcome.folder)}/"},
        "invocations": [_invocation(outcome)],
        "originalUriBaseIds": {ROOT: {"description": _message("The top of the repository that holds the record.")}},
        "columnKind": "unicodeCodePoints",
        "language": "en-GB",
        "results": [{**each, "ruleIndex": rules[each["ruleId"]]} for each in _results(outcome)],
        "properties": {"vessel": clean(outcome.vessel), "state": clean(outcome.state), "summary": outcome.summary},
    }
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


# --- rules ----------------------------------------------------------------------------------------


def _descriptor(rule: Rule) -> dict[str, Any]:
    told = (rule.why, f"Remedy: {rule.remedy}", f"Source: {standing(rule)}.", f"Accepted? {acceptance(rule)}")
    return {
        "id": rule.id,
        "name": _name(rule.id),
        "shortDescription": {"text": f"{rule.title}."},
        "fullDescription": {"text": rule.why},
        "help": {"text": "\n\n".join(told), "markdown": rule_markdown(rule)},
        "defaultConfiguration": {"level": LEVELS[rule.signal_word], "rank": _RANKS[rule.signal_word]},
        "properties": {"signal_word": rule.signal_word, "guards_life": rule.guards_life, "needs": rule.needs},
    }


def _other(id: str) -> dict[str, Any]:
    title, why = _OTHERS[id]
    return {
        "id": id,
        "name": _name(id),
        "shortDescription": {"text": f"{title}."},
        "fullDescription": {"text": why},
        "help": {"text": why, "markdown": escape(why)},
        "defaultConfiguration": {"level": "error"},
    }


def _name(id: str) -> str:
    """An id as readers of SARIF want a name: one identifier, each word with a capital (3.49.7)."""
    return "".join(word.capitalize() for word in id.split("-"))


# --- results --------------------------------------------------------------------------------------


def _results(outcome: Outcome) -> Iterable[dict[str, Any]]:
    review = outcome.kind == "review"
    for trouble in outcome.problems:
        yield _trouble(outcome, trouble)
    for finding in outcome.findings:
        yield {**_result(outcome, finding), **({"baselineState": "new"} if review else {})}
    for finding in outcome.inherited:
        yield {**_result(outcome, finding), "level": "note", "baselineState": "unchanged"}
    for unjudged in outcome.cannot_judge:
        yield {**_open(outcome, unjudged), **({"baselineState": "new"} if review else {})}


def _result(outcome: Outcome, finding: Finding) -> dict[str, Any]:
    conceded = finding.conceded
    said = [f"{finding.signal_word}: {finding.message}."]
    if finding.consequences:
        said.append("; ".join(finding.consequences) + ".")
    if conceded is not None:
        said.append(conceded_words(conceded))
    result = {
        "ruleId": finding.rule,
        "kind": "fail",
        "level": LEVELS[finding.signal_word],
        "rank": _RANKS[finding.signal_word],
        "message": _message(*said, f"Remedy: {finding.remedy}"),
        "locations": [_location(outcome, finding.place, items=finding.items[:1])],
        "partialFingerprints": {FINGERPRINT: finding.fingerprint},
        # Where one result has this, all must; what is only mitigated counts and is not suppressed.
        "suppressions": [_suppression(outcome, conceded)] if conceded is not None and conceded.accepted else [],
        "properties": {"signal_word": finding.signal_word, "source": finding.source},
    }
    related = [(item, outcome.place_of(item)) for item in finding.items[1:]]
    if related:
        result["relatedLocations"] = [
            {"id": number, **_location(outcome, place, items=(item,), message=item)}
            for number, (item, place) in enumerate(related, 1)
        ]
    if finding.witness:
        result["codeFlows"] = [_flow(outcome, finding)]
    return result


def _flow(outcome: Outcome, finding: Finding) -> dict[str, Any]:
    """How it comes about, step by step, in the positions that make it real."""
    steps = [
        {"location": _location(outcome, outcome.place_of_step(step), message=step), "importance": "essential"}
        for step in finding.witness
    ]
    flow: dict[str, Any] = {"locations": steps}
    if finding.positions:
        flow["immutableState"] = {clean(choice): _message(states) for choice, states in finding.positions}
    return {"message": _message("How it gets there."), "threadFlows": [flow]}


def _suppression(outcome: Outcome, conceded: Conceded) -> dict[str, Any]:
    place = outcome.place_of(f"concessions/{conceded.concession}")
    return {
        "kind": "external",
        "status": "accepted",
        "justification": clean(conceded_words(conceded)),
        **({"location": _location(outcome, place)} if place is not None else {}),
    }


def _open(outcome: Outcome, unjudged: Unjudged) -> dict[str, Any]:
    said = unjudged.message
    return {
        "ruleId": unjudged.rule,
        "kind": "open",
        "level": "none",
        "message": _message(f"{said[0].upper()}{said[1:]}."),
        "locations": [_location(outcome, unjudged.place, items=(unjudged.item,))],
        "partialFingerprints": {FINGERPRINT: fingerprint_of(unjudged.rule, (unjudged.item,), (unjudged.missing,))},
        "suppressions": [],
    }


def _trouble(outcome: Outcome, trouble: Trouble) -> dict[str, Any]:
    where = (trouble.place.file,) if trouble.place is not None else ()
    return {
        "ruleId": NOT_UNDERSTOOD,
        "kind": "fail",
        "level": "error",
        "message": _message(*trouble.sentences),
        "locations": [_location(outcome, trouble.place)] if trouble.place is not None else [],
        "partialFingerprints": {FINGERPRINT: fingerprint_of(NOT_UNDERSTOOD, where, (trouble.message,))},
        "suppressions": [],
    }


def _invocation(outcome: Outcome) -> dict[str, Any]:
    """Whether the run can be relied on: a record that cannot be understood, or a rule that failed, says it cannot."""
    told = [
        {
            "level": "error",
            "descriptor": {"id": RULE_FAILED},
            "associatedRule": {"id": finding.items[0]},
            "message": _message(f"{finding.message}."),
        }
        for finding in outcome.crashed
    ]
    if not outcome.understood:
        told.append({"level": "error", "descriptor": {"id": NOT_UNDERSTOOD}, "message": _message(outcome.summary)})
    return {"executionSuccessful": not told, "toolExecutionNotifications": told}


# --- text and places ------------------------------------------------------------------------------


def _location(
    outcome: Outcome, place: Place | None, *, items: tuple[str, ...] = (), message: str | None = None
) -> dict[str, Any]:
    location: dict[str, Any] = {}
    if place is not None:
        address = quote(outcome.path(place), safe="/", errors="surrogateescape")
        location["physicalLocation"] = {"artifactLocation": {"uri": address, "uriBaseId": ROOT}}
        if place.line:
            location["physicalLocation"]["region"] = {"startLine": place.line, "startColumn": max(place.column, 1)}
    if items:
        location["logicalLocations"] = [{"fullyQualifiedName": clean(item)} for item in items]
    if message is not None:
        location["message"] = _message(message)
    return location


def _message(*paragraphs: str) -> dict[str, Any]:
    """A message (3.11): braces are doubled, for single ones are placeholders, and nothing becomes a link."""
    flat = [" ".join(clean(each).split()) for each in paragraphs]
    text = "\n\n".join(flat).replace("](", "] (")
    return {"text": _doubled(text), "markdown": _doubled("\n\n".join(escape(each) for each in paragraphs))}


def _doubled(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")
