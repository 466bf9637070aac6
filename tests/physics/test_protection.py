"""Greatest device ratings against the regulation, for every row of the ampacity table."""

from itertools import pairwise, product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ruamel.yaml import YAML

from vesselspec.physics.conductors.ampacity import ampacity
from vesselspec.physics.conductors.protection import device_limit
from vesselspec.units import parse_size

REFERENCE = Path(__file__).parents[1] / "data" / "reference"


def _facts(name: str) -> dict[str, dict[str, Any]]:
    text = (REFERENCE / f"{name}.yaml").read_text(encoding="utf-8")
    return {fact["id"]: fact for fact in YAML(typ="safe").load(text)["facts"]}


TABLE_5 = _facts("ampacity")["cfr33_183_425_table5"]["rows"]
RULE = _facts("protection")["cfr33_183_455c_rating"]["rows"]
# NFPA 70 240.6(A); the ratings under 15 A are common practice, no source.
RATINGS: list[float] = [1, 2, 3, 5, 7.5, 10, *_facts("protection")["nec_240_6_A"]["values"]]
COLUMNS = {"t60": 60.0, "t75": 75.0, "t80": 80.0, "t90": 90.0, "t105": 105.0, "t125": 125.0, "t200": 200.0}


def _permitted(amperage: float, rating: float) -> bool:
    """33 CFR 183.455(c)(2) on one device: not above the amperage; if that is no standard size, the next larger."""
    if rating <= amperage:
        return True
    if amperage in RATINGS:
        return False
    most: float = amperage * RULE[2]["max_percent"] / 100
    return rating == min(r for r in RATINGS if r > amperage) and rating <= most


@pytest.mark.parametrize("row", TABLE_5, ids=lambda row: row["awg"])
def test_every_row_of_table_5_by_183_455_c(row: dict[str, Any]) -> None:
    """33 CFR 183.455(c) with the amperages of 33 CFR 183.425 Table 5, engine spaces and bundles included."""
    for (column, insulation_c), engine, count in product(COLUMNS.items(), (False, True), (2, 3, 6, 24, 25)):
        found = ampacity(
            size=parse_size(f"{row['awg']} AWG"),
            insulation_c=insulation_c,
            in_engine_space=engine,
            loaded_conductors=count,
            voltage_v=120.0,
            practice="north-american",
        )
        assert found is not None
        amperage = round(found.low_a, 9)  # without the rounding noise of its factors
        limit = device_limit(found.low_a, 120.0, "north-american").max_rating_a
        fitting = [rating for rating in RATINGS if rating <= round(limit, 9)]
        assert fitting == [rating for rating in RATINGS if _permitted(amperage, rating)]
        if not engine and count == 2:
            assert found.low_a == row[column]
            under_50 = device_limit(row[column], 12.0, "north-american")
            assert under_50.max_rating_a == row[column] * RULE[0]["max_percent"] / 100


@pytest.mark.parametrize(
    ("amperage", "voltage_v", "expected"),
    [
        # 33 CFR 183.455(c), worked by hand with NFPA 70 240.6(A).
        (45.0, 120.0, 45.0),  # 12 AWG, 105 °C: a standard rating itself
        (38.25, 120.0, 40.0),  # the same in an engine space: 40 is within 57.4
        (31.5, 120.0, 35.0),  # three such conductors together
        (35.0, 240.0, 35.0),
        (0.1 * 3 * 100, 240.0, 30.0),  # 30.000000000000004 is 30
        (55.0, 240.0, 60.0),
        (210.0, 120.0, 225.0),
        (0.5, 120.0, 0.5),  # the next larger, 1 A, is 200 %
        (6500.0, 120.0, 6500.0),  # beyond the list there is no larger one
        (45.0, 50.0, 45.0),  # 50 V counts as 50 V or more
        (45.0, 49.9, 67.5),
        (45.0, 12.0, 67.5),
        (0.0, 120.0, 0.0),
    ],
)
def test_limits_worked_by_hand(amperage: float, voltage_v: float, expected: float) -> None:
    found = device_limit(amperage, voltage_v, "north-american")
    assert found.max_rating_a == pytest.approx(expected, rel=1e-12)
    assert "33 CFR 183.455(c)" in found.source
    assert not found.from_memory
    assert found.derivation


@given(amperage=st.floats(0, 7000), voltage_v=st.sampled_from([12.0, 230.0]))
def test_international_devices_never_exceed_the_ampacity(amperage: float, voltage_v: float) -> None:
    """IEC 60364-4-43 clause 433.1, from memory: In at most Iz."""
    found = device_limit(amperage, voltage_v, "international")
    assert found.max_rating_a == amperage
    assert found.from_memory
    assert "from memory" in found.source


@given(amperages=st.lists(st.floats(0, 7000), min_size=2, max_size=6), voltage_v=st.sampled_from([12.0, 120.0]))
def test_more_copper_never_lowers_the_limit(amperages: list[float], voltage_v: float) -> None:
    limits = [device_limit(amps, voltage_v, "north-american").max_rating_a for amps in sorted(amperages)]
    assert all(less <= more for less, more in pairwise(limits))


@given(amperage=st.floats(0, 7000), voltage_v=st.floats(1, 500))
def test_the_limit_lies_between_the_ampacity_and_one_and_a_half_of_it(amperage: float, voltage_v: float) -> None:
    limit = device_limit(amperage, voltage_v, "north-american").max_rating_a
    assert amperage <= limit <= amperage * 1.5


def test_the_derivation_names_the_step_up() -> None:
    found = device_limit(38.25, 120.0, "north-american")
    assert found.derivation == (
        "50 V or more: 100 % of 38.25 A",
        "no standard rating; the next larger, 40 A, is within 150 % (57.38 A)",
    )
    assert "common practice, no source" in found.source


@pytest.mark.parametrize("amperage", [-1.0, float("nan"), float("inf")])
def test_what_is_no_current_is_refused(amperage: float) -> None:
    with pytest.raises(ValueError, match="expected a finite current, 0 A or more"):
        device_limit(amperage, 12.0, "north-american")


def test_an_unknown_practice_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown practice"):
        device_limit(10.0, 12.0, "nautical")
