"""Surveys and reviews in every state that there is, as other programs are told of them."""

from __future__ import annotations

from dataclasses import replace

from tests.changes.boats import ON, TWO_SOURCES, Raw, as_yaml, edited, record, reviewed, side
from vesselspec.changes import Review, review
from vesselspec.record import Place, read
from vesselspec.report.outcome import Outcome, of_problems, of_review, of_survey
from vesselspec.report.survey import subject_of
from vesselspec.rules import Boat, Survey, concede, survey
from vesselspec.rules.book import RULE_FAILED
from vesselspec.rules.findings import WARNING, Finding

FOLDER = "boats/number one"


def joined(raw: Raw) -> None:
    """A cable that joins two sources: DANGER, with a witness and positions; and an overrated device."""
    raw["cables"]["X1"] = {"from": "main/a/2", "to": "main/b/2", "size": "14 AWG", "cores": {"black": "L1"}}
    raw["panels"]["main"]["sections"]["a"]["ways"]["1"]["rating"] = "100 A"
    del raw["cables"]["C2"]["size"]


def conceded(raw: Raw) -> None:
    """The overrated device accepted, the joined sources mitigated by words."""
    base = {"reason": "Until the haul-out.", "accepted_by": "refit lead", "date": "2026-01-01", "until": "2026-12-31"}
    joined_by = {"rule": "unsynchronised-sources-joined", "items": ["X1"], "mitigation": {"measures": "Locked."}}
    raw["concessions"] = {
        "K1": {"rule": "device-above-ampacity", "items": ["main/a/1"], **base},
        "K2": {**joined_by, **base},
    }


JOINED = edited(TWO_SOURCES, joined)
CONCEDED = edited(JOINED, conceded)
_BROKEN = {"vessel.yaml": as_yaml(TWO_SOURCES), "more.yaml": b"loads:\n  lamp: {powr: 5 W}\n"}


def surveyed(raw: Raw, *, folder: str = FOLDER, fail_on: str = WARNING) -> Outcome:
    found = record(raw)
    assert found.vessel is not None, found.problems
    boat = Boat(found.vessel, found.places)
    judged = concede(boat, survey(boat), ON)
    return of_survey(subject_of(found.vessel, "work tree"), judged, boat, folder=folder, fail_on=fail_on)


def broken(files: dict[str, bytes] = _BROKEN, *, folder: str = FOLDER) -> Outcome:
    found = read(files)
    assert found.vessel is None
    return of_problems(subject_of(None, "work tree"), found.problems, folder=folder, fail_on=WARNING)


def change(found: Review, *, folder: str = FOLDER, fail_on: str = WARNING) -> Outcome:
    return of_review(found, folder=folder, fail_on=fail_on)


def crashed() -> Outcome:
    """A rule of ours that failed, with what the exception says."""
    outcome = surveyed(TWO_SOURCES)
    failed = Finding(
        RULE_FAILED, WARNING, ("voltage-drop-too-large",), Place("vessel.yaml"), "it failed (KeyError: 'x')", "", "", ""
    )
    assert outcome.boat is not None
    return of_survey(
        subject_of(outcome.boat.vessel, "x"),
        Survey((failed,), (), outcome.coverage),
        outcome.boat,
        folder=FOLDER,
        fail_on=WARNING,
    )


_BEFORE_BROKEN = review(side("main (0123456789)", read(_BROKEN)), side("work tree", record(JOINED)))
OUTCOMES: dict[str, Outcome] = {
    "survey": surveyed(JOINED),
    "survey of little": surveyed(TWO_SOURCES, folder="."),
    "survey with concessions": surveyed(CONCEDED),
    "survey that only DANGER fails": surveyed(CONCEDED, fail_on="DANGER"),
    "survey not understood": broken(),
    "survey with a crash": crashed(),
    "review": change(reviewed(TWO_SOURCES, JOINED)),
    "review of concessions": change(reviewed(JOINED, CONCEDED)),
    "review of nothing": change(reviewed(JOINED, JOINED)),
    "review after not understood": change(review(side("one", record(JOINED)), side("work tree", read(_BROKEN)))),
    "review before not understood": change(_BEFORE_BROKEN),
}


def hostile_outcome(words: list[str]) -> Outcome:
    """A boat whose names, labels and notes are these words, in a folder that is called so too."""
    name, label, by, folder = words

    def say(raw: Raw) -> None:
        raw["vessel"]["name"] = name
        raw["devices"]["shore-1"]["name"] = name
        raw["devices"]["generator-1"]["name"] = label
        raw["panels"]["main"]["name"] = name
        raw["panels"]["main"]["sections"]["a"]["ways"]["1"] |= {"label": f"Heater {label}", "name": name}
        raw["loads"]["heater"]["name"] = f"Heater {name}"
        raw["cables"]["X1"]["label"] = label
        for each in raw["concessions"].values():
            each |= {"reason": by, "accepted_by": by}
        raw["concessions"]["K2"]["mitigation"]["measures"] = by

    outcome = surveyed(edited(CONCEDED, say))
    return replace(outcome, folder=folder.replace("/", "x"))
