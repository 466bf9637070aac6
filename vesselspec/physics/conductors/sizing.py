"""The smallest conductor for a circuit, the device that protects it, and its earth conductor, derived line by line.

Four things decide a conductor: the current it may carry, the device that must both carry the load and protect the
conductor, the voltage drop, and the smallest size that a rule allows at all. The largest of the four is the answer.
What is not known is taken on the safe side and named; what would do if the unknown were favourable is told beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

from vesselspec.physics.conductors.ampacity import LOW_VOLTAGE_V, Ampacity, ampacity
from vesselspec.physics.conductors.drop import Limit, conductor, formula
from vesselspec.physics.conductors.protection import DeviceLimit, device_limit
from vesselspec.standards import figure, protective_conductor_awg, standard_ratings
from vesselspec.units import Size, parse_size

_NEAR = 1 + 1e-9


@dataclass(frozen=True, kw_only=True)
class Circuit:
    """A circuit to be sized. None is unknown.

    `volts` lies across the load, `line_v` is the nominal voltage that a conductor carries (it decides which table
    applies). `between` are the poles of the load. `amps` is the load current, `power_factor` that of the load.
    `length_m` is one way. `loaded` counts the current-carrying conductors that lie together. `rest_v` is what the
    rest of the way from the source drops, `rest_branch_v` what of it lies behind the last point of distribution.
    `device_a` is a device that is there already. `metric` chooses mm² for the answer.
    """

    practice: str
    dc: bool
    volts: float
    line_v: float
    between: tuple[str, ...]
    amps: float | None
    frequency_hz: float | None = None
    power_factor: float = 1.0
    length_m: float | None = None
    insulation_c: float | None = None
    engine_space: bool | None = None
    ambient_c: float | None = None
    loaded: int | None = None
    sheath: bool | None = None
    continuous: bool | None = None
    motor: bool = False
    limits: tuple[Limit, ...] = ()
    rest_v: float = 0.0
    rest_branch_v: float = 0.0
    device_a: float | None = None
    metric: bool = False
    with_earth: bool = True


@dataclass(frozen=True)
class Step:
    """One line of a derivation: what was done with the figures, and where they come from."""

    text: str
    source: str = ""
    from_memory: bool = False


@dataclass(frozen=True)
class Criterion:
    """One of the things that decide the conductor. `size` is None where it cannot be met or judged.

    `best` is the size that would do if all that is not known were favourable.
    """

    id: str  # ampacity | device | voltage-drop | least-size
    title: str
    size: Size | None
    best: Size | None
    judged: bool
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Sizing:
    """The answer: conductor, device and earth, with how each came about and what was not known."""

    circuit: Circuit
    size: Size | None
    best: Size | None
    governs: tuple[str, ...]
    device_a: float | None
    device_max_a: float | None
    earth: Size | None
    criteria: tuple[Criterion, ...]
    device_steps: tuple[Step, ...]
    earth_steps: tuple[Step, ...]
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    from_memory: bool


@cache
def sizes(*, metric: bool) -> tuple[Size, ...]:
    """Sizes that conductors are made in, from the smallest up: gauges of Table 5, or those of IEC 60228."""
    if metric:
        return tuple(parse_size(f"{row['mm2']:g} mm2") for row in figure("iec60228_max_resistance").data["rows"])
    return tuple(parse_size(f"{row['awg']} AWG") for row in figure("cfr33_183_425_table5").data["rows"])


def carries(circuit: Circuit, size: Size) -> Ampacity | None:
    """What a conductor of that size may carry in the circuit."""
    return ampacity(
        size=size,
        insulation_c=circuit.insulation_c,
        in_engine_space=circuit.engine_space,
        loaded_conductors=circuit.loaded,
        voltage_v=circuit.line_v,
        practice=circuit.practice,
        ambient_c=circuit.ambient_c,
    )


def drop_v(circuit: Circuit, size: Size) -> tuple[float, float] | None:
    """Volts lost in the circuit's own conductors: by the formula, and hot; None without length or current."""
    if circuit.length_m is None or circuit.amps is None:
        return None
    made = conductor(size, circuit.length_m, circuit.practice, frequency_hz=_frequency(circuit))
    if made is None:
        return 0.0, 0.0
    many = math.sqrt(3) if len(circuit.between) == 3 else 2.0
    factor = circuit.power_factor
    return many * circuit.amps * made.formula_z(factor), many * circuit.amps * made.hot_z(factor)


