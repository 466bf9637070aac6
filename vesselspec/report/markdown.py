"""Markdown in which no text of the record can become markup."""

from __future__ import annotations

import re

from vesselspec.report.terminal import clean
from vesselspec.rules import Finding

_MARKUP = re.compile(r"([\\`*_{}\[\]<>()#+!|~@$^=-])")
_PLAIN_DASH = re.compile(r"(?<=[\w)])\\([-+=()])(?=[\w(])")


def escape(text: str) -> str:
    """Escape every character that Markdown or HTML could take for markup; line breaks become spaces."""
    flat = " ".join(clean(text).split())
    marked = _MARKUP.sub(r"\\\1", flat.replace("&", "&amp;"))
    marked = marked.replace("\\<", "&lt;").replace("\\>", "&gt;").replace("\\@", "&#64;")
    # A dash or sign inside a word is no markup, and escapes only make the source hard to read.
    marked = _PLAIN_DASH.sub(r"\1", marked)
    return marked.replace("://", "&#58;//")


def finding_markdown(finding: Finding, *, level: int) -> list[str]:
    """One finding as Markdown lines."""
    lines = [
        f"{'#' * level} {finding.signal_word}: {escape(finding.message)}",
        "",
        f"`{finding.rule}` at {escape(str(finding.place))}",
        "",
    ]
    lines += [f"- {escape(consequence)}" for consequence in finding.consequences]
    if finding.witness:
        lines += ["", "How it gets there:", ""]
        lines += [f"{number}. {escape(step)}" for number, step in enumerate(finding.witness, 1)]
    if finding.positions:
        stands = "; ".join(f"{choice} at {states}" for choice, states in finding.positions)
        lines += ["", f"With: {escape(stands)}."]
    lines += [
        "",
        f"**Why:** {escape(finding.why)}  ",
        f"**Remedy:** {escape(finding.remedy)}  ",
        f"**Source:** {escape(finding.source)}.",
        "",
    ]
    return lines
