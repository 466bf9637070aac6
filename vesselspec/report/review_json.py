"""A review for machines."""

from __future__ import annotations

from typing import Any

from vesselspec.changes import Review, Side
from vesselspec.changes.effects import Effects
from vesselspec.report import shock_words as shock_report
from vesselspec.report.review import counts, name_of, told
from vesselspec.report.survey import FORMAT, finding_json, problem_json, unjudged_json
from vesselspec.rules import by_word


def review_json(found: Review) -> dict[str, Any]:
    """A review, for machines: schema/review.schema.json."""
    return {
        "format": FORMAT,
        "kind": "review",
        "vessel": name_of(found),
        "base": _side_json(found.before),
        "head": _side_json(found.after),
        "commits": [
            {"id": r.id, "when": r.when, "author": r.author, "subject": r.subject, "body": r.body}
            for r in found.reasons
        ],
        "changes": [{"kind": kind, "id": item, "what": what} for kind, item, what in told(found)],
        "effects": _effects_json(found.effects),
        "findings": {
            "new": [finding_json(finding) for finding in found.new],
            "cleared": [finding_json(finding) for finding in found.cleared],
            "inherited": [finding_json(finding) for finding in found.inherited],
        },
        "accepts_own": [finding.fingerprint for finding in found.accepts_own],
        "on": None if found.on is None else found.on.isoformat(),
        "cannot_judge": {"new": [unjudged_json(each) for each in found.newly_unjudged]},
        "counts": {
            "new": counts(found.new),
            "cleared": counts(found.cleared),
            "inherited": counts(found.inherited),
            "accepted": by_word(found.after.survey.accepted),
        },
    }


def _side_json(side: Side) -> dict[str, Any]:
    return {
        "state": side.name,
        "understood": side.boat is not None,
        "problems": [problem_json(problem) for problem in side.problems],
    }


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _share(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _whole(value: float | None) -> float | None:
    return None if value is None else round(value, 0)


def _effects_json(effects: Effects) -> dict[str, Any]:
    return {
        "sources": [
            {
                "condition": e.condition,
                "source": e.source,
                "pole": e.pole,
                "before_a": _round(e.before_a),
                "after_a": _round(e.after_a),
                "rating_a": _round(e.rating_a),
                "margin_a": _round(e.margin_a),
                "at_least": e.at_least,
            }
            for e in effects.sources
        ],
        "conductors": [
            {
                "cable": e.cable,
                "before_size": e.before_size,
                "after_size": e.after_size,
                "before_a": None if e.before_a is None else [_round(a) for a in e.before_a],
                "after_a": None if e.after_a is None else [_round(a) for a in e.after_a],
            }
            for e in effects.conductors
        ],
        "protection": [
            {
                "cable": e.cable,
                "device": e.device,
                "before_a": _round(e.before_a),
                "before_limit_a": _round(e.before_limit_a),
                "before": e.before,
                "after_a": _round(e.after_a),
                "after_limit_a": _round(e.after_limit_a),
                "after": e.after,
            }
            for e in effects.protection
        ],
        "potentials": [{"place": e.place, "gained": list(e.gained), "lost": list(e.lost)} for e in effects.potentials],
        "currents": [
            {
                "cable": e.cable,
                "pole": e.pole,
                "condition": e.condition,
                "before_a": _round(e.before_a),
                "after_a": _round(e.after_a),
                "carries_a": None if e.carries_a is None else [_round(a) for a in e.carries_a],
            }
            for e in effects.solved.currents
        ],
        "voltage_drops": [
            {"load": e.load, "condition": e.condition, "before": _share(e.before), "after": _share(e.after)}
            for e in effects.solved.drops
        ],
        "faults": [
            {"device": e.device, "before_a": _whole(e.before_a), "after_a": _whole(e.after_a)}
            for e in effects.solved.faults
        ],
        "shocks": [
            {
                "cause": list(e.cause),
                "verdict": e.verdict,
                "says": shock_report.in_short(e),
                "places": list(e.places),
                "conditions": list(e.conditions),
            }
            for e in effects.shocks
        ],
    }
