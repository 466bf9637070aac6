"""Voltage drop by the formulas that the published limits go with, and which limit applies.

Each practice has its own figure for the resistance of copper: 10.75 ohm·cmil/ft for DC on North American boats
(copper at about 29 °C), 12.9 for AC (75 °C), 0.0225 ohm·mm²/m for international practice. They contradict each other
and the tinned strands at 75 °C with which a condition is solved; the formula decides, the hot figure is told beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from vesselspec.physics.conductors.impedance import ConductorImpedance, conductor_impedance
from vesselspec.standards import PRACTICES, figure
from vesselspec.units import Size

#: Temperature of the copper for the figure beside the formula: that of NEC Chapter 9 Table 8, and of the solved flow.
HOT_C = 75.0
#: Uses that the published lists name or, for bilge pumps, that must run when all else fails.
_ABYC_STRICT = ("navigation-lights", "bilge-blower", "bilge-pump", "electronics", "navigation")
_ISO_STRICT = ("navigation-lights", "bilge-blower", "bilge-pump")


@dataclass(frozen=True)
class Formula:
    """Resistance of copper by the formula of a practice, in ohm·mm²/m."""

    rho: float
    text: str
    source: str
    from_memory: bool


@lru_cache(maxsize=8)
def formula(practice: str, *, dc: bool) -> Formula:
    """The formula that voltage drop is computed with. Raises ValueError for an unknown practice."""
    if practice not in PRACTICES:
        raise ValueError(f"unknown practice {practice!r}; expected one of {', '.join(PRACTICES)}")
    if practice == "international":
        found = figure("iec_service_resistivity")
        value = float(found.data["value"])
        return Formula(value, f"{value:g} ohm·mm²/m", "IEC 60364-5-52 Annex G", found.from_memory)
    found = figure("k_boat_voltage_drop" if dc else "k_building_voltage_drop")
    k = float(found.data["value"])
    si = float(figure("ohm_cmil_ft_to_si").data["value"])
    return Formula(k * si * 1e6, f"K = {k:g} ohm·cmil/ft", found.source, found.from_memory)


@dataclass(frozen=True)
class Conductor:
    """One conductor of a way, one way: by the formula, and with hot tinned strands. All in ohm."""

    formula_r: float
    hot_r: float
    x: float
    hot: ConductorImpedance

    def formula_z(self, power_factor: float) -> float:
        """Ohm per ampere that count for the drop: R·cosφ + X·sinφ."""
        return self.formula_r * power_factor + self.x * _sine(power_factor)

    def hot_z(self, power_factor: float) -> float:
        """The same with hot tinned strands."""
        return self.hot_r * power_factor + self.x * _sine(power_factor)


def _sine(power_factor: float) -> float:
    return math.sqrt(max(0.0, 1 - power_factor * power_factor))


@lru_cache(maxsize=4096)
def conductor(size: Size, length_m: float, practice: str, *, frequency_hz: float | None) -> Conductor | None:
    """A conductor of that size and length. A frequency of None is DC; 0 an AC system whose frequency is not known.

    None for a length that is not above zero.
    """
    if length_m <= 0:
        return None
    hot = conductor_impedance(size=size, length_m=length_m, temperature_c=HOT_C, frequency_hz=frequency_hz or 0.0)
    by_formula = formula(practice, dc=frequency_hz is None).rho * length_m / size.mm2
    return Conductor(by_formula, hot.r_ohm, hot.x_ohm, hot)


@lru_cache(maxsize=256)
def share(size: Size, practice: str, *, frequency_hz: float | None) -> float:
    """The share of a solved drop that the formula leaves for a conductor of that size; at most 1."""
    made = conductor(size, 1.0, practice, frequency_hz=frequency_hz)
    return 1.0 if made is None else min(1.0, made.formula_r / made.hot_r)


def at_nominal(lost: float, share_left: float, most_lost: float) -> float:
    """The least share of nominal that the formula gives for what was solved as `lost`.

    The formula counts the current at nominal voltage and its own resistance of copper; solved were hot tinned strands,
    and loads of constant power that draw more the lower their voltage is. `most_lost` is the largest drop at any load.
    """
    return lost * share_left * (1 - min(max(most_lost, 0.0), 1.0)) if lost > 0 else lost


# --- limits ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Limit:
    """A published limit as a share of the nominal voltage. `beside` names other figures that contradict it."""

    ratio: float
    scope: str
    source: str
    from_memory: bool
    recommendation: bool
    beside: tuple[str, ...] = ()

    @property
    def binding(self) -> bool:
        """Whether exceeding it is more than a notice."""
        return not (self.recommendation or self.from_memory)


def is_strict(practice: str, use: str | None, *, essential: bool = False) -> bool | None:
    """Whether a DC load's drop must be kept low; None where its use is not recorded and decides."""
    if essential:
        return True
    if use is None:
        return None
    return use in (_ISO_STRICT if practice == "international" else _ABYC_STRICT)


