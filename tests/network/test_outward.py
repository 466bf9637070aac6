"""Distances to the first device, against Dijkstra's algorithm of another library in every combination of positions."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import networkx as nx
import pytest
from hypothesis import assume, given

from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.graph import LINES, Emission, Network
from vesselspec.network.outward import outward

from .test_reach import exploding, quick
from .vessels import combinations, holds, is_small, vessels

LIVE = (*LINES, "DC+")


def measured(network: Network) -> Network:
    """The same network, each cable with a length of its own."""
    length = {cable: 1.0 + number * number % 7 for number, cable in enumerate(network.runs)}
    return replace(
        network,
        cores=tuple(replace(run, cable=replace(run.cable, length_m=length[run.cable.id])) for run in network.cores),
    )


def expected(network: Network, emission: Emission) -> tuple[dict[int, float], set[str], set[int]]:
    """The least distance to the far end of every core, the first devices, and every terminal before them."""
    far: dict[int, float] = {}
    devices: set[str] = set()
    reached: set[int] = set()
    counts = {n for n, t in enumerate(network.terminals) if t.pole in LIVE or t.loose}
    links = [k for k in enumerate(network.links) if k[1].a in counts and k[1].b in counts]
    for combination in combinations(network):
        if not holds(emission.guards, combination):
            continue
        graph: Any = nx.MultiDiGraph()
        graph.add_node(emission.terminal)
        for number, link in links:
            if not link.protective and holds(link.guards, combination):
                run = network.core_of.get(number)
                weight = run.cable.length_m if run is not None else 0.0
                graph.add_edge(link.a, link.b, weight=weight)
                if not link.one_way:
                    graph.add_edge(link.b, link.a, weight=weight)
        near = nx.single_source_dijkstra_path_length(graph, emission.terminal)
        reached |= near.keys()
        for number, link in links:
            ends = [near[end] for end in (link.a, link.b) if end in near]
            if link.protective and ends:
                devices.add(link.item)
            elif link.kind == "core" and ends:
                length = network.core_of[number].cable.length_m or 0.0
                far[number] = min(far.get(number, float("inf")), min(ends) + length)
    return far, devices, reached


@quick
@given(vessels())
def test_distances_are_brute_force(vessel: Vessel) -> None:
    network = measured(compile_network(vessel))
    assume(is_small(network))
    for emission in network.emissions:
        if emission.pole in LIVE:
            told = outward(network, emission)
            far, devices, reached = expected(network, emission)
            assert {each.link: each.metres for each in told.stretches} == pytest.approx(far)
            assert told.devices.keys() == devices
            assert told.terminals == reached
            for each in told.stretches:
                assert each.metres == pytest.approx(sum(one.run.cable.length_m or 0.0 for one in each.way))


def test_selectors_in_a_row_do_not_double_the_ways_without_end() -> None:
    """2^14 ways; beyond those that are kept none is missed: the last box is reached."""
    network = compile_network(exploding(14))
    (source,) = (emission for emission in network.emissions if emission.pole == "L1")
    told = outward(network, source)
    assert network.index["box-13", "L1"] in told.terminals
    assert {each.link for each in told.stretches} == set(network.core_of)
