"""Small parts that several pages of the book are made of."""

from __future__ import annotations

from markupsafe import Markup

from vesselspec.book.contents import Book, Told, Visit
from vesselspec.book.facts import said_by
from vesselspec.book.loading import Bar
from vesselspec.book.names import PHOTOS, safe
from vesselspec.book.photos import Photo
from vesselspec.model.devices import Device
from vesselspec.model.items import Item
from vesselspec.rules.findings import SIGNAL_WORDS

#: What a source is chosen by, of all that it says.
_RATINGS = ("Rating", "Apparent power", "Capacity", "Power")


def photo_file(photo: Photo) -> str:
    """Where a photograph lies in the book."""
    return f"{PHOTOS}/{safe(photo.path)}.jpg"


def photos_of(book: Book, item: Item, caption: str) -> list[tuple[Photo, str, str]]:
    """The photographs of an entry, each with what it is of and its file; none where it cannot be shown."""
    found = [book.photos.get(path) or Photo(path, problem="it was not found") for path in item.photos]
    return [(each, caption, "" if each.problem else photo_file(each)) for each in found]


def rating_of(device: Device) -> str:
    """What a source can give, in a few words."""
    facts = dict(said_by(device))
    return ", ".join(facts[title] for title in _RATINGS if title in facts)


def findings_counted(book: Book, panel: str) -> str:
    """The findings of a panel that count, by signal word."""
    words = [each.signal_word for each in book.findings_of[panel] if not each.accepted]
    return ", ".join(f"{words.count(word)} {word}" for word in SIGNAL_WORDS if word in words) or "none"


def visits_at(book: Book, panel: str) -> list[tuple[Visit, list[Told]]]:
    """What was done to a panel, newest first."""
    found = [(visit, [each for each in visit.told if panel in each.panels]) for visit in book.visits]
    return [each for each in found if each[1]]


def bar_svg(bar: Bar) -> Markup:
    """A bar as long as the share of its rating; the rating is the line at five sixths, so that an excess shows."""
    share = min(bar.share or 0.0, 1.2)
    inside, beyond = min(share, 1.0) * 100, max(share - 1.0, 0.0) * 100
    more = f'<rect class="beyond" x="100" y="1" width="{beyond:.1f}" height="8"/>' if beyond else ""
    # Figures alone.
    return Markup(  # noqa: S704
        '<svg class="bar" viewBox="0 0 122 10" aria-hidden="true" focusable="false">'
        f'<rect class="room" x="0" y="1" width="100" height="8"/><rect class="used" x="0" y="1" width="{inside:.1f}" '
        f'height="8"/>{more}<line class="limit" x1="100" y1="0" x2="100" y2="10"/></svg>'
    )
