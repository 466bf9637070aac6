"""Converters that feed each other: a bank that charges itself through its own inverter, banks that charge each other.

Such a ring has no steady state but the one in which every bank runs flat, so it is named and taken apart before the
condition is solved: what charges in it is left out, the rest is solved.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping

from vesselspec.model.devices import Charger, DcConverter, Device, Inverter, InverterCharger
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING, PASS_THROUGH
from vesselspec.network.graph import LINES, Network
from vesselspec.network.state import State
from vesselspec.physics.steady.charging import share_of
from vesselspec.physics.steady.notes import Loop


def loops_of(vessel: Vessel, network: Network, state: State, condition: Condition) -> tuple[Loop, ...]:
    """Every group of converters that feed each other in a condition, each with one shortest ring."""
    sides = {key: each for key, device in vessel.devices.items() if (each := _sides(device, condition, state))}
    feeds = {
        key: [other for other, (into, _) in sides.items() if _joined(network, state, outs, into)]
        for key, (_, outs) in sides.items()
    }
    found: list[Loop] = []
    done: set[str] = set()
    for key in sorted(sides):
        if key in done:
            continue
        ring = _ring(feeds, key)
        if ring is None:
            continue
        ahead = _reached(feeds, key)
        group = {other for other in ahead if key in _reached(feeds, other)}
        done |= group
        charging = {other for other in group if not _inverts(vessel.devices[other], state)}
        starved = {other for other in group - charging if not _fed_otherwise(network, state, sides[other][0], group)}
        found.append(Loop(_with_banks(vessel, network, state, sides, ring), tuple(sorted(charging | starved))))
    return tuple(found)


_Sides = tuple[tuple[str, ...], tuple[str, ...]]


def _sides(device: Device, condition: Condition, state: State) -> _Sides | None:
    """The places where a converter takes and gives in this condition; None where it does neither."""
    key = device.id
    share = share_of(condition, key)
    charges = bool(share) or (share is None and key in condition.running)
    match device:
        case Inverter() if key in condition.running:
            return (f"{key}/dc",), (f"{key}/ac",)
        case InverterCharger() if state.positions.get(key) == INVERTING and key in condition.running:
            return (f"{key}/dc",), (f"{key}/ac-out",)
        case InverterCharger() if state.positions.get(key) == PASS_THROUGH and charges:
            return (f"{key}/ac-in",), (f"{key}/dc",)
        case Charger() if charges:
            return (f"{key}/ac",), tuple(f"{key}/{name}" for name in device.outputs)
        case DcConverter() if charges:
            return (f"{key}/in",), (f"{key}/out",)
        case _:
            return None


def _inverts(device: Device, state: State) -> bool:
    return isinstance(device, Inverter) or (
        isinstance(device, InverterCharger) and state.positions.get(device.id) == INVERTING
    )


def _terminals(network: Network, places: tuple[str, ...]) -> Iterator[int]:
    for place in places:
        for pole in (*LINES, "DC+"):
            if (place, pole) in network.index:
                yield network.index[place, pole]


def _joined(network: Network, state: State, outs: tuple[str, ...], into: tuple[str, ...]) -> bool:
    """Whether what is given at one place arrives at the other, diodes included."""
    given = set(_terminals(network, outs))
    own = {state.component[n] for n in given}
    for terminal in _terminals(network, into):
        if state.component[terminal] in own or any(e.terminal in given for e in state.at(terminal)):
            return True
    return False


def _reached(feeds: Mapping[str, list[str]], start: str) -> set[str]:
    found: set[str] = set()
    waiting = deque(feeds[start])
    while waiting:
        key = waiting.popleft()
        if key not in found:
            found.add(key)
            waiting.extend(feeds[key])
    return found


def _ring(feeds: Mapping[str, list[str]], start: str) -> tuple[str, ...] | None:
    """A shortest way from a converter back to itself."""
    before: dict[str, str] = {}
    waiting = deque([start])
    while waiting:
        key = waiting.popleft()
        for other in feeds[key]:
            if other == start:
                way = [key]
                while way[-1] != start:
                    way.append(before[way[-1]])
                return tuple(reversed(way))
            if other not in before:
                before[other] = key
                waiting.append(other)
    return None


def _banks(network: Network, state: State, places: tuple[str, ...]) -> list[str]:
    found = {e.source for n in _terminals(network, places) for e in state.at(n) if e.supply == "battery"}
    return sorted(found)


def _fed_otherwise(network: Network, state: State, into: tuple[str, ...], group: set[str]) -> bool:
    return any(e.source not in group for n in _terminals(network, into) for e in state.at(n) if e.pole != "DC-")


def _with_banks(
    vessel: Vessel, network: Network, state: State, sides: Mapping[str, _Sides], ring: tuple[str, ...]
) -> tuple[str, ...]:
    """The ring with the bank before each converter that draws on one, a bank first if there is any."""
    items: list[str] = []
    for key in ring:
        before = _banks(network, state, sides[key][0])
        items += [*before[:1], key]
    first = next((n for n, item in enumerate(items) if vessel.devices[item].supply == "battery"), 0)
    return (*items[first:], *items[:first])
