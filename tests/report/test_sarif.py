"""SARIF: as OASIS publishes it, the same every time, and nothing hidden or made harmless in it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import jsonschema_rs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft4Validator

from tests.changes.boats import Raw, reviewed, spoilt
from vesselspec.report.json import dumps
from vesselspec.report.outcome import Outcome
from vesselspec.report.sarif import FINGERPRINT, ROOT, sarif
from vesselspec.rules import RULES

from .hostile import hostile, skeleton
from .outcomes import CONCEDED, FOLDER, OUTCOMES, change, hostile_outcome, surveyed

_SCHEMA = json.loads((Path(__file__).parents[1] / "data/schemas/sarif-schema-2.1.0.json").read_text(encoding="utf-8"))
_ONE, _OTHER = Draft4Validator(_SCHEMA), jsonschema_rs.Draft4Validator(_SCHEMA)


def valid(outcome: Outcome) -> Any:
    """The one run, of a log that two validators find to be as OASIS publishes it."""
    data = json.loads(dumps(sarif(outcome)))
    assert [error.message for error in _ONE.iter_errors(data)] == []
    assert _OTHER.is_valid(data)
    assert dumps(sarif(outcome)) == dumps(data)
    (run,) = data["runs"]
    return run


@pytest.mark.parametrize("name", OUTCOMES)
def test_every_outcome_is_as_published_and_refers_to_what_there_is(name: str) -> None:
    outcome = OUTCOMES[name]
    run = valid(outcome)
    rules = run["tool"]["driver"]["rules"]
    assert {each["id"] for each in rules} > set(RULES)
    assert all(each["help"]["markdown"] and each["help"]["text"] for each in rules)
    prints = [(each["ruleId"], *each["partialFingerprints"].values()) for each in run["results"]]
    assert len(prints) == len(set(prints))
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
        assert list(result["partialFingerprints"]) == [FINGERPRINT]
        assert (result["kind"] == "open") is (result["level"] == "none")
        assert ("baselineState" in result) is (outcome.kind == "review" and outcome.understood)
        for location in result["locations"]:
            artifact = location["physicalLocation"]["artifactLocation"]
            assert artifact["uriBaseId"] == ROOT
            assert unquote(artifact["uri"]).startswith("" if outcome.folder == "." else f"{FOLDER}/")
    assert run["originalUriBaseIds"].keys() == {ROOT}
    assert run["invocations"][0]["executionSuccessful"] is (name not in _UNRELIABLE)
    assert bool(run["invocations"][0]["toolExecutionNotifications"]) is (name in _UNRELIABLE)


_UNRELIABLE = {
    "survey not understood",
    "survey with a crash",
    "review after not understood",
    "review before not understood",
}


def _by_rule(run: Any, rule: str) -> Any:
    (found,) = (each for each in run["results"] if each["ruleId"] == rule and each["kind"] == "fail")
    return found


def test_a_finding_carries_its_way_positions_and_level() -> None:
    run = valid(OUTCOMES["survey"])
    found = _by_rule(run, "unsynchronised-sources-joined")
    assert (found["level"], found["rank"], found["suppressions"]) == ("error", 100.0, [])
    assert found["message"]["text"].startswith("DANGER: ")
    assert "Remedy: " in found["message"]["text"]
    assert found["locations"][0]["logicalLocations"] == [{"fullyQualifiedName": "X1"}]
    related = {each["logicalLocations"][0]["fullyQualifiedName"]: each for each in found["relatedLocations"]}
    assert related.keys() == {"generator-1", "shore-1"}
    assert all("region" in each["physicalLocation"] for each in related.values())
    (flow,) = found["codeFlows"][0]["threadFlows"]
    steps = [each["location"] for each in flow["locations"]]
    assert any(each["message"]["text"].startswith("cable X1, core black") for each in steps)
    # Every step stands somewhere: an editor can walk the way through the files.
    assert all("region" in each["physicalLocation"] for each in steps)


def test_what_is_accepted_is_suppressed_and_what_is_only_mitigated_is_not() -> None:
    run = valid(OUTCOMES["survey with concessions"])
    (suppression,) = _by_rule(run, "device-above-ampacity")["suppressions"]
    assert (suppression["kind"], suppression["status"]) == ("external", "accepted")
    assert suppression["justification"] == ("Accepted until 2026-12-31 by refit lead (K1): Until the haul-out.")
    assert suppression["location"]["physicalLocation"]["region"]["startColumn"] > 1
    danger = _by_rule(run, "unsynchronised-sources-joined")
    assert (danger["suppressions"], danger["level"]) == ([], "error")
    assert "Mitigated, and counted all the same" in danger["message"]["text"]


def test_what_cannot_be_judged_is_open() -> None:
    run = valid(OUTCOMES["survey"])
    texts = [each["message"]["text"] for each in run["results"] if each["kind"] == "open"]
    assert "Cannot judge device-above-ampacity for C2: its size is not recorded." in texts


def test_a_review_tells_new_from_inherited() -> None:
    found = {each["ruleId"]: each for each in valid(OUTCOMES["review of nothing"])["results"]}
    assert {(each["baselineState"], each["level"]) for each in found.values()} == {("unchanged", "note")}
    new = _by_rule(valid(OUTCOMES["review"]), "unsynchronised-sources-joined")
    assert (new["baselineState"], new["level"]) == ("new", "error")


def test_problems_stand_where_they_are_and_those_of_an_earlier_state_nowhere() -> None:
    (found,) = valid(OUTCOMES["survey not understood"])["results"]
    assert (found["ruleId"], found["level"]) == ("record-not-understood", "error")
    place = found["locations"][0]["physicalLocation"]
    assert (place["artifactLocation"]["uri"], place["region"]["startLine"]) == ("boats/number%20one/more.yaml", 2)
    (earlier,) = valid(OUTCOMES["review before not understood"])["results"]
    assert earlier["locations"] == []
    assert earlier["message"]["text"].startswith("main (0123456789), more.yaml:2:")


def test_a_fingerprint_outlives_a_moved_line() -> None:
    moved = {"spaces": {"attic": {"name": "New"}}, **CONCEDED}
    prints = [
        {each["partialFingerprints"][FINGERPRINT] for each in sarif(surveyed(raw))["runs"][0]["results"]}
        for raw in (CONCEDED, moved)
    ]
    assert prints[0] == prints[1]


def test_several_vessels_of_a_repository_are_several_analyses() -> None:
    ids = [sarif(surveyed(CONCEDED, folder=each))["runs"][0]["automationDetails"]["id"] for each in (".", "a", "b/c")]
    assert ids == ["vesselspec-survey/", "vesselspec-survey/a/", "vesselspec-survey/b/c/"]


@settings(max_examples=25, deadline=None)
@given(before=spoilt(), after=spoilt())
def test_any_review_is_as_published(before: Raw, after: Raw) -> None:
    valid(change(reviewed(before, after)))


@settings(max_examples=40, deadline=None)
@given(words=st.lists(hostile(70), min_size=4, max_size=4))
def test_no_text_becomes_a_link_a_placeholder_or_markup(words: list[str]) -> None:
    run = valid(hostile_outcome(words))
    for message in _messages(run["results"]):
        text = message["text"]
        # SARIF 3.11.6, embedded links; 3.11.5, placeholders: single braces.
        assert not re.search(r"\[[^\]]*\]\(", text)
        assert not re.search(r"(?<!\{)(\{\{)*\{(?!\{)", text)
        for line in message["markdown"].replace("{{", "{").replace("}}", "}").split("\n\n"):
            ((_, live),) = skeleton("- " + line)
            assert live == ""
    for location in _all(run["results"], "artifactLocation"):
        address = urlsplit(location["uri"])
        assert (address.scheme, address.netloc, address.query, address.fragment) == ("", "", "", "")
        assert not address.path.startswith("/")
        assert unquote(address.path).split("/")[0] == words[3].replace("/", "x")


def _messages(data: Any) -> list[Any]:
    return [*_all(data, "message"), *(state for each in _all(data, "immutableState") for state in each.values())]


def _all(data: Any, key: str) -> list[Any]:
    """Every value under a key, however deep."""
    if isinstance(data, list):
        return [found for each in data for found in _all(each, key)]
    if isinstance(data, dict):
        here = [data[key]] if key in data else []
        return here + [found for each in data.values() for found in _all(each, key)]
    return []
