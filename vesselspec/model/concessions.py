"""What was found wrong and is accepted for a while: a concession, in the sense of ISO 9000."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import ClassVar

from vesselspec.model.forms import (
    FINGERPRINT_PATTERN,
    FINGERPRINT_SAYS,
    PLACE_PATTERN,
    PLACE_SAYS,
    Day,
    Fingerprint,
    ListOf,
    MapOf,
    Name,
    Nested,
    Pairs,
    PlaceReference,
    Position,
    Ratio,
    Text,
    Word,
    declare,
)
from vesselspec.model.items import Item


@dataclass(frozen=True, kw_only=True)
class Covered:
    """How grave a finding was when it was accepted."""

    title: ClassVar[str] = "What was accepted"

    signal_word: str = declare(
        "signal_word",
        Word(("DANGER", "WARNING", "CAUTION", "NOTICE")),
        "Signal word",
        "The finding's signal word on that day. A graver one is not accepted.",
        "WARNING",
        required=True,
    )
    measure: float | None = declare(
        "measure",
        Ratio(0, 1e9),
        "Measure",
        "How far the limit was passed on that day, as a ratio. More is not accepted.",
        1.5,
    )


@dataclass(frozen=True, kw_only=True)
class Mitigation:
    """What keeps a finding from doing harm until it is mended. What stands open or locked here is checked."""

    title: ClassVar[str] = "Mitigation"

    open: tuple[str, ...] = declare(
        "open",
        ListOf(PlaceReference(), most=20),
        "Open",
        "Ways, breakers, fuses and switches that stand open and locked, or with their fuse drawn, in every condition.",
        ["ac-main/shore/4"],
        default=(),
    )
    locked: Pairs = declare(
        "locked",
        MapOf(PLACE_PATTERN, PLACE_SAYS, Position(), 20, PlaceReference()),
        "Locked",
        "Selectors and interlocks that are locked in one position, and that position.",
        {"source-selector": "shore"},
        default=Pairs(),
    )
    measures: str | None = declare(
        "measures",
        Text(400),
        "Measures",
        "What else is done, in words; nothing in the record can check it.",
        "Warning plate at the panel; crew told.",
    )


@dataclass(frozen=True, kw_only=True)
class Concession(Item):
    """A finding that is accepted for a while: why, by whom, since when and until when."""

    title: ClassVar[str] = "Concession"

    fingerprint: str | None = declare(
        "fingerprint",
        Fingerprint(),
        "Fingerprint",
        "The one finding that is accepted, by its fingerprint in the survey's JSON.",
        "3fa94c01d27be865",
    )
    rule: str | None = declare(
        "rule", Name(), "Rule", "The rule whose findings are accepted; `items` says on what.", "cable-end-unlabelled"
    )
    items: tuple[str, ...] = declare(
        "items",
        ListOf(PlaceReference(entries=True)),
        "Items",
        "What the accepted findings are about: of each the item that it names first.",
        ["C307"],
        default=(),
    )
    reason: str = declare(
        "reason",
        Text(1000),
        "Reason",
        "Why it may stay as it is for the time being.",
        "Cable is in the headliner; to be relabelled when that comes down.",
        required=True,
    )
    accepted_by: str = declare(
        "accepted_by", Text(80), "Accepted by", "The role of whoever answers for it.", "surveyor", required=True
    )
    date: datetime.date = declare(
        "date", Day(), "Date", "The day from which it is accepted.", "2026-03-14", required=True
    )
    until: datetime.date = declare(
        "until", Day(), "Until", "The last day on which it is accepted.", "2027-03-14", required=True
    )
    mitigation: Mitigation | None = declare(
        "mitigation",
        Nested(Mitigation),
        "Mitigation",
        "What keeps it from doing harm until it is mended. What guards life can only be mitigated, never accepted.",
        {"open": ["ac-main/shore/4"], "measures": "Padlocked; key with the engineer."},
    )
    covers: Pairs = declare(
        "covers",
        MapOf(FINGERPRINT_PATTERN, FINGERPRINT_SAYS, Nested(Covered), 200),
        "Covers",
        "What it covered when it was written, by fingerprint, so that nothing more is accepted unseen.",
        {"3fa94c01d27be865": {"signal_word": "WARNING", "measure": 1.5}},
        default=Pairs(),
    )
