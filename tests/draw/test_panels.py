"""Panel sheets: everything once, notes for what is odd, and sheets that can be read."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from vesselspec.draw import panel_sheet, panel_sheets
from vesselspec.draw.text import safe

from .helpers import HERE, load, picture, scale, size, small, small_files, texts

EXAMPLE = HERE.parent.parent / "example_vessel"


def rows(dot: str) -> list[list[str]]:
    """The cells of every row of the panel's tables, as plain text."""
    found = []
    for row in re.findall(r"<tr>((?:<td[^>]*>(?:[^<]|<br[^>]*>|</?b>)*</td>)+.*?)</tr>", dot):
        cells = re.findall(r"<td[^>]*>(.*?)</td>", row)
        found.append([" ".join(re.sub(r"<[^>]*>", " ", cell).split()) for cell in cells])
    return found


def many_ways(count: int) -> dict[str, bytes]:
    ways = "\n".join(
        f'          "{n}": {{label: Circuit {n}, poles: [DC+], rating: 10 A}}' for n in range(1, count + 1)
    )
    cables = "\n".join(f"  X{n}: {{type: pair, from: dc-big/all/{n}, to: lights}}" for n in range(1, count + 1))
    extra = f"panels:\n  dc-big:\n    system: dc\n    sections:\n      all:\n        ways:\n{ways}\ncables:\n{cables}\n"
    return {**small_files(), "big.yaml": extra.encode()}


@pytest.mark.parametrize(("count", "sheets"), [(10, 1), (60, 3)])
def test_every_way_and_cable_is_there_exactly_once(count: int, sheets: int) -> None:
    vessel, network = load(many_ways(count))
    drawn = panel_sheets(vessel, network, "dc-big")
    assert len(drawn) >= sheets
    assert len({sheet.name for sheet in drawn}) == len(drawn)
    cells = [cell for sheet in drawn for row in rows(sheet.dot) for cell in row]
    labels = Counter(cell for cell in cells if cell.startswith("Circuit "))
    assert labels == {f"Circuit {n}": 1 for n in range(1, count + 1)}
    cables = Counter(cell for cell in cells if re.fullmatch(r"X\d+ 10 AWG", cell))
    assert cables == {f"X{n} 10 AWG": 1 for n in range(1, count + 1)}


@pytest.mark.parametrize("panel", ["ac-main", "dc-panel"])
def test_the_small_panels_show_every_way_and_cable_once(panel: str) -> None:
    vessel, network = small()
    dot = "".join(sheet.dot for sheet in panel_sheets(vessel, network, panel))
    for place in vessel.ways:
        if place.startswith(f"{panel}/"):
            assert dot.count(f'port="{place}"') == 1
    for cable in vessel.cables.values():
        here = panel in (cable.from_.split("/")[0], cable.to.split("/")[0])
        assert dot.count(f">{cable.id} size not recorded") + dot.count(f">{cable.id} ") >= here
        written = [row for row in rows(dot) if any(re.match(rf"{cable.id} (\d|size)", cell) for cell in row)]
        assert len(written) == here, cable.id


def test_what_is_written_in_a_row() -> None:
    dot = panel_sheet(*small(), "ac-main").dot
    found = rows(dot)
    assert [
        "3",
        "Water heater",
        "breaker L1 L2 15 A",
        "C6 12 AWG",
        "black L1, red L2, green PE",
        "Water heater",
    ] in found
    assert ["4", "Spare", "breaker L1 15 A", "spare: nothing connected"] in found
    assert ["5", "", "blank", ""] in found
    assert any(row[:3] == ["10", "(no label on the panel)", "breaker L2 20 A"] for row in found)
    assert any(row[0].startswith("C12") and row[-1] == "far end untraced" for row in found)
    assert any("C11: see section shore-side, way 10" in row for row in found)
    assert any(row[0] == "section shore-side, AC (ac), bars L1 L2 N PE, bus rating 100 A" for row in found)


def test_references_to_other_sheets() -> None:
    dot = panel_sheet(*small(), "ac-main").dot
    assert "from Source selector" in dot
    assert "shape=cds" in dot
    assert 'style="rounded"' in dot
    assert "to Inverter-charger" in dot
    assert dot.count("shape=cds") == 2  # the selector for one section, the inverter-charger for the other


def test_a_core_on_another_sections_bar_is_drawn_to_it() -> None:
    dot = panel_sheet(*small(), "ac-main").dot
    notes = re.findall(r"^\s*\"?note=\S* \[.*?\]$", dot, re.MULTILINE | re.DOTALL)
    assert len(notes) == 3, notes
    white = next(line for line in dot.splitlines() if "white core" in line)
    name = white.split(" [")[0].strip().strip('"')
    assert f'"{name}" -> panel:"ac-main/shore-side_3dbars":w' in dot


def test_a_live_core_that_passes_its_device_by_is_noted() -> None:
    files = small_files()
    files["x.yaml"] = b"cables:\n  X1: {from: ac-main/inverter-side/2, to: range, size: 12 AWG, cores: {red: L2}}\n"
    files["x.yaml"] += b"loads:\n  range: {system: ac, poles: [L1, L2]}\n"
    dot = panel_sheet(*load(files), "ac-main").dot
    assert "is on bar L2" in " ".join(re.sub(r"<[^>]*>", " ", dot).split())


def test_sheets_of_a_big_panel_fit_a4_at_full_size() -> None:
    vessel, network = load(many_ways(60))
    for sheet in panel_sheets(vessel, network, "dc-big"):
        svg = picture(sheet)
        assert scale(svg) == 1
        width, height = size(svg)
        assert width <= 803
        assert height <= 556


def test_the_example_can_be_read() -> None:
    vessel, network = load({path.name: path.read_bytes() for path in EXAMPLE.glob("*.yaml")})
    for panel in vessel.panels:
        for sheet in panel_sheets(vessel, network, panel):
            svg = picture(sheet)
            assert scale(svg) > 0.9, sheet.name
            for text in texts(svg):
                assert "…" not in text, (sheet.name, text)


def test_many_cables_on_a_sections_bars_go_on_several_sheets() -> None:
    files = small_files()
    cables = "".join(
        f"  X{n}: {{size: 10 AWG, from: dc-panel/house, to: lights, cores: {{yellow: DC-}}}}\n" for n in range(60)
    )
    files["x.yaml"] = f"cables:\n{cables}".encode()
    sheets = panel_sheets(*load(files), "dc-panel")
    assert len(sheets) > 2
    assert all(scale(picture(sheet)) > 0.95 for sheet in sheets)


def test_an_unknown_panel() -> None:
    with pytest.raises(KeyError):
        panel_sheet(*small(), "no-such-panel")


def test_the_words_of_a_way_are_escaped() -> None:
    assert safe('"]; <b> & \\N') == "&quot;]; &lt;b&gt; &amp; &#92;&#92;N"
