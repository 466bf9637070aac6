"""Tracing against brute force with networkx on the raw terminals of random boats."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import networkx as nx
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from networkx.algorithms.flow import edmonds_karp

from tests.isolation.test_proof import FED_BY
from tests.network.test_reach import conducting, every
from tests.network.vessels import combinations, holds, is_small
from tests.network.vessels import vessels as boats
from vesselspec.isolation.energy import HOT
from vesselspec.model.forms import build
from vesselspec.model.items import Condition, Space
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Link, Network, Terminal
from vesselspec.network.state import State, resolve
from vesselspec.record import Places
from vesselspec.rules import Boat
from vesselspec.tracing import (
    NothingToOpenError,
    Subject,
    any_position,
    between,
    down_from,
    find_subject,
    in_condition,
    lost_by,
    up_from,
)
from vesselspec.tracing.blocks import beyond

#: A flow is sought for each point of a subject and each end: more of them than this take minutes.
MOST_POINTS = 6
quick = settings(deadline=None, max_examples=60, suppress_health_check=list(HealthCheck))
slow = settings(quick, max_examples=20)


@st.composite
def vessels(draw: st.DrawFn) -> Vessel:
    """A random boat with one space, in which anything may be, and through which any cable may pass."""
    vessel = draw(boats())

    def some(items: Mapping[str, Any], **fields: Any) -> dict[str, Any]:
        chosen = draw(st.sets(st.sampled_from(list(items)), max_size=2)) if items else set()
        return {key: replace(item, **fields) if key in chosen else item for key, item in items.items()}

    return replace(
        vessel,
        spaces={"hold": build(Space, {}, id="hold")},
        devices=some(vessel.devices, space="hold"),
        panels=some(vessel.panels, space="hold"),
        loads=some(vessel.loads, space="hold"),
        cables=some(vessel.cables, route=("hold",)),
    )


def owned(vessel: Vessel, subject: Subject) -> Callable[[str], bool]:
    """Whether a device, way or cable is the subject or, of a space, is in it, ends in it or passes it."""
    if subject.kind != "space":
        return lambda item: item == subject.item
    things: dict[str, Any] = {**vessel.devices, **vessel.panels, **vessel.loads}
    inside = {key for key, thing in things.items() if thing.space == subject.item}

    network = Boat(vessel, Places()).network
    passing = set()
    for key, cable in vessel.cables.items():
        links = [network.links[run.link] for run in network.runs.get(key, ()) if run.link >= 0]
        ends = [network.terminals[t].place for link in links for t in (link.a, link.b)]
        landed = any(end.split("/", 1)[0] in inside for end in (cable.from_, cable.to, *ends))
        if landed or subject.item in cable.route:
            passing.add(key)
    return lambda item: item in passing or item.split("/", 1)[0] in inside


def drawn_subject(boat: Boat, data: st.DataObject) -> Subject:
    vessel = boat.vessel
    names = [*vessel.devices, *vessel.loads, *vessel.panels, *vessel.sections, *vessel.ways, *vessel.cables]
    names += ["hold"] * (len(names) // 3 + 1)
    subject = find_subject(boat, data.draw(st.sampled_from(names)))
    assert isinstance(subject, Subject)
    return subject


@st.composite
def with_condition(draw: st.DrawFn) -> Vessel:
    """A random boat in a random condition called `now`."""
    vessel = draw(vessels())
    network = Boat(vessel, Places()).network
    assume(is_small(network))
    stands = {key: draw(st.sampled_from(choice.states)) for key, choice in network.choices.items()}
    switches = dict.fromkeys(link.switch for link in network.links if link.switch)
    stands |= {key: draw(st.sampled_from(["open", "closed", "closed"])) for key in switches}
    for key, device in vessel.devices.items():
        if device.kind == "inverter-charger":
            stands.pop(key, None)  # its relay follows what is live
    running = [key for key in vessel.devices if draw(st.booleans())]
    condition = build(Condition, {"running": running, "positions": stands, "demand": {}}, id="now")
    return replace(vessel, conditions={"now": condition})


# --- up -------------------------------------------------------------------------------------------


@quick
@given(vessels(), st.data())
def test_up_names_exactly_the_sources_that_reach(vessel: Vessel, data: st.DataObject) -> None:
    boat = Boat(vessel, Places())
    network = boat.network
    assume(is_small(network))
    subject = drawn_subject(boat, data)
    up = up_from(any_position(boat), subject.terminals)
    assert up.complete
    poles = [terminal.pole for terminal in network.terminals]
    at = {t for t in subject.terminals if not network.terminals[t].loose}
    reaching: dict[tuple[str, int], set[int]] = {}
    for found in every(vessel, network):
        for source, reached in found.items():
            reaching.setdefault(source, set()).update(reached & at)
    hot = {(*key, poles[t]) for key, reached in reaching.items() for t in reached if poles[key[1]] in HOT}
    assert {(*feed.output, poles[feed.terminal]) for feed in up.hot} == hot
    returns = {
        (key[0], poles[key[1]])
        for key, reached in reaching.items()
        if poles[key[1]] in ("N", "DC-") and any(poles[t] != "PE" for t in reached)
    }
    apart = {(feed.emission.source, feed.emission.pole) for feed in up.back}
    assert apart | set(up.through_earth) == returns
    assert not apart & set(up.through_earth)
    for feed in (*up.hot, *up.back):
        assert feed.witness.start == feed.emission.terminal or feed.emission.supply == "transformer"
        assert [step.end for step in feed.witness.steps][-1:] in ([], [feed.terminal])


def closed(vessel: Vessel, network: Network, condition: Condition, state: State) -> Any:
    """What conducts in a condition."""
    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(network.terminals)))
    said = dict(condition.positions)
    for link in network.links:
        stands = all(state.positions[choice] in states for choice, states in link.guards)
        if stands and (link.switch is None or said.get(link.switch) != "open"):
            graph.add_edge(link.a, link.b)
            if not link.one_way:
                graph.add_edge(link.b, link.a)
    return graph


def is_combi(vessel: Vessel, source: str) -> bool:
    return vessel.devices[source].kind == "inverter-charger"


def is_idle(vessel: Vessel, state: State, source: str, supply: str) -> bool:
    return is_combi(vessel, source) and supply == "charging" and state.positions[source] != "pass-through"


@quick
@given(with_condition(), st.data())
def test_up_in_a_condition_names_what_runs_and_reaches(vessel: Vessel, data: st.DataObject) -> None:
    assume(not any(device.kind == "isolation-transformer" for device in vessel.devices.values()))
    boat = Boat(vessel, Places())
    network, condition = boat.network, vessel.conditions["now"]
    state = boat.states["now"]
    subject = drawn_subject(boat, data)
    graph = closed(vessel, network, condition, state)
    expected = set()
    for e in network.emissions:
        on = e.supply == "battery" or e.source in condition.running
        on = on and all(state.positions[choice] in states for choice, states in e.guards)
        if on and e.pole in HOT and not is_idle(vessel, state, e.source, e.supply):
            reached = {e.terminal, *nx.descendants(graph, e.terminal)}
            at = (t for t in subject.terminals if t in reached and not network.terminals[t].loose)
            expected |= {(e.source, e.terminal, network.terminals[t].pole) for t in at}
    up = up_from(in_condition(boat, "now"), subject.terminals)
    assert {(*feed.output, network.terminals[feed.terminal].pole) for feed in up.hot} == expected
    assert all(not feed.chain.needs for feed in up.hot)


# --- down -----------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=11), st.data())
@settings(deadline=None, max_examples=150)
def test_beyond_is_on_a_way_without_a_repeated_terminal(pairs: list[tuple[int, int]], data: st.DataObject) -> None:
    sources = data.draw(st.sets(st.integers(0, 6), max_size=2))
    items = data.draw(st.sets(st.integers(0, 6), min_size=1, max_size=2))
    terminals = tuple(Terminal(f"t{number}", "DC+", None) for number in range(7))
    links = tuple(Link(a, b, "core", "C") for a, b in pairs)
    network = Network(terminals, links, (), {}, (), (), {}, {})
    graph = nx.Graph([(a, b) for a, b in pairs if a != b])
    graph.add_nodes_from(range(8))
    graph.add_edges_from((7, source) for source in sources)
    expected = {t for t in range(7) if any(items & set(way) for way in nx.all_simple_paths(graph, 7, t))}
    assert beyond(network, sources, items) == expected


def passes(graph: Any, root: int, item: int, end: int) -> bool:
    """Whether a way from root to end without a repeated terminal passes an item: two ways out of it that share none."""
    if item == end:
        return bool(nx.has_path(graph, root, end))
    split: Any = nx.DiGraph()
    for node in graph:
        split.add_edge((node, "in"), (node, "out"), capacity=2 if node == item else 1)
    for a, b in graph.edges:
        split.add_edge((a, "out"), (b, "in"), capacity=1)
        split.add_edge((b, "out"), (a, "in"), capacity=1)
    for node in (root, end):
        split.add_edge((node, "out"), "sink", capacity=1)
    return bool(nx.maximum_flow_value(split, (item, "out"), "sink", flow_func=edmonds_karp, cutoff=2) == 2)


def can_conduct(combination: dict[str, str], link: Link) -> bool:
    return holds(link.guards, combination)


def unearthed(
    network: Network,
    conducts: Callable[[Link], bool],
    hot: Iterable[int],
    subject: Subject,
    mine: Callable[[str], bool],
) -> tuple[Any, int, list[Any]]:
    """The working conductors, one point that stands for every source, and the points that stand for the subject.

    A cable or contact has a point of its own in its middle: what only lands on the same terminal is not fed by it.
    """
    emits = any(e.source == subject.item for e in network.emissions)
    kinds = ("core",) if subject.kind == "space" else ("core", "contact")
    own = [k for k in network.links if mine(k.item) and k.kind in kinds and not emits]
    points: list[Any] = [] if own else [t for t in subject.terminals if network.terminals[t].pole != "PE"]
    if subject.kind == "space":  # a loose end bears its cable's name
        points = [n for n, t in enumerate(network.terminals) if t.pole != "PE" and not t.loose and mine(t.place)]
    graph: Any = nx.Graph()
    root = len(network.terminals)
    graph.add_nodes_from(range(root + 1))
    for link in network.links:
        if "PE" not in (network.terminals[link.a].pole, network.terminals[link.b].pole) and conducts(link):
            if any(link is each for each in own):
                middle = ("link", len(points))
                points.append(middle)
                graph.add_edges_from([(link.a, middle), (middle, link.b)])
            else:
                graph.add_edge(link.a, link.b)
    graph.add_edges_from((root, terminal) for terminal in hot)
    return graph, root, points


@slow
@given(vessels(), st.data())
def test_down_misses_no_load_in_any_combination(vessel: Vessel, data: st.DataObject) -> None:
    boat = Boat(vessel, Places())
    network = boat.network
    assume(is_small(network) and not any(link.one_way for link in network.links))
    subject = drawn_subject(boat, data)
    down = down_from(any_position(boat), subject)
    assume(down.fed)
    told = {drain.terminal for drain in down.drains}
    mine = owned(vessel, subject)
    ends = [t for key in vessel.loads if key != subject.item for t in network.within(key)]
    for combination in combinations(network):
        hot = [e.terminal for e in network.emissions if e.pole in HOT and holds(e.guards, combination)]
        graph, root, at = unearthed(network, partial(can_conduct, combination), hot, subject, mine)
        at = at[:MOST_POINTS]
        for end in ends:
            if network.terminals[end].pole != "PE" and end not in told:
                missed = any(passes(graph, root, item, end) for item in at)
                assert not missed, (subject, network.terminals[end], combination)


@slow
@given(with_condition(), st.data())
def test_down_in_a_condition_is_exact(vessel: Vessel, data: st.DataObject) -> None:
    assume(not any(device.kind == "isolation-transformer" for device in vessel.devices.values()))
    boat = Boat(vessel, Places())
    network, condition, state = boat.network, vessel.conditions["now"], boat.states["now"]
    assume(not any(link.one_way for link in network.links))
    subject = drawn_subject(boat, data)
    wiring = in_condition(boat, "now")
    down = down_from(wiring, subject)
    assume(down.fed)
    hot = [e.terminal for e in wiring.network.emissions if e.pole in HOT]
    said = dict(condition.positions)
    mine = owned(vessel, subject)

    def conducts(link: Link) -> bool:
        stands = all(state.positions[choice] in states for choice, states in link.guards)
        return stands and (link.switch is None or said.get(link.switch) != "open")

    graph, root, at = unearthed(network, conducts, hot, subject, mine)
    assume(len(at) <= MOST_POINTS)
    ends = [t for key in vessel.loads if key != subject.item for t in network.within(key)]
    expected = {
        end for end in ends if network.terminals[end].pole != "PE" and any(passes(graph, root, i, end) for i in at)
    }
    assert {drain.terminal for drain in down.drains if drain.kind == "load"} == expected
    for drain in down.drains:
        assert drain.chain.start in subject.terminals
        assert drain.chain.end == drain.terminal


# --- opened ---------------------------------------------------------------------------------------


def plain(vessel: Vessel) -> bool:
    """Whether nothing but conductors carries a potential on: no winding lifts one pole to the other's."""
    return not any(device.kind == "isolation-transformer" for device in vessel.devices.values())