def _frequency(circuit: Circuit) -> float | None:
    return None if circuit.dc else circuit.frequency_hz or 0.0


def continuous_factor(circuit: Circuit) -> tuple[float, Step]:
    """What the load current is multiplied by for a device and its conductor."""
    if circuit.practice == "international":
        return 1.0, Step("continuous load: no figure of this practice was read, so the load current counts as it is")
    rule = figure("nec_continuous")
    factor = float(rule.data["factor"])
    if circuit.continuous is False:
        return 1.0, Step("not continuous: 100 % of the load current", rule.source)
    side = "" if circuit.continuous else "safe side, whether it runs for 3 h or more is not said: "
    return factor, Step(f"{side}continuous: {factor * 100:g} % of the load current", rule.source)


def size_circuit(circuit: Circuit) -> Sizing:
    """Size a circuit. What cannot be judged for want of a current or length is said, not guessed."""
    factor, step = continuous_factor(circuit)
    wanted = None if circuit.amps is None else circuit.amps * factor
    device = _device(circuit, wanted)
    criteria = tuple(
        each
        for each in (
            _by_ampacity(circuit, wanted, step),
            _by_device(circuit, wanted, device),
            _by_drop(circuit),
            _by_rule(circuit),
        )
        if each is not None
    )
    met = [each for each in criteria if each.judged]
    size = best = None
    if circuit.amps is not None and met and all(each.size is not None for each in met):
        size = max(each.size for each in met if each.size is not None)
    if circuit.amps is not None and met and all(each.best is not None for each in met):
        best = max(each.best for each in met if each.best is not None)
    limit = None
    if size is not None:
        found = carries(circuit, size)
        limit = None if found is None else device_limit(found.low_a, circuit.line_v, circuit.practice)
    earth, earth_steps = _earth(circuit, size, device)
    return Sizing(
        circuit=circuit,
        size=size,
        best=best,
        governs=_governs(circuit, met, size),
        device_a=device,
        device_max_a=None if limit is None else limit.max_rating_a,
        earth=earth,
        criteria=criteria,
        device_steps=tuple(_device_steps(circuit, wanted, device, size, limit)),
        earth_steps=earth_steps,
        unknown=tuple(_unknown(circuit)),
        notes=tuple(_notes(circuit, size)),
        from_memory=any(step.from_memory for each in met for step in each.steps if each.size == size),
    )


def _governs(circuit: Circuit, met: list[Criterion], size: Size | None) -> tuple[str, ...]:
    """What asks for the size; the smallest there is needs no other reason than that a rule allows no less."""
    if size is None:
        return ()
    ids = tuple(each.id for each in met if each.size == size)
    return ("least-size",) if "least-size" in ids and _smaller(circuit, size) is None else ids


def _choice(circuit: Circuit) -> tuple[Size, ...]:
    """Sizes that can be answered: those that the tables have a current for."""
    return tuple(size for size in sizes(metric=circuit.metric) if carries(circuit, size) is not None)


def _first(circuit: Circuit, fits: Callable[[Size], bool]) -> Size | None:
    """The smallest size that fits. What fits is taken to go on fitting: more copper never carries or drops worse."""
    return next((size for size in _choice(circuit) if fits(size)), None)


def _by_ampacity(circuit: Circuit, wanted: float | None, step: Step) -> Criterion:
    title = "Current that it may carry"
    if wanted is None:
        return Criterion("ampacity", title, None, None, judged=False, steps=(Step("the load current is not known"),))

    def low(size: Size) -> bool:
        found = carries(circuit, size)
        return found is not None and found.low_a * _NEAR >= wanted

    def high(size: Size) -> bool:
        found = carries(circuit, size)
        return found is not None and found.high_a * _NEAR >= wanted

    size, best = _first(circuit, low), _first(circuit, high)
    steps = [step, Step(f"needed: {wanted:.4g} A")]
    if size is None:
        steps.append(Step("no size in the tables carries that current on the safe side; run conductors in parallel"))
    else:
        steps += _shown(circuit, size)
        smaller = _smaller(circuit, size)
        if smaller is not None:
            steps += [Step(f"{smaller.text} would not do:"), *_shown(circuit, smaller)]
    return Criterion("ampacity", title, size, best, judged=True, steps=tuple(steps))


