"""What is not recorded, as work: in order, grouped by where to go, and gone once it is filled in."""

from __future__ import annotations

import ast
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from vesselspec.cli.main import run
from vesselspec.record import read
from vesselspec.report.json import dumps
from vesselspec.report.survey import Subject
from vesselspec.report.terminal import Page
from vesselspec.report.unknowns import unknowns_json, unknowns_markdown, unknowns_text
from vesselspec.rules import RULES, SIGNAL_WORDS, Boat, survey
from vesselspec.rules.missing import OTHER, kind_of, kinds
from vesselspec.rules.potentials import FOLLOW_CORES
from vesselspec.rules.unknowns import CONDITIONS, Unknown, stops_of, unknowns_of

from .helpers import CASES, Raw, boat_of, load

ROOT = Path(__file__).parents[2]


def unknowns(boat: Boat) -> tuple[Unknown, ...]:
    return unknowns_of(boat, survey(boat))


# --- the words -------------------------------------------------------------------------------------


def _said() -> Iterator[str]:
    """Every phrase in which a rule says what is missing: in its cases, and as it stands in the code."""
    for path in CASES.glob("*.yaml"):
        for cases in load(path).values():
            for case in cases.values():
                yield from (missing for _, missing in case.get("cannot_judge", []))
    for path in (ROOT / "vesselspec" / "rules").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Lacks":
                value = next(each.value for each in node.keywords if each.arg == "missing")
                if isinstance(value, ast.Constant):
                    yield str(value.value)
                elif isinstance(value, ast.JoinedStr) and isinstance(value.values[0], ast.Constant):
                    yield "".join(str(part.value) if isinstance(part, ast.Constant) else "x" for part in value.values)


def test_every_phrase_of_a_rule_has_a_kind() -> None:
    """A phrase in this list still works, as `other`; give it a line in missing.toml."""
    unlisted = {phrase for phrase in _said() if phrase not in ("its x", "the x of x") and kind_of(phrase).key == OTHER}
    assert not unlisted


def test_kinds_say_how_and_each_phrase_leads_to_its_own() -> None:
    for kind in kinds():
        assert kind.how.endswith(".")
        assert not kind.caution or kind.caution.endswith(".")
        for phrase in kind.phrases:
            assert kind_of(phrase.replace("*", "x")) is kind, phrase
    assert [kind.key for kind in kinds() if "*" in kind.phrases] == [OTHER]
    assert kinds()[-1].key == OTHER
    assert kind_of("something that no list has").key == OTHER


def test_following_cores_names_rules() -> None:
    assert set(FOLLOW_CORES) <= RULES.keys()


# --- the example -----------------------------------------------------------------------------------


@cache
def _example() -> str:
    """The example's record as one text, so that a test may fill in what it likes."""
    merged: Raw = {}
    for path in sorted((ROOT / "example_vessel").glob("*.yaml")):
        for key, value in load(path).items():
            merged.setdefault(key, {}).update(value)
    return json.dumps(merged, default=str)


def _boat(raw: Raw) -> Boat:
    record = read({"vessel.yaml": json.dumps(raw).encode()})
    assert record.vessel is not None, [str(problem) for problem in record.problems]
    return Boat(record.vessel, record.places)


@cache
def _before() -> tuple[Unknown, ...]:
    return unknowns(_boat(json.loads(_example())))


def _entry(raw: Raw, item: str) -> Raw:
    collection, _, key = item.rpartition("/")
    names = (
        [collection] if collection in raw else [name for name in raw if name not in ("vessel", "interlocks", "days")]
    )
    found: Raw = next(raw[name][key] for name in names if key in raw[name])
    return found


#: What somebody who went to look would write, by kind.
FILLED: dict[str, dict[str, Any]] = {
    "size": {"size": "2 AWG"},
    "length": {"length": "2 m"},
    "marking": {"label": "as read"},
    "evidence": {"evidence": {"how": "traced"}},
    "source-fault": {"short_circuit_current": "120 A"},
    "shore-fault": {"supply_fault_current": "3 kA", "cord": {"size": "6 AWG", "length": "15 m"}},
}


