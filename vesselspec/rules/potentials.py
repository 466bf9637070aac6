"""What can become live: potentials on terminals that are not meant for them, and sources that meet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from vesselspec.model.devices import Charger, Inverter, InverterCharger, ShoreInlet
from vesselspec.network.graph import LINES, Emission, Link, Network, Unlanded
from vesselspec.network.mismatch import (
    AC_ON_DC,
    DC_ON_AC,
    DC_REVERSED,
    LINE_ON_EARTH,
    LINE_ON_NEUTRAL,
    LINES_SWAPPED,
    POSITIVE_ON_EARTH,
    VOLTAGE_MIXED,
    Mismatch,
)
from vesselspec.network.reach import Arrival, Needs, Reach, Witness, agree, reach
from vesselspec.network.zones import zones_of
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Open, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, DANGER, WARNING, At

_MOST_NAMED = 6


def _list(words: tuple[str, ...] | list[str]) -> str:
    shown = list(words[:_MOST_NAMED])
    if len(words) > _MOST_NAMED:
        shown.append(f"{len(words) - _MOST_NAMED} more")
    return ", ".join(shown)


#: The poles that each kind of mismatch is about.
_POLES = {
    AC_ON_DC: ("DC+", "DC-"),
    DC_ON_AC: (*LINES, "N"),
    LINE_ON_NEUTRAL: ("N",),
    LINE_ON_EARTH: ("PE",),
    LINES_SWAPPED: LINES,
    VOLTAGE_MIXED: (*LINES, "DC+"),
    DC_REVERSED: ("DC-",),
    POSITIVE_ON_EARTH: ("PE",),
}

#: What is missing of a cable of which no core is recorded: no rule looks into it.
NO_CORES = "its cores, or its type"
#: The rules that follow every core to where it lands: an end that nobody traced leaves them open.
FOLLOW_CORES = (
    "ac-on-dc-terminal",
    "dc-on-ac-terminal",
    "line-on-neutral",
    "line-on-earth",
    "lines-swapped",
    "voltage-mixed",
    "dc-polarity-reversed",
    "positive-on-earth",
)


def _astray(boat: Boat, kind: str, *, says: str) -> Iterator[Says | Sound | Open]:
    for found in boat.mismatches:
        if found.kind == kind and not _told_elsewhere(boat, found):
            yield _told(boat, found, says)
    yield from _free_of(boat, kind)


def _free_of(boat: Boat, kind: str) -> Iterator[Sound | Open]:
    """The places that a kind of mismatch is about and does not reach; open where a cable ends nobody knows where."""
    network = boat.network
    wrong = boat.strays.get(kind, frozenset())
    wrong |= {network.terminals[m.witness.steps[-1].end].place for m in boat.mismatches if m.kind == kind}
    poles = frozenset(_POLES[kind])
    for place, held in boat.poles_at.items():
        if place not in wrong and not held.isdisjoint(poles):
            yield Open(place) if place in boat.unsearched else Sound(place)


def _unseen(boat: Boat) -> Iterator[Lacks]:
    """Cables of which no core is recorded, and what has no system and so no terminal: nothing is followed there."""
    for key in boat.coreless:
        yield Lacks(item=key, at=At("cables", key), missing=NO_CORES)
    for key, missing in boat.systemless.items():
        yield from (Lacks(item=key, at=boat.at(key), missing=each) for each in missing)


def _ends_among(boat: Boat, *, ac: bool) -> Iterator[Says]:
    """A cable whose end is recorded at a place that has no terminal of its kind, only of the other."""
    found: dict[tuple[str, str], list[Unlanded]] = {}
    for each in boat.network.unlanded:
        if each.clash and (each.pole not in ("DC+", "DC-")) == ac:
            found.setdefault((each.cable, each.clash), []).append(each)
    for (cable, place), cores in found.items():
        poles = ", ".join(dict.fromkeys(each.pole for each in cores))
        names = " and ".join(dict.fromkeys(each.core for each in cores))
        mine, theirs = ("AC", "DC") if ac else ("DC", "AC")
        other = boat.vessel.cables[cable].from_ if cores[0].end == "to" else boat.vessel.cables[cable].to
        yield Says(
            items=(cable, place),
            at=At("cables", cable, (cores[0].end,)),
            what=f"the {mine} cable {cable} ({poles}, {'core' if len(cores) == 1 else 'cores'} {names}) ends at "
            f"{boat.vessel.name_of(place)}, which has {theirs} terminals only; which of them it lands on is unrecorded",
            witness=(
                f"cable {cable} starts at {boat.vessel.name_of(other)}",
                f"cable {cable}, {poles}, ends among the {theirs} terminals of {boat.vessel.name_of(place)}",
            ),
            arguments=tuple(each.core for each in cores),
        )


def _told_elsewhere(boat: Boat, found: Mismatch) -> bool:
    """One cable with AC at one end and DC at the other is one mistake, told as AC on DC."""
    return found.kind == DC_ON_AC and any(
        other.kind == AC_ON_DC and other.item == found.item for other in boat.mismatches
    )


def _told(boat: Boat, found: Mismatch, says: str) -> Says:
    network = boat.network
    is_cable = found.item in boat.vessel.cables
    step = found.witness.steps[-1]
    start, end = network.terminals[step.start], network.terminals[step.end]
    what = says.format(
        pole=found.witness.emission.pole,
        sources=_list([boat.vessel.name_of(source) for source in found.sources]),
        start=start.name,
        end=end.name,
        item=(
            f"cable {found.item}, {'core' if len(found.cores) == 1 else 'cores'} {' and '.join(found.cores)}"
            if is_cable
            else boat.vessel.name_of(found.item)
        ),
    )
    at = boat.core_at(found.item, *found.cores) if is_cable else boat.at(found.item)
    reached = [boat.vessel.name_of(place) for place in found.reached]
    consequences = (f"it then reaches {_list(reached)}",) if reached else ()
    return Says(
        items=(found.item,),
        at=at,
        what=what,
        witness=boat.told(found.witness),
        positions=boat.positions(found.witness.needs),
        consequences=consequences,
        arguments=found.cores,
    )


@rule(
    "ac-on-dc-terminal",
    DANGER,
    title="AC can reach a DC terminal",
    why="A DC terminal carries mains voltage: whoever touches the battery side, which everybody takes for "
    "harmless, can be killed, and what is connected to it burns.",
    remedy="Make every source dead and prove it, move the cable to the AC terminals of the device, and mark AC and "
    "DC cables of like colours at both ends.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; switches, selectors and interlocks as they are on board",
)
def ac_on_dc(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """AC landed on DC terminals, such as a charger's battery side. What no rule can follow is said once, here."""
    yield from _unseen(boat)
    yield from _astray(boat, AC_ON_DC, says="AC {pole} from {sources} comes to the DC terminal {end} by {item}")
    yield from _ends_among(boat, ac=True)


