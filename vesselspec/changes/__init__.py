"""What changed between two states of a record, and what the change does."""

from vesselspec.changes.act import Act
from vesselspec.changes.acts import acts
from vesselspec.changes.compare import Change, FieldChange, compare
from vesselspec.changes.effects import Effects, effects
from vesselspec.changes.review import Reason, Review, Side, findings_only, review, side, touched
from vesselspec.changes.words import SAID_ABOUT, kind_of, tell

__all__ = [
    "SAID_ABOUT",
    "Act",
    "Change",
    "Effects",
    "FieldChange",
    "Reason",
    "Review",
    "Side",
    "acts",
    "compare",
    "effects",
    "findings_only",
    "kind_of",
    "review",
    "side",
    "tell",
    "touched",
]
