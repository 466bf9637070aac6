"""`vesselspec review`: judge a change between two states of the record."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vesselspec.cli.common import (
    MACHINE_FORMS,
    fail_on_option,
    on_option,
    one_state_only,
    output_option,
    page,
    put,
    vessel_argument,
    write_files,
)
from vesselspec.cli.status import status

if TYPE_CHECKING:
    from vesselspec.cli.change import Change


@click.command("review")
@click.argument("base")
@click.argument("head", required=False)
@vessel_argument()
@output_option("html", *MACHINE_FORMS)
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
    help="Also write summary.md, summary.html, before.svg, after.svg (with their .dot) and the forms for machines.",
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
    from vesselspec.cli.change import read_change, read_staged
    from vesselspec.report import json
    from vesselspec.report import review as report
    from vesselspec.report.review_json import review_json
    from vesselspec.rules.book import failed

    if staged:
        change = read_staged(base, vessel, on, direct=direct)
    else:
        change = read_change("review", base, head, vessel, on, direct=direct)
    judged, repository = change.judged, change.repository
    data, text = review_json(judged), report.review_text(page(), judged, full=not brief)
    texts = {"text": text, "markdown": report.review_markdown(judged), "json": json.dumps(data)}
    if out is not None or output in MACHINE_FORMS:
        from vesselspec.report import machine
        from vesselspec.report.outcome import of_review

        outcome = of_review(judged, folder=str(repository.folder), fail_on=fail_on)
        forms = machine.texts(outcome, MACHINE_FORMS if out is not None else (output,))
        texts |= forms
        if out is not None:
            _write(out, change, {"review.json": texts["json"].encode(), **machine.files("review", forms)})
    if output == "html":
        texts["html"] = pages(change)["summary.html"].decode()
    put(texts[output], commands=output == "annotations")
    words = [finding.signal_word for finding in judged.counting]
    # A rule that failed on either side makes its findings look new or cleared.
    crashed = any(any(failed(each.survey)) for each in (judged.before, judged.after))
    return status(words, fail_on=fail_on, understood=judged.understood, rule_failed=crashed)


def pages(change: Change, title: str = "") -> dict[str, bytes]:
    """The page for the next technician in both forms, and its pictures, by name of file.

    Without a layout engine all but the pictures is there.
    """
    from vesselspec.cli.pictures import neighbourhoods, pictures_of
    from vesselspec.report.summary import summary_markdown
    from vesselspec.report.summary_content import summarise
    from vesselspec.report.summary_page import summary_html

    files = neighbourhoods(change.judged)
    page = summarise(change.judged, pictures_of(change.judged, files), dates=change.dates, title=title)
    return {
        **files,
        "summary.md": summary_markdown(page).encode(),
        "summary.html": summary_html(page).encode(),
    }


def _write(out: Path, change: Change, forms: dict[str, bytes]) -> None:
    write_files(out, {**pages(change), **forms})
