"""`vesselspec review`: judge a change between two states of the record."""

from __future__ import annotations

import datetime
import shlex
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import (
    MACHINE_FORMS,
    earlier_state,
    fail_on_option,
    on_option,
    one_state_only,
    output_option,
    page,
    put,
    state_of,
    vessel_argument,
    write_files,
)
from vesselspec.cli.status import status
from vesselspec.revisions import RevisionError

if TYPE_CHECKING:
    from vesselspec.changes import Reason, Review
    from vesselspec.revisions import Commit, Repository, Snapshot

#: Digits from which a revision that begins the id is taken for the id itself and not shown twice.
_TYPED_ID = 7


@click.command("review")
@click.argument("base")
@click.argument("head", required=False)
@vessel_argument()
@output_option(*MACHINE_FORMS)
@fail_on_option()
@on_option()
@click.option(
    "--staged", is_flag=True, help="Judge what is staged for the next commit; then the argument after BASE is VESSEL."
)
@click.option("--direct", is_flag=True, help="Compare BASE itself, not the point where HEAD branched off from it.")
@click.option("--merged-with", metavar="OTHER", help="Judge what git would make of HEAD and another open change.")
@click.option(
    "--between", metavar="REV", multiple=True, help="Which pairs of open changes go together; give it for each."
)
@click.option("--brief", is_flag=True, help="One line for each finding, without reason, way and remedy.")
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Also write summary.md, before.svg, after.svg (with their .dot) and the forms for machines.",
)
def command(
    base: str,
    head: str | None,
    vessel: Path,
    output: str,
    fail_on: str,
    on: datetime.date,
    staged: bool,
    direct: bool,
    merged_with: str | None,
    between: tuple[str, ...],
    brief: bool,
    out: Path | None,
) -> int:
    """Judge the change from BASE to HEAD in the record of VESSEL (a folder; default: here).

    BASE and HEAD are any git revisions; without HEAD, or with HEAD given as `.`, the files as they lie on disk
    are judged. The comparison starts where HEAD branched off from BASE, so that what others have since done to
    BASE is not held against the change; --direct compares BASE itself. Only new findings that no concession
    accepts count for the exit status. Nothing in the repository or the files is touched.

    With --staged the later state is what the next commit would hold. Where BASE is HEAD, a merge that is not committed
    yet is held to all its parents, and before the first commit everything is new.

    With --merged-with, HEAD is merged with another open change, beside the repository, and what only the two together
    bring is told apart: exit status 1 if they conflict or bring a new finding. --between REV --between REV … does so
    for every pair of several, HEAD among them.
    """
    if staged:
        if merged_with is not None or between:
            raise click.UsageError("--staged does not go together with --merged-with and --between.")
        if head not in (None, "."):
            if vessel != Path():
                raise click.UsageError("--staged stands in the place of HEAD: name BASE and VESSEL only.")
            vessel = Path(str(head))
        head = None
    if merged_with is not None or between:
        if direct or (merged_with is not None and between):
            raise click.UsageError("--direct, --merged-with and --between do not go together.")
        one_state_only(output, "--merged-with" if merged_with is not None else "--between")
        from vesselspec.cli.together import Asked, review_between, review_together

        asked = Asked(output, fail_on, on, brief, out)
        if merged_with is not None:
            return review_together(base, head, vessel, merged_with, asked)
        return review_between(base, head, vessel, between, asked)
    from vesselspec.report import json
    from vesselspec.report import review as report
    from vesselspec.report.review_json import review_json
    from vesselspec.revisions import Repository
    from vesselspec.rules.book import failed

    on_disk = head in (None, ".")
    repository = Repository.open(vessel, at=head if head is not None and not on_disk else base)
    if staged:
        judged = _judged_staged(repository, base, on, direct=direct)
    else:
        judged = _judged(repository, base, None if on_disk else head, on, direct=direct)
    data, text = review_json(judged), report.review_text(page(), judged, full=not brief)
    texts = {"text": text, "markdown": report.review_markdown(judged), "json": json.dumps(data)}
    if out is not None or output in MACHINE_FORMS:
        from vesselspec.report import machine
        from vesselspec.report.outcome import of_review

        outcome = of_review(judged, folder=str(repository.folder), fail_on=fail_on)
        forms = machine.texts(outcome, MACHINE_FORMS if out is not None else (output,))
        texts |= forms
        if out is not None:
            _write(out, judged, {"review.json": texts["json"].encode(), **machine.files("review", forms)})
    put(texts[output], commands=output == "annotations")
    words = [finding.signal_word for finding in judged.counting]
    # A rule that failed on either side makes its findings look new or cleared.
    crashed = any(any(failed(each.survey)) for each in (judged.before, judged.after))
    return status(words, fail_on=fail_on, understood=judged.understood, rule_failed=crashed)


