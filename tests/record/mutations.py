"""The fixture vessels as data, and ways to spoil them."""

from __future__ import annotations

import copy
import json
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from vesselspec.record.yaml import load

RECORDS = Path(__file__).parents[1] / "data/records"
TEXTS = {folder.name: (folder / "vessel.yaml").read_bytes() for folder in sorted(RECORDS.iterdir())}

#: Values that writers and attackers put where something else belongs.
ODD: st.SearchStrategy[Any] = st.sampled_from(
    [
        None, True, False, 0, 1, 1.0, -1, 1e300, 10**17, "", " ", "x", "a b", "12", "30 A", "30 A\n", "30", "1,5 A",
        "120/240 V", "120/150 V", "12 AWG", "0 mm2", "L1", "PE", "DC+", "main:L1", "a/b/c:DC-", "a/b/c/d", "../x", "/x",
        "2026-02-30", "2026-02-28\n", "none", "untraced", "é", "\u202e", "\x00", "x" * 5000, [], ["L1"], ["L1", "L1"],
        [1, True], [None], [[]], {}, {"x": 1}, {"how": "traced"}, {"1": {}}, {"from": "L1"}, {"to": {}},
        {"factor": 2}, {"L1-N": "5 W"}, {"L1-N": 5},
    ]
)  # fmt: skip
KEYS = st.sampled_from(
    [
        "kind", "poles", "rating", "system", "cores", "from", "to", "power", "factor", "evidence", "when", "sections",
        "ways", "ratng", "positions", "outputs", "<<", "", "a b", "1", "id\n", "é", "x" * 65, "record", "vessel",
        "loads",
    ]
)  # fmt: skip


@cache
def _plain(name: str) -> str:
    return json.dumps(load(TEXTS[name]))


def plain(name: str) -> dict[str, Any]:
    """A fixture as plain dicts and lists, fresh each time."""
    found: dict[str, Any] = json.loads(_plain(name))
    return found


def spots(data: Any) -> list[tuple[Any, Any]]:
    """Every (holder, key or index) inside some data, outermost first."""
    found: list[tuple[Any, Any]] = []
    waiting = [data]
    for node in waiting:
        keys: list[Any] = []
        if isinstance(node, dict):
            keys = list(node)
        elif isinstance(node, list):
            keys = list(range(len(node)))
        found += [(node, key) for key in keys]
        waiting += [node[key] for key in keys]
    return found


@st.composite
def spoilt(draw: st.DrawFn) -> dict[str, Any]:
    """A fixture with one to three mutations: a value replaced, a key renamed, added or dropped, parts exchanged."""
    data = plain(draw(st.sampled_from(sorted(TEXTS))))
    for _ in range(draw(st.integers(1, 3))):
        places = spots(data)
        if not places:
            break
        holder, key = places[draw(st.integers(0, len(places) - 1))]
        match draw(st.sampled_from(["replace", "rename", "add", "drop", "exchange"])):
            case "replace":
                holder[key] = copy.deepcopy(draw(ODD))
            case "rename" if isinstance(holder, dict):
                holder[draw(KEYS)] = holder.pop(key)
            case "add" if isinstance(holder, dict):
                holder[draw(KEYS)] = copy.deepcopy(draw(ODD))
            case "drop":
                del holder[key]
            case _:
                other, there = places[draw(st.integers(0, len(places) - 1))]
                holder[key] = copy.deepcopy(other[there])
    return data


def as_yaml(data: Any) -> bytes:
    """Data as YAML text that reads back as the same data: JSON is YAML 1.2."""
    return json.dumps(data).encode()


def _words(data: Any, key: str = "") -> list[tuple[Any, Any, str]]:
    """Every text in some data: its holder, its key or index there, and the field that it stands in."""
    found: list[tuple[Any, Any, str]] = []
    pairs = data.items() if isinstance(data, dict) else enumerate(data)
    for inner, value in pairs:
        field = inner if isinstance(inner, str) else key
        if isinstance(value, str):
            found.append((data, inner, key if key in ("cores", "positions") else field))
        elif isinstance(value, dict | list):
            found += _words(value, field)
    return found


@cache
def _pool() -> dict[str, list[str]]:
    """What the fixtures say in each field; every one of these words is well-formed in that field."""
    pool: dict[str, set[str]] = {
        "poles": {"L1", "L2", "L3", "N", "PE", "DC+", "DC-"},
        "cores": {"L1", "L2", "N", "PE", "DC+", "DC-", "spare", "untraced"},
        "system": {"nowhere"},
        "running": {"nowhere"},
        "positions": {"open", "closed", "nowhere"},
    }
    for name in TEXTS:
        for holder, key, field in _words(plain(name)):
            if field != "kind":
                pool.setdefault(field, set()).add(holder[key])
    for field in ("from", "to", "between", "mounted_on"):
        pool[field] |= pool["from"] | {"nowhere", "x/y"} if field != "mounted_on" else set()
    return {field: sorted(words) for field, words in pool.items()}


@st.composite
def muddled(draw: st.DrawFn) -> dict[str, Any]:
    """A fixture in which words stand that belong elsewhere: every field is well-formed, the whole is nonsense."""
    data = plain(draw(st.sampled_from(sorted(TEXTS))))
    texts = [word for word in _words(data) if word[2] in _pool()]
    for _ in range(draw(st.integers(1, 8))):
        holder, key, field = texts[draw(st.integers(0, len(texts) - 1))]
        holder[key] = draw(st.sampled_from(_pool()[field]))
    return data
