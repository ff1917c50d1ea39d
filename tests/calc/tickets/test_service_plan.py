"""Service plans: intervals from the anchor, what is not known is due, and who may do a task."""

import datetime as dt

import pytest

from fleetbench.calc.parts.life import LifeState, LimitUnit, Pace
from fleetbench.calc.tickets.service_plan import PlanTask, TaskHistory, last_good_day, task_due, why_not_by

ON = dt.date(2026, 6, 15)
YEARLY = PlanTask("Yearly service", "months", 12, "invented manual")
HOURLY = PlanTask("Solenoid looked at", "hours", 100, "invented manual")
BACK = PlanTask("Water trap looked at", "hand-back", None, "invented manual")


@pytest.mark.parametrize(
    ("done", "last"),
    [(dt.date(2025, 6, 16), dt.date(2026, 6, 15)), (dt.date(2025, 6, 15), dt.date(2026, 6, 14)),
     (dt.date(2024, 2, 29), dt.date(2025, 2, 27))],
)  # fmt: skip
def test_the_last_good_day_is_the_day_before_the_anniversary(done: dt.date, last: dt.date) -> None:
    """Common practice, no published source: 12 months from 15 January 2025 end on 14 January 2026."""
    found = task_due(YEARLY, TaskHistory(done=done), ON)
    assert (found.day, found.due) == (last, last < ON)


def test_a_task_never_done_is_not_known_and_therefore_due() -> None:
    for task in (YEARLY, HOURLY):
        found = task_due(task, TaskHistory(), ON)
        assert (found.day, found.due) == (None, True)
        counted = last_good_day(task, TaskHistory(), ON)
        assert counted is not None
        assert counted.state is LifeState.UNKNOWN


def test_use_since_the_last_time_is_projected_by_the_pace_and_spent_use_is_due() -> None:
    history = TaskHistory(done=dt.date(2026, 1, 1), used=80.0, pace=Pace(2.0, "2 hours a day by what is booked"))
    found = task_due(HOURLY, history, ON)
    assert found.day is not None
    assert (found.projected, found.due) == (True, False)
    assert abs((found.day - ON).days - 10) <= 1  # 20 hours left at 2 a day
    assert task_due(HOURLY, TaskHistory(done=dt.date(2026, 1, 1), used=100.0), ON).due
    assert task_due(HOURLY, TaskHistory(done=dt.date(2026, 1, 1), used=10.0), ON).due, "no pace known: not dated"


def test_an_event_asks_for_its_task_until_it_is_done_after_it() -> None:
    back = dt.date(2026, 6, 10)
    assert not task_due(BACK, TaskHistory(), ON).due, "it never came back"
    found = task_due(BACK, TaskHistory(event=back), ON)
    assert (found.due, found.day) == (True, back - dt.timedelta(days=1))
    assert not task_due(BACK, TaskHistory(event=back, settled=True), ON).due


@pytest.mark.parametrize(
    ("basis", "amount", "said"),
    [("weeks", 3, "basis: 'weeks' is not known"), ("months", None, "amount: None is no interval"),
     ("months", 1.5, "whole months"), ("hours", 0, "is no interval"), ("hours", float("nan"), "is no interval"),
     ("hand-back", 2, "leave the amount out")],
)  # fmt: skip
def test_a_task_that_means_nothing_is_refused_by_its_field(basis: str, amount: float | None, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        PlanTask("Look", basis, amount, "invented manual")


def test_a_task_says_who_may_do_it() -> None:
    task = PlanTask("Seals", "months", 12, "manual", roles=("technician",), qualification="technician")
    assert why_not_by(task, "technician", ["technician"]) is None
    assert "is for the role technician" in str(why_not_by(task, "manager", ["technician"]))
    assert "needs the qualification technician" in str(why_not_by(task, "technician", ["diver"]))
    assert HOURLY.limit().unit == LimitUnit.HOURS  # type: ignore[union-attr]
