"""What a change does to the solved conditions, wherever on board: currents in cables, voltage at loads, faults.

Each is the worst over all conditions. A new load draws a little more everywhere, for it lowers every voltage; what
moves by less than the steps below is that and no effect.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from vesselspec.changes.compare import called
from vesselspec.model.vessel import natural
from vesselspec.rules import Boat
from vesselspec.rules.protection import core_ampacity, loaded_conductors

#: Steps below which nothing is listed. Ours.
_STEP_A, _SHARE, _STEP_DROP = 0.1, 0.01, 0.005

_Names = Mapping[str, str]


@dataclass(frozen=True)
class CurrentEffect:
    """The largest current in the conductors of a cable that belong to one pole, in A, and what they may carry."""

    cable: str
    pole: str
    before_a: float | None
    after_a: float | None
    condition: str
    #: Lowest and highest that the unknowns leave open; None where it is not recorded or the core is gone.
    carries_a: tuple[float, float] | None


@dataclass(frozen=True)
class DropEffect:
    """The largest voltage drop at a load, as a share of its nominal voltage."""

    load: str
    before: float | None
    after: float | None
    condition: str


@dataclass(frozen=True)
class FaultEffect:
    """The largest fault that a device must break, at the least that is certain, in A."""

    device: str
    before_a: float | None
    after_a: float | None


@dataclass(frozen=True)
class SolvedEffects:
    """All effects on the solved conditions."""

    currents: tuple[CurrentEffect, ...] = ()
    drops: tuple[DropEffect, ...] = ()
    faults: tuple[FaultEffect, ...] = ()


def solved_effects(before: Boat, after: Boat, names: _Names) -> SolvedEffects:
    """Compare the solved conditions of two boats. `names` says what is called otherwise now."""
    if not before.vessel.conditions and not after.vessel.conditions:
        return SolvedEffects()
    return SolvedEffects(
        tuple(_currents(before, after, names)),
        tuple(_drops(before, after, names)),
        tuple(_faults(before, after, names)),
    )


_Worst = dict[tuple[str, str], tuple[float, str, int]]


def _flowing(boat: Boat, names: _Names) -> _Worst:
    """For each cable and pole the largest current, its condition, and the link that carries it."""
    worst: _Worst = {}
    network = boat.network
    for run in network.cores:
        if run.link < 0:
            continue
        ends = [network.terminals[n] for n in (network.links[run.link].a, network.links[run.link].b)]
        pole = next((terminal.pole for terminal in ends if not terminal.loose), "")
        key = (called(run.cable.id, names), pole)
        for condition, flow in boat.flows.items():
            amps = flow.amps(run.link)
            if amps > worst.get(key, (-1.0, "", -1))[0]:
                worst[key] = (amps, condition, run.link)
    return worst


def _currents(before: Boat, after: Boat, names: _Names) -> Iterator[CurrentEffect]:
    old, new = _flowing(before, names), _flowing(after, {})
    together = loaded_conductors(after)
    for key in _ordered(old.keys() | new.keys()):
        was, now = old.get(key), new.get(key)
        if not _moved(was[0] if was else None, now[0] if now else None, _STEP_A):
            continue
        carries = None
        if now is not None:
            run = after.network.core_of[now[2]]
            volts = max((f.emission.volts for f in after.feeds.at(after.network.links[now[2]].a)), default=0.0)
            found = core_ampacity(after, run, volts, together[run.cable.id]) if volts else None
            carries = (found.low_a, found.high_a) if found is not None else None
        condition = (now or was or (0.0, "", -1))[1]
        yield CurrentEffect(*key, was[0] if was else None, now[0] if now else None, condition, carries)


def _dropping(boat: Boat, names: _Names) -> dict[str, tuple[float, str]]:
    worst: dict[str, tuple[float, str]] = {}
    for condition, flow in boat.flows.items():
        for each in flow.loads:
            if each.load in boat.vessel.loads and not flow.troubles:
                drop = 1 - each.volts / each.nominal_v
                key = called(each.load, names)
                if key not in worst or drop > worst[key][0]:
                    worst[key] = (drop, condition)
    return worst


def _drops(before: Boat, after: Boat, names: _Names) -> Iterator[DropEffect]:
    old, new = _dropping(before, names), _dropping(after, {})
    for load in sorted(old.keys() | new.keys(), key=natural):
        was, now = old.get(load), new.get(load)
        if abs((was[0] if was else 0.0) - (now[0] if now else 0.0)) >= _STEP_DROP:
            condition = (now or was or (0.0, ""))[1]
            yield DropEffect(load, was[0] if was else None, now[0] if now else None, condition)


def _breaking(boat: Boat, names: _Names) -> dict[str, float]:
    worst: dict[str, float] = {}
    for checks in boat.fault_checks:
        for each in checks.through():
            key = called(each.device, names)
            worst[key] = max(worst.get(key, 0.0), each.low_a)
    return worst


def _faults(before: Boat, after: Boat, names: _Names) -> Iterator[FaultEffect]:
    old, new = _breaking(before, names), _breaking(after, {})
    for device in sorted(old.keys() | new.keys(), key=natural):
        was, now = old.get(device), new.get(device)
        if _moved(was, now, 1.0):
            yield FaultEffect(device, was, now)


def _moved(was: float | None, now: float | None, step: float) -> bool:
    change = abs((was or 0.0) - (now or 0.0))
    return change >= step and change >= _SHARE * max(was or 0.0, now or 0.0)


def _ordered(keys: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    return sorted(keys, key=lambda key: (natural(key[0]), key[1]))
