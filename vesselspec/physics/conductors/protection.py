"""How large an overcurrent device may be for the conductor it protects."""

import math
from dataclasses import dataclass
from functools import lru_cache

from vesselspec.physics.conductors.ampacity import LOW_VOLTAGE_V
from vesselspec.standards import PRACTICES, figure, standard_ratings


@dataclass(frozen=True)
class DeviceLimit:
    """Greatest rating in A of a fuse or breaker for a conductor, with its source and how it came about."""

    max_rating_a: float
    source: str
    from_memory: bool
    derivation: tuple[str, ...]


@lru_cache(maxsize=4096)  # as for the ampacity
def device_limit(ampacity_a: float, voltage_v: float, practice: str) -> DeviceLimit:
    """Greatest rating in A of the device that protects a conductor of `ampacity_a` A at `voltage_v` V.

    north-american, 33 CFR 183.455(c): under 50 V, 150 % of the ampacity. At 50 V or more the ampacity itself; only
    if that is no standard rating may the next larger standard rating be used, and only up to 150 % of the ampacity.
    The regulation's condition is read as "the ampacity is itself a standard rating", since a smaller standard
    rating always exists and the allowance would otherwise never apply. Where the next larger rating exceeds
    150 %, the ampacity stays the limit. Standard ratings are those of `standard_ratings`; a longer list can only
    lower the limit.
    international, IEC 60364-4-43 (from memory): the rating is at most the ampacity at any voltage.
    Raises ValueError for an unknown practice or an ampacity that is negative or not finite.
    """
    if practice not in PRACTICES:
        raise ValueError(f"unknown practice {practice!r}; expected one of {', '.join(PRACTICES)}")
    if not math.isfinite(ampacity_a) or ampacity_a < 0:
        raise ValueError(f"an ampacity of {ampacity_a} A; expected a finite current, 0 A or more")
    if practice == "international":
        rule = figure("overload_coordination")
        step = f"rating at most the ampacity: {ampacity_a:.4g} A"
        return DeviceLimit(ampacity_a, rule.source, rule.from_memory, (step,))
    return _north_american(ampacity_a, voltage_v)


def _north_american(ampacity_a: float, voltage_v: float) -> DeviceLimit:
    rule = figure("cfr33_183_455c_rating")
    under_50_v, standard_size, next_size = (row["max_percent"] / 100 for row in rule.data["rows"])
    if voltage_v < LOW_VOLTAGE_V:
        limit = ampacity_a * under_50_v
        step = f"under {LOW_VOLTAGE_V:g} V: {under_50_v * 100:g} % of {ampacity_a:.4g} A is {limit:.4g} A"
        return DeviceLimit(limit, rule.source, rule.from_memory, (step,))
    ratings = standard_ratings()
    base = f"{LOW_VOLTAGE_V:g} V or more: {standard_size * 100:g} % of {ampacity_a:.4g} A"
    # Factors can leave rounding noise: 30.000000000000004 A is the standard rating of 30 A.
    if any(math.isclose(ampacity_a, rating, rel_tol=1e-9) for rating in ratings.amps):
        return DeviceLimit(ampacity_a, rule.source, rule.from_memory, (base, "which is a standard rating"))
    larger = next((rating for rating in ratings.amps if rating > ampacity_a), None)
    most = f"{next_size * 100:g} % ({ampacity_a * next_size:.4g} A)"
    source = f"{rule.source}; ratings: {ratings.source}"
    if larger is None or larger > ampacity_a * next_size:
        step = f"no standard rating, and none above it is within {most}"
        return DeviceLimit(ampacity_a * standard_size, source, rule.from_memory, (base, step))
    step = f"no standard rating; the next larger, {larger:g} A, is within {most}"
    return DeviceLimit(larger, source, rule.from_memory, (base, step))
