"""What the record does not know and a reader of the sheet must: what refuses it, and what to check first."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from vesselspec.isolation.target import Target
from vesselspec.model.devices import (
    BatteryBank,
    Charger,
    Generator,
    Inverter,
    InverterCharger,
    Selector,
    SolarController,
    Switch,
)
from vesselspec.model.items import UNTRACED, Item
from vesselspec.rules import Boat

#: How old a look at something may be before the sheet asks for another; ours, no source.
OLD_YEARS = 5
_MOST_NAMED = 8


@dataclass(frozen=True)
class Hazard:
    """What may be otherwise than the record says, and what to check first."""

    says: str
    check: str


def named(words: Iterable[str]) -> str:
    """A list in words, cut where it grows long."""
    every = list(words)
    shown = every[:_MOST_NAMED]
    return ", ".join(shown) + (f" and {len(every) - _MOST_NAMED} more" if len(every) > _MOST_NAMED else "")


def is_untraced(boat: Boat, cable: str) -> bool:
    """Whether an end of a cable, or of one of its cores, is untraced."""
    entry = boat.vessel.cables[cable]
    if UNTRACED in (entry.from_, entry.to):
        return True
    return any(UNTRACED in (core.from_, core.to) for _, core in boat.vessel.cores_of(entry))


def reasons_against(boat: Boat, target: Target) -> Iterator[Hazard]:
    """Why no record can declare the place dead: conductors in the enclosure that lead nobody knows where."""
    loose = [cable for cable in target.cables if is_untraced(boat, cable)]
    if loose:
        yield Hazard(
            f"not traced to both ends: {named(loose)}. What feeds the untraced end is not known",
            "take each as live; trace it along its whole run, record it, and print the sheet again",
        )
    lost = [u for u in boat.network.unlanded if u.cable in target.cables]
    if lost:
        yield Hazard(
            "recorded at a terminal that does not exist: "
            + named(dict.fromkeys(f"{u.cable} at {u.said}" for u in lost)),
            "look where it really lands, correct the record, and print the sheet again",
        )
    bare = [
        cable
        for cable in target.cables
        if not boat.vessel.cores_of(boat.vessel.cables[cable]) and cable in boat.vessel.cables
    ]
    if bare:
        yield Hazard(
            f"recorded without any core: {named(bare)}", "record where each core lands, and print the sheet again"
        )
    if target.place in boat.vessel.devices and isinstance(boat.vessel.devices[target.place], BatteryBank):
        yield Hazard(
            "a battery is live at its own posts as long as it holds any charge; nothing makes it dead",
            "work on one post at a time with insulated tools, the other covered; or take the bank off board",
        )
    if not target.terminals:
        yield Hazard("the record holds no terminal there", "record what is in it, or name the panel or device itself")


def hazards_of(boat: Boat, target: Target, sources: Iterable[str], day: datetime.date | None) -> Iterator[Hazard]:
    """What could defeat the sheet without the record knowing it, and what to check first."""
    inside = set(target.cables)
    adrift = sorted({u.cable for u in boat.network.unlanded} - inside)
    if adrift:
        yield Hazard(
            f"recorded at terminals that do not exist: {named(adrift)}",
            "find where they land before you trust this sheet",
        )
    blind = [
        key
        for key, (panel, _, way) in boat.vessel.ways.items()
        if panel.id in target.enclosures and way.device != "blank" and not way.poles and not way.spare
    ]
    if blind:
        yield Hazard(
            f"which poles it opens is not recorded: {named(blind)}",
            "do not count on it as a barrier; measure every pole on both sides of it",
        )
    yield from _evidence(boat, target, day)
    yield from _by_itself(boat, set(sources))


def _evidence(boat: Boat, target: Target, day: datetime.date | None) -> Iterator[Hazard]:
    items: list[tuple[str, Item | None]] = [(key, boat.vessel.cables.get(key)) for key in target.cables]
    items += [(key, boat.vessel.device(key) or boat.vessel.panels.get(key)) for key in target.enclosures]
    assumed = [key for key, item in items if item and item.evidence is not None and item.evidence.how == "assumed"]
    if assumed:
        yield Hazard(f"assumed, nobody has looked: {named(assumed)}", "look at both ends of each before you rely on it")
    silent = [key for key, item in items if item and item.evidence is None]
    if silent:
        yield Hazard(
            f"how it is known is not recorded for {named(silent)}", "take it as assumed; look before you rely on it"
        )
    if day is not None:
        limit = (
            day.replace(year=day.year - OLD_YEARS)
            if (day.month, day.day) != (2, 29)
            else day.replace(year=day.year - OLD_YEARS, day=28)
        )
        old = [
            f"{key} ({item.evidence.when})"
            for key, item in items
            if item and item.evidence and item.evidence.when and item.evidence.when < limit
        ]
        if old:
            yield Hazard(
                f"last looked at more than {OLD_YEARS} years ago: {named(old)}", "look again before you rely on it"
            )


def _by_itself(boat: Boat, sources: set[str]) -> Iterator[Hazard]:
    """What starts or changes over with nobody there, and what is not recorded about it."""
    for key, device in boat.vessel.devices.items():
        name = boat.vessel.name_of(key)
        if isinstance(device, Generator) and key in sources:
            if device.auto_start is not False and device.auto_start_lockout is None:
                may = "starts by itself" if device.auto_start else "may start by itself (not recorded)"
                yield Hazard(
                    f"{name} {may}, and where that is inhibited is not recorded",
                    "find the inhibit at the set and try a start with it on before you open anything",
                )
            if device.start_switch is None:
                yield Hazard(
                    f"the start battery switch of {name} is not recorded",
                    "take the start battery's negative cable off and keep it off",
                )
        elif not sources & {a.emission.source for t in boat.network.within(key) for a in boat.reach.at(t)}:
            continue
        elif isinstance(device, Selector) and device.operation == "automatic":
            yield Hazard(f"{name} changes over by itself", "what feeds it must be dead at the source, all of it")
        elif isinstance(device, Switch) and device.operation != "manual":
            how = "by itself" if device.operation == "automatic" else "from elsewhere"
            yield Hazard(f"{name} can close {how}", "do not count on it being open")


def stored_in(boat: Boat, target: Target, joined: frozenset[str]) -> tuple[str, ...]:
    """The devices whose capacitors keep a voltage after everything is off: in the place, or still joined to it."""
    keys = dict.fromkeys((*(key for key in boat.vessel.devices if key in joined), *target.enclosures))
    holding = (Inverter, InverterCharger, Charger, SolarController)
    found = [key for key in keys if isinstance(boat.vessel.devices.get(key), holding)]
    motors = [key for key in target.enclosures if key in boat.vessel.loads and boat.vessel.loads[key].motor]
    return tuple(boat.vessel.name_of(key) for key in (*found, *motors))
