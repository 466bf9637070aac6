"""Giving an entry another id: in every file, in every place that refers to it, and nowhere else.

Where those places are the vocabulary says (`model/references.py`); every other byte stays. What comes out is read
again and must say what it said before but for the id, and for `formerly`, which keeps the earlier one.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vesselspec.model.forms import ID_PATTERN, ID_SAYS, Text, matches
from vesselspec.model.items import FREE, SPARE, UNTRACED
from vesselspec.model.references import PLACES, Mention, Path, Renaming, mentions
from vesselspec.model.vessel import COLLECTIONS, SHARED_IDS, Vessel, class_of
from vesselspec.record.places import Place
from vesselspec.record.rewrite import Edit, EditError, adding, applied, listing, replacing, same, text_of
from vesselspec.record.spans import SCALAR, Layout, resolved
from vesselspec.record.yaml import load

#: The fields of an entry behind which `formerly` comes, as far as they begin it.
_BEFORE_FORMERLY = ("kind", "name")


@dataclass(frozen=True)
class Renamed:
    """What came of it: the files that differ, how many references were followed, and words that say the old id."""

    files: Mapping[str, bytes]
    references: int
    #: Notes, labels and comments are the owner's words, and labels are on board: they are told and left.
    left: tuple[tuple[Place, str], ...]


def renaming(vessel: Vessel, said: str, new: str) -> Renaming:
    """What a command means by an id or address (`spaces/galley` where several are called so) and a new id.

    Raises EditError where there is no such entry, or where the new id cannot be had.
    """
    found = [(name, path) for name, path, _ in vessel.items() if said in (path, f"{name}/{path}")]
    if not found:
        raise EditError(f"There is no {said} in the record.", "Give an id, or an address such as ac-main/shore/4.")
    if len(found) > 1:
        names = " or ".join(f"{name}/{path}" for name, path in found)
        raise EditError(f"{said} can mean several entries.", f"Say {names}.")
    collection, was = found[0]
    holder = was.rpartition("/")[0]
    own = new.removeprefix(f"{holder}/") if holder else new
    if not matches(ID_PATTERN, own):
        where = f" {holder} holds it still; `vesselspec move` puts it elsewhere." if "/" in own and holder else ""
        raise EditError(f"{new} cannot be an id.{where}", f"Give {ID_SAYS}.")
    now = f"{holder}/{own}" if holder else own
    _free(vessel, collection, was, now)
    alone = collection in PLACES or not any(path == was for name, path, _ in vessel.items() if name != collection)
    return Renaming(collection, was, now, vessel.interlocks, alone)


def _free(vessel: Vessel, collection: str, was: str, now: str) -> None:
    """Raise EditError if an id is not to be had."""
    if now == was:
        raise EditError(f"It is called {now} already.", "Give another id.")
    if now in (UNTRACED, FREE, SPARE) and collection in PLACES:
        raise EditError(f"`{now}` has a meaning of its own in the record.", "Give another id.")
    together = SHARED_IDS if collection in SHARED_IDS else (collection,)
    for name, path, item in vessel.items():
        if name not in together:
            continue
        if path == now:
            raise EditError(f"There is {name}/{now} already.", "Give an id that nothing has.")
        holder = path.rpartition("/")[0]
        earlier = {f"{holder}/{each}" if holder and "/" not in each else each for each in item.formerly}
        if now in earlier and (name, path) != (collection, was):
            raise EditError(
                f"{path} was called {now} once: old drawings and the history would lead to the wrong thing.",
                "Give an id that nothing had.",
            )


def rename(files: Mapping[str, bytes], asked: Renaming) -> Renamed:
    """Rename an entry in the files of a record that can be understood. Raises EditError."""
    changed: dict[str, bytes] = {}
    left: list[tuple[Place, str]] = []
    references = 0
    for file in sorted(files):
        try:
            found = _File(file, files[file], asked)
            if found.edits:
                changed[file] = found.renamed()
        except EditError as error:
            raise EditError(f"{file}: {error.reason}", error.remedy) from None
        references += len(found.followed)
        left += saying(file, changed.get(file, files[file]), asked.was)
    return Renamed(changed, references, tuple(left))


def home(asked: Renaming) -> Path:
    """The path of the entry in the file that holds it."""
    if asked.collection == "sections":
        panel, section = asked.was.split("/")
        return "panels", panel, "sections", section
    if asked.collection == "ways":
        panel, section, way = asked.was.split("/")
        return "panels", panel, "sections", section, "ways", way
    return asked.collection, asked.was


def in_entries(data: Any) -> Iterator[tuple[Path, Mention]]:
    """Every mention in a file as written, with the path of its entry."""
    for collection in COLLECTIONS if isinstance(data, Mapping) else ():
        for key, raw in data.get(collection, {}).items():
            for mention in mentions(class_of(collection, raw), raw, key):
                yield (collection, key), mention


class _File:
    """One file: what is to be changed in it, and what is not."""

    def __init__(self, file: str, content: bytes, asked: Renaming) -> None:
        self.file, self.content, self.asked = file, content, asked
        self.data = load(content)
        #: (path, whether the key at its end) → what it becomes.
        self.followed: dict[tuple[Path, bool], str] = {}
        for entry, mention in in_entries(self.data):
            path = (*entry, *mention.path)
            if (now := asked.follow(mention)) is not None:
                self.followed[path, mention.is_key] = now
            elif taken := _taken(asked, mention):
                raise EditError(
                    f"{'/'.join(map(str, path))} says {taken}, which is not there yet and would then be.",
                    "Correct that first, or give another id.",
                )
        *holder, own = home(asked)
        held = self.data
        for step in holder:
            held = held.get(step, {}) if isinstance(held, Mapping) else {}
        self.edits = list(self._edits()) if self.followed or own in held else []

    def _edits(self) -> Iterator[Edit]:
        layout = Layout.of(text_of(self.content)[0])
        for (path, is_key), now in self.followed.items():
            node = layout.find(*path[:-1]) if is_key else layout.find(*path)
            if is_key and node is not None:
                pair = resolved(node).pair(str(path[-1]))
                node = pair[0] if pair is not None else None
            if node is not None:
                yield replacing(layout, resolved(node), now)
        *holder, own = home(self.asked)
        held = layout.find(*holder)
        pair = resolved(held).pair(str(own)) if held is not None else None
        if pair is None:
            return
        yield replacing(layout, pair[0], self.asked.now.rpartition("/")[2])
        earlier = pair[1].get("formerly")
        if earlier is not None:
            yield listing(layout, earlier, self.asked.was)
        else:
            yield adding(layout, pair, "formerly", [self.asked.was], _BEFORE_FORMERLY)

    def renamed(self) -> bytes:
        """The content with every edit made, proved."""
        new = applied(self.content, self.edits)
        *holder, own = home(self.asked)
        keys = dict(self.followed)
        keys[(*holder, own), True] = self.asked.now.rpartition("/")[2]
        wanted = _rebuilt(self.data, (), keys, tuple(home(self.asked)), self.asked.was)
        if not same(_formerly_last(load(new)), _formerly_last(wanted)):
            raise EditError(
                "The id cannot be changed without changing something else: an alias stands for both.",
                "Write the alias out, or change the id by hand.",
            )
        return new


def saying(file: str, content: bytes, word: str) -> Iterator[tuple[Place, str]]:
    """Where free text and comments say an id or address as a word, with the line."""
    pattern = re.compile(rf"(?<![A-Za-z0-9._+/&*-]){re.escape(word)}(?![A-Za-z0-9_+-]|\.[A-Za-z0-9])")
    text, _ = text_of(content)
    if pattern.search(text) is None:
        return
    layout = Layout.of(text)
    texts = [(*entry, *each.path) for entry, each in in_entries(load(content)) if isinstance(each.form, Text)]
    spoken = [node for path in texts if (node := layout.find(*path)) is not None]
    said = layout.root.walk() if layout.root is not None else ()
    scalars = [node for node in said if node.kind == SCALAR]
    for found in pattern.finditer(layout.text):
        at = found.start()
        number = bisect_right(layout.starts, at)
        begin = layout.start_of(number - 1)
        in_scalar = any(node.start <= at < node.end for node in scalars)
        told = any(node.start <= at < node.end for node in spoken) if in_scalar else "#" in layout.text[begin:at]
        if told:
            yield Place(file, number, at - begin + 1), layout.line(number - 1).strip()


def _taken(asked: Renaming, mention: Mention) -> str | None:
    """What a mention says, if it would name the entry by its new id though it names nothing now."""
    back = Renaming(asked.collection, asked.now, asked.was, asked.interlocks, asked.alone)
    return mention.said if back.follow(mention) is not None else None


def _rebuilt(node: Any, path: Path, now: Mapping[tuple[Path, bool], str], entry: Path, was: str) -> Any:
    """Data as it is to be: words followed, and the earlier id added."""
    if isinstance(node, Mapping):
        built = {
            now.get(((*path, key), True), key): _rebuilt(value, (*path, key), now, entry, was)
            for key, value in node.items()
        }
        if path == entry:
            built["formerly"] = [*node.get("formerly", ()), was]
        return built
    if isinstance(node, list):
        return [_rebuilt(value, (*path, number), now, entry, was) for number, value in enumerate(node)]
    return now.get((path, False), node)


def _formerly_last(node: Any) -> Any:
    """The same with `formerly` behind every other field: where it was put does not matter."""
    if isinstance(node, Mapping):
        ordered = sorted(node.items(), key=lambda each: each[0] == "formerly")
        return {key: _formerly_last(value) for key, value in ordered}
    return [_formerly_last(value) for value in node] if isinstance(node, list) else node
