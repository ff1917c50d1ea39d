"""Wall-clock times of the site as moments: a time that the night of a clock change lacks is refused.

Dates as they are marked on things: a day, month, quarter or year.

The moment at which an act counts as recorded, whatever the clocks of the desks say.
"""

import datetime as dt
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum

from dateutil.relativedelta import relativedelta

from fleetbench.calc.core.languages import say


def moment_at(local: datetime, zone: tzinfo) -> datetime:
    """The moment, in UTC, at which the clock on the wall shows a time; of two such moments the earlier.

    The earlier one lets every hour limit begin sooner, so that it never lengthens. Raises ValueError naming the
    remedy for a time that the change of clocks leaves out.
    """
    naive = local.replace(tzinfo=None, fold=0)
    moment = naive.replace(tzinfo=zone).astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) != naive:
        raise ValueError(
            say("{naive:%Y-%m-%d %H:%M}: the clocks went forward over that time; give the time after it", naive=naive)
        )
    return moment


SKEW = timedelta(seconds=2)
"""How far the clocks of two desks may differ before it is written down; common practice, no published source."""

BEHIND = timedelta(days=1)
"""How far a clock may be behind the last entry for its acts to follow that entry; more is asked about first."""

AHEAD = timedelta(days=200)
"""How far a clock may be past the last entry, a closed winter and some, before a manager is asked to confirm it."""


def moment_of_act(clock: datetime, last: datetime | None) -> datetime:
    """The moment at which an act counts as recorded: what the clock says, and never before the last entry.

    So what is recorded later counts as later, though another desk's clock is fast. Raises ValueError, with the remedy,
    where the two are so far apart that one of them must be wrong.
    """
    if last is None or clock == last:
        return clock
    if last - clock > BEHIND:
        raise ValueError(
            say(
                "clock: this computer says {clock:%Y-%m-%d %H:%M} UTC, and the last entry is of "
                "{last:%Y-%m-%d %H:%M} UTC; set this computer's clock, or let a manager correct the time "
                "of the entries under People",
                clock=clock,
                last=last,
            )
        )
    if clock - last > AHEAD:
        raise ValueError(
            say(
                "clock: this computer says {clock:%Y-%m-%d %H:%M} UTC, {days} days after the last entry; "
                "set this computer's clock, or let a manager confirm the date under People",
                clock=clock,
                days=(clock - last).days,
            )
        )
    return max(clock, last + timedelta(microseconds=1))


def no_doubt(clock: datetime, last: datetime | None) -> datetime:
    """What the clock says, or the time of the last entry where the two cannot both be right."""
    try:
        return moment_of_act(clock, last)
    except ValueError:
        return last or clock


def clock_doubt(clock: datetime, last: datetime | None) -> str | None:
    """What a user is told of the clock before they record: None where it runs on from the last entry."""
    try:
        moment_of_act(clock, last)
    except ValueError as doubt:
        return str(doubt)
    if last is not None and last - clock > SKEW:
        return say(
            "clock: the last entry is of {last:%Y-%m-%d %H:%M:%S} UTC, and this computer says "
            "{clock:%Y-%m-%d %H:%M:%S} UTC; check the clocks of all desks",
            last=last,
            clock=clock,
        )
    return None


_QUARTER = re.compile(r"(?P<year>\d{4})-Q(?P<quarter>[1-4])|(?P<quarter_first>[1-4])Q(?P<year_last>\d{4})")


class Precision(StrEnum):
    """How finely a date is marked on the thing itself."""

    DAY = "day"
    MONTH = "month"
    QUARTER = "quarter"
    YEAR = "year"


_MONTHS = {Precision.MONTH: 1, Precision.QUARTER: 3, Precision.YEAR: 12}


@dataclass(frozen=True, slots=True)
class MarkedDate:
    """A date as it is marked; `date` is kept as the first day of the marked day, month, calendar quarter or year."""

    date: dt.date
    precision: Precision = Precision.DAY

    def __post_init__(self) -> None:
        """Fold the day onto the first day of what is marked, so that equal markings are equal values."""
        require_date("date", self.date)
        if not 1900 <= self.date.year <= 2199:
            raise ValueError(
                say("date: the year {year} is out of range; give one from 1900 to 2199", year=self.date.year)
            )
        object.__setattr__(self, "precision", Precision(self.precision))
        object.__setattr__(self, "date", self._first_day())

    @classmethod
    def parse(cls, text: str) -> "MarkedDate":
        """The date written as 2025-03-14, 2025-03, 2011-Q2, 2Q2011 or 2025; ValueError names what is expected."""
        cleaned = text.strip().upper()
        if match := _QUARTER.fullmatch(cleaned):
            year = int(match["year"] or match["year_last"])
            quarter = int(match["quarter"] or match["quarter_first"])
            return cls(dt.date(year, 3 * quarter - 2, 1), Precision.QUARTER)
        try:
            if re.fullmatch(r"\d{4}-\d{2}", cleaned):
                return cls(dt.date.fromisoformat(f"{cleaned}-01"), Precision.MONTH)
            if re.fullmatch(r"\d{4}", cleaned):
                return cls(dt.date(int(cleaned), 1, 1), Precision.YEAR)
            if re.fullmatch(r"\d{4}-\d{2}-\d{2}", cleaned):
                return cls(dt.date.fromisoformat(cleaned), Precision.DAY)
        except ValueError:
            pass
        raise ValueError(
            say("date: {text!r} is not a date; write it as 2025-03-14, 2025-03, 2025-Q1 or 2025", text=text)
        )

    @property
    def first_day(self) -> dt.date:
        """First day of what is marked."""
        return self.date

    @property
    def last_day(self) -> dt.date:
        """Last day of what is marked."""
        if self.precision is Precision.DAY:
            return self.date
        return self.date + relativedelta(months=_MONTHS[self.precision]) - dt.timedelta(days=1)

    @property
    def quarter_end(self) -> dt.date:
        """Last day of the calendar quarter that holds the marked date, of the first that can where a year is marked."""
        return MarkedDate(self.date, Precision.QUARTER).last_day

    def _first_day(self) -> dt.date:
        if self.precision is Precision.DAY:
            return self.date
        if self.precision is Precision.MONTH:
            return self.date.replace(day=1)
        if self.precision is Precision.YEAR:
            return self.date.replace(month=1, day=1)
        return self.date.replace(month=self.date.month - (self.date.month - 1) % 3, day=1)

    def __str__(self) -> str:
        """The date in the form in which `parse` reads it."""
        if self.precision is Precision.DAY:
            return self.date.isoformat()
        if self.precision is Precision.MONTH:
            return f"{self.date:%Y-%m}"
        if self.precision is Precision.YEAR:
            return f"{self.date.year:04d}"
        return f"{self.date.year:04d}-Q{(self.date.month + 2) // 3}"


def require_date(name: str, value: dt.date) -> None:
    """Refuse a moment, or anything else that is no date, by the name under which it was given."""
    if isinstance(value, dt.datetime) or not isinstance(value, dt.date):
        raise ValueError(
            say("{name}: {value!r} is not a calendar date; give a date without a time", name=name, value=value)
        )
