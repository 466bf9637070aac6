"""Charging sources in solved conditions: small boats whose figures can be worked out by hand, beside each check."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.network.compile import compile_network
from vesselspec.network.state import resolve
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.loads.energy import Stretch, day_of
from vesselspec.physics.steady.flow import Flow, solve_condition
from vesselspec.record import read
from vesselspec.units import parse_size

from .test_flow import HEAD, SYSTEMS, solved

SOLAR = "  sun: {kind: dc, voltage: 36 V}\n"


def boat(body: str) -> Flow:
    return solved(SOLAR + body)


def gives(flow: Flow, key: str) -> float:
    return math.fsum(each.amps for each in flow.sources if each.source == key)


def watts(flow: Flow, key: str) -> float:
    return math.fsum(each.watts for each in flow.sources if each.source == key)


def assumed(flow: Flow) -> set[tuple[str, str]]:
    return {(each.item, each.missing) for each in flow.assumptions}


def cable_amps(body: str, cable: str) -> float:
    record = read({"vessel.yaml": (HEAD + SYSTEMS + SOLAR + body).encode()})
    assert record.vessel is not None, record.problems
    network = compile_network(record.vessel)
    condition = record.vessel.conditions["now"]
    flow = solve_condition(record.vessel, network, condition, resolve(record.vessel, network, condition))
    return max(flow.amps(run.link) for run in network.cores if run.cable.id == cable)


# --- alternator ------------------------------------------------------------------------------------

ALTERNATOR = """
devices:
  bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  alt: {kind: alternator, system: dc, rating: 200 A EXTRA}
  bar: {kind: busbar, system: dc}
loads: {heater: {system: dc, current: 40 A, use: space-heating}}
cables:
  a: {from: alt, to: bar, size: 8 AWG, length: 2 m, cores: {red: DC+, yellow: DC-}}
  b: {from: bar, to: bank, cores: {red: DC+, yellow: DC-}}
  l: {from: bar, to: heater, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [alt], demand: {heater: 1, alt: SHARE}}}
"""


def test_an_alternator_loads_its_own_cable_and_relieves_the_bank() -> None:
    """150 A in; the heater is 12 V / 40 A = 0.3 ohm: V = (150 + 12 / 0.01) / (1 / 0.3 + 1 / 0.01)."""
    body = ALTERNATOR.replace("SHARE", "0.75").replace(" EXTRA", "")
    flow = boat(body)
    v = (150 + 1200) / (1 / 0.3 + 100)
    assert gives(flow, "alt") == pytest.approx(150)
    assert gives(flow, "bank") == pytest.approx((12 - v) / 0.01)
    assert cable_amps(body, "a") == pytest.approx(150)
    assert cable_amps(body, "b") == pytest.approx((v - 12) / 0.01)
    r = conductor_impedance(size=parse_size("8 AWG"), length_m=2, temperature_c=75, frequency_hz=0).r_ohm
    assert watts(flow, "alt") == pytest.approx(150 * (v + 2 * 150 * r))
    assert ("alt", "its output in this condition") not in assumed(flow)


def test_a_set_voltage_limits_it() -> None:
    """At 12.6 V at its terminals: (12.6 - V) / 2 r = I, and I = (V - 12) / 0.01 + V / 0.3."""
    body = ALTERNATOR.replace("SHARE", "1").replace(" EXTRA", ", absorption_voltage: 12.6 V")
    flow = boat(body)
    r = 2 * conductor_impedance(size=parse_size("8 AWG"), length_m=2, temperature_c=75, frequency_hz=0).r_ohm
    v = (12.6 / r + 1200) / (1 / r + 100 + 1 / 0.3)
    assert gives(flow, "alt") == pytest.approx((12.6 - v) / r)
    assert gives(flow, "alt") < 200


def test_an_output_that_is_not_recorded_is_none_and_named() -> None:
    flow = boat(ALTERNATOR.replace(", alt: SHARE", "").replace(" EXTRA", ""))
    assert gives(flow, "alt") == 0
    (said,) = [each for each in flow.assumptions if each.item == "alt"]
    assert (said.missing, said.taken, said.errs) == (
        "its output in this condition",
        "no charging",
        "battery currents too high",
    )


def test_a_rating_that_is_not_recorded_is_named() -> None:
    flow = boat(ALTERNATOR.replace("SHARE", "1").replace(" EXTRA", "").replace(", rating: 200 A", ""))
    assert ("alt", "rating") in assumed(flow)


def test_a_splitter_lets_charging_through_and_nothing_back() -> None:
    body = """
