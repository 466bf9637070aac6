"""The AC circuit of a condition with one thing gone wrong, and the voltage of every metal part in it.

Lines, neutrals and earth cores are all real conductors, cold; what is not recorded of them has no impedance, and a
source of unknown impedance is stiff, which errs towards more voltage ahead of the earth. Loads are impedances at
their rating where the failure moves the neutral, and left out where a short drowns them.

True earth is a node of its own: the neutral ashore is earthed to it. What the hull, plate and anodes of the boat
have to it is not known, so each failure is solved twice, with the boat's electrodes joined to it, and with none.

This module imports NumPy and SciPy; import it where it is needed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property

import numpy as np

from vesselspec.model.devices import EarthPoint, ShoreInlet
from vesselspec.network.graph import LINES
from vesselspec.network.zones import components
from vesselspec.physics.faults.bolted import Factored, Net
from vesselspec.physics.faults.circuit import Bools, Feed, circuit_of
from vesselspec.physics.faults.inverse import Indices, Numbers
from vesselspec.physics.faults.levels import FaultLevels
from vesselspec.physics.faults.shock_outcome import NOTHING, Failure
from vesselspec.physics.faults.sources import Supply
from vesselspec.physics.steady.assembly import Assembly

#: Duties of an earth point that touches the water.
IN_WATER = ("hull", "ground-plate", "zinc")

LoadBranch = tuple[int, int, complex]


class Bench:
    """One condition, ready to be solved with one failure after the other."""

    def __init__(self, levels: FaultLevels) -> None:
        self.levels, self.study = levels, levels.study
        self.vessel, self.network, self.state = levels.study.vessel, levels.study.network, levels.state
        self.condition = self.vessel.conditions[levels.condition]
        self.closed: Bools = levels.closed
        self.feeds = tuple(_stiff(feed) for feed in levels.feeds if not feed.dc)
        self.earth = len(self.network.terminals) + sum(feed.star >= 0 for feed in levels.feeds)

    @cached_property
    def electrodes(self) -> tuple[int, ...]:
        """The boat's own connections with the water."""
        return tuple(
            self.network.index[key, "PE"]
            for key, device in self.vessel.devices.items()
            if isinstance(device, EarthPoint) and device.duty in IN_WATER
        )

    @cached_property
    def earth_points(self) -> tuple[int, ...]:
        """Every earth point, those in the water first: what a touch is measured against without a shore."""
        others = tuple(
            self.network.index[key, "PE"]
            for key, device in self.vessel.devices.items()
            if isinstance(device, EarthPoint)
        )
        return tuple(dict.fromkeys((*self.electrodes, *others)))

    @cached_property
    def loads(self) -> tuple[LoadBranch, ...]:
        """The loads of the condition at their rating, as impedances."""
        work = Assembly(self.vessel, self.network, self.condition, self.state)
        found = []
        for key, demand in work.demand.items():
            load = self.vessel.loads.get(key)
            system = work.system(load.system) if load is not None else None
            if load is None or system is None or system.is_dc or demand.factor == 0:
                continue
            for poles, volts, va in work.parts(load, system):
                a, b = work.at(key, poles[0]), work.at(key, poles[1])
                if a is not None and b is not None and va and self.state.at(a):
                    found.append((a, b, volts * volts / va.conjugate()))
        return tuple(found)

    @cached_property
    def _neutrals(self) -> tuple[int, ...]:
        """Which neutrals hang together by neutral conductors alone."""
        network = self.network
        ends = [
            (link.a, link.b)
            for number, link in enumerate(network.links)
            if self.closed[number] and network.terminals[link.a].pole == network.terminals[link.b].pole == "N"
        ]
        return components(len(network.terminals), ends)

    def joints(self, feed: Feed) -> list[tuple[int, int]]:
        """The links on board that join the neutral of a source with earth, each with its earth terminal."""
        network, part, found = self.network, self._neutrals, []
        mine = {part[n] for n in feed.minus if network.terminals[n].pole == "N"}
        for number, link in enumerate(network.links):
            poles = {network.terminals[n].pole: n for n in (link.a, link.b)}
            if self.closed[number] and set(poles) == {"N", "PE"} and part[poles["N"]] in mine:
                found.append((number, poles["PE"]))
        return found

    @cached_property
    def bare(self) -> Solved:
        """Nothing gone wrong and no load: what shorts are laid on, the boat's electrodes left out."""
        return self.solve(NOTHING, loads=False, electrodes=False)

    @cached_property
    def bare_earthed(self) -> Solved:
        """The same with the boat's electrodes joined with true earth."""
        return self.solve(NOTHING, loads=False, electrodes=True) if self.electrodes else self.bare

    def solve(self, failure: Failure, *, loads: bool = True, electrodes: bool = False) -> Solved:
        """The circuit with one failure."""
        closed = self.closed.copy()
        closed[list(failure.closes)] = True
        closed[list(failure.opens)] = False
        wiring = self.study.wiring
        own = closed & wiring.in_ac & ~wiring.one_way
        feeds = [_reversed(feed, self) if feed.source == failure.reverses else feed for feed in self.feeds]
        if failure.cuts:
            feeds = [_cut(feed, self) if feed.source == failure.cuts else feed for feed in feeds]
        net, _ = circuit_of(wiring, own, feeds, self.earth + 1, "high")
        shores = [feed for feed in feeds if isinstance(self.vessel.devices[feed.source], ShoreInlet)]
        ties = [(self.earth, feed.star) for feed in shores if feed.star >= 0]
        ties += [(self.earth, terminal) for terminal in self.electrodes] if electrodes else []
        return Solved(self, _with(net, self.loads if loads else (), (*failure.joins, *ties)), feeds)


