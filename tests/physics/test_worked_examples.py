"""Published worked examples, each solved as a circuit and checked to the rounding that it is printed with."""

import cmath
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from vesselspec.physics.steady.circuit import Branch, Circuit, Contact, Load, Source
from vesselspec.physics.steady.nodal import Solution, solve
from vesselspec.units import awg_area_mm2

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "worked_examples.yaml"
EXAMPLES: dict[str, dict[str, Any]] = {
    example["id"]: example for example in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["examples"]
}
CMIL_MM2 = 0.0005067075  # a circular mil, by definition

Answers = dict[str, float | str]
Solver = Callable[[dict[str, Any]], Answers]
SOLVERS: dict[str, Solver] = {}


def example(solver: Solver) -> Solver:
    """Register the solver of the example of its name."""
    SOLVERS[solver.__name__] = solver
    return solver


def loop(emf: complex, *z: complex) -> Solution:
    """An ideal source with impedances in series, node by node from the plus pole; node 0 is the minus pole."""
    count = len(z)
    branches = tuple(Branch(index + 1, (index + 2) % (count + 1), ohm) for index, ohm in enumerate(z))
    return solved(Circuit(count + 1, branches, (), (Source(1, 0, emf),), (), (0,)))


def solved(circuit: Circuit) -> Solution:
    found = solve(circuit)
    assert found.status == "solved"
    assert found.residual_a <= 1e-9 * max(1.0, *(abs(current) for current in found.source_currents))
    return found


def parallel(emf: complex, *z: complex) -> Solution:
    return solved(Circuit(2, tuple(Branch(1, 0, ohm) for ohm in z), (), (Source(1, 0, emf),), (), (0,)))


def test_every_example_is_solved() -> None:
    assert set(SOLVERS) == set(EXAMPLES)


@pytest.mark.parametrize("name", EXAMPLES)
def test_example(name: str) -> None:
    given = EXAMPLES[name]
    answers = SOLVERS[name](given["inputs"])
    assert set(answers) == set(given["expected"]), "every printed answer is checked"
    for key, printed in given["expected"].items():
        if isinstance(printed["value"], str):
            assert answers[key] == printed["value"], key
        else:
            answer = answers[key]
            assert isinstance(answer, float)
            # A hair for what lies on the edge of its rounding.
            assert abs(answer - printed["value"]) <= printed["tol"] * (1 + 1e-9) + 1e-12, (key, answer)


# --- Direct current: voltage drop, series and parallel, Kirchhoff's laws ----------------------------


@example
def dc_drop_max_wire_resistance(given: dict[str, Any]) -> Answers:
    supply, amps = given["source_V"], given["current_A"]

    def at_load(r: float) -> Solution:
        branches = (Branch(1, 2, r), Branch(3, 0, r))
        return solved(Circuit(4, branches, (), (Source(1, 0, supply),), (Load(2, 3, supply, current=amps),), (0,)))

    # The drop is linear in the resistance: one trial gives the greatest that is allowed.
    drop_at_1_ohm = supply - at_load(1.0).load_voltages[0].real
    r = (supply - given["load_min_V"]) / drop_at_1_ohm
    found = at_load(r)
    assert found.load_voltages[0].real == pytest.approx(given["load_min_V"], abs=1e-9)
    cmil = given["rho_ohm_cmil_ft"] * given["wire_length_each_ft"] / r
    gauges = ["4/0", "3/0", "2/0", "1/0", "1"]
    enough = [gauge for gauge in gauges if awg_area_mm2(gauge) / CMIL_MM2 >= cmil]
    return {
        "drop_per_wire_V": abs(found.branch_currents[0]) * r,
        "r_per_wire_ohm": r,
        # Printed from 0.2 ohm; the fit of a whole circular mil is exact.
        "area_cmil": float(round(cmil)),
        "smallest_awg": enough[-1],
        "too_small_awg": gauges[len(enough)],
    }


