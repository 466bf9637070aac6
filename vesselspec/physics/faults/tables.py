"""Least interrupting ratings by table, where the fault itself cannot be worked out: ABYC E-11 Tables V-A and V-B.

They go by what is easily known: the cold-cranking current of the batteries, and the shore service. They are for
breakers, "main" being the first one in series with the source and every later one a "branch".
"""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.model.devices import BatteryBank
from vesselspec.model.items import System
from vesselspec.model.vessel import Vessel
from vesselspec.standards import figure

#: Services that the figure from memory names besides single-phase ones at 120 V.
_OTHER_SERVICES = "120/240 V 50 A, 240 V 50 A, 120/208 V and 100 A services"


@dataclass(frozen=True)
class Asked:
    """The least interrupting rating that a published table asks of a device, in A; `where`: what the table goes by."""

    amps: float
    source: str
    derivation: tuple[str, ...]
    where: str
    from_memory: bool = False


def asked_by_table(vessel: Vessel, banks: frozenset[str], *, first: bool, breaker: bool, volts: float) -> Asked | None:
    """ABYC E-11 Table V-A for a device that these banks feed; `first`: it is the first in series with a bank.

    None where the table does not cover the voltage, or a cold-cranking current is not recorded; the rows of 32 V are
    from memory. The table is for breakers. A large bank asks its main device, breaker or fuse, for the battery's own
    short-circuit current, or for 20 kA where that is above 10 kA.
    """
    found = [device for key in sorted(banks) if isinstance(device := vessel.devices.get(key), BatteryBank)]
    cranking = [device.cold_cranking_a for device in found]
    by_volts = {12.0: "abyc_aic_dc", 24.0: "abyc_aic_dc", 32.0: "abyc_aic_dc_32v"}
    if not found or volts not in by_volts or any(amps is None for amps in cranking):
        return None
    table, large = figure(by_volts[volts]), figure("abyc_aic_large_banks")
    total = sum(amps for amps in cranking if amps is not None)
    told = f"{', '.join(device.id for device in found)}: {total:.4g} A cold-cranking together"
    if first and len(found) == 1:
        bank = found[0]
        big = total > large.data["threshold_cca"] or (bank.capacity_ah or 0) > large.data["threshold_Ah"]
        if big and bank.short_circuit_a is not None:
            top = large.data["fallback_when_battery_rating_exceeds_A"]
            amps = float(large.data["fallback_A"]) if bank.short_circuit_a > top else bank.short_circuit_a
            return Asked(amps, large.source, (told, f"main device of a large bank: {amps:.4g} A"), "its batteries")
    if not breaker:
        return None
    row = next(row for row in table.data["rows"] if total <= row.get("cca_max", total))
    word = "main" if first else "branch"
    return Asked(
        float(row[word]), table.source, (told, f"{word} breaker: {row[word]} A"), "its batteries", table.from_memory
    )


def asked_by_service(system: System, rating_a: float, *, first: bool) -> Asked | None:
    """ABYC E-11 Table V-B for a breaker behind a shore inlet of this rating in A; None for a service it has no row for.

    Only single-phase 120 V at 30 A and 50 A was read in a copy; the rest is from memory.
    """
    word = "main" if first else "branch"
    volts = system.voltage.line_v
    table, other = figure("abyc_aic_ac"), figure("abyc_aic_ac_240")
    service = f"{volts:g} V {rating_a:g} A"
    row = next((row for row in table.data["rows"] if row["shore"] == service), None)
    told = f"shore service of {service}: {word} breaker"
    if system.kind == "ac-single-phase" and row is not None:
        return Asked(
            float(row[word]), table.source, (f"{told}: {row[word]} A",), "its shore service", table.from_memory
        )
    named = (
        (system.kind == "ac-split-phase" and volts == 120.0 and rating_a == 50.0)
        or (system.kind == "ac-single-phase" and volts == 240.0 and rating_a == 50.0)
        or (system.kind == "ac-three-phase" and volts == 120.0)
        or rating_a == 100.0
    )
    if not named:
        return None
    amps = float(other.data[word])
    return Asked(
        amps,
        other.source,
        (f"{word} breaker behind one of {_OTHER_SERVICES}: {amps:g} A",),
        "its shore service",
        other.from_memory,
    )
