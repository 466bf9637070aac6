"""Changes judged together as terminal text, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from vesselspec.changes import Side, findings_only
from vesselspec.changes.combine import Both, Combination
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, Table, as_markdown, as_text
from vesselspec.report.survey import FORMAT, finding_json, problem_json
from vesselspec.report.terminal import CAUTIONS, counts_line
from vesselspec.rules import SIGNAL_WORDS, Finding, by_word

__all__ = ["as_markdown", "as_text", "combination_blocks", "combination_json", "pairs_blocks", "pairs_json"]

_NO_RECORD_ALONE = "what git makes of both is clean as text and cannot be understood as a record"


def verdict(found: Combination, fail_on: str) -> str:
    """The combination in one sentence: they do not go together where the exit status says so."""
    if not found.judgeable:
        which = " and ".join(side.name for side in (found.ours, found.theirs) if side.boat is None)
        return f"{which} cannot be understood, so the two cannot be judged together."
    if found.conflicts or found.elsewhere:
        files = ", ".join((*(each.file for each in found.conflicts), *found.elsewhere))
        refused = f"The two cannot be merged as they are: both change the same lines of {files}"
        if found.merged is None:
            return f"{refused}."
        if found.counting:
            return f"{refused}; with both kept, only together they bring {counts_line(by_word(found.counting))}."
        return f"{refused}; with both kept, they bring nothing that neither brings alone."
    if found.clashes:
        return f"The two do not go together: {_NO_RECORD_ALONE}."
    said = [f"only together they bring {counts_line(by_word(found.counting))}"] if found.counting else []
    said += ["one takes out what the other's isolation needs"] if found.relied else []
    if said and not found.relied and not _grave(found.counting, fail_on):
        return f"The two go together, and {said[0]}: nothing as grave as {fail_on}."
    if said:
        return f"The two do not go together: {'; '.join(said)}."
    return "Together the two bring nothing that neither brings alone."


def _grave(findings: Iterable[Finding], fail_on: str) -> str:
    """How many findings there are as grave as the threshold, by word."""
    grave = SIGNAL_WORDS[: SIGNAL_WORDS.index(fail_on) + 1]
    words = [finding.signal_word for finding in findings]
    return ", ".join(f"{words.count(word)} {word}" for word in grave if word in words)


def combination_blocks(found: Combination, fail_on: str, *, brief: bool) -> list[Block]:
    """The page of one pair."""
    blocks: list[Block] = [
        Heading(f"{found.ours.name} merged with {found.theirs.name} ({_vessel(found)})", 1),
        Paragraph(verdict(found, fail_on), "strong"),
        *_details(found, brief=brief),
    ]
    return [*blocks, *(Paragraph(caution, "caution") for caution in CAUTIONS)]


def _vessel(found: Combination) -> str:
    boats = (side.boat for side in (found.ours, found.theirs, found.base))
    return next((boat.vessel.about.name for boat in boats if boat is not None), "a record that cannot be understood")


def _details(found: Combination, *, brief: bool) -> Iterator[Block]:
    for side in _asked(found):
        if side.boat is None:
            yield Heading(f"{side.name}: cannot be understood", 3)
            yield Bullets(
                tuple(f"{p.place}: {p.message}" + (f" → {p.remedy}" if p.remedy else "") for p in side.problems)
            )
    for met in found.conflicts:
        yield Heading(f"Both change the same lines of {met.file}", 3)
        if not any(each.clash for each in found.both):
            yield Paragraph(
                "No entry is changed by both in different ways; the lines only stand side by side: keep both."
            )
        yield Bullets(
            (*(f"{found.ours.name}: {e}" for e in met.ours), *(f"{found.theirs.name}: {e}" for e in met.theirs))
        )
    if found.both:
        yield Heading("Changed by both")
        yield Bullets(tuple(line for each in found.both for line in _both_lines(found, each)))
    if found.relied:
        yield Heading("Isolation")
        yield Bullets(
            tuple(
                f"{each.panel} is made dead at {each.point} as {each.needed_by} has it, and {each.removed_by} removes "
                f"{each.point}: make a new sheet from the merged record"
                for each in found.relied
            )
        )
    groups = (
        ("Only together", found.combined),
        (f"Brought by {found.ours.name} alone", found.of_ours),
        (f"Brought by {found.theirs.name} alone", found.of_theirs),
    )
    for number, (title, findings) in enumerate(groups):
        if findings:
            # Names of revisions keep their case, which a heading of level 2 would not on a terminal.
            yield Heading(title, 3 if number else 2)
            yield Bullets(tuple(line for each in findings for line in _told(each, full=not brief and not number)))


def _asked(found: Combination) -> tuple[Side, ...]:
    """The states to be understood: their merge only where each of the two can be, for else it says the same again."""
    merged = (found.merged,) if found.merged is not None and found.judgeable else ()
    return found.ours, found.theirs, *merged


def _both_lines(found: Combination, each: Both) -> Iterator[str]:
    how = f"differently ({', '.join(each.clash)})" if each.clash else "without contradiction"
    yield f"{each.id}, {how}: {found.ours.name}: {each.ours}. {found.theirs.name}: {each.theirs}."


def _told(finding: Finding, *, full: bool) -> Iterator[str]:
    accepted = " (accepted by a concession)" if finding.accepted else ""
    yield f"[{finding.signal_word}] {finding.rule}, {finding.place}: {finding.message}{accepted}"
    if full:
        yield from (f"how: {step}" for step in finding.witness)
        yield f"why: {finding.why} Remedy: {finding.remedy} Source: {finding.source}."


def combination_json(found: Combination, fail_on: str) -> dict[str, Any]:
    """One pair, for machines: schema/combination.schema.json."""
    return {"format": FORMAT, "kind": "combination", "vessel": _vessel(found), **_pair_json(found, fail_on)}


def _pair_json(found: Combination, fail_on: str) -> dict[str, Any]:
    return {
        "base": found.base.name,
        "ours": found.ours.name,
        "theirs": found.theirs.name,
        "verdict": verdict(found, fail_on),
        "understood": found.judgeable,
        "clashes": found.clashes,
        "conflicts": [{"file": c.file, "ours": list(c.ours), "theirs": list(c.theirs)} for c in found.conflicts],
        "conflicts_elsewhere": list(found.elsewhere),
        "changed_by_both": [
            {"id": b.id, "collection": b.collection, "ours": b.ours, "theirs": b.theirs, "differs_in": list(b.clash)}
            for b in found.both
        ],
        "isolation": [
            {"panel": r.panel, "point": r.point, "needed_by": r.needed_by, "removed_by": r.removed_by}
            for r in found.relied
        ],
        "problems": [{"state": side.name, **problem_json(p)} for side in _asked(found) for p in side.problems],
        "findings": {
            "combined": [finding_json(finding) for finding in found.combined],
            "ours": [finding_json(finding) for finding in found.of_ours],
            "theirs": [finding_json(finding) for finding in found.of_theirs],
        },
    }


# --- several ------------------------------------------------------------------------------------


def _short(found: Combination, fail_on: str) -> str:
    if not found.judgeable:
        return "not understood"
    if found.conflicts or found.elsewhere:
        clashing = sum(bool(each.clash) for each in found.both)
        return f"conflict, {clashing} entries" if clashing else "conflict, side by side"
    if found.clashes:
        return "no record together"
    said = [_grave(found.counting, fail_on), "isolation" if found.relied else ""]
    return ", ".join(filter(None, said)) or "yes"


def _alone(found: Sequence[Combination], fail_on: str) -> tuple[str, ...]:
    """The branches that are not sound by themselves either."""
    brought: dict[str, str] = {}
    for each in found:
        for side in (each.ours, each.theirs):
            if side.name not in brought and each.judgeable:
                brought[side.name] = _grave(findings_only(each.base, side).counting, fail_on)
    return tuple(f"{name} by itself brings {words}" for name, words in brought.items() if words)


def pairs_blocks(
    base: str, branches: Sequence[str], found: Sequence[Combination], fail_on: str, *, brief: bool
) -> list[Block]:
    """The table of pairs, and what is wrong with each that does not go together."""
    bad = [each for each in found if _short(each, fail_on) != "yes"]
    said = f"{len(bad)} of {len(found)} pairs do not go together." if bad else "Each pair goes together."
    rows = [(each.ours.name, each.theirs.name, _short(each, fail_on)) for each in found]
    blocks: list[Block] = [
        Heading(f"Which of {len(branches)} changes to {base} go together ({_vessel(found[0])})", 1),
        Paragraph(said, "strong"),
        Paragraph("Pairs are judged, not three at once: what fits two by two can still be too much together."),
        Table(("change", "with", "together"), tuple(rows)),
    ]
    blocks += [Bullets(alone)] if (alone := _alone(found, fail_on)) else []
    for each in bad:
        blocks.append(Heading(f"{each.ours.name} with {each.theirs.name}", 3))
        blocks.append(Paragraph(verdict(each, fail_on)))
        blocks += _details(each, brief=True) if not brief else ()
    return [*blocks, *(Paragraph(caution, "caution") for caution in CAUTIONS)]


def pairs_json(
    base: str, branches: Sequence[str], pairs: Sequence[tuple[str, str]], found: Sequence[Combination], fail_on: str
) -> dict[str, Any]:
    """Several pairs, for machines: schema/pairs.schema.json."""
    return {
        "format": FORMAT,
        "kind": "pairs",
        "vessel": _vessel(found[0]),
        "base": base,
        "branches": list(branches),
        "pairs": [
            {"one": one, "other": other, "together": _short(each, fail_on) == "yes", **_pair_json(each, fail_on)}
            for (one, other), each in zip(pairs, found, strict=True)
        ],
    }
