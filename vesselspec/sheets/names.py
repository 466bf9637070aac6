"""What a list calls things, and which entries of the record they are. Nothing is guessed: one meaning, or none."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping

from vesselspec.model.items import UNTRACED
from vesselspec.model.vessel import Vessel
from vesselspec.sheets.amounts import CellError

PLACES = "places"
_LONGEST_ID = 64
_MOST_ASKED = 200


class Names:
    """The names of a vessel's entries. `coming` are the ids and names of loads that the same list brings."""

    def __init__(self, vessel: Vessel, coming: Mapping[str, str] | None = None) -> None:
        self._vessel = vessel
        self._asked = 0
        self._exact: dict[str, set[str]] = {PLACES: set()}
        self._called: dict[str, dict[str, set[str]]] = {PLACES: {}}
        for name in ("spaces", "systems", "devices", "panels", "loads", "cable_types", "bundles"):
            for key, entry in vessel.collection(name).items():
                self._add(name, key, key, entry.name)
                if name in ("devices", "panels", "loads"):
                    self._add(PLACES, key, key, entry.name, *entry.formerly)
        self._coming = {plain(name): key for key, name in (coming or {}).items()}
        self._exact.setdefault("loads", set()).update(coming or {})
        self._add_sides()
        self._add_ways()

    def _add(self, collection: str, key: str, *names: str | None) -> None:
        self._exact.setdefault(collection, set()).add(key)
        for name in names:
            if name is not None and (said := plain(name)):
                self._called.setdefault(collection, {}).setdefault(said, set()).add(key)

    def _add_sides(self) -> None:
        for device in (*self._vessel.devices.values(), *self._vessel.loads.values()):
            for side in device.sides(self._vessel.systems):
                if side.name:
                    names = (f"{each} {side.name}" for each in (device.id, device.name) if each)
                    self._add(PLACES, f"{device.id}/{side.name}", *names)

    def _add_ways(self) -> None:
        for panel in self._vessel.panels.values():
            for section in panel.sections:
                for head in filter(None, (panel.id, panel.name)):
                    names = (f"{head} {each}" for each in (section.id, section.name) if each)
                    self._add(PLACES, f"{panel.id}/{section.id}", *names)
                    for way in section.ways:
                        address = f"{panel.id}/{section.id}/{way.id}"
                        self._add(PLACES, address, f"{head} {section.id} {way.id}", f"{head} {way.id}", *way.formerly)

    def entry(self, collections: Iterable[str], text: str) -> str:
        """The id or address that a text means. Raises CellError: nothing of that name, or several."""
        text = text.strip()
        collections = tuple(collections)
        if any(text in self._exact.get(each, ()) for each in collections):
            return text
        if collections == (PLACES,) and text == UNTRACED:
            return text
        found = sorted({key for each in collections for key in self._called.get(each, {}).get(plain(text), ())})
        if not found and "loads" in collections and plain(text) in self._coming:
            return self._coming[plain(text)]
        if not found and collections == ("systems",):
            found = self._of_voltage(text)
        if len(found) == 1:
            return found[0]
        if found:
            raise CellError(f"it may be {' or '.join(found[:4])}")
        known = sorted(key for each in collections for key in self._exact.get(each, ()))
        near = self._near(text, known)
        what = " or ".join(each.removesuffix("s").replace("_", " ") for each in collections)
        raise CellError(f"the record has no such {what}" + (f"; did the list mean {near}?" if near else ""))

    def _of_voltage(self, text: str) -> list[str]:
        """The systems whose nominal voltage a list writes, such as `12` or `120/240 V`: one is what it means."""
        said = re.fullmatch(r"([0-9.]+(?:/[0-9.]+)?) ?[Vv]?", text)
        systems = self._vessel.systems.items() if said is not None else ()
        return [key for key, each in systems if said is not None and each.voltage.text.split()[0] == said[1]]

    def called(self, collection: str, name: str) -> str | None:
        """The one entry of a collection that has this name, however it is spelt."""
        found = self._called.get(collection, {}).get(plain(name), set())
        return next(iter(found)) if len(found) == 1 else None

    def _near(self, text: str, known: list[str]) -> str | None:
        """What the list may have meant; a list that means nothing here does not get to ask for ever."""
        self._asked += 1
        if self._asked > _MOST_ASKED or len(text) > _LONGEST_ID:
            return None
        return next(iter(difflib.get_close_matches(text, known, n=1)), None)


def slug(name: str, *, keep_case: bool = False) -> str:
    """The id that a name gives; the same name always gives the same. Empty where it cannot be put in Latin letters."""
    flat = unicodedata.normalize("NFKD", name.replace("ß", "ss").replace("æ", "ae").replace("ø", "o"))
    if any(char.isalpha() and not char.isascii() for char in flat):
        return ""  # half a name is another name
    text = "".join(char for char in flat if char.isascii() and char not in "'")
    allowed = "._+-" if keep_case else ""
    text = text if keep_case else text.lower()
    words = "".join(char if char.isalnum() or char in allowed else " " for char in text).split()
    return "-".join(words).strip("._+-")[:_LONGEST_ID].rstrip("._+-")


def plain(text: str) -> str:
    """A name without what people write in several ways: capitals, blanks, signs."""
    return "".join(char for char in unicodedata.normalize("NFKC", text).casefold() if char.isalnum())
