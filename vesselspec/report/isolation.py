"""An isolation sheet as terminal text, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from vesselspec.isolation import Sheet
from vesselspec.isolation.hazards import Hazard
from vesselspec.isolation.perhaps import LostEnd
from vesselspec.isolation.points import Point
from vesselspec.isolation.sheet import StaysLive
from vesselspec.isolation.steps import GROUPS, Step
from vesselspec.isolation.supplies import Supply
from vesselspec.model.vessel import Vessel
from vesselspec.report.markdown import escape, quoted
from vesselspec.report.terminal import Page, one_line

FORMAT = 1

CAUTIONS = (
    "The record may be wrong. Nothing is dead until you have proved it dead, with a tester proved before and after.",
    "For qualified persons. Local codes, the yard's own rules and licensed practice come first.",
    "A sheet serves one place, one job and one state of the record. Print it anew when any of them changes.",
)
MAY_BE_LIVE = "MAY BE LIVE IN HERE AS WELL"
NOTHING_STAYS = "STAYS LIVE IN THE SAME ENCLOSURE: nothing that is recorded. Prove everything in it dead all the same."


@dataclass(frozen=True)
class Heading:
    """What every page says at its top: the vessel, the state of its record, and the day the sheet was made."""

    vessel: Vessel
    state: str
    day: str

    def place(self, sheet: Sheet) -> str:
        """The place in words."""
        target = sheet.target
        if target.kind == "space":
            said = self.vessel.spaces[target.place].name
            return f"{target.place} ({said})" if said else target.place
        return self.vessel.name_of(target.place)

    def space(self, key: str) -> str:
        """A space as people call it."""
        space = self.vessel.spaces.get(key)
        return (space.name or key) if space is not None else key


def pairs(poles: tuple[str, ...]) -> tuple[str, ...]:
    """Every two poles to measure between, earth last."""
    live = [pole for pole in poles if pole != "PE"]
    return (*(f"{a} to {b}" for a, b in combinations(live, 2)), *(f"{pole} to PE" for pole in live))


def proof(sheet: Sheet) -> str:
    """What was proved, in one sentence."""
    open_points = len(sheet.points)
    return (
        f"Checked against the record: with {open_points} point{'s' if open_points != 1 else ''} open as below, no "
        f"recorded source reaches any of the {len(sheet.target.terminals)} terminals of the place, whatever position "
        "every other switch is in."
    )


def needed(heading: Heading, sheet: Sheet) -> str:
    """Persons and places that the sheet asks for."""
    who = "one person" if sheet.persons == 1 else f"{sheet.persons} persons (one at each point that no lock holds)"
    return f"Needs {who}; hands go to {', '.join(map(heading.space, sheet.spaces)) or 'the place itself'}."


#: What a hand does at a point, in short.
_DO = {
    "unplug": "unplug",
    "stop": "stop",
    "engine": "stop the engine of",
    "cover": "cover",
    "open": "open",
    "pull": "pull",
    "lift": "take the cables off",
}


def instead(point: str, points: tuple[Point, ...]) -> str:
    """What to open where a point is out of reach."""
    if not points:
        return f"{point} out of reach: nothing recorded will do instead"
    every = "" if len(points) == 1 else ", all of them,"
    return f"{point} out of reach: {', '.join(f'{_DO[p.how]} {p.id}' for p in points)}{every} instead"


def sentence(said: str) -> str:
    """What to do about something, with a capital letter."""
    return said[:1].upper() + said[1:]


def staying(each: StaysLive) -> str:
    """What stays live at a place, in one line."""
    ways = f" and its way{'s' if len(each.ways) > 1 else ''} {', '.join(each.ways)}" if each.ways else ""
    sources = ", ".join(each.sources) or "a source that is NOT RECORDED"
    return f"{each.place}{ways}: {', '.join(each.poles)} from {sources}" + (f": {each.what}" if each.what else "")


def perhaps(each: LostEnd) -> str:
    """A lost end that may be in the enclosure, in one line."""
    known = f", whose other end is at {', '.join(each.known)}" if each.known else ", of which neither end is known"
    if each.poles:
        return f"the untraced end of {each.cable}{known}: {', '.join(each.poles)} from {', '.join(each.sources)}"
    return f"the untraced end of {each.cable}{known}: not known"


def reaches(supply: Supply) -> str:
    """A source that can make the place live, in one line."""
    return f"{', '.join(supply.poles)} from {supply.title.lower()} {supply.id}" + (
        f" in {supply.space}" if supply.space else ""
    )


def sheet_text(page: Page, heading: Heading, sheet: Sheet) -> str:
    """A sheet for a terminal."""
    page.wrapped(f"ISOLATION SHEET: {heading.place(sheet)}, {sheet.target.kind}")
    page.wrapped(f"{heading.vessel.about.name}, record: {heading.state}")
    page.wrapped(f"made on {heading.day}; sheet {sheet.substance}")
    page.line()
    if sheet.declared:
        _staying_text(page, sheet)
    else:
        page.line(f"{page.word('DANGER')} THE RECORD CANNOT DECLARE THIS PLACE DEAD. There is no sheet for it.")
        _hazards(page, sheet.refusals)
        page.line()
    page.line("What can make it live, in any position of any switch:")
    for supply in sheet.supplies:
        if supply.reaches:
            page.wrapped(reaches(supply), first="  ! ", rest="    ")
            if supply.path:
                page.wrapped(" → ".join(supply.path), first="      ", rest="      ")
            if supply.positions:
                stands = "; ".join(f"{choice} at {state}" for choice, state in supply.positions)
                page.wrapped(f"with {stands}", first="      ", rest="      ")
    if not any(supply.reaches for supply in sheet.supplies):
        page.line("    nothing that is recorded")
    others = [supply.id for supply in sheet.supplies if not supply.reaches]
    if others:
        page.wrapped(f"Also on board, with no recorded way to it: {', '.join(others)}.", first="  ", rest="  ")
    page.line()
    if sheet.hazards:
        page.line("Check first; the record does not know it:")
        _hazards(page, sheet.hazards)
        page.line()
    if sheet.declared:
        _steps_text(page, heading, sheet)
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def _hazards(page: Page, hazards: tuple[Hazard, ...]) -> None:
    for hazard in hazards:
        page.wrapped(f"{hazard.says}.", first="  ? ", rest="    ")
        page.wrapped(f"{hazard.check}.", first="    → ", rest="      ")


def _staying_text(page: Page, sheet: Sheet) -> None:
    if not sheet.stays_live:
        page.wrapped(NOTHING_STAYS)
    if sheet.stays_live or sheet.lost_ends:
        page.line("#" * min(page.width, 72))
    if sheet.stays_live:
        page.line("##  STAYS LIVE IN THE SAME ENCLOSURE:")
        for each in sheet.stays_live:
            page.wrapped(staying(each), first="##    ", rest="##    ")
    if sheet.lost_ends:
        page.line(f"##  {MAY_BE_LIVE}:")
        for end in sheet.lost_ends:
            page.wrapped(perhaps(end), first="##    ", rest="##    ")
    if sheet.stays_live or sheet.lost_ends:
        page.line("#" * min(page.width, 72))
    page.line()


def _steps_text(page: Page, heading: Heading, sheet: Sheet) -> None:
    page.wrapped(proof(sheet))
    page.wrapped(needed(heading, sheet))
    number = 0
    for group in GROUPS:
        steps = [step for step in sheet.steps if step.group == group]
        if not steps:
            continue
        page.line()
        page.line(group)
        for step in steps:
            number += 1
            page.wrapped(_step(heading, step), first=f"  [ ] {number:>2}. ", rest=" " * 10)
            if step.lock:
                page.line(" " * 10 + "lock/label ______  name ____________  time ______")
        if group == "Prove dead":
            for place, poles in sheet.prove:
                page.wrapped(f"{one_line(place)}: {', '.join(pairs(poles))}", first="      [ ] ", rest=" " * 10)
    if sheet.alternatives:
        page.line()
        page.line("If a point cannot be reached (make the sheet again with --out-of-reach):")
        for other in sheet.alternatives:
            page.wrapped(instead(other.instead_of, other.points), first="  ", rest="    ")
    page.line()
    page.line("Made dead and proved by ____________________  date ________  time ______")
    page.line("Given back by           ____________________  date ________  time ______")
    page.line()


def _step(heading: Heading, step: Step) -> str:
    where = f" [{heading.space(step.space)}]" if step.space else ""
    return f"{step.says}{where}"


def sheet_markdown(heading: Heading, sheet: Sheet) -> str:
    """A sheet as Markdown."""
    lines = [
        f"# Isolation sheet: {escape(heading.place(sheet))}",
        "",
        f"{escape(heading.vessel.about.name)}, record: {escape(heading.state)}; made on {heading.day}; "
        f"sheet `{sheet.substance}`",
        "",
        *quoted(CAUTIONS),
    ]
    if sheet.declared:
        if sheet.stays_live:
            lines += ["# STAYS LIVE IN THE SAME ENCLOSURE", ""]
            lines += [f"- **{escape(staying(each))}**" for each in sheet.stays_live]
        else:
            lines.append(f"**{escape(NOTHING_STAYS)}**")
        if sheet.lost_ends:
            lines += ["", f"# {MAY_BE_LIVE}", "", *(f"- **{escape(perhaps(each))}**" for each in sheet.lost_ends)]
        lines.append("")
    else:
        lines += ["## DANGER: the record cannot declare this place dead. There is no sheet for it.", ""]
        lines += [*_hazard_lines(sheet.refusals), ""]
    lines += ["## What can make it live, in any position of any switch", ""]
    for supply in sheet.supplies:
        if supply.reaches:
            lines.append(f"- **{escape(reaches(supply))}**")
            lines += [f"    - {escape(' → '.join(supply.path))}"] if supply.path else []
            stands = "; ".join(f"{choice} at {state}" for choice, state in supply.positions)
            lines += [f"    - with {escape(stands)}"] if stands else []
    if not any(supply.reaches for supply in sheet.supplies):
        lines.append("Nothing that is recorded.")
    others = [supply.id for supply in sheet.supplies if not supply.reaches]
    if others:
        lines += ["", f"Also on board, with no recorded way to it: {escape(', '.join(others))}."]
    lines.append("")
    if sheet.hazards:
        lines += ["## Check first; the record does not know it", "", *_hazard_lines(sheet.hazards), ""]
    if sheet.declared:
        lines += [proof(sheet), "", escape(needed(heading, sheet)), ""]
        for group in GROUPS:
            steps = [step for step in sheet.steps if step.group == group]
            if steps:
                lines += [f"## {group}", ""]
                lines += [f"- [ ] {escape(_step(heading, step))} *({escape(step.source)})*" for step in steps]
                if group == "Prove dead":
                    lines += [f"    - [ ] {escape(place)}: {escape(', '.join(pairs(p)))}" for place, p in sheet.prove]
                lines.append("")
        if sheet.alternatives:
            lines += ["## If a point cannot be reached", ""]
            lines += [f"- {escape(instead(each.instead_of, each.points))}" for each in sheet.alternatives] + [""]
        lines += ["## Signed", "", "| What | Name | Signature | Date, time |", "| --- | --- | --- | --- |"]
        lines += ["| Made dead and proved | | | |", "| Given back | | | |", ""]
    return "\n".join(lines)


def _hazard_lines(hazards: tuple[Hazard, ...]) -> list[str]:
    return [f"- [ ] **{escape(hazard.says)}.** {escape(sentence(hazard.check))}." for hazard in hazards]


def sheet_json(heading: Heading, sheet: Sheet) -> dict[str, Any]:
    """A sheet, for machines: schema/isolation.schema.json."""
    return {
        "format": FORMAT,
        "kind": "isolation",
        "vessel": heading.vessel.about.name,
        "state": heading.state,
        "day": heading.day,
        "place": sheet.target.place,
        "place_kind": sheet.target.kind,
        "declared": sheet.declared,
        "substance": sheet.substance,
        "supplies": [
            {
                "id": s.id,
                "kind": s.title,
                "space": s.space,
                "primary": s.primary,
                "reaches": s.reaches,
                "poles": list(s.poles),
                "path": list(s.path),
                "positions": dict(s.positions),
            }
            for s in sheet.supplies
        ],
        "points": [{"id": p.id, "how": p.how, "lockable": p.lockable} for p in sheet.points],
        "alternatives": [{"instead_of": a.instead_of, "points": [p.id for p in a.points]} for a in sheet.alternatives],
        "steps": [
            {"group": s.group, "says": s.says, "source": s.source, "at": s.at, "space": s.space, "lock": s.lock}
            for s in sheet.steps
        ],
        "prove": [{"place": place, "poles": list(poles)} for place, poles in sheet.prove],
        "stays_live": [
            {
                "place": s.place,
                "ways": list(s.ways),
                "poles": list(s.poles),
                "sources": list(s.sources),
                "what": s.what,
            }
            for s in sheet.stays_live
        ],
        "lost_ends": [
            {"cable": e.cable, "known": list(e.known), "poles": list(e.poles), "sources": list(e.sources)}
            for e in sheet.lost_ends
        ],
        "hazards": [{"says": h.says, "check": h.check} for h in sheet.hazards],
        "refusals": [{"says": h.says, "check": h.check} for h in sheet.refusals],
        "persons": sheet.persons,
        "spaces": list(sheet.spaces),
        "cautions": list(CAUTIONS),
    }


#: Parts of a sheet that a reader acts on, with how a change of each is told.
_ACTED_ON: tuple[tuple[str, str, Callable[[dict[str, Any]], str]], ...] = (
    ("points", "points to open", lambda p: str(p["id"])),
    ("stays_live", "stays live beside it", lambda s: f"{s['place']}: {', '.join(s['poles'])}"),
    ("lost_ends", "may be live in here", lambda e: f"{e['cable']}: {', '.join(e['poles']) or 'not known'}"),
    ("supplies", "can make it live", lambda s: f"{s['id']} ({', '.join(s['poles'])})" if s["reaches"] else ""),
    ("prove", "prove dead at", lambda p: f"{p['place']}: {', '.join(p['poles'])}"),
    ("hazards", "check first", lambda h: str(h["says"])),
    ("refusals", "why there is no sheet", lambda h: str(h["says"])),
    ("steps", "steps", lambda s: str(s["says"])),
)


def changed_since(earlier: dict[str, Any], now: dict[str, Any]) -> tuple[str, ...]:
    """What a reader of an earlier sheet would do differently now, in words; both as `sheet_json` gives them."""
    if earlier.get("place") != now["place"]:
        return (f"the earlier sheet is for {earlier.get('place')}",)
    found = []
    for key, title, told in _ACTED_ON:
        before = [said for each in earlier[key] if (said := told(each))]
        after = [said for each in now[key] if (said := told(each))]
        found += [f"{title}: now also {said}" for said in after if said not in before]
        found += [f"{title}: no longer {said}" for said in before if said not in after]
    return tuple(found)
