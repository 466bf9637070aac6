"""What the exported tables say, and that no reader takes a cell of them for a formula."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
import zipfile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sheets.boats import boat, example, vessel
from vesselspec.record import Record
from vesselspec.sheets.files import about, as_csv, as_workbook
from vesselspec.sheets.guard import held, unguarded
from vesselspec.sheets.schedules import tables
from vesselspec.sheets.table import Table

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
FORMULAS = ("=1+1", "+1", "-12 V bus", "@SUM(A1)", "\t=1", "\n=1", " =1", "'=1", "＝1+1", '=HYPERLINK("x")', "a;=1")


def made(record: Record) -> tuple[Table, ...]:
    found = vessel(record)
    return tables(found, record.places)


def rows(content: bytes) -> list[list[str]]:
    return [*csv.reader(io.StringIO(content.decode(), newline=""), strict=True)]


def sheet(content: bytes, number: int) -> list[list[str]]:
    """A sheet's cells read without any spreadsheet library: inline strings and numbers, nothing else is there."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        root = ET.fromstring(archive.read(f"xl/worksheets/sheet{number}.xml"))
    assert {cell.get("t") for cell in root.iter(f"{_MAIN}c")} <= {"inlineStr", "n"}
    assert root.find(f".//{_MAIN}f") is None
    return [
        ["".join(part.text or "" for part in (*cell.iter(f"{_MAIN}t"), *cell.iter(f"{_MAIN}v"))) for cell in row]
        for row in root.iter(f"{_MAIN}row")
    ]


def test_the_panel_schedule_says_what_is_behind_each_way() -> None:
    table = next(each for each in made(example()) if each.name == "Panel ac-main")
    row = next(
        dict(zip(table.headings, row, strict=True)) for row in table.rows if row[:2] == ("shore-and-generator", "4")
    )
    assert row["Label"] == row["Name"] == "Water heater"
    assert (row["Device"], row["Poles"], row["Rating"]) == ("breaker", "L1, L2", "15 A")
    assert (row["Cable"], row["Size"], row["Length"]) == ("C204", "12 AWG", "8 m")
    assert (row["Goes to"], row["Space"], row["Power"]) == ("water-heater", "engine-room", "2000 W")
    assert row["Cores"] == "black: L1, red: L2, green: PE"


def test_a_core_on_a_bar_of_another_section_is_in_that_sections_schedule() -> None:
    odd = "{white: {from: 'ac-panel/shore:N', to: N}}"
    record = boat(f"cables: {{K1: {{type: ac-14, from: ac-panel/backed/3, to: outlets, cores: {odd}}}}}")
    table = next(each for each in made(record) if each.name == "Panel ac-panel")
    found = [row for row in table.rows if "K1" in row]
    assert [row[:2] for row in found] == [("shore", "bars"), ("backed", "3")]
    assert found[0][-1] == "Only white lands here; the cable runs from ac-panel/backed/3 to outlets."


def test_every_way_cable_load_and_device_is_there_once_and_in_order() -> None:
    record = example()
    found = vessel(record)
    by_name = {each.name: each for each in made(record)}
    for name, collection in (("Cables", found.cables), ("Loads", found.loads), ("Devices", found.devices)):
        assert [row[0] for row in by_name[name].rows] == [*collection]
    for panel in found.panels.values():
        ways = {(row[0], row[1]) for row in by_name[f"Panel {panel.id}"].rows}
        assert ways >= {(section.id, way.id) for section in panel.sections for way in section.ways}
    assert [*by_name] == [each.name for each in made(record)]


def test_loads_say_their_demand_and_where_they_are_fed_from() -> None:
    table = next(each for each in made(example()) if each.name == "Loads")
    row = next(dict(zip(table.headings, row, strict=True)) for row in table.rows if row[0] == "aft-aircon")
    assert row["Demand: alongside-summer"] == "0.7 for 12 h a day"
    assert row["Cables come from"] == "ac-auxiliary/auxiliary/8"


def test_csv_is_rfc_4180() -> None:
    files = as_csv(made(example()))
    assert "cables.csv" in files and "panel-ac-main.csv" in files
    for content in files.values():
        assert not content.startswith(b"\xef\xbb\xbf")
        assert content.endswith(b"\r\n")
        assert len({len(row) for row in rows(content)}) == 1


