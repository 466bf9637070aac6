"""A review as terminal text and Markdown."""

from __future__ import annotations

from collections.abc import Sequence

from vesselspec import units
from vesselspec.changes import Review, Side, acts
from vesselspec.changes.effects import Effects, ProtectionEffect, SourceEffect
from vesselspec.changes.solved import CurrentEffect, SolvedEffects
from vesselspec.model.vessel import Vessel
from vesselspec.report import shock_words as shock_report
from vesselspec.report.markdown import code, escape, finding_markdown, quoted
from vesselspec.report.terminal import CAUTIONS, Page, clean, conceded_words, counts_line, finding_lines
from vesselspec.rules import Finding, by_word

_MOST_ROWS = 30


def told(found: Review) -> list[tuple[str, str, str]]:
    """The changes as (kind, id, sentence)."""
    vessels = (_vessel(found.before), _vessel(found.after))
    if vessels[0] is None or vessels[1] is None:
        return []
    return [(act.kind, act.id, act.what) for act in acts(found.changes, vessels[0], vessels[1])]


def _vessel(side: Side) -> Vessel | None:
    return side.boat.vessel if side.boat is not None else None


def name_of(found: Review) -> str:
    """The vessel's name, from whichever state can be understood."""
    for side in (found.after, found.before):
        if side.boat is not None:
            return side.boat.vessel.about.name
    return "a record that cannot be understood"


def counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """What counts of some findings, by signal word."""
    return by_word(f for f in findings if not f.accepted)


