"""One thing that somebody did on board, as data."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.changes.compare import Change

#: Changes that no act explains yet, by collection, id and kind.
Key = tuple[str, str, str]
Left = dict[Key, Change]


@dataclass(frozen=True)
class Act:
    """One thing that was done: its kind, the entry that it is about, and all changes that it explains."""

    kind: str
    id: str
    #: What was done, and what came with it or followed from it.
    told: tuple[str, ...]
    of: tuple[Change, ...]

    @property
    def what(self) -> str:
        """All of it in one sentence, without a full stop."""
        return "; ".join(self.told)
