"""Sheets of the example and of small boats: what is opened, in which order, and where there is none."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from tests.network.vessels import vessel_of
from vesselspec.isolation import Sheet, Target, UnknownPointError, find_target, sheet_of
from vesselspec.isolation.steps import GROUPS
from vesselspec.isolation.target import NoSuchPlace
from vesselspec.record import Places, read
from vesselspec.revisions import read_folder
from vesselspec.rules import Boat
from vesselspec.standards import figure

EXAMPLE = Path(__file__).parents[2] / "example_vessel"
DAY = datetime.date(2026, 11, 1)


@pytest.fixture(scope="module")
def example() -> Boat:
    record = read(read_folder(EXAMPLE).files)
    assert record.vessel is not None
    return Boat(record.vessel, record.places)


def sheet(boat: Boat, place: str, *out_of_reach: str) -> Sheet:
    target = find_target(boat, place)
    assert isinstance(target, Target)
    return sheet_of(boat, target, out_of_reach=out_of_reach, day=DAY)


def opened(found: Sheet) -> list[tuple[str, str]]:
    return [(point.id, point.how) for point in found.points]


def test_the_ac_main_panel(example: Boat) -> None:
    found = sheet(example, "ac-main")
    assert found.declared
    assert opened(found) == [("shore-1", "unplug"), ("generator-1", "stop"), ("battery-distribution/house/2", "pull")]
    assert not found.stays_live
    reaching = {supply.id for supply in found.supplies if supply.reaches}
    assert {"shore-1", "generator-1", "house-bank", "solar-array", "alternator-starboard"} <= reaching
    assert "shore-2" in {supply.id for supply in found.supplies if not supply.reaches}


def test_an_inverter_section_leaves_the_dc_side_of_its_enclosure_live(example: Boat) -> None:
    found = sheet(example, "pilothouse-combined/ac")
    assert opened(found) == [("battery-distribution/house/3", "pull")]
    live = {each.place: each for each in found.stays_live}
    assert set(live) == {"pilothouse-combined/dc-24"}
    assert "house-bank" in live["pilothouse-combined/dc-24"].sources
    assert any("Switch off pilothouse-inverter" in step.says for step in found.steps)


def test_a_combined_enclosure(example: Boat) -> None:
    found = sheet(example, "pilothouse-combined")
    assert opened(found) == [("dc-main/house/23", "open"), ("battery-distribution/house/3", "pull")]
    assert not found.stays_live


def test_what_safety_depends_on_is_kept_where_a_nearer_point_will_do(example: Boat) -> None:
    """Not the fuse of the whole DC main panel for one toilet room, and not its steering and lights."""
    assert opened(sheet(example, "pilothouse-combined/dc-24")) == [("dc-main/house/23", "open")]
    assert opened(sheet(example, "head-aft")) == [("dc-main/house/16", "open"), ("dc-main/house/18", "open")]
    # Several points that together would take the whole house dead are no way around its one fuse.
    flybridge = opened(sheet(example, "dc-flybridge"))
    assert flybridge == [("dc-main/house/24", "open"), ("dc-pilothouse/electronics/14", "open")]
    # What is dead whenever the place is does not count: the panel's own fuse is still the best point for the panel.
    assert ("battery-distribution/house/1", "pull") in opened(sheet(example, "dc-main"))


def test_the_charger_is_dead_on_both_sides_only_with_all_its_sources_dead(example: Boat) -> None:
    found = sheet(example, "start-charger")
    assert [how for _, how in opened(found)] == ["unplug", "stop", "pull", "pull", "pull"]
    prove = dict(found.prove)
    assert prove["start-charger/ac"] == ("L1", "N", "PE")
    assert prove["start-charger/port"] == ("DC+", "DC-", "PE")
    assert any("start-charger" in step.says for step in found.steps if step.group == "Let stored energy go")


def test_the_generator_is_stopped_inhibited_and_its_start_battery_opened(example: Boat) -> None:
    found = sheet(example, "generator-1")
    said = [step.says for step in found.steps if step.at in ("generator-1", "generator-start-switch")]
    assert len(said) == 4
    assert "stop it" in said[0]
    assert "Key switch on the set" in said[1]
    assert "generator-start-switch" in said[2]
    assert said[2].endswith("; lock it open.")
    # No record says which circuit feeds its controller: told as a step, and in the largest type.
    assert "the circuit that feeds its controller" in said[3]
    assert "NOT RECORDED" in said[3]
    (live,) = found.stays_live
    assert (live.place, live.poles, live.sources) == ("generator-1", ("DC+",), ("generator-start-bank",))
    assert "NOT RECORDED" in live.what
    # Where the set is only stopped for work elsewhere, nobody's hand is at its wires.
    assert not any("controller" in step.says for step in sheet(example, "ac-main").steps)


def test_steps_come_in_the_order_of_the_published_rules(example: Boat) -> None:
    """29 CFR 1910.147(d) and 1910.333(b)(2), NFPA 70E 120.5: proving dead comes after locking in all of them."""
    groups = [step.group for step in sheet(example, "ac-main").steps]
    assert [group for group in GROUPS if group in groups] == list(dict.fromkeys(groups))
    order = figure("osha_147_sequence").data["steps"]
    words = {"prepare": "Prepare", "isolate": "Make every source dead, at the source", "lock": "Lock and label"}
    words |= {"stored energy": "Let stored energy go", "verify": "Prove dead"}
    assert [GROUPS.index(words[step]) for step in order if step in words] == sorted(
        GROUPS.index(words[step]) for step in order if step in words
    )
    pedestal = [step.says for step in sheet(example, "ac-main").steps if step.at == "shore-1"]
    assert "pedestal" in pedestal[0]
    assert "unplug the cord at the pedestal and at the inlet" in pedestal[1]


def test_an_untraced_cable_in_the_enclosure_refuses_the_sheet(example: Boat) -> None:
    found = sheet(example, "dc-engine-room")
    assert not found.declared
    assert not found.steps
    assert "D369" in found.refusals[0].says


def test_an_untraced_end_may_be_in_any_enclosure_and_is_live_there(example: Boat) -> None:
    """The sheet holds for what is recorded; what is not is told beside what stays live, with how it is made dead."""
    found = sheet(example, "ac-main")
    assert found.declared
    (end,) = found.lost_ends
    assert (end.cable, end.known, end.poles) == ("D369", ("dc-engine-room/engine/9",), ("DC+",))
    assert "start-bank-port" in end.sources
    (hazard,) = (each for each in found.hazards if "D369" in each.says)
    assert "D369 (red, black, 14 AWG, no label)" in hazard.says
    assert hazard.check.startswith("open dc-engine-room/engine/9")
    # Where the points of the sheet take its known end dead too, nothing recorded is on it.
    (end,) = sheet(example, "start-distribution").lost_ends
    assert not end.poles


def test_a_battery_is_never_dead(example: Boat) -> None:
    found = sheet(example, "house-bank")
    assert not found.declared
    assert any("its own posts" in refusal.says for refusal in found.refusals)


def test_a_point_out_of_reach_is_not_used(example: Boat) -> None:
    first = sheet(example, "ac-main")
    without = sheet(example, "ac-main", "battery-distribution/house/2")
    assert without.declared
    assert "battery-distribution/house/2" not in dict(opened(without))
    alternative = {each.instead_of: {point.id for point in each.points} for each in first.alternatives}
    assert alternative["battery-distribution/house/2"] <= {point.id for point in without.points}


def test_a_shore_cord_that_cannot_be_unplugged_leaves_no_sheet(example: Boat) -> None:
    found = sheet(example, "ac-main", "shore-1")
    assert not found.declared
    assert "without shore-1 nothing recorded keeps every source away" in found.refusals[0].says


def test_a_point_that_is_none_is_told(example: Boat) -> None:
    with pytest.raises(UnknownPointError, match="shore-9"):
        sheet(example, "ac-main", "shore-9")
    # An AC breaker is no isolation of a source, so it is no point either.
    with pytest.raises(UnknownPointError):
        sheet(example, "ac-main", "ac-main/shore-and-generator/1")


def test_a_place_that_is_not_there_names_its_neighbour(example: Boat) -> None:
    assert find_target(example, "ac-mian") == NoSuchPlace("ac-mian", "ac-main")
    space = find_target(example, "spaces/pilothouse")
    assert isinstance(space, Target)
    assert (space.kind, space.place) == ("space", "pilothouse")


def test_every_place_of_the_example_has_a_sheet_or_a_reason(example: Boat) -> None:
    vessel = example.vessel
    for place in (*vessel.panels, *vessel.spaces):
        found = sheet(example, place)
        assert bool(found.steps) != bool(found.refusals)
        assert {supply.id for supply in found.supplies} == {emission.source for emission in example.network.emissions}


def test_old_and_assumed_evidence_is_a_hazard(example: Boat) -> None:
    target = find_target(example, "engine-room")
    assert isinstance(target, Target)
    later = sheet_of(example, target, day=datetime.date(2040, 2, 29))
    assert any("more than 5 years ago" in hazard.says for hazard in later.hazards)
    assert any("assumed" in hazard.says for hazard in later.hazards)


def boat(**collections: object) -> Boat:
    return Boat(vessel_of(**collections), Places())  # type: ignore[arg-type]


def test_a_potential_that_comes_back_through_a_load_is_found() -> None:
    """The lamp's neutral is landed on another section's bar: unplugging that section's cord leaves the bar floating."""
    mixed = boat(
        devices={
            "shore-1": {"kind": "shore-inlet", "system": "ac-1"},
            "shore-2": {"kind": "shore-inlet", "system": "ac-1"},
        },
        panels={
            "panel": {
                "system": "ac-1",
                "sections": {
                    "a": {"ways": {"1": {"poles": ["L1", "N"], "duty": "main"}, "2": {"poles": ["L1"]}}},
                    "b": {"ways": {"1": {"poles": ["L1", "N"], "duty": "main"}, "2": {"poles": ["L1"]}}},
                },
            }
        },
        loads={"lamp": {"system": "ac-1"}},
        cables={
            "C1": {"from": "shore-1", "to": "panel/a/1", "cores": {"black": "L1", "white": "N", "green": "PE"}},
            "C2": {"from": "shore-2", "to": "panel/b/1", "cores": {"black": "L1", "white": "N", "green": "PE"}},
            "C3": {
                "from": "panel/a/2",
                "to": "lamp",
                "cores": {"black": "L1", "white": {"from": "panel/b:N", "to": "N"}, "green": "PE"},
            },
        },
    )
    found = sheet(mixed, "panel/b")
    assert {point.id for point in found.points} == {"shore-1", "shore-2"}
    assert found.declared


def test_a_generator_of_which_little_is_recorded_says_so() -> None:
    found = sheet(
        boat(
            devices={"generator": {"kind": "generator", "system": "ac-1"}},
            loads={"lamp": {"system": "ac-1"}},
            cables={"C1": {"from": "generator", "to": "lamp", "cores": {"black": "L1", "white": "N", "green": "PE"}}},
        ),
        "lamp",
    )
    assert found.declared
    assert any("NOT RECORDED" in step.says for step in found.steps)
    assert any("may start by itself" in hazard.says for hazard in found.hazards)
