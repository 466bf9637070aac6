"""Colours by function against each table that gives them."""

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.standards import (
    COLOURS,
    FUNCTIONS,
    PRACTICES,
    PROTECTIVE,
    allowed_colours,
    insulation_hex,
    normalise_colour,
)

REFERENCE = Path(__file__).parents[1] / "data" / "reference" / "colours.yaml"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
}
LINES = ("ac-line-1", "ac-line-2", "ac-line-3")


def _row(fact_id: str, function: str) -> set[str]:
    """Colours in the rows of a table whose printed function starts with the words given."""
    found = {
        str(normalise_colour(colour))
        for row in FACTS[fact_id]["rows"]
        if row["function"].startswith(function)
        for colour in row["colours"]
    }
    assert found
    assert "None" not in found
    return found


def _allowed(practice: str, function: str, *, only_line: bool = False) -> set[str]:
    return set(allowed_colours(practice, function, only_line=only_line).colours)


def test_north_american_ac() -> None:
    """ABYC E-8.14.12, now E-11."""
    additional = _row("na_ac", "additional ungrounded")
    assert _allowed("north-american", "ac-line-1") == _row("na_ac", "ungrounded")
    assert _allowed("north-american", "ac-line-2") == additional
    assert _allowed("north-american", "ac-line-3") == additional
    assert _allowed("north-american", "ac-neutral") == _row("na_ac", "grounded neutral")
    assert _allowed("north-american", "protective") == _row("na_ac", "grounding")
    assert "E-8.14.12" in allowed_colours("north-american", "ac-line-1").source


def test_a_line_alone_in_its_cable_is_the_first_one_there() -> None:
    """ABYC E-8.14.12 gives black and brown to an ungrounded conductor, others to additional ones."""
    for line in LINES:
        assert _allowed("north-american", line, only_line=True) >= _row("na_ac", "ungrounded")
        assert _allowed("international", line, only_line=True) >= _row("iec_ac", "single phase")
    for function in set(FUNCTIONS) - set(LINES):
        for practice in PRACTICES:
            assert _allowed(practice, function, only_line=True) == _allowed(practice, function)


def test_shore_cord_and_two_line_service_agree_with_the_boat() -> None:
    """Published summaries: black and red lines, white neutral, green ground."""
    assert _row("na_ac_retail_summary", "hot leg 1") <= _allowed("north-american", "ac-line-1")
    assert _row("na_ac_retail_summary", "hot leg 2") <= _allowed("north-american", "ac-line-2")
    assert _row("na_ac_retail_summary", "neutral") <= _allowed("north-american", "ac-neutral")
    assert _row("na_ac_retail_summary", "ground") <= _allowed("north-american", "protective")
    assert _row("shore_dock_colours", "hot") <= _allowed("north-american", "ac-line-1")
    assert _row("shore_dock_colours", "neutral") <= _allowed("north-american", "ac-neutral")
    assert _row("shore_dock_colours", "ground") <= _allowed("north-american", "protective")
    # 46 CFR 183.372(d)
    assert set(FACTS["na_uscg_ground"]["colours"]) <= _allowed("north-american", "protective")


def test_north_american_dc() -> None:
    """ABYC E-11 Tables XIV and XV; senders are signals, trim motors reverse."""
    positive = set().union(
        *(
            _row("na_dc", row["function"])
            for row in FACTS["na_dc"]["rows"]
            if not row["function"].startswith(("DC grounding", "DC negative", "tilt"))
            and "sender" not in row["function"]
        )
    )
    # Ours: a plain grey or blue is the dark shade in the table.
    assert _allowed("north-american", "dc-positive") == positive | {"grey", "blue"}
    assert _allowed("north-american", "dc-negative") == _row("na_dc", "DC negative")
    assert _allowed("north-american", "bonding") == _row("na_dc", "DC grounding")


def test_international_dc() -> None:
    """ISO 10133; red is from memory of it."""
    assert _allowed("international", "dc-positive") == _row("iso_dc", "DC positive")
    assert _allowed("international", "dc-negative") == _row("iso_dc", "DC negative")
    assert _allowed("international", "bonding") == _row("iso_dc", "protective bonding")
    assert allowed_colours("international", "dc-positive").from_memory
    assert not allowed_colours("international", "dc-negative").from_memory


