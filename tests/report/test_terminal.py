"""Reports for a terminal: nothing that it would obey, and nothing cut or out of line at any width."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.changes.boats import REFERRING, TWO_SOURCES, Raw, edited, record, reviewed, side
from vesselspec.changes import Review, review
from vesselspec.cli.common import put
from vesselspec.record import read
from vesselspec.report import review as report
from vesselspec.report import survey as survey_report
from vesselspec.report.expansion import expand, expansion_text
from vesselspec.report.json import dumps
from vesselspec.report.review_json import review_json
from vesselspec.report.terminal import Page, clean, one_line

from .hostile import hostile

WIDTHS = range(40, 121, 8)
_OBEYED = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\U000e0000-\U000e007f]"
)


def _everything(raw: Raw) -> None:
    """A change with all kinds of effects and findings."""
    raw["cables"]["X1"] = {"from": "main/a/2", "to": "main/b/2", "size": "18 AWG", "cores": {"black": "L1"}}
    raw["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "100 A"
    raw["conditions"]["quiet"]["demand"] = {"heater": 1, "fridge": 1}
    raw["loads"]["heater"]["power"] = "9 kW"


CHANGES: dict[str, Review] = {
    "everything": reviewed(TWO_SOURCES, edited(TWO_SOURCES, _everything)),
    "another boat": reviewed(TWO_SOURCES, REFERRING),
    "not understood": review(side("one", read({"vessel.yaml": b"cables: 12\n"})), side("two", record(REFERRING))),
    "nothing": reviewed(TWO_SOURCES, TWO_SOURCES),
}


def _text(found: Review, width: int) -> str:
    return report.review_text(Page(width=width, colour=False), found, full=True)


def _words(text: str) -> set[str]:
    return {word.strip(",:;") for word in text.split()} - {""}


@pytest.mark.parametrize("name", CHANGES)
def test_no_width_cuts_a_word(name: str) -> None:
    """Every word is one of the widest page's, and a line is too long only where it is a single word."""
    wide = _words(_text(CHANGES[name], 4000))
    for width in WIDTHS:
        text = _text(CHANGES[name], width)
        assert text.endswith("\n")
        # A table that is too wide becomes a list, which has its own few words between the cells.
        assert _words(text) - wide <= {"rating", "margin", "before", "after", "both", "quiet", "source", "condition"}
        for line in text.split("\n"):
            assert line == line.rstrip()
            if len(line) > width:
                said = re.sub(r"^\s*([•?→-]|[0-9]+\.|(Why|Remedy|Source):)?\s*", "", line)
                assert " " not in said, (width, line)


@pytest.mark.parametrize("name", CHANGES)
def test_surveys_and_expansions_keep_to_the_width_too(name: str) -> None:
    side_ = CHANGES[name].after
    assert side_.boat is not None
    subject = survey_report.subject_of(side_.boat.vessel, side_.name)
    for width in WIDTHS:
        texts = [survey_report.survey_text(Page(width=width, colour=False), subject, side_.survey, full=True)]
        for item in side_.boat.vessel.cables:
            found = expand(side_.boat, item)
            assert found is not None
            texts.append(expansion_text(Page(width=width, colour=False), found))
        for line in "".join(texts).split("\n"):
            said = re.sub(r"^\s*([•?→-]|[0-9]+\.|(Why|Remedy|Source):)?\s*", "", line)
            assert len(line) <= width or " " not in said, (width, line)


def test_columns_of_a_table_stand_below_their_heads() -> None:
    lines = _text(CHANGES["everything"], 120).split("\n")
    start = lines.index("Load on the sources") + 1
    table = lines[start : lines.index("", start)]
    assert len(table) > 3
    columns = [found.start() for found in re.finditer(r"(?<=  )\S", table[0])]
    assert len(columns) == len(report.SOURCE_HEAD)
    for row in table[1:]:
        for column in columns:
            assert row[column] != " ", row
            assert row[column - 2 : column] == "  ", row


