"""Sizing against printed figures: every row of Table 5, and worked examples with their sources."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from vesselspec.physics.conductors.ampacity import ampacity
from vesselspec.physics.conductors.drop import (
    Limit,
    branch_limit,
    conductor,
    dc_limit,
    feeder_limit,
    formula,
    is_strict,
    total_limit,
)
from vesselspec.physics.conductors.sizing import Circuit, drop_v, size_circuit
from vesselspec.standards import PRACTICES, figure, standard_ratings
from vesselspec.units import awg_area_mm2, parse_size

from .records import boat_of

REFERENCE = Path(__file__).parents[1] / "data" / "reference"
EXAMPLES: dict[str, dict[str, Any]] = {
    each["id"]: each
    for each in YAML(typ="safe").load((REFERENCE / "sizing.yaml").read_text(encoding="utf-8"))["examples"]
}
FACTS = {
    fact["id"]: fact
    for fact in YAML(typ="safe").load((REFERENCE / "ampacity.yaml").read_text(encoding="utf-8"))["facts"]
}
TABLE_5 = FACTS["cfr33_183_425_table5"]["rows"]
NOTE_1 = FACTS["cfr33_table5_note1_engine_space"]["factors"]
COLUMNS = ("t60", "t75", "t80", "t90", "t105", "t125", "t200")
FT = 0.3048
CMIL_MM2 = 0.0005067075  # a circular mil, by definition


def circuit(**more: Any) -> Circuit:
    """A 12 V circuit of which everything is known."""
    given: dict[str, Any] = {
        "practice": "north-american", "dc": True, "volts": 12.0, "line_v": 12.0, "between": ("DC+", "DC-"),
        "amps": 10.0, "insulation_c": 105.0, "engine_space": False, "loaded": 2, "sheath": True, "continuous": False,
    }  # fmt: skip
    return Circuit(**{**given, **more})


def by(found_in: Circuit, criterion: str) -> str | None:
    """The size that one criterion asks for."""
    found = next(each for each in size_circuit(found_in).criteria if each.id == criterion)
    return None if found.size is None else found.size.text


@pytest.mark.parametrize(("number", "column"), list(product(range(len(TABLE_5)), COLUMNS)))
def test_every_cell_of_table_5(number: int, column: str) -> None:
    """33 CFR 183.425 Table 5: the printed current takes that size, a little more the next one."""
    row, amps, insulation = TABLE_5[number], float(TABLE_5[number][column]), float(column[1:])
    for volts, between in ((12.0, ("DC+", "DC-")), (120.0, ("L1", "N"))):
        alone = circuit(dc=volts < 50, volts=volts, line_v=volts, between=between, insulation_c=insulation)
        asked = Circuit(**{**alone.__dict__, "amps": amps})
        assert by(asked, "ampacity") == f"{row['awg']} AWG"
        hot = Circuit(**{**alone.__dict__, "amps": amps * NOTE_1[column], "engine_space": True})
        assert by(hot, "ampacity") == f"{row['awg']} AWG"
        more = Circuit(**{**alone.__dict__, "amps": amps * 1.001})
        after = f"{TABLE_5[number + 1]['awg']} AWG" if number + 1 < len(TABLE_5) else None
        assert by(more, "ampacity") == after


@pytest.mark.parametrize("name", ["dc_drop_boat_pump", "dc_drop_boat_pump_10_percent"])
def test_boat_formula(name: str) -> None:
    """ABYC E-11 formula, CM = K·I·L/E, published worked question."""
    given, expected = EXAMPLES[name]["inputs"], EXAMPLES[name]["expected"]
    lost = given["system_V"] * given["drop_percent"] / 100
    rho = formula("north-american", dc=True).rho
    area = rho * given["current_A"] * given["length_total_ft"] * FT / lost
    assert area / CMIL_MM2 == pytest.approx(expected["cm_computed"]["value"], abs=expected["cm_computed"]["tol"] + 0.05)
    limit = dc_limit("north-american", strict=given["drop_percent"] == 3)
    pump = circuit(amps=given["current_A"], length_m=given["length_total_ft"] * FT / 2, limits=(limit,))
    assert by(pump, "voltage-drop") == expected["awg_choice"]
    steps = next(each for each in size_circuit(pump).criteria if each.id == "voltage-drop").steps
    assert any("hot tinned strands" in step.text for step in steps), "the other figure is named"


def test_building_formula() -> None:
    """NEC K method, licence-exam study page: 20 A over 100 ft of 12 AWG and of 8 AWG."""
    given, expected = EXAMPLES["ac_drop_12awg"]["inputs"], EXAMPLES["ac_drop_12awg"]["expected"]
    asked = circuit(dc=False, volts=120.0, line_v=120.0, between=("L1", "N"), amps=given["current_A"],
                    length_m=given["length_one_way_ft"] * FT, frequency_hz=60.0)  # fmt: skip
    for gauge in ("12", "8"):
        lost = drop_v(asked, parse_size(f"{gauge} AWG"))
        assert lost is not None
        assert lost[0] == pytest.approx(expected[f"drop_{gauge}_V"]["value"], abs=0.05)
        assert lost[0] / 120 * 100 == pytest.approx(expected[f"drop_{gauge}_percent"]["value"], abs=0.05)


def test_area_for_a_drop() -> None:
    """Lessons In Electric Circuits: 2/0 AWG holds the drop and 1/0 AWG does not, with the boat's K as with its own."""
    given, expected = (EXAMPLES["dc_drop_max_wire_resistance"][key] for key in ("inputs", "expected"))
    limit = Limit(10 / 230, "as asked for", "", from_memory=False, recommendation=False)
    asked = circuit(volts=230.0, line_v=230.0, amps=given["current_A"],
                    length_m=given["wire_length_each_ft"] * FT, limits=(limit,))  # fmt: skip
    assert by(asked, "voltage-drop") == expected["smallest_awg"]
    small = drop_v(asked, parse_size(expected["too_small_awg"]))
    assert small is not None
    assert small[0] > 10
    area = given["rho_ohm_cmil_ft"] * given["wire_length_each_ft"] / 0.2
    assert area == pytest.approx(expected["area_cmil"]["value"], abs=1e-6)


