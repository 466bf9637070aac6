"""Photographs that the record names: whether they are there, and whether they are pictures at all."""

from __future__ import annotations

import difflib
import unicodedata
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from vesselspec.model.vessel import SHARED_IDS
from vesselspec.rules.boat import Boat
from vesselspec.rules.book import COMMON_PRACTICE, Open, Says, Sound, rule
from vesselspec.rules.findings import NOTICE, At

#: Ends of the names of picture files that common programs show.
PICTURES = (".avif", ".bmp", ".gif", ".heic", ".heif", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".webp")
#: Collections whose ids tell themselves apart; an entry of another is named with its collection.
NAMED_ALONE = (*SHARED_IDS, "ways", "sections", "conditions")
_MOST_NAMED = 6


@dataclass(frozen=True)
class Named:
    """A photograph as one entry names it."""

    item: str
    at: At
    path: str

    @property
    def folder(self) -> str:
        """The folder that it should lie in, empty for the vessel's own."""
        return self.path.rpartition("/")[0]

    @property
    def is_picture(self) -> bool:
        """Whether the name is one that a photograph can have: of a picture, and not of a hidden file."""
        parts = self.path.split("/")
        hidden = any(not part or part.startswith(".") for part in parts)
        return not hidden and self.path.casefold().endswith(PICTURES)


def named(boat: Boat) -> Iterator[Named]:
    """Every photograph that an entry names. The record's form has refused paths that lead out of the folder."""
    for collection, path, item in boat.vessel.items():
        for number, photo in enumerate(item.photos):
            said = path if collection in NAMED_ALONE else f"{collection}/{path}"
            yield Named(said, At(collection, path, ("photos", number)), unicodedata.normalize("NFC", photo))


@rule(
    "photograph-missing",
    NOTICE,
    title="A photograph that the record names is not there",
    why="Whoever wants to see what is behind a cover before opening it finds nothing, and opens it live.",
    remedy="Put the picture where the record says, and commit it with the record; or take its name out.",
    source="this program",
    needs="nothing more than `photos`, and the files beside the record",
)
def missing(boat: Boat) -> Iterator[Says | Sound | Open]:
    """Names without a file. Where a folder holds none of all that are named in it, the folder is what is missing."""
    wanted: dict[str, list[Named]] = defaultdict(list)
    for each in named(boat):
        if boat.names is None:
            yield Open(each.item)
        elif each.path in boat.names:
            yield Sound(each.item)
        elif each.is_picture:
            wanted[each.path].append(each)
    folders: dict[str, list[Named]] = defaultdict(list)
    for every in wanted.values():
        folders[every[0].folder].extend(every)
    for folder, every in folders.items():
        paths = list(dict.fromkeys(each.path for each in every))
        held = any(name.startswith(f"{folder}/") for name in boat.names or ())
        if folder and len(paths) > 1 and not held:
            yield _says(every, f"{folder}/", f"none of the {len(paths)} photographs in {folder}/ is there; they are")
        else:
            for path in paths:
                near = difflib.get_close_matches(path, boat.names or (), n=1, cutoff=0.8)
                yield _says(wanted[path], path, f"the photograph {path} is not there; it is", near[0] if near else "")


def _says(every: list[Named], group: str, what: str, near: str = "") -> Says:
    items = tuple(dict.fromkeys(each.item for each in every))
    shown = ", ".join(items[:_MOST_NAMED]) + (f" and {len(items) - _MOST_NAMED} more" if items[_MOST_NAMED:] else "")
    return Says(
        items=items,
        at=every[0].at,
        what=f"{what} named by {shown}",
        remedy=f"Did you mean `{near}`?" if near else None,
        group=(group,),
        culprits=items,
    )


@rule(
    "photograph-is-no-picture",
    NOTICE,
    title="What the record names as a photograph is no picture",
    why="A book, a page or a viewer leaves it out, or opens something else than a picture.",
    remedy="Name a picture file (" + ", ".join(ending[1:] for ending in PICTURES) + ") in the vessel's folder that is "
    "not hidden; put what else is to be said into `note`.",
    source=COMMON_PRACTICE,
    needs="nothing more than `photos`",
)
def no_picture(boat: Boat) -> Iterator[Says | Sound]:
    """Names of text, of hidden files and of folders. Only the name is looked at, never what is in the file."""
    for each in named(boat):
        if each.is_picture:
            yield Sound(each.item)
        else:
            yield Says(
                items=(each.item,),
                at=each.at,
                what=f"{each.item} names {each.path} as a photograph, which is no picture file in the vessel's folder",
                arguments=(each.path,),
            )
