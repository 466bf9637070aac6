"""Published demand factors that a record asks for: the printed rows, who counts, what is said where there is none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.changes import compare
from vesselspec.cli.main import run
from vesselspec.model.published import Published, galley_demand_w, published_of
from vesselspec.physics.loads.demand import demands_of
from vesselspec.standards import figure

from .boats import Raw, built, cable, changed, split_phase, written

REFERENCE = Path(__file__).parents[1] / "data/reference/loads.yaml"
ROWS: dict[str, dict[str, Any]] = {
    row["circuit"]: row
    for fact in YAML(typ="safe").load(REFERENCE.read_text(encoding="utf-8"))["facts"]
    if fact["id"] == "cfr46_111_60_7"
    for row in fact["rows"]
}
RULE = next(row for row in figure("cfr46_111_60_7").data["rows"] if row["circuit"] == "galley feeder")


# --- the printed rows -----------------------------------------------------------------------------


def test_the_rows_are_those_printed() -> None:
    galley, lighting = ROWS["galley feeder"], ROWS["lighting feeder"]
    for key, value in galley.items():
        assert RULE[key] == value
    assert galley["first_block"].startswith("100 % of the larger of 50 kW or half the connected load")
    assert (RULE["first_block_w"], RULE["first_block_share"]) == (50_000, 0.5)
    own = next(row for row in figure("cfr46_111_60_7").data["rows"] if row["circuit"] == "lighting feeder")
    assert all(own[key] == value for key, value in lighting.items())


@pytest.mark.parametrize(
    ("connected_kw", "demand_kw"),
    [(8, 8), (50, 50), (60, 50 + 0.65 * 10), (100, 50 + 0.65 * 50), (200, 100 + 0.65 * 100)],
)
def test_a_galley_feeder_by_hand(connected_kw: float, demand_kw: float) -> None:
    assert galley_demand_w(connected_kw * 1000, RULE) == pytest.approx(demand_kw * 1000)


@given(st.floats(1, 1e6), st.floats(1, 1e6))
def test_two_feeders_are_never_less_than_one(one: float, other: float) -> None:
    """So that loads whose feeder is not recorded way by way may count each for itself: the safe side."""
    assert galley_demand_w(one, RULE) + galley_demand_w(other, RULE) >= galley_demand_w(one + other, RULE) * (1 - 1e-9)


# --- who counts ------------------------------------------------------------------------------------


def galley(**changes: Any) -> Raw:
    """Split phase with an oven of 60 kW and a lamp of 240 W, and two spare ways of 20 A on line 1."""
    record = split_phase(
        loads={"oven": {"use": "cooking", "power": "60 kW"}, "heater-2": {"use": "lighting", "power": "240 W"}},
        conditions={"alongside": {"demand": {"oven": "published"}}},
    )
    ways = record["panels"]["main"]["sections"]["a"]["ways"]
    ways["6"] = ways["7"] = {"poles": ["L1"], "rating": "20 A", "spare": True}
    return changed(record, changes)


def groups(record: Raw) -> tuple[Published, ...]:
    vessel, _, _ = built(record)
    return published_of(vessel, vessel.conditions["alongside"])


def factors(record: Raw) -> dict[str, float]:
    vessel, _, _ = built(record)
    return {key: each.factor for key, each in vessel.conditions["alongside"].demand}


def test_a_listed_load_counts_at_the_published_factor() -> None:
    (group,) = groups(galley())
    assert (group.use, group.feeder, group.loads, group.connected_w) == ("cooking", "main/a", ("oven",), 60_000)
    assert group.factor == pytest.approx(56.5 / 60)
    assert group.source == "46 CFR 111.60-7, Table 111.60-7"
    assert group.spare_ways == ("main/a/6", "main/a/7")
    assert dict(group.spare_a) == {"L1": 20}  # half of 20 A and 20 A
    assert factors(galley()) == {"oven": pytest.approx(56.5 / 60)}


def test_a_condition_counts_unlisted_loads_of_a_use() -> None:
    record = galley(conditions={"alongside": {"published": ["lighting"], "demand": {"heater-1": 0.5}}})
    assert factors(record) == {"heater-1": 0.5, "heater-2": 1}
    (group,) = groups(record)
    assert (group.loads, group.unlisted, group.spare_w) == (("heater-2",), ("heater-2",), 480)
    listed = galley(conditions={"alongside": {"published": ["lighting"], "demand": {"heater-2": 0.5}}})
    assert factors(listed) == {"heater-2": 0.5}
    assert groups(listed) == ()


def test_loads_on_one_feeder_count_together_and_others_for_themselves() -> None:
    record = galley(
        loads={"hob": {"system": "ac", "poles": ["L1", "L2"], "use": "cooking", "power": "60 kW"}},
        conditions={"alongside": {"demand": {"oven": "published", "hob": "published"}}},
    )
    assert factors(record)["hob"] == pytest.approx(56.5 / 60)  # on no way that is recorded
    record["cables"]["C6"] = cable("main/a/4", "hob", "L1", "L2")
    assert factors(record)["hob"] == factors(record)["oven"] == pytest.approx((60 + 0.65 * 60) / 120)


def test_the_source_carries_what_the_factor_says() -> None:
    vessel, network, states = built(galley())
    found = demands_of(vessel, network, vessel.conditions["alongside"], states["alongside"])
    assert [each.amps for each in found.sources] == pytest.approx([56_500 / 240] * 2)


@pytest.mark.parametrize("use", ["laundry", None])
def test_without_a_figure_nothing_is_guessed(use: str | None) -> None:
    record = galley()
    record["loads"]["oven"].pop("use")
    if use:
        record["loads"]["oven"]["use"] = use
    (group,) = groups(record)
    assert group.factor is None
    assert group.text == ("no published factor for laundry: write one" if use else group.text)
    vessel, network, states = built(record)
    found = demands_of(vessel, network, vessel.conditions["alongside"], states["alongside"])
    assert [(each.amps, each.unknown) for each in found.sources] == [(0, (("oven", "demand_factor"),))] * 2


# --- what is told ----------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["text", "markdown", "json"])
def test_the_source_is_printed(form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record = galley(
        loads={"heater-1": {"use": "laundry"}},
        conditions={"alongside": {"demand": {"oven": "published", "heater-1": "published"}}},
    )
    folder = written(tmp_path, record)
    run(["loads", folder, "--output", form])
    said = " ".join(capsys.readouterr().out.split())
    assert "46 CFR 111.60-7" in said
    assert "no published factor for laundry" in said
    if form == "json":
        (condition,) = json.loads(said)["conditions"]
        assert [each["factor"] for each in condition["published"]] == [0.9417, None]
        assert all(line["at_least"] for line in condition["sources"] if line["pole"] == "L1")
    run(["derive", "shore", "demand", folder, "--output", form])
    assert "46 CFR 111.60-7" in " ".join(capsys.readouterr().out.split())


def test_a_comparison_tells_what_was_written() -> None:
    """A second galley load changes the first one's factor and adds none that somebody wrote."""
    asked = {"published": ["cooking"], "demand": {"heater-1": 1}}
    before = built(galley(conditions={"alongside": asked}))[0]
    more = {"hob": {"system": "ac", "poles": ["L1", "L2"], "use": "cooking", "power": "60 kW"}}
    after = built(galley(conditions={"alongside": asked}, loads=more))[0]
    assert [(each.collection, each.id) for each in compare(before, after)] == [("loads", "hob")]
    other = built(galley(conditions={"alongside": {"demand": {"oven": 0.5}}}))[0]
    (change,) = compare(built(galley())[0], other)
    assert [(each.key, each.before, each.after) for each in change.fields] == [("demand/oven", "published", "0.5")]
