"""Use of sources: which load may be fed from what, and whether the sources can carry the loads."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import Charger, Device, Load, _OneSide
from vesselspec.model.items import UNTRACED
from vesselspec.network.graph import LINES
from vesselspec.network.reach import Arrival
from vesselspec.physics.loads.demand import SourceDemand
from vesselspec.rules.boat import Boat, kept
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Open, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING, At
from vesselspec.rules.gathered import gathered
from vesselspec.rules.potentials import charger_loop, joints

#: Loads that drain a battery fast and can wait for shore or generator. Common practice, no source.
HUNGRY_USES = ("water-heating", "space-heating")
_MOST_DRAWS = 4
_LEAST_A = 0.01  # what a rating of nothing is reckoned as, so that a share of it is a number


def _fed_by(boat: Boat, place: str) -> dict[str, tuple[Arrival, int]]:
    """For each kind of supply that can reach a place, one arrival there and the terminal."""
    found: dict[str, tuple[Arrival, int]] = {}
    for pole in (*LINES, "DC+"):
        terminal = boat.network.index.get((place, pole))
        if terminal is None:
            continue
        for arrival in boat.reach.at(terminal):
            if arrival.emission.pole == pole or (pole in LINES and arrival.emission.pole in LINES):
                found.setdefault(arrival.emission.supply, (arrival, terminal))
    return found


def _says(boat: Boat, key: str, found: tuple[Arrival, int], what: str, remedy: str | None = None) -> Says:
    arrival, terminal = found
    way = boat.reach.witness(arrival, terminal)
    return Says(
        items=(key,),
        at=boat.at(key, "only_from"),
        what=what,
        remedy=remedy,
        witness=boat.told(way),
        positions=boat.positions(way.needs),
    )


@rule(
    "supply-not-allowed",
    WARNING,
    title="A load can be fed by a supply that it is barred from",
    why="The load was put on a list for a reason: on an inverter it flattens the battery, trips the inverter, or is "
    "damaged by it.",
    remedy="Move the circuit to a section that only the allowed supplies feed.",
    source=COMMON_PRACTICE,
    needs="`only_from` of loads; sections, sources and the cables between them",
)
def supply_not_allowed(boat: Boat) -> Iterator[Says | Sound]:
    """A load marked shore-or-generator-only that an inverter can reach, say. Loads behind one bridge are told once."""
    bridges = [bridge for bridge in kept(boat, "_joints", joints) if bridge in boat.vessel.cables]
    behind: dict[tuple[str, str], list[tuple[str, tuple[Arrival, int]]]] = {}
    for key, load in boat.vessel.loads.items():
        if not load.only_from:
            continue
        fed = _fed_by(boat, key)
        if fed:
            yield Sound(key)
        for supply, found in fed.items():
            if supply in ("shore", "generator", "inverter", "battery") and supply not in load.only_from:
                source = found[0].emission.source
                way = boat.reach.witness(*found)
                over = {boat.network.links[step.link].item for step in way.steps if step.link >= 0}
                bridge = next((each for each in bridges if each in over), None)
                if bridge is not None:
                    behind.setdefault((bridge, source), []).append((key, found))
                    continue
                yield _says(
                    boat,
                    key,
                    found,
                    f"{boat.vessel.name_of(key)} may be fed only from {' or '.join(load.only_from)}, "
                    f"and {boat.vessel.name_of(source)} can feed it",
                )
    for (bridge, source), loads in behind.items():
        names = ", ".join(boat.vessel.name_of(key) for key, _ in loads)
        way = boat.reach.witness(*loads[0][1])
        yield Says(
            items=(bridge, *(key for key, _ in loads)),
            at=boat.at(bridge),
            what=f"over cable {bridge}, {boat.vessel.name_of(source)} can feed loads that are barred from it: {names}",
            witness=boat.told(way),
            positions=boat.positions(way.needs),
            arguments=(source,),
        )


@rule(
    "hungry-load-on-inverter",
    CAUTION,
    title="A heater or charger can run from an inverter",
    why="Water heaters, space heaters and battery chargers flatten the bank behind an inverter within minutes to "
    "hours, often with nobody there to see it.",
    remedy="Put it on a section that only shore or a generator feeds, or write into `only_from` that the inverter "
    "is allowed and why into `note`.",
    source=COMMON_PRACTICE,
    needs="the use of every load; `only_from` where the inverter is meant; sections and sources",
)
def hungry_on_inverter(boat: Boat) -> Iterator[Says | Sound]:
    """Water heaters and chargers belong on shore or generator."""
    candidates: list[tuple[str, str]] = [
        (key, key) for key, load in boat.vessel.loads.items() if load.use in HUNGRY_USES and not load.only_from
    ]
    worse = {said.items[0] for said in charger_loop(boat) if isinstance(said, Says)}  # told there already
    candidates += [
        (key, f"{key}/ac")
        for key, device in boat.vessel.devices.items()
        if isinstance(device, Charger) and key not in worse
    ]
    for key, place in candidates:
        yield Sound(key)
        found = _fed_by(boat, place).get("inverter")
        if found is not None:
            source = boat.vessel.name_of(found[0].emission.source)
            remedy = "Put it on a section that only shore or a generator feeds." if place != key else None
            yield _says(boat, key, found, f"{boat.vessel.name_of(key)} can be fed by {source}", remedy)


@rule(
    "source-overloaded",
    WARNING,
    title="A source has to supply more than its rating",
    why="The source trips and takes everything with it, or overheats where it does not trip.",
    remedy="Shed loads in this condition, lower what runs at the same time, or move circuits to another source.",
    source="electric load analysis over demand factors; the source's own rating",
    needs="operating conditions with demand; power or current and power factor of loads; the rating of sources",
)
def source_overloaded(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Sum over demand factors against the rating, on every pole in every condition; one finding for each source."""
    over: dict[tuple[str, ...], list[tuple[str, SourceDemand]]] = {}
    for condition, demands in boat.demands.items():
        for each in demands.sources:
            yield from map(Sound, each.sources)  # unless it is amiss or unknown in any condition
            if each.rating_a is None:
                for source in each.sources:
                    yield Lacks(item=source, at=boat.at(source), missing="its rating")
            elif each.amps > each.rating_a * (1 + 1e-9):
                over.setdefault(each.sources, []).append((condition, each))
            else:
                for item, field in each.unknown:
                    missing = field.replace("_", " ")
                    yield Lacks(item=item, at=boat.at(item), missing=missing, stops=each.sources)
    for sources, several in over.items():
        yield _overloaded(boat, sources, several)


