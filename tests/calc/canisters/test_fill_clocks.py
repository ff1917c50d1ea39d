"""Clocks of a fill through midnight and a change of clocks. Figures are invented, common practice otherwise."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from fleetbench.calc.canisters.fill import AbsorbentRule, CanisterLimits, FillFacts, RunFacts
from fleetbench.calc.canisters.fill_clocks import discard_by, fill_clocks

BERLIN = ZoneInfo("Europe/Berlin")
PACKED = datetime(2026, 3, 28, 11, 0, tzinfo=BERLIN)
LIMITS = CanisterLimits(None, hours_since_opened=336.0)
FILL = FillFacts(PACKED, "fine", date(2026, 3, 28), container_opened=PACKED - timedelta(hours=1))


def ends(
    fill: FillFacts = FILL, runs: tuple[RunFacts, ...] = (), limits: CanisterLimits = LIMITS
) -> dict[AbsorbentRule, object]:
    return {clock.rule: clock.ends for clock in fill_clocks(fill, runs, limits, BERLIN)}


def test_an_unused_fill_has_no_first_use_clock_running_and_the_lots_day_ends_at_midnight() -> None:
    found = ends()
    assert found[AbsorbentRule.FIRST_USE] is None
    assert found[AbsorbentRule.OPENED] == PACKED.astimezone(UTC) + timedelta(hours=335)
    assert found[AbsorbentRule.LOT_DATE] == datetime(2026, 3, 29, 0, 0, tzinfo=BERLIN)


def test_hours_are_hours_through_the_night_in_which_the_clocks_go_forward() -> None:
    # The night to 29 March 2026 has an hour less in central Europe (EU directive 2000/84/EC).
    first = RunFacts(30, started_at=datetime(2026, 3, 28, 22, 0, tzinfo=BERLIN).astimezone(UTC))
    end = ends(runs=(first,))[AbsorbentRule.FIRST_USE]
    assert isinstance(end, datetime)
    assert end.astimezone(BERLIN).replace(tzinfo=None) == datetime(2026, 3, 29, 23, 0)


def test_the_earliest_clock_says_when_to_throw_the_fill_away() -> None:
    clocks = fill_clocks(replace(FILL, lot_last_good_day=date(2027, 1, 1)), (), LIMITS, BERLIN)
    assert discard_by(clocks) == PACKED.astimezone(UTC) + timedelta(hours=335)
    assert discard_by(()) is None


def test_what_is_not_known_says_so_and_is_not_an_endless_clock() -> None:
    fill = replace(FILL, container_opened=None, lot_last_good_day=None)
    clocks = fill_clocks(fill, (RunFacts(30),), LIMITS, BERLIN)
    assert [(clock.known, clock.ends) for clock in clocks] == [(False, None)] * 3
    assert discard_by(clocks) is None


def test_a_type_without_hours_has_no_such_clock() -> None:
    limits = CanisterLimits(None, hours_since_first_use=None)
    assert [clock.rule for clock in fill_clocks(FILL, (), limits, BERLIN)] == [AbsorbentRule.LOT_DATE]


@pytest.mark.parametrize(("after", "left"), [(0, 335), (400, 0)])
def test_time_left_never_falls_below_nought(after: int, left: int) -> None:
    opened = next(c for c in fill_clocks(FILL, (), LIMITS, BERLIN) if c.rule is AbsorbentRule.OPENED)
    assert opened.left(PACKED.astimezone(UTC) + timedelta(hours=after)) == timedelta(hours=left)
