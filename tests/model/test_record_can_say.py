"""What the record must be able to say, each point by one short vessel: typed values and the compiled network."""

from __future__ import annotations

import datetime
from functools import cache
from pathlib import Path
from typing import TypeVar

import pytest

from vesselspec.model.devices import (
    Alternator,
    BatteryBank,
    Breaker,
    Charger,
    ChargeSplitter,
    DcConverter,
    Device,
    EarthPoint,
    Fuse,
    Generator,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    Receptacles,
    ResidualCurrentSwitch,
    Selector,
    ShoreInlet,
    SolarArray,
    SolarController,
    Switch,
)
from vesselspec.model.forms import Pairs
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING, PASS_THROUGH, compile_network
from vesselspec.network.graph import OPEN_END, Link, Network
from vesselspec.record import Record, read
from vesselspec.rules import Boat, survey
from vesselspec.rules.book import failed

RECORDS = Path(__file__).parents[1] / "data/records"
D = TypeVar("D", bound=Device)


@cache
def record(name: str) -> Record:
    return read({"vessel.yaml": (RECORDS / name / "vessel.yaml").read_bytes()})


def loaded(name: str) -> tuple[Vessel, Network]:
    found = record(name)
    assert found.problems == ()
    assert found.vessel is not None
    return found.vessel, compile_network(found.vessel)


def device(vessel: Vessel, key: str, kind: type[D]) -> D:
    found = vessel.devices[key]
    assert isinstance(found, kind)
    return found


def links(network: Network, one: str, two: str) -> list[Link]:
    """The links between two terminals, written `place:POLE`."""
    a, b = (network.index[place, pole] for place, pole in (t.rsplit(":", 1) for t in (one, two)))
    return [link for link in network.links if {link.a, link.b} == {a, b}]


def joined(network: Network, one: str, two: str) -> bool:
    return [link.kind for link in links(network, one, two)] == ["joint"]


def emitted(network: Network, source: str) -> set[tuple[str, str]]:
    return {(network.terminals[e.terminal].name, e.supply) for e in network.emissions if e.source == source}


def landings(network: Network, cable: str) -> dict[str, tuple[str, str]]:
    """Core → the terminals that it connects, from and to."""
    found = {}
    for run in network.runs[cable]:
        if run.link >= 0:
            link = network.links[run.link]
            found[run.name] = (network.terminals[link.a].name, network.terminals[link.b].name)
    return found


@pytest.mark.parametrize("name", sorted(folder.name for folder in RECORDS.iterdir()))
def test_every_vessel_is_understood_compiled_and_judged(name: str) -> None:
    vessel, network = loaded(name)
    assert network.unlanded == ()
    assert not list(failed(survey(Boat(vessel, record(name).places))))


def test_shore_inlets() -> None:
    vessel, network = loaded("01-shore")
    known = device(vessel, "shore-120", ShoreInlet)
    assert known.cord is not None
    assert known.cord.size is not None
    assert (known.rating_a, known.supply_ohm, known.cord.size.text) == (30.0, 0.2, "10 AWG")
    assert known.cord.length_m == pytest.approx(15.24)
    unknown = device(vessel, "shore-split", ShoreInlet)
    assert (unknown.cord, unknown.supply_ohm, unknown.supply_fault_a) == (None, None, None)
    metric = device(vessel, "shore-230", ShoreInlet)
    assert (metric.supply_ohm, metric.supply_fault_a) == (None, 1500.0)
    assert metric.cord is not None
    assert (metric.cord.length_m, metric.cord.earth_size) == (None, None)
    assert emitted(network, "shore-120") == {(f"shore-120:{pole}", "shore") for pole in ("L1", "N", "PE")}
    assert emitted(network, "shore-split") == {(f"shore-split:{pole}", "shore") for pole in ("L1", "L2", "N", "PE")}
    lines = ("L1", "L2", "L3", "N", "PE")
    assert emitted(network, "shore-three") == {(f"shore-three:{pole}", "shore") for pole in lines}
    assert {e.volts for e in network.emissions if e.source == "shore-three"} == {230.0}
    assert vessel.systems["ac-120-240"].volts(("L1", "L2")) == 240.0
    assert vessel.systems["ac-120-240"].volts(("L1", "N")) == 120.0
    assert vessel.systems["ac-400-230"].volts(("L1", "L2", "L3")) == 400.0
    assert vessel.systems["ac-230"].volts(("L1", "N")) == 230.0


