"""How soon a device opens, how long a conductor stands a fault, how soon a circuit must be dead, what opens first.

A time-current curve is the maker's, and no record holds it. What is published are bounds: at this multiple of its
rating a device of the family opens within so long; up to that one it holds for so long. A larger current never opens
it later, so the bounds hold between the printed points. Limits from memory are carried and marked; callers leave
them out of what decides. Where a family has no published bound there is none.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from typing import Final, Literal

from vesselspec.standards import Figure, figure
from vesselspec.units import Size

ADIABATIC_S: Final = 5.0
"""Longest breaking time that the adiabatic formula is for (IEC 60364-4-43, IEC 60364-5-54)."""
FINAL_CIRCUIT_A: Final = 32.0
"""Up to this rating a circuit counts as a final circuit of IEC 60364-4-41 Table 41.1."""

_HOUR = 3600.0
_MINUTE = 60.0


@dataclass(frozen=True)
class Limit:
    """One printed bound: a current in A, a time in s, and what says so."""

    amps: float
    seconds: float
    source: str
    from_memory: bool


@dataclass(frozen=True)
class Band:
    """What is published of when a device opens.

    `opens`: at its current or more, it opens within its time. `holds`: at its current or less, it does not open
    before its time. `why_none` says why there are no limits at all, where there are none.
    """

    opens: tuple[Limit, ...] = ()
    holds: tuple[Limit, ...] = ()
    why_none: str = ""

    def latest(self, amps: float, *, memory: bool = False) -> Limit | None:
        """The limit by which it has opened at `amps` at the latest; None: nothing published says that it opens."""
        fit = [each for each in self.opens if amps >= each.amps * (1 - 1e-12) and (memory or not each.from_memory)]
        return min(fit, key=lambda each: each.seconds, default=None)

    def soonest(self, amps: float, *, memory: bool = False) -> Limit | None:
        """The limit before which it has not opened at `amps`; None: it may open at once."""
        fit = [each for each in self.holds if amps <= each.amps * (1 + 1e-12) and (memory or not each.from_memory)]
        return max(fit, key=lambda each: each.seconds, default=None)


def in_series(bands: Mapping[str, Band]) -> Band:
    """What is published of when the first of several devices in series opens, the nearest one first; all read limits.

    Any of them may open the circuit; it stays closed for as long as each of them holds.
    """
    if len(bands) == 1 or not any(band.opens or band.holds for band in bands.values()):
        return next(iter(bands.values()))
    opens = tuple(
        replace(each, source=f"{name}: {each.source}")
        for name, band in bands.items()
        for each in band.opens
        if not each.from_memory
    )
    holds = []
    for amps in sorted({each.amps for band in bands.values() for each in band.holds}):
        first = [(name, band.soonest(amps)) for name, band in bands.items()]
        known = [(held.seconds, name, held) for name, held in first if held is not None]
        if len(known) == len(first):
            _, name, held = min(known, key=lambda each: each[0])
            holds.append(replace(held, amps=amps, source=f"{name}: {held.source}"))
    nearest = next(iter(bands.values()))
    return Band(opens, tuple(holds), nearest.why_none)


def band_of_breaker(rating_a: float, curve: str | None) -> Band:
    """Bounds of a breaker. Only one with a marked trip curve B, C or D belongs to a family that the record can name.

    Others may be of UL 489, of IEC 60947-2 with its own setting, or supplementary protectors (UL 1077), for which
    no bound exists: `band_of_family` has those that are published.
    """
    if curve is None:
        supplementary = figure("ul1077_calibration")
        return Band(
            why_none=f"no trip curve is recorded; it may be a supplementary protector, for which no bound exists "
            f"({supplementary.source})"
        )
    thermal, instant = figure("iec60898_thermal"), figure("iec60898_instantaneous")
    limits = thermal.data["limits"]
    row = next(row for row in instant.data["rows"] if row["type"] == curve)
    hours = limits["t_conv_h_le63" if rating_a <= 63 else "t_conv_h_gt63"] * _HOUR
    trip_s = float(limits["m255_max_s_le32" if rating_a <= 32 else "m255_max_s_gt32"])

    def limit(rule: Figure, multiple: float, seconds: float) -> Limit:
        return Limit(multiple * rating_a, seconds, f"{rule.source}, {multiple:g} × rating", rule.from_memory)

    return Band(
        opens=(
            limit(thermal, limits["trip"], hours),
            limit(thermal, thermal.data["rows"][2]["multiple_of_In"], trip_s),
            limit(instant, row["high"], 0.1),
        ),
        holds=(
            limit(thermal, limits["non_trip"], hours),
            limit(thermal, thermal.data["rows"][2]["multiple_of_In"], float(limits["m255_min_s"])),
            limit(instant, row["low"], 0.1),
        ),
    )


Family = Literal["iec-60947-2", "ul-489", "ul-248", "gG", "blade"]
#: Families of fuses, as the record names them, and what their times are published in.
_FUSES: Final[dict[str, Family]] = {
    "class-t": "ul-248",
    "class-r": "ul-248",
    "cartridge": "ul-248",
    "gG": "gG",
    "blade": "blade",
}


def band_of_fuse(rating_a: float, family: str | None) -> Band:
    """Bounds of a fuse of a family as the record names it."""
    if family is None:
        return Band(why_none="its fuse family is not recorded")
    if family not in _FUSES:
        return Band(why_none=f"no bound is published for a {family} fuse")
    return band_of_family(_FUSES[family], rating_a)


def band_of_family(family: Family, rating_a: float) -> Band:
    """Bounds of a family of devices, by its standard."""
    match family:
        case "iec-60947-2":
            return _industrial(rating_a)
        case "ul-489":
            rows = _per_cent("ul489_calibration", "ul489_calibration_more", "max_trip_min", rating_a)
            return Band(opens=tuple(rows))
        case "ul-248":
            return Band(opens=tuple(_per_cent("ul248_overload", "ul248_overload_more", "max_min", rating_a)))
        case "gG":
            return _general_fuse(rating_a)
        case "blade":
            return _blade(rating_a)


def _industrial(rating_a: float) -> Band:
    rule = figure("iec60947_2_limits")
    small = rating_a <= 63
    seconds = rule.data["t_conv_h_le63" if small else "t_conv_h_gt63"] * _HOUR

    def limit(name: str) -> Limit:
        # The time above 63 A is the part of this figure that no copy was read for.
        return Limit(rule.data[name] * rating_a, seconds, rule.source, rule.from_memory or not small)

    return Band(opens=(limit("trip"),), holds=(limit("non_trip"),))


def _per_cent(read: str, remembered: str, minutes: str, rating_a: float) -> Iterator[Limit]:
    """Longest times by percentage of the rating: for each, the read row that covers the rating, else the other."""
    first, more = figure(read), figure(remembered)
    percents = dict.fromkeys(row["percent"] for row in (*first.data["rows"], *more.data["rows"]))
    for percent in percents:
        rows = [row for row in first.data["rows"] if row["percent"] == percent and rating_a <= row["rating_max_A"]]
        rule = first
        if not rows:
            rule = more
            rows = [row for row in more.data["rows"] if row["percent"] == percent and _within(row["rating"], rating_a)]
        if rows:
            seconds = min(row[minutes] for row in rows) * _MINUTE
            yield Limit(percent / 100 * rating_a, seconds, f"{rule.source}, {percent} %", rule.from_memory)


def _within(words: str, rating_a: float) -> bool:
    """Whether a rating lies in a range such as '31-50 A', 'over 50 A' or 'over 63 to 160 A'.

    A range begins above the end of the one before it: a rating of 30.5 A belongs to '31-50 A'.
    """
    parts = words.removesuffix(" A").replace(" to ", "-").removeprefix("over ").split("-")
    low, high = float(parts[0]), float(parts[-1]) if len(parts) > 1 else math.inf
    above = rating_a > low if words.startswith("over") else rating_a > low - 1
    return above and rating_a <= high


def _general_fuse(rating_a: float) -> Band:
    rule = figure("iec60269_gG")
    row = next((row for row in rule.data["rows"] if _within(row["rating"], rating_a)), None)
    if row is None:
        return Band(why_none=f"no bound is at hand for a gG fuse of {rating_a:g} A")
    seconds = row["t_conv_h"] * _HOUR
    return Band(
        opens=(Limit(row["fusing"] * rating_a, seconds, rule.source, rule.from_memory),),
        holds=(Limit(row["non_fusing"] * rating_a, seconds, rule.source, rule.from_memory),),
    )


def _blade(rating_a: float) -> Band:
    rule = figure("blade_fuse_times")

    def limits(name: str) -> Iterator[Limit]:
        for row in rule.data["rows"]:
            if name in row:
                yield Limit(row["percent"] / 100 * rating_a, float(row[name]), rule.source, rule.from_memory)

    return Band(opens=tuple(limits("max_s")), holds=tuple(limits("min_s")))


# --- disconnection ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Deadline:
    """The time within which a circuit must be dead after a fault to earth, in s."""

    seconds: float
    source: str


@cache
def deadline(u0_v: float, rating_a: float, *, dc: bool = False, tt: bool = False) -> Deadline | None:
    """Longest disconnection time at `u0_v` V to earth behind a device of `rating_a` A; None: none is laid down.

    IEC 60364-4-41: Table 41.1 for final circuits of up to 32 A, else the time of distribution circuits. Up to 50 V,
    and for DC up to 120 V, the table asks for nothing.
    """
    table = figure("iec60364_41_1_tt" if tt else "iec60364_41_1_tn")
    tops = (120.0, 230.0, 400.0, math.inf)
    if u0_v <= 50:
        return None
    row = next(row for row, top in zip(table.data["rows"], tops, strict=True) if u0_v <= top)
    seconds = row.get("dc" if dc else "ac")
    if seconds is None:
        return None
    if rating_a > FINAL_CIRCUIT_A:
        rest = figure("iec60364_distribution")
        return Deadline(float(rest.data["tt" if tt else "tn"]), rest.source)
    return Deadline(float(seconds), table.source)


# --- what a conductor stands -------------------------------------------------------------------------


@dataclass(frozen=True)
class Withstand:
    """k² S² of a copper conductor in A² s, at least and at most, for what its insulation can be."""

    low: float
    high: float
    source: str
    derivation: tuple[str, ...]


def adiabatic_k(start_c: float, final_c: float, metal: str = "copper") -> float:
    """k in A s^0.5 / mm² of a conductor that warms from one temperature to another.

    IEC 60364-5-54 Annex A: k² = Qc (B + 20) / rho20 × ln((B + final) / (B + start)).
    """
    data = figure("adiabatic").data[metal]
    heat = data["Qc_J_per_C_mm3"] * (data["B_C"] + 20) / data["rho20_ohm_mm"]
    return math.sqrt(heat * math.log((data["B_C"] + final_c) / (data["B_C"] + start_c)))


def withstand(size: Size, insulation_c: float | None) -> Withstand | None:
    """What a conductor in a cable stands, or None where its insulation is not recorded or not covered.

    The record has the temperature of an insulation, not its material. 70, 85 and 90 °C have a row of the table; any
    other starts at its own temperature and ends between that of PVC and that of XLPE, by the formula.
    """
    if insulation_c is None:
        return None
    table, formula = figure("k_conductor_in_cable"), figure("adiabatic")
    rows = table.data["rows"]
    row = next((row for row in rows if row["ti_C"] == insulation_c), None)
    if row is not None and size.mm2 <= 300:
        low = high = float(row["copper"])
        source = table.source
        step = f"{row['insulation']}: k = {low:g}"
    else:
        ends = (min(row["tf_C"] for row in rows), max(row["tf_C"] for row in rows))
        if insulation_c >= ends[0]:
            return None
        low, high = (adiabatic_k(insulation_c, end) for end in ends)
        source = f"{formula.source}; final temperatures: {table.source}"
        step = f"from {insulation_c:g} °C to {ends[0]:g} or {ends[1]:g} °C: k = {low:.0f} to {high:.0f}"
    low2, high2 = (low * size.mm2) ** 2, (high * size.mm2) ** 2
    span = f"{low2:.3g}" if low == high else f"{low2:.3g} to {high2:.3g}"
    return Withstand(low2, high2, source, (step, f"k² S² with S = {size.mm2:.4g} mm²: {span} A² s"))


Verdict = Literal["certain", "undecided", "not"]


def stands(
    band: Band, can: Withstand, least_a: float | None, most_a: float, sure_a: float | None = None
) -> tuple[Verdict, str]:
    """Whether a conductor stands every fault from `least_a` to `most_a` A until its device has opened.

    `least_a` is None where it is not known; `sure_a` is what the largest fault is at least, where that is not `most_a`.

    certain: by published limits I²t is never above k²S², and the device opens within 5 s; not: there is a current at
    which it cannot be; undecided: between them, or beyond the 5 s that the formula is for. The current is taken as
    symmetrical, and no credit is given to a device that limits it.
    """
    top = most_a if sure_a is None else sure_a
    for at in sorted({top, *(each.amps for each in band.holds)}):
        held = band.soonest(at) if (top if least_a is None else least_a) <= at <= top else None
        if held is not None and held.seconds <= ADIABATIC_S and at * at * held.seconds > can.high:
            return "not", (
                f"at {at:.4g} A it stays closed for {held.seconds:g} s or more ({held.source}): "
                f"I²t = {at * at * held.seconds:.3g} A² s, above {can.high:.3g}"
            )
    if least_a is None:
        return "undecided", "the smallest fault is not known"
    worst, told = 0.0, ""
    for low, high in _steps(least_a, most_a, band.opens):
        latest = band.latest(low)
        if latest is None or latest.seconds > ADIABATIC_S:
            words = "nothing published says that it opens" if latest is None else f"it may take {latest.seconds:g} s"
            return "undecided", f"from {low:.4g} A {words}; the formula is for up to {ADIABATIC_S:g} s"
        if high * high * latest.seconds >= worst:
            worst = high * high * latest.seconds
            told = f"I²t at most {worst:.3g} A² s ({high:.4g} A for {latest.seconds:g} s, {latest.source})"
    return ("certain" if worst <= can.low else "undecided"), f"{told}; k² S² at least {can.low:.3g} A² s"


def _steps(least: float, most: float, limits: Iterable[Limit]) -> Iterator[tuple[float, float]]:
    """The stretches of current between limits, from least to most."""
    inside = sorted({each.amps for each in limits if not each.from_memory and least < each.amps < most})
    ends = [least, *inside, most]
    yield from pairwise(ends)


# --- which opens first ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Order:
    """Whether the device nearer to a fault opens before the one upstream of it, up to the largest fault.

    certain: up to that current the nearer one opens first; undecided: the published bounds overlap; not: there is a
    fault current at which the upstream one opens first.
    """

    verdict: Verdict
    why: str
    #: Up to this current, in A, it is certain.
    up_to_a: float = 0.0


def order(near: Band, upstream: Band, most_a: float) -> Order:
    """Compare two devices in series for a fault of up to `most_a` A behind the nearer one."""
    for first in sorted((each for each in upstream.opens if not each.from_memory), key=lambda each: -each.amps):
        held = near.soonest(first.amps) if first.amps <= most_a else None
        if held is not None and held.seconds >= first.seconds:
            return Order(
                "not",
                f"at {first.amps:.4g} A the upstream one opens within {_told(first.seconds)} ({first.source}), the "
                f"nearer one not before {_told(held.seconds)} ({held.source})",
            )
    start = min((each.amps for each in near.opens if not each.from_memory), default=None)
    if start is None or not any(not each.from_memory for each in upstream.holds):
        return Order("undecided", near.why_none or upstream.why_none or "no bounds that were read cover both")
    if most_a <= start:
        return Order("undecided", f"at up to {most_a:.4g} A nothing published says that the nearer one opens at all")
    reached = 0.0
    points = {each.amps for each in (*near.opens, *upstream.holds) if not each.from_memory and start < each.amps}
    ends = [start, *sorted(point for point in points if point < most_a), most_a]
    for low, high in pairwise(ends):
        latest, held = near.latest(low), upstream.soonest(high)
        if latest is None or held is None or held.seconds < latest.seconds:
            return Order(
                "undecided", f"certain up to {reached:.4g} A only" if reached else "the bounds overlap", reached
            )
        reached = high
    return Order("certain", f"up to {most_a:.4g} A the nearer one has opened first", reached)


def _told(seconds: float) -> str:
    if seconds >= 2 * _HOUR or seconds == _HOUR:
        return f"{seconds / _HOUR:g} h"
    return f"{seconds / _MINUTE:g} min" if seconds >= 2 * _MINUTE else f"{seconds:g} s"
