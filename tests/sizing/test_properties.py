"""What must hold for any circuit: more length, heat or company never takes less copper, and a survey agrees."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from vesselspec.physics.conductors.drop import branch_limit, total_limit
from vesselspec.physics.conductors.sizing import Circuit, drop_v, size_circuit, sizes
from vesselspec.units import Size

from .records import judged, one_circuit

USES = ("navigation-lights", "bilge-pump", "lighting", "other", "electronics", "windlass")


@st.composite
def circuits(
    draw: st.DrawFn, *, known: bool = True, practices: tuple[str, ...] = ("north-american",)
) -> tuple[Circuit, str]:
    """A circuit of which everything that matters is known, with the use of its load."""
    practice = draw(st.sampled_from(practices))
    dc = draw(st.booleans())
    volts = draw(st.sampled_from((12.0, 24.0))) if dc else draw(st.sampled_from((120.0, 230.0)))
    use = draw(st.sampled_from(USES))
    limits = (branch_limit(practice, dc=dc), total_limit(practice, dc=dc, use=use))

    def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
        return strategy if known else st.none() | strategy

    return (
        Circuit(
            practice=practice,
            dc=dc,
            volts=volts,
            line_v=volts,
            between=("DC+", "DC-") if dc else ("L1", "N"),
            amps=draw(st.floats(0.5, 90).map(lambda x: round(x, 2))),
            frequency_hz=None if dc else 60.0,
            length_m=draw(st.floats(0.5, 25).map(lambda x: round(x, 2))),
            insulation_c=draw(maybe(st.sampled_from((75.0, 90.0, 105.0)))),
            engine_space=draw(maybe(st.booleans())),
            loaded=draw(st.integers(2, 8)),
            sheath=draw(maybe(st.booleans())),
            continuous=draw(maybe(st.booleans())),
            limits=tuple(limit for limit in limits if limit is not None),
            metric=practice == "international",
        ),
        use,
    )


def at_least(one: Size | None, two: Size | None) -> bool:
    """Whether the second is no smaller; none at all is larger than any."""
    return two is None or (one is not None and two >= one)


@settings(max_examples=150, deadline=None)
@given(
    circuits(known=False, practices=("north-american", "international")),
    st.floats(1, 3),
    st.integers(0, 20),
    st.floats(1, 3),
)
def test_worse_never_takes_less_copper(drawn: tuple[Circuit, str], longer: float, more: int, heavier: float) -> None:
    circuit, _ = drawn
    assert circuit.length_m is not None
    assert circuit.amps is not None
    assert circuit.loaded is not None
    found = size_circuit(circuit).size
    for worse in (
        replace(circuit, length_m=circuit.length_m * longer),
        replace(circuit, engine_space=True),
        replace(circuit, loaded=circuit.loaded + more),
        replace(circuit, amps=circuit.amps * heavier),
        replace(circuit, continuous=True),
        replace(circuit, insulation_c=None),
        replace(circuit, engine_space=None),
        replace(circuit, loaded=None),
        replace(circuit, sheath=None),
        replace(circuit, rest_v=0.1, rest_branch_v=0.1),
    ):
        if worse.practice == "international" and worse.insulation_c is None and circuit.insulation_c is not None:
            continue  # the table of 70 °C for 50 V and more begins at 1.5 mm², the others at 0.75 mm²
        assert at_least(found, size_circuit(worse).size), worse


@settings(max_examples=100, deadline=None)
@given(circuits(known=False, practices=("north-american", "international")))
def test_the_answer_meets_every_criterion_and_the_next_size_down_does_not(drawn: tuple[Circuit, str]) -> None:
    circuit, _ = drawn
    found = size_circuit(circuit)
    assume(found.size is not None)
    assert found.size is not None
    assert found.governs
    assert found.best is None or found.best <= found.size
    wanted = [each.size for each in found.criteria if each.judged]
    assert all(size is not None and size <= found.size for size in wanted)
    assert any(size == found.size for size in wanted)
    assert found.device_a is not None
    assert found.device_max_a is not None
    assert found.device_a <= found.device_max_a * (1 + 1e-9)
    drops = [drop_v(circuit, size) for size in sizes(metric=circuit.metric)]
    known = [each[0] for each in drops if each is not None]
    assert known == sorted(known, reverse=True)


#: The rules that a sized circuit must satisfy.
ANSWERED = {
    "conductor-overloaded",
    "conductor-unprotected",
    "continuous-load-on-breaker",
    "device-above-ampacity",
    "neutral-overloaded",
    "voltage-drop-too-large",
}


def record(circuit: Circuit, use: str, size: str, device: float) -> tuple[bool, set[str], tuple[tuple[str, str], ...]]:
    """Survey a record of the circuit: whether all could be judged, the rules broken."""
    assert circuit.length_m is not None
    duty = "continuous" if circuit.continuous else "intermittent"
    load = {"current": f"{circuit.amps:g} A", "use": use, "duty": duty}
    if not circuit.dc:
        load["poles"] = ["L1", "N"]  # type: ignore[assignment]
    found, rules = judged(one_circuit(circuit, size, device, circuit.length_m, load))
    # What a device must break, or how long a bank lasts, is no matter of the conductor's size.
    lacking = tuple((each.rule, each.missing) for each in found.cannot_judge if each.rule in ANSWERED)
    return not lacking, rules & ANSWERED, lacking


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits())
def test_the_survey_agrees(drawn: tuple[Circuit, str]) -> None:
    """Written into a record, the answer breaks no rule, and the next size down breaks the one that decided."""
    circuit, use = drawn
    found = size_circuit(circuit)
    assume(found.size is not None and found.device_a is not None)
    assert found.size is not None
    assert found.device_a is not None
    all_judged, rules, lacking = record(circuit, use, found.size.text, found.device_a)
    assert rules == set()
    assert all_judged, lacking
    below = [size for size in sizes(metric=circuit.metric) if size < found.size]
    if not below:
        return
    _, rules, _ = record(circuit, use, below[-1].text, found.device_a)
    told = {
        "device": {"device-above-ampacity"},
        "voltage-drop": {"voltage-drop-too-large"},
        "ampacity": {"conductor-overloaded", "device-above-ampacity"},
    }
    for criterion in found.governs:
        if criterion in ("device", "voltage-drop"):
            assert rules & told[criterion], (criterion, rules)
        # By ampacity alone: the load itself is too much, unless only 125 % of a continuous one was.
        if criterion == "ampacity" and not circuit.continuous:
            assert rules & told[criterion]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(practices=("international",)))
def test_the_survey_agrees_in_international_practice(drawn: tuple[Circuit, str]) -> None:
    circuit, use = drawn
    found = size_circuit(circuit)
    assume(found.size is not None and found.device_a is not None)
    assert found.size is not None
    assert found.device_a is not None
    _, rules, _ = record(circuit, use, found.size.text, found.device_a)
    assert rules == set()
