"""What somebody did is told once, with what follows from it, and nothing is swallowed."""

from __future__ import annotations

import json
from collections import Counter
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
        "load iron added (in saloon, power 900 W); with cable C3 (to iron) added, 14 AWG, from main/a/2 (Iron) "
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


# --- each kind of act is recognised once, in trade words, with its echoes folded in -----------------


def _a(raw: Raw) -> Raw:
    found: Raw = _ways(raw, "a")["1"]
    return found


def _to_bars(raw: Raw) -> None:
    raw["cables"]["C1"]["from"] = "main/b"
    _a(raw).update({"label": "Spare", "spare": True})


def _core(raw: Raw) -> None:
    raw["cables"]["C2"]["cores"]["white"] = {"from": "main/a:N", "to": "N"}


def _bigger(raw: Raw) -> None:
    raw["cables"]["C1"] |= {"size": "12 AWG", "insulation": "75 degC"}


def _renamed(raw: Raw) -> None:
    raw["cables"]["C7"] = {**raw["cables"].pop("C1"), "formerly": ["C1"], "label": "C7"}


def _renamed_panel(raw: Raw) -> None:
    text = json.dumps(raw).replace('"main/', '"aft/').replace('"main": {"space"', '"aft": {"space"')
    raw.clear()
    raw.update(json.loads(text))
    raw["panels"]["aft"]["formerly"] = ["main"]


def _source(raw: Raw) -> None:
    raw["devices"]["charger-1"] = {"kind": "charger", "system": "ac", "dc_system": "dc", "charge_current": "30 A"}
    raw["cables"]["C8"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "charger-1/ac", "label": "C8"}
    raw["cables"]["D8"] = {**raw["cables"]["D1"], "from": "charger-1/dc", "to": "bank-1", "label": "D8"}
    raw["cables"]["D8"]["cores"] = {"red": "DC+", "yellow": "DC-"}
    _ways(raw, "a")["2"] = {"poles": ["L1"], "rating": "15 A", "label": "Charger"}
    for condition in raw["conditions"].values():
        condition["running"].append("charger-1")


def _gone(raw: Raw) -> None:
    del raw["loads"]["heater"], raw["cables"]["C1"]
    for condition in raw["conditions"].values():
        del condition["demand"]["heater"]
    _a(raw).update({"label": "Spare", "spare": True})


def _link(raw: Raw) -> None:
    raw["cables"]["X1"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "main/b/2", "label": "X1"}
    for section in "ab":
        _ways(raw, section)["2"] = {"poles": ["L1"], "rating": "15 A", "label": f"Link {section}"}


def _redefined(raw: Raw) -> None:
    raw["conditions"]["quiet"] = {"running": ["generator-1"], "demand": {"heater": 1.0, "fridge": 0.2}}


def _unsaid(raw: Raw) -> None:
    raw["cables"]["C7"] = raw["cables"].pop("C1") | {"label": "C7"}


def _exchanged(raw: Raw) -> None:
    raw["loads"]["heater-2"] = raw["loads"].pop("heater") | {"power": "900 W"}
    raw["cables"]["C1"]["to"] = "heater-2"
    for condition in raw["conditions"].values():
        condition["demand"]["heater-2"] = condition["demand"].pop("heater")


def _new_panel(raw: Raw) -> None:
    text = json.dumps(raw).replace('"main/', '"aft/').replace('"main": {"space"', '"aft": {"space"')
    raw.clear()
    raw.update(json.loads(text))
    raw["panels"]["aft"]["sections"]["a"]["ways"]["1"]["rating"] = "16 A"


def _one_more_panel(raw: Raw) -> None:
    ways = {"1": {"poles": ["L1"], "rating": "15 A", "label": "Fan"}, "2": {"poles": ["L1"]}}
    raw["panels"]["aft"] = {"space": "saloon", "system": "ac", "sections": {"x": {"ways": ways}}}


