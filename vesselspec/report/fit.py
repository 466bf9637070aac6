"""What can run at once on a source, and its load card: one content for terminal, Markdown, HTML and JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.card import Card
from vesselspec.physics.loads.fit import UNRANKED, Excess, Fit, Margin, Together
from vesselspec.physics.loads.offer import Counted, Offer
from vesselspec.report.amps import amps, excess_told, field, left, margin_told, rated, short_name, told, too_much
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table
from vesselspec.report.loads import cautions, element_json, header
from vesselspec.report.survey import Subject
from vesselspec.report.terminal import CAUTIONS

_MOST_MARGINS = 6
_MOST_SETS = 4
_MOST_NAMES = 3
OBJECTIVE = (
    "Essential loads always run. Then class by class in the crew's order of importance, as many loads as fit: "
    "none is given up for any number of a lower class. Of equal sets, the one with the earlier id."
)
RULE = "Each load counts at its full current; receptacles at the share that the condition gives."
BY_DEMAND = "Each load counts at the condition's demand factor, so that less fits if they all draw in full."


@dataclass(frozen=True)
class Dated:
    """The state of the record that a page was made from: its revision and that revision's own date."""

    revision: str
    date: str


def _lines(counted: Counted) -> str:
    return ", ".join(f"{pole} {amps(each)} A" for pole, each in counted.lines.items()) or "nothing"


def _limit(offer: Offer) -> str:
    own = "its rating is not recorded" if offer.rating_a is None else f"rated {rated(offer.rating_a)} A"
    return f"{rated(offer.limit_a)} A on each line ({own})" if offer.limit_a is not None else own


def _gaps(vessel: Vessel, offer: Offer) -> list[Block]:
    said = [f"{vessel.name_of(key)}: {field(what)} is not recorded; it is not counted" for key, what in offer.unjudged]
    said += [
        f"{item}: {field(what)} is not recorded; it draws at least what is counted" for item, what in offer.at_least
    ]
    said += [
        f"{told(vessel, element)}: its rating is not recorded; it limits nothing here" for element in offer.unrated
    ]
    said += [
        f"{load}: its way divides in parallel at {place}; ratings there are not judged"
        for load, place in offer.parallel
    ]
    said += [f"{vessel.name_of(key)}: only from {' or '.join(supplies)}" for key, supplies in offer.barred]
    return [Heading("Not judged, or not offered", 3), Bullets(tuple(said))] if said else []


def _class(rank: tuple[int, bool]) -> str:
    said = "no importance given" if rank[0] == UNRANKED else f"importance {rank[0]}"
    return f"{said}, may wait" if rank[1] else said


def fit_blocks(
    subject: Subject, vessel: Vessel, results: Sequence[tuple[Offer, Fit]], *, by_demand: bool
) -> list[Block]:
    """The page of one source, condition by condition."""
    source = results[0][0].source
    blocks: list[Block] = [
        Heading(f"What can run on {vessel.name_of(source)}: {subject.vessel}, {subject.state}", 1),
        *cautions(),
        Paragraph(BY_DEMAND if by_demand else RULE, "note"),
        Paragraph(OBJECTIVE, "note"),
    ]
    for offer, fit in results:
        blocks += _fit_blocks(vessel, offer, fit)
    return blocks


def _fit_blocks(vessel: Vessel, offer: Offer, fit: Fit) -> list[Block]:
    blocks: list[Block] = [
        Heading(f"{offer.condition}: limit {_limit(offer)}"),
    ]
    if not fit.fits:
        blocks += [
            Paragraph("DOES NOT FIT: the essential loads alone are too much. Nothing was chosen for you.", "strong"),
            Bullets(tuple(excess_told(vessel, each) for each in fit.excess)),
        ]
    elif not fit.left_off:
        lacking = offer.unjudged or offer.at_least
        said = "EVERYTHING FITS: all of it can run at once."
        if lacking:
            said = "What is counted fits, but not everything is recorded: see below. It is no promise."
        blocks.append(Paragraph(said, "strong"))
    else:
        blocks.append(Paragraph(f"{len(fit.runs)} loads run together, {len(fit.left_off)} have to stay off.", "strong"))
    essential = {each.load for each in offer.candidates if each.essential}
    partners = _partners(offer)
    rows = [
        (
            vessel.name_of(key),
            _lines(offer.counted[key]),
            ", ".join(
                (
                    *(("essential",) if key in essential else ()),
                    *((f"counted at {offer.counted[key].factor:g}",) if offer.counted[key].factor != 1 else ()),
                    *((f"takes turns with {', '.join(partners[key])}",) if partners.get(key) else ()),
                )
            ),
        )
        for key in fit.runs
    ]
    if rows:
        heading = "Runs" if fit.fits else "The essential loads"
        blocks += [Heading(heading, 3), Table(("load", "draws from the source", "remark"), tuple(rows))]
    if fit.left_off:
        off = [
            (
                vessel.name_of(each.load),
                _lines(offer.counted[each.load]),
                excess_told(vessel, each.because[0]) if each.because else "left off with the rest",
            )
            for each in fit.left_off
        ]
        blocks += [Heading("Stays off, and which limit it would exceed", 3)]
        blocks.append(Table(("load", "would draw", "because"), tuple(off)))
    if fit.fits and fit.margins:
        shown = [each for each in fit.margins if each.element.kind == "source"]
        shown += [each for each in fit.margins if each.element.kind != "source"][: _MOST_MARGINS - len(shown)]
        blocks += [Heading("Margin left", 3), Bullets(tuple(margin_told(vessel, each) for each in shown))]
    classes = [f"{_class(rank)}: {running} of {count} run" for rank, running, count in fit.classes]
    if len(classes) > 1:
        blocks += [Heading("By importance", 3), Bullets(tuple(classes))]
    return blocks + _gaps(vessel, offer)


