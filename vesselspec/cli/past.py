"""What earlier revisions say of a state: `vesselspec survey --history`."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from vesselspec.revisions import RevisionError

if TYPE_CHECKING:
    from vesselspec.model.vessel import Vessel
    from vesselspec.rules.past import Past


def past_of(folder: Path, at: str | None, boat: Vessel, on: datetime.date) -> Past:
    """Look back from a state for what was changed after its evidence. Files that are not committed count as of `on`.

    Where there is no repository, or it does not hold what is needed, that is what is found: nothing else is judged by
    it, and a survey must not fail for it.
    """
    from vesselspec.changes.logbook import altered
    from vesselspec.cli.history import History
    from vesselspec.revisions import Repository
    from vesselspec.rules.past import Past

    try:
        repository = Repository.open(folder, at=at or "HEAD")
    except RevisionError:
        return Past(missing="its history (in no git repository)")
    try:
        history = History(repository, at)
        days = {revision: step.commit.when.date() for revision, step in history.steps.items()} | {"": on}
        given = [item.evidence.when for _, _, item in boat.items() if item.evidence is not None]
        dated = [day for day in given if day is not None]
        last = min(dated) if dated and None not in given else datetime.date.min
        found = altered(boat, history.walk.visits_after(days, last), days)
        history.close()
    except RevisionError:  # nothing committed yet, or a partial clone
        return Past(missing="its history (not in this repository, or not all of it)")
    first = [days[revision] for revision, step in history.steps.items() if step.begins]
    shown = ((each, history.commit(each.revision)) for each in found)
    named = tuple(replace(each, revision=commit.short if commit is not None else "") for each, commit in shown)
    return Past(named, begins=max(first, default=None))
