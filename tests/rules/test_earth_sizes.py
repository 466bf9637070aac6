"""Earth conductors through the whole pipeline: every row of NFPA 70 Table 250.122, and the ABYC rule by line size."""

from __future__ import annotations

import pytest

from vesselspec.model.vessel import build_vessel
from vesselspec.record import Places
from vesselspec.rules import RULES, Boat
from vesselspec.rules.book import Says
from vesselspec.standards import earth_by_line_awg, earth_by_line_mm2

from .helpers import Raw
from .test_figures import PROTECTION, vessel_about

ROWS = PROTECTION["nec_250_122"]["rows"]
GAUGES = ["18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"]


def said(device_a: float, line: str, earth: str) -> Says | None:
    """What the rule says of a circuit."""
    ac: Raw = {"system": "ac"}
    vessel = build_vessel(
        vessel_about("north-american"),
        {
            "systems": {"ac": {"kind": "ac-single-phase", "voltage": "120 V"}},
            "devices": {
                "shore": {"kind": "shore-inlet", **ac},
                "guard": {
                    "kind": "breaker",
                    "poles": ["L1"],
                    "rating": f"{device_a} A",
                    "mounted_on": "shore:L1",
                    **ac,
                },
            },
            "loads": {"load": ac},
            "cables": {
                "C1": {
                    "from": "guard/load",
                    "to": "load",
                    "size": f"{line} AWG",
                    "cores": {"black": "L1", "green": {"from": "PE", "to": "PE", "size": f"{earth} AWG"}},
                }
            },
        },
    )
    return next(
        (each for each in RULES["earth-core-too-small"].judge(Boat(vessel, Places())) if isinstance(each, Says)), None
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row["device_A"]))
def test_every_row_of_the_table(row: Raw) -> None:
    """NFPA 70 Table 250.122: the printed size passes, the next smaller one is a warning."""
    gauge = row["copper_awg"]
    enough = said(row["device_A"], "4/0", gauge)
    assert enough is None or enough.signal_word != "WARNING"
    short = said(row["device_A"], "4/0", GAUGES[GAUGES.index(gauge) - 1])
    assert short is not None
    assert short.signal_word == "WARNING"
    assert f"at least {gauge} AWG" in short.what


@pytest.mark.parametrize(
    ("device_a", "line", "least"),
    [(30, "10", "10"), (31, "10", "12"), (50, "6", "8"), (100, "2", "4"), (15, "14", "14")],
)
def test_one_size_less_above_thirty_amperes(device_a: float, line: str, least: str) -> None:
    """ABYC E-8.14.10 (now E-11), quoted publicly; the shore cord of 50 A with 6 AWG lines has an 8 AWG earth."""
    limit = earth_by_line_awg(line, device_a)
    assert limit is not None
    assert limit.awg == least


@pytest.mark.parametrize(
    ("line", "least"), [(1.5, 1.5), (16, 16), (16.1, 16), (25, 16), (35, 16), (50, 25), (95, 47.5)]
)
def test_by_line_area_from_memory(line: float, least: float) -> None:
    """IEC 60364-5-54, from memory: it says so, and so never warns alone."""
    limit = earth_by_line_mm2(line)
    assert limit.mm2 == least
    assert limit.from_memory
