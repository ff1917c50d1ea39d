"""A short season under the program's decisions and under first come, first served; the long one is tests/season.py."""

from tests.season import season


def test_every_promise_is_kept_or_told_in_time_and_fewer_are_broken_than_first_come_first_served() -> None:
    ours, first_come = season(14, 60, 2, by_calendar=False), season(14, 60, 2, by_calendar=True)
    assert ours.at_the_counter == 0
    assert ours.kept + ours.told_before + ours.told_that_morning == ours.promised
    assert first_come.at_the_counter > ours.told_before + ours.told_that_morning
