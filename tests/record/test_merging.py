"""Two records put together: exactly the changes of both, or nothing; order and lines never matter."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.changes.boats import REFERRING, TWO_SOURCES, Raw, as_yaml, edited, side, vessel
from vesselspec.changes import compare
from vesselspec.changes.combine import has_both
from vesselspec.record import Record, merge, read
from vesselspec.record.merge import _ABSENT, _ConflictError, _merged


def together(base: Raw, ours: Raw, theirs: Raw) -> Record | None:
    return merge(*({"vessel.yaml": as_yaml(raw)} for raw in (base, ours, theirs)))


def proved(base: Raw, ours: Raw, theirs: Raw, merged: Record) -> bool:
    start, one, two = (side("x", read({"vessel.yaml": as_yaml(raw)})) for raw in (base, ours, theirs))
    return has_both(start, one, two, side("x", merged))


def _ratings(raw: Raw) -> list[tuple[Raw, str, Any]]:
    """Fields of many entries that can be changed by themselves: (holder, key, another value)."""
    found: list[tuple[Raw, str, Any]] = [
        (raw["loads"]["heater"], "power", "1300 W"),
        (raw["loads"]["fridge"], "power", "650 W"),
    ]
    found += [(raw["devices"]["shore-1"], "rating", "50 A"), (raw["devices"]["shore-1"], "name", "Inlet")]
    found += [(raw["cables"]["C1"], "size", "12 AWG"), (raw["cables"]["C1"], "length", "4 m")]
    found += [(raw["cables"]["C1"]["cores"], "white", "spare"), (raw["cables"]["C1"]["cores"], "green", "spare")]
    for section in raw["panels"]["main"]["sections"].values():
        for way in section["ways"].values():
            found += [(way, "rating", "16 A"), (way, "name", "Way")]
    found += [(raw["conditions"]["both"]["demand"], "heater", 0.7), (raw["conditions"]["both"]["demand"], "pump", 0.1)]
    found += [(raw["conditions"]["quiet"]["demand"], "pump", 0.2)]
    return found


_COUNT = len(_ratings(edited(TWO_SOURCES, lambda _: None)))


def _with(which: set[int]) -> Raw:
    def change(raw: Raw) -> None:
        for number, (holder, key, value) in enumerate(_ratings(raw)):
            if number in which:
                holder[key] = value

    return edited(TWO_SOURCES, change)


@settings(max_examples=30, deadline=None)
@given(mine=st.sets(st.integers(0, _COUNT - 1)), other=st.sets(st.integers(0, _COUNT - 1)))
def test_any_two_sets_of_changes_come_together_whole(mine: set[int], other: set[int]) -> None:
    """Fields of the same entries among them; what both do alike is done once."""
    ours, theirs, both = _with(mine), _with(other), _with(mine | other)
    found = together(TWO_SOURCES, ours, theirs)
    assert found is not None
    assert found.vessel is not None
    assert compare(vessel(both), found.vessel) == ()
    assert proved(TWO_SOURCES, ours, theirs, found)
    back = together(TWO_SOURCES, theirs, ours)
    assert back is not None
    assert back.vessel is not None
    assert compare(found.vessel, back.vessel) == ()


@pytest.mark.parametrize("raw", [TWO_SOURCES, REFERRING])
def test_with_nothing_on_one_side_it_is_the_other(raw: Raw) -> None:
    other = edited(raw, lambda each: each["conditions"].clear())
    for base, ours, theirs, wanted in (
        (raw, raw, other, other),
        (raw, other, raw, other),
        (raw, other, other, other),
        (other, raw, other, raw),
    ):
        found = together(base, ours, theirs)
        assert found is not None
        assert found.vessel is not None
        assert compare(vessel(wanted), found.vessel) == ()


def _set(path: str, value: Any) -> Any:
    def change(raw: Raw) -> None:
        *holders, last = path.split("|")
        here = raw
        for each in holders:
            here = here[each]
        if value is None:
            del here[last]
        else:
            here[last] = value

    return change


A1 = "panels|main|sections|a|ways|1"


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (_set("loads|heater|power", "1 kW"), _set("loads|heater|power", "2 kW")),
        (_set("loads|heater|power", "1 kW"), _set("loads|heater|power", None)),
        (_set("loads|pump", None), _set("loads|pump|power", "60 W")),
        (_set(A1, None), _set(f"{A1}|rating", "20 A")),
        (_set("cables|C1|route", ["saloon", "engine-room"]), _set("cables|C1|route", ["engine-room"])),
        (_set(f"{A1}|poles", ["L1", "N"]), _set(f"{A1}|poles", ["L1", "L2"])),
        (_set("loads|lamp", {"system": "ac", "power": "5 W"}), _set("loads|lamp", {"system": "ac", "power": "9 W"})),
        (_set("vessel|name", "One"), _set("vessel|name", "Two")),
        (_set("spaces|x", {}), _set("spaces|x", {"wet": True})),
    ],
)
def test_what_contradicts_is_not_put_together(ours: Any, theirs: Any) -> None:
    """The last: git would keep both lines, and an entry that one side wrote empty would say what the other says."""
    one, two = edited(TWO_SOURCES, ours), edited(TWO_SOURCES, theirs)
    for mine, other in ((one, two), (two, one)):
        found = together(TWO_SOURCES, mine, other)
        assert found is None or not proved(TWO_SOURCES, mine, other, found)


def test_two_sources_that_run_in_one_condition_both_run() -> None:
    base = edited(TWO_SOURCES, _set("conditions|quiet|running", []))
    one = edited(base, _set("conditions|quiet|running", ["shore-1"]))
    two = edited(base, _set("conditions|quiet|running", ["generator-1"]))
    found = together(base, one, two)
    assert found is not None
    assert found.vessel is not None
    assert set(found.vessel.conditions["quiet"].running) == {"shore-1", "generator-1"}
    assert proved(base, one, two, found)


def test_an_id_that_both_give_to_different_things_is_no_record() -> None:
    one = edited(TWO_SOURCES, _set("loads|new", {"system": "ac", "power": "5 W"}))
    two = edited(TWO_SOURCES, _set("devices|new", {"kind": "junction", "system": "ac"}))
    assert together(TWO_SOURCES, one, two) is None


def test_entries_stand_where_the_side_that_changed_them_has_them() -> None:
    base = {"vessel.yaml": as_yaml(TWO_SOURCES)}
    one = {"vessel.yaml": as_yaml(edited(TWO_SOURCES, _set("loads|heater|power", "1 kW")))}
    more = edited(TWO_SOURCES, _set("cables|C2|size", "12 AWG"))
    cables = more.pop("cables")
    two = {"vessel.yaml": as_yaml(more), "deep/c.yaml": b"# theirs\n" + json.dumps({"cables": cables}).encode()}
    found = merge(base, one, two)
    assert found is not None
    assert found.places.of("cables", "C2", "size").file == "deep/c.yaml"
    assert found.places.of("cables", "C1").file == "deep/c.yaml"
    assert found.places.of("loads", "heater", "power").file == "vessel.yaml"


_PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(0, 2) | st.sampled_from(["a", "b", 1.0]),
    lambda inner: st.dictionaries(st.sampled_from("xyz"), inner, max_size=3) | st.lists(inner, max_size=2),
    max_leaves=6,
)


@settings(max_examples=100, deadline=None)
@given(base=_PLAIN, one=_PLAIN, two=_PLAIN)
def test_merging_of_plain_data_has_its_laws(base: Any, one: Any, two: Any) -> None:
    def merged(*of: Any) -> Any:
        try:
            return json.dumps(_merged("", *of), sort_keys=True)
        except _ConflictError:
            return "conflict"

    def said(value: Any) -> str:
        return json.dumps(value, sort_keys=True)

    assert merged(base, one, base) == said(one)
    assert merged(base, base, two) == said(two)
    assert merged(base, one, one) == said(one)
    assert merged(base, one, two) == merged(base, two, one)
    assert _merged("", base, _ABSENT, base) is _ABSENT
