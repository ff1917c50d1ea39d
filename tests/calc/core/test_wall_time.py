"""Times on the wall in the two nights of a year that have an hour more or less (EU directive 2000/84/EC)."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from fleetbench.calc.core.wall_time import moment_at

BERLIN = ZoneInfo("Europe/Berlin")


def test_an_ordinary_time_is_the_moment_that_the_zone_says() -> None:
    assert moment_at(datetime(2026, 5, 4, 9, 30), BERLIN) == datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


def test_of_the_hour_that_comes_twice_the_earlier_is_taken() -> None:
    assert moment_at(datetime(2026, 10, 25, 2, 30), BERLIN) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert moment_at(datetime(2026, 10, 25, 2, 30, fold=1), BERLIN) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_the_hour_that_is_left_out_is_refused_with_the_remedy() -> None:
    with pytest.raises(ValueError, match="2026-03-29 02:30: the clocks went forward over that time"):
        moment_at(datetime(2026, 3, 29, 2, 30), BERLIN)
