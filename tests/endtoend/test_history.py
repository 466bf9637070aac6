"""`vesselspec survey --history` on real repositories: what was changed after its evidence, and what cannot be known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from .conftest import Call
from .repositories import ENVIRONMENT, clone, commit, git

RULE = "evidence-older-than-change"
BOAT = """\
vessel: {{record: 1, name: Small, practice: north-american}}
systems: {{dc: {{kind: dc, voltage: 12 V}}}}
devices:
  bank: {{kind: battery-bank, system: dc, capacity: {capacity}, evidence: {{how: labelled, when: {day}}}}}
  bar: {{kind: busbar, system: dc, poles: [{poles}], evidence: {{how: traced, when: 2026-03-14}}}}
"""


def boat(capacity: str = "100 Ah", day: str = "2026-03-14", poles: str = "DC+") -> dict[str, str | None]:
    return {"vessel.yaml": BOAT.format(capacity=capacity, day=day, poles=poles)}


def at(folder: Path, day: str, files: dict[str, str | None], monkeypatch: pytest.MonkeyPatch) -> str:
    """A commit of a day."""
    for name in ("GIT_COMMITTER_DATE", "GIT_AUTHOR_DATE"):
        monkeypatch.setitem(ENVIRONMENT, name, f"{day}T12:00Z")
    return commit(folder, files)


def told(call: Call, *arguments: str | Path) -> Any:
    called = call("survey", *arguments, "--history", "--output", "json")
    assert called.status in (0, 1), called.error
    found = [each for each in called.data["findings"] if each["rule"] == RULE]
    lacks = [each["missing"] for each in called.data["cannot_judge"] if each["rule"] == RULE]
    return {each["items"][0]: (each["signal_word"], each["message"]) for each in found}, lacks


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Recorded, its bank exchanged without a look, looked at again, and its bar rewired."""
    folder = tmp_path / "small"
    folder.mkdir()
    git(folder, "init", "-q", "-b", "main")
    at(folder, "2026-03-20", boat(), monkeypatch)
    at(folder, "2026-04-01", boat("200 Ah"), monkeypatch)
    at(folder, "2026-05-01", boat("200 Ah", "2026-04-30"), monkeypatch)
    at(folder, "2026-06-01", boat("200 Ah", "2026-04-30", "DC+, DC-"), monkeypatch)
    return folder


def test_a_change_after_the_evidence_is_told_until_somebody_has_looked(call: Call, small: Path) -> None:
    short = git(small, "rev-parse", "HEAD~2")[:10]
    bank = f"bank was labelled on 2026-03-14, and {short} of 2026-04-01 changed its capacity after that"
    assert told(call, small, "--at", "HEAD~3") == ({}, [])
    assert told(call, small, "--at", "HEAD~2") == ({"bank": ("NOTICE", bank)}, [])
    assert told(call, small, "--at", "HEAD~1") == ({}, [])
    found, lacks = told(call, small)
    assert (found.keys(), found["bar"][0], lacks) == ({"bar"}, "CAUTION", [])


def test_files_that_are_not_committed_count_as_of_the_day(call: Call, small: Path) -> None:
    text = boat("300 Ah", "2026-04-30", "DC+, DC-")["vessel.yaml"] or ""
    (small / "vessel.yaml").write_text(text, encoding="utf-8")
    found, _ = told(call, small, "--on", "2026-06-02")
    assert "files that are not committed changed its capacity" in found["bank"][1]
    (small / "vessel.yaml").write_text(text.replace("2026-04-30", "2026-06-02"), encoding="utf-8")
    assert told(call, small, "--on", "2026-06-02")[0].keys() == {"bar"}


def test_a_shallow_clone_and_a_folder_without_git_say_what_is_not_known(
    call: Call, small: Path, tmp_path: Path
) -> None:
    bare = tmp_path / "plain"
    bare.mkdir()
    (bare / "vessel.yaml").write_bytes((small / "vessel.yaml").read_bytes())
    found, lacks = told(call, bare)
    assert found == {}
    assert lacks == ["its history (in no git repository)"]
    git(bare, "init", "-q")
    assert told(call, bare) == ({}, ["its history (not in this repository, or not all of it)"])
    git(tmp_path, "clone", "-q", "--depth", "1", f"file://{small}", "shallow")
    found, lacks = told(call, tmp_path / "shallow")
    assert (found, lacks) == ({}, ["its history before 2026-06-01"])


def test_without_the_option_nothing_is_told_and_nothing_is_taken_for_sound(call: Call, small: Path) -> None:
    data = call("survey", small, "--output", "json").data
    assert [each for each in data["findings"] if each["rule"] == RULE] == []
    coverage = next(each for each in data["coverage"] if each["rule"] == RULE)
    assert (coverage["sound"], coverage["failed"], coverage["not_judged"]) == (0, 0, 1)


def test_a_range_has_no_history_of_its_own(call: Call, small: Path) -> None:
    assert call("survey", small, "--history", "--commits", "HEAD~1..HEAD").status == 2


def test_a_concession_is_not_called_needless_because_nobody_looked_back(call: Call, small: Path) -> None:
    (small / "concessions.yaml").write_text(
        "concessions:\n  bar: {rule: evidence-older-than-change, items: [bar], reason: Seen by the owner, "
        "accepted_by: owner, date: 2026-06-02, until: 2026-12-31}\n",
        encoding="utf-8",
    )
    for option in ((), ("--history",)):
        data = call("survey", small, *option, "--on", "2026-06-03", "--output", "json").data
        assert [each for each in data["findings"] if each["rule"].startswith("concession-")] == []
        assert data["accepted"]["CAUTION"] == len(option)


def test_the_example_tells_its_own(call: Call, example: Path, tmp_path: Path) -> None:
    own = clone(example, tmp_path / "own")
    found, lacks = told(call, own)
    assert found["source-selector"][0] == "CAUTION"
    assert lacks == []
