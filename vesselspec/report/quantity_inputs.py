"""What derivations of several quantities start from: fields of cables and loads, and conditions."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec import units
from vesselspec.model.devices import Load
from vesselspec.model.forms import Pairs
from vesselspec.network.graph import CoreRun
from vesselspec.report.derivation import Input, input_at
from vesselspec.rules import Boat
from vesselspec.rules.findings import At

#: Where a current or voltage of a condition comes from.
SOLVED = "nodal solution of every core and contact in the condition, conductors at 75 °C"


def runs(boat: Boat, cable: str) -> Iterator[CoreRun]:
    """The cores of a cable that lie between two terminals."""
    return (run for run in boat.network.runs.get(cable, ()) if run.link >= 0)


def pole_of(boat: Boat, run: CoreRun) -> str:
    """The pole that a core carries by its terminals, "" where neither says."""
    link = boat.network.links[run.link]
    return boat.network.terminals[link.a].pole or boat.network.terminals[link.b].pole


def size_input(boat: Boat, run: CoreRun) -> Input:
    """The size of a core: its own, or that of its cable or cable type."""
    at = boat.core_at(run.cable.id, run.name) if run.core.size is not None else cable_field(boat, run, "size")
    value = None if run.size is None else run.size.text
    kind = boat.vessel.cable_type(run.cable)
    if value and run.core.size is None and run.cable.size is None and kind is not None:
        value += f" (from type {kind.id})"
    return input_at(boat, "size", value, run.cable.id, at=at)


def cable_field(boat: Boat, run: CoreRun, field: str) -> At:
    """Where a field of a cable stands: in its entry, or in that of its type."""
    kind = boat.vessel.cable_type(run.cable)
    name = {"size": "size", "insulation": "insulation_c"}[field]
    own = getattr(run.cable, name)
    return At("cable_types", kind.id, (field,)) if own is None and kind is not None else boat.at(run.cable.id, field)


def length_input(boat: Boat, run: CoreRun) -> Input:
    """The length of a core's cable."""
    metres = run.cable.length_m
    return input_at(boat, "length", None if metres is None else units.show("length", metres), run.cable.id, "length")


def conditions_of(boat: Boat, condition: str | None) -> Iterator[str]:
    """The operating condition asked for, or all of them."""
    return (key for key in boat.vessel.conditions if condition in (None, key))


def load_inputs(boat: Boat, load: Load, volts: float) -> tuple[tuple[Input, ...], str]:
    """What a load's own current at `volts` (V) follows from, and the formula in words."""
    system = boat.vessel.systems.get(load.system or "")
    found = [input_at(boat, "voltage", f"{volts:g} V", load.system or load.id, "voltage")]
    if load.current_a is not None:
        return (*found, input_at(boat, "current", f"{load.current_a:g} A", load.id, "current")), "rated current"
    if load.apparent_va is not None:
        value = f"{load.apparent_va:g} VA"
        return (*found, input_at(boat, "apparent power", value, load.id, "apparent_power")), "apparent power / voltage"
    text = None
    if isinstance(load.power_w, Pairs):
        text = ", ".join(f"{pair}: {watts:g} W" for pair, watts in load.power_w)
    elif load.power_w is not None:
        text = f"{load.power_w:g} W"
    found.append(input_at(boat, "power", text, load.id, "power"))
    if system is not None and not system.is_dc:
        factor = None if load.power_factor is None else f"{load.power_factor:g}"
        found.append(input_at(boat, "power factor", factor, load.id, "power_factor"))
    return tuple(found), "power / (voltage × power factor)" if load.power_factor else "power / voltage"


def assumed(boat: Boat, condition: str) -> tuple[str, ...]:
    """What the solution of a condition rests on besides the record."""
    flow = boat.flows[condition]
    troubles = tuple(f"no sound solution: {trouble.text}" for trouble in flow.troubles)
    loops = tuple(f"{loop.text}: {', '.join(loop.left_out)} left out" for loop in flow.loops)
    return (
        troubles
        + loops
        + tuple(
            f"assumed for want of data: {each.missing} of {each.item}: {each.taken}; {each.errs}"
            for each in flow.assumptions
        )
    )


def condition_input(boat: Boat, condition: str) -> Input:
    """The condition itself, as an input."""
    return input_at(boat, "operating condition", condition, condition)
