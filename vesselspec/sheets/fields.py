"""The columns of the load list and the cable list, declared once for export and import alike.

What a field is called and how it is written comes from the record's own vocabulary; here stand only the order in
which people want the columns, and the other headings under which their lists have them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from vesselspec.model.devices import Receptacles
from vesselspec.model.forms import (
    ConductorSize,
    Either,
    Form,
    ListOf,
    Name,
    PlaceReference,
    Quantity,
    Reference,
    Text,
    Word,
    specs,
)
from vesselspec.model.items import Cable, Evidence, Labels

#: Kinds of list that can be taken in.
KINDS = ("loads", "cables")
#: How a field's unit is chosen where it is a conductor size.
SIZE = "size"


@dataclass(frozen=True)
class Column:
    """A column: the field that it holds (`evidence.how` is a field inside a field), and its heading."""

    key: str
    title: str
    form: Form
    #: Whether exports have it. The others are only understood.
    exported: bool = True

    @property
    def dimension(self) -> str | None:
        """What kind of quantity it holds; `size` for a conductor; None if it holds none."""
        match self.form:
            case Quantity(dimension):
                return dimension
            case ConductorSize():
                return SIZE
            case Either(by_type):
                return next((form.dimension for _, form in by_type if isinstance(form, Quantity)), None)
            case _:
                return None

    @property
    def collections(self) -> tuple[str, ...]:
        """The collections that its entries must be in; `places` stands for whatever a cable can end at."""
        form = self.form.of if isinstance(self.form, ListOf) else self.form
        if isinstance(form, Reference):
            return form.collections
        return ("places",) if isinstance(form, PlaceReference) and self.key in ("from", "to", "way") else ()


def _columns(cls: type, keys: str, title: str = "{}") -> list[Column]:
    found = {spec.key: spec for _, spec in specs(cls)}
    return [Column(key, title.format(found[key].title), found[key].form) for key in keys.split()]


_ID = [Column("id", "Id", Name())]
_KIND = [Column("kind", "Kind", Word(("load", "receptacles")))]
_EVIDENCE = [
    Column(f"evidence.{spec.key}", f"Evidence: {spec.title[0].lower()}{spec.title[1:]}", spec.form)
    for _, spec in specs(Evidence)
]
_ENDS = [
    Column(f"labels.{spec.key}", f"Label {spec.title[0].lower()}{spec.title[1:]}", spec.form)
    for _, spec in specs(Labels)
]
_WAY = Column("way", "Way", PlaceReference(), exported=False)
_PANEL = Column("panel", "Panel", Text(80), exported=False)
_LABEL = Column("label", "Label", Text(80), exported=False)

COLUMNS: Mapping[str, tuple[Column, ...]] = {
    "loads": (
        *_ID,
        *_columns(Receptacles, "name"),
        *_KIND,
        *_columns(
            Receptacles,
            "use space system poles power current apparent_power power_factor inrush duty motor essential importance "
            "may_wait alternates_with only_from double_insulated sockets wet residual_current ignition_protected "
            "formerly note",
        ),
        *_EVIDENCE,
        _PANEL,
        _WAY,
    ),
    "cables": (
        *_ID,
        *_columns(Cable, "name formerly from to type size length insulation sheath cores route bundle"),
        *_ENDS,
        _LABEL,
        *_columns(Cable, "joints note"),
        *_EVIDENCE,
        _PANEL,
        _WAY,
    ),
}


def column(kind: str, key: str) -> Column:
    """Return a column by the field that it holds. Raises KeyError."""
    for each in COLUMNS[kind]:
        if each.key == key:
            return each
    raise KeyError(key)


@dataclass(frozen=True)
class Known:
    """A heading that people use: the field, and the unit that the heading itself states."""

    key: str
    unit: str | None = None


@dataclass(frozen=True)
class Headings:
    """Headings of one kind of list, as `mapping.plain` makes them, and those that are known and not taken."""

    known: Mapping[str, Known]
    refused: Mapping[str, str] = field(default_factory=dict)


def _words(rows: str) -> dict[str, Known]:
    """`key unit: heading, heading` a line; `-` where the heading states no unit."""
    found: dict[str, Known] = {}
    for row in filter(None, rows.splitlines()):
        head, _, names = row.partition(":")
        key, unit = head.split()
        for name in names.split(","):
            found[name.strip()] = Known(key, None if unit == "-" else unit)
    return found


_ALL = """
note -: notes, remark, remarks, comment, comments
evidence.how -: evidence, how known
formerly -: old id, former id, previously
"""
_RATING = "a rating of a breaker or fuse is recorded with its way in the panel; put it in there"
_VOLTAGE = "a voltage belongs to a system; set --column 'HEADING=system' if the cells name systems of the record"
_COUNT = "an entry is all that one circuit feeds; see that its power or current is that of all of them together"
_DEMAND = "demand is recorded with the operating conditions; put it in there"

HEADINGS: Mapping[str, Headings] = {
    "loads": Headings(
        _words(
            _ALL
            + """
