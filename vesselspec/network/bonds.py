"""Where neutral meets protective earth, and which of these joints a source's neutral can come to.

A joint is looked for over all permitted positions, as potentials are: transfer relays, selectors and interlocks
stand in one state each, contacts that stand alone are closed. Facts, not opinions: what a joint too many or too few
is worth is for the rules to say.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from vesselspec.model.devices import Charger, Generator, Inverter, InverterCharger, IsolationTransformer, Load
from vesselspec.model.vessel import Vessel
from vesselspec.network.compile import INVERTING
from vesselspec.network.graph import Choice, Emission, Guard, Network
from vesselspec.network.reach import Arrival, Needs, Reach, Step, Witness, agree, reach
from vesselspec.network.zones import zones_of

#: Supply word of the neutral at a transformer's primary, spread to see whether it comes to the secondary.
PRIMARY = "primary"


@dataclass(frozen=True, slots=True)
class Bond:
    """One joint of a neutral terminal with a protective earth terminal."""

    item: str  # the cable or device that makes it
    core: str
    neutral: int
    earth: int
    guards: tuple[Guard, ...] = ()
    #: False where the record does not say whether it is there.
    certain: bool = True
    #: A core from some neutral to the case of a device: it earths nothing, it ties the case to the neutral.
    on_case: bool = False


@dataclass(frozen=True, slots=True)
class Met:
    """A joint that the neutral of a source can come to, and what that needs."""

    bond: Bond
    arrival: Arrival
    needs: Needs


@dataclass(frozen=True)
class Neutrals:
    """The neutrals of a vessel: every source's, how far each can spread, and the joints with earth."""

    bonds: tuple[Bond, ...]
    choices: Mapping[str, Choice]
    _reach: Reach
    _numbers: tuple[int, ...]  # of each neutral link in the whole network

    @property
    def network(self) -> Network:
        """The terminals with neutral conductors alone."""
        return self._reach.network

    @property
    def emissions(self) -> tuple[Emission, ...]:
        """Every neutral that a source gives, and that at the primary of every isolation transformer."""
        return self.network.emissions

    def arrivals(self, emission: Emission, terminal: int) -> tuple[Arrival, ...]:
        """The ways in which one source's neutral comes to a terminal."""
        return tuple(arrival for arrival in self._reach.at(terminal) if arrival.emission == emission)

    def met(self, emission: Emission) -> tuple[Met, ...]:
        """Every joint that this neutral can come to, in the order of the joints."""
        found = []
        for bond in self.bonds:
            for arrival in self.arrivals(emission, bond.neutral):
                needs = agree(arrival.needs, bond.guards)
                if needs is not None:
                    found.append(Met(bond, arrival, needs))
        return tuple(found)

    def bypassed(self, network: Network) -> dict[str, tuple[Arrival, int]]:
        """Isolation transformers whose primary neutral can come to their secondary, and by which way to which end."""
        found: dict[str, tuple[Arrival, int]] = {}
        for emission in self.emissions:
            end = network.index.get((f"{emission.source}/secondary", "N"))
            arrivals = self.arrivals(emission, end) if emission.supply == PRIMARY and end is not None else ()
            if arrivals and end is not None:
                found[emission.source] = min(arrivals, key=lambda each: len(each.needs)), end
        return found

    def way(self, arrival: Arrival, terminal: int) -> Witness:
        """The way of a neutral, in links of the whole network."""
        own = self._reach.witness(arrival, terminal)
        steps = tuple(Step(self._numbers[step.link], step.start, step.end) for step in own.steps)
        return Witness(own.emission, own.needs, own.start, steps)

    def escape(self, needs: Needs, others: Sequence[Needs]) -> Needs | None:
        """Positions in which `needs` hold and none of `others` does, or None where there are none."""
        for number, other in enumerate(others):
            if agree(needs, other) is None:
                continue
            for choice, states in other:
                outside = frozenset(self.choices[choice].states) - states
                narrowed = agree(needs, ((choice, outside),))
                if narrowed is not None:
                    found = self.escape(narrowed, others[number + 1 :])
                    if found is not None:
                        return found
            return None
        return needs


def neutrals_of(vessel: Vessel, network: Network) -> Neutrals:
    """Find the joints of neutral and earth, and spread every neutral over neutral conductors alone."""
    poles = [terminal.pole for terminal in network.terminals]
    numbers = tuple(number for number, link in enumerate(network.links) if poles[link.a] == poles[link.b] == "N")
    links = tuple(network.links[number] for number in numbers)
    emissions = [each for each in network.emissions if each.pole == "N"]
    for key in network.transformers:
        primary = network.index.get((f"{key}/primary", "N"))
        if primary is not None:
            system = network.terminals[primary].system
            emissions.append(Emission(key, PRIMARY, key, primary, "N", system, 0.0))
    alone = replace(network, links=links, emissions=tuple(emissions))
    return Neutrals(tuple(_bonds(vessel, network)), network.choices, reach(zones_of(alone)), numbers)


def _bonds(vessel: Vessel, network: Network) -> Iterator[Bond]:
    """Every joint once, however often it is recorded."""
    seen: set[tuple[int, int, tuple[Guard, ...]]] = set()
    for link in network.links:
        ends = {network.terminals[end].pole: end for end in (link.a, link.b)}
        if ends.keys() != {"N", "PE"} or (ends["N"], ends["PE"], link.guards) in seen:
            continue
        seen.add((ends["N"], ends["PE"], link.guards))
        heads = [network.terminals[ends[pole]].place.split("/", 1)[0] for pole in ("N", "PE")]
        case = isinstance(vessel.device(heads[1]), Load | Charger) and heads[0] != heads[1]
        yield Bond(link.item, link.core, ends["N"], ends["PE"], link.guards, on_case=case and link.kind == "core")
    for key, device in vessel.devices.items():
        place, guards = _unsaid(network, key, device)
        neutral, earth = network.index.get((place, "N")), network.index.get((place, "PE"))
        if neutral is not None and earth is not None and (neutral, earth, ()) not in seen:
            yield Bond(key, "", neutral, earth, guards, certain=False)


def _unsaid(network: Network, key: str, device: object) -> tuple[str, tuple[Guard, ...]]:
    """The place in a device where neutral and earth may be joined for all that the record says, and when."""
    match device:
        case Generator(neutral_earth_bond=None):
            return key, ()
        case Inverter(neutral_earth_bond=None):
            return f"{key}/ac", ()
        case IsolationTransformer(neutral_earth_bond=None):
            return f"{key}/secondary", ()
        case InverterCharger(neutral_earth_relay=None):
            return f"{key}/ac-out", ((network.choices[key].id, frozenset((INVERTING,))),)
        case _:
            return "", ()