def test_generators() -> None:
    vessel, network = loaded("02-generators")
    generator = device(vessel, "generator", Generator)
    assert (generator.rating_a, generator.apparent_va, generator.subtransient) == (50.0, 12000.0, 0.12)
    assert generator.auto_start is True
    assert generator.auto_start_lockout == "Key switch on the set"
    assert generator.start_battery in vessel.devices
    assert generator.start_switch in vessel.devices
    assert joined(network, "generator:N", "generator:PE")
    old = device(vessel, "old-generator", Generator)
    assert old.auto_start is None  # nobody has looked: not the same as "no"
    assert not links(network, "old-generator:N", "old-generator:PE")
    assert emitted(network, "old-generator") == {("old-generator:L1", "generator"), ("old-generator:N", "generator")}
    assert device(vessel, "generator-switch", Switch).lockable is True
    assert joined(network, "generator-bank:DC+", "generator-switch/line:DC+")


def test_selectors_interlocks_and_transfer() -> None:
    vessel, network = loaded("03-switching")
    three = device(vessel, "three-pole-selector", Selector)
    assert list(three.table()) == ["off", "shore-1", "shore-2", "generator"]
    assert network.choices[three.id].states == ("off", "shore-1", "shore-2", "generator")
    (contact,) = links(network, "three-pole-selector/shore-2:N", "three-pole-selector/out:N")
    assert contact.guards == ((three.id, frozenset({"shore-2"})),)
    # Two poles: the neutrals of both inputs stay joined, whatever its position.
    assert joined(network, "two-pole-selector/shore:N", "two-pole-selector/out:N")
    assert joined(network, "two-pole-selector/generator:N", "two-pole-selector/out:N")
    assert links(network, "two-pole-selector/shore:L2", "two-pole-selector/out:L2")[0].kind == "contact"
    assert device(vessel, "transfer", Selector).operation == "automatic"
    both = links(network, "paralleling/one:L1", "paralleling/out:L1")[0]
    assert both.guards == (("paralleling", frozenset({"one", "both"})),)
    assert vessel.interlocks["slide"].between == ("main/bus/1", "main/bus/2")
    for pole in ("L1", "L2", "N"):
        (link,) = links(network, f"main/bus:{pole}", f"main/bus/2:{pole}")
        assert link.protective
        assert link.guards == (("slide", frozenset({"main/bus/2"})),)


def test_inverters_and_inverter_chargers() -> None:
    vessel, network = loaded("04-converters")
    combined = device(vessel, "combined", InverterCharger)
    assert (combined.transfer_a, combined.input_limit_a, combined.charge_a) == (50.0, 30.0, 120.0)
    (through,) = links(network, "combined/ac-in:L1", "combined/ac-out:L1")
    assert through.guards == (("combined", frozenset({PASS_THROUGH})),)
    (relay,) = links(network, "combined/ac-out:N", "combined/ac-out:PE")
    assert relay.guards == (("combined", frozenset({INVERTING})),)
    assert links(network, "combined/ac-in:N", "combined/ac-out:N")[0].kind == "contact"
    assert joined(network, "combined-common/ac-in:N", "combined-common/ac-out:N")
    assert emitted(network, "combined") == {
        ("combined/ac-out:L1", "inverter"),
        ("combined/ac-out:N", "inverter"),
        ("combined/dc:DC+", "charging"),
        ("combined/dc:DC-", "charging"),
    }
    assert device(vessel, "inverter", Inverter).apparent_va == 1500.0
    assert joined(network, "inverter/ac:N", "inverter/ac:PE")
    groups = {e.source: e.group for e in network.emissions if e.supply == "inverter"}
    assert groups["line-1"] == groups["line-2"]  # split phase
    assert groups["parallel-a"] == groups["parallel-b"] != groups["line-1"]  # in parallel
    assert groups["inverter"] == "inverter"
    assert {name for name, _ in emitted(network, "line-2")} == {"line-2/ac:L2", "line-2/ac:N"}


