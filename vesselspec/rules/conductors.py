"""Conductors as such: no thinner than a rule allows, and insulated for the place that they pass."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import Load
from vesselspec.model.items import Cable
from vesselspec.network.graph import CoreRun
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import Lacks, Says, Sound, rule
from vesselspec.rules.findings import CAUTION, WARNING, At
from vesselspec.standards import Figure, figure
from vesselspec.units import Size, parse_size

_INCH_M = 0.0254
_NEAR = 1 + 1e-9
_ELECTRONIC = ("electronics", "navigation")


@rule(
    "conductor-too-small",
    CAUTION,
    title="A conductor is thinner than any on board may be",
    why="It breaks from vibration and at its terminals, and the loose end touches something else.",
    remedy="Exchange it for one of at least the size named.",
    source="33 CFR 183.425; ISO 10133:2012 clause 7",
    needs="the size of a cable's cores, and whether it has a sheath where the size is near the limit",
)
def too_small(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """The thinnest landed core of each cable; what the rules leave out is left out."""
    if boat.vessel.about.practice == "international":
        rules, unit, free_m = figure("iso_10133_conductor_rules"), "mm2", 0.2
    else:
        rules, unit = figure("cfr33_183_425_rules"), "AWG"
        free_m = float(_row(rules, "pigtail")) * _INCH_M
    bare = parse_size(f"{_row(rules, 'smallest conductor installed separately')} {unit}")
    sheathed = parse_size(f"{_row(rules, 'sheath', 'smallest')} {unit}")
    for key, runs in boat.network.runs.items():
        cable = boat.vessel.cables[key]
        landed = [run for run in runs if run.link >= 0]
        sized = [(run.size.mm2, run.size, run) for run in landed if run.size is not None]
        if not sized or (cable.length_m is not None and cable.length_m < free_m):
            continue  # without a size other rules ask for it
        _, size, run = min(sized, key=lambda each: each[0])
        sheath = boat.sheath(cable) if len(runs) > 1 else False
        least = sheathed if sheath or (sheath is None and size.mm2 * _NEAR < sheathed.mm2) else bare
        if size.mm2 * _NEAR >= least.mm2:
            yield Sound(key)
        elif sheath is None and least is bare:
            yield Lacks(item=key, at=At("cables", key), missing="whether it has a sheath")
        else:
            yield _thin(boat, cable, run, size, least, rules, sheath=bool(sheath))


def _row(rules: Figure, *words: str) -> str:
    return str(next(row["value"] for row in rules.data["rows"] if all(word in row["rule"] for word in words)))


def _thin(
    boat: Boat, cable: Cable, run: CoreRun, size: Size, least: Size, rules: Figure, *, sheath: bool
) -> Says | Lacks | Sound:
    for end in (cable.from_, cable.to):
        load = boat.vessel.loads.get(end.split("/", 1)[0])
        if load is not None and load.use in _ELECTRONIC and boat.vessel.about.practice == "north-american":
            amps = _amps(boat, load)
            if amps is None:
                return Lacks(item=load.id, at=At("loads", load.id), missing="its power or current")
            if amps < float(_row(rules, "electronic circuit")):
                return Sound(cable.id)
    where = "in a sheath" if sheath else "on its own" if len(boat.network.runs[cable.id]) == 1 else "without a sheath"
    return Says(
        items=(cable.id,),
        at=boat.core_at(cable.id, run.name),
        what=f"core {run.name} of cable {cable.id} is {size.text}; {where} the smallest allowed is {least.text}",
        source=rules.source,
    )


def _amps(boat: Boat, load: Load) -> float | None:
    if load.current_a is not None:
        return load.current_a
    system = boat.vessel.systems.get(load.system or "")
    return load.power_w / system.voltage.line_v if system is not None and isinstance(load.power_w, float) else None


@rule(
    "insulation-too-cool",
    WARNING,
    title="A cable's insulation is rated no hotter than the place it passes",
    why="It softens before any current flows: cores come through to each other or to metal, and start a fire.",
    remedy="Exchange it for a cable of hotter insulation, or lead it around the place.",
    source="NFPA 70 Table 310.15(B)(1), which prints no current at that ambient",
    needs="the insulation of a cable and the ambient temperature of the spaces on its route",
)
def too_cool(boat: Boat) -> Iterator[Says | Lacks | Sound]:
    """Insulation against the hottest recorded place on the way."""
    for key, cable in boat.vessel.cables.items():
        ambient, rated = boat.ambient(cable), boat.insulation(cable)
        if rated is None:
            if ambient is not None and ambient >= _COOLEST_C:
                yield Lacks(item=key, at=At("cables", key), missing="its insulation temperature")
        elif ambient is not None and boat.softens(cable):
            space = _hottest(boat, cable, ambient)
            yield Says(
                items=(key, space),
                at=At("cables", key),
                what=f"cable {key} has insulation for {rated:g} °C and passes {space}, where it is {ambient:g} °C",
                arguments=(space,),
            )
        elif ambient is not None:
            yield Sound(key)


#: The coolest insulation that a table has, in °C: no place cooler than this can be too hot for a cable.
_COOLEST_C = 60.0


def _hottest(boat: Boat, cable: Cable, ambient_c: float) -> str:
    ends = [boat.vessel.space_of(cable.from_), boat.vessel.space_of(cable.to)]
    spaces = [*(boat.vessel.spaces.get(key) for key in cable.route), *ends]
    return next(space.id for space in spaces if space is not None and space.ambient_c == ambient_c)