devices:
  one: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  two: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  alt: {kind: alternator, system: dc, rating: 100 A}
  split: {kind: charge-splitter, system: dc, outputs: [one, two]}
loads: {heater: {system: dc, current: 60 A, use: space-heating}}
cables:
  a: {from: alt, to: split/in, cores: {red: DC+}}
  n: {from: alt, to: one, cores: {yellow: DC-}}
  m: {from: one, to: two, cores: {yellow: DC-}}
  b: {from: split/one, to: one, cores: {red: DC+}}
  c: {from: split/two, to: two, cores: {red: DC+}}
  l: {from: one, to: heater, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [alt], demand: {heater: 1, alt: SHARE}}}
"""
    still = boat(body.replace("SHARE", "0"))
    assert gives(still, "two") == pytest.approx(0, abs=1e-6)
    # 0.2 ohm of heater on bank one alone: 12 / 0.21.
    assert gives(still, "one") == pytest.approx(12 / 0.21)
    flow = boat(body.replace("SHARE", "1"))
    # All at one voltage: 100 + 2400 = V (200 + 5).
    v = 2500 / 205
    assert gives(flow, "two") == pytest.approx((12 - v) / 0.01)
    assert cable_amps(body.replace("SHARE", "1"), "a") == pytest.approx(100)


# --- chargers --------------------------------------------------------------------------------------

CHARGER = """
devices:
  shore: {kind: shore-inlet, system: split, poles: [L1, N], rating: 30 A, supply_impedance: 0.1 ohm,
          cord: {size: 10 AWG, length: 0.001 m}}
  bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  unit: {kind: charger, system: split, poles: [L1, N], dc_system: dc, charge_current: 60 A, efficiency: 0.8 EXTRA}
loads: {heater: {system: dc, current: 30 A, use: space-heating}}
cables:
  a: {from: shore, to: unit/ac, cores: {black: L1, white: N, green: PE}}
  b: {from: unit/dc, to: bank, cores: {red: DC+, yellow: DC-}}
  l: {from: bank, to: heater, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [shore, unit], demand: {heater: 1 SHARE}, charging: {STAGE}}}
