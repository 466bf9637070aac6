"""The first files of a record: what somebody knows who has not been on board yet, and where the rest goes.

Nothing is invented: what was not said is left out, and stands as a comment to be filled in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vesselspec.record.rewrite import written

#: Systems to choose from: id → kind, voltage, frequency. The nominal voltages in common use afloat; others are written
#: by hand. Common practice, no source.
SYSTEMS = {
    "dc-12": ("dc", "12 V", None),
    "dc-24": ("dc", "24 V", None),
    "dc-48": ("dc", "48 V", None),
    "ac-120": ("ac-single-phase", "120 V", "60 Hz"),
    "ac-120-240": ("ac-split-phase", "120/240 V", "60 Hz"),
    "ac-230": ("ac-single-phase", "230 V", "50 Hz"),
    "ac-230-400": ("ac-three-phase", "230/400 V", "50 Hz"),
}


@dataclass(frozen=True)
class Start:
    """What is known: systems by id of SYSTEMS; inlets and banks as (system, rating or capacity as written, or None)."""

    name: str
    practice: str
    systems: tuple[str, ...] = ()
    shores: tuple[tuple[str, str | None], ...] = ()
    batteries: tuple[tuple[str, str | None], ...] = ()
    panels: tuple[str, ...] = ()


def is_dc(system: str) -> bool:
    """Whether a system of the list is a DC system."""
    return SYSTEMS[system][0] == "dc"


def start(known: Start) -> dict[str, bytes]:
    """The files of a new record: path → content."""
    files = {
        "vessel.yaml": _vessel(known),
        "sources.yaml": _sources(known),
        "panels.yaml": _panels(known),
        "cables.yaml": _CABLES,
    }
    return {name: text.encode() for name, text in files.items()}


def _vessel(known: Start) -> str:
    return f"""# The record of a vessel's electrical system. It may be wrong: prove dead before touching.
# What nobody has looked at is left out: `vesselspec unknowns` lists it, to be found out on board.

vessel:
  record: 1
  name: {written(known.name)}
  practice: {known.practice}
  # length: 14.6 m
  # hull: glass-reinforced-plastic   # wood, steel, aluminium, other
  # fuel: diesel                     # petrol, both, none: what can make vapour decides what must be ignition protected

{_systems(known.systems)}
# The compartments: what makes each hard on conductors, or dangerous.
# spaces:
#   engine-room: {{name: Engine room, engine_space: true}}
#   galley: {{name: Galley, wet: true}}
"""


def _systems(systems: Sequence[str]) -> str:
    if not systems:
        return "# The voltage systems on board.\n# systems:\n#   dc-12: {kind: dc, voltage: 12 V}\n"
    lines = ["# The voltage systems on board.", "systems:"]
    for key in systems:
        kind, voltage, frequency = SYSTEMS[key]
        more = f", frequency: {frequency}" if frequency is not None else ""
        lines.append(f"  {key}: {{kind: {kind}, voltage: {voltage}{more}}}")
    return "\n".join(lines) + "\n"


def _sources(known: Start) -> str:
    lines = ["# Everything that can make a conductor live: shore inlets, generators, batteries, inverters, solar.\n"]
    devices = [*_inlets(known), *_banks(known)]
    lines += ["devices:", *devices] if devices else ["# devices:", "#   generator-1: {kind: generator, system: ac-120}"]
    return "\n".join(lines) + "\n"


def _inlets(known: Start) -> list[str]:
    lines: list[str] = []
    for number, (system, rating) in enumerate(known.shores, 1):
        lines += [f"  shore-{number}:", "    kind: shore-inlet", f"    system: {system}"]
        lines += [
            f"    rating: {written(rating)}" if rating else "    # rating:       # as marked on the inlet, such as 30 A"
        ]
        lines += [
            "    # space:        # where it is",
            "    # cord: {size: 6 AWG, length: 15 m}",
            "    # evidence: {how: labelled, by: technician, when: 2026-03-14}",
        ]
    return lines


def _banks(known: Start) -> list[str]:
    lines: list[str] = []
    for number, (system, capacity) in enumerate(known.batteries, 1):
        lines += [f"  battery-{number}:", "    kind: battery-bank", f"    system: {system}"]
        lines += [
            f"    capacity: {written(capacity)}"
            if capacity
            else "    # capacity:     # of the whole bank, such as 400 Ah"
        ]
        lines += [
            "    # chemistry:    # agm-lead-acid, flooded-lead-acid, gel-lead-acid, lithium-iron-phosphate",
            "    # space:        # where it is",
            "    # evidence: {how: labelled, by: technician, when: 2026-03-14}",
        ]
    return lines


def _panels(known: Start) -> str:
    head = "# Panels: each with its separately fed sections, and in them the ways, numbered as on the panel.\n"
    if not known.panels:
        return f"""{head}
# panels:
#   main-panel:
#     system: dc-12
#     sections:
#       main:
#         ways:
#           "1": {_way("DC+")}
"""
    return f"{head}\npanels:\n" + "".join(
        _panel("main-panel" if len(known.panels) == 1 else f"panel-{number}", system)
        for number, system in enumerate(known.panels, 1)
    )


def _way(pole: str) -> str:
    return f"{{label: Cabin lights, poles: [{pole}], rating: 15 A}}   # a breaker unless said otherwise"


def _panel(key: str, system: str) -> str:
    pole = "DC+" if is_dc(system) else "L1"
    return f"""  {key}:
    system: {system}
    # space:            # where it is
    # metal:            # true or false: what the enclosure is made of
    sections:
      main:
        # rating:       # of its bars
        ways: {{}}
        # In the place of {{}}, the ways one on a line:
        #   "1": {_way(pole)}
        #   "2": {{spare: true, poles: [{pole}], rating: 15 A}}
"""


_CABLES = """# Cables: each from one terminal to one terminal, core by core where odd. A length or size that nobody
# knows is left out, and so is a cable that nobody has seen. An end that nobody has found is `untraced`.
#
# cable_types:
#   boat-14-3: {size: 14 AWG, insulation: 105 degC, sheath: true, cores: {black: L1, white: N, green: PE}}
# cables:
#   C101: {type: boat-14-3, from: main-panel/main/1, to: cabin-lights, length: 6 m, label: C101}
# loads:
#   cabin-lights: {system: ac-120, power: 60 W, use: lighting}
"""
