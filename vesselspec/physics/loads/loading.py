"""What every source, panel feeder, bus and protective device carries in a condition, beside its rating.

The sums are those of the demand factors at nominal voltage; the neutral's current is that of the solved network.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from vesselspec.model.devices import Charger, InverterCharger
from vesselspec.model.items import Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import LINES, Network
from vesselspec.network.state import State
from vesselspec.physics.loads.burden import Burden, Element, Root, Ways
from vesselspec.physics.loads.demand import NO_FACTOR, Draw
from vesselspec.physics.steady.flow import Flow
from vesselspec.standards import figure

#: A sum may exceed a rating by no more than what adding up decimals does.
_EXACT = 1e-9


@dataclass(frozen=True)
class Line:
    """The load of one element in one condition."""

    element: Element
    amps: float
    rating_a: float | None
    continuous_a: float
    intermittent_a: float
    unstated_a: float  # of loads whose duty is not recorded
    draws: tuple[Draw, ...]  # largest first
    unknown: tuple[tuple[str, str], ...]  # the sum is a lower bound

    @property
    def margin_a(self) -> float | None:
        """What is left of the rating; negative where it is exceeded."""
        return None if self.rating_a is None else self.rating_a - self.amps

    @property
    def over(self) -> bool:
        """Whether more is asked of it than its rating."""
        return self.rating_a is not None and self.amps > self.rating_a * (1 + _EXACT)


@dataclass(frozen=True)
class Imbalance:
    """The largest line of a source, section or bus less its smallest, in A and as a share of the largest."""

    items: tuple[str, ...]
    larger: str
    smaller: str
    amps: float
    share: float


@dataclass(frozen=True)
class Neutral:
    """The current of a neutral conductor as the network is solved; None where several share it."""

    item: str
    cable: str
    amps: float | None


@dataclass(frozen=True)
class Feeder:
    """A section's bus and what feeds it: its main way, or the cable and the device before it."""

    bus: Line
    fed_by: str
    is_cable: bool
    device: Element | None
    device_rating_a: float | None

    @property
    def over(self) -> bool:
        """Whether the bus or its feeder is asked for more than its rating."""
        rating = self.device_rating_a
        return self.bus.over or (rating is not None and self.bus.amps > rating * (1 + _EXACT))


@dataclass(frozen=True)
class Loading:
    """One condition, summed up."""

    condition: str
    sources: tuple[Line, ...]
    feeders: tuple[Feeder, ...]
    devices: tuple[Line, ...]
    imbalances: tuple[Imbalance, ...]  # of sources
    feeder_imbalances: tuple[Imbalance, ...]
    neutrals: tuple[Neutral, ...]
    unfed: tuple[str, ...]
    unknown: tuple[tuple[str, str], ...]
    unrated: tuple[Element, ...]
    parallel: tuple[tuple[str, str], ...]  # (load, where its way divides)
    troubles: tuple[str, ...]
    loops: tuple[str, ...]  # converters that feed each other: left out of the solved network

    @property
    def over(self) -> tuple[Line, ...]:
        """Everything that is asked for more than its rating."""
        return tuple(line for line in (*self.sources, *(f.bus for f in self.feeders), *self.devices) if line.over)


def breaker_share() -> float:
    """The share of its rating that an ordinary breaker carries for hours."""
    return float(figure("nec_continuous").data["breaker_percent"]) / 100


def loading_of(vessel: Vessel, network: Network, condition: Condition, state: State, flow: Flow | None) -> Loading:
    """Sum up a condition. Without a solved flow the neutrals are left out."""
    ways = Ways(vessel, network, condition, state)
    burdens = [
        (_without_factor(ways.burden(key)) if demand.factor == 0 else ways.burden(key), demand.factor)
        for key, demand in condition.shares
        if (demand.factor > 0 or demand.published)
        and (key in vessel.loads or isinstance(vessel.devices.get(key), Charger | InverterCharger))
    ]
    lines = _lines(vessel, ways, burdens)
    sources = [line for line in lines if line.element.kind == "source"]
    buses = [line for line in lines if line.element.kind == "bus"]
    return Loading(
        condition=condition.id,
        sources=tuple(sources),
        feeders=tuple(_feeder(ways, line, _root_of(burdens, line.element)) for line in buses),
        devices=tuple(line for line in lines if line.element.kind not in ("source", "bus", "cable")),
        imbalances=tuple(_imbalances(sources, lambda item: _source_lines(vessel, item))),
        feeder_imbalances=tuple(_imbalances(buses, lambda item: _bus_lines(network, item))),
        neutrals=() if flow is None else tuple(_neutrals(ways, sources, buses, flow)),
        unfed=tuple(burden.load for burden, _ in burdens if not burden.fed),
        unknown=tuple(dict.fromkeys(each for burden, _ in burdens for each in burden.unknown)),
        unrated=tuple(line.element for line in lines if line.rating_a is None and line.element.kind != "cable"),
        parallel=tuple((burden.load, place) for burden, _ in burdens for place in burden.parallel),
        troubles=() if flow is None else tuple(dict.fromkeys(trouble.text for trouble in flow.troubles)),
        loops=() if flow is None else tuple(loop.text for loop in flow.loops),
    )


def _without_factor(burden: Burden) -> Burden:
    """A load that asks for a published factor where there is none."""
    return replace(burden, unknown=((burden.load, NO_FACTOR), *burden.unknown))