def _partners(offer: Offer) -> dict[str, tuple[str, ...]]:
    found: dict[str, set[str]] = {each.load: set() for each in offer.candidates}
    for each in offer.candidates:
        for other in each.alternates_with:
            if other in found:
                found[each.load].add(other)
                found[other].add(each.load)
    return {key: tuple(sorted(others)) for key, others in found.items()}


# --- the load card ------------------------------------------------------------------------------


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
    blocks += _beside(vessel, card)
    if card.large:
        blocks += _going_together(vessel, card, numbers)
    else:
        blocks.append(Paragraph("No load is large beside this limit."))
    if card.aside:
        names = ", ".join(short_name(vessel, each.load) for each in card.aside)
        blocks.append(Paragraph(f"Not counted here, add them yourself: {names}.", "note"))
    return [*blocks, *_gaps(vessel, offer)]


def _remark(vessel: Vessel, offer: Offer, each: Counted) -> str:
    load = vessel.loads.get(each.load)
    partners = _partners(offer).get(each.load, ())
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
    said = "For any other set, add up the table; a panel's own breaker may allow less."
    return f"Free for large loads: {', '.join(free)}. {said}"


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


def _counted_json(counted: Counted) -> dict[str, Any]:
    return {
        "load": counted.load,
        "factor": counted.factor,
        "lines": {pole: round(value, 3) for pole, value in counted.lines.items()},
        "in_condition": counted.in_condition,
    }


def _excess_json(each: Excess) -> dict[str, Any]:
    return {**element_json(each.element), "limit_a": each.limit_a, "would_be_a": round(each.would_be_a, 2)}


def _margin_json(each: Margin) -> dict[str, Any]:
    return {
        **element_json(each.element),
        "limit_a": each.limit_a,
        "amps": round(each.amps, 2),
        "left_a": round(each.left_a, 2),
    }


def _together_json(each: Together) -> dict[str, Any]:
    return {
        "loads": list(each.loads),
        "fits": each.fits,
        "tightest": None if each.tightest is None else _margin_json(each.tightest),
    }


def _offer_json(offer: Offer) -> dict[str, Any]:
    return {
        "source": offer.source,
        "condition": offer.condition,
        "rating_a": offer.rating_a,
        "limit_a": offer.limit_a,
        "not_counted": [{"item": item, "missing": field(what)} for item, what in offer.unjudged],
        "at_least": [{"item": item, "missing": field(what)} for item, what in offer.at_least],
        "barred": [{"load": key, "only_from": list(supplies)} for key, supplies in offer.barred],
        "unrated": [element_json(element) for element in offer.unrated],
        "parallel": [{"load": load, "at": place} for load, place in offer.parallel],
    }


def fit_json(subject: Subject, results: Sequence[tuple[Offer, Fit]], *, by_demand: bool) -> dict[str, Any]:
    """What can run, for machines: schema/loads.schema.json."""
    return {
        **header("fit", subject),
        "counted_by": "demand" if by_demand else "full",
        "results": [
            {
                **_offer_json(offer),
                "fits": fit.fits,
                "runs": [_counted_json(offer.counted[key]) for key in fit.runs],
                "left_off": [
                    {**_counted_json(offer.counted[each.load]), "because": [_excess_json(e) for e in each.because]}
                    for each in fit.left_off
                ],
                "excess": [_excess_json(each) for each in fit.excess],
                "margins": [_margin_json(each) for each in fit.margins],
                "classes": [
                    {
                        "importance": None if rank[0] == UNRANKED else rank[0],
                        "may_wait": rank[1],
                        "running": running,
                        "of": count,
                    }
                    for rank, running, count in fit.classes
                ],
            }
            for offer, fit in results
        ],
    }


def card_json(subject: Subject, card: Card, dated: Dated) -> dict[str, Any]:
    """The load card, for machines: schema/loads.schema.json."""
    return {
        **header("card", subject),
        "revision": dated.revision,
        "date": dated.date,
        **_offer_json(card.offer),
        "large": [_counted_json(each) for each in card.large],
        "beside": [_counted_json(each) for each in card.beside],
        "aside": [_counted_json(each) for each in card.aside],
        "base": None if card.base is None else _together_json(card.base),
        "alone": [_together_json(each) for each in card.alone],
        "pairs": [_together_json(each) for each in card.pairs.values()],
        "largest": [_together_json(each) for each in card.largest],
        "failing": [_together_json(each) for each in card.failing],
    }