def test_ambient_of_buildings_is_not_that_of_boats() -> None:
    """NEC worked line: 22 A at 40 °C; the boat's own table has 25 A outside and 18.75 A inside an engine space."""
    expected = EXAMPLES["nec_ambient_12awg"]["expected"]["ampacity_A"]["value"]
    row = next(row for row in figure("nec_310_16_copper").data["rows"] if row["awg"] == "12")
    band = next(row for row in figure("nec_ambient_correction_30C").data["rows"] if row["ambient_C"] == "36-40")
    assert row["t75"] * band["t75"] == pytest.approx(expected)
    boat = [
        ampacity(size=parse_size("12 AWG"), insulation_c=75, in_engine_space=space, loaded_conductors=2, voltage_v=120,
                 practice="north-american")
        for space in (False, True)
    ]  # fmt: skip
    assert [found.low_a for found in boat if found is not None] == [25, 18.75]


def test_next_standard_size() -> None:
    """NEC 240.4(B), 240.6(A), public worked line: 115 A lies between 110 A and 125 A."""
    expected = EXAMPLES["nec_next_size"]["expected"]
    ratings = standard_ratings().amps
    assert next(r for r in ratings if r >= 115) == expected["next_up_A"]["value"]
    assert max(r for r in ratings if r <= 115) == expected["round_down_A"]["value"]
    assert size_circuit(circuit(amps=115)).device_a == 125


def test_area_of_a_gauge() -> None:
    """OpenStax: 12 AWG from a diameter rounded to 2.053 mm."""
    import math

    expected = EXAMPLES["awg12_area"]["expected"]["area_mm2"]
    assert math.pi / 4 * 2.053**2 == pytest.approx(expected["value"], abs=expected["tol"])
    assert awg_area_mm2("12") == pytest.approx(expected["value"], abs=0.0015)


def test_three_wire_drop_in_a_condition() -> None:
    """National examination, 104 V a side: 101 V and 104 V arrive, as solved for a record of the same figures."""
    expected = EXAMPLES["ac_three_wire_drop"]["expected"]
    size = parse_size("14 AWG")
    made = conductor(size, 1.0, "north-american", frequency_hz=None)
    assert made is not None
    length = 0.1 / made.hot_r  # every wire 0.1 ohm
    cores = {"black": "L1", "red": "L2", "white": "N"}
    raw = {
        "vessel": {"record": 1, "name": "Examination", "practice": "north-american"},
        "systems": {"ac": {"kind": "ac-split-phase", "voltage": "104/208 V"}},
        "devices": {
            "source": {"kind": "generator", "system": "ac", "rating": "50 A"},
            "box": {"kind": "junction", "system": "ac"},
        },
        "loads": {
            "ab": {"system": "ac", "poles": ["L1", "N"], "power": "2121 W", "use": "water-heating"},
            "bc": {"system": "ac", "poles": ["L2", "N"], "power": "1040 W", "use": "water-heating"},
        },
        "cables": {
            "feed": {"from": "source", "to": "box", "size": "14 AWG", "length": f"{length:.9f} m", "cores": cores},
            "one": {"from": "box", "to": "ab", "size": "14 AWG", "cores": {"black": "L1", "white": "N"}},
            "two": {"from": "box", "to": "bc", "size": "14 AWG", "cores": {"red": "L2", "white": "N"}},
        },
        "conditions": {"on": {"running": ["source"], "demand": {"ab": 1.0, "bc": 1.0}}},
    }
    # A resistance that draws 20 A at 101 V takes 104² / 101 × 20 = 2141.8 W at 104 V, the other 1040 W.
    raw["loads"]["ab"]["power"] = f"{104**2 / 101 * 20:.4f} W"  # type: ignore[index]
    flow = boat_of(raw).flows["on"]
    volts = {each.load: each.volts for each in flow.loads}
    assert volts["ab"] == pytest.approx(expected["v_ab_V"]["value"], abs=1e-3)
    assert volts["bc"] == pytest.approx(expected["v_bc_V"]["value"], abs=1e-3)


