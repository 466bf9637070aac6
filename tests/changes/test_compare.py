"""Comparing two vessels: no field is forgotten, nothing that says nothing is told, and names follow what is renamed."""

from __future__ import annotations

import copy
import json
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.changes import Change, compare, kind_of, tell
from vesselspec.model.devices import DEVICE_KINDS
from vesselspec.model.forms import Either, ListOf, MapOf, Nested, Pairs, specs
from vesselspec.model.items import Cable, Core, Demand
from vesselspec.model.vessel import Vessel
from vesselspec.record import read

from .boats import REFERRING, TWO_SOURCES, Raw, changes, edited, in_files, sentences, vessel
from .vocabulary import ABOUT, CLASSES, address, entry, fields_of, holding, minimal, nested_fields, values

_PYTHON = re.compile(r"\bNone\b|\bTrue\b|\bFalse\b|[(\[{]'|Pairs|mappingproxy|<[a-z_]+\.|datetime|\b\d+\.0\b|, \)|__")

FIELDS = [(collection, cls, name, spec) for collection, cls in CLASSES for name, spec in fields_of(cls)]
FIELD_IDS = [f"{cls.__name__}.{name}" for _, cls, name, _ in FIELDS]


def _one(before: Vessel, after: Vessel) -> Change:
    found = compare(before, after)
    assert len(found) == 1, found
    assert compare(before, before) == compare(after, after) == ()
    return found[0]


def _names(change: Change, key: str) -> None:
    assert change.fields
    for each in change.fields:
        assert each.key.split("/", 1)[0] == key
        assert each.before != each.after
        for said in (each.before, each.after):
            assert said is None or (said and not _PYTHON.search(said)), each


def _alternatives(form: Any) -> list[Any]:
    found = list(values(form))
    if isinstance(form, ListOf):
        one, two = values(form.of)
        found += [(one, two), (two, one)]
    if isinstance(form, Either):
        found += [value for _, each in form.by_type for value in values(each)]
    if isinstance(form, MapOf):
        found.append(Pairs(()))
    if isinstance(form, Nested):
        found += [replace(minimal(form.of), **{name: value}) for name, value in nested_fields(form.of)]
    return found


@pytest.mark.parametrize(("collection", "cls", "name", "spec"), FIELDS, ids=FIELD_IDS)
def test_every_field_that_differs_is_told_with_its_name(collection: str, cls: type, name: str, spec: Any) -> None:
    plain = entry(collection, cls)
    default = getattr(plain, name)
    said = [value for value in _alternatives(spec.form) if spec.required is False or value not in ((), None)]
    pairs = [(one, two) for one in (default, *said) for two in (default, *said) if one != two]
    assert pairs
    for one, two in pairs:
        before, after = (holding(collection, replace(plain, **{name: value})) for value in (one, two))
        change = _one(before, after)
        assert (change.kind, change.collection, change.id) == ("changed", collection, address(collection))
        _names(change, spec.key)
        sentence = tell(change, before, after)
        assert not _PYTHON.search(sentence), sentence
        assert "\n" not in sentence
        assert "  " not in sentence
        assert not sentence.endswith((".", ":", " "))


@pytest.mark.parametrize(("collection", "cls"), CLASSES, ids=[cls.__name__ for _, cls in CLASSES])
def test_a_new_entry_says_everything_that_is_written_in_it(collection: str, cls: type) -> None:
    if collection == "vessel":
        return
    full = {}
    for name, spec in fields_of(cls):
        plain = getattr(entry(collection, cls), name)
        full[name] = next(value for value in reversed(values(spec.form)) if value != plain or spec.required)
    item = replace(entry(collection, cls), **full)
    nothing, there = Vessel(about=ABOUT), holding(collection, item)
    found = {(change.collection, change.id): change for change in compare(nothing, there)}
    change = found[collection, address(collection)]
    assert change.kind == "added"
    assert {each.key for each in change.fields} == {spec.key for _, spec in fields_of(cls)}
    assert all(each.before is None and each.after for each in change.fields)
    for each in found.values():
        assert not _PYTHON.search(tell(each, nothing, there))
        assert tell(each, nothing, there)


