"""What an entry says of itself, in words and by the titles of the vocabulary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from vesselspec.model.forms import specs
from vesselspec.model.items import About, Evidence, Item, Section
from vesselspec.model.vessel import Vessel
from vesselspec.units import show

NOT_RECORDED = "not recorded"
#: Fields that have a place of their own in the book, or none.
_APART = frozenset(
    ("name", "note", "photos", "evidence", "formerly", "space", "system", "sections", "ways", "between", "record")
)
#: Of a section its own lines say these.
_OF_SECTION = ("rating", "neutral_bar")


def facts_of(vessel: Vessel, item: Item) -> tuple[tuple[str, str], ...]:
    """What an entry says of itself, by the titles of the vocabulary; what has its own place in the book left out."""
    found = []
    system = vessel.systems.get(getattr(item, "system", None) or "")
    if system is not None:
        found.append(("System", system.name or system.id))
    return (*found, *said_by(item))


def said_by(item: Item | About) -> Iterator[tuple[str, str]]:
    """The title and value of every field that an entry gives, those apart that have a place of their own."""
    for name, spec in specs(type(item)):
        value: Any = getattr(item, name)
        if spec.key in _APART or (isinstance(item, Section) and spec.key in _OF_SECTION):
            continue
        if value is None or value is False or value == () or (isinstance(value, Mapping) and not value):
            continue
        if value is True:
            yield spec.title, "yes"
        elif said := spec.form.show(value):
            yield spec.title, said


def known(evidence: Evidence | None) -> str:
    """How an entry is known, by whom and since when."""
    if evidence is None:
        return "not said"
    words = [
        evidence.how,
        f"by {evidence.by}" if evidence.by else "",
        evidence.when.isoformat() if evidence.when else "",
    ]
    return " ".join(word for word in words if word)


def space_name(vessel: Vessel, key: str | None) -> str:
    """A space as people call it; empty where none is recorded."""
    space = vessel.spaces.get(key or "")
    return (space.name or space.id) if space is not None else key or ""


def amps_words(value: float | None) -> str:
    """A rating, or that there is none in the record."""
    return show("current", value) if value is not None else NOT_RECORDED


def system_words(kind: str) -> str:
    """A kind of system in words."""
    return {
        "dc": "DC",
        "ac-single-phase": "AC, single-phase",
        "ac-split-phase": "AC, split-phase",
        "ac-three-phase": "AC, three-phase",
    }[kind]
