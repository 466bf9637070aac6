"""What is fitted: covers, meters and signs of panels, studs, and devices where petrol vapour gathers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from vesselspec.model.devices import (
    Alternator,
    BatteryBank,
    Breaker,
    Charger,
    ChargeSplitter,
    DcConverter,
    Device,
    EarthPoint,
    Fuse,
    Generator,
    Inverter,
    InverterCharger,
    Load,
    Receptacles,
    ResidualCurrentSwitch,
    Selector,
    ShoreInlet,
    SolarController,
    Switch,
    _InLine,
)
from vesselspec.model.items import Panel, Space
from vesselspec.network.graph import LINES
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Lacks, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, NOTICE, WARNING, At
from vesselspec.standards import figure

_FITTED = "what is fitted to it"


def _kinds(boat: Boat, panel: Panel) -> set[bool]:
    """Whether the sections of a panel are DC."""
    systems = [boat.vessel.section_system(panel, section) for section in panel.sections]
    return {system.is_dc for system in systems if system is not None}


@rule(
    "ac-parts-within-reach",
    CAUTION,
    title="Live AC parts of a panel can be touched",
    why="Behind the panel, or beside the DC wiring that is thought harmless, whoever reaches in touches bare terminals "
    "at mains voltage.",
    remedy="Fit a rear cover that only a tool opens, and a barrier between the AC and the DC half.",
    source=COMMON_PRACTICE,
    needs="what is fitted to a panel with AC in it",
)
def within_reach(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """AC panels without a rear cover, and AC beside DC without a barrier."""
    for key, panel in boat.vessel.panels.items():
        kinds = _kinds(boat, panel)
        if False not in kinds:
            continue
        if panel.fitted is None:
            yield Lacks(item=key, at=At("panels", key), missing=_FITTED)
            continue
        missing = [] if "rear-cover" in panel.fitted else ["no cover over the back of its AC parts"]
        if kinds == {False, True} and "ac-dc-barrier" not in panel.fitted:
            missing.append("no barrier between its AC and DC parts")
        if missing:
            yield Says(
                items=(key,),
                at=At("panels", key, ("fitted",)),
                what=f"{boat.vessel.name_of(key)} has {' and '.join(missing)}",
                arguments=tuple(word for word in ("rear-cover", "ac-dc-barrier") if word not in panel.fitted)
                if kinds == {False, True}
                else ("rear-cover",),
            )
        else:
            yield Sound(key)


@rule(
    "several-sources-unmarked",
    NOTICE,
    title="No sign says that a panel has several supplies",
    why="With one main open, parts behind the same cover are still live from the other.",
    remedy="Put a sign on the cover that names every circuit to be disconnected before it is opened.",
    source="46 CFR 183.220",
    needs="what is fitted to a panel with several mains, and the duty of its ways",
)
def several_sources(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Panels with AC in them and with more than one main."""
    for key, panel in boat.vessel.panels.items():
        mains = [
            f"{key}/{section.id}/{way.id}"
            for section in panel.sections
            for way in section.ways
            if way.duty == "main" and way.device != "blank" and not way.spare
        ]
        if len(mains) < 2 or False not in _kinds(boat, panel):
            continue
        if panel.fitted is not None and "several-sources-sign" in panel.fitted:
            yield Sound(key)
        elif panel.fitted is None:
            yield Lacks(item=key, at=At("panels", key), missing=_FITTED)
        else:
            yield Says(
                items=(key,),
                at=At("panels", key, ("fitted",)),
                what=f"{boat.vessel.name_of(key)} is fed through {len(mains)} mains ({', '.join(mains)}), "
                "and no sign on it names them",
                source=figure("cfr46_183_220").source,
            )


_METERS = ("ammeter", "voltmeter")