@pytest.mark.parametrize("cls", [Core, Demand], ids=lambda cls: cls.__name__)
def test_every_field_inside_a_mapping_is_told(cls: type) -> None:
    """Cores of cables and cable types, demands of conditions."""
    holders = {Core: [("cables", "cores"), ("cable_types", "cores")], Demand: [("conditions", "demand")]}
    for collection, field in holders[cls]:
        holder = dict(CLASSES)[collection]
        plain = Core(from_="L1", to="L1") if cls is Core else minimal(cls)
        for name, value in nested_fields(cls):
            if value == getattr(plain, name):
                value = "N"  # noqa: PLW2901
            other = replace(plain, **{name: value})
            vessels = [
                holding(collection, replace(entry(collection, holder), **{field: Pairs((("black", each),))}))
                for each in (plain, other)
            ]
            change = _one(vessels[0], vessels[1])
            assert [each.key for each in change.fields] == [f"{field}/black"]
            _names(change, field)


def test_another_kind_of_device_is_one_change_that_names_both() -> None:
    for kind, cls in DEVICE_KINDS.items():
        for other_kind, other in DEVICE_KINDS.items():
            if kind != other_kind:
                before, after = (holding("devices", minimal(each, id="x")) for each in (cls, other))
                change = _one(before, after)
                named = change.field("kind")
                assert named is not None
                assert (named.before, named.after) == (kind, other_kind)
                # What neither said and only one of the kinds can say is not told as lost or found.
                said = {"kind", "outputs", "inputs"}
                assert {each.key.split("/")[0] for each in change.fields} <= said, change


# --- what says nothing about the boat -----------------------------------------------------------


def _with_more(raw: Raw) -> None:
    raw["days"] = {"whole": {"parts": [{"condition": "both", "time": "14 h"}, {"condition": "quiet", "time": "10 h"}]}}
    raw["concessions"] = {
        key: {"rule": rule, "reason": "x", "accepted_by": "owner", "date": "2026-01-02", "until": "2026-12-31"}
        for key, rule in (("K1", "unused-id"), ("K2", "cable-end-unlabelled"))
    }


WITH_MORE = edited(TWO_SOURCES, _with_more)


@settings(max_examples=25, deadline=None)
@given(source=st.randoms(use_true_random=False), raw=st.sampled_from([TWO_SOURCES, REFERRING, WITH_MORE]))
def test_order_and_files_never_matter(source: random.Random, raw: Raw) -> None:
    found = read(in_files(raw, source))
    assert found.vessel is not None, found.problems
    assert compare(vessel(raw), found.vessel) == ()
    assert compare(found.vessel, vessel(raw)) == ()


def test_a_default_written_out_is_no_change() -> None:
    def write_out(raw: Raw) -> None:
        raw["panels"]["main"]["sections"]["a"]["ways"]["1"] |= {"device": "breaker", "duty": "branch", "spare": False}

    assert changes(TWO_SOURCES, edited(TWO_SOURCES, write_out)) == ()


# --- any two states ------------------------------------------------------------------------------

_OTHER = {"added": "removed", "removed": "added", "changed": "changed"}
_EDITABLE = [
    (collection, cls, name, spec)
    for collection, cls, name, spec in FIELDS
    if collection not in ("sections", "ways", "vessel") and name != "formerly"
]


@st.composite
def _vessels(draw: st.DrawFn) -> Vessel:
    """Entries that say this or that, under ids that come and go."""
    held: dict[str, dict[str, Any]] = {}
    for key in draw(st.lists(st.sampled_from(["a", "b", "C9", "C10"]), unique=True)):
        collection, cls, name, spec = draw(st.sampled_from(_EDITABLE))
        said = {name: draw(st.sampled_from(values(spec.form)))} if draw(st.booleans()) else {}
        held.setdefault(collection, {})[key] = minimal(cls, id=key, **said)
    return Vessel(about=ABOUT, **{name: MappingProxyType(items) for name, items in held.items()})


