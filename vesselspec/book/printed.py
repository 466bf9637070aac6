"""The book as one page to print: every leaf in order, links as references to pages of the paper.

A browser lays it out; which leaf begins on which page is read from what it printed, and the page is made again with
those numbers until they hold (`numbers_of`, `printed`).
"""

from __future__ import annotations

import io
import posixpath
import re
from collections.abc import Mapping
from html import escape
from html.parser import HTMLParser

from markupsafe import Markup

from vesselspec.report import html

#: Elements that HTML closes by itself.
_VOID = frozenset(
    ["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"]
)
#: Attributes that name ids of the same document; several in one, apart by blanks.
_NAMING = frozenset(("aria-controls", "aria-describedby", "aria-labelledby", "for", "headers", "id", "list"))
_LOCAL_URL = re.compile(r"url\(#([^)]*)\)")
#: Stands for a page's number until it is known; as wide as most.
_NOT_YET = "00"


def printed(files: Mapping[str, bytes], *, title: str, stamp: str, paper: str, numbers: Mapping[str, int]) -> str:
    """The book as one page. `files` are the book's, in its order; `numbers` say on which page a leaf or anchor is.

    `paper` is A4 or letter, as style sheets call it.
    """
    pages = [name for name in files if name.endswith(".html")]
    leaves = []
    for name in pages:
        leaf = _Leaf(name, frozenset(pages), numbers)
        leaf.feed(files[name].decode())
        leaf.close()
        number = numbers.get(_place(name), _NOT_YET)
        leaves.append({"id": _place(name), "title": leaf.title, "number": number, "body": Markup("".join(leaf.out))})  # noqa: S704
    style = _style(files[pages[0]].decode()) if pages else ""
    return html.page(
        "printed.html",
        title=title,
        policy="default-src 'none'; style-src 'unsafe-inline'; img-src 'self' file:",
        package="vesselspec.book",
        stamp=stamp,
        paper=paper,
        style=Markup(style),  # noqa: S704 - the book's own
        leaves=leaves,
    )


def numbers_of(pdf: bytes) -> dict[str, int]:
    """On which page of a printed book each leaf and anchor is, from 1."""
    from pypdf import PdfReader  # noqa: PLC0415 - slow, and only the printed book needs it

    reader = PdfReader(io.BytesIO(pdf))
    found = {}
    for name, destination in reader.named_destinations.items():
        number = reader.get_destination_page_number(destination)
        if number is not None:
            found[name.removeprefix("/")] = number + 1
    return found


def _place(name: str, anchor: str = "") -> str:
    """The id of a leaf, or of an anchor on it, in the printed book."""
    leaf = "leaf-" + name.removesuffix(".html").replace("/", "-")
    return f"{leaf}--{anchor}" if anchor else leaf


def _style(page: str) -> str:
    found = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    return found[1] if found else ""


class _Leaf(HTMLParser):
    """What stands in the `main` of a page, with its ids and links made fit for a document of all pages."""

    def __init__(self, name: str, pages: frozenset[str], numbers: Mapping[str, int]) -> None:
        super().__init__(convert_charrefs=False)
        self.name, self.pages, self.numbers = name, pages, numbers
        # What is on the same leaf needs no number; a cable is found in its schedule by its id, as they stand in order.
        self._unnumbered = (f"{_place(name)}--", f"{_place('cables.html')}--")
        self.out: list[str] = []
        self.title = ""
        self._main = self._svg = self._script = 0
        self._heading = False
        self._links: list[str] = []

    # --- what the parser finds

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "main":
            self._main += 1
        elif self._main:
            self._script += tag == "script"
            self._svg += tag == "svg"
            self._heading = self._heading or (tag == "h1" and not self.title)
            self._emit(f"<{tag}{self._attributes(tag, attrs)}>")
            if tag == "a":
                self._links.append(self._target(dict(attrs).get("href") or "")[0])

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self._main:
            self._emit(f"<{tag}{self._attributes(tag, attrs)}{'' if tag in _VOID else '/'}>")

    def handle_endtag(self, tag: str) -> None:
        if tag == "main":
            self._main -= 1
        if not self._main:
            return
        if tag not in _VOID:
            self._emit(f"</{tag}>")
        self._script -= tag == "script"
        self._svg -= tag == "svg"
        self._heading = self._heading and tag != "h1"
        if tag == "a" and self._links:
            target = self._links.pop()
            if target and not self._svg and not target.startswith(self._unnumbered):
                leaf = target.partition("--")[0]
                number = self.numbers.get(target) or self.numbers.get(leaf) or _NOT_YET
                self._emit(f'<span class="page-ref"> p.&nbsp;{number}</span>')

    def handle_data(self, data: str) -> None:
        self._text(data)

    def handle_entityref(self, name: str) -> None:
        self._text(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self._text(f"&#{name};")

    # --- what becomes of it

    def _emit(self, text: str) -> None:
        if self._main and not self._script:
            self.out.append(text)

    def _text(self, text: str) -> None:
        if self._heading:
            self.title += text
        self._emit(text)

    def _attributes(self, tag: str, attrs: list[tuple[str, str | None]]) -> str:
        said = []
        for key, value in attrs:
            made = self._attribute(tag, key, value or "")
            if made is not None:
                said.append(f' {key}="{escape(made, quote=True)}"')
        return "".join(said)

    def _attribute(self, tag: str, key: str, value: str) -> str | None:
        if key in _NAMING:
            return " ".join(_place(self.name, each) for each in value.split())
        if key in ("href", "xlink:href"):
            if tag != "a":
                return f"#{_place(self.name, value[1:])}" if value.startswith("#") else None
            target = self._target(value)[0]
            return f"#{target}" if target else None
        if key == "src":
            return self._target(value)[1] or None
        return _LOCAL_URL.sub(lambda found: f"url(#{_place(self.name, found[1])})", value)

    def _target(self, link: str) -> tuple[str, str]:
        """The place of a link in the printed book, if it leads into the book, and its path from the book's folder."""
        path, _, anchor = link.partition("#")
        if ":" in path or path.startswith("/") or "?" in path:
            return "", ""
        at = posixpath.normpath(posixpath.join(posixpath.dirname(self.name), path)) if path else self.name
        if at.startswith(".."):
            return "", ""
        return (_place(at, anchor) if at in self.pages else ""), at
