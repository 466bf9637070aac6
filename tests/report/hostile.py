"""Text as somebody would write it who wants to be more than text, and what a page is made of."""

from __future__ import annotations

import re

from hypothesis import strategies as st

_PIECES = (
    "<script>alert(1)</script>", "<img src=x>", "<!--", "</p>", "&lt;b&gt;", "&", "[a](https://x.example)",
    "![i](https://x.example/i.svg)", "[ref]: https://x.example", "<https://x.example>", "https://x.example",
    "www.x.example", "a@x.example", "# h", "## h", "===", "---", "***",
    "\n", "\n\n", "\r\n", "\r", "\t", "|", "| a | b |",
    "\\|", "\\", "`", "``", "```", "**", "__", "~~", "- [ ] ", "- [x] ", "* ", "+ ", "1. ", "7) ", "> ", "    ", "$x$",
    "\x1b[31m", "\x1b]0;x\x07", "\x9b2J", "\x00", "\x7f", "\u202e", "\u2066", "\u061c", "\u200b", "\u2028", "\ufeff",
    "\U000e0041", "#12", "@someone", ":x:", " ", "x", "é", "[DANGER]", "^a^", "{a}",
)  # fmt: skip


@st.composite
def hostile(draw: st.DrawFn, longest: int = 80) -> str:
    """A text with something to see in it."""
    text = "".join(draw(st.lists(st.sampled_from(_PIECES), min_size=1, max_size=6)))[: longest - 1]
    at = draw(st.integers(0, len(text)))
    return text[:at] + "x" + text[at:]


_PREFIX = re.compile(r"(#{1,6} |> |- \[ \] |(?:  )?- |[0-9]+\. |  (?=\S)|)")
_ESCAPE = re.compile(r"\\[!-/:-@\[-`{-~]|&(?:amp|lt|gt|#[0-9]+);")
_TICKS = re.compile("`+")
_LEADING = re.compile(r"([-+*>#=~`|]|[0-9]{1,9}[.)])(\s|$)|[-=_*~]{3}|`{3,}[^`]*$")
_AUTOMATIC = re.compile(r"[a-z]+://|www\.|[^\s\\]@\w", re.IGNORECASE)
_CONTROL = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\U000e0000-\U000e007f]"
)


def _inline(text: str) -> tuple[str, str]:
    """Everything in a line that is markup, a code span as one backtick, and the text outside the spans."""
    live, outside, at = "", "", 0
    while at < len(text):
        escape, ticks = _ESCAPE.match(text, at), _TICKS.match(text, at)
        if escape is not None:
            at = escape.end()
            outside += escape[0]
        elif ticks is not None:
            closing = (run for run in _TICKS.finditer(text, ticks.end()) if run[0] == ticks[0])
            end = next(closing, None)
            live += "`" if end is not None else "unclosed"
            at = (end or ticks).end()
        else:
            live += text[at] if text[at] in "*_<>[]|~^$" else ""
            outside += text[at]
            at += 1
    return live, outside


def skeleton(markdown: str) -> list[tuple[str, str]]:
    """What of a page is markup: for each line how it begins, and every character in it that is not plain text."""
    lines = []
    for line in markdown.split("\n"):
        assert not _CONTROL.search(line), repr(line)
        prefix = _PREFIX.match(line)
        assert prefix is not None
        rest = line[prefix.end() :]
        if prefix[1] and not line.startswith("|"):
            assert not _LEADING.match(rest), repr(line)
        live, outside = _inline(rest)
        assert not _AUTOMATIC.search(outside), repr(line)
        lines.append((prefix[1], live))
    return lines
