"""An isolation sheet as one HTML page: printable, without script, nothing fetched from anywhere."""

from __future__ import annotations

import html
from collections.abc import Iterator

from vesselspec.isolation import Sheet
from vesselspec.isolation.hazards import Hazard
from vesselspec.isolation.steps import GROUPS, PROVE, Step
from vesselspec.report.isolation import CAUTIONS, Heading, instead, needed, pairs, proof, reaches, staying
from vesselspec.report.terminal import one_line

#: Black on white, large, and every meaning in words: it is read on paper, by head-torch, in black and white.
_STYLE = """
@page { size: auto; margin: 14mm 12mm 18mm; }
* { box-sizing: border-box; }
body { font: 16px/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff;
       max-width: 62rem; margin: 0 auto; padding: 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0 0 .3rem; }
h2 { font-size: 1.2rem; margin: 1.6rem 0 .5rem; border-bottom: 2px solid #000; break-after: avoid; }
p { margin: .4rem 0; }
.state { font-size: .95rem; }
.cautions { border: 2px solid #000; padding: .4rem .8rem; margin: .8rem 0; }
.refused, .live { border: 6px solid #000; padding: .6rem 1rem; margin: 1rem 0; break-inside: avoid; }
.refused h2, .live h2 { border: 0; margin: 0; font-size: 2rem; line-height: 1.15; }
.live li { font-size: 1.5rem; font-weight: bold; }
ol, ul { padding-left: 1.4rem; margin: .3rem 0; }
.sources > li { margin-bottom: .5rem; break-inside: avoid; }
.path { font-size: .9rem; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #000; padding: .35rem .5rem; text-align: left; vertical-align: top; }
th { background: #eee; overflow-wrap: normal; }
tr { break-inside: avoid; }
.box { display: inline-block; width: 1.1em; height: 1.1em; border: 2px solid #000; vertical-align: -.15em; }
.tick { width: 3.6rem; text-align: center; }
.number { width: 3rem; text-align: right; }
.place { width: 9rem; }
.lock { width: 13rem; }
.source { display: block; font-size: .8rem; }
.group th { background: #000; color: #fff; font-size: 1.05rem; print-color-adjust: exact; }
.group { break-after: avoid; }
.signed td { height: 2.6rem; }
footer { margin-top: 1.5rem; border-top: 1px solid #000; font-size: .85rem; }
@media (max-width: 40rem) { .lock, .place { width: auto; } body { font-size: 15px; padding: .6rem; } }
@media print {
  html { font-size: 10pt; }
  body { max-width: none; padding: 0; font-size: 10pt; }
  th, td { padding: .2rem .4rem; }
  .group th { color: #000; background: #fff; border-top: 3px solid #000; }
}
"""

_BOX = '<span class="box" role="img" aria-label="to tick"></span>'


def text(said: str) -> str:
    """Text of the record as HTML: nothing in it is markup."""
    return html.escape(one_line(said))


