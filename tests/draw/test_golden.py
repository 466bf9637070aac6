"""The source of each drawing, byte for byte, whatever the order of the record's files and entries."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest

from vesselspec.draw import CAUTION, Sheet, neighbourhood, overview, overview_sheets, panel_sheet, panel_sheets
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network

from .helpers import FOOTER, HERE, load, small, small_files

Draw = Callable[[Vessel, Network], Sheet]
MARKS = {"C10": "changed", "C6": "removed", "water-heater": "removed", "bank-fuse": "added", "gone": "removed"}
DRAWINGS: dict[str, Draw] = {
    "overview": lambda v, n: overview(v, n, footer=FOOTER),
    "panel-ac-main": lambda v, n: panel_sheet(v, n, "ac-main", footer=FOOTER),
    "panel-dc-panel": lambda v, n: panel_sheet(v, n, "dc-panel", footer=FOOTER),
    "neighbourhood": lambda v, n: neighbourhood(v, n, list(MARKS), marks=MARKS, footer=FOOTER),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_golden(name: str) -> None:
    sheet = DRAWINGS[name](*small())
    golden = HERE / f"{name}.golden"
    if os.environ.get("VESSELSPEC_WRITE_GOLDEN"):
        golden.write_bytes(sheet.dot.encode())
    assert sheet.dot == golden.read_bytes().decode()


@pytest.mark.parametrize("name", DRAWINGS)
def test_order_of_entries_and_files_does_not_matter(name: str) -> None:
    files = small_files()
    cables = files["cables.yaml"].decode()
    head, _, body = cables.partition("cables:\n")
    simple = [line for line in body.splitlines() if line.startswith("  ") and line.endswith("}") and line[2] in "CDE"]
    rest = [line for line in body.splitlines() if line not in simple]
    files["cables.yaml"] = "\n".join([head, "cables:", *reversed(simple), *rest]).encode()
    files["a.yaml"] = files.pop("loads.yaml")
    turned = load(dict(reversed(files.items())))
    assert DRAWINGS[name](*turned).dot == DRAWINGS[name](*small()).dot


def test_every_sheet_carries_vessel_footer_and_caution() -> None:
    vessel, network = small()
    sheets = [draw(vessel, network) for draw in DRAWINGS.values()]
    sheets += overview_sheets(vessel, network, footer=FOOTER)
    sheets += panel_sheets(vessel, network, "ac-main", footer=FOOTER)
    for sheet in sheets:
        assert CAUTION in sheet.dot
        assert FOOTER in sheet.dot
        assert "Small Example" in sheet.dot
        assert sheet.title in sheet.dot
