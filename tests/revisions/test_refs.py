"""Revisions as they are typed, good and bad."""

from __future__ import annotations

from pathlib import Path

import pytest

from vesselspec.revisions import Repository, RevisionError

from .helpers import commit_all, git, new_repository, small_vessel, text, write


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    small_vessel(tmp_path)
    git(tmp_path, "branch", "refit-2")
    git(tmp_path, "update-ref", "refs/remotes/origin/winter", "HEAD")
    git(tmp_path, "tag", "-a", "-m", "x", "v1.0")
    return Repository.open(tmp_path)


@pytest.mark.parametrize(
    ("ref", "reason"),
    [
        ("-h", "begins with a dash"),
        ("--output=x", "begins with a dash"),
        ("", "empty"),
        (" ", "empty"),
        ("HEAD:boat", "colon"),
        (":/first", "colon"),
        ("HEAD\nmain", "cannot be printed"),
        ("HEAD\0", "cannot be printed"),
        ("main\x1b[2J", "cannot be printed"),
        ("main..v1.0", "is a range"),
        ("HEAD^{tree}", "is not known"),
        ("^main", "is not known"),
        ("main@{upstream}", "is not known"),
        ("main~99", "is not known"),
        ("@{-5}", "is not known"),
        ("*", "is not known"),
        ("main main", "is not known"),
        ("0" * 40, "is not known"),
    ],
)
def test_refused(repository: Repository, ref: str, reason: str) -> None:
    for ask in (repository.resolve, repository.snapshot):
        with pytest.raises(RevisionError, match=reason) as refused:
            ask(ref)
        assert refused.value.reason.isprintable()
        assert refused.value.remedy


@pytest.mark.parametrize(
    ("ref", "meant"), [("refit-3", "'refit-2'"), ("winter", "'origin/winter'"), ("v1.1", "'v1.0'")]
)
def test_close_matches(repository: Repository, ref: str, meant: str) -> None:
    with pytest.raises(RevisionError, match=f"'{ref}' is not known") as unknown:
        repository.resolve(ref)
    assert f"Did you mean {meant}" in unknown.value.remedy


def test_nothing_close(repository: Repository) -> None:
    with pytest.raises(RevisionError) as unknown:
        repository.resolve("zzzzzzzz")
    assert "git branch --all" in unknown.value.remedy


def test_an_abbreviation_of_several_ids(tmp_path: Path) -> None:
    small_vessel(tmp_path)
    stream = b"".join(
        b"commit refs/heads/many\ncommitter C <c@yard.example> %d +0000\ndata 0\n\n" % time for time in range(400)
    )
    git(tmp_path, "fast-import", "--quiet", feed=stream)
    # The commits are the same in every run, so two of them always begin alike.
    starts = [commit[:4] for commit in text(tmp_path, "rev-list", "many").split()]
    twice = next(start for start in starts if starts.count(start) > 1)
    with pytest.raises(RevisionError, match="beginning of several ids"):
        Repository.open(tmp_path).resolve(twice)


def test_an_empty_repository(tmp_path: Path) -> None:
    new_repository(tmp_path)
    write(tmp_path, {"vessel.yaml": "n\n"})
    repository = Repository.open(tmp_path)
    with pytest.raises(RevisionError, match="has no commits yet"):
        repository.snapshot("HEAD")
    assert dict(repository.work_tree().files) == {"vessel.yaml": b"n\n"}
    git(tmp_path, "init", "-q", "--bare", "bare.git")
    with pytest.raises(RevisionError, match="has no commits yet"):
        Repository.open(tmp_path / "bare.git")


def test_no_common_ancestor(repository: Repository, tmp_path: Path) -> None:
    git(tmp_path, "checkout", "-q", "--orphan", "apart")
    commit_all(tmp_path, "apart")
    with pytest.raises(RevisionError, match="have no common ancestor"):
        repository.merge_base("main", "apart")


def test_replacements_and_grafts_do_not_count(repository: Repository, tmp_path: Path) -> None:
    head, first = text(tmp_path, "rev-parse", "HEAD"), text(tmp_path, "rev-parse", "HEAD^")
    git(tmp_path, "replace", head, first)
    write(tmp_path, {".git/info/grafts": f"{head}\n"})
    assert repository.resolve("main").subject == "second"
    assert len(repository.commits(None, "main")) == 2


@pytest.mark.parametrize(
    ("header", "year"),
    [
        (b"C <c@yard.example> 1600000000 +0530", 2020),
        (b"C <c@yard.example> 99999999999999999 +0000", 1970),
        (b"C <c@yard.example> 1600000000 +9959", 1970),
        (b"C <c@yard.example> soon", 1970),
        (b"C", 1970),
        (b"", 1970),
    ],
)
def test_forged_commits(repository: Repository, tmp_path: Path, header: bytes, year: int) -> None:
    tree = text(tmp_path, "rev-parse", "HEAD^{tree}").encode()
    raw = b"tree %s\nauthor <a@yard.example> x\ncommitter %s\nencoding \xff zlib\n\n\xffsubject" % (
        tree,
        header,
    )
    made = git(tmp_path, "hash-object", "-t", "commit", "-w", "--literally", "--stdin", feed=raw)
    commit = repository.resolve(made.decode().strip())
    assert commit.when.year == year
    assert commit.when.tzinfo is not None
    assert commit.subject == "\ufffdsubject"


def test_another_encoding(repository: Repository, tmp_path: Path) -> None:
    git(
        tmp_path,
        "-c",
        "i18n.commitEncoding=iso-8859-1",
        "commit",
        "-q",
        "--allow-empty",
        "-F",
        "-",
        feed=b"gr\xfcn",
    )
    assert repository.resolve("HEAD").subject == "grün"
