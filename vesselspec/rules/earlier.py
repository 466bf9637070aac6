"""What findings would have been called before something was renamed, so that a concession follows a rename."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import islice, product

from vesselspec.model.vessel import Vessel
from vesselspec.rules.findings import Finding, fingerprint_of

#: Combinations of earlier names that are tried for one finding.
_MOST = 256


@dataclass(frozen=True)
class Earlier:
    """Earlier names, as `formerly` gives them."""

    #: Address now → what it was called before.
    names: Mapping[str, tuple[str, ...]]

    @classmethod
    def of(cls, vessel: Vessel) -> Earlier:
        """Gather every earlier name in a vessel."""
        names: dict[str, tuple[str, ...]] = {}
        for collection, path, item in vessel.items():
            holder = path.rpartition("/")[0]
            for was in item.formerly:
                address = f"{holder}/{was}" if holder and "/" not in was else was
                names[path] = (*names.get(path, ()), address)
                if not holder:  # findings name a space or a system with its collection before it
                    full = f"{collection}/{path}"
                    names[full] = (*names.get(full, ()), f"{collection}/{was}")
        return cls(names)

    def called(self, word: str) -> tuple[str, ...]:
        """A word of a finding, and what it would have been with each earlier name."""
        place, colon, rest = word.partition(":")
        parts = place.split("/")
        found = [word]
        for depth in range(len(parts), 0, -1):
            earlier = self.names.get("/".join(parts[:depth]), ())
            found += ["/".join((was, *parts[depth:])) + colon + rest for was in earlier]
        return tuple(found)

    def prints(self, finding: Finding) -> tuple[str, ...]:
        """The finding's fingerprint, and those that it would have had with earlier names."""
        if not self.names:
            return (finding.fingerprint,)
        about = finding.group or finding.items
        words = [self.called(word) for word in (*about, *finding.arguments)]
        many = len(about)
        return tuple(fingerprint_of(finding.rule, each[:many], each[many:]) for each in islice(product(*words), _MOST))