def _stiff(feed: Feed) -> Feed:
    """A source that limits itself, taken as stiff: its current is limited afterwards, its voltage is what counts."""
    return replace(feed, supply=Supply(missing="")) if feed.limits_itself else feed


def _reversed(feed: Feed, bench: Bench) -> Feed:
    """A supply whose first line and neutral are exchanged ashore."""
    place = feed.source
    neutral = bench.network.index[place, "N"]
    first, emf = feed.plus[0]
    plus = ((neutral, emf), *feed.plus[1:])
    return replace(feed, plus=plus, minus=tuple(first if n == neutral else n for n in feed.minus))


def _cut(feed: Feed, bench: Bench) -> Feed:
    """A supply whose neutral does not come any more."""
    gone = bench.network.index[feed.source, "N"]
    return replace(feed, minus=tuple(n for n in feed.minus if n != gone))


def _with(net: Net, loads: Iterable[LoadBranch], joins: Iterable[tuple[int, int]]) -> Net:
    rows, pairs = tuple(loads), tuple(joins)
    return replace(
        net,
        branch_a=np.append(net.branch_a, np.array([row[0] for row in rows], np.intp)),
        branch_b=np.append(net.branch_b, np.array([row[1] for row in rows], np.intp)),
        branch_z=np.append(net.branch_z, np.array([row[2] for row in rows], np.complex128)),
        contact_a=np.append(net.contact_a, np.array([pair[0] for pair in pairs], np.intp)),
        contact_b=np.append(net.contact_b, np.array([pair[1] for pair in pairs], np.intp)),
    )


class Solved:
    """A circuit solved, and what its voltages are measured against."""

    def __init__(self, bench: Bench, net: Net, feeds: Iterable[Feed]) -> None:
        self.bench, self.net = bench, net
        self.factored = Factored(net)
        self.volts = self.factored.rest
        self.part: list[int] = self.factored.part.tolist()
        self.fed: list[bool] = self.factored.fed.tolist()
        places = [bench.network.terminals[feed.plus[0][0]].place for feed in feeds if feed.plus]
        frames = [n for place in places if (n := bench.network.index.get((place, "PE"))) is not None]
        self.reference: dict[int, int] = {}
        for node in (bench.earth, *bench.earth_points, *frames):
            self.reference.setdefault(self.part[node], node)

    def above_earth(self, node: int) -> float | None:
        """The voltage of a node to earth, in V; None where nothing joins its circuit with any earth."""
        there = self.reference.get(self.part[node])
        if there is None or not self.fed[node]:
            return None
        return abs(complex(self.volts[node] - self.volts[there]))

    def metal_v(self, nodes: Indices, volts: Numbers) -> dict[int, float]:
        """The voltage to earth of each of some nodes, in V, with these voltages; those without an earth left out."""
        earths = [
            (node, there) for node in nodes.tolist() if (there := self.reference.get(self.part[node])) is not None
        ]
        one, two = np.array([e[0] for e in earths], np.intp), np.array([e[1] for e in earths], np.intp)
        found = np.where(np.array([self.fed[n] for n, _ in earths], np.bool_), np.abs(volts[one] - volts[two]), 0.0)
        return dict(zip(one.tolist(), found.tolist(), strict=True))

    def across(self, a: int, b: int) -> float | None:
        """The voltage between two nodes, in V; None where nothing joins them."""
        return abs(complex(self.volts[a] - self.volts[b])) if self.part[a] == self.part[b] else None


def exposed(bench: Bench) -> dict[int, str]:
    """Every metal part that somebody can touch: terminal → place. Class II devices and plastic panels are left out."""
    vessel = bench.vessel
    found: dict[int, str] = {}
    for number, terminal in enumerate(bench.network.terminals):
        if terminal.pole != "PE" or terminal.loose:
            continue
        head = terminal.place.split("/", 1)[0]
        load, panel = vessel.loads.get(head), vessel.panels.get(head)
        if (load is not None and load.double_insulated) or (panel is not None and panel.metal is False):
            continue
        found[number] = head
    return found


def idle_pins(bench: Bench) -> dict[int, str]:
    """The pins of shore inlets that nothing is plugged into: bare metal at the ship's side."""
    running = {feed.source for feed in bench.feeds}
    return {
        bench.network.index[key, pole]: f"{key}:{pole}"
        for key, device in bench.vessel.devices.items()
        if isinstance(device, ShoreInlet) and key not in running
        for pole in (*LINES, "N")
        if (key, pole) in bench.network.index
    }
