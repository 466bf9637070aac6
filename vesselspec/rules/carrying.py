"""What every conductor, bar, relay, inverter and device carries in every condition, against what it may carry."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vesselspec.model.devices import BatteryBank, Busbar, Charger, Inverter, InverterCharger
from vesselspec.network.compile import INVERTING, PASS_THROUGH
from vesselspec.network.graph import LINES, CoreRun
from vesselspec.network.state import closed_links
from vesselspec.network.ways_back import WaysBack, live_sources, ways_back
from vesselspec.physics.conductors.ampacity import Ampacity
from vesselspec.physics.loads.supply import draws_of
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Open, Says, Sound, rule
from vesselspec.rules.circuits import back_of, core_volts, unsummed
from vesselspec.rules.drop import most_lost, sound
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING, At
from vesselspec.rules.protection import core_ampacity, device_rating, guarded_cores, loaded_conductors, protections_of
from vesselspec.standards import cited, figure, standard_ratings

if TYPE_CHECKING:
    from vesselspec.physics.steady.flow import Flow
    from vesselspec.physics.steady.notes import Loop

_NEAR = 1 + 1e-9
_LEAST_A = 0.01  # below that it is arithmetic, not a current
_WORDS = {"insulation": "its insulation temperature", "space": "its route", "bundle": "what it is bundled with"}


@dataclass(frozen=True)
class Carried:
    """What flows through something in one condition, in A: as solved, and at nominal voltage at least.

    Tables and ratings are for currents at nominal voltage; that loads draw more where too much voltage is lost is what
    the rule on voltage drop is for. So the least decides, and what was solved is told.
    """

    condition: str
    amps: float
    least: float
    where: str = ""


def _worst(carried: Iterable[Carried]) -> list[Carried]:
    return sorted(carried, key=lambda each: (-each.least, each.condition))


def _carried(boat: Boat, flow: Flow, amps: float, *, dc: bool, where: str = "") -> Carried:
    return Carried(flow.condition, amps, amps * (1 - min(most_lost(boat, flow, dc=dc), 1.0)), where)


def _others(over: list[Carried]) -> tuple[str, ...]:
    return tuple(f"in {each.condition} {each.amps:.4g} A" for each in over[1:])


# --- conductors ------------------------------------------------------------------------------------


def _cranking(boat: Boat) -> frozenset[int]:
    """Links of cranking conductors: no table of continuous current applies to them."""
    return frozenset(each.run.link for each in guarded_cores(boat) if each.cranking)


@dataclass(frozen=True)
class Loaded:
    """A core with the current of every condition, the most first, and what it may carry."""

    run: CoreRun
    pole: str
    carried: list[Carried]
    carries: Ampacity | None


def loaded_cores(boat: Boat) -> list[Loaded]:
    """Every core that carries a current in some condition; earth and cranking conductors left out."""
    return kept(boat, "_loaded_cores", lambda each: list(_loaded_cores(each)))


def _loaded_cores(boat: Boat) -> Iterator[Loaded]:
    network, flows = boat.network, list(sound(boat))
    if not flows:
        return
    cranking = _cranking(boat)
    for run in network.cores:
        if run.link < 0 or run.link in cranking:
            continue
        link = network.links[run.link]
        pole = network.terminals[link.a].pole or network.terminals[link.b].pole
        dc = pole in ("DC+", "DC-")
        carried = [_carried(boat, flow, amps, dc=dc) for _, flow in flows if (amps := flow.amps(run.link)) > _LEAST_A]
        if pole in ("PE", "") or not carried:
            continue
        volts, lying = core_volts(boat, run), loaded_conductors(boat).get(run.cable.id, 1)
        yield Loaded(run, pole, _worst(carried), core_ampacity(boat, run, volts, lying))


def _overloaded(boat: Boat, *, neutral: bool) -> Iterator[Says | Lacks | Sound | Open]:
    by_cable: dict[str, list[Loaded]] = defaultdict(list)
    for each in loaded_cores(boat):
        if (each.pole == "N") == neutral:
            by_cable[each.run.cable.id].append(each)
    for cable, cores in by_cable.items():
        if boat.softens(boat.vessel.cables[cable]):
            yield Open(cable)  # it carries nothing: told once, of its insulation
            continue
        over = [each for each in cores if each.carries and each.carried[0].least > each.carries.high_a * _NEAR]
        if over:
            yield _too_much(boat, cable, max(over, key=lambda x: x.carried[0].least / (x.carries.high_a or 1e-9)
                                             if x.carries else 0.0))  # fmt: skip
            continue
        known = all(each.carries and each.carried[0].least <= each.carries.low_a * _NEAR for each in cores)
        yield Sound(cable) if known and cable not in unsummed(boat) else Open(cable)
        yield from _cannot(cable, cores)


def _too_much(boat: Boat, cable: str, worst: Loaded) -> Says:
    carries, top = worst.carries, worst.carried[0]
    if carries is None or worst.run.size is None:  # what is over its ampacity has both
        raise ValueError(f"{cable}: judged without an ampacity")
    over = [each for each in worst.carried if each.least > carries.high_a * _NEAR]
    from vesselspec.rules.sizing import remedy  # noqa: PLC0415 - only a finding needs it

    would = remedy(boat, cable, amps=top.amps)
    shed = "take loads off it in this condition"
    return Says(
        items=(cable,),
        at=At("cables", cable),
        measure=top.least / max(carries.high_a, _LEAST_A),
        what=f"the {worst.run.size.text} {worst.run.name} core of cable {cable} ({worst.pole}) carries "
        f"{top.amps:.4g} A in {top.condition}; "
        f"it may carry {'at most ' if carries.unknown else ''}{carries.high_a:.4g} A",
        remedy=f"{would[0].upper()}{would[1:]}; or {shed}." if would else f"{shed[0].upper()}{shed[1:]}.",
        source=cited(carries.source, carries.from_memory),
        signal_word=NOTICE if carries.from_memory else None,
        consequences=(*_others(over), *carries.derivation),
    )


def _cannot(cable: str, cores: list[Loaded]) -> Iterator[Lacks]:
    at = At("cables", cable)
    for each in cores:
        if each.run.size is None:
            yield Lacks(item=cable, at=at, missing="its size")
            return
        if each.carries is not None and each.carried[0].least > each.carries.low_a * _NEAR:
            for name in each.carries.unknown:
                yield Lacks(item=cable, at=at, missing=_WORDS.get(name, name))
            return


@rule(
    "conductor-overloaded",
    WARNING,
    title="A conductor carries more than it may in an operating condition",
    why="Its insulation ages fast or melts, and what lies beside it with it; the device before it may never open.",
    remedy="Run a larger conductor, or take loads off it.",
    source="33 CFR 183.425 Table 5",
    needs="operating conditions; power or current of loads; size, insulation, route and bundle of every cable",
)
def conductor_overloaded(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Current of every core of a line, positive or negative against its ampacity."""
    return _overloaded(boat, neutral=False)


