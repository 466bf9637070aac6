"""Small boats with one circuit, written as a record and read as one."""

from __future__ import annotations

import json
import re
from typing import Any

from vesselspec.physics.conductors.sizing import Circuit
from vesselspec.record import read
from vesselspec.rules import Boat, Survey, survey

Raw = dict[str, Any]
_PAIR = re.compile(r"\\u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}")
AC = {"black": "L1", "white": "N", "green": "PE"}


def boat_of(raw: Raw) -> Boat:
    """A boat from plain data."""
    # YAML has no surrogate pairs: what lies beyond 16 bits is written with eight digits.
    text = _PAIR.sub(lambda found: "\\U%08x" % ord(json.loads(f'"{found[0]}"')), json.dumps(raw, indent=1))  # noqa: UP031
    record = read({"vessel.yaml": text.encode()})
    assert record.vessel is not None, [str(problem) for problem in record.problems]
    return Boat(record.vessel, record.places)


def one_circuit(
    circuit: Circuit, size: str, device_a: float, length_m: float, load: Raw, condition: bool = True
) -> Raw:
    """A source, a device at it, one cable and one load, as the circuit describes them."""
    dc = circuit.dc
    system: Raw = {"kind": "dc" if dc else "ac-single-phase", "voltage": f"{circuit.line_v:g} V"}
    if not dc:
        system["frequency"] = "60 Hz"
    bank: Raw = {"kind": "battery-bank", "max_discharge": "2000 A"}
    generator: Raw = {"kind": "generator", "rating": "2000 A", "neutral_earth_bond": True}
    source = bank if dc else generator
    cores: Raw = {"one": {"from": "DC+" if dc else "L1", "colour": "red" if dc else "black"}}
    cores["two"] = {"from": "source:DC-" if dc else "source:N", "to": "DC-" if dc else "N",
                    "colour": "yellow" if dc else "white"}  # fmt: skip
    if not dc:
        cores["three"] = {"from": "source:PE", "to": "PE", "colour": "green"}
    cables: Raw = {
        "X1": {
            "from": "device/load",
            "to": "load",
            "size": size,
            "insulation": f"{circuit.insulation_c:g} degC",
            "sheath": bool(circuit.sheath),
            "length": f"{length_m:.6f} m",
            "route": ["here"],
            "label": "X1",
            "cores": cores,
        }
    }
    raw: Raw = {
        "vessel": {"record": 1, "name": "One circuit", "practice": circuit.practice},
        "spaces": {"here": {"engine_space": bool(circuit.engine_space)}},
        "systems": {"it": system},
        "devices": {
            "source": {"space": "here", "system": "it", **source},
            "device": {"kind": "breaker", "space": "here", "system": "it", "rating": f"{device_a:g} A",
                       "mounted_on": "source:DC+" if dc else "source:L1"},
        },
        "loads": {"load": {"space": "here", "system": "it", **load}},
        "cables": cables,
    }  # fmt: skip
    extra = (circuit.loaded or 2) - 2
    if extra > 0:  # dead weight in the same bundle: cores between two boxes, each of them counted as loaded
        cables["X1"]["bundle"] = "together"
        raw["bundles"] = {"together": {}}
        raw["devices"] |= {name: {"kind": "junction", "space": "here", "system": "it"} for name in ("box-1", "box-2")}
        cables["X2"] = {"from": "box-1", "to": "box-2", "size": "4 AWG", "insulation": "105 degC", "length": "1 m",
                        "route": ["here"], "label": "X2", "bundle": "together", "sheath": True,
                        "cores": {f"core {n}": {"from": "DC-" if dc else "N", "colour": "yellow" if dc else "white"}
                                  for n in range(extra)}}  # fmt: skip
    if condition:
        running = [] if dc else ["source"]
        raw["conditions"] = {"running": {"running": running, "demand": {"load": 1.0}}}
    return raw


#: What a survey of such a boat may say that has nothing to do with the size of its conductor.
BESIDE = frozenset({"unused-id", "earth-core-missing"})


def judged(raw: Raw) -> tuple[Survey, set[str]]:
    """The survey of a boat, and the rules that it breaks."""
    found = survey(boat_of(raw))
    return found, {finding.rule for finding in found.findings} - BESIDE