def _overloaded(boat: Boat, sources: tuple[str, ...], several: list[tuple[str, SourceDemand]]) -> Says:
    """One source in all conditions and on all poles in which it is too small, the worst first."""
    several = sorted(several, key=lambda one: -_share(one[1]))
    (condition, worst), *others = several
    names = " with ".join(boat.vessel.name_of(source) for source in sources)
    draws = [f"{boat.vessel.name_of(d.item)} {d.amps:.1f} A" for d in worst.draws[:_MOST_DRAWS]]
    kept = sum(d.amps for d in worst.draws if _essential(boat, d.item))
    poles = (f"{source}:{each.pole}" for source in sources for _, each in several)
    nothing = (worst.rating_a or 0.0) * (1 + 1e-9) < kept
    return Says(
        items=(*sources, *dict.fromkeys(condition for condition, _ in several), *dict.fromkeys(poles)),
        group=sources,
        culprits=sources,
        at=boat.at(sources[0], "rating"),
        what=f"in {condition} the loads on {worst.pole} of {names} add up to {_sum(worst)}; it is rated "
        f"{worst.rating_a:g} A",
        consequences=(
            "largest: " + ", ".join(draws),
            *([f"nothing is left to shed: what safety depends on takes {kept:.1f} A of it"] * nothing),
            *(f"in {where} {_sum(each)} on {each.pole}, of {each.rating_a:g} A" for where, each in others),
        ),
        measure=_share(worst),
    )


def _sum(demand: SourceDemand) -> str:
    return f"{'at least ' if demand.unknown else ''}{demand.amps:.1f} A"


def _share(demand: SourceDemand) -> float:
    """The demand as a share of the rating."""
    return demand.amps / max(demand.rating_a or 0.0, _LEAST_A)


def _essential(boat: Boat, item: str) -> bool:
    load = boat.vessel.loads.get(item)
    return load is not None and load.essential


