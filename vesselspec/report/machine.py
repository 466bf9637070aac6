"""The forms in which other programs take a survey or a review, beside JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from vesselspec.report.annotations import workflow_commands
from vesselspec.report.json import dumps
from vesselspec.report.junit import junit
from vesselspec.report.outcome import Outcome
from vesselspec.report.sarif import sarif


def _sarif(outcome: Outcome) -> str:
    return dumps(sarif(outcome))


FORMS: dict[str, Callable[[Outcome], str]] = {"sarif": _sarif, "annotations": workflow_commands, "junit": junit}
#: The end of a file's name for each form.
SUFFIXES = {"sarif": "sarif", "annotations": "annotations.txt", "junit": "junit.xml"}


def texts(outcome: Outcome, wanted: Iterable[str]) -> dict[str, str]:
    """The wanted forms."""
    return {form: FORMS[form](outcome) for form in wanted}


def files(kind: str, texts: Mapping[str, str]) -> dict[str, bytes]:
    """The texts as files, such as `survey.sarif`."""
    return {f"{kind}.{SUFFIXES[form]}": text.encode() for form, text in texts.items()}
