"""What sources, feeders and buses carry in each condition: one content for terminal, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from vesselspec.model.published import Published, published_of
from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.burden import Element
from vesselspec.physics.loads.demand import NO_FACTOR
from vesselspec.physics.loads.loading import Feeder, Imbalance, Line, Loading, breaker_share
from vesselspec.report.amps import amps, field, left, rated, told, too_much
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table
from vesselspec.report.loads_overview import overview_blocks
from vesselspec.report.survey import FORMAT, Subject
from vesselspec.report.terminal import CAUTIONS

_LARGEST = 4
#: Devices are listed from this share of their rating.
_NEAR = 0.8


def cautions() -> list[Block]:
    """What every page that somebody may act on carries."""
    return [Paragraph(text, "caution") for text in CAUTIONS]


def header(kind: str, subject: Subject) -> dict[str, Any]:
    """What every result for machines begins with."""
    return {
        "format": FORMAT,
        "kind": kind,
        "vessel": subject.vessel,
        "state": subject.state,
        "understood": True,
        "problems": [],
    }


def _margin(rating: float | None, carried: float, *, at_least: bool) -> tuple[str, str]:
    """What is left in A, and the share that is used."""
    if rating is None:
        return "not recorded", "?"
    gap = rating - carried
    most = "at most " if at_least and gap > 0 else ""
    said = f"{most}{left(gap)}" if gap >= -1e-9 * rating else f"OVER by {too_much(-gap)}"
    share = f"{carried / rating * 100:.0f} %" if rating else "?"
    return said, share


def _sum(line: Line) -> str:
    return f"at least {amps(line.amps)}" if line.unknown else amps(line.amps)


def _largest(vessel: Vessel, line: Line) -> str:
    shown = ", ".join(f"{vessel.name_of(d.item)} {amps(d.amps)}" for d in line.draws[:_LARGEST])
    more = len(line.draws) - _LARGEST
    return f"{shown} and {more} more" if more > 0 else shown


def _source_table(vessel: Vessel, lines: Sequence[Line]) -> Table:
    rows = []
    for line in lines:
        margin, share = _margin(line.rating_a, line.amps, at_least=bool(line.unknown))
        names = " with ".join(line.element.sources)
        rating = rated(line.rating_a)
        parts = [amps(each) for each in (line.continuous_a, line.intermittent_a, line.unstated_a)]
        rows.append((names, line.element.pole, _sum(line), rating, margin, share, *parts, _largest(vessel, line)))
    head = ("source", "line", "A", "rated A", "left A", "used", "cont.", "int.", "unsaid", "largest, A")
    return Table(head, tuple(rows), right=(2, 3, 4, 5, 6, 7, 8))


def _feeder_table(feeders: Sequence[Feeder]) -> Table:
    rows = []
    for each in feeders:
        bus = each.bus
        rating = rated(bus.rating_a)
        margin, _ = _margin(bus.rating_a, bus.amps, at_least=bool(bus.unknown))
        fed = f"cable {each.fed_by}" if each.is_cable else each.fed_by
        if each.device is not None and each.device.item != each.fed_by:
            fed += f", behind {each.device.item}"
        device = rated(each.device_rating_a)
        gap, _ = _margin(each.device_rating_a, bus.amps, at_least=bool(bus.unknown))
        rows.append((bus.element.item, bus.element.pole, _sum(bus), rating, margin, device, gap, fed))
    head = ("section or bus", "line", "A", "bus A", "left A", "feeder A", "left A", "fed by")
    return Table(head, tuple(rows), right=(2, 3, 4, 5, 6))


def _carried_table(vessel: Vessel, feeders: Sequence[Feeder]) -> Table:
    rows = []
    for each in feeders:
        bus = each.bus
        parts = [amps(part) for part in (bus.continuous_a, bus.intermittent_a, bus.unstated_a)]
        rows.append((bus.element.item, bus.element.pole, *parts, _largest(vessel, bus)))
    return Table(("section or bus", "line", "cont.", "int.", "unsaid", "largest, A"), tuple(rows), right=(2, 3, 4))


def _near(lines: Iterable[Line]) -> list[Line]:
    return [line for line in lines if line.rating_a and line.amps >= _NEAR * line.rating_a]


def _lasting(vessel: Vessel, loading: Loading) -> list[str]:
    """Breakers with more continuous load than they carry for hours; a North American rule."""
    if vessel.about.practice != "north-american":
        return []
    share = breaker_share()
    return [
        f"{told(vessel, line.element)}: {amps(line.continuous_a)} A of continuous load is more than "
        f"{share * 100:.0f} % of {rated(line.rating_a)} A; it may trip after hours"
        for line in loading.devices
        if line.element.kind == "breaker" and line.rating_a and line.continuous_a > share * line.rating_a * (1 + 1e-9)
    ]


def condition_blocks(vessel: Vessel, loading: Loading, *, detail: bool = True) -> list[Block]:
    """One condition's page; without detail only what wants attention, and nothing but its heading if nothing does."""
    condition = vessel.conditions[loading.condition]
    title = f"{condition.name} ({condition.id})" if condition.name else condition.id
    blocks: list[Block] = [Heading(title)]
    if detail:
        blocks += _in_full(vessel, loading)
    over = [f"{told(vessel, line.element)}: {_sum(line)} A, rated {rated(line.rating_a)} A" for line in loading.over]
    if over:
        blocks += [Paragraph("OVER THEIR RATING:", "strong"), Bullets(tuple(over))]
    near = [
        f"{told(vessel, line.element)}: {_sum(line)} A of {rated(line.rating_a)} A" for line in _near(loading.devices)
    ]
    if near:
        blocks += [
            Heading(f"Devices and switches at {_NEAR * 100:.0f} % of their rating or more", 3),
            Bullets(tuple(near)),
        ]
    lasting = _lasting(vessel, loading)
    if lasting:
        blocks += [Heading("Continuous load on breakers", 3), Bullets(tuple(lasting))]
    factors = [published_told(vessel, each) for each in published_of(vessel, condition) if each.factor is not None]
    if factors:
        blocks += [Heading("Published demand factors that the record asks for", 3), Bullets(tuple(factors))]
    return blocks + _gaps(vessel, loading)


