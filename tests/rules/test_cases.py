"""Every rule against its file of cases: what is sound passes, what is not is told exactly so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from vesselspec.cli.main import run
from vesselspec.rules import RULES, SIGNAL_WORDS, SUBJECTS
from vesselspec.rules.book import RULE_FAILED
from vesselspec.rules.concessions import ABOUT

from .helpers import CASES, Raw, judged, load, surveyed, told

#: The ids are a contract: concessions and checks outside refer to them. One that goes or comes is said in the log.
IDS = {
    "ac-and-dc-alike": "CAUTION",
    "ac-and-dc-together": "CAUTION",
    "ac-on-dc-terminal": "DANGER",
    "ac-parts-within-reach": "CAUTION",
    "assumed-not-traced": "CAUTION",
    "auto-start-without-lockout": "WARNING",
    "bank-cannot-last": "NOTICE",
    "bus-overloaded": "WARNING",
    "cable-end-unlabelled": "NOTICE",
    "cable-end-untraced": "CAUTION",
    "cable-label-misleads": "CAUTION",
    "cable-of-other-kind": "WARNING",
    "case-on-neutral": "WARNING",
    "charger-on-own-batteries": "WARNING",
    "circuit-fed-twice": "WARNING",
    "condition-has-no-solution": "WARNING",
    "conductor-not-thermally-protected": "WARNING",
    "conductor-overloaded": "WARNING",
    "conductor-too-small": "CAUTION",
    "conductor-unprotected": "WARNING",
    "continuous-load-on-breaker": "CAUTION",
    "core-colour-contradicts": "WARNING",
    "dangling-reference": "WARNING",
    "dc-on-ac-terminal": "DANGER",
    "dc-polarity-reversed": "WARNING",
    "device-above-ampacity": "WARNING",
    "device-above-bar-rating": "WARNING",
    "device-for-other-current": "WARNING",
    "device-opens-too-late": "WARNING",
    "device-voltage-too-low": "WARNING",
    "earth-and-negative-apart": "CAUTION",
    "earth-and-negative-joined-twice": "NOTICE",
    "earth-carries-current": "WARNING",
    "earth-core-missing": "WARNING",
    "earth-core-too-small": "WARNING",
    "earth-interrupted": "WARNING",
    "earth-leads-nowhere": "WARNING",
    "earth-through-device": "CAUTION",
    "evidence-older-than-change": "NOTICE",
    "free-core-live": "CAUTION",
    "galvanic-isolator-bypassed": "CAUTION",
    "galvanic-isolator-useless": "NOTICE",
    "generator-device-too-large": "WARNING",
    "hungry-load-on-inverter": "CAUTION",
    "inlet-pins-live": "DANGER",
    "insulation-too-cool": "WARNING",
    "interrupting-rating-below-fault": "WARNING",
    "inverter-overloaded": "WARNING",
    "inverter-surge": "CAUTION",
    "isolation-bypassed": "WARNING",
    "isolation-earth-passed": "CAUTION",
    "line-on-earth": "DANGER",
    "line-on-neutral": "DANGER",
    "lines-opened-apart": "WARNING",
    "lines-swapped": "CAUTION",
    "load-between-two-sources": "WARNING",
    "load-never-counted": "NOTICE",
    "load-not-fed": "NOTICE",
    "neutral-earth-joined-twice": "WARNING",
    "neutral-earth-not-joined": "WARNING",
    "neutral-fused-alone": "WARNING",
    "neutral-on-other-section": "WARNING",
    "neutral-overloaded": "WARNING",
    "no-selectivity": "NOTICE",
    "not-ignition-protected": "WARNING",
    "panel-live-with-main-open": "WARNING",
    "photograph-is-no-picture": "NOTICE",
    "photograph-missing": "NOTICE",
    "polarity-indicator-missing": "CAUTION",
    "positive-on-earth": "WARNING",
    "search-incomplete": "WARNING",
    "several-sources-unmarked": "NOTICE",
    "shore-main-opens-line-alone": "CAUTION",
    "shore-neutrals-joined": "WARNING",
    "shore-without-leakage-protection": "CAUTION",
    "source-overloaded": "WARNING",
    "source-without-meters": "NOTICE",
    "spare-way-in-use": "CAUTION",
    "stud-overloaded": "NOTICE",
    "supply-not-allowed": "WARNING",
    "transfer-overloaded": "WARNING",
    "unsynchronised-sources-joined": "DANGER",
    "unused-id": "NOTICE",
    "voltage-contradicts-system": "WARNING",
    "voltage-drop-too-large": "CAUTION",
    "voltage-mixed": "WARNING",
    "way-label-misleads": "CAUTION",
    "way-unlabelled": "NOTICE",
    "way-with-two-cables": "NOTICE",
    "wet-receptacles-without-leakage-protection": "WARNING",
}
FILES = sorted(CASES.glob("*.yaml"))
LOADED = {path.stem: load(path) for path in FILES}
EVERY = [
    pytest.param(rule, kind, case, id=f"{rule}-{kind}-{name}")
    for rule, cases in LOADED.items()
    for kind in ("good", "bad")
    for name, case in cases[kind].items()
]


@pytest.mark.parametrize(("rule", "kind", "case"), EVERY)
def test_case(rule: str, kind: str, case: Raw) -> None:
    survey = judged(case)
    found = [told(finding) for finding in survey.findings if finding.rule == rule]
    assert found == case.get("findings", [])
    assert bool(found) == (kind == "bad")
    lacking = [[each.item, each.missing] for each in survey.cannot_judge if each.rule == rule]
    assert lacking == case.get("cannot_judge", [])
    others = sorted(finding.rule for finding in survey.findings if finding.rule != rule)
    assert others == case.get("also", []), "one mistake is told once"
    fingerprints = [finding.fingerprint for finding in survey.findings]
    assert len(set(fingerprints)) == len(fingerprints)


@pytest.mark.parametrize(("rule", "kind", "case"), EVERY)
def test_silence_is_never_taken_for_soundness(rule: str, kind: str, case: Raw) -> None:
    """A rule that says nothing has looked at something, or tells that there was nothing for it."""
    survey = judged(case)
    found = next(each for each in survey.coverage if each.rule == rule)
    assert found.nothing == case.get("judges_nothing", False)
    assert not found.nothing or case["why"]
    mine = [finding for finding in survey.findings if finding.rule == rule]
    culprits = {item for finding in mine for item in finding.culprits or finding.items[:1]}
    assert found.failed == len(culprits)
    assert kind == "good" or found.failed
    assert bool(found.unknown) >= bool(case.get("cannot_judge")) or kind == "bad"


def test_the_boat_beneath_the_cases_is_sound() -> None:
    survey = surveyed("")
    assert not survey.findings
    assert not survey.cannot_judge


def test_every_rule_has_good_and_bad_cases() -> None:
    assert LOADED.keys() == RULES.keys()
    for rule, cases in LOADED.items():
        assert cases.keys() == {"good", "bad"}, rule
        assert cases["good"], rule
        assert cases["bad"], rule


def test_ids_and_signal_words_are_a_contract() -> None:
    assert {rule.id: rule.signal_word for rule in RULES.values()} == IDS
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", rule) for rule in RULES)
    assert all(key == rule.id for key, rule in RULES.items())
    assert RULE_FAILED not in RULES


@pytest.mark.parametrize("rule", sorted(RULES))
def test_every_rule_says_what_why_remedy_and_source(rule: str) -> None:
    each = RULES[rule]
    assert each.signal_word in SIGNAL_WORDS
    for text in (each.title, each.why, each.remedy, each.source):
        assert text.strip() == text
        assert len(text) > 5
    assert not each.title.endswith(".")
    assert each.why.endswith(".")
    assert each.remedy.endswith(".")
    assert each.judge.__doc__


@pytest.mark.parametrize("rule", sorted(RULES))
def test_explain_prints_every_rule(rule: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", rule]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    each = RULES[rule]
    for text in (each.id, each.signal_word, each.title, each.why, each.remedy, each.source):
        assert text in printed


def test_explain_lists_every_rule(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain"]) == 0
    listed, _, counts = capsys.readouterr().out.partition("\n\n")
    assert [line.split()[1] for line in listed.splitlines()] == sorted([*RULES, *ABOUT])
    assert counts.startswith(f"{len(RULES) + len(ABOUT)} rules: ")


def test_every_file_of_rules_is_entered() -> None:
    folder = Path(SUBJECTS[0].__file__ or "").parent
    with_rules = {path.stem for path in folder.glob("*.py") if "\n@rule(" in path.read_text(encoding="utf-8")}
    assert with_rules == {module.__name__.rpartition(".")[2] for module in SUBJECTS}
