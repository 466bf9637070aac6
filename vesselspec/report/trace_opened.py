"""What opening an item takes away, as lines: one section for all conditions in which it does the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from vesselspec.report.trace_tree import Line, Section, told_needs
from vesselspec.tracing import Lost
from vesselspec.tracing.lost import Stays
from vesselspec.tracing.up import Feed

#: Where several conditions are told at once: more live places than this beyond an item hide the rest of the page.
_MOST_PLACES = 12


def opened_sections(item: str, each: Sequence[Lost], *, verb: str, everywhere: str) -> list[Section]:
    """One section for all situations with the same effect. `everywhere` is what stands for all positions."""
    alike: dict[tuple[object, ...], list[Lost]] = {}
    for lost in each:
        key = (not lost.condition, lost.effect)
        alike.setdefault(key, []).append(lost)
    found = []
    for group in alike.values():
        names = [lost.condition for lost in group]
        where = f"in {', '.join(names)}" if names[0] else f"{everywhere} (dead in all of them)"
        found.append(Section(f"With {item} {verb}, {where}", tuple(_lines(group[0], cut=len(each) > 1))))
    return found


def _lines(lost: Lost, *, cut: bool) -> list[Line]:
    found = [Line(0, f"{key} changes over by itself: {was} → {now}") for key, was, now in lost.changes]
    if lost.stopped:
        found.append(Line(0, f"GIVES NOTHING ANY MORE, nothing feeds it: {', '.join(lost.stopped)}"))
    whole: dict[str, list[str]] = {}
    for gone in lost.gone:
        if gone.staying:
            said = f"ONLY PARTLY DEAD {gone.place}: {', '.join(gone.lost)} dead, {', '.join(gone.staying)} STAYS LIVE"
            found.append(Line(0, said))
        else:
            whole.setdefault(gone.kind, []).append(f"{gone.place} {', '.join(gone.lost)}")
    found += [Line(0, f"goes dead, {kind}s: {'; '.join(places)}") for kind, places in whole.items()]
    if not lost.gone:
        found.append(Line(0, "nothing goes dead: all of it has another supply, or was dead before"))
    found += _staying("STAYS LIVE at it", lost.own)
    found += _staying("stays live beyond it", lost.stays, most=_MOST_PLACES if cut and lost.condition else None)
    if lost.assumed:
        said = f"taken for live before and after, the record does not say what feeds it: {', '.join(lost.assumed)}"
        found.append(Line(0, said))
    return found


def _staying(title: str, each: Iterable[Stays], *, most: int | None = None) -> list[Line]:
    """Places that stay live, gathered by what makes them so; at most `most` of them, and how many more."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for stays in each:
        why = tuple(dict.fromkeys(_reason(feed) for feed in stays.feeds)) or ("the load's own other pole",)
        lifted = f" ({', '.join(stays.lifted)} through the load itself)" if stays.lifted and stays.feeds else ""
        poles = "" if ":" in stays.place else f" {', '.join(stays.poles)}"
        groups.setdefault(why, []).append(f"{stays.place}{poles}{lifted}")
    found = []
    for why, said in groups.items():
        left = len(said) - most if most is not None else 0
        more = f"; and {left} more, which --condition lists" if left > 0 else ""
        found.append(Line(0, f"{title}, from {' or '.join(why)}: {'; '.join(said[:most])}{more}"))
    return found


def _reason(feed: Feed) -> str:
    stands = told_needs(feed.chain.needs)
    return feed.emission.source + (f" (with {stands})" if stands else "")