@example
def dc_drop_temperature(given: dict[str, Any]) -> Answers:
    cold = given["r_wire_each_20C_ohm"]
    warm = cold * (1 + given["alpha_per_C"] * (given["t2_C"] - 20))
    at_20, at_35 = (loop(given["source_V"], r, given["r_load_ohm"], r) for r in (cold, warm))
    return {
        "i_20C_A": at_20.source_currents[0].real,
        "drop_per_wire_20C_V": (at_20.branch_currents[0] * cold).real,
        "load_20C_V": (at_20.node_voltages[2] - at_20.node_voltages[3]).real,
        "r_wire_each_35C_ohm": warm,
        "r_total_35C_ohm": given["source_V"] / at_35.source_currents[0].real,
        "i_35C_A": at_35.source_currents[0].real,
        "drop_per_wire_35C_V": (at_35.branch_currents[0] * warm).real,
        "load_35C_V": (at_35.node_voltages[2] - at_35.node_voltages[3]).real,
    }


@example
def dc_drop_boat_pump(given: dict[str, Any]) -> Answers:
    volts, amps, feet = given["system_V"], given["current_A"], given["length_total_ft"]

    def drop_percent(cmil: float) -> float:
        r = given["k_ohm_cmil_ft"] * feet / cmil
        found = solved(
            Circuit(3, (Branch(1, 2, r),), (), (Source(1, 0, volts),), (Load(2, 0, volts, current=amps),), (0,))
        )
        return float(100 * (1 - found.load_voltages[0].real / volts))

    cmil = drop_percent(1.0) / given["drop_percent"]  # the drop is in inverse proportion to the area
    assert drop_percent(cmil) == pytest.approx(given["drop_percent"], rel=1e-9)
    boat = {"14": (3702, 4100), "12": (5833, 6500), "10": (9343, 10500)}  # SAE and AWG, as in conductors.yaml
    return {
        "cm_computed": cmil,
        "awg_choice": next(gauge for gauge, (_, awg) in boat.items() if drop_percent(awg) <= given["drop_percent"]),
        "sae_choice": next(gauge for gauge, (sae, _) in boat.items() if drop_percent(sae) <= given["drop_percent"]),
    }


@example
def series_three(given: dict[str, Any]) -> Answers:
    r = given["r_ohm"]
    found = loop(given["source_V"], *r)
    current = found.source_currents[0].real
    answers: Answers = {"r_total_ohm": given["source_V"] / current, "i_A": current}
    for index, ohm in enumerate(r):
        amps = found.branch_currents[index].real
        answers |= {f"v{index + 1}_V": amps * ohm, f"p{index + 1}_W": amps**2 * ohm}
    return answers | {"p_source_W": given["source_V"] * current}


@example
def series_parallel_three(given: dict[str, Any]) -> Answers:
    r1, r2, r3 = (given[f"r{index}_ohm"] for index in (1, 2, 3))
    branches = (Branch(1, 2, r1), Branch(2, 0, r2), Branch(2, 0, r3))
    found = solved(Circuit(3, branches, (), (Source(1, 0, given["source_V"]),), (), (0,)))
    total, second = found.branch_currents[0].real, found.branch_currents[1].real
    across = found.node_voltages[2].real
    return {
        "r_p_ohm": across / total,
        "r_total_ohm": given["source_V"] / total,
        "i_total_A": total,
        "v1_V": total * r1,
        "v_p_V": across,
        "i2_A": second,
        "p2_W": second**2 * r2,
    }


@example
def series_parallel_four(given: dict[str, Any]) -> Answers:
    r1, r2, r3, r4 = (given[f"r{index}_ohm"] for index in (1, 2, 3, 4))
    branches = (Branch(1, 2, r1), Branch(1, 2, r2), Branch(2, 0, r3), Branch(2, 0, r4))
    found = solved(Circuit(3, branches, (), (Source(1, 0, given["source_V"]),), (), (0,)))
    total, middle = found.source_currents[0].real, found.node_voltages[2].real
    return {
        "r12_ohm": (given["source_V"] - middle) / total,
        "r34_ohm": middle / total,
        "r_total_ohm": given["source_V"] / total,
        "i_total_A": total,
        "v12_V": given["source_V"] - middle,
        "v34_V": middle,
    } | {f"i{index + 1}_A": found.branch_currents[index].real for index in range(4)}


