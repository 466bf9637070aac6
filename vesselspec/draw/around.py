"""Named items and what they directly connect to."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from vesselspec.draw.ends import Wire, head_of, section_of
from vesselspec.model.devices import _InLine
from vesselspec.model.vessel import Vessel, natural


@dataclass(frozen=True)
class Around:
    """What a neighbourhood shows, each in a fixed order."""

    #: Devices and loads.
    devices: tuple[str, ...]
    ways: tuple[str, ...]
    #: Sections, of which the bars are shown.
    sections: tuple[str, ...]
    #: Panels whose enclosure itself is touched.
    enclosures: tuple[str, ...]
    cables: tuple[str, ...]
    #: Items asked for that this vessel does not have.
    missing: tuple[str, ...]

    @property
    def all(self) -> frozenset[str]:
        """The ids of everything shown."""
        return frozenset((*self.devices, *self.ways, *self.sections, *self.enclosures, *self.cables))


def around(vessel: Vessel, cores: Mapping[str, tuple[Wire, ...]], items: Collection[str]) -> Around:
    """The items, the cables that land on them, what is at the other end of those, and what is bolted to them.

    A way brings the bars of its section; a section its bars and its main ways; a panel its enclosure and sections.
    """
    places: set[str] = set()
    cables: set[str] = set()
    missing: set[str] = set()
    for item in items:
        known = vessel.device(head_of(item)) is not None and head_of(item)
        if item in vessel.cables:
            cables.add(item)
        elif item in vessel.ways or item in vessel.sections or item in vessel.panels:
            places |= {item, *_mains(vessel, item)}
        elif known:
            places.add(known)
        else:
            missing.add(item)
    named = places | {section for place in places for section in _sections(vessel, place)}
    bars = {place for place in named if place in vessel.sections and (place in items or head_of(place) in items)}
    for cable, wires in cores.items():
        ends = (vessel.cables[cable].from_, vessel.cables[cable].to)
        at = {_box(vessel, place) for place in ends} | {
            _box(vessel, end.place)
            for wire in wires
            for end in wire.ends
            if not any(section_of(vessel, place) == end.place for place in ends)  # its way's own bars: no landing
        }
        if at & (places - vessel.sections.keys() | bars):
            cables.add(cable)
    for cable in cables:
        places |= {_box(vessel, place) for place in (vessel.cables[cable].from_, vessel.cables[cable].to)}
        places |= {_box(vessel, end.place) for wire in cores.get(cable, ()) for end in wire.ends}
    places |= set(_bolted(vessel, items))
    places |= {section for place in places for section in _sections(vessel, place)}
    return Around(
        devices=_sorted(place for place in places if vessel.device(place) is not None),
        ways=_sorted(place for place in places if place in vessel.ways),
        sections=_sorted(place for place in places if place in vessel.sections),
        enclosures=_sorted(place for place in places if place in vessel.panels),
        cables=_sorted(cables),
        missing=_sorted(missing),
    )


def _box(vessel: Vessel, place: str) -> str:
    """What stands for a place: the way, section or enclosure in a panel, else the device or load."""
    return place if place in vessel.ways or place in vessel.sections else head_of(place)


def _sections(vessel: Vessel, place: str) -> tuple[str, ...]:
    if place in vessel.panels:
        return tuple(f"{place}/{section.id}" for section in vessel.panels[place].sections)
    section = section_of(vessel, place)
    return (section,) if section else ()


def _mains(vessel: Vessel, item: str) -> Iterator[str]:
    for place, (panel, section, way) in vessel.ways.items():
        if way.duty == "main" and item in (panel.id, f"{panel.id}/{section.id}"):
            yield place


def _bolted(vessel: Vessel, items: Collection[str]) -> Iterator[str]:
    for one, other, _pole in bolts(vessel):
        if {one.id, head_of(one.id)} & set(items):
            yield _box(vessel, other)
        elif {other, head_of(other)} & set(items):
            yield one.id


def bolts(vessel: Vessel) -> Iterator[tuple[_InLine, str, str]]:
    """Each device that is bolted to a terminal, with the place and pole of that terminal."""
    for device in vessel.devices.values():
        if isinstance(device, _InLine) and device.mounted_on is not None:
            place, pole = device.mounted_on.rsplit(":", 1)
            yield device, place, pole


def _sorted(places: Iterator[str] | set[str]) -> tuple[str, ...]:
    return tuple(sorted(places, key=natural))