"""


def charger(stage: str = "", share: str = "", extra: str = "") -> Flow:
    return boat(CHARGER.replace("STAGE", stage).replace(" SHARE", share).replace(" EXTRA", extra))


def test_bulk_is_its_rating_and_is_mirrored_on_ac() -> None:
    """60 A and 1200 A into 100 S and 2.5 S: V; its AC power is 60 V / 0.8."""
    flow = charger("unit: bulk")
    v = (60 + 1200) / (100 + 2.5)
    assert gives(flow, "unit") == pytest.approx(60)
    assert gives(flow, "bank") == pytest.approx((12 - v) / 0.01)
    (ac,) = [each for each in flow.loads if each.load == "unit"]
    assert ac.volts * ac.amps == pytest.approx(60 * v / 0.8, rel=1e-6)


def test_a_share_of_bulk() -> None:
    assert gives(charger("unit: bulk", ", unit: 0.5"), "unit") == pytest.approx(30)


def test_absorption_holds_its_voltage() -> None:
    """At 12.1 V: 10 A into the bank and 12.1 / 0.4 into the heater."""
    flow = charger("unit: absorption", extra=", absorption_voltage: 12.1 V")
    assert gives(flow, "unit") == pytest.approx(10 + 12.1 / 0.4)
    assert gives(flow, "bank") == pytest.approx(-10)
    (ac,) = [each for each in flow.loads if each.load == "unit"]
    assert ac.volts * ac.amps == pytest.approx(12.1 * (10 + 12.1 / 0.4) / 0.8, rel=1e-6)


def test_float_carries_the_loads_and_the_full_bank_takes_nothing() -> None:
    flow = charger("unit: float", extra=", absorption_voltage: 14.4 V, float_voltage: 13.5 V")
    assert gives(flow, "unit") == pytest.approx(13.5 / 0.4)
    assert gives(flow, "bank") == pytest.approx(0, abs=1e-6)


def test_float_beyond_its_rating_leaves_the_rest_to_the_bank() -> None:
    """20 A of it: V = (20 + 13.5 / 0.01) / (100 + 2.5), and the bank gives the rest."""
    flow = charger("unit: float", ", unit: 0.3333333333333333", extra=", float_voltage: 13.5 V")
    v = (20 + 1350) / 102.5
    assert gives(flow, "unit") == pytest.approx(20)
    assert gives(flow, "bank") == pytest.approx((13.5 - v) / 0.01)


def test_a_set_voltage_that_is_not_recorded_is_not_made_up() -> None:
    flow = charger("unit: float")
    assert gives(flow, "unit") == pytest.approx(60)
    (said,) = [each for each in flow.assumptions if each.item == "unit"]
    assert (said.missing, said.taken) == ("float voltage", "no limit of voltage")
    assert "too high" in said.errs


def test_input_current_stands_before_efficiency() -> None:
    """9 A at 120 V at full output: half the current, half the power."""
    flow = charger("", ", unit: 0.5", ", input_current: 9 A")
    (ac,) = [each for each in flow.loads if each.load == "unit"]
    assert ac.volts * ac.amps == pytest.approx(540, rel=1e-6)


def test_a_charger_that_no_ac_reaches_gives_nothing() -> None:
    body = CHARGER.replace("STAGE", "unit: bulk").replace(" SHARE", "").replace(" EXTRA", "")
    flow = boat(body.replace("running: [shore, unit]", "running: [unit]"))
    assert gives(flow, "unit") == 0
    assert "unit" in flow.unfed


def test_a_charger_without_a_bank_carries_the_loads_up_to_its_rating() -> None:
    body = CHARGER.replace("STAGE", "").replace(" SHARE", ", unit: 1").replace(" EXTRA", ", float_voltage: 13.5 V")
    body = body.replace("  b: {from: unit/dc, to: bank", "  b: {from: unit/dc, to: heater").replace(
        "  l: {from: bank, to: heater, cores: {red: DC+, yellow: DC-}}\n", ""
    )
    flow = boat(body)
    assert gives(flow, "unit") == pytest.approx(30)  # at nominal voltage
    assert flow.troubles == ()
    over = boat(body.replace("unit: 1", "unit: 0.25"))
    (trouble,) = over.troubles
    assert (trouble.kind, trouble.items) == ("overload", ("unit",))
    assert "30.0 A; it gives 15 A at most" in trouble.text


def test_an_inverter_charger_charges_with_what_its_input_limit_leaves() -> None:
    """10 A in at most, 6 A of it pass through: 4 A at the input's voltage, through 90 %, go into the bank."""
    flow = boat("""
devices:
  set: {kind: generator, system: split, rating: 50 A, neutral_earth_bond: true}
  bank: {kind: battery-bank, system: dc, internal_resistance: 1 mohm}
  unit: {kind: inverter-charger, system: split, poles: [L1, N], dc_system: dc, efficiency: 0.9, charge_current: 100 A,
         input_limit: 10 A}
loads: {heater: {system: split, poles: [L1, N], power: 720 W, use: space-heating}}
cables:
  a: {from: set, to: unit/ac-in, cores: {black: L1, white: N, green: PE}}
  b: {from: unit/ac-out, to: heater, cores: {black: L1, white: N, green: PE}}
  c: {from: unit/dc, to: bank, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [set, unit], demand: {heater: 1}, charging: {unit: bulk}}}
""")
    assert watts(flow, "unit") == pytest.approx(4 * 120 * 0.9, rel=1e-6)
    assert watts(flow, "set") == pytest.approx(1200, rel=1e-6)
    assert flow.troubles == ()


