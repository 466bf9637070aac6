"""Earth in series: a case whose earth hangs on another device's case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from vesselspec.model.devices import Busbar, EarthPoint, GalvanicIsolator, IsolationTransformer, Junction, ShoreInlet
from vesselspec.network.graph import Network
from vesselspec.network.zones import components
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.earth import earth_parts
from vesselspec.rules.findings import CAUTION
from vesselspec.rules.returns import cases, sources_at

#: What earths are meant to pass: bars and boxes, and what stands in the earth of a source by its nature.
_MADE_FOR_IT = (Busbar, EarthPoint, GalvanicIsolator, IsolationTransformer, Junction, ShoreInlet)


@rule(
    "earth-through-device",
    CAUTION,
    title="The earth of a case hangs on another device",
    why="Whoever takes that device out takes the earth of the next one with it, which stays live; nothing shows it.",
    remedy="Run its earth core to the earth bar or panel that its line comes from; join cores that must meet in a box "
    "with a tail to the device.",
    source=COMMON_PRACTICE,
    needs="earth cores of sources, panels and AC devices",
)
def through_device(boat: Boat) -> Iterator[Says | Sound]:
    """Cases that a source still feeds, and that have no earth to it any more, once another device is taken out."""
    part = earth_parts(boat)
    fed = [(item, earth, sources_at(boat, lines)) for item, earth, lines in cases(boat)]
    fed = [each for each in fed if each[2]]
    yield from (Sound(item) for item, _, _ in fed)
    for key, terminals in _passing(boat):
        left = _parts_without(boat, terminals)
        cut = {
            item: {source for source, end in sources.items() if part[earth] == part[end] and left[earth] != left[end]}
            for item, earth, sources in fed
            if item != key
        }
        for sources in cut.values():
            sources.discard(key)
        if not any(cut.values()):
            continue
        lifted = _Lifted(boat.vessel, boat.places, terminals=terminals)
        hang: dict[str, None] = {}
        names: dict[str, None] = {}
        for item, _, lines in cases(boat):
            live = sources_at(lifted, lines).keys() & cut.get(item, set())
            if live:
                hang[item] = None
                names |= dict.fromkeys(sorted(live))
        if hang:
            yield _says(boat, key, tuple(hang), tuple(names))


def _passing(boat: Boat) -> Iterator[tuple[str, frozenset[int]]]:
    """Devices on whose case two earth cores or more land, with all of their terminals."""
    network = boat.network
    for key, device in (*boat.vessel.devices.items(), *boat.vessel.loads.items()):
        own = frozenset(network.within(key))
        earths = [n for n in own if network.terminals[n].pole == "PE"]
        cores = [n for end in earths for n in network.at[end] if network.links[n].kind == "core"]
        if len(cores) > 1 and not isinstance(device, _MADE_FOR_IT):
            yield key, own


def _parts_without(boat: Boat, terminals: frozenset[int]) -> tuple[int, ...]:
    """What earth conductors join with some terminals taken out."""
    network = boat.network
    pairs = [
        (link.a, link.b)
        for link in network.links
        if network.terminals[link.a].pole == network.terminals[link.b].pole == "PE"
        and terminals.isdisjoint((link.a, link.b))
    ]
    return components(len(network.terminals), pairs)


@dataclass(frozen=True)
class _Lifted(Boat):
    """The same boat with a device disconnected at all of its terminals."""

    terminals: frozenset[int] = frozenset()

    @cached_property
    def network(self) -> Network:
        """The compiled network, in which nothing comes to these terminals or from them."""
        network, out = Boat(self.vessel, self.places).network, self.terminals
        never = (("", frozenset[str]()),)
        links = tuple(
            link if out.isdisjoint((link.a, link.b)) else replace(link, guards=never) for link in network.links
        )
        return replace(network, links=links, emissions=tuple(e for e in network.emissions if e.terminal not in out))


def _says(boat: Boat, key: str, hang: tuple[str, ...], sources: tuple[str, ...]) -> Says:
    names = " and ".join(map(boat.vessel.name_of, hang))
    return Says(
        items=(key, *hang),
        at=boat.at(key),
        what=f"the earth of {names} leads to {', '.join(map(boat.vessel.name_of, sources))} only through the case of "
        f"{boat.vessel.name_of(key)}; with that taken out {names} {'stays' if len(hang) == 1 else 'stay'} live "
        "without an earth",
        group=(key,),
    )
