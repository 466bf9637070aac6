"""The sheet against brute force: with its points open nothing is live, in any combination of positions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import chain
from itertools import combinations as subsets
from typing import Any

import networkx as nx
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.network.vessels import combinations, holds, is_small, vessels
from vesselspec.isolation import Target, find_target, sheet_of
from vesselspec.isolation.cut import least_cut
from vesselspec.isolation.energy import HOT, Supplies
from vesselspec.isolation.points import ESSENTIAL_LOST, Point, contact_points, source_points
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, Network
from vesselspec.record import Places
from vesselspec.rules import Boat

quick = settings(deadline=None, max_examples=80, suppress_health_check=list(HealthCheck))

#: For every kind of converter, the side that makes each of its outputs live.
FED_BY = {
    "inverter": {"ac": "dc"},
    "inverter-charger": {"ac-out": "dc", "dc": "ac-in"},
    "charger": {"dc": "ac"},
    "dc-converter": {"out": "in"},
    "solar-controller": {"battery": "array"},
    "isolation-transformer": {"secondary": "primary"},
}


def live_terminals(vessel: Vessel, network: Network, combination: dict[str, str], points: Iterable[Point]) -> set[int]:
    """Every terminal with a line or a positive on it: one combination, every free contact closed but the points."""
    opened = set(chain.from_iterable(point.links for point in points))
    dead = {point.id for point in points if point.is_source}
    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(network.terminals)))
    for number, link in enumerate(network.links):
        if number not in opened and holds(link.guards, combination):
            graph.add_edge(link.a, link.b)
            if not link.one_way:
                graph.add_edge(link.b, link.a)

    def spread(start: int) -> set[int]:
        return {start, *nx.descendants(graph, start)}

    sources: set[int] = set()
    converters: list[tuple[str, str, int]] = []  # converter, the place that feeds it, its output terminal
    for emission in network.emissions:
        if emission.pole not in HOT or not holds(emission.guards, combination):
            continue
        device = vessel.devices[emission.source]
        side = network.terminals[emission.terminal].place.partition("/")[2]
        feeder = FED_BY.get(device.kind, {}).get(side)
        if feeder is not None:
            converters.append((device.id, f"{device.id}/{feeder}", emission.terminal))
        elif emission.source not in dead:
            sources.add(emission.terminal)

    def settled(starts: set[int], waiting: list[tuple[str, str, int]]) -> tuple[set[int], set[int]]:
        """What is live, and the terminals that make it so, converters among them."""
        starts = set(starts)
        live = {terminal for start in starts for terminal in spread(start)}
        while True:
            fresh = {
                terminal
                for _, feeder, terminal in waiting
                if terminal not in starts
                and any(t in live for t in network.places.get(feeder, ()) if network.terminals[t].pole != "PE")
            }
            if not fresh:
                return live, starts
            starts |= fresh
            live |= {terminal for start in fresh for terminal in spread(start)}

    def alternating(starts: Iterable[int]) -> set[int]:
        lines = (start for start in starts if network.terminals[start].pole in LINES)
        return {terminal for start in lines for terminal in spread(start)}

    # A transformer that something else feeds at its secondary makes its primary live.
    while True:
        backwards = {
            terminal
            for key, (primary, secondary) in network.transformers.items()
            if alternating(settled(sources, [e for e in converters if e[0] != key])[1]) & set(secondary)
            for terminal in primary
        }
        if backwards <= sources:
            return settled(sources, converters)[0]
        sources |= backwards


def wiring(vessel: Vessel) -> list[str]:
    """The vessel in short, to understand a failure by."""
    kinds = [f"{key}: {device.kind}" for key, device in vessel.devices.items()]
    cores = ((key, name, core) for key, cable in vessel.cables.items() for name, core in vessel.cores_of(cable))
    cables = [
        f"{key} {name}: {vessel.cables[key].from_} {core.from_} – {vessel.cables[key].to} {core.to}"
        for key, name, core in cores
    ]
    return kinds + cables


def places(vessel: Vessel) -> list[str]:
    return [*vessel.panels, *vessel.sections, *vessel.devices, *vessel.loads, *vessel.cables]


@quick
@given(vessels(), st.data())
def test_a_declared_place_is_dead_in_every_combination(vessel: Vessel, data: st.DataObject) -> None:
    boat = Boat(vessel, Places())
    assume(is_small(boat.network))
    place = data.draw(st.sampled_from(places(vessel)))
    target = find_target(boat, place)
    assert isinstance(target, Target)
    sheet = sheet_of(boat, target)
    assert sheet.declared == bool(sheet.steps) == (not sheet.refusals)
    if any("still reach" in refusal.says for refusal in sheet.refusals):
        return
    # What it would open holds even where it refuses for what nobody has traced.
    for combination in combinations(boat.network):
        live = live_terminals(vessel, boat.network, combination, sheet.points)
        assert not live & target.terminals, (place, combination, sheet.points, wiring(vessel))
        beside = {terminal for terminal in live & target.enclosed if boat.network.terminals[terminal].pole}
        told = {each.place for each in sheet.stays_live}
        held = {"/".join(boat.network.terminals[t].place.split("/")[:2]) for t in beside}
        assert held <= told or not sheet.declared


@quick
@given(vessels(), st.data())
def test_whatever_can_be_live_is_listed_with_the_source_behind_it(vessel: Vessel, data: st.DataObject) -> None:
    """Brute force with one primary source alive: where it makes the place live, the sheet lists it."""
    boat = Boat(vessel, Places())
    assume(is_small(boat.network))
    target = find_target(boat, data.draw(st.sampled_from(places(vessel))))
    assert isinstance(target, Target)
    points = source_points(Supplies(vessel, boat.network))
    sheet = sheet_of(boat, target)
    told = {supply.id for supply in sheet.supplies if supply.reaches}
    assert {supply.id for supply in sheet.supplies} >= set(points)
    for key in points:
        others = [point for other, point in points.items() if other != key]
        for combination in combinations(boat.network):
            if live_terminals(vessel, boat.network, combination, others) & target.terminals:
                assert key in told


@quick
@given(vessels(), st.data())
def test_the_cut_is_the_best_of_all_subsets(vessel: Vessel, data: st.DataObject) -> None:
    """Brute force over all sets of points: risk with the essential loads lost first, then other loads, then order."""
    watched = {key: data.draw(st.booleans(), label=f"{key} essential") for key in vessel.loads}
    vessel = replace(vessel, loads={key: replace(load, essential=watched[key]) for key, load in vessel.loads.items()})
    network = Boat(vessel, Places()).network
    supplies = Supplies(vessel, network)
    sources, contacts = source_points(supplies), contact_points(vessel, network)
    every = {**contacts, **sources}
    assume(0 < len(every) <= 8)
    place = data.draw(st.sampled_from([*vessel.panels, *vessel.loads, *vessel.devices]))
    aims = [t for t in network.within(place) if network.terminals[t].pole in HOT]
    found = least_cut(supplies, sources, contacts, aims)
    assert found is not None
    # The cut takes every exclusive contact as closed, which is the safe side; so does this.
    closed = _unguarded(network)
    hot = {key: [t for t in network.within(key) if network.terminals[t].pole in HOT][:1] for key in vessel.loads}

    def live(points: Iterable[Point]) -> set[int]:
        return live_terminals(vessel, closed, {}, points)

    def lost(points: Iterable[Point]) -> set[str]:
        gone = live(()) - live(points)
        return {key for key, terminals in hot.items() if gone & set(terminals)}

    taken = {key: sum(not watched[load] for load in lost([point])) for key, point in contacts.items()}

    def preference(points: Iterable[Point]) -> tuple[int, int, int]:
        points = tuple(points)
        risk = sum(point.risk for point in points) + ESSENTIAL_LOST * sum(watched[load] for load in lost(points))
        return risk, sum(taken.get(point.id, 0) for point in points), sum(point.order for point in points)

    choices = chain.from_iterable(subsets(every.values(), size) for size in range(len(every) + 1))
    best = min(preference(points) for points in choices if not live(points) & set(aims))
    assert not live(found) & set(aims)
    if not network.transformers:  # through which the cut takes every potential both ways
        assert preference(found) == best, (place, found, wiring(vessel))


def _unguarded(network: Network) -> Network:
    links = tuple(replace(link, guards=()) for link in network.links)
    emissions = tuple(replace(emission, guards=()) for emission in network.emissions)
    return replace(network, links=links, emissions=emissions)
