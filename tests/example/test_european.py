"""A second boat: European, steel, two fuels, with deliberate faults; every finding on it is pinned with its reason.

The boat is `tests/data/european/`; its faults are marked FAULT there. `european.golden` holds its findings, one to a
line as `WORD rule items`, with the reason why each is right below it. `VESSELSPEC_GOLDEN=1` writes the file anew and
keeps the reasons of the lines that stay; a new line gets the words of `TO_GIVE`, which a test refuses until somebody
has read the finding and written the reason.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from vesselspec.cli.main import run
from vesselspec.isolation import Target, find_target, sheet_of
from vesselspec.model.devices import IsolationTransformer
from vesselspec.record import Record, read
from vesselspec.rules import Boat, Finding, Survey, survey
from vesselspec.standards import abroad

ROOT = Path(__file__).parents[2]
VESSEL = ROOT / "tests" / "data" / "european"
GOLDEN = Path(__file__).with_name("european.golden")
TO_GIVE = "reason still to be given"
#: Marks of North American texts and tables in a source.
NORTH_AMERICAN = re.compile(r"\bCFR\b|\bABYC\b|\bNFPA\b|\bNEC\b|Coast Guard")
#: Rules of words, without a figure, that were read in a North American text only; they hold for any boat.
WORDS_READ_THERE = {
    ("WARNING", "conductor-unprotected", "33 CFR 183.455(b), 183.460(a)"),
    ("WARNING", "earth-carries-current", "46 CFR 120.370 (183.370 is parallel)"),
    ("WARNING", "not-ignition-protected", "33 CFR 183.410"),
}
#: The one figure that is borrowed, for no other was read; it may not be graver than CAUTION here.
FIGURES_BORROWED = {
    ("CAUTION", "conductor-unprotected", "ABYC E-11 AC overcurrent placement rule (quoted publicly)"),
}


@cache
def record() -> Record:
    return read({path.name: path.read_bytes() for path in sorted(VESSEL.glob("*.yaml"))})


@cache
def boat() -> Boat:
    vessel = record().vessel
    assert vessel is not None, record().problems
    return Boat(vessel, record().places)


@cache
def surveyed() -> Survey:
    return survey(boat())


def _line(finding: Finding) -> str:
    return f"{finding.signal_word} {finding.rule} {' '.join(finding.items)}"


def _pinned() -> Iterator[tuple[str, str]]:
    """Each line with its reason. Two findings of a rule on the same items are two lines."""
    if GOLDEN.exists():
        rows = GOLDEN.read_text(encoding="utf-8").splitlines()
        yield from zip(rows[::2], (row.strip() for row in rows[1::2]), strict=True)


def test_the_record_reads_without_problems() -> None:
    assert record().problems == ()
    vessel = boat().vessel
    assert vessel.about.practice == "international"
    assert vessel.about.hull == "steel"
    assert vessel.about.fuel == "both"
    assert {system.voltage.text for system in vessel.systems.values()} >= {"230 V", "24 V", "12 V"}
    assert any(isinstance(d, IsolationTransformer) and d.neutral_earth_bond for d in vessel.devices.values())
    assert len(vessel.loads) >= 20
    assert (len(vessel.conditions), len(vessel.days)) == (3, 1)


def test_every_finding_is_pinned_with_its_reason() -> None:
    now = sorted(_line(finding) for finding in surveyed().findings)
    if os.environ.get("VESSELSPEC_GOLDEN"):
        reasons = dict(_pinned())
        GOLDEN.write_text("".join(f"{each}\n    {reasons.get(each, TO_GIVE)}\n" for each in now), encoding="utf-8")
    assert [each for each, _ in _pinned()] == now
    assert [each for each, reason in _pinned() if reason in ("", TO_GIVE)] == []


def test_no_finding_cites_a_table_of_another_practice() -> None:
    """And where a rule of one is applied for want of another, its source says so."""
    cited = {(f.signal_word, f.rule, f.source) for f in surveyed().findings if NORTH_AMERICAN.search(f.source)}
    said = {(word, rule, abroad(source, "international")) for word, rule, source in WORDS_READ_THERE | FIGURES_BORROWED}
    assert cited == said
    assert all("for want of" in source for *_, source in cited)


def test_the_figures_of_its_own_practice_are_cited() -> None:
    for rule, source in (
        ("device-above-ampacity", "ISO 10133"),
        ("earth-core-too-small", "IEC 60364-5-54"),
        ("cable-of-other-kind", "ISO 13297"),
    ):
        cited = [finding.source for finding in surveyed().findings if finding.rule == rule]
        assert cited, rule
        assert all(source in each for each in cited), cited


def test_nothing_grave_comes_from_memory_alone() -> None:
    for finding in surveyed().findings:
        if finding.signal_word in ("DANGER", "WARNING"):
            assert "from memory" not in finding.source, _line(finding)


def test_each_half_of_the_combined_enclosure_and_the_whole_can_be_made_dead() -> None:
    for place in ("helm-combined", "helm-combined/ac", "helm-combined/dc-24"):
        target = find_target(boat(), place)
        assert isinstance(target, Target), place
        sheet = sheet_of(boat(), target)
        assert sheet.declared, place


@pytest.mark.parametrize(
    ("arguments", "allowed"),
    [
        (["survey"], {1}),
        (["unknowns"], {0, 1}),
        (["loads"], {0, 1}),
        (["faults"], {0, 1}),
        (["shock"], {0, 1}),
        (["isolate", "helm-combined"], {0}),
    ],
    ids=lambda given: given[0] if isinstance(given, list) else "",
)
def test_commands_run_on_it(arguments: list[str], allowed: set[int], capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*arguments, str(VESSEL)]) in allowed
    said = capsys.readouterr()
    assert "Steel Example" in said.out
    assert "Traceback" not in said.out + said.err
