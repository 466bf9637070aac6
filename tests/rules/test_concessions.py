"""Concessions: what they accept on a day, and what is wrong with them, against one file of cases for each."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.cli.main import run
from vesselspec.model.forms import Pairs
from vesselspec.network.graph import Link
from vesselspec.network.reach import Reach, reach
from vesselspec.network.zones import zones_of
from vesselspec.rules import RULES, SIGNAL_WORDS, Survey, concede, survey
from vesselspec.rules.book import RULE_FAILED, Sound
from vesselspec.rules.concessions import ABOUT, can_be_accepted, guards_life, named, years_after
from vesselspec.rules.findings import DANGER
from vesselspec.rules.mitigation import Locked

from .helpers import HERE, Raw, boat_of, load

FOLDER = HERE / "concessions"
ON = datetime.date(2026, 6, 1)
#: The ids are a contract, as those of the rules are.
IDS = {
    "concession-grown": "CAUTION",
    "concession-mitigation-fails": "WARNING",
    "concession-of-what-guards-life": "WARNING",
    "concession-out-of-date": "CAUTION",
    "concession-too-wide": "CAUTION",
    "concession-unmatched": "NOTICE",
}
LOADED = {path.stem: load(path) for path in sorted(FOLDER.glob("*.yaml"))}
EVERY = [
    pytest.param(rule, kind, case, id=f"{rule}-{kind}-{name}")
    for rule, cases in LOADED.items()
    for kind in ("good", "bad")
    for name, case in cases[kind].items()
]


def conceded(text: str, on: datetime.date = ON) -> Survey:
    boat = boat_of(text)
    return concede(boat, survey(boat), on)


@pytest.mark.parametrize(("rule", "kind", "case"), EVERY)
def test_case(rule: str, kind: str, case: Raw) -> None:
    on = datetime.date.fromisoformat(str(case["on"])) if "on" in case else ON
    found = conceded(case["record"], on)
    said = [f"{f.signal_word} {f.place}: {f.message}. {f.remedy}" for f in found.findings if f.rule == rule]
    assert said == case.get("findings", [])
    assert bool(said) == (kind == "bad")
    marked = {True: "accepted", False: "mitigated"}
    for accepted, key in marked.items():
        items = [f for f in found.findings if f.conceded is not None and f.conceded.accepted is accepted]
        assert [f"{f.rule} {f.items[0]}" for f in items] == case.get(key, [])
    assert not [f for f in found.findings if f.rule in ABOUT and f.rule != rule], "one mistake is told once"
    assert not [f for f in found.accepted if f.signal_word == DANGER]
    fingerprints = [finding.fingerprint for finding in found.findings]
    assert len(set(fingerprints)) == len(fingerprints)


@pytest.mark.parametrize(("rule", "kind", "case"), EVERY)
def test_nothing_found_is_lost_or_changed(rule: str, kind: str, case: Raw) -> None:
    boat = boat_of(case["record"])
    before = survey(boat)
    after = concede(boat, before, ON)
    assert [replace(f, conceded=None) for f in after.findings if f.rule not in ABOUT] == list(before.findings)
    assert after.cannot_judge == before.cannot_judge
    assert after.coverage == before.coverage
    assert len(after.counting) + len(after.accepted) == len(after.findings)


def test_without_concessions_no_day_matters() -> None:
    boat = boat_of("")
    before = survey(boat)
    assert concede(boat, before, ON) is before
    assert before.on is None


def test_ids_and_signal_words_are_a_contract() -> None:
    assert {each.id: each.signal_word for each in ABOUT.values()} == IDS
    assert LOADED.keys() == IDS.keys()
    assert not ABOUT.keys() & RULES.keys()
    assert set(IDS.values()) <= set(SIGNAL_WORDS)


@pytest.mark.parametrize("rule", sorted(IDS))
def test_explain_prints_them(rule: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["explain", rule]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    each = ABOUT[rule]
    for text in (each.id, each.signal_word, each.title, each.why, each.remedy, each.source):
        assert text in printed
    assert each.why.endswith(".")
    assert each.remedy.endswith(".")
    assert re.fullmatch(r"[A-Z][^.]*", each.title)


@pytest.mark.parametrize("rule", sorted(IDS))
def test_no_concession_accepts_what_is_said_about_concessions(rule: str) -> None:
    case = next(iter(LOADED[rule]["bad"].values()))
    on = datetime.date.fromisoformat(str(case["on"])) if "on" in case else ON
    complaint = next(f for f in conceded(case["record"], on).findings if f.rule == rule)
    assert not can_be_accepted(complaint)
    more = "  over: {fingerprint: '%s', reason: x, accepted_by: x, date: 2026-01-01, until: 2028-01-01}\n"
    again = conceded(case["record"] + more % complaint.fingerprint, on)
    assert complaint.fingerprint in {f.fingerprint for f in again.counting}
    assert "concessions/over" in {f.items[0] for f in again.findings if f.rule == "concession-unmatched"}


def test_a_rule_that_crashed_cannot_be_accepted_and_unmatches_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    case = LOADED["concession-unmatched"]["good"]["matched-by-rule-and-item"]["record"]
    broken = replace(RULES["cable-end-unlabelled"], judge=lambda _: 1 / 0)  # type: ignore[arg-type, return-value]
    monkeypatch.setitem(RULES, "cable-end-unlabelled", broken)
    found = conceded(case)
    assert [f.rule for f in found.findings] == [RULE_FAILED]
    assert not can_be_accepted(found.findings[0])
    more = "  over: {fingerprint: '%s', reason: x, accepted_by: x, date: 2026-01-01, until: 2028-01-01}\n"
    assert RULE_FAILED in {f.rule for f in conceded(case + more % found.findings[0].fingerprint).counting}


def test_a_rule_that_guards_life_without_being_danger(monkeypatch: pytest.MonkeyPatch) -> None:
    case = LOADED["concession-unmatched"]["good"]["matched-by-rule-and-item"]["record"]
    monkeypatch.setitem(RULES, "cable-end-unlabelled", replace(RULES["cable-end-unlabelled"], guards_life=True))
    found = conceded(case)
    assert not found.accepted
    assert {f.rule for f in found.counting} == {"cable-end-unlabelled", "concession-of-what-guards-life"}
    assert guards_life(next(f for f in found.findings if f.rule == "cable-end-unlabelled"))


def test_a_mitigation_is_not_proven_by_a_rule_that_fails_or_falls_silent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Open, the way is no longer known to the rule: not finding is not the same as sound."""
    case = LOADED["concession-mitigation-fails"]["good"]["open-way-cuts-it"]["record"]
    rule = RULES["line-on-neutral"]
    boat = boat_of(case)
    before = survey(boat)
    calls: list[int] = []

    def once(of: object) -> list[Sound]:
        calls.append(1)
        raise ZeroDivisionError

    monkeypatch.setitem(RULES, "line-on-neutral", replace(rule, judge=once))
    found = concede(boat, before, ON)
    assert calls
    (told,) = [f for f in found.findings if f.rule == "concession-mitigation-fails"]
    assert told.message.endswith("with that it cannot be judged")
    assert all(f.conceded is None for f in found.findings)