# --- solar -----------------------------------------------------------------------------------------

SUN = """
devices:
  roof: {kind: solar-array, system: sun, power: 400 W, open_circuit_voltage: 44 V, short_circuit_current: 12 A ARRAY}
  ctrl: {kind: solar-controller, array_system: sun, dc_system: dc, rating: 30 A CTRL}
  bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
cables:
  a: {from: roof, to: ctrl/array, size: 10 AWG, length: 5 m, cores: {red: DC+, yellow: DC-}}
  b: {from: ctrl/battery, to: bank, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [roof, ctrl], demand: {DEMAND}}}
"""


def sun(demand: str, array: str = ", max_power_voltage: 40 V", ctrl: str = ", method: mppt, efficiency: 0.95") -> Flow:
    return boat(SUN.replace("DEMAND", demand).replace(" ARRAY", array).replace(" CTRL", ctrl))


def test_mppt_balances_power() -> None:
    """Half the sun: 200 W at 40 V are 5 A; what its cable leaves goes through 95 % into the bank."""
    flow = sun("roof: 0.5")
    r = 2 * conductor_impedance(size=parse_size("10 AWG"), length_m=5, temperature_c=75, frequency_hz=0).r_ohm
    assert watts(flow, "roof") == pytest.approx(200, rel=1e-6)
    assert gives(flow, "roof") == pytest.approx(5, rel=1e-6)
    out = (200 - 25 * r) * 0.95
    assert watts(flow, "ctrl") == pytest.approx(out, rel=1e-6)
    v = (12 + math.sqrt(144 + 4 * 0.01 * out)) / 2
    assert gives(flow, "bank") == pytest.approx((12 - v) / 0.01, rel=1e-5)
    assert flow.assumptions == tuple(each for each in flow.assumptions if each.item == "b")


def test_mppt_keeps_to_its_rating() -> None:
    flow = sun("roof: 1")
    assert gives(flow, "ctrl") == pytest.approx(30)  # of 380 W / 12.3 V = 30.9 A
    v = 12 + 30 * 0.01
    r = 2 * conductor_impedance(size=parse_size("10 AWG"), length_m=5, temperature_c=75, frequency_hz=0).r_ohm
    taken = 30 * v / 0.95
    amps = (40 - math.sqrt(1600 - 4 * r * taken)) / (2 * r)
    assert gives(flow, "roof") == pytest.approx(amps, rel=1e-6)


def test_pwm_passes_the_current_on() -> None:
    flow = sun("roof: 0.5", ctrl=", method: pwm")
    assert gives(flow, "ctrl") == pytest.approx(6)
    assert gives(flow, "roof") == pytest.approx(6)


def test_an_unrecorded_method_is_taken_as_pwm_and_said() -> None:
    flow = sun("ctrl: 0.2", ctrl="")
    assert gives(flow, "ctrl") == pytest.approx(6)
    assert gives(flow, "roof") == pytest.approx(6)
    (said,) = [each for each in flow.assumptions if each.item == "ctrl"]
    assert (said.missing, said.errs) == ("method", "array currents too high")


def test_an_unrecorded_working_voltage_is_said() -> None:
    flow = sun("ctrl: 0.2", array="")
    (said,) = [each for each in flow.assumptions if each.item == "roof"]
    assert (said.missing, said.errs) == ("voltage at maximum power", "array currents too low")