@settings(max_examples=200, deadline=None)
@given(before=_vessels(), after=_vessels())
def test_compare_backwards_tells_the_opposite(before: Vessel, after: Vessel) -> None:
    forth, back = compare(before, after), compare(after, before)
    assert bool(forth) == (before != after)
    assert [(c.collection, c.id, _OTHER[c.kind]) for c in forth] == [(c.collection, c.id, c.kind) for c in back]
    for one, two in zip(forth, back, strict=True):
        turned = {(each.key, each.after, each.before) for each in one.fields}
        assert turned == {(each.key, each.before, each.after) for each in two.fields}
    for change in forth:
        assert not _PYTHON.search(tell(change, before, after))


# --- renames -------------------------------------------------------------------------------------


def _renamed(raw: Raw, old: str, new: str) -> Raw:
    """The whole record with one id put in the place of another, wherever it stands."""
    text = re.sub(rf'(?<=["/:]){re.escape(old)}(?=["/:])', new, json.dumps(raw))
    found: Raw = json.loads(text)
    return found


def _entry(raw: Raw, collection: str, path: str) -> Raw:
    parts = path.split("/")
    if collection == "ways":
        found: Raw = raw["panels"][parts[0]]["sections"][parts[1]]["ways"][parts[2]]
    elif collection == "sections":
        found = raw["panels"][parts[0]]["sections"][parts[1]]
    else:
        found = raw[collection][path]
    return found


RENAMES = [
    ("spaces", "engine-place", "machinery-space"),
    ("systems", "ac-system", "main-ac"),
    ("devices", "bank-one", "house-bank"),
    ("devices", "changeover-one", "source-selector"),
    ("devices", "inverter-one", "combi"),
    ("devices", "inlet-one", "inlet-aft"),
    ("devices", "fuse-one", "main-fuse"),
    ("devices", "switch-one", "bank-switch"),
    ("panels", "panel-one", "ac-main"),
    ("loads", "heater-one", "cabin-heater"),
    ("cable_types", "type-one", "three-core"),
    ("bundles", "duct-one", "port-duct"),
    ("cables", "W6", "C106"),
    ("interlocks", "slide-one", "mains-slide"),
    ("conditions", "alongside-state", "alongside"),
]


@pytest.mark.parametrize(("collection", "old", "new"), RENAMES, ids=[f"{c}-{o}" for c, o, _ in RENAMES])
def test_a_rename_is_one_change_and_what_refers_to_it_follows(collection: str, old: str, new: str) -> None:
    after = _renamed(REFERRING, old, new)
    assert new in json.dumps(after)
    _entry(after, collection, new)["formerly"] = [old]
    found = changes(REFERRING, after)
    assert [(c.kind, c.collection, c.id, c.before_id, c.fields) for c in found] == [
        ("renamed", collection, new, old, ())
    ]
    assert sentences(REFERRING, after)[0].endswith(f": formerly {old}")
    assert kind_of(found[0]) == "renamed"


@pytest.mark.parametrize("said", ["shore-section", "panel-one/shore-section"])
def test_a_section_renamed_takes_its_ways_and_what_refers_to_them_along(said: str) -> None:
    after = _renamed(REFERRING, "shore-section", "mains")
    _entry(after, "sections", "panel-one/mains")["formerly"] = [said]
    found = changes(REFERRING, after)
    assert [(c.kind, c.collection, c.id, c.fields) for c in found] == [("renamed", "sections", "panel-one/mains", ())]


@pytest.mark.parametrize("said", ["20", "panel-one/shore-section/20"])
def test_a_way_renumbered_is_one_change(said: str) -> None:
    after = json.loads(json.dumps(REFERRING).replace("panel-one/shore-section/20", "panel-one/shore-section/21"))
    ways = after["panels"]["panel-one"]["sections"]["shore-section"]["ways"]
    ways["21"] = {**ways.pop("20"), "formerly": [said]}
    found = changes(REFERRING, after)
    assert [(c.kind, c.id, c.before_id, c.fields) for c in found] == [
        ("renamed", "panel-one/shore-section/21", "panel-one/shore-section/20", ())
    ]


