"""The published rows through the whole pipeline: written record, network, rules, sizing; no figure taken on the way."""

from __future__ import annotations

from typing import Any

import pytest

from vesselspec.physics.conductors.sizing import carries
from vesselspec.rules import Boat, survey
from vesselspec.rules.carrying import loaded_cores
from vesselspec.rules.protection import protections
from vesselspec.rules.sizing import case_of
from vesselspec.units import parse_size

from .helpers import HERE, boat_of, load

FACTS = {fact["id"]: fact for fact in load(HERE.parent / "data" / "reference" / "ampacity.yaml")["facts"]}
PRINTED = FACTS["boat_cable_105C_bundle_table"]["rows"]
#: Cables in the bundle, and poles of each: 2, 3, 6 and 8 loaded conductors.
BUNDLES = {"n2": (1, 1), "n3": (1, 2), "n4_6": (3, 1), "n7_24": (4, 1)}


def _boat(awg: str, column: str, *, rating_a: float = 15.0, amps: float = 1.0, ambient: str = "") -> Boat:
    """Circuits of one size in one bundle, which pass the engine space where the column is of its inside."""
    bundle, _, place = column.rpartition("_")
    cables, lines = BUNDLES[bundle]
    poles, cores = ("[L1]", "{black: L1, white: N, green: PE}") if lines == 1 else (
        "[L1, L2]", "{black: L1, red: L2, white: N, green: PE}")  # fmt: skip
    power = f"{{L1-N: {amps * 120:g} W}}" if lines == 1 else f"{{L1-N: {amps * 120:g} W, L2-N: {amps * 120:g} W}}"
    text = [
        f"spaces: {{here: {{engine_space: {str(place == 'in').lower()}{ambient}}}}}",
        "systems: {ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}}",
        "devices: {set: {kind: generator, system: ac, rating: 1000 A, neutral_earth_bond: true}}",
        "bundles: {duct: {}}",
        "panels:",
        "  box: {system: ac, sections: {a: {ways: {",
        *(f'    "{n}": {{poles: {poles}, rating: {rating_a:g} A}},' for n in range(cables)),
        "  }}}}",
        "loads:",
        *(f"  heater-{n}: {{system: ac, poles: {poles[:-1]}, N], power: {power}}}" for n in range(cables)),
        "cables:",
        "  supply: {from: set, to: box/a, size: 4/0 AWG, insulation: 105 degC, length: 0.1 m, route: [here],",
        "           cores: {black: L1, red: L2, white: N, green: PE}}",
        *(
            f"  X{n}: {{from: box/a/{n}, to: heater-{n}, size: {awg} AWG, insulation: 105 degC, length: 1 m,"
            f" sheath: true, route: [here], bundle: duct, cores: {cores}}}"
            for n in range(cables)
        ),
        "conditions:",
        f"  alongside: {{running: [set], demand: {{{', '.join(f'heater-{n}: 1' for n in range(cables))}}}}}",
    ]
    return boat_of("\n".join(text), "bare")


COLUMNS = [column for column in PRINTED[0] if column != "awg"]


@pytest.mark.parametrize("column", COLUMNS)
@pytest.mark.parametrize("row", PRINTED, ids=lambda row: str(row["awg"]))
def test_every_printed_cell_is_what_the_rules_judge_by(row: dict[str, Any], column: str) -> None:
    """ABYC E-11 Table VI A-D, 105 °C, as reprinted, within its printed rounding."""
    boat = _boat(str(row["awg"]), column)
    held = [each for each in protections(boat) if each.cable == "X0"]
    flowing = [each for each in loaded_cores(boat) if each.run.cable.id == "X0"]
    assert held
    assert flowing
    case = case_of(boat, "X0")
    assert case is not None
    sized = carries(case.circuit, parse_size(f"{row['awg']} AWG"))
    for each in (*(guarded.carries for guarded in held), *(loaded.carries for loaded in flowing), sized):
        assert each is not None
        assert each.low_a == each.high_a == pytest.approx(row[column], abs=0.16)


@pytest.mark.parametrize("column", COLUMNS)
@pytest.mark.parametrize("awg", ["14", "6"])
def test_a_load_or_device_a_little_above_the_cell_is_found_and_one_below_is_not(awg: str, column: str) -> None:
    """33 CFR 183.455(c) allows a device up to the ampacity, or the next standard size up at 50 V and more."""
    cell = next(row for row in PRINTED if str(row["awg"]) == awg)[column]
    above = {finding.rule for finding in survey(_boat(awg, column, rating_a=1.6 * cell, amps=1.02 * cell)).findings}
    below = {finding.rule for finding in survey(_boat(awg, column, rating_a=0.95 * cell, amps=0.95 * cell)).findings}
    assert {"conductor-overloaded", "device-above-ampacity"} <= above
    assert not {"conductor-overloaded", "device-above-ampacity"} & below


def test_a_hot_place_that_is_no_engine_space_is_judged_by_its_temperature() -> None:
    """NFPA 70 Table 310.15(B)(1): 0.82 at 46-50 °C for 90 °C insulation, here 105 °C (errs low)."""
    boat = _boat("10", "n2_out", ambient=", ambient: 48 degC")
    found = [each.carries.low_a for each in protections(boat) if each.cable == "X0" and each.carries]
    assert found == [pytest.approx(60 * 0.82)]
