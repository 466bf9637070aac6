"""Safe isolation: what can make a place live, what makes it dead, and the proof that it does."""

from vesselspec.isolation.sheet import Sheet, UnknownPointError, sheet_of
from vesselspec.isolation.target import Target, find_target

__all__ = ["Sheet", "Target", "UnknownPointError", "find_target", "sheet_of"]
