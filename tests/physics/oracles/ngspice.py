"""ngspice as an oracle: many circuits in one netlist, one batch process, the binary raw file read back.

Mapping. The reference node of each circuit is ground. A resistance is R, an impedance is R and L in series, or R and
C where its reactance is negative, at one frequency for all. A source of phasor emf is V with magnitude and phase
(DC: value) in series with its impedance. A constant current is I. A contact is a V source of 0 V, so that its
current is an unknown of its own; the further ones of a parallel group are current-controlled sources that carry the
same current as the first, which is what equal resistances going to zero share. A constant power is, in DC, a
behavioural source P / v that ngspice itself iterates; in AC, a current source that the caller chooses.
"""

from __future__ import annotations

import cmath
import math
import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from vesselspec.physics.steady.circuit import Circuit, Contact

HZ = 60.0
#: Share of nominal voltage under which a behavioural power is a conductance, so that ngspice can start from nothing.
LEAST = 0.6
PROGRAM = shutil.which("ngspice")


def require() -> None:
    """Skip the test where ngspice is not installed; fail in CI, where it must be."""
    if PROGRAM is None:
        if os.environ.get("CI"):
            pytest.fail("ngspice is not installed, and CI must compare with it")
        pytest.skip("ngspice is not installed")


@dataclass(frozen=True)
class Answer:
    """What ngspice found for one circuit: node voltages, contact and source currents, counted as in `Circuit`."""

    voltages: npt.NDArray[np.complex128]
    contacts: npt.NDArray[np.complex128]
    sources: npt.NDArray[np.complex128]


class _Netlist:
    def __init__(self, dc: bool) -> None:
        self.dc = dc
        self.lines: list[str] = []
        self.starts: list[str] = []
        self.count = 0

    def name(self) -> str:
        self.count += 1
        return f"x{self.count}"

    def value(self, phasor: complex) -> str:
        phasor = complex(phasor)
        if self.dc:
            return f"dc {phasor.real!r}"
        return f"dc 0 ac {abs(phasor)!r} {math.degrees(cmath.phase(phasor))!r}"

    def impedance(self, a: str, b: str, z: complex) -> None:
        z = complex(z)
        if z.imag == 0:
            self.lines.append(f"r{self.name()} {a} {b} {z.real!r}")
            return
        middle = a if z.real == 0 else self.name()
        if z.real != 0:
            self.lines.append(f"r{self.name()} {a} {middle} {z.real!r}")
        omega = 2 * math.pi * HZ
        if z.imag > 0:
            self.lines.append(f"l{self.name()} {middle} {b} {z.imag / omega!r}")
        else:
            self.lines.append(f"c{self.name()} {middle} {b} {-1 / (z.imag * omega)!r}")
            # A path for DC, which ngspice solves first; 1e15 ohm beside the capacitor changes nothing.
            self.lines.append(f"r{self.name()} {middle} {b} 1e15")

    def add(
        self, number: int, circuit: Circuit, currents: Sequence[complex] | None, reference: int, powers: bool
    ) -> None:
        """Write one circuit; `currents` replace the loads' own where given, `powers` makes DC powers behavioural."""

        def node(index: int) -> str:
            return "0" if index == reference else f"n{number}_{index}"

        for branch in circuit.branches:
            self.impedance(node(branch.a), node(branch.b), branch.z)
        first: dict[frozenset[int], tuple[int, Contact]] = {}
        for index, contact in enumerate(circuit.contacts):
            pair = frozenset((contact.a, contact.b))
            if pair in first:
                leader, like = first[pair]
                gain = 1 if contact.a == like.a else -1
                self.lines.append(f"f{number}_{index} {node(contact.a)} {node(contact.b)} vk{number}_{leader} {gain}")
            else:
                first[pair] = index, contact
                self.lines.append(f"vk{number}_{index} {node(contact.a)} {node(contact.b)} dc 0")
        for index, source in enumerate(circuit.sources):
            inner = node(source.plus) if source.z == 0 else self.name()
            self.lines.append(f"vs{number}_{index} {inner} {node(source.minus)} {self.value(source.emf)}")
            if source.z != 0:
                self.impedance(inner, node(source.plus), source.z)
        for index, load in enumerate(circuit.loads):
            a, b = node(load.a), node(load.b)
            if load.impedance is not None:
                self.impedance(a, b, load.impedance)
            elif load.current is not None:
                self.lines.append(f"i{self.name()} {a} {b} {self.value(load.current)}")
            elif powers and self.dc and load.power is not None:
                watts = complex(load.power).real
                least = LEAST * abs(load.nominal)
                law = f"v({a},{b}) > {least!r} ? {watts!r}/v({a},{b}) : {watts / least**2!r}*v({a},{b})"
                self.lines.append(f"b{self.name()} {a} {b} i={law}")
            elif currents is not None:
                self.lines.append(f"i{self.name()} {a} {b} {self.value(currents[index])}")
            else:
                raise ValueError("a constant power needs a current")


