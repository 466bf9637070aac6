"""The state of charge of every bank over the day, as an SVG of our own: a strip for each bank."""

from __future__ import annotations

from collections.abc import Sequence

from vesselspec.model.vessel import Vessel
from vesselspec.physics.loads.energy import DAY_H, BankDay, Day
from vesselspec.report.energy import clock, title_of, verdict
from vesselspec.report.html import text as html
from vesselspec.report.terminal import CAUTIONS

_WIDTH, _LEFT, _RIGHT = 800.0, 64.0, 24.0
_TOP, _STRIP, _GAP, _BAR = 110.0, 120.0, 56.0, 18.0
_LONGEST = 110
#: A bank that never falls below stays full, as far as a drawing can show it.
_FULL = 0.99
_PLOT = _WIDTH - _LEFT - _RIGHT

_DEFS = (
    '<defs><pattern id="low" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect width="8" height="8" fill="#fff"/><line x1="0" y1="0" x2="0" y2="8" stroke="#c44" stroke-width="2"/>'
    "</pattern>"
    '<pattern id="run" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/>'
    '<circle cx="3" cy="3" r="1.4" fill="#245"/></pattern></defs>'
)


def _x(hour: float) -> float:
    return _LEFT + hour / DAY_H * _PLOT


def _text(
    x: float, y: float, text: str, *, size: float = 12, anchor: str = "start", bold: bool = False, over: bool = False
) -> str:
    """A line of text; `over` other ink it stands on a white rim of its own."""
    said = text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
    weight = ' font-weight="bold"' if bold else ""
    weight += ' stroke="#fff" stroke-width="4" stroke-linejoin="round" paint-order="stroke"' if over else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}"{weight}>{html(said)}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, style: str = 'stroke="#000"') -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {style}/>'


def energy_svg(vessel: Vessel, day: Day, *, footer: str) -> str:
    """Draw a day, the bank that sinks lowest first.

    Banks that stay full are only named, and so are those without a recorded capacity: they have no state of charge.
    """
    drawn = [(min(point.state for point in bank.points), bank.bank.id, bank) for bank in day.banks if bank.points]
    shown = [bank for least, _, bank in sorted(drawn, key=lambda each: each[:2]) if least < _FULL or len(drawn) == 1]
    full = [bank for bank in day.banks if bank.points and bank not in shown]
    unknown = [bank for bank in day.banks if not bank.points]
    parts = [
        _text(_LEFT, 26, f"State of charge over 24 hours: {vessel.about.name}", size=17, bold=True),
        _text(_LEFT, 46, title_of(vessel, day)),
        _text(_LEFT, 64, "Solid line: state of charge. Dashed line: low limit; below it hatched.", size=11),
    ]
    y = _TOP
    for bank in shown:
        parts += _strip(vessel, bank, day, y)
        y += _STRIP + _GAP
    for bank in full:
        parts.append(_text(_LEFT, y, f"{vessel.name_of(bank.bank.id)}: stays full", size=11))
        y += 18
    y += 12 if full else 0
    for key, hours in day.generator_h.items():
        parts += _generator(vessel, key, hours, day, y)
        y += _BAR + 30
    for bank in unknown:
        parts.append(_text(_LEFT, y, f"{vessel.name_of(bank.bank.id)}: capacity not recorded, cannot be drawn"))
        y += 18
    for words in (footer, *CAUTIONS):
        parts.append(_text(_LEFT, y + 6, words, size=10) if len(words) <= _LONGEST else _wrapped(y + 6, words))
        y += 14 if len(words) <= _LONGEST else 27
    height = y + 12
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {height:.0f}" width="{_WIDTH:g}" '
        f'height="{height:.0f}" font-family="DejaVu Sans, Arial, Helvetica, sans-serif" role="img">'
        f"<title>{html(f'State of charge: {title_of(vessel, day)}')}</title>{_DEFS}"
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(parts)}</svg>\n'
    )


def _wrapped(y: float, words: str) -> str:
    cut = words.rfind(" ", 0, _LONGEST)
    cut = cut if cut > 0 else _LONGEST
    return _text(_LEFT, y, words[:cut], size=10) + _text(_LEFT, y + 13, words[cut + 1 :], size=10)


