"""Small boats for the fault levels: each a few lines, with figures that can be worked out by hand."""

from __future__ import annotations

from vesselspec.physics.faults.devices import DeviceChecks, checks_of
from vesselspec.physics.faults.levels import FaultLevels, FaultStudy, Level
from vesselspec.record import read
from vesselspec.rules import Boat

HEAD = "vessel: {record: 1, name: Example, practice: international}\n"


def boat(text: str) -> Boat:
    """A boat from its record."""
    record = read({"vessel.yaml": (HEAD + text).encode()})
    assert record.vessel is not None, [str(problem) for problem in record.problems]
    return Boat(record.vessel, record.places)


def levels(text: str, condition: str = "now") -> FaultLevels:
    """Its fault levels in a condition."""
    here = boat(text)
    return FaultStudy(here.vessel, here.network).of(here.vessel.conditions[condition], here.states[condition])


def level(text: str, place: str, one: str, two: str) -> Level:
    """One of them, which must be there."""
    found = levels(text).level(place, (one, two))
    assert found is not None
    return found


def checks(text: str) -> DeviceChecks:
    """Every protective device in the boat's only condition."""
    here = boat(text)
    (found,) = checks_of(here.vessel, here.network, here.states)
    return found


#: A bank of 12 V and 2400 A (5 mohm), and 2 m of 10 mm² out and back to a busbar.
BANK = """
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  bank: {kind: battery-bank, system: dc, short_circuit_current: 2400 A}
  bar: {kind: busbar, system: dc}
cables:
  C1: {from: bank, to: bar, size: 10 mm2, length: 2 m, insulation: 70 degC, cores: {red: DC+, black: DC-}}
conditions:
  now: {running: []}
"""

#: A supply ashore of 230 V and 1 kA, a cord, a main breaker, a final circuit.
SHORE = """
systems:
  ac: {kind: ac-single-phase, voltage: 230 V, frequency: 50 Hz}
devices:
  shore: {kind: shore-inlet, system: ac, supply_fault_current: 1 kA, cord: {size: 4 mm2, length: 10 m}}
panels:
  panel:
    system: ac
    sections:
      main:
        ways:
          "0": {poles: [L1], rating: 32 A, duty: main, curve: C, interrupting: 6 kA}
          "1": {poles: [L1], rating: 16 A, curve: C, interrupting: 6 kA}
loads:
  kettle: {system: ac, power: 2 kW}
cable_types:
  three: {insulation: 70 degC, cores: {brown: L1, blue: N, green: PE}}
cables:
  S: {type: three, from: shore, to: panel/main/0, size: 6 mm2, length: 5 m}
  K: {type: three, from: panel/main/1, to: kettle, size: 2.5 mm2, length: 10 m}
conditions:
  now: {running: [shore]}
"""