def test_a_panel_and_a_way_in_it_renamed_at_once_are_two_changes() -> None:
    after = _renamed(REFERRING, "panel-one", "ac-main")
    after = json.loads(json.dumps(after).replace("ac-main/shore-section/20", "ac-main/shore-section/21"))
    after["panels"]["ac-main"]["formerly"] = ["panel-one"]
    ways = after["panels"]["ac-main"]["sections"]["shore-section"]["ways"]
    ways["21"] = {**ways.pop("20"), "formerly": ["20"]}
    found = changes(REFERRING, after)
    assert [(c.kind, c.collection, c.id, c.fields) for c in found] == [
        ("renamed", "panels", "ac-main", ()),
        ("renamed", "ways", "ac-main/shore-section/21", ()),
    ]


def test_what_is_taken_out_of_a_renamed_panel_is_told() -> None:
    after = _renamed(REFERRING, "panel-one", "ac-main")
    after["panels"]["ac-main"]["formerly"] = ["panel-one"]
    del after["panels"]["ac-main"]["sections"]["inverter-section"]["ways"]["30"]
    assert [(c.kind, c.id) for c in changes(REFERRING, after)] == [
        ("renamed", "ac-main"),
        ("removed", "panel-one/inverter-section/30"),
    ]


def test_a_device_of_a_way_that_went_to_another_section_is_told() -> None:
    """Same number, another section: it did not just move along with what holds it."""

    def move(raw: Raw) -> None:
        sections = raw["panels"]["main"]["sections"]
        sections["b"]["ways"]["3"] = {"poles": ["L1"], "rating": "15 A", "formerly": ["main/a/3"]}

    before = edited(TWO_SOURCES, lambda raw: raw["panels"]["main"]["sections"]["a"]["ways"].update({"3": _way3()}))
    after = edited(TWO_SOURCES, move)
    assert sentences(before, after) == ["way main/b/3: formerly main/a/3"]


def _way3() -> Raw:
    return {"poles": ["L1"], "rating": "15 A"}


def test_a_rename_with_a_change_tells_both_and_not_the_note_of_the_rename() -> None:
    def rename(raw: Raw) -> None:
        raw["cables"]["C101"] = {**raw["cables"].pop("C1"), "formerly": ["C1"], "size": "12 AWG"}

    assert sentences(TWO_SOURCES, edited(TWO_SOURCES, rename)) == [
        "cable C101 (to Cabin heater): formerly C1; size 12 AWG instead of 14 AWG"
    ]


def test_ids_passed_on_in_a_row_or_in_a_ring_are_followed() -> None:
    def row(raw: Raw) -> None:
        cables = raw["cables"]
        cables["C3"] = {**cables["C2"], "formerly": ["C2"]}
        cables["C2"] = {**cables["C1"], "formerly": ["C1"]}
        del cables["C1"]

    def ring(raw: Raw) -> None:
        cables = raw["cables"]
        cables["C1"], cables["C2"] = {**cables["C2"], "formerly": ["C2"]}, {**cables["C1"], "formerly": ["C1"]}

    for change, expected in ((row, [("C2", "C1"), ("C3", "C2")]), (ring, [("C1", "C2"), ("C2", "C1")])):
        found = changes(TWO_SOURCES, edited(TWO_SOURCES, change))
        assert [(c.kind, c.id, c.before_id, c.fields) for c in found] == [
            ("renamed", now, was, ()) for now, was in expected
        ]


def test_what_only_looks_like_a_rename_is_not_guessed() -> None:
    def exchange(raw: Raw) -> None:
        raw["cables"]["C9"] = raw["cables"].pop("C1")

    assert [(c.kind, c.id) for c in changes(TWO_SOURCES, edited(TWO_SOURCES, exchange))] == [
        ("removed", "C1"),
        ("added", "C9"),
    ]


