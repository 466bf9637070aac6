"""Fault levels and protective devices gathered row by row, and how each row is said."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from vesselspec.model.devices import Load
from vesselspec.physics.faults.devices import Device, DeviceChecks, EarthFault, Series, Stood, Through
from vesselspec.physics.faults.levels import Level
from vesselspec.rules import Boat
from vesselspec.units import show

NOTES = (
    "Largest: all sources together, conductors cold. Smallest: the weakest source alone, conductors hot. Contacts and "
    "joints have no impedance, voltages are nominal, and running motors are not counted.",
    "at most: what is not recorded was taken as if it limited nothing. ?: cannot be told. ~: order of magnitude only.",
)


@dataclass(frozen=True)
class DeviceRow:
    """A protective device in a condition, with its worst case of each check."""

    device: Device
    through: Through | None
    earth_fault: EarthFault | None
    stood: Stood | None
    series: tuple[Series, ...]


@dataclass(frozen=True)
class ConditionReport:
    """What is to be said of one condition: fault levels by place, and the devices."""

    condition: str
    places: tuple[tuple[str, tuple[Level, ...]], ...]
    devices: tuple[DeviceRow, ...]


_WORST = {"not": 0, "undecided": 1, "certain": 2}


def gather(
    boat: Boat, checks: Iterable[DeviceChecks], place: str | None, *, whole: bool
) -> tuple[ConditionReport, ...]:
    """Work out the rows; `place` keeps what is at it or inside it, `whole` also the ends of circuits."""
    return tuple(
        ConditionReport(
            each.levels.condition,
            tuple(_places(boat, each, place, whole=whole)),
            tuple(row for row in _devices(each) if _within(row.device.place, place)),
        )
        for each in checks
    )


def _within(place: str, asked: str | None) -> bool:
    return asked is None or place == asked or place.startswith(f"{asked}/")


def _places(
    boat: Boat, checks: DeviceChecks, asked: str | None, *, whole: bool
) -> Iterator[tuple[str, tuple[Level, ...]]]:
    found: dict[str, list[Level]] = {}
    for place, pair in checks.levels.pairs():
        if not _within(place, asked):
            continue
        end = place in boat.vessel.ways or isinstance(boat.vessel.device(place), Load)
        if asked is None and end and not whole:
            continue  # a way has the level of its section, and a load is asked for by name
        level = checks.levels.level(place, pair)
        if level is not None:
            found.setdefault(place, []).append(level)
    yield from ((place, tuple(levels)) for place, levels in found.items())


def _devices(checks: DeviceChecks) -> Iterator[DeviceRow]:
    through: dict[str, Through] = {}
    for each in checks.through():
        before = through.get(each.device)
        if before is None or each.high_a * each.asymmetry > before.high_a * before.asymmetry:
            through[each.device] = each
    earth: dict[str, EarthFault] = {}
    for fault in checks.earth_faults():
        if fault.device not in earth or _rank(fault) < _rank(earth[fault.device]):
            earth[fault.device] = fault
    stood: dict[str, Stood] = {}
    for one in checks.stood():
        if one.device not in stood or _WORST[one.verdict] < _WORST[stood[one.device].verdict]:
            stood[one.device] = one
    series: dict[str, dict[str, Series]] = {}
    for two in checks.series():
        series.setdefault(two.device, {}).setdefault(two.upstream, two)
    for key, worst in through.items():
        yield DeviceRow(checks.devices[key], worst, earth.get(key), stood.get(key), tuple(series.get(key, {}).values()))


def _rank(fault: EarthFault) -> tuple[int, float]:
    return _WORST[fault.verdict], fault.amps if fault.amps is not None else -1.0


def amps_words(value: float | None) -> str:
    """A current, or that nothing limits it."""
    if value is None:
        return "?"
    return show("current", value) if math.isfinite(value) and value < 1e9 else "not limited here"


def largest_words(level: Level) -> str:
    """The largest fault in words."""
    if not math.isfinite(level.high_a):
        words = "not limited here"
    else:
        exact = level.known and level.high_a - level.low_a <= 1e-6 * level.high_a
        words = ("" if exact else "at most ") + amps_words(level.high_a)
    return words + (f" (~{amps_words(level.estimate_a)})" if level.estimate_a is not None else "")


def smallest_words(level: Level) -> str:
    """The smallest fault in words, with the source that it is from where there are several."""
    if level.smallest_a is None:
        return "?"
    return amps_words(level.smallest_a) + (f" ({level.smallest_from})" if len(level.smallest_by) > 1 else "")


def shares_words(level: Level) -> str:
    """Who gives how much to the largest fault."""
    return ", ".join(f"{s.source} {'at most ' if s.limits_itself else ''}{amps_words(s.amps)}" for s in level.shares)


def breaks_words(row: DeviceRow) -> tuple[str, str]:
    """What a device can break, against the fault through it; and the verdict."""
    if row.through is None:
        return "?", "no fault reaches it"
    breaks = row.device.breaks(dc=row.through.pair[0] == "DC+")
    worst = row.through.high_a * row.through.asymmetry
    if breaks is None:
        return "?", "rating not recorded"
    rating, _, memory = breaks
    told = amps_words(rating) + (" (from memory)" if memory else "")
    if worst <= rating * (1 + 1e-9):
        return told, "undecided" if memory else "breaks it"
    certain = row.through.low_a > rating * (1 + 1e-9)
    return told, "too little" if certain and not memory else "undecided"


def time_words(row: DeviceRow) -> str:
    """The published bounds of the time in which a device opens at the largest fault through it."""
    band = row.device.band
    if row.through is None or not math.isfinite(row.through.low_a):
        return "?"
    if not band.opens:
        return "no bound"
    remembered = all(limit.from_memory for limit in band.opens)
    latest = band.latest(row.through.low_a, memory=remembered)
    soonest = band.soonest(row.through.high_a, memory=remembered)
    if latest is None:
        return "no bound at this current"
    least = f"{soonest.seconds:g} s to " if soonest is not None else "within "
    return f"{least}{latest.seconds:g} s" + (" (from memory)" if remembered else "")


def verdict_word(verdict: str | None) -> str:
    """A verdict in one word."""
    return {"certain": "yes", "not": "NO", "undecided": "undecided", None: "-"}[verdict]


def first_words(row: DeviceRow) -> str:
    """What opens before what, against each device upstream."""
    return "; ".join(f"{verdict_word(s.order.verdict)} ({s.upstream})" for s in row.series) or "-"


def reasons_of(row: DeviceRow) -> Iterator[str]:
    """Why something of a device is not certain to be in order."""
    if row.earth_fault is not None and row.earth_fault.verdict != "certain":
        yield f"earth fault at {row.earth_fault.place}: {row.earth_fault.why}"
    if row.stood is not None and row.stood.verdict != "certain":
        yield f"cable {row.stood.cable}: {row.stood.why}"
    for each in row.series:
        if each.order.verdict == "not":
            yield f"against {each.upstream}: {each.order.why}"
