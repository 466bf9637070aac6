"""Arrays of numbers that the solver's files share: their types, and what several of them do with them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

Indices = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Numbers = npt.NDArray[Any]  # float64 in a DC circuit, else complex128
Phasors = npt.NDArray[np.complex128]


def ends_of(pairs: Iterable[tuple[int, int]]) -> tuple[Indices, Indices]:
    """The first and the second of every pair, as two arrays."""
    both = np.array([node for pair in pairs for node in pair], np.intp).reshape(-1, 2)
    return both[:, 0].copy(), both[:, 1].copy()


def phasors(numbers: Iterable[complex]) -> Phasors:
    """The numbers as complex ones."""
    return np.array(list(numbers), np.complex128)


def inverse(z: Phasors) -> Phasors:
    """1/z, and 0 where z is 0 or no number."""
    usable = (z != 0) & np.isfinite(z)
    return np.divide(1.0, z, out=np.zeros_like(z), where=usable)


def sealed(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The array, no longer writable."""
    array.setflags(write=False)
    return array


def cast_to(real: bool) -> Any:
    """What makes a phasor array as narrow as the circuit allows."""
    return (lambda array: array.real.copy()) if real else (lambda array: array)


def as_phasors(numbers: Numbers) -> Phasors:
    """What a solution hands out: complex and not writable."""
    return sealed(numbers.astype(np.complex128))


def first_of(key: Indices, value: Indices, count: int) -> Indices:
    """For each key, the value at its first place."""
    first = np.zeros(count, np.intp)
    first[key[::-1]] = value[::-1]
    return first


def sums_at(nodes: int, a: Indices, b: Indices, current: Numbers) -> Numbers:
    """Sum of currents that leave each node."""

    def real(part: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return np.bincount(a, part, nodes) - np.bincount(b, part, nodes)

    return real(current.real) + 1j * real(current.imag) if np.iscomplexobj(current) else real(current)
