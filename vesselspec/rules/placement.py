"""How far a conductor runs from a source of power before the first overcurrent device."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.devices import Alternator, Inverter, InverterCharger, ShoreInlet, SolarArray
from vesselspec.network.graph import LINES, Emission
from vesselspec.network.outward import Stretch, outward
from vesselspec.physics.conductors.ampacity import LOW_VOLTAGE_V
from vesselspec.physics.loads.demand import rating_of
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import Lacks, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, WARNING, At
from vesselspec.rules.protection import UNKNOWN, core_ampacity, guarded_cores, loaded_conductors, main_feeds
from vesselspec.standards import cited, figure

_LIVE = (*LINES, "DC+")
_INCH_M = 0.0254
_FOOT_M = 0.3048
_NEAR = 1e-9


@dataclass(frozen=True)
class Allowance:
    """How far the first device may be from the source, without a sheath and in one; and by which rule."""

    bare_m: float
    sheathed_m: float
    source: str
    signal_word: str = WARNING
    #: Where another source allows something else, in words.
    contradicts: str = ""


@rule(
    "conductor-unprotected",
    WARNING,
    title="A conductor has no overcurrent device between it and a source",
    why="A chafed or shorted conductor carries all that the source can give until it burns.",
    remedy="Fit a fuse or breaker at the source, within the distance that the rule allows.",
    source="33 CFR 183.455(b), 183.460(a)",
    needs="lengths and sheaths of the cables between every source and its first overcurrent device; whether an "
    "alternator limits itself; the rated output of inverters and solar arrays",
)
def unprotected(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """The distance to the first device along the way from the source, over all the cables that it leads through."""
    behind: set[str] = set()
    for source, (found, hidden) in kept(boat, "_by_source", _by_source).items():
        behind |= hidden
        device = boat.vessel.devices.get(source)
        if found and isinstance(device, Alternator) and device.self_limiting is None:
            yield Lacks(item=source, at=boat.at(source), missing="whether it is self-limiting", stops=_stopped(found))
        else:
            yield from found
    for cable in dict.fromkeys(each.run.cable.id for each in guarded_cores(boat) if not each.cranking):
        if cable not in behind:
            yield Sound(cable)


def _by_source(boat: Boat) -> dict[str, tuple[list[Says | Lacks], set[str]]]:
    """What is to be said of each source, and the cables that lie behind one found wanting."""
    sources: dict[str, list[Emission]] = defaultdict(list)
    for emission in boat.network.emissions:
        if emission.pole in _LIVE:
            sources[emission.source].append(emission)
    exempt = main_feeds(boat)
    return {source: _of_source(boat, emissions, exempt) for source, emissions in sources.items()}


def bare_to(boat: Boat) -> dict[str, set[str]]:
    """The cables of which it is told that no device stands between them and a source, or none near enough."""
    told: dict[str, set[str]] = defaultdict(set)
    for source, (found, hidden) in kept(boat, "_by_source", _by_source).items():
        for cable in (*hidden, *(said.items[0] for said in found if isinstance(said, Says))):
            told[cable].add(source)
    return told


def _is_jumper(boat: Boat, stretch: Stretch) -> bool:
    """Whether a core lies straight between two batteries; the distance alone is asked of it."""
    link = boat.network.links[stretch.link]
    batteries = {e.terminal for e in boat.network.emissions if e.supply == "battery"}
    return {link.a, link.b} <= batteries


def _stopped(found: list[Says | Lacks]) -> tuple[str, ...]:
    """The cables that nobody can judge for as long as a source is not known."""
    return tuple(dict.fromkeys(c for each in found for c in (each.items[:1] if isinstance(each, Says) else each.stops)))


_Told = dict[str, Says | Lacks]


def _of_source(boat: Boat, emissions: list[Emission], exempt: set[int]) -> tuple[list[Says | Lacks], set[str]]:
    """What is to be said of one source, each cable once, and the cables that only lie behind one found wanting."""
    told: _Told = {}
    ways: set[str] = set()
    hidden: dict[str, dict[str, None]] = defaultdict(dict)
    for emission in emissions:
        if _limits_itself(boat, emission):
            continue
        beyond: dict[Stretch, str] = {}
        reached = outward(boat.network, emission, exempt)
        for stretch in reached.stretches:
            cable = stretch.run.cable.id
            cause = beyond.get(stretch.before) if stretch.before is not None else None
            if cause is not None:
                beyond[stretch] = cause
                if cable != cause:
                    hidden[cause][cable] = None
                continue
            fits = _cannot_overload(boat, emission, stretch)
            if fits is True:
                continue
            said = fits or _judged(
                boat, emission, stretch, leads=stretch.link in reached.leading or _is_jumper(boat, stretch)
            )
            if isinstance(said, Says):
                beyond[stretch] = cable
                told[cable] = said
                ways.update(each.run.cable.id for each in stretch.way)
            elif said is not None:
                told.setdefault(said.item + said.missing, said)
    every = [_with_behind(said, tuple(hidden.get(key, ()))) for key, said in told.items()]
    every = [said for said in every if isinstance(said, Says) or said.item not in ways]
    return every, {cable for cables in hidden.values() for cable in cables}


def _with_behind(said: Says | Lacks, cables: tuple[str, ...]) -> Says | Lacks:
    if isinstance(said, Lacks) or not cables:
        return said
    more = f"the same holds for {', '.join(cables)} behind it"
    return Says(
        items=said.items,
        at=said.at,
        what=said.what,
        source=said.source,
        signal_word=said.signal_word,
        consequences=(*said.consequences, more),
        measure=said.measure,
    )


def _limits_itself(boat: Boat, emission: Emission) -> bool:
    """Whether a source cannot overload any conductor that was chosen for it."""
    device = boat.vessel.devices.get(emission.source)
    if isinstance(device, Alternator):
        return device.self_limiting is True
    # Chargers and converters limit their own output: common practice, no source.
    return emission.supply == "charging" and not isinstance(device, SolarArray)


def _cannot_overload(boat: Boat, emission: Emission, stretch: Stretch) -> bool | Lacks | None:
    """Whether an inverter or solar array cannot give more than the conductor carries; None where it can."""
    device = boat.vessel.devices.get(emission.source)
    if isinstance(device, SolarArray):
        limit = device.short_circuit_a
    elif isinstance(device, Inverter | InverterCharger):
        of = [e for e in boat.network.emissions if e.source == device.id and e.supply == "inverter"]
        system = boat.vessel.systems.get(emission.system or "")
        limit = rating_of(device, system, sum(e.pole in LINES for e in of))
    else:
        return None
    if limit is None:
        return Lacks(item=device.id, at=boat.at(device.id), missing="its rated output", stops=(stretch.run.cable.id,))
    cable = stretch.run.cable.id
    at = At("cables", cable)
    if stretch.run.size is None:
        return Lacks(item=cable, at=at, missing="its size")
    carries = core_ampacity(boat, stretch.run, emission.volts, loaded_conductors(boat)[cable])
    if carries is not None and carries.low_a < limit <= carries.high_a:
        return Lacks(item=cable, at=at, missing=UNKNOWN.get(carries.unknown[0], carries.unknown[0]))
    return True if carries is not None and carries.low_a >= limit else None


# --- distances ---------------------------------------------------------------------------------


def _allowances(boat: Boat, emission: Emission, *, tapped: bool) -> tuple[Allowance, ...]:
    """The distances that apply, the one that decides first."""
    abroad = boat.vessel.about.practice == "international"
    if isinstance(boat.vessel.devices.get(emission.source), ShoreInlet):
        inlet = figure("shore_inlet_distance")
        most = float(inlet.data["max_ft"]) * _FOOT_M
        return (Allowance(most, most, cited(inlet.source, inlet.from_memory), CAUTION),)
    if emission.volts >= LOW_VOLTAGE_V:
        return (_by_sheath("abyc_ac_placement", CAUTION if abroad else WARNING),)
    battery = emission.supply == "battery" and not tapped
    if abroad:
        iso = figure("iso_10133_placement")
        bare, covered = (float(length) / 1000 for length in iso.data["max_distance_mm"])
        return (Allowance(bare, covered if battery else bare, iso.source, CAUTION),)
    if not battery:
        return (_by_sheath("cfr33_183_455_placement", WARNING),)
    cfr, abyc = figure("cfr33_183_460a_battery"), figure("abyc_7_40_72")
    most = float(cfr.data["max_distance_in"]) * _INCH_M
    bare, _, covered = (float(row["max_distance_in"]) * _INCH_M for row in abyc.data["rows"])
    words = f"{cfr.source} allows {cfr.data['max_distance_in']} in from a battery without a sheath"
    return Allowance(most, most, cfr.source), Allowance(bare, covered, abyc.source, CAUTION, words)


def _by_sheath(of: str, signal_word: str) -> Allowance:
    found = figure(of)
    *_, bare, covered = sorted(float(row["max_distance_in"]) * _INCH_M for row in found.data["rows"])
    return Allowance(bare, covered, found.source, signal_word)


def _judged(boat: Boat, emission: Emission, stretch: Stretch, *, leads: bool) -> Says | Lacks | None:
    """What the distance to the far end of a stretch comes to."""
    allowances = _allowances(boat, emission, tapped=stretch.tapped)
    cable = stretch.run.cable
    name = boat.vessel.name_of(emission.source)
    if not leads:
        return Says(
            items=(cable.id, emission.source),
            at=At("cables", cable.id),
            what=f"cable {cable.id} is fed by {name}, and no overcurrent device stands before it or behind it",
            source=allowances[0].source if allowances[0].signal_word == WARNING else None,
        )
    sheaths = [boat.sheath(each.run.cable) for each in stretch.way]
    sheathed = False if False in sheaths else None if None in sheaths else True
    for allowed in allowances:
        most = allowed.bare_m if sheathed is False else allowed.sheathed_m
        if stretch.metres > most + _NEAR:
            return _too_far(name, emission, stretch, allowed, allowed.sheathed_m if sheathed else allowed.bare_m)
    for allowed in allowances:
        if sheathed is None and stretch.metres > allowed.bare_m + _NEAR:
            bare = next(each.run.cable.id for each in stretch.way if boat.sheath(each.run.cable) is None)
            return Lacks(item=bare, at=At("cables", bare), missing="whether it has a sheath", stops=(cable.id,))
    if stretch.unmeasured:
        first = stretch.unmeasured[0]
        return Lacks(item=first, at=At("cables", first), missing="its length", stops=(cable.id,))
    return None


def _too_far(name: str, emission: Emission, stretch: Stretch, allowed: Allowance, most: float) -> Says:
    cable = stretch.run.cable
    least = "at least " if stretch.unmeasured else ""
    told = []
    if len(stretch.way) > 1:
        along = [
            f"{each.run.cable.id} ({f'{each.run.cable.length_m:.3g} m' if each.run.cable.length_m else 'not recorded'})"
            for each in stretch.way
        ]
        told.append(f"the way there is {', '.join(along)}")
    if stretch.tapped:
        told.append("measured from where it leaves the feed of a cranking motor, which is exempt")
    if allowed.contradicts:
        told.append(allowed.contradicts)
    return Says(
        items=(cable.id, emission.source),
        at=At("cables", cable.id),
        what=f"cable {cable.id} is fed by {name} with no overcurrent device between them over "
        f"{least}{stretch.metres:.3g} m; {most:.3g} m ({most / _INCH_M:.0f} in) is allowed",
        source=allowed.source,
        signal_word=allowed.signal_word,
        consequences=tuple(told),
        measure=stretch.metres / most,
    )
