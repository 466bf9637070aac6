"""The record as tables: panel schedules, cable schedule, load list, list of devices.

Values stand as the record writes them, with their unit, so that a list can be taken in again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from vesselspec.model.forms import specs
from vesselspec.model.items import POWER_FORM, UNTRACED, Cable, Core, Demand, DemandForm, Item, Panel, Section, Way
from vesselspec.model.vessel import Vessel, natural
from vesselspec.record.places import Places
from vesselspec.sheets.cells import spoken, write
from vesselspec.sheets.fields import COLUMNS, Column, column
from vesselspec.sheets.said import titles, written
from vesselspec.sheets.table import Table

Row = tuple[str | int | float, ...]

_PANEL = (
    *("Section", "Way", "Label", "Device", "Duty", "Poles", "Rating", "Cable", "Size", "Length", "Cores"),
    *("Goes to", "Name", "Space", "Power", "Note"),
)
_OF_CABLE = ("size", "length", "cores")
_DEVICES = ("Id", "Name", "Kind", "Space", "System", "Poles", "Rating", "Other fields", "Note")
_EVIDENCE = ("Evidence: how it is known", "Evidence: by", "Evidence: when")
#: Columns of the lists that are there although nothing stands in them: what is missing shows.
_ALWAYS = frozenset(
    (
        *("id", "name", "kind", "system", "poles", "power", "only_from", "space", "formerly", "note", "evidence.how"),
        *("from", "to", "type", "size", "length", "cores", "route", "labels.from", "labels.to"),
    )
)
#: Fields of a device that have a column of their own.
_OWN = frozenset(("name", "kind", "space", "system", "poles", "rating", "note", "evidence", "photos"))


def tables(vessel: Vessel, places: Places) -> tuple[Table, ...]:
    """Every table of a vessel, in the order of the workbook; the same record gives the same tables."""
    at = _cables_at(vessel)
    panels = (
        Table(f"Panel {panel.id}", _PANEL, tuple(_panel(vessel, places, panel, at))) for panel in vessel.panels.values()
    )
    return (*panels, _cables(vessel, places), _loads(vessel, places, at), _devices(vessel, places))


# --- panels --------------------------------------------------------------------------------------


def _panel(vessel: Vessel, places: Places, panel: Panel, at: Mapping[str, tuple[Cable, ...]]) -> Iterator[Row]:
    """A row for each cable of each way, one for a way without any, and one for each cable at the bars."""
    for section in panel.sections:
        here = f"{panel.id}/{section.id}"
        for cable in at.get(here, ()):
            yield (section.id, "bars", *([""] * 5), *_run(vessel, places, cable, here))
        for way in sorted(section.ways, key=lambda way: natural(way.id)):
            head = _way(places, panel, section, way)
            runs = [_run(vessel, places, cable, f"{here}/{way.id}") for cable in at.get(f"{here}/{way.id}", ())]
            nothing = ("", "", "", "", "spare" if way.spare else "", "", "", "", "")
            for run in runs or [nothing]:
                note = "; ".join(filter(None, (way.note, str(run[-1]))))
                yield (*head, *run[:-1], note)
    for cable in at.get(panel.id, ()):
        yield ("enclosure", "", *([""] * 5), *_run(vessel, places, cable, panel.id))


def _way(places: Places, panel: Panel, section: Section, way: Way) -> Row:
    raw = places.written("panels", panel.id)["sections"][section.id]["ways"][way.id] or {}
    return (
        section.id,
        way.id,
        way.label or "",
        way.device,
        way.duty,
        ", ".join(way.poles),
        raw.get("rating", ""),
    )


def _run(vessel: Vessel, places: Places, cable: Cable, here: str) -> Row:
    """A cable from the place where it is met: what it is, where it goes, and what is there."""
    far = cable.to if cable.from_ == here else cable.from_
    notes = [cable.note] if cable.note else []
    if here not in (cable.from_, cable.to):
        cores = ", ".join(name for name, core in vessel.cores_of(cable) if here in _landed(core))
        far = cable.to
        notes.insert(0, f"Only {cores} lands here; the cable runs from {cable.from_} to {cable.to}.")
    head = far.split("/", 1)[0]
    holder = vessel.device(head) or vessel.panels.get(head)
    load = places.written("loads", head) if head in vessel.loads else {}
    size, length, all_cores = (_cell(vessel, places, "cables", cable, column("cables", key)) for key in _OF_CABLE)
    space = vessel.space_of(far)
    return (
        cable.id,
        size,
        length,
        all_cores,
        far,
        (holder.name or "") if holder is not None else "",
        space.id if space is not None else "",
        write(POWER_FORM, load.get("power", load.get("current"))),
        " ".join(notes),
    )


def _landed(core: Core) -> tuple[str, ...]:
    """The places that a core lands at by a terminal's full address."""
    return tuple(end.rpartition(":")[0] for end in (core.from_, core.to) if end is not None and ":" in end)


