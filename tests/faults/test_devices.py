"""Devices held to the faults of small boats: what flows through each, opening in time, conductors, ABYC's table."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from vesselspec.model.items import System
from vesselspec.physics.faults.devices import DeviceChecks, EarthFault, Through, devices_of
from vesselspec.physics.faults.tables import asked_by_service, asked_by_table
from vesselspec.physics.faults.tripping import Band, band_of_breaker, in_series

from .boats import BANK, SHORE, boat, checks

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "tripping.yaml"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
}

#: Two banks, each behind its own fuse, on one busbar; a third fuse feeds a lamp. No conductor has any resistance.
BANKS = """
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  one: {kind: battery-bank, system: dc, short_circuit_current: 4 kA}
  two: {kind: battery-bank, system: dc, short_circuit_current: 3 kA}
  fuse-one: {kind: fuse, system: dc, rating: 200 A, mounted_on: "one:DC+"}
  fuse-two: {kind: fuse, system: dc, rating: 200 A, mounted_on: "two:DC+"}
  bar: {kind: busbar, system: dc}
  lamp-fuse: {kind: fuse, system: dc, rating: 10 A, mounted_on: "bar:DC+"}
loads:
  lamp: {system: dc}
cables:
  A: {from: fuse-one/load, to: bar, size: 240 mm2, length: 1 mm, cores: {red: DC+}}
  B: {from: fuse-two/load, to: bar, size: 240 mm2, length: 1 mm, cores: {red: DC+}}
  C: {from: one, to: bar, size: 240 mm2, length: 1 mm, cores: {black: DC-}}
  D: {from: two, to: bar, size: 240 mm2, length: 1 mm, cores: {black: DC-}}
  E: {from: lamp-fuse/load, to: lamp, size: 1 mm2, length: 1 m, cores: {red: DC+, black: {from: "bar:DC-", to: DC-}}}
conditions:
  now: {running: []}
