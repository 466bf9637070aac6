"""Export the example, take loads and cables out of a copy, import them: the copy says what the example says."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sheets.boats import ROOT, boat, example, vessel
from vesselspec.model.vessel import Vessel
from vesselspec.record import Record, read
from vesselspec.record.edit import insert
from vesselspec.record.yaml import load
from vesselspec.sheets.cells import is_unknown
from vesselspec.sheets.fields import COLUMNS, KINDS
from vesselspec.sheets.files import as_csv, as_workbook
from vesselspec.sheets.intake import read_list
from vesselspec.sheets.plan import CELL, CONFLICT, ROW, TOLD, Origin
from vesselspec.sheets.planner import plan
from vesselspec.sheets.said import typed
from vesselspec.sheets.schedules import tables

ORIGIN = Origin("schedules", datetime.date(2026, 3, 14))


def exported(record: Record, kind: str, form: str) -> bytes:
    made = tables(vessel(record), record.places)
    if form == "one sheet":
        return as_workbook([each for each in made if each.name.lower() == kind], "")
    return as_workbook(made, "") if form == "xlsx" else as_csv(made)[f"{kind}.csv"]


def without(*kinds: str) -> dict[str, bytes]:
    """The example's files without its loads and cables."""
    import json

    files = {}
    for file in (ROOT / "example_vessel").glob("*.yaml"):
        said = load(file.read_bytes()) or {}
        files[file.name] = json.dumps({key: value for key, value in said.items() if key not in kinds}).encode()
    return files


def everything(found: Vessel, kind: str) -> dict[str, dict[str, object]]:
    return {
        key: {each.key: typed(found, item, each) for each in COLUMNS[kind] if each.exported and each.key != "id"}
        for key, item in found.collection(kind).items()
    }


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_example_comes_back(form: str) -> None:
    record = example()
    files = without(*KINDS)
    for kind in KINDS:
        grid = read_list(kind, f"schedules.{form}", exported(record, kind, form))
        found = plan(kind, grid, vessel(read(files)), ORIGIN, {}, {})
        assert not found.open and not found.of(CELL, ROW, CONFLICT)
        files[f"{kind}.yaml"] = insert(b"", kind, found.entries)
    back = vessel(read(files))
    for kind in KINDS:
        assert everything(back, kind) == everything(vessel(record), kind)
    assert back.loads == vessel(record).loads  # field for field: the list holds all that the example says of them


@pytest.mark.parametrize("kind", KINDS)
def test_taken_in_where_it_comes_from_it_adds_nothing(kind: str) -> None:
    record = example()
    grid = read_list(kind, "x.csv", exported(record, kind, "csv"))
    found = plan(kind, grid, vessel(record), ORIGIN, {}, {})
    assert not found.entries and not found.of(CELL, ROW, CONFLICT)
    assert found.same == tuple(vessel(record).collection(kind))


_TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=40)


@settings(max_examples=30, deadline=None)
@given(name=_TEXT, note=_TEXT, form=st.sampled_from(["csv", "one sheet"]))
def test_any_name_and_note_come_back(name: str, note: str, form: str) -> None:
    written = insert(
        b"", "loads", {"fan": {"name": name, "note": note, "power": "9 W", "evidence": {"how": "assumed"}}}
    )
    record = boat(written.decode())
    if record.vessel is None:  # characters that YAML refuses
        return
    grid = read_list("loads", "x", exported(record, "loads", form), None)
    found = plan("loads", grid, vessel(boat()), ORIGIN, {}, {})
    assert not found.of(CELL, CONFLICT, ROW), found.remarks
    assert all("has this name already" in each.reason for each in found.of(TOLD)), "the boat has a shore and the like"
    entry = found.entries["fan"]
    for key, said in (("name", name), ("note", note)):
        assert entry.get(key) == (None if is_unknown(said) else said.strip())