def test_the_workbook_has_its_heading_frozen_printed_and_stamped() -> None:
    record = example()
    found = made(record)
    first = about([("Vessel", "Plain & Example"), ("Record", "abc of 2026-01-02")], ["Prove dead."], found)
    content = as_workbook((first, *found), "Plain & Example, abc")
    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["About", *(each.name for each in found)]
    assert book["About"]["B3"].value == "abc of 2026-01-02"
    cables = book["Cables"]
    assert cables.freeze_panes == "A2"
    assert cables.print_title_rows == "$1:$1"
    assert cables.column_dimensions["A"].width >= 6
    assert "Plain && Example" in str(cables.oddFooter)
    assert content == as_workbook((first, *found), "Plain & Example, abc")  # no time of day in it


def test_three_readers_agree_about_the_workbook() -> None:
    pandas = pytest.importorskip("pandas")
    found = made(example())
    content = as_workbook(found, "")
    cables = next(each for each in found if each.name == "Cables")
    number = 1 + [each.name for each in found].index("Cables")
    plain = [[str(cell) for cell in row if cell != ""] for row in (cables.headings, *cables.rows)]
    assert sheet(content, number) == plain
    frame = pandas.read_excel(io.BytesIO(content), sheet_name="Cables", dtype=str, keep_default_na=False)
    assert [*frame.columns] == [*cables.headings]
    assert [*map(tuple, frame.values.tolist())] == [tuple(map(str, row)) for row in cables.rows]
    delimited = pandas.read_csv(io.BytesIO(as_csv(found)["cables.csv"]), dtype=str, keep_default_na=False)
    assert [*map(tuple, delimited.values.tolist())] == [tuple(map(str, row)) for row in cables.rows]


@pytest.mark.parametrize("said", FORMULAS)
def test_no_cell_is_a_formula(said: str) -> None:
    table = Table("Any", ("Heading",), ((said,),))
    [(_, content)] = as_csv([table]).items()
    cell = rows(content)[1][0]
    assert cell == said if said == "a;=1" else cell == f"'{said}"
    assert unguarded(cell) == said
    book = as_workbook([table], said)
    [_, [found]] = sheet(book, 1)  # asserts that there is no formula
    assert found == said
    back = openpyxl.load_workbook(io.BytesIO(book))["Any"]["A2"]
    assert (back.value, back.data_type, bool(back.quotePrefix)) == (said, "s", said != "a;=1")


def test_a_hostile_record_is_exported_as_text() -> None:
    record = boat('loads:\n  evil: {name: "=cmd|\' /C calc\'!A0", note: "a\\x01b"}\n')
    content = as_csv(made(record))["loads.csv"].decode()
    assert ",'=cmd|" in content
    assert "a\\u0001b" in content
    openpyxl.load_workbook(io.BytesIO(as_workbook(made(record), "a\x01b")))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.text(max_size=20), min_size=1, max_size=4))
def test_any_text_comes_back_out_of_both(texts: list[str]) -> None:
    table = Table("Any", tuple(f"H{n}" for n in range(len(texts))), (tuple(texts),))
    wanted = [held(each) for each in texts]
    [(_, content)] = as_csv([table]).items()
    read = rows(content)[1] if any(texts) or len(texts) > 1 else [""]
    assert [unguarded(each) for each in read] == wanted
    line = [each.replace("\r\n", "\n").replace("\r", "\n") for each in wanted if each]  # as XML reads line breaks
    found = sheet(as_workbook([table], ""), 1)
    assert [each.replace("\r\n", "\n").replace("\r", "\n") for each in (found[1] if len(found) > 1 else [])] == line


def test_titles_of_sheets_never_clash() -> None:
    long = "panel-" + "x" * 60
    book = openpyxl.load_workbook(
        io.BytesIO(as_workbook([Table(n, ("A",), ()) for n in (long, long + "y", "a", "A")], ""))
    )
    assert len({each.casefold() for each in book.sheetnames}) == 4
    assert len(as_csv([Table(n, ("A",), ()) for n in (long, "a", "A")])) == 3
