"""From the files of a record to a typed vessel."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from vesselspec.model.forms import unreal
from vesselspec.model.items import Item
from vesselspec.model.schema import record_schema
from vesselspec.model.vessel import COLLECTIONS, SHARED_IDS, Vessel, build_item, build_vessel, class_of
from vesselspec.record.explain import explain
from vesselspec.record.places import Place, Places
from vesselspec.record.problems import Problem
from vesselspec.record.yaml import Map, YamlError, load

MAIN_FILE = "vessel.yaml"


@dataclass(frozen=True)
class Record:
    """What the files of a record say: a vessel, or the reasons why they cannot be understood."""

    vessel: Vessel | None
    places: Places
    problems: tuple[Problem, ...]
    #: Paths of all files in the vessel's folder, photographs too; None where nobody looked.
    names: frozenset[str] | None = None


_READS_KEPT = 4


class Memory:
    """What the last few reads made of each file: two states of a record share nearly all of it."""

    def __init__(self) -> None:
        self._reads = 0
        self._files: dict[bytes, tuple[int, Map]] = {}
        self._items: dict[tuple[str, str, int], tuple[int, Any, Item]] = {}

    def next_read(self) -> None:
        """Forget what the last few reads did not use."""
        self._reads += 1
        oldest = self._reads - _READS_KEPT
        self._files = {key: kept for key, kept in self._files.items() if kept[0] > oldest}
        self._items = {key: kept for key, kept in self._items.items() if kept[0] > oldest}

    def file(self, content: bytes) -> Map | None:
        """The data of a file without problems that has been read before."""
        kept = self._files.get(content)
        if kept is None:
            return None
        self._files[content] = (self._reads, kept[1])
        return kept[1]

    def keep(self, content: bytes, parsed: Map) -> None:
        """Remember a file without problems."""
        self._files[content] = (self._reads, parsed)

    def build(self, collection: str, key: str, written: Any) -> Item:
        """Build an entry, or return it as it was built before from the very same data."""
        # The data is kept beside the entry, so that its identity is not given to another meanwhile.
        name = (collection, key, id(written))
        kept = self._items.get(name)
        item = kept[2] if kept is not None else build_item(collection, key, written)
        self._items[name] = (self._reads, written, item)
        return item


@cache
def _validator() -> Any:
    import jsonschema_rs  # noqa: PLC0415 - only a command that reads a record pays for it

    return jsonschema_rs.validator_for(record_schema())


def read(files: Mapping[str, bytes], memory: Memory | None = None) -> Record:
    """Read a record from its files (path → content). Every problem of every file is reported in one go.

    Whoever reads many states of a record hands the same memory to each read.
    """
    if memory is not None:
        memory.next_read()
    problems: list[Problem] = []
    data: dict[str, Map] = {}
    refused: set[str] = set()
    for file in sorted(files):
        parsed, found = _read_file(file, files[file], memory)
        problems += found
        if found:
            refused.add(file)
        if parsed is not None:
            data[file] = parsed

    holders: dict[tuple[str, str], tuple[str, Map]] = {}
    for file, content in data.items():
        problems += _collect(file, content, holders)
    problems += _header(files, data)
    problems += shared_ids(holders)
    places = Places(holders)
    if not problems:
        collections: dict[str, dict[str, Any]] = {name: {} for name in COLLECTIONS}
        for (name, key), (_, holder) in holders.items():
            collections[name][key] = holder[key]
        try:
            make = memory.build if memory is not None else build_item
            return Record(build_vessel(data[MAIN_FILE]["vessel"], collections, make), places, ())
        except ValueError as error:  # a value that has the right shape and is not real, such as 2026-02-30
            problems = list(_unreal(holders, places, refused))
            problems = problems or [Problem(Place(MAIN_FILE), str(error), "real values", "correct it")]
    else:
        problems += _unreal(holders, places, refused)
    return Record(None, places, tuple(sorted(set(problems))))


def entries_of(content: bytes) -> dict[tuple[str, str], Any] | None:
    """The entries of one file as plain data, by collection and id; None if it cannot be understood by itself."""
    parsed, problems = _read_file("", content, None)
    if parsed is None or problems:
        return None
    return {(name, key): entry for name in COLLECTIONS for key, entry in parsed.get(name, {}).items()}


def _read_file(file: str, content: bytes, memory: Memory | None) -> tuple[Map | None, list[Problem]]:
    if memory is not None and (kept := memory.file(content)) is not None:
        return kept, []
    try:
        parsed = load(content)
    except YamlError as error:
        place = Place(file, error.line, error.column)
        return None, [Problem(place, error.found, error.expected, error.remedy)]
    if parsed is None:  # an empty file, or one of comments only
        return Map(), []
    if not isinstance(parsed, Map):
        wanted = "a mapping of collections: " + ", ".join(COLLECTIONS)
        return None, [Problem(Place(file, 1, 1), "the file is not a mapping", wanted, "start with `cables:`, say")]
    if _validator().is_valid(parsed):
        if memory is not None:
            memory.keep(content, parsed)
        return parsed, []
    return parsed, explain(file, parsed)


def _header(files: Mapping[str, bytes], data: Mapping[str, Map]) -> Iterator[Problem]:
    """The vessel itself must be described once, in the main file."""
    for file, content in data.items():
        if "vessel" in content and file != MAIN_FILE:
            yield Problem(
                Place(file, *content.keys_at["vessel"]),
                f"`vessel` in {file}",
                f"the vessel itself described once, in {MAIN_FILE}",
                f"move it to {MAIN_FILE}",
            )
    if MAIN_FILE not in files or (MAIN_FILE in data and "vessel" not in data[MAIN_FILE]):
        yield Problem(
            Place(MAIN_FILE),
            f"{MAIN_FILE} has no `vessel`" if MAIN_FILE in files else f"there is no {MAIN_FILE}",
            "the vessel's name and practice there",
            "start it with `vessel: {record: 1, name: ..., practice: north-american}`",
        )


def _collect(file: str, content: Map, holders: dict[tuple[str, str], tuple[str, Map]]) -> list[Problem]:
    problems = []
    for name in COLLECTIONS:
        entries: Any = content.get(name)
        for key in entries if isinstance(entries, Map) else ():
            place = Place(file, *entries.keys_at[key])
            earlier = holders.get((name, key))
            if earlier is not None:
                at = Place(earlier[0], *earlier[1].keys_at[key])
                problems.append(_twice(place, at, f"{name}/{key}"))
            else:
                holders[name, key] = (file, entries)
    return problems


def fits(data: Mapping[str, Any]) -> bool:
    """Whether plain data is what the record's schema asks for."""
    return bool(_validator().is_valid(data))


def shared_ids(holders: Mapping[tuple[str, str], tuple[str, Map]]) -> list[Problem]:
    """An address must name one thing: devices, panels, loads, cables and interlocks share their ids."""
    problems = []
    seen: dict[str, Place] = {}
    for name in SHARED_IDS:
        for (collection, key), (file, holder) in holders.items():
            if collection == name:
                place = Place(file, *holder.keys_at[key])
                if key in seen:
                    problems.append(_twice(place, seen[key], key))
                else:
                    seen[key] = place
    return problems


def _twice(place: Place, earlier: Place, what: str) -> Problem:
    return Problem(
        place,
        f"{what} stands here and already at {earlier}",
        "each id once in the whole record",
        "rename one of the two, or delete the one that is not on board",
    )


def _unreal(
    holders: Mapping[tuple[str, str], tuple[str, Map]], places: Places, refused: Container[str]
) -> Iterator[Problem]:
    for (name, key), (file, holder) in holders.items():
        if file not in refused:
            entry = holder[key]
            for path, reason in unreal(class_of(name, entry), entry):
                spoken = "/".join(map(str, (name, key, *path)))
                yield Problem(places.of(name, key, *path), f"{spoken}: {reason}", "a real value", "correct it")
