"""A synthetic vessel of any size: invented, for timing only.

Shore, generator and an inverter-charger feed distribution panels of forty ways each, which feed the branch
circuits; a third of the circuits are DC. Every twentieth cable has no length, every hundredth no label.
"""

from __future__ import annotations

from collections.abc import Iterator

_WAYS = 40


def _head() -> Iterator[str]:
    yield """vessel: {record: 1, name: Synthetic, practice: north-american}
spaces:
  engine-room: {engine_space: true}
  saloon: {}
systems:
  ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}
  dc: {kind: dc, voltage: 24 V}
cable_types:
  feeder: {size: 4/0 AWG, insulation: 105 degC, sheath: true, cores: {black: L1, red: L2, white: N, green: PE}}
  branch: {size: 12 AWG, insulation: 105 degC, sheath: true, cores: {black: L1, white: N, green: PE}}
  pair: {size: 12 AWG, insulation: 105 degC, sheath: true, cores: {red: DC+, yellow: DC-}}
  battery: {size: 4/0 AWG, insulation: 105 degC, sheath: false, cores: {red: DC+, black: DC-}}
devices:
  shore-1: {kind: shore-inlet, system: ac, rating: 100 A, space: saloon}
  generator-1: {kind: generator, system: ac, rating: 100 A, neutral_earth_bond: true, space: engine-room}
  selector-1: {kind: selector, system: ac, poles: [L1, L2, N], inputs: [shore, generator], space: saloon}
  inverter-1: {kind: inverter-charger, system: ac, dc_system: dc, apparent_power: 10 kVA, efficiency: 0.9, neutral_earth_relay: true, charge_current: 100 A, space: engine-room}
  bank-1: {kind: battery-bank, system: dc, max_discharge: 600 A, space: engine-room}
  fuse-1: {kind: fuse, system: dc, rating: 300 A, mounted_on: 'bank-1:DC+', space: engine-room}
"""


def _panels(circuits: int) -> Iterator[str]:
    yield "panels:\n  main:\n    space: saloon\n    system: ac\n    sections:\n"
    yield "      shore:\n        ways:\n          main: {poles: [L1, L2], rating: 100 A, duty: main}\n"
    yield "          inverter: {poles: [L1, L2], rating: 100 A, label: Inverter}\n"
    count = -(-circuits // _WAYS)
    for number in range(count):
        yield f"          p{number}: {{poles: [L1, L2], rating: 100 A, label: Panel {number}}}\n"
    for number in range(count):
        system = "dc" if number % 3 == 2 else "ac"
        yield f"  panel-{number}:\n    space: saloon\n    system: {system}\n    sections:\n      a:\n        ways:\n"
        if system == "ac":
            yield "          main: {poles: [L1, L2], rating: 100 A, duty: main}\n"
        for way in range(min(_WAYS, circuits - number * _WAYS)):
            pole = "DC+" if system == "dc" else f"L{1 + way % 2}"
            yield f"          '{way + 1}': {{poles: [{pole}], rating: 20 A, label: Circuit {number}-{way + 1}}}\n"


def _cables(circuits: int) -> Iterator[str]:
    yield "cables:\n"
    yield "  F1: {type: feeder, from: shore-1, to: selector-1/shore, length: 2 m, label: F1}\n"
    yield "  F2: {type: feeder, from: generator-1, to: selector-1/generator, length: 0.9 m, label: F2}\n"
    yield "  F3: {type: feeder, from: selector-1/out, to: main/shore/main, length: 1 m, label: F3}\n"
    yield "  F4: {type: feeder, from: main/shore/inverter, to: inverter-1/ac-in, length: 8 m, label: F4}\n"
    yield "  F5: {type: battery, from: fuse-1/load, to: inverter-1/dc, length: 1 m, label: F5,"
    yield " cores: {black: {from: 'bank-1:DC-', to: DC-}}}\n"
    for number in range(-(-circuits // _WAYS)):
        if number % 3 == 2:
            yield f"  B{number}: {{type: battery, from: fuse-1/load, to: panel-{number}/a, length: 5 m, label: B{number},"
            yield " cores: {black: {from: 'bank-1:DC-', to: DC-}}}\n"
        elif number % 3 == 1:
            yield f"  B{number}: {{type: feeder, from: inverter-1/ac-out, to: panel-{number}/a/main, length: 9 m, label: B{number}}}\n"
        else:
            yield f"  B{number}: {{type: feeder, from: main/shore/p{number}, to: panel-{number}/a/main, length: 9 m, label: B{number}}}\n"
    for circuit in range(circuits):
        number, way = divmod(circuit, _WAYS)
        dc = number % 3 == 2
        length = "" if circuit % 20 == 19 else f" length: {3 + circuit % 12}.5 m,"
        label = "" if circuit % 100 == 99 else f", label: C{circuit}"
        cores = ""
        if not dc and way % 2:
            cores = ", cores: {black: L2}"
        kind = "pair" if dc else "branch"
        yield f"  C{circuit}: {{type: {kind}, from: panel-{number}/a/{way + 1}, to: load-{circuit},{length}"
        yield f" route: [saloon]{cores}{label}}}\n"


def _loads(circuits: int) -> Iterator[str]:
    yield "loads:\n"
    for circuit in range(circuits):
        number, way = divmod(circuit, _WAYS)
        if number % 3 == 2:
            yield f"  load-{circuit}: {{system: dc, power: 20 W, space: saloon, use: lighting}}\n"
        else:
            yield f"  load-{circuit}: {{system: ac, poles: [L{1 + way % 2}, N], power: 150 W, space: saloon, use: other}}\n"


def _conditions(circuits: int) -> Iterator[str]:
    yield "conditions:\n"
    states = (
        ("alongside-summer", "shore-1", "shore"),
        ("alongside-winter", "shore-1", "shore"),
        ("at-anchor", "bank-1", "off"),
        ("under-way", "generator-1", "generator"),
        ("laid-up", "shore-1", "shore"),
    )
    for offset, (name, running, position) in enumerate(states):
        yield f"  {name}:\n    running: [{running}, inverter-1]\n    positions: {{selector-1: {position}}}\n    demand:\n"
        for circuit in range(offset, circuits, 5):
            yield f"      load-{circuit}: 0.3\n"


def record(circuits: int) -> bytes:
    """The one file of a vessel with this many branch circuits."""
    parts = (_head(), _panels(circuits), _loads(circuits), _cables(circuits), _conditions(circuits))
    return "".join(line for part in parts for line in part).encode()
