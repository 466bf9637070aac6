"""Fault levels and protective devices for machines."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from vesselspec.physics.faults.levels import Level
from vesselspec.physics.faults.tripping import Limit
from vesselspec.report.fault_rows import NOTES, ConditionReport, DeviceRow, breaks_words, time_words
from vesselspec.report.survey import Subject, finding_json, unjudged_json
from vesselspec.rules import Boat, Survey, by_word

FORMAT = 1


def faults_json(subject: Subject, boat: Boat, reports: tuple[ConditionReport, ...], survey: Survey) -> dict[str, Any]:
    """Fault levels, for machines: schema/faults.schema.json."""
    return {
        "format": FORMAT,
        "kind": "faults",
        "vessel": subject.vessel,
        "state": subject.state,
        "understood": True,
        "notes": list(NOTES),
        "conditions": [
            {
                "condition": report.condition,
                "places": [
                    {"place": place, "name": boat.vessel.name_of(place), "faults": [_level_json(e) for e in levels]}
                    for place, levels in report.places
                ],
                "devices": [_device_json(boat, row) for row in report.devices],
            }
            for report in reports
        ],
        "findings": [finding_json(finding) for finding in survey.findings],
        "cannot_judge": [unjudged_json(each) for each in survey.cannot_judge],
        "counts": survey.counts(),
        "accepted": by_word(survey.accepted),
        "on": None if survey.on is None else survey.on.isoformat(),
        "problems": [],
    }


def _number(value: float | None) -> float | None:
    """Six significant digits; what is not limited, or not known, is null."""
    return None if value is None or not math.isfinite(value) else float(f"{value:.6g}")


def _missing_json(missing: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"item": item, "missing": word} for item, word in missing]


def _level_json(level: Level) -> dict[str, Any]:
    return {
        "poles": list(level.pair),
        "largest": {
            "at_least_a": _number(level.low_a),
            "at_most_a": _number(level.high_a),
            "known": level.known,
            "estimate_a": _number(level.estimate_a),
            "asymmetry": _number(level.asymmetry),
            "contributions": [
                {"source": s.source, "amps": _number(s.amps), "limits_itself": s.limits_itself} for s in level.shares
            ],
            "missing": _missing_json(level.missing),
        },
        "smallest": {
            "amps": _number(level.smallest_a),
            "source": level.smallest_from or None,
            "by_source": {source: _number(amps) for source, amps in level.smallest_by.items()},
            "missing": _missing_json(level.missing_smallest),
        },
        "derivation": list(level.derivation),
    }


def _device_json(boat: Boat, row: DeviceRow) -> dict[str, Any]:
    through, earth, stood = row.through, row.earth_fault, row.stood
    _, verdict = breaks_words(row)
    breaks = row.device.breaks(dc=through.pair[0] == "DC+") if through is not None else None
    return {
        "device": row.device.place,
        "name": boat.vessel.name_of(row.device.place),
        "kind": row.device.kind,
        "rating_a": _number(row.device.rating_a),
        "interrupting": {
            "rating_a": _number(breaks[0]) if breaks is not None else None,
            "source": breaks[1] if breaks is not None else None,
            "from_memory": breaks[2] if breaks is not None else False,
            "poles": list(through.pair) if through is not None else [],
            "at_least_a": _number(through.low_a) if through is not None else None,
            "at_most_a": _number(through.high_a) if through is not None else None,
            "asymmetry": _number(through.asymmetry) if through is not None else None,
            "verdict": verdict,
        },
        "opens": time_words(row),
        "bounds": {
            "opens_within": [_limit_json(limit) for limit in row.device.band.opens],
            "holds_for": [_limit_json(limit) for limit in row.device.band.holds],
            "none_because": row.device.band.why_none,
        },
        "earth_fault": None
        if earth is None
        else {
            "place": earth.place,
            "poles": list(earth.pair),
            "source": earth.source,
            "amps": _number(earth.amps),
            "within_s": earth.deadline.seconds,
            "verdict": earth.verdict,
            "why": earth.why,
            "source_of_limit": earth.deadline.source,
        },
        "conductor": None
        if stood is None
        else {
            "cable": stood.cable,
            "core": stood.core,
            "verdict": stood.verdict,
            "why": stood.why,
            "derivation": list(stood.can.derivation),
            "source": stood.can.source,
        },
        "upstream": [
            {"device": s.upstream, "source": s.source, "verdict": s.order.verdict, "why": s.order.why}
            for s in row.series
        ],
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {
        "amps": _number(limit.amps),
        "seconds": _number(limit.seconds),
        "source": limit.source,
        "from_memory": limit.from_memory,
    }
