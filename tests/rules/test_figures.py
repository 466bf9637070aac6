"""Published figures through the whole pipeline: Table 5 row by row, and every colour of every function."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest

from vesselspec.model.vessel import build_vessel
from vesselspec.record import Places
from vesselspec.rules import RULES, Boat
from vesselspec.rules.book import Says, Sound
from vesselspec.standards import COLOURS, standard_ratings

from .helpers import Raw, load

REFERENCE = Path(__file__).parents[1] / "data" / "reference"
AMPACITY = {fact["id"]: fact for fact in load(REFERENCE / "ampacity.yaml")["facts"]}
PROTECTION = {fact["id"]: fact for fact in load(REFERENCE / "protection.yaml")["facts"]}
TABLE_5 = AMPACITY["cfr33_183_425_table5"]["rows"]  # 33 CFR 183.425 Table 5
NOTE_1 = AMPACITY["cfr33_table5_note1_engine_space"]["factors"]  # 33 CFR 183.425 Table 5, note 1
NOTE_2 = AMPACITY["cfr33_table5_note2_bundling"]["rows"]  # 33 CFR 183.425 Table 5, note 2
PERCENT: list[float] = [row["max_percent"] for row in PROTECTION["cfr33_183_455c_rating"]["rows"]]  # 33 CFR 183.455(c)
#: NFPA 70 240.6(A), and below 15 A what is common on boats (common practice, no source).
RATINGS: list[float] = sorted(
    {*PROTECTION["nec_240_6_A"]["values"], *(amps for amps in standard_ratings().amps if amps < 15)}
)
COLUMNS = ("t60", "t75", "t80", "t90", "t105", "t125", "t200")


def vessel_about(practice: str) -> Raw:
    """The vessel's own words."""
    return {"record": 1, "name": "Example", "practice": practice}


def largest(row: Raw, column: str, volts: int, *, engine: bool, together: int) -> float:
    """The largest device of a conductor, worked out from the printed tables alone."""
    amps = float(row[column])
    if engine:
        amps *= NOTE_1[column]
    if volts < 50:
        return amps * PERCENT[0] / 100
    amps *= next((r["factor"] for r in reversed(NOTE_2) if together >= r["count_min"]), 1.0)
    if any(abs(amps - rating) < 1e-6 for rating in RATINGS):
        return amps * PERCENT[1] / 100
    above = min(rating for rating in RATINGS if rating > amps)
    return above if above <= amps * PERCENT[2] / 100 else amps * PERCENT[1] / 100


@pytest.mark.parametrize(("volts", "engine", "bundled"), list(product((12, 120), (False, True), (False, True))))
def test_table_5(volts: int, engine: bool, bundled: bool) -> None:
    """Every row and column of Table 5: a device as large as it allows passes, one a little larger is told."""
    poles, feeder = (("DC+", "DC-"), "bank") if volts < 50 else (("L1", "N"), "shore")
    devices: Raw = {
        "bank": {"kind": "battery-bank", "system": "dc"},
        "shore": {"kind": "shore-inlet", "system": "ac"},
    }
    loads: Raw = {}
    cables: Raw = {}
    bundles: Raw = {}
    expected: dict[tuple[str, str], float] = {}
    for number, (row, column) in enumerate(product(TABLE_5, COLUMNS)):
        limit = largest(row, column, volts, engine=engine, together=4 if bundled else 2)
        for word, rating in (("at", limit), ("above", limit * 1.002)):
            key = f"{number}-{word}"
            devices[f"device-{key}"] = {
                "kind": "breaker",
                "system": "dc" if volts < 50 else "ac",
                "rating": f"{rating:.9g} A",
                "mounted_on": f"{feeder}:{poles[0]}",
            }
            loads[f"load-{key}"] = {"system": "dc" if volts < 50 else "ac", "space": "room"}
            cables[f"cable-{key}"] = {
                "from": f"device-{key}/load",
                "to": f"load-{key}",
                "size": f"{row['awg']} AWG",
                "insulation": f"{column[1:]} degC",
                "route": ["room"],
                "cores": {"black": poles[0], "white": poles[1]},
            }
            if bundled:
                bundles[f"bundle-{number}"] = {}
                cables[f"cable-{key}"]["bundle"] = f"bundle-{number}"
        expected[f"device-{number}-above", f"cable-{number}-above"] = limit
    vessel = build_vessel(
        vessel_about("north-american"),
        {
            "spaces": {"room": {"engine_space": engine}},
            "systems": {
                "dc": {"kind": "dc", "voltage": "12 V"},
                "ac": {"kind": "ac-single-phase", "voltage": "120 V"},
            },
            "devices": devices,
            "loads": loads,
            "cables": cables,
            "bundles": bundles,
        },
    )
    said = list(RULES["device-above-ampacity"].judge(Boat(vessel, Places())))
    told = {(each.items[0], each.items[1]): each for each in said if isinstance(each, Says)}
    assert len(told) == sum(isinstance(each, Says) for each in said)
    assert all(isinstance(each, Says | Sound) for each in said)
    assert told.keys() == expected.keys()
    for pair, limit in expected.items():
        said_limit = float(re.search(r"allows a device of at most ([0-9.]+) A$", told[pair].what)[1])  # type: ignore[index]
        assert said_limit == pytest.approx(limit, rel=5.001e-4)  # four digits are printed


