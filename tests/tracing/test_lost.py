"""What opening one item takes away, on small boats made for what the random ones seldom have."""

from __future__ import annotations

from vesselspec.record import Places
from vesselspec.rules import Boat
from vesselspec.tracing.lost import Lost, lost_by
from vesselspec.tracing.subject import Subject, find_subject
from vesselspec.tracing.up import up_from
from vesselspec.tracing.wiring import in_condition

from ..network.vessels import Raw, vessel_of

AC: Raw = {"black": "L1", "white": "N"}
DC: Raw = {"red": "DC+", "black": "DC-"}
PLUS: Raw = {"red": "DC+"}


def boat_of(running: list[str], **collections: Raw) -> Boat:
    return Boat(vessel_of(**collections, conditions={"now": {"running": running}}), Places())


def opened(boat: Boat, item: str, condition: str = "") -> Lost:
    subject = find_subject(boat, item)
    assert isinstance(subject, Subject)
    return lost_by(boat, subject, condition)


def gone(lost: Lost) -> set[str]:
    return {each.place for each in lost.gone if each.kind == "load"}


#: Two inverters with a lamp each: a bank feeds one through a switch; what feeds the other is not recorded.
UNKNOWN: Raw = {
    "devices": {
        "bank": {"kind": "battery-bank", "system": "dc"},
        "switch": {"kind": "switch", "system": "dc", "poles": ["DC+"]},
        "fed": {"kind": "inverter", "system": "ac-1", "dc_system": "dc"},
        "unknown": {"kind": "inverter", "system": "ac-1", "dc_system": "dc"},
    },
    "loads": {"lamp": {"system": "ac-1"}, "other": {"system": "ac-1"}},
    "cables": {
        "C1": {"from": "bank", "to": "switch/line", "cores": PLUS},
        "C2": {"from": "switch/load", "to": "fed/dc", "cores": PLUS},
        "C3": {"from": "fed/ac", "to": "lamp", "cores": AC},
        "C4": {"from": "unknown/ac", "to": "other", "cores": AC},
    },
}


def test_what_nobody_knows_to_be_fed_stays_live() -> None:
    """Over all positions and in a condition: a converter whose feed is not recorded is not called dead."""
    boat = boat_of(["fed", "unknown"], **UNKNOWN)
    for condition in ("", "now"):
        lost = opened(boat, "switch", condition)
        assert gone(lost) == {"lamp"}
        assert lost.stopped == ("fed/ac",)
        assert lost.assumed == ("unknown",)


#: An inverter on one bank feeds an inverter-charger on another: without the first, the second inverts.
IN_A_ROW: Raw = {
    "devices": {
        "bank": {"kind": "battery-bank", "system": "dc"},
        "second-bank": {"kind": "battery-bank", "system": "dc"},
        "switch": {"kind": "switch", "system": "dc", "poles": ["DC+"]},
        "inverter": {"kind": "inverter", "system": "ac-1", "dc_system": "dc"},
        "combi": {"kind": "inverter-charger", "system": "ac-1", "dc_system": "dc"},
    },
    "loads": {"lamp": {"system": "ac-1"}, "heater": {"system": "ac-1"}},
    "cables": {
        "C1": {"from": "bank", "to": "switch/line", "cores": PLUS},
        "C2": {"from": "switch/load", "to": "inverter/dc", "cores": PLUS},
        "C3": {"from": "inverter/ac", "to": "combi/ac-in", "cores": AC},
        "C4": {"from": "inverter/ac", "to": "heater", "cores": AC},
        "C5": {"from": "combi/ac-out", "to": "lamp", "cores": AC},
        "C6": {"from": "second-bank", "to": "combi/dc", "cores": DC},
    },
}


def test_a_converter_that_starves_stops_before_the_relay_behind_it_settles() -> None:
    lost = opened(boat_of(["inverter", "combi"], **IN_A_ROW), "switch", "now")
    assert {"inverter/ac", "combi/dc"} <= set(lost.stopped)
    assert lost.changes == (("combi", "pass-through", "inverting"),)
    assert gone(lost) == {"heater"}


def test_one_that_starves_with_nothing_to_take_over_takes_all_with_it() -> None:
    lost = opened(boat_of(["inverter"], **IN_A_ROW), "switch", "now")
    assert lost.changes == (("combi", "pass-through", "off"),)
    assert gone(lost) == {"heater", "lamp"}


#: An inverter-charger and a lamp on one bar, which a bank feeds through a switch.
INVERTING: Raw = {
    "devices": {
        "shore": {"kind": "shore-inlet", "system": "ac-1"},
        "bank": {"kind": "battery-bank", "system": "dc"},
        "switch": {"kind": "switch", "system": "dc", "poles": ["DC+"]},
        "bar": {"kind": "busbar", "system": "dc", "poles": ["DC+"]},
        "combi": {"kind": "inverter-charger", "system": "ac-1", "dc_system": "dc"},
    },
    "loads": {"lamp": {"system": "dc"}},
    "cables": {
        "C1": {"from": "bank", "to": "switch/line", "cores": PLUS},
        "C2": {"from": "switch/load", "to": "bar", "cores": PLUS},
        "C3": {"from": "bar", "to": "combi/dc", "cores": PLUS},
        "C4": {"from": "bar", "to": "lamp", "cores": PLUS},
        "C5": {"from": "shore", "to": "combi/ac-in", "cores": AC},
    },
}


def test_what_inverts_does_not_charge() -> None:
    """With the bank off, an inverter-charger that inverts keeps no bar live; one that passes shore through does."""
    at_anchor = boat_of(["combi"], **INVERTING)
    assert gone(opened(at_anchor, "switch", "now")) == {"lamp"}
    bar = find_subject(at_anchor, "bar")
    assert isinstance(bar, Subject)
    assert {feed.emission.source for feed in up_from(in_condition(at_anchor, "now"), bar.terminals).hot} == {"bank"}
    alongside = boat_of(["shore", "combi"], **INVERTING)
    assert gone(opened(alongside, "switch", "now")) == set()