def _in_full(vessel: Vessel, loading: Loading) -> list[Block]:
    """Every source, neutral, feeder and bus of a condition."""
    blocks: list[Block] = []
    if loading.sources:
        blocks += [Heading("Sources", 3), _source_table(vessel, loading.sources)]
    else:
        blocks.append(Paragraph("No load in this condition draws from a source."))
    said = [
        f"{' with '.join(each.items)}: {each.larger} carries {amps(each.amps)} A more than {each.smaller}, "
        f"{each.share * 100:.0f} % of {each.larger}"
        for each in (*loading.imbalances, *loading.feeder_imbalances)
    ]
    if said:
        blocks += [
            Heading("Imbalance of sources and sections: the largest line less the smallest", 3),
            Bullets(tuple(said)),
        ]
    neutrals = [
        f"{each.item}: {amps(each.amps)} A in the neutral of cable {each.cable}"
        if each.amps is not None
        else f"{each.item}: several neutral cores; not judged"
        for each in loading.neutrals
    ]
    if neutrals:
        blocks += [Heading("Neutral currents, of the solved network", 3), Bullets(tuple(neutrals))]
    if loading.feeders:
        blocks += [Heading("Panel feeders and buses", 3), _feeder_table(loading.feeders)]
        blocks += [Heading("What they carry", 3), _carried_table(vessel, loading.feeders)]
    return blocks


def published_told(vessel: Vessel, each: Published) -> str:
    """A published demand factor in words, with its source and what the figure adds for spare ways."""
    where = f" on {each.feeder}" if each.feeder else ""
    said = f"{each.use}{where} ({', '.join(map(vessel.name_of, each.loads))}) at {each.factor:.3g}: {each.text}"
    if not each.spare_ways:
        return f"{said} ({each.source})"
    ways = ", ".join(each.spare_ways)
    if each.spare_w is not None:
        more = f"{each.spare_w:.4g} W, the average of an active circuit for each"
    else:
        more = ", ".join(f"{amps(value)} A on {pole}" for pole, value in each.spare_a) + ", half of their rating"
    return f"{said} ({each.source}). For the spare ways {ways} it adds {more}: not in these sums"


def _gaps(vessel: Vessel, loading: Loading) -> list[Block]:
    said = [
        f"{item}: {field(missing)} is not recorded; what it draws is a lower bound"
        for item, missing in loading.unknown
        if missing != NO_FACTOR
    ]
    said += [
        f"{each.use or 'no use recorded'} ({', '.join(map(vessel.name_of, each.loads))}): {each.text}; "
        "counted as nothing here"
        for each in published_of(vessel, vessel.conditions[loading.condition])
        if each.factor is None
    ]
    said += [f"{told(vessel, element)}: its rating is not recorded" for element in loading.unrated]
    said += [f"{vessel.name_of(key)}: no running source reaches it" for key in loading.unfed]
    said += [
        f"{load}: its way divides in parallel at {place}; what lies there is not judged"
        for load, place in loading.parallel
    ]
    said += [f"the network has no sound solution: {text}" for text in loading.troubles]
    said += [f"{text}: what charges there is left out of the solved network" for text in loading.loops]
    return [Heading("Not judged, or only in part", 3), Bullets(tuple(said))] if said else []


