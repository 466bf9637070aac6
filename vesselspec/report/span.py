"""A range of commits as terminal text, Markdown and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from vesselspec.changes.span import NO_RECORD, NOT_UNDERSTOOD, UNTOUCHED, Span, Step
from vesselspec.report.blocks import Block, Bullets, Heading, Paragraph, as_markdown, as_text
from vesselspec.report.review import name_of
from vesselspec.report.survey import FORMAT, finding_json, problem_json
from vesselspec.report.terminal import CAUTIONS, counts_line
from vesselspec.rules import Finding, by_word

__all__ = ["as_markdown", "as_text", "span_blocks", "span_json", "verdict"]

_SHORT = 10


def verdict(found: Span, *, at_end: bool, on_the_way: bool, fail_on: str) -> str:
    """The range in one sentence."""
    if not found.steps:
        return "There is no commit in this range."
    if not found.whole.understood:
        which = " and ".join(side.name for side in (found.start, found.end) if side.boat is None)
        return f"{which} cannot be understood."
    if not at_end:
        return f"Not sound at its end: {counts_line(by_word(found.whole.counting))} that were not there before."
    if on_the_way:
        return f"Sound at every commit: none brings a finding of {fail_on} or graver."
    said = [f"{len(found.broken)} cannot be understood"] if found.broken else []
    bringing = [step for step in found.steps if step.counting]
    said += [f"{len(bringing)} {'bring' if len(bringing) > 1 else 'brings'} findings"] if bringing else []
    return f"Sound at its end, not on the way: of {_commits(len(found.steps))} {' and '.join(said)}."


def _commits(count: int) -> str:
    return f"{count} commit{'s' if count != 1 else ''}"


def span_blocks(found: Span, said: str, *, brief: bool) -> list[Block]:
    """The page."""
    untouched = sum(step.verdict == UNTOUCHED for step in found.steps)
    title = f"Every commit of {name_of(found.whole)}: {found.start.name} → {found.end.name}"
    blocks: list[Block] = [Heading(title, 1), Paragraph(said, "strong")]
    if untouched:
        blocks.append(Paragraph(f"{untouched} of {_commits(len(found.steps))} do not touch the record."))
    for step in found.steps:
        if step.verdict != UNTOUCHED:
            blocks.append(Paragraph(f"{step.reason.id[:_SHORT]} of {step.reason.when}: {step.reason.subject}"))
            blocks.append(Bullets(tuple(_told(found, step, brief=brief))))
    return [*blocks, *(Paragraph(caution, "caution") for caution in CAUTIONS)]


def _told(found: Span, step: Step, *, brief: bool) -> Iterator[str]:
    if step.verdict == NO_RECORD:
        yield "the record is gone"
    if step.verdict == NOT_UNDERSTOOD and step.side is not None:
        yield "cannot be understood; what it hides is told at the next commit that can"
        for problem in step.side.problems:
            remedy = f" → {problem.remedy}" if problem.remedy else ""
            yield f"{problem.place}: {problem.message}{remedy}"
        return
    for finding in step.brings:
        later = found.cleared_by.get((step.reason.id, finding.fingerprint))
        fate = f"; cleared by {later[:_SHORT]}" if later else ""
        accepted = "; accepted by a concession" if finding.accepted else ""
        yield f"brings {_named(finding, brief=brief)}{accepted}{fate}"
    for finding in step.clears:
        yield f"clears {_named(finding, brief=brief)}"
    if not step.brings and not step.clears and step.verdict != NO_RECORD:
        yield "brings and clears nothing"


def _named(finding: Finding, *, brief: bool) -> str:
    head = f"[{finding.signal_word}] {finding.rule} of {finding.items[0] if finding.items else 'the boat'}"
    return head if brief else f"{head}, {finding.place}: {finding.message}"


def span_json(found: Span, said: str, *, sound_at_end: bool, sound_on_the_way: bool) -> dict[str, Any]:
    """A range, for machines: schema/range.schema.json."""
    return {
        "format": FORMAT,
        "kind": "range",
        "vessel": name_of(found.whole),
        "base": found.start.name,
        "head": found.end.name,
        "verdict": said,
        "sound_at_end": sound_at_end,
        "sound_on_the_way": sound_on_the_way,
        "on": None if found.whole.on is None else found.whole.on.isoformat(),
        "commits": [
            {
                "id": step.reason.id,
                "when": step.reason.when,
                "author": step.reason.author,
                "subject": step.reason.subject,
                "state": step.verdict,
                "brings": [
                    {
                        **finding_json(finding),
                        "cleared_by": found.cleared_by.get((step.reason.id, finding.fingerprint)),
                    }
                    for finding in step.brings
                ],
                "clears": [finding_json(finding) for finding in step.clears],
                "problems": [
                    problem_json(p)
                    for p in (step.side.problems if step.verdict == NOT_UNDERSTOOD and step.side else ())
                ],
            }
            for step in found.steps
        ],
    }
