"""Operating conditions solved: small boats whose figures can be worked out by hand, beside each check."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.state import resolve
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.steady.flow import Flow, solve_condition
from vesselspec.record import read
from vesselspec.units import parse_size

HEAD = "vessel: {record: 1, name: T, practice: north-american}\n"
SYSTEMS = """
systems:
  split: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}
  three: {kind: ac-three-phase, voltage: 400/230 V, frequency: 50 Hz}
  dc: {kind: dc, voltage: 12 V}
  dc24: {kind: dc, voltage: 24 V}
"""


def solved(body: str, condition: str = "now") -> Flow:
    record = read({"vessel.yaml": (HEAD + SYSTEMS + body).encode()})
    assert record.vessel is not None, record.problems
    return flow_of(record.vessel, condition)


def flow_of(vessel: Vessel, condition: str = "now") -> Flow:
    network = compile_network(vessel)
    chosen = vessel.conditions[condition]
    return solve_condition(vessel, network, chosen, resolve(vessel, network, chosen))


def source(flow: Flow, key: str, pole: str) -> float:
    (found,) = [each.amps for each in flow.sources if (each.source, each.pole) == (key, pole)]
    return found


def volts(flow: Flow, load: str) -> float:
    (found,) = [each.volts for each in flow.loads if each.load == load]
    return found


GENERATOR = """
devices:
  set: {kind: generator, system: split, rating: 50 A, neutral_earth_bond: true}
"""
THREE_WIRE = """
loads:
  small: {system: split, poles: [L1, N], power: 100 W, use: water-heating}
  large: {system: split, poles: [L2, N], power: 200 W, use: water-heating}
  case: {system: split, poles: [L1, N], power: 1 W}
cables:
  main: {from: set, to: box, cores: CORES}
  one: {from: box, to: small, cores: {black: L1, white: N, green: PE}}
  two: {from: box, to: large, cores: {red: L2, white: N, green: PE}}
conditions: {now: {running: [set], demand: {small: 1, large: 1}}}
"""


def test_three_wire_supply() -> None:
    """120/240 V, 100 W on one leg and 200 W on the other: public training slides on the lost neutral."""
    body = GENERATOR + "  box: {kind: junction, system: split}\n" + THREE_WIRE
    flow = solved(body.replace("CORES", "{black: L1, red: L2, white: N, green: PE}"))
    assert source(flow, "set", "L1") == pytest.approx(0.8333, abs=5e-5)
    assert source(flow, "set", "L2") == pytest.approx(1.6667, abs=5e-5)
    assert (volts(flow, "small"), volts(flow, "large")) == pytest.approx((120, 120))


def test_lost_neutral() -> None:
    """The same with the neutral open: 160 V on the small load and 80 V on the large one (computed from R1, R2)."""
    body = GENERATOR + "  box: {kind: junction, system: split}\n" + THREE_WIRE
    flow = solved(body.replace("CORES", "{black: L1, red: L2, white: spare, green: PE}"))
    assert source(flow, "set", "L1") == pytest.approx(1.1111, abs=5e-5)
    assert (volts(flow, "small"), volts(flow, "large")) == pytest.approx((160, 80))


def test_drop_in_both_conductors() -> None:
    """One load at the end of one cable: V = E R / (R + 2 r), with r from the impedance module."""
    flow = solved("""
devices:
  bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}
loads: {heater: {system: dc, current: 20 A, use: space-heating}}
cables: {c: {from: bank, to: heater, size: 10 AWG, length: 6 m, cores: {red: DC+, yellow: DC-}}}
conditions: {now: {running: [], demand: {heater: 1}}}
""")
    r = conductor_impedance(size=parse_size("10 AWG"), length_m=6, temperature_c=75, frequency_hz=0).r_ohm
    load = 12 / 20
    expected = 12 * load / (load + 2 * r + 0.01)
    assert volts(flow, "heater") == pytest.approx(expected)
    assert source(flow, "bank", "DC+") == pytest.approx(expected / load)
    assert flow.assumptions == ()


def test_unknown_length_is_named_with_the_side_to_which_it_errs() -> None:
    flow = solved("""
