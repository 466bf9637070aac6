"""Every source and converter of the boat, with the way by which its energy comes to a place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.isolation.energy import Energy, Supplies
from vesselspec.isolation.target import Target
from vesselspec.network.reach import Arrival, Witness
from vesselspec.rules import Boat


@dataclass(frozen=True)
class Supply:
    """One source or converter of the boat, and whether it can make the place live."""

    id: str
    title: str  # its kind, in words
    space: str | None
    #: The potentials that it can put on the place, such as L1, N; empty where it cannot.
    poles: tuple[str, ...]
    #: The cables, devices and ways on a way of one of them to it, and the positions that this takes.
    path: tuple[str, ...]
    positions: tuple[tuple[str, str], ...]
    #: Whether it is the origin of the energy; a converter only passes another's on.
    primary: bool

    @property
    def reaches(self) -> bool:
        """Whether it can make the place live in any permitted position."""
        return bool(self.poles)


def listed_for(
    boat: Boat, supplies: Supplies, target: Target, whole: Energy, alone: Mapping[str, Energy]
) -> tuple[Supply, ...]:
    """Every source and converter on board, those that can reach the place first."""
    first: dict[str, tuple[int, Arrival]] = {}
    poles: dict[str, dict[str, None]] = {}
    for terminal in sorted(target.terminals):
        for arrival in whole.at(terminal):
            first.setdefault(arrival.emission.source, (terminal, arrival))
            poles.setdefault(arrival.emission.source, {})[arrival.emission.pole] = None
    for key, energy in alone.items():  # through converters too
        for terminal in energy.live(target.terminals):
            for arrival in energy.at(terminal):
                first.setdefault(key, (terminal, arrival))
                poles.setdefault(key, {})[arrival.emission.pole] = None
    every = dict.fromkeys((*supplies.primary, *(e.source for e in boat.network.emissions)))
    found = [_supply(boat, supplies, key, tuple(poles.get(key, ())), first.get(key), alone, whole) for key in every]
    return tuple(sorted(found, key=lambda supply: not supply.reaches))


def _supply(
    boat: Boat,
    supplies: Supplies,
    key: str,
    poles: tuple[str, ...],
    first: tuple[int, Arrival] | None,
    alone: Mapping[str, Energy],
    whole: Energy,
) -> Supply:
    device = boat.vessel.devices[key]
    path: tuple[str, ...] = ()
    positions: tuple[tuple[str, str], ...] = ()
    if first is not None:
        energy = alone[key] if key in alone and first[1].emission.source != key else whole
        path, positions = _path(boat, supplies, energy, key, *first)
    return Supply(key, device.title, device.space, poles, path, positions, key in alone)


def _items(boat: Boat, witness: Witness) -> list[str]:
    """The source of a witness, and every cable and contact that it passes."""
    links = [boat.network.links[step.link] for step in witness.steps if step.link >= 0]
    return list(dict.fromkeys((witness.emission.source, *(k.item for k in links if k.kind in ("core", "contact")))))


def _path(
    boat: Boat, supplies: Supplies, energy: Energy, key: str, terminal: int, arrival: Arrival
) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """How a source's energy comes to a terminal, item by item, converters among them."""
    reach = energy.neutral if arrival.emission.pole == "N" else energy.reach
    witness = reach.witness(arrival, terminal)
    lines = _items(boat, witness)
    needs = dict(boat.positions(witness.needs))
    source, seen = arrival.emission, {arrival.emission.source}
    while source.source != key:
        inputs = supplies.inputs.get((source.source, source.terminal), ())
        fed = next(((t, a) for t in inputs for a in energy.reach.at(t) if a.emission.source not in seen), None)
        if fed is None:
            break
        before = energy.reach.witness(fed[1], fed[0])
        lines = [*_items(boat, before), *lines]
        needs = {**dict(boat.positions(before.needs)), **needs}
        source = fed[1].emission
        seen.add(source.source)
    return tuple(lines), tuple(sorted(needs.items()))
