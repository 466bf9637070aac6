"""Published worked examples of fault currents, each solved as a circuit and met to the rounding it is printed with."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ruamel.yaml import YAML

from vesselspec.physics.faults.bolted import Faults, Net, faults
from vesselspec.physics.steady.circuit import Branch, Circuit, Contact, Source

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "faults.yaml"
EXAMPLES: dict[str, dict[str, Any]] = {
    example["id"]: example for example in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["examples"]
}


def fault(circuit: Circuit, a: int, b: int = 0) -> Faults:
    return faults(Net.of(circuit), np.array([a]), np.array([b]))


def amps(circuit: Circuit, a: int) -> float:
    return abs(complex(fault(circuit, a).amps[0]))


def thevenin_norton(given: dict[str, Any]) -> dict[str, float]:
    """The open-circuit voltage, the impedance and the bolted fault at the load's terminals, from one fault."""
    circuit = Circuit(
        2,
        (),
        (),
        (Source(1, 0, given["e1_V"], given["r1_ohm"]), Source(1, 0, given["e2_V"], given["r3_ohm"])),
        (),
        (0,),
    )
    found = fault(circuit, 1)
    volts, ohm = found.volts[0].real, found.z[0].real
    load = volts / (ohm + given["r_load_ohm"])
    return {
        "v_th_V": volts,
        "r_th_ohm": ohm,
        "i_n_A": abs(found.amps[0]),
        "load_V": load * given["r_load_ohm"],
        "load_A": load,
    }


def fault_300kva(given: dict[str, Any]) -> dict[str, float]:
    """A phase of the transformer, then the run of conductor as the point-to-point method's C gives its impedance."""
    volts = given["v_ll_V"] / math.sqrt(3)
    rated = given["kva"] * 1000 / given["v_ll_V"] / math.sqrt(3)
    z = given["z_percent"] / 100 * volts / rated
    # C is the reciprocal of the impedance of a foot, so f = 1.732 L I / (C n E) is the ratio of run to transformer.
    run = given["length_ft"] / given["c_constant"] / given["n_per_phase"]
    circuit = Circuit(3, (Branch(1, 2, run),), (), (Source(1, 0, volts, z),), (), (0,))
    near, far = amps(circuit, 1), amps(circuit, 2)
    return {
        "i_fl_A": rated,
        "multiplier": near / rated,
        "i_sc_transformer_A": round(rated) * round(near / rated - 0.005, 2),
        "f": near / far - 1,
        "m": far / near,
    }


def fault_battery_block(given: dict[str, Any]) -> dict[str, float]:
    return {"i_sc_A": amps(Circuit(2, (), (), (Source(1, 0, given["e_V"], given["r_ohm"]),), (), (0,)), 1)}


def fault_bank_series_parallel(given: dict[str, Any]) -> dict[str, float]:
    """Every battery by itself; strings joined by contacts."""
    ohm = given["v_each_V"] / given["i_sc_each_A"]
    sources, contacts, node = [], [], 1
    top = given["series"] * given["parallel"] + 1
    for _ in range(given["parallel"]):
        below = 0
        for _ in range(given["series"]):
            sources.append(Source(node, below, given["v_each_V"], ohm))
            below, node = node, node + 1
        contacts.append(Contact(below, top))
    return {"i_sc_bank_A": amps(Circuit(top + 1, (), tuple(contacts), tuple(sources), (), (0,)), top)}


def polarity_indicator_current(given: dict[str, Any]) -> dict[str, float]:
    """What flows through the indicator to earth: a fault with its resistance in the way."""
    circuit = Circuit(3, (Branch(1, 2, given["r_ohm"]),), (), (Source(1, 0, given["v_V"]),), (), (0,))
    return {"i_mA": amps(circuit, 2) * 1000}


SOLVERS: dict[str, Callable[[dict[str, Any]], dict[str, float]]] = {
    each.__name__: each
    for each in (
        thevenin_norton,
        fault_300kva,
        fault_battery_block,
        fault_bank_series_parallel,
        polarity_indicator_current,
    )
}


def test_every_example_is_solved() -> None:
    assert set(SOLVERS) == set(EXAMPLES)


@pytest.mark.parametrize("name", EXAMPLES)
def test_example(name: str) -> None:
    given = EXAMPLES[name]
    answers = SOLVERS[name](given["inputs"])
    assert set(answers) == set(given["expected"]), "every printed answer is checked"
    for key, printed in given["expected"].items():
        assert answers[key] == pytest.approx(printed["value"], abs=printed["tol"]), key
