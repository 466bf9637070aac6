"""What feeds every segment, against every simple way in every combination of positions."""

from __future__ import annotations

from typing import Any

import networkx as nx
from hypothesis import assume, given

from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.feeds import Feed, feeds_of
from vesselspec.network.graph import LINES, Network

from .test_reach import quick
from .vessels import Raw, combinations, holds, is_small, vessel_of, vessels

LIVE = (*LINES, "DC+")
#: More simple ways than this in one combination are left to the next vessel.
MOST_PATHS = 3000


def segments(network: Network) -> tuple[int, ...]:
    """What neither an overcurrent device nor an exclusive contact nor a diode divides."""
    graph: Any = nx.Graph()
    graph.add_nodes_from(range(len(network.terminals)))
    graph.add_edges_from((k.a, k.b) for k in network.links if not (k.protective or k.guards or k.one_way))
    number = {t: n for n, part in enumerate(nx.connected_components(graph)) for t in part}
    return tuple(number[t] for t in range(len(network.terminals)))


#: The library's own types forget that the edges of a multigraph have keys.
paths_of: Any = nx.all_simple_edge_paths


def feeds(network: Network, segment: tuple[int, ...]) -> set[tuple[int, Feed]] | None:
    """The last device on every simple way from every active source to every segment; None if there are too many."""
    found: set[tuple[int, Feed]] = set()
    for combination in combinations(network):
        graph: Any = nx.MultiDiGraph()
        graph.add_nodes_from(segment)
        for number, link in enumerate(network.links):
            divides = link.protective or link.guards or link.one_way
            if divides and network.terminals[link.a].pole in LIVE and holds(link.guards, combination):
                graph.add_edge(segment[link.a], segment[link.b], key=number)
                if not link.one_way:
                    graph.add_edge(segment[link.b], segment[link.a], key=number)
        paths = 0
        for emission in network.emissions:
            if emission.pole not in LIVE or not holds(emission.guards, combination):
                continue
            start = segment[emission.terminal]
            found.add((start, Feed(emission, None)))
            for goal in nx.descendants(graph, start):
                for path in paths_of(graph, start, goal):
                    devices = [network.links[n].item for _, _, n in path if network.links[n].protective]
                    found.add((goal, Feed(emission, devices[-1] if devices else None)))
                    paths += 1
                    if paths > MOST_PATHS:
                        return None
    return found


def check(network: Network) -> bool:
    """Compare both answers, terminal by terminal. False where there are too many ways to try."""
    segment = segments(network)
    told = feeds_of(network)
    every = feeds(network, segment)
    if every is None:
        return False
    expected: dict[int, set[Feed]] = {}
    for number, feed in every:
        expected.setdefault(number, set()).add(feed)
    for terminal in range(len(network.terminals)):
        assert set(told.at(terminal)) == expected.get(segment[terminal], set()), network.terminals[terminal].name
    return True


@quick
@given(vessels())
def test_feeds_are_brute_force(vessel: Vessel) -> None:
    network = compile_network(vessel)
    assume(is_small(network) and check(network))


def ladder(devices: dict[str, Any], *cables: tuple[str, str]) -> Network:
    """A 12 V network of red cores."""
    entries: Raw = {f"C{n}": {"from": a, "to": b, "cores": {"red": "DC+"}} for n, (a, b) in enumerate(cables, start=1)}
    return compile_network(vessel_of(devices=devices, cables=entries))


BANK = {"kind": "battery-bank", "system": "dc"}
BAR = {"kind": "busbar", "system": "dc"}
FUSE = {"kind": "fuse", "system": "dc"}


def devices_at(network: Network, place: str) -> set[str | None]:
    """The devices behind the positive of a place."""
    return {feed.device for feed in feeds_of(network).at(network.index[place, "DC+"])}


