"""`vesselspec survey --commits`: every commit of a range on clones of the example vessel's repository."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema_rs
import pytest

from .conftest import Call
from .repositories import CHARGER, HOB, ROOT, clone, commit, git

SMALL = """\
vessel: {record: 1, name: Small, practice: north-american}
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  bank: {kind: battery-bank, system: dc}
  bus: {kind: busbar, system: dc}
"""
#: A cable to something that is not there is a finding.
DANGLING = "cables:\n  D1: {from: bank, to: nowhere, size: 6 AWG}\n"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    folder.mkdir()
    git(folder, "init", "-q", "-b", "main")
    commit(folder, {"vessel.yaml": SMALL}, "first")
    git(folder, "tag", "start")
    return folder


def valid(data: object) -> bool:
    schema = json.loads((ROOT / "schema/range.schema.json").read_text(encoding="utf-8"))
    return bool(jsonschema_rs.validator_for(schema).is_valid(data))


def test_each_commit_says_what_it_brings(call: Call, example: Path) -> None:
    done = call("survey", "--commits", f"main..{CHARGER}", example, "--output", "json")
    assert done.status == 1
    assert valid(done.data)
    brought = [{each["rule"] for each in step["brings"]} for step in done.data["commits"]]
    assert len(brought) == 2
    assert "ac-on-dc-terminal" in brought[0]
    assert {"unsynchronised-sources-joined", "inlet-pins-live"} <= brought[1]
    assert not done.data["sound_at_end"]
    assert call("survey", "--commits", f"main..{HOB}", example).status == 0
    # The same findings as the review of the whole, for nothing is cleared on the way.
    whole = call("review", "main", CHARGER, example, "--output", "json").data["findings"]["new"]
    steps = [each["fingerprint"] for step in done.data["commits"] for each in step["brings"]]
    assert sorted(steps) == sorted(each["fingerprint"] for each in whole)


def test_sound_at_its_end_and_not_on_the_way_fails(call: Call, small: Path) -> None:
    commit(small, {"cables.yaml": DANGLING}, "land it nowhere")
    commit(small, {"readme.txt": "x"}, "words")
    last = commit(small, {"cables.yaml": DANGLING.replace("nowhere", "bus")}, "land it")
    done = call("survey", "--commits", "start..main", small, "--output", "json", "--fail-on", "CAUTION")
    assert valid(done.data)
    assert [step["state"] for step in done.data["commits"]] == ["judged", "judged", "judged"]
    brought = {each["rule"]: each["cleared_by"] for each in done.data["commits"][0]["brings"]}
    assert brought["dangling-reference"] == last
    assert "dangling-reference" in {each["rule"] for each in done.data["commits"][2]["clears"]}
    assert done.data["commits"][1]["brings"] == done.data["commits"][1]["clears"] == []
    assert not done.data["sound_on_the_way"]
    assert done.status == 1


def test_the_words_for_it(call: Call, small: Path) -> None:
    commit(small, {"cables.yaml": "cables: [\n"}, "half written")
    commit(small, {"cables.yaml": None}, "take it back")
    done = call("survey", "--commits", "start..main", small)
    assert done.status == 1
    assert "Sound at its end, not on the way: of 2 commits 1 cannot be understood." in done.out
    assert "cables.yaml:" in done.out
    assert call("survey", "--commits", "start..main~1", small).status == 2
    assert call("survey", "--commits", "start..start", small).status == 0


def test_what_a_broken_commit_hides_is_told_at_the_next_one(call: Call, small: Path) -> None:
    commit(small, {"vessel.yaml": SMALL + "x", "cables.yaml": DANGLING}, "broken")
    commit(small, {"vessel.yaml": SMALL}, "mended")
    steps = call("survey", "--commits", "start..main", small, "--output", "json").data["commits"]
    assert [step["state"] for step in steps] == ["not understood", "judged"]
    assert steps[0]["problems"]
    assert "dangling-reference" in {each["rule"] for each in steps[1]["brings"]}


def test_a_finding_is_followed_through_a_rename(call: Call, small: Path) -> None:
    commit(small, {"cables.yaml": DANGLING}, "land it nowhere")
    renamed = DANGLING.replace("D1", "D9").replace("size", "formerly: [D1], size")
    commit(small, {"cables.yaml": renamed}, "rename")
    last = commit(small, {"cables.yaml": renamed.replace("nowhere", "bus")}, "land it")
    steps = call("survey", "--commits", "start..main", small, "--output", "json").data["commits"]
    rules = [[{each["rule"] for each in step[key]} for key in ("brings", "clears")] for step in steps]
    assert "dangling-reference" in rules[0][0]
    assert "dangling-reference" not in rules[1][0] | rules[1][1]
    assert "dangling-reference" in rules[2][1]
    assert {each["rule"]: each["cleared_by"] for each in steps[0]["brings"]}["dangling-reference"] == last


def test_a_merge_is_not_blamed_for_what_its_parents_brought(call: Call, small: Path) -> None:
    git(small, "checkout", "-q", "-b", "side")
    commit(small, {"cables.yaml": DANGLING}, "on the side")
    git(small, "checkout", "-q", "main")
    commit(small, {"words.yaml": "# nothing\n"}, "on main")
    git(small, "merge", "-q", "-m", "both", "side")
    steps = call("survey", "--commits", "start..main", small, "--output", "json").data["commits"]
    brought = {step["subject"]: {each["rule"] for each in step["brings"]} for step in steps}
    assert "dangling-reference" in brought["on the side"]
    assert brought["both"] == set()
    assert steps[-1]["clears"] == []


def test_a_record_that_is_gone_or_not_yet_there(call: Call, small: Path) -> None:
    commit(small, {"vessel.yaml": None}, "gone")
    commit(small, {"vessel.yaml": SMALL}, "back")
    done = call("survey", "--commits", "start..main", small, "--output", "json")
    assert [step["state"] for step in done.data["commits"]] == ["no record", "judged"]
    assert done.status == 1
    other = small / "boat tree"
    commit(small, {"boat tree/vessel.yaml": SMALL}, "second boat")
    done = call("survey", "--commits", "start..main", other, "--output", "json")
    assert [step["state"] for step in done.data["commits"]] == ["untouched", "untouched", "judged"]


@pytest.mark.parametrize(
    "commits", ["main", "..", "..main", "main...HEAD", "-x..main", "main..-x", "a:b..main", "main..nowhere", ""]
)
def test_what_is_no_range_is_refused(call: Call, example: Path, commits: str) -> None:
    done = call("survey", f"--commits={commits}", example)
    assert (done.status, done.out) == (2, "")
    assert done.error.startswith("vesselspec: ")


def test_a_range_in_a_shallow_clone_names_the_remedy(call: Call, small: Path, tmp_path: Path) -> None:
    commit(small, {"a.yaml": "# a\n"})
    commit(small, {"b.yaml": "# b\n"})
    clone(small, tmp_path / "shallow", "--depth=2", "--no-local", branches=False)
    assert call("survey", "--commits", "main~1..main", tmp_path / "shallow").status == 0
    done = call("survey", "--commits", "main~2..main", tmp_path / "shallow")
    assert done.status == 2
    assert "fetch" in done.error


def test_pages_are_written_and_one_state_or_a_range_is_asked(call: Call, example: Path, tmp_path: Path) -> None:
    call("survey", "--commits", f"main..{HOB}", example, "--out", tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["range.json", "range.md"]
    assert call("survey", "--commits", "a..b", "--at", "main", example).status == 2
