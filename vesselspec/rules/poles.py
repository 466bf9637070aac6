"""Poles that must open together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations

from vesselspec.model.devices import Charger, InverterCharger, IsolationTransformer, ShoreInlet, _InLine
from vesselspec.network.graph import LINES, Link
from vesselspec.network.outward import outward
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, WARNING
from vesselspec.standards import figure


@rule(
    "lines-opened-apart",
    WARNING,
    title="The lines of one circuit are opened by separate devices",
    why="With one device open, the other line still keeps the circuit live: whoever works on it sees an open breaker.",
    remedy="Put one device with a pole for every line in their place; where two single-pole breakers are joined by a "
    "tie that opens both, record them as one way.",
    source="46 CFR 28.860(a),(d) (each breaker and switch opens all ungrounded conductors at once)",
    needs="the ways and devices on which the lines of each circuit land",
    guards_life=True,
)
def opened_apart(boat: Boat) -> Iterator[Says | Sound]:
    """The last device of each line of cables, loads, converters and panel sections with two or three lines."""
    told: set[frozenset[str]] = set()
    for item, terminals in _circuits(boat):
        apart = next((pair for pair in combinations(sorted(terminals), 2) if _apart(boat, terminals, pair)), None)
        if apart is None:
            yield Sound(item)
            continue
        found = {pole: sorted(_devices(boat, terminals[pole])) for pole in apart}
        devices = [device for pole in apart for device in found[pole]]
        if frozenset(devices) not in told:
            told.add(frozenset(devices))
            by = " and ".join(f"{pole} by {', '.join(map(boat.vessel.name_of, found[pole]))}" for pole in apart)
            yield Says(
                items=(*devices, item),
                at=boat.at(devices[0], "poles"),
                what=f"the lines of {'cable ' if item in boat.vessel.cables else ''}{boat.vessel.name_of(item)} are "
                f"opened apart, {by}",
            )


def _circuits(boat: Boat) -> Iterator[tuple[str, dict[str, int]]]:
    """Everything with two or three lines, with a terminal of each: cables first, nearest to the devices."""
    network = boat.network
    for cable, runs in network.runs.items():
        lines: dict[str, int] = {}
        for run in runs:
            if run.link >= 0:
                link = network.links[run.link]
                poles = {network.terminals[link.a].pole, network.terminals[link.b].pole} & set(LINES)
                if len(poles) == 1:
                    lines[poles.pop()] = link.a
        if len(lines) > 1:
            yield cable, lines
    for key, item in (*boat.vessel.devices.items(), *boat.vessel.loads.items()):
        place = (
            f"{key}/ac-in" if isinstance(item, InverterCharger) else f"{key}/ac" if isinstance(item, Charger) else key
        )
        yield from _lines_of(boat, key, place)
    for path in boat.vessel.sections:
        yield from _lines_of(boat, path, path)


def _lines_of(boat: Boat, item: str, place: str) -> Iterator[tuple[str, dict[str, int]]]:
    found = {line: boat.network.index[place, line] for line in LINES if (place, line) in boat.network.index}
    if len(found) > 1:
        yield item, found


def _devices(boat: Boat, terminal: int, source: str | None = None) -> set[str]:
    feeds = boat.feeds.at(terminal)
    return {feed.device for feed in feeds if feed.device is not None and source in (None, feed.emission.source)}


def _apart(boat: Boat, terminals: dict[str, int], pair: Iterable[str]) -> bool:
    """Whether some source feeds two lines through devices of which none is common to both."""
    one, two = (terminals[pole] for pole in pair)
    sources = {feed.emission.source for feed in boat.feeds.at(one)} & {f.emission.source for f in boat.feeds.at(two)}
    for source in sources:
        first, second = _devices(boat, one, source), _devices(boat, two, source)
        if first and second and not first & second:
            return True
    return False


@rule(
    "shore-main-opens-line-alone",
    CAUTION,
    title="The main of a shore supply opens the line and leaves the neutral closed",
    why="A cord, pedestal or adapter with line and neutral exchanged puts mains voltage on the neutral: the open main "
    "then opens the dead side and leaves the live one.",
    remedy="Fit a two-pole main that opens line and neutral together.",
    source=COMMON_PRACTICE,
    needs="the poles of the first devices behind a shore inlet of one line and neutral",
    guards_life=True,
)
def main_alone(boat: Boat) -> Iterator[Says | Sound]:
    """What a shore inlet of one line feeds without passing a device that opens line and neutral together."""
    network = boat.network
    asked = figure("ac_main_pole")
    both = {path for path, (_, _, way) in boat.vessel.ways.items() if {"L1", "N"} <= set(way.poles)}
    both |= {
        key
        for key, device in boat.vessel.devices.items()
        if isinstance(device, _InLine) and {"L1", "N"} <= set(device.opened(boat.vessel.systems))
    }
    for key, inlet in boat.vessel.devices.items():
        lines = [e for e in network.emissions if e.source == key and e.pole in LINES]
        if not isinstance(inlet, ShoreInlet) or len(lines) != 1 or (key, "N") not in network.index:
            continue

        def stops(link: Link) -> bool:
            return link.item in both

        reached = outward(network, lines[0], stops=stops).terminals
        first = sorted(device for device in outward(network, lines[0]).devices if device not in both)
        used = [place for place in users(boat, reached) if not place.endswith("/primary")]
        if used and first:
            yield Says(
                items=(first[0], key),
                at=boat.at(first[0], "poles"),
                what=f"{boat.vessel.name_of(first[0])} opens the line of {boat.vessel.name_of(key)} and not its "
                "neutral",
                source=asked.source,
            )
        else:
            yield Sound(key)


def users(boat: Boat, terminals: Iterable[int]) -> tuple[str, ...]:
    """The places among terminals at which power is used: loads, chargers, inverter-chargers, transformers."""
    found: dict[str, None] = {}
    for number in sorted(terminals):
        place = boat.network.terminals[number].place
        head, _, side = place.partition("/")
        device = boat.vessel.devices.get(head)
        if (
            head in boat.vessel.loads
            or (isinstance(device, Charger) and side == "ac")
            or (isinstance(device, InverterCharger) and side == "ac-in")
            or (isinstance(device, IsolationTransformer) and side == "primary")
        ):
            found[place] = None
    return tuple(found)
