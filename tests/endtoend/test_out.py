"""What `review --out` writes: all of it or nothing, and nowhere else."""

from __future__ import annotations

import errno
import importlib
import os
import re
import tempfile
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any, NoReturn

import pytest

from .conftest import Call
from .repositories import CHARGER, DRYER, HOB, git, state_of

render: Any = importlib.import_module("vesselspec.draw.render")  # the package has a function of this name
FORMS = {"review.json", "review.sarif", "review.annotations.txt", "review.junit.xml"}
PAGES = {"summary.md", "summary.html"}
FILES = {*PAGES, *FORMS, "before.dot", "before.svg", "after.dot", "after.svg"}


def _names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_the_files_are_these_and_no_others(call: Call, example: Path, tmp_path: Path) -> None:
    out = tmp_path / "made/on/the/way"
    done = call("review", "main", CHARGER, example, "--out", out, "--output", "json")
    assert (done.status, done.error) == (1, "")
    assert _names(out) == FILES
    assert (out / "review.json").read_text(encoding="utf-8") == done.out
    for name in ("before", "after"):
        assert ET.parse(out / f"{name}.svg").getroot().tag.endswith("svg")
        assert (out / f"{name}.dot").read_text(encoding="utf-8").lstrip().startswith(("digraph", "graph", "strict"))
    for suffix in ("dot", "svg"):
        assert "C412" in (out / f"after.{suffix}").read_text(encoding="utf-8")
        assert ">C412<" not in (out / f"before.{suffix}").read_text(encoding="utf-8")
    assert {oct(path.stat().st_mode & 0o777) for path in out.iterdir()} == {"0o644"}
    contents = {path.name: path.read_bytes() for path in out.iterdir()}
    call("review", "main", CHARGER, example, "--out", out)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == contents


