"""`vesselspec review` on the example vessel's repository and on clones of it."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Call
from .repositories import CHARGER, DRYER, ENVIRONMENT, HOB, clone, commit, git, grave, state_of

SMALL = """\
vessel: {record: 1, name: Small, practice: north-american}
systems:
  dc: {kind: dc, voltage: 12 V}
devices:
  bank: {kind: battery-bank, system: dc}
"""


# --- the proposals -------------------------------------------------------------------------------


@pytest.mark.parametrize("branch", [HOB, DRYER])
def test_a_sound_proposal_passes(call: Call, example: Path, branch: str, is_review: Callable[[Any], bool]) -> None:
    done = call("review", "main", branch, example, "--output", "json")
    assert (done.status, done.error) == (0, "")
    assert is_review(done.data)
    assert grave(done.data["findings"]["new"], "DANGER", "WARNING", "CAUTION") == set()
    assert done.data["changes"]
    assert all(each["margin_a"] >= 0 for each in done.data["effects"]["sources"])
    assert done.data["effects"]["potentials"] == []
    subjects = git(example, "log", "--reverse", "--format=%s", f"main..{branch}").split("\n")
    assert [each["subject"] for each in done.data["commits"]] == subjects


def test_the_dangerous_proposal_fails_with_its_culprits(
    call: Call, example: Path, is_review: Callable[[Any], bool]
) -> None:
    done = call("review", "main", CHARGER, example, "--output", "json")
    assert (done.status, done.error) == (1, "")
    assert is_review(done.data)
    found = {(each["rule"], each["items"][0]): each for each in done.data["findings"]["new"]}
    assert grave(done.data["findings"]["new"], "DANGER") >= {
        ("ac-on-dc-terminal", "C412"),
        ("unsynchronised-sources-joined", "C310"),
        ("inlet-pins-live", "shore-1"),
    }
    assert found["ac-on-dc-terminal", "C412"]["place"]["file"] == "cables-ac.yaml"
    assert any("C310" in step for step in found["inlet-pins-live", "shore-1"]["witness"])
    assert found["inlet-pins-live", "shore-1"]["positions"]["inverter-charger"] == "inverting"
    words = [each["signal_word"] for each in done.data["findings"]["new"]]
    assert words == sorted(words, key=["DANGER", "WARNING", "CAUTION", "NOTICE"].index)
    gained = {each["place"]: each["gained"] for each in done.data["effects"]["potentials"]}
    assert gained["shore-1"] == ["L2 of inverter-charger"]
    assert gained["ac-main/shore-and-generator"] == ["L2 of inverter-charger"]
    text = call("review", "main", CHARGER, example)
    assert text.status == 1
    assert text.out.count("[DANGER]") == words.count("DANGER")
    assert "prove dead" in text.out
    assert call("review", "main", CHARGER, example, "--fail-on", "DANGER").status == 1


def test_two_sound_proposals_overload_the_shore_inlet_together(call: Call, own: Path) -> None:
    git(own, "merge", "-q", "-m", "Take both", f"origin/{HOB}", f"origin/{DRYER}")
    for base in (f"{HOB}~1", "origin/main"):
        done = call("review", base, "main", own, "--output", "json")
        assert done.status == 1
        over = [each for each in done.data["findings"]["new"] if each["rule"] == "source-overloaded"]
        assert over
        assert [each["items"] for each in over] == [["shore-1", "alongside-winter", "shore-1:L1", "shore-1:L2"]]
        beyond = [each for each in done.data["effects"]["sources"] if each["margin_a"] < 0]
        assert {(each["source"], each["condition"]) for each in beyond} == {("shore-1", "alongside-winter")}
        assert len(done.data["commits"]) >= 2
    assert "OVER by" in call("review", "origin/main", "main", own).out


# --- which states are compared -------------------------------------------------------------------


def test_without_head_the_files_on_disk_are_judged(call: Call, own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    loads = own / "loads.yaml"
    loads.write_text(loads.read_text(encoding="utf-8").replace("power: 1700 W", "power: 1900 W"), encoding="utf-8")
    (own / "more.yaml").write_text("spaces: {loft: {name: Loft}}\n", encoding="utf-8")
    before = state_of(own)
    dot = call("review", "main", ".", own, "--output", "json")
    monkeypatch.chdir(own)
    plain = call("review", "main", "--output", "json")
    assert plain == dot
    assert dot.status == 0
    assert {(each["kind"], each["id"]) for each in dot.data["changes"]} == {
        ("added", "loft"),
        ("changed", "watermaker"),
    }
    assert dot.data["head"]["state"] == "work tree"
    assert state_of(own) == before


def test_files_that_git_does_not_want_are_no_part_of_the_work_tree(call: Call, own: Path) -> None:
    (own / ".git/info").mkdir(exist_ok=True)
    (own / ".git/info/exclude").write_text("draft.yaml\n", encoding="utf-8")
    (own / "draft.yaml").write_text("spaces: {loft: {}}\n", encoding="utf-8")
    assert call("review", "main", ".", own, "--output", "json").data["changes"] == []


def test_what_others_did_to_the_base_is_not_held_against_the_change(call: Call, own: Path) -> None:
    fork = git(own, "rev-parse", "main")
    commit(own, {"more.yaml": "spaces: {loft: {name: Loft}}\n"}, "Record the loft")
    done = call("review", "main", HOB, own, "--output", "json")
    assert "loft" not in {each["id"] for each in done.data["changes"]}
    assert done.data["base"]["state"] == f"where it branched off main ({fork[:10]})"
    direct = call("review", "main", HOB, own, "--output", "json", "--direct")
    assert ("removed", "loft") in {(each["kind"], each["id"]) for each in direct.data["changes"]}
    assert direct.data["base"]["state"] == f"main ({git(own, 'rev-parse', 'main')[:10]})"


def test_states_are_named_as_they_were_asked_for(call: Call, example: Path) -> None:
    tip = git(example, "rev-parse", "main")
    for asked, named in ((tip, tip[:10]), (tip[:8], tip[:10]), ("main", f"main ({tip[:10]})")):
        assert call("review", asked, "main", example, "--output", "json").data["base"]["state"] == named


def test_the_same_review_is_the_same_bytes_wherever_it_runs(call: Call, example: Path, own: Path) -> None:
    for output in ("json", "text", "markdown"):
        ones = [call("review", "main", CHARGER, folder, "--output", output) for folder in (example, example, own)]
        assert len({each.out for each in ones}) == 1


def test_a_bare_clone_is_judged_like_any_other(call: Call, example: Path, tmp_path: Path) -> None:
    bare = clone(example, tmp_path / "bare.git", "--bare", branches=False)
    done = call("review", "main", CHARGER, bare, "--output", "json")
    assert done == call("review", "main", CHARGER, example, "--output", "json")
    refused = call("review", "main", ".", bare)
    assert (refused.status, refused.out) == (2, "")
    assert "no work tree" in refused.error


def test_a_shallow_clone_says_what_to_type_and_typing_it_helps(call: Call, example: Path, tmp_path: Path) -> None:
    shallow = tmp_path / "shallow"
    git(tmp_path, "clone", "-q", "--depth=1", f"file://{example}", str(shallow))
    done = call("review", "main", CHARGER, shallow)
    assert (done.status, done.out) == (2, "")
    line = done.error.strip().split("Type: ")[1]
    assert line.startswith("git fetch --unshallow")
    subprocess.run(shlex.split(line), cwd=shallow, env=ENVIRONMENT, check=True, capture_output=True)
    assert call("review", "main", f"origin/{CHARGER}", shallow).status == 1


def test_a_shallow_clone_of_all_branches_lacks_the_common_ancestor(call: Call, example: Path, tmp_path: Path) -> None:
    shallow = tmp_path / "shallow"
    git(tmp_path, "clone", "-q", "--depth=1", "--no-single-branch", f"file://{example}", str(shallow))
    done = call("review", f"origin/{HOB}", f"origin/{CHARGER}", shallow)
    assert (done.status, done.out) == (2, "")
    line = done.error.strip().split("Type: ")[1]
    assert line == "git fetch --unshallow"
    subprocess.run(shlex.split(line), cwd=shallow, env=ENVIRONMENT, check=True, capture_output=True)
    assert call("review", f"origin/{HOB}", f"origin/{CHARGER}", shallow).status == 1


# --- calls that cannot be understood ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("mian", HOB), "Did you mean 'main'?"),
        (("main", "proposal/induction-hub"), "induction-hob"),
        (("main", "0" * 40), "not known"),
        (("main", "--", "-x"), "begins with a dash"),
        (("main", "--", "--output=/etc/passwd"), "begins with a dash"),
        (("main", "-x"), "No such option"),
        (("main", "main:vessel.yaml"), "colon"),
        (("main..proposal/induction-hob", "main"), "range"),
        (("", "main"), "empty"),
        (("main\x1b[31m", "main"), "\\x1b"),
        ((), "BASE"),
    ],
)
def test_a_call_that_cannot_be_understood(call: Call, example: Path, tmp_path: Path, arguments: Any, said: str) -> None:
    where = (example,) if len(arguments) > 1 and "-x" not in arguments[1:2] else ()
    out = tmp_path / "out"
    done = call("review", "--out", out, *arguments, *where)
    assert done.status == 2
    assert done.out == ""
    assert said in done.error
    assert "Traceback" not in done.error
    assert "\x1b" not in done.error
    assert not out.exists()


def test_a_place_that_is_none(call: Call, example: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    for place in (empty, tmp_path / "nowhere"):
        done = call("review", "main", HOB, place, "--out", tmp_path / "out")
        assert (done.status, done.out) == (2, "")
        assert str(place) in done.error
    assert not (tmp_path / "out").exists()
    assert example.exists()


def test_a_folder_in_the_place_of_head_gets_the_line_to_type(
    call: Call, own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(own)
    done = call("review", HOB, own)
    assert (done.status, done.out) == (2, "")
    line = shlex.split(done.error.strip().split("type: ")[1])
    assert line[0] == "vesselspec"
    assert call(*line[1:]).status == 0


def test_a_repository_without_commits(call: Call, tmp_path: Path) -> None:
    git(tmp_path, "init", "-q", "-b", "main", "new")
    for files in ({}, {"vessel.yaml": SMALL}):
        for name, text in files.items():
            (tmp_path / "new" / name).write_text(text, encoding="utf-8")
        done = call("review", "main", ".", tmp_path / "new")
        assert (done.status, done.out) == (2, "")
        assert "no commits yet" in done.error or "no vessel.yaml" in done.error


def test_no_git_program(example: Path, tmp_path: Path) -> None:
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("GIT_", "PYTHON"))}
    done = subprocess.run(
        [sys.executable, "-m", "vesselspec", "review", "main", HOB, str(example), "--out", str(tmp_path / "out")],
        env=environment | {"PATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert "Install git" in done.stderr
    assert not (tmp_path / "out").exists()


# --- records that are not there, or cannot be understood ------------------------------------------


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A repository whose first commit has no vessel, and which then gets one, breaks it, mends it and drops it."""
    folder = tmp_path / "small"
    git(tmp_path, "init", "-q", "-b", "main", "small")
    for name, files in (
        ("none", {"readme.txt": "x\n"}),
        ("first", {"vessel.yaml": SMALL}),
        ("broken", {"vessel.yaml": SMALL.replace("12 V", "12 furlongs")}),
        ("mended", {"vessel.yaml": SMALL + "loads: {lamp: {system: dc, power: 12 W}}\n"}),
    ):
        commit(folder, dict(files), name)
        git(folder, "tag", name)
    commit(folder, {"vessel.yaml": None}, "gone")
    git(folder, "tag", "gone")
    git(folder, "checkout", "-q", "mended")
    return folder


