"""A record may be well formed and still be nonsense; every rule must be able to look at it."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, given, settings

from tests.changes.boats import Raw, record, spoilt
from vesselspec.rules import Boat, survey
from vesselspec.rules.book import failed


@settings(
    max_examples=int(os.environ.get("VESSELSPEC_EXAMPLES", "60")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(spoilt())
def test_no_rule_fails_on_a_spoilt_record(raw: Raw) -> None:
    found = record(raw)
    if found.vessel is not None:
        assert [finding.message for finding in failed(survey(Boat(found.vessel, found.places)))] == []
