"""The steps of a sheet, in the order of the published rules, each with where it is done and whose rule it is."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from vesselspec.isolation.hazards import named
from vesselspec.isolation.points import Point
from vesselspec.isolation.target import Target
from vesselspec.model.devices import Generator, Inverter, InverterCharger
from vesselspec.rules import Boat
from vesselspec.rules.book import COMMON_PRACTICE
from vesselspec.standards import figure

#: The parts of the sheet, in order.
PREPARE, SOURCES, LOCAL, LOCK, STORED, PROVE, BESIDE, BACK = (
    "Prepare",
    "Make every source dead, at the source",
    "Open the local isolator too",
    "Lock and label",
    "Let stored energy go",
    "Prove dead",
    "Guard what stays live",
    "The way back",
)
GROUPS = (PREPARE, SOURCES, LOCAL, LOCK, STORED, PROVE, BESIDE, BACK)


#: How a contact is held open, by what is recorded of its lock.
_HELD = {
    True: "lock it open",
    False: "nothing can lock it: post somebody at it",
    None: "lock it open if it can be locked (not recorded), else post somebody at it",
}


@dataclass(frozen=True)
class Step:
    """One thing to do and tick off."""

    group: str
    says: str
    source: str
    #: The item that a hand goes to, and its space; empty where there is none.
    at: str = ""
    space: str = ""
    #: Whether a lock and a name belong to it.
    lock: bool = False


def steps_of(
    boat: Boat,
    points: tuple[Point, ...],
    inverting: Iterable[str],
    local: tuple[str, ...],
    holding: tuple[str, ...],
    enclosures: Collection[str] = (),
) -> tuple[Step, ...]:
    """All steps. Sources that are `inverting` put AC on the place, `local` are contacts next to it that are opened
    besides, `holding` are devices whose capacitors keep a voltage, `enclosures` are what is opened for the work.
    """
    return (
        *_prepare(),
        *(step for key in inverting for step in _converter(boat, key)),
        *(step for point in points for step in _point(boat, point)),
        *(step for key in enclosures for step in _controller(boat, key)),
        *_local(boat, local),
        *_lock(),
        *_stored(holding),
        *_prove(),
        *_beside(),
        *_back(),
    )


def prove_at(boat: Boat, target: Target) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The terminals at which to prove dead, as (place, its poles): bars, mains and sides; both ends of a cable."""
    network, ways = boat.network, boat.vessel.ways
    found: dict[str, list[str]] = {}
    for number in sorted(target.terminals):
        terminal = network.terminals[number]
        if terminal.loose or not terminal.pole:
            continue
        branch = terminal.place in ways and ways[terminal.place][2].duty != "main"
        if target.kind in ("way", "cable") or not branch:
            found.setdefault(terminal.place, []).append(terminal.pole)
    for poles in found.values():
        if "PE" not in poles:
            poles.append("PE")
    return tuple((place, tuple(poles)) for place, poles in found.items() if poles != ["PE"])


def _space(boat: Boat, key: str) -> str:
    space = boat.vessel.space_of(key)
    return space.id if space is not None else ""


def _prepare() -> Iterator[Step]:
    rule = figure("osha_147_sequence").source
    yield Step(
        PREPARE, "Tell everybody on board, and whoever can start or connect anything, what will be dead and why.", rule
    )
    yield Step(
        PREPARE,
        "Compare this sheet with what you see: covers, labels, cables. One conductor that is not on it, and the sheet "
        "does not hold.",
        COMMON_PRACTICE,
    )
    yield Step(
        PREPARE,
        "Have a tester and a proving source that are rated for the voltage, locks, labels, and somebody within call.",
        COMMON_PRACTICE,
    )
    yield Step(PREPARE, "Switch the loads off at their own controls, so that nothing is broken under load.", rule)


def _converter(boat: Boat, key: str) -> Iterator[Step]:
    """A control is no isolation, but an inverter must not try to start while its supply is taken away."""
    device = boat.vessel.devices[key]
    if isinstance(device, Inverter | InverterCharger):
        yield Step(
            SOURCES,
            f"Switch off {boat.vessel.name_of(key)} at its own switch, and disable its remote control. "
            "That alone does not isolate it.",
            figure("osha_333_sequence").source,
            key,
            _space(boat, key),
        )


def _point(boat: Boat, point: Point) -> Iterator[Step]:
    vessel, name = boat.vessel, boat.vessel.name_of(point.id)
    device = vessel.devices.get(point.id)
    rule, space = figure("osha_333_sequence").source, _space(boat, point.id)
    match point.how:
        case "unplug":
            yield Step(SOURCES, f"{name}: switch off the breaker on the pedestal.", COMMON_PRACTICE, point.id, "ashore")
            yield Step(
                SOURCES,
                f"{name}: unplug the cord at the pedestal and at the inlet, and stow it where you can see it. "
                "The breaker alone does not count.",
                COMMON_PRACTICE,
                point.id,
                space,
                lock=True,
            )
        case "stop" if isinstance(device, Generator):
            yield from _generator(boat, device)
        case "engine":
            yield Step(
                SOURCES,
                f"{name}: stop its engine, take the key, and keep it from being started.",
                COMMON_PRACTICE,
                point.id,
                space,
                lock=True,
            )
        case "cover":
            yield Step(
                SOURCES,
                f"{name}: cover it so that no light falls on it; it is live whenever it sees light.",
                COMMON_PRACTICE,
                point.id,
                space,
                lock=True,
            )
        case "lift":
            yield Step(
                SOURCES,
                f"{name}: no switch or fuse keeps it away. Take its negative cable off first, then the positive, "
                "with an insulated tool, and cover both ends.",
                COMMON_PRACTICE,
                point.id,
                space,
                lock=True,
            )
        case "pull":
            says = f"{name}: take the fuse out, nothing drawing current, and keep it with you. Its holder stays live."
            yield Step(SOURCES, says, rule, point.id, space, lock=True)
        case _:
            yield Step(SOURCES, f"{name}: open it; {_HELD[point.lockable]}.", rule, point.id, space, lock=True)