def branch_limit(practice: str, *, dc: bool) -> Limit | None:
    """The limit from the last point of distribution to the load alone, where a practice has one."""
    if dc or practice == "international":
        return None
    return _limit(_row("NFPA 70 210.19"), recommendation=True)


def feeder_limit(practice: str, *, dc: bool) -> Limit | None:
    """The limit from the source to a panel, where a practice has one."""
    if not dc:
        return None
    return _limit(_row("ISO 10133:2012 clause 4 note") if practice == "international" else _row("ABYC", percent=3))


def total_limit(practice: str, *, dc: bool, use: str | None, essential: bool = False) -> Limit | None:
    """The limit from the source to the load. None where the use would decide and is not recorded."""
    if not dc:
        return _ac_limit(practice, use)
    strict = is_strict(practice, use, essential=essential)
    return None if strict is None else dc_limit(practice, strict=strict, use=use)


def dc_limit(practice: str, *, strict: bool, use: str | None = None) -> Limit:
    """The DC limit of a class of loads."""
    if practice == "international":
        if strict:
            return _limit(_row("ISO 10133:2012 clause 4 note"))
        beside = _row("ABYC", percent=3)
        other = f"{beside['source']} gives {beside['limit_percent']} % for {beside['scope']}"
        named = use in _ABYC_STRICT
        return _limit(_row("from memory of ISO 10133"), beside=(other,) if named else ())
    if not strict:
        return _limit(_row("ABYC", percent=10))
    iso = _row("ISO 10133:2012 clause 4 note")
    pump = (f"the list as quoted does not name bilge pumps; {iso['source']} does, at {iso['limit_percent']} %",)
    return _limit(_row("ABYC", percent=3), beside=pump if use == "bilge-pump" else ())


def _ac_limit(practice: str, use: str | None) -> Limit:
    if practice != "international":
        return _limit(_row("NFPA 70 215.2"), recommendation=True)
    kind = "lighting" if use in ("lighting", "navigation-lights") else "other uses"
    public, own = _row("IEC 60364-5-52", scope=f"{kind}, public"), _row("IEC 60364-5-52", scope=f"{kind}, private")
    beside = f"{own['source']} gives {own['limit_percent']} % for {own['scope']}"
    return _limit(public, recommendation=True, beside=(beside,))


def _row(source: str, *, percent: float | None = None, scope: str = "") -> Any:
    for row in figure("voltage_drop_limits").data["rows"]:
        named = row["source"].startswith(source) and row["scope"].startswith(scope)
        if named and percent in (None, row["limit_percent"]):
            return row
    raise LookupError(f"no voltage drop limit of {source} {scope}")


def _limit(row: Any, *, recommendation: bool = False, beside: Iterable[str] = ()) -> Limit:
    return Limit(
        ratio=row["limit_percent"] / 100,
        scope=row["scope"],
        source=row["source"],
        from_memory=row["from_memory"],
        recommendation=recommendation,
        beside=tuple(beside),
    )
