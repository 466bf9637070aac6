"""The example after each of many single mistakes: which rule caught which, and no dangerous one gets past.

`mistakes.golden` is the table; `VESSELSPEC_GOLDEN=1` writes it anew, to be read before it is committed.
"""

from __future__ import annotations

import copy
import json
import os
from functools import cache
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from tests.example.mistakes import MISTAKES, Raw
from vesselspec.record import read
from vesselspec.rules import SIGNAL_WORDS, Boat, Finding, survey

ROOT = Path(__file__).parents[2]
GOLDEN = Path(__file__).with_name("mistakes.golden")


@cache
def example() -> Raw:
    merged: Raw = {}
    for path in sorted((ROOT / "example_vessel").glob("*.yaml")):
        for key, value in YAML(typ="safe").load(path.read_text(encoding="utf-8")).items():
            merged.setdefault(key, {}).update(value)
    return merged


def findings(raw: Raw) -> dict[str, Finding]:
    record = read({"vessel.yaml": json.dumps(raw, default=str).encode()})
    assert record.vessel is not None, [str(problem) for problem in record.problems]
    return {finding.fingerprint: finding for finding in survey(Boat(record.vessel, record.places)).findings}


@cache
def sound() -> dict[str, Finding]:
    return findings(example())


@cache
def caught(id: str) -> tuple[str, ...]:
    """What the mistake brings, gravest first, as `WORD rule`."""
    raw = copy.deepcopy(example())
    MISTAKES[id].make(raw)
    new = [finding for key, finding in findings(raw).items() if key not in sound()]
    said = dict.fromkeys((SIGNAL_WORDS.index(f.signal_word), f.rule) for f in new)
    return tuple(f"{SIGNAL_WORDS[word]} {rule}" for word, rule in sorted(said))


def line(id: str) -> str:
    made = MISTAKES[id]
    return f"{'!' if made.dangerous else ' '} {id}: {made.says}\n" + "".join(f"      {said}\n" for said in caught(id))


def test_there_are_at_least_forty() -> None:
    assert len(MISTAKES) >= 40


@pytest.mark.parametrize("id", MISTAKES)
def test_it_is_caught(id: str) -> None:
    assert caught(id), "nothing new was found"
    if MISTAKES[id].dangerous:
        assert caught(id)[0].startswith(("DANGER", "WARNING")), caught(id)


@pytest.mark.parametrize("id", MISTAKES)
def test_the_table_says_which_rule_caught_it(id: str) -> None:
    if os.environ.get("VESSELSPEC_GOLDEN"):
        GOLDEN.write_text("\n".join(line(each) for each in MISTAKES), encoding="utf-8")
    assert line(id) in GOLDEN.read_text(encoding="utf-8")
