"""Faults against what has to stop them: interrupting ratings, opening in time, conductors, which opens first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from vesselspec.model.devices import ShoreInlet
from vesselspec.model.items import System
from vesselspec.model.vessel import natural
from vesselspec.physics.faults.sources import can_be_recorded
from vesselspec.physics.faults.tables import asked_by_service, asked_by_table
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import Lacks, Open, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING
from vesselspec.rules.protection import guarded_cores
from vesselspec.units import show

if TYPE_CHECKING:
    from vesselspec.physics.faults.devices import Device, DeviceChecks, EarthFault, Series, Stood, Through
    from vesselspec.physics.faults.tables import Asked

#: The rules of this file, in the order of the book.
FAULT_RULES = (
    "interrupting-rating-below-fault",
    "device-opens-too-late",
    "conductor-not-thermally-protected",
    "no-selectivity",
)
_LISTED = 12  # more ways than these are counted, not listed


def _amps(value: float) -> str:
    return show("current", value)


def _recordable(boat: Boat, missing: Iterable[tuple[str, str]], stops: tuple[str, ...] = ()) -> Iterator[Lacks]:
    for item, word in missing:
        if can_be_recorded(boat.vessel.device(item), word):
            yield Lacks(item=item, at=boat.at(item), missing=word, stops=stops)


def _of_ways(boat: Boat, devices: Iterable[str], what: str) -> Iterator[Lacks]:
    """One line for a section and all of its ways that lack the same thing."""
    sections: dict[str, list[str]] = defaultdict(list)
    for device in devices:
        section, _, way = device.rpartition("/")
        if device in boat.vessel.ways:
            sections[section].append(way)
        else:
            yield Lacks(item=device, at=boat.at(device), missing=f"its {what}")
    for section, ways in sections.items():
        ranked = sorted(ways, key=natural)
        listed = f"{'ways' if ways[1:] else 'way'} {', '.join(ranked)}"
        if len(ways) > _LISTED:
            listed = f"{len(ways)} ways, such as {', '.join(ranked[:3])}"
        held = tuple(f"{section}/{way}" for way in ranked)
        yield Lacks(item=section, at=boat.at(section), missing=f"the {what} of {listed}", stops=held)


# --- one cause, one finding --------------------------------------------------------------------------


def _home(boat: Boat, device: str) -> str:
    """Where a device is fed from: the section of its panel, or the place that it is mounted on; else itself."""
    if device in boat.vessel.ways:
        return device.rpartition("/")[0]
    mounted = getattr(boat.vessel.devices.get(device), "mounted_on", None)
    return mounted.rpartition(":")[0] if mounted else device


def _kind(boat: Boat, device: str) -> tuple[str, ...]:
    """What makes devices of one place alike: rating and curve or family."""
    each = next((checks.devices[device] for checks in boat.fault_checks if device in checks.devices), None)
    if each is None:
        return ()
    rating = "" if each.rating_a is None else _amps(each.rating_a)
    return rating, each.curve or each.family or ""


def _together(boat: Boat, told: Iterable[Says]) -> Iterator[Says]:
    """Statements of one group and the same arguments as one: the first, with the items of all; tell the worst first."""
    groups: dict[tuple[tuple[str, ...], tuple[str, ...]], list[Says]] = defaultdict(list)
    for says in told:
        groups[says.group, says.arguments].append(says)
    for (group, _), alike in groups.items():
        worst, *others = alike
        if not others:
            yield worst
            continue
        more = sorted({each.items[0] for each in others} - set(worst.culprits), key=natural)
        section = f"{group[0]}/"
        names = ", ".join(item.removeprefix(section) for item in more)
        if all(item.startswith(section) for item in more):
            ways = "ways" if more[1:] else "way"
            names = f"{len(more)} more {ways} of {boat.vessel.name_of(group[0])}: {names}"
        yield replace(
            worst,
            items=tuple(dict.fromkeys([*worst.items, *more, *(item for each in others for item in each.items)])),
            culprits=(*worst.culprits, *more),
            what=f"{worst.what}; likewise {names}",
        )


# --- interrupting rating ---------------------------------------------------------------------------


@rule(
    "interrupting-rating-below-fault",
    WARNING,
    title="A device cannot break the fault that can flow through it",
    why="A breaker or fuse that is asked to break more than it can may burst, weld or burn on, and the fault goes on.",
    remedy="Fit a device that breaks the fault level, or one upstream that is listed to protect it.",
    source="46 CFR 111.54-1(a)(3)",
    needs="the interrupting rating of every device; what each source gives into a fault; size and length of cables",
)
def interrupting_below_fault(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Interrupting rating against the largest fault through the device in any condition, and against ABYC's tables."""
    greatest: dict[str, list[Through]] = defaultdict(list)
    unrated: dict[str, None] = {}
    rated: dict[str, tuple[float, str, bool]] = {}
    by_condition = {checks.levels.condition: checks for checks in boat.fault_checks}
    for checks in by_condition.values():
        for key in checks.live():
            breaks = checks.devices[key].breaks(dc=_is_dc(checks, key))
            if breaks is None or breaks[2]:
                unrated[key] = None
            else:
                rated[key] = breaks
        for each in checks.through(only=rated):
            greatest[each.device].append(each)
    weak: list[tuple[float, Says]] = []
    for key, through in greatest.items():
        device = by_condition[through[0].condition].devices[key]
        rating, by, _ = rated[key]
        asked = _asked(boat, key, device, rating)
        worst = max(through, key=lambda each: each.low_a)
        uneven = max(through, key=lambda each: each.low_a * each.asymmetry)
        open_still = [each for each in through if each.high_a * each.asymmetry > rating * (1 + 1e-9)]
        if worst.low_a > rating * (1 + 1e-9):
            says = _bursts(boat, by_condition[worst.condition], worst, rating, by, signal_word=WARNING)
            weak.append((worst.low_a, says))
        elif uneven.low_a * uneven.asymmetry > rating * (1 + 1e-9):
            says = _bursts(boat, by_condition[uneven.condition], uneven, rating, by, signal_word=CAUTION)
            weak.append((uneven.low_a * uneven.asymmetry, says))
        elif asked is not None and not (asked.from_memory and not open_still):
            weak.append((asked.amps, _below_table(boat, key, rating, asked, known=not open_still)))
        else:
            yield Open(key) if open_still else Sound(key)
            for each in open_still:
                missing = by_condition[each.condition].levels.missing(each.place, each.pair)
                yield from _recordable(boat, missing, stops=(key,))
    yield from _together(boat, _worst_first(weak))
    yield from _of_ways(boat, unrated, "interrupting rating")


