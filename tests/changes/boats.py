"""Small invented boats as plain data, so that a test changes one thing and reads the rest at a glance."""

from __future__ import annotations

import datetime
import json
import random
import re
from collections.abc import Callable, Iterator
from typing import Any

from hypothesis import strategies as st

from vesselspec.changes import Change, Review, Side, compare, review, tell
from vesselspec.changes.review import side as side_on
from vesselspec.model.vessel import Vessel
from vesselspec.record import Record, read
from vesselspec.rules import Boat

Raw = dict[str, Any]

_OPEN_SPACE = {"route": ["saloon"], "insulation": "105 degC", "sheath": True}


def _line(start: str, end: str, size: str, **more: Any) -> Raw:
    return {"from": start, "to": end, "size": size, "length": "3 m", **_OPEN_SPACE, "cores": _AC, **more}


_AC = {"black": "L1", "white": "N", "green": "PE"}

#: Shore feeds section a, the generator section b; both run in `both`, shore alone in `quiet`.
TWO_SOURCES: Raw = {
    "vessel": {"record": 1, "name": "Two sources", "practice": "north-american"},
    "spaces": {"saloon": {"name": "Saloon"}, "engine-room": {"engine_space": True}},
    "systems": {
        "ac": {"kind": "ac-single-phase", "voltage": "120 V", "frequency": "60 Hz"},
        "dc": {"kind": "dc", "voltage": "12 V"},
    },
    "devices": {
        "shore-1": {"kind": "shore-inlet", "system": "ac", "rating": "30 A", "space": "saloon"},
        "generator-1": {
            "kind": "generator",
            "system": "ac",
            "rating": "20 A",
            "neutral_earth_bond": True,
            "space": "engine-room",
        },
        "bank-1": {"kind": "battery-bank", "system": "dc", "max_discharge": "100 A", "space": "saloon"},
        "fuse-1": {"kind": "fuse", "system": "dc", "rating": "30 A", "mounted_on": "bank-1:DC+", "space": "saloon"},
    },
    "panels": {
        "main": {
            "space": "saloon",
            "system": "ac",
            "sections": {
                "a": {
                    "ways": {
                        "main": {"poles": ["L1", "N"], "rating": "30 A", "duty": "main"},
                        "1": {"poles": ["L1"], "rating": "15 A", "label": "Heater"},
                        "2": {"poles": ["L1"], "rating": "15 A", "label": "Spare", "spare": True},
                    }
                },
                "b": {
                    "ways": {
                        "main": {"poles": ["L1"], "rating": "20 A", "duty": "main"},
                        "1": {"poles": ["L1"], "rating": "15 A", "label": "Fridge"},
                        "2": {"poles": ["L1"], "rating": "15 A", "label": "Spare", "spare": True},
                    }
                },
            },
        }
    },
    "loads": {
        "heater": {"name": "Cabin heater", "system": "ac", "power": "1200 W", "power_factor": 1, "space": "saloon"},
        "fridge": {"system": "ac", "power": "600 W", "power_factor": 1, "space": "saloon", "use": "refrigeration"},
        "pump": {"system": "dc", "power": "120 W", "space": "saloon", "use": "pump"},
    },
    "cables": {
        "F1": _line("shore-1", "main/a/main", "10 AWG"),
        "F2": _line("generator-1", "main/b/main", "10 AWG"),
        "C1": _line("main/a/1", "heater", "14 AWG", label="C1"),
        "C2": _line("main/b/1", "fridge", "14 AWG", label="C2"),
        "D1": {
            **_line("fuse-1/load", "pump", "14 AWG", label="D1"),
            "cores": {"red": "DC+", "yellow": {"from": "bank-1:DC-", "to": "DC-"}},
        },
    },
    "conditions": {
        "both": {"running": ["shore-1", "generator-1"], "demand": {"heater": 1.0, "fridge": 0.5, "pump": 0.5}},
        "quiet": {"running": ["shore-1"], "demand": {"heater": 0.5}},
    },
}