def _judged(repository: Repository, base: str, head: str | None, on: datetime.date, *, direct: bool) -> Review:
    """Judge the change up to a revision, or up to the files on disk."""
    from vesselspec.changes import review, side

    tip = start = repository.resolve(base)
    end = None if head is None else _resolved(repository, base, head)
    if not direct:
        start = repository.merge_base(base, "HEAD" if end is None else end.id)
    before = repository.snapshot(start.id)
    after = repository.work_tree() if end is None else repository.snapshot(end.id)
    before = replace(before, name=_called(before, base, start, forked=start.id != tip.id))
    after = replace(after, name=_called(after, head, end))
    earlier = earlier_state(before, after)
    return review(
        side(earlier.name, earlier.record, on),
        side(after.name, state_of(after).record, on),
        _reasons(repository, start.id, "HEAD" if end is None else end.id),
    )


def _judged_staged(repository: Repository, base: str, on: datetime.date, *, direct: bool) -> Review:
    """Judge the change up to what is staged."""
    from vesselspec.changes import review, side
    from vesselspec.changes.review import findings_only
    from vesselspec.revisions import staged
    from vesselspec.revisions.staged import NOTHING

    index = staged(repository)
    after = index.snapshot(repository.folder)
    others: tuple[Commit, ...] = ()
    reasons: tuple[Reason, ...] = ()
    if index.parents or base != "HEAD":
        tip = start = repository.resolve(base)
        if not direct:
            start = repository.merge_base(base, "HEAD")
        before = repository.snapshot(start.id)
        before = replace(before, name=_called(before, base, start, forked=start.id != tip.id))
        others = index.parents[1:] if start == index.parents[0] else ()
        reasons = _reasons(repository, start.id, "HEAD")
    else:
        before = NOTHING
    earlier, later = earlier_state(before, after), side(after.name, state_of(after).record, on)
    parents = (earlier_state(repository.snapshot(each.id), after) for each in others)
    also = tuple(findings_only(side(each.name, each.record, on), later) for each in parents)
    return replace(review(side(earlier.name, earlier.record, on), later, reasons), also=also)


def _resolved(repository: Repository, base: str, head: str) -> Commit:
    """The commit that HEAD names; a folder in its place is the commonest slip."""
    try:
        return repository.resolve(head)
    except RevisionError as error:
        if Path(head).is_dir() and f"{base}{head}".isprintable():
            line = shlex.join(["vesselspec", "review", base, ".", head])
            raise RevisionError(error.reason, f"It is a folder. To judge the files in it, type: {line}") from None
        raise


def _called(snapshot: Snapshot, ref: str | None, commit: Commit | None, *, forked: bool = False) -> str:
    if commit is None or ref is None:
        return snapshot.name
    called = "" if len(ref) >= _TYPED_ID and commit.id.startswith(ref.lower()) else ref
    called = f"where it branched off {ref}" if forked else called
    return f"{called} ({commit.short})" if called else commit.short


def _reasons(repository: Repository, base: str, head: str) -> tuple[Reason, ...]:
    from vesselspec.changes import Reason

    return tuple(
        Reason(commit.id, commit.when.date().isoformat(), commit.author, commit.subject, commit.body)
        for commit in repository.commits(base, head)
    )


def _write(out: Path, judged: Review, forms: dict[str, bytes]) -> None:
    """Write the pages and pictures. Without a layout engine everything but the pictures is still written."""
    from vesselspec.cli.pictures import neighbourhoods
    from vesselspec.report.summary import summary_markdown

    files = {**neighbourhoods(judged), **forms}
    names = tuple(name for name in files if name.endswith(".svg"))
    files["summary.md"] = summary_markdown(judged, names).encode()
    write_files(out, files)