def loads_blocks(
    subject: Subject,
    vessel: Vessel,
    loadings: Sequence[Loading],
    not_judged: Sequence[tuple[str, str]],
    *,
    detail: bool = True,
) -> list[Block]:
    """The whole page. `not_judged`: conditions with the reason why they are left out.

    Several conditions begin with an overview; without `detail` each then tells only what wants attention.
    """
    blocks: list[Block] = [Heading(f"Loads of {subject.vessel}, {subject.state}", 1), *cautions()]
    blocks.append(
        Paragraph(
            "Sums of demand factor times rated current at nominal voltage. cont.: continuous, three hours or more; "
            "int.: intermittent; unsaid: duty not recorded.",
            "note",
        )
    )
    blocks += overview_blocks(loadings)
    whole = detail or len(loadings) < 2
    pages = [condition_blocks(vessel, loading, detail=whole) for loading in loadings]
    blocks += [block for parts in pages if len(parts) > 1 for block in parts]
    quiet = [loading.condition for loading, parts in zip(loadings, pages, strict=True) if len(parts) == 1]
    if quiet:
        blocks.append(Paragraph(f"Nothing is over its rating or near it in: {', '.join(quiet)}."))
    if not whole:
        blocks.append(
            Paragraph("Every source, neutral, feeder and bus: name one with --condition, or say --detail.", "note")
        )
    if not_judged:
        blocks.append(Heading("Conditions that cannot be judged"))
        blocks.append(Bullets(tuple(f"{name}: {why}" for name, why in not_judged)))
    if not loadings and not not_judged:
        blocks.append(Paragraph("The record has no operating condition, so that there is nothing to add up."))
    return blocks


# --- JSON ---------------------------------------------------------------------------------------


def element_json(element: Element) -> dict[str, Any]:
    """An element, for machines."""
    found: dict[str, Any] = {"item": element.item, "pole": element.pole, "kind": element.kind}
    if element.core:
        found["core"] = element.core
    if element.continuous:
        found["continuous"] = True
    return found


def _line_json(line: Line) -> dict[str, Any]:
    return {
        **element_json(line.element),
        "amps": round(line.amps, 3),
        "at_least": bool(line.unknown),
        "rating_a": line.rating_a,
        "margin_a": None if line.margin_a is None else round(line.margin_a, 3),
        "over": line.over,
        "continuous_a": round(line.continuous_a, 3),
        "intermittent_a": round(line.intermittent_a, 3),
        "unstated_a": round(line.unstated_a, 3),
        "draws": [{"item": draw.item, "amps": round(draw.amps, 3)} for draw in line.draws],
    }


def _published_json(each: Published) -> dict[str, Any]:
    return {
        "use": each.use,
        "feeder": each.feeder or None,
        "loads": list(each.loads),
        "connected_w": each.connected_w,
        "factor": None if each.factor is None else round(each.factor, 4),
        "rule": each.text,
        "source": each.source or None,
        "spare_ways": list(each.spare_ways),
        "spare_a": dict(each.spare_a),
        "spare_w": each.spare_w,
    }


def _imbalance_json(each: Imbalance) -> dict[str, Any]:
    return {
        "larger": each.larger,
        "smaller": each.smaller,
        "amps": round(each.amps, 3),
        "share": round(each.share, 4),
    }


def _loading_json(vessel: Vessel, loading: Loading) -> dict[str, Any]:
    return {
        "condition": loading.condition,
        "sources": [_line_json(line) for line in loading.sources],
        "feeders": [
            {
                **_line_json(each.bus),
                "fed_by": each.fed_by,
                "by_cable": each.is_cable,
                "device": None if each.device is None else each.device.item,
                "device_rating_a": each.device_rating_a,
                "feeder_over": each.over,
            }
            for each in loading.feeders
        ],
        "devices": [_line_json(line) for line in loading.devices],
        "imbalance": [{"sources": list(each.items), **_imbalance_json(each)} for each in loading.imbalances],
        "feeder_imbalance": [{"item": each.items[0], **_imbalance_json(each)} for each in loading.feeder_imbalances],
        "neutrals": [
            {"item": each.item, "cable": each.cable, "amps": None if each.amps is None else round(each.amps, 3)}
            for each in loading.neutrals
        ],
        "continuous": _lasting(vessel, loading),
        "unknown": [{"item": item, "missing": field(missing)} for item, missing in loading.unknown],
        "unrated": [element_json(element) for element in loading.unrated],
        "unfed": list(loading.unfed),
        "parallel": [{"load": load, "at": place} for load, place in loading.parallel],
        "published": [_published_json(each) for each in published_of(vessel, vessel.conditions[loading.condition])],
        "troubles": list(loading.troubles),
        "loops": list(loading.loops),
    }


def loads_json(
    subject: Subject, vessel: Vessel, loadings: Sequence[Loading], not_judged: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """The loads of every condition, for machines: schema/loads.schema.json."""
    return {
        **header("loads", subject),
        "conditions": [_loading_json(vessel, each) for each in loadings],
        "not_judged": [{"condition": name, "reason": why} for name, why in not_judged],
    }