def test_filling_one_in_removes_its_line_and_no_other() -> None:
    before = {(each.item, each.kind.key) for each in _before()}
    assert len(before) == len(_before()) > 10
    for each in _before():
        raw = json.loads(_example())
        entry = _entry(raw, each.item)
        if each.kind.key == "landing":
            load = next(key for key, load in raw["loads"].items() if load["system"] == "dc-12")
            entry.update({"to": load, "length": "2 m", "cores": {"red": "DC+", "black": "DC-"}})
        else:
            entry.update(FILLED[each.kind.key])
        after = {(one.item, one.kind.key) for one in unknowns(_boat(raw))}
        gone = before - after
        assert (each.item, each.kind.key) in gone
        assert {item for item, _ in gone} == {each.item}
        assert after <= before, "nothing else has come up"


def test_what_guards_life_comes_first_and_every_line_says_where_to_go() -> None:
    found = _before()
    ranks = [(not each.guards_life, SIGNAL_WORDS.index(each.signal_word)) for each in found]
    assert ranks == sorted(ranks)
    assert found[0].guards_life
    stops = stops_of(found)
    assert [each for stop in stops for each in stop.unknowns if each.where != stop.where] == []
    assert sum(len(stop.unknowns) for stop in stops) == len(found)
    assert stops[0].unknowns[0] is found[0]
    assert len({stop.where for stop in stops}) == len(stops)
    assert all(each.place.line for each in found)


def test_what_the_survey_cannot_judge_is_all_in_the_list() -> None:
    boat = _boat(json.loads(_example()))
    found = survey(boat)
    listed = {(each.item, missing, rule) for each in unknowns_of(boat, found) for missing in each.missing
              for rule in each.rules}  # fmt: skip
    assert {(each.item, each.missing, each.rule) for each in found.cannot_judge} <= listed


# --- small boats -----------------------------------------------------------------------------------


def test_a_boat_without_unknowns_says_so() -> None:
    found = unknowns(boat_of(""))
    assert found == ()
    subject = Subject("Example", "x")
    assert "Nothing is missing that a rule asks for" in unknowns_text(Page(width=100, colour=False), subject, found)
    assert "Nothing is missing that a rule asks for" in unknowns_markdown(subject, found)


def test_an_end_that_nobody_traced_waits_for_the_rules_that_guard_life() -> None:
    text = (
        "cables:\n  X1: {type: ac-14, from: ac-panel/shore/3, to: untraced, length: 2 m, route: [cabin], label: X1}\n"
    )
    (found,) = unknowns(boat_of(text))
    assert (found.item, found.missing, found.kind.key) == ("X1", ("where its to end lands",), "landing")
    assert (found.where, found.guards_life, found.signal_word) == ("ac-panel, cabin", True, "DANGER")
    assert found.rules[0] == "ac-on-dc-terminal"
    assert {"cable-end-untraced", *FOLLOW_CORES} == set(found.rules)


def test_cables_without_cores_and_what_has_no_system_wait_for_the_rules_that_guard_life() -> None:
    text = """
loads: {fan: {space: cabin, power: 100 W}}
cables: {X1: {from: ac-panel/shore/3, to: fan, label: X1}}
"""
    found = unknowns(boat_of(text))[:2]
    assert [(each.item, each.missing, each.kind.key) for each in found] == [
        ("X1", ("its cores, or its type",), "cores"),
        ("fan", ("its system",), "system"),
    ]
    assert all(each.guards_life and set(FOLLOW_CORES) <= set(each.rules) for each in found)


def test_a_core_that_nobody_traced_is_one_line_with_what_an_earth_waits_for() -> None:
    text = """
loads:
  fan: {space: cabin, system: ac, poles: [L1, N, PE], power: 100 W}
cables:
  X1: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m, route: [cabin], label: X1, cores: {green: untraced}}
"""
    found = [each for each in unknowns(boat_of(text)) if each.kind.key == "landing"]
    assert [(each.item, each.missing) for each in found] == [("X1", found[0].missing)]
    assert {"earth-core-missing", "line-on-earth"} <= set(found[0].rules)