@rule(
    "dc-on-ac-terminal",
    DANGER,
    title="DC can reach an AC terminal",
    why="AC devices, breakers and residual-current protection do not work on DC; a cable between an AC and a DC "
    "terminal will carry AC to the battery side as soon as the other end is energised.",
    remedy="Make every source dead and prove it, then find where the cable belongs and land both ends there.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; switches, selectors and interlocks as they are on board",
)
def dc_on_ac(boat: Boat) -> Iterator[Says | Sound | Open]:
    """DC landed on AC terminals."""
    yield from _astray(boat, DC_ON_AC, says="{pole} from {sources} comes to the AC terminal {end} by {item}")
    yield from _ends_among(boat, ac=False)


@rule(
    "line-on-neutral",
    DANGER,
    title="Line can reach a neutral terminal: reversed polarity",
    why="With line and neutral reversed a switched-off device stays live, and one further fault puts mains voltage "
    "on metal that people touch.",
    remedy="Make every source dead and prove it, exchange the conductors at the end that is wrong, then check "
    "polarity at the load.",
    source="ABYC E-11 reverse-polarity rule (quoted publicly); " + COMMON_PRACTICE,
    needs="where every core lands at both ends; switches, selectors and interlocks as they are on board",
)
def line_on_neutral(boat: Boat) -> Iterator[Says | Sound | Open]:
    """Line and neutral exchanged, or joined."""
    yield from _astray(boat, LINE_ON_NEUTRAL, says="{pole} from {sources} comes to the neutral {end} by {item}")


