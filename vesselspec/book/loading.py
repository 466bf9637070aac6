"""What sources carry: operating conditions with their bars, load cards, and the batteries through a day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.book.contents import Book
from vesselspec.physics.conductors.ampacity import Ampacity
from vesselspec.physics.loads.card import card_of
from vesselspec.physics.loads.energy import Day, day_of, is_whole, stretches_of, whole_days
from vesselspec.physics.loads.loading import Line, loading_of
from vesselspec.report.amps import amps, left, rated, told, too_much
from vesselspec.report.blocks import Block, Heading, Paragraph
from vesselspec.report.card import Dated, card_blocks
from vesselspec.report.energy import energy_blocks, title_of
from vesselspec.report.energy_plot import energy_svg
from vesselspec.report.survey import subject_of
from vesselspec.rules.circuits import ampacity_on

#: Sources that a crew chooses loads by.
_WITH_CARDS = ("shore", "generator", "inverter")


@dataclass(frozen=True)
class Bar:
    """What one line of a source carries, beside its rating."""

    sources: tuple[str, ...]
    pole: str
    carried: str
    rating: str
    says: str
    #: Share of the rating; None where it is not recorded.
    share: float | None
    over: bool


@dataclass(frozen=True)
class ConditionPage:
    """One operating condition."""

    id: str
    name: str
    note: str
    running: tuple[str, ...]
    positions: tuple[tuple[str, str], ...]
    demand: tuple[tuple[str, str], ...]
    bars: tuple[Bar, ...]
    over: tuple[str, ...]
    not_judged: str
    unknown: tuple[str, ...]
    mark: str


def condition_pages(book: Book) -> tuple[ConditionPage, ...]:
    """Every operating condition of the record."""
    vessel, boat = book.vessel, book.boat
    found = []
    for live in book.lives:
        condition = vessel.conditions[live.condition]
        bars: tuple[Bar, ...] = ()
        over: tuple[str, ...] = ()
        unknown: tuple[str, ...] = ()
        if not live.gaps:
            loading = loading_of(vessel, boat.network, condition, boat.states[live.condition], None)
            bars = tuple(_bar(line) for line in loading.sources)
            over = tuple(
                f"{told(vessel, line.element)}: {amps(line.amps)} A, rated {rated(line.rating_a)} A"
                for line in loading.over
            )
            unknown = tuple(f"{vessel.name_of(item)}: {missing} is not recorded" for item, missing in loading.unknown)
        found.append(
            ConditionPage(
                condition.id,
                condition.name or condition.id,
                condition.note or "",
                condition.running,
                tuple((place, str(position)) for place, position in condition.positions),
                tuple((key, demand.said) for key, demand in condition.shares),
                bars,
                over,
                live.gaps,
                unknown,
                book.mark("conditions", condition.id),
            )
        )
    return tuple(found)


def _bar(line: Line) -> Bar:
    share = line.amps / line.rating_a if line.rating_a else None
    gap = (line.rating_a or 0.0) - line.amps
    if line.rating_a is None:
        says = "rating not recorded"
    elif line.over:
        says = f"OVER by {too_much(-gap)} A"
    else:
        says = f"{'at most ' if line.unknown else ''}{left(gap)} A left"
    carried = f"{'at least ' if line.unknown else ''}{amps(line.amps)} A"
    rating = f"{rated(line.rating_a)} A" if line.rating_a is not None else "not recorded"
    return Bar(line.element.sources, line.element.pole, carried, rating, says, share, line.over)


@dataclass(frozen=True)
class CardPage:
    """A load card, or why there is none."""

    source: str
    name: str
    blocks: tuple[Block, ...]
    why_not: str = ""


def card_pages(book: Book) -> tuple[CardPage, ...]:
    """The card of every shore inlet, generator and inverter."""
    return tuple(_card(book, key) for key, device in book.vessel.devices.items() if device.supply in _WITH_CARDS)


def _card(book: Book, source: str) -> CardPage:
    vessel, boat = book.vessel, book.boat
    name = vessel.devices[source].name or source

    def carries(link: int) -> Ampacity | None:
        return ampacity_on(boat, link)

    running = [key for key, each in vessel.conditions.items() if source in each.running]
    if not running:
        return CardPage(source, name, (), "it runs in no recorded condition")
    why = "it carries no recorded load in any condition in which it runs"
    for key in running:
        if boat.states[key].gaps:
            why = f"condition {key} does not give every position"
            continue
        card = card_of(vessel, boat.network, vessel.conditions[key], boat.states[key], source, carries=carries)
        if not (card.offer.candidates or card.offer.unjudged):
            continue
        if card.offer.limit_a is None:
            return CardPage(source, name, (), "its rating is not recorded")
        blocks = card_blocks(
            subject_of(vessel, book.state), vessel, card, Dated(book.state, f"made on {book.day.isoformat()}")
        )
        return CardPage(source, name, tuple(_body(blocks)))
    return CardPage(source, name, (), why)


def _body(blocks: list[Block]) -> Iterator[Block]:
    """A page's blocks without its own title and cautions, which every page of the book has."""
    for block in blocks:
        if isinstance(block, Heading) and block.level == 1:
            continue
        if isinstance(block, Paragraph) and block.mark == "caution":
            continue
        yield block


@dataclass(frozen=True)
class EnergyPage:
    """The batteries through the days of the record."""

    plots: tuple[tuple[str, str], ...]
    blocks: tuple[Block, ...]


def energy_page(book: Book) -> EnergyPage:
    """The days of the record; without any, each condition for a whole day."""
    vessel, boat = book.vessel, book.boat
    settled = [live.condition for live in book.lives if not live.gaps]
    not_judged = []
    asked = []
    for key, plan in vessel.days.items():
        stretches = stretches_of(plan)
        gaps = [each.condition for each in stretches if each.condition not in settled]
        if gaps:
            not_judged.append((key, f"condition {', '.join(dict.fromkeys(gaps))} cannot be judged or is not recorded"))
        elif not is_whole(stretches):
            not_judged.append((key, "its parts do not make 24 hours"))
        else:
            asked.append((key, stretches))
    if not vessel.days:
        asked = [("", each) for each in whole_days(settled)]
    days: list[Day] = [
        day_of(vessel, boat.network, boat.states, stretches, start=1.0, id=key) for key, stretches in asked
    ]
    footer = f"Record: {book.state}"
    plots = tuple((title_of(vessel, day), energy_svg(vessel, day, footer=footer)) for day in days if day.banks)
    blocks = energy_blocks(subject_of(vessel, book.state), vessel, days, not_judged, start=1.0)
    return EnergyPage(plots, tuple(_body(blocks)))
