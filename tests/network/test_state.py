"""An operating condition, resolved: where every contact stands and who feeds whom."""

from __future__ import annotations

from typing import Any

import networkx as nx
from hypothesis import assume, given
from hypothesis import strategies as st

from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.state import State, resolve

from .test_reach import quick
from .vessels import Raw, combinations, holds, in_step, is_small, vessel_of, vessels

DEVICES: Raw = {
    "shore": {"kind": "shore-inlet", "system": "ac"},
    "generator": {"kind": "generator", "system": "ac"},
    "selector": {"kind": "selector", "system": "ac", "inputs": ["shore", "generator"], "poles": ["L1", "L2", "N"]},
    "combi": {"kind": "inverter-charger", "system": "ac", "dc_system": "dc"},
    "bank": {"kind": "battery-bank", "system": "dc"},
}
AC = {"black": "L1", "red": "L2", "white": "N", "green": "PE"}
DC = {"red": "DC+", "black": "DC-"}
CABLES: Raw = {
    "C1": {"from": "shore", "to": "selector/shore", "cores": AC},
    "C2": {"from": "generator", "to": "selector/generator", "cores": AC},
    "C3": {"from": "selector/out", "to": "panel/main/1", "cores": AC},
    "C4": {"from": "panel/main/2", "to": "combi/ac-in", "cores": AC},
    "C5": {"from": "combi/ac-out", "to": "panel/backed/1", "cores": AC},
    "C6": {"from": "panel/backed/2", "to": "outlets", "cores": {"black": "L1", "white": "N", "green": "PE"}},
    "C7": {"from": "bank", "to": "combi/dc", "cores": DC},
}
PANELS: Raw = {
    "panel": {
        "sections": {
            name: {"system": "ac", "ways": {"1": {"poles": ["L1", "L2"]}, "2": {"poles": ["L1", "L2"]}}}
            for name in ("main", "backed")
        }
    }
}
LOADS: Raw = {"outlets": {"system": "ac", "poles": ["L1", "N"]}}


def resolved(
    running: list[str], positions: dict[str, str] | None = None, *, devices: Raw | None = None, **more: Raw
) -> State:
    """The state of the small boat above in one condition."""
    vessel = vessel_of(devices={**DEVICES, **(devices or {})}, panels=PANELS, loads=LOADS, **{"cables": CABLES, **more})
    network = compile_network(vessel)
    return resolve(vessel, network, condition(running, positions))


def condition(running: list[str], positions: dict[str, str] | None = None) -> Condition:
    """A condition of a name of its own."""
    raw: dict[str, Any] = {"running": running, "positions": positions or {}}
    return vessel_of(conditions={"now": raw}).conditions["now"]


def sources_at(state: State, network_of: Vessel | None, place: str, pole: str) -> set[str]:
    """The sources that are live at a terminal."""
    vessel = network_of or vessel_of(devices=DEVICES, panels=PANELS, loads=LOADS, cables=CABLES)
    return {emission.source for emission in state.at(compile_network(vessel).index[place, pole])}


def test_the_relay_follows_the_input() -> None:
    alongside = resolved(["shore"], {"selector": "shore"})
    assert alongside.positions["combi"] == "pass-through"
    assert sources_at(alongside, None, "outlets", "L1") == {"shore"}
    at_anchor = resolved(["generator"], {"selector": "generator"})
    assert at_anchor.positions["combi"] == "pass-through"
    assert sources_at(at_anchor, None, "outlets", "L1") == {"generator"}


def test_it_inverts_only_when_it_is_on() -> None:
    assert resolved([], {"selector": "off"}).positions["combi"] == "off"
    inverting = resolved(["combi"], {"selector": "off"})
    assert inverting.positions["combi"] == "inverting"
    assert sources_at(inverting, None, "outlets", "L1") == {"combi"}
    assert sources_at(inverting, None, "panel/main", "L1") == set()


def test_it_passes_through_before_it_inverts() -> None:
    state = resolved(["combi", "shore"], {"selector": "shore"})
    assert state.positions["combi"] == "pass-through"
    assert sources_at(state, None, "outlets", "L1") == {"shore"}


def test_an_open_breaker_ahead_of_it_makes_it_invert() -> None:
    state = resolved(["combi", "shore"], {"selector": "shore", "panel/main/2": "open"})
    assert state.positions["combi"] == "inverting"
    assert sources_at(state, None, "panel/main", "L1") == {"shore"}


