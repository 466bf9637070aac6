"""A review: what is new, cleared and inherited, and what it says where a state cannot be understood."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.changes import Effects, Review, Side, review, touched
from vesselspec.changes.review import empty_vessel
from vesselspec.record import Places, Record, read
from vesselspec.report.summary_content import summarise
from vesselspec.rules import Finding, survey

from .boats import REFERRING, TWO_SOURCES, Raw, boat, edited, in_files, record, reviewed, side, spoilt, vessel

BROKEN = Record(None, Places(), read({"vessel.yaml": b"vessel: 12\n"}).problems)


def _too_large(raw: Raw) -> None:
    raw["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "100 A"


def _rules(findings: Any) -> list[tuple[str, str]]:
    return [(finding.rule, finding.items[0]) for finding in findings]


def test_new_cleared_and_inherited() -> None:
    bad = edited(TWO_SOURCES, _too_large)
    old = [("conductor-unprotected", "F2")]
    forth, back, same = reviewed(TWO_SOURCES, bad), reviewed(bad, TWO_SOURCES), reviewed(bad, bad)
    assert (_rules(forth.new), _rules(forth.cleared), _rules(forth.inherited)) == (
        [("device-above-ampacity", "main/a/1")],
        [],
        old,
    )
    assert (_rules(back.new), _rules(back.cleared), _rules(back.inherited)) == (
        [],
        [("device-above-ampacity", "main/a/1")],
        old,
    )
    assert (same.new, same.cleared, same.changes) == ((), (), ())
    assert len(same.inherited) == 2


def test_findings_stay_inherited_when_lines_and_files_move() -> None:
    bad = edited(TWO_SOURCES, _too_large)
    header = json.dumps({"vessel": bad["vessel"]}).encode()
    rest = json.dumps({name: held for name, held in bad.items() if name != "vessel"}, indent=1).encode()
    moved = read({"vessel.yaml": header, "deep/all.yaml": b"# one\n\n# two\n" + rest})
    found = review(side("before", record(bad)), side("after", moved))
    assert (found.changes, found.new, found.cleared) == ((), (), ())
    assert {finding.place.file for finding in found.inherited} == {"deep/all.yaml"}
    assert all(finding.place.line > 3 for finding in found.inherited)


def test_findings_stay_inherited_when_words_and_figures_in_them_change() -> None:
    bad = edited(TWO_SOURCES, _too_large)

    def other_words(raw: Raw) -> None:
        raw["panels"]["main"]["sections"]["a"]["ways"]["1"] |= {"rating": "90 A", "label": "Aft"}

    found = reviewed(bad, edited(bad, other_words))
    assert (found.new, found.cleared) == ((), ())
    before, after = (
        {finding.message for finding in findings} for findings in (found.before.survey.findings, found.inherited)
    )
    assert before != after


def test_a_finding_that_becomes_graver_is_new_and_one_that_becomes_lighter_is_not() -> None:
    graver = side("x", record(edited(TWO_SOURCES, _too_large)))
    lighter = replace(
        graver, survey=replace(graver.survey, findings=tuple(_as(f, "NOTICE") for f in graver.survey.findings))
    )
    found, back = review(lighter, graver), review(graver, lighter)
    assert (found.new, found.inherited, found.cleared) == (graver.survey.findings, (), ())
    assert (back.new, back.inherited, back.cleared) == ((), lighter.survey.findings, ())


def _as(finding: Finding, word: str) -> Finding:
    return replace(finding, signal_word=word)


@pytest.mark.parametrize("raw", [TWO_SOURCES, REFERRING, edited(TWO_SOURCES, _too_large)])
def test_no_two_findings_of_a_state_share_a_fingerprint(raw: Raw) -> None:
    prints = [finding.fingerprint for finding in survey(boat(raw)).findings]
    assert len(prints) == len(set(prints))


def test_what_can_newly_not_be_judged_is_told_once() -> None:
    """The 10 AWG feeder had no label before; the heater's cable has no size now."""
    before = edited(TWO_SOURCES, lambda raw: raw["cables"]["F1"].pop("length"))
    after = edited(before, lambda raw: raw["cables"]["C1"].pop("size"))
    found = reviewed(before, after)
    assert {(each.item, each.missing) for each in found.newly_unjudged} == {("C1", "its size")}
    assert "device-above-ampacity" in {each.rule for each in found.newly_unjudged}
    assert reviewed(after, before).newly_unjudged == ()
    assert reviewed(after, after).newly_unjudged == ()