ONCE: list[tuple[str, Any, str, str, tuple[str, ...]]] = [
    (
        "moved to another section",
        _to_bars,
        "moved",
        "C1",
        ("moved from section main/a", "to section main/b", "left spare"),
    ),
    ("rewired", _core, "rewired", "C2", ("core white lands on main/a:N at its from end",)),
    ("replaced by another size", _bigger, "resized", "C1", ("size 12 AWG instead of 14 AWG", "insulation")),
    ("renamed", _renamed, "renamed", "C7", ("formerly C1", "label C7 instead of C1")),
    (
        "given another id, which nothing says",
        _unsaid,
        "replaced",
        "C7",
        ("in place of C1", "if only its id is new, it lacks formerly: [C1]"),
    ),
    (
        "device replaced",
        _exchanged,
        "replaced",
        "heater-2",
        (
            "in place of heater",
            "power 900 W instead of 1200 W",
            "C1 as on the old one",
            "in every condition as the old",
        ),
    ),
    (
        "panel replaced",
        _new_panel,
        "replaced",
        "aft",
        ("in place of main", "rating 16 A instead of 15 A", "C1, C2, F1, F2 as on the old one"),
    ),
    (
        "panel added",
        _one_more_panel,
        "added",
        "aft",
        ("panel aft added (in saloon); section x, ways 1 (Fan): breaker L1, 15 A, 2: breaker L1",),
    ),
    ("panel renamed", _renamed_panel, "renamed", "aft", ("formerly main",)),
    (
        "source added",
        _source,
        "added",
        "charger-1",
        ("charger charger-1 added", "with cable C8", "main/a/2 was spare", "with cable D8", "in both, quiet it runs"),
    ),
    (
        "circuit taken out",
        _gone,
        "removed",
        "heater",
        ("with cable C1", "main/a/1 left spare", "in both it counted at 1"),
    ),
    ("two spare ways joined", _link, "added", "X1", ("main/a/2 was spare", "main/b/2 was spare")),
    (
        "condition redefined",
        _redefined,
        "changed",
        "quiet",
        (
            "shore-1 no longer running",
            "generator-1 also running",
            "demand of heater 1 instead of 0.5",
            "now counts fridge",
        ),
    ),
]


@pytest.mark.parametrize(("change", "kind", "of", "words"), [each[1:] for each in ONCE], ids=[each[0] for each in ONCE])
def test_what_was_done_is_one_act(change: Any, kind: str, of: str, words: tuple[str, ...]) -> None:
    (act,) = done(TWO_SOURCES, edited(TWO_SOURCES, change))
    assert (act.kind, act.id) == (kind, of)
    for each in words:
        assert act.what.count(each) == 1, (each, act.what)


def test_what_was_done_beside_it_is_told_beside_it() -> None:
    """Nothing that is more than an echo goes under in the act of a new source."""

    def more(raw: Raw) -> None:
        _source(raw)
        _ways(raw, "a")["2"]["rating"] = "20 A"
        raw["conditions"]["quiet"]["demand"]["heater"] = 0.75
        raw["conditions"]["both"]["running"].remove("generator-1")

    found = done(TWO_SOURCES, edited(TWO_SOURCES, more))
    assert [(act.kind, act.id) for act in found] == [
        ("added", "charger-1"),
        ("changed", "both"),
        ("changed", "quiet"),
        ("changed", "main/a/2"),
    ]
    assert [act.what.split(": ", 1)[1] for act in found[1:]] == [
        "generator-1 no longer running",
        "demand of heater 0.75 instead of 0.5",
        "rating 20 A instead of 15 A",
    ]


@settings(max_examples=40, deadline=None)
@given(before=spoilt(), after=spoilt())
def test_every_field_is_told_in_exactly_one_act(before: Raw, after: Raw) -> None:
    """Folding takes fields out of one act into another; it neither loses one nor tells it twice."""
    one, two = record(before).vessel, record(after).vessel
    if one is None or two is None:
        return
    changes = compare(one, two)
    wanted = Counter((c.collection, c.id, c.kind, each) for c in changes for each in c.fields)
    told = Counter(
        (c.collection, c.id, c.kind, each) for act in acts(changes, one, two) for c in act.of for each in c.fields
    )
    assert told == wanted