@rule(
    "source-without-meters",
    NOTICE,
    title="No panel shows the voltage and the current of an AC supply",
    why="Nobody sees that a generator or a pedestal runs at a wrong voltage, or how near it is to its limit.",
    remedy="Fit an ammeter and a voltmeter where its supply comes in.",
    source="46 CFR 183.320 for generators; for shore common practice, no source",
    needs="what is fitted to the panels that a shore inlet or generator feeds",
)
def without_meters(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Shore inlets and generators that feed panels, none of which has both meters."""
    reached: dict[str, dict[str, None]] = defaultdict(dict)
    behind = _behind_transformers(boat)
    for path, (panel, _) in boat.vessel.sections.items():
        for pole in LINES:
            number = boat.network.index.get((path, pole))
            for arrival in boat.reach.at(number) if number is not None else ():
                for source in behind.get(arrival.emission.source, (arrival.emission.source,)):
                    reached[source][panel.id] = None
    lacking: dict[str, list[str]] = defaultdict(list)
    for source, panels in sorted(reached.items()):
        if not isinstance(boat.vessel.devices.get(source), ShoreInlet | Generator):
            continue
        fitted = {key: boat.vessel.panels[key].fitted for key in panels}
        unknown = [key for key, words in fitted.items() if words is None]
        if any(set(_METERS) <= set(words or ()) for words in fitted.values()):
            yield Sound(source)
        elif unknown:
            yield Lacks(item=unknown[0], at=At("panels", unknown[0]), missing=_FITTED)
        else:
            most = max(fitted, key=lambda key: len(set(_METERS) & set(fitted[key] or ())))
            lacking[most].append(source)
    for panel_id, sources in lacking.items():
        has = boat.vessel.panels[panel_id].fitted or ()
        generators = any(isinstance(boat.vessel.devices[source], Generator) for source in sources)
        yield Says(
            items=(panel_id, *sources),
            at=At("panels", panel_id, ("fitted",)),
            what=f"{boat.vessel.name_of(panel_id)} is fed from {', '.join(sources)} and has no "
            f"{' and no '.join(word for word in _METERS if word not in has)}; no other panel on the way has both",
            source=figure("cfr46_183_320").source if generators else COMMON_PRACTICE,
        )


def _behind_transformers(boat: Boat) -> dict[str, tuple[str, ...]]:
    """For each isolation transformer the sources that reach its primary, through other transformers too."""
    fed = {
        key: {a.emission.source for number in primary for a in boat.reach.at(number) if a.emission.pole in LINES}
        - {key}
        for key, (primary, _) in boat.network.transformers.items()
    }
    for _ in fed:  # as many times as there can be transformers in a row
        for sources in fed.values():
            sources |= {far for near in sources & fed.keys() for far in fed[near]}
    return {key: tuple(sorted(sources)) for key, sources in fed.items()}


@rule(
    "stud-overloaded",
    NOTICE,
    title="More terminals are stacked on a stud than it may hold",
    why="A high stack of terminals works loose, and the loose one heats until it burns.",
    remedy="Land them on a busbar, and lead one conductor from it to the stud.",
    source="ABYC E-11 terminal rule (quoted publicly)",
    needs="the cables of a battery, switch, fuse or earth point; the strings of a battery with many",
)
def studs(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Terminals that are a single stud; bars and terminal blocks have many and are left out."""
    rules = figure("terminals_per_stud")
    most = int(rules.data["value"])
    mounted: dict[str, list[str]] = defaultdict(list)
    for key, device in boat.vessel.devices.items():
        if isinstance(device, _InLine) and device.mounted_on is not None:
            mounted[device.mounted_on].append(key)
    for key, device in boat.vessel.devices.items():
        if not _single_studs(device):
            continue
        worst: Says | Lacks | None = None
        for number in boat.network.within(key):
            terminal = boat.network.terminals[number]
            cores = [boat.network.links[n] for n in boat.network.at[number] if boat.network.links[n].kind == "core"]
            stack = [*dict.fromkeys(link.item for link in cores), *mounted[terminal.name]]
            count = len(cores) + len(mounted[terminal.name])
            if count <= most * (device.strings or 1 if isinstance(device, BatteryBank) else 1):
                continue
            if isinstance(device, BatteryBank) and device.strings is None:
                worst = Lacks(item=key, at=boat.at(key), missing="how many strings it has")
                continue
            yield Says(
                items=(key, *stack),
                at=boat.at(key),
                what=f"{count} terminals are on {terminal.name}: {', '.join(stack)}; at most {most} may be on one stud",
                source=rules.source,
                arguments=(terminal.name,),
            )
            break
        else:
            yield worst if worst is not None else Sound(key)


def _single_studs(device: Device) -> bool:
    if isinstance(device, EarthPoint):
        return device.duty in ("engine-block", "hull", "ground-plate", "zinc")
    return isinstance(device, BatteryBank | Switch | Breaker | Fuse | Selector | Alternator | ChargeSplitter)


@rule(
    "auto-start-without-lockout",
    WARNING,
    title="Nothing is named that keeps a generator from starting by itself",
    why="It starts while somebody has their hands in it, or in a panel that they have just proved dead.",
    remedy="Fit what inhibits the start and can be locked, or find it where it is there already; record it in "
    "`auto_start_lockout`, and put a sign on the set.",
    source=COMMON_PRACTICE,
    needs="whether a generator can start by itself, and where that is inhibited",
    guards_life=True,
)
def without_lockout(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Generators with `auto_start: true` and no `auto_start_lockout`."""
    for key, device in boat.vessel.devices.items():
        if not isinstance(device, Generator):
            continue
        if device.auto_start is None and not device.auto_start_lockout:
            yield Lacks(item=key, at=boat.at(key), missing="whether it can start by itself")
        elif device.auto_start and not device.auto_start_lockout:
            yield Says(
                items=(key,),
                at=boat.at(key, "auto_start"),
                what=f"{boat.vessel.name_of(key)} can start by itself, and nothing is recorded that inhibits it",
            )
        else:
            yield Sound(key)


# --- where petrol vapour gathers -----------------------------------------------------------------------

_SPARKING = (
    Alternator,
    Breaker,
    Charger,
    DcConverter,
    Fuse,
    Generator,
    Inverter,
    InverterCharger,
    Receptacles,
    ResidualCurrentSwitch,
    Selector,
    SolarController,
    Switch,
)
_MOTORS = (
    "air-conditioning",
    "bilge-blower",
    "bilge-pump",
    "engine-cranking",
    "laundry",
    "pump",
    "refrigeration",
    "thruster",
    "windlass",
)


@rule(
    "not-ignition-protected",
    WARNING,
    title="A device that can spark stands where petrol vapour gathers",
    why="Its spark sets off the vapour: the boat explodes.",
    remedy="Ventilate, disconnect it before the engine is started or fuel is taken, and move it out of the space or "
    "exchange it for one that is marked as ignition protected.",
    source="33 CFR 183.410",
    needs="whether a device, panel or motor is marked as ignition protected",
    guards_life=True,
)
def ignition(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Switching devices, converters, panels and motors in spaces with petrol vapour."""
    vessel = boat.vessel
    unknown: dict[str, list[str]] = defaultdict(list)
    items: dict[str, Device | Panel] = {**vessel.devices, **vessel.panels, **vessel.loads}
    for key, item in items.items():
        space = vessel.spaces.get(item.space or "")
        if space is None or not _vapour(boat, space):
            continue
        motor = isinstance(item, Load) and (item.motor or item.use in _MOTORS)
        if not isinstance(item, Panel) and not isinstance(item, _SPARKING) and not motor:
            continue
        if item.ignition_protected is None:
            unknown[space.id].append(key)
        elif item.ignition_protected:
            yield Sound(key)
        else:
            yield Says(
                items=(key, space.id),
                at=boat.at(key, "ignition_protected"),
                what=f"{vessel.name_of(key)} is not ignition protected and stands in {space.id}, where petrol vapour "
                "can gather",
                source=figure("cfr33_183_410").source,
            )
    for where, keys in sorted(unknown.items()):  # one line a space: whoever goes there looks at all of them
        yield Lacks(
            item=where, at=At("spaces", where), missing=f"what of this is ignition protected: {', '.join(keys)}"
        )


def _vapour(boat: Boat, space: Space) -> bool:
    """Where the record says so, and around petrol engines; with both fuels on board, only where it says so."""
    return space.fuel_vapour or (space.engine_space and boat.vessel.about.fuel == "petrol")
