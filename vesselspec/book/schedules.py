"""The schedules: every way of a panel, every cable, every piece of equipment, as rows of words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.book.contents import Book
from vesselspec.book.facts import NOT_RECORDED, amps_words, facts_of, known, said_by, space_name, system_words
from vesselspec.book.live import in_words
from vesselspec.draw.rows import Line, Part, Run, parts_of
from vesselspec.draw.words import inside, label_of, size_of
from vesselspec.model.devices import Device, Load
from vesselspec.model.items import NO_LABEL, UNTRACED, Cable, Way
from vesselspec.model.vessel import Vessel
from vesselspec.units import show


@dataclass(frozen=True)
class Row:
    """A row of a panel's schedule: a way or bar with one of its cables."""

    #: What it is of: the address of the way, or the section or panel whose bars the cable lands on.
    place: str
    number: str
    label: str
    device: str
    poles: str
    rating: str
    cable: str
    size: str
    cores: str
    #: The far end in words, and its address; what lands where nobody would look for it.
    far: str
    far_place: str
    notes: tuple[str, ...]
    marked: str
    space: str
    live: str
    mark: str
    #: Whether it is the first row of its place, which carries the anchor.
    first: bool


@dataclass(frozen=True)
class SectionRows:
    """A section of a panel, or its enclosure (`section` is None), with its rows."""

    place: str
    title: str
    facts: tuple[tuple[str, str], ...]
    live: str
    mark: str
    rows: tuple[Row, ...]


def sections_of(book: Book, panel: str) -> tuple[SectionRows, ...]:
    """A panel's schedule, section by section."""
    vessel = book.vessel
    found = []
    for part in parts_of(vessel, book.boat.network, vessel.panels[panel]):
        rows = tuple(row for line in part.lines for row in _rows(book, line))
        title = "Enclosure" if part.section is None else f"Section {part.section.name or part.section.id}"
        mark = book.mark("sections", part.place)
        live = in_words(book.lives, part.place) if part.section is not None else ""
        found.append(SectionRows(part.place, title, tuple(_section_facts(vessel, part)), live, mark, rows))
    return tuple(found)


def _section_facts(vessel: Vessel, part: Part) -> Iterator[tuple[str, str]]:
    section = part.section
    if section is None:
        return
    panel = vessel.panels[part.place.split("/", 1)[0]]
    system = vessel.section_system(panel, section)
    yield "Address", part.place
    yield "System", (f"{system.id}, {system_words(system.kind)}" if system is not None else NOT_RECORDED)
    yield "Bars", " ".join(part.bars) or "not known"
    yield "Rating of the bars", amps_words(section.rating_a)
    if section.neutral_bar is not None:
        yield "Neutral bar", f"shared with section {section.neutral_bar}"
    yield from said_by(section)


def _rows(book: Book, line: Line) -> Iterator[Row]:
    if not line.runs:
        yield _row(book, line, None, first=True)
    for number, run in enumerate(line.runs):
        yield _row(book, line, run, first=number == 0)


def _row(book: Book, line: Line, run: Run | None, *, first: bool) -> Row:
    vessel, way = book.vessel, line.way
    cable = run.cable if run is not None else None
    end = "from" if run is not None and run.at_from else "to"
    far, far_place, notes = _far(vessel, line, run)
    mark = book.mark("ways", line.place) if way is not None and first else ""
    if cable is not None and not mark:
        mark = book.mark("cables", cable.id)
    space = vessel.space_of(far_place) if far_place else None
    return Row(
        place=line.place,
        number=way.id if way is not None else "bars" if "/" in line.place else "earth",
        label=label_of(way) if way is not None else "",
        device=_device(way) if way is not None else "directly on the bars",
        poles=" ".join(way.poles) if way is not None else "",
        rating=_rating(way) if way is not None else "",
        cable=cable.id if cable is not None else "",
        size=size_of(book.boat.network, cable.id) if cable is not None else "",
        cores=_cores(run) if run is not None else "",
        far=far,
        far_place=far_place,
        notes=notes,
        marked=_marked(cable, end) if cable is not None else "",
        space=(space.name or space.id) if space is not None else "",
        live=in_words(book.lives, line.place) if way is not None and way.device != "blank" else "",
        mark=mark,
        first=first and way is not None,
    )


def _device(way: Way) -> str:
    if way.device == "blank":
        return "blank"
    words = [way.device if way.duty != "main" else f"main {way.device}", way.family or "", way.curve or ""]
    if way.residual_a:
        words.append(f"opens on {show('current', way.residual_a)} of leakage")
    if way.lockable:
        words.append("can be locked open")
    return ", ".join(word for word in words if word)


