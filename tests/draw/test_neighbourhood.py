"""A neighbourhood: exactly the items and one step, each core by itself, marks without colour."""

from __future__ import annotations

import re

import pytest

from vesselspec.draw import neighbourhood
from vesselspec.draw.around import around
from vesselspec.draw.ends import wires
from vesselspec.draw.ink import ink

from .helpers import picture, small, texts


@pytest.mark.parametrize(
    ("items", "shown"),
    [
        (["C6"], {"C6", "water-heater", "ac-main/shore-side", "ac-main/shore-side/3"}),
        (["water-heater"], {"C6", "water-heater", "ac-main/shore-side", "ac-main/shore-side/3"}),
        (["ac-main/shore-side/3"], {"C6", "water-heater", "ac-main/shore-side", "ac-main/shore-side/3"}),
        (["C10"], {"C10", "microwave", "ac-main/inverter-side/3", "ac-main/inverter-side", "ac-main/shore-side"}),
        (["bank-fuse"], {"bank-fuse", "bank", "D1", "dc-panel/house"}),
        (["bank"], {"bank", "bank-fuse", "D2", "negative-bus"}),
        (["dc-panel/house"], {"dc-panel/house", "D1", "D3", "bank-fuse", "negative-bus"}),
        (
            ["selector"],
            {"selector", "shore", "generator", "C1", "C2", "C3", "ac-main/shore-side/1", "ac-main/shore-side"},
        ),
        (["C12"], {"C12", "ac-main/shore-side/10", "ac-main/shore-side"}),
        (["E1"], {"E1", "shore", "ac-main", "ac-main/shore-side", "ac-main/inverter-side"}),
        (["gone"], set()),
    ],
)
def test_exactly_the_items_and_one_step(items: list[str], shown: set[str]) -> None:
    vessel, network = small()
    found = around(vessel, wires(vessel, network), items)
    assert found.all == shown
    dot = neighbourhood(vessel, network, items, marks={}).dot
    for cable in vessel.cables:
        assert (f"<b>cable {cable}</b>" in dot) == (cable in shown)
    for device in (*vessel.devices, *vessel.loads):
        assert bool(re.search(rf'^\s*"?{device}"? \[', dot, re.MULTILINE)) == (device in shown)


def test_every_core_is_a_line_in_the_colour_of_its_insulation() -> None:
    dot = neighbourhood(*small(), ["C9"], marks={}).dot
    for name, colour in (("black", "#1a1a1a"), ("white", "#000000:#ffffff:#000000"), ("green", "#1e8a3c")):
        lines = [line for line in dot.splitlines() if "->" in line and f'"cable=C9":{name}' in line]
        assert len(lines) == 2
        assert all(f'color="{colour}"' in line for line in lines)
    said = texts(picture(neighbourhood(*small(), ["C9"], marks={})))
    assert {"black L1", "white N", "green PE"} <= set(said)


def test_pale_colours_have_a_dark_casing_and_stripes_are_drawn() -> None:
    assert ink("white") == "#000000:#ffffff:#000000"
    assert ink("yellow") == "#000000:#f5d000:#000000"
    assert ink("black-red") == "#1a1a1a:#d01c1c:#1a1a1a"
    assert ink("Green with yellow stripe") == "#000000:#1e8a3c:#f5d000:#1e8a3c:#000000"
    assert ink("faded pink") == "#808080"


def test_loose_ends_and_unknown_colours_are_said() -> None:
    said = texts(picture(neighbourhood(*small(), ["C11"], marks={})))
    assert "untraced" in said
    assert any("faded pink" in text for text in said)
    assert "colour not known" in " ".join(said)


def test_marks_differ_by_word_and_frame() -> None:
    vessel, network = small()
    looks = {}
    for mark, word in (("added", "+ added"), ("removed", "− removed"), ("changed", "≠ changed")):
        sheet = neighbourhood(vessel, network, ["C6"], marks={"C6": mark})
        assert texts(picture(sheet)).count(word) == 1
        looks[mark] = sheet.dot.replace(word, "")
    assert len(set(looks.values())) == 3
    assert "style=dashed" in looks["removed"]
    assert "penwidth=3.5" in looks["added"]


def test_an_item_of_another_revision_is_named() -> None:
    said = " ".join(texts(picture(neighbourhood(*small(), ["C6", "gone"], marks={"gone": "removed"}))))
    assert "Not on this drawing: gone (− removed)" in said


def test_an_unknown_mark() -> None:
    with pytest.raises(ValueError, match="unknown mark 'new' of C6"):
        neighbourhood(*small(), ["C6"], marks={"C6": "new"})
