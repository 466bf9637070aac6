"""HTML-like labels: tables and cells. Every word is escaped here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from vesselspec.draw.text import BREAK, safe, width

#: How the name of a cell begins in which a symbol is drawn; the symbol's id follows, with `_` for `-`.
SYMBOL_ID: Final = "symbol_"
#: Longest line: what comes here has been cut or broken to measure.
_LINE: Final = 240


def cell(
    content: Sequence[str] | str,
    *,
    heavy: bool = False,
    port: str = "",
    pad: int = 2,
    border: int = 0,
    sides: str = "",
    align: str = "",
    rounded: bool = False,
    dashed: bool = False,
    columns: int = 1,
    rows: int = 1,
    least: float = 0,
    fill: str = "",
) -> str:
    """A cell. A sequence of texts is written line by line; a plain string is markup that is ready."""
    attributes = {
        "port": port,
        "border": str(border),
        "cellpadding": str(pad),
        "sides": sides if border else "",
        "align": align,
        "style": ",".join(word for word, on in (("rounded", rounded), ("dashed", dashed)) if on),
        "colspan": str(columns) if columns > 1 else "",
        "rowspan": str(rows) if rows > 1 else "",
        "bgcolor": fill,
    }
    if isinstance(content, str):
        inner = content
    else:
        # The layout engine knows no widths beyond ASCII, and not every viewer has the face: leave some room.
        least = max([least, *(width(line) + 2 * pad + 4 for line in content)])
        inner = _lines(content, align=align, heavy=heavy)
    if least:
        attributes["width"] = str(round(least))
    return f"<td{_attributes(attributes)}>{inner}</td>"


def with_symbol(symbol: str, content: Sequence[str], *, heavy: bool = False, pad: int = 2) -> str:
    """A cell with room for a symbol before its words; `render` draws it there."""
    id = SYMBOL_ID + symbol.replace("-", "_")
    room = f'<td id="{id}" href="#" fixedsize="true" width="26" height="22" bgcolor="white"></td>'
    return cell(table([row(room, cell(content, heavy=heavy, pad=pad))]), pad=1)


def row(*cells: str) -> str:
    """A row of cells."""
    return f"<tr>{''.join(cells)}</tr>"


def table(
    rows: Iterable[str],
    *,
    border: int = 0,
    spacing: int = 0,
    cells: int = 0,
    rounded: bool = False,
    dashed: bool = False,
    sides: str = "",
    port: str = "",
) -> str:
    """A table, as a label or inside a cell."""
    attributes = {
        "border": str(border),
        "cellborder": str(cells),
        "cellspacing": str(spacing),
        "cellpadding": "0",
        "style": ",".join(word for word, on in (("rounded", rounded), ("dashed", dashed)) if on),
        "sides": sides,
        "port": port,
    }
    return f"<table{_attributes(attributes)}>{''.join(rows)}</table>"


def label(markup: str) -> str:
    """Markup as the value of a label."""
    return f"<{markup}>"


def _lines(lines: Sequence[str], *, align: str, heavy: bool) -> str:
    written = [f"<b>{safe(line, _LINE)}</b>" if heavy else safe(line, _LINE) for line in lines]
    if align == "left":
        return "".join(f'{line}<br align="left"/>' for line in written) if len(written) > 1 else written[0]
    return BREAK.join(written)


def _attributes(pairs: dict[str, str]) -> str:
    return "".join(f' {key}="{value}"' for key, value in pairs.items() if value)
