"""What each source on board can give into a fault, as far as the record says: its emf, its impedance or its limit.

All emfs are nominal: the voltage factor c of IEC 60909 is taken as 1, for no copy of its table was read, and what it
would change (5 to 10 %) is within what nobody knows of a small source. A source with several figures takes the one
that gives the most current for the largest fault and the one that gives the least for the smallest.

A battery of which only the chemistry or the cold-cranking current is recorded gets an estimate, an order of
magnitude: reports show it, and nothing is decided by it.
"""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.model.devices import (
    Alternator,
    BatteryBank,
    Charger,
    DcConverter,
    Device,
    Generator,
    Inverter,
    InverterCharger,
    IsolationTransformer,
    ShoreInlet,
    SolarArray,
    SolarController,
)
from vesselspec.model.items import System
from vesselspec.physics.loads.demand import rating_of
from vesselspec.standards import figure

ORDER_OF_MAGNITUDE = "order of magnitude only"
SUSTAINED, INVERTED, SHORTED = (
    "its sustained short-circuit current",
    "its short-circuit current",
    "its short-circuit impedance",
)
HOLDS = "how long it holds its current into a fault"
#: What the record may have no field for, and the attribute that holds it where there is one.
_FIELDS = {
    SUSTAINED: "sustained_fault_current_a",
    INVERTED: "fault_current_a",
    SHORTED: "short_circuit_impedance",
    HOLDS: "fault_time_s",
}
#: A fault on half of a winding meets more than half of its impedance: so much more at most. Common practice, no source.
_HALF_WINDING = 1.5
#: A monobloc battery, which the typical resistances and the cold-cranking test are for.
_BATTERY_V = 12.0


@dataclass(frozen=True)
class Supply:
    """What a source gives into a fault.

    `least` and `most` are the impedance in ohm of each of its lines, or of its positive pole: with `least` the
    largest fault is worked out, with `most` the smallest; None where the record does not tell. `halved`: `least` is
    that of a loop, so half of it may lie in the return. `limit_a` is what a source that limits itself gives at most,
    and `holds_s` after how long it switches itself off and stays off.
    `estimate` are the same two where only an order of magnitude is known. `missing` names what would have to be
    recorded for the largest fault, `missing_smallest` for the smallest.
    """

    least: complex | None = None
    most: complex | None = None
    halved: bool = False
    limit_a: float | None = None
    holds_s: float | None = None
    estimate: tuple[complex, complex] | None = None
    missing: str = ""
    missing_smallest: str = ""
    derivation: tuple[str, ...] = ()


def supply_of(device: Device, system: System | None, lines: int) -> Supply:
    """What a device gives to a fault on its `lines` lines, or on its positive pole."""
    volts = system.voltage.line_v if system is not None else 0.0
    match device:
        case ShoreInlet():
            return _shore(device, volts)
        case Generator():
            return _generator(device, system, lines)
        case BatteryBank():
            return _battery(device, volts)
        case Inverter() | InverterCharger() if system is not None and not system.is_dc:
            return _limited(device, _recorded(device, "fault_current_a"), INVERTED, "as recorded")
        case IsolationTransformer():
            return _transformer(device, system, lines)
        case Alternator():
            limit = device.rating_a if device.self_limiting else None
            missing = "its rating" if device.self_limiting else "whether it is self-limiting"
            return _limited(device, limit, missing, "self-limiting: its rating")
        case SolarArray():
            return _limited(device, device.short_circuit_a, "its short-circuit current", "as marked")
        case Charger() | InverterCharger():
            return _limited(device, device.charge_a, "its charging current", "it limits itself to its charging current")
        case DcConverter() | SolarController():
            return _limited(device, device.rating_a, "its rating", "it limits itself to its rating")
        case _:
            return Supply(missing="what it gives into a fault", missing_smallest="what it gives into a fault")


def can_be_recorded(device: Device | None, missing: str) -> bool:
    """Whether the record has a place for what is missing: nobody is asked for what cannot be written down."""
    if missing == INVERTED and not isinstance(device, Inverter | InverterCharger):
        return True
    return missing not in _FIELDS or hasattr(device, _FIELDS[missing])


def _recorded(device: Device, name: str) -> float | None:
    """A field that not every version of the record's format has."""
    value: float | None = getattr(device, name, None)
    return value


def _limited(device: Device, limit: float | None, missing: str, why: str) -> Supply:
    if limit is None:
        return Supply(missing=missing, missing_smallest=missing)
    told = f"{device.id}: at most {limit:.4g} A, {why}"
    if isinstance(device, Charger | InverterCharger | DcConverter | SolarController) and "itself" in why:
        told += " (common practice, no source)"
    holds_s = _recorded(device, "fault_time_s") if isinstance(device, Inverter | InverterCharger) else None
    if holds_s is not None and "itself" not in why:
        told += f", for {holds_s:g} s at most"
        return Supply(limit_a=limit, holds_s=holds_s, derivation=(told,))
    return Supply(limit_a=limit, missing_smallest=HOLDS, derivation=(told,))


