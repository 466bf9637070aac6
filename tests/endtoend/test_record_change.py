"""`vesselspec record-change`: a dated page in the boat's repository, never over anything, never part of the record."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

import vesselspec.cli.new_folder as writing
from vesselspec.revisions import RevisionError

from .conftest import Call
from .repositories import ROOT, clone, commit, git, state_of
from .test_together import CABLES, SMALL, cable

SCHEMA = jsonschema_rs.validator_for(
    json.loads((ROOT / "schema/record-change.schema.json").read_text(encoding="utf-8"))
)
DAY = ("--on", "2027-03-04")
FILES = {"README.md", "before.svg", "after.svg"}


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    """A small boat with two commits; the second adds a circuit."""
    folder = tmp_path / "boat"
    folder.mkdir()
    git(folder, "init", "-q", "-b", "main")
    commit(folder, {"vessel.yaml": SMALL, "cables.yaml": CABLES}, "First record")
    commit(folder, {"pump.yaml": cable("C2", "pump")}, "Put the pump on way 2\n\nIt hung on the lights.")
    return folder


def _pages(boat: Path) -> dict[str, set[str]]:
    return {path.name: {each.name for each in path.iterdir()} for path in sorted((boat / "changes").iterdir())}


def _fan(boat: Path, text: str | None = None) -> None:
    (boat / "fan.yaml").write_text(text or cable("C3", "fan", "1"), encoding="utf-8")


def test_after_the_commit_it_has_its_subject_day_and_reason(call: Call, boat: Path) -> None:
    before = state_of(boat)
    done = call("record-change", "HEAD~1", "HEAD", boat, "--output", "json")
    assert done.status == 0
    SCHEMA.validate(done.data)
    assert _pages(boat) == {"2027-01-15-put-the-pump-on-way-2": FILES}
    assert (done.data["title"], done.data["written"]) == ("Put the pump on way 2", True)
    assert [boat / name for name in done.data["files"]] == [boat / done.data["folder"] / n for n in
                                                            ("README.md", "before.svg", "after.svg")]  # fmt: skip
    page = (boat / done.data["files"][0]).read_text(encoding="utf-8")
    assert page.startswith("# Put the pump on way 2\n")
    assert "It hung on the lights." in page
    assert "(after.svg)" in page
    assert {path: kept for path, kept in state_of(boat).items() if path in before} == before


def test_before_the_commit_it_needs_a_title(call: Call, boat: Path) -> None:
    _fan(boat)
    done = call("record-change", boat, *DAY)
    assert (done.status, done.out) == (2, "")
    assert "--title" in done.error
    assert not (boat / "changes").exists()
    assert call("record-change", boat, *DAY, "--title", "A fan").status in (0, 1)
    assert _pages(boat) == {"2027-03-04-a-fan": FILES}
    assert "work tree as on disk on 2027-03-04" in (boat / "changes/2027-03-04-a-fan/README.md").read_text()


def test_nothing_is_overwritten_and_the_same_page_is_not_written_twice(call: Call, boat: Path) -> None:
    first = call("record-change", "HEAD~1", "HEAD", boat)
    kept = state_of(boat / "changes")
    again = call("record-change", "HEAD~1", "HEAD", boat, "--output", "json")
    assert (again.status, again.data["written"]) == (first.status, False)
    assert state_of(boat / "changes") == kept
    title = ("--title", "Put the pump on way 2")
    git(boat, "commit", "-q", "--amend", "-m", "Another reason")
    third = call("record-change", "HEAD~1", "HEAD", boat, *title, "--output", "json")
    assert third.data["folder"] == "changes/2027-01-15-put-the-pump-on-way-2-2"
    assert {path: each for path, each in state_of(boat / "changes").items() if path in kept} == kept


@pytest.mark.parametrize("form", ["text", "json", "markdown"])
def test_a_dry_run_writes_nothing(call: Call, boat: Path, form: str) -> None:
    before = state_of(boat)
    done = call("record-change", "HEAD~1", "HEAD", boat, "--dry-run", "--output", form)
    assert done.status == 0
    assert "put-the-pump-on-way-2" in done.out or done.out.startswith("# Put the pump on way 2")
    if form == "json":
        SCHEMA.validate(done.data)
        assert not done.data["written"]
    assert state_of(boat) == before


def test_pages_are_no_part_of_the_record_and_change_no_finding(call: Call, boat: Path) -> None:
    before = call("survey", boat, "--output", "json").out
    assert call("record-change", "HEAD~1", "HEAD", boat, "--html").status == 0
    assert _pages(boat) == {"2027-01-15-put-the-pump-on-way-2": {*FILES, "summary.html"}}
    assert call("survey", boat, "--output", "json").out == before
    commit(boat, {}, "Write it down")
    found = call("review", "HEAD~1", "HEAD", boat, "--output", "json").data
    assert (found["changes"], found["findings"]["new"]) == ([], [])
    done = call("record-change", "HEAD~1", "HEAD", boat)
    assert (done.status, len(_pages(boat))) == (0, 1)
    assert "nothing was written" in done.out


def test_a_change_with_findings_is_written_and_told(call: Call, boat: Path) -> None:
    _fan(boat, cable("C3", "fan").replace("DC+, yellow: DC-", "DC-, yellow: DC+"))
    done = call("record-change", boat, *DAY, "--title", "Fan", "--fail-on", "NOTICE", "--output", "json")
    assert done.status == 1
    assert done.data["written"]
    assert sum(done.data["counts"]["new"].values()) > 0


def test_what_cannot_be_understood_is_not_written_down(call: Call, boat: Path) -> None:
    _fan(boat, "cables: [\n")
    assert call("record-change", boat, *DAY, "--title", "Fan").status == 2
    assert not (boat / "changes").exists()


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("../../etc/passwd", "etc-passwd"),
        ("<script>alert(1)</script>", "script-alert-1-script"),
        ("Wärmepumpe: größer", "warmepumpe-groer"),
        ("¡!", "change"),
        ("x" * 500, "x" * 48),
        ("one " * 100, "-".join(["one"] * 12)),
        ("CON\nNUL\x1b[31m", "con-nul-31m"),
    ],
)
def test_a_title_names_no_other_place(title: str, name: str) -> None:
    from vesselspec.cli.record_change import _slug

    assert _slug(title) == name
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)
    assert len(name) <= 48


def test_a_hostile_subject_stays_text(call: Call, boat: Path) -> None:
    _fan(boat)
    commit(boat, {}, "<img src=x onerror=alert(1)> ../../x")
    assert call("record-change", "HEAD~1", "HEAD", boat, "--html").status in (0, 1)
    (folder,) = (boat / "changes").iterdir()
    assert folder.name == "2027-01-15-img-src-x-onerror-alert-1-x"
    for name in ("README.md", "summary.html"):
        assert "<img" not in (folder / name).read_text(encoding="utf-8")


# --- the folder itself ---------------------------------------------------------------------------

PAGE = {"README.md": b"page", "after.svg": b"picture"}


def test_a_link_or_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / "link").symlink_to(elsewhere)
    (tmp_path / "nowhere").symlink_to(tmp_path / "gone")
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for name in ("link", "nowhere", "file"):
        for act in (writing.write_new_folder,):
            with pytest.raises(RevisionError):
                act(tmp_path / name, "x", PAGE)
        with pytest.raises(RevisionError):
            writing.unused(tmp_path / name, "x")
    assert list(elsewhere.iterdir()) == []
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"


def test_whatever_has_the_name_is_passed_by(tmp_path: Path) -> None:
    (tmp_path / "x").symlink_to(tmp_path)
    (tmp_path / "x-2").write_text("mine", encoding="utf-8")
    (tmp_path / "x-3").mkdir()
    (tmp_path / "x-4").symlink_to(tmp_path / "gone")
    before = state_of(tmp_path)
    assert writing.unused(tmp_path, "x") == "x-5"
    assert writing.same_there(tmp_path, "x", "README.md", b"page") is None
    assert writing.write_new_folder(tmp_path, "x", PAGE) == "x-5"
    assert {path: each for path, each in state_of(tmp_path).items() if "x-5" not in path} == before
    assert {path.name: path.read_bytes() for path in (tmp_path / "x-5").iterdir()} == PAGE
    assert writing.same_there(tmp_path, "x", "README.md", b"page") == "x-5"


def test_somebody_who_is_quicker_keeps_what_is_theirs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mkdir = Path.mkdir

    def taken(self: Path, *arguments: Any, **options: Any) -> None:
        mkdir(self, *arguments, **options)
        if self.name == "x":
            (self / "theirs").write_text("theirs", encoding="utf-8")

    monkeypatch.setattr(Path, "mkdir", taken)
    assert writing.write_new_folder(tmp_path, "x", PAGE) == "x-2"
    assert [path.name for path in (tmp_path / "x").iterdir()] == ["theirs"]
    assert {path.name for path in tmp_path.iterdir()} == {"x", "x-2"}


def test_a_failure_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RevisionError, match="Nothing was written"):
        writing.write_new_folder(tmp_path / "changes", "x", PAGE)
    assert list((tmp_path / "changes").iterdir()) == []


def test_a_bare_repository_cannot_take_a_page(call: Call, boat: Path, tmp_path: Path) -> None:
    bare = clone(boat, tmp_path / "bare", "--bare", branches=False)
    done = call("record-change", "HEAD~1", "HEAD", bare)
    assert done.status == 2
    assert "bare" in done.error


def test_too_many_words_and_unknown_revisions(call: Call, boat: Path) -> None:
    assert call("record-change", "a", "b", "c", boat).status == 2
    assert call("record-change", "nowhere", boat).status == 2
    assert call("record-change", "--", "--upload-pack=x", boat).status == 2
