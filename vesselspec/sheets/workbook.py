"""A workbook (Office Open XML, ISO/IEC 29500) to grids: values only; nothing in it is run, followed or computed."""

from __future__ import annotations

import datetime
import io
import warnings
import zipfile
from collections.abc import Iterator
from typing import Any

from vesselspec.sheets.guard import LONGEST_CELL
from vesselspec.sheets.table import Broken, Grid, SheetError, Value
from vesselspec.sheets.text import MOST_COLUMNS, MOST_ROWS

#: A workbook is a compressed archive: what it unpacks to is bounded before anything is unpacked.
MOST_UNPACKED = 32 * 1024 * 1024
MOST_PARTS = 2_000
MOST_SHEETS = 200
#: Empty cells count too: a sheet can claim a million of them in a few bytes.
_MOST_CELLS = 2_000_000


def read_workbook(name: str, content: bytes) -> tuple[Grid, ...]:
    """Read every sheet of a workbook. Raises SheetError for what is none, or too much."""
    try:
        _admit(name, content)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _grids(name, content)
    except SheetError:
        raise
    except Exception as error:  # whatever a damaged or hostile file makes the readers do
        raise SheetError(
            f"{name}: this workbook cannot be read ({type(error).__name__}).", "Save it anew as .xlsx, or as CSV."
        ) from None


def _grids(name: str, content: bytes) -> tuple[Grid, ...]:
    import openpyxl  # noqa: PLC0415 - 100 ms that only a workbook costs

    said, written = (
        openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=values, keep_links=False, keep_vba=False)
        for values in (True, False)
    )
    if len(said.worksheets) > MOST_SHEETS:
        raise SheetError(f"{name}: more than {MOST_SHEETS} sheets.", "Leave out those that are no list.")
    several = len(said.worksheets) > 1
    return tuple(
        Grid(f"{name}[{one.title}]" if several else name, tuple(_rows(name, one, other)), _notes(one))
        for one, other in zip(said.worksheets, written.worksheets, strict=True)
    )


def _admit(name: str, content: bytes) -> None:
    """Refuse what unpacks to too much, is locked, or declares entities."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = archive.infolist()
        read = [part for part in parts if part.filename.lower().endswith((".xml", ".rels"))]  # pictures are not
        if len(parts) > MOST_PARTS or sum(part.file_size for part in read) > MOST_UNPACKED:
            raise SheetError(f"{name}: it unpacks to too much.", "Save only the list, in a workbook of its own.")
        if any(part.flag_bits & 1 for part in parts):
            raise SheetError(f"{name}: it is encrypted.", "Save it without a password.")
        if not any(part.filename.lower() == "xl/workbook.xml" for part in parts):
            raise SheetError(f"{name}: it is an archive and no .xlsx workbook.", "Save it as .xlsx or CSV.")
        # zipfile gives no more than the declared size, so a part cannot be greater than it says.
        if any(_declares(archive.read(part)) for part in read):
            raise SheetError(f"{name}: a part of it declares a document type.", "Save it anew as .xlsx.")


def _declares(part: bytes) -> bool:
    """Whether XML declares a document type, in whose entities bombs and other files hide; UTF-16 too."""
    return b"<!DOCTYPE" in part.replace(b"\0", b"")


def _notes(sheet: Any) -> tuple[str, ...]:
    hidden = sheet.sheet_state != "visible"
    return ("values as the spreadsheet stored them", *(("this sheet is hidden",) if hidden else ()))


def _rows(name: str, said: Any, written: Any) -> Iterator[tuple[Value, ...]]:
    """The rows of a sheet. What the file says about its own size is not believed."""
    said.reset_dimensions()
    written.reset_dimensions()
    cells = blank = 0
    for number, (values, formulas) in enumerate(zip(said.iter_rows(), written.iter_rows(), strict=True), 1):
        row = tuple(_value(one, other) for one, other in zip(values, formulas, strict=True))
        while row and row[-1] is None:
            row = row[:-1]
        cells += len(values) + 1
        if (row and number > MOST_ROWS) or cells > _MOST_CELLS:
            raise SheetError(f"{name}[{said.title}]: more than {MOST_ROWS:,} rows.", "Split the list.")
        if len(row) > MOST_COLUMNS:
            raise SheetError(
                f"{name}[{said.title}]:{number}: more than {MOST_COLUMNS} columns.", "Leave out what is empty."
            )
        if not row:  # sheets often go on for thousands of empty rows
            blank += 1
            continue
        yield from ((),) * blank
        blank = 0
        yield row


def _value(said: Any, written: Any) -> Value:
    value = said.value
    if said.data_type == "e":
        return Broken(f"it holds the error {str(value)[:20]}")
    if written.data_type == "f" and value is None:
        return Broken("it is a formula without a stored result")
    if isinstance(value, str):
        if len(value) > LONGEST_CELL:
            return Broken("it is too long for a cell")
        return value or None
    if value is None or isinstance(value, bool | int | float | datetime.date):
        return value
    if isinstance(value, datetime.time | datetime.timedelta):
        return Broken("the spreadsheet holds a time of day there; it may have made one of something else")
    return Broken("it holds nothing that a list can say")
