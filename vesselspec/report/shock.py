"""A fault on top of a fault, as terminal text, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.physics.faults.body import person, remembered, shock, thresholds
from vesselspec.physics.faults.shock_entries import Entry
from vesselspec.physics.faults.shock_outcome import Outcome, Silent, Span
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table, as_markdown, as_text
from vesselspec.report.shock_words import Report, fails, lacking, lines, names, present, word
from vesselspec.report.terminal import CAUTIONS, Page
from vesselspec.standards import figure

FORMAT = 1
ASSUMED = (
    "Voltages are nominal, conductors cold; what is not recorded of a line or a source is taken as no impedance, which "
    "errs towards more voltage. Loads run at their rating. A short is bolted.",
    "What hull, plate and anodes have to true earth is not known: a range of volts is from perfectly earthed to "
    "floating. The neutral ashore counts as earthed. Cases, panels and earth points count as bare metal; class II "
    "loads and panels that are not of metal do not.",
    "Shock in the water, capacitive leakage, and two further failures at once are not worked out.",
)


def _dc_scope() -> float:
    return float(figure("dc_scope").data["V"])


def dc_told() -> str:
    """Why faults in DC systems are left out."""
    return (
        f"Faults in DC systems up to {_dc_scope():g} V nominal, as far as the craft standard for DC goes "
        f"({figure('dc_scope').source}), are left out: a positive on a case or on the hull eats metal and starts fires "
        "there, which the survey's rules are about. Systems above it are named as not judged."
    )


def not_judged(vessel: Vessel) -> tuple[tuple[str, float], ...]:
    """DC systems whose voltage is above what is left out with a reason, with their nominal voltage in V."""
    systems = ((key, system.voltage.line_v) for key, system in vessel.systems.items() if system.is_dc)
    return tuple((key, volts) for key, volts in systems if volts > _dc_scope())


def _blocks(report: Report) -> Iterator[Block]:
    where = f", {report.place}" if report.place else ""
    yield Heading(f"One more fault: {report.subject.vessel}{where}, {report.subject.state}", 1)
    yield Paragraph("The record as it is, with one further failure. Each caution at the end applies to each line.")
    groups = (
        ("One further failure is enough", [e for e in report.entries if e.counts]),
        ("Bare pins become live", [e for e in report.entries if e.worst.deadly and not e.counts]),
        ("Cannot be judged", [e for e in report.entries if e.verdict == "cannot judge"]),
        ("Nothing to touch, but", [e for e in report.entries if e.verdict == "nothing live" and not _idle(e)]),
        (
            f"Live, but below {thresholds().dangerous_v:g} V",
            [e for e in report.entries if e.verdict == "below the limit"],
        ),
        ("Cleared in time", [e for e in report.entries if e.verdict == "cleared"]),
    )
    for title, chosen in groups:
        if chosen or title == groups[0][0]:
            yield Heading(title)
        if not chosen and title == groups[0][0]:
            yield Paragraph("None found among the failures that could be judged.")
        for entry in chosen:
            yield Heading(f"{word(entry)} if {fails(entry)}", 3)
            yield Bullets(tuple(lines(report, entry)))
    high = not_judged(report.vessel)
    if high:
        yield Heading(f"Not judged: DC above {_dc_scope():g} V")
        yield Bullets(
            tuple(
                f"{key}, {volts:g} V nominal: a positive on a case, and what a person gets from it, is not worked out. "
                "Take every fault in it for deadly."
                for key, volts in high
            )
        )
    if report.silent:
        yield Heading("Hangs on one thing whose loss nobody would notice")
        yield Paragraph(
            "Everything works on without it. The next short of a line to one of these cases then stays live."
        )
        yield Table(("what is lost", "cases", "in"), tuple(_silent_rows(report.silent)), right=(1,))
    yield Heading("How it is worked out")
    yield Bullets(
        (
            *ASSUMED,
            dc_told(),
            *(f"{told} ({person().source})" for told in person().derivation),
            *thresholds().derivation,
            *(f"from memory, and deciding nothing: {told}" for told in remembered()),
        )
    )
    for caution in CAUTIONS:
        yield Paragraph(caution, "caution")


def _idle(entry: Entry) -> bool:
    return entry.worst.feeds is None and not entry.worst.live_off


_LOST = {"earth": "earth core of", "relay-open": "neutral-earth relay (stays open) of", "residual": "leakage trip of"}


def _silent_rows(found: Iterable[Silent]) -> Iterator[tuple[str, str, str]]:
    groups: dict[tuple[str, str], list[Silent]] = {}
    for each in found:
        groups.setdefault((each.kind, each.item), []).append(each)
    for (kind, item), group in sorted(groups.items(), key=lambda pair: -max(len(each.places) for each in pair[1])):
        cases = dict.fromkeys(place for each in group for place in each.places)
        yield f"{_LOST[kind]} {item}", str(len(cases)), names(dict.fromkeys(each.condition for each in group))


def shock_text(page: Page, report: Report) -> str:
    """The page for a terminal."""
    return as_text(page, _blocks(report))


def shock_markdown(report: Report) -> str:
    """The page as Markdown."""
    return as_markdown(_blocks(report))


def _pair(span: Span | None) -> list[float] | None:
    return None if span is None else [round(span[0], 3), round(span[1], 3)]


def _outcome_json(outcome: Outcome) -> dict[str, Any]:
    return {
        "failure": outcome.failure.kind,
        "item": outcome.failure.item,
        "detail": outcome.failure.detail,
        "condition": outcome.condition,
        "sources": list(outcome.sources),
        "verdict": outcome.verdict,
        "touch_v": _pair(outcome.case_v),
        "hull_v": _pair(outcome.hull_v),
        "fault_a": None if outcome.amps is None else round(outcome.amps, 3),
        "device": outcome.device,
        "within_s": outcome.within_s,
        "load_v": _pair(outcome.feeds),
    }


def _entry_json(report: Report, entry: Entry) -> dict[str, Any]:
    worst = entry.worst
    one = shock(worst.case_v[1]) if worst.case_v is not None else None
    return {
        "verdict": entry.verdict,
        "counts": entry.counts,
        "cause": list(entry.cause),
        "says": f"{word(entry)} if {fails(entry)}",
        "lines": list(lines(report, entry)),
        "places": list(entry.places),
        "conditions": list(entry.conditions),
        "sources": list(entry.sources),
        "touch_v": _pair(worst.case_v),
        "hull_v": _pair(worst.hull_v),
        "wet_ma": None if one is None else _pair((1000 * one.wet_a[0], 1000 * one.wet_a[1])),
        "dry_ma": None if one is None else _pair((1000 * one.dry_a[0], 1000 * one.dry_a[1])),
        "effect": None if one is None else {"worst": one.worst, "least": one.least},
        "live_when_off": list(worst.live_off),
        "missing": [{"item": item, "what": what} for item, what in lacking(entry)],
        "present": present(entry),
        "findings": [{"rule": f.rule, "fingerprint": f.fingerprint} for f in report.related.get(entry, ())],
        "outcomes": [_outcome_json(each) for each in entry.outcomes],
    }


def shock_json(report: Report) -> dict[str, Any]:
    """The result for machines: schema/shock.schema.json."""
    return {
        "format": FORMAT,
        "kind": "shock",
        "understood": True,
        "vessel": report.subject.vessel,
        "state": report.subject.state,
        "place": report.place,
        "counting": len(report.counting),
        "entries": [_entry_json(report, entry) for entry in report.entries],
        "silent": [
            {
                "failure": each.kind,
                "item": each.item,
                "detail": each.detail,
                "condition": each.condition,
                "places": list(each.places),
            }
            for each in report.silent
        ],
        "dc_not_judged": [{"system": key, "nominal_v": volts} for key, volts in not_judged(report.vessel)],
        "worked_out": [*ASSUMED, dc_told(), *person().derivation, *thresholds().derivation],
        "from_memory": list(remembered()),
        "cautions": list(CAUTIONS),
        "problems": [],
    }
