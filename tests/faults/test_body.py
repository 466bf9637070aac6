"""Currents through a person and their classes, against the printed figures."""

from __future__ import annotations

import pytest

from vesselspec.physics.faults.body import effect, person, remembered, shock, thresholds


def test_the_two_persons_are_sums_of_printed_contacts() -> None:
    """Wet: grip round a pipe 500 to 1500, foot immersed 100 to 300. Dry: twice a palm of 3000 to 8000 ohm."""
    assert person().wet == (600, 1800)
    assert person().dry == (6000, 16000)


@pytest.mark.parametrize(
    ("milliamps", "says"),
    [
        (0.4, "not felt"),
        (0.5, "felt"),
        (5.9, "felt"),
        (6, "may not be able to let go"),
        (49, "may not be able to let go"),
        (50, "fibrillation possible"),
    ],
)
def test_classes_begin_at_the_published_thresholds(milliamps: float, says: str) -> None:
    """IEC 60479-1 as summarised (0.5 mA, 50 mA), Dalziel 1961 (6 mA)."""
    assert effect(milliamps / 1000) == says


def test_ohm_for_both_ends_of_the_range() -> None:
    found = shock(120.0)
    assert found.wet_a == pytest.approx((120 / 1800, 120 / 600))
    assert found.dry_a == pytest.approx((120 / 16000, 120 / 6000))
    assert (found.worst, found.least) == ("fibrillation possible", "may not be able to let go")


def test_what_is_from_memory_says_so_and_decides_nothing() -> None:
    assert all("from memory" in told for told in remembered())
    assert not any("from memory" in told for told in (*thresholds().derivation, *person().derivation))
    assert thresholds().dangerous_v == 30
