"""The book: every page by its name, made from a boat and what was gathered for it. Nothing here reads or writes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from markupsafe import Markup

from vesselspec.book import glossary
from vesselspec.book.contents import Book, Drawing
from vesselspec.book.diagram import Items, inline
from vesselspec.book.facts import facts_of, known, said_by, space_name, system_words
from vesselspec.book.live import table_of
from vesselspec.book.loading import card_pages, condition_pages, energy_page
from vesselspec.book.look import CONTENTS, NAMES, Look
from vesselspec.book.names import address_of, safe
from vesselspec.book.parts import bar_svg, findings_counted, photo_file, photos_of, rating_of, visits_at
from vesselspec.book.schedules import cable_rows, item_rows, sections_of
from vesselspec.changes.words import tell
from vesselspec.draw.schematic import Schematic, panel_schematics
from vesselspec.draw.supply import feeders, is_converter, is_source
from vesselspec.isolation import Target, find_target, sheet_of
from vesselspec.model.devices import Device
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
        self.items = Items.of(book.vessel, book.boat.network, lambda item: address_of(book.vessel, item))

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
        yield look.page("conditions.html", "conditions", NAMES["conditions"], pages=pages, bar_svg=bar_svg)
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
                yield photo_file(photo), photo.content

    # --- one method a page ----------------------------------------------------------------------------

    def _glance(self) -> tuple[str, bytes]:
        book, vessel = self.book, self.book.vessel
        counting = book.survey.counting
        facts = list(said_by(vessel.about))
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
                (key, device.title, rating_of(device), space_name(vessel, device.space))
                for key, device in vessel.devices.items()
                if is_source(device) or is_converter(device)
            ],
            systems=[self._system_words(key) for key in vessel.systems],
            described=[each for each in CONTENTS if each[0] in self.look.kinds and each[0] != "glance"],
            panels=[(key, panel.name or key, space_name(vessel, panel.space)) for key, panel in vessel.panels.items()],
        )

    def _system_words(self, key: str) -> str:
        system = self.book.vessel.systems[key]
        said = ", ".join(value for title, value in facts_of(self.book.vessel, system) if title != "Kind")
        return f"{system.name or key}: {system_words(system.kind)}, {said}"

    def _new(self) -> tuple[str, bytes]:
        since = self.book.since
        assert since is not None  # noqa: S101 - as asked of whoever calls
        told = [(tell(each, since.before, self.book.vessel), each.id) for each in since.changes]
        return self.look.page("new.html", "new", NAMES["new"], since=since, state=self.book.state, told=told)

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
        fed = [feeder.cable for feeder in feeders(vessel, book.boat.network)]
        items = [*vessel.devices, *vessel.sections, *fed]
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
        where = space_name(self.book.vessel, item.space) or "not recorded"
        facts = (("Kind", item.title), ("Where", where), *facts_of(self.book.vessel, item))
        return {
            "id": item.id,
            "facts": (*facts, ("Known", known(item.evidence))),
            "note": item.note or "",
            "photos": photos_of(self.book, item, self.book.vessel.name_of(item.id)),
            "mark": self.book.mark(collection, item.id),
        }

    def _panels(self, declared: Mapping[str, bool]) -> tuple[str, bytes]:
        book, vessel = self.book, self.book.vessel
        panels = [
            {
                "id": key,
                "space": space_name(vessel, panel.space),
                "sections": len(panel.sections),
                "ways": sum(len(section.ways) for section in panel.sections),
                "findings": findings_counted(book, key),
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
        rows = [row for each in sections for row in each.rows]
        items = {each.place for each in sections} | {row.place for row in rows} | {row.cable for row in rows}
        items |= {row.far_place for row in rows} | {row.far_place.split("/", 1)[0] for row in rows}
        visits = visits_at(book, key)
        where = where_of(vessel, key)
        own = {path for _, path in book.entries_of[key]}
        photos = photos_of(book, panel, vessel.name_of(key))
        for section in panel.sections:
            photos += photos_of(book, section, f"{key}/{section.id}")
            for way in section.ways:
                photos += photos_of(book, way, vessel.name_of(f"{key}/{section.id}/{way.id}"))
        facts = [("Where", space_name(vessel, panel.space) or "not recorded"), *facts_of(vessel, panel)]
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
            drawings=[Drawing(each.title, each.svg) for each in self._schematics(key)],
            figure=self._figure(f"panel-{safe(key)}"),
            photos=photos,
            unknowns=[each for each in book.unknowns if each.where == where or each.item in own],
            visits=visits[:_MOST_VISITS],
            older=f"{len(visits) - _MOST_VISITS} earlier visits are in the history."
            if len(visits) > _MOST_VISITS
            else "",
            history_note=book.history_note,
        )

    def _schematics(self, key: str) -> tuple[Schematic, ...]:
        """A panel conductor by conductor; what is drawn leads to its entry in the book."""
        vessel, root = self.book.vessel, "../"

        def leads(place: str) -> str:
            address = address_of(vessel, place)
            return f"{root}{address}" if address else ""

        return panel_schematics(vessel, self.book.boat.network, key, footer=self.book.state, leads=leads)

    def _cables(self) -> tuple[str, bytes]:
        book = self.book
        photos = [each for cable in book.vessel.cables.values() for each in photos_of(book, cable, cable.id)]
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
        photos = [each for item in held for each in photos_of(book, item, vessel.name_of(item.id))]
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
            return inline(drawing.svg, f"{prefix}-{number}", drawing.title, self.items)

        return figure
