"""A fault on top of a fault, as terminal text, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from typing import Any

from vesselspec.model.vessel import Vessel
from vesselspec.physics.faults.body import person, remembered, shock, thresholds
from vesselspec.physics.faults.shock_entries import Entry
from vesselspec.physics.faults.shock_outcome import Outcome, Silent, Span
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table, as_markdown, as_text
from vesselspec.report.survey import Subject
from vesselspec.report.terminal import CAUTIONS, Page
from vesselspec.rules import Finding
from vesselspec.standards import figure

FORMAT = 1
ASSUMED = (
    "Voltages are nominal, conductors cold; what is not recorded of a line or a source is taken as no impedance, which "
    "errs towards more voltage. Loads run at their rating. A short is bolted.",
    "What hull, plate and anodes have to true earth is not known: a range of volts is from perfectly earthed to "
    "floating. The neutral ashore counts as earthed. Cases, panels and earth points count as bare metal; class II "
    "loads and panels that are not of metal do not.",
    "Shock in the water, capacitive leakage, DC, and two further failures at once are not worked out.",
)
_WORDS = {
    "stays live": "STAYS LIVE",
    "opens late": "OPENS TOO LATE",
    "opens when touched": "OPENS ONLY ONCE SOMEBODY IS THE WAY TO EARTH",
    "cannot judge": "CANNOT JUDGE",
    "cleared": "CLEARED IN TIME",
    "nothing live": "NO METAL LIVE",
}
_MOST_NAMES = 6


@dataclass(frozen=True)
class Report:
    """All that is to be said: the entries, what hangs on one thing, and findings of the survey beside each entry."""

    subject: Subject
    vessel: Vessel
    place: str | None
    entries: tuple[Entry, ...]
    silent: tuple[Silent, ...]
    related: Mapping[Entry, tuple[Finding, ...]]

    @property
    def counting(self) -> tuple[Entry, ...]:
        """Where a present deficiency and one further failure leave a case live."""
        return tuple(entry for entry in self.entries if entry.counts)


# --- words ---------------------------------------------------------------------------------------------


def names(ids: Iterable[str], most: int = _MOST_NAMES) -> str:
    """Some ids, and how many more there are."""
    every = list(ids)
    more = len(every) - most
    return ", ".join(every[:most]) + (f" and {more} more" if more > 0 else "")


def word(entry: Entry) -> str:
    """The verdict, in words."""
    if entry.verdict == "below the limit":
        return f"AT MOST {ceil(entry.worst.case_v[1]) if entry.worst.case_v else 0} V"
    return _WORDS[entry.verdict]


def fails(entry: Entry) -> str:
    """What goes wrong, in words."""
    one = entry.worst.failure
    several = names(entry.failing)
    match one.kind:
        case "nothing":
            return "nothing further goes wrong"
        case "case":
            return f"a line touches the case of {several}"
        case "earth":
            return f"the earth core of {one.item} opens"
        case "neutral":
            return f"the neutral opens at {several}"
        case "reversed":
            return f"line and neutral of {one.item} are exchanged ashore"
        case "transfer":
            return f"the transfer contacts of {one.item} stay closed while it inverts"
        case "selector":
            return f"the contact for {one.detail} of {one.item} stays closed"
        case "interlock":
            return f"the interlock {one.item} lets {one.detail} close as well"
        case _:
            return f"the neutral-earth relay of {one.item} stays closed while it passes power through"


def volts(span: Span) -> str:
    """A range of volts."""
    low, high = round(span[0]), round(span[1])
    return f"{high} V" if low == high else f"{low} to {high} V"


def _ma(span: Span) -> str:
    low, high = (f"{1000 * amps:.2g}" if amps < 0.1 else f"{1000 * amps:.0f}" for amps in span)
    return f"{low} mA" if low == high else f"{low} to {high} mA"


def body(span: Span, *, lasts: bool = True) -> str:
    """What a touch voltage does to a person, at its most; the classes are those of a current that lasts."""
    one = shock(span[1])
    if not lasts:
        return f"through a person {_ma(one.wet_a)} wet, {_ma(one.dry_a)} dry"
    return f"through a person {_ma(one.wet_a)} wet ({one.worst} at worst), {_ma(one.dry_a)} dry ({one.least} at best)"


def in_short(entry: Entry) -> str:
    """An entry that counts, in one sentence."""
    stands = (
        f"{names(entry.places, 3)} at {volts(entry.worst.case_v)}" if entry.worst.case_v else names(entry.places, 3)
    )
    return f"{fails(entry)}: {stands}, {clears(entry)} (in {names(entry.conditions, 3)})"


def _present(entry: Entry) -> str:
    """What is already amiss in the record, where the circuit shows it."""
    kind, *about = entry.cause
    if kind == "unearthed":
        return f"no earth comes to {names(about)} that leads back to the supply" if about else ""
    if kind == "late":
        return f"{about[0]} opens too late: {entry.worst.why}"
    if kind == "floating":
        return f"nothing joins the neutral of {names(about)} with earth"
    joints = tuple(dict.fromkeys(item for each in entry.outcomes for item in each.culprits))
    return f"neutral and earth are joined on board at {names(joints)}" if joints else ""


def clears(entry: Entry) -> str:
    """What ends it, and how soon."""
    worst = entry.worst
    touched = [each for each in entry.outcomes if each.verdict == "opens when touched"]
    told = _residuals(touched)
    if entry.verdict == "opens when touched":
        return f"nothing opens until it is touched, then {'; '.join(told)}"
    if entry.verdict == "stays live":
        never = dict.fromkeys(each.condition for each in entry.outcomes if each.verdict == "stays live")
        return "nothing opens" + (
            f" in {names(never)}; elsewhere only once it is touched: {'; '.join(told)}" if told else ""
        )
    if entry.verdict == "opens late":
        return f"{worst.device} does not open in time"
    if worst.within_s is not None:
        slowest = max((each for each in entry.outcomes if each.within_s is not None), key=lambda e: e.within_s or 0)
        return f"cleared within {slowest.within_s:g} s at the slowest: {slowest.why}"
    return ""


def _residuals(outcomes: Iterable[Outcome]) -> list[str]:
    """What opens once somebody is the way to earth: devices alike in one phrase."""
    groups: dict[tuple[float, float | None], dict[str, None]] = {}
    for outcome in outcomes:
        for place, amps, delay in outcome.residuals:
            groups.setdefault((amps, delay), {})[place] = None
    times = {delay: f"within {delay:g} s" if delay is not None else "in a time not recorded" for _, delay in groups}
    return [
        f"{names(places, 3)} {times[delay]} from {1000 * amps:g} mA through somebody"
        for (amps, delay), places in groups.items()
    ]


def lacking(entry: Entry) -> tuple[tuple[str, str], ...]:
    """What is not recorded and would decide."""
    return tuple(dict.fromkeys(gap for each in entry.outcomes for gap in each.missing))


def _why_open(entry: Entry) -> str:
    gaps = lacking(entry)
    if gaps:
        return "not recorded: " + "; ".join(f"{item}: {what}" for item, what in gaps[:_MOST_NAMES])
    if entry.worst.why == "joined":
        return f"it joins {' and '.join(entry.worst.sources)}, which do not run in step: no steady voltage to tell of"
    if entry.cause[0] == "floating":
        return "the first such fault draws no current; what leaks to earth decides, and no record holds that"
    return entry.worst.why


def lines(report: Report, entry: Entry) -> Iterator[str]:
    """An entry, line by line."""
    worst = entry.worst
    if worst.case_v is not None and worst.case_v[1] >= 1:
        at = worst.failure.item if worst.failure.kind == "case" or not worst.places else worst.places[0]
        hull = f", the hull and its earth points {volts(worst.hull_v)}" if worst.hull_v and worst.hull_v[1] >= 1 else ""
        lasts = entry.verdict != "cleared"
        during = "" if entry.verdict in ("stays live", "opens when touched") else ", while it lasts"
        told = body(worst.case_v, lasts=lasts)
        yield f"{report.vessel.name_of(at)} stands at {volts(worst.case_v)}{hull}{during}: {told}"
    if worst.hull_v is not None and worst.hull_v[1] >= thresholds().dangerous_v:
        rule = figure("shock_in_water")
        yield (
            f"whoever is in the water beside a live hull may be paralysed from {rule.data['rows'][0]['value']} mA "
            f"({rule.source})"
        )
    beside = [place for place in worst.places if place not in (worst.failure.item, *worst.places[:1])]
    if beside and entry.verdict != "cannot judge":
        yield f"live with it: {names(beside)}"
    if worst.feeds is not None:
        most = max((each.feeds for each in entry.outcomes if each.feeds is not None), key=lambda span: span[1])
        yield f"no metal becomes live, but loads between line and neutral get {volts(most)}: they fail or burn"
    if worst.live_off:
        metal = "" if worst.places else "no metal becomes live, but "
        yield f"{metal}live inside with their own switch off: {names(worst.live_off)}"
        shown = [key for key, panel in report.vessel.panels.items() if "polarity-indicator" in panel.fitted]
        yield f"polarity indicators: {names(shown) if shown else 'none recorded'}"
    present = _present(entry)
    if present:
        yield f"already there: {present}"
    for finding in report.related.get(entry, ()):
        yield f"the survey says: {finding.signal_word} {finding.rule}: {finding.message}"
    ends = clears(entry)
    if ends:
        yield f"what ends it: {ends}"
    if entry.verdict == "cannot judge":
        yield _why_open(entry)
    yield f"in {names(entry.conditions)}; from {names(entry.sources)}"


# --- pages ---------------------------------------------------------------------------------------------


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
            *(f"{told} ({person().source})" for told in person().derivation),
            *thresholds().derivation,
            *(f"from memory, and deciding nothing: {told}" for told in remembered()),
        )
    )
    for caution in CAUTIONS:
        yield Paragraph(caution, "caution")


def _idle(entry: Entry) -> bool:
    return entry.worst.feeds is None and not entry.worst.live_off


_LOST = {"earth": "earth core of", "relay-open": "neutral-earth relay (stays open) of", "residual": "tripless:"}


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
        "present": _present(entry),
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
        "worked_out": [*ASSUMED, *person().derivation, *thresholds().derivation],
        "from_memory": list(remembered()),
        "cautions": list(CAUTIONS),
        "problems": [],
    }
