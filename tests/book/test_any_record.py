"""Whatever a record holds, if it can be understood it has a book in which every link leads somewhere."""

from __future__ import annotations

import datetime

from hypothesis import HealthCheck, given, settings

from tests.changes.boats import Raw, record, spoilt
from vesselspec.book.contents import Book
from vesselspec.book.pages import pages_of
from vesselspec.rules import Boat, concede, survey

from .html_pages import Read, broken_links

_DAY = datetime.date(2026, 6, 1)


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(raw=spoilt())
def test_any_record_has_a_book(raw: Raw) -> None:
    found = record(raw)
    if found.vessel is None:
        return
    boat = Boat(found.vessel, found.places)
    files = pages_of(Book(boat, concede(boat, survey(boat), _DAY), "main of 2026-06-01", _DAY))
    pages = {name: Read(content) for name, content in files.items()}
    assert broken_links(pages, set(files)) == []
    for page in pages.values():
        assert len(page.ids) == len(set(page.ids))
