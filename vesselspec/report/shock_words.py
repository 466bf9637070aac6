"""What is said of one failure more: its verdict, what is live, what ends it, and what is not recorded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import ceil

from vesselspec.model.vessel import Vessel
from vesselspec.physics.faults.body import shock, thresholds
from vesselspec.physics.faults.shock_entries import Entry
from vesselspec.physics.faults.shock_outcome import Outcome, Silent, Span
from vesselspec.report.survey import Subject
from vesselspec.rules import Finding
from vesselspec.standards import figure

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
    wet, dry = f"{_ma(one.wet_a)} wet ({one.worst} at worst)", f"{_ma(one.dry_a)} dry ({one.least} even at best)"
    return f"through a person {wet}, {dry}"


def in_short(entry: Entry) -> str:
    """An entry that counts, in one sentence."""
    stands = (
        f"{names(entry.places, 3)} at {volts(entry.worst.case_v)}" if entry.worst.case_v else names(entry.places, 3)
    )
    return f"{fails(entry)}: {stands}, {clears(entry)} (in {names(entry.conditions, 3)})"


def present(entry: Entry) -> str:
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
        shown = [key for key, panel in report.vessel.panels.items() if "polarity-indicator" in (panel.fitted or ())]
        yield f"polarity indicators: {names(shown) if shown else 'none recorded'}"
    amiss = present(entry)
    if amiss:
        yield f"already there: {amiss}"
    for finding in report.related.get(entry, ()):
        yield f"the survey says: {finding.signal_word} {finding.rule}: {finding.message}"
    ends = clears(entry)
    if ends:
        yield f"what ends it: {ends}"
    if entry.verdict == "cannot judge":
        yield _why_open(entry)
    yield f"in {names(entry.conditions)}; from {names(entry.sources)}"