@rule(
    "line-on-earth",
    DANGER,
    title="Line can reach a protective earth terminal",
    why="Every metal case, engine and under-water fitting on that earth becomes live.",
    remedy="Make every source dead and prove it, and land the conductor where its colour belongs.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; switches, selectors and interlocks as they are on board",
)
def line_on_earth(boat: Boat) -> Iterator[Says | Sound | Open]:
    """A line conductor on the earthing system."""
    yield from _astray(boat, LINE_ON_EARTH, says="{pole} from {sources} comes to the earth {end} by {item}")


@rule(
    "lines-swapped",
    CAUTION,
    title="A line arrives on another line's terminal",
    why="The panel's leg marking and the load balance no longer tell the truth, and a motor may turn the other way.",
    remedy="Exchange the lines at the end that is wrong, or correct the record.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; the poles of panels and devices",
)
def lines_swapped(boat: Boat) -> Iterator[Says | Sound | Open]:
    """L1 on an L2 terminal and the like."""
    yield from _astray(boat, LINES_SWAPPED, says="{pole} from {sources} comes to {end} by {item}")


@rule(
    "voltage-mixed",
    WARNING,
    title="A terminal can receive another system's voltage",
    why="A device made for the lower voltage can burn or burst when the higher one arrives.",
    remedy="Find out which end is wrong; connect the device to the system of its own voltage.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; the system of every panel and device, with its voltage",
)
def voltage_mixed(boat: Boat) -> Iterator[Says | Sound | Open]:
    """Say 24 V on a 12 V terminal."""
    for found in boat.mismatches:
        if found.kind == VOLTAGE_MIXED:
            step = found.witness.steps[-1]
            system = boat.network.terminals[step.end].system or ""
            meant = boat.vessel.systems[system].voltage.text
            volts = found.witness.emission.volts
            alike = {e.source for e in boat.network.emissions if e.volts == volts}
            yield _told(
                boat,
                replace(found, sources=tuple(source for source in found.sources if source in alike)),
                f"{volts:g} V ({{pole}}) from {{sources}} comes to {{end}}, "
                f"which belongs to the {meant} system, by {{item}}",
            )
    yield from _free_of(boat, VOLTAGE_MIXED)


@rule(
    "dc-polarity-reversed",
    WARNING,
    title="Positive can reach a negative terminal",
    why="A bolted fault on a battery feeds thousands of amperes; equipment connected in reverse is destroyed and "
    "may burn.",
    remedy="Disconnect the battery, exchange the conductors at the end that is wrong, and measure before "
    "connecting again.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; the poles of panels and devices",
)
def dc_reversed(boat: Boat) -> Iterator[Says | Sound | Open]:
    """DC positive and negative exchanged or joined."""
    yield from _astray(boat, DC_REVERSED, says="{pole} from {sources} comes to the negative {end} by {item}")


@rule(
    "positive-on-earth",
    WARNING,
    title="Positive can reach the earthing or bonding system",
    why="The bonding system becomes a conductor of battery current: it heats, and metal under water corrodes fast.",
    remedy="Take the conductor off the earth terminal and land it where it belongs.",
    source=COMMON_PRACTICE,
    needs="where every core lands at both ends; the poles of panels and devices",
)
def positive_on_earth(boat: Boat) -> Iterator[Says | Sound | Open]:
    """DC positive landed on a bonding or earth terminal."""
    yield from _astray(boat, POSITIVE_ON_EARTH, says="{pole} from {sources} comes to the earth {end} by {item}")


# --- sources that meet -------------------------------------------------------------------------


@dataclass(frozen=True)
class Meeting:
    """One source's potential at the terminal of another that is not in step with it, and what that needs."""

    emission: Emission
    arrival: Arrival
    needs: Needs


#: Two groups of sources, in order.
Pair = tuple[str, str]


def meetings(reached: Reach) -> dict[Pair, list[Meeting]]:
    """Pairs of sources not in step of which one can reach the other's own terminal, and every way of meeting."""
    met: dict[Pair, list[Meeting]] = {}
    for emission in reached.network.emissions:
        if emission.pole not in LINES or agree((), emission.guards) is None:
            continue
        for arrival in reached.at(emission.terminal):
            other = arrival.emission
            if other.pole not in LINES or other.group == emission.group or other.source == emission.source:
                continue
            needs = agree(arrival.needs, emission.guards)
            if needs is not None:
                pair = (min(other.group, emission.group), max(other.group, emission.group))
                met.setdefault(pair, []).append(Meeting(emission, arrival, needs))
    return met


