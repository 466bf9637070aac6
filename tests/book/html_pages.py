"""Pages read as a browser reads them: what is linked, what is there to be linked to, what would run or load."""

from __future__ import annotations

import base64
import hashlib
import posixpath
from html.parser import HTMLParser
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "example_vessel"


class Read(HTMLParser):
    """One page."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.loads: list[str] = []
        self.handlers: list[str] = []
        self.headings: list[int] = []
        self.styles: list[str] = []
        self.scripts: list[str] = []
        self.policy = ""
        self.text: list[str] = []
        self._in = ""
        self.feed(page.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._in = tag
        found = dict(attrs)
        if tag == "meta" and found.get("http-equiv"):
            self.policy = found["content"] or ""
        if tag == "script" and found.get("type") == "application/json":
            self._in = "data"
        if len(tag) == 2 and tag[0] == "h" and tag[1].isdigit():
            self.headings.append(int(tag[1]))
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            elif name == "href" and tag == "a":
                self.links.append(value or "")
            elif name in ("src", "href", "srcset", "data", "action"):
                self.loads.append(value or "")
            elif name.startswith("on") or name == "style":
                self.handlers.append(name)

    def handle_endtag(self, tag: str) -> None:
        self._in = ""

    def handle_data(self, data: str) -> None:
        {"style": self.styles, "script": self.scripts}.get(self._in, self.text).append(data)


def broken_links(pages: dict[str, Read], files: set[str]) -> list[str]:
    """Links that lead nowhere, or out of the book."""
    found = []
    for name, page in pages.items():
        for link in (*page.links, *page.loads):
            target, _, anchor = link.partition("#")
            at = posixpath.normpath(posixpath.join(posixpath.dirname(name), target)) if target else name
            if ":" in target or target.startswith(("/", "\\")) or at not in files:
                found.append(f"{name}: {link}")
            elif anchor and anchor not in pages[at].ids:
                found.append(f"{name}: {link} (no such anchor)")
    return found


def hash_of(text: str) -> str:
    """As a policy writes it."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