def test_a_source_that_does_not_run_is_not_live() -> None:
    state = resolved(["generator"], {"selector": "shore"})
    assert sources_at(state, None, "panel/main", "L1") == set()
    assert sources_at(state, None, "selector/generator", "L1") == {"generator"}


def test_a_position_that_is_recorded_wins() -> None:
    assert resolved(["shore"], {"selector": "shore", "combi": "off"}).positions["combi"] == "off"


def test_a_manual_selector_without_a_position_is_a_gap() -> None:
    state = resolved(["shore"])
    assert state.gaps == (("selector", "its position"),)
    assert sources_at(state, None, "panel/main", "L1") == set()


AUTOMATIC = {"selector": {**DEVICES["selector"], "operation": "automatic"}}


def test_an_automatic_selector_takes_the_first_live_input() -> None:
    assert resolved(["shore"], devices=AUTOMATIC).positions["selector"] == "shore"
    assert resolved(["generator"], devices=AUTOMATIC).positions["selector"] == "generator"
    assert resolved(["generator", "shore"], devices=AUTOMATIC).positions["selector"] == "shore"
    idle = resolved(["combi"], devices=AUTOMATIC)
    assert idle.positions == {"selector": "off", "combi": "inverting"}
    assert not idle.gaps
    assert not idle.unsettled


def test_selector_and_relay_settle_one_after_the_other() -> None:
    state = resolved(["generator", "combi"], devices=AUTOMATIC)
    assert state.positions == {"selector": "generator", "combi": "pass-through"}
    assert not state.unsettled


def test_an_automatic_selector_uses_its_own_words() -> None:
    positions = {"bow": ["shore"], "stern": ["generator"], "none": []}
    state = resolved(["generator"], devices={"selector": {**AUTOMATIC["selector"], "positions": positions}})
    assert state.positions["selector"] == "stern"
    assert sources_at(state, None, "panel/main", "L1") == {"generator"}


def test_a_loop_is_named() -> None:
    """Its output comes back to its own input, which then looks live: it passes through, and is dead again."""
    devices: Raw = {
        "a": {"kind": "inverter-charger", "system": "ac", "dc_system": "dc"},
        "b": {"kind": "inverter-charger", "system": "ac", "dc_system": "dc"},
    }
    cables: Raw = {
        "C1": {"from": "a/ac-out", "to": "b/ac-in", "cores": AC},
        "C2": {"from": "b/ac-out", "to": "a/ac-in", "cores": AC},
    }
    vessel = vessel_of(devices=devices, cables=cables)
    state = resolve(vessel, compile_network(vessel), condition(["a", "b"]))
    assert state.unsettled == ("a", "b")


PAIR: Raw = {
    "combi": {**DEVICES["combi"], "synchronised": "pair"},
    "second": {**DEVICES["combi"], "synchronised": "pair"},
}
PAIR_CABLES: Raw = {
    **CABLES,
    "C8": {"from": "panel/main/2", "to": "second/ac-in", "cores": AC},
    "C9": {"from": "second/ac-out", "to": "panel/backed/1", "cores": AC},
}


def test_units_in_step_change_over_together() -> None:
    def of_pair(running: list[str], **positions: str) -> State:
        return resolved(running, {"selector": "shore", **positions}, devices=PAIR, cables=PAIR_CABLES)

    def stand(state: State) -> tuple[str, str]:
        return state.positions["combi"], state.positions["second"]

    assert stand(of_pair(["shore", "combi", "second"])) == ("pass-through", "pass-through")
    assert stand(of_pair(["combi", "second"])) == ("inverting", "inverting")
    assert stand(of_pair(["second"])) == ("inverting", "inverting")
    assert stand(of_pair(["shore"], second="off")) == ("off", "off")
    torn = of_pair(["shore"], combi="inverting", second="pass-through")
    assert torn.gaps == (("combi", "its position: combi and second run in step and cannot differ"),)


def test_units_in_step_pass_through_once_each_is_fed() -> None:
    lone = {key: each for key, each in PAIR_CABLES.items() if key != "C8"}
    state = resolved(["shore", "combi", "second"], {"selector": "shore"}, devices=PAIR, cables=lone)
    assert (state.positions["combi"], state.positions["second"]) == ("inverting", "inverting")


INTERLOCK: Raw = {"slide": {"between": ["panel/main/1", "panel/main/2"]}}


