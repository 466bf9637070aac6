"""A change that harms nothing near it: a load in one panel overloads the neutral of a feeder three panels away."""

from __future__ import annotations

from tests.changes.boats import side
from vesselspec.changes import review
from vesselspec.record import read
from vesselspec.report.review_json import review_json

BEFORE = """
vessel: {record: 1, name: Far harm, practice: north-american}
spaces: {saloon: {}}
systems: {ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}}
cable_types:
  feeder: {size: 6 AWG, insulation: 105 degC, sheath: true, cores: {black: L1, red: L2, white: N, green: PE}}
  branch: {size: 10 AWG, insulation: 105 degC, sheath: true, cores: {black: L1, white: N, green: PE}}
  branch-2: {size: 10 AWG, insulation: 105 degC, sheath: true, cores: {red: L2, white: N, green: PE}}
devices:
  set: {kind: generator, system: ac, rating: 50 A, neutral_earth_bond: true, space: saloon,
        sustained_fault_current: 150 A, subtransient_reactance: 12 %, apparent_power: 12 kVA}
  at-set: {kind: breaker, system: ac, poles: [L1, L2], rating: 50 A, interrupting: 10 kA, space: saloon}
panels:
  one: {space: saloon, system: ac, sections: {a: {ways: {
    m: {poles: [L1, L2], rating: 50 A, interrupting: 10 kA, duty: main},
    "1": {poles: [L1, L2], rating: 50 A, interrupting: 10 kA}, "2": {poles: [L2], rating: 20 A, interrupting: 10 kA}}}}}
  two: {space: saloon, system: ac, sections: {a: {ways: {
    m: {poles: [L1, L2], rating: 50 A, interrupting: 10 kA, duty: main},
    "1": {poles: [L1, L2], rating: 50 A, interrupting: 10 kA}}}}}
  three: {space: saloon, system: ac, sections: {a: {ways: {
    m: {poles: [L1, L2], rating: 50 A, interrupting: 10 kA, duty: main},
    "1": {poles: [L1], rating: 20 A, interrupting: 10 kA},
    "2": {poles: [L2], rating: 20 A, interrupting: 10 kA},
    "3": {poles: [L1], rating: 30 A, interrupting: 10 kA, label: Spare, spare: true}}}}}
loads:
  heater: {system: ac, poles: [L1, N], power: 1800 W, use: space-heating, space: saloon, only_from: [generator]}
  boiler: {system: ac, poles: [L2, N], power: 1800 W, use: water-heating, space: saloon, only_from: [generator]}
  lamps: {system: ac, poles: [L2, N], power: 120 W, use: lighting, space: saloon}
cables:
  F0: {type: feeder, from: set, to: at-set/line, length: 0.5 m, route: [saloon], label: F0}
  F1: {type: feeder, from: at-set/load, to: one/a/m, length: 2 m, route: [saloon], label: F1,
       cores: {white: {size: 16 AWG}}}
  F2: {type: feeder, from: one/a/1, to: two/a/m, length: 2 m, route: [saloon], label: F2}
  F3: {type: feeder, from: two/a/1, to: three/a/m, length: 2 m, route: [saloon], label: F3}
  C1: {type: branch, from: three/a/1, to: heater, length: 2 m, route: [saloon], label: C1}
  C2: {type: branch-2, from: three/a/2, to: boiler, length: 2 m, route: [saloon], label: C2}
  C3: {type: branch-2, from: one/a/2, to: lamps, length: 2 m, route: [saloon], label: C3}
conditions: {now: {running: [set], demand: {heater: 1, boiler: 1, lamps: 1}}}
"""
AFTER = (
    BEFORE.replace("label: Spare, spare: true", "label: Oven")
    .replace("loads:\n", "loads:\n  oven: {system: ac, poles: [L1, N], power: 2600 W, use: cooking, space: saloon}\n")
    .replace(
        "cables:\n",
        "cables:\n  C4: {type: branch, from: three/a/3, to: oven, length: 2 m, route: [saloon], label: C4}\n",
    )
    .replace("lamps: 1}", "lamps: 1, oven: 1}")
)


def test_the_only_harm_is_a_neutral_three_panels_away() -> None:
    """2600 W at 120 V on L1 alone, less the 1 A of the lamps on L2: about 21 A in a 16 AWG neutral.

    33 CFR 183.425 Table 5: 16 AWG at 105 °C carries 25 A, times 0.7 for three loaded conductors (note 2): 17.5 A.
    """
    before, after = (side("state", read({"vessel.yaml": text.encode()})) for text in (BEFORE, AFTER))
    assert (before.problems, after.problems) == ((), ())
    found = review(before, after)
    assert [(f.rule, f.signal_word, f.items[0]) for f in found.new] == [("neutral-overloaded", "WARNING", "F1")]
    assert "17.5 A" in found.new[0].message
    currents = {(e["cable"], e["pole"]): e for e in review_json(found)["effects"]["currents"]}
    assert currents["F1", "N"]["before_a"] < 2 < 20 < currents["F1", "N"]["after_a"]
    assert ("C1", "L1") not in currents, "what the change does not touch is not listed"
