"""Lists of people taken in: what is mapped, what is added, what is told and left out."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from tests.sheets.boats import boat, text, vessel, workbook
from vesselspec.sheets.intake import read_list
from vesselspec.sheets.plan import CELL, CONFLICT, ROW, TOLD, Origin, Plan
from vesselspec.sheets.planner import plan
from vesselspec.sheets.table import SheetError

ORIGIN = Origin("list.csv", datetime.date(2026, 3, 14), "owner")
KNOWN = {"evidence": {"how": "documented", "by": "owner", "when": "2026-03-14"}}


def planned(
    kind: str,
    content: bytes,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    more: str = "",
) -> Plan:
    grid = read_list(kind, "list.csv", content)
    return plan(kind, grid, vessel(boat(more)), ORIGIN, columns or {}, units or {})


def seats(found: Plan) -> dict[str, tuple[str | None, str | None]]:
    return {seat.heading: (seat.key, seat.unit) for seat in found.seating.seats}


def told(found: Plan, *weights: str) -> list[str]:
    return [f"{each.place(found.grid)}: {each.reason}" for each in found.of(*weights)]


@pytest.mark.parametrize(
    ("kind", "heading", "key", "unit"),
    [
        ("loads", "Amps", "current", "A"),
        ("loads", "Current (A)", "current", "A"),
        ("loads", "CURRENT [mA]", "current", "mA"),
        ("loads", "Current, A", "current", "A"),
        ("loads", "Watts", "power", "W"),
        ("loads", "Power (kW)", "power", "kW"),
        ("loads", "Description", "name", None),
        ("loads", "Full-load amps", "current", "A"),
        ("cables", "AWG", "size", "AWG"),
        ("cables", "Wire", "size", None),
        ("cables", "Wire size (mm²)", "size", "mm2"),
        ("cables", "Gauge", "size", None),
        ("cables", "Length ft", "length", "ft"),
        ("cables", "Length in feet", "length", "ft"),
        ("cables", "Length (one way)", "length", None),
        ("cables", "Cable #", "id", None),
        ("cables", "Circuit No.", "way", None),
        ("cables", "  FROM ", "from", None),
        ("cables", "Length (round trip)", None, None),
        ("cables", "Round trip length (ft)", None, None),
        ("cables", "Length (see note 3)", None, None),
        ("cables", "Breaker", None, None),
        ("cables", "Something else", None, None),
    ],
)
def test_headings_in_their_several_forms(kind: str, heading: str, key: str | None, unit: str | None) -> None:
    from vesselspec.sheets.mapping import proposed

    seat = proposed(kind, 1, heading)
    assert (seat.key, seat.unit) == (key, unit)
    assert seat.why


def test_a_load_list() -> None:
    found = planned(
        "loads",
        text(
            ["Owner's list"],
            [],
            ["Description", "Location", "Watts", "Poles", "Remarks"],
            ["Bread oven", "Cabin", "1500", "L1/N", "new"],
            ["Fan", "?", "TBD", "", ""],
        ),
    )
    assert found.seating.row == 3
    assert found.entries == {
        "bread-oven": {
            "name": "Bread oven",
            "space": "cabin",
            "poles": ["L1", "N"],
            "power": "1500 W",
            "note": "new. From list.csv, row 4.",
            **KNOWN,
        }
    }
    assert told(found, ROW) == ["list.csv:5:A: it has nothing but a name: it looks like a heading between the rows"]


def test_a_cable_list() -> None:
    found = planned(
        "cables",
        text(
            ["Wire No.", "Panel", "Circuit", "To", "AWG", "Length (ft)", "Label"],
            ["K 1", "ac-panel", "backed 3", "Outlets", "12", "7,5", "K1"]
            and ["K1", "ac-panel", "backed 3", "outlets", "12", "7.5", "K1"],
        ),
    )
    assert found.entries == {
        "K1": {
            "from": "ac-panel/backed/3",
            "to": "outlets",
            "size": "12 AWG",
            "length": "7.5 ft",
            "label": "K1",
            "note": "From list.csv, row 2.",
            **KNOWN,
        }
    }


def test_a_bare_number_is_never_given_a_unit() -> None:
    rows = [["Id", "From", "To", "Gauge", "Length"], ["K1", "ac-panel/shore/3", "outlets", "12", "7.5"]]
    found = planned("cables", text(*rows))
    assert len(found.open) == 2
    assert "--unit size=AWG" in found.open[0][1]
    assert "column E (Length) has no unit" in found.open[1][0]
    assert not {"size", "length"} & found.entries["K1"].keys()
    settled = planned("cables", text(*rows), units={"length": "ft", "size": "awg"})
    assert not settled.open
    assert settled.entries["K1"]["size"] == "12 AWG" and settled.entries["K1"]["length"] == "7.5 ft"
    left_out = planned("cables", text(*rows), columns={"Gauge": "", "column E": ""})
    assert not left_out.open and not {"size", "length"} & left_out.entries["K1"].keys()


def test_what_cannot_be_understood_stays_unknown_and_is_kept_in_the_note() -> None:
    found = planned(
        "loads",
        text(["Name", "Current (A)", "Space", "Sockets"], ["Fan", "2 or 3", "attic", "4"], ["Fun", "2", "", ""]),
    )
    assert found.entries["fan"] == {
        "name": "Fan",
        "note": "From list.csv, row 2. "
        'Not understood there: Current (A) "2 or 3". Not understood there: Space "attic". '
        'Not understood there: Sockets "4".',
        **KNOWN,
    }
    assert [each.split(": ")[0] for each in told(found, CELL)] == ["list.csv:2:B", "list.csv:2:C", "list.csv:2:D"]


def test_an_entry_that_is_there_is_kept_and_a_different_one_told_with_both_values() -> None:
    found = planned(
        "loads",
        text(["Id", "Power", "Space"], ["lights", "60 W", "cabin"], ["lights", "0.06 kW", ""], ["lights", "80 W", "?"]),
    )
    assert not found.entries
    assert found.same == ("lights", "lights")
    assert told(found, CONFLICT) == [
        "list.csv:4: lights is in the record and says otherwise: power is 60 W there and 80 W here"
    ]


def test_a_cable_is_compared_with_what_its_type_fills_in() -> None:
    same = ["shore-lead", "shore", "selector/shore", "6 AWG", "1000 mm", "shore-lead"]
    found = planned("cables", text(["Id", "From", "To", "Size", "Length", "Label"], same))
    assert found.same == ("shore-lead",), told(found, CONFLICT)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (["K1", "ac-panel/shore/9", "outlets"], "the record has no such place; did the list mean ac-panel/shore/"),
        (["K1", "ac-panel 3", "outlets"], "it may be ac-panel/backed/3 or ac-panel/shore/3"),
        (["K1", "attic panel", "outlets"], "the record has no such place"),
        (["bank", "shore", "outlets"], "the record has bank among its devices already"),
        (["", "shore", "outlets"], "neither id nor name"),
    ],
)
def test_a_cable_that_leads_nowhere_known_is_left_out(row: list[str], why: str) -> None:
    found = planned("cables", text(["Id", "From", "To"], row, ["K2", "ac-panel/shore/3", "outlets"]))
    assert [*found.entries] == ["K2"]
    [said] = told(found, ROW)
    assert why in said and said.startswith("list.csv:2")


def test_an_end_that_the_list_does_not_know_is_untraced_and_told() -> None:
    found = planned("cables", text(["Id", "From", "To"], ["K1", "?", "outlets"]))
    assert found.entries["K1"]["from"] == "untraced"
    assert told(found, TOLD) == [
        "list.csv:2: neither its type nor its cores are said: nothing is traced through it until they are put in",
        "list.csv:2:B: nothing is said of it: the from end becomes `untraced`",
    ]


def test_a_way_of_a_load_is_looked_up_and_never_made_up() -> None:
    found = planned("loads", text(["Name", "Power", "Panel", "Circuit"], ["Fan", "9 W", "ac-panel", "9"]))
    assert told(found, TOLD) == [
        "list.csv:2:D: the record has no such place; did the list mean ac-panel?; no way is made up"
    ]


def test_ids_are_made_from_names_and_collisions_told() -> None:
    rows = [["Name", "Power"], ["Café fan", "9 W"], ["CAFÉ  FAN!", "8 W"], ["Вентилятор", "9 W"], ["Café fan", "9 W"]]
    found = planned("loads", text(*rows))
    assert [*found.entries] == ["cafe-fan"]
    assert [each.partition(": ")[2] for each in told(found, ROW)] == [
        "row 2 gives the same id; give one of them another (cafe-fan)",
        "no id can be made of that; give the row one in a column `Id`",
        "row 2 says the same (cafe-fan)",
    ]


def test_two_columns_for_one_field_must_be_settled() -> None:
    rows = [["Name", "Watts", "Power (kW)"], ["Fan", "9", "0.009"]]
    assert "`power` could be column B (Watts) or column C (Power (kW))" in planned("loads", text(*rows)).open[0][0]
    found = planned("loads", text(*rows), columns={"Watts": "power"})
    assert found.entries["fan"]["power"] == "9 W"
    assert found.seating.seats[2].why == "another column was set to be `power`"
    found = planned("loads", text([*rows[0], "Shelf"], rows[1]), columns={"Watts": ""})
    assert [seat.why for seat in found.seating.seats[1:]] == [
        "set to be left out",
        "by its heading",
        "no field is known under this heading",
    ]


def test_units_beneath_the_heading_and_cells_merged_downwards() -> None:
    rows: list[list[Any]] = [
        ["Id", "From", None, None],
        [None, None, "To", "Length"],
        [None, None, None, "ft"],
        ["K1", "ac-panel/shore/3", "outlets", 7.5],
    ]
    content = workbook(("S", rows))
    found = planned("cables", content)
    assert seats(found)["Length (ft)"] == ("length", "ft")
    assert found.entries["K1"]["length"] == "7.5 ft"
    assert found.entries["K1"]["from"] == "ac-panel/shore/3"


@pytest.mark.parametrize(
    ("encoded", "note"),
    [
        ("Name;Power (W);Note\r\nFön;7,5;größer\r\n".encode(), "UTF-8"),
        ("Name;Power (W);Note\r\nFön;7,5;größer\r\n".encode("utf-8-sig"), "UTF-8"),
        ("Name;Power (W);Note\r\nFön;7,5;größer\r\n".encode("utf-16"), "UTF-16"),
        (b"\xfe\xff" + "Name;Power (W);Note\r\nFön;7,5;größer\r\n".encode("utf-16-be"), "UTF-16"),
        ("Name\tPower (W)\tNote\r\nFön\t7,5\tgrößer\r\n".encode("cp1252"), "Windows-1252"),
        ('sep=;\nName;Power (W);Note\nFön;"7,5";größer\n'.encode(), "UTF-8"),
    ],
)
def test_encodings_and_separators(encoded: bytes, note: str) -> None:
    found = planned("loads", encoded)
    assert found.entries["fon"]["power"] == "7.5 W"
    assert found.entries["fon"]["note"].startswith("größer. ")
    assert note in found.grid.notes[0]


def test_workbooks_choose_the_sheet_that_is_such_a_list() -> None:
    sheets: Sequence[tuple[str, list[list[Any]]]] = [
        ("Front", [["Some boat"]]),
        ("L", [["Name", "Power (W)"], ["Fan", 9]]),
        ("C", [["Id", "From", "To"], ["K1", "ac-panel/shore/3", "outlets"]]),
    ]
    assert [*planned("loads", workbook(*sheets)).entries] == ["fan"]
    assert planned("cables", workbook(*sheets)).grid.name == "list.csv[C]"
    with pytest.raises(SheetError, match="several sheets"):
        read_list("loads", "b.xlsx", workbook(sheets[1], ("M", sheets[1][1])))
    with pytest.raises(SheetError, match="no sheet of it"):
        read_list("loads", "b.xlsx", workbook(sheets[0], ("Back", sheets[0][1])))
    with pytest.raises(SheetError, match="has no sheet"):
        read_list("loads", "b.xlsx", workbook(*sheets), "X")


def test_a_formula_without_a_stored_result_and_a_date_are_told() -> None:
    rows: list[list[Any]] = [
        ["Name", "Power (W)", "Current (A)", "Inrush (A)"],
        ["Fan", "=3*3", datetime.date(2026, 2, 1), "#REF!"],
    ]
    found = planned("loads", workbook(("S", rows)))
    assert "power" not in found.entries["fan"]
    assert [each.reason.partition(";")[0] for each in found.of(CELL)] == [
        "it is a formula without a stored result",
        "the spreadsheet holds a date there",
        "it holds the error #REF!",
    ]


@pytest.mark.parametrize(
    ("columns", "units", "why"),
    [
        ({"Weight": "power"}, {}, "no column has this heading"),
        ({"Name": "weight"}, {}, "no field 'weight'"),
        ({}, {"power": "ft"}, "no unit of power"),
        ({}, {"name": "ft"}, "no field with a unit"),
    ],
)
def test_what_the_user_says_is_checked(columns: dict[str, str], units: dict[str, str], why: str) -> None:
    with pytest.raises(SheetError, match=why):
        planned("loads", text(["Name", "Power"], ["Fan", "9 W"]), columns=columns, units=units)


def test_a_list_that_names_nothing_is_told() -> None:
    assert "no column names the loads" in planned("loads", text(["Power", "Space"], ["9 W", "cabin"])).open[0][0]
    problems = [reason for reason, _ in planned("cables", text(["Size", "Length"], ["9 AWG", "1 m"])).open]
    assert [each.split(" ")[0:4] for each in problems] == [
        ["no", "column", "holds", "the"],
        *[["no", "column", "says", "where"]] * 2,
    ]
    with pytest.raises(SheetError, match="no row looks like the heading"):
        planned("loads", text(["a", "b"], ["c", "d"]))


def test_what_has_another_id_in_the_record_is_not_added_twice() -> None:
    more = """
