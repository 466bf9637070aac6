"""How a core is drawn: in the colour of its insulation, so that it can be told on white paper too."""

from __future__ import annotations

from typing import Final

from vesselspec.standards.colours import insulation_hex, normalise_colour

CASING: Final = "#000000"
UNKNOWN: Final = "#808080"
_PALE: Final = 0.55


def ink(colour: str) -> str:
    """The colour list of a core's line for the layout engine."""
    return ":".join(strands(colour))


def strands(colour: str) -> tuple[str, ...]:
    """The colours of a core's line, side by side: base, stripe, base, in a dark casing where it is pale."""
    known = normalise_colour(colour)
    if known is None:
        return (UNKNOWN,)
    base, *stripe = insulation_hex(known)
    found = [base, *stripe, base] if stripe else [base]
    if any(_brightness(strand) > _PALE for strand in found):
        found = [CASING, *found, CASING]
    return tuple(found)


def is_known(colour: str) -> bool:
    """Whether a colour is one that can be drawn."""
    return normalise_colour(colour) is not None


def _brightness(strand: str) -> float:
    red, green, blue = (int(strand[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return 0.3 * red + 0.59 * green + 0.11 * blue
