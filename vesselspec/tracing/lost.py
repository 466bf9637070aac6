"""What goes dead with an item opened or a source taken away, and what stays live from elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from vesselspec.isolation.energy import HOT, Energy, opened
from vesselspec.model.devices import InverterCharger
from vesselspec.model.items import Condition
from vesselspec.network.graph import Network
from vesselspec.rules import Boat
from vesselspec.tracing.down import down_from
from vesselspec.tracing.subject import Subject
from vesselspec.tracing.up import Feed, up_from
from vesselspec.tracing.wiring import Wiring, any_position, in_condition, resolved


class NothingToOpenError(ValueError):
    """An item that has no contact to open, is no source, and carries no conductor."""


@dataclass(frozen=True)
class Gone:
    """A place that loses potentials. `staying` are poles of it that stay live all the same."""

    place: str
    kind: str  # load | device | section | way
    lost: tuple[str, ...]
    staying: tuple[str, ...]


@dataclass(frozen=True)
class Stays:
    """A place that stays live: on the item itself, or beyond it from elsewhere, with what makes it so."""

    place: str
    poles: tuple[str, ...]
    feeds: tuple[Feed, ...]
    #: Poles that a load or winding lifts to the potential of its other pole.
    lifted: tuple[str, ...] = ()


@dataclass(frozen=True)
class Lost:
    """The effect of opening an item in one condition, or (condition empty) over all permitted positions."""

    condition: str
    #: Every terminal with a line or a positive on it before, and none after.
    terminals: frozenset[int]
    gone: tuple[Gone, ...]
    own: tuple[Stays, ...]
    stays: tuple[Stays, ...]
    #: (device, position before, position after) of what changes over by itself.
    changes: tuple[tuple[str, str, str], ...]
    #: Outputs of converters that give nothing any more, because nothing feeds them.
    stopped: tuple[str, ...]
    #: Converters taken for live before and after, because the record does not know what feeds them.
    assumed: tuple[str, ...]

    @property
    def effect(self) -> tuple[object, ...]:
        """What a reader would act on: equal where two conditions lose the same."""
        stays = tuple((s.place, s.poles, s.lifted, tuple(f.output for f in s.feeds)) for s in (*self.own, *self.stays))
        return self.gone, stays, self.changes, self.stopped, self.assumed


def lost_by(boat: Boat, subject: Subject, condition: str = "") -> Lost:
    """Work out what only an item feeds. Raises NothingToOpenError for an item that cannot be opened."""
    cut = _cut(boat.network, subject)
    if not condition:
        before, after = any_position(boat), Wiring(boat.vessel, cut)
        was, kept, assumed = _before(before)
        now = after.supplies.energy(after.supplies.primary, kept=kept)
    else:
        before = in_condition(boat, condition)
        was, kept, assumed = _before(before)
        after, now = _settled(boat, cut, boat.vessel.conditions[condition], subject, was, kept)
    live = {t for t in range(len(boat.network.terminals)) if _is_hot(was, t)}
    dead = frozenset(t for t in live if not _is_hot(now, t))
    down = down_from(before, subject)
    beyond_it: dict[str, dict[int, None]] = {}
    for drain in down.drains:
        is_load = drain.kind == "load"
        place = drain.item if is_load else boat.network.terminals[drain.terminal].place
        told = boat.network.within(place) if is_load else (drain.terminal,)
        beyond_it.setdefault(place, {}).update(dict.fromkeys(told))
    fed_now = _giving(after, now)
    said = {subject.item, *subject.parts}
    idle = sorted(was.converting - now.converting)
    return Lost(
        condition,
        dead,
        _gone(boat, now, live, dead, said),
        _stays(fed_now, now, {boat.network.terminals[t].name: (t,) for t in _own(boat.network, subject)}),
        _stays(fed_now, now, {place: tuple(each) for place, each in beyond_it.items()}),
        _changes(before, after),
        tuple(dict.fromkeys(boat.network.terminals[t].place for key, t in idle if not subject.owns(key))),
        tuple(dict.fromkeys(key for key, _ in sorted(assumed) if not subject.owns(key))),
    )


def _cut(network: Network, subject: Subject) -> Network:
    """The network with the contacts or cores of an item opened, and its own potentials taken away.

    Of a space all contacts in it and all cables that end there or pass it.
    """
    links = [n for n, k in enumerate(network.links) if k.kind in ("contact", "core") and subject.owns(k.item)]
    emissions = tuple(e for e in network.emissions if not subject.owns(e.source))
    if subject.kind in ("panel", "section", "load") or (not links and len(emissions) == len(network.emissions)):
        raise NothingToOpenError(subject.item)
    transformers = {key: sides for key, sides in network.transformers.items() if not subject.owns(key)}
    return replace(opened(network, links), emissions=emissions, transformers=transformers)


def _own(network: Network, subject: Subject) -> list[int]:
    """Both sides of what is opened."""
    links = (k for k in network.links if k.kind in ("contact", "core") and subject.owns(k.item))
    ends = {t for link in links for t in (link.a, link.b)}
    return sorted(t for t in ends.union(subject.terminals) if network.terminals[t].pole != "PE")


_Outputs = frozenset[tuple[str, int]]


def _before(wiring: Wiring) -> tuple[Energy, _Outputs, _Outputs]:
    """What is live, the converter outputs that are so although the record does not say what feeds them, and those
    of them with a line or positive."""
    supplies = wiring.supplies
    known = supplies.energy(supplies.primary)
    unfed = frozenset(supplies.inputs.keys() - known.converting)
    hot = {(e.source, e.terminal) for e in wiring.network.emissions if e.pole in HOT}
    return (supplies.energy(supplies.primary, kept=unfed) if unfed else known), unfed, unfed & hot


def _settled(
    boat: Boat, cut: Network, condition: Condition, subject: Subject, was: Energy, kept: _Outputs
) -> tuple[Wiring, Energy]:
    """The condition after what changes over by itself has done so, and what stops for want of a supply has stopped."""
    running = [source for source in condition.running if not subject.owns(source)]
    while True:
        wiring = resolved(boat.vessel, cut, replace(condition, running=tuple(running)))
        supplies = wiring.supplies
        energy = supplies.energy(supplies.primary, kept=kept & supplies.inputs.keys())
        starved = supplies.inputs.keys() - energy.converting
        fed = {source for source, _ in energy.converting}
        stopped = {key for key, t in starved & was.converting if key not in fed and not _charges(boat, key, t)}
        if not stopped & set(running):
            return wiring, energy
        running = [source for source in running if source not in stopped]


def _charges(boat: Boat, source: str, terminal: int) -> bool:
    """Whether an output is the charging side of an inverter-charger, which inverts where its input is gone."""
    side = boat.network.terminals[terminal].place
    return isinstance(boat.vessel.devices[source], InverterCharger) and side == f"{source}/dc"


def _is_hot(energy: Energy, terminal: int) -> bool:
    return any(a.emission.pole in HOT for a in energy.reach.at(terminal))


def _giving(wiring: Wiring, energy: Energy) -> Wiring:
    """The wiring with those converters only that something feeds."""
    inputs = wiring.supplies.inputs
    on = (e for e in wiring.network.emissions if (e.source, e.terminal) not in inputs.keys() - energy.converting)
    return replace(wiring, network=replace(wiring.network, emissions=tuple(on)))


def _gone(boat: Boat, now: Energy, live: set[int], dead: frozenset[int], said: set[str]) -> tuple[Gone, ...]:
    """Places that lose something, loads first; the ways of a section that is dead are not told again."""
    network, vessel = boat.network, boat.vessel
    places: dict[str, dict[int, None]] = {}
    for terminal in sorted(live):
        at = network.terminals[terminal]
        if at.pole != "PE" and not at.loose:
            head = at.place.split("/", 1)[0]
            place = head if head in vessel.loads else at.place
            places.setdefault(place, {})[terminal] = None
    found: list[Gone] = []
    for place, terminals in places.items():
        lost = dict.fromkeys(network.terminals[t].pole for t in terminals if t in dead)
        stay = dict.fromkeys(network.terminals[t].pole for t in terminals if t not in dead)
        if lost and place not in said and place.split("/", 1)[0] not in said:
            found.append(Gone(place, _kind(boat, place), tuple(lost), tuple(stay)))
    whole = {gone.place for gone in found if gone.kind == "section" and not gone.staying}
    kept = [g for g in found if not (g.kind == "way" and not g.staying and g.place.rpartition("/")[0] in whole)]
    order = ("load", "section", "way", "device")
    return tuple(sorted(kept, key=lambda gone: order.index(gone.kind)))


def _kind(boat: Boat, place: str) -> str:
    if place in boat.vessel.loads:
        return "load"
    return "way" if place in boat.vessel.ways else "section" if place in boat.vessel.sections else "device"


def _stays(wiring: Wiring, now: Energy, places: dict[str, Iterable[int]]) -> tuple[Stays, ...]:
    found = []
    for place, terminals in places.items():
        live = [t for t in terminals if _is_hot(now, t)]
        poles = [wiring.network.terminals[t].pole for t in live]
        feeds = up_from(wiring, live).hot
        fed = {wiring.network.terminals[feed.terminal].pole for feed in feeds}
        if live:
            lifted = tuple(dict.fromkeys(pole for pole in poles if pole not in fed))
            found.append(Stays(place, tuple(dict.fromkeys(poles)), feeds, lifted))
    return tuple(found)


def _changes(before: Wiring, after: Wiring) -> tuple[tuple[str, str, str], ...]:
    if before.state is None or after.state is None:
        return ()
    now = after.state.positions
    return tuple((key, was, now[key]) for key, was in before.state.positions.items() if now[key] != was)