def is_live(graphs: list[tuple[Any, set[int]]], network: Network, on: set[tuple[str, int]]) -> set[int]:
    """Terminals with a line or positive in any of the graphs, each with the terminals that emit in it."""
    found: set[int] = set()
    for graph, emitting in graphs:
        for _, terminal in on:
            if terminal in emitting and network.terminals[terminal].pole in HOT:
                found |= {terminal, *nx.descendants(graph, terminal)}
    return found


def fed(
    vessel: Vessel, network: Network, graphs: list[tuple[Any, set[int]]], kept: set[tuple[str, int]]
) -> tuple[set[int], set[tuple[str, int]], set[tuple[str, int]]]:
    """What is live with the converters that something feeds, those converters' outputs, and the other outputs."""
    emitting = {terminal for _, each in graphs for terminal in each}
    converters: dict[tuple[str, int], list[int]] = {}
    on: set[tuple[str, int]] = set()
    for e in network.emissions:
        if e.terminal not in emitting:
            continue
        side = network.terminals[e.terminal].place.partition("/")[2]
        feeder = FED_BY.get(vessel.devices[e.source].kind, {}).get(side)
        if feeder is None:
            on.add((e.source, e.terminal))
        else:
            at = network.places.get(f"{e.source}/{feeder}", ())
            converters[e.source, e.terminal] = [t for t in at if network.terminals[t].pole != "PE"]
    on |= kept & converters.keys()
    while True:
        live = is_live(graphs, network, on)
        more = {key for key, at in converters.items() if key not in on and live & set(at)}
        if not more:
            return live, on & converters.keys(), converters.keys() - on
        on |= more