def run(
    circuits: Sequence[Circuit],
    currents: Sequence[Sequence[complex] | None] | None = None,
    *,
    dc: bool,
    powers: bool = False,
) -> list[Answer]:
    """Solve circuits that share no node, all DC or all AC, in one process.

    `currents` are those of each circuit's constant powers. With `powers`, ngspice iterates DC powers itself.
    """
    values = _read(process(deck(circuits, currents, dc=dc, powers=powers)))
    return [_answer(number, circuit, values) for number, circuit in enumerate(circuits)]


def deck(
    circuits: Sequence[Circuit],
    currents: Sequence[Sequence[complex] | None] | None = None,
    *,
    dc: bool,
    powers: bool = False,
) -> str:
    """The netlist of `run`."""
    netlist = _Netlist(dc)
    for number, circuit in enumerate(circuits):
        netlist.add(number, circuit, currents[number] if currents else None, circuit.references[0], powers)
    analysis = ".op" if dc else f".ac lin 1 {HZ:g} {HZ:g}"
    options = ".options reltol=1e-8 vntol=1e-9 abstol=1e-7 itl1=500"
    return "\n".join(("circuits", *netlist.lines, options, analysis, ".end", ""))


def process(netlist: str) -> bytes:
    """Run ngspice on a netlist in batch; its raw file."""
    assert PROGRAM is not None
    with tempfile.TemporaryDirectory() as folder:
        circuit, raw = Path(folder) / "deck.cir", Path(folder) / "out.raw"
        circuit.write_text(netlist, encoding="ascii")
        command = [PROGRAM, "-b", "-n", "-r", str(raw), str(circuit)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
        assert raw.exists(), done.stdout[-2000:] + done.stderr[-2000:]
        return raw.read_bytes()


def _read(raw: bytes) -> Mapping[str, complex]:
    head, _, data = raw.partition(b"Binary:\n")
    lines = head.decode("ascii").splitlines()
    count = next(int(line.split(":")[1]) for line in lines if line.startswith("No. Variables"))
    is_complex = any(line.startswith("Flags:") and "complex" in line for line in lines)
    first = next(index for index, line in enumerate(lines) if line.startswith("Variables:"))
    names = [line.split()[1] for line in lines[first + 1 : first + 1 + count]]
    numbers = np.frombuffer(data, np.complex128 if is_complex else np.float64, count)
    return {name: complex(number) for name, number in zip(names, numbers, strict=True)}


def _answer(number: int, circuit: Circuit, values: Mapping[str, complex]) -> Answer:
    reference = circuit.references[0]
    voltages = [
        0.0 if index == reference else values.get(f"v(n{number}_{index})", values.get(f"n{number}_{index}", math.nan))
        for index in range(circuit.nodes)
    ]
    leaders: dict[frozenset[int], tuple[int, complex]] = {}
    contacts = []
    for index, contact in enumerate(circuit.contacts):
        pair = frozenset((contact.a, contact.b))
        if pair not in leaders:
            leaders[pair] = contact.a, values[f"i(vk{number}_{index})"]
        start, current = leaders[pair]
        contacts.append(current if start == contact.a else -current)
    # ngspice counts the current of a voltage source into its plus terminal.
    sources = [-values[f"i(vs{number}_{index})"] for index in range(len(circuit.sources))]
    return Answer(
        np.array(voltages, np.complex128), np.array(contacts, np.complex128), np.array(sources, np.complex128)
    )
