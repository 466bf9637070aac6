"""Pages: whatever the record says stays text."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vesselspec.report import html
from vesselspec.report.blocks import Bullets, Heading, Paragraph, Table, as_html
from vesselspec.report.terminal import one_line


class _Read(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def _read(page: str) -> _Read:
    found = _Read()
    found.feed(page)
    found.close()
    return found


@given(
    st.text(max_size=60) | st.sampled_from(("</style><script>alert(1)</script>", '" onload="x', "{{ 7 * 7 }}", "<!--"))
)
def test_no_text_of_a_record_becomes_markup(said: str) -> None:
    def made(text: str) -> _Read:
        return _read(as_html(text, [Heading(text), Paragraph(text), Bullets((text,)), Table((text,), ((text,),))]))

    found, plain = made(said), made("plain")
    assert found.tags == plain.tags
    assert [name for name in found.attributes if name != "class"] == [n for n in plain.attributes if n != "class"]
    assert not said.strip() or one_line(said).strip() in " ".join(found.texts)


def test_a_page_loads_nothing_and_runs_nothing() -> None:
    page = as_html("Title", [])
    assert "default-src" in page
    assert "script" not in _read(page).tags


def test_a_name_that_a_template_lacks_is_an_error() -> None:
    from jinja2 import UndefinedError

    with pytest.raises(UndefinedError):
        html.page("isolation.html", title="Title")
