"""What a book is made of: a judged boat, where its record comes from, and what was gathered for it from outside."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from vesselspec.book.live import Live, live_of
from vesselspec.book.photos import Photo
from vesselspec.changes.compare import Change
from vesselspec.changes.scope import Key, about, belonging
from vesselspec.model.vessel import Vessel
from vesselspec.report.logbook_words import Revision
from vesselspec.rules import Boat, Finding, Survey
from vesselspec.rules.unknowns import Unknown, unknowns_of


@dataclass(frozen=True)
class Drawing:
    """One sheet of a diagram, as SVG."""

    title: str
    svg: str


@dataclass(frozen=True)
class Told:
    """One change in words, with the panels that it concerns and the entry, if it is there now."""

    words: str
    place: str
    panels: frozenset[str]


@dataclass(frozen=True)
class Visit:
    """What one revision did."""

    revision: Revision
    told: tuple[Told, ...]
    #: Evidence that somebody renewed, in words.
    looked: tuple[str, ...] = ()
    #: What else there is to say: the record begins here, or it could not be understood.
    note: str = ""


@dataclass(frozen=True)
class Since:
    """What came after the copy that the crew has."""

    state: str
    changes: tuple[Change, ...]
    before: Vessel
    new: tuple[Finding, ...]
    cleared: tuple[Finding, ...]

    @cached_property
    def marks(self) -> Mapping[Key, str]:
        """NEW or CHANGED for every entry of now that is."""
        return {
            (each.collection, each.id): "NEW" if each.kind == "added" else "CHANGED"
            for each in self.changes
            if each.kind != "removed"
        }

    @cached_property
    def fingerprints(self) -> frozenset[str]:
        """Of the findings that are new."""
        return frozenset(each.fingerprint for each in self.new)


@dataclass(frozen=True)
class Book:
    """All that the pages are made from."""

    boat: Boat
    survey: Survey
    #: The state of the record with its revision and date, as every page carries it.
    state: str
    day: datetime.date
    #: The abbreviated commit that the state is; empty where it is none.
    revision: str = ""
    #: Newest first; empty outside a repository.
    visits: tuple[Visit, ...] = ()
    #: Why the history is not whole, in words.
    history_note: str = ""
    #: What feeds what; empty where no layout engine could draw it.
    overview: tuple[Drawing, ...] = ()
    photos: Mapping[str, Photo] = field(default_factory=dict)
    since: Since | None = None

    @property
    def vessel(self) -> Vessel:
        """The vessel."""
        return self.boat.vessel

    @cached_property
    def lives(self) -> tuple[Live, ...]:
        """What is live in each operating condition."""
        return live_of(self.boat)

    @cached_property
    def unknowns(self) -> tuple[Unknown, ...]:
        """What nobody has recorded."""
        return unknowns_of(self.boat, self.survey)

    @cached_property
    def entries_of(self) -> Mapping[str, frozenset[Key]]:
        """What belongs to each panel."""
        return {key: belonging(self.vessel, {("panels", key)}) for key in self.vessel.panels}

    @cached_property
    def findings_of(self) -> Mapping[str, tuple[Finding, ...]]:
        """The findings on each panel and what belongs to it."""
        return {
            key: tuple(each for each in self.survey.findings if about(each.items, entries))
            for key, entries in self.entries_of.items()
        }

    def mark(self, collection: str, path: str) -> str:
        """NEW or CHANGED since the crew's copy; empty for what is as it was, and without such a copy."""
        return self.since.marks.get((collection, path), "") if self.since is not None else ""
