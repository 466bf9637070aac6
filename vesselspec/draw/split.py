"""The overview dealt out to several sheets, by AC and DC and by what feeders join together."""

from __future__ import annotations

from vesselspec.draw.supply import Feeder, mounted
from vesselspec.draw.words import is_dc
from vesselspec.model.vessel import Vessel, natural
from vesselspec.network.zones import components


def split_points(
    vessel: Vessel, lines: tuple[Feeder, ...], points: frozenset[str], *, most: int
) -> tuple[frozenset[tuple[str, bool]], ...]:
    """Deal the points out to sheets of AC and of DC (true), those that feeders join together.

    What is fed with both, a converter, stands on both. Small supplies share a sheet up to `most` points.
    """
    nodes = {(point, line.dc) for line in lines for point in (line.start, line.end)}
    nodes |= {(point, _kind_of(vessel, point)) for point in points if not {(point, True), (point, False)} & nodes}
    order = sorted(nodes, key=lambda node: (node[1], natural(node[0])))
    number = {node: at for at, node in enumerate(order)}
    homes = {device.id: holder for holder, devices in mounted(vessel).items() for device in devices}
    pairs = [(number[line.start, line.dc], number[line.end, line.dc]) for line in lines]
    pairs += [
        (number[g, dc], number[h, dc])
        for g, h in homes.items()
        for dc in (False, True)
        if (g, dc) in number and (h, dc) in number
    ]
    groups: dict[int, list[tuple[str, bool]]] = {}
    siblings: dict[tuple[str, bool], int] = {}
    for at, (point, dc) in enumerate(order):
        if homes.get(point, point) != point and (homes[point], dc) not in number:
            pairs.append((at, siblings.setdefault((homes[point], dc), at)))
    for node, component in zip(order, components(len(order), pairs), strict=True):
        groups.setdefault(component, []).append(node)
    sheets: list[list[tuple[str, bool]]] = []
    for group in sorted(groups.values(), key=lambda group: (group[0][1], -len(group), group)):
        room = [sheet for sheet in sheets if sheet[0][1] == group[0][1] and len(sheet) + len(group) <= most]
        if room:
            room[0].extend(group)
        else:
            sheets.append(group)
    return tuple(frozenset(sheet) for sheet in sheets)


def _kind_of(vessel: Vessel, point: str) -> bool:
    """Whether a point without feeders is of a DC system."""
    device = vessel.device(point)
    if device is not None:
        return any(is_dc(vessel, side.system) for side in device.sides(vessel.systems))
    panel, part = vessel.sections[point]
    return is_dc(vessel, part.system or panel.system)