def test_an_interlock_with_two_closed_is_a_gap() -> None:
    state = resolved(["shore"], {"selector": "shore"}, interlocks=INTERLOCK)
    assert state.gaps == (("slide", "which of panel/main/1, panel/main/2 is closed"),)
    assert state.positions["slide"] == "none"


def test_an_interlock_follows_the_breakers() -> None:
    for said, expected in (
        ({"panel/main/1": "open"}, "panel/main/2"),
        ({"panel/main/2": "closed"}, "panel/main/2"),
        ({"panel/main/1": "open", "panel/main/2": "open"}, "none"),
        ({"slide": "panel/main/1"}, "panel/main/1"),
    ):
        state = resolved(["shore"], {"selector": "shore", **said}, interlocks=INTERLOCK)
        assert state.positions["slide"] == expected
        assert not state.gaps


def test_a_transformer_is_live_behind_what_runs() -> None:
    devices: Raw = {
        "shore": DEVICES["shore"],
        "first": {"kind": "isolation-transformer", "system": "ac", "secondary_system": "ac"},
        "second": {"kind": "isolation-transformer", "system": "ac", "secondary_system": "ac"},
    }
    cables: Raw = {
        "C1": {"from": "shore", "to": "second/primary", "cores": AC},
        "C2": {"from": "second/secondary", "to": "first/primary", "cores": AC},
        "C3": {"from": "first/secondary", "to": "outlets", "cores": AC},
    }
    vessel = vessel_of(devices=devices, cables=cables, loads=LOADS)
    network = compile_network(vessel)
    dead = resolve(vessel, network, condition([]))
    live = resolve(vessel, network, condition(["shore"]))
    assert sources_at(dead, vessel, "outlets", "L1") == set()
    assert sources_at(live, vessel, "outlets", "L1") == {"first"}


def test_diodes_keep_the_banks_apart() -> None:
    devices: Raw = {
        "alternator": {"kind": "alternator", "system": "dc"},
        "splitter": {"kind": "charge-splitter", "system": "dc", "outputs": ["house", "start"]},
        "house": {"kind": "battery-bank", "system": "dc"},
        "start": {"kind": "battery-bank", "system": "dc"},
    }
    cables: Raw = {
        "C1": {"from": "alternator", "to": "splitter/in", "cores": {"red": "DC+"}},
        "C2": {"from": "splitter/house", "to": "house", "cores": {"red": "DC+"}},
        "C3": {"from": "splitter/start", "to": "start", "cores": {"red": "DC+"}},
    }
    vessel = vessel_of(devices=devices, cables=cables)
    network = compile_network(vessel)
    still = resolve(vessel, network, condition([]))
    assert sources_at(still, vessel, "house", "DC+") == {"house"}
    assert sources_at(still, vessel, "splitter/in", "DC+") == set()
    under_way = resolve(vessel, network, condition(["alternator"]))
    assert sources_at(under_way, vessel, "house", "DC+") == {"house", "alternator"}
    assert sources_at(under_way, vessel, "start", "DC+") == {"start", "alternator"}


@quick
@given(vessels(), st.integers(0, 10_000))
def test_a_state_is_its_graph(vessel: Vessel, pick: int) -> None:
    """With every position given, what is live is what its graph connects to a running source."""
    network = compile_network(vessel)
    assume(is_small(network))
    every = [each for each in combinations(network) if in_step(vessel, each)]
    positions = every[pick % len(every)]
    running = [key for n, key in enumerate(vessel.devices) if (pick >> n) & 1]
    state = resolve(vessel, network, condition(running, positions))
    assert state.positions == positions
    assert not state.gaps
    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(network.terminals)))
    for link in network.links:
        if holds(link.guards, positions):
            graph.add_edge(link.a, link.b)
            if not link.one_way:
                graph.add_edge(link.b, link.a)
    on = [e for e in network.emissions if holds(e.guards, positions) and e.supply != "transformer"]
    on = [e for e in on if e.supply == "battery" or e.source in running]
    live = {(e, t) for e in on for t in nx.descendants(graph, e.terminal) | {e.terminal}}
    waiting = dict(network.transformers)
    while fed := [k for k, (first, _) in waiting.items() if any(e.pole[0] == "L" and t in first for e, t in live)]:
        for key in fed:
            del waiting[key]
            for e in network.emissions:
                if e.source == key:
                    live |= {(e, t) for t in nx.descendants(graph, e.terminal) | {e.terminal}}
    told = {(e, t) for t in range(len(network.terminals)) for e in state.at(t)}
    assert told == live