def test_a_vessel_that_is_new(call: Call, small: Path, tmp_path: Path, is_review: Callable[[Any], bool]) -> None:
    done = call("review", "none", "first", small, "--output", "json", "--out", tmp_path / "out")
    assert done.status == 0
    assert is_review(done.data)
    assert done.data["base"]["state"].endswith(", no record yet")
    assert {each["kind"] for each in done.data["changes"]} == {"added"}
    assert {each["id"] for each in done.data["changes"]} == {"dc", "bank"}
    assert (tmp_path / "out/summary.md").exists()


def test_a_vessel_that_is_gone(call: Call, small: Path, tmp_path: Path) -> None:
    done = call("review", "mended", "gone", small, "--out", tmp_path / "out")
    assert (done.status, done.out) == (2, "")
    assert "no vessel.yaml at gone" in done.error.replace("'", "")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("base", "head", "understood"),
    [("broken", "mended", (False, True)), ("first", "broken", (True, False)), ("broken", "broken", (False, False))],
)
def test_a_state_that_cannot_be_understood(
    call: Call,
    small: Path,
    tmp_path: Path,
    is_review: Callable[[Any], bool],
    base: str,
    head: str,
    understood: tuple[bool, bool],
) -> None:
    done = call("review", base, head, small, "--output", "json", "--out", tmp_path / "out")
    assert (done.status, done.error) == (2, "")
    data = done.data
    assert is_review(data)
    assert (data["base"]["understood"], data["head"]["understood"]) == understood
    for each in (data["base"], data["head"]):
        assert bool(each["problems"]) is not each["understood"]
        assert all(problem["place"]["line"] == 3 for problem in each["problems"])
    assert (data["changes"], data["findings"]["cleared"], data["findings"]["inherited"]) == ([], [], [])
    assert json.loads((tmp_path / "out/review.json").read_text(encoding="utf-8")) == data
    summary = (tmp_path / "out/summary.md").read_text(encoding="utf-8")
    assert "cannot be understood" in summary
    assert "12 furlongs" in summary
    assert "prove dead" in summary
    text = call("review", base, head, small)
    assert text.status == 2
    assert "cannot be understood" in text.out
    assert "vessel.yaml:3" in text.out


