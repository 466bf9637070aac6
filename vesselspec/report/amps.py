"""How the load pages write currents, elements and sets of loads."""

from __future__ import annotations

import math

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.burden import Element
from vesselspec.physics.loads.fit import Excess, Margin


def amps(value: float) -> str:
    """A current to a tenth of an ampere."""
    return f"{value:.1f}"


def left(value: float) -> str:
    """What is left, rounded down, so that nobody counts on what is not there."""
    return f"{math.floor(value * 10 + 1e-6) / 10:.1f}"


def rated(value: float | None) -> str:
    """A rating or limit as people write it; one that was worked out is rounded down."""
    if value is None:
        return "not recorded"
    return f"{math.floor(value * 10 + 1e-6) / 10:g}"


def too_much(value: float) -> str:
    """What exceeds something, or by how much: rounded up."""
    return f"{math.ceil(value * 10 - 1e-6) / 10:.1f}"


def short_name(vessel: Vessel, key: str) -> str:
    """A load as the crew calls it: its name, else its id. A charger is said to charge."""
    item = vessel.device(key)
    name = (item.name if item is not None else None) or key
    return f"{name} (charging)" if key in vessel.devices else name


def told(vessel: Vessel, element: Element) -> str:
    """An element in words, with the line."""
    names = " with ".join(vessel.name_of(each) for each in element.sources)
    kind = {"source": "", "bus": "bus of ", "relay": "transfer relay of "}.get(element.kind, f"{element.kind} ")
    return f"{kind}{names}, {element.pole}"


def excess_told(vessel: Vessel, excess: Excess) -> str:
    """A limit that is exceeded, in words."""
    return (
        f"{told(vessel, excess.element)}: {too_much(excess.would_be_a)} A against {rated(excess.limit_a)} A, "
        f"{too_much(excess.over_a)} A too much"
    )


def margin_told(vessel: Vessel, margin: Margin) -> str:
    """What is left of a limit, in words."""
    return f"{left(margin.left_a)} A of {rated(margin.limit_a)} A on {told(vessel, margin.element)}"


def field(name: str) -> str:
    """A field that is not recorded, in words."""
    return name.replace("_", " ")