def test_chargers_and_other_converters() -> None:
    vessel, network = loaded("04-converters")
    charger = device(vessel, "charger", Charger)
    assert charger.outputs == ("house", "start", "thruster")
    assert (charger.efficiency, charger.absorption_v, charger.float_v) == (0.85, 14.4, 13.5)
    assert emitted(network, "charger") == {
        (f"charger/{output}:{pole}", "charging") for output in ("house", "start", "thruster") for pole in ("DC+", "DC-")
    }
    assert device(vessel, "dc-dc", DcConverter).isolated is False
    assert joined(network, "dc-dc/in:DC-", "dc-dc/out:DC-")
    assert not links(network, "dc-dc-isolated/in:DC-", "dc-dc-isolated/out:DC-")
    assert device(vessel, "alternator", Alternator).self_limiting is True
    assert device(vessel, "alternator", Alternator).absorption_v == 14.2
    assert emitted(network, "alternator") == {("alternator:DC+", "charging"), ("alternator:DC-", "charging")}
    assert device(vessel, "diodes", ChargeSplitter).rating_a == 120.0
    (diode,) = links(network, "diodes/in:DC+", "diodes/start:DC+")
    assert diode.one_way
    assert network.terminals[diode.b].name == "diodes/start:DC+"
    assert device(vessel, "combining-relay", Switch).operation == "automatic"
    assert device(vessel, "array", SolarArray).open_circuit_v == 44.0
    assert device(vessel, "array", SolarArray).max_power_v == 36.0
    assert device(vessel, "controller", SolarController).rating_a == 50.0
    assert device(vessel, "controller", SolarController).method == "mppt"
    assert {name for name, _ in emitted(network, "controller")} == {"controller/battery:DC+", "controller/battery:DC-"}
    assert device(vessel, "transformer", IsolationTransformer).earth_through is False
    assert not links(network, "transformer/primary:PE", "transformer/secondary:PE")
    assert joined(network, "transformer/secondary:N", "transformer/secondary:PE")
    assert {network.terminals[n].name for n in network.transformers["transformer"][1]} == {
        "transformer/secondary:L1",
        "transformer/secondary:L2",
    }
    assert joined(network, "galvanic/shore:PE", "galvanic/boat:PE")


def test_batteries() -> None:
    vessel, network = loaded("05-batteries")
    house = device(vessel, "house", BatteryBank)
    assert (house.chemistry, house.capacity_ah, house.strings, house.in_series) == ("lithium-iron-phosphate", 600, 3, 2)
    assert (house.internal_ohm, house.short_circuit_a, house.max_discharge_a) == (0.002, 7200.0, 300.0)
    assert device(vessel, "start", BatteryBank).cold_cranking_a == 900.0
    fuse = device(vessel, "house-fuse", Fuse)
    assert (fuse.family, fuse.rating_a, fuse.interrupting_a, fuse.mounted_on) == ("class-t", 300, 20000, "house:DC+")
    assert joined(network, "house:DC+", "house-fuse/line:DC+")
    assert links(network, "house-fuse/line:DC+", "house-fuse/load:DC+")[0].protective
    switch = device(vessel, "one-two-both", Selector)
    assert dict(switch.table()) == {"off": (), "1": ("1",), "2": ("2",), "both": ("1", "2")}
    assert landings(network, "B2") == {"red": ("reserve:DC+", "one-two-both/2:DC+")}


def test_panels() -> None:
    vessel, network = loaded("06-panels")
    panel = vessel.panels["ac-main"]
    meters = ("ammeter", "voltmeter", "frequency-meter", "polarity-indicator")
    assert panel.fitted == (*meters, "rear-cover", "several-sources-sign", "ac-dc-barrier")
    assert vessel.panels["galley"].fitted == (), "somebody looked, and there is nothing"
    assert panel.ignition_protected is False
    assert vessel.devices["dc-bus"].ignition_protected is True
    assert panel.metal is True
    assert [(section.id, section.rating_a) for section in panel.sections][:2] == [
        ("shore-and-generator", 100.0),
        ("inverter", 60.0),
    ]
    # Each section has its own neutral bar unless it says otherwise; the enclosure is one earth.
    assert not links(network, "ac-main/shore-and-generator:N", "ac-main/inverter:N")
    assert joined(network, "ac-main/shared:N", "ac-main/inverter:N")
    assert joined(network, "ac-main/inverter:PE", "ac-main:PE")
    ways = vessel.ways
    assert ways["ac-main/shore-and-generator/1"][2].duty == "main"
    assert ways["ac-main/shore-and-generator/4"][2].spare
    assert ways["ac-main/shore-and-generator/5"][2].device == "blank"
    assert "ac-main/shore-and-generator/5" not in network.places
    assert ways["galley/all/1"][2].label == "none"
    instruments = vessel.section_system(*vessel.sections["ac-main/instruments"])
    assert instruments is not None
    assert instruments.is_dc
    assert landings(network, "F1") == {
        "black": ("ac-main/shore-and-generator/3:L1", "galley/all:L1"),
        "red": ("ac-main/shore-and-generator/3:L2", "galley/all:L2"),
        "white": ("ac-main/shore-and-generator:N", "galley/all:N"),
        "green": ("ac-main/shore-and-generator:PE", "galley/all:PE"),
    }
    assert {terminal.pole for terminal in network.terminals if terminal.place == "neutral-block"} == {"N", "PE"}


