"""How much the rules looked at: what they call sound is so, and what nobody knows is not called sound."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from vesselspec.network.graph import LINES
from vesselspec.report.survey import NOTHING, coverage_line, survey_markdown, survey_text
from vesselspec.report.survey import Subject as Named
from vesselspec.report.terminal import Page
from vesselspec.rules import RULES, Boat, Coverage, Survey, survey
from vesselspec.rules.book import Open, Sound

from .helpers import CASES, boat_of, load, surveyed

#: For each rule about potentials: the poles that it guards, and those that must not come there.
GUARDED = {
    "ac-on-dc-terminal": (("DC+", "DC-"), LINES),
    "dc-on-ac-terminal": (LINES, ("DC+", "DC-")),
    "line-on-neutral": (("N",), LINES),
    "line-on-earth": (("PE",), LINES),
    "dc-polarity-reversed": (("DC-",), ("DC+",)),
    "positive-on-earth": (("PE",), ("DC+",)),
}


@pytest.mark.parametrize("rule", GUARDED)
def test_no_place_is_sound_that_a_wrong_potential_can_reach(rule: str) -> None:
    """Over every bad record of the potentials: what can come there, asked of the search and of nothing else."""
    guarded, wrong = GUARDED[rule]
    seen = 0
    for other in GUARDED:
        for case in load(CASES / f"{other}.yaml")["bad"].values():
            boat = boat_of(case["record"], case.get("base", "boat"))
            sound = {said.item for said in RULES[rule].judge(boat) if isinstance(said, Sound)}
            seen += len(sound)
            for number, terminal in enumerate(boat.network.terminals):
                if terminal.place in sound and terminal.pole in guarded:
                    assert not [a for a in boat.reach.at(number) if a.emission.pole in wrong], terminal.name
    assert seen > 100


def test_where_a_cable_ends_nobody_knows_where_the_potentials_are_open() -> None:
    boat = boat_of("cables:\n  X1: {type: ac-14, from: ac-panel/shore/3, to: untraced, length: 2 m, label: X1}\n")
    said = list(RULES["line-on-neutral"].judge(boat))
    assert Open("ac-panel/shore") in said
    assert Sound("ac-panel/shore") not in said
    assert Sound("ac-panel/backed") in said


def test_what_a_cable_without_cores_comes_to_is_open() -> None:
    boat = boat_of("cables:\n  X1: {from: ac-panel/shore/3, to: outlets, length: 2 m, label: X1}\n")
    said = list(RULES["line-on-neutral"].judge(boat))
    assert Open("ac-panel/shore") in said
    assert Open("outlets") in said
    assert Sound("outlets") not in said
    assert Sound("ac-panel/backed") in said


_PUMP = """
loads:
  pump: {space: cabin, system: dc, current: 5 A}
devices:
  pump-fuse: {kind: fuse, space: cabin, system: dc, mounted_on: "dc-bar:DC+"RATING}
cables:
  X1: {type: dc-14, from: pump-fuse/load, to: pump, length: 2 m, route: [cabin], label: X1,
       cores: {yellow: {from: "dc-bar:DC-", to: DC-}}}
"""


def _ampacity(rating: str) -> tuple[Survey, Coverage]:
    result = surveyed(_PUMP.replace("RATING", rating))
    return result, next(each for each in result.coverage if each.rule == "device-above-ampacity")


def test_what_a_finding_names_is_not_sound_whoever_the_culprit_is() -> None:
    """The device is the culprit, its cable is what was looked at."""
    _, before = _ampacity(", rating: 15 A")
    result, after = _ampacity(", rating: 90 A")
    assert [f.items for f in result.findings if f.rule == after.rule] == [("pump-fuse", "X1")]
    assert (before.failed, after.failed, after.sound) == (0, 1, before.sound - 1)


def test_what_waits_for_an_unknown_is_counted_not_the_unknown() -> None:
    _, before = _ampacity(", rating: 15 A")
    result, after = _ampacity("")
    assert [each.item for each in result.cannot_judge if each.rule == after.rule] == ["pump-fuse"]
    assert (before.unknown, after.unknown, after.sound) == (0, 1, before.sound - 1)  # its cable


def test_what_feeds_a_load_that_nobody_measured_is_not_called_sound() -> None:
    text = """
loads:
  kettle: {space: cabin, system: ac, poles: [L1, N]DRAW, duty: continuous}
cables:
  X1: {type: ac-14, from: ac-panel/backed/4, to: kettle, length: 2 m, route: [cabin], label: X1}
conditions:
  alongside: {running: [shore], positions: {selector: shore}, demand: {outlets: 1.0, lights: 1.0, kettle: 1.0}}
"""
    unknown, known = boat_of(text.replace("DRAW", "")), boat_of(text.replace("DRAW", ", current: 1 A"))
    for rule, item in (
        ("conductor-overloaded", "combi-out"),
        ("conductor-overloaded", "main-lead"),
        ("conductor-overloaded", "bank-lead"),
        ("transfer-overloaded", "combi"),
        ("continuous-load-on-breaker", "ac-panel/backed/4"),
    ):
        assert Open(item) in list(RULES[rule].judge(unknown)), rule
        assert Sound(item) not in list(RULES[rule].judge(unknown)), rule
        assert Sound(item) in list(RULES[rule].judge(known)), rule


def test_a_rule_that_crashes_has_found_nothing_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    def judge(boat: Boat) -> Iterator[Sound]:
        yield Sound("bank")
        raise ValueError("oops")

    rule = RULES["inlet-pins-live"]
    monkeypatch.setitem(RULES, rule.id, replace(rule, judge=judge))
    found = {each.rule: each for each in survey(boat_of("")).coverage}[rule.id]
    assert found.sound == 0


def test_a_survey_says_how_much_was_looked_at_and_what_was_not() -> None:
    result = surveyed("")
    line = coverage_line(result)
    idle = sum(each.nothing for each in result.coverage)
    assert line.startswith(f"{len(RULES) - idle} rules looked at ")
    assert "nothing on this boat to judge for " in line
    assert "No operating condition is recorded" in line, "the boat beneath the cases has none"
    with_one = surveyed("conditions: {alongside: {running: [shore]}}")
    assert "No operating condition" not in coverage_line(with_one)
    text = survey_text(Page(width=600, colour=False), Named("Example", "x"), result, full=True, coverage=True)
    assert line in text
    assert f"{NOTHING}\n" in text
    assert all(f"\n{rule}  " in text for rule in RULES)
    markdown = survey_markdown(Named("Example", "x"), result)
    assert all(f"\n| {rule} | " in markdown for rule in RULES)