def test_a_change_of_nothing_has_no_pictures(call: Call, example: Path, tmp_path: Path) -> None:
    assert call("review", "main", "main", example, "--out", tmp_path / "out").status == 0
    assert _names(tmp_path / "out") == {*PAGES, *FORMS}
    assert "![" not in (tmp_path / "out/summary.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("missing", [True, False])
def test_without_a_layout_engine_all_but_the_pictures_is_written(
    call: Call, example: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, missing: bool
) -> None:
    def fails(*_: Any, **__: Any) -> NoReturn:
        if missing:
            raise render.LayoutMissing("there is none", "get one")
        raise render.LayoutFailed("it gave up")

    monkeypatch.setattr(render, "render", fails)
    done = call("review", "main", HOB, example, "--out", tmp_path / "out")
    assert done.status == 0
    assert _names(tmp_path / "out") == {name for name in FILES if not name.endswith(".svg")}
    assert done.error.startswith("vesselspec: no picture")
    assert "![" not in (tmp_path / "out/summary.md").read_text(encoding="utf-8")


def test_a_file_in_the_place_of_the_folder(call: Call, example: Path, tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("mine\n", encoding="utf-8")
    for out in (file, file / "below"):
        before = state_of(tmp_path)
        done = call("review", "main", HOB, example, "--out", out)
        assert (done.status, done.out) == (2, "")
        assert "cannot be written" in done.error
        assert "--out" in done.error
        assert state_of(tmp_path) == before


def test_a_folder_in_the_place_of_one_file_leaves_the_others_as_they_were(
    call: Call, example: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    (out / "summary.md").mkdir(parents=True)
    (out / "review.json").write_text("earlier\n", encoding="utf-8")
    done = call("review", "main", HOB, example, "--out", out)
    assert (done.status, done.out) == (2, "")
    assert "summary.md" in done.error
    assert _names(out) == {"summary.md", "review.json"}
    assert (out / "review.json").read_text(encoding="utf-8") == "earlier\n"


@pytest.mark.parametrize("code", [errno.EROFS, errno.ENOSPC, errno.EACCES])
def test_a_place_that_takes_no_file(
    call: Call, example: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """Also after the first files were written: none of them appears."""
    made: list[str] = []
    mkstemp = tempfile.mkstemp

    def third_fails(**options: Any) -> tuple[int, str]:
        if len(made) == 2:
            raise OSError(code, os.strerror(code), str(options["dir"]))
        found = mkstemp(**options)
        made.append(found[1])
        return found

    monkeypatch.setattr(tempfile, "mkstemp", third_fails)
    (tmp_path / "out").mkdir()
    done = call("review", "main", HOB, example, "--out", tmp_path / "out")
    assert (done.status, done.out) == (2, "")
    assert os.strerror(code) in done.error
    assert len(made) == 2
    assert _names(tmp_path / "out") == set()


def test_a_link_is_replaced_and_what_it_leads_to_left_alone(call: Call, example: Path, tmp_path: Path) -> None:
    victim, out = tmp_path / "victim.txt", tmp_path / "out"
    victim.write_text("mine\n", encoding="utf-8")
    out.mkdir()
    (out / "summary.md").symlink_to(victim)
    (out / "review.json").symlink_to(tmp_path)  # a folder
    (out / "after.dot").symlink_to(tmp_path / "nowhere")
    assert call("review", "main", HOB, example, "--out", out).status == 0
    assert _names(out) == FILES
    assert not any(path.is_symlink() for path in out.iterdir())
    assert victim.read_text(encoding="utf-8") == "mine\n"
    assert _names(tmp_path) == {"victim.txt", "out"}


def test_a_link_to_a_folder_may_be_named(call: Call, example: Path, tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert call("review", "main", HOB, example, "--out", tmp_path / "link").status == 0
    assert _names(tmp_path / "real") == FILES


def test_inside_the_vessel_it_writes_its_files_and_touches_no_other(call: Call, own: Path) -> None:
    before = state_of(own)
    assert call("review", "main", HOB, own, "--out", own / "review").status == 0
    after = state_of(own)
    assert {path for path in after if path not in before} == {
        str(own / "review"), *(str(own / "review" / name) for name in FILES)
    }  # fmt: skip
    assert {path: after[path] for path in before} == before
    # What was written is no part of the record.
    assert call("review", "main", ".", own, "--output", "json").data["changes"] == []


# --- the page for the next technician ------------------------------------------------------------


@pytest.fixture(scope="module")
def _pages() -> dict[str, str]:
    return {}


@pytest.fixture
def page(call: Call, example: Path, tmp_path: Path, _pages: dict[str, str]) -> Any:
    def of(branch: str) -> str:
        if branch not in _pages:
            call("review", "main", branch, example, "--out", tmp_path / "page")
            _pages[branch] = (tmp_path / "page/summary.md").read_text(encoding="utf-8")
        return _pages[branch]

    return of


def _section(page: str, title: str) -> str:
    return page.split(f"\n## {title}\n")[1].split("\n## ", maxsplit=1)[0]


def test_the_cautions_stand_before_everything_else(page: Any) -> None:
    for branch in (CHARGER, HOB):
        head = page(branch).split("\n## ")[0]
        assert "prove dead before touching" in head
        assert "Local codes and licensed practice come first" in head
        assert "Opening a breaker does not isolate a source" in head
        assert head.count("\n> **Caution.** ") == 3


def test_why_it_was_done_comes_from_the_commits(page: Any, example: Path) -> None:
    why = _section(page(CHARGER), "Why")
    for line in git(example, "log", "--format=%s%n%as%n%an", f"main..{CHARGER}").split("\n"):
        assert line in why
    assert "The inverter-charger goes to the workshop for a week." in why
    assert why.index("Add a house bank charger") < why.index("Feed the ice maker")


def test_what_must_not_be_energised_is_told_whole(page: Any) -> None:
    danger = _section(page(CHARGER), "Do not energise before these are mended")
    heads = re.findall(r"^### (\w+): (.*)$", danger, re.M)
    assert [word for word, _ in heads] == sorted((word for word, _ in heads), key=["DANGER", "WARNING"].index)
    assert any(word == "DANGER" and "C412" in said for word, said in heads)
    assert any(word == "DANGER" and "C310" in said for word, said in heads)
    assert any("pins of shore-1" in said for _, said in heads)
    assert danger.count("**Remedy:**") == danger.count("**Why:**") == danger.count("**Source:**") == len(heads)
    assert "How it gets there:" in danger
    for branch in (HOB, DRYER):
        assert "Do not energise" not in page(branch)


def test_whoever_opens_a_panel_reads_what_can_be_live_there_now(page: Any) -> None:
    panels = _section(page(CHARGER), "Different for anyone who opens")
    assert "- **ac-main/shore-and-generator** can now be live from L2 of inverter-charger" in panels
    assert "- **ac-galley/galley-shore** can now be live from L2 of inverter-charger" in panels
    sound = _section(page(HOB), "Different for anyone who opens")
    assert "can now be live" not in sound
    assert "label: way shore-and-generator/13: label “Induction hob” \\(before: label “Spare”\\)" in sound


def test_what_changed_says_in_which_space_it_is(page: Any) -> None:
    changed = _section(page(CHARGER), "What was changed, and where to find it")
    charger = next(line for line in changed.split("\n") if line.startswith("- charger house-charger "))
    assert " — in: Engine room, Lazarette, Battery space; at: Auxiliary AC panel, way auxiliary/12; " in charger
    assert charger.endswith("; cable label: C412, D116")
    assert "  - with cable C412 \\(to House bank charger\\) added" in changed


def _ticks(page: str) -> list[str]:
    ticks = [line for line in _section(page, "To check and relabel on board").split("\n") if line]
    assert all(re.match(r"- \[ \] \S", line) for line in ticks)
    assert len(ticks) == len(set(ticks))
    return ticks


def test_the_list_to_tick_names_every_cable_and_label(page: Any) -> None:
    ticks = _ticks(page(HOB))
    mine = [line for line in ticks if line.startswith("- [ ] cable C213: ")]
    assert any("label “C213” at both ends, every core on the terminal named, tight — " in line for line in mine)
    assert any("polarity and earth continuity measured at the load end — " in line for line in mine)
    assert any("the panel label reads “Induction hob”" in line for line in ticks)
    assert any("induction-hob" in line and "case earthed" in line for line in ticks)


def test_the_list_to_tick_of_a_dangerous_change_begins_with_mending_it(page: Any) -> None:
    ticks = _ticks(page(CHARGER))
    assert ticks[0].startswith("- [ ] every source dead, proved dead and kept so")
    words = [line.removeprefix("- [ ] ").split(" mended: ")[0] for line in ticks[1:7]]
    assert words == ["DANGER"] * 4 + ["WARNING"] * 2
    assert not any("the sign" in line or "label “" in line or "every core" in line for line in ticks)


def test_what_was_open_before_is_told_apart(page: Any) -> None:
    before = _section(page(HOB), "Open since before this change")
    assert "C322" in before
    assert "`device-above-ampacity`" in before


def test_pictures_are_shown_under_their_titles(page: Any) -> None:
    pictures = _section(page(CHARGER), "Pictures of what was touched")
    assert " ".join(pictures.split()) == (
        "Before: ![Before the change: ac-auxiliary/auxiliary/12, ac-main/inverter/10, ac-main/shore-and-generator/14, "
        "battery-distribution/house/9 and what they directly connect to](before.svg) "
        "After: ![After the change: house-charger, C310, C412, D116, ac-auxiliary/auxiliary/12, ac-main/inverter/10, "
        "ac-main/shore-and-generator/14, battery-distribution/house/9 and what they directly connect to](after.svg)"
    )


def test_a_sound_proposal_has_a_page_of_few_words(page: Any) -> None:
    assert "**The change brings no new finding.**" in page(HOB)
    assert "| alongside-winter | shore-1 L1 | 28.2 A | 41.7 A | 50.0 A | 8.3 A left |" in page(HOB)
    assert page(HOB).count("\n- [ ] ") < 8
