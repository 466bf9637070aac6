"""What changed between two vessels, by id: facts without opinion.

Every declared field is compared, so none can be forgotten. An entry that names an earlier id in `formerly`
is the same thing renamed, and references that only follow the rename are no change of their own.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from typing import Any

from vesselspec.model.concessions import Covered, Mitigation
from vesselspec.model.forms import (
    Either,
    Form,
    ListOf,
    MapOf,
    Nested,
    Pairs,
    PlaceReference,
    Position,
    Quantity,
    Reference,
    SectionReference,
    Spec,
    TerminalReference,
    specs,
)
from vesselspec.model.items import FREE, SPARE, UNTRACED, Core, Demand, Evidence, Item, Labels
from vesselspec.model.vessel import COLLECTIONS, Vessel, natural
from vesselspec.rules.mitigation import in_words

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
    renames = renamed(before, after)
    back = {(collection, now): was for (collection, was), now in renames.items()}
    follow = _Follow(renames, before.interlocks)
    found: list[Change] = []
    for (collection, path), item in new.items():
        was = back.get((collection, path), path)
        earlier = old.get((collection, was))
        if earlier is None or (was == path and (collection, path) in renames):
            found.append(Change(ADDED, collection, path, path, tuple(_written(item))))
            continue
        # Read from the very same words, and no reference can have been renamed.
        same = earlier is item and not renames
        changed = () if same else tuple(_differences(earlier, item, follow, _holder(was)))
        if was != path:
            own = tuple(each for each in changed if each.key.split("/")[0] != "formerly")
            if not own and _moved_along(collection, was, path, renames):
                continue
            found.append(Change(RENAMED, collection, path, was, own))
        elif changed:
            found.append(Change(CHANGED, collection, path, path, changed))
    gone = [key for key in old if key not in renames and (key not in new or key in back)]
    for collection, path in gone:
        lost = tuple(FieldChange(each.key, each.after, None) for each in _written(old[collection, path]))
        found.append(Change(REMOVED, collection, path, path, lost))
    about = tuple(_differences(before.about, after.about, follow, ""))
    if about:
        found.append(Change(CHANGED, "vessel", "vessel", "vessel", about))
    return tuple(sorted(found, key=lambda c: (_ORDER.index(c.collection), natural(c.id), c.kind)))


#: (collection, earlier path) → path now.
Renames = Mapping[tuple[str, str], str]


def renamed(before: Vessel, after: Vessel) -> Renames:
    """Everything that `formerly` says was renamed, and what moved along with what holds it."""
    old = {(collection, path): item for collection, path, item in before.items()}
    new = {(collection, path): item for collection, path, item in after.items()}
    return _renames(old, new)


def called(address: str, names: Mapping[str, str]) -> str:
    """An id or address, or one with its collection before it, by its name of now. `names`: earlier → now."""
    place, colon, rest = address.partition(":")
    parts = place.split("/")
    for depth in range(len(parts), 0, -1):
        head = "/".join(parts[:depth])
        if head in names:
            return "/".join((names[head], *parts[depth:])) + colon + rest
    return address


def names_of(renames: Renames) -> dict[str, str]:
    """Renames without their collections, for words that do not tell which one they mean."""
    names = {was: now for (_, was), now in renames.items()}
    return names | {f"{collection}/{was}": f"{collection}/{now}" for (collection, was), now in renames.items()}


def _holder(path: str) -> str:
    return path.rpartition("/")[0]


def _moved_along(collection: str, was: str, now: str, renames: Renames) -> bool:
    """Whether a section or way has its new address only from the panel or section that holds it."""
    holders = {"sections": "panels", "ways": "sections"}.get(collection)
    same = was.rpartition("/")[2] == now.rpartition("/")[2]
    return holders is not None and same and renames.get((holders, _holder(was))) == _holder(now)


_Entries = Mapping[tuple[str, str], Item]


def _renames(old: _Entries, new: _Entries) -> dict[tuple[str, str], str]:
    renames = {(collection, was): now for (collection, now), was in _claims(old, new).items()}
    taken = {(collection, now) for (collection, _), now in renames.items()}
    for holders, held in (("panels", "sections"), ("panels", "ways"), ("sections", "ways")):
        moved = {was: now for (collection, was), now in renames.items() if collection == holders}
        for collection, path in old if moved else ():
            holder = path.split("/")[0] if holders == "panels" else _holder(path)
            if collection == held and holder in moved and (collection, path) not in renames:
                now = (collection, moved[holder] + path.removeprefix(holder))
                if now in new and now not in taken:
                    renames[collection, path] = now[1]
                    taken.add(now)
    return renames


def _claims(old: _Entries, new: _Entries) -> dict[tuple[str, str], str]:
    """What `formerly` says: (collection, path now) → earlier path. An id passed on in a row or a ring is followed."""
    claims: dict[tuple[str, str], str] = {}
    for (collection, path), item in new.items():
        earlier = old.get((collection, path))
        fresh = [was for was in item.formerly if earlier is None or was not in earlier.formerly]
        # A section or way may give its earlier number alone, or its earlier address.
        known = [at for was in fresh for at in ((was,) if "/" in was else _addresses(was, path, claims))]
        known = [was for was in known if was != path and (collection, was) in old]
        if known:
            claims[collection, path] = next((was for was in known if (collection, was) not in new), known[0])
    while True:
        first: dict[tuple[str, str], str] = {}
        for (collection, now), was in claims.items():
            first.setdefault((collection, was), now)
        unfounded = [
            (collection, now)
            for (collection, now), was in claims.items()
            if first[collection, was] != now
            or ((collection, was) in new and (collection, was) not in claims)
            or ((collection, now) in old and (collection, now) not in first)
        ]
        if not unfounded:
            return claims
        for key in unfounded:
            del claims[key]


def _addresses(was: str, path: str, claims: Mapping[tuple[str, str], str]) -> tuple[str, ...]:
    """The earlier addresses that an earlier number can stand for: its holder may be renamed as well."""
    panel, *inner = path.split("/")[:-1] or [""]
    if not panel:
        return (was,)
    panel_was = claims.get(("panels", panel), panel)
    if not inner:
        return f"{panel_was}/{was}", f"{panel}/{was}"
    section_was = claims.get(("sections", f"{panel}/{inner[0]}"), f"{panel_was}/{inner[0]}")
    return f"{section_was}/{was}", f"{panel}/{inner[0]}/{was}"


class _Follow:
    """Puts every reference in a value to what it is called now. Words that only look like an id stay."""

    def __init__(self, renames: Renames, interlocks: Container[str]) -> None:
        self.renames, self.interlocks = renames, interlocks

    def field(self, spec: Spec, value: Any, held_by: str) -> Any:
        """The value of one field; `held_by` is the earlier address of what holds the entry."""
        if not self.renames or value is None or spec.key == "formerly":
            return value
        if isinstance(spec.form, SectionReference):
            return self._place(f"{held_by}/{value}").rpartition("/")[2]
        return self._value(spec.form, value)

    def _value(self, form: Any, value: Any) -> Any:
        if isinstance(form, Reference):
            keys = ((collection, value) for collection in form.collections)
            return next((self.renames[key] for key in keys if key in self.renames), value)
        if isinstance(form, PlaceReference | TerminalReference):
            place = self._place(value)
            return self._entry(value) if place == value and getattr(form, "entries", False) else place
        if isinstance(form, ListOf):
            return tuple(self._value(form.of, each) for each in value)
        if isinstance(form, Nested) and value is not None:
            inner = {name: self._value(spec.form, getattr(value, name)) for name, spec in specs(form.of)}
            return replace(value, **inner)
        if isinstance(form, MapOf):
            return Pairs((self._key(form, key), self._mapped(form, key, each)) for key, each in value)
        return value

    def _key(self, form: MapOf, key: str) -> str:
        followed: str = key if form.keys is None else self._value(form.keys, key)
        return followed

    def _mapped(self, form: MapOf, key: str, value: Any) -> Any:
        if isinstance(value, Core):
            return self._core(value)
        return self._position(key, value) if isinstance(form.of, Position) else value

    def _entry(self, value: str) -> str:
        """What a finding names: any entry, by its id or with its collection before it."""
        collection, _, path = value.partition("/")
        if (collection, path) in self.renames:
            return f"{collection}/{self.renames[collection, path]}"
        found = {now for (_, was), now in self.renames.items() if was == value}
        return found.pop() if len(found) == 1 else value

    def _core(self, core: Core) -> Core:
        one, two = (self._place(at) if at is not None and ":" in at else at for at in (core.from_, core.to))
        return replace(core, from_=one, to=two)

    def _position(self, key: str, value: Any) -> Any:
        """An interlock stands at the address of the member that is closed; other positions are words."""
        return self._place(value) if key in self.interlocks else value

    def _place(self, value: str) -> str:
        place, colon, pole = value.partition(":")
        parts = place.split("/")
        for depth, collections in (
            (3, ("ways",)),
            (2, ("sections",)),
            (1, ("devices", "loads", "panels", "interlocks", "cables")),
        ):
            head = "/".join(parts[:depth])
            for collection in collections if len(parts) >= depth else ():
                if (collection, head) in self.renames:
                    return "/".join((self.renames[collection, head], *parts[depth:])) + colon + pole
        return value


def _differences(before: Any, after: Any, follow: _Follow, held_by: str) -> Iterator[FieldChange]:
    if type(before) is not type(after):
        yield FieldChange("kind", str(getattr(before, "kind", None)), str(getattr(after, "kind", None)))
    olds, news = _specs(before), _specs(after)
    for key in dict.fromkeys((*olds, *news)):
        if key in _HELD:
            continue
        one = getattr(before, olds[key][0]) if key in olds else None
        two = getattr(after, news[key][0]) if key in news else None
        if key not in olds or key not in news:
            # Another kind: what one of them cannot say and nobody wrote is no change.
            item, name = (before, olds[key][0]) if key in olds else (after, news[key][0])
            if getattr(item, name) == _default(type(item), name):
                continue
        if one == two:
            continue
        spec = (news if key in news else olds)[key][1]
        followed = one if key not in olds else follow.field(olds[key][1], one, held_by)
        if followed == two:
            continue
        if isinstance(two, Pairs) and isinstance(followed, Pairs):
            yield from _inside(key, spec, followed, two)
        elif isinstance(spec.form, ListOf) and set(followed or ()) != set(two or ()):
            yield from _listed(key, spec.form.of, followed or (), two or ())
        else:
            # A list that may be empty and is: that there is nothing was said, which is not the same as nothing said.
            none = "nothing" if isinstance(spec.form, ListOf) and spec.form.least == 0 else None
            was, now = (none if each == () else _shown(spec, each) for each in (followed, two))
            yield FieldChange(key, was, now)


def _default(cls: type, name: str) -> Any:
    default = next(each.default for each in fields(cls) if each.name == name)
    return None if default is MISSING else default


def _specs(item: Any) -> dict[str, tuple[str, Spec]]:
    return {spec.key: (name, spec) for name, spec in specs(type(item))}


def _inside(key: str, spec: Spec, before: Pairs, after: Pairs) -> Iterator[FieldChange]:
    """Differences of a mapping, entry by entry. The order of its keys says nothing about the boat."""
    of = _map_form(spec.form).of
    for name in dict.fromkeys((*(k for k, _ in before), *(k for k, _ in after))):
        one, two = _as_written(before.get(name)), _as_written(after.get(name))
        if one != two and (one is None or two is None or _said(of, one) != _said(of, two)):
            yield FieldChange(
                f"{key}/{name}",
                None if one is None else _said(of, one) or "nothing",
                None if two is None else _said(of, two) or "nothing",
            )


def _as_written(value: Any) -> Any:
    """Nothing for a demand that nobody wrote down, because its condition asks for all of its use."""
    return None if isinstance(value, Demand) and value.unlisted else value


def _map_form(form: Any) -> MapOf:
    if isinstance(form, Either):
        form = next(each for _, each in form.by_type if isinstance(each, MapOf))
    if not isinstance(form, MapOf):
        raise TypeError(f"{form!r} holds no mapping")
    return form


def _listed(key: str, form: Form, before: tuple[Any, ...], after: tuple[Any, ...]) -> Iterator[FieldChange]:
    """What a list has lost and gained."""
    for value in dict.fromkeys(before):
        if value not in after:
            yield FieldChange(f"{key}/{_said(form, value)}", "listed", None)
    for value in dict.fromkeys(after):
        if value not in before:
            yield FieldChange(f"{key}/{_said(form, value)}", None, "listed")


def _shown(spec: Spec, value: Any) -> str | None:
    if value is None or value in ((), Pairs()):
        return None
    return _said(spec.form, value)


def _said(form: Any, value: Any) -> str:
    """A value as a tradesman would say it; as a person would write it where that is the same."""
    if isinstance(value, Evidence):
        by = f" by {value.by}" if value.by is not None else ""
        return f"{value.how}{by}" + (f" on {value.when.isoformat()}" if value.when is not None else "")
    if isinstance(value, Core):
        return _landings(value)
    if isinstance(value, Covered):
        return value.signal_word + (f", at {value.measure:g} of its limit" if value.measure is not None else "")
    if isinstance(value, Mitigation):
        return in_words(value) or "nothing"
    if isinstance(value, Labels):
        ends = (("from", value.from_), ("to", value.to))
        return ", ".join(f"{label} at its {end} end" for end, label in ends if label is not None) or "nothing"
    if isinstance(value, Demand) and value.hours_s is not None:
        return f"{value.said} for {_hours(value.hours_s)} a day"
    if isinstance(value, Pairs):
        of = _map_form(form).of
        written = ((key, each) for key, each in value if _as_written(each) is not None)
        return " and ".join(f"{key}: {_said(of, each) or 'nothing'}" for key, each in written)
    if isinstance(form, ListOf):
        return ", ".join(_said(form.of, each) for each in value)
    return form.show(value) or "nothing more said"


def _hours(seconds: float) -> str:
    """The time per day in hours, as it is written in load lists, where it is an hour or more."""
    return f"{seconds / 3600:.4g} h" if seconds >= 3600 else Quantity("time").show(seconds)


def _landings(core: Core) -> str:
    """Where a core lands."""
    words = {FREE: SPARE if core.from_ == core.to else "free", UNTRACED: UNTRACED}
    one, two = (words.get(at, at) if at is not None else None for at in (core.from_, core.to))
    if one == two:
        said = [one] if one is not None else []
    else:
        said = [f"{at} at its {end} end" for at, end in ((one, "from"), (two, "to")) if at is not None]
    said += [f"colour {core.colour}"] if core.colour is not None else []
    said += [f"size {core.size.text}"] if core.size is not None else []
    return ", ".join(said)


def _written(item: Item) -> Iterator[FieldChange]:
    """What an entry says, as the changes that bring it about."""
    for name, spec in specs(type(item)):
        value = getattr(item, name)
        if spec.key not in _HELD and (spec.required or value != _default(type(item), name)):
            yield FieldChange(spec.key, None, _shown(spec, value) or "nothing")
