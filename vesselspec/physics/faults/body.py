"""What a touch voltage drives through a person, and what such a current does.

The resistance of a person is that of the two contacts; what lies between them is small beside it and left out, which
errs on the side of more current. Two persons are told of, both by R. H. Lee's table: *wet*, one hand round a rail or
handle and a foot in the bilge; *dry*, the dry palms of both hands. Nobody on board knows which one it will be.

The classes are those of a current that lasts. What a device cuts off within a second does less.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from vesselspec.standards import figure

CLASSES: Final = ("not felt", "felt", "may not be able to let go", "fibrillation possible")


@dataclass(frozen=True)
class Person:
    """The resistance of a person between two contacts, at least and at most, in ohm."""

    wet: tuple[float, float]
    dry: tuple[float, float]
    source: str
    derivation: tuple[str, ...]


@cache
def person() -> Person:
    """The two persons, from the printed contact resistances."""
    rule = figure("contact_resistance")
    rows = {row["contact"]: row for row in rule.data["rows"]}
    grip, foot, palm = rows["1.5 in pipe, one hand"]["wet"], rows["foot immersed"]["wet"], rows["palm of hand"]["dry"]
    wet, dry = (grip[0] + foot[0], grip[1] + foot[1]), (2 * palm[0], 2 * palm[1])
    told = (
        f"wet: a wet grip {grip[0]} to {grip[1]} ohm and a foot in water {foot[0]} to {foot[1]} ohm: "
        f"{wet[0]} to {wet[1]} ohm",
        f"dry: two dry palms of {palm[0]} to {palm[1]} ohm: {dry[0]} to {dry[1]} ohm",
    )
    return Person((float(wet[0]), float(wet[1])), (float(dry[0]), float(dry[1])), rule.source, told)


@dataclass(frozen=True)
class Thresholds:
    """Currents in A from which a class begins, and the voltage in V from which a touch counts as dangerous."""

    felt_a: float
    let_go_a: float
    fibrillation_a: float
    dangerous_v: float
    derivation: tuple[str, ...]


@cache
def thresholds() -> Thresholds:
    """The thresholds, each the lowest of the figures that were read for it."""
    iec, dalziel, osha, volts = map(figure, ("iec60479_ac", "dalziel_1961", "osha_3075", "dangerous_voltage"))
    felt, _, heart = (float(row["mA"]) for row in iec.data["rows"][:3])
    let_go = float(dalziel.data["rows"][3]["ac_w"])
    told = (
        f"felt from {felt:g} mA, fibrillation possible from {heart:g} mA for longer than 1 s ({iec.source}; "
        f"{osha.source} prints {osha.data['rows'][5]['mA_min']} mA for death possible)",
        f"may not be able to let go from {let_go:g} mA ({dalziel.source})",
        f"a touch counts from {volts.data['V']:g} V ({volts.source})",
    )
    return Thresholds(felt / 1000, let_go / 1000, heart / 1000, float(volts.data["V"]), told)


def remembered() -> tuple[str, ...]:
    """Figures from memory that stand near: printed, and never what decides."""
    limit, curve, formula = map(figure, ("touch_voltage_limit", "iec60479_c1", "dalziel_fibrillation"))
    rows = ", ".join(f"{row['mA']} mA for {row['duration_s']:g} s" for row in curve.data["rows"])
    return (
        f"conventional touch voltage limit {limit.data['rows'][0]['V']} V AC ({limit.source})",
        f"fibrillation improbable below {rows} ({curve.source}); not likely below {formula.data['k']} mA over the "
        f"root of the seconds ({formula.source})",
    )


def effect(amps: float) -> str:
    """The class of a lasting current."""
    limits = thresholds()
    edges = (limits.felt_a, limits.let_go_a, limits.fibrillation_a)
    return CLASSES[sum(amps >= edge for edge in edges)]


@dataclass(frozen=True)
class Shock:
    """What a touch voltage drives through the two persons, in A, at least and at most, and the classes of both ends."""

    volts: float
    wet_a: tuple[float, float]
    dry_a: tuple[float, float]

    @property
    def worst(self) -> str:
        """What the largest current does."""
        return effect(self.wet_a[1])

    @property
    def least(self) -> str:
        """What the smallest current does."""
        return effect(self.dry_a[0])


def shock(volts: float) -> Shock:
    """What so many volts between the two contacts drive through a person."""
    one = person()
    return Shock(
        volts,
        (volts / one.wet[1], volts / one.wet[0]),
        (volts / one.dry[1], volts / one.dry[0]),
    )
