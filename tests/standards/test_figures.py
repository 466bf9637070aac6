"""The data files carry the published figures unchanged, each with its source and how it was read."""

import re
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from vesselspec.standards import (
    SUBJECTS,
    abroad,
    cited,
    figure,
    figures,
    normalise_colour,
    protective_conductor_awg,
    standard_ratings,
)

REFERENCE = Path(__file__).parents[1] / "data" / "reference"
FACTS: dict[str, dict[str, Any]] = {
    fact["id"]: fact
    for subject in SUBJECTS
    if subject != "paper"  # from memory, all of it: no reference was read
    for fact in YAML(typ="safe").load((REFERENCE / f"{subject}.yaml").read_text(encoding="utf-8"))["facts"]
}
# Ours: no published table stands behind them, and they say so.
WITHOUT_REFERENCE = {
    "small_ratings",
    "iec_60364_5_52_grouping_from_memory",
    "iec_60364_5_54_from_memory",
    "paper_sizes",
    "label_grids",
}
# A copy was read for something near to the figure, but not for what decides.
PARTLY_FROM_MEMORY = {"copper_alpha_20", "shore_inlet_distance", "dalziel_fibrillation"}
DESCRIBES = {"id", "what", "source", "edition", "read", "note", "contradiction", "check", "region", "system"}


def _facts(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """The numbers, sizes and colours within a fact, each with where it stands; sentences are left out."""
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from _facts(item, f"{path}.{key}")
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            yield from _facts(item, f"{path}[{index}]")
    elif not isinstance(value, str) or re.search(r"\.(awg|copper_awg|word)$", path):
        yield path, value
    elif re.search(r"\.(colours|values)\[", path):
        yield path, normalise_colour(value) or value


@pytest.mark.parametrize("fact", FACTS.values(), ids=lambda fact: fact["id"])
def test_every_number_size_and_colour_is_carried_as_published(fact: dict[str, Any]) -> None:
    published = dict(_facts({key: value for key, value in fact.items() if key not in DESCRIBES}))
    carried = dict(_facts(figure(fact["id"]).data))
    assert {path: carried.get(path) for path in published} == published


@pytest.mark.parametrize("subject", SUBJECTS)
def test_nothing_is_carried_that_no_reference_holds(subject: str) -> None:
    ours = {".copies", ".from_memory", ".used_as", ".alone_as", ".also"}
    for found in figures(subject).values():
        if found.id in WITHOUT_REFERENCE:
            assert found.from_memory
            continue
        published = {path for path, _ in _facts(FACTS[found.id])}
        carried = {path for path, _ in _facts(found.data) if not any(name in path for name in ours)}
        assert carried <= published


@pytest.mark.parametrize("fact", FACTS.values(), ids=lambda fact: fact["id"])
def test_how_often_a_figure_was_read_is_carried(fact: dict[str, Any]) -> None:
    found = figure(fact["id"])
    count = fact["read"].split()[0]
    if count.isdigit():
        assert found.copies == int(count)
    assert found.from_memory == (count == "0" or found.id in PARTLY_FROM_MEMORY)
    if fact["source"].startswith("from memory"):
        assert found.from_memory


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_figure_names_its_source_and_no_address(subject: str) -> None:
    for found in figures(subject).values():
        assert found.title
        assert found.source
        assert "http" not in f"{found.title}{found.source}{found.note}{found.data}"
        assert found.from_memory == (found.copies == 0) or found.id in {*PARTLY_FROM_MEMORY, "circular_mil"}


def test_ids_are_unique_over_all_subjects() -> None:
    ids = [figure_id for subject in SUBJECTS for figure_id in figures(subject)]
    assert len(ids) == len(set(ids))
    assert set(ids) == set(FACTS) | WITHOUT_REFERENCE


def test_an_unknown_id_is_named() -> None:
    with pytest.raises(KeyError, match="no published figure has the id 'cfr99'"):
        figure("cfr99")


def test_figures_cannot_be_changed() -> None:
    table = figure("cfr33_183_425_table5")
    with pytest.raises(TypeError):
        table.data["rows"][0]["t105"] = 1000
    with pytest.raises(AttributeError):
        table.data["rows"].append({})


def test_standard_ratings_are_the_code_list_and_smaller_ones() -> None:
    """NFPA 70 240.6(A), 15 A to 6000 A; below it common practice without a source."""
    found = standard_ratings()
    assert list(found.amps[6:]) == FACTS["nec_240_6_A"]["values"]
    assert found.amps[:6] == (1, 2, 3, 5, 7.5, 10)
    assert "common practice, no source" in found.source


@pytest.mark.parametrize("row", FACTS["nec_250_122"]["rows"], ids=lambda row: str(row["device_A"]))
def test_grounding_conductors_follow_the_rating_ahead(row: dict[str, Any]) -> None:
    """NFPA 70 Table 250.122: rating not exceeding the row."""
    rows = FACTS["nec_250_122"]["rows"]
    assert protective_conductor_awg(row["device_A"]) == row["copper_awg"]
    above = next((other["copper_awg"] for other in rows if other["device_A"] > row["device_A"]), None)
    assert protective_conductor_awg(row["device_A"] + 0.5) == above


@pytest.mark.parametrize(
    ("figure_id", "columns"),
    [
        ("cfr33_183_425_table5", ["t60", "t75", "t80", "t90", "t105", "t125", "t200"]),
        ("nec_310_16_copper", ["t60", "t75", "t90"]),
        ("nec_310_17_free_air_copper", ["t60", "t75", "t90"]),
        ("iso_10133_table_a1_from_memory", ["t60", "t70", "t85_90", "t105", "t125", "t200"]),
        ("iec_60364_5_52_b2_pvc3", ["a55C", "a50C", "a45C", "a40C", "a30C"]),
        ("iec_60364_5_52_c_pvc3", ["a55C", "a50C", "a45C", "a40C", "a30C"]),
    ],
)
def test_tables_rise_down_and_across(figure_id: str, columns: list[str]) -> None:
    """Physics: more copper, hotter insulation or cooler air never carries less."""
    rows = [[row[column] for column in columns] for row in figure(figure_id).data["rows"]]
    for row in rows:
        assert row == sorted(row)
    for thin, thick in pairwise(rows):
        assert all(less < more for less, more in zip(thin, thick, strict=True))


def test_a_north_american_rule_says_why_it_is_applied_elsewhere() -> None:
    said = abroad("33 CFR 183.410", "international")
    assert said == "33 CFR 183.410; North American, applied for want of a recorded international rule"
    assert abroad("33 CFR 183.410", "north-american") == "33 CFR 183.410"
    for source in ("ISO 10133:2012 clause 7; 33 CFR 183.425", "common practice, no source", "IEC 60898-1"):
        assert abroad(source, "international") == source


def test_what_is_from_memory_says_so_once() -> None:
    assert cited("ABYC E-11", from_memory=True) == "ABYC E-11 (from memory)"
    assert cited("from memory of ISO 10133", from_memory=True) == "from memory of ISO 10133"
    assert cited("ABYC E-11", from_memory=False) == "ABYC E-11"