def test_a_mitigated_danger_counts_and_says_how_it_is_mitigated() -> None:
    found = conceded(LOADED["concession-mitigation-fails"]["good"]["open-way-cuts-it"]["record"])
    (danger,) = found.counting
    assert danger.signal_word == DANGER
    assert danger.conceded is not None
    assert (danger.conceded.accepted, danger.conceded.verified) == (False, True)
    assert danger.conceded.mitigation == "ac-panel/shore/3 open and locked; padlocked"
    words = conceded(LOADED["concession-of-what-guards-life"]["good"]["mitigated-in-words-alone"]["record"])
    assert words.counting[0].conceded is not None
    assert words.counting[0].conceded.verified is None


def test_what_a_concession_names_is_told_whether_it_holds_or_not() -> None:
    case = LOADED["concession-out-of-date"]["bad"]["run-out"]["record"]
    boat = boat_of(case)
    found = survey(boat)
    late = datetime.date(2030, 1, 1)
    assert [f.rule for f in named(boat, found, late)] == ["cable-end-unlabelled"]


def test_leap_days() -> None:
    assert years_after(datetime.date(2024, 2, 29), 1) == datetime.date(2025, 2, 28)
    assert years_after(datetime.date(2024, 2, 29), 4) == datetime.date(2028, 2, 29)
    assert years_after(datetime.date(9998, 3, 1), 5) == datetime.date(9999, 3, 1)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_what_stands_open_is_as_if_it_were_not_there(data: st.DataObject) -> None:
    """Held to the search itself on a network from which the same contacts are taken out by hand."""
    boat = boat_of(LOADED["concession-mitigation-fails"]["good"]["one-end-of-a-bridge-open"]["record"])
    switches = sorted({link.switch for link in boat.network.links if link.switch})
    opened = frozenset(data.draw(st.lists(st.sampled_from(switches), max_size=4)))
    position = data.draw(st.sampled_from([None, "off", "shore", "generator"]))
    pairs = Pairs((("selector", position),) if position else ())
    held = Locked(boat.vessel, boat.places, opened=opened, locked=pairs)

    def stays(link: Link) -> bool:
        away = position is not None and any(key == "selector" and position not in at for key, at in link.guards)
        return link.switch not in opened and not away

    cut = replace(boat.network, links=tuple(link for link in boat.network.links if stays(link)))
    assert _live(held.reach) == _live(reach(zones_of(cut)))


def _live(found: Reach) -> set[tuple[str, str, str]]:
    terminals = found.network.terminals
    return {
        (terminal.name, arrival.emission.source, arrival.emission.pole)
        for number, terminal in enumerate(terminals)
        for arrival in found.at(number)
    }
