"""The summary of a change for the next technician, as Markdown with its pictures beside it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from vesselspec.changes.openings import Differs, Opening
from vesselspec.report.markdown import escape, finding_markdown, quoted
from vesselspec.report.review import inherited_line, table_markdown
from vesselspec.report.summary_content import Done, Summary, Table, Why
from vesselspec.report.summary_words import (
    CHANGED,
    CHECKS,
    DO_NOT,
    LOADS,
    NO_CHECKS,
    OPENS,
    PICTURES,
    WHY,
    isolation_lines,
    potential,
    where,
)


def summary_markdown(page: Summary) -> str:
    """The page as Markdown."""
    lines = [f"# {escape(page.title)}", "", escape(f"{page.vessel}. {page.stamp}"), ""]
    lines += [f"**{escape(page.verdict)}**", ""]
    lines += [f"**{escape(page.accepts_own)}**", ""] if page.accepts_own else []
    lines += quoted(f"**Caution.** {caution}" for caution in page.cautions)
    for trouble in page.troubles:
        lines += [f"## {escape(trouble.state)} cannot be understood", ""]
        for place, message, remedy in trouble.problems:
            lines.append(f"- {escape(place)}: {escape(message)}" + (f" ({escape(remedy)})" if remedy else ""))
        lines.append("")
    if page.grave:
        lines += [f"## {DO_NOT}", ""]
        for finding in page.grave:
            lines += finding_markdown(finding, level=3)
    if page.understood:
        lines += [f"## {CHANGED}", "", *(line for done in page.done for line in _done(done))]
        lines += [""] if page.done else ["- nothing", ""]
    if page.why:
        lines += [f"## {WHY}", "", *(line for why in page.why for line in _why(why))]
    if page.panels or page.elsewhere:
        lines += [f"## {OPENS}", ""]
        for panel in page.panels:
            lines += _panel(panel)
        if page.elsewhere:
            lines += ["### Outside the panels", ""]
            for each in page.elsewhere:
                lines.append(f"- {escape(', '.join(each.places))}: {escape(potential(each.gained, each.lost))}")
            lines.append("")
    if page.understood:
        ticks = [
            f"- [ ] {escape(c.what)}" + (f" — {escape(', '.join(c.where))}" if c.where else "") for c in page.checks
        ]
        lines += [f"## {CHECKS}", "", *(ticks or [NO_CHECKS]), ""]
    if page.pictures:
        lines += [f"## {PICTURES}", ""]
        for picture in page.pictures:
            lines += [f"{picture.title}:", "", f"![{escape(picture.alt)}]({picture.file})", ""]
    if page.tables or page.shocks:
        lines += [f"## {LOADS}", "", *_figures(page.tables)]
    if page.shocks:
        lines += [f"### {page.shock_title}", "", *(f"- {escape(said)}" for said in page.shocks), ""]
    for title, findings in page.findings:
        lines += [f"## {title}", "", *map(inherited_line, findings), ""]
    return "\n".join(lines)


def _done(done: Done) -> Iterator[str]:
    said = where(done)
    yield f"- {escape(done.what)}" + (f" — {escape(said)}" if said else "")
    yield from (f"  - {escape(more)}" for more in done.more)


def _why(why: Why) -> Iterator[str]:
    yield from (f"- **{escape(why.subject)}** ({escape(why.author)}, {why.when}, `{why.id}`)", "")
    for paragraph in why.paragraphs:
        yield from (f"  {escape(paragraph)}", "")


def _panel(panel: Opening) -> list[str]:
    lines = [f"### {escape(panel.name)}", ""]
    if panel.state:
        lines += [f"- this panel is {'new' if panel.state == 'added' else 'gone'}"]
    lines += [f"- **{escape(p.title)}** {escape(potential(p.gained, p.lost))}" for p in panel.potentials]
    lines += [f"- isolation: {escape(line)}" for line in isolation_lines(panel.isolation)]
    lines += _both(panel.circuits, "in", "out")
    lines += [f"- rewired: {escape(said)}" for said in panel.rewired]
    lines += [f"- label: {escape(said)}" for said in panel.labels]
    lines += _both(panel.colours, "colour, new here", "colour, no longer")
    return [*lines, ""]


def _both(differs: Differs, now: str, gone: str) -> list[str]:
    gained = [f"- {now}: {escape(said)}" for said in differs.gained]
    return gained + [f"- {gone}: {escape(said)}" for said in differs.lost]


def _figures(tables: Iterable[Table]) -> Iterator[str]:
    for table in tables:
        yield from (f"### {table.title}", "", *table_markdown(table.head, table.rows))