def _worst_first(weak: list[tuple[float, Says]]) -> Iterator[Says]:
    """The statements with the greatest figure first, and ways in their order where it is the same."""
    return (says for _, says in sorted(weak, key=lambda each: (-round(each[0], 6), natural(each[1].items[0]))))


def _is_dc(checks: DeviceChecks, device: str) -> bool:
    terminals = checks.levels.study.network.terminals
    return any(terminals[link.a].pole == "DC+" for link in checks.sides.links[device])


def _bursts(boat: Boat, checks: DeviceChecks, worst: Through, rating: float, by: str, *, signal_word: str) -> Says:
    symmetrical = signal_word == WARNING
    amps = worst.low_a if symmetrical else worst.low_a * worst.asymmetry
    at_least = "" if worst.high_a <= worst.low_a * (1 + 1e-6) else "at least "
    uneven = "" if symmetrical else f" in its first half cycle, of which {_amps(worst.low_a)} is symmetrical"
    level = checks.levels.level(worst.place, worst.pair)
    rated = _amps(rating) + ("" if by == "as recorded" else f" ({by})")
    return Says(
        items=(worst.device,),
        at=boat.at(worst.device, "interrupting"),
        what=f"{boat.vessel.name_of(worst.device)} can break {rated}; in {worst.condition} a fault between "
        f"{worst.pair[0]} and {worst.pair[1]} behind it drives {at_least}{_amps(amps)} through it{uneven}",
        signal_word=signal_word,
        consequences=level.derivation if level is not None else (),
        group=(_home(boat, worst.device),),
        culprits=(worst.device,),
        arguments=(_amps(rating), "fault" if symmetrical else "first half cycle"),
        measure=amps / max(rating, 1e-9),
    )


def _below_table(boat: Boat, key: str, rating: float, asked: Asked, *, known: bool) -> Says:
    """Less than a published table asks for: where the fault is known and lower, a matter of practice only."""
    return Says(
        items=(key,),
        at=boat.at(key, "interrupting"),
        what=f"{boat.vessel.name_of(key)} can break {_amps(rating)}; the table for {asked.where} asks for "
        f"{_amps(asked.amps)}" + (", though the fault that can flow through it is lower" if known else ""),
        source=asked.source,
        signal_word=NOTICE if known or asked.from_memory else WARNING,
        consequences=asked.derivation,
        group=(_home(boat, key),),
        culprits=(key,),
        arguments=(_amps(rating), "table", _amps(asked.amps)),
        measure=asked.amps / max(rating, 1e-9),
    )


def _asked(boat: Boat, key: str, device: Device, rating: float) -> Asked | None:
    """The most that a published table asks of a device in any condition beyond what it breaks; a read figure first."""
    if boat.vessel.about.practice != "north-american":
        return None
    found = [each for checks in boat.fault_checks for each in _tables(boat, key, device, checks)]
    over = [each for each in found if each.amps > rating * (1 + 1e-9)]
    return max(over, key=lambda each: (not each.from_memory, each.amps), default=None)