def without(network: Network, owns: Callable[[str], bool]) -> Network:
    links = tuple(
        replace(link, b=link.a) if link.kind in ("contact", "core") and owns(link.item) else link
        for link in network.links
    )
    return replace(network, links=links, emissions=tuple(e for e in network.emissions if not owns(e.source)))


@quick
@given(vessels(), st.data())
def test_open_loses_exactly_what_no_combination_leaves_live(vessel: Vessel, data: st.DataObject) -> None:
    assume(plain(vessel))
    vessel = replace(vessel, loads={})
    boat = Boat(vessel, Places())
    assume(is_small(boat.network))
    subject = drawn_subject(boat, data)
    try:
        lost = lost_by(boat, subject)
    except NothingToOpenError:
        return

    def graphs(network: Network) -> list[tuple[Any, set[int]]]:
        return [
            (conducting(network, c), {e.terminal for e in network.emissions if holds(e.guards, c)})
            for c in combinations(network)
        ]

    before, cut = boat.network, without(boat.network, owned(vessel, subject))
    _, _, unfed = fed(vessel, before, graphs(before), set())
    was, _, _ = fed(vessel, before, graphs(before), unfed)
    now, _, _ = fed(vessel, cut, graphs(cut), unfed)
    assert lost.terminals == was - now


