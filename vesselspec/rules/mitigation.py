"""Whether what stands open or locked does keep a finding from coming about, as far as a record can show."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from vesselspec.model.concessions import Mitigation
from vesselspec.model.devices import InverterCharger, Selector
from vesselspec.model.forms import Pairs
from vesselspec.network.graph import Link, Network
from vesselspec.network.state import OPEN
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import RULES, Lacks, Says
from vesselspec.rules.findings import Finding, fingerprint_of

_NOTHING = Pairs()


@dataclass(frozen=True)
class Locked(Boat):
    """The same boat with some contacts open and some selectors in one position for good."""

    opened: frozenset[str] = frozenset()
    locked: Pairs = _NOTHING

    @cached_property
    def network(self) -> Network:
        """The compiled network, in which what stands open or locked cannot conduct in any position."""
        network = Boat(self.vessel, self.places).network
        return replace(network, links=tuple(self._held(link) for link in network.links))

    def _held(self, link: Link) -> Link:
        away = any(self.locked.get(choice) not in (None, *states) for choice, states in link.guards)
        if link.switch in self.opened or away:
            # A choice that has no state left is never satisfied: neither in the search nor in a condition.
            return replace(link, guards=((link.switch or link.item, frozenset()), *link.guards))
        return link


def in_words(of: Mitigation) -> str:
    """A mitigation in one clause."""
    parts = [f"{place} open and locked" for place in of.open]
    parts += [f"{place} locked at {position}" for place, position in of.locked]
    return "; ".join([*parts, *filter(None, (of.measures,))])


def can_be_checked(of: Mitigation) -> bool:
    """Whether it names anything that the record knows."""
    return bool(of.open or of.locked)


def doubt(boat: Boat, of: Mitigation, finding: Finding) -> str | None:
    """Why a mitigation does not keep the finding from coming about, or None if it does as recorded.

    What it names must have contacts, must stand so in every operating condition, and with it so the rule must
    neither find the same again nor anything new, nor lack anything that it did not lack before.
    """
    switches = {link.switch for link in boat.network.links}
    for place in of.open:
        if place not in switches:
            return f"{place} has no contacts that could stand open"
        for key, condition in boat.vessel.conditions.items():
            if condition.positions.get(place) != OPEN:
                return f"condition {key} does not have {place} open"
    for place, position in of.locked:
        choice, device = boat.network.choices.get(place), boat.vessel.devices.get(place)
        if choice is None or position not in choice.states:
            return f"{place} has no position {position}"
        if isinstance(device, InverterCharger) or (isinstance(device, Selector) and device.operation == "automatic"):
            return f"{place} changes over by itself and cannot be locked"
        for key, state in boat.states.items():
            if state.positions.get(place) != position:
                return f"condition {key} does not have {place} at {position}"
    return _still_found(boat, of, finding)


def _still_found(boat: Boat, of: Mitigation, finding: Finding) -> str | None:
    rule = RULES[finding.rule]
    held = Locked(boat.vessel, boat.places, boat.names, boat.past, opened=frozenset(of.open), locked=of.locked)
    try:
        before, after = list(rule.judge(boat)), list(rule.judge(held))
    except Exception:  # the rule's own bug, which its own run reports
        return "with that it cannot be judged"
    known = {
        fingerprint_of(rule.id, said.group or said.items, said.arguments) for said in before if isinstance(said, Says)
    }
    found = {
        fingerprint_of(rule.id, said.group or said.items, said.arguments) for said in after if isinstance(said, Says)
    }
    lacked = {(said.item, said.missing) for said in before if isinstance(said, Lacks)}
    lacks = {(said.item, said.missing) for said in after if isinstance(said, Lacks)}
    if finding.fingerprint in found:
        return "with that it comes about all the same"
    if found - known:
        return "with that it comes about in another way"
    return "with that it cannot be judged" if lacks - lacked else None