def test_protective_devices() -> None:
    vessel, network = loaded("07-protection")
    ways = {key.rsplit("/", 1)[1]: way for key, (panel, _, way) in vessel.ways.items() if panel.id == "ac"}
    opened = {key: len([link for link in network.links if link.switch == f"ac/all/{key}"]) for key in ways}
    assert opened == {"1": 1, "2": 2, "3": 3, "4": 4, "5": 1, "6": 1}
    assert (ways["2"].residual_a, ways["2"].delay_s, ways["2"].is_protective) == (0.03, 0.04, True)  # combined
    assert (ways["4"].is_protective, ways["4"].residual_a) == (False, 0.03)
    assert (ways["5"].family, ways["1"].curve, ways["1"].interrupting_a) == ("cartridge", "B", 6000.0)
    leakage = device(vessel, "earth-leakage", ResidualCurrentSwitch)
    assert (leakage.residual_a, leakage.delay_s) == (0.1, 0.3)
    assert leakage.opened(vessel.systems) == ("L1", "L2", "L3", "N")
    fuse = device(vessel, "line-fuse", Fuse)
    assert fuse.opened(vessel.systems) == ("L1", "L2", "L3")
    assert (fuse.rated_for, ways["3"].rated_for) == (("ac",), ("ac", "dc"))
    assert (ways["3"].residual_a, ways["1"].residual_a) == (0.0, None)  # known not to open on leakage; nobody looked
    assert joined(network, "line-fuse/line:N", "line-fuse/load:N")
    assert device(vessel, "shore-breaker", Breaker).opened(vessel.systems) == ("L1", "N")
    assert joined(network, "strip-fuse/line:DC-", "strip-fuse/load:DC-")


def test_cables() -> None:
    vessel, network = loaded("08-cables")
    typed, own = vessel.cables["C104"], vessel.cables["C105"]
    assert typed.size is None
    assert [run.size.text for run in network.runs["C104"] if run.size] == ["12 AWG"] * 3
    assert typed.length_m == pytest.approx(7.3152)
    assert (typed.route, typed.bundle) == (("wheelhouse", "engine-room"), "port-duct")
    assert own.size is not None
    assert (own.size.text, own.insulation_c, own.sheath) == ("4 mm2", 75.0, False)
    assert (own.label_at("from"), own.label_at("to")) == ("C105", "none")
    assert [joint.space for joint in own.joints] == ["engine-room", "lazarette"]
    runs = {run.name: run for run in network.runs["C105"]}
    assert (runs["1"].colour, runs["2"].colour, runs["orange"].colour) == ("brown", "light blue", "orange")
    assert runs["green-yellow"].size is not None
    assert runs["green-yellow"].size.text == "2.5 mm2"
    assert (runs["orange"].core.from_, runs["violet"].core.to) == ("free", "untraced")
    assert landings(network, "C105") == {
        "1": ("main/all/5:L1", "pump:L1"),
        "2": ("main/all:N", "pump:N"),
        "green-yellow": ("main/all:PE", "pump:PE"),
    }
    # Its type fills in what a cable does not say of a core.
    merged = dict(vessel.cores_of(vessel.cables["C106"]))
    assert (merged["white"].from_, merged["white"].to, merged["black"].to) == ("N", "free", "L1")
    assert vessel.cables["C106"].label_at("to") == "none"


