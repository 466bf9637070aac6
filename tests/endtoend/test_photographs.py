"""Photographs on real repositories: whether they are there is asked of the state that is judged, and of no other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from .conftest import Call
from .repositories import commit, git

BOAT = """\
vessel: {record: 1, name: Small, practice: north-american}
systems: {dc: {kind: dc, voltage: 12 V, photos: [photos/behind.jpg]}}
devices: {bank: {kind: battery-bank, system: dc}}
"""
PANEL = "panels: {box: {system: dc, photos: [photos/lid.png], sections: {a: {}}}}\n"


def missing(found: Any) -> set[str]:
    """What is told as not there."""
    return {each["message"].split(" ")[2] for each in found if each["rule"] == "photograph-missing"}


def survey(call: Call, *arguments: str | Path) -> set[str]:
    called = call("survey", *arguments, "--output", "json")
    assert called.status in (0, 1), called.error
    return missing(called.data["findings"])


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    """Without its picture, then with it, and without again on disk."""
    boat = tmp_path / "boat"
    boat.mkdir()
    git(boat, "init", "-q", "-b", "main")
    commit(boat, {"vessel.yaml": BOAT}, "first")
    commit(boat, {"photos/behind.jpg": "picture"}, "picture")
    return boat


def test_each_state_is_asked_for_its_own_pictures(call: Call, boat: Path) -> None:
    assert survey(call, boat) == set()
    assert survey(call, boat, "--at", "HEAD") == set()
    assert survey(call, boat, "--at", "HEAD~1") == {"photos/behind.jpg"}
    (boat / "photos/behind.jpg").unlink()
    assert survey(call, boat) == {"photos/behind.jpg"}
    assert survey(call, boat, "--at", "HEAD") == set()


def test_one_that_is_not_committed_is_new_in_a_review(call: Call, boat: Path) -> None:
    commit(boat, {"panels.yaml": PANEL}, "panel")
    done = call("review", "HEAD~1", "HEAD", boat, "--output", "json")
    assert missing(done.data["findings"]["new"]) == {"photos/lid.png"}
    commit(boat, {"photos/lid.png": "picture"}, "its picture")
    done = call("review", "HEAD~1", "HEAD", boat, "--output", "json")
    assert missing(done.data["findings"]["cleared"]) == {"photos/lid.png"}
    judged = call("survey", boat, "--commits", "HEAD~2..HEAD", "--output", "json").data
    assert [bool(missing(each["brings"])) for each in judged["commits"]] == [True, False]


def test_a_merge_has_the_pictures_of_both(call: Call, boat: Path) -> None:
    git(boat, "checkout", "-q", "-b", "one")
    commit(boat, {"panels.yaml": PANEL}, "panel")
    git(boat, "checkout", "-q", "-b", "two", "main")
    commit(boat, {"photos/lid.png": "picture"}, "its picture")
    done = call("review", "main", "one", "--merged-with", "two", boat, "--output", "json").data
    assert done["findings"] == {"combined": [], "ours": [], "theirs": []}


def test_a_link_is_no_picture_and_nothing_behind_it_is_looked_at(call: Call, boat: Path, tmp_path: Path) -> None:
    (tmp_path / "outside.png").write_bytes(b"picture")
    commit(boat, {"panels.yaml": PANEL}, "panel")
    (boat / "photos/lid.png").symlink_to(tmp_path / "outside.png")
    called = call("survey", boat)
    assert called.status == 2
    assert "is a symbolic link and is not followed" in called.out


def test_the_logbook_tells_since_when_a_picture_is_gone(call: Call, boat: Path) -> None:
    lost = commit(boat, {"photos/behind.jpg": None}, "lost, and nothing of the record with it")
    told = call("logbook", boat, "--findings", "--output", "json").data
    since = {each["finding"]["rule"]: each["since"]["commit"] for each in told["findings"]}
    assert since["photograph-missing"] == lost