devices: {bank: {kind: battery-bank, system: dc, internal_resistance: 10 mohm}}
loads: {lamp: {system: dc, power: 60 W}}
cables: {c: {from: bank, to: lamp, size: 10 AWG, cores: {red: DC+, yellow: DC-}}}
conditions: {now: {running: [], demand: {lamp: 1}}}
""")
    (assumed,) = flow.assumptions
    assert (assumed.item, assumed.missing) == ("c", "length")
    assert "too high" in assumed.errs
    # Only the bank's own resistance is left: V (12 - V) / 0.01 = 60 W.
    v = (12 + math.sqrt(144 - 4 * 0.6)) / 2
    assert volts(flow, "lamp") == pytest.approx(v)


INVERTER = """
devices:
  bank: {kind: battery-bank, system: dc24, internal_resistance: 2 mohm}
  unit: {kind: inverter-charger, system: split, poles: [L1, N], dc_system: dc24, apparent_power: 3 kVA,
         efficiency: 0.9, idle_power: 18 W, charge_current: 50 A, input_limit: 10 A, neutral_earth_relay: true SUPPORT}
  shore: {kind: shore-inlet, system: split, poles: [L1, N], rating: 30 A, supply_impedance: 0.1 ohm}
loads: {kettle: {system: split, poles: [L1, N], power: 1800 W, use: cooking}}
cables:
  a: {from: shore, to: unit/ac-in, cores: {black: L1, white: N, green: PE}}
  b: {from: unit/ac-out, to: kettle, cores: {black: L1, white: N, green: PE}}
  c: {from: bank, to: unit/dc, cores: {red: DC+, yellow: DC-}}
conditions:
  away: {running: [unit], demand: {kettle: 1}}
  plugged-in: {running: [shore, unit], demand: {kettle: 1}}
  charging: {running: [shore, unit], demand: {unit: 0.5}}
"""


def test_an_inverter_draws_from_its_bank() -> None:
    """1800 W at 120 V, through 90 %, and 18 W of its own: 2018 W from the bank behind 2 milliohm."""
    flow = solved(INVERTER.replace(" SUPPORT", ""), "away")
    assert source(flow, "unit", "L1") == pytest.approx(15)
    power = 1800 / 0.9 + 18
    v = (24 + math.sqrt(24 * 24 - 4 * 0.002 * power)) / 2
    assert source(flow, "bank", "DC+") == pytest.approx(power / v)


def test_pass_through_over_the_input_limit_is_an_overload_by_name() -> None:
    flow = solved(INVERTER.replace(" SUPPORT", ""), "plugged-in")
    (trouble,) = flow.troubles
    assert trouble.kind == "overload"
    assert trouble.items == ("unit",)
    assert "its input limit is 10 A" in trouble.text


def test_support_from_the_bank_keeps_the_input_at_its_limit() -> None:
    flow = solved(INVERTER.replace(" SUPPORT", ", support: true"), "plugged-in")
    assert flow.troubles == ()
    assert source(flow, "shore", "L1") == pytest.approx(10, rel=1e-3)
    assert source(flow, "bank", "DC+") > 0


def test_charging_puts_current_into_the_bank() -> None:
    flow = solved(INVERTER.replace(" SUPPORT", ""), "charging")
    assert source(flow, "bank", "DC+") == pytest.approx(-25)
    # 25 A at 24 V and 2 milliohm more through 90 %, from 120 V behind 0.1 ohm: V (120 - V) / 0.1 = W.
    watts = 25 * (24 + 25 * 0.002) / 0.9
    v = (120 + math.sqrt(120 * 120 - 4 * 0.1 * watts)) / 2
    assert source(flow, "shore", "L1") == pytest.approx(watts / v)


def test_three_phase_load() -> None:
    """6.9 kW at 400/230 V and power factor 1: P / (3 x 230 V) = 10 A in each line."""
    flow = solved("""