loads: {fan-1: {name: Bilge fan, power: 9 W}}
cables: {K9: {from: ac-panel/shore/3, to: outlets, formerly: [C017]}}
"""
    found = planned("loads", text(["Name", "Power"], ["BILGE FAN", "9 W"]), more=more)
    assert found.same == ("fan-1",) and not found.entries
    found = planned("loads", text(["Id", "Name", "Power"], ["fan-2", "Bilge fan", "9 W"]), more=more)
    assert told(found, TOLD) == ["list.csv:2:B: fan-1 has this name already; is fan-2 the same?"]
    rows = [["Id", "From", "To", "Type"], ["C017", "ac-panel/shore/3", "outlets", ""]]
    rows += [["K10", "outlets", "ac-panel/shore/3", "ac-14"]]
    found = planned("cables", text(*rows), more=more)
    assert told(found, ROW) == ["list.csv:2:A: C017 is what K9 was called; use its id of today"]
    assert told(found, TOLD) == ["list.csv:3:A: K9 runs between the same places already; is K10 the same cable?"]


def test_a_device_in_a_load_list_is_not_made_a_load() -> None:
    more = "devices: {charger-1: {kind: charger, name: House charger, space: cabin, dc_system: dc}}"
    found = planned("loads", text(["Name", "Amps"], ["House charger", "12"]), more=more)
    assert told(found, ROW) == ["list.csv:2:A: the record has it among its devices: charger-1"]


def test_a_column_that_is_not_used_is_not_said_to_be() -> None:
    rows = [["Id", "Circuit", "From", "To"], ["K1", "7", "ac-panel/shore/3", "outlets"]]
    assert seats(planned("cables", text(*rows)))["Circuit"] == (None, None)
    found = planned("loads", text(["Name", "Power", "Circuit"], ["Fan", "9 W", "ac-panel shore 3"]))
    assert "only looked up" in found.seating.seats[2].why


def test_thousands_of_names_that_mean_nothing_take_no_minutes() -> None:
    import time

    began = time.monotonic()
    rows = [["Id", "From", "To"], *([f"K{n}", f"shelf {n} of cupboard", "outlets"] for n in range(9000))]
    assert len(planned("cables", text(*rows)).of(ROW)) == 9000
    assert time.monotonic() - began < 30


def test_loads_that_take_turns_may_come_in_the_same_list() -> None:
    rows = [["Name", "Power", "Alternates with"], ["Oven", "9 W", "Hair dryer"], ["Hair dryer", "8 W", "Lost"]]
    found = planned("loads", text(*rows, ["Lost", "", "Oven"], ["Lost", "1 W", ""]))
    assert found.entries["oven"]["alternates_with"] == ["hair-dryer"]
    found = planned("loads", text(*rows, ["bank", "5 W", ""]))
    assert "alternates_with" not in found.entries["hair-dryer"]
    rows[2][2] = "Outlets?"
    rows.append(["Total", "17 W", "Oven"])
    assert [*planned("loads", text(*rows)).entries] == ["oven", "hair-dryer"]


def test_a_turn_with_a_row_that_is_left_out_is_left_out_too() -> None:
    rows = [["Id", "Name", "Power", "Alternates with"], ["a", "A", "9 W", "bank"], ["b", "B", "8 W", "shore-1x"]]
    rows += [["C017", "Old", "1 W", ""], ["d", "D", "8 W", "Old"]]
    more = "cables: {K9: {from: ac-panel/shore/3, to: outlets, formerly: [C017]}}"
    found = planned("loads", text(*rows), more=more)
    assert found.entries["a"]["alternates_with"] == ["bank"]
    assert "alternates_with" not in found.entries["d"]
    assert any("names a row that is left out" in each for each in told(found, CELL))


def test_a_merged_panel_counts_for_its_first_row_only() -> None:
    rows = [["Id", "Panel", "Way", "To"], ["K1", "ac-panel", "shore 3", "outlets"], ["K2", "", "shore 4", "outlets"]]
    found = planned("cables", text(*rows, rows[0]))
    assert [found.entries[key]["from"] for key in ("K1", "K2")] == ["ac-panel/shore/3", "untraced"]
    assert 'Not understood there: Way "shore 4".' in found.entries["K2"]["note"]
    assert not found.of(ROW)


def test_receptacles_in_the_record_are_known_for_what_they_are() -> None:
    rows = [["Id", "Current (A)", "Sockets"], ["sockets-1", "9", "3"], ["sockets-2", "9", "3"]]
    found = planned("loads", text(*rows), more="loads: {sockets-1: {kind: receptacles, sockets: 3, current: 9 A}}")
    assert found.same == ("sockets-1",)
    assert [each.row for each in found.of(CELL)] == [3]


def test_a_voltage_is_the_one_system_that_has_it() -> None:
    more = "systems: {low: {kind: dc, voltage: 24 V}, one: {kind: dc, voltage: 48 V}, two: {kind: dc, voltage: 48 V}}"
    rows = ["Item", "Volts"], ["Fan", "24"], ["Horn", "24 V"], ["Lamp", "48"], ["Pump", "2"]
    found = planned("loads", text(*rows), columns={"Volts": "system"}, more=more)
    assert {key: raw.get("system") for key, raw in found.entries.items()} == {
        "fan": "low",
        "horn": "low",
        "lamp": None,
        "pump": None,
    }
    assert any("it may be one or two" in each for each in told(found, CELL))
