"""Words of the record are untrusted: they reach the picture as text, or not at all."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.draw import Sheet, neighbourhood, overview, panel_sheet
from vesselspec.draw.text import LONGEST, clean, safe, width, wrap

from .helpers import SVG, load, picture, small_files, texts

HOSTILE = [
    '"]; node [',
    "<b>",
    "</td></tr></table>",
    "\\N \\G \\E \\L",
    "two\nlines",
    "]]>",
    "<script>alert(1)</script>",
    "&amp;#x202e; &quot;",
    "\u202eright to left",
    "tab\tand \u0007 bell",
    "trailing \\",
    "<!-- no -->",
    "<a href='x'>",
    "x" * 70,
]


def drawings(name: str) -> list[Sheet]:
    said = json.dumps(name).encode()
    short = json.dumps(name[:40]).encode()
    files = small_files()
    files["vessel.yaml"] = (
        files["vessel.yaml"]
        .replace(b"name: Small Example", b"name: " + said)
        .replace(b"name: AC main panel", b"name: " + said)
        .replace(b"label: Water heater", b"label: " + said)
        .replace(b"name: Source selector", b"name: " + said)
        .replace(b"name: Helm", b"name: " + said)
    )
    files["loads.yaml"] = files["loads.yaml"].replace(b"name: Water heater", b"name: " + said)
    files["cables.yaml"] = files["cables.yaml"].replace(b"faded pink", short)
    vessel, network = load(files)
    return [
        overview(vessel, network, footer=name),
        panel_sheet(vessel, network, "ac-main", footer=name),
        neighbourhood(vessel, network, ["C6", "C11", "selector"], marks={"C6": "added"}, footer=name, title=name),
    ]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_reach_the_picture_as_text(name: str) -> None:
    for sheet in drawings(name):
        svg = picture(sheet)
        tags = {element.tag for element in svg.iter()}
        allowed = {"svg", "g", "title", "polygon", "polyline", "path", "text", "ellipse", "circle", "rect"}
        assert tags <= {f"{SVG}{tag}" for tag in allowed}
        said = " ".join(texts(svg)).replace("\u00a0", " ")
        assert "Main" in said or "AC" in said or "bars" in said
        words = clean(name).split()[0][:8]
        assert words in said, (sheet.name, words)
        assert "\u202e" not in said
        assert not any(key.endswith("href") for element in svg.iter() for key in element.attrib)


@given(st.text())
@settings(max_examples=200, deadline=None)
def test_clean_text_is_one_printable_line(text: str) -> None:
    said = clean(text)
    assert len(said) <= LONGEST
    assert said.replace(" ", "a").isprintable() or not said
    assert not set(safe(text)) & set("<>\"'\\\n\r\t")


@given(st.text(max_size=80), st.integers(30, 200), st.integers(1, 4))
@settings(max_examples=200, deadline=None)
def test_broken_lines_are_as_few_and_narrow_as_asked(text: str, points: int, lines: int) -> None:
    found = wrap(text, points, lines=lines)
    assert 1 <= len(found) <= lines
    assert all(width(line) <= points or len(line) <= 2 for line in found)


def test_words_are_broken_where_people_would() -> None:
    assert wrap("Shore inlet 1, 120/240 V 50 A", 90) == ("Shore inlet 1,", "120/240 V 50 A")
    assert wrap("a" * 30, 60, lines=3) == ("a" * 10, "a" * 10, "a" * 10)
    assert wrap("one two three four five", 40, lines=2)[-1].endswith("…")