"""


def worst(found: DeviceChecks, device: str) -> Through:
    return max((each for each in found.through() if each.device == device), key=lambda each: each.high_a)


def test_a_fuse_breaks_what_comes_through_it_and_not_what_is_on_its_own_side() -> None:
    found = checks(BANKS)
    assert worst(found, "fuse-one").high_a == pytest.approx(4000, rel=2e-3)
    assert worst(found, "fuse-two").high_a == pytest.approx(4000, rel=2e-3)  # a fault at the bank: the other one gives
    assert worst(found, "lamp-fuse").high_a == pytest.approx(7000, rel=2e-3)


def test_the_return_of_a_fuse_in_one_conductor_is_that_of_its_source() -> None:
    found = checks(BANKS).levels.level("fuse-one/load", ("DC+", "DC-"))
    assert found is not None
    assert any("a fault to one:DC-" in step for step in found.derivation)


def test_where_two_ways_stay_closed_nothing_is_certain_of_one() -> None:
    """A second fuse beside the first: at most the whole fault flows through either, at least nothing."""
    text = BANKS.replace(
        "  bar: {", '  beside: {kind: fuse, system: dc, rating: 200 A, mounted_on: "one:DC+"}\n  bar: {'
    ).replace(
        "conditions:", "  F: {from: beside/load, to: bar, size: 240 mm2, length: 1 mm, cores: {red: DC+}}\nconditions:"
    )
    through = worst(checks(text), "beside")
    assert (through.low_a, through.high_a) == (0, pytest.approx(7000, rel=2e-3))


def earth(text: str, place: str) -> EarthFault:
    (found,) = (each for each in checks(text).earth_faults() if each.place == place)
    return found


def test_earth_faults_from_a_supply_ashore() -> None:
    found = earth(SHORE, "kettle")
    assert (found.device, found.source, found.deadline.seconds, found.verdict) == (
        "panel/main/1",
        "shore",
        0.4,
        "certain",
    )
    weak = SHORE.replace("2.5 mm2, length: 10 m", "2.5 mm2, length: 300 m")
    held = earth(weak, "kettle")
    assert held.amps is not None
    assert held.amps < 2.55 * 16
    assert held.verdict == "not"
    middle = earth(SHORE.replace("2.5 mm2, length: 10 m", "2.5 mm2, length: 80 m"), "kettle")
    assert middle.amps is not None
    assert 2.55 * 16 < middle.amps < 160
    assert middle.verdict == "undecided"


@pytest.mark.parametrize(("delay", "verdict"), [("300 ms", "certain"), ("500 ms", "undecided")])
def test_a_residual_current_device_counts_with_its_delay(delay: str, verdict: str) -> None:
    text = SHORE.replace("2.5 mm2, length: 10 m", "2.5 mm2, length: 300 m").replace(
        "duty: main,", f"duty: main, residual_current: 30 mA, delay: {delay},"
    )
    assert earth(text, "kettle").verdict == verdict


def test_no_loop_no_earth_fault() -> None:
    text = SHORE.replace("length: 10 m}\nconditions", "length: 10 m, cores: {green: spare}}\nconditions")
    assert text != SHORE
    assert not [each for each in checks(text).earth_faults() if each.place == "kettle"]


def test_nothing_is_asked_up_to_50_volts() -> None:
    assert not list(checks(BANK.replace("12 V}", "48 V}")).earth_faults())


def test_conductors_and_series() -> None:
    found = checks(SHORE)
    stood = {(each.cable, each.core): each.verdict for each in found.stood()}
    assert stood["K", "brown"] == "certain"
    assert not list(found.stood(only=frozenset()))
    (series,) = found.series()
    assert (series.device, series.upstream, series.order.verdict) == ("panel/main/1", "panel/main/0", "undecided")


def test_any_device_in_series_opens_and_all_of_them_hold() -> None:
    near, far = band_of_breaker(16, "C"), band_of_breaker(10, "B")
    both = in_series({"near": near, "far": far})
    for amps in (5, 11.3, 14.4, 14.5, 18, 23, 25.6, 30, 41, 50, 79, 81, 160, 500):
        latest = [each.seconds for band in (near, far) if (each := band.latest(amps)) is not None]
        found = both.latest(amps)
        assert (None if found is None else found.seconds) == min(latest, default=None)
        held = [band.soonest(amps) for band in (near, far)]
        together = both.soonest(amps)
        if None in held:
            assert together is None
        else:
            assert together is not None
            assert together.seconds == min(each.seconds for each in held if each is not None)
    assert in_series({"near": near}) is near
    assert in_series({"near": Band(why_none="no"), "far": near}).soonest(1) is None


def test_what_fuses_break_by_their_family() -> None:
    """UL 248-15, UL 248-12, ISO 8820-3, UL 248-11; Class T at DC is from memory."""
    text = "systems:\n  dc: {kind: dc, voltage: 12 V}\ndevices:\n" + "".join(
        f"  {family}: {{kind: fuse, system: dc, rating: 30 A, family: {family}}}\n"
        for family in ("class-t", "class-r", "blade", "plug", "strip")
    )
    found = devices_of(boat(text).vessel)
    ac = {key: each.breaks(dc=False) for key, each in found.items()}
    dc = {key: each.breaks(dc=True) for key, each in found.items()}
    amps = {key: each and (each[0], each[2]) for key, each in ac.items()}
    assert amps == {
        "class-t": (FACTS["class_t"]["ac_A"], False),
        "class-r": (FACTS["class_r_breaking"]["ac_A"], False),
        "blade": (FACTS["blade_fuse_breaking"]["breaking_capacity_A"], False),
        "plug": (FACTS["plug_fuse_breaking"]["ac_A"], False),
        "strip": None,
    }
    assert dc["class-r"] is dc["strip"] is None
    assert dc["class-t"] is not None
    assert dc["class-t"][2]


@pytest.mark.parametrize("row", FACTS["abyc_aic_dc"]["rows"], ids=lambda row: str(row["main"]))
@pytest.mark.parametrize("end", ["cca_min", "cca_max"])
def test_abyc_table_by_cranking_current(row: dict[str, Any], end: str) -> None:
    """ABYC E-11 Table V-A, every row at both ends, main and branch, 12 V and 24 V."""
    cranking = row.get(end, 1 if end == "cca_min" else 2200)
    text = BANK.replace("short_circuit_current: 2400 A", f"cold_cranking_current: {cranking} A")
    vessel, bank = boat(text).vessel, frozenset(("bank",))
    for first, word in ((True, "main"), (False, "branch")):
        for volts in (12.0, 24.0):
            asked = asked_by_table(vessel, bank, first=first, breaker=True, volts=volts)
            assert asked is not None
            assert asked.amps == row[word]
    assert asked_by_table(vessel, bank, first=True, breaker=True, volts=48.0) is None
    assert asked_by_table(vessel, bank, first=True, breaker=False, volts=12.0) is None


@pytest.mark.parametrize("row", FACTS["abyc_aic_dc_32v"]["rows"], ids=lambda row: str(row["main"]))
def test_the_rows_of_32_volts_are_from_memory(row: dict[str, Any]) -> None:
    cranking = row.get("cca_max", 2000)
    vessel = boat(BANK.replace("short_circuit_current: 2400 A", f"cold_cranking_current: {cranking} A")).vessel
    for first, word in ((True, "main"), (False, "branch")):
        asked = asked_by_table(vessel, frozenset(("bank",)), first=first, breaker=True, volts=32.0)
        assert asked is not None
        assert (asked.amps, asked.from_memory) == (row[word], True)


def _service(kind: str, volts: str) -> System:
    return boat(f"systems: {{ac: {{kind: {kind}, voltage: {volts}, frequency: 60 Hz}}}}").vessel.systems["ac"]


@pytest.mark.parametrize("row", FACTS["abyc_aic_ac"]["rows"], ids=lambda row: str(row["shore"]))
def test_abyc_table_by_shore_service(row: dict[str, Any]) -> None:
    """ABYC E-11 Table V-B, every row that was read."""
    volts, _, amps, _ = row["shore"].split()
    system = _service("ac-single-phase", f"{volts} V")
    for first, word in ((True, "main"), (False, "branch")):
        asked = asked_by_service(system, float(amps), first=first)
        assert asked is not None
        assert (asked.amps, asked.from_memory) == (row[word], False)
    assert asked_by_service(system, 20.0, first=True) is None


@pytest.mark.parametrize(
    ("kind", "volts", "amps"),
    [
        ("ac-split-phase", "120/240 V", 50.0),
        ("ac-single-phase", "240 V", 50.0),
        ("ac-three-phase", "120/208 V", 50.0),
        ("ac-split-phase", "120/240 V", 100.0),
    ],
)
def test_other_services_are_from_memory(kind: str, volts: str, amps: float) -> None:
    fact = FACTS["abyc_aic_ac_240"]
    for first, word in ((True, "main"), (False, "branch")):
        asked = asked_by_service(_service(kind, volts), amps, first=first)
        assert asked is not None
        assert (asked.amps, asked.from_memory) == (fact[word], True)


def test_large_banks_ask_their_main_device_for_more() -> None:
    """Above 2200 A cold-cranking or 500 Ah: the battery's own current, or 20 kA where that is above 10 kA."""
    for amps, wanted in ((9000, 9000.0), (10000, 10000.0), (10001, 20000.0)):
        vessel = boat(BANK.replace("2400 A}", f"{amps} A, cold_cranking_current: 900 A, capacity: 600 Ah}}")).vessel
        asked = asked_by_table(vessel, frozenset(("bank",)), first=True, breaker=False, volts=12.0)
        assert asked is not None
        assert asked.amps == wanted
