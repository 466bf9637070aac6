"""Fault levels and protective devices as terminal text and Markdown."""

from __future__ import annotations

from collections.abc import Iterable

from vesselspec.report.fault_rows import (
    NOTES,
    ConditionReport,
    DeviceRow,
    amps_words,
    breaks_words,
    first_words,
    largest_words,
    reasons_of,
    shares_words,
    smallest_words,
    time_words,
    verdict_word,
)
from vesselspec.report.markdown import escape, finding_markdown, quoted
from vesselspec.report.survey import Subject
from vesselspec.report.terminal import CAUTIONS, Page, counts_line, finding_lines, grouped
from vesselspec.rules import Boat, Survey


def faults_text(page: Page, subject: Subject, boat: Boat, reports: tuple[ConditionReport, ...], survey: Survey) -> str:
    """Fault levels for a terminal."""
    page.wrapped(f"Fault levels of {subject.vessel}, {subject.state}")
    page.line()
    for note in NOTES:
        page.wrapped(note)
    if not reports:
        page.line()
        page.wrapped("No operating condition is recorded: without one nobody knows which sources come together.")
    for report in reports:
        page.line()
        page.wrapped(f"In {report.condition}:")
        if not report.places:
            page.wrapped("no source feeds a fault here.", first="  ")
        for place, levels in report.places:
            page.wrapped(boat.vessel.name_of(place), first="  ", rest="    ")
            for level in levels:
                page.wrapped(
                    f"{'-'.join(level.pair):7} largest {largest_words(level)}, smallest {smallest_words(level)}"
                    + (f"; from {shares_words(level)}" if level.shares else ""),
                    first="    ",
                    rest="            ",
                )
                for step in level.derivation if len(report.places) <= _FEW else ():
                    page.wrapped(step, first="          = ", rest="            ")
        if report.devices:
            page.line()
            page.wrapped(
                "Devices: what each can break against the fault through it; how soon it opens then.", first="  "
            )
        for row in report.devices:
            _device_lines(page, boat, row, full=len(report.places) <= _FEW)
    page.line()
    _missing_lines(page, reports)
    for finding in survey.findings:
        finding_lines(page, finding)
        page.line()
    for item, missing, _ in grouped(survey.cannot_judge):
        page.wrapped(f"{item}: {missing} is not recorded", first="  ? ", rest="    ")
    page.wrapped(counts_line(survey.counts()) + f"; {len(survey.cannot_judge)} not judged for want of data.")
    page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


#: Up to so many places the text also tells how each figure came about.
_FEW = 6


def _device_lines(page: Page, boat: Boat, row: DeviceRow, *, full: bool) -> None:
    rating = "? A" if row.device.rating_a is None else amps_words(row.device.rating_a)
    can, verdict = breaks_words(row)
    fault = "?" if row.through is None else amps_words(row.through.high_a * row.through.asymmetry)
    parts = [f"{boat.vessel.name_of(row.device.place)}: {rating}, breaks {can}, fault {fault}: {verdict}"]
    parts.append(f"opens {time_words(row)}")
    if row.earth_fault is not None:
        parts.append(
            f"earth fault off in {row.earth_fault.deadline.seconds:g} s: {verdict_word(row.earth_fault.verdict)}"
        )
    if row.stood is not None:
        parts.append(f"conductor stands it: {verdict_word(row.stood.verdict)}")
    if row.series:
        parts.append(f"opens first: {first_words(row)}")
    page.wrapped("; ".join(parts), first="    ", rest="      ")
    for reason in reasons_of(row) if full else ():
        page.wrapped(reason, first="        - ", rest="          ")


def _missing(reports: Iterable[ConditionReport]) -> dict[tuple[str, str], None]:
    return {
        each: None
        for report in reports
        for _, levels in report.places
        for level in levels
        for each in (*level.missing, *level.missing_smallest)
    }


def _missing_lines(page: Page, reports: tuple[ConditionReport, ...]) -> None:
    found = _missing(reports)
    if found:
        page.line("Not recorded, and it matters to a level above:")
        for item, missing in found:
            page.wrapped(f"{item}: {missing}", first="  ? ", rest="    ")
        page.line()


# --- Markdown ------------------------------------------------------------------------------------------


def faults_markdown(subject: Subject, boat: Boat, reports: tuple[ConditionReport, ...], survey: Survey) -> str:
    """Fault levels as Markdown."""
    lines = [f"# Fault levels of {escape(subject.vessel)}", "", escape(subject.state), ""]
    lines += quoted(CAUTIONS)
    lines += [part for note in NOTES for part in (escape(note), "")]
    if not reports:
        lines += ["No operating condition is recorded: without one nobody knows which sources come together.", ""]
    for report in reports:
        lines += [f"## In {escape(report.condition)}", ""]
        lines += ["| place | poles | largest | smallest | from |", "|---|---|---|---|---|"]
        for place, levels in report.places:
            for level in levels:
                cells = (
                    boat.vessel.name_of(place),
                    "-".join(level.pair),
                    largest_words(level),
                    smallest_words(level),
                    shares_words(level),
                )
                lines.append(f"| {' | '.join(escape(cell) for cell in cells)} |")
        lines += ["", "| device | rating | can break | fault | verdict | opens | earth fault off | conductor | first |"]
        lines.append("|---|---|---|---|---|---|---|---|---|")
        for row in report.devices:
            lines.append(f"| {' | '.join(escape(cell) for cell in _device_cells(boat, row))} |")
        lines.append("")
    missing = _missing(reports)
    if missing:
        lines += ["## Not recorded, and it matters to a level above", ""]
        lines += [*(f"- {escape(item)}: {escape(word)}" for item, word in missing), ""]
    lines += [f"**{counts_line(survey.counts())}**", ""]
    for finding in survey.findings:
        lines += finding_markdown(finding, level=2)
    return "\n".join(lines)


def _device_cells(boat: Boat, row: DeviceRow) -> tuple[str, ...]:
    can, verdict = breaks_words(row)
    return (
        boat.vessel.name_of(row.device.place),
        "?" if row.device.rating_a is None else amps_words(row.device.rating_a),
        can,
        "?" if row.through is None else amps_words(row.through.high_a * row.through.asymmetry),
        verdict,
        time_words(row),
        "-" if row.earth_fault is None else verdict_word(row.earth_fault.verdict),
        "-" if row.stood is None else verdict_word(row.stood.verdict),
        first_words(row),
    )
