"""What a change does, on boats small enough to be worked out by hand.

In `TWO_SOURCES` at 120 V: the heater takes 1200 W / 120 V = 10 A, the fridge 600 W / 120 V = 5 A; at 12 V the pump
takes 120 W / 12 V = 10 A.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from vesselspec.changes import Effects
from vesselspec.changes.effects import ConductorEffect, PotentialEffect, ProtectionEffect, SourceEffect
from vesselspec.report.review import protection_row, source_row

from .boats import REFERRING, TWO_SOURCES, Raw, edited, reviewed

Edit = Callable[[Raw], object]
NOTHING = Effects((), (), (), ())


def _effects(change: Edit, raw: Raw = TWO_SOURCES) -> Effects:
    return reviewed(raw, edited(raw, change)).effects


def _kettle(raw: Raw, **more: Any) -> None:
    raw["loads"]["kettle"] = {"system": "ac", "power": "1440 W", "power_factor": 1, "space": "saloon", **more}
    raw["cables"]["C3"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "kettle", "label": "C3"}
    raw["conditions"]["both"]["demand"]["kettle"] = 0.5


def test_a_new_load_counts_on_its_own_source_and_pole_where_it_is_counted() -> None:
    """1440 W / 120 V × 0.5 = 6 A beside the heater's 10 A; 30 A − 16 A = 14 A are left. `quiet` does not count it."""
    found = _effects(_kettle)
    assert found.sources == (SourceEffect("both", "shore-1", "L1", 10.0, 16.0, 30.0),)
    assert found.sources[0].margin_a == 14.0
    assert source_row(found.sources[0]) == ("both", "shore-1 L1", "10.0 A", "16.0 A", "30.0 A", "14.0 A left")
    assert found.potentials == ()


def test_too_much_says_by_how_much() -> None:
    found = _effects(lambda raw: raw["loads"]["heater"].update({"power": "4800 W"}))
    assert [(e.condition, e.after_a, e.margin_a) for e in found.sources] == [
        ("both", 40.0, -10.0),
        ("quiet", 20.0, 10.0),
    ]
    assert source_row(found.sources[0])[-1] == "OVER by 10.0 A"


def test_a_sum_that_is_a_lower_bound_says_so() -> None:
    """A motor without a power factor takes at least what a resistance would."""

    def change(raw: Raw) -> None:
        _kettle(raw, motor=True)
        del raw["loads"]["kettle"]["power_factor"]

    found = _effects(change)
    assert [(e.after_a, e.at_least) for e in found.sources] == [(16.0, True)]
    assert source_row(found.sources[0])[-3:] == ("≥ 16.0 A", "30.0 A", "at most 14.0 A left")


def test_a_load_of_which_nothing_is_known_makes_the_margin_uncertain() -> None:
    def change(raw: Raw) -> None:
        _kettle(raw)
        del raw["loads"]["kettle"]["power"]

    assert _effects(change).sources == (SourceEffect("both", "shore-1", "L1", 10.0, 10.0, 30.0, at_least=True),)


def test_a_circuit_that_moves_to_another_section_changes_both_sources() -> None:
    """Heater 10 A from shore to generator, which carries 5 A × 0.5 = 2.5 A; in `quiet` nothing feeds it any more."""

    def move(raw: Raw) -> None:
        raw["cables"]["C1"]["from"] = "main/b/2"

    found = _effects(move)
    assert found.sources == (
        SourceEffect("both", "generator-1", "L1", 2.5, 12.5, 20.0),
        SourceEffect("both", "shore-1", "L1", 10.0, None, 30.0),
        SourceEffect("quiet", "shore-1", "L1", 5.0, None, 30.0),
    )
    assert source_row(found.sources[1])[-1] == "not loaded"
    # The cable is behind another device now, and that is told although both would do.
    assert [(e.cable, e.device, e.before, e.after) for e in found.protection] == [
        ("C1", "main/a/1", "protected", "not there"),
        ("C1", "main/b/2", "not there", "protected"),
    ]
    assert found.conductors == ()
    assert found.potentials == ()


