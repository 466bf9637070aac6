"""Resistance and reactance of a copper conductor from its size, length and temperature, with the figures behind them.

Two resistances are given. The tabled one errs high, for voltage drop: tinned stranded copper, for which NFPA 70
Chapter 9 Table 8 (gauges) and IEC 60228 class 5 (metric) print the most. The least one is that of solid copper of
the full area at 100 % IACS: no conductor of that size has less, so it errs to the safe side for fault currents.

Reactance is that of NFPA 70 Chapter 9 Table 9 in PVC conduit, line to neutral, in proportion to frequency. It stands
for each conductor by itself: no mutual impedance is left over for the network. Metric sizes take the row of the
largest gauge that they are not smaller than, which errs high; IEC 60364-5-52 Annex G would give 0.08 mohm/m to all
sizes, but that figure is from memory. Sizes beneath the table take its first row, those beyond it the last.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

from vesselspec.standards import Figure, figure
from vesselspec.units import Size, awg_area_mm2

_FT_M: Final = 0.3048  # exact, by definition
_TABLE_8_C: Final = 75.0  # in the titles of both tables
_TABLE_9_HZ: Final = 60.0
_IEC_60228_C: Final = 20.0
_REFERENCE_C: Final = 20.0  # of the resistivity


@dataclass(frozen=True, slots=True)
class ConductorImpedance:
    """Impedance of one conductor, one way.

    `r_ohm` and `x_ohm` err high, `least_r_ohm` low; all in ohm. `derivation` tells how they came about, step by step;
    `from_memory`: no copy of a figure behind them was read.
    """

    r_ohm: float
    x_ohm: float
    least_r_ohm: float
    source: str
    from_memory: bool
    derivation: tuple[str, ...]

    @property
    def z_ohm(self) -> complex:
        """Resistance and reactance as one number, for a branch."""
        return complex(self.r_ohm, self.x_ohm)


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    mm2: float
    per_m: float


def conductor_impedance(
    *, size: Size, length_m: float, temperature_c: float, frequency_hz: float, parallel: int = 1
) -> ConductorImpedance:
    """Impedance of a copper conductor of `length_m` m (one way), at `temperature_c` °C of the copper itself.

    `frequency_hz` is 0 for DC; `parallel` is how many such conductors lie side by side and share the current.
    A size between two rows is computed by area from the next smaller row; a size beneath or beyond the table from
    its first or last. Skin effect is left out: for 4/0 AWG at 60 Hz, Table 9 prints 2 % more than Table 8.
    Raises ValueError for a length that is not above zero, a frequency below zero, a temperature outside of -60 to
    400 °C, fewer than one conductor, or what is no finite number.
    """
    if not (math.isfinite(length_m) and length_m > 0):
        raise ValueError(f"a length of {length_m} m; expected more than 0 m")
    if not -60 <= temperature_c <= 400:
        raise ValueError(f"a conductor at {temperature_c} °C; expected -60 to 400 °C")
    if not (math.isfinite(frequency_hz) and frequency_hz >= 0):
        raise ValueError(f"a frequency of {frequency_hz} Hz; expected 0 Hz (DC) or more")
    if parallel < 1:
        raise ValueError(f"{parallel} conductors in parallel; expected at least 1")
    table = figure("nec_ch9_table8" if size.awg is not None else "iec60228_max_resistance")
    at_c = _TABLE_8_C if size.awg is not None else _IEC_60228_C
    warmth, iacs = figure("copper_zero_resistance_temperature"), figure("copper_resistivity_iacs")
    row = _row_for(size, _resistances(table.id))
    used: list[Figure] = [table, warmth]
    tabled = row.per_m * row.mm2 / size.mm2
    factor = temperature_factor(at_c, temperature_c)
    share = length_m / parallel
    r_ohm = tabled * factor * share
    steps = [
        f"{table.source}: {row.name}, tinned and stranded, {row.per_m * 1000:.4g} mohm/m at {at_c:g} °C"
        + ("" if row.name == size.text else f"; by area {size.text} has {tabled * 1000:.4g} mohm/m"),
        f"copper at {temperature_c:g} °C: × {factor:.4g}",
        f"{length_m:.4g} m" + (f", {parallel} in parallel" if parallel > 1 else "") + f": {r_ohm * 1000:.4g} mohm",
    ]
    least = iacs.data["value"] / 1000 / size.mm2 * temperature_factor(_REFERENCE_C, temperature_c) * share
    used.append(iacs)
    steps.append(
        f"at least {least * 1000:.4g} mohm: solid copper of {size.mm2:.4g} mm² and {iacs.data['value']:g} "
        f"ohm·mm²/km at {_REFERENCE_C:g} °C"
    )
    x_ohm = 0.0
    if frequency_hz > 0:
        reactances = figure("nec_table9_single_phase_z")
        by = _row_for(size, _reactances(reactances.id))
        x_ohm = by.per_m * frequency_hz / _TABLE_9_HZ * share
        used.append(reactances)
        steps.append(
            f"{reactances.source}: {by.name}, {by.per_m * 1000:.4g} mohm/m at {_TABLE_9_HZ:g} Hz; "
            f"at {frequency_hz:g} Hz {x_ohm * 1000:.4g} mohm"
        )
    return ConductorImpedance(
        r_ohm=r_ohm,
        x_ohm=x_ohm,
        least_r_ohm=least,
        source="; ".join(item.source for item in used),
        from_memory=any(item.from_memory for item in used),
        derivation=tuple(steps),
    )


def temperature_factor(from_c: float, to_c: float) -> float:
    """What the resistance of copper at `from_c` °C is multiplied by at `to_c` °C.

    (234.5 + to) / (234.5 + from), the temperature constant of IEC 60364-5-54. At 20 °C that is a coefficient of
    1 / 254.5 = 0.003929 per °C, the 0.00393 of the copper wire tables.
    """
    constant = float(figure("copper_zero_resistance_temperature").data["value"])
    return (constant + to_c) / (constant + from_c)


@cache
def _resistances(table: str) -> tuple[_Row, ...]:
    """Resistance in ohm/m of tinned stranded copper by size, from the smallest up, at the table's temperature."""
    rows = figure(table).data["rows"]
    if table == "nec_ch9_table8":
        return tuple(_gauge(row["awg"], row["stranded_coated"]) for row in rows)
    return tuple(_Row(f"{row['mm2']:g} mm2", float(row["mm2"]), row["class_5_tinned"] / 1000) for row in rows)


@cache
def _reactances(table: str) -> tuple[_Row, ...]:
    return tuple(_gauge(row["awg"], row["xl"]) for row in figure(table).data["rows"])


def _gauge(awg: str, ohm_per_1000_ft: float) -> _Row:
    return _Row(f"{awg} AWG", awg_area_mm2(awg), ohm_per_1000_ft / (1000 * _FT_M))


def _row_for(size: Size, rows: tuple[_Row, ...]) -> _Row:
    """The largest row that the size is not smaller than, or the first."""
    below = [row for row in rows if row.mm2 <= size.mm2 * (1 + 1e-9)]
    return below[-1] if below else rows[0]
