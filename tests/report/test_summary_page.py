"""The page for the next technician: both forms say the same, hostile words stay words, a browser shows it whole."""

from __future__ import annotations

import datetime
import html as standard_html
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from tests.browser import browser
from tests.changes.boats import TWO_SOURCES, Raw, edited, reviewed
from tests.changes.test_review import BROKEN
from vesselspec.changes import Reason, Review, review, side
from vesselspec.cli.pictures import neighbourhoods, pictures_of
from vesselspec.report.inline_svg import inline
from vesselspec.report.summary import summary_markdown
from vesselspec.report.summary_content import Summary, summarise
from vesselspec.report.summary_page import summary_html

HOSTILE = "<script>document.title='owned'</script><img src=x onerror=x()>\u202e\x1b[31m|`**"
LINK = "[x](javascript:alert(1))"


def _bridge(raw: Raw) -> None:
    raw["cables"]["X1"] = {**raw["cables"]["C1"], "from": "main/a/2", "to": "main/b/2", "cores": {"red": "L1"}}
    raw["cables"]["X1"] |= {"label": "X1"}
    raw["panels"]["main"]["sections"]["a"]["ways"]["2"] = {"poles": ["L1"], "rating": "15 A", "label": "Link"}
    raw["cables"]["C2"]["cores"]["white"] = {"from": "main/a:N", "to": "N"}
    raw["cables"]["C1"]["size"] = "12 AWG"


def _page(found: Review, **more: Any) -> Summary:
    return summarise(found, pictures_of(found, neighbourhoods(found)), **more)


@pytest.fixture(scope="module")
def bridged() -> Summary:
    found = reviewed(TWO_SOURCES, edited(TWO_SOURCES, _bridge))
    reason = Reason(
        "0123456789abcdef", "2026-03-14", "Technician", "Join the sections", "Because.\n\nSecond paragraph."
    )
    return _page(review(found.before, found.after, (reason,)), dates=("of 2026-03-01", "of 2026-03-14"))


class _Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        for name, value in attrs:
            assert not name.startswith("on"), name
            assert name not in ("href", "src", "srcset", "xlink:href"), name
            assert "url(" not in (value or "")

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def _read(page: str) -> _Texts:
    found = _Texts()
    found.feed(page)
    found.close()
    return found


def _words(text: str) -> str:
    return " ".join(standard_html.unescape(text.replace("\\", "")).replace("`", "").split())


def test_both_forms_say_the_same(bridged: Summary) -> None:
    markdown = _words(summary_markdown(bridged))
    html = _words(" ".join(_read(summary_html(bridged)).texts))
    said = [bridged.title, bridged.stamp, bridged.verdict, *bridged.cautions]
    said += [each for done in bridged.done for each in (done.what, *done.more, *done.spaces, *done.ways, *done.labels)]
    said += [each for why in bridged.why for each in (why.subject, why.author, why.when, *why.paragraphs)]
    for panel in bridged.panels:
        said += [panel.name, *panel.rewired, *panel.labels, *panel.circuits.gained, *panel.colours.gained]
        said += [each for part in panel.isolation.parts for each in (*part.gained, *part.lost)]
    said += [each for check in bridged.checks for each in (check.what, *check.where)]
    said += [cell for table in bridged.tables for row in table.rows for cell in row]
    said += [each for f in bridged.grave for each in (f.message, f.why, f.remedy, f.source, *f.witness)]
    said += [finding.message for _, findings in bridged.findings for finding in findings]
    assert bridged.grave
    assert bridged.panels
    assert len(said) > 60
    for each in said:
        assert _words(each) in markdown, each
        assert _words(each) in html, each


