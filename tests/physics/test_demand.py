"""Load sums: by hand, against published examples, and what must hold whatever the loads."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.model.vessel import build_vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.state import resolve
from vesselspec.physics.loads.demand import Demands, SourceDemand, demands_of

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "demand.yaml"
EXAMPLES: dict[str, dict[str, Any]] = {
    each["id"]: each for each in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["examples"]
}
Raw = dict[str, Any]
SYSTEMS: Raw = {
    "ac": {"kind": "ac-split-phase", "voltage": "120/240 V"},
    "ac-1": {"kind": "ac-single-phase", "voltage": "120 V"},
    "ac-15": {"kind": "ac-single-phase", "voltage": "15 V"},
    "ac-230": {"kind": "ac-single-phase", "voltage": "230 V"},
    "ac-3": {"kind": "ac-three-phase", "voltage": "230/400 V"},
    "dc": {"kind": "dc", "voltage": "12 V"},
    "dc-24": {"kind": "dc", "voltage": "24 V"},
}
ALL = {"black": "L1", "red": "L2", "blue": "L3", "white": "N", "brown": "DC+", "yellow": "DC-"}


def demands(
    loads: Raw,
    demand: Raw,
    *,
    devices: Raw,
    running: list[str],
    feed: Raw,
    positions: Raw | None = None,
) -> Demands:
    """Sum the loads; `feed` gives the place that each load or input hangs on."""
    poles: dict[str, set[str]] = {}
    bare = build_vessel(
        {"record": 1, "name": "Example", "practice": "north-american"},
        {"systems": SYSTEMS, "devices": devices, "loads": loads},
    )
    network = compile_network(bare)
    for terminal in network.terminals:
        poles.setdefault(terminal.place, set()).add(terminal.pole)
    cables = {
        f"C-{to.replace('/', '-')}": {
            "from": source,
            "to": to,
            "cores": {c: p for c, p in ALL.items() if p in poles[to] and p in poles[source]},
        }
        for to, source in feed.items()
    }
    vessel = build_vessel(
        {"record": 1, "name": "Example", "practice": "north-american"},
        {
            "systems": SYSTEMS,
            "devices": devices,
            "loads": loads,
            "cables": cables,
            "conditions": {"now": {"running": running, "demand": demand, "positions": positions or {}}},
        },
    )
    network = compile_network(vessel)
    now = vessel.conditions["now"]
    return demands_of(vessel, network, now, resolve(vessel, network, now))


def amps(found: Demands) -> dict[tuple[str, str], float]:
    """The sum on every pole of every source."""
    return {("+".join(each.sources), each.pole): each.amps for each in found.sources}


def at(found: Demands, source: str, pole: str) -> SourceDemand:
    """The demand on one pole."""
    return next(each for each in found.sources if "+".join(each.sources) == source and each.pole == pole)


def on_shore(loads: Raw, demand: Raw, system: str = "ac", **shore: Any) -> Demands:
    """Loads that hang directly on a shore supply."""
    return demands(
        loads,
        demand,
        devices={"shore": {"kind": "shore-inlet", "system": system, **shore}},
        running=["shore"],
        feed=dict.fromkeys(loads, "shore"),
    )


def test_single_phase() -> None:
    # 1500 W / 120 V = 12.5 A
    found = on_shore({"heater": {"system": "ac-1", "power": "1500 W"}}, {"heater": 1.0}, "ac-1", rating="30 A")
    assert amps(found) == {("shore", "L1"): pytest.approx(12.5)}
    assert at(found, "shore", "L1").margin_a == pytest.approx(17.5)  # 30 A − 12.5 A
    assert not found.sources[0].unknown


def test_a_240_v_load_is_on_both_legs() -> None:
    # 4800 W / 240 V = 20 A, through both lines
    found = on_shore({"range": {"system": "ac", "poles": ["L1", "L2"], "power": "4800 W"}}, {"range": 1.0})
    assert amps(found) == {("shore", "L1"): pytest.approx(20), ("shore", "L2"): pytest.approx(20)}


def test_a_mixed_load_by_pole_pairs() -> None:
    # 3600 W / 240 V = 15 A on both lines; 600 W / 120 V = 5 A on L1 alone. Factor 0.5: L1 10 A, L2 7.5 A
    loads = {"range": {"system": "ac", "power": {"L1-L2": "3600 W", "L1-N": "600 W"}}}
    found = on_shore(loads, {"range": 0.5})
    assert amps(found) == {("shore", "L1"): pytest.approx(10), ("shore", "L2"): pytest.approx(7.5)}


def test_three_phase() -> None:
    # 6000 W / (√3 · 400 V) = 8.660254 A through each line; one phase: 2300 W / 230 V = 10 A on L2
    loads = {
        "motor": {"system": "ac-3", "poles": ["L1", "L2", "L3"], "power": "6000 W", "power_factor": 1.0},
        "heater": {"system": "ac-3", "poles": ["L2", "N"], "power": "2300 W"},
    }
    found = on_shore(loads, {"motor": 1.0, "heater": 1.0}, "ac-3")
    assert amps(found) == {
        ("shore", "L1"): pytest.approx(8.660254),
        ("shore", "L2"): pytest.approx(18.660254),
        ("shore", "L3"): pytest.approx(8.660254),
    }


def test_between_two_lines_of_three() -> None:
    # 4000 W / 400 V = 10 A through both
    found = on_shore({"heater": {"system": "ac-3", "poles": ["L1", "L3"], "power": "4 kW"}}, {"heater": 1.0}, "ac-3")
    assert amps(found) == {("shore", "L1"): pytest.approx(10), ("shore", "L3"): pytest.approx(10)}


def test_power_factor_and_apparent_power() -> None:
    # 960 W / 120 V / 0.8 = 10 A; 1800 VA / 120 V = 15 A; 12 A as marked. Together 37 A
    loads = {
        "pump": {"system": "ac-1", "power": "960 W", "power_factor": 0.8, "motor": True},
        "aircon": {"system": "ac-1", "apparent_power": "1800 VA", "motor": True},
        "outlets": {"system": "ac-1", "current": "12 A"},
    }
    found = on_shore(loads, dict.fromkeys(loads, 1.0), "ac-1")
    assert amps(found) == {("shore", "L1"): pytest.approx(37)}
    assert [draw.item for draw in found.sources[0].draws] == ["aircon", "outlets", "pump"]
    assert not found.sources[0].unknown


def test_a_motor_without_power_factor_is_a_lower_bound() -> None:
    # 960 W / 120 V = 8 A at least
    found = on_shore({"pump": {"system": "ac-1", "power": "960 W", "motor": True}}, {"pump": 1.0}, "ac-1")
    assert amps(found) == {("shore", "L1"): pytest.approx(8)}
    assert found.sources[0].unknown == (("pump", "power_factor"),)


def test_a_load_without_power_is_named() -> None:
    found = on_shore({"box": {"system": "ac-1"}}, {"box": 1.0}, "ac-1")
    assert amps(found) == {("shore", "L1"): 0}
    assert found.sources[0].unknown == (("box", "power"),)


def test_dc_load() -> None:
    # 60 W / 12 V = 5 A; factor 0.5: 2.5 A. No power factor is asked of DC
    found = demands(
        {"pump": {"system": "dc", "power": "60 W", "motor": True}},
        {"pump": {"factor": 0.5, "per_day": "3 h"}},
        devices={"bank": {"kind": "battery-bank", "system": "dc", "max_discharge": "100 A"}},
        running=[],
        feed={"pump": "bank"},
    )
    assert amps(found) == {("bank", "DC+"): pytest.approx(2.5)}
    assert found.sources[0].rating_a == 100
    assert not found.sources[0].unknown


def charging(device: Raw, system: str = "ac-1") -> Demands:
    """One charger on shore."""
    side = "ac" if device["kind"] == "charger" else "ac-in"
    return demands(
        {},
        {"unit": 1.0},
        devices={
            "shore": {"kind": "shore-inlet", "system": system},
            "unit": {"system": system, "dc_system": "dc", **device},
        },
        running=["shore"],
        feed={f"unit/{side}": "shore"},
    )


def test_a_charger_draws_its_input_current() -> None:
    found = charging({"kind": "charger", "input_current": "9 A", "charge_current": "60 A"})
    assert amps(found) == {("shore", "L1"): 9}
    assert not found.sources[0].unknown


def test_a_charger_without_input_current_is_a_lower_bound() -> None:
    # 60 A · 12 V / 120 V = 6 A at least: charging voltage is above nominal and no charger is free of loss
    found = charging({"kind": "charger", "charge_current": "60 A"})
    assert amps(found) == {("shore", "L1"): pytest.approx(6)}
    assert found.sources[0].unknown == (("unit", "input_current"),)


def test_a_charger_on_two_and_three_lines() -> None:
    # 60 A · 12 V = 720 W; / 240 V = 3 A on both lines; / (√3 · 400 V) = 1.039230 A on all three
    assert amps(charging({"kind": "charger", "charge_current": "60 A"}, "ac")) == {
        ("shore", "L1"): pytest.approx(3),
        ("shore", "L2"): pytest.approx(3),
    }
    assert amps(charging({"kind": "charger", "charge_current": "60 A"}, "ac-3")) == {
        ("shore", pole): pytest.approx(1.0392305) for pole in ("L1", "L2", "L3")
    }


def test_a_charger_with_nothing_recorded_is_named() -> None:
    found = charging({"kind": "charger"})
    assert amps(found) == {("shore", "L1"): 0}
    assert found.sources[0].unknown == (("unit", "charge_current"),)


def test_an_inverter_charger_charges_up_to_its_input_limit() -> None:
    # 120 A · 12 V / 120 V / 0.8 = 15 A; its limit of 10 A holds it down
    unit = {"kind": "inverter-charger", "charge_current": "120 A", "efficiency": 0.8}
    assert amps(charging(unit)) == {("shore", "L1"): pytest.approx(15)}
    assert amps(charging({**unit, "input_limit": "10 A"})) == {("shore", "L1"): pytest.approx(10)}


COMBI: Raw = {
    "shore": {"kind": "shore-inlet", "system": "ac-1"},
    "combi": {"kind": "inverter-charger", "system": "ac-1", "dc_system": "dc", "efficiency": 0.9},
    "bank": {"kind": "battery-bank", "system": "dc"},
}
COMBI_FEED = {"combi/ac-in": "shore", "combi/dc": "bank", "heater": "combi/ac-out"}
HEATER: Raw = {"heater": {"system": "ac-1", "power": "1080 W"}}


def test_an_inverter_hands_its_load_on_to_the_bank() -> None:
    # 1080 W / 120 V = 9 A on the inverter; 1080 VA / 0.9 / 12 V = 100 A on the bank
    found = demands(HEATER, {"heater": 1.0}, devices=COMBI, running=["combi"], feed=COMBI_FEED)
    assert amps(found) == {("combi", "L1"): pytest.approx(9), ("bank", "DC+"): pytest.approx(100)}


def test_in_pass_through_the_shore_carries_it() -> None:
    found = demands(HEATER, {"heater": 1.0}, devices=COMBI, running=["combi", "shore"], feed=COMBI_FEED)
    assert amps(found) == {("shore", "L1"): pytest.approx(9)}


def test_what_is_unknown_behind_an_inverter_is_unknown_before_it() -> None:
    # 960 W / 120 V = 8 A and 960 VA / 12 V = 80 A, both at least: no power factor, no efficiency
    devices = {**COMBI, "combi": {"kind": "inverter-charger", "system": "ac-1", "dc_system": "dc"}}
    loads = {"heater": {"system": "ac-1", "power": "960 W", "motor": True}}
    found = demands(loads, {"heater": 1.0}, devices=devices, running=["combi"], feed=COMBI_FEED)
    assert amps(found) == {("combi", "L1"): pytest.approx(8), ("bank", "DC+"): pytest.approx(80)}
    assert at(found, "combi", "L1").unknown == (("heater", "power_factor"),)
    assert at(found, "bank", "DC+").unknown == (("heater", "power_factor"), ("combi", "efficiency"))


def test_two_inverters_in_parallel_share() -> None:
    # 2400 W / 120 V = 20 A on both together; each gives 1200 VA: 1200 / 0.8 / 12 V = 125 A from its own bank
    inverter = {
        "kind": "inverter",
        "system": "ac-1",
        "dc_system": "dc",
        "efficiency": 0.8,
        "apparent_power": "1500 VA",
        "synchronised": "pair",
    }
    found = demands(
        {"heater": {"system": "ac-1", "power": "2400 W"}},
        {"heater": 1.0},
        devices={
            "a": inverter,
            "b": inverter,
            "bank-a": {"kind": "battery-bank", "system": "dc"},
            "bank-b": {"kind": "battery-bank", "system": "dc"},
        },
        running=["a", "b"],
        feed={"heater": "a/ac", "b/ac": "a/ac", "a/dc": "bank-a", "b/dc": "bank-b"},
    )
    assert amps(found) == {
        ("a+b", "L1"): pytest.approx(20),
        ("bank-a", "DC+"): pytest.approx(125),
        ("bank-b", "DC+"): pytest.approx(125),
    }
    assert at(found, "a+b", "L1").rating_a == pytest.approx(25)  # 2 · 1500 VA / 120 V


def test_a_dc_converter_carries_what_no_battery_does() -> None:
    # 96 W / 12 V = 8 A out; 96 W / 0.8 / 24 V = 5 A in
    found = demands(
        {"radio": {"system": "dc", "power": "96 W"}},
        {"radio": 1.0},
        devices={
            "bank": {"kind": "battery-bank", "system": "dc-24"},
            "converter": {
                "kind": "dc-converter",
                "in_system": "dc-24",
                "out_system": "dc",
                "efficiency": 0.8,
                "rating": "10 A",
            },
        },
        running=["converter"],
        feed={"converter/in": "bank", "radio": "converter/out"},
    )
    assert amps(found) == {("converter", "DC+"): pytest.approx(8), ("bank", "DC+"): pytest.approx(5)}
    assert at(found, "converter", "DC+").rating_a == 10


def test_beside_a_battery_its_charger_is_not_counted_on() -> None:
    found = demands(
        {"lamp": {"system": "dc", "power": "24 W"}},
        {"lamp": 1.0},
        devices={
            "bank": {"kind": "battery-bank", "system": "dc"},
            "alternator": {"kind": "alternator", "system": "dc", "rating": "100 A"},
        },
        running=["alternator"],
        feed={"lamp": "bank", "alternator": "bank"},
    )
    assert amps(found) == {("bank", "DC+"): pytest.approx(2)}


@pytest.mark.parametrize("names", [("a", "b", "c"), ("c", "b", "a"), ("b", "c", "a"), ("b", "a", "c")])
def test_converters_in_a_row_whatever_they_are_called(names: tuple[str, str, str]) -> None:
    # 120 W / 120 V = 1 A; inverter 120 / 0.5 / 12 = 20 A; converter 240 W / 0.8 / 24 = 12.5 A;
    # second converter 300 W / 0.75 / 12 = 33.333333 A
    inverter, converter, first = names
    found = demands(
        {"lamp": {"system": "ac-1", "power": "120 W"}},
        {"lamp": 1.0},
        devices={
            inverter: {"kind": "inverter", "system": "ac-1", "dc_system": "dc", "efficiency": 0.5},
            converter: {"kind": "dc-converter", "in_system": "dc-24", "out_system": "dc", "efficiency": 0.8},
            first: {"kind": "dc-converter", "in_system": "dc", "out_system": "dc-24", "efficiency": 0.75},
            "bank": {"kind": "battery-bank", "system": "dc"},
        },
        running=list(names),
        feed={
            "lamp": f"{inverter}/ac",
            f"{inverter}/dc": f"{converter}/out",
            f"{converter}/in": f"{first}/out",
            f"{first}/in": "bank",
        },
    )
    assert amps(found) == {
        (inverter, "L1"): pytest.approx(1),
        (converter, "DC+"): pytest.approx(20),
        (first, "DC+"): pytest.approx(12.5),
        ("bank", "DC+"): pytest.approx(100 / 3),
    }


def test_converters_in_a_ring_come_to_an_end() -> None:
    devices = {
        name: {"kind": "dc-converter", "in_system": "dc", "out_system": "dc", "efficiency": 0.5} for name in ("a", "b")
    }
    loads = {"lamp": {"system": "dc", "power": "12 W"}}
    feed = {"lamp": "a/out", "b/in": "a/out", "a/in": "b/out"}
    found = demands(loads, {"lamp": 1.0}, devices=devices, running=["a", "b"], feed=feed)
    assert at(found, "b", "DC+").amps == pytest.approx(2)  # 12 W / 0.5 / 12 V


@pytest.mark.parametrize("names", [("near", "far"), ("far", "near")])
def test_transformers_in_a_row(names: tuple[str, str]) -> None:
    # 1200 W / 120 V = 10 A on the second's L1; its primary 1200 VA / (2 · 120 V) = 5 A on both lines of the first;
    # the first's primary, 230 V single phase: 2 · 5 A · 120 V / 230 V = 5.217391 A
    first, second = names
    found = demands(
        {"heater": {"system": "ac", "poles": ["L1", "N"], "power": "1200 W"}},
        {"heater": 1.0},
        devices={
            "shore": {"kind": "shore-inlet", "system": "ac-230"},
            first: {"kind": "isolation-transformer", "system": "ac-230", "secondary_system": "ac"},
            second: {"kind": "isolation-transformer", "system": "ac", "secondary_system": "ac"},
        },
        running=["shore"],
        feed={
            f"{first}/primary": "shore",
            f"{second}/primary": f"{first}/secondary",
            "heater": f"{second}/secondary",
        },
    )
    assert amps(found) == {
        (second, "L1"): pytest.approx(10),
        (first, "L1"): pytest.approx(5),
        (first, "L2"): pytest.approx(5),
        ("shore", "L1"): pytest.approx(5.2173913),
    }


def test_a_load_that_nothing_feeds() -> None:
    found = on_shore({"heater": {"system": "ac-1", "power": "1500 W"}}, {"heater": 1.0}, "dc")
    assert found.unfed == ("heater",)
    assert not found.sources


def test_a_load_without_a_system_is_fed_by_nothing() -> None:
    found = on_shore({"heater": {"power": "1500 W"}}, {"heater": 1.0}, "ac-1")
    assert found.unfed == ("heater",)


@pytest.mark.parametrize(
    ("device", "expected"),
    [
        ({"kind": "generator", "rating": "45 A", "apparent_power": "12 kVA"}, 45),
        ({"kind": "generator", "apparent_power": "12 kVA"}, 50),  # 12000 VA / 120 V / 2 lines
        ({"kind": "generator"}, None),
        ({"kind": "shore-inlet", "rating": "50 A"}, 50),
        ({"kind": "shore-inlet"}, None),
    ],
)
def test_ratings_are_for_each_line(device: Raw, expected: float | None) -> None:
    found = demands(
        {"heater": {"system": "ac", "poles": ["L1", "N"], "power": "1200 W"}},
        {"heater": 1.0},
        devices={"source": {"system": "ac", **device}},
        running=["source"],
        feed={"heater": "source"},
    )
    demand = at(found, "source", "L1")
    assert demand.rating_a == expected
    assert demand.margin_a == (None if expected is None else pytest.approx(expected - 10))


# --- published examples --------------------------------------------------------------------------------------


def test_marina_demand() -> None:
    example = EXAMPLES["marina_demand_10"]  # NEC marina demand table, public code forum
    given_, expected = example["inputs"], example["expected"]
    loads = {
        f"slip-{n}": {"system": "ac", "poles": ["L1", "L2"], "current": f"{given_['i_A']} A"}
        for n in range(given_["slips"])
    }
    for factor, kva in ((1.0, expected["connected_kVA"]), (given_["demand_percent"] / 100, expected["demand_kVA"])):
        found = on_shore(loads, dict.fromkeys(loads, factor))
        for pole in ("L1", "L2"):
            assert at(found, "shore", pole).amps * given_["v_V"] / 1000 == pytest.approx(kva["value"], abs=kva["tol"])


def test_split_phase_balanced() -> None:
    example = EXAMPLES["split_phase_balanced"]  # Lessons In Electric Circuits II, 'Single-phase power systems'
    power, expected = f"{example['inputs']['p_each_W']} W", example["expected"]

    def both(one: list[str], two: list[str]) -> Demands:
        loads = {
            "a": {"system": "ac", "poles": one, "power": power},
            "b": {"system": "ac", "poles": two, "power": power},
        }
        return on_shore(loads, {"a": 1.0, "b": 1.0})

    for found, wanted in (
        (both(["L1", "N"], ["L1", "N"]), expected["i_total_120_A"]),
        (both(["L1", "L2"], ["L1", "L2"]), expected["i_total_240_A"]),
        (both(["L1", "N"], ["L2", "N"]), expected["i_line_split_A"]),
    ):
        assert at(found, "shore", "L1").amps == pytest.approx(wanted["value"], abs=wanted["tol"])
    split = both(["L1", "N"], ["L2", "N"])
    neutral = at(split, "shore", "L1").amps - at(split, "shore", "L2").amps
    assert neutral == pytest.approx(expected["i_neutral_A"]["value"], abs=expected["i_neutral_A"]["tol"])


def test_two_lamps_on_two_legs() -> None:
    example = EXAMPLES["broken_neutral_120_240"]  # public training slides 'Lost neutral', neutral whole
    given_, expected = example["inputs"], example["expected"]
    loads = {
        "a": {"system": "ac", "poles": ["L1", "N"], "power": f"{given_['p1_W']} W"},
        "b": {"system": "ac", "poles": ["L2", "N"], "power": f"{given_['p2_W']} W"},
    }
    found = on_shore(loads, {"a": 1.0, "b": 1.0})
    for pole, wanted in (("L1", expected["i1_A"]), ("L2", expected["i2_A"])):
        assert at(found, "shore", pole).amps == pytest.approx(wanted["value"], abs=wanted["tol"])


def test_power_factor_as_published() -> None:
    example = EXAMPLES["pf_wattmeter"]  # Lessons In Electric Circuits II, 'Practical power factor correction'
    given_, expected = example["inputs"], example["expected"]
    load = {"system": "ac", "poles": ["L1", "L2"], "power": f"{given_['p_W']} W"}
    found = on_shore({"load": {**load, "power_factor": expected["pf"]["value"]}}, {"load": 1.0})
    # The factor is printed with two digits: 0.65 ± 0.005 moves the current by 0.8 %.
    assert at(found, "shore", "L1").amps == pytest.approx(given_["i_A"], rel=0.005 / 0.65)
    apparent = {"system": "ac", "poles": ["L1", "L2"], "apparent_power": f"{expected['s_VA']['value']} VA"}
    found = on_shore({"load": apparent}, {"load": 1.0})
    assert at(found, "shore", "L1").amps == pytest.approx(given_["i_A"], abs=0.5 / given_["v_V"])


def test_step_down_transformer() -> None:
    example = EXAMPLES["transformer_step_down"]  # OpenStax College Physics 2e, section 23.7
    given_, expected = example["inputs"], example["expected"]
    found = demands(
        {"lamp": {"system": "ac-15", "current": f"{given_['i_s_A']:g} A"}},
        {"lamp": 1.0},
        devices={
            "shore": {"kind": "shore-inlet", "system": "ac-1"},
            "transformer": {"kind": "isolation-transformer", "system": "ac-1", "secondary_system": "ac-15"},
        },
        running=["shore"],
        feed={"transformer/primary": "shore", "lamp": "transformer/secondary"},
    )
    primary = at(found, "shore", "L1").amps
    assert primary == pytest.approx(expected["i_p_A"]["value"], abs=expected["i_p_A"]["tol"])
    assert primary * given_["v_p_V"] == pytest.approx(expected["p_W"]["value"], abs=expected["p_W"]["tol"])


def test_lamp_on_twelve_volts() -> None:
    example = EXAMPLES["headlight_ohm"]  # OpenStax College Physics 2e, section 20.2
    found = demands(
        {"lamp": {"system": "dc", "power": f"{example['expected']['p_W']['value']:g} W"}},
        {"lamp": 1.0},
        devices={"bank": {"kind": "battery-bank", "system": "dc"}},
        running=[],
        feed={"lamp": "bank"},
    )
    assert at(found, "bank", "DC+").amps == pytest.approx(example["inputs"]["i_A"])


# --- what holds whatever the loads ------------------------------------------------------------------------------

WATTS = st.integers(1, 9000)
POLES = st.sampled_from([["L1", "N"], ["L2", "N"], ["L1", "L2"], ["L1", "L2", "N"]])


@st.composite
def some_loads(draw: st.DrawFn) -> tuple[Raw, Raw]:
    """Loads on a split-phase supply, with demand factors."""
    loads: Raw = {}
    for number in range(draw(st.integers(1, 5))):
        load: Raw = {"system": "ac", "poles": draw(POLES), "power": f"{draw(WATTS)} W"}
        if draw(st.booleans()):
            load["motor"] = True
        if draw(st.booleans()):
            load["power_factor"] = draw(st.sampled_from([0.5, 0.8, 1.0]))
        loads[f"load-{number}"] = load
    return loads, {name: draw(st.sampled_from([0.25, 0.6, 1.0])) for name in loads}


brief = settings(deadline=None, max_examples=40)


@brief
@given(some_loads())
def test_two_halves_are_the_whole(drawn: tuple[Raw, Raw]) -> None:
    loads, demand = drawn
    name = next(iter(loads))
    watts = int(loads[name]["power"].removesuffix(" W"))
    halves = {f"{name}-{n}": {**loads[name], "power": f"{watts / 2} W"} for n in (1, 2)}
    split = {**{k: v for k, v in loads.items() if k != name}, **halves}
    shares = {**{k: v for k, v in demand.items() if k != name}, **dict.fromkeys(halves, demand[name])}
    assert amps(on_shore(split, shares)) == pytest.approx(amps(on_shore(loads, demand)))


@brief
@given(some_loads(), st.randoms(use_true_random=False))
def test_order_never_matters(drawn: tuple[Raw, Raw], random: Any) -> None:
    loads, demand = drawn
    names = list(loads)
    random.shuffle(names)
    mixed = on_shore({name: loads[name] for name in names}, {name: demand[name] for name in reversed(names)})
    straight = on_shore(loads, demand)
    assert amps(mixed) == amps(straight)
    assert [each.draws for each in mixed.sources] == [each.draws for each in straight.sources]
    assert [set(each.unknown) for each in mixed.sources] == [set(each.unknown) for each in straight.sources]


@brief
@given(some_loads())
def test_a_load_of_no_demand_changes_nothing(drawn: tuple[Raw, Raw]) -> None:
    loads, demand = drawn
    idle = {"idle": {"system": "ac", "motor": True}, "lost": {"system": "dc", "power": "60 W"}}
    assert on_shore({**loads, **idle}, {**demand, "idle": 0, "lost": 0.0}) == on_shore(loads, demand)
    assert on_shore({**loads, **idle}, demand) == on_shore(loads, demand)


@brief
@given(some_loads())
def test_behind_an_inverter_power_is_kept(drawn: tuple[Raw, Raw]) -> None:
    """Volt-amperes on its lines, over the efficiency, are watts from the bank."""
    loads, demand = drawn
    found = demands(
        loads,
        demand,
        devices={
            "inverter": {"kind": "inverter", "system": "ac", "dc_system": "dc", "efficiency": 0.8},
            "bank": {"kind": "battery-bank", "system": "dc"},
        },
        running=["inverter"],
        feed={**dict.fromkeys(loads, "inverter/ac"), "inverter/dc": "bank"},
    )
    lines = sum(each.amps for each in found.sources if each.sources == ("inverter",))
    assert at(found, "bank", "DC+").amps == pytest.approx(lines * 120 / 0.8 / 12)
