"""What a space holds, as lines and as facts for machines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from vesselspec.report.trace_items import labels
from vesselspec.report.trace_tree import Line, Section
from vesselspec.rules import Boat
from vesselspec.tracing import Held


def held_sections(boat: Boat, held: Iterable[Held]) -> list[Section]:
    """Panels, devices and loads; cables that end there; cables that pass."""
    held = tuple(held)
    groups = (
        ("In it", [each for each in held if each.kind != "cable"]),
        ("Cables that end in it", [each for each in held if each.kind == "cable" and each.ends_here]),
        ("Cables that only pass it", [each for each in held if each.kind == "cable" and not each.ends_here]),
    )
    found = [Section(title, tuple(_lines(boat, each))) for title, each in groups if each]
    return found or [Section("In it", (Line(0, "nothing is recorded to be in it or to pass it"),))]


def _lines(boat: Boat, held: Iterable[Held]) -> Iterable[Line]:
    """Gathered by what can be live, in the order of the first; what no line or positive comes to at the end."""
    alike: dict[tuple[tuple[str, tuple[str, ...]], ...], list[Held]] = {}
    for each in held:
        alike.setdefault(each.live, []).append(each)
    for live in sorted(alike, key=lambda live: not live):
        yield Line(0, f"{_live(live)}:")
        yield from (Line(1, _called(boat, each)) for each in alike[live])


def _live(live: Iterable[tuple[str, tuple[str, ...]]]) -> str:
    sources: dict[str, list[str]] = {}
    for source, poles in live:
        sources.setdefault(", ".join(poles), []).append(source)
    said = "; ".join(f"{poles} of {' or '.join(each)}" for poles, each in sources.items())
    return f"live with {said}" if said else "no way by which a line or positive comes is recorded"


def _called(boat: Boat, held: Held) -> str:
    if held.kind != "cable":
        return f"{held.kind} {boat.vessel.name_of(held.item)}"
    cable = boat.vessel.cables[held.item]
    label = labels(cable.label_at("from"), cable.label_at("to"))
    return f"cable {held.item}, {label}: {cable.from_} → {cable.to}"


def held_json(held: Iterable[Held]) -> list[dict[str, Any]]:
    """What a space holds, for machines."""
    return [
        {
            "id": each.item,
            "kind": each.kind,
            "ends_here": each.ends_here if each.kind == "cable" else None,
            "live": [{"source": source, "poles": list(poles)} for source, poles in each.live],
        }
        for each in held
    ]