def _cables_at(vessel: Vessel) -> Mapping[str, tuple[Cable, ...]]:
    """Every cable by the places that its ends are at, and those at which one of its cores lands by itself."""
    found: dict[str, dict[str, Cable]] = {}
    for cable in vessel.cables.values():
        landed = (place for _, core in vessel.cores_of(cable) for place in _landed(core))
        for place in (cable.from_, cable.to, *landed):
            if place != UNTRACED:
                found.setdefault(place, {})[cable.id] = cable
    return {place: tuple(cables.values()) for place, cables in found.items()}


# --- lists ---------------------------------------------------------------------------------------


def _cell(vessel: Vessel, places: Places, kind: str, item: Item, of: Column) -> str | int | float:
    raw = places.written(kind, item.id)
    type_ = vessel.cable_type(item) if isinstance(item, Cable) else None
    of_type = places.written("cable_types", type_.id) if type_ is not None else {}
    return write(of.form, written(vessel, item, raw, of, of_type))


def _cables(vessel: Vessel, places: Places) -> Table:
    columns = [each for each in COLUMNS["cables"] if each.exported]
    rows = tuple(
        tuple(_cell(vessel, places, "cables", cable, each) for each in columns) for cable in vessel.cables.values()
    )
    return _without_empty(
        Table("Cables", titles("cables"), rows), {each.title for each in columns if each.key in _ALWAYS}
    )


def _loads(vessel: Vessel, places: Places, at: Mapping[str, tuple[Cable, ...]]) -> Table:
    columns = [each for each in COLUMNS["loads"] if each.exported]
    conditions = list(vessel.conditions.values())
    rows = []
    for load in vessel.loads.values():
        cells = tuple(_cell(vessel, places, "loads", load, each) for each in columns)
        fed = [cable.from_ if cable.to == load.id else cable.to for cable in at.get(load.id, ())]
        demands = tuple(_demand(condition.demand.get(load.id)) for condition in conditions)
        rows.append((*cells, ", ".join(dict.fromkeys(fed)), *demands))
    more = ("Cables come from", *(f"Demand: {condition.id}" for condition in conditions))
    table = Table("Loads", (*titles("loads"), *more), tuple(rows))
    return _without_empty(table, {*more, *(each.title for each in columns if each.key in _ALWAYS)})


def _without_empty(table: Table, kept: set[str]) -> Table:
    """A table without the columns that hold nothing, but for those that everybody looks for."""
    filled = [any(row[at] != "" for row in table.rows) or title in kept for at, title in enumerate(table.headings)]
    rows = tuple(tuple(itertools.compress(row, filled)) for row in table.rows)
    return Table(table.name, tuple(itertools.compress(table.headings, filled)), rows)


def _demand(demand: Demand | None) -> str:
    return "" if demand is None else DemandForm().show(demand)


def _devices(vessel: Vessel, places: Places) -> Table:
    rows = []
    for device in vessel.devices.values():
        raw = places.written("devices", device.id)
        sides = device.sides(vessel.systems)
        systems = dict.fromkeys(side.system or "?" for side in sides)
        poles = dict.fromkeys(pole for side in sides for pole in side.poles)
        other = {spec.key: raw[spec.key] for _, spec in specs(type(device)) if spec.key in raw and spec.key not in _OWN}
        evidence = raw.get("evidence", {})
        rows.append(
            (
                device.id,
                device.name or "",
                device.kind,
                device.space or "",
                ", ".join(systems),
                ", ".join(poles),
                raw.get("rating", ""),
                spoken(other),
                device.note or "",
                *(evidence.get(key, "") for key in ("how", "by", "when")),
            )
        )
    return Table("Devices", (*_DEVICES, *_EVIDENCE), tuple(rows))