def test_a_head_that_is_not_understood_on_a_base_without_record(call: Call, small: Path) -> None:
    done = call("review", "none", "broken", small, "--output", "json")
    assert done.status == 2
    assert done.data["head"]["understood"] is False


def test_a_link_in_the_record_makes_it_one_that_is_not_understood(call: Call, small: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere.yaml").write_text("spaces: {loft: {}}\n", encoding="utf-8")
    (small / "more.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    done = call("review", "mended", ".", small, "--output", "json")
    assert done.status == 2
    assert done.data["head"]["understood"] is False
    assert "symbolic link" in done.data["head"]["problems"][0]["found"]


# --- a folder that was given another name ---------------------------------------------------------


def test_a_renamed_folder_keeps_its_record(call: Call, tmp_path: Path) -> None:
    top = tmp_path / "fleet"
    top.mkdir()
    git(top, "init", "-q", "-b", "main")
    commit(top, {"one/vessel.yaml": SMALL, "two/vessel.yaml": SMALL.replace("Small", "Other")})
    git(top, "mv", "one", "uno")
    before, nothing = "then in 'one'", "Nothing in the record changed."
    for change in (["HEAD", "--staged"], ["HEAD", "."]):
        said = call("review", *change, top / "uno").out
        assert (before in said, nothing in said) == (True, True)
    commit(top, {"uno/more.yaml": "spaces: {bilge: {name: Bilge}}\n"})
    said = call("review", "HEAD~1", "HEAD", top / "uno").out
    assert (before in said, "space bilge added" in said, "bank added" in said) == (True, True, False)
    # Where two that are gone bear the name, nobody knows which one it was.
    commit(top, {"a/vessel.yaml": SMALL, "b/vessel.yaml": SMALL, "uno/vessel.yaml": None, "uno/more.yaml": None})
    commit(top, {"a/vessel.yaml": None, "b/vessel.yaml": None, "c/vessel.yaml": SMALL})
    assert "no record yet" in call("review", "HEAD~1", "HEAD", top / "c").out


def test_what_was_not_judged_is_not_counted(call: Call, tmp_path: Path) -> None:
    top = tmp_path / "boat"
    top.mkdir()
    git(top, "init", "-q", "-b", "main")
    commit(top, {"vessel.yaml": SMALL})
    commit(top, {"bad.yaml": "spaces: [\n"})
    later = call("review", "HEAD~1", "HEAD", top)
    assert (later.status, "New: 0" in later.out, "bad.yaml" in later.out) == (2, False, True)
    commit(top, {"bad.yaml": None})
    mended = call("review", "HEAD~1", "HEAD", top)
    assert (mended.status, "New: " in mended.out) == (2, False)
    assert "Findings of the later state, new and inherited alike" in mended.out