def test_a_branch_circuit_is_short_to_write() -> None:
    text = (RECORDS / "08-cables/vessel.yaml").read_text().splitlines()
    of = record("08-cables").places.of
    way = of("ways", "main/all/5").line - of("ways", "main/all/4").line
    cable = of("cables", "C105").line - of("cables", "C104").line
    assert text[of("cables", "C104").line - 1].startswith("  C104: {")
    assert way + cable <= 8


def test_loads() -> None:
    vessel, network = loaded("09-loads")
    loads = vessel.loads
    assert (loads["heater"].power_w, loads["heater"].power_factor) == (1500.0, 1.0)
    assert loads["heater"].only_from == ("shore", "generator")
    cooler = loads["air-conditioner"]
    assert (cooler.apparent_va, cooler.power_factor, cooler.inrush_a, cooler.duty) == (2400.0, 0.85, 60.0, "continuous")
    assert cooler.motor
    assert vessel.systems["ac"].volts(cooler.poles) == 240.0
    assert loads["range"].power_w == Pairs((("L1-L2", 6000.0), ("L1-N", 120.0)))
    pump = loads["bilge-pump"]
    assert (pump.current_a, pump.essential, pump.duty) == (9.0, True, "intermittent")
    assert loads["lamp"].double_insulated
    assert (loads["unknown-box"].system, loads["unknown-box"].power_w) == (None, None)
    outlets = loads["galley-outlets"]
    assert isinstance(outlets, Receptacles)
    assert (outlets.sockets, outlets.wet, outlets.residual_a) == (4, True, 0.005)
    assert [t.pole for t in network.terminals if t.place == "range"] == ["L1", "L2", "N", "PE"]


def test_earthing() -> None:
    vessel, network = loaded("10-earthing")
    duties = {key: found.duty for key, found in vessel.devices.items() if isinstance(found, EarthPoint)}
    assert duties == {"earth-bar": "earth-bar", "engine": "engine-block", "hull-plate": "ground-plate", "zinc": "zinc"}
    assert vessel.about.hull == "glass-reinforced-plastic"
    assert landings(network, "E2") == {"green": ("earth-bar:PE", "engine:PE")}
    assert landings(network, "E3") == {"black": ("start:DC-", "engine:PE")}


def test_conditions() -> None:
    conditions = loaded("11-conditions")[0].conditions
    assert len(conditions) == 6
    winter = conditions["alongside-winter"]
    assert winter.running == ("shore", "inverter")
    assert winter.positions.get("source-selector") == "shore"
    demand = dict(winter.demand)
    assert (demand["cabin-heat"].factor, demand["cabin-heat"].hours_s) == (0.6, 18 * 3600.0)
    assert (demand["lights"].factor, demand["lights"].hours_s) == (0.5, None)
    assert dict(conditions["charging"].demand)["lights"].hours_s == 5400.0
    assert conditions["charging"].charging == Pairs((("inverter", "absorption"),))
    assert [key for key, _ in conditions["charging"].shares] == ["lights", "inverter"]
    assert conditions["laid-up"].running == ()
    dinner = dict(conditions["alongside-for-dinner"].demand)
    assert conditions["alongside-for-dinner"].published == ("lighting",)
    assert (dinner["cabin-heat"].published, dinner["windlass"].hours_s) == (True, 300.0)
    (day,) = loaded("11-conditions")[0].days.values()
    assert [(part.condition, part.time_s / 3600) for part in day.parts] == [
        ("alongside-winter", 9.0),
        ("charging", 1.5),
        ("alongside-winter", 13.5),
    ]
    assert conditions["laid-up"].demand == Pairs()


def test_evidence() -> None:
    vessel, _ = loaded("12-evidence")
    hows = {key: found.evidence.how for key, found in vessel.devices.items() if found.evidence is not None}
    assert hows == {key: key for key in ("assumed", "documented", "labelled", "measured", "traced")}
    measured, documented = vessel.devices["measured"].evidence, vessel.devices["documented"].evidence
    assert measured is not None
    assert documented is not None
    assert (measured.by, measured.when) == ("technician", datetime.date(2026, 3, 14))
    assert documented.when == datetime.date(2024, 2, 29)
    behind = vessel.devices["behind-panel"]
    assert behind.evidence is None
    assert behind.note == "Three screws, the lower one is stripped.\nBring a second pair of hands.\n"
    assert behind.photos == ("photos/behind-panel.jpg", "photos/lid off (2).jpg")


