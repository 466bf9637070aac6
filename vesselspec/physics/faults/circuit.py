"""From a vessel to the circuits that fault levels are worked out on: conductors cold or hot, sources, and views.

AC and DC are circuits apart. The AC circuit leaves out what lands on a positive, the DC circuit what lands on a line
or a neutral: no source of its own kind is there. Each is drawn in *views*:

high      conductors cold; unknown conductors have no impedance, unknown sources are stiff
low       conductors cold; unknown conductors and sources are absent
estimate  as high, with the order of magnitude of batteries that are known by chemistry or cranking current only
alone     conductors hot, unknown ones absent; for one source at a time

This module imports NumPy; import it where it is needed.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from vesselspec.model.devices import InverterCharger, ShoreInlet
from vesselspec.model.items import System
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import PASS_THROUGH
from vesselspec.network.graph import LINES, CoreRun, Emission, Network
from vesselspec.network.state import State
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.faults.bolted import Net
from vesselspec.physics.faults.inverse import Indices
from vesselspec.physics.faults.sources import Supply, supply_of
from vesselspec.units import Size

COLD_C = 20.0
#: Temperature of a hot conductor where its insulation is not recorded: that of common boat cable.
HOT_C = 105.0
_ANGLES = {
    "ac-single-phase": {"L1": 0.0},
    "ac-split-phase": {"L1": 0.0, "L2": 180.0},
    "ac-three-phase": {"L1": 0.0, "L2": -120.0, "L3": 120.0},
}

View = Literal["high", "low", "estimate", "alone"]
Bools = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.complex128]


# --- conductors --------------------------------------------------------------------------------------


@lru_cache(maxsize=4096)
def _per_m(size: Size, temperature_c: float, frequency_hz: float) -> tuple[complex, float]:
    """Impedance that errs high, and resistance that errs low, of a metre of conductor, in ohm."""
    found = conductor_impedance(size=size, length_m=1.0, temperature_c=temperature_c, frequency_hz=frequency_hz)
    return found.z_ohm, found.least_r_ohm


@dataclass(frozen=True, eq=False)
class Wiring:
    """The links of a network as arrays. Impedances are NaN where length or size is not recorded."""

    a: Indices
    b: Indices
    core: Bools
    one_way: Bools
    cold: npt.NDArray[np.complex128]
    hot_ac: npt.NDArray[np.complex128]
    hot_dc: npt.NDArray[np.complex128]
    #: What is not recorded of the conductors without an impedance: (cable, what).
    missing: Mapping[int, tuple[str, str]]
    #: The links that belong to the AC circuit, and to the DC circuit.
    in_ac: Bools
    in_dc: Bools


def wiring_of(vessel: Vessel, network: Network) -> Wiring:
    """Work out every conductor, cold and hot."""
    links = network.links
    count = len(links)
    hz = max((s.frequency_hz for s in vessel.systems.values() if s.frequency_hz), default=0.0)
    cold, hot_ac, hot_dc = (np.full(count, np.nan, np.complex128) for _ in range(3))
    missing: dict[int, tuple[str, str]] = {}
    core = np.zeros(count, np.bool_)
    for run in network.cores:
        if run.link < 0:
            continue
        core[run.link] = True
        length, size = run.cable.length_m, run.size
        if size is None or not length:
            missing[run.link] = run.cable.id, "its size" if size is None else "its length"
            continue
        hot_c = hot_of(vessel, run)
        cold[run.link] = _per_m(size, COLD_C, 0.0)[1] * length
        hot_ac[run.link] = _per_m(size, hot_c, hz)[0] * length
        hot_dc[run.link] = _per_m(size, hot_c, 0.0)[0] * length
    return Wiring(
        np.array([link.a for link in links], np.intp),
        np.array([link.b for link in links], np.intp),
        core,
        np.array([link.one_way for link in links], np.bool_),
        cold,
        hot_ac,
        hot_dc,
        missing,
        ~lands_on(network, ("DC+",)),
        ~lands_on(network, (*LINES, "N")),
    )


def lands_on(network: Network, poles: tuple[str, ...]) -> Bools:
    """The links with an end on one of the poles."""
    on = [terminal.pole in poles for terminal in network.terminals]
    return np.array([on[link.a] or on[link.b] for link in network.links], np.bool_)


def hot_of(vessel: Vessel, run: CoreRun) -> float:
    """The temperature of a conductor at the limit of its insulation, in °C."""
    kind = vessel.cable_type(run.cable)
    own = run.cable.insulation_c if run.cable.insulation_c is not None else kind.insulation_c if kind else None
    return own if own is not None else HOT_C


# --- sources -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Feed:
    """A source in a condition: where its poles are, and what it can give. `star` is a node of its own, or -1."""

    source: str
    dc: bool
    plus: tuple[tuple[int, complex], ...]  # terminal and emf
    minus: tuple[int, ...]  # terminals that it returns to: its N, PE or DC-
    star: int
    supply: Supply
    #: Impedance of the shore cord to each terminal above, cold and hot; None where it is not recorded.
    cord: Mapping[int, tuple[complex, complex]] | None
    cord_missing: str

    @property
    def limits_itself(self) -> bool:
        """Whether it gives a current that is known and no more, whatever the fault."""
        return self.supply.limit_a is not None


def feeds_in(vessel: Vessel, network: Network, state: State) -> tuple[Feed, ...]:
    """The sources that are live in a condition, in order of their ids."""
    live: dict[tuple[str, str], Emission] = {}
    for each in state.live.values():
        for emission in each:
            if emission.pole in LINES or emission.pole == "DC+":
                live.setdefault((emission.source, network.terminals[emission.terminal].place), emission)
    found = []
    extra = len(network.terminals)
    for (source, place), emission in sorted(live.items()):
        system = vessel.systems.get(emission.system or "")
        device = vessel.devices[source]
        if system is None:
            continue
        if isinstance(device, InverterCharger) and system.is_dc and state.positions.get(source) != PASS_THROUGH:
            continue  # it takes from the battery then
        poles = ("DC+",) if emission.pole == "DC+" else LINES
        plus = tuple((n, _emf(system, pole)) for pole in poles if (n := network.index.get((place, pole))) is not None)
        back = ("DC-",) if system.is_dc else ("N", "PE") if isinstance(device, ShoreInlet) else ("N",)
        minus = tuple(n for pole in back if (n := network.index.get((place, pole))) is not None)
        star = -1
        if isinstance(device, ShoreInlet) or not minus:
            star, extra = extra, extra + 1
        cord, missing = _cord(device, network, system) if isinstance(device, ShoreInlet) else ({}, "")
        supply = supply_of(device, system, len(plus))
        found.append(Feed(source, system.is_dc, plus, minus, star, supply, cord, missing))
    return tuple(found)


def _emf(system: System, pole: str) -> complex:
    if system.is_dc:
        return complex(system.voltage.line_v)
    return cmath.rect(system.voltage.line_v, math.radians(_ANGLES.get(system.kind, {}).get(pole, 0.0)))


def _cord(
    device: ShoreInlet, network: Network, system: System
) -> tuple[Mapping[int, tuple[complex, complex]] | None, str]:
    cord = device.cord
    if cord is None or cord.size is None or not cord.length_m:
        return None, "its cord" if cord is None else "its cord's size" if cord.size is None else "its cord's length"
    found = {}
    for pole in (*LINES, "N", "PE"):
        pin = network.index.get((device.id, pole))
        size = (cord.earth_size or cord.size) if pole == "PE" else cord.size
        if pin is not None:
            cold = complex(_per_m(size, COLD_C, 0.0)[1] * cord.length_m)
            found[pin] = cold, _per_m(size, HOT_C, system.frequency_hz or 0.0)[0] * cord.length_m
    return found, ""


# --- circuits ----------------------------------------------------------------------------------------


def circuit_of(wiring: Wiring, closed: Bools, feeds: Sequence[Feed], nodes: int, view: View) -> tuple[Net, list[str]]:
    """The circuit of these feeds, all AC or all DC, over the closed links; and the source behind each of its emfs.

    `closed` is what conducts of the circuit's own links; `nodes` counts the terminals and the stars of all feeds.
    """
    dc = any(feed.dc for feed in feeds)
    z = wiring.cold if view != "alone" else wiring.hot_dc if dc else wiring.hot_ac
    known = ~np.isnan(z)
    branch = closed & wiring.core & known
    contact = closed & ~wiring.core
    if view in ("high", "estimate"):
        contact |= closed & ~known
    branches: list[tuple[int, int, complex]] = []
    contacts: list[tuple[int, int]] = []
    sources: list[tuple[int, int, complex, complex]] = []
    owners: list[str] = []
    for feed in feeds:
        inner = _inner(feed, view)
        if inner is None:
            continue
        line, back = inner
        star = feed.star if feed.star >= 0 else feed.minus[0]
        for terminal, emf in feed.plus:
            sources.append((terminal, star, emf, line + _lead(feed, terminal, view)))
            owners.append(feed.source)
        for terminal in feed.minus if feed.star >= 0 else ():
            lead = back + _lead(feed, terminal, view)
            if lead:
                branches.append((star, terminal, lead))
            else:
                contacts.append((star, terminal))
    net = Net(
        nodes=nodes,
        branch_a=np.append(wiring.a[branch], _ints(row[0] for row in branches)),
        branch_b=np.append(wiring.b[branch], _ints(row[1] for row in branches)),
        branch_z=np.append(z[branch], _numbers(row[2] for row in branches)),
        contact_a=np.append(wiring.a[contact], _ints(row[0] for row in contacts)),
        contact_b=np.append(wiring.b[contact], _ints(row[1] for row in contacts)),
        plus=_ints(row[0] for row in sources),
        minus=_ints(row[1] for row in sources),
        emf=_numbers(row[2] for row in sources),
        source_z=_numbers(row[3] for row in sources),
    )
    return net, owners


def _inner(feed: Feed, view: View) -> tuple[complex, complex] | None:
    """Impedance of a source's line and of its return in a view; None where it is left out of it."""
    supply = feed.supply
    if feed.limits_itself or (feed.cord is None and view in ("low", "alone")):
        return None
    if view == "alone":
        return None if supply.most is None else (supply.most, 0j)
    if supply.least is not None:
        return (supply.least / 2, supply.least / 2) if supply.halved else (supply.least, 0j)
    if view == "low":
        return None
    if view == "estimate" and supply.estimate is not None:
        return supply.estimate[0], 0j
    return 0j, 0j


def _lead(feed: Feed, terminal: int, view: View) -> complex:
    if not feed.cord:
        return 0j
    cold, hot = feed.cord[terminal]
    return hot if view == "alone" else cold


def _ints(numbers: Iterable[int]) -> Indices:
    return np.array(list(numbers), np.intp)


def _numbers(numbers: Iterable[complex]) -> Numbers:
    return np.array(list(numbers), np.complex128)
