"""Two changes taken together: what each brings, what only both bring, and where they contradict each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from vesselspec.changes.compare import ADDED, REMOVED, Change, compare
from vesselspec.changes.review import Review, Side, findings_only
from vesselspec.changes.words import tell
from vesselspec.isolation import Target, find_target, sheet_of
from vesselspec.model.vessel import Vessel
from vesselspec.rules import Finding


@dataclass(frozen=True)
class Both:
    """An entry that both sides changed, and what each did to it, in words."""

    collection: str
    id: str
    ours: str
    theirs: str
    #: Fields that the sides leave differently; empty where they agree or changed different fields.
    clash: tuple[str, ...]


@dataclass(frozen=True)
class SideBySide:
    """A file in which the two changes meet, line by line, and the entries in it that each of them changed."""

    file: str
    ours: tuple[str, ...]
    theirs: tuple[str, ...]


@dataclass(frozen=True)
class Relied:
    """A point of disconnection that one side's isolation of a panel needs and the other side took out."""

    panel: str
    point: str
    #: The state whose sheet names the point, and the state that lost it.
    needed_by: str
    removed_by: str


@dataclass(frozen=True)
class Combination:
    """The judgement of two changes taken together."""

    #: Where the two parted.
    base: Side
    ours: Side
    theirs: Side
    #: What git makes of both. Where texts conflict, both put together entry by entry; None where that is not just
    #: the sum of the two.
    merged: Side | None
    #: Files of the record in which the texts conflict, and conflicts elsewhere in the repository.
    conflicts: tuple[SideBySide, ...]
    elsewhere: tuple[str, ...]
    both: tuple[Both, ...]
    relied: tuple[Relied, ...]

    @property
    def judgeable(self) -> bool:
        """Whether each side by itself can be understood."""
        return self.ours.boat is not None and self.theirs.boat is not None

    @property
    def clashes(self) -> bool:
        """Whether the two cannot be merged as they are, or their merge cannot be understood."""
        if self.conflicts or self.elsewhere:
            return True
        return self.judgeable and (self.merged is None or self.merged.boat is None)

    @cached_property
    def combined(self) -> tuple[Finding, ...]:
        """Findings that neither side has by itself, or that both together make graver or worse."""
        return tuple(f for f in self._held(self.ours).new if f.fingerprint in self._prints(self.theirs))

    @cached_property
    def of_ours(self) -> tuple[Finding, ...]:
        """Findings of the merge that the first side brings alone."""
        return self._of(self.ours, self.theirs)

    @cached_property
    def of_theirs(self) -> tuple[Finding, ...]:
        """Findings of the merge that the second side brings alone."""
        return self._of(self.theirs, self.ours)

    @property
    def counting(self) -> tuple[Finding, ...]:
        """What only the two together bring and no concession accepts."""
        return tuple(finding for finding in self.combined if not finding.accepted)

    def _held(self, earlier: Side) -> Review:
        if self.merged is None or self.merged.boat is None or earlier.boat is None:
            return Review(earlier, earlier)
        return findings_only(earlier, self.merged)

    def _prints(self, earlier: Side) -> frozenset[str]:
        return frozenset(finding.fingerprint for finding in self._held(earlier).new)

    def _of(self, side: Side, other: Side) -> tuple[Finding, ...]:
        combined = {finding.fingerprint for finding in self.combined}
        new = (finding for finding in self._held(self.base).new if finding.fingerprint not in combined)
        return tuple(f for f in new if f.fingerprint in self._prints(other) - self._prints(side))


def combine(
    base: Side, ours: Side, theirs: Side, merged: Side | None, conflicts: Iterable[str], elsewhere: Iterable[str]
) -> Combination:
    """Judge two changes that parted at `base` together. `merged` is what git makes of them, `conflicts` where not."""
    both: tuple[Both, ...] = ()
    met = tuple(SideBySide(file, (), ()) for file in conflicts)
    relied: tuple[Relied, ...] = ()
    if base.boat is not None and ours.boat is not None and theirs.boat is not None:
        start, one, two = base.boat.vessel, ours.boat.vessel, theirs.boat.vessel
        mine, other = _by_entry(compare(start, one)), _by_entry(compare(start, two))
        both = tuple(_both(start, one, two, mine, other))
        met = tuple(
            SideBySide(each.file, _in_file(base, ours, mine, each.file), _in_file(base, theirs, other, each.file))
            for each in met
        )
        relied = (*_relied(ours, mine, theirs, other), *_relied(theirs, other, ours, mine))
    return Combination(base, ours, theirs, merged, met, tuple(elsewhere), both, relied)


