"""What is connected inside each kind of device, and where cores land."""

from __future__ import annotations

from typing import Any

import pytest

from vesselspec.network.compile import compile_network
from vesselspec.network.graph import Link, Network

from .vessels import Raw, vessel_of


def network_of(kind: str, **words: Any) -> Network:
    """One device, called `it`."""
    return compile_network(vessel_of(devices={"it": {"kind": kind, **words}}))


def between(network: Network, one: str, two: str) -> list[Link]:
    """The links between two terminals."""
    ends = {network.index[*_split(one)], network.index[*_split(two)]}
    return [link for link in network.links if {link.a, link.b} == ends]


def _split(terminal: str) -> tuple[str, str]:
    place, _, pole = terminal.rpartition(":")
    return place, pole


def how(network: Network, one: str, two: str) -> str:
    """How two terminals are connected: apart, joint, switch, protective, diode, or the states that join them."""
    links = between(network, one, two)
    if not links:
        return "apart"
    (link,) = links
    if link.one_way:
        return "diode"
    if link.guards:
        return " and ".join(f"{choice}={'|'.join(sorted(states))}" for choice, states in link.guards)
    if link.switch is not None:
        return "protective" if link.protective else "switch"
    return link.kind


@pytest.mark.parametrize(
    ("kind", "words", "expected"),
    [
        ("breaker", {"system": "ac"}, {"L1": "protective", "L2": "protective", "N": "joint", "PE": "joint"}),
        ("breaker", {"system": "ac", "poles": ["L1", "N"]}, {"L1": "protective", "L2": "joint", "N": "protective"}),
        ("fuse", {"system": "dc"}, {"DC+": "protective", "DC-": "joint"}),
        ("switch", {"system": "dc"}, {"DC+": "switch", "DC-": "joint"}),
        # It opens every pole and trips on leakage only.
        ("residual-current-switch", {"system": "ac"}, {"L1": "switch", "L2": "switch", "N": "switch", "PE": "joint"}),
    ],
)
def test_devices_in_line(kind: str, words: Raw, expected: dict[str, str]) -> None:
    network = network_of(kind, **words)
    assert {pole: how(network, f"it/line:{pole}", f"it/load:{pole}") for pole in expected} == expected


def test_a_selector() -> None:
    positions = {"off": [], "one": ["a"], "both": ["a", "b"]}
    network = network_of("selector", system="ac", poles=["L1", "L2"], inputs=["a", "b"], positions=positions)
    assert how(network, "it/a:L1", "it/out:L1") == "it=both|one"
    assert how(network, "it/b:L2", "it/out:L2") == "it=both"
    assert how(network, "it/a:N", "it/out:N") == "joint"  # not among the poles that it switches
    assert how(network, "it/a:L1", "it/b:L1") == "apart"
    assert network.choices["it"].states == ("off", "one", "both")


def test_a_selector_as_it_is_usually_built() -> None:
    network = network_of("selector", system="ac", inputs=["a", "b"])
    assert how(network, "it/b:N", "it/out:N") == "it=b"
    assert network.choices["it"].states == ("off", "a", "b")


@pytest.mark.parametrize(("neutral", "expected"), [("switched", "it=pass-through"), ("common", "joint")])
def test_an_inverter_charger(neutral: str, expected: str) -> None:
    network = network_of("inverter-charger", system="ac", dc_system="dc", neutral=neutral, neutral_earth_relay=True)
    assert how(network, "it/ac-in:L1", "it/ac-out:L1") == "it=pass-through"
    assert how(network, "it/ac-in:N", "it/ac-out:N") == expected
    assert how(network, "it/ac-out:N", "it/ac-out:PE") == "it=inverting"
    assert how(network, "it/ac-in:PE", "it/ac-out:PE") == "joint"
    inverting = (("it", frozenset(("inverting",))),)
    ac = {network.terminals[e.terminal].name: e.guards for e in network.emissions if e.supply == "inverter"}
    assert ac == {f"it/ac-out:{pole}": inverting for pole in ("L1", "L2", "N")}
    dc = {network.terminals[e.terminal].name for e in network.emissions if e.supply == "charging"}
    assert dc == {"it/dc:DC+", "it/dc:DC-"}


@pytest.mark.parametrize(("kind", "side"), [("generator", "it"), ("inverter", "it/ac")])
@pytest.mark.parametrize("bond", [True, False])
def test_the_bond_at_a_source(kind: str, side: str, bond: bool) -> None:
    words = {"dc_system": "dc"} if kind == "inverter" else {}
    network = network_of(kind, system="ac", neutral_earth_bond=bond, **words)
    assert how(network, f"{side}:N", f"{side}:PE") == ("joint" if bond else "apart")


@pytest.mark.parametrize(("through", "expected"), [(True, "joint"), (False, "apart"), (None, "apart")])
def test_a_transformer_passes_its_earth_only_where_it_is_said(through: bool | None, expected: str) -> None:
    words = {} if through is None else {"earth_through": through}
    network = network_of("isolation-transformer", system="ac", secondary_system="ac", **words)
    assert how(network, "it/primary:PE", "it/secondary:PE") == expected
    assert how(network, "it/primary:L1", "it/secondary:L1") == "apart"
    assert how(network, "it/primary:N", "it/secondary:N") == "apart"


def test_a_galvanic_isolator_passes_the_earth() -> None:
    assert how(network_of("galvanic-isolator", system="ac"), "it/shore:PE", "it/boat:PE") == "joint"


