"""The words that the summary of a change has in Markdown and in HTML alike."""

from __future__ import annotations

from collections.abc import Iterator

from vesselspec.changes.openings import Isolation
from vesselspec.report.summary_content import Done

DO_NOT = "Do not energise before these are mended"
CHANGED = "What was changed, and where to find it"
WHY = "Why"
OPENS = "Different for anyone who opens"
CHECKS = "To check and relabel on board"
NO_CHECKS = "Nothing on board is different."
PICTURES = "Pictures of what was touched"
LOADS = "Loads and protection, before and after"


def where(done: Done) -> str:
    """Where something is found on board: spaces, panels with ways, labels of cables."""
    parts = [f"in: {', '.join(done.spaces)}"] if done.spaces else []
    parts += [f"at: {'; '.join(done.ways)}"] if done.ways else []
    parts += [f"cable label: {', '.join(done.labels)}"] if done.labels else []
    return "; ".join(parts)


def potential(gained: tuple[str, ...], lost: tuple[str, ...]) -> str:
    """What can be live at a place now, and what no longer."""
    now = f"can now be live from {', '.join(gained)}" if gained else ""
    gone = f"can no longer be live from {', '.join(lost)}" if lost else ""
    return " and ".join(filter(None, (now, gone)))


def isolation_lines(isolation: Isolation) -> Iterator[str]:
    """How making a panel dead differs, a line each."""
    if isolation.left_out:
        yield "not compared, for too many panels changed at once: make every sheet anew"
    if isolation.refused_now and isolation.refused_now != isolation.refused_before:
        when = "still cannot declare it dead" if isolation.refused_before else "cannot declare it dead any more"
        yield f"the record {when}: {'; '.join(isolation.refused_now)}"
    elif isolation.refused_before and not isolation.refused_now:
        yield "the record can declare it dead now, which it could not before"
    for part in isolation.parts:
        if part.gained:
            yield f"{part.title}: now also {', '.join(part.gained)}"
        if part.lost:
            yield f"{part.title}: no longer {', '.join(part.lost)}"


def alarms(cell: str) -> bool:
    """Whether a cell of a table says that something is too much or open, so that the eye must stop there."""
    return cell.startswith("OVER ") or cell.endswith((": not protected", ": cannot judge"))
