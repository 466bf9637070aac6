"""The boat in one operating condition: where every contact stands and which source is live where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vesselspec.model.devices import InverterCharger, Selector
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING, OFF, PASS_THROUGH
from vesselspec.network.graph import LINES, Emission, Guard, Network
from vesselspec.network.zones import components

OPEN, CLOSED = "open", "closed"


@dataclass(frozen=True)
class State:
    """One condition, resolved. `gaps` are what the record does not say and the state therefore leaves open."""

    condition: str
    positions: Mapping[str, str]
    component: tuple[int, ...]
    live: Mapping[int, tuple[Emission, ...]]
    gaps: tuple[tuple[str, str], ...]  # (item, what is missing)
    #: Loops such as an inverter-charger whose output comes back to its own input.
    unsettled: tuple[str, ...]

    def at(self, terminal: int) -> tuple[Emission, ...]:
        """The running sources' potentials that are present at a terminal."""
        return self.live.get(self.component[terminal], ())


def resolve(vessel: Vessel, network: Network, condition: Condition) -> State:
    """Resolve a condition. What follows a running source (transfer relays, say) is settled step by step."""
    said = dict(condition.positions)
    running = set(condition.running)
    gaps: list[tuple[str, str]] = []
    positions: dict[str, str] = {}
    automatic: list[tuple[str, ...]] = []
    for key, units in network.together.items():
        device, choice = vessel.devices.get(key), network.choices[key]
        words = {said[unit]: unit for unit in units if unit in said}
        if len(words) > 1:
            gaps.append((key, "its position: " + " and ".join(words.values()) + " run in step and cannot differ"))
            positions[key] = ""
        elif words:
            (positions[key],) = words
        elif isinstance(device, InverterCharger) or (isinstance(device, Selector) and device.operation == "automatic"):
            automatic.append(units)
            positions[key] = OFF
        elif choice.kind == "interlock":
            positions[key] = _interlock(vessel, key, said, gaps)
        else:
            gaps.append((key, "its position"))
            positions[key] = ""
    state = _solve(network, positions, said, running)
    unsettled: tuple[str, ...] = ()
    for _ in range(len(automatic) + 2):
        before = dict(positions)
        for units in automatic:
            positions[units[0]] = _settle(vessel, units, state, network, running)
        if positions == before:
            break
        state = _solve(network, positions, said, running)
    else:
        unsettled = tuple(unit for units in automatic for unit in units)
    component, live = state
    positions = {key: positions[choice.id] for key, choice in network.choices.items()}
    return State(condition.id, positions, component, live, tuple(gaps), unsettled)


def _interlock(vessel: Vessel, key: str, said: dict[str, str], gaps: list[tuple[str, str]]) -> str:
    members = vessel.interlocks[key].between
    closed = [m for m in members if said.get(m) == CLOSED] or [m for m in members if said.get(m) != OPEN]
    if len(closed) > 1:
        gaps.append((key, "which of " + ", ".join(members) + " is closed"))
        return "none"
    return closed[0] if closed else "none"


_Solved = tuple[tuple[int, ...], dict[int, tuple[Emission, ...]]]


def _solve(network: Network, positions: dict[str, str], said: dict[str, str], running: set[str]) -> _Solved:
    conducts = _closed(network, positions, said)
    links = [link for link, closed in zip(network.links, conducts, strict=True) if closed]
    component = components(len(network.terminals), ((link.a, link.b) for link in links if not link.one_way))
    live: dict[int, list[Emission]] = {}
    for emission in network.emissions:
        on = emission.supply == "battery" or emission.source in running
        if on and emission.supply != "transformer" and _holds(positions, emission.guards):
            live.setdefault(component[emission.terminal], []).append(emission)
    _through_transformers(network, component, live)
    diodes = [(component[link.a], component[link.b]) for link in links if link.one_way]
    for _ in diodes:  # as many times as there can be diodes in a row
        for before, behind in diodes:
            passed = [emission for emission in live.get(before, ()) if emission not in live.get(behind, ())]
            live.setdefault(behind, []).extend(passed)
    return component, {place: tuple(each) for place, each in live.items()}


def _through_transformers(network: Network, component: tuple[int, ...], live: dict[int, list[Emission]]) -> None:
    """A secondary is live where its primary is; transformers may stand in a row."""
    waiting = dict(network.transformers)
    for _ in range(len(waiting)):
        for key, (primary, _) in list(waiting.items()):
            if any(e.pole in LINES for terminal in primary for e in live.get(component[terminal], ())):
                del waiting[key]
                for emission in network.emissions:
                    if emission.source == key:
                        live.setdefault(component[emission.terminal], []).append(emission)


def _settle(vessel: Vessel, units: tuple[str, ...], state: _Solved, network: Network, running: set[str]) -> str:
    """Where an automatic selector, or inverter-chargers in step, change over to: these together, once all are fed."""
    component, live = state
    device = vessel.devices[units[0]]

    def is_live(place: str) -> bool:
        return any(
            emission.pole in LINES and emission.source not in units
            for pole in LINES
            if (place, pole) in network.index
            for emission in live.get(component[network.index[place, pole]], ())
        )

    if not isinstance(device, Selector):
        if all(is_live(f"{unit}/ac-in") for unit in units):
            return PASS_THROUGH
        return OFF if running.isdisjoint(units) else INVERTING
    for name in device.inputs:
        if is_live(f"{device.id}/{name}"):
            table = device.table()
            return next((position for position, inputs in table.items() if inputs == (name,)), OFF)
    return OFF


def closed_links(network: Network, condition: Condition, state: State) -> tuple[bool, ...]:
    """Whether each link conducts in a resolved condition."""
    return tuple(_closed(network, state.positions, dict(condition.positions)))


def _closed(network: Network, positions: Mapping[str, str], said: Mapping[str, str]) -> list[bool]:
    opened = {key for key, position in said.items() if position == OPEN}
    return [link.switch not in opened and (not link.guards or _holds(positions, link.guards)) for link in network.links]


def _holds(positions: Mapping[str, str], guards: tuple[Guard, ...]) -> bool:
    return all(positions.get(choice) in states for choice, states in guards)
