"""The summary of a change for the next technician: plain words, what to check on board, cautions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from vesselspec.changes import SAID_ABOUT, Change, FieldChange, Review, tell
from vesselspec.model.forms import Quantity
from vesselspec.model.items import NO_LABEL
from vesselspec.report.markdown import code, escape, finding_markdown, quoted
from vesselspec.report.review import accepts_own, effects_markdown, inherited_line, name_of, problems_section, verdict
from vesselspec.report.terminal import CAUTIONS
from vesselspec.rules import Boat

_ISOLATION = (
    "Opening a breaker does not isolate a source: unplug and stow the cord, stop the generator and inhibit its "
    "automatic start, switch the inverter off and open its DC supply (common practice, no source)."
)
_PICTURES = (("Before", "before.svg"), ("After", "after.svg"))


def summary_markdown(found: Review, pictures: tuple[str, ...]) -> str:
    """The page as Markdown. `pictures` are the file names that were really written beside it."""
    lines = [f"# {escape(name_of(found))}: summary for the next technician", ""]
    lines += [
        f"From {escape(found.before.name)} to {escape(found.after.name)}.",
        "",
        f"**{escape(verdict(found))}**",
        "",
    ]
    lines += [f"**{escape(own)}**", ""] if (own := accepts_own(found)) else []
    lines += quoted(f"**Caution.** {caution}" for caution in (*CAUTIONS, _ISOLATION))
    for side in (found.before, found.after):
        lines += problems_section(side)
    before, after = found.before.boat, found.after.boat
    if before is not None and after is not None:
        lines += _reasons(found)
        grave = [f for f in found.counting if f.signal_word in ("DANGER", "WARNING")]
        if grave:
            lines += ["## Do not energise before these are mended", ""]
            for finding in grave:
                lines += finding_markdown(finding, level=3)
        lines += ["## What was changed, and where to find it", ""]
        lines += [f"- {_located(change, before, after)}" for change in found.changes] or ["- nothing"]
        lines.append("")
        lines += _panels(found)
        lines += effects_markdown(found.effects)
        lines += _pictures(pictures)
        checks = [f"- [ ] {line}" for line in dict.fromkeys(_checks(found, before, after))]
        lines += ["## To check on board", "", *(checks or ["Nothing on board is different."]), ""]
    elif found.new:
        lines += ["## Findings of the later state, new and inherited alike", "", *map(inherited_line, found.new), ""]
    lesser = [f for f in found.counting if f.signal_word not in ("DANGER", "WARNING")] if found.understood else []
    if lesser:
        lines += ["## Lesser new findings", ""]
        lines += [f"- {f.signal_word} `{f.rule}`: {escape(f.message)}" for f in lesser] + [""]
    accepted = [f for f in found.new if f.accepted] if found.understood else []
    if accepted:
        lines += ["## New, and accepted for a while", "", *map(inherited_line, accepted), ""]
    if found.cleared:
        lines += ["## No longer found", "", *(f"- `{f.rule}`: {escape(f.message)}" for f in found.cleared), ""]
    if found.inherited:
        lines += ["## Open since before this change", "", *map(inherited_line, found.inherited), ""]
    return "\n".join(lines)


def _reasons(found: Review) -> list[str]:
    if not found.reasons:
        return []
    lines = ["## Why", ""]
    for reason in found.reasons:
        subject = escape(reason.subject) or "(no subject)"
        lines += [f"- **{subject}** ({escape(reason.author)}, {reason.when}, `{reason.id[:10]}`)", ""]
        for paragraph in reason.body.replace("\r\n", "\n").split("\n\n"):
            if paragraph.strip():
                lines += [f"  {escape(paragraph)}", ""]
    return lines


def _located(change: Change, before: Boat, after: Boat) -> str:
    boat = before if change.kind == "removed" else after
    sentence = escape(tell(change, before.vessel, after.vessel))
    spaces = dict.fromkeys(_spaces(change, boat))
    return sentence + (f" — in: {escape(', '.join(spaces))}" if spaces else "")


def _spaces(change: Change, boat: Boat) -> Iterator[str]:
    vessel = boat.vessel
    places = [change.id]
    if change.collection == "cables" and change.id in vessel.cables:
        cable = vessel.cables[change.id]
        places = [cable.from_, *cable.route, cable.to]
    elif change.collection not in ("devices", "loads", "panels", "sections", "ways"):
        return
    for place in places:
        space = vessel.spaces.get(place) or vessel.space_of(place)
        if space is not None:
            yield space.name or space.id


def _panels(found: Review) -> list[str]:
    """What is different for whoever opens a panel."""
    rows: list[str] = []
    for effect in found.effects.potentials:
        gained = f"can now be live from {', '.join(effect.gained)}" if effect.gained else ""
        lost = f"can no longer be live from {', '.join(effect.lost)}" if effect.lost else ""
        rows.append(f"- **{escape(effect.place)}** {escape(' and '.join(filter(None, (gained, lost))))}")
    return ["## Different for anyone who opens", "", *rows, ""] if rows else []


def _pictures(pictures: tuple[str, ...]) -> list[str]:
    shown = [(title, name) for title, name in _PICTURES if name in pictures]
    if not shown:
        return []
    lines = ["## Pictures of what was touched", ""]
    for title, name in shown:
        lines += [f"{title}:", "", f"![{title} the change]({name})", ""]
    return lines


def _checks(found: Review, before: Boat, after: Boat) -> Iterator[str]:
    """What must be looked at on board because of this change."""
    for change in found.changes:
        if change.kind == "removed":
            yield from _removed(change, before)
        elif change.collection == "cables":
            yield from _cable_checks(change, after)
        elif change.collection == "ways":
            yield from _way_checks(change, after)
        elif change.collection in ("devices", "loads"):
            yield from _device_checks(change, before, after)
        elif change.collection == "interlocks" and _on_board(change):
            members = ", ".join(after.vessel.name_of(each) for each in after.vessel.interlocks[change.id].between)
            yield escape(f"interlock {change.id}: tried by hand, only one closes at a time of {members}")
    for effect in found.effects.potentials:
        if effect.gained and effect.place in after.vessel.sections:
            yield escape(
                f"panel section {effect.place}: the sign that names its sources also names {', '.join(effect.gained)}"
            )
    for each in found.newly_unjudged:
        yield escape(f"{each.item}: find out {each.missing}, so that {each.rule} can be judged")


def _on_board(change: Change) -> tuple[FieldChange, ...]:
    """What a change says of the boat, not of the entry."""
    return tuple(each for each in change.fields if each.key.split("/", maxsplit=1)[0] not in SAID_ABOUT)


def _removed(change: Change, before: Boat) -> Iterator[str]:
    if change.collection == "cables":
        yield escape(f"cable {change.id} is gone on board, or its ends are made safe, and its labels are removed")
    elif change.collection in ("devices", "loads", "panels"):
        yield escape(f"{before.vessel.name_of(change.id)} is gone on board, and what fed it is made safe")
    elif change.collection == "ways":
        yield escape(f"way {before.vessel.name_of(change.id)} is gone or empty, and its panel label removed")
    elif change.collection == "interlocks":
        yield escape(f"interlock {change.id} is gone on board: nothing holds apart what it held apart")


def _cable_checks(change: Change, after: Boat) -> Iterator[str]:
    cable = after.vessel.cables[change.id]
    keys = {each.key.split("/", maxsplit=1)[0] for each in _on_board(change)}
    if not keys and change.kind == "changed":
        return
    labels = {end: label for end in ("from", "to") if (label := cable.label_at(end)) and label != NO_LABEL}
    if len(labels) == 2 and labels["from"] == labels["to"]:
        said = f"label {code(labels['from'])} at both ends"
    else:
        said = (
            ", ".join(f"label {code(label)} at its {end} end" for end, label in labels.items()) or "label at both ends"
        )
    yield f"cable {escape(cable.id)}: {said}, every core on the terminal named, tight"
    if keys & {"from", "to", "cores", "type", "size"}:
        yield f"cable {escape(cable.id)}: polarity and earth continuity measured at the load end"
    if cable.length_m is None:
        yield f"cable {escape(cable.id)}: measure its length and record it"


def _way_checks(change: Change, after: Boat) -> Iterator[str]:
    way = after.vessel.ways[change.id][2]
    if change.kind == "renamed":
        yield escape(f"way {after.vessel.name_of(change.id)}: numbered so on the panel, formerly {change.before_id}")
    if change.field("label") is not None:
        if way.label == NO_LABEL or way.label is None:
            yield escape(f"way {change.id}: no panel label that says something else")
        else:
            yield escape(f"way {change.id}: the panel label reads “{way.label}”")
    if {each.key.split("/", maxsplit=1)[0] for each in change.fields} & {
        "rating",
        "device",
        "poles",
        "family",
        "curve",
    }:
        rated = (
            f"is rated {Quantity('current').show(way.rating_a)}" if way.rating_a is not None else "has its rating read"
        )
        yield escape(f"way {change.id}: the {way.device.replace('-', ' ')} fitted {rated}")


def _device_checks(change: Change, before: Boat, after: Boat) -> Iterator[str]:
    name = after.vessel.name_of(change.id)
    if change.kind == "added":
        yield escape(f"{name}: fitted as recorded, its case earthed, its papers on board")
    elif fields := _on_board(change):
        sentence = tell(replace(change, kind="changed", fields=fields), before.vessel, after.vessel)
        yield escape(f"on board as recorded: {sentence}")