Joints = dict[str, list[tuple[Pair, Witness, Needs]]]


def joints(boat: Boat) -> Joints:
    """For each item that joins sources not in step: the pairs, the way between them, and what that needs.

    What no longer meets once a cable is taken out is told of that cable: one cause is one finding.
    """
    found: Joints = {}
    for pair, (first, *_) in meetings(boat.reach).items():
        way = boat.reach.witness(first.arrival, first.emission.terminal)
        found.setdefault(_joins(boat, way), []).append((pair, way, first.needs))
    for joint in [key for key in found if key in boat.vessel.cables] if len(found) > 1 else ():
        left = meetings(without(boat.network, frozenset((joint,)))).keys() if joint in found else set[Pair]()
        gone = [key for key, pairs in found.items() if key != joint and left.isdisjoint(pair for pair, *_ in pairs)]
        for key in gone if joint in found else ():
            found[joint] += found.pop(key)
    return found


def without(network: Network, items: frozenset[str]) -> Reach:
    """What can reach what with those items taken out, or their contacts open."""
    never = (("", frozenset[str]()),)
    links = tuple(replace(link, guards=never) if link.item in items else link for link in network.links)
    return reach(zones_of(replace(network, links=links)))


def _between_mains(boat: Boat, way: Witness) -> str:
    """The section that a way enters by one main and leaves by another: what is missing there holds them apart."""
    links = [boat.network.links[step.link] for step in way.steps if step.link >= 0]
    contacts = [link.item for link in links if link.kind == "contact" and link.item in boat.vessel.ways]
    for one, two in pairwise(contacts):
        section = one.rpartition("/")[0]
        mains = all(boat.vessel.ways[each][2].duty == "main" for each in (one, two))
        if one != two and mains and section == two.rpartition("/")[0]:
            return section
    return ""


def _joins(boat: Boat, way: Witness) -> str:
    """The item on the way between two sources that joins what belongs to one with what belongs to the other.

    It is the bar that has them both by their mains; else the one without which each source still feeds the most loads
    by itself: a bridge between two sections rather than one of the source's own feeders. Where neither feeds any: what
    the way enters at one input and leaves at another, else a cable between two sections that feeds neither by its
    main, else the bar they meet on.
    """
    network = boat.network
    if not way.steps:
        return way.emission.source
    if section := _between_mains(boat, way):
        return section
    best, most = "", 0
    for step in way.steps:
        link = network.links[step.link]
        if step.link >= 0 and link.kind == "core" and link.item != best:
            sides = [_loads_from(boat, way, end, link.item) for end in (way.start, way.steps[-1].end)]
            if min(sides) > most:
                best, most = link.item, min(sides)
    links = [network.links[step.link] for step in way.steps if step.link >= 0]
    guarded = [link.item for link in links if link.guards]
    cores = [link for link in links if link.kind == "core"]
    likely = (
        best,
        *(item for item in guarded if guarded.count(item) > 1),
        *(link.item for link in cores if _bridges(boat, link)),
        *(place for step in way.steps if (place := network.terminals[step.end].place) in boat.vessel.sections),
        *(link.item for link in cores),
        way.emission.source,
    )
    return next(item for item in likely if item)


def _bridges(boat: Boat, link: Link) -> bool:
    """Whether a core joins two sections and is the main feed of neither."""
    places = [boat.network.terminals[number].place for number in (link.a, link.b)]
    if any(place in boat.vessel.ways and boat.vessel.ways[place][2].duty == "main" for place in places):
        return False
    sections = {"/".join(place.split("/")[:2]) for place in places}
    return len(sections & boat.vessel.sections.keys()) > 1


def _loads_from(boat: Boat, way: Witness, start: int, without: str) -> int:
    """How many loads a terminal is connected to in the witness's positions, without one item."""
    network = boat.network
    needs = dict(way.needs)
    seen = {start}
    queue = [start]
    while queue:
        here = queue.pop()
        for number in network.at[here]:
            link = network.links[number]
            if link.item != without and all(needs.get(choice, frozenset()) & states for choice, states in link.guards):
                there = link.other(here)
                if there not in seen:
                    seen.add(there)
                    queue.append(there)
    return len({network.terminals[n].place for n in seen} & boat.vessel.loads.keys())


