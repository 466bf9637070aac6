"""Names of pages: safe on every file system, never shared, the same tomorrow."""

from __future__ import annotations

import re

from hypothesis import example, given
from hypothesis import strategies as st

from vesselspec.book.names import page_of, safe

_IDS = st.text("AaBbCON.+_-19", min_size=1, max_size=70)


def test_plain_ids_are_their_own_names() -> None:
    """Labels on board lead to these: they are a contract."""
    assert page_of("panel", "ac-main") == "panel/ac-main.html"
    assert page_of("isolation", "ac-main") == "isolation/ac-main.html"
    assert page_of("card", "shore-1") == "card/shore-1.html"
    assert page_of("glance") == "index.html"
    assert page_of("panel", "AC.Main") == "panel/ac-main_808f473876.html"


@given(st.sets(_IDS, min_size=2, max_size=20))
@example({"con", "CON", "Con", "aux", "com1", "nul.html"})
@example({"a" * 64, "a" * 63 + "b", "A" * 64})
@example({"a_b", "a+b", "a.b", "a-b"})
@example({"C1", "c1", "c1_4b6fcb2d52"})
def test_no_two_ids_share_a_name_and_every_name_is_safe(ids: set[str]) -> None:
    names = [safe(each) for each in ids]
    assert len({name.casefold() for name in names}) == len(ids)
    for name in names:
        assert re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,60}", name)
        assert name not in ("con", "prn", "aux", "nul", "com1", "lpt1")


@given(st.text(max_size=300))
def test_whatever_a_photograph_is_called_stays_in_its_folder(path: str) -> None:
    assert re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,60}", safe(path))
