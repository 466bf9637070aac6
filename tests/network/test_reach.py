"""Potentials against brute force: every combination of positions, each with its own graph."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import networkx as nx
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.graph import LINES, Network
from vesselspec.network.mismatch import misfit
from vesselspec.network.reach import MOST_WAYS, Arrival, Reach, reach
from vesselspec.network.zones import is_between, zones_of
from vesselspec.record import Places
from vesselspec.rules import RULES, Boat, survey
from vesselspec.rules.book import Says
from vesselspec.rules.potentials import meetings

from .vessels import combinations, holds, in_step, is_small, switched, vessel_of, vessels

some_vessels = st.one_of(vessels(), switched())

#: A source and the terminal that it puts a potential on.
Source = tuple[str, int]


def conducting(network: Network, combination: dict[str, str]) -> Any:
    """What conducts in a combination, every free breaker closed."""
    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(network.terminals)))
    for link in network.links:
        if holds(link.guards, combination):
            graph.add_edge(link.a, link.b)
            if not link.one_way:
                graph.add_edge(link.b, link.a)
    return graph


def live(network: Network, combination: dict[str, str]) -> dict[Source, frozenset[int]]:
    """Every terminal that each active source reaches in a combination, transformers fed backwards included."""
    graph = conducting(network, combination)

    @cache
    def spread(terminal: int) -> frozenset[int]:
        return frozenset(nx.descendants(graph, terminal)) | {terminal}

    found: dict[Source, frozenset[int]] = {
        (e.source, e.terminal): spread(e.terminal) for e in network.emissions if holds(e.guards, combination)
    }
    while True:
        back: dict[Source, frozenset[int]] = {}
        for key, (primary, secondary) in network.transformers.items():
            fed = any(
                network.terminals[start].pole in LINES and source != key and not reached.isdisjoint(secondary)
                for (source, start), reached in found.items()
            )
            back |= {(key, terminal): spread(terminal) for terminal in primary if fed}
        if back.keys() <= found.keys():
            return found
        found |= back


def every(vessel: Vessel, network: Network) -> Iterator[dict[Source, frozenset[int]]]:
    """What is live in each combination in which units that run in step stand in one state."""
    for combination in combinations(network):
        if in_step(vessel, combination):
            yield live(network, combination)


quick = settings(
    deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


def solved(vessel: Vessel) -> Reach:
    """The search over a vessel small enough to try everything."""
    network = compile_network(vessel)
    assume(is_small(network))
    return reach(zones_of(network))


@quick
@given(some_vessels)
def test_reach_is_brute_force(vessel: Vessel) -> None:
    found = solved(vessel)
    network = found.network
    expected: set[tuple[str, int, int]] = set()
    for each in every(vessel, network):
        expected |= {(source, start, terminal) for (source, start), reached in each.items() for terminal in reached}
    told = {
        (arrival.emission.source, arrival.emission.terminal, terminal)
        for terminal in range(len(network.terminals))
        for arrival in found.at(terminal)
    }
    assert not found.incomplete
    assert told == expected


@quick
@given(some_vessels)
def test_meetings_and_inlets_are_brute_force(vessel: Vessel) -> None:
    found = solved(vessel)
    network = found.network
    group = {e.source: e.group for e in network.emissions if e.pole in LINES}
    line = {number: terminal.pole in LINES for number, terminal in enumerate(network.terminals)}
    own = [(e.source, e.terminal) for e in network.emissions if e.pole in LINES]
    pairs: set[tuple[str, str]] = set()
    pins: dict[str, set[str]] = {}
    for each in every(vessel, network):
        for at in own:
            if at not in each:
                continue
            source, terminal = at
            for (other, start), reached in each.items():
                if line[start] and other != source and terminal in reached:
                    if group[other] != group[source]:
                        pairs.add((min(group[other], group[source]), max(group[other], group[source])))
                    if source.startswith("shore"):
                        pins.setdefault(source, set()).add(other)
    boat = Boat(vessel, Places())
    assert set(meetings(boat.reach)) == pairs
    said = [each for each in RULES["inlet-pins-live"].judge(boat) if isinstance(each, Says)]
    assert {each.items[0]: set(each.arguments) for each in said} == pins


def verify(found: Reach, arrival: Arrival, terminal: int) -> None:
    """A witness must be a way that one can walk, in the positions that it names."""
    network = found.network
    way = found.witness(arrival, terminal)
    needs = dict(way.needs)
    roots = [e for e in network.emissions if e.terminal == way.start]
    assert any(all(needs.get(c, frozenset("?")) <= states for c, states in e.guards) for e in roots)
    assert all(needs[choice] <= set(network.choices[choice].states) and needs[choice] for choice in needs)
    at = way.start
    for step in way.steps:
        assert step.start == at
        at = step.end
        if step.link < 0:  # backwards through a transformer, from its secondary to its primary
            assert any(step.start in second and step.end in first for first, second in network.transformers.values())
            continue
        link = network.links[step.link]
        assert (step.start, step.end) in ([(link.a, link.b)] if link.one_way else [(link.a, link.b), (link.b, link.a)])
        assert all(needs[choice] <= states for choice, states in link.guards)
    assert at == terminal
    if all(step.link >= 0 for step in way.steps):
        assert len({way.start, *(step.end for step in way.steps)}) == 1 + len(way.steps), "no terminal twice"


@quick
@given(vessels())
def test_every_witness_can_be_walked(vessel: Vessel) -> None:
    found = solved(vessel)
    for terminal in range(len(found.network.terminals)):
        for arrival in found.at(terminal):
            verify(found, arrival, terminal)


@quick
@given(vessels())
def test_what_is_astray_is_told_and_nothing_else(vessel: Vessel) -> None:
    """A potential on a terminal that is not meant for it has crossed somewhere, and that place is named."""
    found = solved(vessel)
    network = found.network
    boat = Boat(vessel, Places())
    volts = {key: system.voltage.line_v for key, system in vessel.systems.items()}
    astray = {
        arrival.emission.source
        for number, terminal in enumerate(network.terminals)
        for arrival in found.at(number)
        if arrival.emission.pole in (*LINES, "DC+")
        and misfit(arrival.emission, terminal, volts.get(terminal.system or "", 0.0), single_line=True) is not None
    }
    told = {source for each in boat.mismatches for source in each.sources}
    assert astray <= told
    for each in boat.mismatches:
        step = each.witness.steps[-1]
        link = network.links[step.link]
        assert link.item == each.item
        assert network.terminals[step.start] != network.terminals[step.end]


def exploding(stages: int) -> Vessel:
    """Stages in a row, each with two selectors side by side: every stage doubles the ways."""
    devices: dict[str, Any] = {"shore": {"kind": "shore-inlet", "system": "ac-1"}}
    cables: dict[str, Any] = {}
    before = "shore"
    for stage in range(stages):
        here = f"box-{stage}"
        devices[here] = {"kind": "junction", "system": "ac-1"}
        for side in ("a", "b"):
            name = f"selector-{stage}-{side}"
            devices[name] = {"kind": "selector", "system": "ac-1", "inputs": ["in"]}
            cables[f"{name}-in"] = {"from": before, "to": f"{name}/in", "cores": {"black": "L1"}}
            cables[f"{name}-out"] = {"from": f"{name}/out", "to": here, "cores": {"black": "L1"}}
        before = here
    return vessel_of(devices=devices, cables=cables)


def test_what_explodes_is_told_as_incomplete_and_bounded() -> None:
    boat = Boat(exploding(14), Places())
    result = survey(boat)
    assert boat.reach.incomplete
    assert max(len(arrivals) for arrivals in boat.reach.arrivals.values()) <= 2 * MOST_WAYS
    assert [finding.signal_word for finding in result.findings if finding.rule == "search-incomplete"]


def test_what_just_fits_is_complete() -> None:
    boat = Boat(exploding(6), Places())
    assert not boat.reach.incomplete
    assert not any(isinstance(each, Says) for each in RULES["search-incomplete"].judge(boat))


@quick
@given(vessels())
def test_zones_are_what_free_links_join(vessel: Vessel) -> None:
    network = compile_network(vessel)
    graph: Any = nx.Graph()
    graph.add_nodes_from(range(len(network.terminals)))
    graph.add_edges_from((link.a, link.b) for link in network.links if not link.guards and not link.one_way)
    zones = zones_of(network)
    assert {frozenset(zone) for zone in zones.members} == {frozenset(c) for c in nx.connected_components(graph)}
    assert set(zones.between) == {number for number, link in enumerate(network.links) if is_between(link)}
    for terminal, zone in enumerate(zones.of):
        assert terminal in zones.members[zone]
