"""Markdown in which no text of the record can become markup."""

from __future__ import annotations

import re
from collections.abc import Iterable

from vesselspec.report.terminal import clean, conceded_words
from vesselspec.rules import Finding

_MARKUP = re.compile(r"([\\`*_{}\[\]<>()#+!|~@$^=-])")
#: At the start of a line it would begin a numbered list.
_NUMBERED = re.compile(r"^([0-9]{1,9})\.(?=\s|$)")
_WWW = re.compile(r"(www)\.", re.IGNORECASE)
_PLAIN_DASH = re.compile(r"(?<=[\w)])\\([-+=()])(?=[\w(])")


def escape(text: str) -> str:
    """Escape every character that Markdown or HTML could take for markup; line breaks become spaces."""
    flat = " ".join(clean(text).split())
    marked = _MARKUP.sub(r"\\\1", flat.replace("&", "&amp;"))
    marked = marked.replace("\\<", "&lt;").replace("\\>", "&gt;").replace("\\@", "&#64;")
    # A dash or sign inside a word is no markup, and escapes only make the source hard to read.
    marked = _PLAIN_DASH.sub(r"\1", marked)
    marked = _NUMBERED.sub(r"\1\.", marked)
    # What hosting sites turn into a link without being asked.
    return _WWW.sub(r"\1&#46;", marked.replace("://", "&#58;//"))


def code(text: str) -> str:
    """Text in a code span, where nothing is markup but the backtick: the fence is longer than any run of them."""
    flat = " ".join(clean(text).split())
    fence = "`" * (max(map(len, re.findall("`+", flat)), default=0) + 1)
    edge = " " if flat.startswith("`") or flat.endswith("`") else ""
    return f"{fence}{edge}{flat}{edge}{fence}" if flat else ""


def quoted(paragraphs: Iterable[str]) -> list[str]:
    """Paragraphs in a block quote, apart from each other, as Markdown lines."""
    return [*"\n>\n".join(f"> {paragraph}" for paragraph in paragraphs).split("\n"), ""]


def finding_markdown(finding: Finding, *, level: int) -> list[str]:
    """One finding as Markdown lines."""
    lines = [
        f"{'#' * level} {finding.signal_word}: {escape(finding.message)}",
        "",
        f"`{finding.rule}` at {escape(str(finding.place))}",
        "",
    ]
    if finding.conceded is not None:
        lines += [f"**Concession:** {escape(conceded_words(finding.conceded))}", ""]
    if finding.consequences:
        lines += [*(f"- {escape(consequence)}" for consequence in finding.consequences), ""]
    if finding.witness:
        lines += ["How it gets there:", ""]
        lines += [f"{number}. {escape(step)}" for number, step in enumerate(finding.witness, 1)] + [""]
    if finding.positions:
        stands = "; ".join(f"{choice} at {states}" for choice, states in finding.positions)
        lines += [f"With: {escape(stands)}.", ""]
    lines += [
        f"**Why:** {escape(finding.why)}  ",
        f"**Remedy:** {escape(finding.remedy)}  ",
        f"**Source:** {escape(finding.source)}.",
        "",
    ]
    return lines
