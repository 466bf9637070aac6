"""The overview: every feeder once, AC and DC told apart without colour."""

from __future__ import annotations

import re

from vesselspec.draw import overview, overview_sheets

from .helpers import HERE, load, picture, scale, small, small_files, texts

EXAMPLE = HERE.parent.parent / "example_vessel"


def test_feeders_are_named_once_with_size_and_poles() -> None:
    said = " ".join(texts(picture(overview(*small()))))
    for cable in ("C1", "C2", "C3", "C4", "C5"):
        assert said.count(f"{cable} 6 AWG L1 L2 N PE") == 1
    assert "D1 1/0 AWG DC+" in said
    assert "D5 2/0 AWG DC+ DC-" in said


def test_branch_circuits_and_returns_are_left_out() -> None:
    dot = overview(*small()).dot
    for cable in ("C6", "C9", "C10", "D2", "D3", "D4", "E1"):
        assert f'port="{cable}"' not in dot
    assert "water-heater" not in dot
    assert "negative-bus" not in dot


def test_ac_is_a_double_line_and_dc_a_single_one() -> None:
    lines = [line for line in overview(*small()).dot.splitlines() if "->" in line]
    for line in lines:
        cable = re.search(r':"?([CD]\d+)"?:w', line)
        assert cable is not None
        assert ("black:black" in line) == (cable[1][0] == "C")


def test_sections_stand_in_their_panels_frame() -> None:
    dot = overview(*small()).dot
    frame = dot[dot.index('subgraph "cluster_ac-main"') :]
    frame = frame[: frame.index("}")]
    assert '"ac-main/shore-side"' in frame
    assert '"ac-main/inverter-side"' in frame


def test_a_supply_flows_from_its_source_whichever_way_the_cable_is_written() -> None:
    files = small_files()
    files["cables.yaml"] = files["cables.yaml"].replace(
        b"from: shore, to: selector/shore", b"from: selector/shore, to: shore"
    )
    assert "shore -> selector:C1:w" in overview(*load(files)).dot


def test_the_sheets_of_a_big_vessel_hold_every_feeder_and_can_be_read() -> None:
    vessel, network = load({path.name: path.read_bytes() for path in EXAMPLE.glob("*.yaml")})
    whole = overview(vessel, network).dot
    sheets = overview_sheets(vessel, network)
    ports = sorted(re.findall(r'port="([^"]+)" border="1"[^>]*sides="B"', whole))
    assert ports
    assert (
        sorted(port for s in sheets for port in re.findall(r'port="([^"]+)" border="1"[^>]*sides="B"', s.dot)) == ports
    )
    for sheet in sheets:
        assert scale(picture(sheet)) > 0.8, sheet.name
    drawn = "".join(sheet.dot for sheet in sheets)
    for place in vessel.sections:
        assert place in drawn


def test_a_small_vessel_has_one_sheet() -> None:
    assert [sheet.name for sheet in overview_sheets(*small())] == ["overview"]
