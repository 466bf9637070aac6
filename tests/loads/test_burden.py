"""What a load puts on the elements on its way: dominators against networkx, sums against the demand on sources."""

from __future__ import annotations

from pathlib import Path

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.cli.common import read_state
from vesselspec.physics.loads.burden import Element, Ways, dominators
from vesselspec.rules import Boat

from .boats import built, cable, split_phase

EXAMPLE = Path(__file__).parents[2] / "example_vessel"


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=25))
def test_dominators_are_those_of_a_general_graph_library(edges: list[tuple[int, int]]) -> None:
    graph = networkx.DiGraph(edges)
    graph.add_node(0)
    found = dominators(0, lambda node: sorted(graph.successors(node)))
    expected = dict(networkx.immediate_dominators(graph, 0))
    expected[0] = 0
    assert found == expected


def test_every_rated_thing_on_the_way_and_nothing_beside_it() -> None:
    vessel, network, states = built(split_phase())
    ways = Ways(vessel, network, vessel.conditions["alongside"], states["alongside"])
    burden = ways.burden("heater-1")
    assert burden.fed
    assert dict(burden.amps) == pytest.approx(
        {
            Element("shore", "L1", "source"): 10,
            Element("main/a/1", "L1", "breaker"): 10,
            Element("main/a", "L1", "bus"): 10,
            Element("main/a/2", "L1", "breaker"): 10,
            Element("C1", "L1", "cable", "black"): 10,
            Element("C2", "L1", "cable", "black"): 10,
        }
    )
    assert {ways.ratings.get(each) for each in burden.amps} == {30, 50, 15, None}
    assert {network.core_of[ways.cores[each]].cable.id for each in burden.amps if each.kind == "cable"} == {"C1", "C2"}


def test_a_parallel_way_is_named_and_its_devices_are_not_judged() -> None:
    two = {"system": "ac", "poles": ["L1", "N"], "rating": "15 A"}
    record = split_phase(
        devices={"one": {"kind": "breaker", **two}, "two": {"kind": "breaker", **two}},
        cables={
            "C2": None,
            "P1": cable("main/a/2", "one/line", "L1"),
            "P2": cable("main/a/2", "two/line", "L1"),
            "P3": cable("one/load", "heater-1", "L1"),
            "P4": cable("two/load", "heater-1", "L1"),
        },
    )
    vessel, network, states = built(record)
    burden = Ways(vessel, network, vessel.conditions["alongside"], states["alongside"]).burden("heater-1")
    assert burden.parallel == ("heater-1:L1",)
    assert "one" not in {each.item for each in burden.amps}
    assert Element("main/a/2", "L1", "breaker") in burden.amps


def test_on_the_example_the_shares_add_up_to_the_demand_on_every_source() -> None:
    record = read_state(EXAMPLE, None).record
    assert record.vessel is not None
    boat = Boat(record.vessel, record.places)
    for key, condition in boat.vessel.conditions.items():
        ways = Ways(boat.vessel, boat.network, condition, boat.states[key])
        total: dict[Element, float] = {}
        for item, demand in condition.demand:
            for element, amps in ways.burden(item).amps.items():
                total[element] = total.get(element, 0.0) + amps * demand.factor
        for source in boat.demands[key].sources:
            assert total[Ways.of_root((source.sources, source.pole))] == pytest.approx(source.amps)


def test_what_feeds_the_source_itself_is_left_out() -> None:
    record = read_state(EXAMPLE, None).record
    assert record.vessel is not None
    boat = Boat(record.vessel, record.places)
    ways = Ways(boat.vessel, boat.network, boat.vessel.conditions["under-way"], boat.states["under-way"])
    burden = ways.burden("screens")
    below = {each.item for each in burden.below("pilothouse-inverter")}
    assert "pilothouse-inverter" in below
    assert "house-bank" not in below
    assert {"house-bank", "pilothouse-inverter"} <= {each.item for each in burden.below("house-bank")}
