"""What machines read: as published in schema/, the same every time, and complete."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from hypothesis import given, settings
from jsonschema import Draft202012Validator

from tests.changes.boats import REFERRING, TWO_SOURCES, Raw, edited, record, reviewed, side, spoilt
from vesselspec.changes import Reason, review
from vesselspec.report.expansion import expand, expansion_json
from vesselspec.report.json import dumps
from vesselspec.report.review_json import review_json
from vesselspec.report.survey import problems_json, subject_of, survey_json

_SCHEMAS = Path(__file__).parents[2] / "schema"
_SCHEMA = {
    name: json.loads((_SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8")) for name in ("review", "survey")
}
_ONE = {name: Draft202012Validator(schema) for name, schema in _SCHEMA.items()}
_OTHER = {name: jsonschema_rs.validator_for(schema) for name, schema in _SCHEMA.items()}


def valid(name: str, text: str) -> Any:
    """Data that both validators find to be as published."""
    data = json.loads(text)
    assert [error.message for error in _ONE[name].iter_errors(data)] == []
    assert _OTHER[name].is_valid(data)
    return data


@settings(max_examples=40, deadline=None)
@given(before=spoilt(), after=spoilt())
def test_any_review_and_survey_is_as_published(before: Raw, after: Raw) -> None:
    found = reviewed(before, after)
    text = dumps(review_json(found))
    data = valid("review", text)
    assert data["base"]["understood"] is (found.before.boat is not None)
    assert data["head"]["understood"] is (found.after.boat is not None)
    assert bool(data["head"]["problems"]) is (found.after.boat is None)
    assert dumps(review_json(reviewed(before, after))) == text
    subject = subject_of(found.after.record.vessel, "after")
    if found.after.boat is None:
        data = valid("survey", dumps(problems_json(subject, found.after.problems)))
        assert (data["understood"], data["findings"]) == (False, [])
    else:
        data = valid("survey", dumps(survey_json(subject, found.after.survey)))
        assert sum(data["counts"].values()) == len(data["findings"])


def test_a_review_says_everything_that_it_found() -> None:
    def change(raw: Raw) -> None:
        raw["cables"]["X1"] = {"from": "main/a/2", "to": "main/b/2", "size": "14 AWG", "cores": {"black": "L1"}}
        raw["loads"]["heater"]["power"] = "1500 W"
        raw["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "100 A"
        raw["cables"]["C2"].pop("size")

    reasons = (Reason("0" * 40, "2026-03-14", "Technician", "Join the sections", "For a week."),)
    found = review(side("one", record(TWO_SOURCES)), side("two", record(edited(TWO_SOURCES, change))), reasons)
    data = valid("review", dumps(review_json(found)))
    assert data["commits"] == [
        {
            "id": "0" * 40,
            "when": "2026-03-14",
            "author": "Technician",
            "subject": "Join the sections",
            "body": "For a week.",
        }
    ]
    assert [(each["kind"], each["id"]) for each in data["changes"]] == [
        ("changed", "heater"),
        ("changed", "C2"),
        ("added", "X1"),
        ("changed", "main/a/1"),
    ]
    # 1500 W / 120 V = 12.5 A, and half of it.
    quiet = next(each for each in data["effects"]["sources"] if each["condition"] == "quiet")
    assert (quiet["before_a"], quiet["after_a"], quiet["rating_a"], quiet["margin_a"]) == (5.0, 6.25, 30.0, 23.75)
    assert {each["place"] for each in data["effects"]["potentials"]} == {"main/a", "main/b", "shore-1", "generator-1"}
    # 33 CFR 183.425 Table 5, 105 °C: 14 AWG carries 35 A.
    conductor = next(each for each in data["effects"]["conductors"] if each["cable"] == "C2")
    assert (conductor["before_size"], conductor["after_size"]) == ("14 AWG", None)
    assert (conductor["before_a"], conductor["after_a"]) == ([35.0, 35.0], None)
    grave = {each["rule"] for each in data["findings"]["new"] if each["signal_word"] == "DANGER"}
    assert grave == {"unsynchronised-sources-joined", "inlet-pins-live"}
    assert data["counts"]["new"]["DANGER"] == 2
    assert {(each["item"], each["missing"]) for each in data["cannot_judge"]["new"]} >= {("C2", "its size")}


def test_the_published_schemas_refuse_what_is_not_theirs() -> None:
    data = review_json(reviewed(TWO_SOURCES, REFERRING))
    spoilt_parts: list[dict[str, Any]] = [
        {"format": 2},
        {"kind": "survey"},
        {"more": 1},
        {"effects": {}},
        {"base": {**data["base"], "understood": "yes"}},
    ]
    for spoil in spoilt_parts:
        assert not _OTHER["review"].is_valid({**data, **spoil})
        assert not _ONE["review"].is_valid({**data, **spoil})


@pytest.mark.parametrize("text", ["\x9b2J", "\u202e", "\ud800", "\U000e0041", "\x7f", "a\nb", "é"])
def test_text_in_json_reads_back_as_it_was(text: str) -> None:
    assert json.loads(dumps({"x": text})) == {"x": text}
    dumps({"x": text}).encode()


def test_an_expansion_tells_apart_what_is_off_and_what_is_not_said() -> None:
    """A cable of bare cores is written `sheath: false`; that is not what its type says."""

    def bare(raw: Raw) -> None:
        raw["cables"]["W6"]["sheath"] = False
        raw["devices"]["inverter-one"]["idle_power"] = "0 W"
        raw["panels"]["panel-one"]["metal"] = False

    side_ = side("x", record(edited(REFERRING, bare)))
    assert side_.boat is not None
    fields = {}
    for item in ("W6", "W7", "inverter-one", "panel-one"):
        found = expand(side_.boat, item)
        assert found is not None
        fields[item] = expansion_json(found)["fields"]
    assert fields["W6"]["sheath"] == "no"
    assert fields["W7"]["sheath"] == "yes (from type type-one)"
    assert fields["inverter-one"]["idle_power"] == "0 W"
    assert fields["panel-one"]["metal"] == "no"
