"""How long the stock of absorbent lasts: worked by hand, and properties. Figures are invented."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.canisters.packing import BookedFills, StockLine, booked_kg_a_day, run_out

TODAY = date(2026, 5, 4)


def line(key: int, left: float, *, opened: bool = False, days: int | None = 400) -> StockLine:
    return StockLine(key, left, opened, None if days is None else TODAY + timedelta(days=days))


def test_each_diving_day_of_each_booked_unit_takes_a_fill_and_only_days_in_the_window_count() -> None:
    bookings = (
        BookedFills(TODAY - timedelta(days=2), TODAY + timedelta(days=1), 2, 2.5),  # 2 of its 4 days lie ahead: 4 fills
        BookedFills(TODAY + timedelta(days=88), TODAY + timedelta(days=95), 1, 2.0),  # 2 days inside: 2 fills
        BookedFills(TODAY + timedelta(days=90), TODAY + timedelta(days=91), 9, 2.5),  # beyond
        BookedFills(TODAY - timedelta(days=9), TODAY - timedelta(days=1), 9, None),  # over
    )
    assert booked_kg_a_day(bookings, TODAY) == pytest.approx((4 * 2.5 + 2 * 2.0) / 90)


def test_a_booked_canister_whose_mass_is_not_known_gives_no_pace() -> None:
    assert booked_kg_a_day((BookedFills(TODAY, TODAY, 1, None),), TODAY) is None


def test_containers_are_emptied_one_after_the_other_the_opened_one_first() -> None:
    found = run_out((line(1, 20.0, days=300), line(2, 5.0, opened=True, days=350)), 2.5, TODAY)
    assert [each.empty_on for each in found] == [TODAY + timedelta(days=9), TODAY + timedelta(days=1)]


def test_a_container_that_outlives_its_date_is_used_until_then_and_the_rest_is_told() -> None:
    short, long = run_out((line(1, 20.0, days=3), line(2, 20.0, days=90)), 2.5, TODAY)
    assert (short.empty_on, short.wasted_kg) == (None, 10.0)
    assert long.empty_on == TODAY + timedelta(days=11)


@pytest.mark.parametrize("days", [None, -1])
def test_a_container_past_its_date_or_without_one_counts_for_nothing(days: int | None) -> None:
    past, sound = run_out((line(1, 20.0, days=days), line(2, 5.0)), 2.5, TODAY)
    assert (past.empty_on, past.wasted_kg) == (None, 20.0)
    assert sound.empty_on == TODAY + timedelta(days=1)


@pytest.mark.parametrize("pace", [None, 0.0])
def test_without_a_booked_pace_no_day_is_given(pace: float | None) -> None:
    assert run_out((line(1, 20.0),), pace, TODAY)[0].empty_on is None


@given(kilograms=st.lists(st.floats(0.1, 40), min_size=1, max_size=6), pace=st.floats(0.05, 8), more=st.floats(0, 4))
def test_a_faster_pace_never_lets_a_container_last_longer(kilograms: list[float], pace: float, more: float) -> None:
    stock = [line(key, left, days=20_000) for key, left in enumerate(kilograms)]
    slow, fast = run_out(stock, pace, TODAY), run_out(stock, pace + more, TODAY)
    for late, early in zip(slow, fast, strict=True):
        assert late.empty_on is not None and early.empty_on is not None
        assert early.empty_on <= late.empty_on
