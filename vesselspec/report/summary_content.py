"""What the summary of a change says, as data: Markdown and HTML only write it down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from vesselspec.changes import Act, Review, acts
from vesselspec.changes.effects import ProtectionEffect
from vesselspec.changes.openings import Opening, openings
from vesselspec.model.items import NO_LABEL
from vesselspec.report import shock_words
from vesselspec.report.review import (
    PROTECTION_HEAD,
    SHOCK_TITLE,
    SOURCE_HEAD,
    accepts_own,
    name_of,
    protection_row,
    solved_tables,
    source_row,
    verdict,
)
from vesselspec.report.summary_checks import Check, checks_of, spaces_of
from vesselspec.report.terminal import CAUTIONS as _ALWAYS
from vesselspec.rules import Boat, Finding

CAUTIONS = (
    *_ALWAYS,
    "Opening a breaker does not isolate a source: unplug and stow the cord, stop the generator and inhibit its "
    "automatic start, switch the inverter off and open its DC supply (common practice, no source).",
)
#: Words that stop the hand at the switch.
GRAVE = ("DANGER", "WARNING")


@dataclass(frozen=True)
class Done:
    """One thing that was done, and where it is found on board."""

    what: str
    #: What came with it or followed from it.
    more: tuple[str, ...]
    spaces: tuple[str, ...]
    #: Panel, section and way; labels of cables, as they are written on board.
    ways: tuple[str, ...]
    labels: tuple[str, ...]


@dataclass(frozen=True)
class Why:
    """One commit: what its author said."""

    subject: str
    author: str
    when: str
    id: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True)
class Trouble:
    """Why a state of the record cannot be understood: (place, what, remedy)."""

    state: str
    problems: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Table:
    """Figures before and after."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Picture:
    """A drawing beside the page: its file, and the file's content for a page that holds it itself."""

    title: str
    alt: str
    file: str
    svg: bytes = field(repr=False, default=b"")


@dataclass(frozen=True)
class Elsewhere:
    """Devices outside panels at which the same can newly be live, or no longer."""

    places: tuple[str, ...]
    gained: tuple[str, ...]
    lost: tuple[str, ...]


@dataclass(frozen=True)
class Summary:
    """The whole page."""

    vessel: str
    title: str
    #: Both states with their revision and date, in one sentence.
    stamp: str
    verdict: str
    accepts_own: str
    troubles: tuple[Trouble, ...]
    understood: bool
    grave: tuple[Finding, ...]
    done: tuple[Done, ...]
    why: tuple[Why, ...]
    panels: tuple[Opening, ...]
    elsewhere: tuple[Elsewhere, ...]
    checks: tuple[Check, ...]
    pictures: tuple[Picture, ...]
    #: Where one further failure leaves metal live now.
    shocks: tuple[str, ...]
    tables: tuple[Table, ...]
    #: (title, findings) that are told in a line each.
    findings: tuple[tuple[str, tuple[Finding, ...]], ...]
    cautions: tuple[str, ...] = CAUTIONS
    shock_title: str = SHOCK_TITLE


def summarise(
    found: Review, pictures: Iterable[Picture] = (), *, dates: tuple[str, str] = ("", ""), title: str = ""
) -> Summary:
    """Gather all that the page says. `dates` follow the names of the two states."""
    opened = openings(found)
    names = [
        f"{side.name} {date}" if date else side.name
        for side, date in zip((found.before, found.after), dates, strict=True)
    ]
    grave = tuple(f for f in found.counting if f.signal_word in GRAVE) if found.understood else ()
    return Summary(
        vessel=name_of(found),
        title=title or f"{name_of(found)}: summary for the next technician",
        stamp=f"From {names[0]} to {names[1]}.",
        verdict=verdict(found),
        accepts_own=accepts_own(found),
        troubles=tuple(
            Trouble(side.name, tuple((str(p.place), p.message, p.remedy) for p in side.problems))
            for side in (found.before, found.after)
            if side.boat is None
        ),
        understood=found.understood,
        grave=grave,
        done=tuple(_done(found)),
        why=tuple(
            Why(r.subject or "(no subject)", r.author, r.when, r.id[:10], tuple(_paragraphs(r.body)))
            for r in found.reasons
        ),
        panels=opened,
        elsewhere=tuple(_elsewhere(found)),
        checks=checks_of(found, opened, grave),
        pictures=tuple(pictures),
        shocks=tuple(shock_words.in_short(each) for each in found.effects.shocks),
        tables=tuple(_tables(found)),
        findings=tuple(_findings(found, grave)),
    )


