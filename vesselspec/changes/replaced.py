"""A panel that is new or gone, told whole, and one thing put in the place of another that is gone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from vesselspec.changes.act import Act, Key, Left
from vesselspec.changes.compare import ADDED, CHANGED, REMOVED, Change, FieldChange
from vesselspec.changes.words import about, tell
from vesselspec.model.vessel import Vessel, natural

#: A new entry took the place of one that is gone.
REPLACED = "replaced"


def head(place: str) -> str:
    """The device, load or panel that a place is or lies in."""
    return re.split("[/:]", place, maxsplit=1)[0]


def replaced(new: Change, left: Left, before: Vessel, after: Vessel) -> Act | None:
    """A new device, load or panel on which cables land that landed on one that is gone."""
    old = next((left[key] for change in left.values() if (key := _predecessor(new, change, left)) is not None), None)
    if old is None:
        return None
    del left[new.collection, new.id, ADDED], left[old.collection, old.id, REMOVED]
    told, of = [f"{tell(new, before, after)}, in place of {before.name_of(old.id)}"], [new, old]
    bare, different = (Change(CHANGED, new.collection, new.id, new.id, each) for each in ((), _differs(old, new)))
    if different.fields:
        told.append(tell(different, before, after).removeprefix(tell(bare, before, after)))
    if new.collection == "panels":
        told += _same_inside(new.id, old.id, left, of, before, after)
    along = list(_along(new.id, old.id, left, of))
    if along:
        told.append(f"{', '.join(along)} as on the old one")
    return Act(REPLACED, new.id, tuple(told), tuple(of))


def other_run(new: Change, left: Left, before: Vessel, after: Vessel) -> Act | None:
    """A new cable between the very places of one that is gone: another was pulled, or only its id is another."""
    cable = after.cables[new.id]
    for key, change in left.items():
        old = before.cables[change.id] if key[0] == "cables" and change.kind == REMOVED else None
        if old is None or (old.from_, old.to) != (cable.from_, cable.to):
            continue
        del left[key], left["cables", new.id, ADDED]
        told = [f"{tell(new, before, after)}, in place of {old.id}"]
        if (old.type, old.size, old.length_m) == (cable.type, cable.size, cable.length_m):
            told.append(f"if only its id is new, it lacks formerly: [{old.id}]")
        return Act(REPLACED, new.id, tuple(told), (new, change))
    return None


def panel(change: Change, left: Left, before: Vessel, after: Vessel) -> Act:
    """A panel that is new or gone, with its sections and ways."""
    vessel = before if change.kind == REMOVED else after
    told, of = [tell(change, before, after)], [change]
    for section in vessel.panels[change.id].sections:
        address = f"{change.id}/{section.id}"
        own = left.pop(("sections", address, change.kind), None)
        ways = [left.pop(key) for key in list(left) if key[0] == "ways" and key[1].startswith(f"{address}/")]
        of += [*ways] if own is None else [own, *ways]
        each = [
            f"{vessel.name_of(way.id).removeprefix(f'{address}/')}{about(way, vessel)}"
            for way in sorted(ways, key=lambda way: natural(way.id))
        ]
        said = f"section {section.id}{about(own, vessel) if own is not None else ''}"
        told.append(f"{said}, ways {', '.join(each)}" if each else said)
    return Act(change.kind, change.id, tuple(told), tuple(of))


def _predecessor(new: Change, cable: Change, left: Left) -> Key | None:
    """What is gone, of the sort of what is new, where an end of a cable went from the one to the other."""
    for end in _ends(cable):
        key = (new.collection, head(end.before or ""), REMOVED)
        if head(end.after or "") == new.id and key in left:
            return key
    return None


def _ends(change: Change) -> Iterator[FieldChange]:
    if change.collection == "cables" and change.kind == CHANGED:
        yield from (each for each in change.fields if each.key in ("from", "to"))


def _along(new: str, old: str, left: Left, of: list[Change]) -> Iterator[str]:
    """Cables of which an end lies on the new one as it lay on the old one; what else changed in them stays."""
    for key, change in list(left.items()):
        same = [each for each in _ends(change) if _in(each.before, old) == _in(each.after, new) is not None]
        if not same:
            continue
        of.append(replace(change, fields=tuple(same)))
        rest = tuple(each for each in change.fields if each not in same)
        if rest:
            left[key] = replace(change, fields=rest)
        else:
            del left[key]
        yield change.id


def _in(place: str | None, holder: str) -> str | None:
    """Where a place lies in what holds it; None where it lies elsewhere."""
    return place[len(holder) :] if place is not None and head(place) == holder else None


def _same_inside(new: str, old: str, left: Left, of: list[Change], before: Vessel, after: Vessel) -> Iterator[str]:
    """Sections and ways that both panels have: only where they differ is told."""
    for key, now in list(left.items()):
        collection, address, kind = key
        was_key = (collection, f"{old}{_in(address, new)}", REMOVED)
        if collection not in ("sections", "ways") or kind != ADDED or head(address) != new or was_key not in left:
            continue
        was = left.pop(was_key)
        of += [left.pop(key), was]
        if fields := _differs(was, now):
            yield tell(Change(CHANGED, collection, now.id, now.id, fields), before, after)


def _differs(gone: Change, new: Change) -> tuple[FieldChange, ...]:
    """In what a new entry differs from the one that is gone."""
    was, now = {each.key: each.before for each in gone.fields}, {each.key: each.after for each in new.fields}
    both = (FieldChange(key, was.get(key), now.get(key)) for key in {**was, **now})
    return tuple(each for each in both if each.before != each.after)
