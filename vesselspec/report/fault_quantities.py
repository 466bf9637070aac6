"""The quantities of faults: how much flows, what has to break it, how soon it opens.

The scientific libraries are imported with `Boat.fault_checks`, when a place or device of the record is asked for.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from vesselspec.model.devices import Breaker, Fuse
from vesselspec.model.forms import specs
from vesselspec.physics.conductors.sizing import Step
from vesselspec.report.derivation import Derivation, Input, input_at, quantity
from vesselspec.rules import Boat

if TYPE_CHECKING:
    from vesselspec.physics.faults.circuit import Feed
    from vesselspec.physics.faults.devices import Device, DeviceChecks, Through
    from vesselspec.physics.faults.levels import FaultLevels, Level
    from vesselspec.physics.faults.tripping import Band

Lacking = tuple[tuple[str, str], ...]

_LEAST_A = 1e-6  # less is rounding
_SAME = 1e-6  # share by which the ends of an interval may differ and still be one figure
#: The fields of a source that say what it gives into a fault.
_GIVES = ("supply_ohm", "supply_fault_a", "cord", "subtransient", "sustained_fault_current_a", "internal_ohm",
          "short_circuit_a", "cold_cranking_a", "chemistry", "strings", "fault_current_a", "self_limiting", "charge_a",
          "apparent_va", "rating_a")  # fmt: skip
_NOTES = (
    "a bolted fault at nominal voltage; contacts, joints and devices are taken to have no impedance",
    "the conductors listed are those of the shortest way; every closed way is solved",
)
_ORDER = "an order of magnitude, by which nothing is decided"


def _checks(boat: Boat, condition: str | None) -> Iterator[DeviceChecks]:
    return (each for each in boat.fault_checks if condition in (None, each.levels.condition))


def _ends(low: float, high: float) -> tuple[float | None, float | None]:
    """The two ends of an interval; None where nothing bounds it, one figure where they agree."""
    top = high if math.isfinite(high) else None
    if top is not None and top - low <= _SAME * top:
        return top, top
    return (low if _LEAST_A < low < math.inf else None), top


def _span(low: float, high: float) -> str:
    one, two = _ends(low, high)
    if one is None:
        return "not limited by anything recorded" if two is None else f"at most {two:.4g} A"
    return f"{one:.4g} A" if one == two else f"at least {one:.4g} A" if two is None else f"{one:.4g} to {two:.4g} A"


# --- inputs ----------------------------------------------------------------------------------------


def _condition(boat: Boat, condition: str) -> Input:
    return input_at(boat, "operating condition", condition, condition)


def _sources(boat: Boat, level: Level, feeds: Iterable[Feed]) -> Iterator[Input]:
    """What the record says of each source of a fault: its voltage and the figures of its own."""
    for feed in feeds:
        system = next((each.system for each in boat.network.emissions if each.source == feed.source
                       and any(each.terminal == n for n, _ in feed.plus)), None)  # fmt: skip
        if system is not None and system in boat.vessel.systems:
            value = f"{boat.vessel.systems[system].voltage.line_v:g} V"
            yield input_at(boat, f"nominal voltage of {feed.source}", value, system, "voltage")
        device = boat.vessel.devices[feed.source]
        for name, spec in specs(type(device)):
            value_of = getattr(device, name)
            if name in _GIVES and value_of is not None:
                called = f"{spec.key.replace('_', ' ')} of {feed.source}"
                yield input_at(boat, called, str(spec.form.show(value_of)), feed.source, spec.key)
        lacks = {what for item, what in (*level.missing, *level.missing_smallest) if item == feed.source}
        for what in sorted(lacks):
            yield input_at(boat, what.removeprefix("its "), None, feed.source)


def _cables(levels: FaultLevels, start: int, ends: frozenset[int]) -> Iterator[str]:
    """The cables on the way with the fewest steps over what is closed, from a terminal to any of the ends."""
    network = levels.study.network
    came: dict[int, tuple[int, int]] = {start: (-1, -1)}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        if here in ends:
            while came[here][0] >= 0:
                link, here = came[here]
                if network.links[link].kind == "core":
                    yield network.links[link].item
            return
        for number in network.at[here]:
            there = network.links[number].other(here)
            if levels.closed[number] and there not in came:
                came[there] = number, here
                queue.append(there)


def _conductors(boat: Boat, levels: FaultLevels, level: Level, feeds: Iterable[Feed]) -> Iterator[Input]:
    index = boat.network.index
    names: dict[str, None] = {}
    for feed in feeds:
        back = frozenset(feed.minus) | frozenset(n for n, _ in feed.plus if level.pair[1].startswith("L"))
        for pole, ends in ((level.pair[0], frozenset(n for n, _ in feed.plus)), (level.pair[1], back)):
            start = index.get((level.place, pole), index.get((level.place.rpartition("/")[0], pole)))
            if start is not None:
                names |= dict.fromkeys(_cables(levels, start, ends))
    for name in names:
        sizes = dict.fromkeys(run.size.text for run in boat.network.runs[name] if run.size is not None)
        length = boat.vessel.cables[name].length_m
        own = boat.vessel.cables[name]
        kind = boat.vessel.cable_type(own)
        at = own.size is None and kind is not None and kind.size is not None
        told = ", ".join(sizes) + (f" (from type {kind.id})" if at and kind is not None else "")
        yield input_at(boat, f"size of {name}", told if sizes else None, name, "size")
        yield input_at(boat, f"length of {name}", None if length is None else f"{length:.4g} m", name, "length")


# --- how much --------------------------------------------------------------------------------------


@quantity("fault-level", "the largest and the smallest fault between two poles", in_condition=True)
def fault_level_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """Every place of an item and every pair of its poles."""
    whole = item in boat.vessel.devices or item in boat.vessel.loads
    places = {place for place in boat.network.places if place == item or (whole and place.startswith(f"{item}/"))}
    for checks in _checks(boat, condition) if places else ():
        for place, pair in checks.levels.pairs():
            level = checks.levels.level(place, pair) if place in places else None
            if level is not None:
                yield from _level(boat, item, checks.levels, level)


def _level(boat: Boat, item: str, levels: FaultLevels, level: Level) -> Iterator[Derivation]:
    names = {share.source for share in level.shares} | set(level.smallest_by)
    feeds = [feed for feed in levels.feeds if feed.source in names and feed.dc == (level.pair[0] == "DC+")]
    inputs = (
        _condition(boat, level.condition),
        *_sources(boat, level, feeds),
        *_conductors(boat, levels, level, feeds),
    )
    where = "" if level.place == item else f" at {level.place}"
    of = f"{'-'.join(level.pair)}{where} in {level.condition}"

    told = [each for each in level.derivation if not each.startswith("smallest:")]
    steps = [Step(each) for each in told]
    for share in level.shares:
        gives = "what it gives cannot be told" if share.amps is None else f"{share.amps:.4g} A"
        steps.append(Step(f"of that {share.source}: {gives}" + (", its own limit" if share.limits_itself else "")))
    if level.asymmetry > 1 + _SAME:
        steps.append(
            Step(f"in the first half cycle × sqrt(1 + 2 exp(-2π R/X)) = × {level.asymmetry:.4g}, not in the result")
        )
    if level.estimate_a is not None:
        steps.append(Step(f"with the estimated sources: {level.estimate_a:.3g} A, {_ORDER}"))
    low, high = _ends(level.low_a, level.high_a)
    missing = level.missing
    if low is None and high is None and not missing:
        missing = ((level.place, "what limits the fault"),)
    yield Derivation(item, "fault-level", f"largest, {of}", low, high, "A", inputs, tuple(steps), missing, _NOTES)

    steps = [Step(each) for each in level.derivation if not each.startswith("largest:")]
    for source, amps in level.smallest_by.items():
        steps.append(Step(f"{source} alone: " + ("cannot be told" if amps is None else f"{amps:.4g} A")))
    missing = level.missing_smallest
    if level.smallest_a is None and not missing:
        missing = ((level.place, "what drives the smallest fault"),)
    least = level.smallest_a
    yield Derivation(item, "fault-level", f"smallest, {of}", least, least, "A", inputs, tuple(steps), missing, _NOTES)


# --- what has to break it ------------------------------------------------------------------------------


def _is_device(boat: Boat, item: str) -> bool:
    way = boat.vessel.ways.get(item)
    return (way is not None and way[2].is_protective) or isinstance(boat.vessel.devices.get(item), Breaker | Fuse)


def _through(boat: Boat, item: str, condition: str | None) -> Iterator[tuple[DeviceChecks, list[Through]]]:
    """The faults through a device in each condition in which there are any."""
    for checks in _checks(boat, condition) if _is_device(boat, item) else ():
        found = list(checks.through(only={item}))
        if found:
            yield checks, found


def _lacks(checks: DeviceChecks, found: list[Through]) -> Lacking:
    return tuple(dict.fromkeys(lack for each in found if each.high_a - each.low_a > _SAME * each.low_a
                               for lack in checks.levels.missing(each.place, each.pair)))  # fmt: skip


@quantity("interrupting", "the largest fault that a device has to break, against its rating", in_condition=True)
def interrupting_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """A breaker or fuse: the largest over all pairs of its poles."""
    for checks, found in _through(boat, item, condition):
        device, name = checks.devices[item], checks.levels.condition
        recorded = None if device.interrupting_a is None else f"{device.interrupting_a:.4g} A"
        inputs = [_condition(boat, name), input_at(boat, "interrupting rating", recorded, item, "interrupting")]
        if device.kind == "fuse":
            inputs.append(input_at(boat, "family", device.family, item, "family"))
        steps = []
        for each in found:
            more = ""
            if each.asymmetry > 1 + _SAME:
                more = f", × {each.asymmetry:.4g} in its first half cycle"
            said = f"{'-'.join(each.pair)} at {each.place}: {_span(each.low_a, each.high_a)} through it{more}"
            steps.append(Step(f"{said} (see fault-level)"))
        low, high = max(each.low_a for each in found), max(each.high_a for each in found)
        unknown = _lacks(checks, found)
        breaks = device.breaks(dc=found[0].pair[0] == "DC+")
        if breaks is None:
            unknown = (*unknown, (item, "its interrupting rating"))
        else:
            steps.append(_held(breaks, found))
        least, most = _ends(low, high)
        if least is None and most is None and not unknown:
            unknown = ((item, "what limits the fault"),)
        notes = ("what the sources on its other side give; the whole fault at most where ways are paralleled",)
        yield Derivation(
            item, "interrupting", f"in {name}", least, most, "A", tuple(inputs), tuple(steps), unknown, notes
        )


def _held(breaks: tuple[float, str, bool], found: list[Through]) -> Step:
    """The rating against the faults, as the rule `interrupting-rating-below-fault` holds them."""
    rating, source, memory = breaks
    top = rating * (1 + 1e-9)
    if any(each.low_a > top for each in found):
        verdict = "below the fault: it cannot break it"
    elif any(each.low_a * each.asymmetry > top for each in found):
        verdict = "below the fault in its first half cycle"
    elif all(each.high_a * each.asymmetry <= top for each in found):
        verdict = "not below the fault"
    else:
        verdict = "what is not recorded leaves open whether it is enough"
    by_memory = "; from memory, nothing is decided by it" if memory else ""
    text = f"it can break {rating:.4g} A: {verdict}{by_memory}"
    return Step(f"{text} (rating as recorded)") if source == "as recorded" else Step(text, source, memory)


# --- how soon ------------------------------------------------------------------------------------------


@quantity("opening-time", "how soon a device opens on the faults at its own place", in_condition=True)
def opening_time_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """A breaker or fuse, on the largest and on the smallest fault in each condition."""
    for checks, found in _through(boat, item, condition):
        device, name = checks.devices[item], checks.levels.condition
        worst = max(found, key=lambda each: (each.high_a, each.low_a))
        of = f"largest fault, {'-'.join(worst.pair)} at {worst.place} in {name}"
        lacks = _lacks(checks, [worst])
        yield _opening(boat, item, device, name, of, worst.low_a, worst.high_a, lacks)
        levels = [level for each in found if (level := checks.levels.level(each.place, each.pair)) is not None]
        told = [(level.smallest_a, level) for level in levels if level.smallest_a is not None]
        if told and len(told) == len(levels):
            amps, level = min(told, key=lambda each: each[0])
            of = f"smallest fault, {'-'.join(level.pair)} at {level.place} in {name}"
            yield _opening(boat, item, device, name, of, amps, amps, ())
        else:
            lacks = tuple(dict.fromkeys(lack for level in levels for lack in level.missing_smallest))
            yield _opening(boat, item, device, name, f"smallest fault in {name}", 0.0, math.inf, lacks)


def _opening(
    boat: Boat, item: str, device: Device, condition: str, of: str, low_a: float, high_a: float, lacks: Lacking
) -> Derivation:
    band = device.band
    rating = None if device.rating_a is None else f"{device.rating_a:g} A"
    kind = ("family", device.family) if device.kind == "fuse" else ("curve", device.curve)
    inputs = (
        _condition(boat, condition),
        input_at(boat, "rating", rating, item, "rating"),
        input_at(boat, "fuse family" if device.kind == "fuse" else "trip curve", kind[1], item, kind[0]),
    )
    latest, soonest = band.latest(low_a), band.soonest(high_a)
    fault = "cannot be told" if low_a <= 0 and math.isinf(high_a) else _span(low_a, high_a)
    steps = [Step(f"the fault: {fault} (see fault-level)"), *_bounds(band)]
    if latest is not None:
        steps.append(Step(f"so it has opened within {latest.seconds:g} s", latest.source))
    if soonest is not None:
        steps.append(Step(f"so it has not opened before {soonest.seconds:g} s", soonest.source))
    unknown = [*lacks]
    if device.rating_a is None:
        unknown.append((item, "its rating"))
    if kind[1] is None:
        unknown.append((item, "its fuse family" if device.kind == "fuse" else "its trip curve"))
    if latest is None and soonest is None and not unknown:
        unknown.append((item, "its time-current curve"))
    notes = ["a fault further along the circuit is smaller, and opens it later"]
    if any(each.from_memory for each in (*band.opens, *band.holds)):
        notes.append("bounds from memory are listed, and not counted in the result")
    if band.why_none:
        notes.append(f"no bound: {band.why_none}")
    return Derivation(
        item,
        "opening-time",
        of,
        None if soonest is None else soonest.seconds,
        None if latest is None else latest.seconds,
        "s",
        inputs,
        tuple(steps),
        tuple(unknown),
        tuple(notes),
    )


def _bounds(band: Band) -> Iterator[Step]:
    for each in band.opens:
        yield Step(f"from {each.amps:.4g} A it opens within {each.seconds:g} s", each.source, each.from_memory)
    for each in band.holds:
        yield Step(f"up to {each.amps:.4g} A it holds for {each.seconds:g} s", each.source, each.from_memory)
