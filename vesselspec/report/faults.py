"""Fault levels and what stops them, as terminal text, Markdown and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from vesselspec.model.devices import Load
from vesselspec.physics.faults.devices import Device, DeviceChecks, EarthFault, Series, Stood, Through
from vesselspec.physics.faults.levels import Level
from vesselspec.physics.faults.tripping import Limit
from vesselspec.report.markdown import escape, finding_markdown, quoted
from vesselspec.report.survey import Subject, finding_json, unjudged_json
from vesselspec.report.terminal import CAUTIONS, Page, counts_line, finding_lines, grouped
from vesselspec.rules import Boat, Survey, by_word
from vesselspec.units import show

FORMAT = 1
NOTES = (
    "Largest: all sources together, conductors cold. Smallest: the weakest source alone, conductors hot. Contacts and "
    "joints have no impedance, voltages are nominal, and running motors are not counted.",
    "at most: what is not recorded was taken as if it limited nothing. ?: cannot be told. ~: order of magnitude only.",
)


@dataclass(frozen=True)
class DeviceRow:
    """A protective device in a condition, with its worst case of each check."""

    device: Device
    through: Through | None
    earth_fault: EarthFault | None
    stood: Stood | None
    series: tuple[Series, ...]


@dataclass(frozen=True)
class ConditionReport:
    """What is to be said of one condition: fault levels by place, and the devices."""

    condition: str
    places: tuple[tuple[str, tuple[Level, ...]], ...]
    devices: tuple[DeviceRow, ...]


_WORST = {"not": 0, "undecided": 1, "certain": 2}


def gather(
    boat: Boat, checks: Iterable[DeviceChecks], place: str | None, *, whole: bool
) -> tuple[ConditionReport, ...]:
    """Work out the rows; `place` keeps what is at it or inside it, `whole` also the ends of circuits."""
    return tuple(
        ConditionReport(
            each.levels.condition,
            tuple(_places(boat, each, place, whole=whole)),
            tuple(row for row in _devices(each) if _within(row.device.place, place)),
        )
        for each in checks
    )


def _within(place: str, asked: str | None) -> bool:
    return asked is None or place == asked or place.startswith(f"{asked}/")


def _places(
    boat: Boat, checks: DeviceChecks, asked: str | None, *, whole: bool
) -> Iterator[tuple[str, tuple[Level, ...]]]:
    found: dict[str, list[Level]] = {}
    for place, pair in checks.levels.pairs():
        if not _within(place, asked):
            continue
        end = place in boat.vessel.ways or isinstance(boat.vessel.device(place), Load)
        if asked is None and end and not whole:
            continue  # a way has the level of its section, and a load is asked for by name
        level = checks.levels.level(place, pair)
        if level is not None:
            found.setdefault(place, []).append(level)
    yield from ((place, tuple(levels)) for place, levels in found.items())


def _devices(checks: DeviceChecks) -> Iterator[DeviceRow]:
    through: dict[str, Through] = {}
    for each in checks.through():
        before = through.get(each.device)
        if before is None or each.high_a * each.asymmetry > before.high_a * before.asymmetry:
            through[each.device] = each
    earth: dict[str, EarthFault] = {}
    for fault in checks.earth_faults():
        if fault.device not in earth or _rank(fault) < _rank(earth[fault.device]):
            earth[fault.device] = fault
    stood: dict[str, Stood] = {}
    for one in checks.stood():
        if one.device not in stood or _WORST[one.verdict] < _WORST[stood[one.device].verdict]:
            stood[one.device] = one
    series: dict[str, dict[str, Series]] = {}
    for two in checks.series():
        series.setdefault(two.device, {}).setdefault(two.upstream, two)
    for key, worst in through.items():
        yield DeviceRow(checks.devices[key], worst, earth.get(key), stood.get(key), tuple(series.get(key, {}).values()))


def _rank(fault: EarthFault) -> tuple[int, float]:
    return _WORST[fault.verdict], fault.amps if fault.amps is not None else -1.0


# --- words -------------------------------------------------------------------------------------------


def _amps(value: float | None) -> str:
    if value is None:
        return "?"
    return show("current", value) if math.isfinite(value) and value < 1e9 else "not limited here"


def largest_words(level: Level) -> str:
    """The largest fault in words."""
    if not math.isfinite(level.high_a):
        words = "not limited here"
    else:
        exact = level.known and level.high_a - level.low_a <= 1e-6 * level.high_a
        words = ("" if exact else "at most ") + _amps(level.high_a)
    return words + (f" (~{_amps(level.estimate_a)})" if level.estimate_a is not None else "")


def smallest_words(level: Level) -> str:
    """The smallest fault in words, with the source that it is from where there are several."""
    if level.smallest_a is None:
        return "?"
    return _amps(level.smallest_a) + (f" ({level.smallest_from})" if len(level.smallest_by) > 1 else "")


def shares_words(level: Level) -> str:
    """Who gives how much to the largest fault."""
    return ", ".join(f"{s.source} {'at most ' if s.limits_itself else ''}{_amps(s.amps)}" for s in level.shares)


def breaks_words(row: DeviceRow) -> tuple[str, str]:
    """What a device can break, against the fault through it; and the verdict."""
    if row.through is None:
        return "?", "no fault reaches it"
    breaks = row.device.breaks(dc=row.through.pair[0] == "DC+")
    worst = row.through.high_a * row.through.asymmetry
    if breaks is None:
        return "?", "rating not recorded"
    rating, _, memory = breaks
    told = _amps(rating) + (" (from memory)" if memory else "")
    if worst <= rating * (1 + 1e-9):
        return told, "undecided" if memory else "breaks it"
    certain = row.through.low_a > rating * (1 + 1e-9)
    return told, "too little" if certain and not memory else "undecided"


def time_words(row: DeviceRow) -> str:
    """The published bounds of the time in which a device opens at the largest fault through it."""
    band = row.device.band
    if row.through is None or not math.isfinite(row.through.low_a):
        return "?"
    if not band.opens:
        return "no bound"
    remembered = all(limit.from_memory for limit in band.opens)
    latest = band.latest(row.through.low_a, memory=remembered)
    soonest = band.soonest(row.through.high_a, memory=remembered)
    if latest is None:
        return "no bound at this current"
    least = f"{soonest.seconds:g} s to " if soonest is not None else "within "
    return f"{least}{latest.seconds:g} s" + (" (from memory)" if remembered else "")


def _verdict(verdict: str | None) -> str:
    return {"certain": "yes", "not": "NO", "undecided": "undecided", None: "-"}[verdict]


def _first(row: DeviceRow) -> str:
    return "; ".join(f"{_verdict(s.order.verdict)} ({s.upstream})" for s in row.series) or "-"


def _reasons(row: DeviceRow) -> Iterator[str]:
    if row.earth_fault is not None and row.earth_fault.verdict != "certain":
        yield f"earth fault at {row.earth_fault.place}: {row.earth_fault.why}"
    if row.stood is not None and row.stood.verdict != "certain":
        yield f"cable {row.stood.cable}: {row.stood.why}"
    for each in row.series:
        if each.order.verdict == "not":
            yield f"against {each.upstream}: {each.order.why}"


# --- terminal ------------------------------------------------------------------------------------------


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
    rating = "? A" if row.device.rating_a is None else _amps(row.device.rating_a)
    can, verdict = breaks_words(row)
    fault = "?" if row.through is None else _amps(row.through.high_a * row.through.asymmetry)
    parts = [f"{boat.vessel.name_of(row.device.place)}: {rating}, breaks {can}, fault {fault}: {verdict}"]
    parts.append(f"opens {time_words(row)}")
    if row.earth_fault is not None:
        parts.append(f"earth fault off in {row.earth_fault.deadline.seconds:g} s: {_verdict(row.earth_fault.verdict)}")
    if row.stood is not None:
        parts.append(f"conductor stands it: {_verdict(row.stood.verdict)}")
    if row.series:
        parts.append(f"opens first: {_first(row)}")
    page.wrapped("; ".join(parts), first="    ", rest="      ")
    for reason in _reasons(row) if full else ():
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
        "?" if row.device.rating_a is None else _amps(row.device.rating_a),
        can,
        "?" if row.through is None else _amps(row.through.high_a * row.through.asymmetry),
        verdict,
        time_words(row),
        "-" if row.earth_fault is None else _verdict(row.earth_fault.verdict),
        "-" if row.stood is None else _verdict(row.stood.verdict),
        _first(row),
    )


# --- JSON ----------------------------------------------------------------------------------------------


def faults_json(subject: Subject, boat: Boat, reports: tuple[ConditionReport, ...], survey: Survey) -> dict[str, Any]:
    """Fault levels, for machines: schema/faults.schema.json."""
    return {
        "format": FORMAT,
        "kind": "faults",
        "vessel": subject.vessel,
        "state": subject.state,
        "understood": True,
        "notes": list(NOTES),
        "conditions": [
            {
                "condition": report.condition,
                "places": [
                    {"place": place, "name": boat.vessel.name_of(place), "faults": [_level_json(e) for e in levels]}
                    for place, levels in report.places
                ],
                "devices": [_device_json(boat, row) for row in report.devices],
            }
            for report in reports
        ],
        "findings": [finding_json(finding) for finding in survey.findings],
        "cannot_judge": [unjudged_json(each) for each in survey.cannot_judge],
        "counts": survey.counts(),
        "accepted": by_word(survey.accepted),
        "on": None if survey.on is None else survey.on.isoformat(),
        "problems": [],
    }


def _number(value: float | None) -> float | None:
    """Six significant digits; what is not limited, or not known, is null."""
    return None if value is None or not math.isfinite(value) else float(f"{value:.6g}")


def _missing_json(missing: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"item": item, "missing": word} for item, word in missing]


def _level_json(level: Level) -> dict[str, Any]:
    return {
        "poles": list(level.pair),
        "largest": {
            "at_least_a": _number(level.low_a),
            "at_most_a": _number(level.high_a),
            "known": level.known,
            "estimate_a": _number(level.estimate_a),
            "asymmetry": _number(level.asymmetry),
            "contributions": [
                {"source": s.source, "amps": _number(s.amps), "limits_itself": s.limits_itself} for s in level.shares
            ],
            "missing": _missing_json(level.missing),
        },
        "smallest": {
            "amps": _number(level.smallest_a),
            "source": level.smallest_from or None,
            "by_source": {source: _number(amps) for source, amps in level.smallest_by.items()},
            "missing": _missing_json(level.missing_smallest),
        },
        "derivation": list(level.derivation),
    }


def _device_json(boat: Boat, row: DeviceRow) -> dict[str, Any]:
    through, earth, stood = row.through, row.earth_fault, row.stood
    _, verdict = breaks_words(row)
    breaks = row.device.breaks(dc=through.pair[0] == "DC+") if through is not None else None
    return {
        "device": row.device.place,
        "name": boat.vessel.name_of(row.device.place),
        "kind": row.device.kind,
        "rating_a": _number(row.device.rating_a),
        "interrupting": {
            "rating_a": _number(breaks[0]) if breaks is not None else None,
            "source": breaks[1] if breaks is not None else None,
            "from_memory": breaks[2] if breaks is not None else False,
            "poles": list(through.pair) if through is not None else [],
            "at_least_a": _number(through.low_a) if through is not None else None,
            "at_most_a": _number(through.high_a) if through is not None else None,
            "asymmetry": _number(through.asymmetry) if through is not None else None,
            "verdict": verdict,
        },
        "opens": time_words(row),
        "bounds": {
            "opens_within": [_limit_json(limit) for limit in row.device.band.opens],
            "holds_for": [_limit_json(limit) for limit in row.device.band.holds],
            "none_because": row.device.band.why_none,
        },
        "earth_fault": None
        if earth is None
        else {
            "place": earth.place,
            "poles": list(earth.pair),
            "source": earth.source,
            "amps": _number(earth.amps),
            "within_s": earth.deadline.seconds,
            "verdict": earth.verdict,
            "why": earth.why,
            "source_of_limit": earth.deadline.source,
        },
        "conductor": None
        if stood is None
        else {
            "cable": stood.cable,
            "core": stood.core,
            "verdict": stood.verdict,
            "why": stood.why,
            "derivation": list(stood.can.derivation),
            "source": stood.can.source,
        },
        "upstream": [
            {"device": s.upstream, "source": s.source, "verdict": s.order.verdict, "why": s.order.why}
            for s in row.series
        ],
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {
        "amps": _number(limit.amps),
        "seconds": _number(limit.seconds),
        "source": limit.source,
        "from_memory": limit.from_memory,
    }