def test_another_cable_changes_what_it_carries_and_the_limit() -> None:
    """33 CFR 183.425 Table 5, 105 °C: 14 AWG 35 A, 10 AWG 60 A. 183.455(c) at 50 V or more: the ampacity itself,
    for 35 A and 60 A are standard ratings."""
    found = _effects(lambda raw: raw["cables"]["C1"].update({"size": "10 AWG"}))
    assert found.conductors == (ConductorEffect("C1", "14 AWG", "10 AWG", (35.0, 35.0), (60.0, 60.0)),)
    assert found.protection == (
        ProtectionEffect("C1", "main/a/1", 15.0, 35.0, 15.0, 60.0, before="protected", after="protected"),
    )
    assert (found.sources, found.potentials) == ((), ())


def test_a_route_through_an_engine_space_lowers_both() -> None:
    """Table 5 note 1, 105 °C: 35 A × 0.85 = 29.75 A; 183.455(c): no standard rating, so the next larger one, 30 A,
    which is within 150 %."""
    found = _effects(lambda raw: raw["cables"]["C1"].update({"route": ["saloon", "engine-room"]}))
    (conductor,), (protection,) = found.conductors, found.protection
    assert conductor.after_a == pytest.approx((29.75, 29.75))
    assert protection.after_limit_a == pytest.approx(30.0)


def test_below_50_v_the_limit_is_150_percent() -> None:
    """Table 5, 105 °C: 16 AWG 25 A, 14 AWG 35 A; 183.455(c) under 50 V: × 1.5 = 37.5 A and 52.5 A."""
    found = _effects(lambda raw: raw["cables"]["D1"].update({"size": "16 AWG"}))
    (protection,) = found.protection
    assert (protection.before_limit_a, protection.after_limit_a) == (52.5, 37.5)
    found = _effects(
        lambda raw: raw["cables"]["D1"].update({"size": "18 AWG"})
    )  # 20 A × 1.5 = 30 A: the fuse just fits
    assert (found.protection[0].after_limit_a, found.protection[0].after) == (30.0, "protected")
    found = _effects(
        lambda raw: (
            raw["cables"]["D1"].update({"size": "18 AWG"}),
            raw["devices"]["fuse-1"].update({"rating": "35 A"}),
        )
    )
    assert found.protection[0].after == "not protected"


def test_bundled_cables_share_their_heat() -> None:
    """Table 5 note 2, four to six conductors of 50 V or more: 35 A × 0.6 = 21 A. No standard rating is 21 A; 25 A is
    the next and within 150 %."""

    def bundle(raw: Raw) -> None:
        raw["bundles"] = {"duct": {}}
        for cable in ("C1", "C2"):
            raw["cables"][cable]["bundle"] = "duct"

    found = _effects(bundle)
    assert [(e.cable, e.after_a) for e in found.conductors] == [("C1", (21.0, 21.0)), ("C2", (21.0, 21.0))]
    assert [(e.cable, e.after_limit_a, e.after) for e in found.protection] == [
        ("C1", 25.0, "protected"),
        ("C2", 25.0, "protected"),
    ]


def test_a_conductor_without_any_device_still_tells_what_it_carries() -> None:
    found = _effects(lambda raw: raw["cables"]["F1"].update({"size": "8 AWG"}))
    assert found.conductors == (ConductorEffect("F1", "10 AWG", "8 AWG", (60.0, 60.0), (80.0, 80.0)),)
    assert found.protection == ()


def test_another_rating_is_told_for_what_is_behind_it() -> None:
    way = ("panels", "main", "sections", "a", "ways", "1")

    def rating(value: str | None) -> Edit:
        def change(raw: Raw) -> None:
            here = raw
            for key in way:
                here = here[key]
            here.pop("rating") if value is None else here.update({"rating": value})

        return change

    (effect,) = _effects(rating("40 A")).protection
    assert protection_row(effect) == (
        "C1",
        "main/a/1",
        "15.0 A on a conductor that allows 35.0 A: protected",
        "40.0 A on a conductor that allows 35.0 A: not protected",
    )
    (effect,) = _effects(rating(None)).protection
    assert protection_row(effect)[-1] == "rating not recorded, on a conductor that allows 35.0 A: cannot judge"


def test_a_size_that_is_no_longer_known_cannot_be_judged() -> None:
    (effect,) = _effects(lambda raw: raw["cables"]["C1"].pop("size")).protection
    assert protection_row(effect)[-1] == "15.0 A on a conductor of unknown ampacity: cannot judge"