@example
def divider_current(given: dict[str, Any]) -> Answers:
    found = parallel(given["source_V"], *given["r_ohm"])
    answers: Answers = {f"i{index + 1}_A": found.branch_currents[index].real for index in range(3)}
    total = found.source_currents[0].real
    return answers | {"i_total_A": total, "r_total_ohm": given["source_V"] / total}


@example
def headlight_ohm(given: dict[str, Any]) -> Answers:
    source = (Source(1, 0, given["v_V"]),)
    found = solved(Circuit(2, (), (), source, (Load(1, 0, given["v_V"], current=given["i_A"]),), (0,)))
    return {"r_ohm": (found.load_voltages[0] / found.source_currents[0]).real}


def two_batteries(e1: float, r1: float, e2: float, r2: float, shunt: float | None) -> Solution:
    branches = (Branch(1, 0, shunt),) if shunt else ()
    return solved(Circuit(2, branches, (), (Source(1, 0, e1, r1), Source(1, 0, e2, r2)), (), (0,)))


@example
def kirchhoff_two_batteries(given: dict[str, Any]) -> Answers:
    found = two_batteries(given["e1_V"], given["r1_ohm"], given["e2_V"], given["r3_ohm"], given["r2_shunt_ohm"])
    i1, i3 = found.source_currents.real
    i2 = found.branch_currents[0].real
    return {
        "i1_A": i1,
        "i2_A": i2,
        "i3_into_battery2_A": -i3,
        "v_r1_V": i1 * given["r1_ohm"],
        "v_r2_V": i2 * given["r2_shunt_ohm"],
        "v_r3_V": -i3 * given["r3_ohm"],
    }


@example
def thevenin_norton(given: dict[str, Any]) -> Answers:
    sources = (given["e1_V"], given["r1_ohm"], given["e2_V"], given["r3_ohm"])
    idle, loaded = two_batteries(*sources, None), two_batteries(*sources, given["r_load_ohm"])
    shorted = solved(
        Circuit(
            2,
            (),
            (Contact(1, 0),),
            (Source(1, 0, sources[0], sources[1]), Source(1, 0, sources[2], sources[3])),
            (),
            (0,),
        )
    )
    short = shorted.contact_currents[0].real
    return {
        "v_th_V": idle.node_voltages[1].real,
        "r_th_ohm": idle.node_voltages[1].real / short,
        "i_n_A": short,
        "load_V": loaded.node_voltages[1].real,
        "load_A": loaded.branch_currents[0].real,
    }


@example
def kirchhoff_three_currents(given: dict[str, Any]) -> Answers:
    # One node over the other: I1 down through the shared 6 ohm, I2 and I3 as the equations count them.
    sources = (
        Source(1, 0, given["e1_V"], given["r2_plus_internal_ohm"]),
        Source(0, 1, -given["e2_V"], given["r3_plus_internal_ohm"]),
    )
    found = solved(Circuit(2, (Branch(1, 0, given["r1_ohm"]),), (), sources, (), (0,)))
    i1 = found.branch_currents[0].real
    i2, i3 = found.source_currents[0].real, -found.source_currents[1].real
    return {"i1_A": i1, "i2_A": i2, "i3_A": i3}


@example
def kirchhoff_doe_current_law(given: dict[str, Any]) -> Answers:
    branches = (Branch(1, 0, given["r1_ohm"]), Branch(1, 0, given["r2_ohm"]))
    found = solved(Circuit(2, branches, (), (Source(1, 0, given["e_V"], given["r_series_ohm"]),), (), (0,)))
    return {
        "i_total_A": found.source_currents[0].real,
        "i1_A": found.branch_currents[0].real,
        "i2_A": found.branch_currents[1].real,
    }


