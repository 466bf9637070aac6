"""A panel drawn conductor by conductor: bars, the device in each way, every core to what is at its far end.

One picture a section, one row a way, so that no two conductors cross but at the bars, where a dot joins and a crossing
without one does not. A core is drawn in the colour of its insulation, and the colour's name stands on it. What lands
where nobody would look for it is said in words under its row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

from vesselspec.draw.ends import Wire
from vesselspec.draw.ink import strands
from vesselspec.draw.rows import Line, Part, Run, parts_of
from vesselspec.draw.sheet import CAUTION
from vesselspec.draw.svg import Canvas
from vesselspec.draw.symbols import SYMBOLS, symbol_of
from vesselspec.draw.text import wrap
from vesselspec.draw.words import called, device_of, label_of, size_of
from vesselspec.model.items import Panel, Way
from vesselspec.model.vessel import Vessel
from vesselspec.network.graph import Network
from vesselspec.units import show

#: Columns of the drawing, in its units: a letter of 10 units is 10 points on A4 lying down.
_WIDTH: Final = 800
_WORDS, _BARS, _STEP, _DEVICE, _CORES, _TAG, _FAR, _FAR_WORDS = 12, 172, 17, 268, 286, 358, 546, 566
_PITCH: Final = 13
_ROWS_HIGH: Final = 480
#: What a place leads to in a document that holds the drawing; empty for nothing.
Leads = Callable[[str], str]


@dataclass(frozen=True)
class Schematic:
    """One picture. `name` can serve as a file name."""

    name: str
    title: str
    svg: str


def panel_schematics(
    vessel: Vessel, network: Network, panel_id: str, *, footer: str = "", leads: Leads = lambda place: ""
) -> tuple[Schematic, ...]:
    """Every section of a panel, and its enclosure's earths; one that is too high for a page goes on in another."""
    panel = vessel.panels[panel_id]
    found = []
    parts = parts_of(vessel, network, panel)
    for part in parts:
        pages = list(_pages(part))
        for number, lines in enumerate(pages, start=1):
            what = f"section {part.section.id}" if part.section is not None else "enclosure"
            more = f", part {number} of {len(pages)}" if len(pages) > 1 else ""
            title = f"{panel.name or panel.id}: {what}{more}"
            name = "-".join(("schematic", *part.place.split("/"), *((str(number),) if len(pages) > 1 else ())))
            drawing = _Drawing(vessel, network, panel, part, leads)
            found.append(Schematic(name, title, drawing.svg(title, footer, lines)))
    return tuple(found)


def _pages(part: Part) -> Iterator[tuple[Line, ...]]:
    page: list[Line] = []
    high = 0.0
    for line in part.lines:
        needs = _height(line)
        if page and high + needs > _ROWS_HIGH:
            yield tuple(page)
            page, high = [], 0.0
        page.append(line)
        high += needs
    if page:
        yield tuple(page)


def _height(line: Line) -> float:
    """Height of a row: its cables below one another, its device's poles, or its words."""
    if line.way is None:
        words = 26.0
    elif line.way.device == "blank":
        words = 18.0
    else:
        words = max(16.0 + 10 * len(_device(line.way)), 0 if line.runs else 8.0 + _PITCH * len(line.way.poles))
    return max(sum(map(_run_height, line.runs)), words)


def _device(way: Way) -> tuple[str, ...]:
    return wrap(device_of(way), _BARS - _WORDS - 32, lines=2, size=8.5)


def _run_height(run: Run) -> float:
    return _cores_high(run) + 12 * len(_odd(run))


def _cores_high(run: Run) -> float:
    cores = 1 if run.written_at else max(1, len(run.cores))
    return max(cores * _PITCH + 12.0, 32.0)


def _arrow(run: Run) -> str:
    return "feeds this panel: " if run.feeds else ""


def _odd(run: Run) -> list[str]:
    return [line for each in run.odd for line in wrap(f"! {each.words}", 500, lines=3, size=9, longest=240)]


