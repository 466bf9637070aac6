"""Where entries refer to each other, as written: found by the declarations of their fields, never by their looks."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vesselspec.model.forms import (
    Either,
    Entries,
    Form,
    Landing,
    ListOf,
    MapOf,
    Nested,
    PlaceReference,
    Position,
    Reference,
    SectionReference,
    TerminalReference,
    Text,
    specs,
)
from vesselspec.model.items import Core, CoreForm
from vesselspec.model.vessel import SHARED_IDS

#: Collections whose entries addresses begin with, sections and ways included.
PLACES = (*SHARED_IDS, "sections", "ways")

Path = tuple[str | int, ...]

_REFERRING = (Reference, PlaceReference, TerminalReference, Landing, SectionReference, Position)


@dataclass(frozen=True)
class Mention:
    """A word in an entry as written that may name another entry, or that is free text."""

    #: From the entry to the word; where it is a key, the key is the last step.
    path: Path
    is_key: bool
    said: str
    #: How it refers; `Text` for free text.
    form: Form
    #: Of a section's field, the panel that holds it; of a position, the switch.
    of: str = ""


def mentions(cls: type, raw: Mapping[str, Any], key: str) -> Iterator[Mention]:
    """Every word in an entry that may name another one, and all free text. Earlier ids are history: they are not."""
    yield from _fields(cls, raw, (), key)


def _fields(cls: type, raw: Mapping[str, Any], path: Path, of: str) -> Iterator[Mention]:
    for _, spec in specs(cls):
        if spec.key in raw and spec.key != "formerly":
            yield from _in(spec.form, raw[spec.key], (*path, spec.key), of)


def _in(form: Any, raw: Any, path: Path, of: str) -> Iterator[Mention]:
    match form:
        case Nested():
            yield from _fields(form.of, raw, path, of)
        case Entries():
            for key, entry in raw.items():
                yield from _fields(form.of, entry, (*path, key), of)
        case ListOf():
            for number, each in enumerate(raw):
                yield from _in(form.of, each, (*path, number), of)
        case MapOf():
            for key, each in raw.items():
                if form.keys is not None:
                    yield Mention((*path, key), True, key, form.keys)
                yield from _in(form.of, each, (*path, key), key)
        case CoreForm() if isinstance(raw, Mapping):
            yield from _fields(Core, raw, path, of)
        case Either():
            pass  # measures
        case _ if isinstance(raw, str) and isinstance(form, (*_REFERRING, Text)):
            yield Mention(path, False, raw, form, of)


@dataclass(frozen=True)
class Renaming:
    """An entry that gets another id: its collection, and its address before and after."""

    collection: str
    was: str
    now: str
    #: The ids of interlocks, whose positions are addresses.
    interlocks: Container[str] = ()
    #: Whether the id alone, without its collection before it, means this entry where any entry can be meant.
    alone: bool = True

    def follow(self, mention: Mention) -> str | None:
        """What a word becomes; None where it names something else."""
        match mention.form:
            case Reference(collections):
                named = self.collection in collections and mention.said == self.was
                return self.now if named else None
            case SectionReference():
                named = self.collection == "sections" and f"{mention.of}/{mention.said}" == self.was
                return self.now.rpartition("/")[2] if named else None
            case PlaceReference(words, entries):
                if mention.said in words:
                    return None
                return self._place(mention.said) or (self._entry(mention.said) if entries else None)
            case TerminalReference():
                return self._place(mention.said)
            case Landing():
                return self._place(mention.said) if ":" in mention.said else None
            case Position():
                return self._place(mention.said) if mention.of in self.interlocks else None
        return None

    def _place(self, said: str) -> str | None:
        if self.collection not in PLACES:
            return None
        rest = said.removeprefix(self.was)
        within = rest != said and (not rest or rest[0] in "/:")
        return self.now + rest if within else None

    def _entry(self, said: str) -> str | None:
        if said == f"{self.collection}/{self.was}":
            return f"{self.collection}/{self.now}"
        return self.now if self.alone and said == self.was else None
