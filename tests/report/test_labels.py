"""Labels: what they say, that nothing is cut, and that a reader of codes reads the code."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.browser import browser
from vesselspec.cli.main import run
from vesselspec.draw.text import width
from vesselspec.report.label_sheets import code, grids, left_out, set_label, sheets_html
from vesselspec.report.labels import CABLE, PANEL, Label, plain

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "example_vessel"
MM = 72 / 25.4


def labels(capsys: pytest.CaptureFixture[str], *args: str) -> list[dict[str, Any]]:
    """The labels as JSON, held to the published schema."""
    from jsonschema import Draft202012Validator

    assert run(["labels", *args, "--output", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    Draft202012Validator(json.loads((ROOT / "schema/labels.schema.json").read_text("utf-8"))).validate(data)
    found: list[dict[str, Any]] = data["labels"]
    return found


BOAT = """vessel: {record: 1, name: Test, practice: north-american}
systems:
  ac: {kind: ac-split-phase, voltage: 120/240 V, frequency: 60 Hz}
  dc: {kind: dc, voltage: 24 V}
spaces: {stern: {}, bow: {}}
devices:
  shore: {kind: shore-inlet, system: ac, space: stern, name: Shore inlet}
  bank: {kind: battery-bank, system: dc, space: bow}
panels:
  box:
    space: bow
    system: ac
    name: Combined box
    sections:
      mains: {ways: {'1': {poles: [L1, L2], rating: 50 A, duty: main}, '2': {poles: [L1], rating: 15 A, label: none},
                     '3': {poles: [L1], rating: 15 A, spare: true}, '4': {device: blank}}}
      house: {system: dc, ways: {'1': {poles: [DC+], rating: 60 A, duty: main}}}
loads:
  lamp: {system: ac, poles: [L1, N], space: stern, name: Deck lamp}
  oven: {system: ac, poles: [L1, L2], space: stern}
cables:
  C1: {from: shore, to: box/mains/1, size: 6 AWG, cores: {black: L1, red: L2, white: N, green: PE}}
  C2: {from: box/mains/2, to: lamp, cores: {black: L1, white: N, green: PE}}
  C3: {from: box/mains/1, to: untraced, cores: {black: {from: L1, to: untraced}}}
  C4: {from: box/mains/1, to: oven, cores: {black: L1, red: L2, green: PE}}
  D1: {from: bank, to: box/house/1, cores: {red: DC+, yellow: DC-}}
  X1: {from: box/mains/2, to: box/house/1, cores: {black: {from: L1, to: DC+}}}
  E1: {from: box, to: shore, cores: {green: PE}}
