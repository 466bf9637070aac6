"""A page as headings, paragraphs, lists and tables, written as terminal text, Markdown or HTML from one content."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape as html_escape

from vesselspec.report.markdown import escape, quoted
from vesselspec.report.terminal import Page, clean, one_line


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


_STYLE = """
@page { margin: 11mm; }
* { box-sizing: border-box; }
body { font: 9.2pt/1.2 "DejaVu Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff;
  max-width: 186mm; margin: 0 auto; padding: 4mm 0; }
h1 { font-size: 16pt; margin: 0 0 1mm; border-bottom: 1mm solid #000; }
h2 { font-size: 11pt; margin: 2.5mm 0 0.5mm; break-after: avoid; }
h3 { font-size: 9.5pt; margin: 2mm 0 0.5mm; break-after: avoid; }
p { margin: 0.6mm 0; }
p.strong { font-size: 13pt; font-weight: bold; margin: 1mm 0; }
p.note { font-size: 8.5pt; }
p.caution { border: 0.5mm solid #000; border-left-width: 2.5mm; padding: 0.5mm 2mm; font-size: 8.5pt;
  break-inside: avoid; }
ul { margin: 1mm 0; padding-left: 6mm; }
ul.small { font-size: 8.2pt; padding-left: 0; list-style: none; margin: 0.5mm 0; }
li { break-inside: avoid; }
table { border-collapse: collapse; width: 100%; margin: 0.6mm 0 1.2mm; font-size: 8.5pt; }
th, td { border: 0.2mm solid #000; padding: 0.2mm 1.2mm; text-align: left; vertical-align: top;
  overflow-wrap: anywhere; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th { border-bottom-width: 0.6mm; }
.right { text-align: right; white-space: nowrap; }
table.grid { table-layout: fixed; font-size: 8pt; }
table.grid td, table.grid th { text-align: center; padding: 0.3mm; overflow-wrap: normal; }
table.grid td:first-child, table.grid th:first-child { text-align: left;
  width: 50mm; white-space: nowrap; overflow: hidden; text-overflow: ellipsis; }
.no { font-weight: bold; border-width: 0.6mm;
  background: repeating-linear-gradient(45deg, #fff 0 1.2mm, #ddd 1.2mm 1.6mm); }
@media print { body { padding: 0; } * { print-color-adjust: exact; -webkit-print-color-adjust: exact; } }
""".strip()


def html(text: str) -> str:
    """Text of the record as it may stand in HTML or SVG."""
    return html_escape(" ".join(clean(text).split()), quote=True)


def as_html(title: str, blocks: Iterable[Block]) -> str:
    """The page as one HTML file that needs nothing else, to be read on a screen or printed on A4 or Letter."""
    body: list[str] = []
    for block in blocks:
        match block:
            case Heading():
                body.append(f"<h{block.level}>{html(block.text)}</h{block.level}>")
            case Paragraph():
                kind = f' class="{block.mark}"' if block.mark else ""
                body.append(f"<p{kind}>{html(block.text)}</p>")
            case Bullets():
                kind = ' class="small"' if block.small else ""
                body.append(f"<ul{kind}>" + "".join(f"<li>{html(item)}</li>" for item in block.items) + "</ul>")
            case Table():
                body += _html_table(block)
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>{head}\n<title>{html(title)}</title>\n<style>\n{_STYLE}\n</style>'
        f"</head>\n<body>\n{chr(10).join(body)}\n</body>\n</html>\n"
    )


def _html_table(table: Table) -> Sequence[str]:
    def cell(tag: str, column: int, text: str) -> str:
        kinds = [
            kind for kind, on in (("right", column in table.right), ("no", tag == "td" and text.startswith("NO"))) if on
        ]
        attribute = f' class="{" ".join(kinds)}"' if kinds else ""
        inner = html(text)
        return f"<{tag}{attribute}>{inner}</{tag}>"

    head = "".join(cell("th", column, text) for column, text in enumerate(table.head))
    lines = [
        f"<table{' class=' + chr(34) + 'grid' + chr(34) if table.grid else ''}>",
        f"<thead><tr>{head}</tr></thead>",
    ]
    lines.append("<tbody>")
    lines += ["<tr>" + "".join(cell("td", c, text) for c, text in enumerate(row)) + "</tr>" for row in table.rows]
    return [*lines, "</tbody></table>"]
