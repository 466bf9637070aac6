"""What a charging source gives in a condition, as far as the record says: by share, by stage, by the light on an array.

Knows no solver and needs no NumPy: the steady state and the energy budget read the record through it alike.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.devices import (
    Alternator,
    Charger,
    DcConverter,
    Device,
    InverterCharger,
    SolarArray,
    SolarController,
)
from vesselspec.model.items import ABSORPTION, FLOAT, Condition
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Emission, Network
from vesselspec.network.state import State
from vesselspec.physics.steady.notes import Assumption

ChargingSource = Charger | InverterCharger | Alternator | SolarController | SolarArray | DcConverter

TOO_LITTLE = "charging too low, battery currents too high"
TOO_MUCH = "charging too high, battery currents too low"


@dataclass(frozen=True)
class Output:
    """The most that a source gives over all its outputs, and the voltage at which it gives less.

    Both `amps` (A) and `watts` (W) None: not recorded, and `assumed` says what is missing. `volts` None: no voltage is
    recorded at which it would give less.
    """

    amps: float | None
    watts: float | None
    volts: float | None
    assumed: tuple[Assumption, ...] = ()

    @property
    def known(self) -> bool:
        """Whether the record says what it gives."""
        return self.amps is not None or self.watts is not None

    def amps_at(self, volts: float) -> float:
        """The most at a voltage, in A."""
        most = math.inf if self.amps is None else self.amps
        return most if self.watts is None else min(most, self.watts / max(volts, 1e-9))


def share_of(condition: Condition, key: str) -> float | None:
    """Share of its rated output that a source may give in a condition; None where the record does not say."""
    demand = dict(condition.shares).get(key)
    return None if demand is None or (demand.published and not demand.factor) else demand.factor


def rated_output(device: Device) -> tuple[float | None, str]:
    """Rated output current of a charging source in A, and the name of the field."""
    match device:
        case Charger() | InverterCharger():
            return device.charge_a, "charging current"
        case Alternator() | DcConverter() | SolarController():
            return device.rating_a, "rating"
        case SolarArray():
            return device.short_circuit_a, "short-circuit current"
        case _:
            return None, ""


def output_of(vessel: Vessel, network: Network, state: State, condition: Condition, key: str) -> Output | None:
    """What a charging source gives in a condition; None where it is none or the record says that it gives nothing."""
    device = vessel.devices.get(key)
    if not isinstance(device, ChargingSource):
        return None
    share = share_of(condition, key)
    if share == 0:
        return None
    if isinstance(device, SolarController):
        return _controller(vessel, network, state, condition, device, share)
    volts, assumed = _ceiling(device, condition)
    rated, field = rated_output(device)
    if share is None:
        return Output(None, None, volts, (_nothing(key, "its output in this condition", device),))
    if rated is None:
        return Output(None, None, volts, (_nothing(key, field, device),))
    return Output(rated * share, None, volts, assumed)


def _nothing(key: str, missing: str, device: ChargingSource | None = None) -> Assumption:
    by_ac = ", AC currents too low" if isinstance(device, Charger | InverterCharger) else ""
    return Assumption(key, missing, "no charging", f"battery currents too high{by_ac}")


def _ceiling(device: ChargingSource, condition: Condition) -> tuple[float | None, tuple[Assumption, ...]]:
    """The voltage that a source does not exceed, by its stage; none is made up where none is recorded."""
    if isinstance(device, SolarArray):
        return device.open_circuit_v, ()
    stage = condition.charging.get(device.id)
    wanted = device.float_v if stage == FLOAT else device.absorption_v
    if stage in (FLOAT, ABSORPTION) and wanted is None:
        other = device.absorption_v
        taken = "no limit of voltage" if other is None else "its absorption voltage"
        return other, (Assumption(device.id, f"{stage} voltage", taken, TOO_MUCH),)
    return wanted, ()


def arrays_behind(vessel: Vessel, network: Network, state: State, key: str) -> Iterator[tuple[SolarArray, Emission]]:
    """The running arrays on the array side of a solar controller."""
    terminal = network.index.get((f"{key}/array", "DC+"))
    for emission in state.at(terminal) if terminal is not None else ():
        array = vessel.devices.get(emission.source)
        if isinstance(array, SolarArray) and emission.pole == "DC+":
            yield array, emission


def _controller(
    vessel: Vessel, network: Network, state: State, condition: Condition, device: SolarController, share: float | None
) -> Output | None:
    """The least of its own share of its rating, its rating, and what its arrays give in this light."""
    volts, found = _ceiling(device, condition)
    assumed = list(found)
    light = [(array, share_of(condition, array.id)) for array, _ in arrays_behind(vessel, network, state, device.id)]
    lit = [(array, sun) for array, sun in light if sun is not None]
    amps = None if device.rating_a is None else device.rating_a * (1.0 if share is None else share)
    if light and len(lit) == len(light):
        if not any(sun for _, sun in lit):
            return None
        field = "power" if device.method == "mppt" else "short-circuit current"
        figures = [array.power_w if device.method == "mppt" else array.short_circuit_a for array, _ in lit]
        unknown = [array.id for (array, _), figure in zip(lit, figures, strict=True) if figure is None]
        if not unknown:
            given = math.fsum(sun * (figure or 0.0) for (_, sun), figure in zip(lit, figures, strict=True))
            return _from_light(device, given, amps, volts, assumed)
        if share is None:
            return Output(None, None, volts, (_nothing(unknown[0], field),))
    if share is None:
        return Output(None, None, volts, (_nothing(device.id, "its output in this condition"),))
    if amps is None:
        return Output(None, None, volts, (_nothing(device.id, "rating"),))
    return Output(amps, None, volts, tuple(assumed))


def _from_light(
    device: SolarController, given: float, amps: float | None, volts: float | None, assumed: list[Assumption]
) -> Output:
    if device.method == "mppt":
        if device.efficiency is None:
            assumed.append(Assumption(device.id, "efficiency", "no loss", TOO_MUCH))
        return Output(amps, given * (device.efficiency or 1.0), volts, tuple(assumed))
    if device.method is None:
        assumed.append(Assumption(device.id, "method", "pwm: it passes the array's current on", TOO_LITTLE))
    return Output(given if amps is None else min(given, amps), None, volts, tuple(assumed))