def test_whoever_opens_the_panel_reads_all_that_is_different(bridged: Summary) -> None:
    (panel,) = bridged.panels
    assert (panel.panel, panel.state) == ("main", "")
    assert {place.title: place.gained for place in panel.potentials} == {
        "main/a": ("L1 of generator-1",),
        "main/b": ("L1 of shore-1",),
    }
    assert panel.circuits.gained == (
        "cable X1 at main/a/2 (Link), with main/b/2 (Spare)",
        "cable X1 at main/b/2 (Spare), with main/a/2 (Link)",
    )
    assert panel.rewired == (
        "cable C2 (to fridge): core white lands on main/a:N at its from end, N at its to end instead of N",
    )
    assert panel.labels[0] == "way a/2: label “Link” (before: label “Spare”)"
    assert panel.colours.gained == ("red on L1 (cable X1)",)


def test_what_must_not_be_energised_is_mended_first_and_gets_no_signs(bridged: Summary) -> None:
    first, *mended, anew = (check.what for check in bridged.checks if "isolation sheets" not in check.what)
    assert first.startswith("every source dead, proved dead and kept so")
    assert mended == [f"{each.signal_word} mended: {each.message}" for each in bridged.grave]
    assert anew.endswith("this page is made anew: it then says what to check and relabel")


def test_a_panel_that_is_new_or_gone_or_only_called_otherwise() -> None:
    def another(raw: Raw) -> None:
        raw["panels"]["aft"] = {"system": "ac", "sections": {"x": {"ways": {"1": {"poles": ["L1"]}}}}}

    def rename(raw: Raw) -> None:
        text = json.dumps(raw).replace('"main/', '"aft/').replace('"main": {"space"', '"aft": {"space"')
        raw.clear()
        raw.update(json.loads(text))
        raw["panels"]["aft"]["formerly"] = ["main"]

    more = edited(TWO_SOURCES, another)
    assert [(p.panel, p.state) for p in summarise(reviewed(TWO_SOURCES, more)).panels] == [("aft", "added")]
    assert [(p.panel, p.state) for p in summarise(reviewed(more, TWO_SOURCES)).panels] == [("aft", "removed")]
    renamed = reviewed(TWO_SOURCES, edited(TWO_SOURCES, rename))
    assert [(change.kind, change.id) for change in renamed.changes] == [("renamed", "aft")]
    assert summarise(renamed).panels == ()


def test_isolation_that_needs_another_point_is_told() -> None:
    def feed(raw: Raw) -> None:
        raw["devices"]["shore-2"] = {**raw["devices"]["shore-1"], "name": "Aft inlet"}
        raw["cables"]["F3"] = {**raw["cables"]["F1"], "from": "shore-2", "to": "main/b/2"}

    found = summarise(reviewed(TWO_SOURCES, edited(TWO_SOURCES, feed)))
    (panel,) = found.panels
    parts = {part.title: part for part in panel.isolation.parts}
    assert parts["points to open"].gained == ("shore-2 (Aft inlet)",)
    assert parts["can make it live"].gained == ("shore-2 (Aft inlet)",)
    assert any("isolation sheets printed before this change" in check.what for check in found.checks)
    assert "points to open: now also shore-2" in summary_markdown(found)


def test_a_change_of_nothing_is_a_short_page() -> None:
    page = _page(reviewed(TWO_SOURCES, TWO_SOURCES))
    assert (page.done, page.panels, page.checks, page.tables, page.pictures, page.grave) == ((),) * 6
    for text in (summary_markdown(page), summary_html(page)):
        assert "Nothing on board is different." in text
        assert "prove dead" in text


def test_what_cannot_be_understood_is_told_in_both_forms() -> None:
    broken = side("after", BROKEN, datetime.date(2026, 3, 14))
    page = summarise(review(reviewed(TWO_SOURCES, TWO_SOURCES).before, broken))
    for text in (summary_markdown(page), summary_html(page)):
        assert "after cannot be understood" in text
        assert "What was changed" not in text


def _hostile(raw: Raw) -> None:
    raw["vessel"]["name"] = HOSTILE
    for held in (raw["spaces"], raw["devices"], raw["loads"], raw["panels"], raw["cables"], raw["conditions"]):
        for item in held.values():
            item |= {"name": HOSTILE, "note": f"{HOSTILE}{LINK}"}
    for section in raw["panels"]["main"]["sections"].values():
        for way in section["ways"].values():
            way["label"] = HOSTILE
    for cable in raw["cables"].values():
        cable |= {"label": HOSTILE}
    _bridge(raw)
    raw["cables"]["X1"] |= {"label": HOSTILE, "name": HOSTILE}


