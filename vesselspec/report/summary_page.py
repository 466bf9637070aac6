"""The summary of a change as one HTML page: pictures inside, printable, without script, nothing fetched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vesselspec.report import html, summary_words
from vesselspec.report.inline_svg import inline
from vesselspec.report.summary_content import Summary
from vesselspec.report.terminal import conceded_words

if TYPE_CHECKING:
    from markupsafe import Markup


def summary_html(page: Summary) -> str:
    """The page as HTML."""
    stamp = f"{page.vessel}. {page.stamp}"
    return html.page(
        "summary.html",
        title=page.title,
        cautions=page.cautions,
        page=page,
        stamp=stamp,
        words=summary_words,
        pictures=_pictures(page),
        conceded=conceded_words,
    )


def _pictures(page: Summary) -> list[tuple[str, Markup]]:
    return [(picture.title, inline(picture.svg, picture.alt)) for picture in page.pictures if picture.svg]
