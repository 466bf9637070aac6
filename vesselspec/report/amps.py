"""How the load pages write currents, elements and sets of loads."""

from __future__ import annotations

import math

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.burden import Element
from vesselspec.physics.loads.fit import Excess, Margin
from vesselspec.physics.loads.loading import breaker_share


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
    core = f" core {element.core}" if element.core and element.core != element.pole else ""
    return f"{kind}{names}{core}, {element.pole}"


def limit_told(element: Element, limit_a: float) -> str:
    """A limit in words: of what kind it is, where it is not a rating."""
    if element.continuous:
        return f"{rated(limit_a)} A ({breaker_share() * 100:g} % of {rated(limit_a / breaker_share())} A)"
    return f"{rated(limit_a)} A" + (" of ampacity" if element.kind == "cable" else "")


def excess_told(vessel: Vessel, excess: Excess) -> str:
    """A limit that is exceeded, in words."""
    what = " of continuous load" if excess.element.continuous else ""
    return (
        f"{told(vessel, excess.element)}: {too_much(excess.would_be_a)} A{what} against "
        f"{limit_told(excess.element, excess.limit_a)}, {too_much(excess.over_a)} A too much"
    )


def margin_told(vessel: Vessel, margin: Margin) -> str:
    """What is left of a limit, in words."""
    what = " for continuous load" if margin.element.continuous else ""
    return (
        f"{left(margin.left_a)} A{what} of {limit_told(margin.element, margin.limit_a)} on "
        f"{told(vessel, margin.element)}"
    )


def field(name: str) -> str:
    """A field that is not recorded, in words."""
    return name.replace("_", " ")
