"""A trace as lines under headings, written for a terminal or as Markdown from one content."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vesselspec.report.markdown import escape, quoted
from vesselspec.report.terminal import Page
from vesselspec.report.trace_items import hop_words
from vesselspec.report.trace_opened import opened_sections
from vesselspec.report.trace_space import held_sections
from vesselspec.report.trace_tree import Line, Section, grow, lines, told_needs
from vesselspec.rules import Boat
from vesselspec.tracing import Between, Down, Held, Lost, Subject, Up, Wiring
from vesselspec.tracing.between import CONVERTER, EARTH, LIVE, NOT, RETURN
from vesselspec.tracing.chain import Chain
from vesselspec.tracing.down import Drain
from vesselspec.tracing.up import Feed

CAUTIONS = (
    "The record may be wrong. Where it knows no way, that proves nothing dead: prove dead before touching, every time, "
    "with a tester proved before and after.",
    "A trace is no isolation sheet: to work on a place, use `vesselspec isolate`. Local codes and licensed practice "
    "come first.",
)
ANY = "over every permitted position of every switch"


@dataclass(frozen=True)
class Trace:
    """All that was asked of one item; None for what was not asked."""

    boat: Boat
    wiring: Wiring
    state: str
    subject: Subject
    held: tuple[Held, ...] | None = None  # of a space only
    up: Up | None = None
    down: Down | None = None
    lost: tuple[Lost, ...] | None = None
    other: Subject | None = None
    between: Between | None = None
    told: bool = False  # each way up terminal by terminal
    unknown: tuple[str, ...] = ()

    @property
    def situation(self) -> str:
        """The condition, or that it is over all positions."""
        return f"in condition {self.wiring.condition}" if self.wiring.condition else ANY


def sections(trace: Trace) -> tuple[Section, ...]:
    """The whole trace."""
    found: list[Section] = []
    if trace.between is not None:
        found.append(_between_section(trace, trace.between))
    if trace.held is not None:
        found += held_sections(trace.boat, trace.held)
    if trace.up is not None:
        found += _up_sections(trace, trace.up)
    if trace.down is not None:
        found += _down_sections(trace, trace.down)
    if trace.lost is not None:
        found += opened_sections(trace.subject.item, trace.lost, verb=_opened(trace), everywhere=ANY)
    if trace.unknown:
        found.append(_flat("Not known on the way", trace.unknown))
    return tuple(found)


def _opened(trace: Trace) -> str:
    if trace.subject.kind == "space":
        return "lost, with all that is in it and every cable that ends there or passes it"
    is_source = any(e.source == trace.subject.place for e in trace.boat.network.emissions)
    return "taken away" if is_source else "open"


def trace_text(page: Page, trace: Trace) -> str:
    """A trace for a terminal."""
    for words in _head(trace):
        page.wrapped(words)
    page.line()
    for section in sections(trace):
        page.wrapped(f"{section.title}:")
        for line in section.lines:
            page.wrapped(line.text, first="  " * (line.depth + 1), rest="  " * (line.depth + 1) + "  ")
        page.line()
    for caution in CAUTIONS:
        page.wrapped(caution)
    return page.text()


def trace_markdown(trace: Trace) -> str:
    """A trace as Markdown."""
    title, *head = _head(trace)
    found = [f"# {escape(title)}", "", *(f"{escape(line)}  " for line in head), "", *quoted(CAUTIONS)]
    for section in sections(trace):
        found += [f"## {escape(section.title)}", ""]
        found += ["    " * line.depth + f"- {escape(line.text)}" for line in section.lines] + [""]
    return "\n".join(found)


def _head(trace: Trace) -> tuple[str, str, str]:
    vessel = trace.boat.vessel
    other = f" to {_called(trace, trace.other)}" if trace.other is not None else ""
    return (
        f"TRACE: {_called(trace, trace.subject)}{other}",
        f"{vessel.about.name}, record: {trace.state}",
        trace.situation if trace.lost is None or trace.wiring.condition else f"{ANY}, and in each condition",
    )


def _called(trace: Trace, subject: Subject) -> str:
    if subject.kind == "terminal":
        return f"{subject.item}, terminal of {trace.boat.vessel.name_of(subject.place)}"
    return f"{trace.boat.vessel.name_of(subject.item)}, {subject.kind}"


def _flat(title: str, texts: Iterable[str]) -> Section:
    return Section(title, tuple(Line(0, text) for text in texts))


# --- up -------------------------------------------------------------------------------------------


def _source(trace: Trace, key: str) -> str:
    device = trace.boat.vessel.devices[key]
    name = trace.boat.vessel.name_of(key)
    kind = "" if device.kind == key else f"{device.title.lower()} "
    here = ", in here" if trace.subject.kind == "space" and trace.subject.owns(key) else ""
    return f"{kind}{name}" + (f" in {device.space}" if device.space and not here else here)


def _pole(trace: Trace, feed: Feed) -> str:
    at = trace.wiring.network.terminals[feed.terminal].pole
    return feed.emission.pole if at == feed.emission.pole else f"{feed.emission.pole} on {at or 'a loose end'}"


def _feed_ways(trace: Trace, feeds: Iterable[Feed]) -> list[Line]:
    ways = []
    for feed in feeds:
        stands = told_needs(feed.chain.needs)
        end = f"SOURCE {_source(trace, feed.emission.source)}" + (f", with {stands}" if stands else "")
        hops = [hop for hop in reversed(feed.chain.hops) if hop.item != trace.subject.place]
        ways.append((hops, end, _pole(trace, feed)))
    return lines(grow(ways), "↑", lambda hop: hop_words(trace.boat, trace.wiring, hop))


def _told(trace: Trace, feeds: Iterable[Feed]) -> list[Line]:
    """Each way terminal by terminal."""
    found: list[Line] = []
    carries = "carries" if trace.wiring.condition else "can carry"
    for feed in feeds:
        at = trace.wiring.network.terminals[feed.terminal].name
        stands = told_needs(feed.chain.needs)
        found.append(Line(0, f"{at} {carries} {feed.emission.pole}" + (f", with {stands}" if stands else "")))
        found += [Line(1, f"{number}. {step}") for number, step in enumerate(trace.boat.told(feed.witness), 1)]
    return found


def _up_sections(trace: Trace, up: Up) -> list[Section]:
    if trace.told:
        title = "Why it is live" if trace.wiring.condition else "Why it can be live"
    else:
        title = "Up: what makes it live" if trace.wiring.condition else "Up: what can make it live"
    write = _told if trace.told else _feed_ways
    body = write(trace, up.hot) or [Line(0, "nothing that is recorded; that does not make it dead")]
    if up.hot:
        body.append(Line(0, "(one shortest way from each source; there may be others)"))
    if not up.complete:
        body.append(Line(0, "THE SEARCH WAS NOT COMPLETE: there may be further sources"))
    found = [Section(title, tuple(body))]
    converters: dict[str, dict[tuple[object, ...], Feed]] = {}
    for (key, _), feeds in up.fed_by.items():
        kept = converters.setdefault(key, {})
        for feed in feeds:
            kept.setdefault((feed.output, feed.terminal), feed)
    for key, each in converters.items():
        body = write(trace, each.values())
        title = f"{trace.boat.vessel.name_of(key)} converts what comes to its input"
        found.append(Section(title, tuple(body or [Line(0, "the record knows no way to it; that does not stop it")])))
    returns: dict[str, dict[str, None]] = {}
    for feed in up.back:
        returns.setdefault(_pole(trace, feed), {})[feed.emission.source] = None
    told = [f"{pole} of {', '.join(sources)}" for pole, sources in returns.items()]
    if up.through_earth:
        earthed = ", ".join(f"{pole} of {source}" for source, pole in up.through_earth)
        told.append(f"through earth and bonding only: {earthed}")
    if told:
        found.append(_flat("Neutrals and negatives joined to it", told))
    return found


# --- down -----------------------------------------------------------------------------------------


def _drain_ways(trace: Trace, drains: Iterable[Drain], subject: str) -> list[Line]:
    ways = []
    for drain in drains:
        item = trace.boat.vessel.device(drain.item)
        where = f" in {item.space}" if item is not None and item.space else ""
        kind = "LOAD" if drain.kind == "load" else "CONVERTER, goes on below,"
        end = f"{kind} {trace.boat.vessel.name_of(drain.item)}{where}{_demand(trace, drain)}"
        hops = [hop for hop in drain.chain.hops if hop.item != subject]
        ways.append((hops, end, trace.wiring.network.terminals[drain.terminal].pole))
    return lines(grow(ways), "↓", lambda hop: hop_words(trace.boat, trace.wiring, hop))


def _demand(trace: Trace, drain: Drain) -> str:
    """That a load is not running in the condition."""
    return ", not running then" if runs(trace, drain) is False else ""


def runs(trace: Trace, drain: Drain) -> bool | None:
    """Whether a load runs in the condition; None without one, and for what is no load."""
    if not trace.wiring.condition or drain.kind != "load":
        return None
    return trace.boat.vessel.conditions[trace.wiring.condition].demand.get(drain.item) is not None


def _down_sections(trace: Trace, down: Down) -> list[Section]:
    title = "Down: what it feeds" if trace.wiring.condition else "Down: what it can feed"
    if not down.fed:
        where = "then" if trace.wiring.condition else "in the record"
        title = f"Down: what is joined to it (no source reaches it {where})"
    body = _drain_ways(trace, down.drains, trace.subject.place) or [Line(0, "no load that is recorded")]
    found = [Section(title, tuple(body))]
    for key, drains in down.through.items():
        body = _drain_ways(trace, drains, key) or [Line(0, "no load that is recorded")]
        found.append(Section(f"{trace.boat.vessel.name_of(key)} feeds", tuple(body)))
    return found


# --- two items ------------------------------------------------------------------------------------

_VERDICTS = {
    LIVE: "CONNECTED by a live conductor.",
    CONVERTER: "Joined by no live conductor; energy passes through {converters}.",
    RETURN: "Joined by neutral or negative only; no live conductor joins them.",
    EARTH: "Joined through earth and bonding only; no working conductor joins them.",
    NOT: "NOT CONNECTED in any permitted position, as far as the record knows.",
}


def _between_section(trace: Trace, found: Between) -> Section:
    verdict = _VERDICTS[found.verdict]
    if found.verdict == NOT and trace.wiring.condition:
        verdict = f"NOT CONNECTED in condition {trace.wiring.condition}, as far as the record knows."
    body = [Line(0, verdict.format(converters=", then ".join(found.converters)))]
    body += [Line(0, f"They share a {'neutral' if pole == 'N' else 'negative'}.") for pole in found.shared]
    for tie in found.ties:
        body += _tie_lines(trace, tie.poles, tie.chain, "backwards, one way only" if tie.backwards else "")
    earth = [tie.poles for tie in found.through_earth]
    if earth and found.verdict != NOT:
        pairs = ", ".join(f"{a or 'loose'} – {b or 'loose'}" for a, b in earth)
        body.append(Line(0, f"Through earth and bonding: {pairs}."))
    if found.verdict == EARTH:
        body += _tie_lines(trace, earth[0], found.through_earth[0].chain, "")
    if not found.complete:
        body.append(Line(0, "The search was not complete."))
    return Section("How they are connected", tuple(body))


def _tie_lines(trace: Trace, poles: tuple[str, str], chain: Chain, note: str) -> list[Line]:
    terminals = trace.wiring.network.terminals
    stands = told_needs(chain.needs)
    extra = "".join(f", {said}" for said in (note, f"with {stands}" if stands else "") if said)
    ends = f"{terminals[chain.start].name} to {terminals[chain.end].name}"
    found = [Line(0, f"{poles[0] or 'loose'} to {poles[1] or 'loose'}, {ends}{extra}")]
    found += [Line(1, hop_words(trace.boat, trace.wiring, hop)) for hop in chain.hops]
    return found if chain.hops else [*found, Line(1, "the same terminal, or joined inside one place")]
