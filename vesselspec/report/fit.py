"""What can run at once on a source: one content for terminal, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.fit import UNRANKED, Excess, Fit, Margin
from vesselspec.physics.loads.offer import Counted, Offer
from vesselspec.report.amps import amps, excess_told, field, margin_told, rated, told
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table
from vesselspec.report.loads import cautions, element_json, header
from vesselspec.report.survey import Subject
from vesselspec.standards import figure

_MOST_MARGINS = 6
OBJECTIVE = (
    "Essential loads always run. Then class by class in the crew's order of importance, as many loads as fit: "
    "none is given up for any number of a lower class. Of equal sets, the one with the earlier id."
)
RULE = "Each load counts at its full current; receptacles at the share that the condition gives."
CONDUCTORS = "A conductor on the way may carry its ampacity, at the least that what is not recorded leaves open."
_UNKNOWN = {"insulation": "insulation", "space": "route", "bundle": "bundle"}
BY_DEMAND = "Each load counts at the condition's demand factor, so that less fits if they all draw in full."


def continuous_rule() -> str:
    """The rule on loads of three hours or more, with its source."""
    found = figure("nec_continuous")
    return (
        f"loads of {found.data['hours']} h or more may take {found.data['breaker_percent']} % of a breaker, a fuse or "
        f"a shore supply ({found.source}; a code for buildings, no figure for boats was read)."
    )


def _lines(counted: Counted) -> str:
    return ", ".join(f"{pole} {amps(each)} A" for pole, each in counted.lines.items()) or "nothing"


def _limit(offer: Offer) -> str:
    own = "its rating is not recorded" if offer.rating_a is None else f"rated {rated(offer.rating_a)} A"
    return f"{rated(offer.limit_a)} A on each line ({own})" if offer.limit_a is not None else own


def gaps(vessel: Vessel, offer: Offer) -> list[str]:
    """What is not judged, or not offered, in lines of words."""
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
    if offer.no_duty:
        names = ", ".join(vessel.name_of(key) for key in offer.no_duty)
        said.append(f"duty not recorded, so counted in full but not as continuous: {names}")
    return said + _conductor_gaps(offer)


def _conductor_gaps(offer: Offer) -> list[str]:
    """Conductors that limit nothing, and those that are held to the least that may be."""
    said = []
    names = ", ".join(dict.fromkeys(each.item for each in offer.no_ampacity))
    if names:
        said.append(f"ampacity not known, so not considered: {names}; record size, insulation and route")
    least: dict[str, dict[str, None]] = {}
    for element, each in offer.ampacities.items():
        if each.unknown:
            what = " and ".join(_UNKNOWN.get(name, name) for name in each.unknown)
            least.setdefault(what, {})[element.item] = None
    said += [f"counted at the least ampacity, as {what} is not recorded: {', '.join(c)}" for what, c in least.items()]
    memory = dict.fromkeys(element.item for element, each in offer.ampacities.items() if each.from_memory)
    if memory:
        said.append(f"ampacity by tables from memory: {', '.join(memory)}")
    return said


def _gap_blocks(vessel: Vessel, offer: Offer) -> list[Block]:
    said = gaps(vessel, offer)
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
    if any(offer.share is not None for offer, _ in results):
        blocks.append(Paragraph(f"Continuous: {continuous_rule()}", "note"))
    blocks.append(Paragraph(CONDUCTORS, "note"))
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
    partners = partners_of(offer)
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
    return blocks + _gap_blocks(vessel, offer)


def partners_of(offer: Offer) -> dict[str, tuple[str, ...]]:
    """The loads that each load takes turns with."""
    found: dict[str, set[str]] = {each.load: set() for each in offer.candidates}
    for each in offer.candidates:
        for other in each.alternates_with:
            if other in found:
                found[each.load].add(other)
                found[other].add(each.load)
    return {key: tuple(sorted(others)) for key, others in found.items()}


# --- JSON ---------------------------------------------------------------------------------------


def counted_json(counted: Counted) -> dict[str, Any]:
    """A load as it is counted, for machines."""
    return {
        "load": counted.load,
        "factor": counted.factor,
        "lines": {pole: round(value, 3) for pole, value in counted.lines.items()},
        "in_condition": counted.in_condition,
    }


def _excess_json(each: Excess) -> dict[str, Any]:
    return {**element_json(each.element), "limit_a": each.limit_a, "would_be_a": round(each.would_be_a, 2)}


def margin_json(each: Margin) -> dict[str, Any]:
    """What is left of a limit, for machines."""
    return {
        **element_json(each.element),
        "limit_a": each.limit_a,
        "amps": round(each.amps, 2),
        "left_a": round(each.left_a, 2),
    }


def offer_json(offer: Offer) -> dict[str, Any]:
    """What an offer holds beside its loads, for machines."""
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
        "continuous_share": offer.share,
        "duty_not_recorded": list(offer.no_duty),
        "ampacity_not_known": [element_json(element) for element in offer.no_ampacity],
        "ampacity_at_least": [
            {**element_json(element), "ampacity_a": round(each.low_a, 3), "unknown": list(each.unknown)}
            for element, each in offer.ampacities.items()
            if each.unknown
        ],
    }


def fit_json(subject: Subject, results: Sequence[tuple[Offer, Fit]], *, by_demand: bool) -> dict[str, Any]:
    """What can run, for machines: schema/loads.schema.json."""
    return {
        **header("fit", subject),
        "counted_by": "demand" if by_demand else "full",
        "results": [
            {
                **offer_json(offer),
                "fits": fit.fits,
                "runs": [counted_json(offer.counted[key]) for key in fit.runs],
                "left_off": [
                    {**counted_json(offer.counted[each.load]), "because": [_excess_json(e) for e in each.because]}
                    for each in fit.left_off
                ],
                "excess": [_excess_json(each) for each in fit.excess],
                "margins": [margin_json(each) for each in fit.margins],
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