@quick
@given(with_condition(), st.data())
def test_open_in_a_condition_loses_exactly_what_is_left_without_a_supply(vessel: Vessel, data: st.DataObject) -> None:
    assume(plain(vessel))
    vessel = replace(vessel, loads={})
    boat = Boat(vessel, Places())
    subject = drawn_subject(boat, data)
    try:
        lost = lost_by(boat, subject, "now")
    except NothingToOpenError:
        return
    condition = vessel.conditions["now"]

    def solved(network: Network, running: tuple[str, ...], kept: set[tuple[str, int]]) -> Any:
        settled = replace(condition, running=running)
        state = resolve(vessel, network, settled)
        on = {
            e.terminal
            for e in network.emissions
            if (e.supply == "battery" or e.source in running)
            and all(state.positions[choice] in states for choice, states in e.guards)
            and not is_idle(vessel, state, e.source, e.supply)
        }
        return fed(vessel, network, [(closed(vessel, network, settled, state), on)], kept)

    _, _, unfed = solved(boat.network, condition.running, set())
    was, giving, _ = solved(boat.network, condition.running, unfed)
    cut = without(boat.network, owned(vessel, subject))
    owns = owned(vessel, subject)
    running = tuple(key for key in condition.running if not owns(key))
    while True:
        now, still, dead = solved(cut, running, unfed)
        idle = {
            (e.source, e.terminal)
            for e in boat.network.emissions
            if e.supply == "charging" and is_combi(vessel, e.source)
        }
        starved = {key for key, _ in (dead & giving) - idle} - {key for key, _ in still}
        if not starved & set(running):
            break
        running = tuple(key for key in running if key not in starved)
    assert lost.terminals == was - now


