"""Text for a terminal: plain words first, colour only as a second carrier, nothing that a terminal would obey."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING

from vesselspec.standards.signals import CAUTION, DANGER, NOTICE, SIGNAL_WORDS, WARNING

if TYPE_CHECKING:
    from vesselspec.rules.findings import Conceded, Finding, Unjudged

#: What a terminal or a reader's eye would obey: controls, characters that turn the direction, invisible ones.
CONTROL = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff"
    "\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f]"
)
#: What a hosted CI would obey in a log: a line that begins so, blanks aside, and an older form anywhere in a line.
_COMMAND = re.compile(r"^(\s*):(?=:)|#(?=#\[)", re.MULTILINE)
#: Safety red, orange, yellow and blue of the signal words, as far as a terminal has them.
_STYLE = {DANGER: "\x1b[1;37;41m", WARNING: "\x1b[1;30;43m", CAUTION: "\x1b[1;33m", NOTICE: "\x1b[1;36m"}
_RESET = "\x1b[0m"

CAUTIONS = (
    "The record may be wrong: prove dead before touching, every time, with a tester proved before and after.",
    "Local codes and licensed practice come first. A survey of a record does not replace a survey of the boat.",
)


def clean(text: str) -> str:
    """Text from a record, with control and direction-changing characters shown as escapes."""
    flat = text.replace("\r\n", "\n").replace("\t", " ").replace("\r", "\\r")
    return CONTROL.sub(lambda found: f"\\u{ord(found.group()):04x}", flat)


def one_line(text: str) -> str:
    """The same on one line: no text from a record can begin a line of its own."""
    return clean(text).replace("\n", "\\n")


def no_commands(text: str) -> str:
    """The same text, in which the log of a hosted CI finds no command: text from a record may be wrapped anywhere."""
    return _COMMAND.sub(lambda found: "\\u0023" if found[1] is None else f"{found[1]}\\u003a", text)


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
            break_long_words=False,  # half an address is another address
        ) or [first.rstrip()]

    def word(self, signal_word: str) -> str:
        """A signal word, marked out."""
        return f"{_STYLE[signal_word]} {signal_word} {_RESET}" if self.colour else f"[{signal_word}]"

    def text(self) -> str:
        """The whole page."""
        return "\n".join(self.lines) + "\n"


def finding_lines(page: Page, finding: Finding, *, full: bool = True) -> None:
    """Add one finding: what and where, then why, how it comes about, remedy and source."""
    head, place = f"{page.word(finding.signal_word)} {finding.rule}", one_line(str(finding.place))
    if len(f"[{finding.signal_word}] {finding.rule}   {place}") <= page.width:
        page.line(f"{head}   {place}")
    else:
        page.line(head)
        page.line(f"    {place}")
    page.wrapped(finding.message + ".", first="    ")
    if finding.conceded is not None:
        page.wrapped(conceded_words(finding.conceded), first="    ")
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


def conceded_words(conceded: Conceded) -> str:
    """What a concession says of a finding, in a sentence or two."""
    given = f"until {conceded.until} by {conceded.by} ({conceded.concession}): {conceded.reason.rstrip('.')}."
    said = f"Accepted {given}" if conceded.accepted else f"Mitigated, and counted all the same, {given}"
    if not conceded.mitigation:
        return said
    shown = "the record bears it out" if conceded.verified else "nothing in the record can show that it helps"
    return f"{said} Until then: {conceded.mitigation.rstrip('.')} ({shown})."


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
