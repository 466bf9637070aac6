"""`vesselspec logbook` on real repositories: the example's refit, and small ones with everything that can go wrong."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from .conftest import Call
from .repositories import CHARGER, ROOT, commit, git

SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/logbook.schema.json").read_text(encoding="utf-8")))
HOSTILE = "\x1b[31mred\u202e <script>alert(1)</script> | **bold** \n# heading"


def book(call: Call, *arguments: str | Path) -> Any:
    called = call("logbook", *arguments, "--output", "json")
    assert called.status == 0, called.error
    SCHEMA.validate(called.data)
    return called.data


def ids(data: Any) -> list[str]:
    return [entry["subject"] for entry in data["entries"]]


# --- the example's refit ------------------------------------------------------------------------


def test_the_whole_boat_has_every_commit(call: Call, example: Path) -> None:
    data = book(call, example)
    assert ids(data) == git(example, "log", "--format=%s", "main").splitlines()
    assert [entry["commit"] for entry in data["entries"]] == git(example, "rev-list", "main").split()
    assert data["entries"][-1]["first"]
    assert data["of"] is None
    assert data["findings"] is None


def test_a_cable_is_followed_to_the_drawings_number(call: Call, example: Path) -> None:
    data = book(call, "C114", example)
    assert [(e["date"], [c["id"] for c in e["changes"] if c["collection"] == "cables"]) for e in data["entries"]] == [
        ("2026-03-13", ["C114"]),
        ("2022-04-11", ["C017"]),
    ]
    assert data["entries"][0]["evidence"][0]["now"] == {
        "how": "traced",
        "by": "technician",
        "when": "2026-03-12",
        "on_board": True,
    }
    by_old_number = book(call, "C017", example)
    assert by_old_number["entries"] == data["entries"]
    assert by_old_number["of"] == {"asked": "C017", "collection": "cables", "id": "C114"}


def test_a_panel_tells_what_landed_in_it(call: Call, example: Path) -> None:
    data = book(call, "ac-main", example)
    fitted = next(entry for entry in data["entries"] if entry["subject"] == "Fit a watermaker")
    assert {change["id"] for change in fitted["changes"]} == {"watermaker", "C212", "ac-main/shore-and-generator/12"}
    assert {each["id"] for each in data["unverified"]} == {"ac-main/shore-and-generator/12", "watermaker", "C307"}


def test_since_a_day_a_revision_and_the_last_visit(call: Call, example: Path) -> None:
    whole = ids(book(call, "ac-main", example))
    assert ids(book(call, "ac-main", example, "--since", "2026-03-13")) == whole[:2]
    assert ids(book(call, "ac-main", example, "--since", "2026-03-14")) == whole[:1]
    assert ids(book(call, "ac-main", example, "--since", "HEAD~1")) == []
    last = book(call, "ac-main", example, "--since", "last visit")
    assert ids(last) == whole[:1]
    visit = git(example, "log", "-1", "--format=%h", "--abbrev=10", "main^{/Trace the shore side}")
    assert f"{visit} of 2026-03-13" in last["since"]["begins_after"]
    yard = book(call, "ac-main", example, "--since", "last visit", "--by", "Yard electrician")
    assert ids(yard) == whole[:2]
    called = call("logbook", "ac-main", example, "--since", "last visit", "--by", "cook")
    assert called.status == 2
    assert "There is no last visit of the role 'cook'" in called.error
    assert call("logbook", example, "--since", "2026-02-30").status == 2
    assert call("logbook", example, "--since", "no-such-branch").status == 2
    assert call("logbook", example, "--by", "cook").status == 2


def test_an_entry_tells_what_it_did_to_the_loads(call: Call, example: Path) -> None:
    data = book(call, "ac-main", example)
    fitted = next(entry for entry in data["entries"] if entry["subject"] == "Fit a watermaker")
    assert [(load["condition"], load["item"], load["pole"]) for load in fitted["loads"]] == [
        ("at-anchor", "generator-1", "L1"),
        ("at-anchor", "generator-1", "L2"),
    ]
    (before, after) = fitted["compared_with"], fitted["commit"]
    review = call("review", "--direct", before, after, example, "--output", "json").data
    told = {(e["condition"], e["source"], e["pole"]): e for e in review["effects"]["sources"]}
    for load in fitted["loads"]:
        same = told.pop((load["condition"], load["item"], load["pole"]))
        assert (load["before_a"], load["after_a"]) == pytest.approx((same["before_a"], same["after_a"]), abs=0.001)
        assert load["rating_a"] == same["rating_a"] == 50
    assert not told
    assert data["entries"][-1]["loads"] is None
    for form in ("text", "markdown"):
        page = " ".join(call("logbook", "ac-main", example, "--output", form).out.split()).replace("\\", "")
        assert "oad, by the whole revision: generator-1 L1 +8.3 A in at-anchor (28.9 → 37.3 of 50 A)" in page
    assert "~ load: generator-1 L1 +8.3 A in at-anchor" in call("logbook", example).out


def test_a_new_condition_moves_no_load_and_feeders_are_told_on_request(call: Call, example: Path) -> None:
    data = book(call, example)
    assert {load["kind"] for entry in data["entries"] for load in entry["loads"] or ()} == {"source"}
    night = next(e for e in data["entries"] if any(c["id"] == "at-anchor-night" for c in e["changes"]))
    assert "at-anchor-night" not in {load["condition"] for load in night["loads"]}
    watermaker = git(example, "log", "-1", "--format=%H", "main^{/Fit a watermaker}")
    of = book(call, "watermaker", example, "--feeders", "--at", watermaker)
    assert [(each["kind"], each["item"], each["pole"]) for each in of["entries"][0]["loads"]] == [
        ("source", "generator-1", "L1"),
        ("section", "ac-main/shore-and-generator", "L1"),
        ("source", "generator-1", "L2"),
        ("section", "ac-main/shore-and-generator", "L2"),
    ]


def test_since_when_findings_are_there(call: Call, example: Path) -> None:
    """What the hurried proposal brings is as old as its commit; what it inherits is not."""
    data = book(call, "house-charger", example, "--at", CHARGER, "--findings")
    newest = git(example, "log", "--format=%s", CHARGER, f"^{CHARGER}~2").splitlines()
    grave = [each for each in data["findings"] if each["finding"]["signal_word"] == "DANGER"]
    assert grave
    assert {each["since"]["subject"] for each in grave} <= set(newest)
    brought = {f["fingerprint"] for entry in data["entries"] for f in entry["findings"]["new"]}
    assert {each["finding"]["fingerprint"] for each in grave} <= brought


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_every_page_has_revision_date_and_cautions(form: str, call: Call, example: Path) -> None:
    out = re.sub(r"[\\>]", "", " ".join(call("logbook", "C204", example, "--output", form).out.split()))
    head = git(example, "log", "-1", "--format=%h of %cs", "--abbrev=10", "main")
    for said in (f"as at {head}", "prove dead before touching", "Local codes", "2024-11-20"):
        assert said in out, said


# --- small repositories -------------------------------------------------------------------------

HEAD = "vessel: {record: 1, name: Small, practice: north-american}\n"
SYSTEM = "systems: {ac: {kind: ac-single-phase, voltage: 120 V, frequency: 60 Hz}}\n"


def files(cables: str = "C1: {from: lamp, to: untraced}", **more: str | None) -> dict[str, str | None]:
    return {
        "vessel.yaml": HEAD + SYSTEM + "loads: {lamp: {system: ac}}\n",
        "cables.yaml": f"cables: {{{cables}}}\n",
        **more,
    }


@pytest.fixture
def small(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    folder.mkdir()
    git(folder, "init", "-q", "-b", "main")
    commit(folder, files(), "Begin")
    return folder


def test_moves_between_files_and_comments_are_no_change(call: Call, small: Path) -> None:
    commit(small, files(cables="", **{"other.yaml": "cables: {C1: {from: lamp, to: untraced}}\n"}), "Move")
    commit(small, {"other.yaml": "# why\ncables: {C1: {from: lamp, to: untraced}}\n"}, "Comment")
    commit(small, {"other.yaml": "cables: {C1: {from: lamp, to: untraced, length: 3 m}}\n"}, "Measure")
    assert ids(book(call, "C1", small)) == ["Measure", "Begin"]
    whole = book(call, small)
    assert ids(whole) == ["Measure", "Comment", "Move", "Begin"]
    assert [entry["changes"] for entry in whole["entries"][1:3]] == [[], []]


def test_what_is_not_committed_is_told_first(call: Call, small: Path) -> None:
    (small / "cables.yaml").write_text("cables: {C1: {from: lamp, to: untraced, length: 3 m}}\n", encoding="utf-8")
    data = book(call, "C1", small)
    assert [entry["commit"] is None for entry in data["entries"]] == [True, False]
    assert "CHANGED since" in data["state"]
    assert [(each["id"], each["changed"]["commit"]) for each in data["unverified"]] == [("C1", None)]
    assert "not committed" in call("logbook", "C1", small).out
    assert ids(book(call, "C1", small, "--at", "HEAD")) == ["Begin"]
    (small / "cables.yaml").write_text("cables: 3\n", encoding="utf-8")
    called = call("logbook", small, "--output", "json")
    assert called.status == 2
    SCHEMA.validate(called.data)
    assert not called.data["understood"]


def test_a_revision_that_cannot_be_understood_is_told_and_skipped(call: Call, small: Path) -> None:
    commit(small, files("C1: {from: lamp, to: untraced, length: 3 m}", **{"bad.yaml": "cables: 3\n"}), "Spoil")
    commit(small, {"bad.yaml": None}, "Mend")
    data = book(call, "C1", small)
    assert [(entry["subject"], entry["understood"]) for entry in data["entries"]] == [
        ("Mend", True),
        ("Spoil", False),
        ("Begin", True),
    ]
    assert data["entries"][0]["includes_not_understood"] == [data["entries"][1]["commit"]]
    (change,) = data["entries"][0]["changes"]
    assert change["what"] == "cable C1 (from lamp): length recorded: 3 m"
    assert "cannot be understood" in call("logbook", "C1", small).out


def test_what_is_gone_and_what_never_was(call: Call, small: Path) -> None:
    commit(small, files(cables=""), "Take out")
    assert ids(book(call, "C1", small)) == ["Take out", "Begin"]
    assert "not on board now" in call("logbook", "C1", small).out
    called = call("logbook", "lamb", small)
    assert called.status == 2
    assert "Did you mean lamp?" in called.error


def test_hostile_names_and_subjects_stay_text(call: Call, small: Path) -> None:
    (small / "cables.yaml").write_text("cables: {C1: {from: lamp, to: untraced, length: 3 m}}\n", encoding="utf-8")
    commit(small, {}, HOSTILE)
    raw = re.sub(r"author .*? <", "author \x1b]0;owned\x07\u202e <", git(small, "cat-file", "commit", "HEAD"), count=1)
    made = git_feed(small, raw)
    git(small, "update-ref", "HEAD", made)
    for form in ("text", "markdown", "json"):
        out = call("logbook", small, "--output", form).out
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", out)
        if form == "markdown":
            assert "<script>" not in out
            assert not re.search(r"^# heading", out, re.M)
    assert "\x1b]0;owned" in book(call, small)["entries"][0]["author"]


def git_feed(folder: Path, raw: str) -> str:
    path = folder.parent / "commit.raw"
    path.write_text(raw + "\n", encoding="utf-8")
    return git(folder, "hash-object", "-t", "commit", "-w", "--literally", str(path))


def test_a_shallow_clone_says_so(call: Call, small: Path, tmp_path: Path) -> None:
    commit(small, files("C1: {from: lamp, to: untraced, length: 3 m}"), "Measure")
    commit(small, files("C1: {from: lamp, to: untraced, length: 4 m}"), "Measure again")
    git(tmp_path, "clone", "-q", "--depth", "2", small.as_uri(), "clone")
    data = book(call, "C1", tmp_path / "clone", "--findings")
    assert [(e["subject"], e["first"], len(e["changes"])) for e in data["entries"]] == [
        ("Measure again", False, 1),
        ("Measure", True, 0),
    ]
    assert data["shallow"]
    assert all(each["first"] for each in data["findings"] if each["since"]["subject"] == "Measure")
    out = call("logbook", "C1", tmp_path / "clone", "--findings").out
    assert "Type: git fetch --unshallow" in out
    assert "This shallow clone begins here" in out


def test_a_bare_repository_and_a_folder_of_none(call: Call, small: Path, tmp_path: Path) -> None:
    git(tmp_path, "clone", "-q", "--bare", str(small), "bare.git")
    assert ids(book(call, "C1", tmp_path / "bare.git")) == ["Begin"]
    plain = tmp_path / "plain"
    plain.mkdir()
    (plain / "vessel.yaml").write_text(HEAD, encoding="utf-8")
    called = call("logbook", plain)
    assert called.status == 2
    assert "is not inside a git repository" in called.error
    assert "git init" in called.error


def test_a_merge_is_told_where_it_was_done(call: Call, small: Path) -> None:
    git(small, "checkout", "-q", "-b", "side")
    commit(small, files("C1: {from: lamp, to: untraced, length: 3 m}"), "On the side")
    git(small, "checkout", "-q", "main")
    commit(small, {"vessel.yaml": HEAD + SYSTEM + "loads: {lamp: {system: ac, power: 60 W}}\n"}, "On main")
    git(small, "merge", "-q", "--no-ff", "-m", "Merge", "side")
    data = book(call, "C1", small)
    assert ids(data) == ["Merge", "On the side", "Begin"]
    assert (data["entries"][0]["changes"], data["entries"][0]["told_at_side_branches"]) == ([], 1)
    assert data["entries"][0]["merge"]
    git(small, "checkout", "-q", "-b", "dropped", "HEAD~1")
    commit(small, files("C1: {from: lamp, to: untraced, length: 9 m}"), "Dropped")
    git(small, "checkout", "-q", "main")
    git(small, "merge", "-q", "-s", "ours", "-m", "Not so", "dropped")
    assert "Dropped" not in ids(book(call, small))
