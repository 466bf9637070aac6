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
    """A table as wide as the page at most, as far as its words allow: wide columns are broken, figures never."""
    cells = [tuple(one_line(cell) for cell in row) for row in (table.head, *table.rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(table.head))]
    if not table.grid:
        fixed = [column in table.right for column in range(len(widths))]
        least = [
            width if fixed[column] else max(len(part) for row in cells for part in _parts(row[column], row is cells[0]))
            for column, width in enumerate(widths)
        ]
        excess = 2 * len(widths) + sum(widths) - page.width
        while excess > 0 and (loose := [c for c, width in enumerate(widths) if width > least[c]]):
            widest = max(loose, key=lambda column: widths[column])
            widths[widest] -= 1
            excess -= 1
    for row in cells:
        columns = [_in_lines(cell, widths[column], row is cells[0]) for column, cell in enumerate(row)]
        for number in range(max(map(len, columns))):
            parts = [lines[number] if number < len(lines) else "" for lines in columns]
            said = (
                part.rjust(width) if column in table.right else part.ljust(width)
                for column, (part, width) in enumerate(zip(parts, widths, strict=True))
            )
            page.line(("  " + "  ".join(said)).rstrip())


def _parts(cell: str, head: bool) -> list[str]:
    """What a cell is broken into at most: words; an id in a heading also after its hyphens."""
    return (cell.replace("-", "- ") if head else cell).split(" ") or [""]


def _in_lines(cell: str, width: int, head: bool) -> list[str]:
    return textwrap.wrap(cell, width, break_long_words=False, break_on_hyphens=head) or [""]


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
