"""Drawings of a vessel's electrical system: overview, panels, and the surroundings of a change."""

from vesselspec.draw.neighbourhood import neighbourhood
from vesselspec.draw.overview import overview, overview_sheets
from vesselspec.draw.panels import panel_sheet, panel_sheets
from vesselspec.draw.render import LayoutFailed, LayoutMissing, render
from vesselspec.draw.schematic import Schematic, panel_schematics
from vesselspec.draw.sheet import CAUTION, Sheet

__all__ = [
    "CAUTION",
    "LayoutFailed",
    "LayoutMissing",
    "Schematic",
    "Sheet",
    "neighbourhood",
    "overview",
    "overview_sheets",
    "panel_schematics",
    "panel_sheet",
    "panel_sheets",
    "render",
]
