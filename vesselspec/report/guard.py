"""What the guard of a repository says: its hooks, and in a few lines what holds a commit back."""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from vesselspec.changes import Review
from vesselspec.report.review import accepts_own, name_of
from vesselspec.report.survey import FORMAT, finding_json, problem_json
from vesselspec.report.terminal import Page, counts_line, finding_lines
from vesselspec.rules import by_word

#: Findings of one vessel that are printed; the review tells all.
_MOST = 20
_AFTER_ALL = (
    "If the boat is like this and the record only says so, commit it with --no-verify (git commit, git merge): "
    "every survey goes on telling it."
)
_MEND_FIRST = "Mend the record first: as long as it cannot be understood, nothing at all is judged."


@dataclass(frozen=True)
class Guarded:
    """A vessel of which something is staged."""

    folder: str
    """From the top of the repository."""
    review: Review | None
    """None where the whole record is taken away."""
    status: int
    """The exit status for this one."""


def guard_text(page: Page, found: Iterable[Guarded]) -> str:
    """The verdict on each vessel, the findings that are new, and what can be done about them. '' for no vessel."""
    held: list[Guarded] = []
    for each in found:
        if each.review is None:
            page.wrapped(f"{each.folder}: the whole record is taken away.")
            continue
        name = name_of(each.review) if each.folder == "." else f"{name_of(each.review)} ({each.folder})"
        page.wrapped(f"{name}: {_verdict(each.review)}")
        if own := accepts_own(each.review):
            page.wrapped(own)
        for problem in each.review.after.problems[:_MOST]:
            remedy = f" → {problem.remedy}" if problem.remedy else ""
            page.wrapped(f"{problem.place}: {problem.message}{remedy}", first="  ", rest="      ")
        counting = each.review.counting if each.status else ()
        for finding in counting[:_MOST]:
            finding_lines(page, finding, full=False)
        if len(counting) > _MOST:
            page.line(f"    … and {len(counting) - _MOST} more")
        held += [each] if each.status else []
    if held:
        page.line()
        page.line("The commit is held back. Everything about it:")
        for each in held:
            page.line(f"    {_review_call(each)}")  # as it is, to be copied
        understood = all(each.review is None or each.review.after.boat is not None for each in held)
        page.wrapped(_AFTER_ALL if understood else _MEND_FIRST)
    return page.text() if page.lines else ""


def _review_call(held: Guarded) -> str:
    more = "" if held.folder == "." or not held.folder.isprintable() else f" {shlex.quote(held.folder)}"
    return f"vesselspec review HEAD --staged{more}"


def _verdict(found: Review) -> str:
    if found.after.boat is None:
        return "what is staged cannot be understood."
    if not found.new:
        return "what is staged brings no new finding."
    if not found.counting:
        return "what is staged brings only what a concession accepts."
    held_to = "" if found.before.boat is not None else " in all, for no earlier record can be understood"
    return f"what is staged brings {counts_line(by_word(found.counting))}{held_to}."


def guard_json(hooks: Iterable[tuple[str, str, str, bool]], found: Iterable[Guarded] = ()) -> dict[str, Any]:
    """Hooks as (name, file, state, runs) and judged vessels, for machines: schema/guard.schema.json."""
    return {
        "format": FORMAT,
        "kind": "guard",
        "hooks": [{"name": name, "file": file, "state": state, "runs": runs} for name, file, state, runs in hooks],
        "vessels": [_vessel_json(each) for each in found],
    }


def _vessel_json(each: Guarded) -> dict[str, Any]:
    found = each.review
    return {
        "folder": each.folder,
        "status": each.status,
        "taken_away": found is None,
        "held_to": None if found is None else found.before.name,
        "problems": [] if found is None else [problem_json(problem) for problem in found.after.problems],
        "new": [] if found is None else [finding_json(finding) for finding in found.new],
    }
