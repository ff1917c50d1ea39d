"""A short season under the program's decisions and under first come, first served; the long one is tests/season.py."""

from tests.season import Count, season


def of_three_seasons(*, by_calendar: bool) -> list[Count]:
    """Three: ways that cost the same come out otherwise with another solver, and one season is a few bookings."""
    return [season(14, 60, seed, by_calendar=by_calendar) for seed in (1, 3, 4)]


def test_every_promise_is_kept_or_told_in_time_and_fewer_are_broken_than_first_come_first_served() -> None:
    ours, first_come = of_three_seasons(by_calendar=False), of_three_seasons(by_calendar=True)
    for each in ours:
        assert each.at_the_counter == 0
        assert each.kept + each.told_before + each.told_that_morning == each.promised
    told = sum(each.told_before + each.told_that_morning for each in ours)
    assert sum(each.at_the_counter for each in first_come) > told