def _tables(boat: Boat, key: str, device: Device, checks: DeviceChecks) -> Iterator[Asked]:
    """What the tables ask of a device in one condition: by its batteries together, and by each shore service."""
    mine = [chain for chain in checks.chains if key in chain.above]
    banks = frozenset(chain.feed.source for chain in mine if chain.feed.dc)
    systems = [boat.vessel.systems.get(_system_of(boat, bank) or "") for bank in banks]
    volts = {system.voltage.line_v for system in systems if isinstance(system, System)}
    breaker = device.kind == "breaker"
    if len(volts) == 1:
        first = any(chain.above[key] is None for chain in mine if chain.feed.dc)
        asked = asked_by_table(boat.vessel, banks, first=first, breaker=breaker, volts=next(iter(volts)))
        if asked is not None:
            yield asked
    for chain in mine if breaker else ():
        inlet = boat.vessel.devices.get(chain.feed.source)
        if isinstance(inlet, ShoreInlet) and inlet.rating_a is not None:
            system = boat.vessel.systems.get(inlet.system or "")
            asked = asked_by_service(system, inlet.rating_a, first=chain.above[key] is None) if system else None
            if asked is not None:
                yield asked


def _system_of(boat: Boat, source: str) -> str | None:
    return next((each.system for each in boat.network.emissions if each.source == source), None)


# --- opening in time ---------------------------------------------------------------------------------


