"""Where everything stands in the book: page names and anchors, stable from one revision to the next.

`page_of(kind, id)` is the one function that names a page; a label's code or another program may rely on it.
"""

from __future__ import annotations

import hashlib
import re

from vesselspec.model.vessel import Vessel

#: Pages that there is one of, in the order of the book.
SINGLE = {
    "glance": "index.html",
    "new": "new.html",
    "sources": "sources.html",
    "panels": "panels.html",
    "cables": "cables.html",
    "equipment": "equipment.html",
    "conditions": "conditions.html",
    "cards": "cards.html",
    "energy": "energy.html",
    "deficiencies": "deficiencies.html",
    "unknowns": "unknowns.html",
    "history": "history.html",
    "glossary": "glossary.html",
}
#: Pages that there is one of for each panel or source: the folder that they are in.
OF_EACH = ("panel", "isolation", "card")
#: Folder of the photographs.
PHOTOS = "photo"

_PLAIN = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
_OTHER = re.compile(r"[^a-z0-9]+")
#: Names that no file may have on Windows, whatever its ending.
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}


def safe(id: str) -> str:
    """An id or address as a file name or anchor: small letters, digits, `-`; no two ids share one.

    What is not such a name already gets `_` and ten digits of its hash, and no plain name holds `_`: ids that differ
    in case alone, in signs, or after many letters stay apart on every file system.
    """
    if _PLAIN.fullmatch(id) and id not in _RESERVED:
        return id
    digest = hashlib.sha256(id.encode("utf-8", "surrogatepass")).hexdigest()[:10]
    readable = _OTHER.sub("-", id.lower()).strip("-")[:40].strip("-")
    return f"{readable or 'x'}_{digest}"


def page_of(kind: str, id: str = "") -> str:
    """The page of a kind (of `SINGLE`, or of `OF_EACH` with an id), relative to the book's folder."""
    if kind in OF_EACH:
        return f"{kind}/{safe(id)}.html"
    return SINGLE[kind]


def anchor_of(kind: str, id: str) -> str:
    """The anchor of an entry on its page; kinds keep an id that means several things apart."""
    return f"{kind}-{safe(id)}"


def address_of(vessel: Vessel, place: str) -> str:
    """Page and anchor of whatever an id, address or terminal means; empty where the book has no entry for it."""
    at = place.partition(":")[0]
    head = at.split("/", 1)[0]
    if at in vessel.ways or at in vessel.sections:
        return f"{page_of('panel', head)}#{anchor_of('place', at)}"
    if head in vessel.panels:
        return page_of("panel", head)
    if head in vessel.cables:
        return f"{page_of('cables')}#{anchor_of('cable', head)}"
    if head in vessel.devices or head in vessel.loads:
        return f"{page_of('equipment')}#{anchor_of('item', head)}"
    if at in vessel.conditions:
        return f"{page_of('conditions')}#{anchor_of('condition', at)}"
    return ""