def test_an_unlabelled_end_is_a_finding_and_not_an_unknown() -> None:
    text = """
loads:
  fan: {space: cabin, system: ac, poles: [L1, N, PE], power: 100 W}
cables:
  X1: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m, route: [cabin], label: none}
"""
    assert unknowns(boat_of(text)) == ()


def test_a_condition_is_asked_for_and_not_looked_for() -> None:
    text = "conditions:\n  quiet: {running: [shore], demand: {outlets: 1.0}}\n"
    found = unknowns(boat_of(text))
    assert {(each.item, each.where, each.kind.key) for each in found} >= {("quiet", CONDITIONS, "position")}


# --- reports ---------------------------------------------------------------------------------------


def test_json_is_as_published_and_markdown_has_a_box_for_each() -> None:
    schema = json.loads((ROOT / "schema/unknowns.schema.json").read_text(encoding="utf-8"))
    subject = Subject("Plain", "work tree")
    data = json.loads(dumps(unknowns_json(subject, _before())))
    assert [error.message for error in Draft202012Validator(schema).iter_errors(data)] == []
    assert len(data["unknowns"]) == len(_before())
    markdown = unknowns_markdown(subject, _before())
    assert markdown.count("\n- [ ] ") == len(_before())
    text = unknowns_text(Page(width=200, colour=False), subject, _before())
    assert text.count("  [ ] ") == len(_before())
    for page in (markdown, text):
        assert "prove dead before touching" in page
        assert "Never judge a size by eye" in page


def test_text_of_the_record_cannot_become_markup(tmp_path: Path) -> None:
    text = """
loads:
  fan: {space: cabin, system: ac, poles: [L1, N, PE], power: 100 W, name: "<b>x</b> [a](b)\\e[31m",
        evidence: {how: assumed}}
cables:
  X1: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m, route: [cabin], label: X1}
"""
    found = unknowns(boat_of(text))
    markdown = unknowns_markdown(Subject("Plain", "x"), found)
    assert "<b>" not in markdown
    assert "](b)" not in markdown
    assert "\x1b" not in unknowns_text(Page(width=100, colour=False), Subject("Plain", "x"), found)


@pytest.mark.parametrize(("text", "status"), [("", 0), ("cables: {X: {}}\n", 2)])
@pytest.mark.parametrize("output", ["text", "markdown", "json"])
def test_exit_status_tells_only_whether_it_was_understood(
    tmp_path: Path, text: str, status: int, output: str, capsys: pytest.CaptureFixture[str]
) -> None:
    schema = json.loads((ROOT / "schema/unknowns.schema.json").read_text(encoding="utf-8"))
    (tmp_path / "vessel.yaml").write_text(
        "vessel: {record: 1, name: Plain, practice: north-american}\n" + text, encoding="utf-8"
    )
    assert run(["unknowns", str(tmp_path), "--output", output, "--out", str(tmp_path / "out")]) == status
    shown = capsys.readouterr().out
    assert shown
    if output == "json":
        Draft202012Validator(schema).validate(json.loads(shown))
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["unknowns.json", "unknowns.md"]


def test_pictures_that_are_there_are_named_with_what_they_may_show() -> None:
    text = """
panels:
  box: {space: cabin, system: ac, photos: [photos/panel.jpg, photos/lost.jpg], sections: {a: {ways: {
    "1": {poles: [L1], rating: 15 A, duty: main}, "2": {poles: [L1], rating: 15 A, duty: main}}}}}
cables:
  X1: {type: ac-14, from: box/a/1, to: untraced, length: 2 m, route: [cabin], label: X1}
"""
    found = {each.item: each.photos for each in unknowns(boat_of(text))}
    assert found["X1"] == found["box"] == ("photos/panel.jpg",)
    shown = unknowns_text(Page(width=100, colour=False), Subject("x", "x"), unknowns(boat_of(text)))
    assert "pictures to look at first: photos/panel.jpg" in shown
    assert "photos/lost.jpg" not in shown
