"""What the search for sources takes on trust: converters without a recorded feed, contacts that stick, bare sources.

None of it is a way of energy in the record as it stands, and each has let somebody work on what came live.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from vesselspec.isolation.energy import HOT, Energy, Supplies
from vesselspec.isolation.hazards import Hazard, named
from vesselspec.isolation.target import Target
from vesselspec.model.devices import Generator, InverterCharger, ShoreInlet
from vesselspec.network.graph import Network
from vesselspec.rules import Boat


def unfed(supplies: Supplies, whole: Energy) -> frozenset[tuple[str, int]]:
    """Outputs of converters to which no recorded source comes, as (converter, terminal): nobody knows what feeds them.

    A record that stops short of the feed does not stop the converter, so each is taken for live. An inverter-charger
    is not fed by what it, or one beside it, gives to its own battery: where no battery is recorded, there is one.
    """
    combined = {key for key, device in supplies.vessel.devices.items() if isinstance(device, InverterCharger)}

    def fed(output: tuple[str, int]) -> bool:
        own = combined if output[0] in combined else {output[0]}
        arrivals = (a.emission for t in supplies.inputs[output] for a in whole.reach.at(t))
        return any(e.pole in HOT and e.source not in own for e in arrivals)

    return frozenset(output for output in supplies.inputs if output not in whole.converting or not fed(output))


def unfed_here(boat: Boat, target: Target, outputs: frozenset[tuple[str, int]], supplies: Supplies) -> Iterator[Hazard]:
    """Why a place that a converter without a recorded feed can reach cannot be declared dead."""
    if not outputs:
        return
    energy = supplies.energy((), kept=outputs)
    if not energy.live(target.terminals):
        return
    alone = (
        key for key in dict.fromkeys(key for key, _ in sorted(outputs)) if _reaches(supplies, target, outputs, key)
    )
    names = [boat.vessel.name_of(key) for key in alone]
    yield Hazard(
        f"what feeds {named(names)} is not recorded, and the output comes to this place",
        "take it as live; find what feeds it, record that, and print the sheet again",
    )


def _reaches(supplies: Supplies, target: Target, outputs: frozenset[tuple[str, int]], key: str) -> bool:
    own = [output for output in outputs if output[0] == key]
    return bool(supplies.energy((), kept=own).live(target.terminals))


@dataclass(frozen=True)
class Stuck:
    """A source that only an exclusive choice keeps away, and the contact next to the place that would keep it too."""

    choice: str
    sources: tuple[str, ...]
    barriers: tuple[str, ...]

    def hazard(self, boat: Boat) -> Hazard:
        """It in words."""
        name = boat.vessel.name_of
        if self.choice in self.sources:
            keeps = f"the transfer relay of {name(self.choice)} keeps its output"
        else:
            keeps = f"{name(self.choice)} keeps {named(map(name, self.sources))}"
        opens = f"open {named(map(name, self.barriers))} as well" if self.barriers else ""
        makes = f"make {named(map(name, self.sources))} dead as well"
        return Hazard(
            f"only {keeps} away: one contact in it that sticks makes this place live",
            f"{opens}, or {makes}" if opens else makes,
        )


def stuck(supplies: Supplies, target: Target, after: Iterable[str], links: Iterable[int]) -> Iterator[Stuck]:
    """What comes to a place made dead if one selector, interlock or transfer relay no longer keeps its ways apart.

    `after` are the primary sources that the sheet leaves alive, `links` what it opens.
    """
    alive, cut = tuple(after), frozenset(links)
    for choice in supplies.network.choices:
        network = _without_choice(supplies.network, choice)
        energy = replace(supplies, network=network).energy(alive, cut)
        found: dict[str, None] = {}
        barriers: dict[str, None] = {}
        for terminal in sorted(target.terminals):
            for arrival in energy.at(terminal):
                if arrival.emission.pole not in HOT or arrival.emission.source in found:
                    continue
                found[arrival.emission.source] = None
                steps = energy.reach.witness(arrival, terminal).steps
                outside = _contacts(network, target, (step.link for step in steps))
                if outside and outside[-1] != choice:
                    barriers[outside[-1]] = None
        if found:
            yield Stuck(choice, tuple(found), tuple(barriers))


def _without_choice(network: Network, choice: str) -> Network:
    """The network in which a choice no longer holds anything apart."""
    links = tuple(replace(k, guards=tuple(g for g in k.guards if g[0] != choice)) for k in network.links)
    emissions = tuple(replace(e, guards=tuple(g for g in e.guards if g[0] != choice)) for e in network.emissions)
    return replace(network, links=links, emissions=emissions)


def _contacts(network: Network, target: Target, links: Iterable[int]) -> list[str]:
    """The contacts on a way that lie outside the place, nearest last."""
    passed = (network.links[number] for number in links if number >= 0)
    return [k.item for k in passed if k.switch and not {k.a, k.b} <= target.terminals]


def unjoined(supplies: Supplies) -> tuple[str, ...]:
    """Sources and converters on whose live terminals no conductor is recorded to land."""
    network = supplies.network
    landed = {t for link in network.links if link.kind != "joint" for t in (link.a, link.b)}
    landed |= {t for link in network.links if link.kind == "joint" and link.a != link.b for t in (link.a, link.b)}
    joined = {e.source for e in network.emissions if e.pole in HOT and e.terminal in landed}
    return tuple(dict.fromkeys(e.source for e in network.emissions if e.pole in HOT and e.source not in joined))


def can_be_kept_off(boat: Boat, key: str) -> bool:
    """Whether a source is one that a hand unplugs or stops whatever it is joined to."""
    return isinstance(boat.vessel.devices[key], ShoreInlet | Generator)


def unjoined_hazard(boat: Boat, keys: Iterable[str]) -> Iterator[Hazard]:
    """What to check of sources that are on board and joined to nothing that is recorded."""
    names = [boat.vessel.name_of(key) for key in keys]
    if names:
        yield Hazard(
            f"on board, and no conductor from it recorded: {named(names)}. Where it is joined is not known",
            "find where its cable goes; keep it off as well until you know",
        )


def lost_besides(boat: Boat, target: Target, whole: Energy, after: Energy) -> Iterator[Hazard]:
    """What safety depends on and the points take away."""
    gone = [
        key
        for key, load in boat.vessel.loads.items()
        if load.essential and key not in target.enclosures and _goes_dead(boat, key, whole, after)
    ]
    if gone:
        yield Hazard(
            f"safety depends on it, and it goes dead with this: {named(map(boat.vessel.name_of, gone))}",
            "have somebody watch in its place for as long as it is off, or feed it otherwise",
        )


def _goes_dead(boat: Boat, key: str, whole: Energy, after: Energy) -> bool:
    at = boat.network.within(key)
    return bool(whole.live(at)) and len(after.live(at)) < len(whole.live(at))