def sheet_html(heading: Heading, sheet: Sheet) -> str:
    """A sheet as a whole page."""
    title = f"Isolation sheet: {heading.place(sheet)}"
    stamp = f"{heading.vessel.about.name}. Record: {heading.state}. Made on {heading.day}. Sheet {sheet.substance}."
    body = "\n".join(_body(heading, sheet, title, stamp))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{text(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _body(heading: Heading, sheet: Sheet, title: str, stamp: str) -> Iterator[str]:
    yield f"<header><h1>{text(title)}</h1>"
    yield f'<p class="state">{text(sheet.target.kind.capitalize())}. {text(stamp)}</p></header>'
    yield '<main><div class="cautions">' + "".join(f"<p>{text(caution)}</p>" for caution in CAUTIONS) + "</div>"
    if not sheet.declared:
        yield '<section class="refused"><h2>DANGER: the record cannot declare this place dead</h2>'
        yield "<p>There is no sheet for it, because:</p>" + _hazards(sheet.refusals) + "</section>"
    if sheet.stays_live and sheet.declared:
        yield '<section class="live"><h2>STAYS LIVE IN THE SAME ENCLOSURE</h2><ul>'
        for each in sheet.stays_live:
            yield f"<li>{text(staying(each))}</li>"
        yield "</ul></section>"
    yield "<h2>What can make it live, in any position of any switch</h2>" + _sources(sheet)
    if sheet.hazards:
        yield "<h2>Check first; the record does not know it</h2>" + _hazards(sheet.hazards)
    if sheet.declared:
        yield from _steps(heading, sheet)
    yield f"</main><footer><p>{text(stamp)} {text(CAUTIONS[0])}</p></footer>"


def _sources(sheet: Sheet) -> str:
    lines = []
    for supply in sheet.supplies:
        if supply.reaches:
            stands = "; ".join(f"{choice} at {state}" for choice, state in supply.positions)
            lines.append(
                f"<li><strong>{text(reaches(supply))}</strong>"
                + (f'<p class="path">{text(" → ".join(supply.path))}</p>' if supply.path else "")
                + (f'<p class="path">With {text(stands)}.</p>' if stands else "")
                + "</li>"
            )
    others = ", ".join(supply.id for supply in sheet.supplies if not supply.reaches)
    return (f'<ul class="sources">{"".join(lines)}</ul>' if lines else "<p>Nothing that is recorded.</p>") + (
        f"<p>Also on board, with no recorded way to it: {text(others)}.</p>" if others else ""
    )


def _hazards(hazards: tuple[Hazard, ...]) -> str:
    rows = "".join(
        f'<tr><td class="tick">{_BOX}</td><td><strong>{text(h.says)}.</strong> {text(h.check)}.</td></tr>'
        for h in hazards
    )
    return f"<table><thead><tr><th>Done</th><th>What to check</th></tr></thead><tbody>{rows}</tbody></table>"


def _steps(heading: Heading, sheet: Sheet) -> Iterator[str]:
    yield f"<p><strong>{text(proof(sheet))}</strong> {text(needed(heading, sheet))}</p>"
    yield "<h2>What to do, in this order</h2>"
    yield "<table><thead><tr><th>Done</th><th>No.</th><th>What</th><th>Where</th><th>Lock, name, time</th></tr></thead>"
    number = 0
    for group in GROUPS:
        steps = [step for step in sheet.steps if step.group == group]
        if steps:
            yield f'<tbody><tr class="group"><th colspan="5" scope="rowgroup">{text(group)}</th></tr>'
        for step in steps:
            number += 1
            yield _row(heading, number, step)
        if steps:
            yield "</tbody>"
    yield "</table>"
    yield f"<h2>{PROVE} at these terminals</h2>"
    yield from _prove(sheet)
    if sheet.alternatives:
        yield "<h2>If a point cannot be reached</h2><ul>"
        yield from (f"<li>{text(instead(each.instead_of, each.points))}</li>" for each in sheet.alternatives)
        yield "</ul><p>Then make the sheet again without that point; do not mix two sheets.</p>"
    yield "<h2>Signed</h2>"
    yield '<table class="signed"><thead><tr><th>What</th><th>Name</th><th>Signature</th><th>Date, time</th></tr>'
    yield "</thead>"
    yield (
        "<tbody>"
        + "".join(
            f"<tr><td>{what}</td><td></td><td></td><td></td></tr>" for what in ("Made dead and proved", "Given back")
        )
        + "</tbody></table>"
    )


def _row(heading: Heading, number: int, step: Step) -> str:
    return (
        f'<tr><td class="tick">{_BOX}</td><td class="number">{number}</td>'
        f'<td>{text(step.says)}<span class="source">{text(step.source)}</span></td>'
        f'<td class="place">{text(heading.space(step.space))}</td><td class="lock">{"" if step.lock else "–"}</td></tr>'
    )


def _prove(sheet: Sheet) -> Iterator[str]:
    yield "<table><thead><tr><th>Terminals</th><th>Measure between</th><th>Reads (V)</th></tr></thead><tbody>"
    for place, poles in sheet.prove:
        for pair in pairs(poles):
            yield f'<tr><td>{text(place)}</td><td>{text(pair)}</td><td class="lock"></td></tr>'
    yield "</tbody></table>"
