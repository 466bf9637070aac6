"""What `vesselspec loads` is asked about, held to the record: names, quantities, conditions and days."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from vesselspec.revisions import RevisionError
from vesselspec.revisions.errors import shown

if TYPE_CHECKING:
    from vesselspec.physics.loads.energy import Stretch
    from vesselspec.rules import Boat

_STRETCH = re.compile(r"^\s*(?P<name>[^:]+?)\s*:\s*(?P<time>.+?)\s*$")


def quantity(dimension: str, text: str, option: str) -> float:
    """A number with its unit as an option gives it, in SI."""
    from vesselspec.units import UnitError, parse

    try:
        return parse(dimension, text)
    except UnitError as error:
        example = {"current": "--limit '30 A'", "percent": "--charged '80 %'"}.get(dimension, "--day 'under-way:24h'")
        raise RevisionError(f"{option}: {error}.", f"For example: {example}") from None


def known(what: str, name: str, there: Iterable[str]) -> None:
    """Refuse a name that is not among those there."""
    names = list(there)
    if name not in names:
        near = difflib.get_close_matches(name, names, n=1)
        hint = f"Did you mean {near[0]}?" if near else f"There are: {', '.join(names)}." if names else "There is none."
        raise RevisionError(f"There is no {what} {shown(name)}.", hint)


def unsettled(boat: Boat, name: str) -> str:
    """Why a condition cannot be judged: positions that it does not give. Empty if it can."""
    gaps = boat.states[name].gaps
    return "; ".join(f"{item}: {missing} is not recorded" for item, missing in gaps)


def settled(boat: Boat, name: str) -> None:
    """Refuse a condition that cannot be judged."""
    why = unsettled(boat, name)
    if why:
        raise RevisionError(
            f"Condition {name} cannot be judged: {why}.", f"Write it into the positions of condition {name}."
        )


def days_of(
    boat: Boat, day: str | None, conditions: tuple[str, ...]
) -> tuple[list[tuple[str, tuple[Stretch, ...]]], list[tuple[str, str]]]:
    """The days asked for, each with its id in the record: one, the record's own, or each condition for a day.

    Days of the record that cannot be judged come with the reason.
    """
    from vesselspec.physics.loads.energy import stretches_of, whole_days

    plans = boat.vessel.days
    names = (day,) if day is not None and day in plans else () if day is not None or conditions else plans
    if names:
        wrong = {name: _wrong_day(boat, name) for name in names}
        return (
            [(name, stretches_of(plans[name])) for name, why in wrong.items() if not why],
            [(name, why) for name, why in wrong.items() if why],
        )
    sound = [name for name in boat.vessel.conditions if not unsettled(boat, name)]
    found = (_stretches(boat, day),) if day is not None else whole_days(conditions or sound)
    for each in {stretch.condition: None for one in found for stretch in one}:
        settled(boat, each)
    return [("", each) for each in found], []


def _wrong_day(boat: Boat, name: str) -> str:
    """Why a day of the record cannot be judged; empty if it can."""
    from vesselspec.physics.loads.energy import is_whole, stretches_of

    stretches = stretches_of(boat.vessel.days[name])
    for each in stretches:
        if each.condition not in boat.vessel.conditions:
            return f"there is no condition {each.condition}"
        if why := unsettled(boat, each.condition):
            return f"{each.condition}: {why}"
        if not each.hours:
            return f"{each.condition} takes no time"
    hours = sum(each.hours for each in stretches)
    return "" if is_whole(stretches) else f"its parts add up to {hours:g} h, not 24 h"


def _stretches(boat: Boat, day: str) -> tuple[Stretch, ...]:
    from vesselspec.physics.loads.energy import DAY_H, Stretch

    found = []
    for part in day.split(","):
        match = _STRETCH.match(part)
        if match is None:
            own = ", ".join(boat.vessel.days)
            raise RevisionError(
                f"--day: {shown(part)} is no condition with a time{' and no day of the record' if own else ''}.",
                "Write --day 'under-way:6h,at-anchor:18h'" + (f", or one of {own}." if own else "."),
            )
        known("condition", match["name"], boat.vessel.conditions)
        hours = quantity("time", match["time"], "--day") / 3600
        if hours <= 0:
            raise RevisionError(f"--day: {shown(part)} takes no time.", "Leave it out.")
        found.append(Stretch(match["name"], hours))
    total = sum(each.hours for each in found)
    if abs(total - DAY_H) > 1e-6:
        raise RevisionError(f"--day adds up to {total:g} h, not 24 h.", "Give every hour of the day a condition.")
    return tuple(found)