def _shown(circuit: Circuit, size: Size) -> Iterator[Step]:
    found = carries(circuit, size)
    if found is None:
        yield Step(f"{size.text}: the tables hold no figure for it with this insulation")
        return
    for text in found.derivation:
        yield Step(text, found.source, found.from_memory)


def _smaller(circuit: Circuit, size: Size) -> Size | None:
    below = [each for each in _choice(circuit) if each < size]
    return below[-1] if below else None


def _device(circuit: Circuit, wanted: float | None) -> float | None:
    """The device that is there, or the smallest standard rating that carries the load."""
    if circuit.device_a is not None or wanted is None:
        return circuit.device_a
    return next((rating for rating in standard_ratings().amps if rating * _NEAR >= wanted), None)


def _limit_of(circuit: Circuit, size: Size, *, least: bool) -> DeviceLimit | None:
    found = carries(circuit, size)
    if found is None:
        return None
    return device_limit(found.low_a if least else found.high_a, circuit.line_v, circuit.practice)


def _by_device(circuit: Circuit, wanted: float | None, device: float | None) -> Criterion | None:
    title = "Device that carries the load and protects the conductor"
    if wanted is None or device is None:
        text = "the load current is not known" if wanted is None else "no standard rating is large enough"
        return Criterion("device", title, None, None, judged=wanted is not None, steps=(Step(text),))

    def protects(size: Size, *, least: bool) -> bool:
        limit = _limit_of(circuit, size, least=least)
        return limit is not None and device <= limit.max_rating_a * _NEAR

    size = _first(circuit, lambda each: protects(each, least=True))
    best = _first(circuit, lambda each: protects(each, least=False))
    steps = [Step(f"device of {device:g} A" + (" (as recorded)" if circuit.device_a is not None else ""))]
    limit = None if size is None else _limit_of(circuit, size, least=True)
    if size is None or limit is None:
        steps.append(Step("no size in the tables is protected by that device on the safe side"))
    else:
        steps += [Step(f"{size.text}: {text}", limit.source, limit.from_memory) for text in limit.derivation]
    return Criterion("device", title, size, best, judged=True, steps=tuple(steps))


def _by_drop(circuit: Circuit) -> Criterion | None:
    title = "Voltage drop"
    if not circuit.limits:
        return Criterion("voltage-drop", title, None, None, judged=False, steps=(Step("no limit of drop is known"),))
    if circuit.length_m is None or circuit.amps is None:
        text = "the load current is not known" if circuit.amps is None else "the length is not known"
        return Criterion("voltage-drop", title, None, None, judged=False, steps=(Step(f"not judged: {text}"),))
    by = formula(circuit.practice, dc=circuit.dc)
    found: list[Size | None] = []
    steps: list[Step] = []
    for limit in circuit.limits:
        rest = circuit.rest_branch_v if limit.scope.startswith("branch") else circuit.rest_v
        budget = limit.ratio * circuit.volts - rest

        def fits(size: Size, budget: float = budget) -> bool:
            lost = drop_v(circuit, size)
            return lost is not None and lost[0] <= budget * _NEAR

        size = _first(circuit, fits) if budget > 0 else None
        found.append(size)
        kind = "recommended limit" if limit.recommendation else "limit"
        steps.append(
            Step(
                f"{kind} {limit.ratio * 100:g} % of {circuit.volts:g} V = {limit.ratio * circuit.volts:.4g} V: "
                f"{limit.scope}",
                limit.source,
                limit.from_memory,
            )
        )
        steps += [Step(f"beside it: {text}") for text in limit.beside]
        if rest:
            steps.append(Step(f"the rest of the way drops {rest:.3g} V of it; {budget:.3g} V are left"))
        if size is None:
            steps.append(
                Step("no size in the tables keeps to it" if budget > 0 else "nothing is left for this circuit")
            )
            continue
        steps += _drop_steps(circuit, size, by.text, by.source, from_memory=by.from_memory)
        smaller = _smaller(circuit, size)
        lost = None if smaller is None else drop_v(circuit, smaller)
        if smaller is not None and lost is not None:
            steps.append(Step(f"{smaller.text} would drop {lost[0]:.3g} V ({lost[0] / circuit.volts * 100:.3g} %)"))
    size = None if None in found else max(each for each in found if each is not None)
    return Criterion("voltage-drop", title, size, size, judged=True, steps=tuple(steps))