def _strip(vessel: Vessel, bank: BankDay, day: Day, top: float) -> list[str]:
    bottom = top + _STRIP

    def at(state: float) -> float:
        return bottom - state * _STRIP

    head = f"{vessel.name_of(bank.bank.id)}, {bank.bank.capacity_ah:g} Ah: {verdict(bank)}"
    if bank.low_after_h is not None and bank.lasts is None:
        head += " (drawn as if what is not recorded gives nothing)"
    parts = [_text(_LEFT, top - 18, head, bold=True)]
    low = bank.bank.low
    if low is not None and low > 0:
        parts.append(
            f'<rect x="{_LEFT:.1f}" y="{at(low):.1f}" width="{_PLOT:.1f}" height="{bottom - at(low):.1f}" '
            'fill="url(#low)" opacity="0.45"/>'
        )
        parts.append(_line(_LEFT, at(low), _LEFT + _PLOT, at(low), 'stroke="#a00" stroke-dasharray="7 4"'))
        memory = "" if bank.firm_limit else ", from memory"
        parts.append(_text(_LEFT + 5, at(low) + 14, f"low limit {low * 100:.0f} %{memory}", size=10, over=True))
    for percent in (0, 50, 100):
        level = at(percent / 100)
        parts.append(_line(_LEFT - 4, level, _LEFT, level))
        parts.append(_text(_LEFT - 7, level + 4, f"{percent} %", size=10, anchor="end"))
    parts += _hours(top, bottom)
    parts += _stretches(day, top, bottom)
    parts.append(
        f'<rect x="{_LEFT:.1f}" y="{top:.1f}" width="{_PLOT:.1f}" height="{_STRIP:.1f}" fill="none" stroke="#000"/>'
    )
    path = " ".join(f"{_x(point.hour):.1f},{at(point.state):.1f}" for point in bank.points)
    parts.append(f'<polyline points="{path}" fill="none" stroke="#036" stroke-width="2.5"/>')
    if bank.low_after_h is not None and low is not None:
        parts.append(
            f'<circle cx="{_x(bank.low_after_h):.1f}" cy="{at(low):.1f}" r="5" fill="#fff" stroke="#a00" '
            'stroke-width="2.5"/>'
        )
        late = bank.low_after_h > DAY_H / 2
        parts.append(
            _text(
                _x(bank.low_after_h) + (-9 if late else 9),
                at(low) + (18 if late else -8),
                f"low after {clock(bank.low_after_h)}",
                size=11,
                anchor="end" if late else "start",
                bold=True,
                over=True,
            )
        )
    return parts


def _hours(top: float, bottom: float) -> list[str]:
    parts = []
    for hour in range(0, 25, 3):
        parts.append(_line(_x(hour), bottom, _x(hour), bottom + 4))
        parts.append(
            _text(_x(hour), bottom + 16, f"{hour} h" if hour in (0, 24) else str(hour), size=10, anchor="middle")
        )
        if 0 < hour < 24:
            parts.append(_line(_x(hour), top, _x(hour), bottom, 'stroke="#bbb" stroke-width="0.6"'))
    return parts


def _stretches(day: Day, top: float, bottom: float) -> list[str]:
    """Names of the conditions over their part of the day, and a line where one gives way to the next."""
    parts, hour = [], 0.0
    for each in day.stretches:
        room = int(each.hours / DAY_H * _PLOT / 6)
        name = each.condition if len(each.condition) <= room else each.condition[: max(room - 1, 0)] + "…"
        if room >= 3:
            parts.append(_text(_x(hour) + 3, top - 3, name, size=10))
        if hour > 0:
            parts.append(_line(_x(hour), top - 12, _x(hour), bottom, 'stroke="#000" stroke-width="1.4"'))
        hour += each.hours
    return parts


def _generator(vessel: Vessel, key: str, hours: float, day: Day, top: float) -> Sequence[str]:
    parts = [_text(_LEFT, top - 6, f"{vessel.name_of(key)} runs {hours:g} h (dotted)", bold=True, size=11)]
    parts.append(
        f'<rect x="{_LEFT:.1f}" y="{top:.1f}" width="{_PLOT:.1f}" height="{_BAR:.1f}" fill="none" stroke="#000"/>'
    )
    hour = 0.0
    for each in day.stretches:
        if key in vessel.conditions[each.condition].running:
            parts.append(
                f'<rect x="{_x(hour):.1f}" y="{top:.1f}" width="{each.hours / DAY_H * _PLOT:.1f}" '
                f'height="{_BAR:.1f}" fill="url(#run)" stroke="#000"/>'
            )
        hour += each.hours
    return parts
