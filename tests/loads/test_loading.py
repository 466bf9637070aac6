"""The summary of a condition, by hand, and what must hold whatever the loads."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.cli.main import run
from vesselspec.physics.loads.loading import Loading, breaker_share, loading_of
from vesselspec.physics.steady.flow import solve_condition
from vesselspec.standards import figure

from .boats import Raw, built, cable, split_phase, written


def loading(record: Raw, *, solved: bool = False, name: str = "alongside") -> Loading:
    vessel, network, states = built(record)
    condition = vessel.conditions[name]
    flow = solve_condition(vessel, network, condition, states[name]) if solved else None
    return loading_of(vessel, network, condition, states[name], flow)


def test_source_lines_by_hand() -> None:
    """L1: 10 + 0.5 of 10 + 0.1 of 10 = 16 A; L2: 0.5 of 8 + 0.5 of 10 = 9 A; 30 A each."""
    one, two = loading(split_phase()).sources
    assert (one.element.pole, two.element.pole) == ("L1", "L2")
    assert (one.amps, one.rating_a, one.margin_a) == pytest.approx((16, 30, 14))
    assert (one.continuous_a, one.intermittent_a, one.unstated_a) == pytest.approx((10, 5, 1))
    assert (two.amps, two.continuous_a) == pytest.approx((9, 4))
    assert [(draw.item, draw.amps) for draw in one.draws] == [("heater-1", 10), ("oven", 5), ("outlet", 1)]
    assert not one.over


def test_imbalance_is_the_largest_line_less_the_smallest() -> None:
    (found,) = loading(split_phase()).imbalances
    assert (found.larger, found.smaller) == ("L1", "L2")
    assert (found.amps, found.share) == pytest.approx((7, 7 / 16))


def test_a_line_without_load_counts_as_none() -> None:
    record = split_phase(conditions={"alongside": {"demand": {"heater-1": 1}}})
    (found,) = loading(record).imbalances
    assert found.smaller == "L2"
    assert (found.amps, found.share) == pytest.approx((10, 1))


def test_feeder_and_bus() -> None:
    one, _ = loading(split_phase()).feeders
    assert (one.bus.element.item, one.bus.rating_a, one.fed_by, one.is_cable) == ("main/a", 50, "main/a/1", False)
    assert one.device is not None
    assert (one.device.item, one.device_rating_a) == ("main/a/1", 30)


def test_a_feeder_is_told_as_a_source_is(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Demand by line, rating, margin, continuous and intermittent, neutral, imbalance, largest loads; in all forms."""
    found = loading(split_phase(), solved=True)
    one, two = (each.bus for each in found.feeders)
    assert (one.amps, one.margin_a, one.continuous_a, one.intermittent_a) == pytest.approx((16, 34, 10, 5))
    assert (two.amps, two.continuous_a, two.unstated_a) == pytest.approx((9, 4, 0))
    (imbalance,) = found.feeder_imbalances
    assert (imbalance.items, imbalance.larger, imbalance.amps) == (("main/a",), "L1", pytest.approx(7))
    folder = written(tmp_path, split_phase())
    for form in ("text", "markdown"):
        run(["loads", folder, "--output", form])
        said = " ".join(capsys.readouterr().out.replace("|", " ").replace("*", "").split())
        for words in (
            "main/a L1 16.0 50 34.0 30 14.0 main/a/1",
            "main/a L1 10.0 5.0 1.0 heater-1 10.0, oven 5.0, outlet 1.0",
            "main/a: L1 carries 7.0 A more than L2, 44 % of L1",
            "main/a: 7.0 A in the neutral of cable C1",
        ):
            assert words in said.replace("\\", ""), form
    run(["loads", folder, "--output", "json"])
    (condition,) = json.loads(capsys.readouterr().out)["conditions"]
    first = condition["feeders"][0]
    assert (first["pole"], first["continuous_a"], first["draws"][0]["item"]) == ("L1", 10, "heater-1")
    assert condition["feeder_imbalance"] == [
        {"item": "main/a", "larger": "L1", "smaller": "L2", "amps": 7.0, "share": 0.4375}
    ]


def test_a_section_that_a_cable_feeds() -> None:
    record = split_phase(
        devices={"cut-off": {"kind": "breaker", "system": "ac", "poles": ["L1", "L2"], "rating": "25 A"}},
        cables={
            "C1": cable("cut-off/load", "main/a", "L1", "L2", "N"),
            "C0": cable("shore", "cut-off/line", "L1", "L2", "N"),
        },
    )
    one, _ = loading(record).feeders
    assert (one.fed_by, one.is_cable, one.device_rating_a) == ("C1", True, 25)


def test_neutral_current_is_that_of_the_solved_network() -> None:
    """Lines in opposite phase: what the 120 V loads of L1 take more than those of L2, 11 − 4 = 7 A."""
    found = {each.item: each for each in loading(split_phase(), solved=True).neutrals}
    assert found["shore"].cable == "C1"
    assert found["shore"].amps == pytest.approx(7, rel=0.01)
    assert found["main/a"].amps == pytest.approx(7, rel=0.01)


def test_over_its_rating() -> None:
    record = split_phase(conditions={"alongside": {"demand": {"heater-1": 1, "oven": 1, "outlet": 1}}})
    found = loading({**record, "devices": {"shore": {"kind": "shore-inlet", "system": "ac", "rating": "25 A"}}})
    assert [(line.element.item, line.element.pole) for line in found.over] == [("shore", "L1")]


def test_what_is_not_recorded_is_listed_and_not_guessed() -> None:
    record = split_phase(
        devices={"shore": {"kind": "shore-inlet", "system": "ac"}},
        loads={"oven": {"power": "2400 W", "motor": True}, "outlet": {"kind": "receptacles"}},
    )
    del record["loads"]["outlet"]["power"]
    record["devices"]["shore"].pop("rating")
    found = loading(record)
    assert ("outlet", "power") in found.unknown
    assert ("oven", "power_factor") in found.unknown
    assert {each.item for each in found.unrated} == {"shore"}
    assert found.sources[0].margin_a is None
    assert found.sources[0].unknown


def test_a_load_that_nothing_reaches() -> None:
    record = split_phase(conditions={"alongside": {"positions": {"main/a/2": "open"}}})
    assert loading(record).unfed == ("heater-1",)


def test_share_of_a_breaker_for_hours() -> None:
    """NFPA 70 210.20(A): 125 % of the continuous load, which is 80 % of the rating."""
    assert breaker_share() == pytest.approx(1 / float(figure("nec_continuous").data["factor"]))


@settings(max_examples=25, deadline=None)
@given(st.integers(100, 1700), st.integers(1, 9), st.sampled_from([0.25, 0.5, 1]))
def test_a_load_in_parts_equals_the_whole(watts: int, parts: int, factor: float) -> None:
    whole = split_phase(
        loads={"heater-1": {"power": f"{watts * parts} W"}}, conditions={"alongside": {"demand": {"heater-1": factor}}}
    )
    split = split_phase(
        loads={f"part-{n}": {"system": "ac", "poles": ["L1", "N"], "power": f"{watts} W"} for n in range(parts)},
        cables={f"P{n}": cable("main/a/2", f"part-{n}", "L1", "N") for n in range(parts)},
        conditions={"alongside": {"demand": {f"part-{n}": factor for n in range(parts)}}},
    )
    one, other = loading(whole), loading(split)
    assert [line.element for line in one.sources] == [line.element for line in other.sources]
    for each, also in zip((*one.sources, *one.devices), (*other.sources, *other.devices), strict=True):
        assert each.amps == pytest.approx(also.amps)