#: A boat in which everything that can refer to something does.
REFERRING: Raw = {
    "vessel": {"record": 1, "name": "Referring", "practice": "north-american"},
    "spaces": {"saloon-space": {}, "engine-place": {"engine_space": True}},
    "systems": {
        "ac-system": {"kind": "ac-split-phase", "voltage": "120/240 V", "frequency": "60 Hz"},
        "dc-system": {"kind": "dc", "voltage": "24 V"},
    },
    "devices": {
        "inlet-one": {"kind": "shore-inlet", "system": "ac-system", "rating": "50 A", "space": "saloon-space"},
        "set-one": {
            "kind": "generator",
            "system": "ac-system",
            "rating": "50 A",
            "start_battery": "bank-one",
            "start_switch": "switch-one",
            "space": "engine-place",
        },
        "changeover-one": {"kind": "selector", "system": "ac-system", "inputs": ["shore", "generator"]},
        "inverter-one": {
            "kind": "inverter-charger",
            "system": "ac-system",
            "dc_system": "dc-system",
            "apparent_power": "5 kVA",
            "efficiency": 0.9,
        },
        "bank-one": {"kind": "battery-bank", "system": "dc-system", "max_discharge": "300 A"},
        "fuse-one": {"kind": "fuse", "system": "dc-system", "rating": "250 A", "mounted_on": "bank-one:DC+"},
        "switch-one": {"kind": "switch", "system": "dc-system", "mounted_on": "fuse-one/load:DC+"},
    },
    "panels": {
        "panel-one": {
            "space": "saloon-space",
            "system": "ac-system",
            "sections": {
                "shore-section": {
                    "ways": {
                        "10": {"poles": ["L1", "L2"], "rating": "50 A", "duty": "main"},
                        "20": {"poles": ["L1", "L2"], "rating": "50 A", "label": "Inverter"},
                        "30": {"poles": ["L1"], "rating": "20 A", "label": "Heater"},
                    },
                },
                "inverter-section": {
                    "neutral_bar": "shore-section",
                    "ways": {
                        "10": {"poles": ["L1", "L2"], "rating": "50 A", "duty": "main"},
                        "30": {"poles": ["L1"], "rating": "15 A", "label": "Outlets"},
                    },
                },
            },
        }
    },
    "loads": {
        "heater-one": {"system": "ac-system", "poles": ["L1", "N"], "power": "1200 W", "power_factor": 1},
        "outlets-one": {"kind": "receptacles", "system": "ac-system", "poles": ["L1", "N"], "power": "600 W"},
    },
    "cable_types": {"type-one": {"size": "12 AWG", "insulation": "105 degC", "sheath": True, "cores": _AC}},
    "bundles": {"duct-one": {}},
    "cables": {
        "W1": {"type": "type-one", "from": "inlet-one", "to": "changeover-one/shore", "size": "6 AWG"},
        "W2": {"type": "type-one", "from": "set-one", "to": "changeover-one/generator", "size": "6 AWG"},
        "W3": {"type": "type-one", "from": "changeover-one/out", "to": "panel-one/shore-section/10", "size": "6 AWG"},
        "W4": {"type": "type-one", "from": "panel-one/shore-section/20", "to": "inverter-one/ac-in", "size": "6 AWG"},
        "W5": {
            "type": "type-one",
            "from": "inverter-one/ac-out",
            "to": "panel-one/inverter-section/10",
            "size": "6 AWG",
        },
        "W6": {
            "type": "type-one",
            "from": "panel-one/shore-section/30",
            "to": "heater-one",
            "route": ["saloon-space", "engine-place"],
            "bundle": "duct-one",
            "joints": [{"space": "engine-place", "note": "Crimped."}],
        },
        "W7": {
            "type": "type-one",
            "from": "panel-one/inverter-section/30",
            "to": "outlets-one",
            "cores": {"white": {"from": "panel-one/shore-section:N", "to": "N"}},
            "bundle": "duct-one",
        },
        "W8": {
            "from": "switch-one/load",
            "to": "inverter-one/dc",
            "size": "4/0 AWG",
            "cores": {"red": "DC+", "yellow": {"from": "bank-one:DC-", "to": "DC-"}},
        },
    },
    "interlocks": {"slide-one": {"between": ["panel-one/shore-section/20", "panel-one/inverter-section/10"]}},
    "conditions": {
        "alongside-state": {
            "running": ["inlet-one", "inverter-one"],
            "positions": {
                "changeover-one": "shore",
                "slide-one": "panel-one/shore-section/20",
                "panel-one/shore-section/30": "closed",
                "switch-one": "closed",
            },
            "demand": {"heater-one": 1, "outlets-one": {"factor": 0.5, "per_day": "2 h"}},
        }
    },
}


