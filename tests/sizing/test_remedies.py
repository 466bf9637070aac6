"""What a finding can offer, and what the record's own items are sized from."""

from __future__ import annotations

import pytest

from vesselspec.physics.conductors.sizing import Circuit, size_circuit
from vesselspec.rules.sizing import case_of, remedy
from vesselspec.units import parse_size

from .records import Raw, boat_of, one_circuit


def raw(size: str = "14 AWG", device: float = 30, length: float = 3.0) -> Raw:
    circuit = Circuit(practice="north-american", dc=False, volts=120.0, line_v=120.0, between=("L1", "N"), amps=10.0,
                      insulation_c=75.0, engine_space=False, loaded=2, sheath=True)  # fmt: skip
    load = {"current": "10 A", "poles": ["L1", "N"], "use": "other", "duty": "intermittent"}
    return one_circuit(circuit, size, device, length, load)


def test_a_size_or_a_smaller_device() -> None:
    """33 CFR 183.425 Table 5, 75 °C: 14 AWG carries 20 A, 10 AWG 40 A."""
    boat = boat_of(raw())
    expected = "10 AWG would be protected by it; or a device of at most 20 A"
    for item in ("X1", "load"):
        assert remedy(boat, item, device_a=30) == expected
    assert remedy(boat, "X1", amps=22) == "12 AWG would carry it"
    assert remedy(boat, "X1", amps=15) == ""
    assert remedy(boat, "X1", drop_v=0.1) == "6 AWG would keep to the limit"
    assert remedy(boat, "X1", drop_v=1e-6) == "no single conductor in the tables would keep to the limit"
    assert remedy(boat, "device", amps=10) == ""
    assert remedy(boat, "nothing", amps=10) == ""


@pytest.mark.parametrize("item", ["load", "X1"])
def test_everything_comes_from_the_record(item: str) -> None:
    boat = boat_of(raw())
    case = case_of(boat, item)
    assert case is not None
    assert (case.cable, case.load, case.device, case.present) == ("X1", "load", "device", parse_size("14 AWG"))
    circuit = case.circuit
    assert (circuit.amps, circuit.length_m, circuit.device_a, circuit.loaded) == (10.0, 3.0, 30.0, 2)
    assert (circuit.insulation_c, circuit.engine_space, circuit.sheath, circuit.continuous) == (
        75.0,
        False,
        True,
        False,
    )
    assert not case.missing
    assert size_circuit(circuit).size == parse_size("10 AWG")
    for known in case.known:
        assert boat.place(known.at).line > 0, known


def test_what_the_record_lacks_is_named() -> None:
    bare = raw()
    for field in ("size", "length", "insulation", "route"):
        del bare["cables"]["X1"][field]
    del bare["devices"]["device"]["rating"]
    del bare["loads"]["load"]["duty"]
    case = case_of(boat_of(bare), "load")
    assert case is not None
    missing = dict.fromkeys(what for _, what in case.missing)
    for word in ("its size", "its length", "its insulation temperature", "its route", "its rating", "its duty"):
        assert any(what.startswith(word) for what in missing), word
    del bare["loads"]["load"]["current"]
    case = case_of(boat_of(bare), "load")
    assert case is not None
    assert case.circuit.amps is None
    assert ("load", "its power or current") in case.missing
    assert size_circuit(case.circuit).size is None


def test_a_feeder_is_sized_for_the_most_that_any_condition_sends_through_it() -> None:
    boat = raw()
    boat["devices"]["box"] = {"kind": "junction", "space": "here", "system": "it"}
    boat["cables"]["X1"]["to"] = "box"
    boat["cables"]["X1"]["cores"]["two"]["to"] = "N"
    for name in ("load", "second"):
        boat["loads"][name] = dict(boat["loads"]["load"])
        boat["cables"][f"to-{name}"] = {**boat["cables"]["X1"], "from": "box", "to": name,
                                        "cores": {"black": "L1", "white": "N", "green": "PE"}}  # fmt: skip
    boat["conditions"]["running"]["demand"] = {"load": 1.0, "second": 0.5}
    case = case_of(boat_of(boat), "X1")
    assert case is not None
    assert case.load is None
    assert case.circuit.amps == pytest.approx(15.0, rel=0.03)
    del boat["conditions"]
    case = case_of(boat_of(boat), "X1")
    assert case is not None
    assert case.circuit.amps is None
    assert case.missing
