"""Voltage drop of a circuit by itself, against the solved condition and against arithmetic."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.network.ways_back import every_source, ways_back
from vesselspec.network.zones import components
from vesselspec.physics.conductors.drop import at_nominal, conductor, formula, share
from vesselspec.physics.conductors.sizing import Circuit
from vesselspec.physics.loads.supply import supplies_of
from vesselspec.rules.circuits import back_of, supplies
from vesselspec.rules.drop import wiring_drops
from vesselspec.standards import PRACTICES
from vesselspec.units import parse_size

from .records import Raw, boat_of, one_circuit


def circuit(*, dc: bool, practice: str = "north-american", volts: float = 12.0) -> Circuit:
    between = ("DC+", "DC-") if dc else ("L1", "N")
    return Circuit(practice=practice, dc=dc, volts=volts, line_v=volts, between=between, amps=None, insulation_c=105.0,
                   engine_space=False, loaded=2, sheath=True)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    dc=st.booleans(),
    practice=st.sampled_from(PRACTICES),
    size=st.sampled_from(("16 AWG", "12 AWG", "6 AWG", "2.5 mm2", "10 mm2")),
    amps=st.floats(0.5, 8),
    length=st.floats(0.5, 8),
    factor=st.sampled_from((0.7, 1.0)),
    use=st.sampled_from(("other", "water-heating")),
)
def test_one_load_alone_drops_the_same_in_the_solved_condition(
    dc: bool, practice: str, size: str, amps: float, length: float, factor: float, use: str
) -> None:
    """Two ways to one figure: the sum over the conductors at the solved current, and nodal analysis."""
    volts = 12.0 if dc else 120.0
    load: Raw = {"current": f"{amps:.4f} A", "use": use}
    if not dc:
        load |= {"poles": ["L1", "N"], "power_factor": factor}
    raw = one_circuit(circuit(dc=dc, practice=practice, volts=volts), size, 30, length, load)
    boat = boat_of(raw)
    solved = boat.flows["running"].loads[0]
    (supply,) = supplies(boat)["load"]
    at = solved.amps / supply.total.draw.amps if supply.total.draw.amps else 0.0
    (scaled,) = supplies_of(boat.vessel, boat.network, back_of(boat), boat.vessel.loads["load"], at)
    hot = sum(leg.hot_v(scaled.branch.draw.power_factor) or math.nan for leg in scaled.branch.legs)
    assert scaled.branch.legs == scaled.total.legs
    if dc:
        assert solved.nominal_v - solved.volts == pytest.approx(hot, rel=1e-6, abs=1e-9)
    else:
        # R·cosφ + X·sinφ leaves out the small angle between the two voltages.
        assert solved.nominal_v - solved.volts == pytest.approx(hot, rel=0.02, abs=1e-4)
    least = next(least for _, _, least, _ in wiring_drops(boat, "running", boat.flows["running"]))
    assert least <= supply.total.low * (1 + (1e-9 if dc else 1e-3)), (
        "what is certain of the solved drop is no more than the formula's"
    )
    assert supply.total.low_v <= (supply.total.high_v or math.inf)


def test_the_formula_of_each_practice() -> None:
    """10.75 and 12.9 ohm·cmil/ft, and 0.0225 ohm·mm²/m."""
    mil_foot = math.pi / 4 * 0.0254**2 / 0.3048  # ohm·mm²/m of one ohm·cmil/ft, by definition
    assert formula("north-american", dc=True).rho == pytest.approx(10.75 * mil_foot, rel=1e-5)
    assert formula("north-american", dc=False).rho == pytest.approx(12.9 * mil_foot, rel=1e-5)
    assert formula("international", dc=True).rho == 0.0225
    assert formula("international", dc=False).rho == 0.0225
    with pytest.raises(ValueError, match="unknown practice"):
        formula("other", dc=True)


@pytest.mark.parametrize("practice", PRACTICES)
@pytest.mark.parametrize("frequency", [None, 50.0])
def test_hot_tinned_strands_drop_more_than_the_formula(practice: str, frequency: float | None) -> None:
    for size in ("18 AWG", "12 AWG", "4/0 AWG", "1.5 mm2", "95 mm2"):
        made = conductor(parse_size(size), 3.0, practice, frequency_hz=frequency)
        assert made is not None
        # Gauges by the metric formula come out a hair above Table 8: 0.0225 is for metric strands.
        assert made.formula_r <= made.hot_r * (1.03 if practice == "international" and "AWG" in size else 1)
        assert (made.x > 0) is (frequency is not None)
        assert 0.5 < share(parse_size(size), practice, frequency_hz=frequency) <= 1
    assert conductor(parse_size("12 AWG"), 0.0, practice, frequency_hz=frequency) is None


@given(st.floats(0, 0.9), st.floats(0.5, 1), st.floats(-0.5, 1.5))
def test_what_is_certain_of_a_solved_drop_is_never_more(lost: float, left: float, most: float) -> None:
    assert 0 <= at_nominal(lost, left, most) <= lost


def test_what_is_not_recorded_is_a_lower_bound() -> None:
    load = {"current": "5 A", "use": "other"}
    raw = one_circuit(circuit(dc=True), "12 AWG", 20, 3.0, load)
    known = supplies(boat_of(raw))["load"][0]
    for field in ("length", "size"):
        less = one_circuit(circuit(dc=True), "12 AWG", 20, 3.0, load)
        del less["cables"]["X1"][field]
        found = supplies(boat_of(less))["load"][0]
        assert found.total.low_v == 0
        assert found.total.high_v is None
        assert found.total.unknown == (("X1", field),)
    del raw["loads"]["load"]["current"]
    assert supplies(boat_of(raw))["load"] == ()
    assert known.total.unknown == ()


def test_like_conductors_side_by_side_share_and_unlike_ones_leave_a_range() -> None:
    load = {"current": "5 A", "use": "other"}
    raw = one_circuit(circuit(dc=True), "12 AWG", 20, 3.0, load)
    alone = supplies(boat_of(raw))["load"][0].total
    raw["cables"]["X9"] = {**raw["cables"]["X1"], "label": "X9"}
    shared = supplies(boat_of(raw))["load"][0].total
    assert shared.low_v == pytest.approx(alone.low_v / 2)
    assert shared.high_v == pytest.approx((alone.high_v or 0) / 2)
    raw["cables"]["X9"]["size"] = "10 AWG"
    unlike = supplies(boat_of(raw))["load"][0].total
    assert unlike.low_v == 0
    assert unlike.high_v == alone.high_v


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 14), st.data())
def test_the_only_ways_back_are_bridges(count: int, data: st.DataObject) -> None:
    """Against networkx: a link is on every way to a source if taking it out leaves something without one."""
    ends = st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)).filter(lambda pair: pair[0] < pair[1])
    pairs = data.draw(st.lists(ends, min_size=1, max_size=25))
    starts = data.draw(st.sets(st.integers(0, count - 1), min_size=1, max_size=3))
    raw: Raw = {
        "vessel": {"record": 1, "name": "x", "practice": "north-american"},
        "systems": {"dc": {"kind": "dc", "voltage": "12 V"}},
        "devices": {
            f"n{n}": {"kind": "battery-bank" if n in starts else "junction", "system": "dc"} for n in range(count)
        },
        "cables": {
            f"c{i}": {"from": f"n{a}", "to": f"n{b}", "cores": {"red": "DC+"}} for i, (a, b) in enumerate(pairs)
        },
    }  # fmt: skip
    network = boat_of(raw).network
    part = components(len(network.terminals), ((link.a, link.b) for link in network.links))
    back = ways_back(network, [True] * len(network.links), every_source(network, part))
    graph: nx.MultiGraph[Any] = nx.MultiGraph()
    plus = [network.index[f"n{n}", "DC+"] for n in range(count)]
    graph.add_nodes_from(plus)
    graph.add_edges_from((link.a, link.b) for link in network.links)
    graph.add_edges_from(("source", plus[n]) for n in starts)
    simple: nx.Graph[Any] = nx.Graph(graph)  # cables side by side count as one
    bridges = {frozenset(edge) for edge in nx.bridges(simple)} if simple.number_of_edges() else set()
    reached = nx.node_connected_component(graph, "source")
    for number, terminal in enumerate(network.terminals):
        if terminal.pole == "DC+":
            assert back.fed[number] == (number in reached)
    for number, link in enumerate(network.links):
        if link.a in reached and link.b in reached:
            on_every_way = frozenset((link.a, link.b)) in bridges
            representative = back.beside(number)[0]
            assert (representative in back.only) == on_every_way


def test_a_record_without_conditions_needs_no_scientific_library(tmp_path: Path) -> None:
    """Importing SciPy takes longer than a whole survey; only a condition to solve is worth it."""
    raw = one_circuit(circuit(dc=True), "12 AWG", 20, 3.0, {"current": "5 A", "use": "other"}, condition=False)
    (tmp_path / "vessel.yaml").write_text(json.dumps(raw), encoding="utf-8")
    program = (
        "import sys\n"
        "from vesselspec.cli.main import COMMANDS, run\n"
        "import vesselspec.rules.carrying, vesselspec.rules.drop\n"
        "COMMANDS.setdefault('size', ''), COMMANDS.setdefault('derive', '')\n"
        f"assert run(['survey', {str(tmp_path)!r}, '--fail-on', 'DANGER']) == 0\n"
        f"assert run(['size', '--for', 'load', {str(tmp_path)!r}]) == 0\n"
        f"assert run(['derive', 'X1', 'ampacity', {str(tmp_path)!r}]) == 0\n"
        "assert not {'scipy', 'numpy'} & set(sys.modules), 'loaded'\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
