"""The current in each operating condition, and at rated power."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import Busbar, Load
from vesselspec.physics.conductors.sizing import Step
from vesselspec.physics.loads.supply import draws_of
from vesselspec.report.derivation import Derivation, quantity
from vesselspec.report.quantity_inputs import (
    SOLVED,
    assumed,
    condition_input,
    conditions_of,
    load_inputs,
    pole_of,
    runs,
)
from vesselspec.rules import Boat
from vesselspec.rules.carrying import bus_currents


@quantity("current", "the current in each operating condition, or at rated power", in_condition=True)
def current_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """Cores, contacts, bars, loads and sources."""
    load = boat.vessel.loads.get(item)
    if load is not None and condition is None:
        yield from _rated_current(boat, load)
    for key in conditions_of(boat, condition):
        flow = boat.flows[key]
        found: list[tuple[str, float]] = [
            (f"core {run.name}", flow.amps(run.link)) for run in runs(boat, item) if pole_of(boat, run) != "PE"
        ]
        if item in boat.vessel.ways or item in boat.vessel.devices:
            found += [
                (boat.network.terminals[link.a].pole, flow.amps(number))
                for number, link in enumerate(boat.network.links)
                if link.item == item and link.kind == "contact"
            ]
        found += [("-".join(each.poles), each.amps) for each in flow.loads if each.load == item]
        found += [(each.pole, each.amps) for each in flow.sources if each.source == item]
        if item in boat.vessel.sections or isinstance(boat.vessel.devices.get(item), Busbar):
            found += [(f"{x.where} bar, at least", x.amps) for x in bus_currents(boat, item) if x.condition == key]
        for of, amps in found:
            step = (Step(SOLVED),)
            yield Derivation(
                item,
                "current",
                f"{of} in {key}",
                amps,
                amps,
                "A",
                (condition_input(boat, key),),
                step,
                (),
                assumed(boat, key),
            )


def _rated_current(boat: Boat, load: Load) -> Iterator[Derivation]:
    system = boat.vessel.systems.get(load.system or "")
    if system is None:
        return
    for draw in draws_of(load, system):
        inputs, formula_text = load_inputs(boat, load, draw.volts)
        unknown = ((load.id, draw.unknown.replace("_", " ")),) if draw.unknown else ()
        of = f"{'-'.join(draw.between)} at rated power"
        steps = (Step(f"{formula_text} = {draw.amps:.4g} A"),) if draw.amps is not None else ()
        high = None if unknown else draw.amps
        yield Derivation(load.id, "current", of, draw.amps, high, "A", inputs, steps, unknown)
