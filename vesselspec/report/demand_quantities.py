"""What a source has to carry over demand factors, and what devices, bars and sources are rated for."""

from __future__ import annotations

import math
from collections.abc import Iterator

from vesselspec.model.devices import BatteryBank, InverterCharger, Load
from vesselspec.model.published import published_of
from vesselspec.physics.conductors.sizing import Step
from vesselspec.physics.loads.demand import rating_of
from vesselspec.physics.loads.supply import draws_of
from vesselspec.report.derivation import Derivation, Input, input_at, quantity
from vesselspec.report.quantity_inputs import conditions_of, load_inputs
from vesselspec.rules import Boat


@quantity("demand", "the load on a source over demand factors", in_condition=True)
def demand_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """A source: the sum on each pole. A load: its share in each condition."""
    for key in conditions_of(boat, condition):
        for each in boat.demands[key].sources:
            if item in each.sources:
                steps = [Step(f"{draw.item}: {draw.amps:.4g} A") for draw in each.draws]
                steps += _published(boat, key, *(draw.item for draw in each.draws))
                steps.append(Step(f"sum {each.amps:.4g} A, at nominal voltage and arithmetically"))
                inputs = tuple(_factor(boat, key, draw.item) for draw in each.draws)
                high = None if each.unknown else each.amps
                unknown = tuple((who, what.replace("_", " ")) for who, what in each.unknown)
                of = f"{each.pole} in {key}" + (f", with {', '.join(each.sources)}" if len(each.sources) > 1 else "")
                yield Derivation(item, "demand", of, each.amps, high, "A", inputs, tuple(steps), unknown)
        load = boat.vessel.loads.get(item)
        factor = next((demand.factor for who, demand in boat.vessel.conditions[key].demand if who == item), None)
        if load is not None and factor is not None:
            yield from _share(boat, load, key, factor)


def _share(boat: Boat, load: Load, condition: str, factor: float) -> Iterator[Derivation]:
    for draw in draws_of(load, boat.vessel.systems.get(load.system or "")):
        inputs, _ = load_inputs(boat, load, draw.volts)
        low = None if draw.amps is None else draw.amps * factor
        unknown = ((load.id, draw.unknown.replace("_", " ")),) if draw.unknown else ()
        steps = () if draw.amps is None else (Step(f"{draw.amps:.4g} A × {factor:g} = {low or 0:.4g} A"),)
        steps = (*_published(boat, condition, load.id), *steps)
        of = f"{'-'.join(draw.between)} in {condition}"
        inputs = (*inputs, _factor(boat, condition, load.id))
        yield Derivation(load.id, "demand", of, low, None if unknown else low, "A", inputs, steps, unknown)


def _factor(boat: Boat, condition: str, item: str) -> Input:
    own = boat.vessel.conditions[condition]
    demand, stage = own.demand.get(item), own.charging.get(item)
    if demand is None and stage is not None:
        return input_at(boat, f"charging stage of {item}", stage, condition, "charging", item)
    value = "through what it feeds" if demand is None else demand.said
    fields = ("published",) if demand is not None and demand.unlisted else ("demand", item)
    return input_at(boat, f"demand factor of {item}", value, condition, *fields)


def _published(boat: Boat, condition: str, *items: str) -> tuple[Step, ...]:
    """The published factors by which loads count in a condition."""
    return tuple(
        Step(
            f"{', '.join(each.loads)}: {each.text}" + ("" if each.factor is None else f"; {each.factor:.4g}"),
            each.source,
        )
        for each in published_of(boat.vessel, boat.vessel.conditions[condition])
        if set(items) & set(each.loads)
    )


@quantity("rating", "what a device, bar or source is rated for")
def rating_of_item(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """As recorded, or worked out from a rated power."""
    vessel = boat.vessel
    device = vessel.devices.get(item)
    if item in vessel.ways:
        yield _as_recorded(boat, item, vessel.ways[item][2].rating_a, "rating", "")
    elif item in vessel.sections:
        yield _as_recorded(boat, item, vessel.sections[item][1].rating_a, "rating", "its bars")
    elif device is not None and any(e.source == item for e in boat.network.emissions):
        poles = {e.pole for e in boat.network.emissions if e.source == item and e.pole.startswith("L")}
        system = vessel.systems.get(getattr(device, "secondary_system", None) or getattr(device, "system", None) or "")
        amps = rating_of(device, system, len(poles))
        field = "max_discharge" if isinstance(device, BatteryBank) else "rating"
        if getattr(device, "rating_a", None) is None and getattr(device, "apparent_va", None) is not None:
            field = "apparent_power"
        yield _as_recorded(boat, item, amps, field, "each line" if poles else "")
        if isinstance(device, InverterCharger):
            yield _as_recorded(boat, item, device.transfer_a, "transfer_rating", "transfer relay, each line")
    elif device is not None and hasattr(device, "rating_a"):
        yield _as_recorded(boat, item, device.rating_a, "rating", "")


def _as_recorded(boat: Boat, item: str, amps: float | None, field: str, of: str) -> Derivation:
    head = boat.vessel.devices.get(item)
    value = None if amps is None else f"{amps:.4g} A"
    steps: tuple[Step, ...] = (Step("as recorded"),) if amps is not None else ()
    if field == "apparent_power" and amps is not None and head is not None:
        va = float(getattr(head, "apparent_va", 0.0) or 0.0)
        value = f"{va:g} VA"
        lines = round(va / amps / _line_v(boat, head)) if amps and _line_v(boat, head) else 1
        steps = (Step(f"{va:g} VA / {_line_v(boat, head):g} V / {lines} lines = {amps:.4g} A for each"),)
    unknown = () if amps is not None else ((item, field.replace("_", " ")),)
    inputs = (input_at(boat, field.replace("_", " "), value, item, field),)
    return Derivation(item, "rating", of, amps, amps, "A", inputs, steps, unknown)


def _line_v(boat: Boat, device: object) -> float:
    key = getattr(device, "secondary_system", None) or getattr(device, "system", None) or ""
    system = boat.vessel.systems.get(key)
    return system.voltage.line_v if system is not None else math.nan
