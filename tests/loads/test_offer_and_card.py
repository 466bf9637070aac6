"""Candidates and limits out of the record, and the load card made from them."""

from __future__ import annotations

from typing import Any

import pytest

from vesselspec.physics.loads.burden import Element
from vesselspec.physics.loads.card import Card, card_of
from vesselspec.physics.loads.fit import best_fit
from vesselspec.physics.loads.offer import Offer, offer_of

from .boats import Raw, built, cable, split_phase


def offer(record: Raw, source: str = "shore", name: str = "alongside", **more: Any) -> Offer:
    vessel, network, states = built(record)
    return offer_of(vessel, network, vessel.conditions[name], states[name], source, **more)


def card(record: Raw, source: str = "shore", name: str = "alongside", **more: Any) -> Card:
    vessel, network, states = built(record)
    return card_of(vessel, network, vessel.conditions[name], states[name], source, **more)


def test_loads_count_in_full_and_receptacles_at_their_share() -> None:
    found = offer(split_phase())
    assert {key: each.factor for key, each in found.counted.items()} == {
        "heater-1": 1,
        "heater-2": 1,
        "oven": 1,
        "outlet": 0.1,
    }
    assert found.counted["oven"].lines == pytest.approx({"L1": 10, "L2": 10})
    assert found.limits[Element("main/a/4", "L2", "breaker")] == 20
    assert found.limits[Element("shore", "L1", "source")] == 30


def test_by_demand_factors_count() -> None:
    found = offer(split_phase(), by_demand=True)
    assert found.counted["oven"].lines == pytest.approx({"L1": 5, "L2": 5})


def test_the_smaller_of_limit_and_rating_holds() -> None:
    assert offer(split_phase(), limit_a=16).limit_a == 16
    assert offer(split_phase(), limit_a=63).limit_a == 30
    unrated = split_phase()
    unrated["devices"]["shore"] = {"kind": "shore-inlet", "system": "ac"}
    assert offer(unrated).limit_a is None
    assert offer(unrated, limit_a=16).limit_a == 16


def test_a_feeder_on_the_way_limits_too() -> None:
    record = split_phase()
    record["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "12 A"
    found = offer(record)
    fit = best_fit(found.candidates, found.limits)
    assert fit.runs == ("heater-1", "heater-2", "outlet")
    assert fit.left_off[0].because[0].element == Element("main/a/1", "L1", "breaker")


def test_what_cannot_be_judged_or_offered_is_said() -> None:
    record = split_phase(
        loads={
            "oven": {"only_from": ["generator"]},
            "outlet": {"motor": True},
            "pump": {"system": "ac", "poles": ["L1", "N"], "essential": True},
        },
        cables={"C6": cable("main/a/5", "pump", "L1", "N")},
    )
    found = offer(record)
    assert found.barred == (("oven", ("generator",)),)
    assert found.unjudged == (("pump", "power"),)  # essential: offered although no condition lists it
    assert found.at_least == (("outlet", "power_factor"),)


def test_every_load_offers_those_that_the_condition_does_not_list() -> None:
    record = split_phase(conditions={"alongside": {"demand": {"oven": 1}}})
    assert set(offer(record).counted) == {"oven"}
    found = offer(record, every_load=True)
    assert set(found.counted) == {"heater-1", "heater-2", "outlet", "oven"}
    assert found.counted["outlet"].factor == 1


def test_a_card_by_hand() -> None:
    """20 A: beside run the outlets with 1 A on L1. Heater and oven are 20 + 1 on L1: no. Both heaters: 11 and 8."""
    found = card(split_phase(), limit_a=20)
    assert [each.load for each in found.large] == ["heater-1", "oven", "heater-2"]
    assert found.beside_lines == pytest.approx({"L1": 1})
    assert {key: each.fits for key, each in found.pairs.items()} == {
        ("heater-1", "oven"): False,
        ("heater-1", "heater-2"): True,
        ("oven", "heater-2"): True,
    }
    tight = found.pairs["heater-1", "heater-2"].tightest
    assert tight is not None
    assert tight.element.pole == "L1"
    assert tight.left_a == pytest.approx(9)
    assert [each.loads for each in found.largest] == [("heater-1", "heater-2"), ("heater-2", "oven")]
    assert [each.loads for each in found.failing] == [("heater-1", "oven")]


def test_an_essential_load_runs_beside_everything_in_full() -> None:
    record = split_phase(
        loads={"pump": {"system": "ac", "poles": ["L1", "N"], "power": "120 W", "essential": True}},
        cables={"C6": cable("main/a/5", "pump", "L1", "N")},
    )
    found = card(record, limit_a=20)
    assert {each.load for each in found.beside} == {"outlet", "pump"}
    assert found.beside_lines == pytest.approx({"L1": 2})


def test_what_runs_beside_can_be_too_much_alone() -> None:
    record = split_phase(
        loads={"outlet": {"power": "1800 W"}}, conditions={"alongside": {"demand": {"oven": 1, "outlet": 1}}}
    )
    found = card(record, limit_a=10)
    assert found.base is not None
    assert not found.base.fits
    assert found.largest == ()
