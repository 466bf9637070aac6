"""The history for the book: each revision in words, and which panels it concerns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from vesselspec.book.contents import Told, Visit
from vesselspec.changes import logbook
from vesselspec.model.vessel import Vessel
from vesselspec.report.logbook_words import Revision

#: The collections whose entries have a place in the book.
_PLACED = ("panels", "sections", "ways", "devices", "loads", "cables", "conditions")


def visit_of(
    visit: logbook.Visit, revision: Revision, before: Vessel | None, after: Vessel | None, now: Vessel
) -> Visit:
    """One revision. `before` and `after` are the boat at both its ends, `now` the one that the book is of."""
    panels = _Panels(now)
    told = []
    for change in visit.done.changes if not visit.first else ():
        sides = [(after, change.id), (before, change.before_id)]
        found = {
            panel for boat, path in sides if boat is not None for panel in panels.of(boat, change.collection, path)
        }
        told.append(Told(change.what, change.id if change.collection in _PLACED else "", frozenset(found)))
    looked = tuple(
        f"{each.id}: {each.evidence.how}" + (f" by {each.evidence.by}" if each.evidence.by else "")
        for each in (visit.done.renewed if not visit.first else ())
    )
    return Visit(revision, tuple(told), looked, _note(visit))


def _note(visit: logbook.Visit) -> str:
    if visit.problems:
        return f"The record of this revision cannot be understood: {visit.problems[0].place}."
    words = []
    if visit.first:
        words.append(f"The record begins here, with {len(visit.done.changes)} entries.")
    if visit.over:
        words.append(f"It also holds what {len(visit.over)} earlier revisions changed that cannot be understood.")
    if visit.done.brought:
        words.append(f"A merge: {visit.done.brought} changes came from a side branch and are told there.")
    return " ".join(words)


class _Panels:
    """The panels that an entry concerns, by their ids of now."""

    def __init__(self, now: Vessel) -> None:
        self._now = {was: key for key, panel in now.panels.items() for was in (*panel.formerly, key)}

    def of(self, boat: Vessel, collection: str, path: str) -> Iterator[str]:
        """Of a part of a panel the panel; of a cable those that it ends in; of a device or load those wired to it."""
        if collection in ("panels", "sections", "ways"):
            yield from self._called((path,))
        elif collection == "cables" and path in boat.cables:
            yield from self._called(_ends(boat, path))
        elif collection in ("devices", "loads"):
            for key, cable in boat.cables.items():
                if path in (cable.from_.split("/", 1)[0], cable.to.split("/", 1)[0]):
                    yield from self._called(_ends(boat, key))

    def _called(self, places: Iterable[str]) -> Iterator[str]:
        for place in places:
            key = self._now.get(place.split("/", 1)[0])
            if key is not None:
                yield key


def _ends(boat: Vessel, key: str) -> Iterator[str]:
    cable = boat.cables[key]
    yield from (cable.from_, cable.to)
    for _, core in cable.cores:
        yield from (at.partition(":")[0] for at in (core.from_, core.to) if at is not None and ":" in at)


def visits_of(
    visits: Iterable[logbook.Visit],
    revision: Callable[[str], Revision],
    vessel: Callable[[str], Vessel | None],
    now: Vessel,
) -> tuple[Visit, ...]:
    """All revisions that did or say something, newest first."""
    found = (
        visit_of(each, revision(each.id), vessel(each.base) if each.base is not None else None, vessel(each.id), now)
        for each in visits
    )
    return tuple(each for each in found if each.told or each.looked or each.note)
