"""Graphical symbols, drawn by us after the meanings that IEC 60617 publishes (from memory; the legend names each).

Each is a drawing of 24 by 24 units around the origin, joined at (-12, 0) and where it passes current on at (12, 0).
Everything is strokes in the colour of the text around it, so that it prints in black and white as it looks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from vesselspec.model.devices import Device, Load


@dataclass(frozen=True)
class Symbol:
    """A symbol: what the legend calls it, and its strokes."""

    id: str
    says: str
    strokes: str


def _line(*points: float) -> str:
    return (
        f'<path d="M{points[0]:g} {points[1]:g}'
        + "".join(f"L{points[at]:g} {points[at + 1]:g}" for at in range(2, len(points), 2))
        + '"/>'
    )


def _letters(text: str, y: float = 3.6, size: float = 10) -> str:
    return f'<text x="0" y="{y:g}" font-size="{size:g}" text-anchor="middle" stroke="none" fill="#000">{text}</text>'


_CIRCLE = '<circle r="9.5" fill="#fff"/>'
_BOX = '<rect x="-11" y="-9" width="22" height="18" fill="#fff"/>'
_LEADS = _line(-12, 0, -6, 0) + _line(7, 0, 12, 0)
_BLADE = _line(-6, 0, 6, -6.5)
_CROSS = _line(4.5, -2.5, 9.5, 2.5) + _line(4.5, 2.5, 9.5, -2.5)
_SLANT = _line(-11, 9, 11, -9)


def _ac(x: float, y: float) -> str:
    return f'<path d="M{x:g} {y:g}q1.8 -3.6 3.6 0t3.6 0"/>'


def _dc(x: float, y: float) -> str:
    return _line(x, y - 1.4, x + 7, y - 1.4) + f'<path d="M{x:g} {y + 1.4:g}h7" stroke-dasharray="1.8 0.8"/>'


def _converter(from_: str, to: str) -> str:
    return _BOX + _SLANT + from_ + to


_ALL: Final = (
    Symbol("breaker", "circuit breaker", _LEADS + _BLADE + _CROSS),
    Symbol("fuse", "fuse", '<rect x="-9" y="-4" width="18" height="8" fill="#fff"/>' + _line(-12, 0, 12, 0)),
    Symbol("switch", "switch", _LEADS + _BLADE + '<circle cx="7" cy="0" r="1.6" fill="#fff"/>'),
    Symbol(
        "residual-current-switch",
        "switch that opens on leakage to earth",
        _LEADS + _BLADE + _CROSS + '<ellipse cx="9" cy="0" rx="2" ry="5.5"/>',
    ),
    Symbol("blank", "blank position", _line(-12, -8, 12, 8)),
    Symbol(
        "selector",
        "selector",
        _line(-12, 0, -5, 0)
        + _line(-5, 0, 6, -6)
        + "".join(f'<circle cx="7.5" cy="{y}" r="1.6" fill="#fff"/>' for y in (-7, 0, 7)),
    ),
    Symbol(
        "shore-inlet",
        "shore inlet",
        '<path d="M12 0H4M4 -8a8 8 0 0 0 0 16z" fill="#fff"/>' + _line(-10, -3, -4, -3) + _line(-10, 3, -4, 3),
    ),
    Symbol("generator", "generator", _CIRCLE + _letters("G", 1.5) + _ac(-3.6, 6)),
    Symbol("alternator", "alternator with rectifier", _CIRCLE + _letters("G", 1.5) + _dc(-3.5, 5.5)),
    Symbol(
        "battery-bank",
        "battery",
        _line(-12, 0, -5, 0)
        + _line(-5, -9, -5, 9)
        + '<path d="M-1.5 -4.5V4.5M5 -4.5V4.5" stroke-width="3"/>'
        + _line(1.8, -9, 1.8, 9)
        + _line(5, 0, 12, 0),
    ),
    Symbol(
        "solar-array", "solar array", _BOX + _line(-11, -9, 0, 0, -11, 9) + _line(3, -8, 8, -3) + _line(6, -9, 10, -5)
    ),
    Symbol("inverter", "inverter", _converter(_dc(-9.5, -4.5), _ac(1.8, 5))),
    Symbol("inverter-charger", "inverter-charger", _BOX + _SLANT + _dc(-9.5, -4.5) + _ac(1.8, 5) + _letters("+", 1, 7)),
    Symbol("charger", "charger", _converter(_ac(-9.2, -4.5), _dc(2, 5))),
    Symbol("dc-converter", "DC converter", _converter(_dc(-9.5, -4.5), _dc(2, 5))),
    Symbol("solar-controller", "solar controller", _converter(_dc(-9.5, -4.5), _dc(2, 5)) + _line(5, -8, 9, -8)),
    Symbol("isolation-transformer", "isolation transformer", '<circle cx="-4" r="7"/><circle cx="4" r="7"/>'),
    Symbol(
        "charge-splitter",
        "charge splitter",
        _BOX + _line(-7, 0, -2, 0) + _line(-2, -4, -2, 4, 4, 0, -2, -4) + _line(4, -4, 4, 4),
    ),
    Symbol(
        "galvanic-isolator",
        "galvanic isolator",
        _BOX
        + _line(-6, -4, -1, -4)
        + _line(-1, -7, -1, -1, 4, -4, -1, -7)
        + _line(4, -7, 4, -1)
        + _line(6, 4, 1, 4)
        + _line(1, 1, 1, 7, -4, 4, 1, 1)
        + _line(-4, 1, -4, 7),
    ),
    Symbol("busbar", "busbar", '<path d="M0 -10V10" stroke-width="4"/>' + _line(-12, 0, 0, 0)),
    Symbol("junction", "junction", '<circle r="3" fill="#000"/>' + _line(-12, 0, 12, 0)),
    Symbol(
        "earth-point",
        "earth",
        _line(-12, 0, 0, 0, 0, 2) + _line(-8, 2, 8, 2) + _line(-5, 5.5, 5, 5.5) + _line(-2, 9, 2, 9),
    ),
    Symbol(
        "receptacles",
        "receptacles",
        _line(-12, 0, -2, 0) + '<path d="M6 -8a8 8 0 0 0 0 16" fill="#fff"/>' + _line(-2, -8, -2, 8),
    ),
    Symbol("lamp", "lamp", _CIRCLE + _line(-6.7, -6.7, 6.7, 6.7) + _line(-6.7, 6.7, 6.7, -6.7)),
    Symbol("motor", "motor", _CIRCLE + _letters("M")),
    Symbol(
        "heater",
        "heater",
        '<rect x="-11" y="-5" width="22" height="10" fill="#fff"/>'
        + "".join(_line(x, -5, x, 5) for x in (-5.5, 0, 5.5)),
    ),
    Symbol("load", "other load", '<rect x="-11" y="-6" width="22" height="12" fill="#fff"/>'),
    Symbol("panel", "goes on at the place that is named", '<path d="M-12 -8H4L12 0L4 8H-12z" fill="#fff"/>'),
    Symbol("unknown", "not traced", _letters("?", 5, 16)),
)
SYMBOLS: Final[Mapping[str, Symbol]] = MappingProxyType({symbol.id: symbol for symbol in _ALL})

#: What a load is used for → its symbol; what is not here is an other load.
_BY_USE: Final = {
    "lighting": "lamp",
    "navigation-lights": "lamp",
    "cooking": "heater",
    "water-heating": "heater",
    "space-heating": "heater",
    "air-conditioning": "motor",
    "refrigeration": "motor",
    "laundry": "motor",
    "bilge-pump": "motor",
    "bilge-blower": "motor",
    "pump": "motor",
    "windlass": "motor",
    "engine-cranking": "motor",
    "thruster": "motor",
}


def symbol_of(item: Device) -> str:
    """The symbol of a device or load."""
    if isinstance(item, Load) and item.kind == "load":
        return _BY_USE.get(item.use or "", "load")
    return item.kind if item.kind in SYMBOLS else "load"
