"""After a change: is one further failure enough now?"""

from __future__ import annotations

from typing import Any

import pytest

from vesselspec.changes import shocks
from vesselspec.report.review import review_markdown
from vesselspec.report.review_json import review_json
from vesselspec.report.shock_words import in_short

from .boats import TWO_SOURCES, Raw, edited, reviewed


def _no_earth(raw: Raw) -> None:
    raw["cables"]["C1"]["cores"] = {"black": "L1", "white": "N"}


def test_an_earth_core_taken_away_is_one_failure_less_to_a_death() -> None:
    found = reviewed(TWO_SOURCES, edited(TWO_SOURCES, _no_earth))
    (entry,) = found.effects.shocks
    assert entry.cause == ("unearthed", "heater")
    assert in_short(entry) == ("a line touches the case of heater: heater at 120 V, nothing opens (in both, quiet)")
    assert review_json(found)["effects"]["shocks"][0]["places"] == ["heater"]
    assert "one further failure is enough to leave metal live" in review_markdown(found)


def test_what_was_so_before_is_not_told_again_not_even_by_a_new_name() -> None:
    before = edited(TWO_SOURCES, _no_earth)

    def rename(raw: Raw) -> None:
        raw["loads"]["warmer"] = {**raw["loads"].pop("heater"), "formerly": "heater"}
        raw["cables"]["C1"]["to"] = "warmer"
        for condition in raw["conditions"].values():
            if "heater" in condition.get("demand", {}):
                condition["demand"]["warmer"] = condition["demand"].pop("heater")

    assert reviewed(before, edited(before, rename)).effects.shocks == ()
    assert reviewed(edited(TWO_SOURCES, _no_earth), TWO_SOURCES).effects.shocks == ()


def test_nothing_is_solved_for_a_change_of_dc_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any) -> None:
        raise AssertionError("solved")

    monkeypatch.setattr(shocks, "_counting", refuse)

    def pump(raw: Raw) -> None:
        raw["loads"]["pump"]["power"] = "100 W"

    assert reviewed(TWO_SOURCES, edited(TWO_SOURCES, pump)).effects.shocks == ()
    with pytest.raises(AssertionError, match="solved"):
        reviewed(TWO_SOURCES, edited(TWO_SOURCES, _no_earth))