@example
def node_two(given: dict[str, Any]) -> Answers:
    branches = (Branch(1, 0, given["r2_ohm"]), Branch(1, 2, given["r3_ohm"]), Branch(2, 0, given["r4_ohm"]))
    sources = (Source(1, 0, given["e1_V"], given["r1_ohm"]), Source(2, 0, given["e2_V"], given["r5_ohm"]))
    found = solved(Circuit(3, branches, (), sources, (), (0,)))
    return {"v1_V": found.node_voltages[1].real, "v2_V": found.node_voltages[2].real}


# --- Batteries ---------------------------------------------------------------------------------------


def battery(emf: float, internal: float, load: float) -> tuple[float, float, float]:
    """Current, voltage and power of a load on a battery."""
    source = (Source(1, 0, emf, internal),)
    found = solved(Circuit(2, (), (), source, (Load(1, 0, emf, impedance=load),), (0,)))
    return found.load_currents[0].real, found.load_voltages[0].real, found.load_powers[0].real


@example
def battery_terminal_voltage(given: dict[str, Any]) -> Answers:
    light, heavy = given["loads_ohm"]
    i_10, v_10, _ = battery(given["emf_V"], given["r_int_ohm"], light)
    i_05, v_05, p_05 = battery(given["emf_V"], given["r_int_ohm"], heavy)
    i_aged, v_aged, p_aged = battery(given["emf_V"], given["r_int_aged_ohm"], heavy)
    return {
        "i_10_A": i_10,
        "v_10_V": v_10,
        "i_05_A": i_05,
        "v_05_V": v_05,
        "p_05_W": p_05,
        "i_aged_A": i_aged,
        "v_aged_V": v_aged,
        "p_aged_W": p_aged,
    }


@example
def battery_internal_from_test(given: dict[str, Any]) -> Answers:
    amps = given["v_load_V"] / given["r_load_ohm"]
    internal = (given["voc_V"] - given["v_load_V"]) / amps
    i, v, _ = battery(given["voc_V"], internal, given["r_load_ohm"])
    assert v == pytest.approx(given["v_load_V"], abs=1e-9)
    return {"i_A": i, "r_int_ohm": internal}


@example
def fault_battery_block(given: dict[str, Any]) -> Answers:
    found = solved(Circuit(2, (), (Contact(1, 0),), (Source(1, 0, given["e_V"], given["r_ohm"]),), (), (0,)))
    return {"i_sc_A": found.contact_currents[0].real}


@example
def fault_bank_series_parallel(given: dict[str, Any]) -> Answers:
    emf, r = given["v_each_V"], given["v_each_V"] / given["i_sc_each_A"]
    series, strings = given["series"], given["parallel"]
    assert series == 2
    sources = tuple(
        source for string in range(strings) for source in (Source(2 + string, 0, emf, r), Source(1, 2 + string, emf, r))
    )
    found = solved(Circuit(2 + strings, (), (Contact(1, 0),), sources, (), (0,)))
    return {"i_sc_bank_A": found.contact_currents[0].real}


@example
def polarity_indicator_current(given: dict[str, Any]) -> Answers:
    return {"i_mA": parallel(given["v_V"], given["r_ohm"]).source_currents[0].real * 1000}


# --- Alternating current -----------------------------------------------------------------------------


@example
def ac_drop_12awg(given: dict[str, Any]) -> Answers:
    answers: Answers = {}
    for gauge in (12, 8):
        r = given["k_ohm_cmil_ft"] * given["length_one_way_ft"] / given[f"cmil_{gauge}"]
        found = solved(
            Circuit(
                4,
                (Branch(1, 2, r), Branch(3, 0, r)),
                (),
                (Source(1, 0, given["source_V"]),),
                (Load(2, 3, given["source_V"], current=given["current_A"]),),
                (0,),
            )
        )
        drop = given["source_V"] - found.load_voltages[0].real
        answers |= {f"drop_{gauge}_V": drop, f"drop_{gauge}_percent": 100 * drop / given["source_V"]}
    return answers