def test_an_earlier_id_that_is_still_there_or_was_never_there_renames_nothing() -> None:
    def split(raw: Raw) -> None:
        raw["cables"]["C9"] = {**raw["cables"]["C1"], "formerly": ["C1"]}

    def unknown(raw: Raw) -> None:
        raw["cables"]["C9"] = {**raw["cables"]["C1"], "formerly": ["C777"]}

    def twice(raw: Raw) -> None:
        old = raw["cables"].pop("C1")
        raw["cables"] |= {"C8": {**old, "formerly": ["C1"]}, "C9": {**old, "formerly": ["C1"]}}

    for change, expected in (
        (split, [("added", "C9")]),
        (unknown, [("added", "C9")]),
        (twice, [("renamed", "C8"), ("added", "C9")]),
    ):
        assert [(c.kind, c.id) for c in changes(TWO_SOURCES, edited(TWO_SOURCES, change))] == expected


def test_an_old_earlier_id_does_not_bite_when_it_is_used_again() -> None:
    """C1 was renamed years ago; a new C1 has since come and gone."""
    before = edited(TWO_SOURCES, lambda raw: raw["cables"]["C2"].update({"formerly": ["C1"]}))
    after = edited(before, lambda raw: raw["cables"].pop("C1"))
    assert [(c.kind, c.id) for c in changes(before, after)] == [("removed", "C1")]


@pytest.mark.parametrize("word", ["shore", "lighting", "black", "N", "closed", "ac-system", "panel-one"])
def test_words_that_only_look_like_a_renamed_id_stay(word: str) -> None:
    """A space called like a pole, a core, an input, a use, a position, a system: renaming it renames nothing else."""

    def name_so(raw: Raw) -> None:
        raw["spaces"][word] = {}
        raw["loads"]["heater-one"] |= {"use": "lighting", "space": word}

    before = edited(REFERRING, name_so)
    after = edited(before, lambda raw: raw["loads"]["heater-one"].update({"space": "renamed-place"}))
    del after["spaces"][word]
    after["spaces"]["renamed-place"] = {"formerly": [word]}
    assert [(c.kind, c.collection, c.id) for c in changes(before, after)] == [("renamed", "spaces", "renamed-place")]


def test_a_device_called_like_a_position_or_pole_renames_no_word() -> None:
    def name_so(raw: Raw) -> None:
        raw["devices"]["shore"] = raw["devices"].pop("inlet-one")
        raw["devices"]["L1"] = {"kind": "junction", "system": "ac-system"}
        raw["cables"]["W1"]["from"] = "shore"
        raw["conditions"]["alongside-state"]["running"] = ["shore", "inverter-one"]

    before = edited(REFERRING, name_so)
    after = copy.deepcopy(before)
    after["devices"]["inlet-aft"] = {**after["devices"].pop("shore"), "formerly": ["shore"]}
    after["devices"]["box"] = {**after["devices"].pop("L1"), "formerly": ["L1"]}
    after["cables"]["W1"]["from"] = "inlet-aft"
    after["conditions"]["alongside-state"]["running"] = ["inlet-aft", "inverter-one"]
    assert [(c.kind, c.id) for c in changes(before, after)] == [("renamed", "box"), ("renamed", "inlet-aft")]


# --- changes as people make them -----------------------------------------------------------------


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


_A1 = "panels|main|sections|a|ways|1"


def _moved_circuit(raw: Raw) -> None:
    raw["cables"]["C1"]["from"] = "main/b/2"
    ways = {name: raw["panels"]["main"]["sections"][name]["ways"] for name in "ab"}
    ways["a"]["1"] = {"poles": ["L1"], "rating": "15 A", "label": "Spare", "spare": True}
    ways["b"]["2"] = {"poles": ["L1"], "rating": "15 A", "label": "Heater"}


def _other_kind(raw: Raw) -> None:
    raw["devices"]["fuse-1"] |= {"kind": "breaker"}


