"""Boats and files that the tests of spreadsheets share."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl

from vesselspec.model.vessel import Vessel
from vesselspec.record import Record, read

ROOT = Path(__file__).parents[2]
BASE = (ROOT / "tests/rules/bases/boat.yaml").read_bytes()


def example() -> Record:
    """The example's record."""
    folder = ROOT / "example_vessel"
    return read({file.name: file.read_bytes() for file in folder.glob("*.yaml")})


def boat(more: str = "") -> Record:
    """The sound boat of the rules' cases, with some entries more."""
    return read({"vessel.yaml": BASE, "more.yaml": more.encode()})


def vessel(record: Record) -> Vessel:
    assert record.vessel is not None, record.problems
    return record.vessel


def workbook(*sheets: tuple[str, Sequence[Sequence[Any]]], cells: Mapping[str, Any] | None = None) -> bytes:
    """A workbook as some other program would write it; `cells` are put into the first sheet by name."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    for name, value in (cells or {}).items():
        book.worksheets[0][name] = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def text(*rows: Sequence[str]) -> bytes:
    """Rows without anything that needs quotes, as CSV."""
    return "".join(",".join(row) + "\r\n" for row in rows).encode()
