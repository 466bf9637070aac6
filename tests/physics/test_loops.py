"""Converters that feed each other: the ring is named in order, and the rest of the condition is solved."""

from __future__ import annotations

import pytest

from .test_charging import gives
from .test_flow import solved, volts

#: A bank, its inverter, and a charger on the inverter's output; a lamp that has nothing to do with it.
OWN = """
devices:
  bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  inv: {kind: inverter, system: split, poles: [L1, N], dc_system: dc, efficiency: 0.9, idle_power: 0 W}
  unit: {kind: charger, system: split, poles: [L1, N], dc_system: dc, charge_current: 40 A, efficiency: 0.8}
loads:
  kettle: {system: split, poles: [L1, N], power: 900 W, use: cooking}
  lamp: {system: dc, current: 5 A, use: space-heating}
cables:
  a: {from: bank, to: inv/dc, cores: {red: DC+, yellow: DC-}}
  b: {from: inv/ac, to: unit/ac, cores: {black: L1, white: N, green: PE}}
  c: {from: inv/ac, to: kettle, cores: {black: L1, white: N, green: PE}}
  d: {from: unit/dc, to: bank, cores: {red: DC+, yellow: DC-}}
  e: {from: bank, to: lamp, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [inv, unit], demand: {kettle: 1, lamp: 1, unit: 0.5}}}
"""


def test_a_bank_that_charges_itself_through_its_own_inverter() -> None:
    flow = solved(OWN)
    (loop,) = flow.loops
    assert loop.items == ("bank", "inv", "unit")
    assert loop.left_out == ("unit",)
    assert loop.text == "bank feeds inv, inv feeds unit, unit feeds bank"
    assert flow.troubles == ()
    assert gives(flow, "unit") == 0
    # The rest is solved: the kettle's 900 W through 90 %, and the lamp, from the bank.
    assert volts(flow, "kettle") == pytest.approx(120)
    lamp = volts(flow, "lamp")
    assert gives(flow, "bank") == pytest.approx(1000 / lamp + 5 * lamp / 12)


def test_a_charger_that_is_off_makes_no_loop() -> None:
    assert solved(OWN.replace("unit: 0.5", "unit: 0")).loops == ()
    assert solved(OWN.replace("running: [inv, unit]", "running: [unit]")).loops == ()


CROSSED = """
devices:
  one: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  two: {kind: battery-bank, system: dc24, internal_resistance: 10 mohm}
  up: {kind: dc-converter, in_system: dc, out_system: dc24, rating: 20 A, efficiency: 0.9}
  down: {kind: dc-converter, in_system: dc24, out_system: dc, rating: 20 A, efficiency: 0.9}
loads: {lamp: {system: dc, current: 6 A, use: space-heating}}
cables:
  a: {from: one, to: up/in, cores: {red: DC+, yellow: DC-}}
  b: {from: up/out, to: two, cores: {red: DC+, yellow: DC-}}
  c: {from: two, to: down/in, cores: {red: DC+, yellow: DC-}}
  d: {from: down/out, to: one, cores: {red: DC+, yellow: DC-}}
  e: {from: one, to: lamp, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [up, down], demand: {up: 1, down: 1, lamp: 1}}}
"""


def test_two_banks_that_charge_each_other() -> None:
    flow = solved(CROSSED)
    (loop,) = flow.loops
    assert loop.items == ("two", "down", "one", "up")
    assert loop.left_out == ("down", "up")
    assert gives(flow, "two") == pytest.approx(0, abs=1e-9)
    assert gives(flow, "one") == pytest.approx(12 / (2 + 0.01))


def test_one_way_between_two_banks_is_no_loop() -> None:
    flow = solved(CROSSED.replace("down: 1", "down: 0"))
    assert flow.loops == ()
    assert gives(flow, "two") == pytest.approx(-20)


def test_two_converters_without_any_bank_leave_their_loads_unfed() -> None:
    body = CROSSED.replace("  one: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}\n", "")
    body = body.replace("  two: {kind: battery-bank, system: dc24, internal_resistance: 10 mohm}\n", "")
    body = body.replace(
        "devices:\n", "devices:\n  one: {kind: busbar, system: dc}\n  two: {kind: busbar, system: dc24}\n"
    )
    flow = solved(body.replace("up: 1, down: 1, ", ""))
    (loop,) = flow.loops
    assert loop.items == ("down", "up")
    assert flow.unfed == ("lamp",)


def test_a_ring_of_three_converters() -> None:
    """Bank one makes AC, a charger fills bank two from it, and a converter charges bank one from bank two."""
    flow = solved("""
devices:
  one: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  two: {kind: battery-bank, system: dc24, internal_resistance: 10 mohm}
  inv: {kind: inverter, system: split, poles: [L1, N], dc_system: dc, efficiency: 0.9, idle_power: 9 W}
  unit: {kind: charger, system: split, poles: [L1, N], dc_system: dc24, charge_current: 20 A, efficiency: 0.9}
  down: {kind: dc-converter, in_system: dc24, out_system: dc, rating: 20 A, efficiency: 0.9}
cables:
  a: {from: one, to: inv/dc, cores: {red: DC+, yellow: DC-}}
  b: {from: inv/ac, to: unit/ac, cores: {black: L1, white: N, green: PE}}
  c: {from: unit/dc, to: two, cores: {red: DC+, yellow: DC-}}
  d: {from: two, to: down/in, cores: {red: DC+, yellow: DC-}}
  e: {from: down/out, to: one, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [inv, unit, down], demand: {unit: 1, down: 1}}}
""")
    (loop,) = flow.loops
    assert loop.items == ("two", "down", "one", "inv", "unit")
    assert loop.left_out == ("down", "unit")
    assert gives(flow, "one") * 12 == pytest.approx(9, rel=1e-2)


def test_a_chain_of_three_converters_is_solved() -> None:
    """24 V bank, converter to 12 V, inverter on it, charger to a far bank: each power handed on exactly."""
    flow = solved("""
devices:
  one: {kind: battery-bank, system: dc24, internal_resistance: 10 mohm}
  bar: {kind: busbar, system: dc}
  down: {kind: dc-converter, in_system: dc24, out_system: dc, rating: 90 A, efficiency: 0.9}
  inv: {kind: inverter, system: split, poles: [L1, N], dc_system: dc, efficiency: 0.9, idle_power: 0 W}
  unit: {kind: charger, system: split, poles: [L1, N], dc_system: dc, charge_current: 20 A, efficiency: 0.8}
  far: {kind: battery-bank, system: dc, internal_resistance: 20 mohm}
cables:
  a: {from: one, to: down/in, cores: {red: DC+, yellow: DC-}}
  b: {from: down/out, to: bar, cores: {red: DC+, yellow: DC-}}
  c: {from: bar, to: inv/dc, cores: {red: DC+, yellow: DC-}}
  d: {from: inv/ac, to: unit/ac, cores: {black: L1, white: N, green: PE}}
  e: {from: unit/dc, to: far, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [down, inv, unit], demand: {unit: 1}}}
""")
    assert flow.loops == ()
    out = 20 * (12 + 20 * 0.02)
    (bank,) = [each for each in flow.sources if each.source == "one"]
    assert bank.watts == pytest.approx(out / 0.8 / 0.9 / 0.9, rel=1e-6)