def _hostile_page() -> Summary:
    found = reviewed(TWO_SOURCES, edited(TWO_SOURCES, _hostile))
    reason = Reason("0123456789abcdef", "2026-03-14", HOSTILE, LINK, f"{HOSTILE}\n\n{LINK}")
    return _page(review(found.before, found.after, (reason,)), dates=("", HOSTILE), title=HOSTILE)


def test_hostile_words_stay_words_in_both_forms() -> None:
    page = _hostile_page()
    html, markdown = summary_html(page), summary_markdown(page)
    read = _read(html)
    assert "script" not in read.tags
    assert "img" not in read.tags
    assert len(read.ids) == len(set(read.ids))
    for text in (html, markdown):
        assert "<script" not in text
        assert "<img" not in text
        assert "\u202e" not in text
        assert "\x1b" not in text
    assert "](javascript" not in markdown
    assert read.tags.count("svg") == 2


SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 10 10">{}</svg>'


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>",
        '<a xlink:href="javascript:alert(1)"><text>x</text></a>',
        '<image xlink:href="https://example.invalid/x.png"/>',
        "<style>* { fill: url(https://example.invalid/) }</style>",
        '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml" onclick="x()">x</p></foreignObject>',
        '<g onload="alert(1)" id="x" class="y" style="fill:url(https://example.invalid)"/>',
        '<path fill="url(#x)" d="M0 0" filter="url(#f)"/>',
        "<title>&lt;script&gt;</title>",
    ],
)
def test_only_shapes_and_letters_come_into_the_page(inside: str) -> None:
    made = str(inline(SVG.format(inside).encode(), 'words "and" <more>'))
    read = _read(made)
    assert set(read.tags) <= {"svg", "g", "path"}
    assert read.ids == []
    assert "example.invalid" not in made
    assert 'aria-label="words &quot;and&quot; &lt;more&gt;"' in made


@pytest.mark.parametrize(
    "bad",
    [b"", b"<svg", b"<p/>", SVG.replace("0 0 10 10", "x").encode(), b'<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>'],
)
def test_what_is_no_drawing_is_refused(bad: bytes) -> None:
    with pytest.raises(ValueError, match="no drawing"):
        inline(bad, "x")


@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_in_a_browser(tmp_path: Path, width: int) -> None:
    """Debian's Chromium: no script runs, nothing is asked of anybody, no error, nothing is wider than the window."""
    browser.chromium()
    (tmp_path / "page.html").write_text(summary_html(_hostile_page()), encoding="utf-8")
    # Around the page a script of ours measures it; the page itself may run none.
    (tmp_path / "frame.html").write_text(
        "<!DOCTYPE html><iframe id=f src=page.html style='width:100%;height:5000px;border:0'></iframe><script>"
        "f.onload = () => { const d = f.contentDocument; document.title = [d.title.length > 0, "
        "d.documentElement.scrollWidth <= f.clientWidth, d.querySelectorAll('svg').length, "
        "d.scripts.length].join() }</script>",
        encoding="utf-8",
    )
    asked = ["--allow-file-access-from-files", f"--window-size={width},2000", "--enable-logging=stderr", "--v=0"]
    asked += [f"--log-net-log={tmp_path / 'net.json'}", "--virtual-time-budget=3000", "--dump-dom"]
    done = browser.look(tmp_path, *asked, (tmp_path / "frame.html").as_uri())
    assert re.search(r"<title>(.*?)</title>", done.stdout, re.S) is not None
    assert "<title>true,true,2,0</title>" in done.stdout
    assert "CONSOLE" not in done.stderr, [line for line in done.stderr.split("\n") if "CONSOLE" in line]
    net = (tmp_path / "net.json").read_text(encoding="utf-8", errors="replace")
    assert "example.invalid" not in net
    assert not re.search(r'"url":"https?://(?!accounts|clients|www\.google|update)[^"]*', net)
