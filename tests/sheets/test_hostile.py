"""Files that want too much, or are none: told in a sentence, never more."""

from __future__ import annotations

import io
import random
import time
import zipfile
from collections.abc import Callable

import pytest

from tests.sheets.boats import text, workbook
from vesselspec.sheets.intake import read_list
from vesselspec.sheets.table import Broken, SheetError

GOOD = workbook(("S", [["Name", "Power (W)"], ["Fan", 9]]))
SHEET = "xl/worksheets/sheet1.xml"
ENTITIES = (
    '<!DOCTYPE worksheet [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
)  # fmt: skip


def altered(change: Callable[[str, bytes], bytes | None], **added: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(GOOD)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            data = change(part, old.read(part))
            if data is not None:
                new.writestr(part, data)
        for name, data in added.items():
            new.writestr(name, data)
    return out.getvalue()


def replaced(part: str, old: bytes, new: bytes) -> bytes:
    found = altered(lambda name, data: data.replace(old, new) if name == part else data)
    assert found != GOOD
    return found


CASES: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "empty"),
    "blank": (b"\n \n", "empty"),
    "no text": (b"\x00\x01\x02Name,Power", "no text"),
    "neither encoding": (b"Name,Power\r\n\x81\x8d,1 W\r\n", "neither UTF-8 nor Windows-1252"),
    "broken UTF-16": (b"\xff\xfeN\x00a", "starts as UTF-16"),
    "open quote": (b'Name,Power\r\n"Fan,9 W\r\n', "unexpected end"),
    "text after a quote": (b'Name,Power\r\n"Fan"x,9 W\r\n', "expected after"),
    "too many rows": (text(["Name", "Power"], *[["a", "1 W"]] * 10_001), "more than 10,000 rows"),
    "too many columns": (text(["Name"], ["x"] * 201), "more than 200 columns"),
    "a cell too long": (text(["Name", "Power"], ["x" * 40_000, ""]), "32,767 characters"),
    "too large": (b"x" * (16 * 2**20 + 1), "more than 16 MB"),
    "an old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old or encrypted"),
    "half an archive": (GOOD[: len(GOOD) // 2], "cannot be read"),
    "another archive": (altered(lambda name, data: None, **{"a.txt": b"x"}), "no .xlsx workbook"),
    "bomb": (altered(lambda _, data: data, **{"xl/a.xml": bytes(40 * 2**20)}), "unpacks to too much"),
    "entities": (replaced(SHEET, b"<worksheet", ENTITIES.encode() + b"<worksheet"), "document type"),
    "entities in the strings": (
        altered(lambda _, data: data, **{"xl/sharedStrings.xml": b'<!DOCTYPE x SYSTEM "file:///etc/passwd"><sst/>'}),
        "document type",
    ),
    "no sheet": (altered(lambda name, data: None if name == SHEET else data), "no sheet of it"),
    "no XML": (replaced(SHEET, b"<sheetData>", b"<sheetData><"), "cannot be read"),
    "far column": (replaced(SHEET, b'r="B2"', b'r="ZZZ2"'), "200 columns"),
    "far row": (replaced(SHEET, b'<row r="2"', b'<row r="99999999"'), "10,000 rows"),
}


@pytest.mark.parametrize("case", CASES)
def test_it_is_told(case: str) -> None:
    content, why = CASES[case]
    began = time.monotonic()
    with pytest.raises(SheetError, match=why) as found:
        read_list("loads", "list.xlsx", content)
    assert found.value.reason.startswith("list.xlsx")
    assert found.value.remedy.endswith(".")
    assert time.monotonic() - began < 20


def test_a_sheet_that_claims_to_be_greater_than_it_is() -> None:
    content = altered(
        lambda name, data: data.replace(b'ref="A1:B2"', b'ref="A1:XFD1048576"') if name == SHEET else data
    )
    assert len(read_list("loads", "list.xlsx", content).rows) == 2


def test_a_formula_counts_as_what_the_spreadsheet_stored() -> None:
    content = replaced(SHEET, b"<v>9</v>", b"<f>4+5</f><v>9</v>")
    assert read_list("loads", "list.xlsx", content).at(2, 2) == 9
    content = replaced(SHEET, b"<v>9</v>", b"<f>[1]Other!A1</f>")
    assert read_list("loads", "list.xlsx", content).at(2, 2) == Broken("it is a formula without a stored result")


def test_whatever_is_done_to_the_bytes_it_is_read_or_told() -> None:
    dice = random.Random(7)
    for sample in (GOOD, text(["Name", "Power"], ["Fan", "9 W"])):
        for _ in range(60):
            content = bytearray(sample)
            for _ in range(dice.randint(1, 8)):
                content[dice.randrange(len(content))] = dice.randrange(256)
            try:
                read_list("loads", "list", bytes(content))
            except SheetError as error:
                assert str(error)