def three_wire(leg: float, loads: tuple[Load, ...], wire: float | None, neutral: bool = True) -> Solution:
    """Sources 1–0 and 0–2, wires to 3, 4 (the neutral) and 5, the loads between those."""
    sources = (Source(1, 0, leg), Source(0, 2, leg))
    ends = ((1, 3), (0, 4), (2, 5)) if neutral else ((1, 3), (2, 5))
    branches = () if wire is None else tuple(Branch(a, b, wire) for a, b in ends)
    contacts = tuple(Contact(a, b) for a, b in ends) if wire is None else ()
    return solved(Circuit(6, branches, contacts, sources, loads, (0,)))


@example
def ac_three_wire_drop(given: dict[str, Any]) -> Answers:
    volts = given["source_per_side_V"]
    loads = (Load(3, 4, volts, current=given["i_side_ab_A"]), Load(4, 5, volts, current=given["i_side_bc_A"]))
    found = three_wire(volts, loads, given["r_each_wire_ohm"])
    return {
        "i_neutral_A": abs(found.branch_currents[1]),
        "v_ab_V": found.load_voltages[0].real,
        "v_bc_V": found.load_voltages[1].real,
    }


@example
def ac_rx_series(given: dict[str, Any]) -> Answers:
    found = loop(given["source_V"], given["r_ohm"], 1j * given["x_ohm"])
    return {"current_A": abs(found.source_currents[0]), "v_x_V": abs(found.node_voltages[2])}


@example
def split_phase_balanced(given: dict[str, Any]) -> Answers:
    leg, line, watts = given["v_leg_V"], given["v_line_V"], given["p_each_W"]
    both_120 = solved(
        Circuit(2, (), (), (Source(1, 0, leg),), (Load(1, 0, leg, power=watts), Load(1, 0, leg, power=watts)), (0,))
    )
    one_each = three_wire(leg, (Load(3, 4, leg, power=watts), Load(4, 5, leg, power=watts)), None)
    both_240 = three_wire(leg, (Load(3, 5, line, power=watts), Load(3, 5, line, power=watts)), None)
    return {
        "i_total_120_A": abs(both_120.source_currents[0]),
        "i_total_240_A": abs(both_240.source_currents[0]),
        "i_line_split_A": abs(one_each.source_currents[0]),
        "i_neutral_A": abs(one_each.contact_currents[1]),
        "hot_to_hot_V": abs(one_each.node_voltages[3] - one_each.node_voltages[5]),
    }


@example
def broken_neutral_120_240(given: dict[str, Any]) -> Answers:
    leg = given["v_leg_V"]
    watts = (given["p1_W"], given["p2_W"])
    ohms = tuple(leg**2 / power for power in watts)
    as_powers = (Load(3, 4, leg, power=watts[0]), Load(4, 5, leg, power=watts[1]))
    as_ohms = tuple(Load(load.a, load.b, leg, impedance=ohm) for load, ohm in zip(as_powers, ohms, strict=True))
    whole, lost = three_wire(leg, as_ohms, None), three_wire(leg, as_ohms, None, neutral=False)
    # Constant powers have no stable state in series: they are taken as the impedances that they are at 120 V.
    powers = three_wire(leg, as_powers, None, neutral=False)
    assert powers.as_impedance == (0, 1)
    assert powers.load_voltages == pytest.approx(lost.load_voltages, abs=1e-9)
    return {
        "i1_A": abs(whole.load_currents[0]),
        "r1_ohm": abs(whole.load_voltages[0] / whole.load_currents[0]),
        "i2_A": abs(whole.load_currents[1]),
        "r2_ohm": abs(whole.load_voltages[1] / whole.load_currents[1]),
        "i_open_A": abs(lost.load_currents[0]),
        "v1_open_V": abs(lost.load_voltages[0]),
        "v2_open_V": abs(lost.load_voltages[1]),
    }


