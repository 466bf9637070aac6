"""The quantities that conductors, devices, loads and sources can be asked for."""

from __future__ import annotations

import math
from collections.abc import Iterator

from vesselspec import units
from vesselspec.model.devices import BatteryBank, Breaker, Busbar, Fuse, InverterCharger, Load
from vesselspec.model.forms import Pairs
from vesselspec.model.published import published_of
from vesselspec.network.graph import CoreRun
from vesselspec.physics.conductors.ampacity import Ampacity
from vesselspec.physics.conductors.drop import formula
from vesselspec.physics.conductors.impedance import conductor_impedance
from vesselspec.physics.conductors.protection import device_limit
from vesselspec.physics.conductors.sizing import Step
from vesselspec.physics.loads.demand import rating_of
from vesselspec.physics.loads.supply import Supply, WayDrop, draws_of
from vesselspec.report.derivation import Derivation, Input, input_at, quantity
from vesselspec.rules import Boat
from vesselspec.rules.carrying import bus_currents
from vesselspec.rules.circuits import limits_of, supplies
from vesselspec.rules.drop import source_loss, wiring_drops
from vesselspec.rules.findings import At
from vesselspec.rules.protection import core_ampacity, device_rating, guarded_cores, loaded_conductors, protections

_SOLVED = "nodal solution of every core and contact in the condition, conductors at 75 °C"
_WORDS = {"insulation": "its insulation temperature", "space": "its route", "bundle": "what it is bundled with"}


def _runs(boat: Boat, cable: str) -> Iterator[CoreRun]:
    """The cores of a cable that lie between two terminals."""
    return (run for run in boat.network.runs.get(cable, ()) if run.link >= 0)


def _pole(boat: Boat, run: CoreRun) -> str:
    link = boat.network.links[run.link]
    return boat.network.terminals[link.a].pole or boat.network.terminals[link.b].pole


def _size(boat: Boat, run: CoreRun) -> Input:
    at = boat.core_at(run.cable.id, run.name) if run.core.size is not None else _at(boat, run, "size")
    value = None if run.size is None else run.size.text
    kind = boat.vessel.cable_type(run.cable)
    if value and run.core.size is None and run.cable.size is None and kind is not None:
        value += f" (from type {kind.id})"
    return input_at(boat, "size", value, run.cable.id, at=at)


def _at(boat: Boat, run: CoreRun, field: str) -> At:
    """Where a field of a cable stands: in its entry, or in that of its type."""
    kind = boat.vessel.cable_type(run.cable)
    name = {"size": "size", "insulation": "insulation_c"}[field]
    own = getattr(run.cable, name)
    return At("cable_types", kind.id, (field,)) if own is None and kind is not None else boat.at(run.cable.id, field)


def _length(boat: Boat, run: CoreRun) -> Input:
    metres = run.cable.length_m
    return input_at(boat, "length", None if metres is None else units.show("length", metres), run.cable.id, "length")


def _conditions(boat: Boat, condition: str | None) -> Iterator[str]:
    return (key for key in boat.vessel.conditions if condition in (None, key))


# --- conductors ------------------------------------------------------------------------------------


