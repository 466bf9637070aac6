"""Devices and loads: what each kind can say, and the terminals it has.

A device has *sides*: sets of terminals on one system. A device with one side is addressed by its id
(`shore-1:L1`), one with several by id and side (`house-charger/dc:DC+`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from vesselspec.model.forms import (
    ID_PATTERN,
    ID_SAYS,
    ConductorSize,
    Count,
    Flag,
    ListOf,
    MapOf,
    Name,
    Nested,
    Pairs,
    Pole,
    Quantity,
    Ratio,
    Reference,
    TerminalReference,
    Text,
    Word,
    declare,
)
from vesselspec.model.items import (
    FUSE_FAMILIES,
    POWER_FORM,
    RATED_FOR,
    RATED_FOR_SAYS,
    USES,
    Item,
    System,
    ignition_field,
)
from vesselspec.units import Size

Systems = Mapping[str, System]


@dataclass(frozen=True)
class Side:
    """A set of terminals on one system. `name` is empty for a device that has only one."""

    name: str
    system: str | None
    poles: tuple[str, ...]


_SYSTEM = Reference(("systems",))
#: What has two systems says which is which.
_SYSTEM_TITLES = {
    "system": "System",
    "in_system": "Input system",
    "out_system": "Output system",
    "dc_system": "DC system",
    "array_system": "Array system",
    "secondary_system": "Secondary system",
}
_POLES = ListOf(Pole(), most=5)


def _system(key: str = "system", what: str = "The system it belongs to.", example: str = "ac-120-240") -> Any:
    return declare(key, _SYSTEM, _SYSTEM_TITLES[key], what, example)


def _poles(what: str = "Its poles, where they are not all poles of its system.") -> Any:
    return declare("poles", _POLES, "Poles", what, ["L1", "N"], default=())


def _current(key: str, title: str, what: str, example: str) -> Any:
    return declare(key, Quantity("current"), title, what, example)


def _set_voltage(stage: str, example: str) -> Any:
    what = f"Voltage that it holds at its output in {stage}, as set; its current is less there than its rating."
    return declare(f"{stage}_voltage", Quantity("voltage"), f"{stage.capitalize()} voltage", what, example)


def _absorption() -> Any:
    return _set_voltage("absorption", "14.4 V")


def _float() -> Any:
    return _set_voltage("float", "13.5 V")


def _flag(key: str, title: str, what: str, example: bool = True) -> Any:
    return declare(key, Flag(), title, what, example)


def _all(system: str | None, systems: Systems) -> tuple[str, ...]:
    return systems[system].poles if system is not None and system in systems else ()


def poles_of(system: str | None, systems: Systems, own: tuple[str, ...]) -> tuple[str, ...]:
    """The poles of a side: those written, or else those of its system."""
    if own:
        return tuple(pole for pole in own if pole != "PE")
    return _all(system, systems)


@dataclass(frozen=True, kw_only=True)
class Device(Item):
    """What every device may say."""

    kind: ClassVar[str] = ""
    title: ClassVar[str] = ""
    #: shore, generator, inverter, battery, charging: the kind of supply it is; empty for no supply.
    supply: ClassVar[str] = ""

    space: str | None = declare("space", Reference(("spaces",)), "Space", "Where it is.", "engine-room")
    ignition_protected: bool | None = ignition_field()

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        """Return its sets of terminals."""
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class _OneSide(Device):
    """A device with one set of terminals."""

    system: str | None = _system()
    poles: tuple[str, ...] = _poles()

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (Side("", self.system, poles_of(self.system, systems, self.poles)),)


# --- sources -----------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Cord:
    """The cord between the pedestal and the inlet."""

    title: ClassVar[str] = "Shore cord"

    size: Size | None = declare("size", ConductorSize(), "Size", "Size of its line conductors.", "6 AWG")
    earth_size: Size | None = declare(
        "earth_size", ConductorSize(), "Earth size", "Size of its earth conductor.", "8 AWG"
    )
    length_m: float | None = declare("length", Quantity("length"), "Length", "Length of the cord.", "15 m")


@dataclass(frozen=True, kw_only=True)
class ShoreInlet(_OneSide):
    """A shore power inlet on the boat; its source is the supply ashore behind the cord."""

    kind: ClassVar[str] = "shore-inlet"
    title: ClassVar[str] = "Shore inlet"
    supply: ClassVar[str] = "shore"

    rating_a: float | None = _current("rating", "Rating", "Rated current of the inlet, for each line.", "50 A")
    cord: Cord | None = declare(
        "cord", Nested(Cord), "Cord", "The cord that is used with it.", {"size": "6 AWG", "length": "15 m"}
    )
    supply_ohm: float | None = declare(
        "supply_impedance",
        Quantity("resistance"),
        "Supply impedance",
        "Loop impedance at the pedestal, if somebody measured it.",
        "0.2 ohm",
    )
    supply_fault_a: float | None = _current(
        "supply_fault_current", "Supply fault current", "Prospective fault current at the pedestal.", "5 kA"
    )


@dataclass(frozen=True, kw_only=True)
class Generator(_OneSide):
    """A generating set."""

    kind: ClassVar[str] = "generator"
    title: ClassVar[str] = "Generator"
    supply: ClassVar[str] = "generator"

    rating_a: float | None = _current("rating", "Rating", "Rated current of each line.", "50 A")
    apparent_va: float | None = declare(
        "apparent_power", Quantity("apparent-power"), "Apparent power", "Rated output.", "12 kVA"
    )
    auto_start: bool | None = _flag("auto_start", "Automatic start", "Whether it can start with nobody there.")
    auto_start_lockout: str | None = declare(
        "auto_start_lockout",
        Text(200),
        "Automatic start lockout",
        "Where the automatic start is inhibited.",
        "Key switch on the set",
    )
    start_battery: str | None = declare(
        "start_battery",
        Reference(("devices",)),
        "Start battery",
        "The bank that cranks it.",
        "generator-start-bank",
    )
    start_switch: str | None = declare(
        "start_switch",
        Reference(("devices",)),
        "Start battery switch",
        "The switch of that bank.",
        "gen-switch",
    )
    neutral_earth_bond: bool | None = _flag(
        "neutral_earth_bond", "Neutral-earth bond", "Whether neutral and earth are joined in the set."
    )
    sustained_fault_current_a: float | None = _current(
        "sustained_fault_current", "Sustained fault current", "What it keeps up into a short, from its maker.", "150 A"
    )
    subtransient: float | None = declare(
        "subtransient_reactance",
        Quantity("percent"),
        "Subtransient reactance",
        "From its data sheet.",
        "12 %",
    )


@dataclass(frozen=True, kw_only=True)
class BatteryBank(_OneSide):
    """Batteries that are permanently wired together."""

    kind: ClassVar[str] = "battery-bank"
    title: ClassVar[str] = "Battery bank"
    supply: ClassVar[str] = "battery"

    chemistry: str | None = declare(
        "chemistry",
        Word(("flooded-lead-acid", "agm-lead-acid", "gel-lead-acid", "lithium-iron-phosphate", "lithium-other")),
        "Chemistry",
        "What the cells are.",
        "agm-lead-acid",
    )
    capacity_ah: float | None = declare(
        "capacity", Quantity("charge"), "Capacity", "Rated capacity of the whole bank.", "600 Ah"
    )
    strings: int | None = declare("strings", Count(1, 100), "Strings", "Strings in parallel.", 3)
    in_series: int | None = declare("in_series", Count(1, 100), "In series", "Batteries in each string.", 2)
    internal_ohm: float | None = declare(
        "internal_resistance",
        Quantity("resistance"),
        "Internal resistance",
        "Of the whole bank, measured or from the maker.",
        "2 mohm",
    )
    short_circuit_a: float | None = _current(
        "short_circuit_current", "Short-circuit current", "Of the whole bank, from the maker.", "7.2 kA"
    )
    cold_cranking_a: float | None = _current(
        "cold_cranking_current", "Cold-cranking current", "Sum of the marked figures.", "1800 A"
    )
    max_discharge_a: float | None = _current(
        "max_discharge", "Largest discharge", "Largest continuous discharge that is permitted.", "300 A"
    )
    capacity_over_s: float | None = declare(
        "capacity_over",
        Quantity("time"),
        "Capacity over",
        "The discharge time at which the capacity is rated, as marked; 20 h for most lead-acid batteries.",
        "20 h",
    )
    usable_share: float | None = declare(
        "usable_share",
        Ratio(0.05, 1),
        "Usable share",
        "Share of the capacity that is used before it is charged again.",
        0.5,
    )
    charge_acceptance_a: float | None = _current(
        "charge_acceptance", "Charge acceptance", "Largest charging current the whole bank takes.", "160 A"
    )
    peukert: float | None = declare(
        "peukert", Ratio(1, 2), "Peukert exponent", "From the maker, or from two discharge tests.", 1.15
    )


@dataclass(frozen=True, kw_only=True)
class Alternator(_OneSide):
    """An engine-driven DC alternator."""

    kind: ClassVar[str] = "alternator"
    title: ClassVar[str] = "Alternator"
    supply: ClassVar[str] = "charging"

    rating_a: float | None = _current("rating", "Rating", "Rated output.", "140 A")
    absorption_v: float | None = _absorption()
    float_v: float | None = _float()
    self_limiting: bool | None = _flag("self_limiting", "Self-limiting", "Whether its output cannot exceed its rating.")


@dataclass(frozen=True, kw_only=True)
class SolarArray(_OneSide):
    """Photovoltaic panels that are wired together; live whenever there is light."""

    kind: ClassVar[str] = "solar-array"
    title: ClassVar[str] = "Solar array"
    supply: ClassVar[str] = "charging"

    power_w: float | None = declare("power", Quantity("power"), "Power", "Rated peak power.", "600 W")
    open_circuit_v: float | None = declare(
        "open_circuit_voltage", Quantity("voltage"), "Open-circuit voltage", "As marked.", "44 V"
    )
    max_power_v: float | None = declare(
        "max_power_voltage", Quantity("voltage"), "Voltage at maximum power", "As marked.", "36 V"
    )
    short_circuit_a: float | None = _current("short_circuit_current", "Short-circuit current", "As marked.", "18 A")


# --- converters --------------------------------------------------------------------------------


def _fault_time() -> Any:
    return declare(
        "short_circuit_time",
        Quantity("time"),
        "Short-circuit time",
        "How long it feeds a short at most before it switches itself off and stays off, from its maker.",
        "5 s",
    )


@dataclass(frozen=True, kw_only=True)
class Inverter(Device):
    """A stand-alone inverter: battery in, AC out."""

    kind: ClassVar[str] = "inverter"
    title: ClassVar[str] = "Inverter"
    supply: ClassVar[str] = "inverter"

    system: str | None = _system(what="The AC system that it makes.")
    poles: tuple[str, ...] = _poles("Its AC poles, where they are not all poles of its system.")
    dc_system: str | None = _system("dc_system", "The DC system that feeds it.", "dc-12")
    apparent_va: float | None = declare(
        "apparent_power", Quantity("apparent-power"), "Apparent power", "Continuous output.", "2 kVA"
    )
    surge_va: float | None = declare(
        "surge_power",
        Quantity("apparent-power"),
        "Short-time output",
        "What it gives for the seconds in which a motor starts.",
        "6 kVA",
    )
    fault_current_a: float | None = _current(
        "short_circuit_current", "Short-circuit current", "What it gives into a short while it inverts.", "50 A"
    )
    fault_time_s: float | None = _fault_time()
    efficiency: float | None = declare("efficiency", Ratio(0.1, 1), "Efficiency", "At rated output.", 0.9)
    idle_w: float | None = declare("idle_power", Quantity("power"), "Idle power", "Draw with no load.", "20 W")
    neutral_earth_bond: bool | None = _flag(
        "neutral_earth_bond", "Neutral-earth bond", "Whether neutral and earth are joined at its output."
    )
    synchronised: str | None = declare(
        "synchronised",
        Text(64),
        "Synchronised group",
        "A word that all units running in step with each other share (in parallel, or on two lines).",
        "main-pair",
    )

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (
            Side("dc", self.dc_system, poles_of(self.dc_system, systems, ())),
            Side("ac", self.system, poles_of(self.system, systems, self.poles)),
        )


@dataclass(frozen=True, kw_only=True)
class InverterCharger(Device):
    """Inverter and charger in one case, with a relay that passes incoming AC through to its output."""

    kind: ClassVar[str] = "inverter-charger"
    title: ClassVar[str] = "Inverter-charger"
    supply: ClassVar[str] = "inverter"

    system: str | None = _system(what="The AC system of its input and output.")
    poles: tuple[str, ...] = _poles("Its AC poles, where they are not all poles of its system.")
    dc_system: str | None = _system("dc_system", "The DC system of its battery side.", "dc-12")
    apparent_va: float | None = declare(
        "apparent_power", Quantity("apparent-power"), "Apparent power", "Continuous inverter output.", "3 kVA"
    )
    surge_va: float | None = declare(
        "surge_power",
        Quantity("apparent-power"),
        "Short-time output",
        "What it gives for the seconds in which a motor starts.",
        "6 kVA",
    )
    transfer_a: float | None = _current(
        "transfer_rating", "Transfer rating", "Current that its relay passes through, for each line.", "50 A"
    )
    input_limit_a: float | None = _current(
        "input_limit", "Input current limit", "What it is set to draw from its input at most.", "30 A"
    )
    charge_a: float | None = _current("charge_current", "Charging current", "Largest DC charging current.", "120 A")
    absorption_v: float | None = _absorption()
    float_v: float | None = _float()
    fault_current_a: float | None = _current(
        "short_circuit_current", "Short-circuit current", "What it gives into a short while it inverts.", "50 A"
    )
    fault_time_s: float | None = _fault_time()
    efficiency: float | None = declare("efficiency", Ratio(0.1, 1), "Efficiency", "At rated output.", 0.9)
    idle_w: float | None = declare("idle_power", Quantity("power"), "Idle power", "Draw with no load.", "25 W")
    support: bool | None = _flag(
        "support",
        "Support from the battery",
        "Whether it adds power from its battery where the loads would draw more than its input limit.",
    )
    neutral: str = declare(
        "neutral",
        Word(("switched", "common")),
        "Neutral",
        "switched where its relay opens the neutral too; common where input and output neutral are one.",
        "switched",
        default="switched",
    )
    neutral_earth_relay: bool | None = _flag(
        "neutral_earth_relay",
        "Neutral-earth relay",
        "Whether a relay joins neutral and earth at its output while it inverts, and only then.",
    )
    synchronised: str | None = declare(
        "synchronised", Text(64), "Synchronised group", "As for an inverter.", "main-pair"
    )

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        ac = poles_of(self.system, systems, self.poles)
        return (
            Side("ac-in", self.system, ac),
            Side("ac-out", self.system, ac),
            Side("dc", self.dc_system, poles_of(self.dc_system, systems, ())),
        )


@dataclass(frozen=True, kw_only=True)
class Charger(Device):
    """A battery charger fed with AC."""

    kind: ClassVar[str] = "charger"
    title: ClassVar[str] = "Charger"
    supply: ClassVar[str] = "charging"

    system: str | None = _system(what="The AC system that feeds it.")
    poles: tuple[str, ...] = _poles("Its AC poles, where they are not all poles of its system.")
    dc_system: str | None = _system("dc_system", "The DC system that it charges.", "dc-12")
    outputs: tuple[str, ...] = declare(
        "outputs",
        ListOf(Name(taken=("ac",)), most=8),
        "Outputs",
        "Names of its DC outputs where it has more than the one called `dc`.",
        ["house", "start"],
        default=("dc",),
    )
    charge_a: float | None = _current("charge_current", "Charging current", "Largest DC current, all outputs.", "60 A")
    input_a: float | None = _current("input_current", "Input current", "AC current at full output.", "9 A")
    efficiency: float | None = declare("efficiency", Ratio(0.1, 1), "Efficiency", "At rated output.", 0.9)
    absorption_v: float | None = _absorption()
    float_v: float | None = _float()

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        dc = poles_of(self.dc_system, systems, ())
        return (
            Side("ac", self.system, poles_of(self.system, systems, self.poles)),
            *(Side(name, self.dc_system, dc) for name in self.outputs),
        )


@dataclass(frozen=True, kw_only=True)
class DcConverter(Device):
    """A DC-DC converter or battery-to-battery charger."""

    kind: ClassVar[str] = "dc-converter"
    title: ClassVar[str] = "DC-DC converter"
    supply: ClassVar[str] = "charging"

    in_system: str | None = _system("in_system", "The system that feeds it.", "dc-24")
    out_system: str | None = _system("out_system", "The system that it feeds.", "dc-12")
    rating_a: float | None = _current("rating", "Rating", "Rated output current.", "30 A")
    absorption_v: float | None = _absorption()
    float_v: float | None = _float()
    efficiency: float | None = declare("efficiency", Ratio(0.1, 1), "Efficiency", "At rated output.", 0.9)
    isolated: bool | None = _flag("isolated", "Isolated", "Whether input and output negative are kept apart.")

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (
            Side("in", self.in_system, poles_of(self.in_system, systems, ())),
            Side("out", self.out_system, poles_of(self.out_system, systems, ())),
        )


@dataclass(frozen=True, kw_only=True)
class SolarController(Device):
    """A charge controller between a solar array and a battery."""

    kind: ClassVar[str] = "solar-controller"
    title: ClassVar[str] = "Solar controller"
    supply: ClassVar[str] = "charging"

    array_system: str | None = _system("array_system", "The system of the array.", "dc-solar")
    dc_system: str | None = _system("dc_system", "The system that it charges.", "dc-12")
    rating_a: float | None = _current("rating", "Rating", "Rated output current.", "50 A")
    method: str | None = declare(
        "method",
        Word(("mppt", "pwm")),
        "Method",
        "mppt where it keeps the array at its greatest power and steps the voltage down to the battery's; "
        "pwm where it only switches the array on to the battery.",
        "mppt",
    )
    efficiency: float | None = declare("efficiency", Ratio(0.1, 1), "Efficiency", "At rated output.", 0.97)
    absorption_v: float | None = _absorption()
    float_v: float | None = _float()

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (
            Side("array", self.array_system, poles_of(self.array_system, systems, ())),
            Side("battery", self.dc_system, poles_of(self.dc_system, systems, ())),
        )


@dataclass(frozen=True, kw_only=True)
class IsolationTransformer(Device):
    """A transformer with no conductive path between the two sides."""

    kind: ClassVar[str] = "isolation-transformer"
    title: ClassVar[str] = "Isolation transformer"
    supply: ClassVar[str] = "transformer"

    system: str | None = _system(what="The system of the primary.")
    poles: tuple[str, ...] = _poles("Poles of the primary, where they are not all poles of its system.")
    secondary_system: str | None = _system("secondary_system", "The system of the secondary.", "ac-230")
    secondary_poles: tuple[str, ...] = declare(
        "secondary_poles",
        _POLES,
        "Secondary poles",
        "Where they are not all poles of it.",
        ["L1", "N"],
        default=(),
    )
    apparent_va: float | None = declare(
        "apparent_power", Quantity("apparent-power"), "Apparent power", "Rated power.", "7 kVA"
    )
    short_circuit_impedance: float | None = declare(
        "short_circuit_impedance",
        Quantity("percent"),
        "Short-circuit impedance",
        "Voltage at one side that drives rated current through the shorted other, in percent of rated, from its plate.",
        "4 %",
    )
    neutral_earth_bond: bool | None = _flag(
        "neutral_earth_bond", "Neutral-earth bond", "Whether neutral and earth are joined at the secondary."
    )
    earth_through: bool | None = _flag(
        "earth_through",
        "Earth passed through",
        "Whether the shore's earth is connected to the boat's.",
        False,
    )

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (
            Side("primary", self.system, poles_of(self.system, systems, self.poles)),
            Side(
                "secondary",
                self.secondary_system,
                poles_of(self.secondary_system, systems, self.secondary_poles),
            ),
        )


@dataclass(frozen=True, kw_only=True)
class ChargeSplitter(Device):
    """Diodes that let one charging source feed several banks and keep the banks apart."""

    kind: ClassVar[str] = "charge-splitter"
    title: ClassVar[str] = "Charge splitter"

    system: str | None = _system(example="dc-12")
    outputs: tuple[str, ...] = declare(
        "outputs",
        ListOf(Name(taken=("in",)), most=8),
        "Outputs",
        "Names of its outputs.",
        ["house", "start"],
        required=True,
    )
    rating_a: float | None = _current("rating", "Rating", "Rated current.", "120 A")

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        poles = tuple(p for p in poles_of(self.system, systems, ()) if p == "DC+")
        return tuple(Side(name, self.system, poles) for name in ("in", *self.outputs))


@dataclass(frozen=True, kw_only=True)
class GalvanicIsolator(Device):
    """A device in the shore earth that blocks small DC voltages and passes fault current."""

    kind: ClassVar[str] = "galvanic-isolator"
    title: ClassVar[str] = "Galvanic isolator"

    system: str | None = _system(what="The AC system whose earth it sits in.")
    rating_a: float | None = _current("rating", "Rating", "Rated current.", "50 A")

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (Side("shore", self.system, ()), Side("boat", self.system, ()))


# --- switching and protection ------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Selector(Device):
    """A switch with several positions that connects one or more inputs to its output."""

    kind: ClassVar[str] = "selector"
    title: ClassVar[str] = "Selector"

    system: str | None = _system()
    poles: tuple[str, ...] = _poles("The poles that it switches; the others pass straight through, joined.")
    inputs: tuple[str, ...] = declare(
        "inputs",
        ListOf(Name(taken=("out", "off")), most=12),
        "Inputs",
        "Names of its inputs.",
        ["shore", "generator"],
        required=True,
    )
    positions: Pairs = declare(
        "positions",
        MapOf(ID_PATTERN, ID_SAYS, ListOf(Name(), least=0, most=12), most=24),
        "Positions",
        "Which inputs each position connects; `off` and one position for each input unless said here.",
        {"off": [], "one": ["one"], "two": ["two"], "both": ["one", "two"]},
        default=Pairs(),
    )
    operation: str = declare(
        "operation",
        Word(("manual", "automatic")),
        "Operation",
        "automatic where it changes over with nobody there, to the first input in the list that is live.",
        "manual",
        default="manual",
    )
    rating_a: float | None = _current("rating", "Rating", "Rated current.", "63 A")
    lockable: bool | None = _flag("lockable", "Lockable", "Whether a lock can hold it off.")

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        poles = _all(self.system, systems) or self.poles
        return tuple(Side(name, self.system, poles) for name in (*self.inputs, "out"))

    def table(self) -> Mapping[str, tuple[str, ...]]:
        """Each position with the inputs that it connects."""
        if self.positions:
            return dict(self.positions)
        return {"off": (), **{name: (name,) for name in self.inputs}}


@dataclass(frozen=True, kw_only=True)
class _InLine(Device):
    """A two-ended device in a circuit: `line` and `load`."""

    system: str | None = _system()
    poles: tuple[str, ...] = _poles("The poles that it opens; the others pass straight through.")
    rating_a: float | None = _current("rating", "Rating", "Rated current.", "150 A")
    mounted_on: str | None = declare(
        "mounted_on",
        TerminalReference(),
        "Mounted on",
        "The terminal that its line side is bolted to, where no cable lies between.",
        "house-bank:DC+",
    )

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        poles = _all(self.system, systems) or self.poles
        return (Side("line", self.system, poles), Side("load", self.system, poles))

    def opened(self, systems: Systems) -> tuple[str, ...]:
        """The poles that it opens: those written, or else every pole that is not neutral or negative."""
        own = self.poles or _all(self.system, systems)
        return own if self.poles else tuple(pole for pole in own if pole not in ("N", "DC-"))


@dataclass(frozen=True, kw_only=True)
class Switch(_InLine):
    """A switch, contactor or battery switch."""

    kind: ClassVar[str] = "switch"
    title: ClassVar[str] = "Switch"

    operation: str = declare(
        "operation",
        Word(("manual", "remote", "automatic")),
        "Operation",
        "manual by hand on it, remote from elsewhere, automatic by itself (a combining relay, say).",
        "manual",
        default="manual",
    )
    lockable: bool | None = _flag("lockable", "Lockable", "Whether a lock can hold it off.")


@dataclass(frozen=True, kw_only=True)
class Breaker(_InLine):
    """A circuit breaker on its own, outside a panel."""

    kind: ClassVar[str] = "breaker"
    title: ClassVar[str] = "Breaker"

    curve: str | None = declare("curve", Word(("B", "C", "D")), "Trip curve", "Where marked.", "C")
    interrupting_a: float | None = _current("interrupting", "Interrupting rating", "Largest it can break.", "5 kA")
    voltage_v: float | None = declare("voltage_rating", Quantity("voltage"), "Voltage rating", "As marked.", "240 V")
    rated_for: tuple[str, ...] = declare("rated_for", RATED_FOR, "Rated for", RATED_FOR_SAYS, ["ac"], default=())
    residual_a: float | None = _current(
        "residual_current",
        "Rated residual current",
        "Where it opens on leakage too; 0 mA where it is known not to.",
        "30 mA",
    )
    delay_s: float | None = declare("delay", Quantity("time"), "Residual delay", "Longest time to open.", "100 ms")
    lockable: bool | None = _flag("lockable", "Lockable", "Whether a lock can hold it open.")


@dataclass(frozen=True, kw_only=True)
class Fuse(_InLine):
    """A fuse on its own: in line, or bolted to a terminal."""

    kind: ClassVar[str] = "fuse"
    title: ClassVar[str] = "Fuse"

    family: str | None = declare("family", Word(FUSE_FAMILIES), "Fuse family", "As marked on it.", "class-t")
    interrupting_a: float | None = _current("interrupting", "Interrupting rating", "Largest it can break.", "20 kA")
    voltage_v: float | None = declare("voltage_rating", Quantity("voltage"), "Voltage rating", "As marked.", "125 V")
    rated_for: tuple[str, ...] = declare("rated_for", RATED_FOR, "Rated for", RATED_FOR_SAYS, ["ac", "dc"], default=())


@dataclass(frozen=True, kw_only=True)
class ResidualCurrentSwitch(_InLine):
    """A residual-current device without protection against overcurrent."""

    kind: ClassVar[str] = "residual-current-switch"
    title: ClassVar[str] = "Residual-current switch"

    residual_a: float | None = _current("residual_current", "Rated residual current", "As marked.", "30 mA")
    delay_s: float | None = declare("delay", Quantity("time"), "Residual delay", "Longest time to open.", "100 ms")

    def opened(self, systems: Systems) -> tuple[str, ...]:
        """It opens every pole, neutral included, unless the record says otherwise."""
        return self.poles or _all(self.system, systems)


# --- joints and earth --------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Busbar(_OneSide):
    """A busbar or terminal block outside a panel: one bar for each pole."""

    kind: ClassVar[str] = "busbar"
    title: ClassVar[str] = "Busbar"

    rating_a: float | None = _current("rating", "Rating", "Rated current.", "250 A")


@dataclass(frozen=True, kw_only=True)
class Junction(_OneSide):
    """A box in which cables are joined pole to pole."""

    kind: ClassVar[str] = "junction"
    title: ClassVar[str] = "Junction box"


@dataclass(frozen=True, kw_only=True)
class EarthPoint(Device):
    """A point of the earthing and bonding system: bar, engine block, hull, plate."""

    kind: ClassVar[str] = "earth-point"
    title: ClassVar[str] = "Earth point"

    duty: str | None = declare(
        "duty",
        Word(("earth-bar", "engine-block", "hull", "ground-plate", "zinc", "other")),
        "Duty",
        "What it is.",
        "engine-block",
    )

    def sides(self, systems: Systems) -> tuple[Side, ...]:
        return (Side("", None, ()),)


# --- loads -------------------------------------------------------------------------------------

SUPPLIES = ("shore", "generator", "inverter", "battery")


@dataclass(frozen=True, kw_only=True)
class Load(_OneSide):
    """Something that uses electricity."""

    kind: ClassVar[str] = "load"
    title: ClassVar[str] = "Load"

    use: str | None = declare("use", Word(USES), "Use", "What it is for.", "water-heating")
    power_w: float | Pairs | None = declare(
        "power",
        POWER_FORM,
        "Power",
        "Rated power; for a load with parts on several pole pairs, for each pair.",
        "1500 W",
    )
    current_a: float | None = _current("current", "Current", "Rated current, where no power is given.", "12 A")
    apparent_va: float | None = declare(
        "apparent_power", Quantity("apparent-power"), "Apparent power", "Rated apparent power.", "1800 VA"
    )
    power_factor: float | None = declare(
        "power_factor", Ratio(0.05, 1), "Power factor", "At rated load; 1 for a heater.", 0.8
    )
    inrush_a: float | None = _current("inrush", "Inrush", "Largest starting current.", "45 A")
    duty: str | None = declare(
        "duty", Word(("continuous", "intermittent")), "Duty", "continuous: three hours or more.", "continuous"
    )
    motor: bool = declare("motor", Flag(), "Motor", "Whether it is a motor or compressor.", True, default=False)
    essential: bool = declare("essential", Flag(), "Essential", "Whether safety depends on it.", True, default=False)
    importance: int | None = declare(
        "importance",
        Count(1, 9),
        "Importance",
        "The crew's order when not everything can run: 1 is kept longest, 9 is left off first.",
        3,
    )
    may_wait: bool = declare(
        "may_wait",
        Flag(),
        "May wait",
        "Whether it can as well run at another hour; left off before others of its importance.",
        True,
        default=False,
    )
    alternates_with: tuple[str, ...] = declare(
        "alternates_with",
        ListOf(Reference(("loads", "devices")), most=20),
        "Alternates with",
        "Loads or chargers that never draw at the same time as this one: they take turns.",
        ["cabin-heaters"],
        default=(),
    )
    only_from: tuple[str, ...] = declare(
        "only_from",
        ListOf(Word(SUPPLIES)),
        "Only from",
        "The kinds of supply that may feed it.",
        ["shore", "generator"],
        default=(),
    )
    double_insulated: bool = declare(
        "double_insulated", Flag(), "Double insulated", "Needs no earth (class II).", True, default=False
    )


@dataclass(frozen=True, kw_only=True)
class Receptacles(Load):
    """A receptacle circuit: what is plugged in is not known."""

    kind: ClassVar[str] = "receptacles"
    title: ClassVar[str] = "Receptacles"

    sockets: int | None = declare("sockets", Count(1, 100), "Sockets", "How many.", 4)
    wet: bool | None = _flag("wet", "Wet place", "In a head, galley, machinery space or on deck.")
    residual_a: float | None = _current(
        "residual_current",
        "Rated residual current",
        "Of a device built into the receptacles; 0 mA where there is none.",
        "5 mA",
    )


DEVICE_KINDS: Mapping[str, type[Device]] = {
    cls.kind: cls
    for cls in (
        ShoreInlet,
        Generator,
        BatteryBank,
        Alternator,
        SolarArray,
        Inverter,
        InverterCharger,
        Charger,
        DcConverter,
        SolarController,
        IsolationTransformer,
        ChargeSplitter,
        GalvanicIsolator,
        Selector,
        Switch,
        Breaker,
        Fuse,
        ResidualCurrentSwitch,
        Busbar,
        Junction,
        EarthPoint,
    )
}
LOAD_KINDS: Mapping[str, type[Load]] = {cls.kind: cls for cls in (Load, Receptacles)}
