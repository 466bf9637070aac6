"""Vessels on disk, found and read without git."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from vesselspec.revisions import WORK_TREE, RevisionError, find_vessel, read_folder
from vesselspec.revisions.disk import blob_id

from .helpers import git, new_repository, write


def test_read_folder(tmp_path: Path) -> None:
    write(
        tmp_path,
        {"vessel.yaml": "n\n", "b/ü 1.yaml": "b\n", "a.yaml": "a\n", "photo.jpg": "p", "notes.yml": "y"},
    )
    write(
        tmp_path,
        {".dot.yaml": "d\n", ".hidden/x.yaml": "h\n", "b/tender/vessel.yaml": "t\n", "b/tender/x.yaml": ""},
    )
    snapshot = read_folder(tmp_path)
    assert list(snapshot.files.items()) == [
        ("a.yaml", b"a\n"),
        ("b/ü 1.yaml", b"b\n"),
        ("vessel.yaml", b"n\n"),
    ]
    assert (snapshot.name, snapshot.commit, snapshot.problems) == (WORK_TREE, None, ())
    assert list(snapshot.blobs) == list(snapshot.files)
    with pytest.raises(RevisionError, match="is not a folder"):
        read_folder(tmp_path / "a.yaml")


@pytest.mark.parametrize("hash_name", ["sha1", "sha256"])
def test_blob_ids_are_those_of_git(tmp_path: Path, hash_name: str) -> None:
    new_repository(tmp_path, f"--object-format={hash_name}")
    for content in (b"", b"a\n", bytes(range(256))):
        assert blob_id(content, hash_name) == git(tmp_path, "hash-object", "--stdin", feed=content).decode().strip()


def test_found_upwards(tmp_path: Path) -> None:
    write(tmp_path, {"vessel.yaml": "n\n", "dc/deep/x.yaml": "x\n"})
    for start in (".", "dc", "dc/deep", "dc/deep/x.yaml", "vessel.yaml"):
        assert find_vessel(tmp_path / start) == tmp_path.resolve()


def test_found_below(tmp_path: Path) -> None:
    write(
        tmp_path,
        {"boats/one/vessel.yaml": "n\n", ".hidden/vessel.yaml": "h\n", "a/b/c/vessel.yaml": "deep\n"},
    )
    assert find_vessel(tmp_path) == tmp_path.resolve() / "boats/one"
    write(tmp_path, {"two/vessel.yaml": "2\n"})
    with pytest.raises(RevisionError, match=r"several vessels below .*: 'boats/one', 'two'"):
        find_vessel(tmp_path)
    with pytest.raises(RevisionError, match=r"There is no vessel\.yaml in"):
        find_vessel(_empty(tmp_path))


def _empty(folder: Path) -> Path:
    (folder / "empty").mkdir()
    return folder / "empty"


def test_many_are_not_all_listed(tmp_path: Path) -> None:
    write(tmp_path, {f"v{n:02}/vessel.yaml": "n\n" for n in range(14)})
    with pytest.raises(RevisionError, match="'v09' and 4 more"):
        find_vessel(tmp_path)


def test_what_lies_above_the_repository_is_not_meant(tmp_path: Path) -> None:
    write(tmp_path, {"vessel.yaml": "stray\n"})
    with pytest.raises(RevisionError, match=r"There is no vessel\.yaml"):
        find_vessel(new_repository(tmp_path / "repository"))


def test_links_are_not_taken_for_vessels(tmp_path: Path) -> None:
    write(tmp_path, {"real/vessel.yaml": "n\n", "start/x.yaml": "x\n"})
    (tmp_path / "start/vessel.yaml").symlink_to("../real/vessel.yaml")
    (tmp_path / "start/folder").symlink_to("../real")
    new_repository(tmp_path / "start")
    with pytest.raises(RevisionError, match=r"There is no vessel\.yaml"):
        find_vessel(tmp_path / "start")
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(RevisionError, match="does not exist"):
        find_vessel(tmp_path / "loop")


def test_no_slow_import(tmp_path: Path) -> None:
    write(tmp_path, {"vessel.yaml": "n\n"})
    program = (
        "import sys; from pathlib import Path; from vesselspec.revisions import read_folder;"
        f"read_folder(Path({str(tmp_path)!r}));"
        "print(*{'git', 'subprocess', 'tempfile', 'difflib', 'gitdb'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split() in ([], ["subprocess"])
