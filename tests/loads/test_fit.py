"""The best set of loads: by hand, against every subset of small instances, and what must always hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations as subsets_of

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vesselspec.physics.loads.burden import Element
from vesselspec.physics.loads.fit import Candidate, Fit, Limits, best_fit, combinations

L1 = Element("shore", "L1", "source")
L2 = Element("shore", "L2", "source")
FEEDER = Element("main/1", "L1", "breaker")
ELEMENTS = (L1, L2, FEEDER)


def load(name: str, one: float, two: float = 0.0, **more: object) -> Candidate:
    return Candidate(name, {L1: one, L2: two}, **more)  # type: ignore[arg-type]


def at_once(running: frozenset[str], candidates: list[Candidate]) -> Iterator[frozenset[str]]:
    """Every set that may draw at the same time, by plain trial."""
    apart = {frozenset((each.load, other)) for each in candidates for other in each.alternates_with}
    for size in range(len(running) + 1):
        for some in subsets_of(sorted(running), size):
            if not any(frozenset(pair) in apart for pair in subsets_of(some, 2)):
                yield frozenset(some)


def within(running: frozenset[str], candidates: list[Candidate], limits: Mapping[Element, float]) -> bool:
    amps = {each.load: each.amps for each in candidates}
    return all(
        round(sum(round(amps[key].get(element, 0) * 100) for key in some)) <= round(limit * 100)
        for some in at_once(running, candidates)
        for element, limit in limits.items()
    )


def brute(candidates: list[Candidate], limits: Mapping[Element, float]) -> tuple[str, ...] | None:
    """The best of all subsets, straight from the words of the objective."""
    names = sorted(each.load for each in candidates)
    essential = {each.load for each in candidates if each.essential}
    ranks = sorted({each.rank for each in candidates if not each.essential})
    best: tuple[tuple[int, ...], tuple[bool, ...]] | None = None
    chosen: tuple[str, ...] | None = None
    for size in range(len(names) + 1):
        for some in subsets_of(names, size):
            running = frozenset(some)
            if not essential <= running or not within(running, candidates, limits):
                continue
            counts = tuple(
                sum(each.load in running for each in candidates if each.rank == rank and not each.essential)
                for rank in ranks
            )
            value = (counts, tuple(name in running for name in names))
            if best is None or value > best:
                best, chosen = value, some
    return chosen


_CURRENT = st.integers(0, 200).map(lambda n: n / 10)


@st.composite
def instances(draw: st.DrawFn) -> tuple[list[Candidate], dict[Element, float]]:
    names = [f"load-{n}" for n in range(draw(st.integers(1, 7)))]
    candidates = [
        Candidate(
            name,
            {element: draw(_CURRENT) for element in ELEMENTS},
            essential=draw(st.sampled_from([False, False, False, True])),
            importance=draw(st.sampled_from([1, 2, 10])),
            may_wait=draw(st.booleans()),
            alternates_with=tuple(draw(st.lists(st.sampled_from(names), max_size=2, unique=True)))
            if draw(st.booleans())
            else (),
        )
        for name in names
    ]
    limits = {element: draw(st.integers(0, 500)) / 10 for element in ELEMENTS if draw(st.booleans())}
    return candidates, limits


@settings(max_examples=150, deadline=None)
@given(instances())
def test_the_same_optimum_as_trying_every_subset(instance: tuple[list[Candidate], dict[Element, float]]) -> None:
    candidates, limits = instance
    cleaned = [
        Candidate(
            each.load,
            each.amps,
            each.essential,
            each.importance,
            each.may_wait,
            tuple(other for other in each.alternates_with if other != each.load),
        )
        for each in candidates
    ]
    found, expected = best_fit(candidates, limits), brute(cleaned, limits)
    assert found.fits == (expected is not None)
    if expected is not None:
        assert found.runs == expected
        assert all(each.because for each in found.left_off)
    else:
        assert set(found.runs) == {each.load for each in candidates if each.essential}
        assert found.excess


def value(fit: Fit) -> tuple[int, ...]:
    return tuple(running for _, running, _ in fit.classes)


@settings(max_examples=60, deadline=None)
@given(instances(), st.integers(0, 200))
def test_a_higher_limit_never_loses(instance: tuple[list[Candidate], dict[Element, float]], more: int) -> None:
    candidates, limits = instance
    before = best_fit(candidates, limits)
    after = best_fit(candidates, {element: amps + more / 10 for element, amps in limits.items()})
    assert after.fits or not before.fits
    if before.fits:
        assert value(after) >= value(before)


@settings(max_examples=60, deadline=None)
@given(instances(), st.integers(0, 6))
def test_a_load_less_never_makes_it_fail(instance: tuple[list[Candidate], dict[Element, float]], which: int) -> None:
    candidates, limits = instance
    fewer = [each for n, each in enumerate(candidates) if n != which]
    if best_fit(candidates, limits).fits:
        assert best_fit(fewer, limits).fits


@settings(max_examples=40, deadline=None)
@given(instances(), st.randoms())
def test_the_order_of_the_record_changes_nothing(
    instance: tuple[list[Candidate], dict[Element, float]], random: object
) -> None:
    candidates, limits = instance
    assert best_fit(candidates, limits) == best_fit(candidates[::-1], dict(reversed(limits.items())))


def test_more_important_loads_are_not_given_up_for_any_number_of_others() -> None:
    big = load("heater", 20, importance=1)
    small = [load(f"lamp-{n}", 5, importance=2) for n in range(4)]
    found = best_fit([big, *small], {L1: 24})
    assert found.runs == ("heater",)
    assert [each.load for each in found.left_off] == ["lamp-0", "lamp-1", "lamp-2", "lamp-3"]
    assert found.left_off[0].because[0].over_a == pytest.approx(1)


def test_what_may_wait_waits() -> None:
    loads = [load("a-washer", 10, importance=2, may_wait=True), load("oven", 10, importance=2)]
    assert best_fit(loads, {L1: 15}).runs == ("oven",)


def test_a_tie_goes_to_the_earlier_id() -> None:
    assert best_fit([load("b", 10), load("a", 10), load("c", 10)], {L1: 20}).runs == ("a", "b")


def test_essential_loads_are_never_dropped_silently() -> None:
    loads = [load("pump", 12, essential=True), load("alarm", 8, essential=True), load("oven", 1)]
    found = best_fit(loads, {L1: 15})
    assert not found.fits
    assert found.runs == ("alarm", "pump")
    (excess,) = found.excess
    assert excess.element == L1
    assert (excess.would_be_a, excess.over_a) == pytest.approx((20, 5))


def test_loads_that_take_turns_count_once() -> None:
    loads = [load("a", 12, alternates_with=("b",)), load("b", 10), load("c", 3)]
    found = best_fit(loads, {L1: 15})
    assert found.runs == ("a", "b", "c")
    assert found.margins[0].amps == pytest.approx(15)
    assert best_fit(loads, {L1: 14.99}).runs == ("a", "b")


def test_taking_turns_with_two_that_do_not() -> None:
    """a and c draw at once, b alone: the larger of a + c and b."""
    loads = [load("a", 6, alternates_with=("b",)), load("b", 10, alternates_with=("c",)), load("c", 6)]
    assert best_fit(loads, {L1: 12}).runs == ("a", "b", "c")
    assert len(best_fit(loads, {L1: 11.9}).runs) == 2


def test_exactly_at_the_limit_fits_and_a_hundredth_more_does_not() -> None:
    loads = [load(f"{n}", 0.1) for n in range(3)]
    assert len(best_fit(loads, {L1: 0.3}).runs) == 3
    assert len(best_fit(loads, {L1: 0.29}).runs) == 2


def test_many_loads_are_decided_in_a_moment() -> None:
    loads = [load(f"load-{n:03}", 1 + n % 7 * 0.37, 1 + n % 5 * 0.41, importance=1 + n % 4) for n in range(120)]
    found = best_fit(loads, {L1: 100, L2: 80})
    assert found.fits
    assert found.left_off
    assert found == best_fit(loads, {L1: 100, L2: 80})


@settings(max_examples=60, deadline=None)
@given(instances())
def test_combinations_are_the_largest_that_fit_and_the_smallest_that_do_not(
    instance: tuple[list[Candidate], dict[Element, float]],
) -> None:
    candidates, limits = instance
    work = Limits(candidates, limits)
    names = sorted(each.load for each in candidates)
    every = [frozenset(some) for size in range(len(names) + 1) for some in subsets_of(names, size)]
    good = [each for each in every if work.fits(each)]
    bad = [each for each in every if not work.fits(each)]
    largest, failing = combinations(work, names)
    assert {frozenset(each.loads) for each in largest} == {
        each for each in good if each and not any(each < other for other in good)
    }
    assert {frozenset(each.loads) for each in failing} == {
        each for each in bad if each and not any(other < each for other in bad)
    }
    assert all(each.fits for each in largest)
    assert not any(each.fits for each in failing)
