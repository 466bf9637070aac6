"""Text for a terminal: plain words first, colour only as a second carrier, nothing that a terminal would obey."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from vesselspec.rules.findings import CAUTION, DANGER, NOTICE, SIGNAL_WORDS, WARNING, Finding, Unjudged

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]")
#: Safety red, orange, yellow and blue of the signal words, as far as a terminal has them.
_STYLE = {DANGER: "\x1b[1;37;41m", WARNING: "\x1b[1;30;43m", CAUTION: "\x1b[1;33m", NOTICE: "\x1b[1;36m"}
_RESET = "\x1b[0m"

CAUTIONS = (
    "The record may be wrong: prove dead before touching, every time, with a tester proved before and after.",
    "Local codes and licensed practice come first. A survey of a record does not replace a survey of the boat.",
)


def clean(text: str) -> str:
    """Text from a record, with control and direction-changing characters shown as escapes."""
    return _CONTROL.sub(lambda found: f"\\u{ord(found.group()):04x}", text.replace("\r", "\\r"))


class Page:
    """Lines of a terminal page, wrapped to its width."""

    def __init__(self, *, width: int, colour: bool) -> None:
        self.width, self.colour = max(width, 40), colour
        self.lines: list[str] = []

    def line(self, text: str = "") -> None:
        """Add one line as it is."""
        self.lines.append(text)

    def wrapped(self, text: str, *, first: str = "", rest: str | None = None) -> None:
        """Add a paragraph."""
        self.lines += textwrap.wrap(
            clean(text),
            self.width,
            initial_indent=first,
            subsequent_indent=first if rest is None else rest,
            break_on_hyphens=False,
        ) or [first]

    def word(self, signal_word: str) -> str:
        """A signal word, marked out."""
        return f"{_STYLE[signal_word]} {signal_word} {_RESET}" if self.colour else f"[{signal_word}]"

    def text(self) -> str:
        """The whole page."""
        return "\n".join(self.lines) + "\n"


def finding_lines(page: Page, finding: Finding, *, full: bool = True) -> None:
    """Add one finding: what and where, then why, how it comes about, remedy and source."""
    page.line(f"{page.word(finding.signal_word)} {finding.rule}   {clean(str(finding.place))}")
    page.wrapped(finding.message + ".", first="    ")
    if not full:
        return
    for consequence in finding.consequences:
        page.wrapped(consequence, first="    - ", rest="      ")
    if finding.witness:
        page.line("    How it gets there:")
        for number, step in enumerate(finding.witness, 1):
            page.wrapped(step, first=f"      {number}. ", rest="         ")
    if finding.positions:
        stands = "; ".join(f"{choice} at {states}" for choice, states in finding.positions)
        page.wrapped(f"With: {stands}.", first="    ")
    page.wrapped(f"Why:    {finding.why}", first="    ", rest="            ")
    page.wrapped(f"Remedy: {finding.remedy}", first="    ", rest="            ")
    page.wrapped(f"Source: {finding.source}.", first="    ", rest="            ")


def counts_line(counts: dict[str, int]) -> str:
    """Findings by signal word, in one line."""
    return ", ".join(f"{counts[word]} {word}" for word in SIGNAL_WORDS)


def grouped(unjudged: tuple[Unjudged, ...]) -> Iterator[tuple[str, str, list[str]]]:
    """What could not be judged, gathered by item and missing field: (item, missing, rules)."""
    found: dict[tuple[str, str], list[str]] = {}
    for each in unjudged:
        found.setdefault((each.item, each.missing), []).append(each.rule)
    for (item, missing), rules in found.items():
        yield item, missing, sorted(set(rules))
