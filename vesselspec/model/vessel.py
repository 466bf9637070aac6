"""The whole vessel: every collection of the record, and what each collection may hold."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any, TypeVar

from vesselspec.model.concessions import Concession
from vesselspec.model.devices import DEVICE_KINDS, LOAD_KINDS, Device, Load
from vesselspec.model.forms import build
from vesselspec.model.items import (
    About,
    Bundle,
    Cable,
    CableType,
    Condition,
    Core,
    DayPlan,
    Interlock,
    Item,
    Panel,
    Section,
    Space,
    System,
    Way,
)
from vesselspec.model.published import asks, filled_in

#: Collections of the record in the order in which reports speak of them, and what an entry of each is.
#: A mapping stands where `kind` chooses the class.
COLLECTIONS: Mapping[str, type[Item] | Mapping[str, type[Item]]] = {
    "spaces": Space,
    "systems": System,
    "devices": DEVICE_KINDS,
    "panels": Panel,
    "loads": LOAD_KINDS,
    "cable_types": CableType,
    "bundles": Bundle,
    "cables": Cable,
    "interlocks": Interlock,
    "conditions": Condition,
    "days": DayPlan,
    "concessions": Concession,
}
#: Where an entry without `kind` is of this kind.
DEFAULT_KIND = {"loads": "load"}
#: One name space: a place, a reference or a choice of positions must never be ambiguous between these.
SHARED_IDS = ("devices", "panels", "loads", "cables", "interlocks")

T = TypeVar("T", bound=Item)


def _frozen() -> Any:
    return field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, kw_only=True)
class Vessel:
    """A vessel's electrical system as the record has it, mistakes included. Equal by content."""

    about: About
    spaces: Mapping[str, Space] = _frozen()
    systems: Mapping[str, System] = _frozen()
    devices: Mapping[str, Device] = _frozen()
    panels: Mapping[str, Panel] = _frozen()
    loads: Mapping[str, Load] = _frozen()
    cable_types: Mapping[str, CableType] = _frozen()
    bundles: Mapping[str, Bundle] = _frozen()
    cables: Mapping[str, Cable] = _frozen()
    interlocks: Mapping[str, Interlock] = _frozen()
    conditions: Mapping[str, Condition] = _frozen()
    days: Mapping[str, DayPlan] = _frozen()
    concessions: Mapping[str, Concession] = _frozen()

    def collection(self, name: str) -> Mapping[str, Item]:
        """Return one collection by its name in the record."""
        found: Mapping[str, Item] = getattr(self, name)
        return found

    def items(self) -> Iterator[tuple[str, str, Item]]:
        """Yield (collection, path, entry) of everything, sections and ways included, in a fixed order."""
        for name in COLLECTIONS:
            for key, entry in self.collection(name).items():
                yield name, key, entry
                if isinstance(entry, Panel):
                    for section in entry.sections:
                        yield "sections", f"{key}/{section.id}", section
                        for way in section.ways:
                            yield "ways", f"{key}/{section.id}/{way.id}", way

    @cached_property
    def ways(self) -> Mapping[str, tuple[Panel, Section, Way]]:
        """Every way by its address, with its panel and section."""
        return {
            f"{panel.id}/{section.id}/{way.id}": (panel, section, way)
            for panel in self.panels.values()
            for section in panel.sections
            for way in section.ways
        }

    @cached_property
    def sections(self) -> Mapping[str, tuple[Panel, Section]]:
        """Every section by its address, with its panel."""
        return {
            f"{panel.id}/{section.id}": (panel, section) for panel in self.panels.values() for section in panel.sections
        }

    def device(self, key: str) -> Device | None:
        """Return a device or load by id."""
        return self.devices.get(key) or self.loads.get(key)

    def section_system(self, panel: Panel, section: Section) -> System | None:
        """The system of a section: its own, or the panel's."""
        return self.systems.get(section.system or panel.system or "")

    def space_of(self, place: str) -> Space | None:
        """The space that a device, load, panel or anything inside a panel is in."""
        head = place.split("/", 1)[0]
        holder = self.device(head) or self.panels.get(head)
        return self.spaces.get(holder.space or "") if holder is not None else None

    def name_of(self, place: str) -> str:
        """How people call a place: its label or name with its id, or the id alone."""
        if place in self.ways:
            way = self.ways[place][2]
            said = way.label if way.label != "none" else None
            said = said or way.name
        else:
            head = place.split("/", 1)[0]
            item = self.device(head) or self.panels.get(head) or self.cables.get(head)
            said = item.name if item is not None else None
        return f"{place} ({said})" if said and _plain(said) != _plain(place) else place

    def cable_type(self, cable: Cable) -> CableType | None:
        """The type that fills in what the cable does not say."""
        return self.cable_types.get(cable.type) if cable.type is not None else None

    def cores_of(self, cable: Cable) -> tuple[tuple[str, Core], ...]:
        """Every core of a cable, its type's cores filled in and its own words laid over them."""
        kind = self.cable_type(cable)
        merged: dict[str, Core] = dict(kind.cores) if kind is not None else {}
        for name, own in cable.cores:
            base = merged.get(name)
            merged[name] = (
                own
                if base is None
                else Core(
                    from_=own.from_ if own.from_ is not None else base.from_,
                    to=own.to if own.to is not None else base.to,
                    colour=own.colour or base.colour,
                    size=own.size or base.size,
                )
            )
        return tuple((name, core.whole()) for name, core in merged.items())


def _plain(text: str) -> str:
    """A name without what an id cannot hold or does not tell apart."""
    return "".join(char for char in text.casefold() if char.isalnum())


def class_of(collection: str, raw: Mapping[str, Any]) -> type[Item]:
    """The class of an entry as written: the collection's, or the one that its `kind` chooses."""
    holds = COLLECTIONS[collection]
    return holds if isinstance(holds, type) else holds[raw.get("kind", DEFAULT_KIND.get(collection))]


def build_item(collection: str, key: str, written: Any) -> Item:
    """Build one entry from written data that satisfies the schema."""
    item: Item = build(class_of(collection, written), written, id=key)
    return item


def build_vessel(
    about: Mapping[str, Any],
    collections: Mapping[str, Mapping[str, Any]],
    make: Callable[[str, str, Any], Item] = build_item,
) -> Vessel:
    """Build a vessel from written data that satisfies the schema. Entries are put in order of their ids."""
    built: dict[str, Any] = {}
    for name in COLLECTIONS:
        entries: dict[str, Item] = {}
        written = collections.get(name, {})
        for key in sorted(written, key=natural):
            entries[key] = make(name, key, written[key])
        built[name] = MappingProxyType(entries)
    vessel = Vessel(about=build(About, about), **built)
    return filled_in(vessel) if any(asks(each) for each in vessel.conditions.values()) else vessel


@lru_cache(maxsize=16384)
def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts `C9` before `C10` and way `2` before way `10`."""
    parts: list[tuple[int, int, str]] = []
    digits, word = "", ""
    for char in text + "\0":
        if char.isascii() and char.isdigit():
            if word:
                parts.append((1, 0, word))
                word = ""
            digits += char
        else:
            if digits:
                parts.append((0, int(digits), digits))
                digits = ""
            if char != "\0":
                word += char
    if word:
        parts.append((1, 0, word))
    return tuple(parts)
