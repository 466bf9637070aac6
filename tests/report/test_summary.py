"""What the next technician is asked to look at on board: what the change touched there, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.changes.boats import REFERRING, TWO_SOURCES, Raw, edited, reviewed
from vesselspec.changes import Review
from vesselspec.report.summary import summary_markdown
from vesselspec.report.summary_content import summarise


def written(found: Review) -> str:
    return summary_markdown(summarise(found))


def ticks(before: Raw, after: Raw) -> list[str]:
    """What is to be ticked; that the page holds it all is a test of its own."""
    return [check.what for check in summarise(reviewed(before, after)).checks]


def _after(change: Callable[[Raw], Any], raw: Raw = TWO_SOURCES) -> list[str]:
    return ticks(raw, edited(raw, change))


def _way(raw: Raw) -> Raw:
    found: Raw = raw["panels"]["main"]["sections"]["a"]["ways"]["1"]
    return found


def test_a_cable_that_was_replaced() -> None:
    assert _after(lambda raw: raw["cables"]["C1"].update({"size": "12 AWG"})) == [
        "cable C1: label “C1” at both ends, every core on the terminal named, tight",
        "cable C1: polarity and earth continuity measured at the load end",
    ]


def test_a_cable_whose_ends_are_labelled_differently() -> None:
    def change(raw: Raw) -> None:
        raw["cables"]["C1"] |= {"labels": {"to": "none"}, "length": "4 m"}

    assert _after(change) == ["cable C1: label “C1” at its from end, every core on the terminal named, tight"]


def test_a_cable_of_unknown_length() -> None:
    assert "cable C1: measure its length and record it" in _after(lambda raw: raw["cables"]["C1"].pop("length"))


@pytest.mark.parametrize(
    "said",
    [{"note": "x"}, {"evidence": {"how": "traced"}}, {"name": "x"}, {"photos": ["a.jpg"]}],
    ids=lambda s: next(iter(s)),
)
def test_words_about_an_entry_send_nobody_to_look(said: Raw) -> None:
    def say(raw: Raw) -> None:
        for held in (raw["cables"], raw["loads"], raw["devices"], raw["conditions"], raw["spaces"], raw["panels"]):
            for item in held.values():
                item.update(said)
        _way(raw).update(said)

    assert _after(say) == []
    assert "Nothing on board is different." in written(reviewed(TWO_SOURCES, edited(TWO_SOURCES, say)))


def test_a_condition_or_a_word_that_is_gone_is_not_gone_on_board() -> None:
    def change(raw: Raw) -> None:
        del raw["conditions"]["quiet"], raw["systems"]["dc"], raw["devices"]["bank-1"], raw["devices"]["fuse-1"]
        del raw["loads"]["pump"], raw["cables"]["D1"], raw["conditions"]["both"]["demand"]["pump"]

    assert _after(change) == [
        "bank-1 is gone on board, and what fed it is made safe",
        "fuse-1 is gone on board, and what fed it is made safe",
        "pump is gone on board, and what fed it is made safe",
        "cable D1 is gone on board, or its ends are made safe, and its labels are removed",
    ]


def test_a_way_with_another_device() -> None:
    assert _after(lambda raw: _way(raw).update({"rating": "20 A", "label": "Aft heater"})) == [
        "way main/a/1: the panel label reads “Aft heater”",
        "way main/a/1: the breaker fitted is rated 20 A",
    ]
    assert _after(lambda raw: _way(raw).pop("rating"))[0] == "way main/a/1: the breaker fitted has its rating read"
    assert _after(lambda raw: _way(raw).update({"device": "fuse"})) == ["way main/a/1: the fuse fitted is rated 15 A"]
    assert (
        _after(lambda raw: _way(raw).update({"label": "none"}))[0]
        == "way main/a/1: no panel label that says something else"
    )


def test_a_device_that_was_replaced_and_one_that_is_new() -> None:
    def change(raw: Raw) -> None:
        raw["devices"]["generator-1"] |= {"rating": "25 A", "note": "Bigger."}
        raw["devices"]["box"] = {"kind": "junction", "name": "Box aft", "system": "ac"}

    found = _after(change)
    assert found[:2] == [
        "box (Box aft): fitted as recorded, its case earthed, its papers on board",
        "on board as recorded: generator generator-1: rating 25 A instead of 20 A",
    ]


def test_an_interlock_is_tried_by_hand() -> None:
    def change(raw: Raw) -> None:
        raw["interlocks"] = {"slide": {"between": ["main/a/main", "main/b/main"]}}

    assert _after(change)[0] == "interlock slide: tried by hand, only one closes at a time of main/a/main, main/b/main"
    back = ticks(edited(TWO_SOURCES, change), TWO_SOURCES)
    assert back[0] == "interlock slide is gone on board: nothing holds apart what it held apart"


def test_a_new_number_is_on_board_too() -> None:
    def change(raw: Raw) -> None:
        raw["cables"]["W60"] = {**raw["cables"].pop("W6"), "formerly": ["W6"], "label": "W60"}
        ways = raw["panels"]["panel-one"]["sections"]["shore-section"]["ways"]
        ways["31"] = {**ways.pop("30"), "formerly": ["30"]}
        raw["cables"]["W60"]["from"] = "panel-one/shore-section/31"
        positions = raw["conditions"]["alongside-state"]["positions"]
        positions["panel-one/shore-section/31"] = positions.pop("panel-one/shore-section/30")

    found = _after(change, REFERRING)
    assert found[0] == "cable W60: label “W60” at both ends, every core on the terminal named, tight"
    assert (
        "way panel-one/shore-section/31 (Heater): numbered so on the panel, formerly panel-one/shore-section/30"
        in found
    )


def test_the_sign_of_a_panel_names_a_new_source() -> None:
    def swap(raw: Raw) -> None:
        del raw["cables"]["F2"]
        raw["cables"]["F1"] |= {"from": "generator-1", "length": "1 m"}
        raw["panels"]["main"]["sections"]["a"]["ways"]["main"]["rating"] = "20 A"

    found = _after(swap)
    assert "panel section main/a: the sign that names its sources also names L1 of generator-1" in found
    assert "panel section main/a: the sign that names its sources no longer names L1 of shore-1" in found


def test_what_can_newly_not_be_judged_is_to_be_found_out() -> None:
    found = _after(lambda raw: raw["cables"]["C1"].pop("size"))
    assert any(line.startswith("C1: find out its size; ") and line.endswith(" wait for it") for line in found)
