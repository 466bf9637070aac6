"""How the cases of the rules are read: a record of a few lines laid over a sound boat."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from vesselspec.record import read
from vesselspec.rules import Boat, Finding, Survey, survey
from vesselspec.rules.past import Altered, Past, holders

HERE = Path(__file__).parent
CASES = HERE / "cases"
BASES = HERE / "bases"
#: The name under which a case's own text is read, so that lines count within it.
CASE = "case.yaml"
#: What lies beside the record of a case that does not say otherwise.
BESIDE = ("photos/panel.jpg",)

Raw = dict[str, Any]


def load(path: Path) -> Raw:
    """A YAML file."""
    loaded: Raw = YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    return loaded


def boat_of(text: str, base: str = "boat", beside: Iterable[str] | None = BESIDE) -> Boat:
    """A boat from a case's text over a base; the base `none` is an empty boat. `beside`: files in its folder."""
    beneath = "".join(_in_use(line, text) for line in (BASES / f"{base}.yaml").read_text("utf-8").splitlines(True))
    record = read({"vessel.yaml": beneath.encode(), CASE: text.encode()})
    assert record.vessel is not None, [str(problem) for problem in record.problems]
    return Boat(record.vessel, record.places, None if beside is None else frozenset(beside))


def _in_use(line: str, text: str) -> str:
    """A line of a base; a spare way whose address stands behind it is not spare where a cable of the case lands."""
    _, _, address = line.rstrip().partition("  # ")
    if address and re.search(rf'(from|to): "?{address}\b', text):
        return line.replace("spare: true", f'label: "{address}"')
    return line


def surveyed(text: str, base: str = "boat", beside: Iterable[str] | None = BESIDE) -> Survey:
    """What the rules say of a text over a base."""
    return survey(boat_of(text, base, beside))


def judged(case: Raw) -> Survey:
    """What the rules say of a case."""
    boat = boat_of(case["record"], case.get("base", "boat"), case.get("beside", BESIDE))
    return survey(replace(boat, past=_past(boat, case["past"]) if "past" in case else None))


def _past(boat: Boat, raw: Raw) -> Past:
    """What a case says of earlier revisions; the evidence is that of the record."""
    items = {(collection, path): item for collection, path, item in boat.vessel.items()}
    altered = []
    for each in raw.get("altered", []):
        key = each["collection"], each["path"]
        evidence = next(found for at in holders(*key) if (found := items[at].evidence) is not None)
        altered.append(Altered(*key, tuple(each["fields"]), each.get("revision", ""), each.get("day"), evidence))
    return Past(tuple(altered), raw.get("missing", ""), raw.get("begins"))


def told(finding: Finding) -> Raw:
    """A finding as the case files write it; what is empty is left out."""
    every: Raw = {
        "signal_word": finding.signal_word,
        "place": str(finding.place),
        "items": list(finding.items),
        "message": finding.message,
        "positions": dict(finding.positions),
        "witness": list(finding.witness),
        "consequences": list(finding.consequences),
        "source": finding.source,
    }
    return {key: value for key, value in every.items() if value}
