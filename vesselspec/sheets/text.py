"""Delimited text to a grid: its encoding and separator found, and told; nothing read in two ways."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter

from vesselspec.sheets.guard import unguarded
from vesselspec.sheets.table import Grid, SheetError, Value

MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 10_000, 200, 32_767
_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_SAMPLE = 200


def read_text(name: str, content: bytes) -> Grid:
    """Read delimited text. Raises SheetError for what is none, or too much."""
    text, encoding = _decoded(name, content)
    text, separator = _declared(text)
    separator = separator or _separator(name, text)
    rows: list[tuple[Value, ...]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            if len(rows) >= MOST_ROWS:
                raise SheetError(f"{name}: more than {MOST_ROWS:,} rows.", "Split the list.")
            if len(row) > MOST_COLUMNS:
                raise SheetError(
                    f"{name}:{len(rows) + 1}: more than {MOST_COLUMNS} columns.", "Leave out what is empty."
                )
            if any(len(cell) > LONGEST_CELL for cell in row):
                raise SheetError(
                    f"{name}:{len(rows) + 1}: a cell of more than {LONGEST_CELL:,} characters.", "Shorten it."
                )
            rows.append(tuple(unguarded(cell) or None for cell in row))
    except csv.Error as error:
        raise SheetError(
            f"{name}:{len(rows) + 1}: {error}.",
            "Look at the quotes there; a quote inside a quoted cell is written twice.",
        ) from None
    notes = (f"read as {encoding}, separated by {_SEPARATORS[separator]}",)
    return Grid(name, tuple(rows), notes, commas=separator == ";")  # programs separate so where the comma is taken


def _decoded(name: str, content: bytes) -> tuple[str, str]:
    """The text and the name of its encoding. Only UTF-8 proves itself; Windows-1252 is what is left, and told."""
    for mark, codec, said in (
        (codecs.BOM_UTF8, "utf-8", "UTF-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
        (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
    ):
        if content.startswith(mark):
            try:
                return content.removeprefix(mark).decode(codec), said
            except UnicodeDecodeError:
                raise SheetError(f"{name}: it starts as {said} and is none.", "Save it as UTF-8.") from None
    if b"\0" in content:
        raise SheetError(f"{name}: it is no text.", "Save it as CSV in UTF-8, or as .xlsx.")
    try:
        return content.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        pass
    try:
        return content.decode("cp1252"), "Windows-1252 (look at the letters with accents)"
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        raise SheetError(f"{name}: line {row} is neither UTF-8 nor Windows-1252.", "Save it as UTF-8.") from None


def _declared(text: str) -> tuple[str, str | None]:
    """The separator that a first line `sep=;` declares, which is then made an empty row."""
    head, _, rest = text.partition("\n")
    said = head.strip().strip('"').lower() if head[:1] in ("s", "S", '"') else ""
    if said.startswith("sep=") and head.strip().strip('"')[4:5] in _SEPARATORS:
        return f"\n{rest}", head.strip().strip('"')[4:5]
    if said == "sep=" and "\t" in head:
        return f"\n{rest}", "\t"
    return text, None


def _separator(name: str, text: str) -> str:
    """The separator by which most rows have one number of columns, more than one."""
    best, most = ",", (0, 0)
    for separator in _SEPARATORS:
        widths: Counter[int] = Counter()
        try:
            for number, row in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=separator)):
                if number >= _SAMPLE:
                    break
                widths[len(row)] += len(row) > 1
        except csv.Error:
            continue
        width, rows = max(widths.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
        if rows and (rows, width) > most:
            best, most = separator, (rows, width)
    if not text.strip():
        raise SheetError(f"{name}: it is empty.", "Choose the list itself.")
    return best
