"""What every page of the book shares: one style, one script, and a policy under which nothing else can run or load.

Both stand in the page itself and are allowed by their hash, so that a page opens from a folder in any browser.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from markupsafe import Markup

from vesselspec.book.contents import Book
from vesselspec.book.names import SINGLE, address_of, anchor_of, page_of
from vesselspec.report import html
from vesselspec.report.terminal import CAUTIONS, conceded_words, one_line

_HERE = Path(__file__).parent / "templates"
#: What the pages are called in the list that stands on each of them, and what they tell.
CONTENTS = (
    ("glance", "The boat at a glance", "systems, sources, what is open"),
    ("new", "What is new", "what changed since your copy"),
    ("sources", "Sources and systems", "what supplies the boat, and what feeds what"),
    ("panels", "Panels", "every way of every panel, its diagram and its isolation sheet"),
    ("cables", "Cable schedule", "every cable, with its ends, cores and labels"),
    ("equipment", "Equipment schedule", "every device and load"),
    ("conditions", "Operating conditions", "what runs, how switches stand, what each source carries"),
    ("cards", "Load cards", "what can run together on each source"),
    ("energy", "Batteries through a day", "whether they last"),
    ("deficiencies", "Deficiencies and concessions", "what is wrong, why it matters, what is accepted until when"),
    ("unknowns", "What to find out", "what nobody has recorded, to tick off on board"),
    ("history", "History", "who changed what, when and why"),
    ("glossary", "Words", "what the words in this book mean"),
)
NAMES = {kind: name for kind, name, _ in CONTENTS}


@cache
def _file(name: str) -> str:
    return (_HERE / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"


def _css_text(said: str) -> str:
    """Words as a string of a style sheet: whatever is not plain is written as its number."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in " .,:()-") else f"\\{ord(c):x} " for c in one_line(said))
    return f'"{plain}"'


@dataclass(frozen=True)
class Look:
    """How the pages of one book are made."""

    book: Book
    stamp: str
    style: str
    script: str

    @staticmethod
    def of(book: Book) -> Look:
        """The look of a book: its style sheet prints vessel, revision and caution on every sheet of paper."""
        foot = f"{book.vessel.about.name}. Record: {book.state}. {' '.join(CAUTIONS)}"
        style = _file("book.css") + f"@page {{ @bottom-left {{ content: {_css_text(foot)}; }} }}\n"
        return Look(book, f"Record: {book.state}.", style, _file("book.js"))

    @property
    def policy(self) -> str:
        """The pages' own style, script and photographs; nothing else, and nothing from anywhere else."""
        # A style stands on a line of its own in its element.
        style, script = _hash("\n" + self.style), _hash(self.script)
        return (
            f"default-src 'none'; style-src {style}; script-src {script}; img-src 'self' file:; "
            "base-uri 'none'; form-action 'none'"
        )

    def page(
        self,
        template: str,
        kind: str,
        title: str,
        *,
        id: str = "",
        cautions: tuple[str, ...] = CAUTIONS,
        live: dict[str, Any] | None = None,
        **content: Any,
    ) -> tuple[str, bytes]:
        """A page's name and content. `id`: of which it is, where there is one of each."""
        name = page_of(kind, id)
        root = "../" * name.count("/")
        under = {"panel": "panels", "isolation": "panels", "card": "cards"}.get(kind, kind)
        made = html.page(
            template,
            package="vesselspec.book",
            title=title,
            policy=self.policy,
            cautions=cautions,
            stamp=self.stamp,
            style=Markup(self.style),  # noqa: S704 - files of our own, and a string that `_css_text` has made
            script=Markup(self.script),  # noqa: S704
            live_table=_json(live) if live else "",
            root=root,
            revision=self.book.revision,
            vessel_name=self.book.vessel.about.name,
            contents=[(each, NAMES[each], each == under) for each in self.kinds],
            ref=self.reference(root),
            url=page_of,
            anchor=anchor_of,
            address=lambda place: address_of(self.book.vessel, place),
            conceded_words=conceded_words,
            lives=self.book.lives,
            new_prints=self.book.since.fingerprints if self.book.since is not None else frozenset(),
            **content,
        )
        return name, made.encode()

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of page that this book has one of."""
        return tuple(each for each in SINGLE if each != "new" or self.book.since is not None)

    def reference(self, root: str) -> Callable[..., Markup]:
        """How a place is written on a page: by its name, as a link where the book has an entry for it."""
        vessel = self.book.vessel

        def ref(place: str, said: str = "") -> Markup:
            words = html.text(said or (vessel.name_of(place) if place else ""))
            address = address_of(vessel, place) if place else ""
            # Both are escaped: an address is made of safe names alone.
            return Markup(f'<a href="{root}{address}">{words}</a>' if address else words)  # noqa: S704

        return ref


def _json(data: dict[str, Any]) -> Markup:
    """Data for the script. No text in it can end the element that holds it."""
    written = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
    return Markup(written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))  # noqa: S704