def _shore(device: ShoreInlet, volts: float) -> Supply:
    """The supply ashore. What was measured is a loop, so for the largest fault half of it may lie in the return."""
    found: list[tuple[float, str]] = []
    if device.supply_ohm:
        found.append((device.supply_ohm, f"{device.id}: measured loop impedance {device.supply_ohm:.4g} ohm"))
    if device.supply_fault_a and volts:
        z = volts / device.supply_fault_a
        found.append((z, f"{device.id}: {volts:g} V / {device.supply_fault_a:.4g} A = {z:.4g} ohm"))
    if not found:
        missing = "its supply impedance or supply fault current"
        return Supply(missing=missing, missing_smallest=missing)
    least, most = min(found), max(found)
    return Supply(
        least=complex(least[0]),
        most=complex(most[0]),
        halved=True,
        derivation=tuple(dict.fromkeys((least[1], most[1]))),
    )


def _generator(device: Generator, system: System | None, lines: int) -> Supply:
    """Subtransient reactance on the base of its rating. Its other reactances are taken to be the same."""
    rated = rating_of(device, system, lines)
    if device.subtransient is None or not rated or system is None:
        missing = "its subtransient reactance" if device.subtransient is None else "its rating"
        return Supply(missing=missing, missing_smallest=missing)
    volts = system.voltage.line_v
    x = device.subtransient * volts / rated
    sustained = _recorded(device, "sustained_fault_current_a")
    told: tuple[str, ...] = (
        f"{device.id}: subtransient reactance {device.subtransient * 100:.4g} % × {volts:g} V / {rated:.4g} A = "
        f"{x:.4g} ohm a line; its resistance is left out and all its reactances are taken as this one",
    )
    if sustained is None:
        return Supply(
            least=complex(0, x),
            most=complex(0, x),
            missing_smallest=SUSTAINED,
            derivation=(*told, f"{device.id}: this lasts some cycles; what it sustains is less and not recorded"),
        )
    z = complex(0, max(x, volts / sustained))
    told = (*told, f"{device.id}: sustained {sustained:.4g} A: {abs(z):.4g} ohm a line for the smallest fault")
    return Supply(least=complex(0, x), most=z, derivation=told)


def _transformer(device: IsolationTransformer, system: System | None, lines: int) -> Supply:
    """Its own impedance on the base of its rating: reactance for the largest fault, resistance for the smallest.

    What feeds its primary is left out of the largest fault; of the smallest `FaultLevels` adds it.
    """
    rated = rating_of(device, system, lines)
    if device.short_circuit_impedance is None or not rated or system is None:
        missing = SHORTED if device.short_circuit_impedance is None else "its rating"
        return Supply(missing=missing, missing_smallest=missing)
    volts = system.voltage.line_v
    z = device.short_circuit_impedance * volts / rated
    told = (
        f"{device.id}: short-circuit impedance {device.short_circuit_impedance * 100:.4g} % × {volts:g} V / "
        f"{rated:.4g} A = {z:.4g} ohm a line"
    )
    half = _HALF_WINDING if lines > 1 else 1.0
    return Supply(least=complex(0, z), most=complex(z * half), derivation=(told,))


def _battery(device: BatteryBank, volts: float) -> Supply:
    found: list[tuple[float, str]] = []
    if device.internal_ohm:
        found.append((device.internal_ohm, f"{device.id}: internal resistance {device.internal_ohm * 1000:.4g} mohm"))
    if device.short_circuit_a and volts:
        r = volts / device.short_circuit_a
        found.append((r, f"{device.id}: {volts:g} V / {device.short_circuit_a:.4g} A = {r * 1000:.4g} mohm"))
    if found:
        least, most = min(found), max(found)
        told = tuple(dict.fromkeys((least[1], most[1])))
        return Supply(least=complex(least[0]), most=complex(most[0]), derivation=told)
    missing = "its short-circuit current or internal resistance"
    estimate = _cranking(device, volts) or _chemistry(device, volts)
    if estimate is None:
        return Supply(missing=missing, missing_smallest=missing)
    low, high, told_by = estimate
    return Supply(
        estimate=(complex(low), complex(high)),
        missing=missing,
        missing_smallest=missing,
        derivation=(f"{device.id}: {told_by} ({ORDER_OF_MAGNITUDE})",),
    )


def _cranking(device: BatteryBank, volts: float) -> tuple[float, float, str] | None:
    """From the definition of the cold-cranking current: a 12 V battery falls to 7.2 V under it."""
    if not device.cold_cranking_a or not volts:
        return None
    rule = figure("cca_definition")
    r = (_BATTERY_V - float(rule.data["cca_V"])) / device.cold_cranking_a * volts / _BATTERY_V
    told = (
        f"({_BATTERY_V:g} V - {rule.data['cca_V']:g} V) / {device.cold_cranking_a:.4g} A cold-cranking × "
        f"{volts:g} V / {_BATTERY_V:g} V = {r * 1000:.3g} mohm, {rule.source}"
    )
    return r, r, told


def _chemistry(device: BatteryBank, volts: float) -> tuple[float, float, str] | None:
    """From what is typical of a 12 V battery of the chemistry."""
    if device.chemistry is None or not volts:
        return None
    rule = figure("battery_resistance")
    word = "LFP" if device.chemistry == "lithium-iron-phosphate" else "lead-acid"
    if word == "lead-acid" and "lead-acid" not in device.chemistry:
        return None
    values = [v for row in rule.data["rows"] if word in row["battery"] for v in row["value"]]
    share = volts / _BATTERY_V / (device.strings or 1) / 1000
    low, high = min(values) * share, max(values) * share
    told = (
        f"{device.chemistry}: {min(values):g} to {max(values):g} mohm for each 12 V battery, "
        f"{device.strings or 1} in parallel: {low * 1000:.3g} to {high * 1000:.3g} mohm, {rule.source}"
    )
    return low, high, told