def has_both(base: Side, ours: Side, theirs: Side, merged: Side) -> bool:
    """Whether a merge holds the changes of both sides, field by field, and nothing else."""
    boats = [side.boat for side in (base, ours, theirs, merged)]
    start, one, two, both = (None if boat is None else boat.vessel for boat in boats)
    if start is None or one is None or two is None or both is None:
        return False
    wanted = {key: _substance(change) for key, change in _by_entry(compare(start, one)).items()}
    for key, change in _by_entry(compare(start, two)).items():
        theirs_is = _substance(change)
        together = _together(wanted[key], theirs_is) if key in wanted else theirs_is
        if together is None:
            return False
        wanted[key] = together
    return {key: _substance(change) for key, change in _by_entry(compare(start, both)).items()} == wanted


#: What a change is, in whatever order it is told: kind, id now, field → how it was and is written.
_Substance = tuple[str, str, Mapping[str, tuple[str | None, str | None]]]


def _substance(change: Change) -> _Substance:
    return change.kind, change.id, {each.key: (each.before, each.after) for each in change.fields}


def _together(ours: _Substance, theirs: _Substance) -> _Substance | None:
    """Two changes of one entry as one; None where they are of different kinds or leave a field differently."""
    if ours == theirs:
        return ours
    if ours[:2] != theirs[:2] or ours[0] in (ADDED, REMOVED):
        return None
    shared = ours[2].keys() & theirs[2].keys()
    if any(ours[2][key] != theirs[2][key] for key in shared):
        return None
    return ours[0], ours[1], {**ours[2], **theirs[2]}


#: (collection, id where the two parted) → what one side did to it.
_Changes = Mapping[tuple[str, str], Change]


def _by_entry(changes: Iterable[Change]) -> _Changes:
    return {(change.collection, change.before_id): change for change in changes}


def _both(start: Vessel, one: Vessel, two: Vessel, mine: _Changes, other: _Changes) -> Iterator[Both]:
    for key, ours in mine.items():
        if (theirs := other.get(key)) is None:
            continue
        yield Both(key[0], key[1], tell(ours, start, one), tell(theirs, start, two), tuple(_clash(ours, theirs)))


def _clash(ours: Change, theirs: Change) -> Iterator[str]:
    if REMOVED in (ours.kind, theirs.kind):
        if ours.kind != theirs.kind:
            yield "the whole entry"
        return
    if ours.id != theirs.id:
        yield "its id"
    mine, other = ({each.key: each.after for each in change.fields} for change in (ours, theirs))
    keys = mine.keys() & other.keys()
    if ours.kind == theirs.kind == ADDED:
        keys = mine.keys() | other.keys()
    yield from sorted(key for key in keys if mine.get(key) != other.get(key))


def _in_file(before: Side, after: Side, changes: _Changes, file: str) -> tuple[str, ...]:
    """The entries in a file that a side changed, in words."""
    found: list[str] = []
    if before.boat is None or after.boat is None:
        return ()
    for change in changes.values():
        boat, path = (before.boat, change.before_id) if change.kind == REMOVED else (after.boat, change.id)
        if change.collection != "vessel" and boat.places.of(change.collection, path).file == file:
            found.append(tell(change, before.boat.vessel, after.boat.vessel))
    return tuple(found)


def _relied(side: Side, changes: _Changes, other: Side, lost: _Changes) -> Iterator[Relied]:
    """Points on the sheets of the panels that one side touches which the other side removed."""
    gone = {change.id for change in lost.values() if change.kind == REMOVED}
    if not gone or side.boat is None:
        return
    for panel in sorted(_panels(side.boat.vessel, changes)):
        target = find_target(side.boat, panel)
        if isinstance(target, Target):
            for point in sheet_of(side.boat, target).points:
                if point.id in gone:
                    yield Relied(panel, point.id, side.name, other.name)


def _panels(vessel: Vessel, changes: _Changes) -> set[str]:
    """The panels that a change touches: itself, in one of their ways, or by a cable that ends there."""
    places: set[str] = set()
    for change in changes.values():
        if change.collection in ("panels", "sections", "ways"):
            places.add(change.id)
        elif change.collection == "cables" and change.id in vessel.cables:
            cable = vessel.cables[change.id]
            places |= {cable.from_, cable.to}
    return {place.split("/", 1)[0] for place in places} & set(vessel.panels)