def _lines(vessel: Vessel, ways: Ways, burdens: Iterable[tuple[Burden, float]]) -> list[Line]:
    draws: dict[Element, dict[str, float]] = {}
    unknown: dict[Element, dict[tuple[str, str], None]] = {}
    for burden, factor in burdens:
        for element, amps in burden.amps.items():
            at = draws.setdefault(element, {})
            at[burden.load] = at.get(burden.load, 0.0) + amps * factor
            unknown.setdefault(element, {}).update(dict.fromkeys(burden.unknown))
    return [_line(vessel, ways, element, draws[element], tuple(unknown[element])) for element in sorted(draws)]


def _line(
    vessel: Vessel, ways: Ways, element: Element, draws: Mapping[str, float], unknown: tuple[tuple[str, str], ...]
) -> Line:
    def of(duty: str | None) -> float:
        return math.fsum(a for key, a in draws.items() if getattr(vessel.loads.get(key), "duty", None) == duty)

    found = (Draw(key, amps) for key, amps in draws.items() if amps > 0)
    return Line(
        element=element,
        amps=math.fsum(draws.values()),
        rating_a=ways.ratings.get(element),
        continuous_a=of("continuous"),
        intermittent_a=of("intermittent"),
        unstated_a=of(None),
        draws=tuple(sorted(found, key=lambda draw: (-draw.amps, draw.item))),
        unknown=unknown,
    )


def _root_of(burdens: Iterable[tuple[Burden, float]], element: Element) -> Root:
    return next(root for burden, _ in burdens for root, amps in burden.levels if element in amps)


def _feeder(ways: Ways, line: Line, root: Root) -> Feeder:
    """Look back from a bus for what feeds it: the first link that is not a joint, and the first device before it."""
    place = line.element.item
    terminal = ways.network.index[place, line.element.pole]
    fed_by, is_cable = " + ".join(root[0]), False
    device: Element | None = None
    first = True
    for node in ways.chain(root, terminal):
        link = ways.link_of(node)
        if link is None or link.kind == "joint":
            continue
        if first:
            fed_by, is_cable, first = link.item, link.kind == "core", False
        found = ways.element_of(node)
        if found is not None and found.kind in ("breaker", "fuse"):
            device = found
            break
    return Feeder(line, fed_by, is_cable, device, None if device is None else ways.ratings.get(device))


def _source_lines(vessel: Vessel, item: str) -> set[str]:
    device = vessel.devices.get(item.split(" + ", maxsplit=1)[0])
    sides = device.sides(vessel.systems) if device is not None else ()
    return {pole for side in sides for pole in side.poles if pole in LINES}


def _bus_lines(network: Network, item: str) -> set[str]:
    return {pole for pole in LINES if (item, pole) in network.index}


def _imbalances(found: Iterable[Line], lines_of: Callable[[str], set[str]]) -> Iterable[Imbalance]:
    """Compare the lines of everything that has several; a line without load counts as 0 A."""
    together: dict[str, dict[str, float]] = {}
    for line in found:
        if line.element.pole in LINES:
            together.setdefault(line.element.item, {})[line.element.pole] = line.amps
    for item, amps in together.items():
        every = {pole: amps.get(pole, 0.0) for pole in sorted(lines_of(item) | set(amps))}
        if len(every) < 2:
            continue
        larger = max(every, key=lambda pole: (every[pole], pole == "L1", pole))
        smaller = min(every, key=lambda pole: (every[pole], pole))
        gap = every[larger] - every[smaller]
        share = gap / every[larger] if every[larger] else 0.0
        yield Imbalance(tuple(item.split(" + ")), larger, smaller, gap, share)


def _neutrals(ways: Ways, sources: Iterable[Line], buses: Iterable[Line], flow: Flow) -> Iterable[Neutral]:
    """The neutral core at every AC source, and at the supply side of every AC bus."""
    seen: set[str] = set()
    for line in (*sources, *buses):
        if line.element.pole not in LINES or line.element.item in seen:
            continue
        seen.add(line.element.item)
        for place in line.element.sources if line.element.kind == "source" else (line.element.item,):
            yield from _neutral_at(ways, place, flow, bus=line.element.kind == "bus")


def _neutral_at(ways: Ways, place: str, flow: Flow, *, bus: bool) -> Iterable[Neutral]:
    network = ways.network
    for side in (place, f"{place}/ac", f"{place}/ac-out", f"{place}/secondary"):
        terminal = network.index.get((side, "N"))
        if terminal is None:
            continue
        cores = [n for n in network.at[terminal] if network.links[n].kind == "core" and ways.closed[n]]
        if bus:
            # Of the many on a bar, the one that belongs to the cable which feeds it.
            feeders = {
                link.item
                for pole in LINES
                if (place, pole) in network.index
                for root in [_feeding_root(ways, network.index[place, pole])]
                if root is not None
                for node in ways.chain(root, network.index[place, pole])
                if (link := ways.link_of(node)) is not None and link.kind == "core"
            }
            cores = [n for n in cores if network.links[n].item in feeders]
        if len(cores) == 1:
            yield Neutral(place, network.links[cores[0]].item, flow.ac_amps.get(cores[0], 0.0))
        elif cores:
            yield Neutral(place, "", None)


def _feeding_root(ways: Ways, terminal: int) -> Root | None:
    return next((root for root in ways.roots if terminal in ways.tree(root)), None)
