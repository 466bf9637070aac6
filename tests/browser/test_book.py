"""The hand-over book in a real browser, opened from its folder: what works, what is fetched, who can read it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.book.boats import hostile, picture
from tests.book.html_pages import EXAMPLE
from vesselspec.cli.main import run

from . import browser

#: One page of every kind.
KINDS = (
    "index", "sources", "panels", "panel/ac-main", "panel/dc-engine-room", "isolation/ac-main",
    "isolation/dc-engine-room", "cables", "equipment", "conditions", "cards", "card/shore-1", "energy",
    "deficiencies", "unknowns", "history", "glossary",
)  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book of the example vessel."""
    browser.require()
    out = tmp_path_factory.mktemp("book") / "out"
    assert run(["handover", str(EXAMPLE), "--out", str(out)]) == 0
    return out


@pytest.fixture(scope="module")
def hostile_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book of a boat whose words would like to be markup, with a photograph called so too."""
    browser.require()
    boat = hostile(tmp_path_factory.mktemp("hostile"))
    (boat / "<script>alert(1)<script>.jpg").write_bytes(picture(told=True))
    out = tmp_path_factory.mktemp("book") / "out"
    assert run(["handover", str(boat), "--out", str(out)]) == 0
    return out


def opened(tmp_path: Path, book: Path, pages: tuple[str, ...], **more: Any) -> dict[str, dict[str, Any]]:
    visits = [{"url": (book / f"{page}.html").as_uri(), **more} for page in pages]
    return dict(zip(pages, browser.visit(tmp_path / "profile", visits), strict=True))


def quiet(found: dict[str, dict[str, Any]], book: Path) -> None:
    """Nothing complained, and nothing was asked for outside the book."""
    for page, seen in found.items():
        assert seen["errors"] == [], page
        assert all(url.startswith(book.as_uri()) for url in seen["requests"]), page


@pytest.mark.parametrize("look", ["light", "dark", "phone"])
def test_everybody_can_read_every_kind_of_page(book: Path, tmp_path: Path, look: str) -> None:
    """axe-core, all its rules: contrast, names, landmarks, order of headings, tables."""
    found = opened(tmp_path, book, KINDS, check=True, dark=look == "dark", width=390 if look == "phone" else 1280)
    quiet(found, book)
    assert {page: seen["violations"] for page, seen in found.items() if seen["violations"]} == {}
    assert {page: seen["wide"] for page, seen in found.items() if seen["wide"] > 0} == {}


def test_no_name_of_the_record_runs_or_breaks_a_page(hostile_book: Path, tmp_path: Path) -> None:
    pages = tuple(
        path.relative_to(hostile_book).with_suffix("").as_posix() for path in sorted(hostile_book.rglob("*.html"))
    )
    steps = [["read", "document.title"], ["read", "getComputedStyle(document.body).display"]]
    found = opened(tmp_path, hostile_book, pages, check=True, steps=steps, width=390)
    quiet(found, hostile_book)
    for page, seen in found.items():
        assert seen["read"][0] != "owned", page
        assert seen["read"][1] == "block", page
        assert seen["violations"] == [], page
        assert seen["wide"] <= 0, page


def test_photographs_are_shown_from_the_folder(hostile_book: Path, tmp_path: Path) -> None:
    loaded = "[...document.images].map((i) => { i.loading = 'eager'; return i.decode().then(() => i.naturalWidth); })"
    steps = [["read", f"Promise.all({loaded})"]]
    found = opened(tmp_path, hostile_book, ("equipment",), steps=steps)["equipment"]
    assert found["read"] == [[30]]
    assert found["errors"] == []


def test_the_example_shows_its_panels(book: Path, tmp_path: Path) -> None:
    """With the sketches that stand for photographs, whose every word is in the record."""
    steps = [["read", "[...document.images].map((i) => { i.loading = 'eager'; return i.alt; })"]]
    found = opened(tmp_path, book, ("panel/ac-main", "panel/dc-main"), steps=steps, check=True)
    assert [seen["read"][0] for seen in found.values()] == [
        ["Photograph of ac-main (AC main panel)"],
        ["Photograph of dc-main (DC main panel 24 V)"],
    ]
    assert [seen["violations"] for seen in found.values()] == [[], []]


_SHOWN = (
    "[...document.querySelectorAll('tbody tr')].filter((r) => r.offsetHeight).map((r) => r.cells[0].textContent.trim())"
)


def test_search(book: Path, tmp_path: Path) -> None:
    box = "[data-tool=filter] input"
    steps = [["type", box, "Water  HEATER"], ["read", _SHOWN], ["read", "document.querySelector('.said').textContent"]]
    steps += [["type", box, " nothing like it"], ["read", _SHOWN]]
    found = opened(tmp_path, book, ("cables",), steps=steps)["cables"]
    assert found["read"][0] == ["C204"]
    assert found["read"][2] == []
    assert found["errors"] == []


def test_condition_switch(book: Path, tmp_path: Path) -> None:
    def live(way: str) -> list[str]:
        return ["read", f"document.querySelector('[data-item=\"{way}\"] .live').textContent"]

    shore, inverter = "ac-main/shore-and-generator/4", "ac-main/inverter/3"
    box = "[data-tool=condition] select"
    steps = [["select", box, "under-way"], live(shore), live(inverter)]
    steps += [["read", f"getComputedStyle(document.querySelector('[data-item=\"{shore}\"] > :last-child')).borderLeft"]]
    steps += [["select", box, "alongside-winter"], live(shore), ["select", box, ""], live(shore)]
    found = opened(tmp_path, book, ("panel/ac-main",), steps=steps)["panel/ac-main"]
    dead, hot, border, winter, words = found["read"]
    assert (dead, hot, winter) == ("not live by the record", "LIVE", "LIVE")
    assert "double" in border  # a pattern, not only a colour
    assert words == "LIVE in 1, 2, 3"
    drawn = (
        "document.querySelectorAll('svg .is-live').length > 2 && document.querySelectorAll('svg .is-out').length > 2"
    )
    steps = [["select", box, "at-anchor"], ["read", drawn]]
    assert opened(tmp_path, book, ("sources",), steps=steps)["sources"]["read"] == [True]


_DRAWN = "document.querySelector('.drawing svg').getBoundingClientRect().width"
_FRAME = ".drawing .scroll"


def test_a_diagram_grows_and_moves(book: Path, tmp_path: Path) -> None:
    """By buttons, by the wheel with a key, by the keyboard, and by dragging; the wheel alone scrolls the page."""
    moved = ["read", "document.querySelector('.drawing .scroll').scrollLeft"]
    width = ["read", _DRAWN]
    steps: list[list[Any]] = [width, ["click", "[data-zoom='1.25']"], width, ["focus", _FRAME], ["press", "+"], width]
    steps += [["press", "-"], width, ["wheel", _FRAME, -100, "Control"], width, ["wheel", _FRAME, -100], width]
    steps += [moved, ["drag", _FRAME, -120, 0], moved, ["focus", _FRAME], ["press", "0"], width]
    steps += [["read", "document.querySelector('.drawing .scroll').clientWidth"]]
    for page in ("sources", "panel/ac-main", "energy"):
        seen = opened(tmp_path, book, (page,), steps=steps, check=True)[page]
        start, button, plus, minus, wheel, alone, before, after, whole, frame = seen["read"]
        assert start < button < plus, page
        assert abs(minus - button) <= 2
        assert wheel > minus
        assert alone == wheel
        assert after > before, "dragged to the left"
        assert abs(whole - frame) <= 1
        assert (seen["errors"], seen["violations"]) == ([], [])


_TOLD = ["read", "[...document.querySelectorAll('.told')].map((t) => t.textContent).join('')"]
_LIT = ["read", "[...document.querySelectorAll('.is-at')].map((e) => e.dataset.item).join(' ')"]


def test_what_is_under_the_pointer_is_told(book: Path, tmp_path: Path) -> None:
    cable, way = "svg a [data-item='C207']", "svg [data-item='ac-main/shore-and-generator/7'] text"
    steps = [["hover", f"{cable} rect"], _TOLD, _LIT, ["hover", way], _TOLD]
    steps += [
        ["select", "[data-tool=condition] select", "under-way"],
        ["read", f'document.querySelector("a:has(> {cable[6:]})").focus()'],
        _TOLD,
    ]
    found = opened(tmp_path, book, ("panel/ac-main",), steps=steps, check=True)["panel/ac-main"]
    told, lit, of_way, _, focused = found["read"]
    assert told == "Cable C207, 12 AWG: ac-main/shore-and-generator/7 to saloon-aircon"
    assert lit == "C207"
    assert of_way.startswith("Way ac-main/shore-and-generator/7 (Saloon air conditioning): breaker")
    assert focused == f"{told}. not live by the record: prove it"
    assert (found["errors"], found["violations"]) == ([], [])


def test_a_finger_is_told_before_it_is_led(book: Path, tmp_path: Path) -> None:
    at = "svg a:has(> [data-item='C103'])"
    where = ["read", "location.pathname.split('/').pop() + location.hash"]
    steps = [["tap", f"{at} text"], _TOLD, _LIT, where, ["tap", f"{at} text", "leads"], where]
    seen = opened(tmp_path, book, ("sources",), steps=steps, touch=True, width=390)["sources"]
    told, lit, before, after = seen["read"]
    assert told == "Cable C103, 6 AWG: shore-power/inlet-1 to source-selector/shore. Tap again for its entry"
    assert lit == "C103 C103", "its line and its name"
    assert (before, after) == ("sources.html", "cables.html#cable-c103_" + after[-10:])


def test_feeders_are_live_or_not_as_boxes_are(book: Path, tmp_path: Path) -> None:
    count = "['is-live', 'is-out'].map((c) => document.querySelectorAll(`svg .edge.${c}`).length)"
    steps = [["select", "[data-tool=condition] select", "under-way"], ["read", count]]
    steps += [["read", "[...document.querySelectorAll('svg .edge')].every((e) => e.dataset.item)"]]
    (live, out), all_known = opened(tmp_path, book, ("sources",), steps=steps)["sources"]["read"]
    assert live > 5
    assert out > 5
    assert all_known


def test_a_label_of_another_record_is_told(book: Path, tmp_path: Path) -> None:
    """A label's code ends in the revision that it was printed from."""
    page = book / "panel/ac-main.html"
    revision = re.search(rb'data-revision="([0-9a-f]*)"', page.read_bytes())
    assert revision is not None
    ours = revision[1].decode()
    said = [
        "read",
        "[...document.querySelectorAll('.label-told')].filter((e) => e.offsetHeight).map((e) => e.innerText)",
    ]
    visits: list[dict[str, Any]] = [
        {"url": page.as_uri() + mark, "steps": [said], "check": True, "script": script}
        for mark, script in (("", True), ("#at=0123abcd", True), (f"#at={ours or '0'}", True), ("#at=<b>", True))
    ]
    plain, other, same, odd = [each["read"][0] for each in browser.visit(tmp_path / "profile", visits)]
    assert plain == odd == []
    assert "This label is of record 0123abcd; this book is of " in other[0]
    assert "What was changed, and when" in other[0]
    if ours:
        assert same == [f"This label is of the same record as this book: {ours}."]


