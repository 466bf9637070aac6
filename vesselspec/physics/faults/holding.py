"""What ends a fault that is fed by a source which limits its own current: the source itself, or a device before it."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.physics.faults.circuit import Feed
from vesselspec.physics.faults.devices import DeviceChecks, chain_of
from vesselspec.physics.faults.sources import HOLDS
from vesselspec.physics.faults.tripping import Verdict, deadline

#: A short at a stiff source must be so many times what the source gives, so that all of it flows with hot conductors.
_AMPLE = 1.5


@dataclass(frozen=True)
class Ended:
    """Whether such a fault is over in time, by which device if by one, why, and what is not recorded."""

    verdict: Verdict  # certain | not | undecided
    device: str = ""
    why: str = ""
    within_s: float | None = None
    missing: tuple[tuple[str, str], ...] = ()


def ended(checks: DeviceChecks, feed: Feed, line: int, volts: float, short_a: float | None) -> Ended | None:
    """How a fault from a source that limits itself to earth at a line ends; None where nothing is laid down for it.

    `short_a` is what a stiff source would give; None where a conductor on the way is not recorded.
    """
    holds, gives = feed.supply.holds_s, feed.supply.limit_a
    if holds is None or gives is None:
        return Ended("undecided", missing=((feed.source, HOLDS),))
    chain = chain_of(checks, feed)
    device = chain.last.get(line) or ""
    rating = checks.devices[device].rating_a if device else None
    limit = deadline(volts, rating or 0.0)
    if limit is None:
        return None
    if holds <= limit.seconds:
        return Ended("certain", why=f"{feed.source} switches itself off within {holds:g} s", within_s=holds)
    said = f"{feed.source} gives {gives:g} A for up to {holds:g} s"
    all_flows = short_a is not None and short_a >= _AMPLE * gives
    for key in chain.residual.get(line, ()):
        each = checks.residuals[key]
        if each.delay_s is not None and each.delay_s <= limit.seconds and all_flows and gives >= each.residual_a:
            return Ended("certain", key, f"{key} opens on leakage within {each.delay_s:g} s", each.delay_s)
    if chain.residual.get(line):
        return Ended("undecided", device, f"{said}; that the residual-current device opens in time is not certain")
    if not device:
        return Ended("not", why=f"{said}, and no device on board stands before it")
    band = checks.band(chain, device)
    latest, soonest = band.latest(gives), band.soonest(gives)
    if latest is not None and latest.seconds <= limit.seconds and all_flows:
        return Ended("certain", device, f"it opens within {latest.seconds:g} s ({latest.source})", latest.seconds)
    if soonest is not None and soonest.seconds > limit.seconds:
        return Ended(
            "not", device, f"{said}, at which it does not open before {soonest.seconds:g} s ({soonest.source})"
        )
    return Ended("undecided", device, f"{said}; nothing published says that it opens in time at that")
