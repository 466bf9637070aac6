"""`vesselspec size`: the smallest conductor for a circuit, its device and its earth, with the derivation."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vesselspec.cli.common import at_option, output_option, page, put, read_state, vessel_argument
from vesselspec.cli.problems import not_understood
from vesselspec.cli.status import NOT_UNDERSTOOD, SOUND
from vesselspec.model.items import USES
from vesselspec.standards import PRACTICES

if TYPE_CHECKING:
    from vesselspec.model.items import System
    from vesselspec.physics.conductors.sizing import Circuit
    from vesselspec.report.sizing import Asked
    from vesselspec.rules import Boat


class _Quantity(click.ParamType[float]):
    """A number with its unit, read as in a record."""

    def __init__(self, dimension: str) -> None:
        self.name = dimension

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        from vesselspec import units

        if isinstance(value, float):
            return value
        try:
            return units.parse(self.name, str(value))
        except units.UnitError as error:
            self.fail(str(error), param, ctx)


_POLES = re.compile(r"(L[123]|N|DC\+|DC-)")


@click.command("size")
@vessel_argument()
@at_option()
@click.option("--for", "item", metavar="ID", help="A load, cable or way of the record; everything comes from there.")
@click.option("--power", type=_Quantity("power"), metavar="P", help="Power of the load, such as '1500 W'.")
@click.option("--current", type=_Quantity("current"), metavar="I", help="Current of the load, such as '12 A'.")
@click.option("--power-factor", type=click.FloatRange(0.05, 1), help="Power factor of an AC load; 1 if left out.")
@click.option("--system", metavar="ID", help="A system of the record.")
@click.option("--voltage", metavar="V", help="Nominal voltage without a record, such as '12 V' or '120/240 V'.")
@click.option("--dc/--ac", "dc", default=None, help="What --voltage is.")
@click.option("--frequency", type=_Quantity("frequency"), metavar="F", help="Of an AC --voltage, such as '60 Hz'.")
@click.option("--poles", metavar="POLES", help="Poles of the load: L1-N, L1-L2, L1-L2-L3. Default: the first line.")
@click.option("--length", type=_Quantity("length"), metavar="L", help="Length of the cable, one way: '18 ft'.")
@click.option("--insulation", type=_Quantity("temperature"), metavar="T", help="Its rating, such as '105 degC'.")
@click.option("--engine-space/--no-engine-space", default=None, help="Whether it passes an engine space.")
@click.option("--ambient", type=_Quantity("temperature"), metavar="T", help="Hottest place on its way, where known.")
@click.option("--bundled", type=click.IntRange(1, 1000), metavar="N", help="Current-carrying conductors together.")
@click.option("--sheath/--no-sheath", default=None, help="Whether a common sheath is over its cores.")
@click.option("--drop", type=_Quantity("percent"), metavar="%", help="Voltage drop allowed, such as '3 %'.")
@click.option("--use", type=click.Choice(USES), metavar="USE", help="What the load is for; it chooses the limit.")
@click.option("--continuous/--intermittent", default=None, help="Whether it runs for three hours or more.")
@click.option("--motor", is_flag=True, default=False, help="The load is a motor.")
@click.option("--metric", is_flag=True, default=False, help="Sizes in mm2 where the practice uses AWG.")
@click.option("--practice", type=click.Choice(PRACTICES), help="Default: the record's; without one north-american.")
@output_option()
def command(vessel: Path, at: str | None, item: str | None, output: str, **given: Any) -> int:
    """Size a proposed circuit: conductor, protective device and earth conductor, derived line by line.

    Give the load (--power or --current), its system (--system of the record in VESSEL, or --voltage with --dc or
    --ac) and the cable (--length, --insulation, --engine-space, --ambient, --bundled). What is left out is taken on
    the safe side where there is one, and named. With --for everything comes from the record.
    """
    from vesselspec.report import json
    from vesselspec.report import sizing as report

    asked = _for_item(vessel, at, item, output, given) if item is not None else _proposed(vessel, at, output, given)
    if asked is None:
        return NOT_UNDERSTOOD
    data = report.sizing_json(asked)
    text = {"text": lambda: report.sizing_text(page(), asked), "markdown": lambda: report.sizing_markdown(asked)}
    put(json.dumps(data) if output == "json" else text[output]())
    return SOUND


def _boat(vessel: Path, at: str | None, output: str) -> Boat | None:
    """The boat of a record, or None after saying what is wrong with it."""
    from vesselspec.rules import Boat

    state = read_state(vessel, at)
    if state.record.vessel is None:
        not_understood(state.name, state.record, output)
        return None
    return Boat(state.record.vessel, state.record.places)


def _for_item(vessel: Path, at: str | None, item: str, output: str, given: dict[str, Any]) -> Asked | None:
    import difflib

    from vesselspec.physics.conductors.sizing import size_circuit
    from vesselspec.report.sizing import asked_of
    from vesselspec.revisions import RevisionError
    from vesselspec.revisions.errors import shown
    from vesselspec.rules.sizing import case_of

    kept = {"practice", "metric", "motor"}
    extra = [name for name, value in given.items() if name not in kept and value is not None]
    if extra:
        raise click.UsageError(f"--for takes everything from the record; leave out --{extra[0].replace('_', '-')}")
    boat = _boat(vessel, at, output)
    if boat is None:
        return None
    known = [*boat.vessel.loads, *boat.vessel.cables, *boat.vessel.ways]
    if item not in known:
        near = difflib.get_close_matches(item, known, n=3, cutoff=0.5)
        raise RevisionError(
            f"There is no load, cable or way {shown(item)} in the record.",
            f"Did you mean {', '.join(near)}?" if near else "Check the id.",
        )
    case = case_of(boat, item, given["practice"])
    if case is None:
        raise RevisionError(
            f"Nothing can be sized for {shown(item)}: no conductor of it carries a working current, or its system is "
            "not recorded.",
            "Name a load, or a cable or way that feeds one.",
        )
    return asked_of(boat, case, size_circuit(_with(case.circuit, given)))


def _with(circuit: Circuit, given: dict[str, Any]) -> Circuit:
    from dataclasses import replace

    return replace(circuit, metric=circuit.metric or given["metric"], motor=circuit.motor or given["motor"])


def _proposed(vessel: Path, at: str | None, output: str, given: dict[str, Any]) -> Asked | None:
    from vesselspec.physics.conductors.sizing import size_circuit
    from vesselspec.report.sizing import Asked

    _check(given)
    practice = given["practice"]
    system = None
    if given["system"] is not None:
        boat = _boat(vessel, at, output)
        if boat is None:
            return None
        system = boat.vessel.systems.get(given["system"])
        if system is None:
            known = ", ".join(boat.vessel.systems)
            raise click.UsageError(f"there is no system {given['system']!r} in the record; it has {known or 'none'}")
        practice = practice or boat.vessel.about.practice
    circuit = _circuit(system or _system(given), practice or PRACTICES[0], given)
    what = f"{given['power']:g} W" if given["power"] is not None else f"{given['current']:g} A"
    return Asked(f"a proposed circuit of {what}", size_circuit(circuit))


def _check(given: dict[str, Any]) -> None:
    if (given["power"] is None) == (given["current"] is None):
        raise click.UsageError("give --power or --current, one of the two (or --for an item of the record)")
    if (given["system"] is None) == (given["voltage"] is None):
        raise click.UsageError("give --system of the record, or --voltage with --dc or --ac")
    if given["voltage"] is not None and given["dc"] is None:
        raise click.UsageError("say with --dc or --ac what --voltage is")
    if given["system"] is not None and (given["dc"] is not None or given["frequency"] is not None):
        raise click.UsageError("--system says itself whether it is DC or AC, and its frequency")
    if given["drop"] is not None and given["use"] is not None:
        raise click.UsageError("--drop and --use both choose the limit of voltage drop; give one")
    for name in ("power", "current", "length"):
        if given[name] is not None and given[name] <= 0:
            raise click.UsageError(f"--{name} must be above zero")


def _system(given: dict[str, Any]) -> System:
    from vesselspec import units
    from vesselspec.model.items import System

    try:
        voltage = units.parse_system_voltage(given["voltage"])
    except units.UnitError as error:
        raise click.UsageError(f"--voltage: {error}") from error
    if given["dc"]:
        if voltage.between_lines_v is not None or given["frequency"] is not None:
            raise click.UsageError("a DC system has one voltage and no frequency")
        return System(id="proposed", kind="dc", voltage=voltage)
    kind = "ac-single-phase"
    if voltage.between_lines_v is not None:
        ratio = voltage.between_lines_v / voltage.line_v
        kind = "ac-split-phase" if ratio > 1.87 else "ac-three-phase"  # 2 and √3 with their tolerance
    return System(id="proposed", kind=kind, voltage=voltage, frequency_hz=given["frequency"])


def _between(system: System, poles: str | None) -> tuple[str, ...]:
    if poles is None:
        return ("DC+", "DC-") if system.is_dc else ("L1", "N")
    found = tuple(_POLES.findall(poles))
    if "-".join(found) != poles or len(set(found)) != len(found) or len(found) < 2:
        raise click.UsageError(f"--poles {poles!r}: write them with a dash, such as L1-N, L1-L2 or DC+-DC-")
    wrong = [pole for pole in found if pole not in system.poles]
    if wrong:
        raise click.UsageError(f"the system has no pole {wrong[0]}; it has {', '.join(system.poles)}")
    lines = [pole for pole in found if pole.startswith("L")]
    if len(found) == 3 and len(lines) != 3:
        raise click.UsageError(
            "a load on two lines and neutral is two circuits here: size L1-L2 and L1-N by themselves"
        )
    return found


def _circuit(system: System, practice: str, given: dict[str, Any]) -> Circuit:
    import math

    from vesselspec.physics.conductors.drop import Limit, branch_limit, total_limit
    from vesselspec.physics.conductors.sizing import Circuit

    between = _between(system, given["poles"])
    volts = system.volts(between)
    factor = given["power_factor"] if given["power_factor"] is not None else 1.0
    if system.is_dc and given["power_factor"] is not None:
        raise click.UsageError("--power-factor means nothing on DC")
    amps = given["current"]
    if amps is None:
        amps = given["power"] / volts / factor / (math.sqrt(3) if len(between) == 3 else 1)
    limits: tuple[Limit | None, ...]
    if given["drop"] is not None:
        if not 0 < given["drop"] < 1:
            raise click.UsageError("--drop must lie between 0 % and 100 %")
        limits = (Limit(given["drop"], "as asked for", "", from_memory=False, recommendation=False),)
    else:
        by_use = total_limit(practice, dc=system.is_dc, use=given["use"])
        limits = (branch_limit(practice, dc=system.is_dc), by_use)
    return Circuit(
        practice=practice,
        dc=system.is_dc,
        volts=volts,
        line_v=system.voltage.line_v,
        between=between,
        amps=amps,
        frequency_hz=system.frequency_hz,
        power_factor=factor,
        length_m=given["length"],
        insulation_c=given["insulation"],
        engine_space=given["engine_space"],
        ambient_c=given["ambient"],
        # As in a record: a cable whose bundle is not named runs alone, with its own conductors.
        loaded=given["bundled"] if given["bundled"] is not None else len(between),
        sheath=given["sheath"],
        continuous=given["continuous"],
        motor=given["motor"],
        limits=tuple(limit for limit in limits if limit is not None),
        metric=given["metric"] or practice == "international",
    )