_PAIR = re.compile(r"\\ud[89ab][0-9a-f]{2}\\ud[c-f][0-9a-f]{2}")


def as_yaml(raw: Raw) -> bytes:
    """JSON is YAML, but for the way in which it writes what lies beyond U+FFFF."""
    text = _PAIR.sub(lambda found: f"\\U{ord(json.loads(chr(34) + found[0] + chr(34))):08x}", json.dumps(raw))
    return text.encode()


def record(raw: Raw) -> Record:
    return read({"vessel.yaml": as_yaml(raw)})


def vessel(raw: Raw) -> Vessel:
    found = record(raw)
    assert found.vessel is not None, found.problems
    return found.vessel


def boat(raw: Raw) -> Boat:
    found = record(raw)
    assert found.vessel is not None, found.problems
    return Boat(found.vessel, found.places)


def edited(raw: Raw, change: Callable[[Raw], object]) -> Raw:
    """A copy of a boat with one change made to it."""
    copied: Raw = json.loads(json.dumps(raw))  # parts written once above are parts of their own here
    change(copied)
    return copied


@st.composite
def spoilt(draw: st.DrawFn) -> Raw:
    """A boat in which something is gone, exchanged or mistaken: often no record that can be understood."""
    raw = edited(draw(st.sampled_from([TWO_SOURCES, REFERRING])), lambda _: None)
    for _ in range(draw(st.integers(0, 3))):
        spots = list(_spots(raw))
        holder, key = draw(st.sampled_from(spots))
        other, there = draw(st.sampled_from(spots))
        if draw(st.booleans()) and key not in ("from", "to"):
            del holder[key]
        else:
            holder[key] = json.loads(json.dumps(other[there]))
    return raw


def _spots(data: Any) -> Iterator[tuple[Any, Any]]:
    for key in list(data) if isinstance(data, dict) else range(len(data)) if isinstance(data, list) else ():
        yield data, key
        yield from _spots(data[key])


#: The day of every review here.
ON = datetime.date(2026, 3, 14)


def side(name: str, of: Record) -> Side:
    return side_on(name, of, ON)


def reviewed(before: Raw, after: Raw) -> Review:
    return review(side("before", record(before)), side("after", record(after)))


def changes(before: Raw, after: Raw) -> tuple[Change, ...]:
    return compare(vessel(before), vessel(after))


def sentences(before: Raw, after: Raw) -> list[str]:
    one, two = vessel(before), vessel(after)
    return [tell(change, one, two) for change in compare(one, two)]


def _shuffled(data: Any, source: random.Random) -> Any:
    if isinstance(data, dict):
        keys = list(data)
        source.shuffle(keys)
        return {key: _shuffled(data[key], source) for key in keys}
    return data


def in_files(raw: Raw, source: random.Random) -> dict[str, bytes]:
    """The same record in several files, each entry in any of them."""
    files: dict[str, Raw] = {"vessel.yaml": {"vessel": raw["vessel"]}, "a.yaml": {}, "deep/b.yaml": {}}
    for collection, held in raw.items():
        if collection != "vessel":
            for key, item in held.items():
                files[source.choice(list(files))].setdefault(collection, {})[key] = item
    return {name: json.dumps(_shuffled(content, source)).encode() for name, content in files.items()}
