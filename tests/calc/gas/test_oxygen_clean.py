"""Oxygen-clean status from its cleanings and losses: common practice, no published source."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from fleetbench.calc.gas.cylinders import Cleaning, Loss, clean_status

DAY = date(2026, 5, 4)


def at(hour: int, day: int = 4) -> datetime:
    return datetime(2026, 5, day, hour, tzinfo=UTC)


def test_without_any_record_the_status_is_not_known_and_never_clean() -> None:
    status = clean_status((), (), UTC)
    assert (status.clean, status.cleaned_at) == (None, None)
    assert "not known" in status.words


def test_a_loss_ends_it_until_a_cleaning_that_passed_gives_it_back() -> None:
    flood = Loss(at(12), "flooded")
    lost = clean_status((Cleaning(DAY, True, at(8)),), (flood,), UTC)
    assert (lost.clean, lost.lost_at, lost.words) == (False, at(12), "lost: flooded")
    again = (Cleaning(DAY, True, at(8)), Cleaning(DAY, True, at(13)))
    assert clean_status(again, (flood,), UTC).clean is True


def test_a_cleaning_of_which_only_the_day_is_known_does_not_outlive_a_loss_on_that_day() -> None:
    assert clean_status((Cleaning(DAY, True),), (Loss(at(12), "flooded"),), UTC).clean is False
    assert clean_status((Cleaning(DAY, True),), (Loss(at(12, day=3), "flooded"),), UTC).clean is True


def test_the_day_is_the_sites_day() -> None:
    # 23:30 UTC on 3 May is 01:30 on 4 May in Berlin, so this flood lies on the day of the cleaning.
    flood = Loss(datetime(2026, 5, 3, 23, 30, tzinfo=UTC), "flooded")
    assert clean_status((Cleaning(DAY, True),), (flood,), ZoneInfo("Europe/Berlin")).clean is False
    assert clean_status((Cleaning(DAY, True),), (flood,), UTC).clean is True


def test_a_cleaning_that_failed_leaves_the_part_unclean() -> None:
    done = (Cleaning(DAY, True, at(8)), Cleaning(DAY, False, at(9)))
    status = clean_status(done, (), UTC)
    assert (status.clean, status.why) == (False, "its last cleaning did not pass")
    assert clean_status((Cleaning(DAY, True), Cleaning(DAY, False)), (), UTC).clean is False


def test_the_first_loss_after_the_cleaning_is_the_one_told_and_earlier_ones_are_past() -> None:
    losses = (Loss(at(15), "wrong lubricant"), Loss(at(6), "flooded"), Loss(at(14), "opened off the clean bench"))
    assert clean_status((Cleaning(DAY, True, at(8)),), losses, UTC).why == "opened off the clean bench"


def test_a_loss_without_any_cleaning_is_a_loss() -> None:
    assert clean_status((), (Loss(at(6), "flooded"),), UTC).clean is False
