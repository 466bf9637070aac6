"""What is different for whoever opens a panel: what can be live in it, circuits, isolation, labels, colours."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from vesselspec.changes.compare import ADDED, REMOVED, Change, called
from vesselspec.changes.review import Review
from vesselspec.changes.words import REWIRED, kind_of, tell
from vesselspec.isolation import Sheet, Target, find_target, sheet_of
from vesselspec.model.items import NO_LABEL, UNTRACED, Cable
from vesselspec.model.vessel import Vessel, natural
from vesselspec.rules import Boat

#: Panels whose isolation is worked out at most, on either side: the first record of a boat changes all of them.
MOST_SHEETS = 40


@dataclass(frozen=True)
class Differs:
    """Things of one sort that are there now and were not, and the other way round; in words."""

    title: str
    gained: tuple[str, ...]
    lost: tuple[str, ...]


@dataclass(frozen=True)
class Isolation:
    """How making a panel dead differs from before. Refusals say why the record cannot declare it dead."""

    refused_before: tuple[str, ...] = ()
    refused_now: tuple[str, ...] = ()
    parts: tuple[Differs, ...] = ()
    #: Not worked out: too many panels changed at once.
    left_out: bool = False

    @property
    def differs(self) -> bool:
        """Whether there is anything to tell."""
        return bool(self.parts) or self.left_out or self.refused_before != self.refused_now


@dataclass(frozen=True)
class Opening:
    """One panel, and what is different in it. `state` is added, removed, or empty."""

    panel: str
    name: str
    state: str
    #: Section → what can newly be live there, and what no longer.
    potentials: tuple[Differs, ...]
    circuits: Differs
    rewired: tuple[str, ...]
    isolation: Isolation
    labels: tuple[str, ...]
    colours: Differs

    @property
    def differs(self) -> bool:
        """Whether there is anything to tell."""
        parts = (self.potentials, self.rewired, self.labels, self.circuits.gained, self.circuits.lost)
        colours = self.colours.gained or self.colours.lost
        return bool(self.state or any(parts) or colours or self.isolation.differs)


def openings(found: Review) -> tuple[Opening, ...]:
    """Every panel in which something is different, in order; empty where a state cannot be understood."""
    before, after = found.before.boat, found.after.boat
    if before is None or after is None:
        return ()
    earlier = {called(panel, found.names): panel for panel in before.vessel.panels}
    panels = sorted({*earlier, *after.vessel.panels}, key=natural)
    touched = [panel for panel in panels if panel in _touched(found, before, after)]
    told: list[Opening] = []
    for panel in touched:
        was = earlier.get(panel)
        state = "" if was is not None and panel in after.vessel.panels else ADDED if was is None else REMOVED
        isolation = Isolation()
        if not state:
            few = len(touched) <= MOST_SHEETS
            isolation = _isolation(before, after, was or panel, panel, found.names) if few else Isolation(left_out=True)
        vessel, key = (before.vessel, was or panel) if state == REMOVED else (after.vessel, panel)
        opening = Opening(
            panel,
            vessel.name_of(key),
            state,
            tuple(
                Differs(e.place, e.gained, e.lost)
                for e in found.effects.potentials
                if _head(e.place) == panel and e.place not in after.vessel.devices
            ),
            _circuits(before.vessel, after.vessel, was, panel, found.names),
            tuple(_rewired(found.changes, before.vessel, after.vessel, panel)),
            isolation,
            tuple(_labels(before.vessel, after.vessel, was, panel, found.names)),
            _colours(before, after, was, panel, found.names),
        )
        if opening.differs:
            told.append(opening)
    return tuple(told)


def _head(place: str) -> str:
    return place.split("/", 1)[0]


def _touched(found: Review, before: Boat, after: Boat) -> set[str]:
    """Panels that the change is about, in which a cable changed, or in which something else can be live."""
    places = {effect.place for effect in found.effects.potentials}
    for change in found.changes:
        if change.collection in ("panels", "sections", "ways"):
            places |= {change.id, called(change.before_id, found.names)}
        elif change.collection == "cables":
            for vessel, key in ((before.vessel, change.before_id), (after.vessel, change.id)):
                if (cable := vessel.cables.get(key)) is not None:
                    places |= {called(end, found.names) for end in (cable.from_, cable.to)}
    heads = {_head(place) for place in places}
    return {panel for panel in heads if panel in after.vessel.panels or panel in _names_now(before.vessel, found.names)}


def _names_now(vessel: Vessel, names: Mapping[str, str]) -> set[str]:
    return {called(panel, names) for panel in vessel.panels}


# --- circuits, wiring, labels, colours ------------------------------------------------------------


def _ends(vessel: Vessel, panel: str | None) -> Iterator[tuple[str, Cable, str, str]]:
    """(where in the panel, cable, from or to, its other end) for every cable end in a panel."""
    for cable in vessel.cables.values() if panel is not None else ():
        for end, at, other in (("from", cable.from_, cable.to), ("to", cable.to, cable.from_)):
            if _head(at) == panel:
                yield at, cable, end, other


def _circuits(before: Vessel, after: Vessel, was: str | None, panel: str, names: Mapping[str, str]) -> Differs:
    def landed(vessel: Vessel, key: str | None, names: Mapping[str, str]) -> dict[tuple[str, str], str]:
        found = {}
        for at, cable, _, other in _ends(vessel, key):
            end = "an end that nobody has traced" if other == UNTRACED else vessel.name_of(other)
            found[called(at, names), called(cable.id, names)] = f"cable {cable.id} at {vessel.name_of(at)}, with {end}"
        return found

    old, new = landed(before, was, names), landed(after, panel, {})
    return _differs("circuits", old, new)


def _differs(title: str, old: Mapping[tuple[str, str], str], new: Mapping[tuple[str, str], str]) -> Differs:
    gained = tuple(new[key] for key in new if key not in old)
    return Differs(title, gained, tuple(old[key] for key in old if key not in new))


def _rewired(changes: Iterable[Change], before: Vessel, after: Vessel, panel: str) -> Iterator[str]:
    """Cables whose cores lie otherwise, with an end of it, or of one core, in this panel."""
    for change in changes:
        if change.collection == "cables" and change.kind not in (ADDED, REMOVED) and kind_of(change) == REWIRED:
            said = " ".join(part for each in change.fields for part in (each.before, each.after) if part)
            ends = {after.cables[change.id].from_, after.cables[change.id].to, *said.split()}
            if panel in map(_head, ends):
                yield tell(change, before, after)


def _labels(before: Vessel, after: Vessel, was: str | None, panel: str, names: Mapping[str, str]) -> Iterator[str]:
    def ways(vessel: Vessel, key: str | None, names: Mapping[str, str]) -> dict[str, str | None]:
        return {called(at, names): way.label for at, (holder, _, way) in vessel.ways.items() if holder.id == key}

    old, new = ways(before, was, names), ways(after, panel, {})
    for at, label in new.items():
        if label != old.get(at):
            earlier = f" (before: {_label(old[at])})" if at in old else " (new way)"
            yield f"way {at.split('/', 1)[1]}: {_label(label)}{earlier}"
    yield from (f"way {at.split('/', 1)[1]} is gone, with {_label(old[at])}" for at in old if at not in new)

    def cables(vessel: Vessel, key: str | None, names: Mapping[str, str]) -> dict[tuple[str, str], str | None]:
        return {
            (called(cable.id, names), called(at, names)): cable.label_at(end)
            for at, cable, end, _ in _ends(vessel, key)
        }

    marks, now = cables(before, was, names), cables(after, panel, {})
    for (cable, at), mark in now.items():
        if (cable, at) not in marks:
            yield f"cable {cable} at {at}: {_label(mark)} (new here)"
        elif mark != marks[cable, at]:
            yield f"cable {cable} at {at}: {_label(mark)} (before: {_label(marks[cable, at])})"


def _label(said: str | None) -> str:
    if said is None:
        return "no label recorded"
    return "bare, without a label" if said == NO_LABEL else f"label “{said}”"


def _colours(before: Boat, after: Boat, was: str | None, panel: str, names: Mapping[str, str]) -> Differs:
    """Colours that stand for a pole in a panel and did not: whoever reads colours is warned."""

    def worn(boat: Boat, key: str | None, names: Mapping[str, str]) -> dict[tuple[str, str], dict[str, None]]:
        found: dict[tuple[str, str], dict[str, None]] = {}
        network = boat.network
        for run in network.cores if key is not None else ():
            if run.link < 0:
                continue
            link = network.links[run.link]
            for terminal in (network.terminals[link.a], network.terminals[link.b]):
                if _head(terminal.place) == key and not terminal.loose:
                    colour = run.colour or run.name
                    found.setdefault((colour, terminal.pole), {})[called(run.cable.id, names)] = None
        return found

    old, new = worn(before, was, names), worn(after, panel, {})

    def said(key: tuple[str, str], cables: Iterable[str]) -> str:
        listed = list(cables)
        more = f" and {len(listed) - 4} more" if len(listed) > 4 else ""
        return f"{key[0]} on {key[1]} (cable{'s' if len(listed) > 1 else ''} {', '.join(listed[:4])}{more})"

    return _differs(
        "colours",
        {key: said(key, cables) for key, cables in old.items()},
        {key: said(key, cables) for key, cables in new.items()},
    )


# --- isolation ------------------------------------------------------------------------------------


def _isolation(before: Boat, after: Boat, was: str, panel: str, names: Mapping[str, str]) -> Isolation:
    old, new = _sheet(before, was), _sheet(after, panel)
    if old is None or new is None:
        return Isolation()
    parts = []
    for title, listed in _PARTS:
        if title != _CAN and not (old.declared and new.declared):
            continue
        one = {called(key, names): said for key, said in listed(before, old)}
        two = dict(listed(after, new))
        gained = tuple(two[key] for key in two if key not in one)
        lost = tuple(one[key] for key in one if key not in two)
        if gained or lost:
            parts.append(Differs(title, gained, lost))
    refused = [tuple(hazard.says for hazard in sheet.refusals) for sheet in (old, new)]
    return Isolation(refused[0], refused[1], tuple(parts))


def _sheet(boat: Boat, panel: str) -> Sheet | None:
    target = find_target(boat, panel)
    return sheet_of(boat, target) if isinstance(target, Target) else None


_Listed = Callable[[Boat, Sheet], Iterator[tuple[str, str]]]
_CAN = "can make it live"


def _supplies(boat: Boat, sheet: Sheet) -> Iterator[tuple[str, str]]:
    return ((s.id, boat.vessel.name_of(s.id)) for s in sheet.supplies if s.reaches)


def _points(boat: Boat, sheet: Sheet) -> Iterator[tuple[str, str]]:
    return ((point.id, boat.vessel.name_of(point.id)) for point in sheet.points)


def _barriers(boat: Boat, sheet: Sheet) -> Iterator[tuple[str, str]]:
    """What hands go to besides the points: second barriers, controls, start batteries."""
    points = {point.id for point in sheet.points}
    return ((step.at, boat.vessel.name_of(step.at)) for step in sheet.steps if step.at and step.at not in points)


def _staying(boat: Boat, sheet: Sheet) -> Iterator[tuple[str, str]]:
    for each in sheet.stays_live:
        yield each.place, f"{each.place} ({', '.join(each.poles)})"
        for way in each.ways:
            yield f"{each.place}/{way}", boat.vessel.name_of(f"{each.place}/{way}")


_PARTS: tuple[tuple[str, _Listed], ...] = (
    (_CAN, _supplies),
    ("points to open", _points),
    ("also to switch off, open or lock", _barriers),
    ("stays live beside it", _staying),
)
