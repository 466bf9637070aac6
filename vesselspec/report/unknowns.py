"""What nobody has recorded, as a tick list to take on board: terminal text, Markdown and JSON."""

from __future__ import annotations

from typing import Any

from vesselspec.report.markdown import code, escape, quoted
from vesselspec.report.survey import FORMAT, Subject
from vesselspec.report.terminal import CAUTIONS, Page
from vesselspec.rules import RULES
from vesselspec.rules.missing import Kind
from vesselspec.rules.unknowns import Unknown, stops_of

NONE = "Nothing is missing that a rule asks for. That is the record's word, not the boat's."


def unknowns_json(subject: Subject, unknowns: tuple[Unknown, ...]) -> dict[str, Any]:
    """For machines: schema/unknowns.schema.json."""
    return {
        "format": FORMAT,
        "kind": "unknowns",
        "vessel": subject.vessel,
        "state": subject.state,
        "understood": True,
        "unknowns": [_unknown_json(each) for each in unknowns],
        "problems": [],
    }


def _unknown_json(each: Unknown) -> dict[str, Any]:
    return {
        "item": each.item,
        "missing": list(each.missing),
        "kind": each.kind.key,
        "where": each.where,
        "how": each.kind.how,
        "caution": each.kind.caution,
        "signal_word": each.signal_word,
        "guards_life": each.guards_life,
        "rules": list(each.rules),
        "photos": list(each.photos),
        "place": {"file": each.place.file, "line": each.place.line, "column": each.place.column},
    }


def waits(each: Unknown) -> str:
    """Which rules wait for it, the gravest first; what is assumed holds no rule back, it undermines them all."""
    if not each.rules:
        return "all that is judged of it rests on an assumption"
    words: dict[str, list[str]] = {}
    for rule in each.rules:
        life = ", guards life" if RULES[rule].guards_life else ""
        words.setdefault(RULES[rule].signal_word + life, []).append(rule)
    return "; ".join(f"{word}: {', '.join(rules)}" for word, rules in words.items())


def counted(unknowns: tuple[Unknown, ...]) -> str:
    """How much there is to find out, in one line."""
    life = sum(each.guards_life for each in unknowns)
    held = len({rule for each in unknowns for rule in each.rules})
    return (
        f"{len(unknowns)} thing{'' if len(unknowns) == 1 else 's'} to find out; {held} rule{'' if held == 1 else 's'} "
        f"wait{'s' if held == 1 else ''} for them somewhere; {life} hold{'s' if life == 1 else ''} back a rule that "
        "guards life."
    )


def kinds_of(unknowns: tuple[Unknown, ...]) -> tuple[Kind, ...]:
    """The kinds that occur, in the order of the list."""
    return tuple(dict.fromkeys(each.kind for each in unknowns))


def unknowns_text(page: Page, subject: Subject, unknowns: tuple[Unknown, ...]) -> str:
    """For a terminal."""
    page.wrapped(f"To find out on board of {subject.vessel}, {subject.state}")
    page.wrapped(counted(unknowns) if unknowns else NONE)
    page.line()
    for stop in stops_of(unknowns):
        page.wrapped(stop.where)
        for each in stop.unknowns:
            page.wrapped(f"{each.name}: {', '.join(each.missing)}", first="  [ ] ", rest="      ")
            page.wrapped(f"({waits(each)})", first="      ")
            if each.photos:
                page.wrapped(f"pictures to look at first: {', '.join(each.photos)}", first="      ")
        page.line()
    if unknowns:
        page.line("How to find it out:")
    for kind in kinds_of(unknowns):
        page.wrapped(f"{kind.title}: {kind.how}", first="  - ", rest="    ")
        if kind.caution:
            page.wrapped(f"Caution: {kind.caution}", first="    ")
    if unknowns:
        page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def unknowns_markdown(subject: Subject, unknowns: tuple[Unknown, ...]) -> str:
    """As Markdown with boxes to tick."""
    lines = [f"# To find out on board of {escape(subject.vessel)}", "", escape(subject.state), "", *quoted(CAUTIONS)]
    lines += [f"**{escape(counted(unknowns) if unknowns else NONE)}**", ""]
    for stop in stops_of(unknowns):
        lines += [f"## {escape(stop.where)}", ""]
        for each in stop.unknowns:
            missing = escape(", ".join(each.missing))
            lines.append(f"- [ ] **{escape(each.name)}**: {missing}  ")
            pictures = f"; pictures to look at first: {', '.join(map(code, each.photos))}" if each.photos else ""
            lines.append(f"  {escape(waits(each))}; {code(str(each.place))}{pictures}")
        lines.append("")
    if unknowns:
        lines += ["## How to find it out", "", "| what | how | caution |", "|---|---|---|"]
        lines += [
            f"| {escape(kind.title)} | {escape(kind.how)} | {escape(kind.caution) or ' '} |"
            for kind in kinds_of(unknowns)
        ]
        lines.append("")
    return "\n".join(lines)
