"""Conductors in parallel behind one device: whether they count as one, by the conditions of the vessel's practice.

Those that do share the current as their resistances say, alike; each by itself could not stand the device. Others are
judged each for itself, on the safe side. A fault within one of them is fed from both ends and is not shared, so that
what they stand together of a short circuit is not told: IEC 60364-4-43 clause 434.4 asks for more than their sum.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.network.graph import CoreRun
from vesselspec.physics.conductors.protection import DeviceLimit, device_limit
from vesselspec.rules.boat import Boat
from vesselspec.standards import figure
from vesselspec.units import parse_size

#: Share by which lengths may differ and still be about the same; the current then divides as evenly. Ours.
SAME_LENGTH = 0.03


@dataclass(frozen=True)
class Parallel:
    """The cores between the same two terminals, and why they do not count as one; empty where they do."""

    runs: tuple[CoreRun, ...]
    why_not: str

    @property
    def cables(self) -> tuple[str, ...]:
        """Their cables, each once."""
        return tuple(dict.fromkeys(run.cable.id for run in self.runs))


def parallel_to(boat: Boat, run: CoreRun) -> Parallel | None:
    """What runs in parallel to a core, itself included; None where it runs alone."""
    link = boat.network.links[run.link]
    beside = boat.network.between.get((min(link.a, link.b), max(link.a, link.b)), ())
    runs = tuple(boat.network.core_of[n] for n in beside if n in boat.network.core_of)
    return Parallel(runs, next(_against(boat, runs), "")) if len(runs) > 1 else None


def _against(boat: Boat, runs: tuple[CoreRun, ...]) -> Iterator[str]:
    """What keeps conductors from counting as one, in words."""
    for run in runs:
        for missing, what in ((run.size is None, "size"), (not run.cable.length_m, "length")):
            if missing:
                yield f"the {what} of {run.cable.id} is not recorded"
    sizes = {run.size for run in runs}
    lengths = [run.cable.length_m or 0.0 for run in runs]
    if len(sizes) > 1:
        yield "they are not of one size"
    if len({boat.insulation(run.cable) for run in runs}) > 1:
        yield "their insulation is not the same"
    if max(lengths) > min(lengths) * (1 + SAME_LENGTH):
        yield f"their lengths differ by more than {SAME_LENGTH * 100:g} %"
    if boat.vessel.about.practice == "north-american":
        rule = figure("parallel_conductors")
        least = parse_size(rule.data["least"])
        if any(size is not None and size < least for size in sizes):
            yield f"smaller than {least.text} they do not count as one ({rule.source})"


def limit_together(boat: Boat, each_a: float, many: int, volts: float) -> DeviceLimit:
    """The largest device for so many conductors that count as one, each carrying so much."""
    return device_limit(each_a * many, volts, boat.vessel.about.practice)


def paralleling(boat: Boat) -> str:
    """The source of the condition that lets them count as one."""
    name = "parallel_conductors" if boat.vessel.about.practice == "north-american" else "parallel_conductors_iec"
    return figure(name).source
