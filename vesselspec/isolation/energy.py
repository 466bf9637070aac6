"""What is live while given sources are dead and given contacts are open, over every position of all others.

Rules take a converter as able to make its output live whatever its input; here its input counts, because work
begins with making it dead. The answer errs to the live side only: an input that can be live in any position makes
the output live in every position.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from vesselspec.model.devices import (
    Charger,
    DcConverter,
    Device,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    SolarController,
)
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, Emission, Network
from vesselspec.network.reach import Arrival, Reach, asks_no_more, reach
from vesselspec.network.zones import Zones, zones_of

#: Potentials that a hand must not meet; negative stands at earth and is not among them.
HOT = (*LINES, "DC+")


def opened(network: Network, links: Iterable[int]) -> Network:
    """The network with some links taken out. Numbers of links and terminals stay."""
    out = frozenset(links)
    kept = (replace(link, b=link.a) if number in out else link for number, link in enumerate(network.links))
    return replace(network, links=tuple(kept))


def inputs_of(device: Device, place: str) -> tuple[str, ...]:
    """The places whose potential a converter turns into the one at `place`; empty for what makes its own."""
    match device:
        case Inverter():
            return (f"{device.id}/dc",)
        case InverterCharger():
            return (f"{device.id}/ac-in",) if place.endswith("/dc") else (f"{device.id}/dc",)
        case Charger():
            return (f"{device.id}/ac",)
        case DcConverter():
            return (f"{device.id}/in",)
        case SolarController():
            return (f"{device.id}/array",)
        case IsolationTransformer():
            return (f"{device.id}/primary",)
        case _:
            return ()


@dataclass(frozen=True)
class Energy:
    """What can be live, with the converters that something feeds."""

    reach: Reach
    #: The same for neutrals and negatives, which a bond of neutral and earth does not carry on.
    neutral: Reach
    #: Converter emissions that are live, as (source, terminal).
    converting: frozenset[tuple[str, int]]
    #: For each (load, terminal) lifted through a load or winding, the terminal at its other end.
    through: Mapping[tuple[str, int], int]

    def at(self, terminal: int) -> tuple[Arrival, ...]:
        """The potentials that a hand must not meet at a terminal."""
        hot = tuple(arrival for arrival in self.reach.at(terminal) if arrival.emission.pole in HOT)
        if self.reach.network.terminals[terminal].pole == "PE":
            return hot
        return hot + tuple(a for a in self.neutral.at(terminal) if a.emission.pole == "N")

    def live(self, terminals: Iterable[int]) -> tuple[int, ...]:
        """Those of the terminals that can be live, in order."""
        return tuple(terminal for terminal in sorted(terminals) if self.at(terminal))

    @property
    def complete(self) -> bool:
        """Whether the search was."""
        return not self.reach.incomplete and not self.neutral.incomplete


@dataclass(frozen=True)
class Supplies:
    """The sources of a vessel: what makes its own potential, and what converts another's."""

    vessel: Vessel
    network: Network

    @cached_property
    def inputs(self) -> Mapping[tuple[str, int], tuple[int, ...]]:
        """For each emission of a converter, the terminals that feed it."""
        network = self.network
        found: dict[tuple[str, int], tuple[int, ...]] = {}
        for emission in network.emissions:
            places = inputs_of(self.vessel.devices[emission.source], network.terminals[emission.terminal].place)
            if places:
                found[emission.source, emission.terminal] = tuple(
                    t for place in places for t in network.places.get(place, ()) if network.terminals[t].pole != "PE"
                )
        return found

    @cached_property
    def primary(self) -> tuple[str, ...]:
        """The sources that need no other: shore, generators, banks, alternators, arrays."""
        converters = {source for source, _ in self.inputs}
        return tuple(dict.fromkeys(e.source for e in self.network.emissions if e.source not in converters))

    @cached_property
    def _whole(self) -> tuple[Zones, Zones]:
        return _zones(self.network)

    @cached_property
    def whole(self) -> Energy:
        """What all of them can make live, worked out once for the sheets of a boat."""
        return self.energy(self.primary)

    @cached_property
    def alone(self) -> Mapping[str, Energy]:
        """What each primary source can make live by itself."""
        return {key: self.energy([key]) for key in self.primary}

    @cached_property
    def windings(self) -> tuple[tuple[str, tuple[int, ...]], ...]:
        """What conducts between its own poles without being a conductor: loads, and each side of a transformer."""
        network = self.network
        places = [(key, key) for key in self.vessel.loads]
        places += [(key, f"{key}/{side}") for key in network.transformers for side in ("primary", "secondary")]
        found = ((key, network.places.get(place, ())) for key, place in places)
        poles = ((key, tuple(t for t in at if network.terminals[t].pole != "PE")) for key, at in found)
        return tuple((key, terminals) for key, terminals in poles if len(terminals) > 1)

    def energy(self, alive: Iterable[str], without: Iterable[int] = (), kept: Iterable[tuple[str, int]] = ()) -> Energy:
        """Spread the potentials of the primary sources that are alive until nothing is new.

        They pass conductors and contacts, converters that they feed, and loads whose other pole has lost its way
        back to the source. Links `without` do not conduct. Converter emissions `kept`, as (source, terminal), are
        live whether or not something feeds them.
        """
        zones, unbonded = self._whole if not (links := frozenset(without)) else _zones(opened(self.network, links))
        emissions = self.network.emissions
        on = set(alive)
        converting = set(kept)
        through: dict[Emission, int] = {}
        while True:
            starts = [e for e in emissions if e.source in on or (e.source, e.terminal) in converting]
            hot = reach(zones, starts=[*(e for e in starts if e.pole in HOT), *through])
            fed = {
                key
                for key, terminals in self.inputs.items()
                if any(arrival.emission.pole in HOT for t in terminals for arrival in hot.at(t))
            }
            if not fed <= converting:
                converting |= fed
                continue
            back = reach(unbonded, starts=[e for e in starts if e.pole not in HOT and e.pole != "PE"])
            fresh = {e: t for e, t in self._through(hot, back) if e not in through}
            if not fresh:
                return Energy(hot, back, frozenset(converting), {(e.source, e.terminal): t for e, t in through.items()})
            through |= fresh

    def _through(self, hot: Reach, back: Reach) -> Iterator[tuple[Emission, int]]:
        """A pole that a load or winding lifts to its other pole's potential, because no way back holds it down."""
        for key, terminals in self.windings:
            for start in terminals:
                for arrival in hot.at(start):
                    source = arrival.emission
                    for end in terminals:
                        if end != start and not _held(arrival, end, hot, back):
                            place = hot.network.terminals[end]
                            lifted = Emission(
                                key, "load", key, end, source.pole, place.system, source.volts, arrival.needs
                            )
                            yield lifted, start


def _held(arrival: Arrival, terminal: int, hot: Reach, back: Reach) -> bool:
    """Whether, wherever a potential arrives, a terminal is joined to another pole of its source, or live anyway."""
    needs = dict(arrival.needs)
    ways = (a for a in back.at(terminal) if a.emission.source == arrival.emission.source)
    return any(asks_no_more(way.needs, needs) for way in (*hot.at(terminal), *ways))


def _zones(network: Network) -> tuple[Zones, Zones]:
    """The zones of a network, and those without its bonds of neutral and earth."""
    return zones_of(network), zones_of(opened(network, _bonds(network)))


def _bonds(network: Network) -> list[int]:
    """The links between a neutral and earth."""
    terminals = network.terminals
    return [
        n for n, link in enumerate(network.links) if {terminals[link.a].pole, terminals[link.b].pole} == {"N", "PE"}
    ]


def is_ac(emission: Emission) -> bool:
    """Whether a potential is one of an AC source."""
    return emission.pole not in ("DC+", "DC-")
