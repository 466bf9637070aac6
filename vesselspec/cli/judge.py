"""Judging many states in one run: what is the same is read and surveyed once."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from vesselspec.cli.common import earlier_state, state_of
from vesselspec.record import Memory

if TYPE_CHECKING:
    from vesselspec.changes import Side
    from vesselspec.revisions import Snapshot

#: Judged states that are kept: a boat is some megabytes, and a history goes from one state to the next.
_MOST_KEPT = 64


@dataclass
class Judge:
    """Surveys snapshots, each content once."""

    on: datetime.date
    _memory: Memory = field(default_factory=Memory)
    _sides: dict[object, Side] = field(default_factory=dict)

    def side(self, name: str, snapshot: Snapshot) -> Side:
        """The state of a snapshot, judged, under a name. Raises RevisionError where there is no vessel in it."""
        from vesselspec.changes import side
        from vesselspec.rules import Boat

        key = (tuple(snapshot.blobs.items()), snapshot.problems, snapshot.names)
        if key not in self._sides:
            if len(self._sides) >= _MOST_KEPT:
                del self._sides[next(iter(self._sides))]
            record = state_of(snapshot, self._memory).record
            judged = side(name, record, self.on)
            # A fresh boat: what was worked out for the survey is large and not asked for again.
            fresh = None if record.vessel is None else Boat(record.vessel, record.places, record.names)
            self._sides[key] = replace(judged, boat=fresh)
        return replace(self._sides[key], name=name)

    def earlier(self, snapshot: Snapshot, later: Snapshot) -> Side:
        """The earlier of two states, judged: before its first commit the same boat with nothing recorded."""
        from vesselspec.changes import side

        if snapshot.has_vessel or snapshot.problems:
            return self.side(snapshot.name, snapshot)
        state = earlier_state(snapshot, later, self._memory)
        return side(state.name, state.record, self.on)
