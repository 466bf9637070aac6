"""A logbook as terminal text and Markdown."""

from __future__ import annotations

from vesselspec.report.logbook_loads import load_words
from vesselspec.report.logbook_words import (
    FOOT,
    NOT_COMMITTED,
    Entry,
    Logbook,
    by_evidence,
    changes_of,
    elsewhere,
    few,
    finding_words,
    head_words,
    notes,
    since_words,
    unverified_words,
    visit_notes,
)
from vesselspec.report.markdown import code, escape, quoted
from vesselspec.report.terminal import CAUTIONS, Page, one_line


def logbook_text(page: Page, book: Logbook) -> str:
    """A logbook for a terminal."""
    page.wrapped(one_line(head_words(book)))
    for note in notes(book):
        page.wrapped(note)
    page.line()
    for entry in book.entries:
        _entry_lines(page, book, entry)
    if book.unverified:
        page.line("Changed, and not looked at on board since")
        for each in book.unverified:
            page.wrapped(one_line(unverified_words(book, each)), first="  ? ", rest="    ")
        page.line()
    if book.since is not None:
        page.line("Since when the findings of now are there, concessions aside")
        for found in book.since:
            page.line(f"  {page.word(found.finding.signal_word)} {found.finding.rule}")
            page.wrapped(one_line(found.finding.message), first="      ")
            page.wrapped(one_line(since_words(book, found)), first="      ")
        if not book.since:
            page.line("  none")
        page.line()
    page.wrapped(FOOT)
    page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def _entry_lines(page: Page, book: Logbook, entry: Entry) -> None:
    revision = entry.revision
    page.wrapped(one_line(f"{revision.date or NOT_COMMITTED}  {revision.short}  {revision.author}".rstrip()))
    if revision.subject:
        page.wrapped(one_line(revision.subject), first="    ")
    for note in visit_notes(book, entry):
        page.wrapped(note, first="    ")
    for problem in entry.visit.problems[:3]:
        page.wrapped(one_line(f"{problem.place}: {problem.message}"), first="    ! ", rest="      ")
    for sentence in few(changes_of(entry)):
        page.wrapped(one_line(sentence), first="  • ", rest="    ")
    for words, ids in by_evidence(entry.visit.done.renewed):
        page.wrapped(one_line(f"evidence: {words}: {', '.join(few(ids))}"), first="  ✓ ", rest="    ")
    for sentence in load_words(entry.loads or (), of_all=not book.asked_of):
        page.wrapped(one_line(sentence), first="  ~ ", rest="    ")
    if entry.judged is not None:
        for found in entry.judged.new:
            page.wrapped(one_line(f"new: {finding_words(found)}"), first="  + ", rest="    ")
        for found in entry.judged.cleared:
            page.wrapped(one_line(f"cleared: {finding_words(found)}"), first="  - ", rest="    ")
        if entry.judged.elsewhere:
            page.wrapped(elsewhere(entry.judged), first="  · ")
    page.line()


# --- Markdown -----------------------------------------------------------------------------------


def logbook_markdown(book: Logbook) -> str:
    """A logbook as Markdown."""
    lines = [f"# {escape(f'Logbook of {book.subject}')}", "", f"{escape(book.vessel)}, {escape(book.state)}", ""]
    lines += [line for note in notes(book) for line in (escape(note), "")]
    lines += quoted(CAUTIONS)
    for entry in book.entries:
        lines += _entry_markdown(book, entry)
    if book.unverified:
        lines += ["## Changed, and not looked at on board since", ""]
        lines += [*(f"- [ ] {escape(unverified_words(book, each))}" for each in book.unverified), ""]
    if book.since is not None:
        lines += ["## Since when the findings of now are there, concessions aside", ""]
        for found in book.since:
            lines.append(f"- {escape(finding_words(found.finding))}  ")
            lines.append(f"  {escape(since_words(book, found))}")
        lines += ["" if book.since else "None.", ""]
    return "\n".join([*lines, escape(FOOT), ""])


def _entry_markdown(book: Logbook, entry: Entry) -> list[str]:
    revision = entry.revision
    where = f"{revision.date or NOT_COMMITTED}, {revision.short}"
    lines = [f"## {escape(where)}" + (f", {escape(revision.author)}" if revision.author else ""), ""]
    lines += [f"**{escape(revision.subject)}**", ""] if revision.subject else []
    lines += [line for note in visit_notes(book, entry) for line in (escape(note), "")]
    rows = [f"- {code(str(each.place))}: {escape(each.message)}" for each in entry.visit.problems]
    rows += [f"- {escape(sentence)}" for sentence in changes_of(entry)]
    rows += [f"- Evidence: {escape(w)}: {escape(', '.join(ids))}" for w, ids in by_evidence(entry.visit.done.renewed)]
    loads = load_words(entry.loads or (), of_all=not book.asked_of)
    rows += [f"- {escape(sentence[:1].upper() + sentence[1:])}" for sentence in loads]
    if entry.judged is not None:
        rows += [f"- New: {escape(finding_words(found))}" for found in entry.judged.new]
        rows += [f"- Cleared: {escape(finding_words(found))}" for found in entry.judged.cleared]
        if entry.judged.elsewhere:
            rows.append(f"- {elsewhere(entry.judged)}")
    return [*lines, *rows, *([""] if rows else [])]
