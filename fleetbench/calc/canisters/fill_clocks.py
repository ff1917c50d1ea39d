"""The elapsed limits of a fill as clocks: when each began and when it ends, and when a fill must be thrown away."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from fleetbench.calc.canisters.fill import AbsorbentRule, CanisterLimits, FillFacts, RunFacts


@dataclass(frozen=True, slots=True)
class FillClock:
    """One elapsed limit; began None has not begun or is not known (`known` tells which), ends None with it.

    hours: the limit; None for a calendar date.
    """

    rule: AbsorbentRule
    began: datetime | None
    ends: datetime | None
    hours: float | None
    known: bool = True

    def left(self, now: datetime) -> timedelta | None:
        """Time left, never below nought; None while it has not begun or is not known."""
        return None if self.ends is None else max(self.ends.astimezone(UTC) - now.astimezone(UTC), timedelta())


def fill_clocks(
    fill: FillFacts, runs: Sequence[RunFacts], limits: CanisterLimits, zone: tzinfo
) -> tuple[FillClock, ...]:
    """The clocks that run on a fill: since first use, since its container was opened, and its lot's last good day.

    The lot's day ends with the midnight that follows it at the site.
    """
    clocks = []
    if limits.hours_since_first_use is not None:
        starts = [run.started_at.astimezone(UTC) for run in runs if run.started_at is not None]
        if fill.first_use is not None:
            starts.append(fill.first_use.astimezone(UTC))
        first = min(starts, default=None)
        known = first is not None or not runs
        clocks.append(_clock(AbsorbentRule.FIRST_USE, first, limits.hours_since_first_use, known))
    if limits.hours_since_opened is not None:
        opened = fill.container_opened
        clocks.append(_clock(AbsorbentRule.OPENED, opened, limits.hours_since_opened, opened is not None))
    day = fill.lot_last_good_day
    ends = None if day is None else end_of_day(day, zone)
    clocks.append(FillClock(AbsorbentRule.LOT_DATE, began=None, ends=ends, hours=None, known=day is not None))
    return tuple(clocks)


def discard_by(clocks: Sequence[FillClock]) -> datetime | None:
    """The earliest end of the clocks that are known to run; None where none is."""
    return min((clock.ends for clock in clocks if clock.ends is not None), default=None)


def end_of_day(day: date, zone: tzinfo) -> datetime:
    """The midnight after a calendar day at the site, so that the day itself still counts."""
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)


def _clock(rule: AbsorbentRule, began: datetime | None, hours: float, known: bool) -> FillClock:
    # In UTC, since adding hours to a local time passes over the hour that a change of clocks adds or takes.
    ends = None if began is None else began.astimezone(UTC) + timedelta(hours=hours)
    return FillClock(rule, began=began, ends=ends, hours=hours, known=known)
