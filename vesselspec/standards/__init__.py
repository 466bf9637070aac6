"""Published tables and limits, each with its source; nothing of ours beneath this package."""

from vesselspec.standards.colours import (
    COLOURS,
    FUNCTIONS,
    PRACTICES,
    PROTECTIVE,
    Colour,
    ColourRule,
    allowed_colours,
    insulation_hex,
    normalise_colour,
)
from vesselspec.standards.earth import EarthLimit, earth_by_device, earth_by_line_awg, earth_by_line_mm2
from vesselspec.standards.figures import SUBJECTS, Figure, abroad, cited, figure, figures
from vesselspec.standards.ratings import Ratings, protective_conductor_awg, standard_ratings

__all__ = [
    "COLOURS",
    "FUNCTIONS",
    "PRACTICES",
    "PROTECTIVE",
    "SUBJECTS",
    "Colour",
    "ColourRule",
    "EarthLimit",
    "Figure",
    "Ratings",
    "abroad",
    "allowed_colours",
    "cited",
    "earth_by_device",
    "earth_by_line_awg",
    "earth_by_line_mm2",
    "figure",
    "figures",
    "insulation_hex",
    "normalise_colour",
    "protective_conductor_awg",
    "standard_ratings",
]
