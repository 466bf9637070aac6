"""Tracing: from an item up to its sources and down to its loads, what opening it takes away, what joins two items."""

from vesselspec.tracing.between import Between, between
from vesselspec.tracing.down import Down, down_from
from vesselspec.tracing.lost import Lost, NothingToOpenError, lost_by
from vesselspec.tracing.space import Held, held_in
from vesselspec.tracing.subject import NoSuchItem, Subject, find_subject
from vesselspec.tracing.unknown import unknown_about
from vesselspec.tracing.up import Up, up_from
from vesselspec.tracing.wiring import Wiring, any_position, in_condition

__all__ = [
    "Between",
    "Down",
    "Held",
    "Lost",
    "NoSuchItem",
    "NothingToOpenError",
    "Subject",
    "Up",
    "Wiring",
    "any_position",
    "between",
    "down_from",
    "find_subject",
    "held_in",
    "in_condition",
    "lost_by",
    "unknown_about",
    "up_from",
]
