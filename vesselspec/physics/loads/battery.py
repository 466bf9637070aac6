"""How a battery bank gives and takes: Peukert's law in its rated form, usable share, charge acceptance."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.model.devices import BatteryBank
from vesselspec.standards import figure

#: Fields of a bank as `Assumed` names them.
USABLE = "usable share"


def peukert_hours(*, capacity_ah: float, rated_h: float, exponent: float, amps: float) -> float:
    """Hours of discharge at a current: t = H (C / (I H)) ** n, which gives H at the rated current C / H."""
    return float(rated_h * (capacity_ah / (amps * rated_h)) ** exponent)


def counted_amps(*, capacity_ah: float, rated_h: float, exponent: float, amps: float) -> float:
    """The current that a discharge counts as: capacity over Peukert's hours.

    Below the rated current Peukert promises more than the printed capacity; that is not counted on.
    """
    if amps <= 0:
        return 0.0
    hours = peukert_hours(capacity_ah=capacity_ah, rated_h=rated_h, exponent=exponent, amps=amps)
    return max(amps, capacity_ah / hours)


@dataclass(frozen=True)
class Assumed:
    """A figure that the record does not give, what was taken for it, and where that comes from."""

    item: str
    field: str
    value: float
    unit: str
    source: str
    from_memory: bool


@dataclass(frozen=True)
class Bank:
    """A bank's figures; None where neither the record nor a published figure for its chemistry gives one."""

    id: str
    capacity_ah: float | None
    usable_share: float | None
    acceptance_a: float | None
    taper_from: float
    taper_least: float
    returned: float
    rated_h: float | None
    peukert: float | None
    assumed: tuple[Assumed, ...]

    @property
    def low(self) -> float | None:
        """The state of charge below which it is not meant to go."""
        return None if self.usable_share is None else 1.0 - self.usable_share

    def acceptance_at(self, state: float) -> float | None:
        """The largest charging current that it takes at a state of charge; None where that is not known."""
        if self.acceptance_a is None:
            return None
        if state <= self.taper_from:
            return self.acceptance_a
        missing = max(0.0, 1.0 - state) / (1.0 - self.taper_from)
        return self.acceptance_a * max(self.taper_least, missing)

    def drain(self, amps: float) -> float:
        """What a discharge takes out of the state of charge, as a current."""
        if self.capacity_ah is None or self.rated_h is None or self.peukert is None:
            return max(amps, 0.0)
        return counted_amps(
            capacity_ah=self.capacity_ah, rated_h=self.rated_h, exponent=self.peukert, amps=max(amps, 0.0)
        )


def bank_of(device: BatteryBank) -> Bank:
    """Gather a bank's figures: the record's own, else those of its chemistry, named as such."""
    assumed: list[Assumed] = []
    use = figure("battery_use_common_practice")
    rows = [row for row in use.data["rows"] if device.chemistry in row["used_as"]]
    practice = rows[0] if rows else None

    def of(field: str, own: float | None, key: str, unit: str, scale: float | None = 1.0) -> float | None:
        if own is not None or practice is None or scale is None:
            return own
        value = float(practice[key]) * scale
        assumed.append(Assumed(device.id, field, value, unit, use.source, use.from_memory))
        return value

    exponent = device.peukert
    law = figure("peukert_exponents")
    if exponent is None:
        for row in law.data["rows"]:
            if device.chemistry in row["used_as"]:
                exponent = float(max(row["exponent"]))
                assumed.append(Assumed(device.id, "peukert", exponent, "", law.source, law.from_memory))
    hours = of(
        "capacity over", None if device.capacity_over_s is None else device.capacity_over_s / 3600, "rated_h", "h"
    )
    return Bank(
        id=device.id,
        capacity_ah=device.capacity_ah,
        usable_share=of(USABLE, device.usable_share, "usable", ""),
        acceptance_a=of("charge acceptance", device.charge_acceptance_a, "acceptance_per_h", "A", device.capacity_ah),
        taper_from=float(of("taper from", None, "taper_from", "") or 1.0) if practice else 0.999999,
        taper_least=float(practice["taper_least"]) if practice else 1.0,
        returned=float(of("charge returned", None, "returned", "") or 1.0),
        rated_h=hours,
        peukert=exponent,
        assumed=tuple(assumed),
    )
