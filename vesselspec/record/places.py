"""Where in the files every entry and field stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from vesselspec.record.yaml import Map, Seq


@dataclass(frozen=True, order=True)
class Place:
    """A position in a file. Line and column count from 1; 0 stands for the file as a whole."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


@dataclass(frozen=True)
class Places:
    """The place of every entry, by its path, and of the fields inside it."""

    #: collection, id → file, the mapping that holds the entry.
    holders: Mapping[tuple[str, str], tuple[str, Map]] = field(default_factory=dict)

    def written(self, collection: str, key: str) -> Mapping[str, Any]:
        """Return an entry as its file writes it. Raises KeyError for an entry that is not there."""
        _, holder = self.holders[collection, key]
        entry: Mapping[str, Any] = holder[key]
        return entry

    def of(self, collection: str, path: str, *fields: str | int) -> Place:
        """Return the place of an entry, or of a field inside it as far as it is written.

        Sections and ways are found under their panel. An unknown entry is placed at `vessel.yaml`.
        """
        keys: list[str | int] = list(fields)
        if collection in ("sections", "ways"):
            panel, *inner = path.split("/")
            keys = ["sections", inner[0], *(["ways", inner[1]] if collection == "ways" else []), *keys]
            collection, path = "panels", panel
        found = self.holders.get((collection, path))
        if found is None:
            return Place("vessel.yaml")
        file, holder = found
        line, column = holder.keys_at[path]
        node: Any = holder[path]
        for key in keys:
            if isinstance(node, Map) and isinstance(key, str) and key in node:
                line, column = node.keys_at[key]
                node = node[key]
            elif isinstance(node, Seq) and isinstance(key, int) and key < len(node):
                line, column = node.at[key]
                node = node[key]
            else:
                break
        return Place(file, line, column)
