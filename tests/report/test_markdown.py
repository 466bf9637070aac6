"""No text of a record or a commit message becomes markup."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.changes.boats import TWO_SOURCES, Raw, as_yaml, edited, record, side
from vesselspec.changes import Reason, Review, review
from vesselspec.record import Places, Record, read
from vesselspec.report.markdown import code, escape
from vesselspec.report.review import review_markdown
from vesselspec.report.summary import summary_markdown
from vesselspec.report.summary_content import Picture, summarise
from vesselspec.report.survey import subject_of, survey_markdown

from .hostile import hostile, skeleton


def _read_back(escaped: str) -> str:
    """What a reader sees of escaped text: escapes and references taken back, as CommonMark 0.31 says in 2.4, 2.5."""
    return html.unescape(re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", escaped))


@given(hostile())
def test_escaped_text_is_one_line_without_markup(text: str) -> None:
    ((_, live),) = skeleton("- " + escape(text))
    assert live == ""


@given(st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), max_size=40))
def test_what_is_escaped_reads_as_it_was_written(text: str) -> None:
    assert _read_back(escape(text)) == " ".join(text.split())


@given(hostile())
@example("`x")
@example("x``y`")
def test_code_is_one_span_with_the_text_as_it_is(text: str) -> None:
    ((_, live),) = skeleton("- " + code(text))
    assert live == "`"
    fence = re.match("`+", code(text))
    assert fence is not None
    assert code(text).count(fence[0] + "`") == 0


@pytest.mark.parametrize(
    ("text", "escaped"),
    [
        ("main/a/1 (Heater)", "main/a/1 \\(Heater\\)"),
        ("1. first", "1\\. first"),
        ("2026. A year", "2026\\. A year"),
        ("C104-a", "C104-a"),
        ("<b>", "&lt;b&gt;"),
        ("a|b", "a\\|b"),
        ("www.x.example", "www&#46;x.example"),
        ("x@y.example", "x&#64;y.example"),
        ("DC+ of bank-1", "DC\\+ of bank-1"),
    ],
)
def test_plain_words_stay_readable(text: str, escaped: str) -> None:
    assert escape(text) == escaped


def _hostile_boats(words: list[str]) -> tuple[Raw, Raw]:
    """Every text that a record can hold is one of the words; the change touches all of them.

    Labels are told apart by a word of their own, so that what the rules say does not hang on which words are equal.
    """
    name, label, note, by, cable = words

    def say(raw: Raw) -> None:
        raw["vessel"] |= {"name": name, "note": note}
        raw["spaces"]["saloon"]["name"] = name
        raw["devices"]["shore-1"] |= {"name": name, "note": note, "evidence": {"how": "traced", "by": by}}
        raw["devices"]["generator-1"] |= {"name": label, "auto_start_lockout": note}
        raw["panels"]["main"]["name"] = name
        raw["panels"]["main"]["sections"]["a"]["ways"]["1"] |= {
            "label": f"{label} way",
            "name": name,
            "rating": "100 A",
        }
        raw["panels"]["main"]["sections"]["a"]["ways"]["2"] |= {"label": f"{label} too", "spare": False}
        raw["loads"]["heater"] |= {"name": name, "note": note, "power": "9 kW"}
        raw["cables"]["C1"] |= {
            "label": cable,
            "note": note,
            "size": "12 AWG",
            "evidence": {"how": "traced", "by": by},
        }
        raw["cables"]["C2"]["labels"] = {"from": f"{cable} near", "to": f"{label} far"}
        raw["cables"]["link"] = {
            "from": "main/a/2", "to": "main/b/2", "size": "14 AWG", "label": f"by {cable}", "name": name, "note": note,
            "cores": {"black": {"from": "L1", "to": "L1", "colour": label[:40]}}, "joints": [{"note": note}],
        }  # fmt: skip
        del raw["loads"]["pump"], raw["cables"]["D1"], raw["conditions"]["both"]["demand"]["pump"]

    before = edited(TWO_SOURCES, lambda raw: raw["loads"]["pump"].update({"name": label, "note": note}))
    return before, edited(TWO_SOURCES, say)


def _review(words: list[str], subject: str, body: str, author: str) -> Review:
    before, after = _hostile_boats(words)
    reasons = (Reason("0123456789abcdef", "2026-03-14", author, subject, body),)
    return review(side(subject, record(before)), side(author, record(after)), reasons)


def _relabelled(words: list[str]) -> Review:
    """The same boat with another label: nothing grave is new, so that labels are on the list to tick."""
    _, boat = _hostile_boats(words)
    again = edited(boat, lambda raw: raw["cables"]["link"].update({"label": f"new {words[4]}"}))
    return review(side("before", record(boat)), side("after", record(again)), ())


_WORDS = st.lists(hostile(70), min_size=5, max_size=5)
_PLAIN = _review(["x"] * 5, "x", "x", "x")


def _summary(found: Review) -> str:
    touched = ", ".join(change.id for change in found.changes)
    pictures = (Picture(title, f"{title}: {touched}", f"{title}.svg") for title in ("Before", "After"))
    return summary_markdown(summarise(found, pictures, dates=("", found.after.name), title=found.before.name))


def test_the_plain_pages_have_what_the_hostile_ones_are_compared_with() -> None:
    """Guard of the tests below: findings, tables, ticks, names, notes and labels are all on the page."""
    page = _summary(_PLAIN)
    assert {"DANGER", "WARNING"} <= {finding.signal_word for finding in _PLAIN.new}
    assert page.count("\n| ") > 8
    assert page.count("- [ ] ") > 8
    assert page.count("“x”") > 3
    assert _summary(_relabelled(["x"] * 5)).count("label “new x” at") == 1


@settings(max_examples=40, deadline=None)
@given(words=_WORDS, subject=hostile(), author=hostile())
def test_no_text_of_record_or_commit_becomes_markup(words: list[str], subject: str, author: str) -> None:
    found = _review(words, subject, "x", author)
    for page in (review_markdown, _summary):
        assert skeleton(page(found)) == skeleton(page(_PLAIN))
    assert skeleton(_summary(_relabelled(words))) == skeleton(_summary(_relabelled(["x"] * 5)))
    one, two = (
        survey_markdown(subject_of(each.after.record.vessel, each.after.name), each.after.survey)
        for each in (found, _PLAIN)
    )
    assert skeleton(one) == skeleton(two)


_SUMMARY = summarise(_PLAIN)
_SIDES = (side("x", Record(None, Places(), ())), side("x", Record(None, Places(), ())))


@settings(max_examples=60, deadline=None)
@given(body=st.lists(hostile(200), max_size=4).map("\n\n".join))
def test_a_commit_body_makes_paragraphs_and_nothing_else(body: str) -> None:
    def told(said: str) -> list[tuple[str, str]]:
        reasons = (replace(_PLAIN.reasons[0], body=said),)
        return skeleton(summary_markdown(replace(_SUMMARY, why=summarise(Review(*_SIDES, reasons)).why)))

    page, plain = told(body), told("")
    more = [line for line in page if line not in (("", ""), ("  ", ""))]
    assert more == [line for line in plain if line != ("", "")]


@settings(max_examples=40, deadline=None)
@given(text=hostile(), file=hostile())
def test_a_record_that_cannot_be_understood_is_told_without_markup(text: str, file: str) -> None:
    def broken(name: str, value: str) -> str:
        raw = edited(TWO_SOURCES, lambda each: each["loads"]["heater"].update({"power": value, value: 1}))
        found = read({"vessel.yaml": as_yaml(raw), f"{name}.yaml": b"nothing: known"})
        assert found.vessel is None
        bad = review(side("x", found), side(name, found))
        return review_markdown(bad) + _summary(bad)

    assert skeleton(broken(file, text)) == skeleton(broken("x", "x"))
