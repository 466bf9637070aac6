"""What conducts and which sources are on: over all permitted positions, or in one operating condition."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from vesselspec.isolation.energy import Supplies, opened
from vesselspec.model.devices import InverterCharger
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import PASS_THROUGH
from vesselspec.network.graph import Network
from vesselspec.network.reach import Reach, reach
from vesselspec.network.state import State, closed_links, resolve
from vesselspec.network.zones import zones_of
from vesselspec.rules import Boat


@dataclass(frozen=True)
class Wiring:
    """A network in which whatever is not excluded by its guards conducts. Numbers are those of the boat's network."""

    vessel: Vessel
    network: Network
    #: The condition; empty over all permitted positions.
    condition: str = ""
    state: State | None = None
    #: Over all permitted positions, for a condition: tells line from load where the condition leaves nothing live.
    whole: Wiring | None = None

    @cached_property
    def reach(self) -> Reach:
        """Which potential can reach what."""
        return reach(zones_of(self.network))

    @cached_property
    def unearthed(self) -> Network:
        """The network without earth and bonding conductors, and without what joins them to a neutral or negative."""
        terminals = self.network.terminals
        earth = (n for n, k in enumerate(self.network.links) if "PE" in (terminals[k.a].pole, terminals[k.b].pole))
        return opened(self.network, earth)

    @cached_property
    def unearthed_reach(self) -> Reach:
        """Which potential can reach what, earth and bonding left out."""
        return reach(zones_of(self.unearthed))

    @cached_property
    def supplies(self) -> Supplies:
        """The sources, and what feeds each converter."""
        return Supplies(self.vessel, self.network)


def any_position(boat: Boat) -> Wiring:
    """The boat over all permitted positions."""
    return Wiring(boat.vessel, boat.network)


def in_condition(boat: Boat, condition: str) -> Wiring:
    """The boat in one of its operating conditions."""
    found = resolved(boat.vessel, boat.network, boat.vessel.conditions[condition])
    return replace(found, whole=any_position(boat))


def resolved(vessel: Vessel, network: Network, condition: Condition) -> Wiring:
    """A network in a condition: only what is closed conducts, only what runs puts a potential on anything."""
    state = resolve(vessel, network, condition)
    closed = closed_links(network, condition, state)
    shut = opened(network, (n for n, conducts in enumerate(closed) if not conducts))
    on = [e for e in network.emissions if e in state.at(e.terminal) and not _idle(vessel, state, e.source, e.supply)]
    settled = replace(
        shut,
        links=tuple(replace(link, guards=()) if link.guards else link for link in shut.links),
        emissions=tuple(replace(e, guards=()) if e.guards else e for e in on),
    )
    return Wiring(vessel, settled, condition.id, state)


def _idle(vessel: Vessel, state: State, source: str, supply: str) -> bool:
    """Whether this is an inverter-charger's charging side while nothing passes through it."""
    charging = supply == "charging" and isinstance(vessel.devices[source], InverterCharger)
    return charging and state.positions.get(source) != PASS_THROUGH