def _broken(name: str) -> Side:
    return side(name, BROKEN)


def test_a_base_that_cannot_be_understood_hides_no_finding_of_the_head() -> None:
    found = review(_broken("before"), side("after", record(edited(TWO_SOURCES, _too_large))))
    assert not found.understood
    assert len(found.new) == 2
    assert (found.cleared, found.inherited, found.changes) == ((), (), ())


def test_a_head_that_cannot_be_understood_clears_nothing() -> None:
    found = review(side("before", record(edited(TWO_SOURCES, _too_large))), _broken("after"))
    assert not found.understood
    assert (found.new, found.cleared, found.inherited, found.changes) == ((), (), (), ())
    assert found.after.problems


def test_neither_understood() -> None:
    found = review(_broken("before"), _broken("after"))
    assert not found.understood
    assert (found.new, found.cleared, found.inherited, found.newly_unjudged) == ((), (), (), ())


def test_before_its_first_record_a_boat_has_nothing() -> None:
    head = record(TWO_SOURCES)
    assert head.vessel is not None
    found = review(side("before", Record(empty_vessel(head.vessel), Places(), ())), side("after", head))
    assert found.understood
    assert {change.kind for change in found.changes} == {"added"}
    assert len(found.changes) == len(list(head.vessel.items()))
    assert _rules(found.new) == [("conductor-unprotected", "F2")]


def test_what_is_touched_is_marked_under_both_names() -> None:
    def change(raw: Raw) -> None:
        raw["cables"]["C9"] = {**raw["cables"].pop("C1"), "formerly": ["C1"]}
        raw["loads"].pop("pump")
        raw["cables"].pop("D1")
        raw["conditions"]["both"]["demand"].pop("pump")
        raw["loads"]["lamp"] = {"system": "ac", "power": "10 W"}

    marks = touched(reviewed(TWO_SOURCES, edited(TWO_SOURCES, change)))
    assert marks == {"C9": "changed", "C1": "changed", "pump": "removed", "D1": "removed", "lamp": "added"}


@settings(max_examples=40, deadline=None)
@given(before=spoilt(), after=spoilt())
def test_findings_add_up_between_any_two_states(before: Raw, after: Raw) -> None:
    found: Review = reviewed(before, after)
    assert len(found.new) + len(found.inherited) == len(found.after.survey.findings)
    if found.understood:
        kept = len(found.before.survey.findings) - len(found.cleared)
        assert kept >= 0
        assert bool(kept) == bool(found.inherited)
        assert bool(found.changes) == (vessel(before) != vessel(after))


@settings(max_examples=8, deadline=None)
@given(
    source=st.randoms(use_true_random=False),
    raw=st.sampled_from([TWO_SOURCES, REFERRING, edited(TWO_SOURCES, _too_large)]),
)
def test_a_review_of_the_same_boat_is_empty_in_whatever_order_and_files(source: random.Random, raw: Raw) -> None:
    other = read(in_files(raw, source))
    for before, after in ((record(raw), other), (other, record(raw)), (other, other)):
        found = review(side("before", before), side("after", after))
        assert found.understood
        assert (found.changes, found.new, found.cleared, found.newly_unjudged) == ((), (), (), ())
        assert found.effects == Effects((), (), (), ())
        page = summarise(found)
        assert (page.done, page.panels, page.elsewhere, page.checks, page.tables, page.shocks) == ((),) * 6
