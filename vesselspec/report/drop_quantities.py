"""The voltage lost on the way: of a load, in a cable, at the bars of a section."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.model.devices import Load
from vesselspec.network.graph import CoreRun
from vesselspec.physics.conductors.drop import formula
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.conductors.sizing import Step
from vesselspec.physics.loads.supply import Supply, WayDrop
from vesselspec.report.derivation import Derivation, Input, quantity
from vesselspec.report.quantity_inputs import (
    SOLVED,
    assumed,
    condition_input,
    conditions_of,
    length_input,
    load_inputs,
    pole_of,
    runs,
    size_input,
)
from vesselspec.rules import Boat
from vesselspec.rules.circuits import limits_of, supplies
from vesselspec.rules.drop import source_loss, wiring_drops


@quantity("voltage-drop", "the voltage lost on the way, in percent of nominal", in_condition=True)
def drop_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """A load: its own current alone, and in each condition. A cable: its cores. A DC section: its feeder."""
    load = boat.vessel.loads.get(item)
    if load is not None:
        if condition is None:
            for part in supplies(boat).get(item, ()):
                yield from _alone(boat, load, part)
        for key in conditions_of(boat, condition):
            for name, poles, least, solved in wiring_drops(boat, key, boat.flows[key]):
                if name == item:
                    yield _solved(boat, load, key, poles, least, solved)
    if item in boat.vessel.cables:
        for key in conditions_of(boat, condition):
            yield from _in_cable(boat, item, key)
    if item in boat.vessel.sections:
        for key in conditions_of(boat, condition):
            yield from _at_bars(boat, item, key)


def _alone(boat: Boat, load: Load, part: Supply) -> Iterator[Derivation]:
    system = boat.vessel.systems[load.system or ""]
    inputs, _ = load_inputs(boat, load, part.total.draw.volts)
    limits = limits_of(boat, load, system)
    for what, way in (("from the last point of distribution", part.branch), ("from the source", part.total)):
        yield _way(boat, load, what, way, inputs, tuple(
            f"{limit.ratio * 100:g} % is {'recommended' if limit.recommendation else 'allowed'}: {limit.scope} "
            f"({limit.source})" for limit in limits
            if limit.scope.startswith("branch") == (way is part.branch and not system.is_dc)
        ) + tuple(x for limit in limits for x in limit.beside))  # fmt: skip


def _way(
    boat: Boat, load: Load, what: str, way: WayDrop, inputs: tuple[Input, ...], notes: tuple[str, ...]
) -> Derivation:
    by = formula(boat.vessel.about.practice, dc=boat.vessel.systems[load.system or ""].is_dc)
    factor = way.draw.power_factor
    lengths: list[Input] = []
    steps = [Step(f"each conductor by {by.text}", by.source, by.from_memory)]
    seen: set[str] = set()
    for leg in way.legs:
        run = next(run for run in runs(boat, leg.cable) if run.name == leg.core)
        if leg.cable not in seen:
            seen.add(leg.cable)
            lengths += [size_input(boat, run), length_input(boat, run)]
        shared = f", shared with {', '.join(leg.beside)}" if leg.beside else ""
        certain = "" if leg.certain else "; not counted in the least, for there is another way"
        if leg.conductor is None:
            steps.append(Step(f"{leg.cable} {leg.core} ({leg.pole}): {leg.missing} not recorded, 0 V counted"))
        else:
            steps.append(Step(
                f"{leg.cable} {leg.core} ({leg.pole}): {leg.amps:.4g} A × {leg.conductor.formula_z(factor) * 1000:.4g} "
                f"mohm{shared} = {leg.formula_v(factor):.4g} V; hot {leg.hot_v(factor) or 0:.4g} V{certain}"
            ))  # fmt: skip
    third = " ÷ √3 (three lines)" if len(way.draw.between) == 3 else ""
    steps.append(Step(f"together{third} {way.low_v:.4g} V of {way.draw.volts:g} V = {way.low * 100:.4g} %"))
    high = way.high_v
    unknown = tuple((leg.cable, leg.missing) for leg in way.legs if leg.missing)
    return Derivation(
        load.id,
        "voltage-drop",
        f"{'-'.join(way.draw.between)} {what} ({way.start}), at its own current alone",
        way.low * 100,
        None if high is None else high / way.draw.volts * 100,
        "%",
        (*inputs, *lengths),
        tuple(steps),
        tuple(dict.fromkeys(unknown)),
        notes,
    )


def _solved(boat: Boat, load: Load, condition: str, poles: tuple[str, str], least: float, solved: float) -> Derivation:
    flow = boat.flows[condition]
    found = next(each for each in flow.loads if (each.load, each.poles) == (load.id, poles))
    terminal = boat.network.index[load.id, poles[0]]
    lost = source_loss(boat, flow, condition, terminal, boat.vessel.systems[load.system or ""])
    steps = (
        Step(f"{SOLVED}: {found.volts:.4g} V of {found.nominal_v:g} V at the load"),
        Step(
            f"1 − {found.volts:.4g} / {found.nominal_v:g} = {solved * 100:.4g} %, the source's own {lost * 100:.3g} %"
        ),
        Step(f"in the wiring alone, with conductors by the formula of the practice: at least {least * 100:.4g} %"),
    )
    inputs = (condition_input(boat, condition),)
    of = f"{'-'.join(poles)} in {condition}"
    high = max(solved, least) * 100
    return Derivation(load.id, "voltage-drop", of, least * 100, high, "%", inputs, steps, (), assumed(boat, condition))


def _in_cable(boat: Boat, cable: str, condition: str) -> Iterator[Derivation]:
    flow = boat.flows[condition]
    for run in runs(boat, cable):
        amps = flow.amps(run.link)
        pole = pole_of(boat, run)
        if pole == "PE" or run.size is None or not run.cable.length_m:
            continue
        system = next((s for s in map(boat.vessel.systems.get, _systems(boat, run)) if s is not None), None)
        if system is None:
            continue
        frequency = 0.0 if system.is_dc else system.frequency_hz or 0.0
        z = conductor_impedance(
            size=run.size, length_m=run.cable.length_m, temperature_c=75.0, frequency_hz=frequency
        ).z_ohm
        volts = amps * abs(z)
        step = Step(f"{amps:.4g} A × {abs(z) * 1000:.4g} mohm = {volts:.4g} V", "resistance at 75 °C, see `resistance`")
        inputs = (condition_input(boat, condition), size_input(boat, run), length_input(boat, run))
        percent = volts / system.voltage.line_v * 100
        of = f"core {run.name} in {condition}"
        yield Derivation(
            cable, "voltage-drop", of, percent, percent, "%", inputs, (step,), (), assumed(boat, condition)
        )


def _systems(boat: Boat, run: CoreRun) -> Iterator[str]:
    link = boat.network.links[run.link]
    return (boat.network.terminals[n].system or "" for n in (link.a, link.b))


def _at_bars(boat: Boat, path: str, condition: str) -> Iterator[Derivation]:
    panel, section = boat.vessel.sections[path]
    system = boat.vessel.section_system(panel, section)
    plus, minus = boat.network.index.get((path, "DC+")), boat.network.index.get((path, "DC-"))
    if system is None or plus is None or minus is None or not boat.states[condition].at(plus):
        return
    flow, nominal = boat.flows[condition], system.voltage.line_v
    volts = flow.dc_volts[plus] - flow.dc_volts[minus]
    step = Step(f"{SOLVED}: {volts:.4g} V of {nominal:g} V at the bars")
    percent = (1 - volts / nominal) * 100
    inputs = (condition_input(boat, condition),)
    yield Derivation(
        path, "voltage-drop", f"in {condition}", percent, percent, "%", inputs, (step,), (), assumed(boat, condition)
    )
