"""From the files of a record to a typed vessel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from vesselspec.model.schema import record_schema
from vesselspec.model.vessel import COLLECTIONS, SHARED_IDS, Vessel, build_vessel
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


@cache
def _validator() -> Any:
    import jsonschema_rs  # noqa: PLC0415 - only a command that reads a record pays for it

    return jsonschema_rs.validator_for(record_schema())


def read(files: Mapping[str, bytes]) -> Record:
    """Read a record from its files (path → content). Every problem of every file is reported in one go."""
    problems: list[Problem] = []
    data: dict[str, Map] = {}
    for file in sorted(files):
        parsed, found = _read_file(file, files[file])
        problems += found
        if parsed is not None:
            data[file] = parsed

    about: Mapping[str, Any] | None = None
    holders: dict[tuple[str, str], tuple[str, Map]] = {}
    for file, content in data.items():
        if "vessel" in content and file == MAIN_FILE:
            about = content["vessel"]
        elif "vessel" in content:
            problems.append(
                Problem(
                    Place(file, *content.keys_at["vessel"]),
                    f"`vessel` in {file}",
                    f"the vessel itself described once, in {MAIN_FILE}",
                    f"move it to {MAIN_FILE}",
                )
            )
        problems += _collect(file, content, holders)
    if about is None and not any(problem.place.file == MAIN_FILE for problem in problems):
        found_files = f"{MAIN_FILE} has no `vessel`" if MAIN_FILE in files else f"there is no {MAIN_FILE}"
        problems.append(
            Problem(
                Place(MAIN_FILE),
                found_files,
                "the vessel's name and practice there",
                "start it with `vessel: {record: 1, name: ..., practice: north-american}`",
            )
        )
    problems += _shared_ids(holders)
    places = Places(holders)
    if problems or about is None:
        return Record(None, places, tuple(sorted(set(problems))))

    collections: dict[str, dict[str, Any]] = {name: {} for name in COLLECTIONS}
    for (name, key), (_, holder) in holders.items():
        collections[name][key] = holder[key]
    try:
        vessel = build_vessel(about, collections)
    except ValueError:  # a value that has the right shape and is not real, such as 2026-02-30
        return Record(None, places, tuple(_unreal(holders, places)))
    return Record(vessel, places, ())


def _read_file(file: str, content: bytes) -> tuple[Map | None, list[Problem]]:
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
        return parsed, []
    return None, explain(file, parsed)


def _collect(file: str, content: Map, holders: dict[tuple[str, str], tuple[str, Map]]) -> list[Problem]:
    problems = []
    for name in COLLECTIONS:
        for key in content.get(name, ()):
            place = Place(file, *content[name].keys_at[key])
            earlier = holders.get((name, key))
            if earlier is not None:
                at = Place(earlier[0], *earlier[1].keys_at[key])
                problems.append(_twice(place, at, f"{name}/{key}"))
            else:
                holders[name, key] = (file, content[name])
    return problems


def _shared_ids(holders: Mapping[tuple[str, str], tuple[str, Map]]) -> list[Problem]:
    """An address must name one thing: devices, panels, loads and cables share their ids."""
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


def _unreal(holders: Mapping[tuple[str, str], tuple[str, Map]], places: Places) -> list[Problem]:
    problems = []
    base = {"record": 1, "name": "-", "practice": "north-american"}
    for (name, key), (_, holder) in holders.items():
        try:
            build_vessel(base, {name: {key: holder[key]}})
        except ValueError as error:
            problems.append(Problem(places.of(name, key), f"{name}/{key}: {error}", "a real value", "correct it"))
    return problems
