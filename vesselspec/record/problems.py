"""What is wrong with a record's files, told so that its writer can mend it."""

from __future__ import annotations

from dataclasses import dataclass

from vesselspec.record.places import Place


@dataclass(frozen=True, order=True)
class Problem:
    """Something in the files that cannot be understood: where, what was found, what was expected, what to do."""

    place: Place
    found: str
    expected: str
    remedy: str

    @property
    def message(self) -> str:
        """One sentence: what was found and what was expected."""
        return f"{self.found}; expected {self.expected}" if self.expected else self.found
