"""An isolation sheet as one HTML page: printable, without script, nothing fetched from anywhere."""

from __future__ import annotations

from typing import Any

from vesselspec.isolation import Sheet
from vesselspec.isolation.steps import GROUPS, PROVE
from vesselspec.report import html
from vesselspec.report.isolation import (
    CAUTIONS,
    MAY_BE_LIVE,
    NOTHING_STAYS,
    Heading,
    instead,
    needed,
    pairs,
    perhaps,
    proof,
    reaches,
    sentence,
    staying,
)


def sheet_html(heading: Heading, sheet: Sheet) -> str:
    """A sheet as a whole page."""
    title = f"Isolation sheet: {heading.place(sheet)}"
    stamp = f"{heading.vessel.about.name}. Record: {heading.state}. Made on {heading.day}. Sheet {sheet.substance}."
    return html.page("isolation.html", title=title, stamp=stamp, cautions=CAUTIONS, **sheet_content(heading, sheet))


def sheet_content(heading: Heading, sheet: Sheet) -> dict[str, Any]:
    """What the template `isolation_sheet.html` wants to know."""
    numbered = list(enumerate((step for group in GROUPS for step in sheet.steps if step.group == group), start=1))
    groups = [(group, [each for each in numbered if each[1].group == group]) for group in GROUPS]
    return {
        "heading": heading,
        "sheet": sheet,
        "groups": [(group, steps) for group, steps in groups if steps],
        "measurements": [(place, pair) for place, poles in sheet.prove for pair in pairs(poles)],
        "prove": PROVE,
        "instead": instead,
        "needed": needed,
        "may_be_live": MAY_BE_LIVE,
        "nothing_stays": NOTHING_STAYS,
        "perhaps": perhaps,
        "proof": proof,
        "reaches": reaches,
        "sentence": sentence,
        "staying": staying,
    }
