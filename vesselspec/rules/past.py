"""What the earlier revisions of a record say that its last state does not: gathered outside, an input of the rules."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from vesselspec.model.items import Evidence

#: Collections whose entries are there to be looked at.
SEEN = ("devices", "panels", "sections", "ways", "loads", "cables", "interlocks")


@dataclass(frozen=True)
class Altered:
    """An entry that was changed after the evidence that the record gives for it."""

    collection: str
    path: str
    #: What of it, by field.
    fields: tuple[str, ...]
    #: The revision that changed it last, abbreviated, and its day; empty for files that are not committed.
    revision: str
    day: datetime.date | None
    evidence: Evidence


@dataclass(frozen=True)
class Past:
    """What looking back through the revisions found."""

    altered: tuple[Altered, ...] = ()
    #: Why earlier revisions could not be looked at; empty where they were.
    missing: str = ""
    #: Where they are only known from a day on: what was changed before it is not known.
    begins: datetime.date | None = None


def holders(collection: str, path: str) -> tuple[tuple[str, str], ...]:
    """An entry and what holds it, nearest first: who looked at a panel looked at its ways."""
    parts = path.split("/")
    key = (collection, path)
    if collection == "ways":
        return key, ("sections", "/".join(parts[:2])), ("panels", parts[0])
    return (key, ("panels", parts[0])) if collection == "sections" else (key,)
