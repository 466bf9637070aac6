"""The concessions that take over an old boat's findings as they are today, so that only what is new stands out."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Collection
from typing import Any

from vesselspec.model.forms import PLACE_PATTERN, matches
from vesselspec.rules.concessions import can_be_accepted
from vesselspec.rules.findings import Finding, Survey

_LONGEST_ID = 64
_MOST_COVERED = 200
_LONGEST_NOTE = 1000


def adoptable(found: Survey, words: Collection[str], named: Collection[Finding]) -> tuple[Finding, ...]:
    """The findings with one of the signal words that no concession names yet and that can be accepted at all."""
    return tuple(f for f in found.counting if f.signal_word in words and can_be_accepted(f) and f not in named)


def concessions_for(
    findings: tuple[Finding, ...],
    taken: Collection[str],
    *,
    on: datetime.date,
    until: datetime.date,
    by: str,
    reason: str,
) -> dict[str, dict[str, Any]]:
    """Concessions as they are written, by id: one for each rule and culprit, that covers today's findings and no more.

    `taken` are the ids that are there already.
    """
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        culprit = finding.items[0]
        # An item that is no address cannot be written among `items`: the fingerprint says it alone.
        key = culprit if matches(PLACE_PATTERN, culprit) else f"={finding.fingerprint}"
        groups.setdefault((finding.rule, key), []).append(finding)
    written: dict[str, dict[str, Any]] = {}
    for (rule, key), group in groups.items():
        for start in range(0, len(group), _MOST_COVERED):
            some = group[start : start + _MOST_COVERED]
            named = dict.fromkeys([key, *(item for finding in some for item in finding.culprits)])
            about = {"fingerprint": key[1:]} if key.startswith("=") else {"items": list(named)}
            written[_id(some[0], {*taken, *written})] = {
                "rule": rule,
                **about,
                "reason": reason,
                "accepted_by": by,
                "date": on.isoformat(),
                "until": until.isoformat(),
                "covers": {finding.fingerprint: _covered(finding) for finding in some},
                "note": _as_found(some),
            }
    return written


def _covered(finding: Finding) -> dict[str, Any]:
    covered: dict[str, Any] = {"signal_word": finding.signal_word}
    if finding.measure is not None and math.isfinite(finding.measure):
        covered["measure"] = math.ceil(finding.measure * 10_000) / 10_000
    return covered


def _as_found(findings: list[Finding]) -> str:
    said = "As found: " + "; ".join(finding.message for finding in findings) + "."
    return said if len(said) <= _LONGEST_NOTE else said[: _LONGEST_NOTE - 1] + "…"


def _id(finding: Finding, taken: Collection[str]) -> str:
    """An id that says what is accepted, and that no other has."""
    plain = re.sub(r"[^A-Za-z0-9._+-]", ".", f"{finding.rule}.{finding.items[0]}")
    if len(plain) <= _LONGEST_ID and plain not in taken:
        return plain
    return f"{plain[: _LONGEST_ID - 17]}-{finding.fingerprint}"
