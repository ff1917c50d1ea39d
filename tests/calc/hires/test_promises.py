"""Promises of units by days: what shares a day or a turn-round clashes; placing never promises a unit twice.

One night between two divers is common practice, no published source. Whether a set of bookings of one unit each fits
at all is checked against the greatest number that overlap on one day (an interval graph is perfect: M. C. Golumbic,
Algorithmic Graph Theory and Perfect Graphs, 2nd ed., 2004, chapter 8).
"""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.hires.availability import Span, Want, clash, clashes, free_units, place

DAY = date(2026, 6, 1)


def span(first: int, last: int, name: str = "") -> Span:
    return Span(DAY + timedelta(days=first), DAY + timedelta(days=last), name)


@pytest.mark.parametrize(
    ("second", "nights", "said"),
    [
        ((4, 6), 1, False), ((3, 6), 1, True), ((4, 6), 2, True), ((5, 6), 2, False), ((3, 6), 0, True),
        ((4, 6), 0, False),
    ],
)  # fmt: skip
def test_a_unit_back_on_one_day_goes_out_after_the_nights_of_its_turn_round(
    second: tuple[int, int], nights: int, said: bool
) -> None:
    one, other = span(1, 3), span(*second)
    assert clash(one, other, nights) is said
    assert clash(other, one, nights) is said


def test_days_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="last day"):
        span(3, 1)


def test_what_stands_in_the_way_comes_by_first_day() -> None:
    found = clashes(span(1, 9), [span(7, 8, "late"), span(1, 2, "early"), span(20, 21, "far")])
    assert [each.name for each in found] == ["early", "late"]


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 6)), max_size=14), st.integers(1, 5), st.integers(0, 2))
def test_bookings_of_one_unit_fit_exactly_where_no_day_wants_more_than_there_are(
    asked: list[tuple[int, int]], units: int, nights: int
) -> None:
    wants = [Want(span(first, first + length), 1) for first, length in asked]
    placed, short = place(wants, {f"U{n}": () for n in range(units)}, nights)
    rest = max(0, nights - 1)
    busiest = max(
        (sum(first <= day <= first + length + rest for first, length in asked) for day in range(45)), default=0
    )
    assert (short == ()) == (busiest <= units)
    for unit in (f"U{n}" for n in range(units)):
        mine = [wants[at].span for at, named in placed.items() if unit in named]
        assert not any(clash(a, b, nights) for i, a in enumerate(mine) for b in mine[:i])


def placed_one_by_one(
    wants: list[Want], taken: dict[str, list[Span]], nights: int, fits: Callable[[str, Span], bool]
) -> tuple[dict[int, tuple[str, ...]], tuple[int, ...]]:
    """The same placing by asking every promise of every unit about every want, which takes far longer."""
    spans = {unit: list(each) for unit, each in taken.items()}
    placed, short = {}, []
    for at, want in sorted(enumerate(wants), key=lambda each: (each[1].span.first, each[0])):
        ended = {
            unit: max((each.last.toordinal() for each in listed if each.last < want.span.first), default=0)
            for unit, listed in spans.items()
            if not any(clash(want.span, each, nights) for each in listed) and fits(unit, want.span)
        }
        if len(ended) < want.units:
            short.append(at)
            continue
        placed[at] = tuple(sorted(ended, key=lambda unit: (-ended[unit], unit))[: want.units])
        for unit in placed[at]:
            spans[unit].append(want.span)
    return placed, tuple(short)


SPANS = st.tuples(st.integers(0, 40), st.integers(0, 9)).map(lambda each: span(each[0], each[0] + each[1]))


@given(
    st.lists(st.tuples(SPANS, st.integers(1, 3)), max_size=12),
    st.lists(st.lists(SPANS, max_size=5), min_size=1, max_size=5),
    st.integers(0, 3),
    st.integers(2, 5),
)
def test_looking_days_up_places_as_asking_every_promise_does(
    asked: list[tuple[Span, int]], promised: list[list[Span]], nights: int, unfit: int
) -> None:
    """Promises may overlap each other, as of a unit that is late."""
    wants = [Want(days, units) for days, units in asked]
    taken = {f"U{n}": listed for n, listed in enumerate(promised)}

    def fits(unit: str, days: Span) -> bool:
        return (int(unit[1:]) + days.first.toordinal()) % unfit != 0

    assert place(wants, taken, nights, fits) == placed_one_by_one(wants, taken, nights, fits)
    for want in wants:
        free = [unit for unit, listed in taken.items() if not clashes(want.span, listed, nights)]
        assert free_units(want.span, taken, nights) == free
