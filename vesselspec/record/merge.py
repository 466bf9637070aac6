"""Two records that parted at a third, put together entry by entry and field by field, wherever the lines stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from vesselspec.model.vessel import COLLECTIONS, build_vessel
from vesselspec.record.places import Places
from vesselspec.record.read import MAIN_FILE, Record, fits, read, shared_ids
from vesselspec.record.yaml import Map

#: Not written there.
_ABSENT = object()
#: Lists whose order says nothing: what each side added or took out holds.
_SETS = frozenset(("running", "fitted", "photos", "formerly"))

_Files = Mapping[str, bytes]
_Key = tuple[str, str]


class _ConflictError(Exception):
    """Both sides wrote something else in the same place."""


def merge(base: _Files, ours: _Files, theirs: _Files) -> Record | None:
    """The record that both sides together make of the one at which they parted; None where they contradict.

    Each of the three must be one that can be understood. Whether the result is just the changes of both is for the
    caller to prove. Entries have the places of the side that changed them.
    """
    sides = [read(files) for files in (base, ours, theirs)]
    if any(side.vessel is None for side in sides):
        return None
    start, one, two = (side.places.holders for side in sides)
    try:
        about = _merged("vessel", *(_about(files) for files in (base, ours, theirs)))
        entries: dict[_Key, Any] = {}
        for key in dict.fromkeys((*one, *two, *start)):
            entry = _merged("", *(_entry(held, key) for held in (start, one, two)))
            if entry is not _ABSENT:
                entries[key] = entry
    except _ConflictError:
        return None
    collections: dict[str, dict[str, Any]] = {name: {} for name in COLLECTIONS}
    for (name, entry_id), entry in entries.items():
        collections[name][entry_id] = entry
    held = {name: each for name, each in collections.items() if each}
    holders = {key: _holder(key, start, one, two) for key in entries}
    if not fits({"vessel": about, **held}) or shared_ids(holders):
        return None
    try:
        return Record(build_vessel(about, collections), Places(holders), ())
    except ValueError:  # a value that has the right shape and is not real
        return None


def _about(files: _Files) -> Any:
    from vesselspec.record.yaml import load  # noqa: PLC0415 - only a merge asks for it apart

    content = load(files[MAIN_FILE])
    return content["vessel"] if isinstance(content, Map) else _ABSENT


_Holders = Mapping[_Key, tuple[str, Map]]


def _entry(holders: _Holders, key: _Key) -> Any:
    return holders[key][1][key[1]] if key in holders else _ABSENT


def _holder(key: _Key, start: _Holders, one: _Holders, two: _Holders) -> tuple[str, Map]:
    """Where an entry stands: on the second side if only that one wrote it anew."""
    if key not in one or (key in two and _entry(one, key) == _entry(start, key)):
        return two[key]
    return one[key]


def _merged(name: str, base: Any, ours: Any, theirs: Any) -> Any:
    if _same(ours, theirs) or _same(theirs, base):
        return ours
    if _same(ours, base):
        return theirs
    if isinstance(ours, dict) and isinstance(theirs, dict) and (isinstance(base, dict) or base is _ABSENT):
        start = base if isinstance(base, dict) else {}
        found = {}
        for key in dict.fromkeys((*ours, *theirs, *start)):
            value = _merged(key, *(each.get(key, _ABSENT) for each in (start, ours, theirs)))
            if value is not _ABSENT:
                found[key] = value
        return found
    lists = [each if each is not _ABSENT else [] for each in (base, ours, theirs)]
    if name in _SETS and all(isinstance(each, list) for each in lists):
        start, one, two = lists
        kept = [each for each in one if each in two or each not in start]
        return kept + [each for each in two if each not in start and each not in one]
    raise _ConflictError


def _same(one: Any, two: Any) -> bool:
    """Equal, and written alike: 1 is not true, and not 1.0 either."""
    if one is _ABSENT or two is _ABSENT:
        return one is two
    if isinstance(one, dict) and isinstance(two, dict):
        return one.keys() == two.keys() and all(_same(one[key], two[key]) for key in one)
    if isinstance(one, list) and isinstance(two, list):
        return len(one) == len(two) and all(map(_same, one, two))
    return type(one) is type(two) and bool(one == two)
