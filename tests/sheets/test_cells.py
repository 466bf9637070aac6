"""Every field of both lists goes into a cell and comes back; what is unknown stays so."""

from __future__ import annotations

import csv
import datetime
import io
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.model.devices import Receptacles
from vesselspec.model.forms import ListOf, Pole, Ratio, Reference, Text, specs
from vesselspec.model.items import Cable
from vesselspec.sheets.amounts import CellError
from vesselspec.sheets.cells import read, write
from vesselspec.sheets.fields import COLUMNS, HEADINGS, KINDS, column
from vesselspec.sheets.guard import guarded, held, unguarded
from vesselspec.sheets.mapping import plain, proposed
from vesselspec.sheets.table import Broken

#: Fields that no list has: pictures, and what is told in several columns.
_ELSEWHERE = {"photos", "evidence", "labels", "label"}
FIELDS = [(cls, spec) for cls in (Receptacles, Cable) for _, spec in specs(cls)]


@pytest.mark.parametrize(("cls", "spec"), FIELDS, ids=lambda each: getattr(each, "key", getattr(each, "__name__", "")))
def test_every_field_has_a_column_and_comes_back(cls: type, spec: Any) -> None:
    kind = "loads" if cls is Receptacles else "cables"
    if spec.key not in _ELSEWHERE:
        assert column(kind, spec.key).form == spec.form
    if spec.key == "photos":
        return
    cell = write(spec.form, spec.example)
    raw = list(spec.example) if isinstance(spec.example, list | tuple) else spec.example
    assert read(spec.form, cell) == raw


@pytest.mark.parametrize("kind", KINDS)
def test_our_own_headings_are_understood_as_what_they_are(kind: str) -> None:
    for each in COLUMNS[kind]:
        if each.exported:
            assert proposed(kind, 1, each.title).key == each.key, each.title


@pytest.mark.parametrize("kind", KINDS)
def test_headings_are_written_as_they_are_looked_up(kind: str) -> None:
    known = HEADINGS[kind]
    for heading in (*known.known, *known.refused):
        assert plain(heading) == heading
    assert not known.known.keys() & known.refused.keys()
    for each in known.known.values():
        column(kind, each.key)


@pytest.mark.parametrize("said", ["", "?", "n/a", "N/A", "TBD", " - ", "—", "unknown", None])
@pytest.mark.parametrize("key", ["power", "space", "poles", "motor", "sockets", "name"])
def test_unknown_stays_unknown(said: str | None, key: str) -> None:
    assert read(column("loads", key).form, said) is None


def test_words_of_people() -> None:
    assert read(column("loads", "motor").form, "Y") is True
    assert read(column("loads", "motor").form, False) is False
    assert read(ListOf(Pole(), most=5), "L1/L2/N") == ["L1", "L2", "N"]
    assert read(ListOf(Pole(), most=5), "l1, n") == ["L1", "N"]
    assert read(column("loads", "use").form, "Water Heating") == "water-heating"
    assert read(Ratio(0.05, 1), "80 %") == 0.8
    assert read(column("loads", "evidence.when").form, datetime.datetime(2026, 3, 14)) == "2026-03-14"
    assert read(column("cables", "label").form, "none") == "none"


@pytest.mark.parametrize(
    ("key", "said", "why"),
    [
        ("motor", "maybe", "yes or no"),
        ("poles", "2", "expected"),
        ("sockets", "2.5", "from 1 to 100"),
        ("power_factor", "7", "from 0.05 to 1"),
        ("duty", "sometimes", "continuous, intermittent"),
        ("power", "{L1-N: 5}", "not written as in the record|record can hold|expected"),
        ("power", "L1-N: [", "not written as in the record"),
        ("power", datetime.date(2026, 1, 2), "date"),
        ("power", True, "yes or no"),
        ("power", Broken("it holds the error #REF!"), "#REF!"),
        ("evidence.when", "03/04/2026", "YYYY"),
        ("evidence.when", "2026-02-30", "day is out of range"),
        ("name", "x" * 200, "120 characters"),
    ],
)
def test_what_is_none_of_it_is_told(key: str, said: Any, why: str) -> None:
    with pytest.raises(CellError, match=why):
        read(column("loads", key).form, said, "W" if key == "power" else None)


@settings(max_examples=100)
@given(st.text(max_size=30))
def test_a_guarded_cell_is_no_formula_and_comes_back(said: str) -> None:
    safe = guarded(held(said))
    assert unguarded(safe) == held(said)
    assert safe.lstrip()[:1] not in ("=", "+", "-", "@") or safe.startswith("'")
    assert safe[:1] not in ("\t", "\r", "\n")
    out = io.StringIO(newline="")
    csv.writer(out).writerow([safe])
    assert [*csv.reader(io.StringIO(out.getvalue(), newline=""))][0:1] in ([[safe]], [[]] if not safe else [[safe]])


@settings(max_examples=60)
@given(st.dictionaries(st.text(min_size=1, max_size=8), st.text(max_size=12), min_size=1, max_size=3))
def test_a_mapping_in_a_cell_is_read_as_it_was(said: dict[str, str]) -> None:
    from vesselspec.record.yaml import YamlError, load
    from vesselspec.sheets.cells import spoken

    try:
        assert load(f"{{{spoken(said)}}}".encode()) == said
    except (YamlError, UnicodeEncodeError):
        assert not all(each.isprintable() for pair in said.items() for each in pair)


def test_references_keep_their_letters() -> None:
    assert read(Reference(("spaces",)), " engine-room ") == "engine-room"
    assert read(Text(10), 12) == "12"
    assert read(Text(10), 12.0) == "12"
