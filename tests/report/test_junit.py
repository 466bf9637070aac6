"""JUnit XML: as a published XML Schema says, read back by other parsers, and never milder than the exit status."""

from __future__ import annotations

import re
import xml.sax
from pathlib import Path
from xml.dom import minidom

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.cli.status import FINDINGS, status
from vesselspec.report.junit import junit
from vesselspec.report.outcome import Outcome

from . import xmllint
from .hostile import hostile
from .outcomes import OUTCOMES, hostile_outcome

_XSD = Path(__file__).parents[1] / "data/schemas/junit-10.xsd"
Case = dict[str, tuple[str, str]]


def cases(outcome: Outcome) -> dict[str, Case]:
    """Rule → what its case holds: element → (message, text). Counts and shape are checked on the way."""
    root = minidom.parseString(junit(outcome)).documentElement
    assert root is not None
    (suite,) = root.getElementsByTagName("testsuite")
    found: dict[str, Case] = {}
    for case in suite.getElementsByTagName("testcase"):
        inside = [each for each in case.childNodes if isinstance(each, minidom.Element)]
        assert len({"error", "failure", "skipped"} & {each.tagName for each in inside}) <= 1
        assert len(inside) == len({each.tagName for each in inside})
        found[case.getAttribute("name")] = {
            each.tagName: (each.getAttribute("message"), "".join(getattr(t, "data", "") for t in each.childNodes))
            for each in inside
        }
    for attribute, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        assert int(suite.getAttribute(attribute)) == sum(tag in case for case in found.values())
    assert int(suite.getAttribute("tests")) == len(found) == len(suite.getElementsByTagName("testcase"))
    for attribute in ("tests", "failures", "errors"):
        assert root.getAttribute(attribute) == suite.getAttribute(attribute)
    return found


def test_every_outcome_is_as_a_published_schema_says(tmp_path: Path) -> None:
    xmllint.require()
    files = []
    hostile_words = ["<&>]]>\"'\x00\x1b\ufffe\u2028\ud800".replace("\ud800", "x"), "--><!--", "&#0;&lt;", "é🛥"]
    for number, outcome in enumerate((*OUTCOMES.values(), hostile_outcome(hostile_words))):
        files.append(tmp_path / f"{number}.xml")
        files[-1].write_text(junit(outcome), encoding="ascii")
    assert xmllint.complaints(_XSD, files) == ""
    files[0].write_text(junit(OUTCOMES["survey"]).replace("<failure", "<fault").replace("</failure", "</fault"))
    assert "fault" in xmllint.complaints(_XSD, files[:1])


@pytest.mark.parametrize("name", OUTCOMES)
def test_it_fails_exactly_where_the_exit_status_says_so(name: str) -> None:
    outcome = OUTCOMES[name]
    found = cases(outcome)
    assert junit(outcome) == junit(outcome)
    assert any("error" in case for case in found.values()) is bool(outcome.problems or outcome.crashed)
    if outcome.understood and not outcome.crashed:
        words = [finding.signal_word for finding in outcome.counting]
        expected = status(words, fail_on=outcome.fail_on) == FINDINGS
        assert any("failure" in case for case in found.values()) is expected
    assert "record-not-understood" in found


def test_a_rule_fails_with_place_way_and_remedy() -> None:
    message, text = cases(OUTCOMES["survey"])["unsynchronised-sources-joined"]["failure"]
    assert "can be joined through cable X1" in message
    assert re.match(r"boats/number one/vessel\.yaml:\d+:\d+: DANGER: ", text)
    assert "cable X1, core black" in text
    assert "  Remedy: " in text


def test_what_is_accepted_is_skipped_with_its_reason() -> None:
    found = cases(OUTCOMES["survey with concessions"])
    assert found["device-above-ampacity"]["skipped"][0] == (
        "Accepted until 2026-12-31 by refit lead (K1): Until the haul-out."
    )
    assert "Mitigated, and counted all the same" in found["unsynchronised-sources-joined"]["failure"][1]


def test_what_is_milder_than_the_threshold_is_told_and_passes() -> None:
    strict, lenient = cases(OUTCOMES["survey with concessions"]), cases(OUTCOMES["survey that only DANGER fails"])
    milder = [rule for rule in strict if "failure" in strict[rule] and "failure" not in lenient[rule]]
    assert milder
    assert all("Found, milder than what fails: " in lenient[rule]["system-out"][1] for rule in milder)


def test_what_is_not_judged_is_told_and_a_rule_that_judged_nothing_does_not_pass() -> None:
    found = cases(OUTCOMES["survey"])
    assert "C2: its size" in found["device-above-ampacity"]["system-out"][1]
    for case in found.values():
        if "skipped" in case:
            assert case["skipped"][0].startswith(("Not judged for want of data", "Accepted until"))
    idle = {each.rule for each in OUTCOMES["survey"].coverage if each.nothing}
    assert idle
    assert not idle & set(found)


def test_what_is_inherited_passes_and_is_told() -> None:
    found = cases(OUTCOMES["review of nothing"])
    assert not any("failure" in case for case in found.values())
    assert found["unsynchronised-sources-joined"]["system-out"][1].startswith("Inherited: ")


def test_a_crash_of_ours_is_an_error_of_that_rule() -> None:
    assert "KeyError" in cases(OUTCOMES["survey with a crash"])["voltage-drop-too-large"]["error"][0]


@settings(max_examples=40, deadline=None)
@given(words=st.lists(hostile(70), min_size=4, max_size=4))
def test_no_text_of_a_record_becomes_markup(words: list[str]) -> None:
    text = junit(hostile_outcome(words))
    assert text.isascii()
    xml.sax.parseString(text, xml.sax.ContentHandler())
    found, plain = cases(hostile_outcome(words)), cases(hostile_outcome(["x"] * 4))
    assert {rule: list(case) for rule, case in found.items()} == {rule: list(case) for rule, case in plain.items()}
