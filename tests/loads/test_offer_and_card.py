"""Candidates and limits out of the record, and the load card made from them."""

from __future__ import annotations

from itertools import combinations as subsets_of
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.physics.conductors.ampacity import Ampacity
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
    record["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "13 A"
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


# --- continuous loads and conductors ---------------------------------------------------------------


def carries(low_a: float, *unknown: str) -> Ampacity:
    return Ampacity(low_a, low_a + 10 if unknown else low_a, "a table", False, (), unknown)


def test_continuous_loads_may_take_a_share_of_breakers_and_shore() -> None:
    """10 A for hours on 12 A is more than 9.6 A; on 12.5 A it is just as much."""
    record = split_phase()
    way = record["panels"]["main"]["sections"]["a"]["ways"]["2"]
    for rating, fits in (("12 A", False), ("12.5 A", True)):
        way["rating"] = rating
        found = offer(record)
        assert ("heater-1" in best_fit(found.candidates, found.limits).runs) is fits
    way["rating"] = "12 A"
    found = offer(record)
    (left_off,) = best_fit(found.candidates, found.limits).left_off
    assert left_off.because[0].element == Element("main/a/2", "L1", "breaker", continuous=True)
    assert left_off.because[0].limit_a == pytest.approx(9.6)
    assert found.limits[Element("shore", "L1", "source", continuous=True)] == pytest.approx(24)
    assert found.share == 0.8
    assert not any(element.continuous and element.kind in ("bus", "cable") for element in found.limits)


def test_a_limit_at_the_pedestal_is_shared_too() -> None:
    assert offer(split_phase(), limit_a=16).limits[Element("shore", "L1", "source", continuous=True)] == 12.8


def test_a_generator_is_rated_for_lasting_load_and_other_practice_has_no_figure(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    record = split_phase()
    record["devices"]["shore"] = {"kind": "generator", "system": "ac", "rating": "30 A"}
    assert {e.kind for e in offer(record).limits if e.continuous} == {"breaker"}
    monkeypatch.setattr("tests.loads.boats.ABOUT", {"record": 1, "name": "Example", "practice": "international"})
    found = offer(split_phase())
    assert found.share is None
    assert not any(element.continuous for element in found.limits)


def test_a_load_without_duty_is_named() -> None:
    record = split_phase()
    del record["loads"]["oven"]["duty"]
    assert offer(record).no_duty == ("oven",)


def test_a_conductor_limits_at_the_least_it_may_be() -> None:
    """C1 feeds all: 21 A on L1 with heater, oven and outlets. At 15 A the heater stays off: it comes last."""
    vessel, network, states = built(split_phase())
    known = {
        "C1": carries(15, "insulation"),
        "C2": None,
        "C3": carries(100),
        "C4": carries(100),
        "C5": carries(0, "space"),
    }

    def of(link: int) -> Ampacity | None:
        return known[network.core_of[link].cable.id]

    found = offer_of(vessel, network, vessel.conditions["alongside"], states["alongside"], "shore", carries=of)
    assert {(e.item, e.core) for e in found.no_ampacity} == {("C2", "black"), ("C5", "black")}
    assert found.limits[Element("C1", "L1", "cable", "black")] == 15
    assert {e.item for e, each in found.ampacities.items() if each.unknown} == {"C1"}
    fit = best_fit(found.candidates, found.limits)
    assert fit.runs == ("heater-1", "heater-2", "outlet")
    assert fit.left_off[0].because[0].element.item == "C1"
    assert fit.left_off[0].because[0].over_a == pytest.approx(6)


_TENTHS = st.integers(10, 250).map(lambda n: n / 10)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(_TENTHS, st.booleans()), min_size=3, max_size=3), _TENTHS, _TENTHS, _TENTHS)
def test_the_best_set_is_that_of_trying_every_set_by_hand(
    loads: list[tuple[float, bool]], shore: float, way: float, core: float
) -> None:
    """Three loads on line 1 behind one feeder: rating, 80 % for those of hours, and its cable, in plain arithmetic."""
    record = split_phase(devices={"shore": {"rating": f"{shore} A"}})
    names = ("heater-1", "oven", "outlet")
    for name, (amps, lasting) in zip(names, loads, strict=True):
        load = {"system": "ac", "poles": ["L1", "N"], "current": f"{amps} A"}
        record["loads"][name] = {**load, "duty": "continuous" if lasting else "intermittent"}
    record["cables"]["C4"] = cable("main/a/4", "oven", "L1", "N")
    record["conditions"]["alongside"]["demand"] = dict.fromkeys(names, 1)
    ways = record["panels"]["main"]["sections"]["a"]["ways"]
    for key in ways:
        ways[key] = {**ways[key], "rating": f"{way} A"}
    vessel, network, states = built(record)

    def of(link: int) -> Ampacity | None:
        return carries(core) if network.core_of[link].cable.id == "C1" else None

    found = offer_of(vessel, network, vessel.conditions["alongside"], states["alongside"], "shore", carries=of)
    fit = best_fit(found.candidates, found.limits)
    tenths = {name: (round(amps * 10), lasting) for name, (amps, lasting) in zip(names, loads, strict=True)}

    def fits(some: tuple[str, ...]) -> bool:
        total = sum(tenths[name][0] for name in some)
        lasting = sum(amps for amps, long in (tenths[name] for name in some) if long)
        ratings = (round(shore * 10), round(way * 10))
        return all(total <= rating and lasting * 10 <= rating * 8 for rating in ratings) and total <= round(core * 10)

    every = [some for size in range(4) for some in subsets_of(sorted(names), size) if fits(some)]
    most = max(len(some) for some in every)
    assert fit.runs == min(some for some in every if len(some) == most)