@rule(
    "unsynchronised-sources-joined",
    DANGER,
    title="Two sources that do not run in step can be joined",
    why="Sources out of step that meet drive very large currents through wiring and windings: fire, destroyed "
    "machines, and voltage where a switched-off supply was trusted.",
    remedy="Take the joining connection out, or put a selector or interlock in that opens every line and the "
    "neutral of one source before it closes the other.",
    source="46 CFR 183.390 (shore and on-board sources interlocked against each other)",
    needs="every source, selector and interlock; which inverters run in step; where every core lands",
)
def sources_joined(boat: Boat) -> Iterator[Says | Sound]:
    """Shore, generators and inverters that a permitted set of positions ties together."""
    own = {e.source: e.group for e in boat.network.emissions if e.pole in LINES}
    if len(set(own.values())) > 1:  # one source alone has nothing to meet
        yield from map(Sound, own)
    from vesselspec.rules.bonds import joined_with_lines  # noqa: PLC0415 - it builds on this file

    for joint, pairs in kept(boat, "_joints", joints).items():
        groups = {group for pair, _, _ in pairs for group in pair}
        sources = sorted({e.source for e in boat.network.emissions if e.group in groups and e.pole in LINES})
        _, way, needs = min(pairs, key=lambda each: (len(each[2]), len(each[1].steps), each[0]))
        last = boat.network.terminals[way.steps[-1].end if way.steps else way.start]
        yield Says(
            items=(joint, *(source for source in sources if source != joint)),
            at=boat.at(joint),
            what=f"{_list([boat.vessel.name_of(s) for s in sources])} can be joined through "
            + (f"cable {joint}" if joint in boat.vessel.cables else boat.vessel.name_of(joint)),
            witness=(*boat.told(way), f"where {last.name} is fed by {last.place.split('/')[0]} itself"),
            positions=boat.positions(needs),
            consequences=joined_with_lines(boat, {pair for pair, *_ in pairs}),
        )


@rule(
    "inlet-pins-live",
    DANGER,
    title="The pins of a shore inlet can be live from on board",
    why="Whoever unplugs the cord holds bare pins at mains voltage, and a cord that is plugged in ashore feeds back "
    "into the dock.",
    remedy="Find the connection that by-passes the source selection and take it out; prove the pins dead with every "
    "on-board source running.",
    source="46 CFR 183.390 (shore and on-board sources interlocked against each other)",
    needs="every inlet, source, selector and interlock; where every core lands",
)
def inlet_pins_live(boat: Boat) -> Iterator[Says | Sound]:
    """A generator, inverter or another inlet that reaches an inlet's pins."""
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, ShoreInlet):
            continue
        yield Sound(key)
        found: dict[str, tuple[Arrival, int]] = {}
        for pole in LINES:
            pin = boat.network.index.get((key, pole))
            if pin is None:
                continue
            for arrival in boat.reach.at(pin):
                source = arrival.emission.source
                if arrival.emission.pole in LINES and source != key:
                    found.setdefault(source, (arrival, pin))
        if found:
            arrival, pin = min(found.values(), key=lambda each: len(each[0].needs))
            way = boat.reach.witness(arrival, pin)
            yield Says(
                items=(key,),
                at=boat.at(key),
                what=f"the pins of {boat.vessel.name_of(key)} can be live from "
                + _list([boat.vessel.name_of(source) for source in found]),
                witness=boat.told(way),
                positions=boat.positions(way.needs),
                arguments=tuple(sorted(found)),
            )


# --- loops -------------------------------------------------------------------------------------