def _rating(way: Way) -> str:
    return "" if way.device == "blank" else amps_words(way.rating_a)


def _cores(run: Run) -> str:
    if run.written_at:
        return ""
    return ", ".join(f"{wire.colour} {wire.poles_seen(from_end=run.at_from)}" for wire in run.cores) or NOT_RECORDED


def _far(vessel: Vessel, line: Line, run: Run | None) -> tuple[str, str, tuple[str, ...]]:
    """The far end in words, its address, and the notes on cores that land elsewhere."""
    if run is None:
        way = line.way
        if way is None or way.device == "blank":
            return "", "", ()
        return ("spare: nothing connected" if way.spare else "no cable recorded"), "", ()
    notes = tuple(odd.words for odd in run.odd)
    if run.written_at:
        return f"see {inside(vessel, run.written_at)}", run.written_at, notes
    if not run.far:
        return "far end UNTRACED", "", notes
    if run.kind == "unknown":
        return f"{run.far}, which is not in the record", "", notes
    direction = "from" if run.feeds and run.live else "to"
    return f"{direction} {vessel.name_of(run.far)}", run.far, notes


def _marked(cable: Cable, end: str) -> str:
    said = cable.label_at(end)
    return "no label" if said == NO_LABEL else said or NOT_RECORDED


@dataclass(frozen=True)
class CableRow:
    """A row of the cable schedule."""

    id: str
    name: str
    size: str
    length: str
    ends: tuple[str, str]
    cores: str
    labels: str
    route: str
    known: str
    note: str
    live: str
    mark: str


def cable_rows(book: Book) -> tuple[CableRow, ...]:
    """Every cable, in the order of the record."""
    vessel, network = book.vessel, book.boat.network
    found = []
    for key, cable in vessel.cables.items():
        one, other = _marked(cable, "from"), _marked(cable, "to")
        route = ", ".join(space_name(vessel, space) for space in cable.route)
        if cable.bundle is not None:
            bundle = vessel.bundles.get(cable.bundle)
            route += f"{'; ' if route else ''}with others in {(bundle.name if bundle else None) or cable.bundle}"
        cores = ", ".join(
            f"{run.colour or run.name} {_landing(run.core.from_)}"
            + (f" → {_landing(run.core.to)}" if run.core.from_ != run.core.to else "")
            for run in network.runs.get(key, ())
        )
        found.append(
            CableRow(
                key,
                cable.name or "",
                size_of(network, key),
                show("length", cable.length_m) if cable.length_m is not None else NOT_RECORDED,
                (cable.from_, cable.to),
                cores or NOT_RECORDED,
                one if one == other else f"{one} / {other}",
                route or NOT_RECORDED,
                known(cable.evidence),
                cable.note or "",
                in_words(book.lives, key, "in"),
                book.mark("cables", key),
            )
        )
    return tuple(found)


def _landing(said: str | None) -> str:
    return said if said is not None else UNTRACED


@dataclass(frozen=True)
class ItemRow:
    """A row of the equipment schedule."""

    id: str
    collection: str
    name: str
    kind: str
    space: str
    facts: str
    cables: tuple[str, ...]
    known: str
    note: str
    live: str
    mark: str


def item_rows(book: Book) -> tuple[ItemRow, ...]:
    """Every device and load, in the order of the record."""
    vessel, at = book.vessel, book.boat.cables_at
    cables: dict[str, dict[str, None]] = {}
    for place, keys in at.items():
        cables.setdefault(place.split("/", 1)[0], {}).update(dict.fromkeys(keys))
    held = (("devices", vessel.devices), ("loads", vessel.loads))
    return tuple(
        ItemRow(
            key,
            collection,
            item.name or "",
            _kind(item),
            space_name(vessel, item.space) if item.space is not None else NOT_RECORDED,
            "; ".join(f"{title.lower()} {value}" for title, value in facts_of(vessel, item)) or NOT_RECORDED,
            tuple(cables.get(key, ())),
            known(item.evidence),
            item.note or "",
            in_words(book.lives, key, "in"),
            book.mark(collection, key),
        )
        for collection, items in held
        for key, item in items.items()
    )


def _kind(item: Device) -> str:
    use = item.use if isinstance(item, Load) else None
    return f"{item.title.lower()}, {use.replace('-', ' ')}" if use and use != "other" else item.title.lower()