def test_dark_switch_holds_from_page_to_page(book: Path, tmp_path: Path) -> None:
    ground = ["read", "getComputedStyle(document.body).backgroundColor"]
    box = "[data-tool=theme] select"
    first = {"url": (book / "index.html").as_uri(), "steps": [["select", box, "dark"], ground]}
    second = {"url": (book / "panel/ac-main.html").as_uri(), "steps": [ground], "check": True}
    third = {"url": (book / "index.html").as_uri(), "dark": True, "steps": [["select", box, "light"], ground]}
    seen = browser.visit(tmp_path / "profile", [first, second, third])
    assert [each["read"][0] for each in seen] == ["rgb(17, 17, 17)", "rgb(17, 17, 17)", "rgb(255, 255, 255)"]
    assert seen[1]["violations"] == []


def test_without_script_everything_is_there(book: Path, tmp_path: Path) -> None:
    hidden = [
        "read",
        "[...document.querySelectorAll('main *')].filter((e) => e.hidden && !e.closest('[data-tool]')).length",
    ]
    tools = ["read", "[...document.querySelectorAll('.tools')].filter((e) => e.offsetHeight).length"]
    found = opened(tmp_path, book, ("panel/ac-main", "cables", "index"), script=False, steps=[hidden, tools])
    assert [each["read"] for each in found.values()] == [[0, 0]] * 3


def test_keyboard(book: Path, tmp_path: Path) -> None:
    steps: list[list[str]] = [["press", "Tab"], ["read", "document.activeElement.className"], ["press", "Enter"]]
    steps += [["read", "document.activeElement.id"]]
    assert opened(tmp_path, book, ("index",), steps=steps)["index"]["read"] == ["skip", "main"]


def test_on_paper_tables_stay_tables(book: Path, tmp_path: Path) -> None:
    steps = [["read", "getComputedStyle(document.querySelector('.stack tr')).display"]]
    steps += [["read", "getComputedStyle(document.querySelector('nav.pages')).display"]]
    found = opened(tmp_path, book, ("panel/ac-main",), print=True, width=700, dark=True, steps=steps)
    assert found["panel/ac-main"]["read"] == ["table-row", "none"]
