"""The demand of a load in a condition: its rated current by the factor that the condition gives it."""

from __future__ import annotations

from pathlib import Path

import pytest

from vesselspec.record import read
from vesselspec.report.derivation import quantities
from vesselspec.revisions import read_folder
from vesselspec.rules import Boat


def test_a_load_counts_by_its_factor() -> None:
    record = read(read_folder(Path(__file__).parents[2] / "example_vessel").files)
    assert record.vessel is not None
    boat, seen = Boat(record.vessel, record.places), set()
    for key, condition in record.vessel.conditions.items():
        for load, demand in condition.demand:
            if load not in record.vessel.loads:
                continue
            own = quantities()["current"].derive(boat, load, None)
            rated = {each.of.split(" ")[0]: each.low for each in own if each.of.endswith(" at rated power")}
            for each in quantities()["demand"].derive(boat, load, key):
                full = rated[each.of.split(" ")[0]]
                assert (each.low is None) == (full is None)
                if full is not None:
                    assert each.low == pytest.approx(full * demand.factor)
                    seen.add(demand.factor)
    assert any(0 < factor < 1 for factor in seen)
