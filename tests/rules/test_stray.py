"""What stays live with a section's main open, against every combination of positions."""

from __future__ import annotations

from typing import Any

import networkx as nx
from hypothesis import assume, given

from tests.network.test_reach import quick
from tests.network.vessels import combinations, holds, is_small, vessels
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, Emission, Network
from vesselspec.record.places import Places
from vesselspec.rules.boat import Boat
from vesselspec.rules.stray import past_mains

LIVE = (*LINES, "DC+")


def stays_live(network: Network, bars: list[int], mains: frozenset[str]) -> bool:
    """Whether any permitted combination leaves a bar live without those ways."""
    return any(
        emission.pole in LIVE and holds(emission.guards, combination) and not reached.isdisjoint(bars)
        for combination in combinations(network)
        for graph in [conducting(network, mains, combination)]
        for emission in network.emissions
        for reached in [everywhere(network, graph, emission)]
    )


def conducting(network: Network, mains: frozenset[str], combination: dict[str, str]) -> Any:
    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(network.terminals)))
    for link in network.links:
        if link.item not in mains and holds(link.guards, combination):
            graph.add_edge(link.a, link.b)
            if not link.one_way:
                graph.add_edge(link.b, link.a)
    return graph


def everywhere(network: Network, graph: Any, emission: Emission) -> set[int]:
    """Where an emission comes to, backwards through transformers too, though not through the one that it is of."""
    found: set[int] = set()
    queue = [(emission.terminal, emission.source)]
    seen = set(queue)
    while queue:
        start, source = queue.pop()
        here = {start, *nx.descendants(graph, start)}
        found |= here
        for key, (primary, secondary) in network.transformers.items():
            if emission.pole in LINES and key != source and not here.isdisjoint(secondary):
                further = {(terminal, key) for terminal in primary} - seen
                seen |= further
                queue += further
    return found


@quick
@given(vessels())
def test_a_section_stays_live_exactly_where_some_combination_makes_it_so(vessel: Vessel) -> None:
    boat = Boat(vessel, Places({}))
    network = boat.network
    assume(is_small(network))
    for path, (_, section) in vessel.sections.items():
        mains = frozenset((f"{path}/{section.ways[0].id}",))
        bars = [n for n in network.places.get(path, ()) if network.terminals[n].pole in LIVE]
        told = past_mains(boat, path, mains)
        assert (told is not None) == stays_live(network, bars, mains)
        if told is not None:
            assert not mains & {network.links[step.link].item for step in told.witness.steps if step.link >= 0}