@rule(
    "device-opens-too-late",
    WARNING,
    title="A fault to earth is not switched off in time",
    why="Until the device opens, the case of the faulty appliance is live and whoever touches it can be killed.",
    remedy="Fit a residual-current device, a device that opens at a smaller current, or larger conductors, earth too.",
    source="IEC 60364-4-41:2005 Table 41.1",
    needs="trip curve and rating of every device, residual-current devices; what each source gives into a "
    "fault; size and length of cables",
)
def opens_too_late(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """The smallest fault to earth behind every device against the time in which it opens at that current."""
    late: dict[str, list[EarthFault]] = defaultdict(list)
    unsure: dict[str, list[EarthFault]] = defaultdict(list)
    lacking: dict[tuple[str, str], dict[str, None]] = defaultdict(dict)
    curves: dict[str, None] = {}
    international = boat.vessel.about.practice == "international"
    looked_at: set[str] = set()
    for checks in boat.fault_checks:
        for each in checks.earth_faults(decidable=not international):
            judged = _could_be_sure(checks, each) or not checks.devices[each.device].rating_a
            yield Sound(each.device) if each.verdict == "certain" else Open(each.device)
            looked_at.add(each.device)
            if each.verdict == "not":
                late[each.device].append(each)
            elif each.verdict == "undecided" and each.missing:
                for item, word in each.missing:
                    if word == "its trip curve":
                        if international:
                            curves[item] = None
                    elif judged or word == "its residual delay":
                        lacking[item, word][each.device] = None
            elif each.verdict == "undecided" and each.amps is not None and _could_be_sure(checks, each):
                unsure[each.device].append(each)
    told = [(_least(found), _late(boat, device, found, signal_word=WARNING)) for device, found in late.items()]
    told += [
        (_least(found), _late(boat, device, found, signal_word=CAUTION))
        for device, found in unsure.items()
        if device not in late
    ]
    yield from _together(boat, _worst_first([(-amps, says) for amps, says in told]))
    for lack, devices in lacking.items():
        yield from _recordable(boat, [lack], stops=tuple(devices))
    yield from _of_ways(boat, curves, "trip curve")
    for checks in boat.fault_checks:  # nothing is published that could decide about the others
        last = {each for chain in checks.chains if not chain.feed.dc for each in chain.last.values() if each}
        yield from map(Open, sorted(last - looked_at))


def _could_be_sure(checks: DeviceChecks, fault: EarthFault) -> bool:
    """Whether a larger fault would be switched off in time for sure: only such a device can be found wanting."""
    return any(
        not limit.from_memory and limit.seconds <= fault.deadline.seconds for limit in checks.bands[fault.device].opens
    )


def _least(found: list[EarthFault]) -> float:
    return min(each.amps or 0.0 for each in found)


def _late(boat: Boat, device: str, found: list[EarthFault], *, signal_word: str) -> Says:
    worst = min(found, key=lambda each: (each.amps if each.amps is not None else 0.0, each.place, each.condition))
    amps = "the fault" if worst.amps is None else _amps(worst.amps)
    others = len({each.place for each in found}) - 1
    more = f", and {others} more place{'s' if others > 1 else ''} behind it" if others else ""
    return Says(
        items=(device,),
        at=boat.at(device),
        what=f"{boat.vessel.name_of(device)}: in {worst.condition} a fault between {worst.pair[0]} and earth at "
        f"{boat.vessel.name_of(worst.place)} draws {amps} from {boat.vessel.name_of(worst.source)}; {worst.why}, and "
        f"{worst.deadline.seconds:g} s is allowed{more}",
        source=worst.deadline.source,
        signal_word=signal_word,
        group=(_home(boat, device),),
        culprits=(device,),
        arguments=_kind(boat, device),
    )


# --- conductors --------------------------------------------------------------------------------------


def _banded(checks: DeviceChecks) -> frozenset[str]:
    """The devices of which a published bound, read in a copy, says how long they hold: only they can be found wrong."""
    return frozenset(
        device for device, band in checks.bands.items() if any(not limit.from_memory for limit in band.holds)
    )


@rule(
    "conductor-not-thermally-protected",
    WARNING,
    title="A conductor is destroyed by a fault before its device opens",
    why="The insulation melts or burns along the whole run while the device still waits.",
    remedy="Run a larger conductor, or fit a device that opens sooner at the fault current.",
    source="IEC 60364-4-43 clause 434.5.2: I²t at most k²S²",
    needs="trip curve and rating of every device; what each source gives into a fault; size, length and "
    "insulation of cables",
)
def not_thermally_protected(boat: Boat) -> Iterator[Says | Sound | Open]:
    """k²S² of every conductor against I²t of the device before it, where a published bound makes it certain."""
    bad: dict[tuple[str, str], list[Stood]] = defaultdict(list)
    looked_at: set[str] = set()
    for checks in boat.fault_checks:
        only = _banded(checks)
        for each in checks.stood(only=only) if only else ():
            yield Sound(each.cable) if each.verdict == "certain" else Open(each.cable)
            looked_at.add(each.cable)
            if each.verdict == "not":
                bad[each.cable, each.device].append(each)
    if boat.fault_checks:
        guarded = {each.run.cable.id for each in guarded_cores(boat) if any(feed.device for feed in each.feeds)}
        yield from map(Open, sorted(guarded - looked_at))  # nothing is published about what guards them
    told = []
    for (cable, device), found in bad.items():
        worst = min(found, key=lambda each: (each.can.high, each.condition, each.core))
        says = Says(
            items=(cable, device),
            at=boat.at(cable),
            what=f"cable {cable} behind {boat.vessel.name_of(device)} does not stand every fault that it can carry: "
            f"{worst.why}",
            source=f"IEC 60364-4-43 clause 434.5.2; k: {worst.can.source}",
            consequences=worst.can.derivation,
            group=(_home(boat, device),),
            culprits=(cable,),
            arguments=(*_kind(boat, device), *worst.can.derivation[-1:]),
        )
        told.append((-worst.can.high, says))
    yield from _together(boat, _worst_first(told))


# --- which opens first ---------------------------------------------------------------------------------


@rule(
    "no-selectivity",
    NOTICE,
    title="The device upstream opens before the one nearer to the fault",
    why="A fault in one circuit takes everything else behind the upstream device with it, at night and under way too.",
    remedy="Choose ratings and curves so that the nearer device opens first, or accept it knowingly.",
    source="IEC 60898-1, bounds of both devices",
    needs="trip curve and rating of both devices; what each source gives into a fault",
)
def no_selectivity(boat: Boat) -> Iterator[Says | Sound | Open]:
    """Every two devices in series, where the published bounds make it certain that the wrong one opens first."""
    bad: dict[tuple[str, str], list[Series]] = defaultdict(list)
    looked_at: set[str] = set()
    for checks in boat.fault_checks:
        only = _banded(checks)
        for each in checks.series(only=only) if only else ():
            yield Sound(each.device) if each.order.verdict == "certain" else Open(each.device)
            looked_at.add(each.device)
            if each.order.verdict == "not":
                bad[each.device, each.upstream].append(each)
    for checks in boat.fault_checks:
        pairs = {device for chain in checks.chains for device, above in chain.above.items() if above is not None}
        yield from map(Open, sorted(pairs - looked_at))  # nothing is published about one of the two
    told = []
    for (device, upstream), found in bad.items():
        worst = max(found, key=lambda each: (each.most_a, each.condition))
        says = Says(
            items=(device, upstream),
            at=boat.at(device),
            what=f"{boat.vessel.name_of(upstream)} opens before {boat.vessel.name_of(device)} on a fault behind the "
            f"latter: {worst.order.why}",
            group=(_home(boat, device), upstream),
            culprits=(device,),
            arguments=_kind(boat, device),
        )
        told.append((worst.most_a, says))
    yield from _together(boat, _worst_first(told))
