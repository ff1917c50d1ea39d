"""Spans of days and their counts; what a unit's days look like is in tests/workshop/test_availability.py.

The first day on which a check stops is held against asking day by day, there, on what is recorded.
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.hires.availability import (
    CountedOn,
    Diaries,
    Span,
    Strip,
    What,
    counted,
    covered,
    lanes,
    refusals,
    warnings,
    with_turn_round,
)

START = date(2026, 5, 4)
SPANS = st.lists(st.tuples(st.integers(-5, 20), st.integers(0, 9), st.integers(1, 3)), max_size=8)


def day(number: int) -> date:
    return START + timedelta(days=number)


def strip(first: int, last: int | None, lacking: int = 0, what: What = What.HIRE) -> Strip:
    end = date.max if last is None else day(last)
    return Strip(day(first), end, what, "H", "why", ("booking", "H"), what is What.HOLD, lacking=lacking)


@given(SPANS)
def test_units_are_counted_day_by_day_as_by_looking_at_every_strip(spans: list[tuple[int, int, int]]) -> None:
    strips = [strip(first, first + length, units) for first, length, units in spans]
    by_looking = [sum(each.lacking for each in strips if each.first <= day(at) <= each.last) for at in range(14)]
    assert counted(strips, START, 14) == by_looking
    assert covered(strips, START, 14) == [units > 0 for units in by_looking]


@given(SPANS)
def test_no_two_of_a_lane_share_a_day_and_there_are_no_more_lanes_than_ever_lie_at_once(
    spans: list[tuple[int, int, int]],
) -> None:
    strips = [strip(first, first + length, 1) for first, length, _units in spans]
    found = lanes(strips)
    for one in range(len(strips)):
        for other in range(one):
            if found[one] == found[other]:
                assert strips[one].last < strips[other].first or strips[other].last < strips[one].first
    assert max(found, default=-1) + 1 == max(counted(strips, day(-5), 40), default=0)


def test_a_strip_without_a_known_end_covers_every_day_from_its_first() -> None:
    assert covered([strip(2, None)], START, 4) == [False, False, True, True]
    assert counted([strip(2, None)], START, 4) == [0, 0, 1, 1]


@pytest.mark.parametrize(("nights", "last"), [(0, 3), (1, 3), (2, 4), (3, 5)])
def test_a_turn_round_keeps_a_whole_day_for_each_night_after_the_first(nights: int, last: int) -> None:
    assert with_turn_round(strip(1, 3), nights).last == day(last)


def test_why_a_unit_cannot_be_promised_and_why_it_could_not_leave_are_told_apart() -> None:
    taken = [Span(day(2), day(4), "H-1"), Span(day(9), date.max, "away")]
    assert refusals("LK-01", Span(day(4), day(6)), taken, 1) == ("unit LK-01 is promised to H-1 06 May to 08 May",)
    assert refusals("LK-01", Span(day(5), day(8)), taken, 1) == ()
    assert "nights are kept" in refusals("LK-01", Span(day(5), day(8)), taken, 2)[0]
    assert refusals("LK-01", Span(day(8), day(9)), taken, 1) == ("unit LK-01 is away 13 May to no day known",)
    assert warnings("LK-01", day(0), day(3), [strip(3, None, what=What.HOLD)]) == (
        "unit LK-01 is unfit from 07 May: why",
    )
    assert warnings("LK-01", day(0), day(2), [strip(3, None, what=What.HOLD)]) == ()


@given(
    st.lists(st.tuples(st.integers(0, 12), st.integers(0, 3)), min_size=1, max_size=9), st.sets(st.integers(0, 8)),
    st.integers(0, 5),
)  # fmt: skip
def test_whether_enough_units_are_free_is_what_counting_them_one_by_one_says_also_when_asked_again(
    taken: list[tuple[int, int]], unfit: set[int], wanted: int
) -> None:
    asked = [Span(day(first), day(first + 2)) for first in range(0, 12, 3)]
    promised = {f"U-{at}": [Span(day(first), day(first + more))] for at, (first, more) in enumerate(taken)}
    diaries, known = Diaries(promised, 1, asked), CountedOn(lambda tag, _span: int(tag[2:]) in unfit)
    judged: list[tuple[str, Span]] = []

    def fits(tag: str, span: Span) -> bool:
        """Some units are not fit on any days, and the third is not on the last days alone."""
        return int(tag[2:]) not in unfit and (tag, span) != ("U-2", asked[-1])

    def asks(tag: str, span: Span) -> bool:
        judged.append((tag, span))
        return fits(tag, span)

    for span in (*asked, *reversed(asked)):
        counted_up = [tag for tag in diaries.free(span) if fits(tag, span)]
        assert diaries.has_free(span, wanted, asks, known) is (len(counted_up) >= wanted)
        assert [*diaries.spare(span, wanted, asks, known)] == counted_up[:wanted]
    assert len(judged) == len(set(judged)), "what was answered is not asked again"
    never = [tag for tag, _ in judged if int(tag[2:]) in unfit]
    assert len(never) == len(set(never)), "a unit that stays unfit is asked about once"