def test_a_bridge_between_two_sections_makes_live_what_it_joins_and_nothing_else() -> None:
    def bridge(raw: Raw) -> None:
        raw["cables"]["X1"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "main/b/2", "cores": {"black": "L1"}}

    assert _effects(bridge).potentials == (
        PotentialEffect("main/a", ("L1 of generator-1",), ()),
        PotentialEffect("main/b", ("L1 of shore-1",), ()),
        PotentialEffect("generator-1", ("L1 of shore-1",), ()),
        PotentialEffect("shore-1", ("L1 of generator-1",), ()),
    )
    after = edited(TWO_SOURCES, bridge)
    back = reviewed(after, TWO_SOURCES).effects.potentials
    assert [(e.place, e.gained, e.lost) for e in back][:2] == [
        ("main/a", (), ("L1 of generator-1",)),
        ("main/b", (), ("L1 of shore-1",)),
    ]


def test_an_interlock_that_lets_only_one_main_close_leaves_no_way_between_them() -> None:
    def bridge(raw: Raw) -> None:
        raw["cables"]["X1"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "main/b/2", "cores": {"black": "L1"}}

    def slide(raw: Raw) -> None:
        raw["interlocks"] = {"slide": {"between": ["main/a/main", "main/b/main"]}}

    before = edited(TWO_SOURCES, bridge)
    found = reviewed(before, edited(before, slide))
    lost = {(e.place, e.lost) for e in found.effects.potentials}
    assert ("shore-1", ("L1 of generator-1",)) in lost
    assert ("generator-1", ("L1 of shore-1",)) in lost
    assert not any(e.gained for e in found.effects.potentials)
    cleared = {finding.rule for finding in found.cleared if finding.signal_word == "DANGER"}
    assert cleared == {"unsynchronised-sources-joined", "inlet-pins-live"}


# --- nothing untouched is listed -----------------------------------------------------------------

_SAID = {
    "name": "Other words",
    "note": "Somebody wrote this down.",
    "photos": ["photos/one.jpg"],
    "evidence": {"how": "traced", "by": "technician"},
    "formerly": ["an-older-id"],
}


@pytest.mark.parametrize("raw", [TWO_SOURCES, REFERRING], ids=["two-sources", "referring"])
def test_what_is_only_said_about_an_entry_has_no_effect(raw: Raw) -> None:
    def say(copied: Raw) -> None:
        for collection, held in copied.items():
            for item in held.values() if collection != "vessel" else ():
                item.update(_SAID)
                for section in item.get("sections", {}).values():
                    section.update(_SAID)
                    for way in section["ways"].values():
                        way.update({**_SAID, "label": "Another label"})
            if collection == "cables":
                for item in held.values():
                    item["label"] = "another"

    found = reviewed(raw, edited(raw, say))
    assert len(found.changes) > 15
    assert found.effects == NOTHING
    assert [f.rule for f in found.new if f.signal_word in ("DANGER", "WARNING")] == []


@pytest.mark.parametrize("cable", sorted(TWO_SOURCES["cables"]))
def test_a_label_on_one_cable_has_no_effect(cable: str) -> None:
    assert _effects(lambda raw: raw["cables"][cable].update({"label": "Z99"})) == NOTHING


@pytest.mark.parametrize(
    ("collection", "old"),
    [
        ("devices", "inlet-one"),
        ("devices", "inverter-one"),
        ("devices", "bank-one"),
        ("devices", "changeover-one"),
        ("panels", "panel-one"),
        ("loads", "heater-one"),
        ("cables", "W6"),
        ("conditions", "alongside-state"),
        ("interlocks", "slide-one"),
    ],
)
def test_a_new_name_alone_has_no_effect_and_brings_no_finding(collection: str, old: str) -> None:
    def rename(raw: Raw) -> None:
        renamed = json.loads(json.dumps(raw).replace(f'"{old}', '"other-name'))
        raw.clear()
        raw.update(renamed)
        raw[collection]["other-name"]["formerly"] = [old]

    found = reviewed(REFERRING, edited(REFERRING, rename))
    assert [change.kind for change in found.changes] == ["renamed"]
    assert found.effects == NOTHING
    assert (found.new, found.cleared, found.newly_unjudged) == ((), (), ())
    assert len(found.inherited) == len(found.before.survey.findings) > 0


def test_the_same_boat_twice_has_no_effect() -> None:
    for raw in (TWO_SOURCES, REFERRING):
        assert reviewed(raw, raw).effects == NOTHING
