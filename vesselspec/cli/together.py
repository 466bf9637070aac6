"""Open changes judged together: `vesselspec review BASE HEAD --merged-with OTHER`, and `--between` for several."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vesselspec.cli.common import page, put, write_files
from vesselspec.cli.judge import Judge
from vesselspec.cli.progress import Progress
from vesselspec.cli.status import FINDINGS, status
from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.changes import Side
    from vesselspec.changes.combine import Combination
    from vesselspec.report.blocks import Block
    from vesselspec.revisions import Repository, Scratch

#: Branches that are held against each other at most: every pair is a merge and a survey.
_MOST = 12


@dataclass(frozen=True)
class Asked:
    """How the result is wanted."""

    output: str
    fail_on: str
    on: datetime.date
    brief: bool
    out: Path | None


def review_together(base: str, head: str | None, vessel: Path, other: str, asked: Asked) -> int:
    """Judge HEAD merged with one other revision; print the result, and return the exit status."""
    from vesselspec.report import combination as report
    from vesselspec.revisions import Repository, Scratch

    repository = Repository.open(vessel, at=base if head is None or head == "." else head)
    repository.resolve(base)
    with Scratch(repository) as scratch:
        found = _pair(scratch, Judge(asked.on), _committed(repository, head), other)
    blocks = report.combination_blocks(found, asked.fail_on, brief=asked.brief)
    _give(asked, "merged", blocks, report.combination_json(found, asked.fail_on))
    return _status((found,), asked.fail_on)


def review_between(base: str, head: str | None, vessel: Path, others: tuple[str, ...], asked: Asked) -> int:
    """Judge every pair of several revisions; print which do not go together, and return the exit status."""
    from vesselspec.report import combination as report
    from vesselspec.revisions import Repository, Scratch

    named = () if head is None else (head,)
    if head is not None and vessel == Path() and Path(head).is_dir():
        named, vessel = (), Path(head)  # without a HEAD the folder stands in its place
    branches = tuple(dict.fromkeys((*named, *others)))
    if not 2 <= len(branches) <= _MOST:
        raise RevisionError(
            f"Pairs are made of 2 to {_MOST} branches, and there {'is' if len(branches) == 1 else 'are'} "
            f"{len(branches)}.",
            "Name each one with --between.",
        )
    repository = Repository.open(vessel, at=branches[0])
    repository.resolve(base)
    judge, found, waiting = Judge(asked.on), [], Progress()
    pairs = list(combinations(branches, 2))
    with Scratch(repository) as scratch:
        for number, (one, other) in enumerate(pairs):
            waiting.tell(f"pair {number} of {len(pairs)}")
            found.append(_pair(scratch, judge, one, other))
        waiting.clear()
    blocks = report.pairs_blocks(base, branches, found, asked.fail_on, brief=asked.brief)
    _give(asked, "pairs", blocks, report.pairs_json(base, branches, pairs, found, asked.fail_on))
    return _status(found, asked.fail_on)


def _committed(repository: Repository, head: str | None) -> str:
    """The revision to merge: only what is committed can be merged."""
    if head not in (None, "."):
        return head or "HEAD"
    if repository.place.work_tree is not None:
        on_disk, last = repository.work_tree(), repository.snapshot("HEAD")
        if on_disk.blobs != last.blobs:
            raise RevisionError(
                "The files on disk are not what was last committed, and git merges only what is committed.",
                "Commit them, or name HEAD to leave them out.",
            )
    return "HEAD"


def _pair(scratch: Scratch, judge: Judge, one: str, other: str) -> Combination:
    from vesselspec.changes.combine import combine, has_both

    repository = scratch.repository
    ours, theirs = repository.resolve(one), repository.resolve(other)
    snapshots = [repository.snapshot(ref) for ref in (one, other)]
    sides = [judge.side(snapshot.name, snapshot) for snapshot in snapshots]
    bases = repository.merge_bases(ours, theirs)
    base = judge.earlier(repository.snapshot(bases[0]), snapshots[0])
    done = scratch.merge(ours, theirs)
    merged = None
    if not done.conflicts:
        merged = judge.side(f"{one} and {other} merged", done.snapshot)
    elif len(bases) == 1:
        kept = _by_entry(judge, repository, bases[0], one, other)
        merged = kept if kept is not None and has_both(base, sides[0], sides[1], kept) else None
    return combine(base, sides[0], sides[1], merged, done.conflicts, map(shown, done.elsewhere))


def _by_entry(judge: Judge, repository: Repository, base: str, one: str, other: str) -> Side | None:
    """Both put together entry by entry, where their lines conflict and their entries do not."""
    from vesselspec.changes import side
    from vesselspec.record import merge

    record = merge(*(repository.snapshot(ref).files for ref in (base, one, other)))
    return None if record is None else side(f"{one} and {other}, both kept", record, judge.on)


def _status(found: Iterable[Combination], fail_on: str) -> int:
    """2 where a side cannot be understood; 1 where the two do not go together; 3 where a rule failed."""
    from vesselspec.rules.book import failed

    results = []
    for each in found:
        sides = [side for side in (each.base, each.ours, each.theirs, each.merged) if side is not None]
        crashed = any(any(failed(side.survey)) for side in sides)
        words = [finding.signal_word for finding in each.counting]
        result = status(words, fail_on=fail_on, understood=each.judgeable, rule_failed=crashed)
        results.append(result or (FINDINGS if each.clashes or each.relied else 0))
    return max(results)


def _give(asked: Asked, name: str, blocks: list[Block], data: dict[str, Any]) -> None:
    from vesselspec.report import json
    from vesselspec.report.combination import as_markdown, as_text

    markdown, written = as_markdown(blocks), json.dumps(data)
    if asked.out is not None:
        write_files(asked.out, {f"{name}.md": markdown.encode(), f"{name}.json": written.encode()})
    put({"text": as_text(page(), blocks), "markdown": markdown, "json": written}[asked.output])
