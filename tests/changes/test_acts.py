"""What somebody did is told once, with what follows from it, and nothing is swallowed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings

from vesselspec.changes import Act, acts, compare, kind_of

from .boats import TWO_SOURCES, Raw, boat, edited, record, spoilt, vessel


def done(before: Raw, after: Raw) -> tuple[Act, ...]:
    one, two = vessel(before), vessel(after)
    return acts(compare(one, two), one, two)


def _ways(raw: Raw, section: str) -> Any:
    return raw["panels"]["main"]["sections"][section]["ways"]


def _moved(raw: Raw) -> None:
    raw["cables"]["C1"]["from"] = "main/b/2"
    _ways(raw, "a")["1"] |= {"label": "Spare", "spare": True}
    _ways(raw, "b")["2"] = {"poles": ["L1"], "rating": "15 A", "label": "Heater"}


def test_a_circuit_moved_is_one_act() -> None:
    (act,) = done(TWO_SOURCES, edited(TWO_SOURCES, _moved))
    assert (act.kind, act.id, len(act.of)) == ("moved", "C1", 3)
    assert act.what == (
        "cable C1 (to Cabin heater): moved from section main/a, way main/a/1 (Heater), to section main/b, "
        "way main/b/2 (Heater); its label along; main/a/1 left spare"
    )


def test_what_is_no_echo_of_the_move_is_told_by_itself() -> None:
    def change(raw: Raw) -> None:
        _moved(raw)
        _ways(raw, "b")["2"] |= {"rating": "20 A", "label": "Aft heater"}

    found = done(TWO_SOURCES, edited(TWO_SOURCES, change))
    said = " / ".join(act.what for act in found)
    assert "rating 20 A instead of 15 A" in said
    assert "label Aft heater instead of Spare" in said
    assert "spare" not in next(act.what for act in found if act.id == "main/b/2").replace("Spare", "")


def test_a_new_circuit_is_one_act() -> None:
    def change(raw: Raw) -> None:
        raw["loads"]["iron"] = {"system": "ac", "power": "900 W", "power_factor": 1, "space": "saloon"}
        raw["cables"]["C3"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "iron", "label": "C3"}
        _ways(raw, "a")["2"] = {"poles": ["L1"], "rating": "15 A", "label": "Iron"}

    (act,) = done(TWO_SOURCES, edited(TWO_SOURCES, change))
    assert (act.kind, act.id, len(act.of)) == ("added", "iron", 3)
    assert act.what == (
        "load iron added (in saloon, power 900 W), with cable C3 (to iron) added, 14 AWG, from main/a/2 (Iron) "
        "to iron; main/a/2 was spare"
    )


def test_one_circuit_made_two() -> None:
    def together(raw: Raw) -> None:
        raw["cables"]["C2"]["from"] = "main/a/1"

    before = edited(TWO_SOURCES, together)
    (act,) = done(before, TWO_SOURCES)
    assert (act.kind, act.id) == ("split", "C2")
    assert act.what.endswith("; C1 stays on main/a/1: the circuit is split")


def test_an_entry_split_off_another_says_so() -> None:
    def change(raw: Raw) -> None:
        raw["cables"]["C9"] = {**raw["cables"]["C1"], "formerly": ["C1"], "label": "C9"}
        raw["loads"]["heater-aft"] = {**raw["loads"]["heater"], "formerly": ["heater"]}

    found = done(TWO_SOURCES, edited(TWO_SOURCES, change))
    assert [(act.kind, act.id) for act in found] == [("split", "heater-aft"), ("split", "C9")]
    assert [act.what.rpartition(": ")[2] for act in found] == ["split off heater", "split off C1"]


@settings(max_examples=40, deadline=None)
@given(before=spoilt(), after=spoilt())
def test_every_change_is_told_in_some_act(before: Raw, after: Raw) -> None:
    one, two = record(before).vessel, record(after).vessel
    if one is None or two is None:
        return
    changes = compare(one, two)
    found = acts(changes, one, two)
    assert {(c.collection, c.id, c.kind) for act in found for c in act.of} == {
        (c.collection, c.id, c.kind) for c in changes
    }
    assert acts(compare(one, one), one, one) == ()
    assert all(act.what and "\n" not in act.what for act in found)


@pytest.mark.parametrize("raw", [TWO_SOURCES])
def test_a_change_that_nothing_explains_is_told_as_before(raw: Raw) -> None:
    after = edited(raw, lambda each: each["loads"].pop("pump"))
    (act,) = done(raw, after)
    assert (act.kind, act.id) == (kind_of(act.of[0]), "pump")
    assert boat(after).vessel.loads
