"""What changed between two vessels, by id: facts without opinion.

Every declared field is compared, so none can be forgotten. An entry that names an earlier id in `formerly`
is the same thing renamed, and references that only follow the rename are no change of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from vesselspec.model.forms import Form, ListOf, Pairs, Spec, specs
from vesselspec.model.items import Core, Item
from vesselspec.model.vessel import COLLECTIONS, Vessel, natural

ADDED, REMOVED, CHANGED, RENAMED = "added", "removed", "changed", "renamed"

#: Sections and ways are entries of their own.
_HELD = frozenset(("sections", "ways"))
_ORDER = (*COLLECTIONS, "sections", "ways", "vessel")


@dataclass(frozen=True)
class FieldChange:
    """One field: its key (with the inner key where it is a mapping) and how it was and is written."""

    key: str
    before: str | None
    after: str | None


@dataclass(frozen=True)
class Change:
    """One entry that is new, gone or different."""

    kind: str
    collection: str
    id: str
    before_id: str
    fields: tuple[FieldChange, ...]

    def field(self, key: str) -> FieldChange | None:
        """The change of one field, if it changed."""
        return next((each for each in self.fields if each.key == key), None)


def compare(before: Vessel, after: Vessel) -> tuple[Change, ...]:
    """Return every change, in order of collection and id."""
    old = {(collection, path): item for collection, path, item in before.items()}
    new = {(collection, path): item for collection, path, item in after.items()}
    renames = _renames(old, new)
    back = {(collection, now): was for (collection, was), now in renames.items()}
    ids = {was: now for (_, was), now in renames.items()}
    found: list[Change] = []
    for (collection, path), item in new.items():
        was = back.get((collection, path), path)
        earlier = old.get((collection, was))
        if earlier is None:
            found.append(Change(ADDED, collection, path, path, tuple(_written(item))))
            continue
        changed = tuple(_differences(earlier, item, ids))
        if was != path:
            own = tuple(each for each in changed if each.key != "formerly")
            if _local(was) == _local(path) and not own:
                continue  # it only moved along with what holds it
            found.append(Change(RENAMED, collection, path, was, own))
        elif changed:
            found.append(Change(CHANGED, collection, path, path, changed))
    gone = {(collection, was) for collection, was in old if (collection, was) not in new}
    gone -= {(collection, was) for collection, was in renames}
    found += [Change(REMOVED, c, path, path, tuple(_written(old[c, path]))) for c, path in gone]
    about = tuple(_differences(before.about, after.about, ids))
    if about:
        found.append(Change(CHANGED, "vessel", "vessel", "vessel", about))
    return tuple(sorted(found, key=lambda c: (_ORDER.index(c.collection), natural(c.id), c.kind)))


def _local(path: str) -> str:
    return path.rsplit("/", 1)[-1]


_Entries = Mapping[tuple[str, str], Item]


def _renames(old: _Entries, new: _Entries) -> dict[tuple[str, str], str]:
    """Old (collection, path) → new path, for everything renamed or held by something renamed."""
    renames: dict[tuple[str, str], str] = {}
    taken: set[tuple[str, str]] = set()

    def note(collection: str, was: str, now: str) -> None:
        key = (collection, was)
        if key in old and key not in new and key not in renames and (collection, now) not in taken:
            renames[key] = now
            taken.add((collection, now))

    for (collection, path), item in new.items():
        if (collection, path) in old:
            continue
        for was in item.formerly:
            # A section or way may give its earlier number alone, or its earlier address.
            holder = path.rsplit("/", 1)[0] + "/" if "/" in path and "/" not in was else ""
            note(collection, holder + was, path)
    panels = {was: now for (collection, was), now in renames.items() if collection == "panels"}
    for collection, path in list(old):
        head, _, rest = path.partition("/")
        if rest and head in panels:
            note(collection, path, f"{panels[head]}/{rest}")
    sections = {was: now for (collection, was), now in renames.items() if collection == "sections"}
    for collection, path in list(old):
        section, _, way = path.rpartition("/")
        if collection == "ways" and section in sections:
            note(collection, path, f"{sections[section]}/{way}")
    return renames


def _follow(value: Any, ids: Mapping[str, str]) -> Any:
    """A value with every id and address in it put to what it is called now."""
    if isinstance(value, str):
        place, colon, pole = value.partition(":")
        parts = place.split("/")
        for depth in range(len(parts), 0, -1):
            head = "/".join(parts[:depth])
            if head in ids:
                return "/".join((ids[head], *parts[depth:])) + colon + pole
        return value
    if isinstance(value, Pairs):
        return Pairs((_follow(key, ids), _follow(each, ids)) for key, each in value)
    if isinstance(value, tuple):
        return tuple(_follow(each, ids) for each in value)
    if is_dataclass(value) and not isinstance(value, type) and isinstance(value, Core):
        return replace(value, **{f.name: _follow(getattr(value, f.name), ids) for f in fields(value)})
    return value


#: Free text keeps the words it has, even if one of them is also an id.
_FREE_TEXT = frozenset(("name", "note", "label", "labels", "photos", "formerly", "evidence"))


def _differences(before: Any, after: Any, ids: Mapping[str, str]) -> Iterator[FieldChange]:
    kinds = (getattr(before, "kind", None), getattr(after, "kind", None))
    if type(before) is not type(after):
        yield FieldChange("kind", str(kinds[0]), str(kinds[1]))
    olds, news = _specs(before), _specs(after)
    for key in dict.fromkeys((*olds, *news)):
        if key in _HELD:
            continue
        one = getattr(before, olds[key][0]) if key in olds else None
        two = getattr(after, news[key][0]) if key in news else None
        if one == two:
            continue
        spec = (news if key in news else olds)[key][1]
        followed = one if key in _FREE_TEXT or not ids else _follow(one, ids)
        if followed == two:
            continue
        if isinstance(two, Pairs) and isinstance(followed, Pairs):
            yield from _inside(key, spec, followed, two)
        elif isinstance(spec.form, ListOf) and set(followed or ()) != set(two or ()):
            yield from _listed(key, spec.form.of, followed or (), two or ())
        else:
            yield FieldChange(key, _shown(spec, followed), _shown(spec, two))


def _specs(item: Any) -> dict[str, tuple[str, Spec]]:
    return {spec.key: (name, spec) for name, spec in specs(type(item))}


def _inside(key: str, spec: Spec, before: Pairs, after: Pairs) -> Iterator[FieldChange]:
    """Differences of a mapping, entry by entry. The order of its keys says nothing about the boat."""
    show = getattr(spec.form, "of", None)
    for name in dict.fromkeys((*(k for k, _ in before), *(k for k, _ in after))):
        one, two = before.get(name), after.get(name)
        if one != two:
            old = None if one is None else show.show(one) if show is not None else str(one)
            new = None if two is None else show.show(two) if show is not None else str(two)
            yield FieldChange(f"{key}/{name}", old, new)


def _listed(key: str, form: Form, before: tuple[Any, ...], after: tuple[Any, ...]) -> Iterator[FieldChange]:
    """What a list has lost and gained."""
    for value in before:
        if value not in after:
            yield FieldChange(f"{key}/{form.show(value)}", "listed", None)
    for value in after:
        if value not in before:
            yield FieldChange(f"{key}/{form.show(value)}", None, "listed")


def _shown(spec: Spec, value: Any) -> str | None:
    if value is None or value in ((), Pairs()):
        return None
    return spec.form.show(value)


def _written(item: Item) -> Iterator[FieldChange]:
    """What an entry says, as the changes that bring it about."""
    for name, spec in specs(type(item)):
        value = getattr(item, name)
        if spec.key not in _HELD and value not in (None, (), False):
            yield FieldChange(spec.key, None, spec.form.show(value))