@rule(
    "neutral-overloaded",
    WARNING,
    title="A neutral conductor carries more than it may in an operating condition",
    why="No device guards a neutral; where circuits share one, it can carry more than any line does.",
    remedy="Give each circuit its own neutral, or spread the loads over the lines.",
    source="33 CFR 183.425 Table 5",
    needs="operating conditions; power or current of loads; size, insulation, route and bundle of every cable",
)
def neutral_overloaded(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """The same for neutral cores, at the solved current."""
    return _overloaded(boat, neutral=True)


# --- bars ------------------------------------------------------------------------------------------


def bus_currents(boat: Boat, place: str) -> list[Carried]:
    """What passes through each bar of a place in each condition, at least, the most first.

    Half of what enters and leaves; with AC, where the currents need not be in step, the largest single one at least.
    """
    network = boat.network
    found = []
    for _, flow in sound(boat):
        for number in network.places.get(place, ()):
            pole = network.terminals[number].pole
            if pole == "PE":
                continue
            each = [flow.amps(link) for link in network.at[number]]
            through = math.fsum(each) / 2 if pole in ("DC+", "DC-") else 0.0
            amps = max(through, max(each, default=0.0))
            if amps > _LEAST_A:
                found.append(_carried(boat, flow, amps, dc=pole in ("DC+", "DC-"), where=pole))
    return _worst(found)


@rule(
    "bus-overloaded",
    WARNING,
    title="A panel's bar or a busbar carries more than its rating in an operating condition",
    why="The bar and its joints run hot, loosen and char what holds them.",
    remedy="Take loads off it, feed some of them from another bar, or fit a larger one.",
    source="the bar's own rating",
    needs="the rating of the bars of every section and busbar; operating conditions",
)
def bus_overloaded(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Sections of panels, and busbars outside of them."""
    rated = [(path, section.rating_a) for path, (_, section) in boat.vessel.sections.items()]
    rated += [(key, device.rating_a) for key, device in boat.vessel.devices.items() if isinstance(device, Busbar)]
    for place, rating in rated:
        carried = bus_currents(boat, place)
        if not carried:
            continue
        if rating is None:
            yield Lacks(item=place, at=boat.at(place), missing="the rating of its bars")
            continue
        yield Open(place) if place in unsummed(boat) else Sound(place)
        over = [each for each in carried if each.least > rating * _NEAR]
        over = [each for n, each in enumerate(over) if each.condition not in {o.condition for o in over[:n]}]
        if over:
            top = over[0]
            yield Says(
                items=(place,),
                at=boat.at(place, "rating"),
                measure=top.least / max(rating, _LEAST_A),
                what=f"the {top.where} bar of {boat.vessel.name_of(place)} carries at least {top.amps:.4g} A in "
                f"{top.condition}; it is rated {rating:g} A",
                consequences=_others(over),
            )


# --- converters ------------------------------------------------------------------------------------


@rule(
    "transfer-overloaded",
    WARNING,
    title="An inverter-charger passes more through than its transfer relay is rated for",
    why="The relay's contacts weld or burn; welded, they leave two sources joined.",
    remedy="Take loads off its output, or set its input limit and the breaker before it to the relay's rating.",
    source="the relay's own rating",
    needs="the rating of the transfer relay; operating conditions in which it passes through",
)
def transfer_overloaded(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Current of each line through the relay in every condition in which it passes power through."""
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, InverterCharger):
            continue
        carried = _worst(
            _carried(boat, flow, flow.amps(number), dc=False, where=boat.network.terminals[link.a].pole)
            for condition, flow in sound(boat)
            if boat.states[condition].positions.get(key) == PASS_THROUGH
            for number, link in enumerate(boat.network.links)
            if link.item == key and link.kind == "contact" and boat.network.terminals[link.a].pole in LINES
        )
        if not carried or carried[0].amps <= _LEAST_A:
            continue
        if device.transfer_a is None:
            yield Lacks(item=key, at=boat.at(key), missing="its transfer rating")
        elif carried[0].least > device.transfer_a * _NEAR:
            top = carried[0]
            over = [each for each in carried if each.least > device.transfer_a * _NEAR]
            over = [each for n, each in enumerate(over) if each.condition not in {o.condition for o in over[:n]}]
            yield Says(
                items=(key,),
                at=boat.at(key, "transfer_rating"),
                measure=top.least / max(device.transfer_a, _LEAST_A),
                what=f"{boat.vessel.name_of(key)} passes {top.amps:.4g} A through on {top.where} in {top.condition}; "
                f"its relay is rated {device.transfer_a:g} A",
                consequences=_others(over),
            )
        else:
            yield Open(key) if key in unsummed(boat) else Sound(key)


@rule(
    "inverter-overloaded",
    WARNING,
    title="An inverter gives more than it can",
    why="It switches off under load or lets its voltage sink, with everything that hangs on it.",
    remedy="Take loads off it in this condition, or shorten and enlarge the conductors that make them draw more.",
    source="the inverter's own rating",
    needs="the rated output of the inverter; operating conditions in which it inverts",
)
def inverter_overloaded(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Apparent power with all losses, where the plain sum of the loads still passes (source-overloaded tells that)."""
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, Inverter | InverterCharger):
            continue
        system = boat.vessel.systems.get(device.system or "")
        given: list[tuple[float, str]] = []
        for condition, flow in sound(boat):
            inverting = isinstance(device, Inverter) or boat.states[condition].positions.get(key) == INVERTING
            lines = [each.amps for each in flow.sources if each.source == key and each.pole in LINES]
            if inverting and lines and system is not None:
                given.append((math.fsum(map(abs, lines)) * system.voltage.line_v, condition))
        given = sorted((each for each in given if each[0] > 1), key=lambda each: (-each[0], each[1]))
        if not given:
            continue
        if device.apparent_va is None:
            yield Lacks(item=key, at=boat.at(key), missing="its rated output")
            continue
        # Where the plain sum tells it already, this rule has nothing to add.
        within = given[0][0] <= device.apparent_va * _NEAR
        yield Sound(key) if within and key not in unsummed(boat) else Open(key)
        over = [each for each in given if each[0] > device.apparent_va * _NEAR and not _summed(boat, key, each[1])]
        if over:
            va, condition = over[0]
            yield Says(
                items=(key,),
                at=boat.at(key, "apparent_power"),
                measure=va / max(device.apparent_va, 1.0),
                what=f"{boat.vessel.name_of(key)} gives {va:.4g} VA in {condition}; it is rated "
                f"{device.apparent_va:g} VA",
                consequences=tuple(f"in {where} {va:.4g} VA" for va, where in over[1:]),
            )


def _summed(boat: Boat, source: str, condition: str) -> bool:
    """Whether the plain sum of loads already exceeds a source's rating there."""
    return any(
        source in each.sources and each.rating_a is not None and each.amps > each.rating_a * _NEAR
        for each in boat.demands[condition].sources
    )


# --- devices under continuous load -----------------------------------------------------------------


@dataclass(frozen=True)
class Lasting:
    """The continuous current through a device, in A, with the loads that make it up."""

    condition: str
    amps: float
    loads: tuple[str, ...]


def _devices_on(boat: Boat, back: WaysBack, load: str, pole: str) -> list[tuple[str, int]]:
    """The overcurrent devices between a load and its source, the nearest first, each with its link."""
    terminal = boat.network.index.get((load, pole))
    links = back.links(terminal) if terminal is not None else None
    on = [(boat.network.links[n].item, n) for n, _ in links or () if boat.network.links[n].protective]
    return list(dict(reversed(on)).items())[::-1]


def _rated(boat: Boat, key: str) -> dict[str, float]:
    """Rated current of a load in each of its live poles."""
    load = boat.vessel.loads[key]
    found: dict[str, float] = {}
    for draw in draws_of(load, boat.vessel.systems.get(load.system or "")):
        for pole in draw.between:
            if pole in (*LINES, "DC+"):
                found[pole] = found.get(pole, 0.0) + (draw.amps or 0.0)
    return found


def lasting(boat: Boat) -> dict[str, list[Lasting]]:
    """What overcurrent devices carry of continuous load: each circuit alone, and every condition's sum."""
    return kept(boat, "_lasting", _lasting)


def _lasting(boat: Boat) -> dict[str, list[Lasting]]:
    found: dict[str, list[Lasting]] = defaultdict(list)
    steady = {key: _rated(boat, key) for key, load in boat.vessel.loads.items() if load.duty == "continuous"}
    everywhere = back_of(boat)
    for key, currents in steady.items():
        for pole, amps in currents.items():
            devices = _devices_on(boat, everywhere, key, pole)
            if devices and devices[0][1] in everywhere.only:
                found[devices[0][0]].append(Lasting("", amps, (key,)))
    for condition, flow in sound(boat):
        asked = boat.vessel.conditions[condition]
        state = boat.states[condition]
        back = ways_back(boat.network, closed_links(boat.network, asked, state), live_sources(state), only=False)
        sums: dict[tuple[str, int], dict[str, float]] = defaultdict(dict)
        for key, demand in asked.demand:
            for pole, amps in steady.get(key, {}).items():
                for device, link in _devices_on(boat, back, key, pole):
                    at = sums[device, link]
                    at[key] = at.get(key, 0.0) + amps * demand.factor
        for (device, link), loads in sums.items():
            # Never more than really flows: ways in parallel share.
            amps = min(math.fsum(loads.values()), flow.amps(link))
            found[device].append(Lasting(condition, amps, tuple(loads)))
    return found


@rule(
    "continuous-load-on-breaker",
    CAUTION,
    title="A device carries a continuous load above the share of its rating that it is made for",
    why="An ordinary breaker or fuse in an enclosure opens below its rating after hours, and its terminals run hot.",
    remedy="Move continuous loads to another circuit, or fit a larger device if its conductors allow it.",
    source="NFPA 70 210.19(A)/210.20(A)",
    needs="the duty, power or current of every load; the rating of every device",
)
def continuous_on_breaker(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """Loads of three hours or more: each alone on its own device, and all that run in a condition on every device."""
    if boat.vessel.about.practice == "international":
        return  # no figure of this practice was read
    rule_ = figure("nec_continuous")
    share = rule_.data["breaker_percent"] / 100
    for device, each in lasting(boat).items():
        rating = device_rating(boat, device)
        if rating is None:
            yield Open(device)  # device-above-ampacity says what is missing
            continue
        yield Open(device) if device in unsummed(boat) else Sound(device)
        over = sorted(
            (one for one in each if one.amps > rating * share * _NEAR), key=lambda one: (-one.amps, one.condition)
        )
        over = [one for n, one in enumerate(over) if one.condition not in {o.condition for o in over[:n]}]
        if over:
            top = over[0]
            when = f"in {top.condition}" if top.condition else "whenever it runs"
            names = ", ".join(boat.vessel.name_of(key) for key in top.loads[:4])
            more = f" and {len(top.loads) - 4} more" if len(top.loads) > 4 else ""
            yield Says(
                items=(device,),
                at=boat.at(device, "rating"),
                measure=top.amps / max(rating * share, _LEAST_A),
                what=f"{boat.vessel.name_of(device)} is rated {rating:g} A and carries {top.amps:.4g} A of continuous "
                f"load {when} ({names}{more}); {share * 100:g} % of it is {rating * share:.4g} A",
                source=rule_.source,
                remedy=_larger_device(boat, device, top.amps / share),
                consequences=tuple(
                    f"{'in ' + one.condition if one.condition else 'alone'} {one.amps:.4g} A" for one in over[1:]
                ),
            )
    yield from _duty_unknown(boat, share)


def _larger_device(boat: Boat, device: str, wanted_a: float) -> str:
    """The device that would carry it, or what stands against it."""
    limits = [each.least.max_rating_a for each in protections_of(boat, device) if each.least]
    larger = next((rating for rating in standard_ratings().amps if rating * _NEAR >= wanted_a), None)
    if larger is None or not limits:
        return "Move continuous loads to another circuit."
    if larger <= min(limits) * _NEAR:
        return f"Move continuous loads to another circuit; or {larger:g} A, which its conductors allow."
    return (
        f"Move continuous loads to another circuit; or {larger:g} A and larger conductors, for those that are there "
        f"allow at most {min(limits):.4g} A."
    )


def _duty_unknown(boat: Boat, share: float) -> Iterator[Lacks | Open]:
    back = back_of(boat)
    for key, load in boat.vessel.loads.items():
        if load.duty is not None or load.use == "engine-cranking":
            continue
        for pole, amps in _rated(boat, key).items():
            devices = _devices_on(boat, back, key, pole)
            yield from (Open(device) for device, _ in devices)  # it may carry more of continuous load than is known
            rating = device_rating(boat, devices[0][0]) if devices else None
            if rating is not None and rating * share * _NEAR < amps:
                yield Lacks(
                    item=key, at=boat.at(key), missing="its duty (continuous or intermittent)", stops=(devices[0][0],)
                )
                break


# --- no solution -----------------------------------------------------------------------------------


@rule(
    "condition-has-no-solution",
    WARNING,
    title="An operating condition cannot exist as it is recorded",
    why="The voltages collapse, sources fight each other, or banks charge each other until all are flat; on board "
    "something trips, burns or never starts.",
    remedy="Correct the condition or the wiring; until then no current or voltage of this condition can be judged.",
    source=COMMON_PRACTICE,
    needs="operating conditions; size and length of cables",
)
def no_solution(boat: Boat) -> Iterator[Says | Sound | Open]:
    """What the solver cannot solve, with the element and the figure; converters that feed each other."""
    found: dict[tuple[str, tuple[str, ...]], list[tuple[str, str]]] = defaultdict(list)
    for condition, flow in boat.flows.items():
        if not flow.troubles and all(_own_batteries(boat, loop) for loop in flow.loops):
            yield Sound(condition)
        for trouble in flow.troubles:
            if _told_as_astray(boat, trouble.items):
                yield Open(condition)
                continue
            found[trouble.kind, trouble.items].append((condition, trouble.text))
    for (kind, items), each in found.items():
        condition, text = each[0]
        yield Says(
            items=items or (condition,),
            at=At("conditions", condition),
            what=f"{condition} has no solution: {text}",
            consequences=(
                "no current or voltage of this condition was judged",
                *(f"in {other}: {words}" for other, words in each[1:]),
            ),
            arguments=(kind,),
        )
    yield from _rings(boat)


def _told_as_astray(boat: Boat, items: Iterable[str]) -> bool:
    """Whether a potential astray comes to one of the items: the condition then fails for what is told of that."""
    heads = {place.split("/", 1)[0] for place in boat.meaningless}
    return any(item.split("/", 1)[0] in heads for item in items)


def _rings(boat: Boat) -> Iterator[Says | Open]:
    """Converters that feed each other in a condition."""
    found: dict[Loop, list[str]] = defaultdict(list)
    for condition, flow in boat.flows.items():
        for loop in flow.loops:
            if _told_as_astray(boat, loop.items):
                yield Open(condition)
            elif not _own_batteries(boat, loop):
                found[loop].append(condition)
    for loop, conditions in found.items():
        yield Says(
            items=loop.items,
            at=At("conditions", conditions[0]),
            what=f"{conditions[0]} cannot last: {loop.text}",
            remedy="Switch one of them off in this condition, or wire it so that nothing comes back to its own input.",
            consequences=(
                "every turn loses power, and the banks run flat while they show charging",
                f"{', '.join(loop.left_out)} left out; the rest of the condition was solved",
                *(f"in {other} too" for other in conditions[1:]),
            ),
            arguments=("loop",),
        )


def _own_batteries(boat: Boat, loop: Loop) -> bool:
    """A charger on the inverter of the bank that it charges: `charger-on-own-batteries` tells that in any position."""
    devices = [boat.vessel.devices[item] for item in loop.items]
    kinds = (BatteryBank, Inverter | InverterCharger, Charger | InverterCharger)
    return len(devices) == len(kinds) and all(
        isinstance(device, kind) for device, kind in zip(devices, kinds, strict=True)
    )