def _generator(boat: Boat, device: Generator) -> Iterator[Step]:
    vessel, space = boat.vessel, _space(boat, device.id)
    name, rule = vessel.name_of(device.id), figure("osha_333_sequence").source
    yield Step(SOURCES, f"{name}: stop it.", rule, device.id, space)
    if device.auto_start is not False:
        where = device.auto_start_lockout or "WHERE IS NOT RECORDED: find it and try a start"
        yield Step(SOURCES, f"{name}: inhibit its automatic start. {where}.", rule, device.id, space, lock=True)
    battery = vessel.name_of(device.start_battery) if device.start_battery else "the start battery (not recorded)"
    if device.start_switch is not None:
        switch = vessel.name_of(device.start_switch)
        lift = f"take the negative cable off {battery} as well"
        held = {
            True: "lock it open",
            False: f"nothing can lock it: {lift}",
            None: f"lock it open if it can be locked (not recorded), else {lift}",
        }[getattr(vessel.devices.get(device.start_switch), "lockable", None)]
        says = f"{name}: open its start battery switch, {switch}; {held}."
        yield Step(SOURCES, says, COMMON_PRACTICE, device.start_switch, _space(boat, device.start_switch), lock=True)
    else:
        says = f"{name}: its start battery switch is not recorded. Take the negative cable off {battery}."
        yield Step(SOURCES, says, COMMON_PRACTICE, device.start_battery or device.id, space, lock=True)


def _controller(boat: Boat, key: str) -> Iterator[Step]:
    """A generator that is worked on: the DC wires of its controller come from a circuit that no record names."""
    if isinstance(boat.vessel.devices.get(key), Generator):
        name = boat.vessel.name_of(key)
        says = (
            f"{name}: open the circuit that feeds its controller, fuel pump and charging lead, and hold it open. "
            "WHICH IS NOT RECORDED: find it, and test each of these wires before you touch it."
        )
        yield Step(SOURCES, says, COMMON_PRACTICE, key, _space(boat, key), lock=True)


def _local(boat: Boat, local: tuple[str, ...]) -> Iterator[Step]:
    for place in local:
        yield Step(
            LOCAL,
            f"Open {boat.vessel.name_of(place)} as a second barrier.",
            COMMON_PRACTICE,
            place,
            _space(boat, place),
            lock=True,
        )


def _lock() -> Iterator[Step]:
    yield Step(
        LOCK,
        "Put your own lock, and a label with your name, the date and what you work on, at every point ticked above. "
        "Nobody else takes it off.",
        figure("osha_333_sequence").source,
    )
    yield Step(
        LOCK, "Try to start and to switch on what was made dead; nothing may come.", figure("osha_333_sequence").source
    )


def _stored(holding: tuple[str, ...]) -> Iterator[Step]:
    rule = figure("order_contradiction").source
    if holding:
        yield Step(
            STORED,
            f"Capacitors keep a voltage in {named(holding)}: wait as long as the manual of each says (not recorded "
            "here), and measure before touching.",
            rule,
        )
    yield Step(
        STORED, "Look for anything else that stores or gives back energy: motors that turn, portable sources.", rule
    )


def _prove() -> Iterator[Step]:
    rule = figure("nfpa70e_120_5").source
    yield Step(PROVE, "Prove the tester on a known live source.", rule)
    yield Step(PROVE, "Test at every terminal listed below: between every two poles, and each pole to earth.", rule)
    yield Step(PROVE, "Prove the tester again on the same source. If it fails now, nothing was proved.", rule)
    yield Step(PROVE, "Test again at each conductor before you touch it, and after every break.", COMMON_PRACTICE)


def _beside() -> Iterator[Step]:
    rule = figure("five_safety_rules").source
    yield Step(BESIDE, "Earth and short-circuit where local practice asks for it: earth first.", rule)
    yield Step(BESIDE, "Cover everything listed under STAYS LIVE so that neither hand nor tool can meet it.", rule)


def _back() -> Iterator[Step]:
    release, live = figure("osha_147_release").source, figure("osha_333_reenergise").source
    yield Step(BACK, "Count tools, jumpers and earths out; look at every terminal; covers on.", live)
    yield Step(BACK, "Tell everybody that it becomes live; everybody stands clear.", release)
    yield Step(BACK, "Each lock comes off by the hand that put it on.", release)
    yield Step(
        BACK,
        "With every load and branch still off: sources first (the cord into the inlet, then into the pedestal, then "
        "its breaker), then polarity and voltage checked ahead of the main, then the main, then the loads one by one.",
        COMMON_PRACTICE,
    )
    yield Step(BACK, "Release automatic starts and remote controls last.", COMMON_PRACTICE)