"""


@pytest.fixture
def boat(tmp_path: Path) -> Path:
    (tmp_path / "vessel.yaml").write_text(BOAT, encoding="utf-8")
    return tmp_path


def test_both_ends_say_what_they_carry_and_where_the_other_end_is(
    boat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = {(each["item"], each["end"]): each["lines"] for each in labels(capsys, str(boat), "--kind", "cable")}
    assert said["C1", "from"] == [
        "AC 120/240 V 60 Hz, 6 AWG",
        "other end: box/mains/1",
        "this end: shore (Shore inlet)",
    ]
    assert said["C1", "to"] == ["AC 120/240 V 60 Hz, 6 AWG", "other end: shore (Shore inlet)", "this end: box/mains/1"]
    assert said["C2", "from"] == ["AC 120 V 60 Hz", "other end: lamp (Deck lamp)", "this end: box/mains/2"]
    assert said["C3", "from"] == [
        "AC 120 V 60 Hz", "OTHER END NOT TRACED: treat as live", "this end: box/mains/1",
    ]  # fmt: skip
    assert said["C4", "to"] == ["AC 240 V 60 Hz", "other end: box/mains/1", "this end: oven"]
    assert said["D1", "from"] == ["DC 24 V", "other end: box/house/1", "this end: bank"]
    assert said["X1", "to"] == [
        "AC AND DC IN THE RECORD: do not energise", "AC 120 V 60 Hz / DC 24 V", "other end: box/mains/2",
        "this end: box/house/1",
    ]  # fmt: skip
    assert said["E1", "from"] == ["EARTH", "other end: shore (Shore inlet)", "this end: box (Combined box)"]


def test_ways_panels_and_sources(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = {each["item"]: (each["kind"], each["title"], each["lines"]) for each in labels(capsys, str(boat))}
    assert said["box/mains/2"] == ("way", "Deck lamp, box/house/1", ["way 2, L1 15 A", "section mains"])
    assert said["box/mains/3"] == ("way", "Spare", ["way 3, L1 15 A", "section mains"])
    assert "box/mains/4" not in said, "a blank has nothing to tell"
    assert said["box"][1:] == (
        "Combined box",
        ["2 SUPPLIES, each with its main: mains/1, house/1", "box", "AC 120/240 V 60 Hz and DC 24 V"],
    )
    assert said["shore"][0] == "source"
    assert "unplug the cord at both ends" in said["shore"][2][-1]


def test_what_is_chosen(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cables = ["C1", "C2", "C3", "C4", "D1", "X1", "E1"]
    at_box = {each["item"] for each in labels(capsys, str(boat), "--item", "box")}
    assert at_box == {"box", "box/mains/1", "box/mains/2", "box/mains/3", "box/house/1", *cables}
    assert run(["labels", str(boat), "--item", "nowhere"]) == 2
    assert "nowhere" in capsys.readouterr().err


def test_only_what_is_new_since_a_revision(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def git(*args: str) -> None:
        who = ("-c", "user.name=a", "-c", "user.email=a@example.org")
        subprocess.run(["git", *who, *args], cwd=boat, check=True, capture_output=True)

    git("init", "-q")
    git("add", "-A")
    git("commit", "-qm", "One")
    assert labels(capsys, str(boat), "--since", "HEAD") == []
    (boat / "vessel.yaml").write_text(BOAT.replace("to: lamp,", "to: oven,"), encoding="utf-8")
    new = [(each["item"], each["end"]) for each in labels(capsys, str(boat), "--since", "HEAD")]
    assert sorted(new, key=str) == sorted([("C2", "from"), ("C2", "to"), ("box/mains/2", None)], key=str)
    panel = next(each for each in labels(capsys, str(boat), "--at", "HEAD") if each["kind"] == "panel")
    assert re.fullmatch(r"panel/box\.html#at=[0-9a-f]{10}", str(panel["code"]))


@pytest.mark.parametrize("book", ["ftp://x/", "javascript:alert(1)", "https://example.org/?a=b", "http://[", "x"])
def test_a_book_that_no_telephone_opens_is_refused(boat: Path, book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["labels", str(boat), "--book", book]) == 2
    assert "https://example.org/boat/" in capsys.readouterr().err


def test_grids_stand_on_their_paper() -> None:
    for grid in grids().values():
        left, top = grid.corner(0)
        right, bottom = grid.corner(grid.places - 1)
        assert left >= -0.01 and top >= -0.01, grid.id
        assert right + grid.width <= grid.paper_width + 0.01, grid.id
        assert bottom + grid.height <= grid.paper_height + 0.01, grid.id


_WORDS = st.text(max_size=90)


@given(st.sampled_from(sorted(grids())), _WORDS.filter(bool), st.lists(_WORDS, max_size=5), st.booleans())
def test_nothing_is_cut(grid_id: str, title: str, lines: list[str], coded: bool) -> None:
    """Every word is printed whole and inside the label, or told as left out."""
    grid = grids()[grid_id]
    label = Label(PANEL, "x", "", "x", title, tuple(lines), "panel/x.html" if coded else "")
    made = set_label(label, grid)
    said = "".join("".join((*made.title, *made.lines)).split())
    told = " ".join(left_out((made,)))
    head, *rest = plain(label)
    for text in (head, *rest):
        assert "".join(text.split()) in said or text in made.left_out or not made.title
    if not made.title:
        assert "no label" in told
        return
    room = grid.width - 2 * grid.margin_x - (made.code_mm + 1 if made.code_mm else 0)
    assert all(width(line, made.title_pt) <= room * MM for line in made.title)
    assert all(width(line, made.line_pt) <= room * MM for line in made.lines)
    high = (len(made.title) * made.title_pt + len(made.lines) * made.line_pt) * 1.18
    assert high <= (grid.height - 2 * grid.margin_y) * MM


def test_strips_can_be_no_formula(tmp_path: Path) -> None:
    from vesselspec.report.label_lists import strips_csv

    label = Label(CABLE, "C1", "to", "box", "C1", ("=1+1", "other end: x"))
    header, row = csv.reader(io.StringIO(strips_csv([label])))
    assert header[0] == "strip"
    assert row == ["C1", "C1", "to", "box", "'=1+1", "other end: x", ""]


def test_a_reader_of_codes_reads_it(tmp_path: Path) -> None:
    """Another library (zxing-cpp) reads the code off a picture of the printed label, as small as it is ever made."""
    import zxingcpp
    from PIL import Image

    said = "https://example.org/boats/plain-example/panel/pilothouse-combined.html#at=0123456789"
    label = Label(PANEL, "box", "", "box", "Box", (), said)
    grid = grids()["a4-5x13"]
    sheet = tmp_path / "sheet.html"
    sheet.write_text(sheets_html("Labels", "stamp", (set_label(label, grid),), grid), encoding="utf-8")
    picture = tmp_path / "sheet.png"
    browser.look(tmp_path, "--window-size=900,2600", f"--screenshot={picture}", sheet.as_uri())
    read = zxingcpp.read_barcodes(Image.open(picture))
    assert [each.text for each in read] == [said]
    assert "<script" not in str(code("</svg><script>alert(1)</script>"))


def test_in_a_browser_every_label_holds_its_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The example on the smallest and the usual grid: no line is wider or lower than its label, with real letters."""
    for grid in ("a4-5x13", "a4-3x8"):
        out = tmp_path / grid
        assert run(["labels", str(EXAMPLE), "--grid", grid, "--out", str(out)]) == 0
        capsys.readouterr()
        page = (out / f"labels-{grid}.html").read_text(encoding="utf-8")
        look = """<script>
          const over = [...document.querySelectorAll('.label')].filter(
            l => l.scrollWidth > l.clientWidth + 1 || l.scrollHeight > l.clientHeight + 1);
          document.title = 'over: ' + over.length + ' of ' + document.querySelectorAll('.label').length;
        </script></body>"""
        page = re.sub("<meta http-equiv[^>]*>", "", page).replace("</body>", look)
        (out / "look.html").write_text(page, encoding="utf-8")
        seen = browser.look(tmp_path, "--dump-dom", (out / "look.html").as_uri()).stdout
        assert re.search(r"<title>over: 0 of 6\d\d</title>", seen), re.search("<title>.*</title>", seen)


