"""Current that a conductor may carry, as a range wherever something about it is not recorded."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Final

from vesselspec.standards import PRACTICES, Figure, figure
from vesselspec.units import Size, awg_area_mm2

LOW_VOLTAGE_V: Final = 50.0
"""From here up the bundle factors of 33 CFR 183.425 Table 5 note 2 apply, and the tables for AC wiring."""


@dataclass(frozen=True)
class Ampacity:
    """Allowable current of a conductor in A, between `low_a` and `high_a`; both are equal if all is known.

    `unknown` names what was not recorded ('insulation', 'space', 'bundle'), and is empty where that makes no
    difference. `derivation` tells how the figures came about, step by step. `from_memory`: no copy of a table
    behind them was read.
    `low_a` can be 0: insulation that is no hotter than the space it is in carries nothing.
    """

    low_a: float
    high_a: float
    source: str
    from_memory: bool
    derivation: tuple[str, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True)
class _Case:
    """The figure for one set of circumstances, with how it came about."""

    amps: float
    steps: tuple[str, ...]
    sources: tuple[str, ...]
    from_memory: bool


@dataclass(frozen=True)
class _Factor:
    value: float
    step: str
    source: str = ""
    from_memory: bool = False


@dataclass(frozen=True)
class _Row:
    """A row of a table: the size it is for, and its figure in A by column."""

    name: str
    mm2: float
    amps: Mapping[float, float]


@lru_cache(maxsize=4096)  # circuits are many, kinds of conductor are few
def ampacity(
    *,
    size: Size,
    insulation_c: float | None,
    in_engine_space: bool | None,
    loaded_conductors: int | None,
    voltage_v: float,
    practice: str,
    ambient_c: float | None = None,
) -> Ampacity | None:
    """Allowable current of a copper conductor, or None where the tables hold no figure for its size or insulation.

    `insulation_c` is the temperature rating of the insulation in °C (between two columns the lower one counts);
    `loaded_conductors` how many current-carrying conductors lie together, this one included; `voltage_v` the
    voltage it carries. None is unknown, and gives the range over all that it could be. `ambient_c` is the highest
    usual ambient temperature along its way; what the table assumes where it is None or cooler than that.

    north-american: 33 CFR 183.425 Table 5, its note 1 in an engine space (50 °C), its note 2 for three or more
    conductors that carry 50 V or more each.
    international: from 50 V up and for insulation of 70 °C, IEC 60364-5-52 method B2 for three loaded conductors
    at 30 °C, in an engine space at 50 °C; else ISO 10133 (from memory), in an engine space at 60 °C. How more
    than three loaded conductors are arranged is not recorded, so they leave a range, by grouping factors of
    IEC 60364-5-52 (from memory).
    Hotter places than the table assumes: the column of that ambient where the table has one, else the factors of
    NFPA 70 Table 310.15(B)(1). Where those have no column for an insulation, the next cooler column counts (errs
    low); where they print no figure, the conductor may carry nothing.

    A size that is not in the table takes the row of the largest size which does not exceed it. This errs low.
    Raises ValueError for an unknown practice or fewer than one conductor.
    """
    if practice not in PRACTICES:
        raise ValueError(f"unknown practice {practice!r}; expected one of {', '.join(PRACTICES)}")
    if loaded_conductors is not None and loaded_conductors < 1:
        raise ValueError(f"{loaded_conductors} loaded conductors; expected at least 1, or None if unknown")
    spaces = (False, True) if in_engine_space is None else (in_engine_space,)
    if practice == "north-american":
        bundles = tuple(_note_2(loaded_conductors, voltage_v))
        cases = tuple(_north_american(size, insulation_c, spaces, bundles, ambient_c))
    else:
        bundles = tuple(_grouping(loaded_conductors, voltage_v))
        cases = tuple(_international(size, insulation_c, spaces, bundles, voltage_v, ambient_c))
    if not cases:
        return None
    unknown = {
        "insulation": insulation_c is None,
        "space": in_engine_space is None,
        "bundle": len(bundles) > 1,
    }
    return _range(cases, tuple(name for name, missing in unknown.items() if missing))


def _range(cases: tuple[_Case, ...], unknown: tuple[str, ...]) -> Ampacity:
    low, high = min(cases, key=lambda case: case.amps), max(cases, key=lambda case: case.amps)
    if low.amps == high.amps:
        return Ampacity(low.amps, high.amps, "; ".join(low.sources), low.from_memory, low.steps, ())
    return Ampacity(
        low_a=low.amps,
        high_a=high.amps,
        source="; ".join(dict.fromkeys(low.sources + high.sources)),
        from_memory=low.from_memory or high.from_memory,
        derivation=(f"at least: {', '.join(low.steps)}", f"at most: {', '.join(high.steps)}"),
        unknown=unknown,
    )


# --- North American practice -----------------------------------------------------------------------


def _north_american(
    size: Size,
    insulation_c: float | None,
    spaces: Iterable[bool],
    bundles: tuple[_Factor, ...],
    ambient_c: float | None,
) -> Iterator[_Case]:
    table, note_1 = figure("cfr33_183_425_table5"), figure("cfr33_table5_note1_engine_space")
    row = _row_for(size, _rows(table.id))
    if row is None:
        return
    engine, basis = _by_column(note_1.data["factors"]), figure("cfr33_ambient_basis").data
    for column in _columns(row, insulation_c):
        for in_engine_space in spaces:
            space = _Factor(engine[column], "engine space", note_1.source) if in_engine_space else None
            hot = _hotter(ambient_c, column, basis["engine_space_C" if in_engine_space else "outside_engine_space_C"])
            if hot is not None and (space is None or hot.value < space.value):
                space = hot  # both start from 30 °C: the lower one holds, not their product
            for bundle in bundles:
                yield _case(table, size, row, column, f"{column:g} °C insulation", space, bundle)


def _note_2(loaded_conductors: int | None, voltage_v: float) -> Iterator[_Factor]:
    """Factors that can apply: one, or the extremes if the number of conductors is unknown."""
    note = figure("cfr33_table5_note2_bundling")
    rows = note.data["rows"]
    if voltage_v < LOW_VOLTAGE_V:
        yield _Factor(1.0, f"no bundle factor under {LOW_VOLTAGE_V:g} V")
    elif loaded_conductors is None:
        yield _Factor(1.0, f"fewer than {rows[0]['count_min']} conductors together")
        yield _Factor(rows[-1]["factor"], f"{rows[-1]['count_min']} or more conductors together", note.source)
    else:
        fitting = [row["factor"] for row in rows if loaded_conductors >= row["count_min"]]
        together = f"{loaded_conductors} loaded conductors together"
        yield _Factor(fitting[-1], together, note.source) if fitting else _Factor(1.0, together)


# --- International practice ------------------------------------------------------------------------


def _international(
    size: Size,
    insulation_c: float | None,
    spaces: Iterable[bool],
    bundles: tuple[_Factor, ...],
    voltage_v: float,
    ambient_c: float | None,
) -> Iterator[_Case]:
    fixed, craft = figure("iec_60364_5_52_b2_pvc3"), figure("iso_10133_table_a1_from_memory")
    hot = figure("iso_10133_engine_space_from_memory")
    engine = _by_column(hot.data["factors"])
    craft_row, fixed_row = _row_for(size, _rows(craft.id)), _row_for(size, _rows(fixed.id))
    if craft_row is None:
        return
    for column in _columns(craft_row, insulation_c):
        for in_engine_space in spaces:
            for bundle in bundles:
                if column == 70 and voltage_v >= LOW_VOLTAGE_V:
                    if fixed_row is not None:
                        assumed = 50.0 if in_engine_space else 30.0
                        at, space = _fixed_column(fixed_row, max(ambient_c or assumed, assumed))
                        yield _case(fixed, size, fixed_row, at, f"70 °C insulation at {at:g} °C ambient", space, bundle)
                    continue
                # No factor is printed for 60 °C insulation in a space of 60 °C: nothing is left to carry.
                space = (
                    _Factor(engine.get(column, 0.0), "engine space at 60 °C", hot.source, hot.from_memory)
                    if in_engine_space
                    else None
                )
                hotter = _hotter(ambient_c, column, 60.0 if in_engine_space else 30.0)
                if hotter is not None and (space is None or hotter.value < space.value):
                    space = hotter
                yield _case(craft, size, craft_row, column, f"{column:g} °C insulation", space, bundle)


def _fixed_column(row: _Row, ambient_c: float) -> tuple[float, _Factor | None]:
    """The column of an ambient temperature: the next hotter one (errs low), or the last with nothing left beyond."""
    at = next((column for column in sorted(row.amps) if column >= ambient_c), None)
    if at is not None:
        return at, None
    last = max(row.amps)
    return last, _Factor(0.0, f"{ambient_c:g} °C ambient, beyond the table: nothing is left to carry")


def _grouping(loaded_conductors: int | None, voltage_v: float) -> Iterator[_Factor]:
    """Factors that can apply. Conductors are counted, circuits are tabled: two or three conductors each."""
    table = figure("iec_60364_5_52_grouping_from_memory")
    rows = table.data["rows"]

    def factor(circuits: int) -> float:
        # Between two rows, and beyond the last one, the factor of the next row that is there: errs low.
        return float(next((row["factor"] for row in rows if row["circuits"] >= circuits), rows[-1]["factor"]))

    if voltage_v < LOW_VOLTAGE_V:
        yield _Factor(1.0, f"no grouping factor under {LOW_VOLTAGE_V:g} V")
    elif loaded_conductors is None:
        yield _Factor(1.0, "a circuit by itself")
        most = rows[-1]
        step = f"{most['circuits']} or more circuits together"
        yield _Factor(most["factor"], step, table.source, table.from_memory)
    elif loaded_conductors <= 3:
        yield _Factor(1.0, f"{loaded_conductors} loaded conductors together")
    else:
        together = f"{loaded_conductors} loaded conductors together"
        yield _Factor(1.0, f"{together}, apart enough not to heat each other")
        pairs = -(-loaded_conductors // 2)
        step = f"{together}, as {pairs} circuits bunched"
        yield _Factor(factor(pairs), step, table.source, table.from_memory)


# --- Ambient ---------------------------------------------------------------------------------------


def _hotter(ambient_c: float | None, column: float, assumed_c: float) -> _Factor | None:
    """The factor of an ambient temperature above the one that a table for 30 °C, or its engine factor, assumes."""
    if ambient_c is None or ambient_c <= assumed_c:
        return None
    table = figure("nec_ambient_correction_30C")
    by = max((each for each in _AMBIENT_COLUMNS if each <= column), default=column)
    row = next((row for row in table.data["rows"] if ambient_c <= _upper_end(row["ambient_C"])), None)
    value = _by_column(row).get(by, 0.0) if row is not None else 0.0
    step = f"{ambient_c:g} °C ambient" + (f", by the factor of {by:g} °C insulation (errs low)" if by < column else "")
    return _Factor(value, step if value else f"{step}: nothing is left to carry", table.source)


#: The insulation temperatures in °C that the ambient factors are printed for.
_AMBIENT_COLUMNS = (60.0, 75.0, 90.0)


def _upper_end(band: str) -> float:
    """'36-40' → 40; '10 or less' → 10."""
    return float(band.rpartition("-")[2].split()[0])


# --- Tables ----------------------------------------------------------------------------------------


def _case(table: Figure, size: Size, row: _Row, column: float, where: str, *factors: _Factor | None) -> _Case:
    amps = row.amps[column]
    placed = row.name if row.name == size.text else f"{size.text} by the row of {row.name} (errs low)"
    steps = [f"{table.source}: {placed}, {where}: {amps:g} A"]
    applied = [factor for factor in factors if factor is not None]
    for factor in applied:
        amps *= factor.value
        steps.append(factor.step if factor.value == 1.0 else f"{factor.step}: × {factor.value:g} = {amps:.4g} A")
    return _Case(
        amps=amps,
        steps=tuple(steps),
        sources=(table.source, *(factor.source for factor in applied if factor.source)),
        from_memory=table.from_memory or any(factor.from_memory for factor in applied),
    )


@cache
def _rows(figure_id: str) -> tuple[_Row, ...]:
    """Rows of an ampacity table, from the smallest size up."""
    return tuple(
        _Row(f"{row['awg']} AWG", awg_area_mm2(row["awg"]), _by_column(row))
        if "awg" in row
        else _Row(f"{row['mm2']:g} mm2", float(row["mm2"]), _by_column(row))
        for row in figure(figure_id).data["rows"]
    )


def _by_column(row: Mapping[str, Any]) -> dict[float, float]:
    """Figures by the temperature in the name of their column: 't105', 't85_90' and 'a50C' are 105, 85, 50."""
    return {
        float(column[1]): float(value)
        for name, value in row.items()
        if (column := re.fullmatch(r"[ta](\d+)(?:C|_\d+)?", name))
    }


def _row_for(size: Size, rows: tuple[_Row, ...]) -> _Row | None:
    """The largest row that the size is at least as large as; None for a size off the table.

    A size of the table's own kind, gauge or metric, beyond the last row is off the table too.
    """
    below = [row for row in rows if row.mm2 <= size.mm2]
    own_kind = rows[-1].name.endswith("AWG") == (size.awg is not None)
    if not below or (own_kind and size.mm2 > rows[-1].mm2):
        return None
    return below[-1]


def _columns(row: _Row, insulation_c: float | None) -> tuple[float, ...]:
    """Columns that can apply: all if the insulation is unknown, none if it is below the first."""
    if insulation_c is None:
        return tuple(row.amps)
    return tuple(column for column in row.amps if column <= insulation_c)[-1:]