def _drop_steps(circuit: Circuit, size: Size, text: str, source: str, *, from_memory: bool) -> Iterator[Step]:
    lost = drop_v(circuit, size)
    if lost is None or circuit.amps is None or circuit.length_m is None:
        return
    many = "√3" if len(circuit.between) == 3 else "2"
    phase = "" if circuit.dc else f", power factor {circuit.power_factor:g}"
    percent = lost[0] / circuit.volts * 100
    yield Step(
        f"{size.text} ({size.mm2:.4g} mm²), {text}: {many} × {circuit.amps:.4g} A × {circuit.length_m:.4g} m{phase}: "
        f"{lost[0]:.3g} V, {percent:.3g} % of {circuit.volts:g} V",
        source,
        from_memory,
    )
    hot = lost[1] / circuit.volts * 100
    yield Step(f"beside it: hot tinned strands (75 °C) would drop {lost[1]:.3g} V, {hot:.3g} %")


def _by_rule(circuit: Circuit) -> Criterion:
    if circuit.practice == "international":
        rule, unit = figure("iso_10133_conductor_rules"), "mm2"
    else:
        rule, unit = figure("cfr33_183_425_rules"), "AWG"
    smallest = [row for row in rule.data["rows"] if row["rule"].startswith("smallest")]
    bare = next(row for row in smallest if "installed separately" in row["rule"])
    sheathed = next(row for row in smallest if "sheath" in row["rule"])
    row, hoped = (sheathed, sheathed) if circuit.sheath else (bare, bare if circuit.sheath is False else sheathed)

    def first(of: str) -> Size | None:
        least = parse_size(f"{of} {unit}")
        return _first(circuit, lambda each: each.mm2 * _NEAR >= least.mm2)

    side = "safe side, whether it has a sheath is not said: " if circuit.sheath is None else ""
    step = Step(f"{side}{row['rule']}: {row['value']} {unit}", rule.source, rule.from_memory)
    title = "Smallest size that a rule allows"
    return Criterion("least-size", title, first(row["value"]), first(hoped["value"]), judged=True, steps=(step,))


def _device_steps(
    circuit: Circuit, wanted: float | None, device: float | None, size: Size | None, limit: DeviceLimit | None
) -> Iterator[Step]:
    if wanted is None:
        yield Step("the load current is not known")
        return
    ratings = standard_ratings()
    if circuit.device_a is not None:
        kept = "carries" if circuit.device_a * _NEAR >= wanted else "is too small for"
        yield Step(f"the device of {circuit.device_a:g} A {kept} {wanted:.4g} A")
    elif device is None:
        yield Step(f"no standard rating carries {wanted:.4g} A", ratings.source)
    else:
        yield Step(f"smallest standard rating of at least {wanted:.4g} A: {device:g} A", ratings.source)
    if size is not None and limit is not None:
        for text in limit.derivation:
            yield Step(f"{size.text}: {text}", limit.source, limit.from_memory)


def _earth(circuit: Circuit, size: Size | None, device: float | None) -> tuple[Size | None, tuple[Step, ...]]:
    """The earth conductor of an AC circuit: the larger of what the sources ask for."""
    if circuit.dc:
        return None, (Step("a DC circuit of this kind needs no earth conductor of its own; bonding is not sized here"),)
    if not circuit.with_earth:
        return None, (Step("double insulated: no earth conductor"),)
    if size is None or device is None:
        return None, (Step("follows from the device and the conductor"),)
    if circuit.practice == "international":
        return size, (Step("no figure of this practice was read: as large as the line conductor, on the safe side"),)
    gauge = protective_conductor_awg(device)
    table, share = figure("nec_250_122"), figure("abyc_ac_grounding_size")
    if gauge is None:
        return None, (Step(f"a device of {device:g} A lies beyond the table", table.source),)
    code = parse_size(f"{gauge} AWG")
    smaller = _smaller(circuit, size)
    above = device > share.data["threshold_A"] and smaller is not None
    boat = smaller if above and smaller is not None else size
    steps = [
        Step(f"behind a device of {device:g} A: at least {code.text}", table.source, table.from_memory),
        Step(
            f"as large as the line conductors ({size.text})"
            if not above
            else f"above {share.data['threshold_A']} A one size smaller than the line conductors: {boat.text}",
            share.source,
            share.from_memory,
        ),
    ]
    if code != boat:
        steps.append(Step("the two disagree; the larger is taken"))
    return max(code, boat), tuple(steps)


