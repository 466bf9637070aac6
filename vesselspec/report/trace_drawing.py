"""A drawing of what a trace passes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from vesselspec.draw import Sheet, neighbourhood
from vesselspec.report.trace import Trace
from vesselspec.tracing.chain import Chain

#: More items than this make no sheet that anybody can read.
MOST_ITEMS = 40


def drawing(trace: Trace, footer: str) -> Sheet:
    """The item, then what lies on its ways, nearest first, as far as a sheet can hold it."""
    subject = trace.subject
    both = (subject,) if trace.other is None else (subject, trace.other)
    ends = [each.place for each in both]
    named = [(*each.inside, *each.cables) if each.kind == "space" else (each.place,) for each in both]
    items = list(dict.fromkeys((*(item for each in named for item in each), *_passed(trace))))
    left = len(items) - MOST_ITEMS
    title = f"what {' and '.join(ends)} {'is' if len(ends) == 1 else 'are'} connected to"
    if left > 0:
        title += f"; {left} items farther off left out"
    sheet = neighbourhood(
        trace.boat.vessel, trace.boat.network, items[:MOST_ITEMS], marks={}, footer=footer, title=title
    )
    name = "trace-" + "-to-".join(place.replace("/", "-") for place in ends)
    return replace(sheet, name=name)


def _passed(trace: Trace) -> Iterator[str]:
    """The items of all ways, those nearest to the traced one first."""
    known = {path for collection, path, _ in trace.boat.vessel.items() if collection != "spaces"}
    ranks: dict[str, int] = {}
    for outward in _outward(trace):
        for rank, item in enumerate(outward):
            ranks[item] = min(rank, ranks.get(item, rank))
    for item in sorted(ranks, key=lambda each: ranks[each]):
        if item in known:
            yield item


def _outward(trace: Trace) -> Iterator[list[str]]:
    def items(chain: Chain) -> list[str]:
        return [hop.item for hop in chain.hops]

    if trace.up is not None:
        yield from ([*reversed(items(feed.chain)), feed.emission.source] for feed in trace.up.hot)
    if trace.down is not None:
        yield from ([*items(drain.chain), drain.item] for drain in trace.down.drains)
    if trace.between is not None:
        yield from (items(tie.chain) for tie in trace.between.ties or trace.between.through_earth)
    for lost in trace.lost or ():
        yield [gone.place for gone in lost.gone]
