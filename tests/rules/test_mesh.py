"""A bound of the search is never silent: a mesh of busbars and fuses that no boat has."""

from __future__ import annotations

import pytest

from vesselspec.network import feeds
from vesselspec.record import read
from vesselspec.rules import Boat, survey


def mesh(side: int) -> Boat:
    """So many busbars in a row and in a column, a fuse between each two neighbours, a battery on the first."""
    bars = [(x, y) for x in range(side) for y in range(side)]
    pairs = [(at, to) for at in bars for to in ((at[0] + 1, at[1]), (at[0], at[1] + 1)) if to in bars]
    lines = [
        "vessel: {record: 1, name: Example, practice: international}",
        "systems: {dc: {kind: dc, voltage: 12 V}}",
        "devices:",
        "  bank: {kind: battery-bank, system: dc}",
        *(f"  bar-{x}-{y}: {{kind: busbar, system: dc}}" for x, y in bars),
        *(
            f"  fuse-{n}: {{kind: fuse, system: dc, rating: 10 A, mounted_on: 'bar-{at[0]}-{at[1]}:DC+'}}"
            for n, (at, _) in enumerate(pairs)
        ),
        "cables:",
        "  B: {from: bank, to: bar-0-0, size: 10 mm2, cores: {red: DC+, black: DC-}}",
        *(
            f"  C{n}: {{from: fuse-{n}/load, to: bar-{to[0]}-{to[1]}, size: 10 mm2, cores: {{red: DC+}}}}"
            for n, (_, to) in enumerate(pairs)
        ),
    ]
    record = read({"vessel.yaml": "\n".join(lines).encode()})
    assert record.vessel is not None, [str(problem) for problem in record.problems]
    return Boat(record.vessel, record.places)


def cut_short(boat: Boat) -> list[str]:
    return [finding.message for finding in survey(boat).findings if finding.rule == "search-incomplete"]


def test_ways_through_devices_beyond_the_bound_are_told_once() -> None:
    boat = mesh(5)
    assert boat.feeds.incomplete
    (told,) = cut_short(boat)
    assert told.startswith("too many ways through overcurrent devices lead to ")
    assert not mesh(2).feeds.incomplete
    assert not cut_short(mesh(2))


@pytest.mark.parametrize("most", [1, 2, 64])
def test_the_bound_is_marked_wherever_it_could_matter(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the bound the small mesh has this many feeds; with it, either it has them too or it says so."""
    whole = mesh(3).feeds
    assert not whole.incomplete
    monkeypatch.setattr(feeds, "MOST_WAYS", most)
    bounded = mesh(3).feeds
    assert bounded.of == whole.of or bounded.incomplete
    assert bool(bounded.incomplete) == (most < 64)