#: What each practice gives to a conductor that is alone in its cable.
ACCEPTED: dict[str, dict[str, set[str]]] = {
    # ABYC E-8.14.12 (now E-11) and ABYC E-11 Tables XIV and XV, quoted publicly. A single line may wear the
    # colours of a first line or, where it is not the first, of a further one.
    "north-american": {
        "L1": {"black", "brown"},
        "L2": {"black", "brown", "red", "orange", "blue", "black-red", "black-blue", "black-orange"},
        "N": {"white", "light blue"},
        "PE": {"green", "green-yellow"},
        "DC+": {
            "red",
            "yellow-red",
            "brown-yellow",
            "yellow",
            "dark grey",
            "grey",
            "brown",
            "orange",
            "purple",
            "dark blue",
            "blue",
        },
        "DC-": {"black", "yellow"},
    },
    # IEC 60446 and ISO 13297 for AC, ISO 10133 for DC (its red from memory), quoted publicly.
    "international": {
        "L1": {"black", "brown"},
        "L2": {"black", "brown"},
        "L3": {"black", "brown", "grey"},
        "N": {"white", "light blue", "blue"},
        "PE": {"green", "green-yellow"},
        "DC+": {"red"},
        "DC-": {"black", "yellow"},
    },
}
STRIPED = ("green-yellow", "black-red", "black-blue", "black-orange", "yellow-red", "brown-yellow", "white-black")
EVERY_COLOUR = (*COLOURS, *STRIPED)
#: Colours that stand for something else wherever they are met: told as a warning, unless the practice is from memory.
FOREIGN = {"L1": "white", "L2": "white", "N": "black", "PE": "white", "DC+": "green", "DC-": "red"}


@pytest.mark.parametrize(("practice", "pole"), [(p, pole) for p, poles in ACCEPTED.items() for pole in poles])
def test_colours(practice: str, pole: str) -> None:
    """Each colour of a function passes alone in its cable; every other colour is told."""
    kinds = {"dc": ("dc", "12 V"), "ac-split-phase": ("ac", "120/240 V"), "ac-three-phase": ("ac", "230/400 V")}
    kind = "dc" if pole.startswith("DC") else "ac-three-phase" if pole == "L3" else "ac-split-phase"
    box = {"kind": "junction", "system": "it"}
    vessel = build_vessel(
        vessel_about(practice),
        {
            "systems": {"it": {"kind": kind, "voltage": kinds[kind][1]}},
            "devices": {"one": box, "two": box},
            "cables": {
                f"cable-{colour.replace(' ', '.')}": {
                    "from": "one",
                    "to": "two",
                    "cores": {"core": {"from": pole, "to": pole, "colour": colour}},
                }
                for colour in EVERY_COLOUR
            },
        },
    )
    said = list(RULES["core-colour-contradicts"].judge(Boat(vessel, Places())))
    told = {each.items[0].removeprefix("cable-").replace(".", " "): each for each in said if isinstance(each, Says)}
    assert set(EVERY_COLOUR) - told.keys() == ACCEPTED[practice][pole]
    if pole in FOREIGN:
        foreign = told[FOREIGN[pole]]
        assert "stands for" in foreign.what
        memory = practice == "international" and pole == "DC+"
        assert foreign.signal_word == ("CAUTION" if memory else "WARNING")
    assert told["turquoise"].signal_word == "NOTICE"
