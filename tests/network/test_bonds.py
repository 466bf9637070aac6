"""Joints of neutral and earth against brute force: every combination of positions, each with its own graph."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import networkx as nx
from hypothesis import assume, given
from hypothesis import strategies as st

from vesselspec.model.devices import Generator, Inverter, InverterCharger, IsolationTransformer
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.graph import LINES, Network
from vesselspec.network.reach import Needs
from vesselspec.record import Places
from vesselspec.rules import Boat
from vesselspec.rules.bonds import neutrals, surplus, unearthed

from .test_reach import live, quick
from .vessels import combinations, holds, in_step, is_small, switched, vessels

#: A joint as (neutral terminal, earth terminal).
Joint = tuple[int, int]


some_vessels = st.one_of(vessels(), switched(), switched())


def every(vessel: Vessel, network: Network) -> Iterator[dict[str, str]]:
    """Every combination that can be."""
    return (each for each in combinations(network) if in_step(vessel, each))


def joints(vessel: Vessel, network: Network, combination: dict[str, str]) -> dict[Joint, bool]:
    """The joints made in a combination, and whether they are recorded rather than merely possible."""
    found: dict[Joint, bool] = {}
    for key, device in vessel.devices.items():
        place = ""
        match device:
            case Generator(neutral_earth_bond=None):
                place = key
            case Inverter(neutral_earth_bond=None):
                place = f"{key}/ac"
            case IsolationTransformer(neutral_earth_bond=None):
                place = f"{key}/secondary"
            case InverterCharger(neutral_earth_relay=None) if combination[key] == "inverting":
                place = f"{key}/ac-out"
        if (place, "N") in network.index:
            found[network.index[place, "N"], network.index[place, "PE"]] = False
    for link in network.links:
        ends = {network.terminals[end].pole: end for end in (link.a, link.b)}
        if ends.keys() == {"N", "PE"} and holds(link.guards, combination):
            found[ends["N"], ends["PE"]] = True
    return found


def neutral_graph(network: Network, combination: dict[str, str]) -> Any:
    """What neutral conductors join in a combination."""
    graph: Any = nx.Graph()
    graph.add_nodes_from(range(len(network.terminals)))
    for link in network.links:
        ends = {network.terminals[link.a].pole, network.terminals[link.b].pole}
        if ends == {"N"} and holds(link.guards, combination):
            graph.add_edge(link.a, link.b)
    return graph


def small(vessel: Vessel) -> Network:
    """The network of a vessel with few enough combinations."""
    network = compile_network(vessel)
    assume(is_small(network))
    return network


@quick
@given(some_vessels)
def test_joints_too_many_are_brute_force(vessel: Vessel) -> None:
    network = small(vessel)
    boat = Boat(vessel, Places())
    on_case = {(bond.neutral, bond.earth) for bond in neutrals(boat).bonds if bond.on_case}
    expected: set[tuple[str, frozenset[Joint]]] = set()
    for combination in every(vessel, network):
        graph = neutral_graph(network, combination)
        made = joints(vessel, network, combination).keys() - on_case
        for emission in network.emissions:
            if emission.pole == "N" and holds(emission.guards, combination):
                part = nx.node_connected_component(graph, emission.terminal)
                here = [joint for joint in made if joint[0] in part]
                if emission.supply == "shore":
                    expected |= {(emission.source, frozenset((joint,))) for joint in here}
                else:
                    expected |= {(emission.source, frozenset((one, two))) for one in here for two in here if one < two}
    told = {
        (each.emission.source, frozenset((met.bond.neutral, met.bond.earth) for met in each.met))
        for each in surplus(boat)
    }
    assert told == expected


@quick
@given(some_vessels)
def test_sources_without_a_joint_are_brute_force(vessel: Vessel) -> None:
    network = small(vessel)
    boat = Boat(vessel, Places())
    on_case = {(bond.neutral, bond.earth) for bond in neutrals(boat).bonds if bond.on_case}
    loads = {network.index[key, pole] for key in vessel.loads for pole in LINES if (key, pole) in network.index}
    expected: dict[bool, set[str]] = {True: set(), False: set()}
    for combination in every(vessel, network):
        graph = neutral_graph(network, combination)
        made = {j: sure for j, sure in joints(vessel, network, combination).items() if j not in on_case}
        fed = {
            source
            for (source, start), reached in live(network, combination).items()
            if network.terminals[start].pole in LINES and not reached.isdisjoint(loads)
        }
        for emission in network.emissions:
            if emission.pole == "N" and emission.supply != "shore" and emission.source in fed:
                part = nx.node_connected_component(graph, emission.terminal)
                here = [sure for joint, sure in made.items() if joint[0] in part]
                if not any(here):
                    expected[True].add(emission.source)
                if not here:
                    expected[False].add(emission.source)
    facts = neutrals(boat)
    for certain, sources in expected.items():
        told = {
            each.source
            for each in facts.emissions
            if each.supply not in ("shore", "primary") and unearthed(boat, each, certain=certain) is not None
        }
        assert told == sources


@quick
@given(some_vessels)
def test_every_witness_holds_where_it_says(vessel: Vessel) -> None:
    """In any combination that a finding's positions allow, the joints that it names are made."""
    network = small(vessel)
    boat = Boat(vessel, Places())
    facts = neutrals(boat)

    def stands(combination: dict[str, str], needs: Needs) -> bool:
        return all(combination[choice] in states for choice, states in needs)

    for each in surplus(boat):
        allowed = [c for c in every(vessel, network) if stands(c, each.needs)]
        assert allowed
        for combination in allowed[:4]:
            graph = neutral_graph(network, combination)
            made = joints(vessel, network, combination)
            for met in each.met:
                assert (met.bond.neutral, met.bond.earth) in made
                assert nx.has_path(graph, each.emission.terminal, met.bond.neutral)
                way = facts.way(met.arrival, met.bond.neutral)
                assert way.start == each.emission.terminal
                for step in way.steps:
                    link = network.links[step.link]
                    assert {step.start, step.end} == {link.a, link.b}
                assert not way.steps or way.steps[-1].end == met.bond.neutral
