"""The bytes of a list to the grid that it is in, whatever program wrote it."""

from __future__ import annotations

from vesselspec.sheets.mapping import score
from vesselspec.sheets.table import Grid, SheetError
from vesselspec.sheets.text import read_text
from vesselspec.sheets.workbook import read_workbook

MOST_BYTES = 16 * 1024 * 1024


def read_list(kind: str, name: str, content: bytes, sheet: str | None = None) -> Grid:
    """The sheet of a file that holds a list of this kind. Raises SheetError."""
    if len(content) > MOST_BYTES:
        raise SheetError(f"{name}: more than {MOST_BYTES // 2**20} MB.", "Save only the list.")
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise SheetError(f"{name}: an old or encrypted workbook.", "Save it as .xlsx without a password, or as CSV.")
    if not content.startswith(b"PK"):
        if sheet is not None:
            raise SheetError(f"{name}: text has no sheets.", "Leave --sheet out.")
        return read_text(name, content)
    grids = read_workbook(name, content)
    titles = [each.name.removeprefix(f"{name}[").removesuffix("]") for each in grids]
    if sheet is not None:
        if len(grids) == 1 or sheet not in titles:
            if len(grids) == 1:
                return grids[0]
            raise SheetError(f"{name}: it has no sheet {sheet!r}.", f"Sheets: {', '.join(titles)}.")
        return grids[titles.index(sheet)]
    scores = [score(kind, each) for each in grids]
    best = max(scores, default=0)
    if scores.count(best) != 1:
        found = "several sheets of it look" if best else "no sheet of it looks"
        raise SheetError(
            f"{name}: {found} like a list of {kind}.",
            f"Choose one: --sheet {titles[0] if titles else 'NAME'!r}. Sheets: {', '.join(titles)}.",
        )
    return grids[scores.index(best)]
