"""Names of conductor colours, and which colours each practice gives to each function."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Final

from vesselspec.standards.figures import figures

PRACTICES: Final = ("north-american", "international")
FUNCTIONS: Final = (
    "ac-line-1",
    "ac-line-2",
    "ac-line-3",
    "ac-neutral",
    "protective",
    "dc-positive",
    "dc-negative",
    "bonding",
)


@dataclass(frozen=True)
class Colour:
    """A plain colour: the value it is drawn in (sRGB, ours), and other words for it."""

    hex: str
    alternatives: tuple[str, ...] = ()


COLOURS: Final[Mapping[str, Colour]] = MappingProxyType(
    {
        "black": Colour("#1a1a1a"),
        "brown": Colour("#7b4a21"),
        "red": Colour("#d01c1c"),
        "orange": Colour("#f07d00"),
        "yellow": Colour("#f5d000"),
        "green": Colour("#1e8a3c"),
        "light green": Colour("#8fd694"),
        "blue": Colour("#1f5fbf"),
        "light blue": Colour("#7cc4ee"),
        "dark blue": Colour("#12306b"),
        "purple": Colour("#7a3ea1", ("violet",)),
        "grey": Colour("#8c8c8c", ("gray",)),
        "dark grey": Colour("#5a5a5a", ("dark gray",)),
        "white": Colour("#ffffff"),
        "pink": Colour("#f29bb7"),
        "turquoise": Colour("#2fb5b0"),
        "tan": Colour("#cfae7e"),
        "bare": Colour("#b87840", ("bare copper", "uninsulated")),
    }
)
"""The plain colours, by the name the record uses. A striped insulation is named base-stripe: 'black-red'."""

PROTECTIVE: Final = "green-yellow"
"""The two-colour insulation, named the same whichever of the two is written first."""


def normalise_colour(text: str) -> str | None:
    """The record's name of a colour: 'Green with yellow stripe' → 'green-yellow', 'gray' → 'grey'.

    Capitals and repeated spaces do not matter. Returns None for what is no colour, or not one known here.
    """
    words = re.sub(r"\b(light|dark)[-\s]+", r"\1 ", " ".join(text.lower().split()))
    plain = _names().get(words)
    if plain:
        return plain
    striped = re.fullmatch(r"(.+?)(?:-and-| and |-with-| with | ?/ ?|-)(.+?)(?: (?:stripes?|tracer))?", words)
    if not striped:
        return None
    base, stripe = _names().get(striped[1]), _names().get(striped[2])
    if base is None or stripe is None or base == stripe or "bare" in (base, stripe):
        return None
    return PROTECTIVE if {base, stripe} == {"green", "yellow"} else f"{base}-{stripe}"


def insulation_hex(colour: str) -> tuple[str, ...]:
    """sRGB values to draw an insulation in: one, or base and stripe. Raises KeyError for an unknown name."""
    return tuple(COLOURS[part].hex for part in colour.split("-"))


@dataclass(frozen=True)
class ColourRule:
    """Colours that a practice gives to a function, with their source.

    `source` says which standard gives which colours where there are several. `from_memory`: no copy of the
    source was read for at least one of the colours.
    """

    colours: tuple[str, ...]
    source: str
    from_memory: bool


@cache
def allowed_colours(practice: str, function: str, *, only_line: bool = False) -> ColourRule:
    """Colours of a conductor by practice (PRACTICES) and function (FUNCTIONS).

    The North American table tells lines apart within a cable: the first is black or brown, further ones have
    other colours. `only_line=True` says that the conductor is the only line in its cable, which adds the
    colours of a first line whichever line feeds it.

    DC positive, north-american, takes in the colours of particular circuits (lights, pumps, ignition …), not
    those of gauge senders, which are signals, nor of trim motors, which reverse; grey and blue are read as
    the dark shades in the table. International AC is the union of IEC 60445 and the small-craft standard,
    international DC is the small-craft standard alone.
    Raises ValueError for an unknown practice or function.
    """
    if practice not in PRACTICES:
        raise ValueError(f"unknown practice {practice!r}; expected one of {', '.join(PRACTICES)}")
    if function not in FUNCTIONS:
        raise ValueError(f"unknown function {function!r}; expected one of {', '.join(FUNCTIONS)}")
    colours: dict[str, None] = {}  # an ordered set
    sources: list[str] = []
    from_memory = False
    for table in figures("colours").values():
        given: dict[str, None] = {}
        for row in table.data.get("rows", ()):
            if table.data["practice"] == practice and _serves(row, function, only_line):
                given |= dict.fromkeys(row["colours"] + row.get("also", ()))
                from_memory |= row.get("from_memory", table.from_memory)
        if given:
            sources.append(f"{table.source} ({', '.join(given)})")
            colours |= given
    if len(sources) == 1:
        sources = [sources[0].rpartition(" (")[0]]
    return ColourRule(tuple(colours), "; ".join(sources), from_memory)


def _serves(row: Mapping[str, Any], function: str, only_line: bool) -> bool:
    return function in row.get("used_as", ()) or (only_line and function in row.get("alone_as", ()))


@cache
def _names() -> Mapping[str, str]:
    return {word: name for name, colour in COLOURS.items() for word in (name, *colour.alternatives)}