@rule(
    "charger-on-own-batteries",
    WARNING,
    title="A charger can be fed by an inverter that draws on the batteries it charges",
    why="The bank charges itself at a loss: it runs flat while every meter shows charging, and it may be the bank "
    "that starts an engine or keeps a pump going.",
    remedy="Move the charger to a section that only shore or a generator feeds.",
    source=COMMON_PRACTICE,
    needs="chargers, inverters and banks with the cables between them",
)
def charger_loop(boat: Boat) -> Iterator[Says | Sound]:
    """Charger, battery, inverter and back."""
    for key, device in boat.vessel.devices.items():
        if isinstance(device, Charger):
            supply, outputs = f"{key}/ac", [f"{key}/{name}" for name in device.outputs]
        elif isinstance(device, InverterCharger):
            supply, outputs = f"{key}/ac-in", [f"{key}/dc"]
        else:
            continue
        yield Sound(key)
        seen: set[str] = set()
        for pole in LINES:
            terminal = boat.network.index.get((supply, pole))
            for arrival in boat.reach.at(terminal) if terminal is not None else ():
                source = arrival.emission.source
                inverter = boat.vessel.devices.get(source)
                if (
                    arrival.emission.pole not in LINES
                    or source in seen
                    or not isinstance(inverter, Inverter | InverterCharger)
                    or terminal is None
                ):
                    continue
                back = next((bank for out in outputs if (bank := _same_bank(boat, out, source, arrival.needs))), None)
                if source == key or back is not None:
                    seen.add(source)
                    way = boat.reach.witness(arrival, terminal)
                    yield Says(
                        items=(key, source) if source != key else (key,),
                        at=boat.at(key),
                        what=f"the output of {boat.vessel.name_of(key)} can come back to its own input"
                        if source == key
                        else f"{boat.vessel.name_of(key)} can be fed by {boat.vessel.name_of(source)}, "
                        f"which draws on the battery that it charges ({back})",
                        witness=boat.told(way),
                        positions=boat.positions(way.needs),
                    )


def _same_bank(boat: Boat, output: str, inverter: str, needs: Needs) -> str | None:
    """A bank that both a charger's output and an inverter's DC side can be connected to at the same time."""
    out = boat.network.index.get((output, "DC+"))
    side = boat.network.index.get((f"{inverter}/dc", "DC+"))
    if out is None or side is None:
        return None
    for one in boat.reach.at(out):
        if one.emission.supply != "battery" or one.emission.pole != "DC+":
            continue
        together = agree(needs, one.needs)
        for two in boat.reach.at(side):
            if two.emission == one.emission and together is not None and agree(together, two.needs) is not None:
                return one.emission.source
    return None


@rule(
    "search-incomplete",
    WARNING,
    title="The search over switch positions was cut short",
    why="What was not searched was not found either: a place may be live that this survey does not name.",
    remedy="Simplify the source selection in the record, and judge the named places by hand.",
    source="this program",
    needs="nothing more than the entries themselves",
)
def search_incomplete(boat: Boat) -> Iterator[Says | Sound]:
    """More independent ways than the search keeps."""
    found: dict[str, list[str]] = {}
    beyond = _feeds_incomplete(boat)
    if not boat.reach.incomplete and not beyond:
        yield from map(Sound, boat.network.choices)
    for zone in sorted(boat.reach.incomplete):
        terminal = boat.network.terminals[boat.reach.zones.members[zone][0]]
        found.setdefault(terminal.place, []).append(terminal.name)
    for place, names in found.items():
        here = beyond.pop(boat.network.terminals[boat.network.places[place][0]].system, [])
        yield Says(
            items=(place,),
            at=boat.at(place),
            what=f"too many combinations of positions lead to {_list(names)}; not all were searched",
            consequences=(f"nor all overcurrent devices that may stand before {_places(here)}",) if here else (),
        )
    for first, *others in beyond.values():
        yield Says(
            items=(first,),
            at=boat.at(first),
            what=f"too many ways through overcurrent devices lead to {_places([first, *others])}; not all were "
            "searched, and a conductor there may have another device, or none, before it",
            arguments=("protection",),
            consequences=tuple(others),
        )


def _places(places: list[str]) -> str:
    return f"{places[0]} and {len(places) - 1} more places" if places[1:] else places[0]


def _feeds_incomplete(boat: Boat) -> dict[str | None, list[str]]:
    """The places, by system, to which more ways through overcurrent devices and contacts lead than are kept."""
    found: dict[str | None, dict[str, None]] = {}
    for number, segment in enumerate(boat.feeds.segment):
        if segment in boat.feeds.incomplete:
            terminal = boat.network.terminals[number]
            found.setdefault(terminal.system, {})[terminal.place] = None
    return {system: list(places) for system, places in found.items()}
