"""Loads on one page: every source in every condition side by side, and the feeders that have least left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from vesselspec.physics.loads.loading import Feeder, Line, Loading
from vesselspec.report.amps import amps, rated
from vesselspec.report.blocks import Block, Heading, Paragraph, Table

#: Feeders are on the overview from this share of their bus or device, and never more of them than this.
_TIGHT, _MOST = 0.5, 12


def overview_blocks(loadings: Sequence[Loading]) -> list[Block]:
    """The overview of several conditions; empty where there is nothing to set side by side."""
    if len(loadings) < 2:
        return []
    blocks: list[Block] = [Heading("Overview")]
    table = _sources(loadings)
    if table.rows:
        note = "What each source gives on each line, A, and the share of its rating; - where it feeds nothing."
        blocks += [Heading("Sources", 3), Paragraph(note, "note"), table]
    tight = sorted(_tightest(loadings), key=lambda each: -each[0])[:_MOST]
    if tight:
        rows = tuple(
            (
                feeder.bus.element.item,
                feeder.bus.element.pole,
                f"{share * 100:.0f} %",
                f"{'at least ' if feeder.bus.unknown else ''}{amps(feeder.bus.amps)}",
                rated(limit),
                what,
                condition,
            )
            for share, limit, what, feeder, condition in tight
        )
        head = ("section or bus", "line", "used", "A", "rated A", "of its", "most in")
        blocks.append(Heading(f"Panel feeders and buses at {_TIGHT * 100:.0f} % or more, each at its most", 3))
        blocks.append(Table(head, rows, right=(2, 3, 4)))
    return blocks


def _sources(loadings: Sequence[Loading]) -> Table:
    lines = [
        {(" + ".join(line.element.sources), line.element.pole): line for line in each.sources} for each in loadings
    ]
    keys = sorted({key for each in lines for key in each})
    rows = []
    for name, pole in keys:
        ratings = {rated(each[name, pole].rating_a) for each in lines if (name, pole) in each}
        cells = [_cell(each.get((name, pole)), alike=len(ratings) == 1) for each in lines]
        rows.append((name, pole, " or ".join(sorted(ratings)), *cells))
    return Table(("source", "line", "rated A", *(each.condition for each in loadings)), tuple(rows))


def _cell(line: Line | None, *, alike: bool) -> str:
    if line is None:
        return "-"
    said = f"{'at least ' if line.unknown else ''}{amps(line.amps)}"
    if not line.rating_a:
        return said
    of = "" if alike else f" of {rated(line.rating_a)}"
    share = f"{line.amps / line.rating_a * 100:.0f}\N{NO-BREAK SPACE}%"
    return f"OVER: {said}{of}, {share}" if line.over else f"{said}{of}, {share}"


def _tightest(loadings: Sequence[Loading]) -> Iterator[tuple[float, float, str, Feeder, str]]:
    """For each section or bus and line: share, limit, what sets it, and the condition in which it carries most."""
    most: dict[tuple[str, str], tuple[float, float, str, Feeder, str]] = {}
    for loading in loadings:
        for feeder in loading.feeders:
            for limit, what in ((feeder.bus.rating_a, "bus"), (feeder.device_rating_a, "device")):
                if not limit:
                    continue
                share = feeder.bus.amps / limit
                key = (feeder.bus.element.item, feeder.bus.element.pole)
                if share >= _TIGHT and (key not in most or share > most[key][0]):
                    most[key] = (share, limit, what, feeder, loading.condition)
    yield from most.values()
