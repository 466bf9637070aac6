"""The book on paper: one document of all pages, whose links and page numbers lead where they say."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from tests.book.boats import hostile
from tests.book.html_pages import Read
from tests.browser import browser
from vesselspec.book.printed import printed
from vesselspec.cli.main import run

PAGES = {
    "index.html": b"<main><h1>At a glance</h1><a href='panel/x.html#way'>way</a> <a href='#top'>up</a><p id=top>t</p>"
    b"<a href='https://example.org/'>out</a><script>1</script></main>",
    "panel/x.html": b"<nav><a href='../index.html'>nav</a></nav><main><h1>Panel &amp; <i>x</i></h1>"
    b"<p id='way'>w</p><img src='../photo/p.jpg' alt='p'><svg viewBox='0 0 1 1'><defs><clipPath id='c'/></defs>"
    b"<g clip-path='url(#c)'/><use href='#c'/><a href='../index.html#top'><text>t</text></a></svg>"
    b"<a href='../../outside.html'>no</a><a href='gone.html'>no</a></main>",
    "photo/p.jpg": b"",
}


def test_links_lead_within_the_document() -> None:
    numbers = {"leaf-panel-x": 7, "leaf-panel-x--way": 8, "leaf-index": 3, "leaf-index--top": 3}
    made = printed(PAGES, title="Book", stamp="Record", paper="A4", numbers=numbers)
    read = Read(made.encode())
    ids = Counter(read.ids)
    assert max(ids.values()) == 1
    inside = [link for link in read.links if link]
    assert all(link.removeprefix("#") in ids for link in inside), inside
    assert "#leaf-panel-x--way" in inside
    assert read.loads == ["photo/p.jpg", "#leaf-panel-x--c"], "the photograph from the book's own folder"
    assert 'clip-path="url(#leaf-panel-x--c)"' in made
    assert "example.org" not in made, "paper leads nowhere else"
    assert "<script" not in made
    assert "nav" not in "".join(read.text)
    words = " ".join("".join(read.text).split())
    assert "way p. 8" in words.replace("\xa0", " ") or "p.&nbsp;8" in made
    assert "Panel & x" in words


def test_no_name_becomes_markup(tmp_path: Path) -> None:
    out = tmp_path / "book"
    assert run(["handover", str(hostile(tmp_path)), "--out", str(out)]) == 0
    files = {path.relative_to(out).as_posix(): path.read_bytes() for path in sorted(out.rglob("*.html"))}
    made = Read(printed(files, title="<script>", stamp="<b>", paper="A4", numbers={}).encode())
    assert "script" not in made.tags
    assert made.handlers == ["style"] * len(made.handlers), "no attribute that runs"
    targets = set(made.ids)
    assert {link[1:] for link in made.links if link} <= targets


def test_the_numbers_in_the_contents_are_those_of_the_pages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Printed by a browser, read by another library: every leaf begins where the contents say."""
    import pypdf

    browser.chromium()
    boat = Path(__file__).parents[1] / "data/european"
    out = tmp_path / "book"
    assert run(["handover", str(boat), "--out", str(out), "--pdf", "a4"]) == 0
    reader = pypdf.PdfReader(out / "book.pdf")
    texts = [" ".join(page.extract_text().split()) for page in reader.pages]
    sizes = {tuple(sorted((round(page.mediabox.width), round(page.mediabox.height)))) for page in reader.pages}
    assert sizes == {(595, 842)}, "A4, upright or lying"
    contents = " ".join(texts[:2])
    listed = re.findall(
        r"(Isolation sheet: [^0-9]+?|Cable schedule|Glossary|Equipment schedule|History) (\d+)(?= |$)", contents
    )
    assert len(listed) > 4, contents
    for title, number in listed:
        assert title in texts[int(number) - 1], (title, number)
        lies = reader.pages[int(number) - 1].mediabox.width > 800
        assert lies == title.endswith("schedule"), f"{title}: wide tables lie, and nothing else does"
    assert all("prove dead" in text for text in texts), "every page carries the caution"
    destinations = set(reader.named_destinations)
    for page in reader.pages:
        for note in page.get("/Annots") or ():
            link = note.get_object()
            assert "/A" not in link or link["/A"].get("/S") != "/URI", link
            if "/Dest" in link and isinstance(link["/Dest"], str):
                assert link["/Dest"] in destinations
    assert reader.outline, "a reader of the file can jump"


def test_what_does_not_come_to_rest_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from vesselspec.cli import printing
    from vesselspec.revisions import RevisionError

    count = iter(range(100))
    monkeypatch.setattr(printing, "to_pdf", lambda page, beside=None, *, draft=False: b"")
    monkeypatch.setattr("vesselspec.book.printed.numbers_of", lambda pdf: {"leaf-index": next(count)})
    with pytest.raises(RevisionError, match="come to rest"):
        printing.book_to_pdf(PAGES, title="Book", stamp="Record", paper="A4")
