"""`vesselspec handover` as its users call it: folders, older states, photographs, what is new, bad input."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema_rs
import pytest

from tests.endtoend.repositories import commit, git
from vesselspec.cli.main import run

from .boats import picture
from .html_pages import EXAMPLE, ROOT

SCHEMA = jsonschema_rs.validator_for(json.loads((ROOT / "schema/handover.schema.json").read_text(encoding="utf-8")))
BOAT = """vessel: {record: 1, name: Plain, practice: north-american}
systems: {dc: {kind: dc, voltage: 12 V}}
devices: {bank: {kind: battery-bank, system: dc, photos: [photos/bank.jpg]}}
panels: {main: {system: dc, sections: {a: {ways: {"1": {poles: [DC+], rating: 10 A, label: Lamp}}}}}}
loads: {lamp: {system: dc, power: 10 W}}
cables: {C1: {from: main/a/1, to: lamp, size: 12 AWG, length: 2 m, cores: {red: DC+, yellow: DC-}, label: C1}}
"""


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    """A small boat in a repository, with a photograph."""
    folder = tmp_path / "boat"
    (folder / "photos").mkdir(parents=True)
    (folder / "photos/bank.jpg").write_bytes(picture())
    git(folder, "init", "-q", "-b", "main")
    commit(folder, {"vessel.yaml": BOAT}, "Write it down")
    return folder


def names(out: Path) -> set[str]:
    return {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}


def made(boat: Path, out: Path, *more: str) -> None:
    assert run(["handover", str(boat), "--out", str(out), *more]) == 0


def test_json_is_as_published(boat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made(boat, tmp_path / "out", "--output", "json")
    data = json.loads(capsys.readouterr().out)
    SCHEMA.validate(data)
    assert set(data["files"]) == names(tmp_path / "out") - {"handover.json"}
    (boat / "vessel.yaml").write_text("vessel: {record: 1}\n", encoding="utf-8")
    assert run(["handover", str(boat), "--out", str(tmp_path / "none"), "--output", "json"]) == 2
    data = json.loads(capsys.readouterr().out)
    SCHEMA.validate(data)
    assert data["problems"]
    assert not (tmp_path / "none").exists()


def test_an_earlier_book_is_brought_up_to_date_and_what_is_foreign_stays(boat: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    made(boat, out)
    before = names(out)
    assert "panel/main.html" in before
    (out / "mine.txt").write_text("mine", encoding="utf-8")
    (boat / "vessel.yaml").write_text(BOAT.replace("main", "other"), encoding="utf-8")
    made(boat, out)
    assert names(out) == {name.replace("main", "other") for name in before} | {"mine.txt"}


def test_a_folder_that_is_no_book_is_refused(boat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "letter.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for where in (out, tmp_path / "file", boat):
        assert run(["handover", str(boat), "--out", str(where)]) == 2
        assert "Name another folder" in capsys.readouterr().err
    (out / "handover.json").write_text("[" * 100_000, encoding="utf-8")
    assert run(["handover", str(boat), "--out", str(out)]) == 2
    assert names(out) == {"letter.txt", "handover.json"}


def test_a_forged_manifest_deletes_and_writes_nothing_elsewhere(boat: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    made(boat, out)
    (tmp_path / "precious.txt").write_text("mine", encoding="utf-8")
    listed = ["../precious.txt", "/etc/x", "a/../../precious.txt", 3, *sorted(names(out))]
    forged = {"format": 1, "kind": "handover", "files": listed}
    (out / "handover.json").write_text(json.dumps(forged), encoding="utf-8")
    made(boat, out)
    assert (tmp_path / "precious.txt").exists()
    shutil.rmtree(out / "panel")
    (tmp_path / "elsewhere").mkdir()
    (out / "panel").symlink_to(tmp_path / "elsewhere")
    assert run(["handover", str(boat), "--out", str(out)]) == 2
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_photographs_come_from_the_state_that_is_told(boat: Path, tmp_path: Path) -> None:
    (boat / "photos/bank.jpg").write_bytes(picture((80, 20)))
    made(boat, tmp_path / "now")
    made(boat, tmp_path / "then", "--at", "HEAD")
    sizes = []
    for out in ("now", "then"):
        page = (tmp_path / out / "equipment.html").read_text(encoding="utf-8")
        assert "photos/bank.jpg" in page
        sizes.append('width="80" height="20"' in page)
        assert len([name for name in names(tmp_path / out) if name.startswith("photo/")]) == 1
    assert sizes == [True, False]


@pytest.mark.parametrize("kind", ["gone", "link", "linked folder", "text", "folder"])
def test_a_photograph_that_cannot_be_shown_is_told(
    kind: str, boat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = boat / "photos/bank.jpg"
    photo.unlink()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere/bank.jpg").write_bytes(picture())
    if kind == "link":
        photo.symlink_to(tmp_path / "elsewhere/bank.jpg")
    elif kind == "linked folder":
        photo.parent.rmdir()
        photo.parent.symlink_to(tmp_path / "elsewhere")
    elif kind == "text":
        photo.write_text("not a picture", encoding="utf-8")
    elif kind == "folder":
        photo.mkdir()
    status = run(["handover", str(boat), "--out", str(tmp_path / "out")])
    said = capsys.readouterr()
    if kind in ("link", "linked folder"):
        assert status == 2  # the record itself is refused where a link lies in its folder
        return
    assert status == 0
    assert "not shown: photograph photos/bank.jpg" in said.out
    assert "is not shown" in (tmp_path / "out/equipment.html").read_text(encoding="utf-8")
    assert not (tmp_path / "out/photo").exists()


def test_what_is_new_since_a_copy_is_marked(boat: Path, tmp_path: Path) -> None:
    first = git(boat, "rev-parse", "HEAD")
    more = BOAT.replace("label: Lamp}", 'label: Lamp}, "2": {poles: [DC+], rating: 100 A, label: Fan}')
    more = more.replace("lamp: {system", "fan: {system: dc, power: 5 W}, lamp: {system")
    more = more.replace(
        "cables: {",
        "cables: {C2: {from: main/a/2, to: fan, size: 16 AWG, cores: {red: DC+, yellow: DC-}, label: none}, ",
    )
    commit(boat, {"vessel.yaml": more}, "Fit a fan")
    out = tmp_path / "out"
    made(boat, out, "--since", first)
    new = (out / "new.html").read_text(encoding="utf-8")
    assert "cable C2 (to fan) added" in new
    assert "cable-end-unlabelled" in new
    panel = (out / "panel/main.html").read_text(encoding="utf-8")
    assert panel.count('class="mark">NEW<') >= 2
    assert "Fit a fan" in panel
    assert "Fit a fan" in (out / "history.html").read_text(encoding="utf-8")
    made(boat, out)
    assert not (out / "new.html").exists()


def test_bad_calls_are_told(boat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = str(tmp_path / "out")
    for more in (["--since", "nowhere"], ["--at", "nowhere"], ["--on", "yesterday"], ["--since", "-x"]):
        assert run(["handover", str(boat), "--out", out, *more]) == 2
        assert capsys.readouterr().err
    assert run(["handover", str(boat)]) == 2
    assert not (tmp_path / "out").exists()


def test_a_boat_in_no_repository_has_a_book(tmp_path: Path) -> None:
    folder = tmp_path / "boat"
    shutil.copytree(EXAMPLE, folder, ignore=shutil.ignore_patterns("drawings", "refit"))
    made(folder, tmp_path / "out")
    assert "in no git repository" in (tmp_path / "out/history.html").read_text(encoding="utf-8")