def _surroundings(boat: Boat, run: CoreRun, volts: float) -> tuple[Input, ...]:
    cable, insulation, space = run.cable, boat.insulation(run.cable), boat.in_engine_space(run.cable)
    lying = loaded_conductors(boat).get(cable.id, 1)
    return (
        _size(boat, run),
        input_at(
            boat,
            "insulation",
            None if insulation is None else units.show("temperature", insulation),
            cable.id,
            at=_at(boat, run, "insulation"),
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
            run = next(run for run in _runs(boat, each.cable) if run.name == each.core)
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
    for run in _runs(boat, item):
        inputs = (_size(boat, run), _length(boat, run))
        if run.size is None or not run.cable.length_m:
            missing = "its size" if run.size is None else "its length"
            yield Derivation(item, "resistance", f"core {run.name}", None, None, "mohm", inputs, (), ((item, missing),))
            continue
        found = conductor_impedance(size=run.size, length_m=run.cable.length_m, temperature_c=75.0, frequency_hz=0.0)
        by = formula(boat.vessel.about.practice, dc=_pole(boat, run).startswith("DC"))
        ohm = by.rho * run.cable.length_m / run.size.mm2
        note = f"by the formula for voltage drop ({by.text}; {by.source}): {ohm * 1000:.4g} mohm"
        steps = tuple(Step(text, found.source if n == 0 else "") for n, text in enumerate(found.derivation))
        low, high = found.least_r_ohm * 1000, found.r_ohm * 1000
        yield Derivation(
            item, "resistance", f"core {run.name}, at 75 °C", low, high, "mohm", inputs, steps, (), (note,)
        )


# --- current, drop ---------------------------------------------------------------------------------


def _assumed(boat: Boat, condition: str) -> tuple[str, ...]:
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


def _in(boat: Boat, condition: str) -> Input:
    return input_at(boat, "operating condition", condition, condition)


@quantity("current", "the current in each operating condition, or at rated power", in_condition=True)
def current_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """Cores, contacts, bars, loads and sources."""
    load = boat.vessel.loads.get(item)
    if load is not None and condition is None:
        yield from _rated_current(boat, load)
    for key in _conditions(boat, condition):
        flow = boat.flows[key]
        found: list[tuple[str, float]] = [
            (f"core {run.name}", flow.amps(run.link)) for run in _runs(boat, item) if _pole(boat, run) != "PE"
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
            step = (Step(_SOLVED),)
            yield Derivation(
                item, "current", f"{of} in {key}", amps, amps, "A", (_in(boat, key),), step, (), _assumed(boat, key)
            )


def _rated_current(boat: Boat, load: Load) -> Iterator[Derivation]:
    system = boat.vessel.systems.get(load.system or "")
    if system is None:
        return
    for draw in draws_of(load, system):
        inputs, formula_text = _load_inputs(boat, load, draw.volts)
        unknown = ((load.id, draw.unknown.replace("_", " ")),) if draw.unknown else ()
        of = f"{'-'.join(draw.between)} at rated power"
        steps = (Step(f"{formula_text} = {draw.amps:.4g} A"),) if draw.amps is not None else ()
        high = None if unknown else draw.amps
        yield Derivation(load.id, "current", of, draw.amps, high, "A", inputs, steps, unknown)


def _load_inputs(boat: Boat, load: Load, volts: float) -> tuple[tuple[Input, ...], str]:
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


@quantity("voltage-drop", "the voltage lost on the way, in percent of nominal", in_condition=True)
def drop_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """A load: its own current alone, and in each condition. A cable: its cores. A DC section: its feeder."""
    load = boat.vessel.loads.get(item)
    if load is not None:
        if condition is None:
            for part in supplies(boat).get(item, ()):
                yield from _alone(boat, load, part)
        for key in _conditions(boat, condition):
            for name, poles, least, solved in wiring_drops(boat, key, boat.flows[key]):
                if name == item:
                    yield _solved(boat, load, key, poles, least, solved)
    if item in boat.vessel.cables:
        for key in _conditions(boat, condition):
            yield from _in_cable(boat, item, key)
    if item in boat.vessel.sections:
        for key in _conditions(boat, condition):
            yield from _at_bars(boat, item, key)


def _alone(boat: Boat, load: Load, part: Supply) -> Iterator[Derivation]:
    system = boat.vessel.systems[load.system or ""]
    inputs, _ = _load_inputs(boat, load, part.total.draw.volts)
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
        run = next(run for run in _runs(boat, leg.cable) if run.name == leg.core)
        if leg.cable not in seen:
            seen.add(leg.cable)
            lengths += [_size(boat, run), _length(boat, run)]
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
        Step(f"{_SOLVED}: {found.volts:.4g} V of {found.nominal_v:g} V at the load"),
        Step(
            f"1 − {found.volts:.4g} / {found.nominal_v:g} = {solved * 100:.4g} %, the source's own {lost * 100:.3g} %"
        ),
        Step(f"in the wiring alone, with conductors by the formula of the practice: at least {least * 100:.4g} %"),
    )
    inputs = (_in(boat, condition),)
    of = f"{'-'.join(poles)} in {condition}"
    high = max(solved, least) * 100
    return Derivation(load.id, "voltage-drop", of, least * 100, high, "%", inputs, steps, (), _assumed(boat, condition))


def _in_cable(boat: Boat, cable: str, condition: str) -> Iterator[Derivation]:
    flow = boat.flows[condition]
    for run in _runs(boat, cable):
        amps = flow.amps(run.link)
        pole = _pole(boat, run)
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
        inputs = (_in(boat, condition), _size(boat, run), _length(boat, run))
        percent = volts / system.voltage.line_v * 100
        of = f"core {run.name} in {condition}"
        yield Derivation(
            cable, "voltage-drop", of, percent, percent, "%", inputs, (step,), (), _assumed(boat, condition)
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
    step = Step(f"{_SOLVED}: {volts:.4g} V of {nominal:g} V at the bars")
    percent = (1 - volts / nominal) * 100
    inputs = (_in(boat, condition),)
    yield Derivation(
        path, "voltage-drop", f"in {condition}", percent, percent, "%", inputs, (step,), (), _assumed(boat, condition)
    )


# --- demand and rating -----------------------------------------------------------------------------


@quantity("demand", "the load on a source over demand factors", in_condition=True)
def demand_of(boat: Boat, item: str, condition: str | None) -> Iterator[Derivation]:
    """A source: the sum on each pole. A load: its share in each condition."""
    for key in _conditions(boat, condition):
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
        inputs, _ = _load_inputs(boat, load, draw.volts)
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
