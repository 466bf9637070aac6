"""Concessions in a review: told in trade words, what is accepted told apart, and a change that accepts itself."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import jsonschema_rs
import pytest

from vesselspec.changes import Review, review
from vesselspec.changes.review import side as side_on
from vesselspec.report.markdown import escape
from vesselspec.report.review import ACCEPTS_OWN, review_markdown, review_text, verdict
from vesselspec.report.review_json import review_json
from vesselspec.report.summary import summary_markdown
from vesselspec.report.summary_content import summarise
from vesselspec.report.terminal import Page

from .boats import ON, TWO_SOURCES, Raw, edited, record, reviewed, sentences

SCHEMA = json.loads((Path(__file__).parents[2] / "schema/review.schema.json").read_text(encoding="utf-8"))
CONCESSION: Raw = {
    "rule": "device-above-ampacity",
    "items": ["main/a/1"],
    "reason": "Until the haul-out.",
    "accepted_by": "refit lead",
    "date": "2026-01-01",
    "until": "2026-12-31",
}


def _too_large(raw: Raw) -> None:
    raw["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "100 A"


def _conceding(raw: Raw) -> None:
    raw["concessions"] = {"K1": dict(CONCESSION)}


BAD = edited(TWO_SOURCES, _too_large)
BAD_AND_ACCEPTED = edited(BAD, _conceding)


def told(found: Review) -> list[str]:
    """Every form of a review, each found to say what it must."""
    text = review_text(Page(width=100, colour=False), found, full=True)
    return [" ".join(page.split()) for page in (text, review_markdown(found), summary_markdown(summarise(found)))]


def test_a_change_that_accepts_what_it_introduces_is_told_plainly() -> None:
    found = reviewed(TWO_SOURCES, BAD_AND_ACCEPTED)
    assert [f.rule for f in found.new] == [f.rule for f in found.accepts_own] == ["device-above-ampacity"]
    assert found.counting == ()
    assert verdict(found) == "The change brings no new finding that counts, and 1 that a concession accepts."
    own = f"{ACCEPTS_OWN}: device-above-ampacity of main/a/1 (concession K1)."
    for page in told(found):
        assert own in page or escape(own) in page
        assert "Accepted until 2026-12-31 by refit lead" in page.replace("\\", "")
        assert "Do not energise" not in page
    data = review_json(found)
    assert jsonschema_rs.validator_for(SCHEMA).is_valid(data)
    assert data["accepts_own"] == [found.new[0].fingerprint]
    assert data["counts"]["new"]["WARNING"] == 0
    assert data["counts"]["accepted"]["WARNING"] == 1
    assert data["findings"]["new"][0]["concession"]["id"] == "K1"
    assert data["on"] == ON.isoformat()


def test_a_concession_for_what_was_there_before_accepts_nothing_of_its_own() -> None:
    found = reviewed(BAD, BAD_AND_ACCEPTED)
    assert (found.new, found.cleared, found.accepts_own) == ((), (), ())
    assert [f.rule for f in found.inherited if f.accepted] == ["device-above-ampacity"]
    assert verdict(found) == "The change brings no new finding."
    for page in told(found):
        assert ACCEPTS_OWN not in page
    for page in told(found)[1:]:
        assert "Accepted until 2026-12-31 by refit lead" in page.replace("\\", "")


def test_a_concession_that_goes_leaves_the_finding_inherited() -> None:
    found = reviewed(BAD_AND_ACCEPTED, BAD)
    assert (found.new, found.cleared) == ((), ())
    assert not [f for f in found.inherited if f.accepted]


def test_what_is_new_under_a_concession_of_the_base_is_accepted_but_not_its_own() -> None:
    """The way is made too large again: a concession that nobody deleted still names it. The base said so."""
    before = edited(TWO_SOURCES, _conceding)
    found = reviewed(before, BAD_AND_ACCEPTED)
    assert [(f.rule, f.accepted) for f in found.new] == [("device-above-ampacity", True)]
    assert found.accepts_own == ()
    assert [f.rule for f in found.cleared] == ["concession-unmatched"]


def test_mending_what_is_accepted_asks_for_the_concession_to_go() -> None:
    found = reviewed(BAD_AND_ACCEPTED, edited(TWO_SOURCES, _conceding))
    assert [f.rule for f in found.new] == ["concession-unmatched"]
    assert [f.rule for f in found.cleared] == ["device-above-ampacity"]


def test_the_calendar_is_not_held_against_a_change() -> None:
    late = datetime.date(2027, 6, 1)
    found = review(side_on("before", record(BAD_AND_ACCEPTED), late), side_on("after", record(BAD_AND_ACCEPTED), late))
    assert (found.new, found.cleared) == ((), ())
    assert "concession-out-of-date" in {f.rule for f in found.inherited}
    assert found.on == late


def test_without_concessions_no_day_is_told() -> None:
    assert reviewed(TWO_SOURCES, BAD).on is None
    assert review_json(reviewed(TWO_SOURCES, BAD))["on"] is None


def test_a_rename_takes_its_concession_along() -> None:
    def rename(raw: Raw) -> None:
        ways = raw["panels"]["main"]["sections"]["a"]["ways"]
        ways["9"] = {**ways.pop("1"), "formerly": ["1"]}
        raw["cables"]["C1"]["from"] = "main/a/9"

    def follow(raw: Raw) -> None:
        rename(raw)
        raw["concessions"]["K1"]["items"] = ["main/a/9"]

    left = reviewed(BAD_AND_ACCEPTED, edited(BAD_AND_ACCEPTED, rename))
    taken = reviewed(BAD_AND_ACCEPTED, edited(BAD_AND_ACCEPTED, follow))
    for found in (left, taken):
        assert (found.new, found.cleared) == ((), ())
        assert [f.rule for f in found.inherited if f.accepted] == ["device-above-ampacity"]
    assert not [change for change in taken.changes if change.collection == "concessions"]


def test_hostile_words_of_a_concession() -> None:
    def spoil(raw: Raw) -> None:
        raw["concessions"]["K1"] |= {"reason": "\x1b[2J <b>x</b>\n\n# h | `", "accepted_by": "**me** \u202e"}

    found = reviewed(TWO_SOURCES, edited(BAD_AND_ACCEPTED, spoil))
    text = review_text(Page(width=100, colour=False), found, full=True)
    for page in (text, review_markdown(found), summary_markdown(summarise(found))):
        assert not {char for char in page if not char.isprintable() and char != "\n"}
    for page in (review_markdown(found), summary_markdown(summarise(found))):
        assert "<b>" not in page
        assert "**me**" not in page


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {},
            "concession K1 added: accepts device-above-ampacity of main/a/1 until 2026-12-31, by refit lead: "
            "“Until the haul-out.”",
        ),
        ({"until": "2027-06-30"}, "concession K1: until 2027-06-30 instead of 2026-12-31"),
        ({"items": ["main/a/1", "main/b/1"]}, "concession K1: also on main/b/1"),
        ({"reason": "Later."}, "concession K1: reason “Later.” instead of “Until the haul-out.”"),
        ({"accepted_by": "owner"}, "concession K1: accepted by owner instead of refit lead"),
        ({"date": "2026-02-01"}, "concession K1: accepted on 2026-02-01 instead of 2026-01-01"),
        (
            {"covers": {"0123456789abcdef": {"signal_word": "WARNING", "measure": 1.5}}},
            "concession K1: covers finding 0123456789abcdef (WARNING, at 1.5 of its limit)",
        ),
        (
            {"mitigation": {"open": ["main/a/1"], "measures": "plate at the panel"}},
            "concession K1: mitigation recorded: main/a/1 open and locked; plate at the panel",
        ),
    ],
)
def test_changes_of_a_concession_in_trade_words(change: Raw, said: str) -> None:
    if not change:
        assert sentences(BAD, BAD_AND_ACCEPTED) == [said]
        gone = said.replace("added: accepts", "removed: accepted")
        assert sentences(BAD_AND_ACCEPTED, BAD) == [gone]
    else:
        after = edited(BAD_AND_ACCEPTED, lambda raw: raw["concessions"]["K1"].update(change))
        assert sentences(BAD_AND_ACCEPTED, after) == [said]