def test_limits_are_the_printed_rows() -> None:
    """Each limit is one of the published rows, whatever practice and use."""
    printed = {(row["limit_percent"], row["source"]) for row in FACTS["voltage_drop_limits"]["rows"]}
    from vesselspec.model.items import USES

    for practice, dc, use in product(PRACTICES, (True, False), (*USES, None)):
        limits = [branch_limit(practice, dc=dc), feeder_limit(practice, dc=dc)]
        limits += [total_limit(practice, dc=dc, use=use, essential=essential) for essential in (False, True)]
        for limit in limits:
            if limit is not None:
                assert (round(limit.ratio * 100, 9), limit.source) in printed


@pytest.mark.parametrize(
    ("practice", "use", "expected"),
    [
        ("north-american", "navigation-lights", 0.03), ("north-american", "bilge-pump", 0.03),
        ("north-american", "bilge-blower", 0.03), ("north-american", "electronics", 0.03),
        ("north-american", "lighting", 0.10), ("north-american", "windlass", 0.10),
        ("international", "navigation-lights", 0.03), ("international", "bilge-pump", 0.03),
        ("international", "lighting", 0.10), ("international", "electronics", 0.10),
    ],
)  # fmt: skip
def test_class_of_a_load(practice: str, use: str, expected: float) -> None:
    limit = total_limit(practice, dc=True, use=use)
    assert limit is not None
    assert limit.ratio == expected
    assert limit.binding is not (practice == "international" and expected == 0.10)
    contradicted = (practice, use) in {("international", "electronics"), ("north-american", "bilge-pump")}
    assert bool(limit.beside) is contradicted
    assert is_strict(practice, None) is None
    assert is_strict(practice, None, essential=True) is True


def test_ac_limits_are_recommendations() -> None:
    for practice in PRACTICES:
        limit = total_limit(practice, dc=False, use="cooking")
        assert limit is not None
        assert limit.recommendation
        assert not limit.binding
    branch = branch_limit("north-american", dc=False)
    assert branch is not None
    assert branch.ratio == 0.03


def test_earth_conductor() -> None:
    """NFPA 70 Table 250.122, and ABYC E-8.14.10: as large as the lines up to 30 A, one size less above."""
    ac = {"dc": False, "volts": 120.0, "line_v": 120.0, "between": ("L1", "N"), "loaded": 2}
    small = size_circuit(circuit(**ac, amps=12))
    assert (small.device_a, small.earth) == (15, parse_size("14 AWG"))
    large = size_circuit(circuit(**ac, amps=50))
    assert large.device_a == 50
    assert large.size == parse_size("10 AWG")  # 60 A at 105 °C
    assert large.earth == parse_size("10 AWG")  # 250.122: 10 AWG up to 60 A; ABYC would take 12 AWG
    assert any("disagree" in step.text for step in large.earth_steps)
    assert size_circuit(circuit()).earth is None


def test_continuous_load_takes_a_larger_device() -> None:
    """NFPA 70 210.20(A): 125 % of a continuous load."""
    assert size_circuit(circuit(amps=12, continuous=False)).device_a == 15
    assert size_circuit(circuit(amps=12.1, continuous=True)).device_a == 20
    assert size_circuit(circuit(amps=12.1, continuous=None)).device_a == 20, "the safe side"
    international = circuit(practice="international", amps=12.1, continuous=True, metric=True)
    assert size_circuit(international).device_a == 15, "no figure of that practice was read"


def test_least_sizes() -> None:
    """33 CFR 183.425(d),(e): 16 AWG by itself, 18 AWG in a sheath; ISO 10133 7.x: 1 mm² and 0.75 mm²."""
    for practice, bare, sheathed in (("north-american", "16 AWG", "18 AWG"), ("international", "1 mm2", "0.75 mm2")):
        metric = practice == "international"
        for sheath, expected in ((False, bare), (None, bare), (True, sheathed)):
            asked = circuit(practice=practice, amps=0.5, sheath=sheath, metric=metric)
            assert by(asked, "least-size") == expected
            assert size_circuit(asked).size == parse_size(expected)


def test_unknown_inputs_are_named_and_on_the_safe_side() -> None:
    known = size_circuit(circuit(amps=18, length_m=1.0, limits=(dc_limit("north-american", strict=False),)))
    assert not known.unknown
    blank = size_circuit(
        circuit(amps=18, insulation_c=None, engine_space=None, sheath=None, continuous=None, length_m=None)
    )
    assert blank.size is not None
    assert known.size is not None
    assert blank.best is not None
    assert blank.size > known.size
    assert blank.best <= known.size
    text = " ".join(blank.unknown)
    for word in ("insulation", "engine space", "sheath", "3 h", "length"):
        assert word in text
    assert text.count("safe side") == 4
    nothing = size_circuit(circuit(amps=None))
    assert (nothing.size, nothing.device_a) == (None, None)
    assert "load current" in nothing.unknown


def test_from_memory_is_said() -> None:
    assert size_circuit(circuit(practice="international", metric=True)).from_memory
    assert not size_circuit(circuit()).from_memory
