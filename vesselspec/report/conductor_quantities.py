"""The quantities of conductors: what they may carry, what may protect them, what they resist."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec import units
from vesselspec.model.devices import Breaker, Fuse
from vesselspec.network.graph import CoreRun
from vesselspec.physics.conductors.ampacity import Ampacity
from vesselspec.physics.conductors.drop import formula
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.conductors.protection import device_limit
from vesselspec.physics.conductors.sizing import Step
from vesselspec.report.derivation import Derivation, Input, input_at, quantity
from vesselspec.report.quantity_inputs import cable_field, length_input, pole_of, runs, size_input
from vesselspec.rules import Boat
from vesselspec.rules.protection import core_ampacity, device_rating, guarded_cores, loaded_conductors, protections

_WORDS = {"insulation": "its insulation temperature", "space": "its route", "bundle": "what it is bundled with"}


def _surroundings(boat: Boat, run: CoreRun, volts: float) -> tuple[Input, ...]:
    cable, insulation, space = run.cable, boat.insulation(run.cable), boat.in_engine_space(run.cable)
    lying = loaded_conductors(boat).get(cable.id, 1)
    return (
        size_input(boat, run),
        input_at(
            boat,
            "insulation",
            None if insulation is None else units.show("temperature", insulation),
            cable.id,
            at=cable_field(boat, run, "insulation"),
        ),
        input_at(boat, "engine space", None if space is None else "yes" if space else "no", cable.id, "route"),
        *(
            ()
            if (ambient := boat.ambient(cable)) is None
            else (input_at(boat, "hottest place on its way", units.show("temperature", ambient), cable.id, "route"),)
        ),
        input_at(boat, "current-carrying conductors together", str(max(lying, 1)), cable.id, "bundle"),
        input_at(boat, "nominal voltage", f"{volts:g} V", cable.id),
        Input("practice", boat.vessel.about.practice, "vessel", "vessel.yaml"),
    )


def _carried(boat: Boat, cable: str) -> Iterator[tuple[CoreRun, float, Ampacity | None]]:
    for each in guarded_cores(boat):
        if each.run.cable.id == cable:
            yield each.run, each.volts, core_ampacity(boat, each.run, each.volts, loaded_conductors(boat)[cable])


def _unknown(run: CoreRun, carries: Ampacity | None) -> tuple[tuple[str, str], ...]:
    if run.size is None:
        return ((run.cable.id, "its size"),)
    return () if carries is None else tuple((run.cable.id, _WORDS.get(each, each)) for each in carries.unknown)


@quantity("ampacity", "the current that a conductor may carry")
def ampacity_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """Each live core of a cable."""
    for run, volts, carries in _carried(boat, item):
        steps = (
            () if carries is None else tuple(Step(x, carries.source, carries.from_memory) for x in carries.derivation)
        )
        notes = () if carries is not None or run.size is None else (f"the tables hold no figure for {run.size.text}",)
        yield Derivation(
            item,
            "ampacity",
            f"core {run.name}",
            None if carries is None else carries.low_a,
            None if carries is None else carries.high_a,
            "A",
            _surroundings(boat, run, volts),
            steps,
            _unknown(run, carries),
            notes,
        )


@quantity("device-limit", "the largest overcurrent device that a conductor allows")
def device_limit_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """Each live core of a cable; for a device, every conductor that it protects."""
    if item in boat.vessel.cables:
        for run, volts, carries in _carried(boat, item):
            yield _limit(boat, item, run, volts, carries)
        return
    if device_rating(boat, item) is None and not _is_device(boat, item):
        return
    for each in protections(boat):
        if each.device == item:
            run = next(run for run in runs(boat, each.cable) if run.name == each.core)
            volts = next(g.volts for g in guarded_cores(boat) if g.run.link == run.link)
            yield _limit(boat, item, run, volts, each.carries)


def _is_device(boat: Boat, item: str) -> bool:
    way = boat.vessel.ways.get(item)
    return (way is not None and way[2].is_protective) or isinstance(boat.vessel.devices.get(item), Breaker | Fuse)


def _limit(boat: Boat, item: str, run: CoreRun, volts: float, carries: Ampacity | None) -> Derivation:
    low = high = None
    steps: list[Step] = []
    if carries is not None:
        practice = boat.vessel.about.practice
        least, most = (device_limit(a, volts, practice) for a in (carries.low_a, carries.high_a))
        low, high = least.max_rating_a, most.max_rating_a
        steps = [Step(text, carries.source, carries.from_memory) for text in carries.derivation]
        for limit in (least,) if least == most else (least, most):
            steps += [Step(text, limit.source, limit.from_memory) for text in limit.derivation]
    of = f"cable {run.cable.id}, core {run.name}" if item != run.cable.id else f"core {run.name}"
    inputs = _surroundings(boat, run, volts)
    return Derivation(item, "device-limit", of, low, high, "A", inputs, tuple(steps), _unknown(run, carries))


@quantity("resistance", "the resistance of each core, one way")
def resistance_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """Each core of a cable: least, and hot with tinned strands; the figure of the drop formula beside them."""
    for run in runs(boat, item):
        inputs = (size_input(boat, run), length_input(boat, run))
        if run.size is None or not run.cable.length_m:
            missing = "its size" if run.size is None else "its length"
            yield Derivation(item, "resistance", f"core {run.name}", None, None, "mohm", inputs, (), ((item, missing),))
            continue
        found = conductor_impedance(size=run.size, length_m=run.cable.length_m, temperature_c=75.0, frequency_hz=0.0)
        by = formula(boat.vessel.about.practice, dc=pole_of(boat, run).startswith("DC"))
        ohm = by.rho * run.cable.length_m / run.size.mm2
        note = f"by the formula for voltage drop ({by.text}; {by.source}): {ohm * 1000:.4g} mohm"
        steps = tuple(Step(text, found.source if n == 0 else "") for n, text in enumerate(found.derivation))
        low, high = found.least_r_ohm * 1000, found.r_ohm * 1000
        yield Derivation(
            item, "resistance", f"core {run.name}, at 75 °C", low, high, "mohm", inputs, steps, (), (note,)
        )
