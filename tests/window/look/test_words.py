from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from fleetbench.window.look import words


@pytest.mark.parametrize(
    ("days", "said"),
    [(None, "not known"), (0, "last day today"), (1, "1 day left"), (12, "12 days left"), (-1, "1 day past")],
)
def test_a_last_good_day_is_itself_still_allowed(days: int | None, said: str) -> None:
    # common practice, no published source: the last good day is inclusive
    assert words.days_left(days) == said


def test_what_is_missing_is_said_and_never_nought() -> None:
    assert words.figure(None, "mV") == "not recorded"
    assert words.day(None) == "not known"
    assert words.plus_minus(98.2, None, "%") == "98.2 %, U not recorded"


def test_a_negative_figure_has_a_minus_that_no_spreadsheet_takes_for_a_formula() -> None:
    assert words.figure(-3.4, "%") == "\u22123.4 %"


def test_a_moment_is_told_in_the_time_of_the_site() -> None:
    at = datetime(2026, 7, 1, 22, 30, tzinfo=UTC)
    assert words.moment(at, ZoneInfo("Europe/Athens")) == "2026-07-02 01:30"


def test_short_reasons_leave_out_brackets_and_brackets_in_brackets() -> None:
    reasons = ("cell 2: repeat (all read high (+3.1 %) together)", "ticket 2026-031: valve leaks (critical)")
    assert words.in_short(reasons) == "cell 2: repeat; ticket 2026-031: valve leaks"


def test_a_last_good_day_is_told_with_how_far_off_it_is() -> None:
    assert words.last_day(date(2026, 5, 20), 16) == "2026-05-20, 16 days left"
