"""The load card of a source, one page for the crew: one content for terminal, Markdown, HTML and JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.card import Card
from vesselspec.physics.loads.fit import Together
from vesselspec.physics.loads.offer import Counted, Offer
from vesselspec.report.amps import amps, left, rated, short_name, told, too_much
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table
from vesselspec.report.fit import continuous_rule, counted_json, gaps, margin_json, offer_json, partners_of
from vesselspec.report.loads import header
from vesselspec.report.survey import Subject
from vesselspec.report.terminal import CAUTIONS

_MOST_SETS = 3
_MOST_NAMES = 3
_MOST_GAPS = 5
_LONGEST_GAP = 160


@dataclass(frozen=True)
class Dated:
    """The state of the record that a page was made from: its revision and that revision's own date."""

    revision: str
    date: str


def _not_judged(vessel: Vessel, offer: Offer) -> list[Block]:
    """As much of it as a page has room for."""
    said = gaps(vessel, offer)
    if not said:
        return []
    more = f"and {len(said) - _MOST_GAPS} more, told by --fit" if len(said) > _MOST_GAPS else ""
    shown = [each if len(each) <= _LONGEST_GAP else each[:_LONGEST_GAP] + "…" for each in said[:_MOST_GAPS]]
    return [Paragraph("Not judged, or not offered: " + "; ".join(filter(None, (*shown, more))) + ".", "note")]


def _verdict(each: Together) -> str:
    if each.tightest is None:
        return "yes"
    return f"yes {math.floor(each.tightest.left_a + 1e-6)}" if each.fits else "NO"


def _set(vessel: Vessel, each: Together, numbers: Mapping[str, int]) -> str:
    """A set in one line: by names, and by the card's numbers where the names would not fit on it."""
    names = " + ".join(short_name(vessel, key) for key in each.loads)
    if len(each.loads) > _MOST_NAMES:
        names = "numbers " + " + ".join(str(number) for number in sorted(numbers[key] for key in each.loads))
    if each.tightest is None:
        return f"yes: {names}"
    if each.fits:
        return f"yes: {names}, {left(each.tightest.left_a)} A left on {each.tightest.element.pole}"
    over, element = too_much(-each.tightest.left_a), each.tightest.element
    where = element.pole if element.kind == "source" else told(vessel, element)
    where += ", continuous" if element.continuous else ""
    return f"NO: {names}, {over} A too much on {where}"


def _varied(sets: Sequence[Together], *, most_first: bool) -> list[Together]:
    """Sets in an order in which every load is met early; otherwise as they stand."""
    waiting, order, met = list(sets), [], set[str]()
    while waiting:
        size = 0 if most_first else 1
        new = max(waiting, key=lambda e: (-size * len(e.loads), len(set(e.loads) - met), -waiting.index(e)))
        waiting.remove(new)
        order.append(new)
        met |= set(new.loads)
        if all(set(each.loads) <= met for each in waiting):
            met = set()
    return order


def card_blocks(subject: Subject, vessel: Vessel, card: Card, dated: Dated) -> list[Block]:
    """The load card: one page for the crew."""
    offer = card.offer
    source = vessel.devices[offer.source]
    condition = vessel.conditions[offer.condition]
    poles = sorted({pole for each in offer.counted.values() for pole in each.lines})
    called = condition.name or condition.id
    others = [key for key, each in vessel.conditions.items() if key != condition.id and offer.source in each.running]
    also = f" It also runs in {', '.join(others)}: that is another card." if others else ""
    blocks: list[Block] = [
        Heading(f"Load card: {source.name or offer.source}", 1),
        Paragraph(
            f"{subject.vessel}, source {offer.source}. Record {dated.revision}, {dated.date}. "
            f"Switches as for “{called}” ({condition.id}).{also}"
        ),
        Paragraph(" ".join(CAUTIONS), "caution"),
        Paragraph(f"At most {rated(offer.limit_a)} A on each line: {', '.join(poles) or 'none used'}.", "strong"),
    ]
    numbers = {each.load: number for number, each in enumerate(card.large, 1)}
    if card.large:
        rows = tuple(
            (
                f"{numbers[each.load]}",
                short_name(vessel, each.load),
                *(amps(each.lines[pole]) if pole in each.lines else "–" for pole in poles),
                _remark(vessel, offer, each),
            )
            for each in card.large
        )
        head = ("no.", "large load", *(f"{pole}, A" for pole in poles), "remark")
        blocks += [Heading("Large loads, each at full"), Table(head, rows, right=tuple(range(2, 2 + len(poles))))]
    if offer.share is not None:
        blocks.append(Paragraph(f"Continuous: {continuous_rule()}", "note"))
    blocks += _beside(vessel, card)
    if card.large:
        blocks += _going_together(vessel, card, numbers)
    else:
        blocks.append(Paragraph("No load is large beside this limit."))
    if card.aside:
        names = ", ".join(short_name(vessel, each.load) for each in card.aside)
        blocks.append(Paragraph(f"Not counted here, add them yourself: {names}.", "note"))
    return [*blocks, *_not_judged(vessel, offer)]