def test_no_light_and_no_word_of_it() -> None:
    assert gives(sun("roof: 0"), "ctrl") == 0
    flow = sun("")
    assert gives(flow, "ctrl") == 0
    assert ("ctrl", "its output in this condition") in assumed(flow)


def test_an_array_straight_on_a_bank() -> None:
    """Its current is that of its short circuit in this light, as long as the bank stays below its open circuit."""
    body = """
devices:
  roof: {kind: solar-array, system: dc, power: 50 W, open_circuit_voltage: 21 V, short_circuit_current: 3 A}
  bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
cables: {a: {from: roof, to: bank, cores: {red: DC+, yellow: DC-}}}
conditions: {now: {running: [roof], demand: {roof: 0.5}}}
"""
    assert gives(boat(body), "roof") == pytest.approx(1.5)
    assert gives(boat(body), "bank") == pytest.approx(-1.5)
    assert ("roof", "short-circuit current") in assumed(boat(body.replace(", short_circuit_current: 3 A", "")))


# --- DC converters ---------------------------------------------------------------------------------

CONVERTER = """
devices:
  big: {kind: battery-bank, system: dc24, internal_resistance: 5 mohm}
  small: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
  conv: {kind: dc-converter, in_system: dc24, out_system: dc, rating: 30 A, efficiency: 0.9, isolated: true}
cables:
  a: {from: big, to: conv/in, cores: {red: DC+, yellow: DC-}}
  b: {from: conv/out, to: small, cores: {red: DC+, yellow: DC-}}
conditions: {now: {running: [conv], demand: {conv: 0.5}}}
"""


def test_a_converter_charges_from_one_bank_into_another() -> None:
    """15 A at 12.15 V, through 90 %, from 24 V behind 5 milliohm."""
    flow = boat(CONVERTER)
    assert gives(flow, "conv") == pytest.approx(15)
    assert gives(flow, "small") == pytest.approx(-15)
    power = 15 * 12.15 / 0.9
    v = (24 + math.sqrt(576 - 4 * 0.005 * power)) / 2
    assert gives(flow, "big") == pytest.approx(power / v, rel=1e-6)


# --- power -----------------------------------------------------------------------------------------


