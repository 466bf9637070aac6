"""What belongs to an item or a place in one state of the boat, so that a logbook can be told of it alone."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from vesselspec.model.items import Cable
from vesselspec.model.vessel import COLLECTIONS, SHARED_IDS, Vessel
from vesselspec.record import entries_of

#: An entry: its collection and its id or address.
Key = tuple[str, str]

#: Collections whose entries are places that cables land in.
_PLACES = ("devices", "loads", "panels", "sections", "ways")
_IN_PANELS = ("panels", "sections", "ways")


def find_entry(vessel: Vessel, said: str) -> Key | None:
    """The entry that an id, an address, or one with its collection before it (`conditions/at-sea`) means."""
    if said in vessel.ways:
        return "ways", said
    if said in vessel.sections:
        return "sections", said
    for collection in (*SHARED_IDS, *COLLECTIONS):
        if said in vessel.collection(collection):
            return collection, said
    collection, _, inner = said.partition("/")
    return (collection, inner) if collection in COLLECTIONS and inner in vessel.collection(collection) else None


def entry_formerly(vessel: Vessel, said: str) -> Key | None:
    """The entry that gives this as its earlier id; None where there is none, or more than one."""
    found = [(collection, path) for collection, path, item in vessel.items() if said in item.formerly]
    return found[0] if len(found) == 1 else None


def entries_that_were(said: str) -> frozenset[Key]:
    """Every entry that a word could have meant in an earlier state."""
    collection, _, inner = said.partition("/")
    if collection in COLLECTIONS and inner and "/" not in inner:
        return frozenset({(collection, inner), ("sections", said)})
    names = {0: tuple(COLLECTIONS), 1: ("sections",), 2: ("ways",)}.get(said.count("/"), ())
    return frozenset((name, said) for name in names)


def belonging(vessel: Vessel, named: Iterable[Key]) -> frozenset[Key]:
    """The named entries with all that belongs to them in this state.

    A panel or section holds its sections and ways. To a place belong the cables that land in it with any core, the
    types that say what those cables are, and interlocks of its ways; to a panel, section or way also the loads at
    the other ends of those cables. To a cable belongs its type.
    """
    found = set(named)
    heads = tuple(path for collection, path in found if collection in _PLACES)
    if heads:
        found |= {("sections", path) for path in vessel.sections if _inside(path, heads)}
        found |= {("ways", path) for path in vessel.ways if _inside(path, heads)}
        in_panels = tuple(path for collection, path in found if collection in _IN_PANELS)
        for key, cable in vessel.cables.items():
            ends = _ends(cable)
            if any(_inside(end, heads) for end in ends):
                found.add(("cables", key))
                if any(_inside(end, in_panels) for end in ends):
                    found |= {("loads", head) for end in ends if (head := end.split("/")[0]) in vessel.loads}
        for key, interlock in vessel.interlocks.items():
            if any(_inside(member, heads) for member in interlock.between):
                found.add(("interlocks", key))
    for collection, path in tuple(found):
        kind = vessel.cables[path].type if collection == "cables" and path in vessel.cables else None
        if kind is not None and kind in vessel.cable_types:
            found.add(("cable_types", kind))
    return frozenset(found)


@dataclass(frozen=True)
class Near:
    """What must change in a file before anything that belongs to some entries can have changed."""

    #: Ids of places: an entry that holds one of them anywhere may come to belong to it, or cease to.
    heads: frozenset[str]
    #: Top entries of the record that belong to it now.
    entries: frozenset[Key]

    def __or__(self, other: Near) -> Near:
        return Near(self.heads | other.heads, self.entries | other.entries)


def near(vessel: Vessel | None, named: frozenset[Key]) -> Near:
    """What stands near some entries in a state; where that cannot be understood, by their ids alone."""
    found = belonging(vessel, named) if vessel is not None else named
    heads = frozenset(path.split("/")[0] for collection, path in named if collection in _PLACES)
    # What stands in a panel is said in the panel's own entry.
    held = ("sections", "ways")
    tops = frozenset(("panels" if collection in held else collection, path.split("/")[0]) for collection, path in found)
    return Near(heads, tops)


def entries_near(content: bytes, near: Near) -> Mapping[Key, object] | None:
    """The entries of a file that are near; None if it cannot be understood by itself."""
    entries = entries_of(content)
    if entries is None:
        return None
    holds = re.compile("|".join(map(re.escape, sorted(near.heads))) or r"(?!)").search
    return {
        (name, key): entry
        for (name, key), entry in entries.items()
        if (name, key) in near.entries or holds(key) or holds(json.dumps(entry, ensure_ascii=False))
    }


def _ends(cable: Cable) -> list[str]:
    """The places in which a cable lands, as a whole or with one core."""
    landings = (at for _, core in cable.cores for at in (core.from_, core.to) if at is not None and ":" in at)
    return [cable.from_, cable.to, *(at.partition(":")[0] for at in landings)]


def _inside(place: str, heads: Collection[str]) -> bool:
    return any(place == head or place.startswith(head + "/") for head in heads)


def about(items: Iterable[str], keys: frozenset[Key]) -> bool:
    """Whether a finding on these items concerns any of these entries.

    What has no id of its own among devices, panels, loads and cables is named with its collection: `spaces/galley`.
    """
    paths = {path for _, path in keys} | {f"{collection}/{path}" for collection, path in keys if collection}
    return any(_inside(item.partition(":")[0], paths) for item in items)


def earlier(named: Iterable[Key], renames: Mapping[Key, str]) -> frozenset[Key]:
    """The same entries by their ids in an earlier state. `renames`: (collection, earlier path) → path now.

    An id that was another thing's then, which has another id now, leads no further.
    """
    back = {(collection, now): (collection, was) for (collection, was), now in renames.items()}
    return frozenset(back.get(key, key) for key in named if key in back or key not in renames)
