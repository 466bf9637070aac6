"""Small vessels at random, wired by somebody who makes mistakes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Any

from hypothesis import strategies as st

from vesselspec.model.devices import InverterCharger
from vesselspec.model.forms import PLACE_PATTERN, POLES, matches
from vesselspec.model.vessel import Vessel, build_vessel
from vesselspec.network.compile import compile_network
from vesselspec.network.graph import Guard, Network

ABOUT = {"record": 1, "name": "Example", "practice": "north-american"}
SYSTEMS = {
    "ac": {"kind": "ac-split-phase", "voltage": "120/240 V"},
    "ac-1": {"kind": "ac-single-phase", "voltage": "120 V"},
    "dc": {"kind": "dc", "voltage": "12 V"},
}
#: More combinations of positions than this are left to the next vessel.
MOST_COMBINATIONS = 300

Raw = dict[str, Any]


def vessel_of(**collections: Raw) -> Vessel:
    """A vessel of written entries."""
    return build_vessel(ABOUT, {"systems": SYSTEMS, **collections})


def combinations(network: Network) -> Iterator[dict[str, str]]:
    """Every combination of the states of all choices."""
    names = list(network.choices)
    for states in product(*(network.choices[name].states for name in names)):
        yield dict(zip(names, states, strict=True))


def holds(guards: tuple[Guard, ...], combination: dict[str, str]) -> bool:
    """Whether a combination satisfies guards."""
    return all(combination[choice] in states for choice, states in guards)


def in_step(vessel: Vessel, combination: dict[str, str]) -> bool:
    """Whether units that run in step stand in one state."""
    groups: dict[str, set[str]] = {}
    for key, device in vessel.devices.items():
        if isinstance(device, InverterCharger) and device.synchronised:
            groups.setdefault(device.synchronised, set()).add(combination[key])
    return all(len(states) == 1 for states in groups.values())


def is_small(network: Network) -> bool:
    """Whether all combinations can be tried in a test."""
    count = 1
    for choice in network.choices.values():
        count *= len(choice.states)
    return count <= MOST_COMBINATIONS


def _subset(draw: st.DrawFn, of: tuple[str, ...], least: int = 0) -> list[str]:
    return draw(st.lists(st.sampled_from(of), min_size=least, max_size=len(of), unique=True))


def _sources(draw: st.DrawFn) -> Raw:
    every: Raw = {
        "shore-1": {"kind": "shore-inlet", "system": "ac"},
        "shore-2": {"kind": "shore-inlet", "system": "ac-1"},
        "generator-1": {"kind": "generator", "system": "ac", "neutral_earth_bond": draw(st.booleans())},
        "generator-2": {"kind": "generator", "system": "ac-1"},
        "inverter": {
            "kind": "inverter",
            "system": "ac-1",
            "dc_system": "dc",
            "neutral_earth_bond": draw(st.booleans()),
        },
        "combi-1": {
            "kind": "inverter-charger",
            "system": "ac",
            "dc_system": "dc",
            "neutral": draw(st.sampled_from(["switched", "common"])),
            "neutral_earth_relay": draw(st.booleans()),
        },
        "combi-2": {"kind": "inverter-charger", "system": "ac-1", "dc_system": "dc"},
        "transformer-1": {
            "kind": "isolation-transformer",
            "system": "ac",
            "secondary_system": "ac",
            "neutral_earth_bond": draw(st.booleans()),
            "earth_through": draw(st.booleans()),
        },
        "transformer-2": {"kind": "isolation-transformer", "system": "ac-1", "secondary_system": "ac"},
    }
    chosen: Raw = {name: every[name] for name in _subset(draw, tuple(every), least=2)[:4]}
    if "combi-1" in chosen and "combi-2" in chosen and draw(st.booleans()):
        for name in ("combi-1", "combi-2"):
            chosen[name] = {**chosen[name], "synchronised": "pair"}
    return chosen


def _selector(draw: st.DrawFn) -> Raw:
    inputs = draw(st.sampled_from([["a"], ["a", "b"], ["a", "b", "c"]]))
    system = draw(st.sampled_from(["ac", "ac", "ac", "ac-1", "dc"]))
    entry: Raw = {"kind": "selector", "system": system, "inputs": inputs}
    if draw(st.booleans()):
        names = ("off", "one", "two", "both")[: draw(st.integers(1, 4))]
        entry["positions"] = {name: _subset(draw, tuple(inputs)) for name in names}
    if system == "ac" and draw(st.booleans()):
        entry["poles"] = _subset(draw, ("L1", "L2", "N"), least=1)
    return entry


def _devices(draw: st.DrawFn) -> Raw:
    devices = _sources(draw)
    devices["bank"] = {"kind": "battery-bank", "system": "dc"}
    for number in range(draw(st.integers(0, 2))):
        devices[f"selector-{number}"] = _selector(draw)
    for name, entry in {
        "splitter": {"kind": "charge-splitter", "system": "dc", "outputs": ["a", "b"]},
        "charger": {"kind": "charger", "system": "ac-1", "dc_system": "dc"},
        "bank-2": {"kind": "battery-bank", "system": "dc"},
        "fuse": {"kind": "fuse", "system": "dc", "mounted_on": "bank:DC+"},
        "breaker": {"kind": "breaker", "system": "ac", "poles": ["L1", "L2"]},
        "switch": {"kind": "switch", "system": draw(st.sampled_from(["ac", "dc"]))},
        "residual": {"kind": "residual-current-switch", "system": "ac"},
        "earth": {"kind": "earth-point"},
        "box": {"kind": "junction", "system": "ac"},
    }.items():
        if draw(st.integers(0, 2)) == 0:
            devices[name] = entry
    return devices


def _panels(draw: st.DrawFn) -> Raw:
    panels: Raw = {}
    for name in ("panel", "other")[: draw(st.integers(1, 2))]:
        sections: Raw = {}
        for section in ("s", "t")[: draw(st.integers(1, 2))]:
            system = draw(st.sampled_from(["ac", "ac", "ac", "ac-1", "dc"]))
            poles = {"ac": ("L1", "L2", "N"), "ac-1": ("L1", "N"), "dc": ("DC+",)}[system]
            ways: Raw = {}
            for way in range(draw(st.integers(1, 4))):
                device = draw(st.sampled_from(["breaker", "breaker", "fuse", "switch", "residual-current-switch"]))
                ways[str(way + 1)] = {"device": device, "poles": _subset(draw, poles, least=1)}
            sections[section] = {"system": system, "ways": ways}
            if section == "t" and draw(st.integers(0, 3)) == 0:
                sections[section]["neutral_bar"] = "s"
        panels[name] = {"sections": sections}
    return panels


def _places(vessel: Vessel) -> tuple[list[str], list[str]]:
    """Places and terminals that a cable can land on."""
    network = compile_network(vessel)
    terminals = [f"{t.place}:{t.pole}" for t in network.terminals if not t.loose]
    places = dict.fromkeys((*(t.place for t in network.terminals), *vessel.ways))
    return [place for place in places if matches(PLACE_PATTERN, place)], terminals


def _cables(draw: st.DrawFn, places: list[str], terminals: list[str]) -> Raw:
    """Every source on something, then further cables; most of them AC to AC or DC to DC, with the usual cores."""
    dc = [place for place in places if f"{place}:DC+" in terminals]
    ac = [place for place in places if place not in dc]
    sources = [p for p in ac if p.startswith(("shore", "generator")) or p.endswith(("/ac", "/ac-out", "/secondary"))]
    others = [place for place in ac if place not in sources]
    cables: Raw = {}
    for number in range(len(sources) + draw(st.integers(2, 7))):
        start = sources[number] if number < len(sources) else draw(st.sampled_from(places))
        alike = dc if start in dc else others if number < len(sources) else ac
        stray = draw(st.integers(0, 9)) == 0
        end = draw(st.sampled_from([*places, "untraced"] if stray else alike))
        usual = {"red": "DC+", "black": "DC-"} if start in dc else {"black": "L1", "red": "L2", "white": "N"}
        cores: Raw = {}
        for core in (*tuple(usual)[: draw(st.integers(1, len(usual)))], "green"):
            mistake = draw(st.integers(0, 14))
            if mistake == 0:
                cores[core] = {"from": draw(st.sampled_from(terminals)), "to": draw(st.sampled_from(terminals))}
            elif mistake == 1:
                cores[core] = {"from": usual.get(core, "PE"), "to": draw(st.sampled_from([*POLES, "free", "untraced"]))}
            else:
                cores[core] = usual.get(core, "PE")
        cables[f"C{number + 1}"] = {"from": start, "to": end, "cores": cores}
    return cables


def _interlocks(draw: st.DrawFn, vessel: Vessel) -> Raw:
    members = (*vessel.ways, *(name for name in ("breaker", "switch") if name in vessel.devices))
    locks: Raw = {}
    for number in range(draw(st.integers(0, 2)) if len(members) > 1 else 0):
        between = draw(st.lists(st.sampled_from(members), min_size=2, max_size=3, unique=True))
        locks[f"interlock-{number}"] = {"between": between}
    return locks


@st.composite
def vessels(draw: st.DrawFn) -> Vessel:
    """A small vessel, mistakes included."""
    devices, panels = _devices(draw), _panels(draw)
    loads = {"load": {"system": "ac", "poles": ["L1", "N"]}, "lamp": {"system": "dc"}}
    bare = vessel_of(devices=devices, panels=panels, loads=loads)
    places, terminals = _places(bare)
    return vessel_of(
        devices=devices,
        panels=panels,
        loads=loads,
        cables=_cables(draw, places, terminals),
        interlocks=_interlocks(draw, bare),
    )


AC = {"black": "L1", "red": "L2", "white": "N", "green": "PE"}
BARS = ("panel/main", "panel/backed", "selector/out", "combi/ac-in", "combi/ac-out", "box", "load", "lamp")


@st.composite
def switched(draw: st.DrawFn) -> Vessel:
    """Shore and generators over a selector to an inverter-charger, a section before and one behind it.

    Which neutrals are switched, what is bonded and who has joined neutral and earth by hand is left to chance.
    """
    said = st.sampled_from([True, True, False, None])

    def bond(key: str) -> Raw:
        value = draw(said)
        return {} if value is None else {key: value}

    positions = draw(st.sampled_from([{}, {"off": [], "both": ["shore", "generator"], "one": ["shore"]}]))
    combi: Raw = {"kind": "inverter-charger", "system": "ac", "dc_system": "dc"}
    devices: Raw = {
        "shore": {"kind": "shore-inlet", "system": "ac"},
        "generator": {"kind": "generator", "system": "ac", **bond("neutral_earth_bond")},
        "second": {"kind": "generator", "system": "ac", **bond("neutral_earth_bond")},
        "selector": {
            "kind": "selector",
            "system": "ac",
            "inputs": ["shore", "generator"],
            "poles": draw(st.sampled_from([["L1", "L2"], ["L1", "L2", "N"]])),
            **({"positions": positions} if positions else {}),
        },
        "box": {"kind": "junction", "system": "ac"},
        "transformer": {
            "kind": "isolation-transformer",
            "system": "ac",
            "secondary_system": "ac",
            **bond("neutral_earth_bond"),
        },
    }
    in_step = draw(st.sampled_from([{}, {"synchronised": "pair"}]))
    for key in ("combi", "other"):
        neutral = draw(st.sampled_from(["switched", "common"]))
        devices[key] = {**combi, "neutral": neutral, **bond("neutral_earth_relay"), **in_step}
    poles = draw(st.sampled_from([["L1", "L2"], ["L1", "L2", "N"]]))
    section = {"system": "ac", "ways": {str(way): {"poles": poles} for way in (1, 2, 3)}}
    panels: Raw = {"panel": {"sections": {"main": section, "backed": dict(section)}}}
    if draw(st.integers(0, 4)) == 0:
        panels["panel"]["sections"]["backed"]["neutral_bar"] = "main"
    ways = [
        ("shore", draw(st.sampled_from(["selector/shore", "transformer/primary"]))),
        ("transformer/secondary", "selector/shore"),
        ("generator", "selector/generator"),
        ("selector/out", "panel/main/1"),
        ("second", "panel/main/2"),
        ("panel/main/3", "combi/ac-in"),
        ("combi/ac-out", "panel/backed/1"),
        ("panel/main/3", "other/ac-in"),
        ("other/ac-out", "panel/backed/2"),
        ("panel/main", "lamp"),
        ("panel/backed", "load"),
    ]
    kept = [way for way in ways if draw(st.integers(0, 5))]
    cables: Raw = {f"C{n}": {"from": a, "to": b, "cores": AC} for n, (a, b) in enumerate(kept)}
    for number in range(draw(st.integers(0, 2))):
        core = {"from": f"{draw(st.sampled_from(BARS))}:N", "to": f"{draw(st.sampled_from(BARS))}:PE"}
        cables[f"J{number}"] = {"from": "box", "to": "box", "cores": {"green": core}}
    locks = {"slide": {"between": ["panel/main/1", "panel/main/2"]}} if draw(st.booleans()) else {}
    loads = {key: {"system": "ac", "poles": ["L1", "N"]} for key in ("load", "lamp")}
    return vessel_of(devices=devices, panels=panels, loads=loads, cables=cables, interlocks=locks)