@settings(max_examples=30, deadline=None)
@given(
    shares=st.lists(st.floats(0.01, 1), min_size=4, max_size=4),
    load_w=st.floats(1, 500),
    stage=st.sampled_from(["bulk", "absorption", "float"]),
    volts=st.floats(11.5, 14.8),
)
def test_what_is_given_is_what_is_taken_and_lost(shares: list[float], load_w: float, stage: str, volts: float) -> None:
    """AC and DC together: sources = loads + conductors + converters' losses, whatever charges whatever."""
    body = f"""
devices:
  shore: {{kind: shore-inlet, system: split, poles: [L1, N], rating: 30 A, supply_impedance: 0.1 ohm}}
  unit: {{kind: charger, system: split, poles: [L1, N], dc_system: dc, charge_current: 60 A, efficiency: 0.8,
         absorption_voltage: {volts:.3f} V, float_voltage: {volts - 0.4:.3f} V}}
  alt: {{kind: alternator, system: dc, rating: 100 A}}
  roof: {{kind: solar-array, system: sun, power: 400 W, max_power_voltage: 40 V}}
  ctrl: {{kind: solar-controller, array_system: sun, dc_system: dc, rating: 30 A, method: mppt, efficiency: 0.95}}
  conv: {{kind: dc-converter, in_system: dc, out_system: dc24, rating: 20 A, efficiency: 0.9, isolated: true}}
  bank: {{kind: battery-bank, system: dc, internal_resistance: 10 mohm}}
  far: {{kind: battery-bank, system: dc24, internal_resistance: 10 mohm}}
  bar: {{kind: busbar, system: dc}}
loads: {{pump: {{system: dc, power: {load_w:.2f} W}}}}
cables:
  s: {{from: shore, to: unit/ac, size: 10 AWG, length: 9 m, cores: {{black: L1, white: N, green: PE}}}}
  u: {{from: unit/dc, to: bar, size: 4 AWG, length: 3 m, cores: {{red: DC+, yellow: DC-}}}}
  a: {{from: alt, to: bar, size: 2 AWG, length: 4 m, cores: {{red: DC+, yellow: DC-}}}}
  r: {{from: roof, to: ctrl/array, size: 10 AWG, length: 5 m, cores: {{red: DC+, yellow: DC-}}}}
  t: {{from: ctrl/battery, to: bar, size: 8 AWG, length: 2 m, cores: {{red: DC+, yellow: DC-}}}}
  c: {{from: bar, to: conv/in, size: 8 AWG, length: 6 m, cores: {{red: DC+, yellow: DC-}}}}
  f: {{from: conv/out, to: far, size: 8 AWG, length: 1 m, cores: {{red: DC+, yellow: DC-}}}}
  b: {{from: bank, to: bar, size: 2/0 AWG, length: 1 m, cores: {{red: DC+, yellow: DC-}}}}
  l: {{from: bar, to: pump, size: 10 AWG, length: 4 m, cores: {{red: DC+, yellow: DC-}}}}
conditions:
  now:
    running: [shore, unit, alt, roof, ctrl, conv]
    demand: {{unit: {shares[0]:.3f}, alt: {shares[1]:.3f}, roof: {shares[2]:.3f}, conv: {shares[3]:.3f}, pump: 1}}
    charging: {{unit: {stage}}}
"""
    record = read({"vessel.yaml": (HEAD + SYSTEMS + SOLAR + body).encode()})
    assert record.vessel is not None, record.problems
    network = compile_network(record.vessel)
    condition = record.vessel.conditions["now"]
    flow = solve_condition(record.vessel, network, condition, resolve(record.vessel, network, condition))
    assert flow.troubles == ()
    lost = 0.0
    for run in network.cores:
        assert run.size is not None
        assert run.cable.length_m is not None
        r = conductor_impedance(
            size=run.size, length_m=run.cable.length_m, temperature_c=75, frequency_hz=0 if run.cable.id != "s" else 60
        ).r_ohm
        lost += r * flow.amps(run.link) ** 2
    # What a converter takes in and gives out again cancels but for its loss.
    turned = watts(flow, "unit") * (1 / 0.8 - 1) + watts(flow, "ctrl") * (1 / 0.95 - 1) + watts(flow, "conv") / 9
    put_in = sum(watts(flow, key) for key in ("shore", "alt", "roof", "bank", "far"))
    (pump,) = [each for each in flow.loads if each.load == "pump"]
    assert put_in == pytest.approx(pump.volts * pump.amps + lost + turned, rel=1e-6, abs=1e-4)
    assert 0 <= gives(flow, "unit") <= 60 * shares[0] + 0.05


# --- energy says the same --------------------------------------------------------------------------


@pytest.mark.parametrize(("demand", "amps"), [("roof: 0.5", 0.5 * 400 * 0.95 / 12), ("ctrl: 0.2", 6.0)])
def test_the_energy_budget_counts_what_the_network_does(demand: str, amps: float) -> None:
    body = SUN.replace("DEMAND", demand).replace(" ARRAY", "").replace(" CTRL", ", method: mppt, efficiency: 0.95")
    record = read({"vessel.yaml": (HEAD + SYSTEMS + SOLAR + body).encode()})
    assert record.vessel is not None, record.problems
    network = compile_network(record.vessel)
    states = {"now": resolve(record.vessel, network, record.vessel.conditions["now"])}
    (bank,) = day_of(record.vessel, network, states, [Stretch("now", 24)]).banks
    (source,) = bank.stretches[0].flows.charging
    assert (source.source, source.amps) == ("ctrl", pytest.approx(amps))
