"""The examples that `explain` prints: the bad one really gives the finding, the mended one is sound."""

from __future__ import annotations

import pytest

from vesselspec.rules import RULES
from vesselspec.rules.examples import BOAT, INTERNATIONAL, NOTHING, PLASTIC, examples

from .helpers import CASE, surveyed

BASES = {BOAT: "boat", NOTHING: "bare", INTERNATIONAL: "bare-international", PLASTIC: "bare-plastic"}
SHOWN = sorted(rule for rule, example in examples().items() if not example.none)


def test_every_rule_has_an_example_or_a_reason_why_not() -> None:
    assert examples().keys() == RULES.keys()
    assert [rule for rule, example in examples().items() if example.none] == [
        "search-incomplete",
        "evidence-older-than-change",
    ]


@pytest.mark.parametrize("rule", SHOWN)
def test_the_bad_one_gives_the_finding_and_the_good_one_is_sound(rule: str) -> None:
    example = examples()[rule]
    base = BASES[example.on]
    bad, good = surveyed(example.bad, base), surveyed(example.good, base)
    mine = [finding for finding in bad.findings if finding.rule == rule]
    assert mine
    assert bad.findings[0].signal_word in {finding.signal_word for finding in mine}
    assert [finding.message for finding in good.findings] == []
    assert not [each for each in good.cannot_judge if each.rule == rule and each.place.file == CASE]
    looked = next(each for each in good.coverage if each.rule == rule)
    assert looked.sound or (rule == "no-selectivity" and looked.unknown)  # published bounds seldom settle it


@pytest.mark.parametrize("rule", SHOWN)
def test_an_example_is_short_and_says_what_is_wrong(rule: str) -> None:
    example = examples()[rule]
    assert example.about.endswith(".")
    assert len(example.bad.splitlines()) <= 32
    assert all(len(line) <= 125 for line in (example.bad + example.good).splitlines())
