"""What a trace says of each item that it passes: as facts for machines, and as one line of words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from vesselspec.draw.words import NO_SIZE, device_of, label_of
from vesselspec.model.items import NO_LABEL
from vesselspec.network.reach import Step
from vesselspec.rules import Boat
from vesselspec.tracing import Wiring
from vesselspec.tracing.chain import Hop
from vesselspec.units import show


def hop_json(boat: Boat, wiring: Wiring, hop: Hop) -> dict[str, Any]:
    """A hop as facts: null where the record does not say."""
    terminals = wiring.network.terminals
    facts: dict[str, Any] = {
        "item": hop.item,
        "kind": hop.kind,
        "name": _name(boat, hop.item),
        "from": terminals[hop.start].name,
        "to": terminals[hop.end].name,
    }
    if hop.kind == "cable":
        cable = boat.vessel.cables[hop.item]
        facts |= {
            "cores": cores(boat, wiring, hop.steps),
            "labels": {"from": cable.label_at("from"), "to": cable.label_at("to")},
            "length_m": cable.length_m,
            "spaces": list(cable.route),
        }
    elif hop.kind == "contact":
        facts |= {"device": _device(boat, hop.item), "position": position(wiring, hop)}
    return facts


def cores(boat: Boat, wiring: Wiring, steps: Iterable[Step]) -> list[dict[str, Any]]:
    """The cores of a cable that a way takes, each once."""
    network = wiring.network
    found: dict[str, dict[str, Any]] = {}
    for step in steps:
        run = boat.network.core_of[step.link]
        poles = network.terminals[step.start].pole, network.terminals[step.end].pole
        found[run.name] = {
            "name": run.name,
            "colour": run.colour,
            "size": run.size.text if run.size is not None else None,
            "poles": list(poles),
        }
    return list(found.values())


def position(wiring: Wiring, hop: Hop) -> str | None:
    """The position in which a selector or transfer relay lets the way pass."""
    if wiring.state is not None:
        return wiring.state.positions.get(hop.item)
    links = (wiring.network.links[step.link] for step in hop.steps)
    choice = wiring.network.choices.get(hop.item)
    own = choice.id if choice is not None else ""
    states = {state for link in links for named, each in link.guards if named == own for state in each}
    return " or ".join(sorted(states)) or None


def hop_words(boat: Boat, wiring: Wiring, hop: Hop) -> str:
    """A hop as one line."""
    terminals = wiring.network.terminals
    ends = f"{terminals[hop.start].place} → {terminals[hop.end].place}"
    if hop.kind == "transformer":
        return f"{_called(boat, hop.item)}: backwards through it"
    if hop.kind == "inside":
        device = boat.vessel.devices.get(hop.item)
        bolted: str | None = getattr(device, "mounted_on", None)
        return (
            f"{_called(boat, hop.item)}, bolted to {bolted}" if bolted else f"inside {_called(boat, hop.item)}: {ends}"
        )
    if hop.kind == "contact":
        stands = position(wiring, hop)
        return f"{_called(boat, hop.item)}: {_device(boat, hop.item)}" + (f", at {stands}" if stands else "")
    cable = boat.vessel.cables[hop.item]
    used = cores(boat, wiring, hop.steps)
    sizes = list(dict.fromkeys(core["size"] or NO_SIZE for core in used))
    length = "length not recorded" if cable.length_m is None else show("length", cable.length_m)
    through = f"; through {', '.join(cable.route)}" if cable.route else "; route not recorded"
    return (
        f"cable {_called(boat, hop.item)}, {labels(cable.label_at('from'), cable.label_at('to'))}: {ends}; "
        f"{', '.join(_core(core) for core in used)}; {', '.join(sizes)}, {length}{through}"
    )


def _core(core: dict[str, Any]) -> str:
    colour, name = core["colour"], core["name"]
    start, end = (pole or "loose" for pole in core["poles"])
    said = colour if colour == name else f"{name} ({colour})"
    return f"{said} {start}" if start == end else f"{said} {start} → {end}"


def labels(start: str | None, end: str | None) -> str:
    """The labels at the two ends of a cable, in words."""
    if start == end:
        return "labels not recorded" if start is None else _label(start) if start == NO_LABEL else f"label {start}"
    return f"label at its from end: {_label(start)}, at its to end: {_label(end)}"


def _label(said: str | None) -> str:
    return "not recorded" if said is None else "no label" if said == NO_LABEL else said


def _device(boat: Boat, item: str) -> str:
    if item in boat.vessel.ways:
        return device_of(boat.vessel.ways[item][2])
    device = boat.vessel.device(item)
    if device is None:
        return "not recorded"
    rating: float | None = getattr(device, "rating_a", None)
    unknown = "rating not recorded" if hasattr(device, "rating_a") else ""
    rated = show("current", rating) if rating is not None else unknown
    return f"{device.title.lower()} {rated}".strip()


def _name(boat: Boat, item: str) -> str | None:
    if item in boat.vessel.ways:
        return label_of(boat.vessel.ways[item][2]) or None
    head = item.split("/", 1)[0]
    found = boat.vessel.device(head) or boat.vessel.panels.get(head) or boat.vessel.cables.get(head)
    return found.name if found is not None else None


def _called(boat: Boat, item: str) -> str:
    return boat.vessel.name_of(item)