def test_the_last_fuse_counts_not_the_first() -> None:
    network = ladder(
        {"bank": BANK, "f1": FUSE, "f2": FUSE, "bar": BAR, "end": BAR},
        ("bank", "f1/line"),
        ("f1/load", "bar"),
        ("bar", "f2/line"),
        ("f2/load", "end"),
    )
    assert devices_at(network, "bank") == {None}
    assert devices_at(network, "bar") == {"f1"}
    assert devices_at(network, "end") == {"f2"}
    assert check(network)


def test_a_ring_is_fed_from_both_sides() -> None:
    network = ladder(
        {"bank": BANK, "f1": FUSE, "f2": FUSE, "f3": FUSE, "a": BAR, "b": BAR},
        ("bank", "f1/line"),
        ("bank", "f2/line"),
        ("f1/load", "a"),
        ("f2/load", "b"),
        ("a", "f3/line"),
        ("f3/load", "b"),
    )
    assert devices_at(network, "a") == {"f1", "f3"}
    assert devices_at(network, "b") == {"f2", "f3"}
    assert devices_at(network, "bank") == {None}
    assert check(network)


def test_two_fuses_side_by_side_both_count_beyond_a_selector() -> None:
    selector = {"kind": "selector", "system": "dc", "inputs": ["in"]}
    network = ladder(
        {"bank": BANK, "f1": FUSE, "f2": FUSE, "a": BAR, "selector": selector, "b": BAR},
        ("bank", "f1/line"),
        ("bank", "f2/line"),
        ("f1/load", "a"),
        ("f2/load", "a"),
        ("a", "selector/in"),
        ("selector/out", "b"),
    )
    assert devices_at(network, "b") == {"f1", "f2"}
    assert check(network)


def test_a_residual_current_switch_and_a_switch_protect_nothing() -> None:
    network = ladder(
        {
            "bank": BANK,
            "switch": {"kind": "switch", "system": "dc"},
            "residual": {"kind": "residual-current-switch", "system": "dc"},
            "bar": BAR,
        },
        ("bank", "switch/line"),
        ("switch/load", "residual/line"),
        ("residual/load", "bar"),
    )
    assert devices_at(network, "bar") == {None}
    assert check(network)


def test_diodes_pass_a_charge_and_hold_a_battery_back() -> None:
    network = ladder(
        {
            "alternator": {"kind": "alternator", "system": "dc"},
            "splitter": {"kind": "charge-splitter", "system": "dc", "outputs": ["a", "b"]},
            "bank": BANK,
            "start": BANK,
        },
        ("alternator", "splitter/in"),
        ("splitter/a", "bank"),
        ("splitter/b", "start"),
    )
    sources = {
        place: {feed.emission.source for feed in feeds_of(network).at(network.index[place, "DC+"])}
        for place in ("bank", "start", "alternator")
    }
    assert sources == {"bank": {"bank", "alternator"}, "start": {"start", "alternator"}, "alternator": {"alternator"}}
    assert check(network)


def test_a_way_round_is_not_lost_behind_a_shorter_one() -> None:
    """Two ways without a fuse come to one bar; only the one that does not pass A can come back to A by the fuse."""
    diodes = {"kind": "charge-splitter", "system": "dc", "outputs": ["out"]}
    network = ladder(
        {
            "bank": BANK,
            "to-a": diodes,
            "to-b": diodes,
            "a-x": diodes,
            "b-x": diodes,
            "fuse": FUSE,
            "a": BAR,
            "b": BAR,
            "x": BAR,
        },
        ("bank", "to-a/in"),
        ("bank", "to-b/in"),
        ("to-a/out", "a"),
        ("to-b/out", "b"),
        ("a", "a-x/in"),
        ("b", "b-x/in"),
        ("a-x/out", "x"),
        ("b-x/out", "x"),
        ("x", "fuse/line"),
        ("fuse/load", "a"),
    )
    assert devices_at(network, "a") == {None, "fuse"}
    assert check(network)