def test_a_splitter_passes_one_way() -> None:
    network = network_of("charge-splitter", system="dc", outputs=["a", "b"])
    (link,) = between(network, "it/in:DC+", "it/a:DC+")
    assert (network.terminals[link.a].place, link.one_way) == ("it/in", True)
    assert how(network, "it/a:DC+", "it/b:DC+") == "apart"


@pytest.mark.parametrize(("isolated", "expected"), [(False, "joint"), (True, "apart"), (None, "apart")])
def test_a_converter_joins_the_negatives_only_where_it_is_said(isolated: bool | None, expected: str) -> None:
    words = {} if isolated is None else {"isolated": isolated}
    network = network_of("dc-converter", in_system="dc", out_system="dc", **words)
    assert how(network, "it/in:DC-", "it/out:DC-") == expected
    assert how(network, "it/in:DC+", "it/out:DC+") == "apart"


def test_what_sources_put_on_their_terminals() -> None:
    for kind, words, expected in (
        ("shore-inlet", {"system": "ac"}, {"it:L1", "it:L2", "it:N", "it:PE"}),
        ("generator", {"system": "ac"}, {"it:L1", "it:L2", "it:N"}),
        ("battery-bank", {"system": "dc"}, {"it:DC+", "it:DC-"}),
        ("charger", {"system": "ac", "dc_system": "dc"}, {"it/dc:DC+", "it/dc:DC-"}),
        ("busbar", {"system": "dc"}, set()),
    ):
        network = network_of(kind, **words)
        assert {network.terminals[e.terminal].name for e in network.emissions} == expected


PANEL: Raw = {
    "panel": {
        "system": "ac",
        "sections": {
            "a": {
                "ways": {
                    "1": {"poles": ["L1"]},
                    "2": {"device": "switch", "poles": ["L1", "N"]},
                    "3": {"device": "blank"},
                }
            },
            "b": {"neutral_bar": "a", "ways": {"1": {"poles": ["L2"]}}},
        },
    }
}


def test_a_panel() -> None:
    network = compile_network(vessel_of(panels=PANEL))
    assert how(network, "panel/a:L1", "panel/a/1:L1") == "protective"
    assert how(network, "panel/a:N", "panel/a/2:N") == "switch"
    assert how(network, "panel/a:PE", "panel:PE") == "joint"
    assert how(network, "panel/a:N", "panel/b:N") == "joint"
    assert how(network, "panel/a:L1", "panel/b:L1") == "apart"
    assert ("panel/a/1", "N") not in network.index  # the neutral lands on the bar
    assert not network.places.get("panel/a/3")


def test_interlocked_contacts_need_their_state() -> None:
    vessel = vessel_of(panels=PANEL, interlocks={"slide": {"between": ["panel/a/1", "panel/b/1"]}})
    network = compile_network(vessel)
    assert how(network, "panel/a:L1", "panel/a/1:L1") == "slide=panel/a/1"
    assert network.choices["slide"].states == ("none", "panel/a/1", "panel/b/1")


def test_cores_land_where_they_are_said_to() -> None:
    cables: Raw = {
        "C1": {
            "from": "panel/a/1",
            "to": "fan",
            "cores": {
                "black": "L1",
                "white": {"from": "panel/b:N", "to": "N"},
                "green": {"from": "PE", "to": "free"},
                "red": "spare",
            },
        }
    }
    network = compile_network(
        vessel_of(panels=PANEL, loads={"fan": {"system": "ac", "poles": ["L1", "N"]}}, cables=cables)
    )
    assert how(network, "panel/a/1:L1", "fan:L1") == "core"
    assert how(network, "panel/b:N", "fan:N") == "core"
    assert between(network, "panel/a:PE", "fan:PE") == []
    runs = {run.name: run for run in network.runs["C1"]}
    assert runs["red"].link == -1  # cut back at both ends
    loose = network.terminals[network.links[runs["green"].link].b]
    assert loose.loose == "green at its to end"
    assert not network.unlanded


def test_what_lands_nowhere_is_said_and_not_guessed() -> None:
    cables: Raw = {"C1": {"from": "panel/a/9", "to": "panel/a/3", "cores": {"black": "L1"}}}
    network = compile_network(vessel_of(panels=PANEL, cables=cables))
    assert [(each.end, each.said) for each in network.unlanded] == [("from", "panel/a/9"), ("to", "panel/a/3")]
    assert not [link for link in network.links if link.kind == "core"]


def test_a_fuse_bolted_to_a_terminal() -> None:
    devices: Raw = {
        "bank": {"kind": "battery-bank", "system": "dc"},
        "fuse": {"kind": "fuse", "system": "dc", "mounted_on": "bank:DC+"},
    }
    network = compile_network(vessel_of(devices=devices))
    assert how(network, "bank:DC+", "fuse/line:DC+") == "joint"
    assert how(network, "bank:DC-", "fuse/line:DC-") == "apart"


def test_units_in_step_share_a_group_that_no_id_can_be() -> None:
    devices: Raw = {
        name: {"kind": "inverter", "system": "ac-1", "dc_system": "dc", "synchronised": "shore"} for name in ("a", "b")
    }
    devices["shore"] = {"kind": "shore-inlet", "system": "ac-1"}
    groups = {e.source: e.group for e in compile_network(vessel_of(devices=devices)).emissions}
    assert groups["a"] == groups["b"] != groups["shore"]