def test_mistakes_and_ignorance() -> None:
    vessel, network = loaded("13-as-found")
    assert landings(network, "C1")["white"] == ("main/shore:N", "microwave:N")
    assert landings(network, "C1")["black"] == ("main/inverter/3:L1", "microwave:L1")
    assert vessel.cables["C1"].length_m is None
    assert landings(network, "C2") == {
        "black": ("main/inverter/5:L1", "kettle:N"),
        "white": ("main/inverter:N", "kettle:L1"),
        "green": ("main/inverter:PE", "kettle:PE"),
    }
    assert landings(network, "C3")["red"] == ("main/inverter/6:L1", "chart-light:DC+")
    assert vessel.cables["C3"].size is None
    # A core whose far end nobody knows is still a conductor that hangs on its near end.
    untraced = landings(network, "C4")
    assert untraced["black"] == ("main/shore/1:L1", "C4 black at its to end")
    assert network.terminals[network.index["C4", OPEN_END + "black at its to end"]].pole == OPEN_END
    assert "green" not in untraced
    assert "green" not in landings(network, "C5")


@pytest.mark.parametrize(
    ("written", "one", "two"),
    [
        ("N", "main/inverter:N", "lamp:N"),
        ('{from: "main/shore:N"}', "main/shore:N", "lamp:N"),  # one odd end is enough to say
        ('{to: "main/shore:N"}', "main/inverter:N", "main/shore:N"),
        ("{from: N}", "main/inverter:N", "lamp:N"),
        ("{to: L1}", "main/inverter/3:L1", "lamp:L1"),
        ('{from: "main/shore:N", to: L1}', "main/shore:N", "lamp:L1"),
        ("{from: N, to: free}", "main/inverter:N", "C white at its to end"),
    ],
)
@pytest.mark.parametrize("kind", ["", "type: two-core, "])
def test_where_a_core_lands(written: str, one: str, two: str, kind: str) -> None:
    text = f"""
vessel: {{record: 1, name: X, practice: north-american}}
systems: {{ac: {{kind: ac-single-phase, voltage: 120 V}}}}
panels: {{main: {{system: ac, sections: {{shore: {{}}, inverter: {{ways: {{"3": {{poles: [L1]}}}}}}}}}}}}
loads: {{lamp: {{system: ac}}}}
cable_types: {{two-core: {{cores: {{white: N}}}}}}
cables: {{C: {{{kind}from: main/inverter/3, to: lamp, cores: {{white: {written}}}}}}}
"""
    found = read({"vessel.yaml": text.encode()}).vessel
    assert found is not None
    network = compile_network(found)
    assert network.unlanded == ()
    if not (kind and written == "{to: L1}"):  # its type says N for the other end
        assert landings(network, "C") == {"white": (one, two)}
    else:
        assert landings(network, "C") == {"white": ("main/inverter:N", "lamp:L1")}


def test_renamed_entries() -> None:
    vessel, _ = loaded("14-renamed")
    assert vessel.loads["heater"].formerly == ("water-heater", "boiler")
    assert vessel.cables["C104"].formerly == ("C17",)
    assert vessel.ways["main/all/7"][2].formerly == ("3", "main/bus/4")
    assert vessel.sections["main/all"][1].formerly == ("main/bus",)
    assert vessel.systems["ac"].formerly == ("ac-main-system",)


def test_what_is_accepted_for_a_while() -> None:
    vessel, _ = loaded("15-accepted")
    kept, one = vessel.concessions["main-2-empty"], vessel.concessions["one-finding"]
    assert (kept.rule, kept.items, kept.fingerprint, kept.mitigation) == ("unused-id", ("main/all/2",), None, None)
    assert (kept.accepted_by, kept.date, kept.until) == (
        "surveyor",
        datetime.date(2026, 3, 14),
        datetime.date(2027, 3, 14),
    )
    covered = kept.covers.get("0123456789012345")
    assert (covered.signal_word, covered.measure) == ("WARNING", 1.25)
    assert kept.covers.get("3fa94c01d27be865").measure is None
    assert (one.rule, one.items, one.fingerprint) == (None, (), "0123456789012345")
    assert one.reason == "Two lines of reasons,\nthe second one longer.\n"
    assert one.mitigation is not None
    assert (one.mitigation.open, one.mitigation.locked.get("source-selector")) == (("main/all/2",), "shore")
    assert one.mitigation.measures == "Padlocked; key with the engineer."
