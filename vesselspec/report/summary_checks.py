"""What must be looked at, measured or relabelled on board because of a change: lines to tick."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from vesselspec.changes import SAID_ABOUT, Change, FieldChange, Review, tell
from vesselspec.changes.openings import Opening
from vesselspec.model.forms import Quantity
from vesselspec.model.items import NO_LABEL
from vesselspec.model.vessel import Vessel
from vesselspec.report.terminal import grouped
from vesselspec.rules import Boat, Finding
from vesselspec.rules.findings import DANGER


@dataclass(frozen=True)
class Check:
    """One line to tick, and the spaces that it leads to."""

    what: str
    where: tuple[str, ...] = ()


def checks_of(found: Review, opened: Iterable[Opening], grave: tuple[Finding, ...]) -> tuple[Check, ...]:
    """Every check once, in the order of the changes; none where a state cannot be understood.

    While a finding is `grave` the list begins with mending it. Labels, signs and the work itself are then left out:
    nobody shall mark, or tighten as recorded, what must not be energised so.
    """
    before, after = found.before.boat, found.after.boat
    if before is None or after is None:
        return ()
    lines: list[Check] = list(_mending(grave, after))
    for change in found.changes:
        if change.kind == "removed" or not grave:
            where = spaces_of(change, before, after)
            lines += [Check(what, where) for what in _of_change(change, before, after)]
    lines += [] if grave else _signs(found, after)
    lines += _sheets(opened, after)
    for item, missing, rules in grouped(found.newly_unjudged):
        more = f" and {len(rules) - 2} more" if len(rules) > 2 else ""
        lines.append(Check(f"{item}: find out {missing}; {', '.join(rules[:2])}{more} wait for it"))
    return tuple(dict.fromkeys(lines))


def spaces_of(change: Change, before: Boat, after: Boat) -> tuple[str, ...]:
    """The spaces, as people call them, in which a changed entry is to be found."""
    if change.collection not in ("cables", "devices", "loads", "panels", "sections", "ways"):
        return ()
    return _spaces(change.id, (before if change.kind == "removed" else after).vessel)


def _spaces(item: str, vessel: Vessel) -> tuple[str, ...]:
    """The spaces that an item stands in, or that a cable runs through."""
    cable = vessel.cables.get(item)
    places = [item] if cable is None else [cable.from_, *cable.route, cable.to]
    spaces = [vessel.spaces.get(place) or vessel.space_of(place) for place in places]
    return tuple(dict.fromkeys(space.name or space.id for space in spaces if space is not None))


def _of_change(change: Change, before: Boat, after: Boat) -> Iterator[str]:
    if change.kind == "removed":
        yield from _removed(change, before)
    elif change.collection == "cables":
        yield from _cable(change, after)
    elif change.collection == "ways":
        yield from _way(change, after)
    elif change.collection in ("devices", "loads"):
        yield from _device(change, before, after)
    elif change.collection == "interlocks" and on_board(change):
        members = ", ".join(after.vessel.name_of(each) for each in after.vessel.interlocks[change.id].between)
        yield f"interlock {change.id}: tried by hand, only one closes at a time of {members}"


def on_board(change: Change) -> tuple[FieldChange, ...]:
    """What a change says of the boat, not of the entry."""
    return tuple(each for each in change.fields if each.key.split("/", maxsplit=1)[0] not in SAID_ABOUT)


def _mending(grave: tuple[Finding, ...], after: Boat) -> Iterator[Check]:
    if not grave:
        return
    deadly = any(finding.signal_word == DANGER for finding in grave)
    what = "every source dead, proved dead and kept so" if deadly else "what this change touches not energised"
    yield Check(f"{what} until all that is to be mended here is mended")
    for finding in grave:
        culprits = finding.culprits or finding.items[:1]
        where = dict.fromkeys(space for item in culprits for space in _spaces(item, after.vessel))
        yield Check(f"{finding.signal_word} mended: {finding.message}", tuple(where))
    yield Check("the record says how it was mended, and this page is made anew: it then says what to check and relabel")


def _signs(found: Review, after: Boat) -> Iterator[Check]:
    for effect in found.effects.potentials:
        if effect.place in after.vessel.sections:
            where = _spaces(effect.place, after.vessel)
            sign = f"panel section {effect.place}: the sign that names its sources"
            if effect.gained:
                yield Check(f"{sign} also names {', '.join(effect.gained)}", where)
            if effect.lost:
                yield Check(f"{sign} no longer names {', '.join(effect.lost)}", where)


def _sheets(opened: Iterable[Opening], after: Boat) -> Iterator[Check]:
    for each in opened:
        if each.isolation.differs:
            what = f"panel {each.panel}: isolation sheets printed before this change thrown away, a new one made"
            yield Check(what, _spaces(each.panel, after.vessel))


def _removed(change: Change, before: Boat) -> Iterator[str]:
    if change.collection == "cables":
        yield f"cable {change.id} is gone on board, or its ends are made safe, and its labels are removed"
    elif change.collection in ("devices", "loads", "panels"):
        yield f"{before.vessel.name_of(change.id)} is gone on board, and what fed it is made safe"
    elif change.collection == "ways":
        yield f"way {before.vessel.name_of(change.id)} is gone or empty, and its panel label removed"
    elif change.collection == "interlocks":
        yield f"interlock {change.id} is gone on board: nothing holds apart what it held apart"


def _cable(change: Change, after: Boat) -> Iterator[str]:
    cable = after.vessel.cables[change.id]
    keys = {each.key.split("/", maxsplit=1)[0] for each in on_board(change)}
    if not keys and change.kind == "changed":
        return
    labels = {end: label for end in ("from", "to") if (label := cable.label_at(end)) and label != NO_LABEL}
    if len(labels) == 2 and labels["from"] == labels["to"]:
        said = f"label “{labels['from']}” at both ends"
    else:
        said = ", ".join(f"label “{label}” at its {end} end" for end, label in labels.items()) or "label at both ends"
    yield f"cable {cable.id}: {said}, every core on the terminal named, tight"
    if keys & {"from", "to", "cores", "type", "size"}:
        yield f"cable {cable.id}: polarity and earth continuity measured at the load end"
    if cable.length_m is None:
        yield f"cable {cable.id}: measure its length and record it"


def _way(change: Change, after: Boat) -> Iterator[str]:
    way = after.vessel.ways[change.id][2]
    if change.kind == "renamed":
        yield f"way {after.vessel.name_of(change.id)}: numbered so on the panel, formerly {change.before_id}"
    if change.field("label") is not None:
        if way.label == NO_LABEL or way.label is None:
            yield f"way {change.id}: no panel label that says something else"
        else:
            yield f"way {change.id}: the panel label reads “{way.label}”"
    fitted = {"rating", "device", "poles", "family", "curve"}
    if {each.key.split("/", maxsplit=1)[0] for each in change.fields} & fitted:
        rated = (
            f"is rated {Quantity('current').show(way.rating_a)}" if way.rating_a is not None else "has its rating read"
        )
        yield f"way {change.id}: the {way.device.replace('-', ' ')} fitted {rated}"


def _device(change: Change, before: Boat, after: Boat) -> Iterator[str]:
    name = after.vessel.name_of(change.id)
    if change.kind == "added":
        yield f"{name}: fitted as recorded, its case earthed, its papers on board"
    elif fields := on_board(change):
        sentence = tell(replace(change, kind="changed", fields=fields), before.vessel, after.vessel)
        yield f"on board as recorded: {sentence}"
