"""Outputs of charging sources in the DC circuit of a condition, and what is behind a solar controller."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from vesselspec.model.devices import Charger, DcConverter, InverterCharger, SolarArray, SolarController
from vesselspec.model.items import FLOAT
from vesselspec.network.compile import PASS_THROUGH
from vesselspec.network.graph import Emission
from vesselspec.physics.steady.assembly import Assembly, Draft
from vesselspec.physics.steady.charging import TOO_MUCH, ChargingSource, Output, arrays_behind, output_of
from vesselspec.physics.steady.limited import Limited


@dataclass(frozen=True)
class Outlet:
    """One output of a charging source: a limited source of the draft, and its part of all that the source gives.

    One that `carries` has no bank: it holds the voltage and gives what its loads ask for.
    """

    key: str
    number: int
    output: Output
    part: float
    carries: bool


def banks_at(work: Assembly, key: str, terminal: int) -> set[str]:
    """Banks at a terminal of a source, or behind diodes from it."""
    state = work.state
    return {
        e.source
        for e in work.network.emissions
        if e.supply == "battery"
        and e.pole == "DC+"
        and (
            state.component[e.terminal] == state.component[terminal]
            or any(each.source == key and each.terminal == terminal for each in state.at(e.terminal))
        )
    }


def minus_of(work: Assembly, emission: Emission) -> int | None:
    """The negative terminal beside the positive one that a source feeds."""
    return work.at(work.network.terminals[emission.terminal].place, "DC-")


def put_outlets(work: Assembly, draft: Draft, chargers: Sequence[str]) -> list[Outlet]:
    """Put every output of every charging source that runs into the draft. `chargers` are those that AC reaches."""
    found: list[Outlet] = []
    for key, device in work.vessel.devices.items():
        if not isinstance(device, ChargingSource) or key in work.left_out:
            continue
        if isinstance(device, InverterCharger) and work.state.positions.get(key) != PASS_THROUGH:
            continue
        if key in work.running or key in work.demand:
            found += _outlets(work, draft, device, chargers)
    _first_to_hold(work, draft, found)
    return found


def _outlets(work: Assembly, draft: Draft, device: ChargingSource, chargers: Sequence[str]) -> Iterator[Outlet]:
    key = device.id
    emissions = [
        e for e in work.network.emissions if e.source == key and e.pole == "DC+" and minus_of(work, e) is not None
    ]
    banks = {e.terminal: banks_at(work, key, e.terminal) for e in emissions}
    if isinstance(device, SolarArray):  # behind a controller it charges nothing itself
        emissions = [e for e in emissions if banks[e.terminal]]
    output = output_of(work.vessel, work.network, work.state, work.condition, key)
    carries = [e for e in emissions if not banks[e.terminal] and key in work.running]
    if not emissions or (output is None and not carries):
        return
    if not _is_fed(work, device, chargers):
        work.unfed[key] = None
        return
    if output is not None and (output.known or (key in work.running and not carries)):
        for each in output.assumed:
            work.assume(each.item, each.missing, each.taken, each.errs)
    for emission in emissions:
        element = _element(work, emission, output, len(emissions), carries=emission in carries)
        if element is not None:
            number = draft.limit(element, (key, "DC+"))
            yield Outlet(key, number, output or Output(None, None, None), 1 / len(emissions), emission in carries)


def _element(
    work: Assembly, emission: Emission, output: Output | None, outputs: int, *, carries: bool
) -> Limited | None:
    minus, system = minus_of(work, emission), work.system(emission.system)
    if minus is None or system is None:
        return None
    nominal = system.voltage.line_v
    ceiling = None if output is None else output.volts
    if carries:
        volts = nominal if ceiling is None else ceiling
        return Limited(emission.terminal, minus, volts, math.inf, nominal, "off")
    if output is None or not output.known:
        return None
    volts = math.inf if ceiling is None else ceiling
    return Limited(emission.terminal, minus, volts, output.amps_at(nominal) / outputs, nominal)


def _is_fed(work: Assembly, device: ChargingSource, chargers: Sequence[str]) -> bool:
    """Whether something feeds what it converts; an engine and the sun always do."""
    if isinstance(device, Charger | InverterCharger):
        return device.id in chargers
    if isinstance(device, DcConverter):
        plus = work.at(f"{device.id}/in", "DC+")
        return plus is not None and work.fed(plus)
    return True


def _first_to_hold(work: Assembly, draft: Draft, outlets: list[Outlet]) -> None:
    """Of the sources that carry one circuit without a bank, those of the highest voltage hold it at first."""
    component = work.state.component
    highest: dict[int, float] = {}
    carrying = {each.number: draft.limited[each.number] for each in outlets if each.carries}
    for element in carrying.values():
        at = component[element.plus]
        highest[at] = max(element.volts, highest.get(at, 0.0))
    for number, element in carrying.items():
        if element.volts == highest[component[element.plus]]:
            draft.limited[number] = replace(element, first="hold")


def held_by_float(work: Assembly, draft: Draft, outlets: list[Outlet]) -> dict[str, float]:
    """Banks that a source floats, with its voltage: full, so that they take nothing there."""
    found: dict[str, float] = {}
    for each in outlets:
        if work.condition.charging.get(each.key) == FLOAT and each.output.volts is not None:
            for bank in banks_at(work, each.key, draft.limited[each.number].plus):
                found[bank] = max(each.output.volts, found.get(bank, 0.0))
    return found


# --- solar arrays behind controllers ---------------------------------------------------------------


def put_arrays(work: Assembly, draft: Draft, outlets: list[Outlet]) -> None:
    """Put the arrays behind controllers into the draft, each at the voltage at which its controller works it."""
    lit: set[int] = set()
    for key in dict.fromkeys(each.key for each in outlets):
        device = work.vessel.devices[key]
        if not isinstance(device, SolarController):
            continue
        arrays = list(arrays_behind(work.vessel, work.network, work.state, key))
        volts = [_working_v(work, device, array) for array, _ in arrays]
        for array, emission in arrays:
            minus = minus_of(work, emission)
            if minus is not None and emission.terminal not in lit:
                lit.add(emission.terminal)
                draft.source(emission.terminal, minus, min(volts), 0.0, (array.id, "DC+"))
        if arrays and device.method is None:
            work.assume(key, "method", "pwm: it passes the array's current on", "array currents too high")
        if device.method == "mppt" and device.efficiency is None:
            work.assume(key, "efficiency", "no loss", TOO_MUCH)


def _working_v(work: Assembly, controller: SolarController, array: SolarArray) -> float:
    """The voltage at which an array is worked, in V."""
    system = work.system(array.system)
    nominal = system.voltage.line_v if system is not None else 0.0
    if controller.method != "mppt":
        return array.max_power_v or array.open_circuit_v or nominal  # the current does not depend on it
    if array.max_power_v is not None:
        return array.max_power_v
    taken = "its open-circuit voltage" if array.open_circuit_v else "the nominal voltage of its system"
    work.assume(array.id, "voltage at maximum power", taken, "array currents too low")
    return array.open_circuit_v or nominal
