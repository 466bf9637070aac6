"""What a space holds: everything in it, and every cable that ends there or passes, with what can be live on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vesselspec.isolation.energy import HOT
from vesselspec.model.vessel import natural
from vesselspec.rules import Boat
from vesselspec.tracing.subject import Subject
from vesselspec.tracing.wiring import Wiring


@dataclass(frozen=True)
class Held:
    """One thing in a space. `live` are the poles of each source that can come to it, in the order of the record."""

    item: str
    kind: str  # panel | device | load | cable
    live: tuple[tuple[str, tuple[str, ...]], ...]
    #: Of a cable: whether an end of it is in the space. One that only passes is met behind a panel all the same.
    ends_here: bool = True


def held_in(boat: Boat, wiring: Wiring, subject: Subject) -> tuple[Held, ...]:
    """All that a space holds: panels, devices, loads, then cables that end there, then cables that pass."""
    network = boat.network
    inside = {t for key in subject.inside for t in network.within(key)}
    things = [Held(key, _kind(boat, key), _live(wiring, network.within(key))) for key in subject.inside]
    cables = []
    for key in sorted(subject.cables, key=natural):
        links = [network.links[run.link] for run in network.runs.get(key, ()) if run.link >= 0]
        ends = {terminal for link in links for terminal in (link.a, link.b)}
        said = {end.split("/", 1)[0] for end in (boat.vessel.cables[key].from_, boat.vessel.cables[key].to)}
        here = not inside.isdisjoint(ends) or not said.isdisjoint(subject.inside)
        cables.append(Held(key, "cable", _live(wiring, ends), here))
    return (*things, *sorted(cables, key=lambda cable: not cable.ends_here))


def _kind(boat: Boat, key: str) -> str:
    return "panel" if key in boat.vessel.panels else "load" if key in boat.vessel.loads else "device"


def _live(wiring: Wiring, terminals: Iterable[int]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found: dict[str, dict[str, None]] = {}
    for terminal in sorted(terminals):
        for arrival in wiring.reach.at(terminal):
            if arrival.emission.pole in HOT:
                found.setdefault(arrival.emission.source, {})[arrival.emission.pole] = None
    order = [key for key in wiring.vessel.devices if key in found]
    return tuple((key, tuple(sorted(found[key]))) for key in order)
