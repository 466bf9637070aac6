"""Every commit of a range, judged: `vesselspec survey --commits BASE..HEAD`."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from vesselspec.cli.common import page, put, write_files
from vesselspec.cli.judge import Judge
from vesselspec.cli.progress import Progress
from vesselspec.cli.status import FINDINGS, SOUND, status
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.changes import Reason, Side
    from vesselspec.changes.span import Span, Step
    from vesselspec.revisions import Commit, Repository


def survey_commits(
    vessel: Path, commits: str, *, output: str, fail_on: str, on: datetime.date, brief: bool, out: Path | None
) -> int:
    """Judge every commit of a range, print the result in a form, and return the exit status."""
    from vesselspec.report import json
    from vesselspec.report import span as report
    from vesselspec.revisions import Repository
    from vesselspec.rules.book import failed

    base, head = ends_of(commits)
    repository = Repository.open(vessel, at=head)
    found = span_of(repository, base, head, Judge(on))
    crashed = any(step.side is not None and any(failed(step.side.survey)) for step in found.steps)
    at_end = status([f.signal_word for f in found.whole.counting], fail_on=fail_on, understood=found.whole.understood)
    words = [finding.signal_word for step in found.steps for finding in step.counting]
    on_the_way = FINDINGS if found.broken else status(words, fail_on=fail_on)
    result = status((), fail_on=fail_on, rule_failed=crashed) or at_end or on_the_way
    verdict = report.verdict(found, at_end=at_end == SOUND, on_the_way=on_the_way == SOUND, fail_on=fail_on)
    blocks = report.span_blocks(found, verdict, brief=brief)
    data = json.dumps(report.span_json(found, verdict, sound_at_end=at_end == SOUND, sound_on_the_way=not on_the_way))
    markdown = report.as_markdown(blocks)
    if out is not None:
        write_files(out, {"range.md": markdown.encode(), "range.json": data.encode()})
    put({"text": lambda: report.as_text(page(), blocks), "markdown": lambda: markdown, "json": lambda: data}[output]())
    return result


def ends_of(commits: str) -> tuple[str, str]:
    """Both ends of a range as it is written for git; without the second one HEAD."""
    base, dots, head = commits.partition("..")
    if not dots or not base or ".." in head or head.startswith("."):
        raise RevisionError(
            f"{shown(commits)} is no range of commits.", "Write it as BASE..HEAD, such as main~5..main."
        )
    return base, head or "HEAD"


def span_of(repository: Repository, base: str, head: str, judge: Judge) -> Span:
    """Judge every commit that HEAD has and BASE has not."""
    from vesselspec.changes.span import NO_RECORD, UNTOUCHED, Span, Step, step

    commits = repository.between(base, head)
    inside = {commit.id for commit in commits}
    start, end = repository.resolve(base), repository.resolve(head)
    trees = repository.folder_trees({start.id, *inside, *(parent for c in commits for parent in c.parents)})
    #: Commit → the last state up to it that can be understood, or its own; nothing before the first record.
    known: dict[str, Side | None] = {}

    def outside(commit: str) -> Side | None:
        if commit not in known:
            known[commit] = _side(judge, repository, commit, commit in trees)
        return known[commit]

    steps: list[Step] = []
    waiting = Progress()
    for number, commit in enumerate(commits):
        waiting.tell(f"commit {number} of {len(commits)}")
        parents = [side for side in map(outside, commit.parents) if side is not None]
        if commit.parents and all(trees.get(commit.id) == trees.get(parent) for parent in commit.parents):
            own = known[commit.parents[0]]
            steps.append(Step(_reason(commit), UNTOUCHED, own))
            known[commit.id] = own
            continue
        side = _side(judge, repository, commit.id, commit.id in trees)
        if side is None:
            verdict = NO_RECORD if parents else UNTOUCHED
            steps.append(Step(_reason(commit), verdict, None))
            known[commit.id] = parents[0] if parents else None
            continue
        understood = [parent for parent in parents if parent.boat is not None]
        steps.append(step(_reason(commit), side, understood))
        known[commit.id] = side if side.boat is not None or not understood else understood[0]
    waiting.clear()
    before, after = (
        replace(repository.snapshot(commit.id), name=repository.snapshot(ref).name)
        for ref, commit in ((base, start), (head, end))
    )
    return Span(judge.earlier(before, after), judge.side(after.name, after), tuple(steps))


def _side(judge: Judge, repository: Repository, commit: str, has_folder: bool) -> Side | None:
    """The state at a commit; None where it has no record."""
    if not has_folder:
        return None
    try:
        snapshot = repository.snapshot(commit)
    except RevisionError as error:
        if repository.is_shallow:
            raise RevisionError(error.reason, "Fetch the rest of the history. Type: git fetch --unshallow") from None
        raise
    return judge.side(snapshot.name, snapshot) if snapshot.has_vessel or snapshot.problems else None


def _reason(commit: Commit) -> Reason:
    from vesselspec.changes import Reason

    return Reason(commit.id, commit.when.date().isoformat(), commit.author, commit.subject, commit.body)