@quick
@given(vessels(), st.data())
def test_open_calls_nothing_dead_that_a_combination_leaves_live(vessel: Vessel, data: st.DataObject) -> None:
    boat = Boat(vessel, Places())
    assume(is_small(boat.network))
    subject = drawn_subject(boat, data)
    try:
        lost = lost_by(boat, subject)
    except NothingToOpenError:
        return
    cut = without(boat.network, owned(vessel, subject))
    graphs = [
        (conducting(cut, c), {e.terminal for e in cut.emissions if holds(e.guards, c)}) for c in combinations(cut)
    ]
    now, _, _ = fed(vessel, cut, graphs, set())
    assert not lost.terminals & now


# --- two items ------------------------------------------------------------------------------------


@quick
@given(vessels(), st.data())
def test_a_tie_is_a_conductor_in_some_combination(vessel: Vessel, data: st.DataObject) -> None:
    boat = Boat(vessel, Places())
    network = boat.network
    assume(is_small(network) and not any(link.one_way for link in network.links))
    one, other = drawn_subject(boat, data), drawn_subject(boat, data)
    found = between(any_position(boat), one.terminals, other.terminals)
    poles = [terminal.pole for terminal in network.terminals]
    ties, whole = set(), set()
    for combination in combinations(network):
        graph = conducting(network, combination)
        apart = graph.copy()
        apart.remove_edges_from([(a, b) for a, b in graph.edges if "PE" in (poles[a], poles[b])])
        for a in one.terminals:
            reached, without_earth = {a, *nx.descendants(graph, a)}, {a, *nx.descendants(apart, a)}
            whole |= {(poles[a], poles[b]) for b in reached & set(other.terminals)}
            ties |= {(poles[a], poles[b]) for b in without_earth & set(other.terminals)}
    assert {tie.poles for tie in found.ties} == ties
    assert {tie.poles for tie in found.through_earth} == whole - ties