def _accepted(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(f for f in findings if f.accepted)


#: What a review says that is accepted with the very change that brings it.
ACCEPTS_OWN = "This change accepts what it introduces"


def accepts_own(found: Review) -> str:
    """The sentence about concessions for the change's own findings, empty if there are none."""
    own = [f"{f.rule} of {f.items[0]} (concession {f.conceded.concession})" for f in found.accepts_own if f.conceded]
    return f"{ACCEPTS_OWN}: {'; '.join(own)}." if own else ""


# --- terminal -----------------------------------------------------------------------------------


def verdict(found: Review) -> str:
    """The review in one sentence."""
    if not found.understood:
        which = " and ".join(side.name for side in (found.before, found.after) if side.boat is None)
        return f"{which} cannot be understood, so the change cannot be judged."
    if not found.new:
        return "The change brings no new finding." if found.changes else "Nothing in the record changed."
    accepted = len(found.new) - len(found.counting)
    if not found.counting:
        return f"The change brings no new finding that counts, and {accepted} that a concession accepts."
    more = f", and {accepted} that a concession accepts" if accepted else ""
    return f"The change brings {counts_line(counts(found.new))}{more}."


def review_text(page: Page, found: Review, *, full: bool) -> str:
    """A review for a terminal."""
    page.wrapped(f"Review of {name_of(found)}: {found.before.name} → {found.after.name}")
    page.wrapped(verdict(found))
    if own := accepts_own(found):
        page.wrapped(own)
    page.line()
    for side in (found.before, found.after):
        _problem_lines(page, side)
    rows = told(found)
    if rows:
        page.line("What changed")
        for _, _, sentence in rows[:_MOST_ROWS]:
            page.wrapped(sentence, first="  • ", rest="    ")
        _more(page, len(rows))
        page.line()
    _effect_lines(page, found.effects)
    told_apart = (
        (_new_title(found), found.counting),
        ("New, and accepted for a while", _accepted(found.new)),
        ("Cleared", found.cleared),
    )
    for title, findings in told_apart:
        if findings:
            page.wrapped(title)
            for finding in findings:
                finding_lines(page, finding, full=full and title != "Cleared")
            page.line()
    if found.newly_unjudged:
        page.line("Newly not judged, for want of data")
        for each in found.newly_unjudged[:_MOST_ROWS]:
            page.wrapped(f"{each.item}: {each.missing} (for {each.rule})", first="  ? ", rest="    ")
        _more(page, len(found.newly_unjudged))
        page.line()
    if found.understood:
        page.wrapped(
            f"New: {counts_line(counts(found.new))}. Cleared: {len(found.cleared)}. "
            f"Inherited: {counts_line(counts(found.inherited))}."
            + (f" Accepted as of {found.on}: {len(accepted)}." if (accepted := found.after.survey.accepted) else "")
        )
        page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def _new_title(found: Review) -> str:
    """What findings that are not inherited are called: where the earlier state is not known, nobody knows."""
    return "New findings" if found.understood else "Findings of the later state, new and inherited alike"


def _problem_lines(page: Page, side: Side) -> None:
    if side.boat is None:
        page.wrapped(f"{side.name} cannot be understood:")
        for problem in side.problems:
            remedy = f" → {problem.remedy}" if problem.remedy else ""
            page.wrapped(f"{problem.place}: {problem.message}{remedy}", first="  ", rest="      ")
        page.line()


def _more(page: Page, count: int) -> None:
    if count > _MOST_ROWS:
        page.line(f"  … and {count - _MOST_ROWS} more; --output json lists all")


def amps(value: float | None) -> str:
    """A current for a table; a dash where there is none."""
    return "—" if value is None else f"{value:.1f} A"


def source_row(effect: SourceEffect) -> tuple[str, ...]:
    """One source effect as the cells of a table."""
    margin = effect.margin_a
    if effect.after_a is None:
        left = "not loaded"
    elif margin is None:
        left = "rating not recorded"
    elif margin < -1e-9:
        left = f"OVER by {'at least ' if effect.at_least else ''}{-margin:.1f} A"
    else:
        left = f"{'at most ' if effect.at_least else ''}{margin:.1f} A left"
    at, now = f"{effect.source} {effect.pole}", amps(effect.after_a)
    now = f"≥ {now}" if effect.at_least else now
    return effect.condition, at, amps(effect.before_a), now, amps(effect.rating_a), left


def protection_row(effect: ProtectionEffect) -> tuple[str, ...]:
    """One protection effect as the cells of a table."""

    def half(rating: float | None, limit: float | None, verdict: str) -> str:
        if verdict == "not there":
            return "—"
        device = amps(rating) if rating is not None else "rating not recorded,"
        allowed = f"that allows {amps(limit)}" if limit is not None else "of unknown ampacity"
        return f"{device} on a conductor {allowed}: {verdict}"

    return (
        effect.cable,
        effect.device,
        half(effect.before_a, effect.before_limit_a, effect.before),
        half(effect.after_a, effect.after_limit_a, effect.after),
    )


SOURCE_HEAD = ("condition", "source", "before", "after", "rating", "margin")
PROTECTION_HEAD = ("cable", "device", "before", "after")


def _table(page: Page, head: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    shown = [tuple(clean(cell) for cell in row) for row in (head, *rows[:_MOST_ROWS])]
    widths = [max(len(row[column]) for row in shown) for column in range(len(head))]
    if sum(widths) + 2 * len(widths) > page.width:
        # Too wide for columns: what breaks in the middle of a row is misread.
        for row in shown[1:]:
            named = zip((*head[2:-1], ""), row[2:], strict=True)
            said = ", ".join(f"{name} {cell}".strip() for name, cell in named)
            page.wrapped(f"{row[0]}, {row[1]}: {said}", first="  ", rest="      ")
        _more(page, len(rows))
        return
    for row in shown:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        page.line(("  " + "  ".join(cells)).rstrip())
    _more(page, len(rows))


CURRENT_HEAD = ("cable", "pole", "before", "after", "may carry", "worst in")
DROP_HEAD = ("load", "before", "after", "worst in")
FAULT_HEAD = ("device", "largest fault before", "after")


def solved_tables(solved: SolvedEffects) -> list[tuple[str, tuple[str, ...], list[tuple[str, ...]]]]:
    """The effects on the solved conditions as (title, head, rows); what is empty is left out."""
    currents: list[tuple[str, ...]] = [
        (e.cable, e.pole, amps(e.before_a), amps(e.after_a), _may_carry(e), e.condition) for e in solved.currents
    ]
    drops: list[tuple[str, ...]] = [(e.load, _percent(e.before), _percent(e.after), e.condition) for e in solved.drops]
    faults: list[tuple[str, ...]] = [(e.device, _fault(e.before_a), _fault(e.after_a)) for e in solved.faults]
    tables = [
        ("Current in cables (worst condition)", CURRENT_HEAD, currents),
        ("Voltage drop at loads (worst condition)", DROP_HEAD, drops),
        ("Faults that devices must break", FAULT_HEAD, faults),
    ]
    return [table for table in tables if table[2]]


def _may_carry(effect: CurrentEffect) -> str:
    return "not recorded" if effect.carries_a is None else _span(effect.carries_a)


def _percent(value: float | None) -> str:
    return "—" if value is None else f"{value * 100:.1f} %"


def _fault(value: float | None) -> str:
    if value is not None and value < 1:
        return "not certain"  # the least that the unknowns leave open: no promise that it is small
    return "—" if value is None else units.show("current", float(f"{value:.3g}"))


SHOCK_TITLE = "After this change one further failure is enough to leave metal live"


def _effect_lines(page: Page, effects: Effects) -> None:
    if effects.shocks:
        page.wrapped(SHOCK_TITLE)
        for entry in effects.shocks[:_MOST_ROWS]:
            page.wrapped(shock_report.in_short(entry), first="  ", rest="      ")
        _more(page, len(effects.shocks))
        page.line()
    if effects.sources:
        page.line("Load on the sources")
        _table(page, SOURCE_HEAD, [source_row(effect) for effect in effects.sources])
        page.line()
    for title, head, rows in solved_tables(effects.solved):
        page.line(title)
        _table(page, head, rows)
        page.line()
    if effects.protection:
        page.line("Protection")
        for effect in effects.protection[:_MOST_ROWS]:
            cable, device, was, now = protection_row(effect)
            now = "no longer behind it" if now == "—" else now
            page.wrapped(
                f"{cable} behind {device}: {now}" + (f" (was {was})" if was != "—" else ""), first="  ", rest="      "
            )
        _more(page, len(effects.protection))
        page.line()
    if effects.potentials:
        page.line("What can be live where")
        for potential in effects.potentials[:_MOST_ROWS]:
            words = [f"gains {', '.join(potential.gained)}"] if potential.gained else []
            words += [f"loses {', '.join(potential.lost)}"] if potential.lost else []
            page.wrapped(f"{potential.place} {'; '.join(words)}", first="  ", rest="      ")
        _more(page, len(effects.potentials))
        page.line()


# --- Markdown -----------------------------------------------------------------------------------


def table_markdown(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> list[str]:
    """A Markdown table."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(escape(cell) for cell in row) + " |" for row in rows]
    return [*lines, ""]


def review_markdown(found: Review) -> str:
    """A review as Markdown."""
    lines = [f"# Review of {escape(name_of(found))}", ""]
    lines += [f"{escape(found.before.name)} → {escape(found.after.name)}", "", f"**{escape(verdict(found))}**", ""]
    lines += [f"**{escape(own)}**", ""] if (own := accepts_own(found)) else []
    lines += quoted(CAUTIONS)
    for side in (found.before, found.after):
        lines += problems_section(side)
    rows = told(found)
    if rows:
        lines += ["## What changed", "", *(f"- {escape(sentence)}" for _, _, sentence in rows), ""]
    lines += effects_markdown(found.effects)
    told_apart = (
        (_new_title(found), found.counting),
        ("New findings that a concession accepts", _accepted(found.new)),
        ("Cleared findings", found.cleared),
    )
    for title, findings in told_apart:
        if findings:
            lines += [f"## {title}", ""]
            for finding in findings:
                lines += finding_markdown(finding, level=3)
    if found.inherited:
        lines += ["## Inherited findings", ""]
        lines += [*map(inherited_line, found.inherited), ""]
    if found.newly_unjudged:
        lines += ["## Newly not judged, for want of data", ""]
        rows_unjudged = [(each.item, each.missing, each.rule) for each in found.newly_unjudged]
        lines += table_markdown(("item", "not recorded", "needed for"), rows_unjudged)
    return "\n".join(lines)


def inherited_line(finding: Finding) -> str:
    """A finding in one line of a Markdown list, with the concession that covers it."""
    words = f" {conceded_words(finding.conceded)}" if finding.conceded is not None else ""
    return f"- {finding.signal_word} `{finding.rule}`: {escape(finding.message)}{'.' if words else ''}{escape(words)}"


def problems_section(side: Side) -> list[str]:
    """Why a state cannot be understood, as Markdown lines."""
    if side.boat is not None:
        return []
    lines = [f"## {escape(side.name)} cannot be understood", ""]
    for problem in side.problems:
        remedy = f" ({escape(problem.remedy)})" if problem.remedy else ""
        lines.append(f"- {code(str(problem.place))}: {escape(problem.message)}{remedy}")
    return [*lines, ""]


def effects_markdown(effects: Effects) -> list[str]:
    """The effects as Markdown tables."""
    lines: list[str] = []
    if effects.shocks:
        lines += [f"## {SHOCK_TITLE}", "", *(f"- {escape(shock_report.in_short(e))}" for e in effects.shocks), ""]
    if effects.sources:
        lines += ["## Load on the sources", "", *table_markdown(SOURCE_HEAD, [source_row(e) for e in effects.sources])]
    if effects.protection:
        rows = [protection_row(effect) for effect in effects.protection]
        lines += ["## Protection", "", *table_markdown(PROTECTION_HEAD, rows)]
    if effects.conductors:
        conductors = [
            (
                e.cable,
                e.before_size or "—",
                e.after_size or "—",
                _span(e.before_a),
                _span(e.after_a),
            )
            for e in effects.conductors
        ]
        head = ("cable", "size before", "size after", "may carry before", "may carry after")
        lines += ["## Conductors", "", *table_markdown(head, conductors)]
    for title, columns, solved in solved_tables(effects.solved):
        lines += [f"## {title}", "", *table_markdown(columns, solved)]
    if effects.potentials:
        potentials = [(e.place, ", ".join(e.gained) or "—", ", ".join(e.lost) or "—") for e in effects.potentials]
        lines += ["## What can be live where", "", *table_markdown(("place", "gains", "loses"), potentials)]
    return lines


def _span(amps_range: tuple[float, float] | None) -> str:
    if amps_range is None:
        return "—"
    low, high = amps_range
    return f"{low:.4g} A" if low == high else f"{low:.4g} to {high:.4g} A"
