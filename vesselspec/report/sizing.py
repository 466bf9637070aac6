"""A sizing as terminal text, Markdown and JSON: the answer first, then how it came about, line by line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from vesselspec import units
from vesselspec.physics.conductors.sizing import Circuit, Sizing, Step, device_for, too_small
from vesselspec.report.markdown import escape, quoted
from vesselspec.report.terminal import CAUTIONS, Page
from vesselspec.rules import Boat
from vesselspec.rules.sizing import Case
from vesselspec.standards import cited

FORMAT = 1
CAUTION = (
    "These are the least sizes that the figures named here allow, not a design: terminals, fault currents, routes and "
    "what the maker asks for may want more."
)


@dataclass(frozen=True)
class Asked:
    """What was asked: by flags, or an item of a record. `places` tells where each known figure stands."""

    subject: str
    sizing: Sizing
    known: tuple[tuple[str, str, str], ...] = ()  # name, value, place
    missing: tuple[tuple[str, str], ...] = ()
    present: str | None = None
    cable: str | None = None
    load: str | None = None
    device: str | None = None


def asked_of(boat: Boat, case: Case, sizing: Sizing) -> Asked:
    """An item of the record with its sizing."""
    return Asked(
        subject=boat.vessel.name_of(case.item),
        sizing=sizing,
        known=tuple((each.name, each.value, f"{each.item}, {boat.place(each.at)}") for each in case.known),
        missing=case.missing,
        present=None if case.present is None else case.present.text,
        cable=case.cable,
        load=case.load,
        device=case.device,
    )


def _inputs(circuit: Circuit) -> Iterator[tuple[str, str]]:
    kind = "DC" if circuit.dc else f"AC, {circuit.frequency_hz:g} Hz" if circuit.frequency_hz else "AC"
    yield "practice", circuit.practice
    yield "system", f"{circuit.volts:g} V {kind} between {' and '.join(circuit.between)}"
    yield "load current", "not known" if circuit.amps is None else _current(circuit.amps)
    if not circuit.dc:
        yield "power factor", f"{circuit.power_factor:g}"
    yield "length, one way", "not known" if circuit.length_m is None else _length(circuit.length_m)
    yield "insulation", "not known" if circuit.insulation_c is None else f"{circuit.insulation_c:g} °C"
    yield "engine space", _yes(circuit.engine_space)
    if circuit.ambient_c is not None:
        yield "hottest place on its way", f"{circuit.ambient_c:g} °C"
    yield "conductors together", "not known" if circuit.loaded is None else str(circuit.loaded)
    yield "sheath", _yes(circuit.sheath)
    yield "continuous (3 h or more)", _yes(circuit.continuous)
    if circuit.device_a is not None:
        yield "device that is there", f"{circuit.device_a:g} A"


def _current(amps: float) -> str:
    return f"{amps:.4g} A"


def _length(metres: float) -> str:
    return f"{metres:.4g} m ({metres / 0.3048:.4g} ft)"


def _yes(flag: bool | None) -> str:
    return "not known" if flag is None else "yes" if flag else "no"


def _answer(asked: Asked) -> Iterator[str]:
    found = asked.sizing
    if found.size is None:
        yield "Conductor: no size can be given (see below)"
    else:
        memory = "; from memory, to be checked against the standard" if found.from_memory else ""
        yield f"Conductor: at least {found.size.text}, decided by {' and '.join(_words(found))}{memory}"
        if found.best is not None and found.best != found.size:
            yield f"    {found.best.text} would do if all that is not known were favourable"
        if asked.present is not None:
            present = units.parse_size(asked.present)
            yield f"    there is {asked.present}: {'large enough' if present >= found.size else 'too small'}"
            most = device_for(found.circuit, present)
            if too_small(found, present) == ("device",) and most is not None:
                yield f"    or keep {asked.present} with a device of at most {most:.4g} A"
    if found.device_a is None:
        yield "Device:    no rating can be given (see below)"
    else:
        there = " (as recorded)" if found.circuit.device_a is not None else ""
        limit = "" if found.device_max_a is None else f"; at most {found.device_max_a:.4g} A on this conductor"
        yield f"Device:    {found.device_a:g} A{there}{limit}"
    if not found.circuit.dc:
        earth = found.earth.text if found.earth is not None else "see below"
        yield f"Earth:     {earth}"
    judged = next((each for each in found.criteria if each.id == "voltage-drop"), None)
    if judged is not None and not judged.judged:
        yield "Voltage drop was NOT judged: a larger conductor may be needed"


def _words(found: Sizing) -> list[str]:
    return [each.title[0].lower() + each.title[1:] for each in found.criteria if each.id in found.governs]


def _said(step: Step) -> str:
    return step.text + (f" [{cited(step.source, step.from_memory)}]" if step.source else "")


def sizing_text(page: Page, asked: Asked) -> str:
    """A sizing for a terminal."""
    found = asked.sizing
    page.wrapped(f"Size of a conductor for {asked.subject}")
    page.line()
    for line in _answer(asked):
        page.wrapped(line, rest="           ")
    page.line()
    page.line("From:")
    for name, value in _inputs(found.circuit):
        page.wrapped(f"{name}: {value}", first="  ", rest="    ")
    for name, value, place in asked.known:
        page.wrapped(f"{name}: {value}   ({place})", first="  · ", rest="    ")
    for item, missing in asked.missing:
        page.wrapped(f"{item}: {missing} is not recorded", first="  ? ", rest="    ")
    for unknown in found.unknown:
        page.wrapped(f"not known: {unknown}", first="  ? ", rest="    ")
    for title, size, steps in _parts(found):
        page.line()
        page.wrapped(f"{title}: {size}")
        for number, step in enumerate(steps, 1):
            page.wrapped(_said(step), first=f"  {number}. ", rest="     ")
    page.line()
    for text in (*found.notes, CAUTION, *CAUTIONS):
        page.wrapped(text)
    return page.text()


def _parts(found: Sizing) -> Iterator[tuple[str, str, tuple[Step, ...]]]:
    for each in found.criteria:
        size = each.size.text if each.size is not None else "cannot be met" if each.judged else "not judged"
        yield each.title, size, each.steps
    device = "none" if found.device_a is None else f"{found.device_a:g} A"
    yield "Device", device, found.device_steps
    yield "Earth conductor", "none" if found.earth is None else found.earth.text, found.earth_steps


def sizing_markdown(asked: Asked) -> str:
    """A sizing as Markdown."""
    found = asked.sizing
    lines = [f"# Size of a conductor for {escape(asked.subject)}", ""]
    lines += quoted((CAUTION, *CAUTIONS))
    lines += [*(f"- {escape(line.strip())}" for line in _answer(asked)), ""]
    lines += ["## From", "", *(f"- {escape(name)}: {escape(value)}" for name, value in _inputs(found.circuit))]
    lines += [f"- {escape(name)}: {escape(value)} ({escape(place)})" for name, value, place in asked.known]
    lines += [f"- **not recorded:** {escape(item)}: {escape(missing)}" for item, missing in asked.missing]
    lines += [f"- **not known:** {escape(unknown)}" for unknown in found.unknown]
    for title, size, steps in _parts(found):
        lines += ["", f"## {escape(title)}: {escape(size)}", ""]
        lines += [f"{number}. {escape(_said(step))}" for number, step in enumerate(steps, 1)]
    lines += ["", *(f"{escape(note)}\n" for note in found.notes)]
    return "\n".join(lines)


def step_json(step: Step) -> dict[str, Any]:
    """A line of a derivation, for machines."""
    return {"text": step.text, "source": step.source or None, "from_memory": step.from_memory}


def sizing_json(asked: Asked) -> dict[str, Any]:
    """A sizing, for machines: schema/size.schema.json."""
    found, circuit = asked.sizing, asked.sizing.circuit
    return {
        "format": FORMAT,
        "kind": "size",
        "subject": asked.subject,
        "cable": asked.cable,
        "load": asked.load,
        "device": asked.device,
        "present_size": asked.present,
        "circuit": {
            "practice": circuit.practice,
            "dc": circuit.dc,
            "volts_v": circuit.volts,
            "between": list(circuit.between),
            "current_a": circuit.amps,
            "power_factor": circuit.power_factor,
            "length_m": circuit.length_m,
            "insulation_c": circuit.insulation_c,
            "engine_space": circuit.engine_space,
            "ambient_c": circuit.ambient_c,
            "conductors_together": circuit.loaded,
            "sheath": circuit.sheath,
            "continuous": circuit.continuous,
            "motor": circuit.motor,
        },
        "conductor": None if found.size is None else found.size.text,
        "conductor_if_favourable": None if found.best is None else found.best.text,
        "decided_by": list(found.governs),
        "from_memory": found.from_memory,
        "device_a": found.device_a,
        "device_at_most_a": found.device_max_a,
        "earth": None if found.earth is None else found.earth.text,
        "criteria": [
            {
                "id": each.id,
                "title": each.title,
                "judged": each.judged,
                "size": None if each.size is None else each.size.text,
                "size_if_favourable": None if each.best is None else each.best.text,
                "steps": [step_json(step) for step in each.steps],
            }
            for each in found.criteria
        ],
        "device_steps": [step_json(step) for step in found.device_steps],
        "earth_steps": [step_json(step) for step in found.earth_steps],
        "known": [{"name": name, "value": value, "place": place} for name, value, place in asked.known],
        "not_recorded": [{"item": item, "missing": missing} for item, missing in asked.missing],
        "not_known": list(found.unknown),
        "notes": list(found.notes),
        "cautions": [CAUTION, *CAUTIONS],
    }
