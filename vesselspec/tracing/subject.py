"""The item that is traced, as terminals."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from vesselspec.isolation.target import NoSuchPlace, find_target
from vesselspec.rules import Boat


@dataclass(frozen=True)
class Subject:
    """An item with its terminals, in order."""

    item: str
    kind: str  # panel | section | way | device | load | cable | space | terminal
    terminals: tuple[int, ...]
    #: Of a space: the panels, devices and loads in it, and the cables that end there or pass it.
    inside: tuple[str, ...] = ()
    cables: tuple[str, ...] = ()

    @property
    def place(self) -> str:
        """The item without the pole of a terminal."""
        return self.item.rpartition(":")[0] if self.kind == "terminal" else self.item

    @property
    def parts(self) -> frozenset[str]:
        """The ids of what the subject is made of: its own, or those of all that a space holds."""
        return frozenset((*self.inside, *self.cables)) if self.kind == "space" else frozenset((self.place,))

    def owns(self, item: str) -> bool:
        """Whether a device, a way or a cable is the subject, or belongs to the space."""
        parts = self.parts
        return item in parts or (self.kind == "space" and item.split("/", 1)[0] in parts)


@dataclass(frozen=True)
class NoSuchItem:
    """An item that the record does not hold, and what was perhaps meant."""

    said: str
    near: str | None


def find_subject(boat: Boat, item: str) -> Subject | NoSuchItem:
    """Find an item by its id or address, or a terminal by place and pole."""
    place, colon, pole = item.rpartition(":")
    if colon:
        found = boat.network.index.get((place, pole))
        if found is not None:
            return Subject(item, "terminal", (found,))
        here = [boat.network.terminals[t].name for t in boat.network.places.get(place, ())]
        if here:
            return NoSuchItem(item, " or ".join(name for name in here if not name.endswith(" end")) or None)
        item = place
    target = find_target(boat, item)
    if isinstance(target, NoSuchPlace) or colon:
        known = [*boat.vessel.devices, *boat.vessel.loads, *boat.vessel.cables]
        known += [*boat.vessel.panels, *boat.vessel.sections, *boat.vessel.ways, *boat.vessel.spaces]
        near = difflib.get_close_matches(item, known, n=1, cutoff=0.5)
        return NoSuchItem(item, near[0] if near else None)
    terminals = tuple(sorted(target.terminals))
    if target.kind == "space":
        return Subject(item, target.kind, terminals, target.enclosures, target.cables)
    return Subject(item, target.kind, terminals)