def _paragraphs(body: str) -> list[str]:
    parts = body.replace("\r\n", "\n").split("\n\n")
    return [" ".join(part.split()) for part in parts if part.strip()]


def _done(found: Review) -> list[Done]:
    before, after = found.before.boat, found.after.boat
    if before is None or after is None:
        return []
    return [_located(act, before, after) for act in acts(found.changes, before.vessel, after.vessel)]


def _located(act: Act, before: Boat, after: Boat) -> Done:
    spaces: dict[str, None] = {}
    ways: dict[str, None] = {}
    labels: dict[str, None] = {}
    for change in act.of:
        spaces |= dict.fromkeys(spaces_of(change, before, after))
        vessel = (before if change.kind == "removed" else after).vessel
        cable = vessel.cables.get(change.id) if change.collection == "cables" else None
        ends = (cable.from_, cable.to) if cable is not None else (change.id,)
        for place in ends if cable is not None or change.collection == "ways" else ():
            if place in vessel.ways or place in vessel.sections:
                panel, _, at = place.partition("/")
                name = vessel.panels[panel].name or panel
                ways[f"{name}, {'way' if place in vessel.ways else 'section'} {at}"] = None
        if cable is not None:
            marks = dict.fromkeys(cable.label_at(end) for end in ("from", "to"))
            labels |= {mark: None for mark in marks if mark and mark != NO_LABEL}
    return Done(act.told[0], act.told[1:], tuple(spaces), tuple(ways), tuple(labels))


def _elsewhere(found: Review) -> list[Elsewhere]:
    boat = found.after.boat or found.before.boat
    together: dict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = {}
    for effect in found.effects.potentials if boat is not None else ():
        if boat is not None and effect.place.split("/", 1)[0] not in boat.vessel.panels:
            together.setdefault((effect.gained, effect.lost), []).append(boat.vessel.name_of(effect.place))
    return [Elsewhere(tuple(places), gained, lost) for (gained, lost), places in together.items()]


def _tables(found: Review) -> Iterable[Table]:
    effects = found.effects
    if effects.sources:
        yield Table("Load on the sources", SOURCE_HEAD, tuple(map(source_row, effects.sources)))
    for title, head, rows in solved_tables(effects.solved):
        yield Table(title, head, tuple(rows))
    if effects.conductors:
        rows = [
            (e.cable, e.before_size or "—", _carries(e.before_a), e.after_size or "—", _carries(e.after_a))
            for e in effects.conductors
        ]
        head = ("cable", "size before", "may carry before", "size after", "may carry after")
        yield Table("Conductors", head, tuple(rows))
    if effects.protection:
        come_and_gone = {change.id: change.kind for change in found.changes if change.collection == "cables"}
        yield Table(
            "Protection", PROTECTION_HEAD, tuple(_protection(e, come_and_gone.get(e.cable)) for e in effects.protection)
        )


def _protection(effect: ProtectionEffect, kind: str | None) -> tuple[str, ...]:
    """A row in which nobody takes a dash for a conductor that was not protected."""
    cable, device, *halves = protection_row(effect)
    absent = (
        "no such cable yet" if kind == "added" else "not fed through it",
        "the cable is gone" if kind == "removed" else "not fed through it",
    )
    told = (words if half == "—" else half for half, words in zip(halves, absent, strict=True))
    return cable, device, *told


def _carries(span: tuple[float, float] | None) -> str:
    if span is None:
        return "—"
    low, high = (f"{amps:.4g} A" for amps in span)
    return low if low == high else f"{low} to {high}"


def _findings(found: Review, grave: tuple[Finding, ...]) -> Iterable[tuple[str, tuple[Finding, ...]]]:
    if not found.understood:
        groups = [("Findings of the later state, new and inherited alike", found.new)]
    else:
        lesser = tuple(f for f in found.counting if f not in grave)
        accepted = tuple(f for f in found.new if f.accepted)
        groups = [("Lesser new findings", lesser), ("New, and accepted for a while", accepted)]
    groups += [
        ("Open since before this change", tuple(f for f in found.inherited if not f.accepted)),
        ("Open since before this change, and accepted for a while", tuple(f for f in found.inherited if f.accepted)),
        ("No longer found", found.cleared),
    ]
    return [group for group in groups if group[1]]