def test_sheets_print_at_their_true_size(boat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import pypdf

    browser.chromium()
    for grid, size in (("a4-3x8", (595, 842)), ("letter-3x10", (612, 792))):
        assert run(["labels", str(boat), "--grid", grid, "--skip", "20", "--out", str(tmp_path / "out"), "--pdf"]) == 0
        pages = pypdf.PdfReader(tmp_path / "out" / f"labels-{grid}.pdf").pages
        assert [pytest.approx(size, abs=1)] * len(pages) == [(p.mediabox.width, p.mediabox.height) for p in pages]
        assert "prove dead" in pages[0].extract_text()
        assert "OTHER END NOT TRACED" in "".join(p.extract_text() for p in pages)


def test_without_a_browser_the_remedy_is_named(
    boat: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VESSELSPEC_BROWSER", "no-such-browser")
    assert run(["labels", str(boat), "--out", str(boat / "out"), "--pdf"]) == 2
    said = capsys.readouterr().err
    assert "no-such-browser" in said and "leave out --pdf" in said
    assert not (boat / "out").exists(), "nothing is written where not all can be"
    assert run(["labels", str(boat), "--pdf"]) == 2


def test_bad_calls(boat: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["labels", str(boat), "--grid", "a9-1x1"]) == 2
    assert "a4-3x8" in capsys.readouterr().err
    (boat / "vessel.yaml").write_text("vessel: [", encoding="utf-8")
    assert run(["labels", str(boat)]) == 2
    assert "Traceback" not in "".join(capsys.readouterr())