def _source(raw: Raw) -> None:
    raw["devices"]["alternator-1"] = {
        "kind": "alternator", "name": "Port alternator", "system": "dc", "rating": "90 A", "space": "engine-room",
    }  # fmt: skip


HUMAN: list[tuple[str, Any, list[str]]] = [
    (
        "circuit moved to another section",
        _moved_circuit,
        [
            "cable C1 (to Cabin heater): moved from section main/a, way main/a/1 (Heater), to section main/b, "
            "way main/b/2 (Heater)",
            "way main/a/1 (Spare): label Spare instead of Heater; now spare",
            "way main/b/2 (Heater): label Heater instead of Spare; no longer spare",
        ],
    ),
    (
        "circuit moved to another way of its section",
        _set("cables|C1|from", "main/a/2"),
        ["cable C1 (to Cabin heater): from end moved from main/a/1 (Heater) to main/a/2 (Spare)"],
    ),
    (
        "cable onto the bars of another section",
        _set("cables|C1|from", "main/b"),
        ["cable C1 (to Cabin heater): moved from section main/a, way main/a/1 (Heater), to section main/b"],
    ),
    (
        "end lost",
        _set("cables|C1|from", "untraced"),
        ["cable C1 (to Cabin heater): from end no longer traced (was main/a/1 (Heater))"],
    ),
    (
        "cable replaced by another size",
        _set("cables|C1|size", "12 AWG"),
        ["cable C1 (to Cabin heater): size 12 AWG instead of 14 AWG"],
    ),
    (
        "core landed elsewhere",
        _set("cables|C2|cores|white", {"from": "main/a:N", "to": "N"}),
        ["cable C2 (to fridge): core white lands on main/a:N at its from end, N at its to end instead of N"],
    ),
    (
        "core taken off",
        _set("cables|C2|cores|green", "spare"),
        ["cable C2 (to fridge): core green is spare instead of PE"],
    ),
    (
        "core lost track of",
        _set("cables|C2|cores|green", "untraced"),
        ["cable C2 (to fridge): core green is untraced instead of PE"],
    ),
    ("core gone", _set("cables|C2|cores|green", None), ["cable C2 (to fridge): core green gone (was: PE)"]),
    ("core new", _set("cables|C2|cores|red", "L1"), ["cable C2 (to fridge): core red lands on L1"]),
    ("way rating changed", _set(f"{_A1}|rating", "20 A"), ["way main/a/1 (Heater): rating 20 A instead of 15 A"]),
    (
        "way rating no longer known",
        _set(f"{_A1}|rating", None),
        ["way main/a/1 (Heater): rating no longer recorded (was 15 A)"],
    ),
    (
        "load power changed",
        _set("loads|heater|power", "1500 W"),
        ["load heater (Cabin heater): power 1500 W instead of 1200 W"],
    ),
    (
        "load with two parts",
        _set("loads|heater|power", {"L1-N": "500 W", "L1-L2": "2 kW"}),
        ["load heater (Cabin heater): power L1-N: 500 W and L1-L2: 2000 W instead of 1200 W"],
    ),
    (
        "demand changed",
        _set("conditions|quiet|demand|heater", {"factor": 0.75, "per_day": "1 h"}),
        ["condition quiet: demand of heater 0.75 for 1 h a day instead of 0.5"],
    ),
    ("demand new", _set("conditions|quiet|demand|fridge", 0.5), ["condition quiet: now counts fridge at 0.5"]),
    (
        "demand gone",
        _set("conditions|both|demand|pump", None),
        ["condition both: no longer counts pump (was 0.5)"],
    ),
    (
        "another source runs",
        _set("conditions|quiet|running", ["generator-1"]),
        ["condition quiet: shore-1 no longer running; generator-1 also running"],
    ),
    (
        "source added",
        _source,
        ["alternator alternator-1 (Port alternator) added (in engine-room, rating 90 A)"],
    ),
    ("label changed", _set(f"{_A1}|label", "Aft"), ["way main/a/1 (Aft): label Aft instead of Heater"]),
    ("label found", _set("cables|F1|label", "F1"), ["cable F1 (from shore-1): label recorded: F1"]),
    (
        "evidence renewed",
        _set("cables|C1|evidence", {"how": "traced", "by": "technician", "when": "2026-03-14"}),
        ["cable C1 (to Cabin heater): evidence recorded: traced by technician on 2026-03-14"],
    ),
    (
        "note written",
        _set("loads|heater|note", "Trips now and then."),
        ["load heater (Cabin heater): note recorded: “Trips now and then.”"],
    ),
    ("kind changed", _other_kind, ["breaker fuse-1: kind breaker instead of fuse"]),
    ("flag", _set("spaces|saloon|wet", True), ["space saloon: wet: yes, was no"]),
    ("renamed boat", _set("vessel|name", "Other"), ["the vessel: name Other instead of Two sources"]),
    (
        "neutral bars joined",
        _set("panels|main|sections|b|neutral_bar", "a"),
        ["section main/b: neutral bar recorded: a"],
    ),
    ("load gone", _set("loads|pump", None), ["load pump removed (in saloon, use pump, power 120 W)"]),
    (
        "cable gone",
        _set("cables|D1", None),
        ["cable D1 (to pump) removed, 14 AWG, from fuse-1/load to pump"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("change", "expected"), [each[1:] for each in HUMAN], ids=[each[0] for each in HUMAN])
def test_what_people_do_reads_as_they_would_say_it(change: Any, expected: list[str]) -> None:
    assert sentences(TWO_SOURCES, edited(TWO_SOURCES, change)) == expected


def test_what_is_on_board_comes_before_what_is_said_about_it() -> None:
    def change(raw: Raw) -> None:
        raw["cables"]["C1"] |= {"evidence": {"how": "traced"}, "note": "New run.", "size": "12 AWG"}

    assert sentences(TWO_SOURCES, edited(TWO_SOURCES, change)) == [
        "cable C1 (to Cabin heater): size 12 AWG instead of 14 AWG; note recorded: “New run.”; "
        "evidence recorded: traced"
    ]


def test_a_traced_end_and_a_core_that_leaves_its_type_read_well() -> None:
    before = edited(REFERRING, _set("cables|W6|to", "untraced"))
    after = edited(REFERRING, _set("cables|W6|cores", {"black": "L2"}))
    assert sentences(before, after) == [
        "cable W6 (to heater-one): to end traced to heater-one; core black lands on L2 instead of as in its type"
    ]
    assert sentences(after, REFERRING) == ["cable W6 (to heater-one): core black back as in its type (was: L2)"]


def test_the_kind_of_a_cable_change_says_the_gravest_first() -> None:
    for change, kind in (
        (_moved_circuit, "moved"),
        (_set("cables|C1|cores|white", "L1"), "rewired"),
        (_set("cables|C1|size", "12 AWG"), "resized"),
        (_set("cables|C1|note", "x"), "changed"),
        (_set("cables|C1|size", None), "changed"),
        (_set("cables|C1|from", "untraced"), "changed"),
    ):
        found = changes(TWO_SOURCES, edited(TWO_SOURCES, change))
        assert [kind_of(each) for each in found if each.collection == "cables"] == [kind]


def test_a_cable_keeps_every_declared_field() -> None:
    """Guard of the tests above: they walk the declarations, so the declarations must be what they see."""
    keys = {spec.key for _, spec in specs(Cable)}
    assert {"from", "to", "size", "cores", "labels", "joints", "route", "evidence"} <= keys


def _all_pairs() -> Iterator[tuple[Raw, Raw]]:
    yield TWO_SOURCES, REFERRING
    yield REFERRING, TWO_SOURCES


@pytest.mark.parametrize(("before", "after"), list(_all_pairs()))
def test_two_boats_with_nothing_in_common_are_told_whole(before: Raw, after: Raw) -> None:
    told = sentences(before, after)
    assert len(told) == len(set(told)) > 40
    assert not any(_PYTHON.search(sentence) for sentence in told)