devices: {set: {kind: generator, system: three, neutral_earth_bond: true}}
loads: {thruster: {system: three, poles: [L1, L2, L3], power: 6900 W, power_factor: 1}}
cables: {c: {from: set, to: thruster, cores: {brown: L1, black: L2, grey: L3, green-yellow: PE}}}
conditions: {now: {running: [set], demand: {thruster: 1}}}
""")
    line = 400 / math.sqrt(3)
    assert [source(flow, "set", pole) for pole in ("L1", "L2", "L3")] == pytest.approx([6900 / 3 / line] * 3, rel=5e-3)


def test_a_floating_supply_is_named() -> None:
    body = GENERATOR.replace("neutral_earth_bond: true", "neutral_earth_bond: false")
    flow = solved(
        body + "  box: {kind: junction, system: split}\n" + THREE_WIRE.replace("CORES", "{black: L1, white: N}")
    )
    assert flow.floating
    assert flow.unfed == ("large",)


def test_collapse_names_the_load() -> None:
    """12 V behind 0.5 ohm can give at most E²/4R = 72 W: 100 W has no solution."""
    flow = solved("""
devices: {bank: {kind: battery-bank, system: dc, internal_resistance: 0.5 ohm}}
loads: {pump: {system: dc, power: 100 W}}
cables: {c: {from: bank, to: pump, cores: {red: DC+, yellow: DC-}}}
conditions: {now: {running: [], demand: {pump: 1}}}
""")
    (trouble,) = flow.troubles
    assert trouble.kind == "collapse"
    assert trouble.items == ("pump",)
    assert "72 %" in trouble.text or "71 %" in trouble.text


def test_banks_of_different_voltage_joined_without_resistance_contradict() -> None:
    flow = solved("""
devices:
  one: {kind: battery-bank, system: dc}
  two: {kind: battery-bank, system: dc24}
cables: {c: {from: one, to: two, cores: {red: DC+, yellow: DC-}}}
conditions: {now: {running: [], demand: {}}}
""")
    (trouble,) = flow.troubles
    assert trouble.kind == "contradiction"
    assert set(trouble.items) == {"one", "two"}


@settings(max_examples=25, deadline=None)
@given(
    watts=st.lists(st.floats(10, 600), min_size=1, max_size=5),
    lengths=st.lists(st.floats(0.5, 12), min_size=5, max_size=5),
)
def test_what_sources_give_is_what_loads_and_conductors_take(watts: list[float], lengths: list[float]) -> None:
    """Tellegen: the bank's power is that of its loads and of the loss in every core."""
    loads = "".join(f"  l{n}: {{system: dc, power: {w:.1f} W}}\n" for n, w in enumerate(watts))
    cables = "".join(
        f"  c{n}: {{from: bank, to: l{n}, size: 4 AWG, length: {lengths[n]:.2f} m, cores: {{red: DC+, yellow: DC-}}}}\n"
        for n in range(len(watts))
    )
    demand = ", ".join(f"l{n}: 1" for n in range(len(watts)))
    flow = solved(
        "devices: {bank: {kind: battery-bank, system: dc, internal_resistance: 5 mohm}}\n"
        f"loads:\n{loads}cables:\n{cables}conditions: {{now: {{running: [], demand: {{{demand}}}}}}}\n"
    )
    given_w = next(each.watts for each in flow.sources if each.source == "bank")
    loss = 0.0
    for each in flow.loads:
        number = int(each.load[1:])
        r = conductor_impedance(
            size=parse_size("4 AWG"), length_m=float(f"{lengths[number]:.2f}"), temperature_c=75, frequency_hz=0
        ).r_ohm
        loss += 2 * r * each.amps**2 + each.volts * each.amps
    assert given_w == pytest.approx(loss, rel=1e-6)
