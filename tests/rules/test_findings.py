"""Findings are data: the same whatever the files look like, and told apart by what they are about."""

from __future__ import annotations

import dataclasses
import json
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.record import Place, read
from vesselspec.rules import RULES, Boat, Survey, survey
from vesselspec.rules.book import RULE_FAILED, failed

from .helpers import BASES, CASE, CASES, Raw, load, surveyed

#: Several mistakes on one boat.
MISTAKES = """
loads:
  fan: {space: cabin, system: ac, poles: [L1, N], power: 100 W}
  lamp: {space: cabin, system: ac, poles: [L1, N], power: 100 W}
  pump: {space: cabin, system: dc, current: 5 A}
cables:
  X1: {type: ac-14, from: ac-panel/shore/3, to: fan, length: 2 m,
       cores: {black: {from: L1, to: N}, white: {from: N, to: L1}}}
  X2: {type: ac-14, from: ac-panel/backed/3, to: lamp, label: none,
       cores: {black: L1, white: {from: "ac-panel/shore:N", to: N}}}
  X3: {type: ac-14, from: ac-panel/shore/5, to: ac-panel/backed/4, label: X3, cores: {red: L2}}
  X4: {type: dc-14, from: dc-panel/house/3, to: pump, cores: {red: {from: DC+, to: DC-}, yellow: {from: DC-, to: DC+}}}
  X5: {from: bank, to: untraced, size: 14 AWG, cores: {red: DC+, black: DC-}}
conditions:
  now: {running: [shore], positions: {selector: shore}, demand: {fan: 1.0, outlets: 1.0, nobody: 1.0}}
"""


def dump(data: Raw) -> bytes:
    """A record as YAML: JSON is YAML too."""
    return json.dumps(data, indent=1).encode()


def whole() -> Raw:
    """The boat with its mistakes in one mapping of collections."""
    data = load(BASES / "boat.yaml")
    more: Raw = YAML(typ="safe").load(MISTAKES)
    for name, entries in more.items():
        data[name] = {**data.get(name, {}), **entries}
    return data


def shuffled(data: Raw, seed: int, files: int) -> dict[str, bytes]:
    """The same record, its entries in another order and spread over several files."""
    dice = random.Random(seed)
    parts: list[Raw] = [{} for _ in range(files)]
    for name, entries in data.items():
        if name == "vessel":
            continue
        keys = list(entries)
        dice.shuffle(keys)
        for key in keys:
            dice.choice(parts).setdefault(name, {})[key] = entries[key]
    written = {f"part-{n}.yaml": dump(part) for n, part in enumerate(parts) if part}
    return {"vessel.yaml": dump({"vessel": data["vessel"]}), **written}


def judged(files: dict[str, bytes]) -> Survey:
    """A survey of files."""
    record = read(files)
    assert record.vessel is not None, record.problems
    return survey(Boat(record.vessel, record.places))


def said(result: Survey) -> set[tuple[Any, ...]]:
    """Everything about the findings but where they stand."""
    return {
        (f.fingerprint, f.rule, f.signal_word, f.items, f.message, f.witness, f.positions, f.consequences, f.source)
        for f in result.findings
    } | {(u.rule, u.item, u.missing) for u in result.cannot_judge}


def test_the_mistakes_are_many() -> None:
    found = judged(shuffled(whole(), 0, 1))
    assert len({finding.rule for finding in found.findings}) >= 8
    assert found.cannot_judge


@settings(deadline=None, max_examples=12)
@given(st.integers(0, 10**9), st.integers(1, 4))
def test_files_and_order_change_nothing(seed: int, files: int) -> None:
    assert said(judged(shuffled(whole(), seed, files))) == said(judged(shuffled(whole(), 0, 1)))


@settings(deadline=None, max_examples=8)
@given(st.integers(0, 10**9), st.randoms(use_true_random=False))
def test_the_order_of_findings_is_their_own(seed: int, dice: random.Random) -> None:
    files = shuffled(whole(), seed, 3)
    names = list(files)
    dice.shuffle(names)
    again = judged({name: files[name] for name in names})
    assert again == judged(files)
    weights = [("DANGER", "WARNING", "CAUTION", "NOTICE").index(f.signal_word) for f in again.findings]
    assert weights == sorted(weights)
    for one, two in zip(again.findings, again.findings[1:], strict=False):
        assert (one.signal_word != two.signal_word) or (one.place, one.rule) <= (two.place, two.rule)
    assert list(again.cannot_judge) == sorted(again.cannot_judge)


def test_lines_that_move_keep_the_fingerprint() -> None:
    before = surveyed(MISTAKES)
    after = surveyed("# A new comment.\n\n\n" + MISTAKES.replace("loads:\n", "loads:\n\n\n"))
    assert [f.fingerprint for f in after.findings] == [f.fingerprint for f in before.findings]
    assert [f.place.line for f in after.findings] != [f.place.line for f in before.findings]


def test_wording_keeps_the_fingerprint() -> None:
    for finding in surveyed(MISTAKES).findings:
        reworded = dataclasses.replace(
            finding,
            message="other words",
            why="other",
            remedy="other",
            source="other",
            signal_word="NOTICE",
            place=Place("elsewhere.yaml", 7, 7),
            witness=(),
            consequences=(),
            positions=(),
            items=tuple(reversed(finding.items)),
        )
        assert reworded.fingerprint == finding.fingerprint


def test_another_culprit_is_another_finding() -> None:
    every = [
        (f.rule, f.group or f.items, f.arguments, f.fingerprint)
        for path in sorted(CASES.glob("*.yaml"))
        for case in load(path)["bad"].values()
        for f in surveyed(case["record"], case.get("base", "boat")).findings
    ]
    for rule, items, arguments, fingerprint in every:
        assert len(fingerprint) == 16
        for other in every:
            same = (rule, sorted(items), arguments) == (other[0], sorted(other[1]), other[2])
            assert same == (fingerprint == other[3])


def test_renaming_the_culprit_changes_the_fingerprint() -> None:
    before = {f.fingerprint for f in surveyed(MISTAKES).findings if "X1" in f.items}
    after = {f.fingerprint for f in surveyed(MISTAKES.replace("X1:", "X9:")).findings if "X9" in f.items}
    assert before
    assert not before & after


def test_a_rule_that_crashes_is_a_finding_and_the_others_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    broken = dataclasses.replace(RULES["line-on-neutral"], judge=lambda _: 1 / 0)  # type: ignore[arg-type, return-value]
    monkeypatch.setitem(RULES, "line-on-neutral", broken)
    result = surveyed(MISTAKES)
    (crash,) = failed(result)
    assert crash.rule == RULE_FAILED
    assert crash.items == ("line-on-neutral",)
    assert "ZeroDivisionError" in crash.message
    assert {"neutral-on-other-section", "dc-polarity-reversed"} <= {f.rule for f in result.findings}


def test_places_lie_in_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    for finding in surveyed(MISTAKES).findings:
        assert finding.place.line > 0, finding
        if finding.place.file == CASE:
            line = MISTAKES.splitlines()[finding.place.line - 1]
            assert finding.place.column <= len(line)
