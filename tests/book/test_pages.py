"""The pages of whole books, read as a browser reads them."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest

from vesselspec.book.contents import Book
from vesselspec.book.pages import pages_of
from vesselspec.cli.common import read_state
from vesselspec.cli.main import run
from vesselspec.report.terminal import CAUTIONS, one_line
from vesselspec.rules import Boat, concede, survey

from .boats import HOSTILE, hostile
from .html_pages import EXAMPLE, ROOT, Read, broken_links, hash_of

_DAY = datetime.date(2026, 6, 1)


def book_of(folder: Path) -> Book:
    record = read_state(folder, None).record
    assert record.vessel is not None, record.problems
    boat = Boat(record.vessel, record.places)
    return Book(boat, concede(boat, survey(boat), _DAY), "main of 2026-06-01", _DAY)


@pytest.fixture(scope="module", params=["example", "european", "hostile"])
def files(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The books of three boats, written with their diagrams."""
    boats = {"example": EXAMPLE, "european": ROOT / "tests/data/european"}
    boat = boats.get(request.param) or hostile(tmp_path_factory.mktemp("hostile"))
    out = tmp_path_factory.mktemp("book") / "out"
    assert run(["handover", str(boat), "--out", str(out)]) == 0
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}


@pytest.fixture
def pages(files: dict[str, bytes]) -> dict[str, Read]:
    return {name: Read(content) for name, content in files.items() if name.endswith(".html")}


def test_every_link_leads_somewhere_in_the_book(files: dict[str, bytes], pages: dict[str, Read]) -> None:
    assert broken_links(pages, set(files)) == []


def test_names_are_one_of_a_kind(pages: dict[str, Read]) -> None:
    for name, page in pages.items():
        assert len(page.ids) == len(set(page.ids)), name
    assert len({name.casefold() for name in pages}) == len(pages)


def test_nothing_runs_or_loads_but_the_book_s_own(pages: dict[str, Read]) -> None:
    for name, page in pages.items():
        assert page.handlers == [], name
        assert len(page.styles) == len(page.scripts) == 1, name
        assert hash_of(page.styles[0]) in page.policy, name
        assert hash_of(page.scripts[0]) in page.policy, name
        assert "unsafe" not in page.policy
        assert page.policy.startswith("default-src 'none'")
        assert {"iframe", "object", "embed", "base", "foreignobject"}.isdisjoint(page.tags), name


def test_every_page_carries_the_cautions_and_the_state(pages: dict[str, Read]) -> None:
    for name, page in pages.items():
        text = " ".join(page.text)
        assert "Record: work tree" in text, name
        assert "prove" in text, name
        assert page.headings[0] == 1, name
        assert page.headings.count(1) == 1, name
        assert all(after <= before + 1 for before, after in zip(page.headings, page.headings[1:], strict=False)), name


def test_hostile_words_stay_words(tmp_path: Path) -> None:
    files = pages_of(book_of(hostile(tmp_path)))
    plain = [Read(content) for name, content in files.items() if name.endswith(".html")]
    for page in plain:
        assert "img" not in page.tags
        assert page.tags.count("script") <= 2
        assert "display: none } @import" not in page.styles[0]
    said = one_line(HOSTILE)
    assert sum(said in " ".join(page.text) for page in plain) > 6


def test_the_same_record_makes_the_same_book() -> None:
    assert pages_of(book_of(EXAMPLE)) == pages_of(book_of(EXAMPLE))


def test_every_panel_way_cable_and_device_is_told() -> None:
    book = book_of(EXAMPLE)
    files = pages_of(book)
    for key, panel in book.vessel.panels.items():
        text = " ".join(Read(files[f"panel/{key}.html"]).text)
        for section in panel.sections:
            for way in section.ways:
                assert (way.label or "") in text or way.label == "none"
        assert f"isolation/{key}.html" in files
    cables = Read(files["cables.html"]).ids
    assert all(any(key.lower() in each for each in cables) for key in book.vessel.cables)
    assert CAUTIONS[0] in files["index.html"].decode()


def test_the_switch_knows_what_is_live() -> None:
    files = pages_of(book_of(EXAMPLE))
    page = files["panel/ac-main.html"].decode()
    table = json.loads(page.split('id="live-table">')[1].split("</script>")[0])
    assert "ac-main/shore-and-generator/4" in table["alongside-winter"]["live"]
    assert "ac-main/shore-and-generator/4" not in table["under-way"]["live"]
    assert "ac-main/inverter/3" in table["under-way"]["live"]


def test_what_nobody_traced_is_never_called_dead() -> None:
    files = pages_of(book_of(EXAMPLE))
    page = files["panel/dc-engine-room.html"].decode()
    row = page.split('data-item="dc-engine-room/engine/9"')[1].split("</tr>")[0]
    assert "NOT KNOWN: untraced" in row
    table = json.loads(page.split('id="live-table">')[1].split("</script>")[0])
    assert all("dc-engine-room/engine/9" in each["untraced"] for each in table.values())