@dataclass
class _Drawing:
    """One section on its way to a picture."""

    vessel: Vessel
    network: Network
    panel: Panel
    part: Part
    leads: Leads
    canvas: Canvas = field(default_factory=Canvas)
    used: dict[str, None] = field(default_factory=dict)

    def svg(self, title: str, footer: str, lines: tuple[Line, ...]) -> str:
        """The whole picture."""
        canvas = self.canvas
        canvas.text(_WORDS, 16, title, size=13, bold=True)
        canvas.text(_WORDS, 30, CAUTION + (f" {footer}" if footer else ""), size=9, longest=160)
        top = 60.0
        canvas.text(_WORDS, 46, self._about(), size=9, longest=160)
        y = top + 14
        rows = []
        for line in lines:
            rows.append((line, y))
            y += _height(line)
        self._bars(top, y)
        for line, at in rows:
            self._row(line, at)
        canvas.frame(4, 52, _WIDTH - 8, y - 46, item=self.part.place)
        return canvas.done(_WIDTH, self._legend(y + 22), title)

    def _about(self) -> str:
        section = self.part.section
        if section is None:
            return "Earths of the enclosure."
        system = self.vessel.section_system(self.panel, section)
        words = (
            ["system not recorded"] if system is None else [f"{'DC' if system.is_dc else 'AC'} {system.voltage.text}"]
        )
        if section.rating_a is not None:
            words.append(f"bars rated {show('current', section.rating_a)}")
        if section.neutral_bar is not None:
            words.append(f"its neutral bar is that of section {section.neutral_bar}")
        return ", ".join(words) + ". A dot joins; a crossing without a dot does not."

    # --- bars and rows

    def _bar_x(self, pole: str) -> float | None:
        return _BARS + self.part.bars.index(pole) * _STEP if pole in self.part.bars else None

    def _bars(self, top: float, bottom: float) -> None:
        for number, pole in enumerate(self.part.bars):
            x = _BARS + number * _STEP
            self.canvas.text(x, top, pole, size=7.5, anchor="middle", bold=True)
            self.canvas.line(x, top + 3, x, bottom, width=2.4)

    def _row(self, line: Line, y: float) -> None:
        kind = "bars" if line.way is None else "way"
        with self.canvas.group(item=line.place, kind=kind, leads="", says=self._says(line)):
            self._words(line, y)
            if not line.runs:
                self._unused(line, y)
        at = y
        for run in line.runs:
            self._run(line, run, at)
            at += _run_height(run)
        bottom = y + _height(line)
        self.canvas.line(6, bottom - 3, _WIDTH - 6, bottom - 3, width=0.4)

    def _says(self, line: Line) -> str:
        """What a way's words say, in one line."""
        if line.way is None:
            return f"Bars of {line.place}"
        what = "blank" if line.way.device == "blank" else device_of(line.way)
        return f"Way {self.vessel.name_of(line.place)}: {what}{', spare' if line.way.spare else ''}"

    def _words(self, line: Line, y: float) -> None:
        if line.way is None:
            self.canvas.text(_WORDS, y + 11, "at the bars", size=9)
            return
        number = line.way.id
        self.canvas.text(_WORDS, y + 11, number, size=11, bold=True, longest=6)
        if line.way.device == "blank":
            self.canvas.text(_WORDS + 24, y + 11, "blank", size=9)
            return
        for row, said in enumerate(wrap(label_of(line.way), _BARS - _WORDS - 30, lines=1, size=11)):
            self.canvas.text(_WORDS + 24, y + 10 + 10 * row, said, size=10, bold=True)
        for row, said in enumerate(_device(line.way)):
            self.canvas.text(_WORDS + 24, y + 21 + 10 * row, said, size=8.5)

    def _unused(self, line: Line, y: float) -> None:
        way = line.way
        if way is None or way.device == "blank":
            return
        for number, pole in enumerate(way.poles):
            self._through(way.device, pole, y + 9 + number * _PITCH)
        said = "spare: nothing connected" if way.spare else "no cable is recorded here"
        self.canvas.text(_CORES + 8, y + 12, said, size=9)

    def _through(self, device: str, pole: str, y: float) -> None:
        """A pole of the device in a way, from its bar."""
        x = self._bar_x(pole)
        if x is not None:
            self.canvas.dot(x, y)
            self.canvas.line(x, y, _DEVICE - 12, y)
        self._symbol(device, _DEVICE, y)
        self.canvas.line(_DEVICE + 12, y, _CORES, y)

    def _symbol(self, id: str, x: float, y: float) -> None:
        self.used[id] = None
        self.canvas.symbol(SYMBOLS[id].strokes, x, y)

    # --- a cable

    def _run(self, line: Line, run: Run, y: float) -> None:
        if run.written_at:
            where = run.written_at.removeprefix(f"{self.panel.id}/")
            self.canvas.text(_CORES + 8, y + 14, f"{run.cable.id}: drawn at {where}", size=9)
            return
        cores = run.cores
        first = y + (_cores_high(run) - 3 - (max(1, len(cores)) - 1) * _PITCH) / 2
        ys = [first + number * _PITCH for number in range(max(1, len(cores)))]
        opened = [at for wire, at in zip(cores, ys, strict=False) if self._near(line, run, wire, at)]
        if len(opened) > 1:
            self.canvas.line(_DEVICE - 1, opened[0] - 3, _DEVICE - 1, opened[-1] - 3, width=0.8, dashes="2 1.6")
        middle = (ys[0] + ys[-1]) / 2
        with self.canvas.group(item=run.cable.id, kind="cable", leads=self.leads(run.cable.id), says=self._cable(run)):
            for wire, at in zip(cores, ys, strict=False):
                self._core(run, wire, at)
            self._tag(run, ys[0], ys[-1])
            self.canvas.mark_live(_FAR - 46, middle)
        if not cores:
            self.canvas.text(_CORES + 8, ys[0] - 2, "no cores recorded", size=8)
        self._far(run, middle)
        for number, said in enumerate(_odd(run)):
            self.canvas.text(_CORES + 8, y + _cores_high(run) + 6 + 12 * number, said, size=9, bold=True, longest=200)

    def _near(self, line: Line, run: Run, wire: Wire, y: float) -> bool:
        """What a core is joined to on this panel; whether through the way's device."""
        end = wire.from_ if run.at_from else wire.to
        if line.way is not None and end.place == line.place:
            self._through(line.way.device, end.pole, y)
            return True
        x = self._bar_x(end.pole) if end.place == self.part.place else None
        if x is not None:
            self.canvas.dot(x, y)
            self.canvas.line(x, y, _CORES, y)
        else:
            self.canvas.ring(_CORES - 3, y)
        return False

    def _core(self, run: Run, wire: Wire, y: float) -> None:
        self.canvas.strands(strands(wire.colour), _CORES, _FAR - 14, y)
        here, there = wire.ends if run.at_from else wire.ends[::-1]
        self.canvas.label(_CORES + 4, y, f"{wire.colour} {here.pole or here.words}", longest=26)
        if there.pole != here.pole or not there.place:
            self.canvas.label(_FAR - 16, y, there.pole or there.words, anchor="end", longest=18)

    def _tag(self, run: Run, top: float, bottom: float) -> None:
        """The cable's own marker, across its cores."""
        length = show("length", run.cable.length_m) if run.cable.length_m is not None else ""
        said = [run.cable.id, ", ".join(part for part in (size_of(self.network, run.cable.id), length) if part)]
        self.canvas.tag(_TAG + 24, (top + bottom) / 2, said)

    def _cable(self, run: Run) -> str:
        ends = f"{run.cable.from_} to {run.cable.to}"
        return f"Cable {run.cable.id}, {size_of(self.network, run.cable.id)}: {ends}"

    def _far(self, run: Run, y: float) -> None:
        vessel, far = self.vessel, run.far
        head = far.split("/", 1)[0]
        device = vessel.device(head)
        id = symbol_of(device) if device is not None else ("panel" if head in vessel.panels else "unknown")
        name = called(vessel, far) if far else "not traced"
        if run.kind == "same":
            name = f"way or bar {far.split('/', 1)[-1]} of this panel"
        elif head in vessel.panels:
            name = f"{called(vessel, head)}: {far.split('/', 1)[1] if '/' in far else 'enclosure'}"
        space = vessel.space_of(far) if far else None
        known = [far] if far != name else []
        known += [space.name or space.id] if space is not None else []
        item = head if device is not None else far
        says = f"{_arrow(run)}{', '.join((name, *known))}"
        with self.canvas.group(item=item, kind="far", leads=self.leads(far) if far else "", says=says):
            self._symbol(id, _FAR, y)
            said = [*wrap(_arrow(run) + name, _WIDTH - _FAR_WORDS - 10, lines=2, size=9.5, longest=90)]
            rest = wrap(", ".join(known), _WIDTH - _FAR_WORDS - 10, lines=1, size=8, longest=90) if known else ()
            start = y + 3 - 5.5 * (len(said) + len(rest) - 1)
            for number, line in enumerate(said):
                self.canvas.text(_FAR_WORDS, start + 11 * number, line, size=9.5, bold=number == 0, longest=90)
            for number, line in enumerate(rest, start=len(said)):
                self.canvas.text(_FAR_WORDS, start + 11 * number, line, size=8, longest=90)

    def _legend(self, y: float) -> float:
        """What the symbols of this picture mean; returns the bottom of the drawing."""
        x = float(_WORDS + 12)
        for id in self.used:
            says = SYMBOLS[id].says
            needs = 34 + 4.6 * len(says)
            if x + needs > _WIDTH - 8:
                x, y = float(_WORDS + 12), y + 24
            self.canvas.symbol(SYMBOLS[id].strokes, x, y, scale=0.8)
            self.canvas.text(x + 14, y + 3, says, size=8)
            x += needs
        return y + 20
