"""Everything the record holds that is not a device: spaces, systems, panels, cables, conditions."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from vesselspec.model.forms import (
    ID_PATTERN,
    ID_SAYS,
    PLACE_PATTERN,
    PLACE_SAYS,
    POLE_PATTERN,
    POLE_SAYS,
    POLES,
    ConductorSize,
    Count,
    Day,
    Either,
    Entries,
    File,
    Flag,
    Landing,
    ListOf,
    MapOf,
    Nested,
    Pairs,
    PlaceReference,
    Pole,
    Position,
    Quantity,
    Ratio,
    Reference,
    Schema,
    SectionReference,
    Text,
    Voltage,
    Word,
    build,
    declare,
    schema_of,
)
from vesselspec.standards import PRACTICES
from vesselspec.units import Size, SystemVoltage

#: Words for a cable end or a core that lands nowhere known.
UNTRACED, FREE, SPARE = "untraced", "free", "spare"
#: Word for a label that somebody looked for and that is not there.
NO_LABEL = "none"

FUSE_FAMILIES = ("class-t", "class-r", "gG", "blade", "plug", "strip", "stud", "cartridge")
WAY_DEVICES = ("breaker", "fuse", "switch", "residual-current-switch", "blank")
#: What a protective device is marked for: an arc that AC puts out at its next zero burns on in DC.
RATED_FOR = ListOf(Word(("ac", "dc")), most=2)
RATED_FOR_SAYS = "The kinds of current that it is marked for at that voltage."
FITTINGS = (
    "ammeter",
    "voltmeter",
    "frequency-meter",
    "polarity-indicator",
    "rear-cover",
    "ac-dc-barrier",
    "several-sources-sign",
)


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """How an entry is known, by whom (a role, not a person's name) and since when."""

    title: ClassVar[str] = "Evidence"

    how: str = declare(
        "how",
        Word(("measured", "traced", "labelled", "documented", "assumed")),
        "How it is known",
        "measured with an instrument; traced by eye or tone along its whole run; labelled, read off a label; "
        "documented, taken from a drawing or manual; assumed, nobody has looked.",
        "traced",
        required=True,
    )
    by: str | None = declare("by", Text(80), "By", "The role of whoever found it out.", "technician")
    when: datetime.date | None = declare("when", Day(), "When", "The day it was found out.", "2026-03-14")


@dataclass(frozen=True, kw_only=True)
class Item:
    """What every entry of the record may say about itself."""

    id: str = ""
    name: str | None = declare("name", Text(120), "Name", "What people on board call it.", "Galley outlets")
    formerly: tuple[str, ...] = declare(
        "formerly",
        ListOf(PlaceReference(), most=20),
        "Formerly",
        "Earlier ids of the same thing, so that its history follows it.",
        ["C017"],
        default=(),
    )
    note: str | None = declare("note", Text(), "Note", "Anything the next person should know.", "Tight bend.")
    photos: tuple[str, ...] = declare(
        "photos",
        ListOf(File(), most=50),
        "Photographs",
        "Paths of pictures inside the vessel's folder.",
        ["photos/ac-main.jpg"],
        default=(),
    )
    evidence: Evidence | None = declare(
        "evidence",
        Nested(Evidence),
        "Evidence",
        "How this entry is known.",
        {"how": "traced", "by": "technician", "when": "2026-03-14"},
    )


@dataclass(frozen=True, kw_only=True)
class About:
    """The vessel itself."""

    title: ClassVar[str] = "Vessel"

    record: int = declare(
        "record", Count(1, 1), "Record format", "The version of this record's format; 1.", 1, required=True
    )
    name: str = declare("name", Text(120), "Name", "The vessel's name.", "Example", required=True)
    practice: str = declare(
        "practice",
        Word(PRACTICES),
        "Practice",
        "Which set of published figures and colours the boat is judged by.",
        "north-american",
        required=True,
    )
    length_m: float | None = declare("length", Quantity("length"), "Length", "Length over all.", "14.6 m")
    hull: str | None = declare(
        "hull",
        Word(("glass-reinforced-plastic", "wood", "steel", "aluminium", "other")),
        "Hull",
        "What the hull is made of.",
        "glass-reinforced-plastic",
    )
    fuel: str | None = declare(
        "fuel", Word(("diesel", "petrol", "none", "both")), "Fuel", "What engines on board burn.", "diesel"
    )
    note: str | None = declare("note", Text(), "Note", "Anything that concerns the whole boat.", "Refit 2025.")


@dataclass(frozen=True, kw_only=True)
class Space(Item):
    """A compartment, with what makes it hard on conductors or dangerous."""

    title: ClassVar[str] = "Space"

    engine_space: bool = declare(
        "engine_space",
        Flag(),
        "Engine space",
        "Whether engine-space ambient temperatures apply.",
        True,
        default=False,
    )
    ambient_c: float | None = declare(
        "ambient", Quantity("temperature"), "Ambient", "Highest usual ambient temperature.", "45 degC"
    )
    wet: bool = declare("wet", Flag(), "Wet", "Head, galley, deck, bilge: water is about.", True, default=False)
    fuel_vapour: bool = declare(
        "fuel_vapour",
        Flag(),
        "Fuel vapour",
        "Petrol vapour can gather here; devices must be ignition protected.",
        False,
        default=False,
    )


#: What a charging source does in a condition.
BULK, ABSORPTION, FLOAT = CHARGING_STAGES = ("bulk", "absorption", "float")

SYSTEM_POLES = {
    "dc": ("DC+", "DC-"),
    "ac-single-phase": ("L1", "N"),
    "ac-split-phase": ("L1", "L2", "N"),
    "ac-three-phase": ("L1", "L2", "L3", "N"),
}


@dataclass(frozen=True, kw_only=True)
class System(Item):
    """One voltage system on board."""

    title: ClassVar[str] = "System"

    kind: str = declare(
        "kind",
        Word(tuple(SYSTEM_POLES)),
        "Kind",
        "DC, or the arrangement of the AC lines.",
        "dc",
        required=True,
    )
    voltage: SystemVoltage = declare(
        "voltage",
        Voltage(),
        "Voltage",
        "Nominal voltage; a pair where lines and neutral give two.",
        "120/240 V",
        required=True,
    )
    frequency_hz: float | None = declare(
        "frequency", Quantity("frequency"), "Frequency", "Nominal frequency of an AC system.", "60 Hz"
    )

    @property
    def is_dc(self) -> bool:
        """Whether this is a DC system."""
        return self.kind == "dc"

    @property
    def poles(self) -> tuple[str, ...]:
        """The poles that carry current in this system."""
        return SYSTEM_POLES[self.kind]

    def volts(self, poles: tuple[str, ...]) -> float:
        """Nominal voltage in V across a device that is connected to these poles."""
        lines = [pole for pole in poles if pole in ("L1", "L2", "L3")]
        if len(lines) >= 2 and self.voltage.between_lines_v is not None:
            return self.voltage.between_lines_v
        return self.voltage.line_v


@dataclass(frozen=True, kw_only=True)
class Way(Item):
    """One numbered position of a panel with the device in it."""

    title: ClassVar[str] = "Way"

    device: str = declare(
        "device",
        Word(WAY_DEVICES),
        "Device",
        "What sits in the position; a breaker unless said otherwise.",
        "breaker",
        default="breaker",
    )
    poles: tuple[str, ...] = declare(
        "poles",
        ListOf(Pole(), most=5),
        "Poles",
        "The poles that the device opens. The others land on the section's own bars.",
        ["L1"],
        default=(),
    )
    rating_a: float | None = declare("rating", Quantity("current"), "Rating", "Rated current.", "20 A")
    duty: str = declare(
        "duty",
        Word(("main", "branch")),
        "Duty",
        "main where the way feeds the section, branch where the section feeds the way.",
        "branch",
        default="branch",
    )
    family: str | None = declare(
        "family", Word(FUSE_FAMILIES), "Fuse family", "The family of a fuse, as marked on it.", "class-t"
    )
    curve: str | None = declare(
        "curve", Word(("B", "C", "D")), "Trip curve", "Instantaneous trip type, where marked.", "C"
    )
    interrupting_a: float | None = declare(
        "interrupting", Quantity("current"), "Interrupting rating", "Largest current it can break.", "5 kA"
    )
    voltage_v: float | None = declare(
        "voltage_rating", Quantity("voltage"), "Voltage rating", "Rated voltage, as marked.", "240 V"
    )
    rated_for: tuple[str, ...] = declare("rated_for", RATED_FOR, "Rated for", RATED_FOR_SAYS, ["ac"], default=())
    residual_a: float | None = declare(
        "residual_current",
        Quantity("current"),
        "Rated residual current",
        "Where the device also opens on leakage to earth; 0 mA where it is known not to.",
        "30 mA",
    )
    delay_s: float | None = declare(
        "delay", Quantity("time"), "Residual delay", "Longest time to open at rated leakage.", "100 ms"
    )
    lockable: bool | None = declare("lockable", Flag(), "Lockable", "Whether a lock can hold it open.", True)
    label: str | None = declare(
        "label", Text(80), "Label", "The words beside it on the panel; `none` where there are none.", "Galley"
    )
    spare: bool = declare("spare", Flag(), "Spare", "Known to have nothing connected to it.", True, default=False)

    @property
    def is_protective(self) -> bool:
        """Whether it opens by itself on too much current."""
        return self.device in ("breaker", "fuse")


@dataclass(frozen=True, kw_only=True)
class Section(Item):
    """A separately fed set of bars inside a panel, with its ways."""

    title: ClassVar[str] = "Section"

    system: str | None = declare(
        "system", Reference(("systems",)), "System", "The panel's system unless said here.", "dc-12"
    )
    rating_a: float | None = declare("rating", Quantity("current"), "Bus rating", "Rating of its bars.", "100 A")
    neutral_bar: str | None = declare(
        "neutral_bar",
        SectionReference(),
        "Neutral bar",
        "The other section of this panel whose neutral bar this one shares. Its own unless said here.",
        "shore",
    )
    ways: tuple[Way, ...] = declare(
        "ways",
        Entries(Way),
        "Ways",
        "The numbered positions, by their number as a quoted text.",
        {"1": {"poles": ["L1"], "rating": "20 A"}},
        default=(),
    )


def ignition_field() -> Any:
    """The field that devices and panels share."""
    return declare(
        "ignition_protected", Flag(), "Ignition protected", "Whether it is marked as safe in petrol vapour.", True
    )


@dataclass(frozen=True, kw_only=True)
class Panel(Item):
    """An enclosure with one or more sections."""

    title: ClassVar[str] = "Panel"

    space: str | None = declare("space", Reference(("spaces",)), "Space", "Where it is.", "wheelhouse")
    system: str | None = declare(
        "system", Reference(("systems",)), "System", "The system of its sections.", "ac-120-240"
    )
    metal: bool | None = declare("metal", Flag(), "Metal", "Whether the enclosure is of metal.", True)
    ignition_protected: bool | None = ignition_field()
    fitted: tuple[str, ...] | None = declare(
        "fitted",
        ListOf(Word(FITTINGS), least=0),
        "Fitted",
        "Meters, polarity indicator, covers and signs that are there, all of them: what is not in the list is not "
        "fitted. An empty list: somebody looked, and there are none. Left out: nobody has looked.",
        ["ammeter", "rear-cover"],
    )
    sections: tuple[Section, ...] = declare(
        "sections",
        Entries(Section, most=40),
        "Sections",
        "Its separately fed sets of bars.",
        {"house": {"ways": {"1": {"rating": "20 A", "poles": ["L1"]}}}},
        required=True,
    )


@dataclass(frozen=True, kw_only=True)
class Labels:
    """What is written on the two ends of a cable."""

    title: ClassVar[str] = "Labels"

    from_: str | None = declare("from", Text(80), "At the from end", "`none` where there is none.", "C104")
    to: str | None = declare("to", Text(80), "At the to end", "`none` where there is none.", "C104")


@dataclass(frozen=True, kw_only=True)
class Joint:
    """A joint along a cable."""

    title: ClassVar[str] = "Joint"

    space: str | None = declare("space", Reference(("spaces",)), "Space", "Where it is.", "engine-room")
    note: str | None = declare("note", Text(), "Note", "What it looks like.", "Crimped, heat-shrunk.")


#: A landing: a pole, a terminal, or one of the two words.
LANDING_PATTERN = rf"({POLE_PATTERN}|^({UNTRACED}|{FREE})$|{PLACE_PATTERN[:-1]}:{POLE_PATTERN[1:]})"
LANDING_SAYS = f"{POLE_SAYS}; a terminal `place:POLE`; `{UNTRACED}` or `{FREE}`"
_LANDING = Landing(LANDING_PATTERN, LANDING_SAYS)


@dataclass(frozen=True, kw_only=True)
class Core:
    """One conductor of a cable: from one terminal to one terminal.

    A landing is a pole of the place at that end of the cable, a full terminal address, `untraced`, or
    `free` (cut back and insulated). None stands for "as the other end" while a cable is being read.
    """

    title: ClassVar[str] = "Core"

    from_: str | None = declare("from", _LANDING, "From", "Where it lands at the from end.", "ac-main/shore:N")
    to: str | None = declare("to", _LANDING, "To", "Where it lands at the to end.", "N")
    colour: str | None = declare(
        "colour",
        Text(40),
        "Colour",
        "Colour of the insulation, where the core's name is not a colour.",
        "black",
    )
    size: Size | None = declare("size", ConductorSize(), "Size", "Where this core differs from the cable.", "8 AWG")

    def whole(self) -> Core:
        """The core with the end that is not said filled in: the same pole, at the place of that end."""
        from_, to = self.from_ or self.to, self.to or self.from_
        if from_ is None or to is None:
            return self
        if self.from_ is None:
            from_ = to.rpartition(":")[2]
        if self.to is None:
            to = from_.rpartition(":")[2]
        return replace(self, from_=from_, to=to)


CORE_WORDS = f"^({SPARE}|{UNTRACED})$"
CORE_SAYS = f"{POLE_SAYS}; `{SPARE}` or `{UNTRACED}`; or a mapping that tells the two ends apart"


@dataclass(frozen=True)
class CoreForm:
    """A core as written: one landing for both ends, `spare`, or a mapping that tells the ends apart."""

    def schema(self) -> Schema:
        nested = schema_of(Core)
        nested["minProperties"] = 1
        plain: Schema = {"type": "string", "pattern": f"({POLE_PATTERN}|{CORE_WORDS})", "$comment": CORE_SAYS}
        plain |= {"title": "Core", "description": f"Where it lands at both ends: {CORE_SAYS}."}
        plain["examples"] = [*POLES, SPARE, UNTRACED]  # editors offer them
        return {"anyOf": [plain, nested]}

    def build(self, raw: Any) -> Core:
        if isinstance(raw, str):
            landing = FREE if raw == SPARE else raw
            return Core(from_=landing, to=landing)
        value: Core = Nested(Core).build(raw)
        return value

    def show(self, value: Core) -> str:
        if value.from_ == value.to and value.colour is None and value.size is None:
            return SPARE if value.from_ == FREE else str(value.from_)
        return Nested(Core).show(value)


_CORES = MapOf(
    r"^[a-z0-9][a-z0-9 -]{0,39}$",
    "a core by its colour or mark: small letters, digits, blanks and -; at most 40 characters",
    CoreForm(),
    most=60,
)


@dataclass(frozen=True, kw_only=True)
class CableType(Item):
    """What cables of one make-up have in common, so that each cable can be written in a few words."""

    title: ClassVar[str] = "Cable type"

    size: Size | None = declare("size", ConductorSize(), "Size", "Size of its cores.", "12 AWG")
    insulation_c: float | None = declare(
        "insulation",
        Quantity("temperature"),
        "Insulation",
        "Temperature rating of the insulation.",
        "105 degC",
    )
    sheath: bool | None = declare("sheath", Flag(), "Sheath", "Whether a common sheath is over the cores.", True)
    cores: Pairs = declare(
        "cores",
        _CORES,
        "Cores",
        "Each core by its colour, with the pole it usually lands on.",
        {"black": "L1", "white": "N", "green": "PE"},
        default=Pairs(),
    )


@dataclass(frozen=True, kw_only=True)
class Cable(Item):
    """A cable: cores in one run, each from one terminal to one terminal."""

    title: ClassVar[str] = "Cable"

    type: str | None = declare(
        "type",
        Reference(("cable_types",)),
        "Type",
        "The cable type that fills in what is not said.",
        "boat-12-3",
    )
    from_: str = declare(
        "from",
        PlaceReference((UNTRACED,)),
        "From",
        "Where it starts; `untraced` if nobody knows.",
        "ac-main/a/4",
        required=True,
    )
    to: str = declare(
        "to",
        PlaceReference((UNTRACED,)),
        "To",
        "Where it ends; `untraced` if nobody knows.",
        "water-heater",
        required=True,
    )
    size: Size | None = declare("size", ConductorSize(), "Size", "Size of its cores.", "12 AWG")
    length_m: float | None = declare("length", Quantity("length"), "Length", "Length one way.", "7.5 m")
    insulation_c: float | None = declare(
        "insulation",
        Quantity("temperature"),
        "Insulation",
        "Temperature rating of the insulation.",
        "105 degC",
    )
    sheath: bool | None = declare("sheath", Flag(), "Sheath", "Whether a common sheath is over the cores.", True)
    cores: Pairs = declare(
        "cores",
        _CORES,
        "Cores",
        "Each core by its colour, with the pole it lands on at both ends; or each end for itself.",
        {"black": "L1", "white": "N", "green": "PE"},
        default=Pairs(),
    )
    route: tuple[str, ...] = declare(
        "route",
        ListOf(Reference(("spaces",)), most=40, unique=False),
        "Route",
        "The spaces it passes through, in order.",
        ["wheelhouse", "engine-room"],
        default=(),
    )
    bundle: str | None = declare(
        "bundle",
        Reference(("bundles",)),
        "Bundle",
        "The bundle or duct that it shares with others; left out, it is taken to run alone.",
        "port-duct",
    )
    label: str | None = declare(
        "label", Text(80), "Label", "What is written on both ends; `none` where nothing is.", "C104"
    )
    labels: Labels | None = declare(
        "labels", Nested(Labels), "Labels", "Where the two ends differ.", {"from": "C104", "to": NO_LABEL}
    )
    joints: tuple[Joint, ...] = declare(
        "joints",
        ListOf(Nested(Joint), most=40, unique=False),
        "Joints",
        "Joints along its run.",
        [{"space": "engine-room"}],
        default=(),
    )

    def label_at(self, end: str) -> str | None:
        """What is written at the `from` or `to` end; None where the record does not say."""
        if self.labels is not None:
            own = self.labels.from_ if end == "from" else self.labels.to
            if own is not None:
                return own
        return self.label


@dataclass(frozen=True, kw_only=True)
class Bundle(Item):
    """A bundle, duct or conduit that several cables share; their conductors warm each other."""

    title: ClassVar[str] = "Bundle"


@dataclass(frozen=True, kw_only=True)
class Interlock(Item):
    """Breakers or switches of which a mechanism lets only one be closed at a time."""

    title: ClassVar[str] = "Interlock"

    between: tuple[str, ...] = declare(
        "between",
        ListOf(PlaceReference(), least=2, most=12),
        "Between",
        "The ways or devices that it holds apart.",
        ["ac-main/shore/1", "ac-main/shore/2"],
        required=True,
    )


#: What a load can be for.
USES = (
    "lighting",
    "navigation-lights",
    "navigation",
    "electronics",
    "cooking",
    "water-heating",
    "space-heating",
    "air-conditioning",
    "refrigeration",
    "laundry",
    "bilge-pump",
    "bilge-blower",
    "pump",
    "windlass",
    "thruster",
    "engine-cranking",
    "charging",
    "receptacles",
    "other",
)


@dataclass(frozen=True, kw_only=True)
class Demand:
    """How much of a load counts in a condition, and for how long in a day."""

    title: ClassVar[str] = "Demand"

    factor: float = declare(
        "factor",
        Ratio(0, 1),
        "Demand factor",
        "Share of the rated load that counts at the same time as the others; `published` for the published figure "
        "for what the load is for.",
        0.6,
        required=True,
    )
    hours_s: float | None = declare(
        "per_day", Quantity("time"), "Time per day", "How long it runs in 24 hours of this condition.", "3 h"
    )
    #: Whether the factor is a published one, and whether nobody wrote the load down: its condition asks for its use.
    published: ClassVar[bool] = False
    unlisted: ClassVar[bool] = False

    @property
    def said(self) -> str:
        """The factor as the record writes it."""
        return PUBLISHED if self.published else f"{self.factor:g}"


@dataclass(frozen=True, kw_only=True)
class PublishedDemand(Demand):
    """A demand at the published factor, which `model.published` fills in; 0 where there is none."""

    published: ClassVar[bool] = True


@dataclass(frozen=True, kw_only=True)
class UnlistedDemand(PublishedDemand):
    """The same, of a load that counts because the condition asks for all of its use."""

    unlisted: ClassVar[bool] = True


#: In the place of a demand factor: the published one for what the load is for.
PUBLISHED = "published"
_FACTOR_SAYS = f"a number from 0 to 1, or `{PUBLISHED}`"
_FACTOR: Schema = {
    "anyOf": [
        {"type": "number", "minimum": 0, "maximum": 1},
        {"type": "string", "pattern": f"^{PUBLISHED}$", "$comment": _FACTOR_SAYS},
    ]
}


@dataclass(frozen=True)
class DemandForm:
    """A demand as written: a bare factor or `published`, or either with hours."""

    def schema(self) -> Schema:
        nested = schema_of(Demand)
        words = {key: nested["properties"]["factor"][key] for key in ("title", "description", "examples")}
        nested["properties"]["factor"] = {**_FACTOR, **words}
        said = {"title": "Demand", "description": words["description"]}
        return {"anyOf": [*({**branch, **said} for branch in _FACTOR["anyOf"]), nested]}

    def build(self, raw: Any) -> Demand:
        written = dict(raw) if isinstance(raw, Mapping) else {"factor": raw}
        if written["factor"] == PUBLISHED:
            value: Demand = build(PublishedDemand, {**written, "factor": 0.0})
        else:
            value = build(Demand, written)
        return value

    def show(self, value: Demand) -> str:
        factor = value.said
        return factor if value.hours_s is None else f"{factor} for {Quantity('time').show(value.hours_s)} a day"


@dataclass(frozen=True, kw_only=True)
class Condition(Item):
    """An operating condition: a named state of the boat, as an electric load analysis uses the term."""

    title: ClassVar[str] = "Operating condition"

    running: tuple[str, ...] = declare(
        "running",
        ListOf(Reference(("devices",)), least=0, most=100),
        "Running",
        "The sources and converters that are on. Batteries are always there.",
        ["shore-1"],
        required=True,
    )
    positions: Pairs = declare(
        "positions",
        MapOf(PLACE_PATTERN, PLACE_SAYS, Position(), keys=PlaceReference()),
        "Positions",
        "Where selectors and switches stand. Breakers and switches are closed unless said here.",
        {"source-selector": "shore", "ac-main/shore/7": "open"},
        default=Pairs(),
    )
    published: tuple[str, ...] = declare(
        "published",
        ListOf(Word(USES)),
        "Published demand",
        "What loads are for that count at the published demand factor although `demand` does not list them.",
        ["lighting"],
        default=(),
    )
    demand: Pairs = declare(
        "demand",
        MapOf(ID_PATTERN, ID_SAYS, DemandForm(), keys=Reference(("loads", "devices"))),
        "Demand",
        "The loads that run, with their demand factor. A load that is not listed does not run. Of what charges "
        "(charger, alternator, solar array or its controller, DC-DC converter) it is the share of its rated output "
        "that it gives; of a solar array, of what it gives in full sun.",
        {"water-heater": 1.0, "cabin-heat": {"factor": 0.6, "per_day": "8 h"}},
        default=Pairs(),
    )
    charging: Pairs = declare(
        "charging",
        MapOf(ID_PATTERN, ID_SAYS, Word(CHARGING_STAGES), keys=Reference(("devices",))),
        "Charging stages",
        "What stage a charging source is in: bulk, it gives its rated current (or the share of it in `demand`); "
        "absorption, it holds its absorption voltage and gives no more than that; float, it holds its float voltage: "
        "the bank is full and takes next to nothing, and the source carries the loads.",
        {"main-charger": "bulk", "start-charger": "float"},
        default=Pairs(),
    )

    @property
    def shares(self) -> tuple[tuple[str, Demand], ...]:
        """What runs, with its demand: a charging source of which only the stage is recorded may give all it can."""
        listed = dict(self.demand)
        staged = ((key, Demand(factor=1.0)) for key, _ in self.charging if key not in listed)
        return (*self.demand, *staged)


@dataclass(frozen=True, kw_only=True)
class DayPart:
    """A part of a day that the boat spends in one condition."""

    title: ClassVar[str] = "Part of a day"

    condition: str = declare(
        "condition", Reference(("conditions",)), "Condition", "The operating condition.", "at-anchor", required=True
    )
    time_s: float = declare("time", Quantity("time"), "Time", "How long.", "16 h", required=True)


@dataclass(frozen=True, kw_only=True)
class DayPlan(Item):
    """A day on board: the conditions that follow each other in 24 hours."""

    title: ClassVar[str] = "Day"

    parts: tuple[DayPart, ...] = declare(
        "parts",
        ListOf(Nested(DayPart), most=48, unique=False),
        "Parts",
        "The conditions in their order, 24 hours together; one may come again.",
        [{"condition": "under-way", "time": "6 h"}, {"condition": "at-anchor", "time": "18 h"}],
        required=True,
    )


#: Watts, or watts for each pair of poles of a load with 120 V and 240 V parts.
POWER_FORM = Either(
    (
        (str, Quantity("power")),
        (
            dict,
            MapOf(r"^(L[123]-(N|L[123])|DC\+-DC-)$", "a pair of poles, such as L1-N or L1-L2", Quantity("power")),
        ),
    )
)