space -: location, compartment, where, room
id -: load id, tag, ref, reference
name -: load, description, load name, load description, equipment, appliance, consumer, item
poles -: pole, phase, phases, line, leg, legs
power -: rated power, wattage, rating, load power
power W: watts, w, rated watts
power kW: kw, kilowatts
current -: rated current, amperage, current draw, running current, full load current
current A: amps, amp, a, amperes, load amps, full load amps, running amps, rated amps, fla
apparent_power VA: va
apparent_power kVA: kva
power_factor -: pf, cos phi
inrush -: starting current, inrush current
inrush A: starting amps, inrush amps, locked rotor amps, lra
sockets -: outlets, receptacles
panel -: panelboard, distribution panel, board
way -: circuit, circuit no, circuit number, way no, breaker no, breaker number, fed by, fed from
"""
        ),
        {
            **dict.fromkeys(
                ("breaker", "breaker size", "breaker rating", "breaker amps", "fuse", "fuse size", "cb"), _RATING
            ),
            **dict.fromkeys(("volts", "voltage", "v", "vac", "vdc"), _VOLTAGE),
            **dict.fromkeys(("demand", "demand factor", "diversity", "hours", "hours per day"), _DEMAND),
            **dict.fromkeys(("qty", "quantity", "count", "pcs", "number of"), _COUNT),
            "cables come from": "it follows from the cables",
        },
    ),
    "cables": Headings(
        _words(
            _ALL
            + """
id -: cable, cable id, cable no, cable number, wire no, wire number, wire id, tag, cable tag
from -: source, origin, start, fed from, from terminal, supply
to -: load, destination, end, serves, feeds, consumer, equipment, appliance
type -: cable type, wire type
size -: wire, wire size, cable size, conductor size, gauge, wire gauge, cross section, csa
size AWG: awg
size mm2: mm2, sq mm, sqmm
length -: len, run, run length, cable length, one way length, length one way
length ft: feet
length m: metres, meters
insulation -: temperature rating, insulation rating, temp rating
sheath -: sheathed, jacket
route -: routing, via, path
bundle -: conduit, duct
label -: wire label, cable label, marking
labels.from -: label from, from label
labels.to -: label to, to label
panel -: panelboard, distribution panel, board, from panel
way -: circuit, circuit no, circuit number, way no, breaker no, breaker number, from circuit
"""
        ),
        {
            **dict.fromkeys(("breaker size", "breaker rating", "breaker amps", "fuse", "fuse size", "cb"), _RATING),
            "breaker": "it may be a number or a rating; set --column 'Breaker=way' if it is the way's number",
            **dict.fromkeys(
                ("round trip", "round trip length", "length round trip", "total length", "loop length"),
                "the record's length is one way, and this one seems to be there and back",
            ),
            **dict.fromkeys(("amps", "current", "load amps"), "what a load draws is recorded with the load"),
            **dict.fromkeys(("volts", "voltage", "v"), "a cable's voltage comes from the system that it is on"),
        },
    ),
}
