"""The book: every page by its name, made from a boat and what was gathered for it. Nothing here reads or writes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from markupsafe import Markup

from vesselspec.book import glossary
from vesselspec.book.contents import Book, Drawing, Visit
from vesselspec.book.diagram import inline, names_of_nodes
from vesselspec.book.live import table_of
from vesselspec.book.loading import Bar, card_pages, condition_pages, energy_page
from vesselspec.book.look import CONTENTS, NAMES, Look
from vesselspec.book.names import PHOTOS, safe
from vesselspec.book.photos import Photo
from vesselspec.book.schedules import cable_rows, facts_of, item_rows, known, sections_of, system_words
from vesselspec.changes.words import tell
from vesselspec.draw.supply import is_converter, is_source
from vesselspec.isolation import Target, find_target, sheet_of
from vesselspec.model.devices import Device
from vesselspec.model.items import Item
from vesselspec.report.isolation import CAUTIONS as ISOLATION_CAUTIONS
from vesselspec.report.isolation import Heading
from vesselspec.report.isolation_page import sheet_content
from vesselspec.report.survey import coverage_line
from vesselspec.report.unknowns import NONE, counted, kinds_of, waits
from vesselspec.rules.book import failed
from vesselspec.rules.findings import DANGER, SIGNAL_WORDS, WARNING
from vesselspec.rules.unknowns import stops_of, where_of

#: Visits that a panel's own page tells. Ours; the history has all.
_MOST_VISITS = 8


def pages_of(book: Book) -> dict[str, bytes]:
    """Every file of the book: its name → its content."""
    return dict(_Maker(book).files())


class _Maker:
    def __init__(self, book: Book) -> None:
        self.book, self.look = book, Look.of(book)
        self.nodes = names_of_nodes(book.vessel)

    def files(self) -> Iterator[tuple[str, bytes]]:
        look, book = self.look, self.book
        sheets = dict(self._isolation())
        yield self._glance()
        if book.since is not None:
            yield self._new()
        yield self._sources()
        yield self._panels({key: declared for key, (declared, _) in sheets.items()})
        for key, (declared, page) in sheets.items():
            yield page
            yield self._panel(key, declared=declared)
        yield self._cables()
        yield self._equipment()
        pages = condition_pages(book)
        yield look.page("conditions.html", "conditions", NAMES["conditions"], pages=pages, bar_svg=_bar_svg)
        yield from self._cards()
        energy = energy_page(book)
        plots = [Drawing(title, svg) for title, svg in energy.plots]
        blocks = [(type(block).__name__, block) for block in energy.blocks]
        yield look.page(
            "energy.html", "energy", NAMES["energy"], drawings=plots, blocks=blocks, figure=self._figure("day")
        )
        yield self._deficiencies()
        unknowns = book.unknowns
        yield look.page(
            "unknowns.html",
            "unknowns",
            NAMES["unknowns"],
            counted=counted(unknowns) if unknowns else NONE,
            stops=stops_of(unknowns),
            kinds=kinds_of(unknowns),
            waits=waits,
        )
        yield look.page("history.html", "history", NAMES["history"], visits=book.visits, history_note=book.history_note)
        yield look.page(
            "glossary.html",
            "glossary",
            NAMES["glossary"],
            words=glossary.WORDS,
            signal_words=glossary.signal_words(),
            source=glossary.signal_word_source(),
        )
        for photo in book.photos.values():
            if not photo.problem:
                yield _photo_file(photo), photo.content

    # --- one method a page ----------------------------------------------------------------------------

    def _glance(self) -> tuple[str, bytes]:
        book, vessel = self.book, self.book.vessel
        counting = book.survey.counting
        facts = [(title, value) for title, value in _about(vessel.about) if title != "Note"]
        life = sum(each.guards_life for each in book.unknowns)
        since = ""
        if book.since is not None:
            since = (
                f"Your copy is of {book.since.state}. Since then {len(book.since.changes)} entries were changed; "
                f"{len(book.since.new)} findings are new or graver and {len(book.since.cleared)} are cleared."
            )
        return self.look.page(
            "glance.html",
            "glance",
            f"{vessel.about.name}: the boat at a glance",
            note=vessel.about.note or "",
            facts=facts,
            counts=list(book.survey.counts().items()),
            accepted=len(book.survey.accepted),
            grave=[each for each in counting if each.signal_word in (DANGER, WARNING)],
            unknown_words=f"{len(book.unknowns)} things are not recorded; {life} of them hold back a rule that guards "
            "life.",
            since=since,
            sources=[
                (key, device.title, _rating(device), _space(book, device.space))
                for key, device in vessel.devices.items()
                if is_source(device) or is_converter(device)
            ],
            systems=[self._system_words(key) for key in vessel.systems],
            described=[each for each in CONTENTS if each[0] in self.look.kinds and each[0] != "glance"],
            panels=[(key, panel.name or key, _space(book, panel.space)) for key, panel in vessel.panels.items()],
        )

    def _system_words(self, key: str) -> str:
        system = self.book.vessel.systems[key]
        said = ", ".join(value for title, value in facts_of(self.book.vessel, system) if title != "Kind")
        return f"{system.name or key}: {system_words(system.kind)}, {said}"

    def _new(self) -> tuple[str, bytes]:
        since = self.book.since
        assert since is not None  # noqa: S101
        told = [(tell(each, since.before, self.book.vessel), each.id) for each in since.changes]
        return self.look.page("new.html", "new", NAMES["new"], since=since, told=told)

    def _sources(self) -> tuple[str, bytes]:
        book, vessel = self.book, self.book.vessel
        groups: list[tuple[str, list[dict[str, Any]]]] = [("Sources", []), ("Converters", [])]
        for device in vessel.devices.values():
            if is_source(device) or is_converter(device):
                groups[is_converter(device)][1].append(self._entry("devices", device))
        systems = [
            (f"{each.name} ({key})" if each.name else key, facts_of(vessel, each), each.note or "")
            for key, each in vessel.systems.items()
        ]
        items = [*vessel.devices, *vessel.sections]
        return self.look.page(
            "sources.html",
            "sources",
            NAMES["sources"],
            live=table_of(book.lives, items),
            systems=systems,
            drawings=book.overview,
            figure=self._figure("overview"),
            groups=groups,
        )

    def _entry(self, collection: str, item: Device) -> dict[str, Any]:
        where = _space(self.book, item.space) or "not recorded"
        facts = (("Kind", item.title), ("Where", where), *facts_of(self.book.vessel, item))
        return {
            "id": item.id,
            "facts": (*facts, ("Known", known(item.evidence))),
            "note": item.note or "",
            "photos": self._photos(item, self.book.vessel.name_of(item.id)),
            "mark": self.book.mark(collection, item.id),
        }

    def _panels(self, declared: Mapping[str, bool]) -> tuple[str, bytes]:
        book = self.book
        panels = [
            {
                "id": key,
                "space": _space(book, panel.space),
                "sections": len(panel.sections),
                "ways": sum(len(section.ways) for section in panel.sections),
                "findings": _counted(book, key),
                "isolation": "isolation sheet" if declared[key] else "cannot be declared dead: why",
                "mark": book.mark("panels", key),
            }
            for key, panel in book.vessel.panels.items()
        ]
        return self.look.page("panels.html", "panels", NAMES["panels"], panels=panels)

    def _isolation(self) -> Iterator[tuple[str, tuple[bool, tuple[str, bytes]]]]:
        """For each panel whether it can be declared dead, and its sheet."""
        book = self.book
        for key in book.vessel.panels:
            target = find_target(book.boat, key)
            assert isinstance(target, Target), key  # noqa: S101 - every panel is a place
            sheet = sheet_of(book.boat, target, day=book.day)
            heading = Heading(book.vessel, book.state, book.day.isoformat())
            page = self.look.page(
                "isolation_book.html",
                "isolation",
                f"Isolation sheet: {heading.place(sheet)}",
                id=key,
                cautions=ISOLATION_CAUTIONS,
                panel=key,
                **sheet_content(heading, sheet),
            )
            yield key, (sheet.declared, page)

    def _panel(self, key: str, *, declared: bool) -> tuple[str, bytes]:
        book, vessel = self.book, self.book.vessel
        panel = vessel.panels[key]
        sections = sections_of(book, key)
        items = [*(row.place for each in sections for row in each.rows), *(each.place for each in sections)]
        visits = _visits(book, key)
        where = where_of(vessel, key)
        own = {path for _, path in book.entries_of[key]}
        photos = self._photos(panel, vessel.name_of(key))
        for section in panel.sections:
            photos += self._photos(section, f"{key}/{section.id}")
            for way in section.ways:
                photos += self._photos(way, vessel.name_of(f"{key}/{section.id}/{way.id}"))
        facts = [("Where", _space(book, panel.space) or "not recorded"), *facts_of(vessel, panel)]
        return self.look.page(
            "panel.html",
            "panel",
            f"{panel.name or key}" + (f" ({key})" if panel.name else ""),
            id=key,
            live=table_of(book.lives, items),
            panel=key,
            isolation_words="Isolation sheet: how this panel is made dead"
            if declared
            else "This panel cannot be declared dead by the record: why, and what to check",
            facts=[*facts, ("Known", known(panel.evidence))],
            note=panel.note or "",
            findings=[each for each in book.findings_of[key] if not each.accepted],
            sections=sections,
            drawings=book.panels.get(key, ()),
            figure=self._figure(f"panel-{safe(key)}"),
            photos=photos,
            unknowns=[each for each in book.unknowns if each.where == where or each.item in own],
            visits=visits[:_MOST_VISITS],
            older=f"{len(visits) - _MOST_VISITS} earlier visits are in the history."
            if len(visits) > _MOST_VISITS
            else "",
            history_note=book.history_note,
        )

    def _cables(self) -> tuple[str, bytes]:
        book = self.book
        photos = [each for cable in book.vessel.cables.values() for each in self._photos(cable, cable.id)]
        return self.look.page(
            "cables.html",
            "cables",
            NAMES["cables"],
            live=table_of(book.lives, book.vessel.cables),
            rows=cable_rows(book),
            photos=photos,
        )

    def _equipment(self) -> tuple[str, bytes]:
        book, vessel = self.book, self.book.vessel
        held = [*vessel.devices.values(), *vessel.loads.values()]
        photos = [each for item in held for each in self._photos(item, vessel.name_of(item.id))]
        return self.look.page(
            "equipment.html",
            "equipment",
            NAMES["equipment"],
            live=table_of(book.lives, [item.id for item in held]),
            rows=item_rows(book),
            photos=photos,
        )

    def _cards(self) -> Iterator[tuple[str, bytes]]:
        cards = card_pages(self.book)
        yield self.look.page("cards.html", "cards", NAMES["cards"], cards=cards)
        for card in cards:
            if not card.why_not:
                blocks = [(type(block).__name__, block) for block in card.blocks]
                yield self.look.page("card.html", "card", f"Load card: {card.name}", id=card.source, blocks=blocks)

    def _deficiencies(self) -> tuple[str, bytes]:
        book = self.book
        groups = [(word, [each for each in book.survey.counting if each.signal_word == word]) for word in SIGNAL_WORDS]
        return self.look.page(
            "deficiencies.html",
            "deficiencies",
            NAMES["deficiencies"],
            coverage=coverage_line(book.survey),
            crashed=bool(list(failed(book.survey))),
            groups=[each for each in groups if each[1]],
            accepted=book.survey.accepted,
            concessions=list(book.vessel.concessions.items()),
        )

    # --- parts ----------------------------------------------------------------------------------------

    def _figure(self, prefix: str) -> Any:
        def figure(drawing: Drawing, number: int) -> Markup:
            return inline(drawing.svg, f"{prefix}-{number}", drawing.title, self.nodes)

        return figure

    def _photos(self, item: Item, caption: str) -> list[tuple[Photo, str, str]]:
        found = []
        for path in item.photos:
            photo = self.book.photos.get(path) or Photo(path, problem="it was not found")
            found.append((photo, caption, "" if photo.problem else _photo_file(photo)))
        return found


def _photo_file(photo: Photo) -> str:
    return f"{PHOTOS}/{safe(photo.path)}.jpg"


def _about(about: Any) -> Iterator[tuple[str, str]]:
    from vesselspec.model.forms import specs  # noqa: PLC0415

    for name, spec in specs(type(about)):
        value = getattr(about, name)
        if value is not None and spec.key not in ("record", "name"):
            yield spec.title, spec.form.show(value)


def _rating(device: Device) -> str:
    facts = dict(facts_of_device(device))
    return ", ".join(facts[title] for title in ("Rating", "Apparent power", "Capacity") if title in facts)


def facts_of_device(device: Device) -> Iterator[tuple[str, str]]:
    """The ratings that a device gives."""
    from vesselspec.model.forms import specs  # noqa: PLC0415

    for name, spec in specs(type(device)):
        value = getattr(device, name)
        if spec.title in ("Rating", "Apparent power", "Capacity") and value is not None:
            yield spec.title, spec.form.show(value)


def _space(book: Book, key: str | None) -> str:
    space = book.vessel.spaces.get(key or "")
    return (space.name or space.id) if space is not None else ""


def _counted(book: Book, panel: str) -> str:
    words = [each.signal_word for each in book.findings_of[panel] if not each.accepted]
    return ", ".join(f"{words.count(word)} {word}" for word in SIGNAL_WORDS if word in words) or "none"


def _visits(book: Book, panel: str) -> list[tuple[Visit, list[Any]]]:
    found = [(visit, [each for each in visit.told if panel in each.panels]) for visit in book.visits]
    return [each for each in found if each[1]]


def _bar_svg(bar: Bar) -> Markup:
    """A bar as long as the share of its rating; the rating is the line at five sixths, so that an excess shows."""
    share = min(bar.share or 0.0, 1.2)
    inside, beyond = min(share, 1.0) * 100, max(share - 1.0, 0.0) * 100
    more = f'<rect class="beyond" x="100" y="1" width="{beyond:.1f}" height="8"/>' if beyond else ""
    # Figures alone.
    return Markup(  # noqa: S704
        '<svg class="bar" viewBox="0 0 122 10" aria-hidden="true" focusable="false">'
        f'<rect class="room" x="0" y="1" width="100" height="8"/><rect class="used" x="0" y="1" width="{inside:.1f}" '
        f'height="8"/>{more}<line class="limit" x1="100" y1="0" x2="100" y2="10"/></svg>'
    )
