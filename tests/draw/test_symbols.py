"""Symbols: drawn where the layout left room for them, and each named below."""

from __future__ import annotations

import re
from xml.etree.ElementTree import fromstring

import pytest

from tests.draw.helpers import picture, small, texts
from vesselspec.draw import overview, render
from vesselspec.draw.symbols import SYMBOLS
from vesselspec.model.devices import DEVICE_KINDS, LOAD_KINDS

SVG = "{http://www.w3.org/2000/svg}"


def test_every_device_on_the_overview_has_its_symbol_and_its_meaning() -> None:
    vessel, network = small()
    sheet = overview(vessel, network)
    drawn = picture(sheet)
    asked = re.findall(r'id="symbol_([a-z_]+)"', sheet.dot)
    inside = [each for each in drawn.iter(f"{SVG}g") if each.get("class") == "symbol"]
    kinds = {each.replace("_", "-") for each in asked}
    assert asked
    assert len(inside) == len(asked) + len(kinds), "one a device, one a meaning"
    assert {SYMBOLS[kind].says for kind in kinds} <= set(texts(drawn))
    assert "symbol_" not in render(sheet.dot).decode(), "no room is left empty"


def test_symbols_stand_inside_the_sheet() -> None:
    drawn = picture(overview(*small()))
    _, _, wide, high = map(float, drawn.attrib["viewBox"].split())
    outside = [each for each in drawn.findall(f"{SVG}g") if each.get("class") == "symbol"]
    for each in outside:
        found = re.match(r"translate\(([-0-9.]+) ([-0-9.]+)\)", each.attrib["transform"])
        assert found is not None
        assert 10 < float(found[1]) < wide - 10
        assert 10 < float(found[2]) < high - 10


@pytest.mark.parametrize("kind", sorted({**DEVICE_KINDS, **LOAD_KINDS}))
def test_every_kind_has_one(kind: str) -> None:
    assert kind in SYMBOLS


@pytest.mark.parametrize("symbol", SYMBOLS.values(), ids=lambda symbol: symbol.id)
def test_each_is_sound_and_small(symbol: object) -> None:
    """Strokes only, within their room of 24 by 24."""
    strokes = symbol.strokes  # type: ignore[attr-defined]
    found = fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{strokes}</svg>')
    assert {each.tag.removeprefix(SVG) for each in found.iter()} <= {"svg", "path", "circle", "rect", "ellipse", "text"}
    for each in found.iter(f"{SVG}path"):
        for number in re.findall(r"-?\d+\.?\d*", each.attrib["d"]):
            assert abs(float(number)) <= 16, "a full turn of 16 is the largest step"
