"""Small boats for load sums, written out so that each figure can be checked by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from vesselspec.model.vessel import Vessel, build_vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.graph import Network
from vesselspec.network.state import State, resolve

Raw = dict[str, Any]
ABOUT: Raw = {"record": 1, "name": "Example", "practice": "north-american"}
SYSTEMS: Raw = {
    "ac": {"kind": "ac-split-phase", "voltage": "120/240 V", "frequency": "60 Hz"},
    "dc": {"kind": "dc", "voltage": "12 V"},
}
ALL = {"black": "L1", "red": "L2", "white": "N", "brown": "DC+", "yellow": "DC-"}


def cable(from_: str, to: str, *poles: str) -> Raw:
    """A cable whose cores land on the same poles at both ends."""
    return {
        "from": from_,
        "to": to,
        "size": "6 AWG",
        "length": "1 m",
        "cores": {colour: pole for colour, pole in ALL.items() if pole in poles},
    }


def split_phase(**changes: Any) -> Raw:
    """Shore on a panel of one section: a heater on each line, an oven across both, an outlet on line 1."""
    record: Raw = {
        "systems": SYSTEMS,
        "devices": {"shore": {"kind": "shore-inlet", "system": "ac", "rating": "30 A"}},
        "panels": {
            "main": {
                "system": "ac",
                "sections": {
                    "a": {
                        "rating": "50 A",
                        "ways": {
                            "1": {"poles": ["L1", "L2"], "rating": "30 A", "duty": "main"},
                            "2": {"poles": ["L1"], "rating": "15 A"},
                            "3": {"poles": ["L2"], "rating": "15 A"},
                            "4": {"poles": ["L1", "L2"], "rating": "20 A"},
                            "5": {"poles": ["L1"], "rating": "15 A"},
                        },
                    }
                },
            }
        },
        "loads": {
            "heater-1": {"system": "ac", "poles": ["L1", "N"], "power": "1200 W", "duty": "continuous"},
            "heater-2": {"system": "ac", "poles": ["L2", "N"], "power": "960 W", "duty": "continuous"},
            "oven": {"system": "ac", "poles": ["L1", "L2"], "power": "2400 W", "duty": "intermittent"},
            "outlet": {"kind": "receptacles", "system": "ac", "poles": ["L1", "N"], "power": "1200 W"},
        },
        "cables": {
            "C1": cable("shore", "main/a/1", "L1", "L2", "N"),
            "C2": cable("main/a/2", "heater-1", "L1", "N"),
            "C3": cable("main/a/3", "heater-2", "L2", "N"),
            "C4": cable("main/a/4", "oven", "L1", "L2"),
            "C5": cable("main/a/5", "outlet", "L1", "N"),
        },
        "conditions": {
            "alongside": {
                "running": ["shore"],
                "demand": {"heater-1": 1, "heater-2": 0.5, "oven": 0.5, "outlet": 0.1},
            }
        },
    }
    return changed(record, changes)


def battery(**changes: Any) -> Raw:
    """A 100 Ah bank that is rated at 20 h, with a 60 W load and a 10 A charger on shore."""
    record: Raw = {
        "systems": SYSTEMS,
        "devices": {
            "shore": {"kind": "shore-inlet", "system": "ac", "rating": "30 A"},
            "charger": {
                "kind": "charger",
                "system": "ac",
                "poles": ["L1", "N"],
                "dc_system": "dc",
                "charge_current": "10 A",
                "input_current": "2 A",
            },
            "bank": {
                "kind": "battery-bank",
                "system": "dc",
                "chemistry": "flooded-lead-acid",
                "capacity": "100 Ah",
                "capacity_over": "20 h",
                "usable_share": 0.5,
                "charge_acceptance": "25 A",
                "peukert": 1.2,
            },
        },
        "loads": {"lamp": {"system": "dc", "power": "60 W"}},
        "cables": {
            "C1": cable("shore", "charger/ac", "L1", "N"),
            "D1": cable("bank", "charger/dc", "DC+", "DC-"),
            "D2": cable("bank", "lamp", "DC+", "DC-"),
        },
        "conditions": {
            "away": {"running": [], "demand": {"lamp": 1}},
            "alongside": {"running": ["shore", "charger"], "demand": {"lamp": 1, "charger": 1}},
        },
    }
    return changed(record, changes)


def changed(record: Raw, changes: Raw) -> Raw:
    """A record with single entries put in: `loads={"oven": {...}}`; None takes one out."""
    found = {name: dict(entries) for name, entries in record.items()}
    for name, entries in changes.items():
        for key, entry in entries.items():
            if entry is None:
                found[name].pop(key)
            else:
                found.setdefault(name, {})[key] = {**found.get(name, {}).get(key, {}), **entry}
    return found


def built(record: Raw) -> tuple[Vessel, Network, dict[str, State]]:
    """A record as the physics sees it."""
    vessel = build_vessel(ABOUT, record)
    network = compile_network(vessel)
    return vessel, network, {key: resolve(vessel, network, each) for key, each in vessel.conditions.items()}


def written(folder: Path, record: Raw) -> str:
    """A record as files. JSON is YAML."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "vessel.yaml").write_text(json.dumps({"vessel": ABOUT, **record}), encoding="utf-8")
    return str(folder)