def test_a_table_too_wide_for_the_page_becomes_a_list_with_every_figure() -> None:
    wide, narrow = (_text(CHANGES["everything"], width) for width in (120, 40))
    section = "Load on the sources"
    parts = [" ".join(text.split(section)[1].split("\n\n")[0].split()) for text in (wide, narrow)]
    figures = [re.findall(r"[0-9.]+ A", part) for part in parts]
    assert len(figures[0]) > 6
    assert figures[0] == figures[1]
    assert " L1: before " in parts[1]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_the_signal_word_stands_first_and_in_letters(width: int) -> None:
    for colour in (False, True):
        text = report.review_text(Page(width=width, colour=colour), CHANGES["everything"], full=False)
        bare = re.sub(r"\x1b\[[0-9;]*m", "", text)
        heads = re.findall(r"^\[? ?(DANGER|WARNING|CAUTION|NOTICE) ?\]? \S+", bare, re.M)
        assert len(heads) == len(CHANGES["everything"].new)
        assert ("\x1b[" in text) is colour


@settings(max_examples=60, deadline=None)
@given(words=st.lists(hostile(), min_size=3, max_size=3), width=st.integers(40, 120))
def test_no_text_of_a_record_reaches_the_terminal_as_more_than_text(words: list[str], width: int) -> None:
    name, label, note = words

    def say(raw: Raw) -> None:
        _everything(raw)
        raw["vessel"]["name"] = name
        raw["loads"]["heater"] |= {"name": name, "note": note}
        raw["panels"]["main"]["sections"]["a"]["ways"]["1"]["label"] = label
        raw["cables"]["X1"] |= {"label": label, "note": note}

    found = review(side(name, record(TWO_SOURCES)), side(label, record(edited(TWO_SOURCES, say))))
    texts = [_text(found, width)]
    assert found.after.boat is not None
    subject = survey_report.subject_of(found.after.boat.vessel, name)
    texts.append(survey_report.survey_text(Page(width=width, colour=False), subject, found.after.survey, full=True))
    expanded = expand(found.after.boat, "X1")
    assert expanded is not None
    texts.append(expansion_text(Page(width=width, colour=False), expanded))
    bad = read({"vessel.yaml": b"cables: 12\n", f"{label}.yaml": b"x: 1\n"})
    texts.append(survey_report.problems_text(Page(width=width, colour=False), subject, bad.problems))
    texts.append(_text(review(side(name, bad), side(label, bad)), width))
    for text in texts:
        assert not _OBEYED.search(text)
    # JSON goes to terminals as well, and says the same with escapes.
    data = review_json(found)
    assert not _OBEYED.search(dumps(data))


@given(hostile())
def test_a_cleaned_text_keeps_what_can_be_seen(text: str) -> None:
    assert not _OBEYED.search(clean(text))
    assert "\n" not in one_line(text)
    assert clean("plain text, é, Ω and 20 °C") == "plain text, é, Ω and 20 °C"


def test_a_line_break_in_a_file_name_begins_no_line() -> None:
    bad = read({"vessel.yaml": b"", "a\n[DANGER] b.yaml": b"x: 1\n"})
    text = survey_report.problems_text(Page(width=80, colour=False), survey_report.subject_of(None, "x"), bad.problems)
    assert "\n[DANGER]" not in text


@pytest.mark.parametrize(
    "name", ["::error::x", "##[error]x", "a ::stop-commands::x", "a\n::add-mask::x", "\u00a0::debug::"]
)
def test_no_width_makes_a_command_of_a_hosted_ci(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Such a host obeys a line that begins with two colons, blanks aside, and an older form anywhere in a line."""
    found = findings_text(name)
    for width in WIDTHS:
        page = Page(width=width, colour=False)
        page.wrapped(found, first="    ")
        put(page.text())
        put(dumps({"said": found}))
        said = capsys.readouterr().out
        assert not re.search(r"^\s*::|##\[", said, re.MULTILINE)
        assert json.loads(said[said.index("{") :]) == {"said": found}
    put("::notice title=x::y\n", commands=True)
    assert capsys.readouterr().out == "::notice title=x::y\n"


def findings_text(name: str) -> str:
    return f"cable {name} with a long name {'word ' * 12}{name} and {name}"
