"""A page as headings, paragraphs, lists and tables, written as terminal text, Markdown or HTML from one content."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

from vesselspec.report import html
from vesselspec.report.markdown import escape, quoted
from vesselspec.report.terminal import Page, one_line


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 is the page's own."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Paragraph:
    """Running text. `mark` is one of strong, note, caution, or empty."""

    text: str
    mark: str = ""


@dataclass(frozen=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]
    small: bool = False


@dataclass(frozen=True)
class Table:
    """A table. `right` are the columns of figures; `grid` asks for narrow, equal columns after the first."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    grid: bool = False


Block = Heading | Paragraph | Bullets | Table


def as_text(page: Page, blocks: Iterable[Block]) -> str:
    """The page for a terminal."""
    for block in blocks:
        match block:
            case Heading():
                page.wrapped(block.text.upper() if block.level == 2 else block.text)
                page.line()
            case Paragraph():
                page.wrapped(f"{block.mark.upper()}: {block.text}" if block.mark == "caution" else block.text)
                page.line()
            case Bullets():
                for item in block.items:
                    page.wrapped(item, first="  - ", rest="    ")
                page.line()
            case Table():
                _text_table(page, block)
                page.line()
    return page.text()


def _text_table(page: Page, table: Table) -> None:
    cells = [tuple(one_line(cell) for cell in row) for row in (table.head, *table.rows)]
    last = len(table.head) - 1
    widths = [max(len(row[column]) for row in cells) for column in range(len(table.head))]
    before = sum(widths[:last]) + 2 * last + 2
    room = max(page.width - before, 16)
    wraps = last not in table.right and not table.grid
    for row in cells:
        parts = [
            cell.rjust(width) if column in table.right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        if not wraps:
            page.line(("  " + "  ".join(parts)).rstrip())
            continue
        lines = textwrap.wrap(row[last], room, break_long_words=False, break_on_hyphens=False) or [""]
        page.line(("  " + "  ".join([*parts[:last], lines[0]])).rstrip())
        for line in lines[1:]:
            page.line(" " * before + line)


def as_markdown(blocks: Iterable[Block]) -> str:
    """The page as Markdown."""
    lines: list[str] = []
    for block in blocks:
        match block:
            case Heading():
                lines += [f"{'#' * block.level} {escape(block.text)}", ""]
            case Paragraph(mark="caution"):
                lines += quoted((escape(block.text),))
            case Paragraph(mark="strong"):
                lines += [f"**{escape(block.text)}**", ""]
            case Paragraph():
                lines += [escape(block.text), ""]
            case Bullets():
                lines += [*(f"- {escape(item)}" for item in block.items), ""]
            case Table():
                rule = ["---:" if column in block.right else "---" for column in range(len(block.head))]
                rows = [block.head, *block.rows]
                written = ["| " + " | ".join(escape(cell) or " " for cell in row) + " |" for row in rows]
                lines += [written[0], "|" + "|".join(rule) + "|", *written[1:], ""]
    return "\n".join(lines)


def as_html(title: str, blocks: Iterable[Block]) -> str:
    """The page as one HTML file that needs nothing else, to be read on a screen or printed on A4 or Letter."""
    return html.page("blocks.html", title=title, blocks=[(type(block).__name__, block) for block in blocks])
