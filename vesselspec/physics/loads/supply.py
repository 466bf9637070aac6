"""Each load's way to its source: the conductors on it out and back, and what its own rated current drops in them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from vesselspec.model.devices import Busbar, Load
from vesselspec.model.items import System
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.network.ways_back import WaysBack
from vesselspec.physics.conductors.drop import Conductor, conductor
from vesselspec.physics.loads.demand import parts_of


@dataclass(frozen=True)
class Draw:
    """A part of a load: the poles between which it lies, its rated current in A and nominal voltage in V.

    `power_factor` is 1 where none is recorded: with the current at least that of a pure resistance, the drop is then
    a lower bound. `unknown` names the field that is not recorded, and `amps` is None or a lower bound.
    """

    between: tuple[str, ...]
    amps: float | None
    volts: float
    power_factor: float
    unknown: str | None


def draws_of(load: Load, system: System | None) -> tuple[Draw, ...]:
    """The parts of a load at rated power."""
    if system is None:
        return ()
    found = []
    for part in parts_of(load, system):
        live = part.poles
        if not live:
            continue
        between = ("DC+", "DC-") if system.is_dc else live if len(live) > 1 else (live[0], "N")
        factor = 1.0 if system.is_dc or load.power_factor is None else load.power_factor
        found.append(Draw(between, part.amps, system.volts(between), factor, part.unknown))
    return tuple(found)


@dataclass(frozen=True)
class Leg:
    """One conductor on the way, at the current of its pole. `certain`: no other way avoids it."""

    cable: str
    core: str
    pole: str
    amps: float
    conductor: Conductor | None
    missing: str | None
    certain: bool
    beside: tuple[str, ...]

    def formula_v(self, power_factor: float) -> float:
        """Drop by the formula, in V; 0 where its size or length is not recorded."""
        return 0.0 if self.conductor is None else self.amps * self.conductor.formula_z(power_factor) / self.sharing

    def hot_v(self, power_factor: float) -> float | None:
        """Drop with hot tinned strands, in V."""
        return None if self.conductor is None else self.amps * self.conductor.hot_z(power_factor) / self.sharing

    def most_v(self, power_factor: float) -> float | None:
        """The larger of the two, in V."""
        hot = self.hot_v(power_factor)
        return None if hot is None else max(hot, self.formula_v(power_factor))

    @property
    def sharing(self) -> int:
        """How many like conductors share the current."""
        return 1 + len(self.beside)


@dataclass(frozen=True)
class WayDrop:
    """The drop of one part of a load at its own rated current alone, over a way that starts at `start`.

    `low_v` is by the formula and counts only conductors that no other way avoids: it is certain. `high_v` counts all,
    hot where that is more; None where something is not recorded.
    """

    draw: Draw
    start: str
    legs: tuple[Leg, ...]

    @property
    def _scale(self) -> float:
        # Balanced three-phase: √3 times the drop of one line; the legs hold all three.
        return 1 / math.sqrt(3) if len(self.draw.between) == 3 else 1.0

    @cached_property
    def low_v(self) -> float:
        """The least that is dropped, in V."""
        factor = self.draw.power_factor
        return self._scale * math.fsum(leg.formula_v(factor) for leg in self.legs if leg.certain)

    @property
    def high_v(self) -> float | None:
        """The most, in V."""
        each = [leg.most_v(self.draw.power_factor) for leg in self.legs]
        known = [volts for volts in each if volts is not None]
        return None if len(known) < len(each) or self.draw.unknown else self._scale * math.fsum(known)

    @property
    def low(self) -> float:
        """The least, as a share of nominal."""
        return self.low_v / self.draw.volts

    @property
    def unknown(self) -> tuple[tuple[str, str], ...]:
        """(cable, field) that are not recorded on the part of the way that is certain."""
        return tuple(dict.fromkeys((leg.cable, leg.missing) for leg in self.legs if leg.missing and leg.certain))


@dataclass(frozen=True)
class Supply:
    """One part of a load: the drop from the last point of distribution, and from the source."""

    load: str
    branch: WayDrop
    total: WayDrop


def supplies_of(vessel: Vessel, network: Network, back: WaysBack, load: Load, scale: float = 1.0) -> Iterator[Supply]:
    """What a load drops on its way, part by part; nothing for a pole that no source reaches.

    `scale` is the share of its rated current that it draws. The currents of parts that use one pole are added up.
    """
    system = vessel.systems.get(load.system or "")
    draws = [draw for draw in draws_of(load, system) if draw.amps is not None]
    currents: dict[str, float] = {}
    for draw in draws:
        for pole in draw.between:
            currents[pole] = currents.get(pole, 0.0) + (draw.amps or 0.0) * scale
    for draw in draws:
        branch: list[Leg] = []
        total: list[Leg] = []
        starts: list[str] = []
        ends: list[str] = []
        for pole in draw.between:
            way = _legs(vessel, network, back, load.id, pole, currents[pole], system)
            if way is None:
                break
            legs, inner, start, end = way
            total += legs
            branch += legs[:inner]
            starts.append(start)
            ends.append(end)
        else:
            if starts:
                yield Supply(load.id, WayDrop(draw, starts[0], tuple(branch)), WayDrop(draw, ends[0], tuple(total)))


def _legs(
    vessel: Vessel, network: Network, back: WaysBack, place: str, pole: str, amps: float, system: System | None
) -> tuple[list[Leg], int, str, str] | None:
    """Conductors from a load to its source, how many of them lie before the last point of distribution, both ends."""
    terminal = network.index.get((place, pole))
    links = back.links(terminal) if terminal is not None else None
    if links is None:
        return None
    frequency = None if system is None or system.is_dc else system.frequency_hz or 0.0
    legs: list[Leg] = []
    inner: int | None = None
    here = place
    start = place
    for number, towards in links:
        link = network.links[number]
        if link.kind == "core":
            legs.append(_leg(vessel, network, back, number, pole, amps, frequency))
        here = network.terminals[towards].place
        if inner is None and (here in vessel.sections or isinstance(vessel.devices.get(here), Busbar)):
            inner, start = len(legs), here
    if inner is None:
        inner, start = len(legs), here
    return legs, inner, start, here


def _leg(
    vessel: Vessel, network: Network, back: WaysBack, number: int, pole: str, amps: float, frequency_hz: float | None
) -> Leg:
    run = network.core_of[number]
    missing = "size" if run.size is None else "length" if run.cable.length_m is None else None
    made = None
    if run.size is not None and run.cable.length_m is not None:
        made = conductor(run.size, run.cable.length_m, vessel.about.practice, frequency_hz=frequency_hz)
    twins = []
    certain = number in back.only
    for other in back.beside(number):
        if other == number:
            continue
        twin = network.core_of.get(other)
        if twin is None:  # a contact or joint beside it: no current is certain in the conductor
            certain = False
        elif (twin.size, twin.cable.length_m) == (run.size, run.cable.length_m):
            twins.append(f"{twin.cable.id} {twin.name}")
        else:
            certain = False  # unlike conductors share unevenly; alone it would drop more
    return Leg(run.cable.id, run.name, pole, amps, made, missing, certain, tuple(twins))
