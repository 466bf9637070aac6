"""What a revision did to the loads, as lines and as facts for machines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from vesselspec.changes.loads import Carried, LoadEffect

#: Poles told of one entry; the others are counted.
_MOST = 6


def load_words(effects: Sequence[LoadEffect], *, of_all: bool) -> list[str]:
    """One line for each pole of a source or section: where it moved most, and in how many more conditions.

    `of_all`: whether the entry tells of the whole boat; else it is said that the loads are the whole revision's.
    """
    poles: dict[tuple[str, str, str], list[LoadEffect]] = {}
    for each in effects:
        carrier = each.carrier
        poles.setdefault((carrier.kind, carrier.item, carrier.pole), []).append(each)
    title = "load" if of_all else "load, by the whole revision"
    found = [f"{title}: {_line(each)}" for each in list(poles.values())[:_MOST]]
    more = len(poles) - _MOST
    if more > 0:
        found.append(f"{title}: {more} more moved less; --output json lists all")
    return found


def _line(effects: Sequence[LoadEffect]) -> str:
    first = effects[0]
    carrier = first.carrier
    said = f"{carrier.item} {carrier.pole} {first.change_a:+.1f} A in {carrier.condition}"
    said += f" ({_amps(first.before)} → {_amps(first.after)}"
    now = first.after or first.before
    if now is not None and now.rating_a is not None:
        over = first.after is not None and first.after.amps > now.rating_a * (1 + 1e-9)
        said += f" of {now.rating_a:.4g} A" + (", OVER its rating" if over else "")
    more = len(effects) - 1
    return f"{said})" + (f"; moved in {more} more condition{'s' if more > 1 else ''}" if more else "")


def _amps(carried: Carried | None) -> str:
    if carried is None:
        return "0"
    return f"{'at least ' if carried.at_least else ''}{carried.amps:.1f}"


def load_json(effects: Sequence[LoadEffect] | None) -> list[dict[str, Any]] | None:
    """All that moved, for machines."""
    if effects is None:
        return None
    return [
        {
            "condition": each.carrier.condition,
            "kind": each.carrier.kind,
            "item": each.carrier.item,
            "pole": each.carrier.pole,
            "before_a": _round(each.before),
            "after_a": _round(each.after),
            "rating_a": (each.after or each.before or Carried(0.0, None, at_least=False)).rating_a,
            "at_least": bool((each.before and each.before.at_least) or (each.after and each.after.at_least)),
        }
        for each in effects
    ]


def _round(carried: Carried | None) -> float | None:
    return None if carried is None else round(carried.amps, 3)