def _remark(vessel: Vessel, offer: Offer, each: Counted) -> str:
    load = vessel.loads.get(each.load)
    partners = partners_of(offer).get(each.load, ())
    lacks = {item for item, _ in offer.at_least}
    words = [
        "essential" if load is not None and load.essential else "",
        "continuous" if load is not None and load.duty == "continuous" else "",
        "may wait" if load is not None and load.may_wait else "",
        "at least" if each.load in lacks else "",
        f"starts with {load.inrush_a:g} A" if load is not None and load.inrush_a else "",
        "takes turns with " + ", ".join(short_name(vessel, key) for key in partners) if partners else "",
    ]
    return ", ".join(word for word in words if word)


def _beside(vessel: Vessel, card: Card) -> list[Block]:
    if not card.beside:
        return []
    lines = ", ".join(f"{amps(each)} A on {pole}" for pole, each in sorted(card.beside_lines.items()))
    names = ", ".join(short_name(vessel, each.load) for each in card.beside)
    blocks: list[Block] = [
        Paragraph(f"Small loads and outlets, counted in every answer below: {lines}. {_free(card)}"),
        Paragraph(
            f"The small ones: {names}, each at the share that the condition gives, essential ones in full. "
            "A heater in an outlet is more.",
            "note",
        ),
    ]
    if card.base is not None and not card.base.fits:
        blocks.append(Paragraph("NO: even these alone are too much for this limit.", "strong"))
    return blocks


def _free(card: Card) -> str:
    """What is free for the large loads: the rule for a set that no list shows."""
    limit = card.offer.limit_a or 0.0
    free = [f"{left(max(limit - each, 0.0))} A on {pole}" for pole, each in sorted(card.beside_lines.items())]
    said = "For any other set, add up the table; a panel's own breaker or a cable may allow less."
    return f"Free for large loads: {', '.join(free)}{_free_continuous(card, limit)}. {said}"


def _free_continuous(card: Card, limit: float) -> str:
    """How much of it loads of three hours or more may take, where that is less."""
    offer, beside = card.offer, {each.load for each in card.beside}
    said = []
    for pole, carried in sorted(card.beside_lines.items()):
        each = [
            (candidate.load, amps)
            for candidate in offer.candidates
            for element, amps in candidate.amps.items()
            if element.continuous and element.pole == pole and offer.source in element.sources
        ]
        free = (offer.share or 1.0) * limit - sum(amps for load, amps in each if load in beside)
        if each and free < limit - carried:
            said.append(f"{left(max(free, 0.0))} A on {pole}")
    return f"; of that for continuous ones {', '.join(said)}" if said else ""


def _going_together(vessel: Vessel, card: Card, numbers: dict[str, int]) -> list[Block]:
    keys = [each.load for each in card.large]
    alone = {each.loads[0]: each for each in card.alone}

    def cell(one: str, other: str) -> str:
        if one == other:
            return _verdict(alone[one])
        return _verdict(card.pairs[(one, other) if (one, other) in card.pairs else (other, one)])

    rows = tuple((f"{numbers[one]} {short_name(vessel, one)}", *(cell(one, other) for other in keys)) for one in keys)
    blocks: list[Block] = [
        Heading("Two at once"),
        Paragraph(
            "Row and column: may both run? Beside yes: whole amperes that are then left on the tighter line. "
            "Where a number meets itself: that load alone.",
            "note",
        ),
        Table(("", *(str(numbers[key]) for key in keys)), rows, grid=True),
    ]
    most = [each for each in card.largest if len(each.loads) > 2]
    bad = [each for each in card.failing if len(each.loads) > 2]
    for title, sets in (
        ("Three or more at once: these fit, and no other large load beside them", most),
        ("Three or more at once: NO, although every smaller part of the set fits", bad),
    ):
        if sets:
            items = [_set(vessel, each, numbers) for each in _varied(sets, most_first=sets is most)[:_MOST_SETS]]
            if len(sets) > _MOST_SETS:
                items.append(f"and {len(sets) - _MOST_SETS} more sets")
            blocks += [Heading(title, 3), Bullets(tuple(items), small=True)]
    return blocks


# --- JSON ---------------------------------------------------------------------------------------


def _together_json(each: Together) -> dict[str, Any]:
    return {
        "loads": list(each.loads),
        "fits": each.fits,
        "tightest": None if each.tightest is None else margin_json(each.tightest),
    }


def card_json(subject: Subject, card: Card, dated: Dated) -> dict[str, Any]:
    """The load card, for machines: schema/loads.schema.json."""
    return {
        **header("card", subject),
        "revision": dated.revision,
        "date": dated.date,
        **offer_json(card.offer),
        "large": [counted_json(each) for each in card.large],
        "beside": [counted_json(each) for each in card.beside],
        "aside": [counted_json(each) for each in card.aside],
        "base": None if card.base is None else _together_json(card.base),
        "alone": [_together_json(each) for each in card.alone],
        "pairs": [_together_json(each) for each in card.pairs.values()],
        "largest": [_together_json(each) for each in card.largest],
        "failing": [_together_json(each) for each in card.failing],
    }
