"""The summary of a change for the next technician: plain words, what to check on board, cautions."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.changes import Change, Review, tell
from vesselspec.model.items import NO_LABEL
from vesselspec.report.markdown import escape, finding_markdown
from vesselspec.report.review import effects_markdown, name_of, problems_section, verdict
from vesselspec.report.terminal import CAUTIONS
from vesselspec.rules import Boat

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
    lines += [f"> **Caution.** {caution}" for caution in CAUTIONS]
    lines += ["> Opening a breaker does not isolate a source: unplug and stow the cord, stop the generator and inhibit"]
    lines += ["> its automatic start, switch the inverter off and open its DC supply (common practice, no source).", ""]
    for side in (found.before, found.after):
        lines += problems_section(side)
    before, after = found.before.boat, found.after.boat
    if before is not None and after is not None:
        lines += _reasons(found)
        grave = [f for f in found.new if f.signal_word in ("DANGER", "WARNING")]
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
        lines += ["## To check on board", "", *(f"- [ ] {line}" for line in _checks(found, before, after)), ""]
    elif found.new:
        lines += ["## Findings of the later state, new and inherited alike", ""]
        lines += [f"- {f.signal_word} `{f.rule}`: {escape(f.message)}" for f in found.new] + [""]
    lesser = [f for f in found.new if f.signal_word not in ("DANGER", "WARNING")] if found.understood else []
    if lesser:
        lines += ["## Lesser new findings", ""]
        lines += [f"- {f.signal_word} `{f.rule}`: {escape(f.message)}" for f in lesser] + [""]
    if found.cleared:
        lines += ["## No longer found", "", *(f"- `{f.rule}`: {escape(f.message)}" for f in found.cleared), ""]
    if found.inherited:
        lines += ["## Open since before this change", ""]
        lines += [f"- {f.signal_word} `{f.rule}`: {escape(f.message)}" for f in found.inherited] + [""]
    return "\n".join(lines)


def _reasons(found: Review) -> list[str]:
    if not found.reasons:
        return []
    lines = ["## Why", ""]
    for reason in found.reasons:
        lines.append(f"- **{escape(reason.subject)}** ({escape(reason.author)}, {reason.when}, `{reason.id[:10]}`)")
        lines += [f"  {escape(paragraph)}" for paragraph in reason.body.split("\n\n") if paragraph.strip()]
    return [*lines, ""]


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
    vessel = after.vessel
    for change in found.changes:
        if change.kind == "removed":
            yield escape(f"{change.id} is gone on board, its ends are made safe and its labels removed")
        elif change.collection == "cables":
            cable = vessel.cables[change.id]
            label = cable.label
            both = f" `{escape(label)}`" if label and label != NO_LABEL else ""
            yield f"cable {escape(cable.id)}: label{both} at both ends, every core on the terminal named, tight"
            if not change.fields or {f.key.split("/")[0] for f in change.fields} & {"from", "to", "cores"}:
                yield f"cable {escape(cable.id)}: polarity and earth continuity measured at the load end"
            if cable.length_m is None:
                yield f"cable {escape(cable.id)}: measure its length and record it"
        elif change.collection == "ways":
            label_change = change.field("label")
            if label_change is not None and label_change.after:
                yield escape(f"way {change.id}: the panel label reads “{label_change.after}”")
            rating = change.field("rating")
            if rating is not None:
                yield escape(f"way {change.id}: the device fitted is rated {rating.after}")
        elif change.collection in ("devices", "loads") and change.kind == "added":
            yield escape(f"{vessel.name_of(change.id)}: fitted as recorded, its case earthed, its papers on board")
    for effect in found.effects.potentials:
        if effect.gained and effect.place in vessel.sections:
            yield escape(
                f"panel section {effect.place}: the sign that names its sources also names {', '.join(effect.gained)}"
            )
    for each in found.newly_unjudged:
        yield escape(f"{each.item}: find out {each.missing}, so that {each.rule} can be judged")