def _unknown(circuit: Circuit) -> Iterator[str]:
    if circuit.amps is None:
        yield "load current"
    if circuit.length_m is None:
        yield "length: the voltage drop was not judged"
    elif not circuit.limits:
        yield "use of the load, which decides the limit of voltage drop: the drop was not judged"
    if circuit.insulation_c is None:
        yield "insulation temperature: taken as the lowest in the table (safe side)"
    if circuit.engine_space is None:
        yield "whether it passes an engine space: taken as if it did (safe side)"
    if circuit.loaded is None and circuit.line_v >= LOW_VOLTAGE_V:
        yield "conductors lying together: taken as the most in the table (safe side)"
    if circuit.sheath is None:
        yield "whether it has a sheath: taken as if it had none (safe side)"
    if circuit.continuous is None and circuit.practice != "international":
        yield "whether it runs for 3 h or more: taken as if it did (safe side)"


def _notes(circuit: Circuit, size: Size | None) -> Iterator[str]:
    if circuit.motor:
        yield (
            "A motor: its starting current is not in these figures. The device must let it start, and the voltage "
            "while it starts must be enough; ask the maker for both."
        )
    if circuit.motor and not circuit.dc and circuit.power_factor == 1.0:
        yield "No power factor is given: the current of a motor is higher than its power over its voltage."
    if circuit.practice == "international" and size is not None and size.mm2 < 1.0:
        yield "Under 1 mm² only within a sheath or up to 200 mm."
    if circuit.practice == "north-american":
        if circuit.amps is not None and circuit.amps < 1:
            rules = figure("cfr33_183_425_rules")
            yield f"An electronic circuit under 1 A may be exempt from these rules ({rules.source})."
        passenger = figure("cfr46_183_340")
        least = parse_size(f"{passenger.data['rows'][0]['value']} AWG")
        if size is not None and size < least:
            yield f"On small passenger vessels power and light want at least {least.text} ({passenger.source})."


def at_least(circuit: Circuit, amps: float) -> Size | None:
    """The smallest size that carries a current on the safe side, whatever its device and drop."""
    return _first(replace(circuit, amps=amps), lambda size: _carries(circuit, size, amps))


def _carries(circuit: Circuit, size: Size, amps: float) -> bool:
    found = carries(circuit, size)
    return found is not None and found.low_a * _NEAR >= amps


def protected_by(circuit: Circuit, device_a: float) -> Size | None:
    """The smallest size that a device protects on the safe side."""

    def fits(size: Size) -> bool:
        limit = _limit_of(circuit, size, least=True)
        return limit is not None and device_a <= limit.max_rating_a * _NEAR

    return _first(circuit, fits)


def too_small(found: Sizing, size: Size) -> tuple[str, ...]:
    """The criteria that a size does not meet."""
    return tuple(each.id for each in found.criteria if each.judged and (each.size is None or size < each.size))


def device_for(circuit: Circuit, size: Size) -> float | None:
    """The largest device in A that protects a size on the safe side."""
    limit = _limit_of(circuit, size, least=True)
    return None if limit is None else limit.max_rating_a


def keeps_to(circuit: Circuit, budget_v: float) -> Size | None:
    """The smallest size whose drop by the formula stays within a number of volts."""

    def fits(size: Size) -> bool:
        lost = drop_v(circuit, size)
        return lost is not None and lost[0] <= budget_v * _NEAR

    return _first(circuit, fits) if budget_v > 0 else None
