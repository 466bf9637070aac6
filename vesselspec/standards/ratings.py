"""Standard ratings of overcurrent devices, and what follows from a rating alone."""

from dataclasses import dataclass
from functools import cache

from vesselspec.standards.figures import figure


@dataclass(frozen=True)
class Ratings:
    """Standard ratings in A, rising. Those under 15 A are common practice on boats and have no source."""

    amps: tuple[float, ...]
    source: str


@cache
def standard_ratings() -> Ratings:
    """Ratings that fuses and breakers are made in: NFPA 70 240.6(A), and smaller ones found on boats.

    The ratings that 240.6(A) gives to fuses alone are left out: a breaker could not follow them.
    """
    listed, small = figure("nec_240_6_A"), figure("small_ratings")
    amps = sorted(float(rating) for rating in small.data["values"] + listed.data["values"])
    return Ratings(tuple(amps), f"{listed.source}; under 15 A {small.source}")


def protective_conductor_awg(device_a: float) -> str | None:
    """Smallest copper equipment grounding conductor, as a gauge ('12'), behind a device of that rating in A.

    Source: NFPA 70 Table 250.122. None above its last row.
    """
    for row in figure("nec_250_122").data["rows"]:
        if device_a <= row["device_A"]:
            gauge: str = row["copper_awg"]
            return gauge
    return None