@rule(
    "load-not-fed",
    NOTICE,
    title="A load is meant to run in a condition in which nothing feeds it",
    why="Either the condition or the wiring is recorded wrongly, and the load sums of that condition are too low.",
    remedy="Correct the condition's running sources and positions, or the load's circuit.",
    source="this program",
    needs="operating conditions with running sources, positions and demand",
)
def load_not_fed(boat: Boat) -> Iterator[Says | Lacks | Sound | Open]:
    """A load in demand with no running source behind it; a position that nobody wrote down."""
    unfed: dict[str, list[str]] = {}
    lost = _lost_otherwise(boat)
    for condition, demands in boat.demands.items():
        state = boat.states[condition]
        if not state.gaps:
            yield from (Sound(key) for key, _ in boat.vessel.conditions[condition].demand)
        for item, missing in state.gaps:
            yield Lacks(item=condition, at=At("conditions", condition, ("positions",)), missing=f"{missing} ({item})")
        for key in () if state.gaps else demands.unfed:  # with a position missing, that may be the only reason
            if key in lost:
                yield Open(key)
            else:
                unfed.setdefault(key, []).append(condition)
    told = (
        (
            key,
            Says(
                items=(key, *conditions),
                at=At("conditions", conditions[0], ("demand", key)),
                what=f"{boat.vessel.name_of(key)} runs in {', '.join(conditions)}, "
                "and no source that runs there reaches it",
            ),
        )
        for key, conditions in unfed.items()
    )
    yield from gathered(
        boat, told, "{items} of {section} run in conditions in which no source that runs there reaches them"
    )


def _lost_otherwise(boat: Boat) -> set[str]:
    """Loads and devices that lack a supply for a cause told by itself: a potential astray comes to them, or a cable of
    theirs ends nowhere or nobody knows where."""
    found = {place for places in boat.strays.values() for place in places}
    for each in boat.network.unlanded:
        found |= {each.meant, each.clash}
    for run in boat.network.cores:
        if UNTRACED in (run.core.from_, run.core.to, run.cable.from_, run.cable.to):
            found |= {run.cable.from_, run.cable.to}
    return {place.split("/", 1)[0] for place in found}


@rule(
    "load-never-counted",
    NOTICE,
    title="A load appears in no operating condition",
    why="No load sum counts it, so it can overload a source that the survey calls sound.",
    remedy="List it with its demand factor in every condition in which it may run.",
    source="electric load analysis counts every load",
    needs="operating conditions with the demand of every load",
)
def load_never_counted(boat: Boat) -> Iterator[Says | Sound]:
    """A load that no condition lists."""
    if not boat.vessel.conditions:
        return
    counted = {key for condition in boat.vessel.conditions.values() for key, _ in condition.demand}
    for key, load in boat.vessel.loads.items():
        yield Sound(key)
        if key not in counted and load.use != "engine-cranking":
            yield Says(items=(key,), at=boat.at(key), what=f"{boat.vessel.name_of(key)} is in no operating condition")


@rule(
    "voltage-contradicts-system",
    WARNING,
    title="A device has poles that its system does not have",
    why="The entry contradicts itself, so nothing that is computed for it can be trusted.",
    remedy="Correct its `system` or its `poles`.",
    source="this program",
    needs="the system and poles of devices, loads and ways",
)
def poles_not_of_system(boat: Boat) -> Iterator[Says | Sound]:
    """A load with DC poles on an AC system, a third line on a single-phase system, and the like."""
    everything: list[tuple[str, Device | Load]] = [*boat.vessel.devices.items(), *boat.vessel.loads.items()]
    for key, device in everything:
        for side in device.sides(boat.vessel.systems):
            system = boat.vessel.systems.get(side.system or "")
            if system is not None:
                yield Sound(key)
            wrong = [pole for pole in side.poles if system is not None and pole not in (*system.poles, "PE")]
            if wrong and system is not None:
                field = "poles" if isinstance(device, _OneSide) and device.poles else "system"
                yield Says(
                    items=(key,),
                    at=boat.at(key, field),
                    what=f"{boat.vessel.name_of(key)} has pole {', '.join(wrong)}, which {system.id} "
                    f"({system.voltage.text}) does not have",
                )
    for path, (panel, section, way) in boat.vessel.ways.items():
        system = boat.vessel.section_system(panel, section)
        if system is not None:
            yield Sound(path)
        wrong = [pole for pole in way.poles if system is not None and pole not in (*system.poles, "PE")]
        if wrong and system is not None:
            yield Says(
                items=(path,),
                at=boat.at(path, "poles"),
                what=f"way {path} opens {', '.join(wrong)}, which {system.id} ({system.voltage.text}) does not have",
            )
