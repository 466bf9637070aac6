"""Least sizes of protective earth conductors: what each published rule asks of one."""

from dataclasses import dataclass
from functools import cache

from vesselspec.standards.figures import figure
from vesselspec.standards.ratings import protective_conductor_awg


@dataclass(frozen=True)
class EarthLimit:
    """The least size that one rule asks for: a gauge ('12') or an area in mm², and the rule's source."""

    awg: str | None
    mm2: float | None
    source: str
    from_memory: bool


@cache
def earth_by_device(device_a: float) -> EarthLimit | None:
    """Behind a device of that rating in A. Source: NFPA 70 Table 250.122; None above its last row."""
    gauge = protective_conductor_awg(device_a)
    return EarthLimit(gauge, None, figure("nec_250_122").source, False) if gauge is not None else None


@cache
def earth_by_line_awg(line: str, device_a: float) -> EarthLimit | None:
    """Beside a line of that gauge: the same size, and one size less on circuits above 30 A.

    Source: the ABYC rule quoted publicly; sizes step as those of boat cable do. None for a gauge that is none of them.
    """
    found = figure("abyc_ac_grounding_size")
    gauges = [row["awg"] for row in figure("boat_cable_minimum_areas").data["rows"]]
    if line not in gauges:
        return None
    smaller = found.data["sizes_smaller_max"] if device_a > found.data["threshold_A"] else 0
    return EarthLimit(gauges[max(gauges.index(line) - smaller, 0)], None, found.source, False)


@cache
def earth_by_line_mm2(line_mm2: float) -> EarthLimit:
    """Beside a line of that area: the same up to 16 mm², 16 mm² up to 35 mm², half above. From memory."""
    found = figure("iec_60364_5_54_from_memory")
    row = next(row for row in found.data["rows"] if line_mm2 <= row.get("line_max_mm2", line_mm2))
    return EarthLimit(None, row.get("mm2") or row["share"] * line_mm2, found.source, found.from_memory)
