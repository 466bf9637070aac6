"""Tables to the bytes of files: delimited text (RFC 4180, UTF-8) or one workbook (ISO/IEC 29500).

No cell of either is ever a formula. The same tables give the same bytes.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

from vesselspec.sheets.guard import guarded, held
from vesselspec.sheets.table import Table, digits, letters

#: What a title of a sheet may hold, and its greatest length.
_NOT_IN_TITLE = re.compile(r"[][:*?/\\']")
_LONGEST_TITLE = 31
_WIDEST, _NARROWEST = 48, 6
_NO_DAY = datetime.datetime(1980, 1, 1)
ABOUT = "About"


def about(lines: Sequence[tuple[str, str]], cautions: Iterable[str], tables: Sequence[Table]) -> Table:
    """The first sheet: of what vessel and when, what to beware of, and what follows."""
    rows: list[tuple[str | int | float, ...]] = [*lines, *(("Caution", each) for each in cautions)]
    rows += [(each.name, f"{len(each.rows)} rows") for each in tables]
    return Table(ABOUT, ("What", "Value"), tuple(rows))


def as_csv(tables: Sequence[Table]) -> dict[str, bytes]:
    """A file for each table, by its name."""
    names = _unique([re.sub(r"[^a-z0-9._+-]", "-", table.name.lower()) for table in tables])
    return {f"{name}.csv": _csv(table) for name, table in zip(names, tables, strict=True)}


def _csv(table: Table) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    for row in (table.headings, *table.rows):
        writer.writerow([guarded(held(each)) if isinstance(each, str) else digits(each) for each in row])
    return out.getvalue().encode()


def as_workbook(tables: Sequence[Table], footer: str) -> bytes:
    """One workbook with a sheet for each table; `footer` is printed on every page."""
    import openpyxl  # noqa: PLC0415 - 100 ms that only a workbook costs

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    titles = _unique([_NOT_IN_TITLE.sub("-", held(table.name))[:_LONGEST_TITLE] for table in tables])
    for title, table in zip(titles, tables, strict=True):
        _fill(book.create_sheet(title), table, footer)
    out = io.BytesIO()
    book.save(out)
    return _repeatable(out.getvalue())


def _fill(sheet: Any, table: Table, footer: str) -> None:
    from openpyxl.styles import Alignment, Font  # noqa: PLC0415

    bold, wrapped = Font(bold=True), Alignment(wrap_text=True, vertical="top")
    for number, row in enumerate((table.headings, *table.rows), 1):
        for place, value in enumerate(row, 1):
            if value == "":
                continue
            cell = sheet.cell(number, place)
            if isinstance(value, str):
                cell.value = held(value)
                cell.data_type = "s"  # never a formula, whatever it starts with
                cell.quotePrefix = guarded(value) != value  # and none when somebody edits it
            else:
                cell.value = value
            cell.alignment = wrapped
            if number == 1:
                cell.font = bold
    for place in range(1, len(table.headings) + 1):
        longest = max(len(str(row[place - 1])) for row in (table.headings, *table.rows))
        sheet.column_dimensions[letters(place)].width = min(max(longest + 2, _NARROWEST), _WIDEST)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    if table.rows and table.name != ABOUT:
        sheet.auto_filter.ref = f"A1:{letters(len(table.headings))}{len(table.rows) + 1}"
    sheet.oddFooter.left.text = _footer(footer)
    sheet.oddFooter.right.text = "&A, page &P of &N"


def _footer(text: str) -> str:
    """Text of a footer, in which & starts a command; 255 characters are the most that all of one may have."""
    return held(text).replace("\n", " ")[:150].replace("&", "&&")


def _unique(names: Sequence[str]) -> list[str]:
    """Names that differ even where capitals do not count."""
    taken: set[str] = set()
    found = []
    for name in names:
        new, number = name, 1
        while new.casefold() in taken:
            number += 1
            new = f"{name[: _LONGEST_TITLE - 4]}-{number}"
        taken.add(new.casefold())
        found.append(new)
    return found


def _repeatable(content: bytes) -> bytes:
    """The same workbook without the time at which it was made."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "docProps/core.xml":
                data = re.sub(rb">[0-9]{4}-[0-9T:.-]+Z<", b">%sZ<" % _NO_DAY.isoformat().encode(), data)
            entry = zipfile.ZipInfo(part.filename, _NO_DAY.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, data)
    return out.getvalue()