@example
def broken_neutral_textbook_question(given: dict[str, Any]) -> Answers:
    leg = given["v_leg_V"]
    loads = (Load(3, 4, leg, impedance=leg / given["i_a_A"]), Load(4, 5, leg, impedance=leg / given["i_b_A"]))
    whole, lost = three_wire(leg, loads, None), three_wire(leg, loads, None, neutral=False)
    return {
        "i_neutral_A": abs(whole.contact_currents[1]),
        "v_a_open_V": abs(lost.load_voltages[0]),
        "v_b_open_V": abs(lost.load_voltages[1]),
    }


def degrees(phasor: complex) -> float:
    return math.degrees(cmath.phase(phasor))


@example
def pf_rl(given: dict[str, Any]) -> Answers:
    x = 2 * math.pi * given["f_Hz"] * given["l_H"]
    found = loop(given["source_V"], 1j * x, given["r_ohm"])
    current = complex(found.source_currents[0])
    power = given["source_V"] * current.conjugate()
    return {
        "xl_ohm": x,
        "z_ohm": abs(given["source_V"] / current),
        "angle_deg": -degrees(current),
        "i_A": abs(current),
        "p_W": power.real,
        "q_var": power.imag,
        "s_VA": abs(power),
        "pf": power.real / abs(power),
    }


@example
def pf_wattmeter(given: dict[str, Any]) -> Answers:
    volts, watts = given["v_V"], given["p_W"]
    apparent = volts * given["i_A"]
    load = complex(watts, math.sqrt(apparent**2 - watts**2))
    x = 1 / (2 * math.pi * given["f_Hz"] * given["c_F"])

    def with_capacitor(*, fitted: bool) -> Solution:
        branches = (Branch(1, 0, -1j * x),) if fitted else ()
        return solved(Circuit(2, branches, (), (Source(1, 0, volts),), (Load(1, 0, volts, power=load),), (0,)))

    bare, corrected = with_capacitor(fitted=False), with_capacitor(fitted=True)
    s_bare = volts * bare.source_currents[0].conjugate()
    s_new = volts * corrected.source_currents[0].conjugate()
    s_capacitor = volts * corrected.branch_currents[0].conjugate()
    return {
        "s_VA": abs(s_bare),
        "pf": float(s_bare.real / abs(s_bare)),
        "q_var": float(s_bare.imag),
        "xc_ohm": abs(volts / corrected.branch_currents[0]),
        "i_c_A": abs(corrected.branch_currents[0]),
        "q_c_var": -float(s_capacitor.imag),
        "q_net_var": float(s_new.imag),
        "s_new_VA": abs(s_new),
        "pf_new": float(s_new.real / abs(s_new)),
        "i_new_A": abs(corrected.source_currents[0]),
    }


@example
def pf_resistive(given: dict[str, Any]) -> Answers:
    found = parallel(given["v_V"], given["r_ohm"])
    return {"i_A": abs(found.source_currents[0]), "p_W": given["v_V"] * found.source_currents[0].real}


def rlc(given: dict[str, Any]) -> tuple[complex, complex, complex]:
    omega = 2 * math.pi * given["f_Hz"]
    return given["r_ohm"], 1j * omega * given["l_H"], -1j / (omega * given["c_F"])


@example
def ac_series_rlc(given: dict[str, Any]) -> Answers:
    z = rlc(given)
    found = loop(given["v_V"], *z)
    current = complex(found.source_currents[0])
    across = [abs(found.branch_currents[index] * z[index]) for index in range(3)]
    return {
        "i_A": abs(current),
        "v_r_V": across[0],
        "v_l_V": across[1],
        "v_c_V": across[2],
        "i_angle_deg": degrees(current),
    }


@example
def ac_parallel_rlc(given: dict[str, Any]) -> Answers:
    found = parallel(given["v_V"], *rlc(given))
    current = complex(found.source_currents[0])
    r, x_l, x_c = (abs(amps) for amps in found.branch_currents)
    return {
        "i_total_A": abs(current),
        "i_angle_deg": degrees(current),
        "i_r_A": r,
        "i_l_A": x_l,
        "i_c_A": x_c,
    }