@pytest.mark.parametrize(
    ("function", "craft", "fixed"),
    [
        ("ac-line-1", "active", "L1"),
        ("ac-line-2", "active", "L2"),
        ("ac-line-3", "active", "L3"),
        ("ac-neutral", "neutral", "neutral"),
        ("protective", "protective", "protective"),
    ],
)
def test_international_ac_is_the_union_and_says_which(function: str, craft: str, fixed: str) -> None:
    """ISO 13297, and IEC 60446:2007, merged into IEC 60445:2010."""
    rule = allowed_colours("international", function)
    assert set(rule.colours) == _row("iso_ac", craft) | _row("iec_ac", fixed)
    of_craft, of_fixed = re.findall(r"([^;]+) \(([^)]+)\)", rule.source)
    assert "ISO 13297" in of_craft[0]
    assert set(of_craft[1].split(", ")) == _row("iso_ac", craft)
    assert "IEC 60445" in of_fixed[0]
    assert set(of_fixed[1].split(", ")) == _row("iec_ac", fixed)


def test_every_function_has_colours_and_none_is_from_an_unread_table() -> None:
    for practice in PRACTICES:
        for function in FUNCTIONS:
            rule = allowed_colours(practice, function)
            assert rule.colours
            assert rule.source
            assert rule.from_memory == ((practice, function) == ("international", "dc-positive"))


def test_no_line_may_look_like_a_neutral_or_a_protective_conductor() -> None:
    for practice in PRACTICES:
        lines = set().union(*(_allowed(practice, line, only_line=True) for line in LINES))
        neutral, protective = _allowed(practice, "ac-neutral"), _allowed(practice, "protective")
        assert not lines & neutral
        assert not lines & protective
        assert not neutral & protective


@pytest.mark.parametrize(("practice", "function"), [("nautical", "ac-neutral"), ("international", "neutral")])
def test_an_unknown_practice_or_function_is_named(practice: str, function: str) -> None:
    with pytest.raises(ValueError, match=r"unknown (practice 'nautical'|function 'neutral'); expected one of"):
        allowed_colours(practice, function)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("black", "black"),
        ("Black", "black"),
        ("gray", "grey"),
        ("dark gray", "dark grey"),
        ("violet", "purple"),
        ("green with yellow stripe", "green-yellow"),
        ("green with yellow stripes", "green-yellow"),
        ("green-and-yellow", "green-yellow"),
        ("yellow/green", "green-yellow"),
        ("yellow-green", "green-yellow"),
        ("black with red stripe", "black-red"),
        ("black/red", "black-red"),
        ("red-black", "red-black"),
        ("light blue with white stripe", "light blue-white"),
        ("light-blue", "light blue"),
        ("Dark  Blue", "dark blue"),
        ("bare copper", "bare"),
        ("fuchsia", None),
        ("black-black", None),
        ("black-", None),
        ("black-red-white", None),
        ("bare-red", None),
        ("green with stripe other than yellow", None),
        ("", None),
    ],
)
def test_names_of_colours(text: str, expected: str | None) -> None:
    assert normalise_colour(text) == expected


@given(st.text(alphabet="abcdeghiklnorstuvwy -/", max_size=24) | st.text())
def test_a_name_once_normalised_stays(text: str) -> None:
    name = normalise_colour(text)
    if name is not None:
        assert normalise_colour(name) == name
        assert insulation_hex(name)


@given(base=st.sampled_from(sorted(COLOURS)), stripe=st.sampled_from(sorted(COLOURS)))
def test_every_striped_insulation_has_one_name_and_two_colours(base: str, stripe: str) -> None:
    name = normalise_colour(f"{base} with {stripe} stripe")
    if base == stripe or "bare" in (base, stripe):
        assert name is None
    elif {base, stripe} == {"green", "yellow"}:
        assert name == PROTECTIVE
    else:
        assert name == f"{base}-{stripe}"
        assert insulation_hex(name) == (COLOURS[base].hex, COLOURS[stripe].hex)
        assert normalise_colour(name) == name


def test_no_two_colours_are_drawn_alike() -> None:
    drawn = [colour.hex for colour in COLOURS.values()]
    assert all(re.fullmatch("#[0-9a-f]{6}", value) for value in drawn)
    assert len(set(drawn)) == len(drawn)
    with pytest.raises(KeyError):
        insulation_hex("fuchsia")


def test_every_colour_that_a_standard_permits_has_a_name() -> None:
    """IEC 60445 / IEC 60757."""
    assert all(normalise_colour(colour) in COLOURS for colour in FACTS["iec_permitted"]["values"])
