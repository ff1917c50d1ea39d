"""How long a part may be used: limits of life in, last good days out, the earliest named.

Rules used throughout, common practice with no published source unless said otherwise:

- The last good day is inclusive: the day before the anniversary. Twelve months from 15 January 2025 end on
  14 January 2026.
- Months are added from the anchor in one step and clamp to the month's end, never month by month; so 12 months from
  29 February 2024 reach 28 February 2025, and the last good day is 27 February 2025.
- Made, opened and received dates count from the first day of what is marked (day, month, quarter or year).
- Elastomer storage counts from the last day of the calendar quarter (SAE ARP5316, second-hand) and is a limit of the
  shelf only: it says nothing of a fitted part.
- A date that is not known leaves the limit unknown, and unknown is never fine.
"""

import datetime as dt
import math
from calendar import monthrange
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache, lru_cache

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.wall_time import MarkedDate, require_date


class LimitBasis(StrEnum):
    """What a limit of life counts from."""

    MADE = "made"
    OPENED = "opened"
    RECEIVED = "received"
    FITTED = "fitted"
    HOURS = "hours"
    DIVES = "dives"
    HIRES = "hires"
    FIXED_DATE = "fixed_date"
    TEST_INTERVAL = "test_interval"
    STORAGE = "storage"
    FORECAST = "forecast"
    REJECT = "reject"


RECORDED_BASES = tuple(
    each for each in LimitBasis if each not in (LimitBasis.RECEIVED, LimitBasis.FORECAST, LimitBasis.REJECT)
)
"""Those that a limit of a part type may be recorded with; any other is calculated."""


class LimitUnit(StrEnum):
    """What the amount of a limit is counted in."""

    MONTHS = "months"
    DAYS = "days"
    HOURS = "hours"
    DIVES = "dives"
    HIRES = "hires"


_USE_UNITS = {LimitBasis.HOURS: LimitUnit.HOURS, LimitBasis.DIVES: LimitUnit.DIVES, LimitBasis.HIRES: LimitUnit.HIRES}


@dataclass(frozen=True, slots=True)
class LifeLimit:
    """One limit of life with its source.

    amount: in `unit`; whole months or days for calendar limits; 0 for a fixed date, whose date is the part's own.
    test_kind: which test a test interval is about, for instance 'hydrostatic'; required there, empty elsewhere.
    also_counts: kinds of test whose date serves as well, as a hydrostatic test includes the internal visual.
    """

    basis: LimitBasis
    amount: float
    unit: LimitUnit
    source: str
    test_kind: str = ""
    also_counts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a limit that means nothing, naming the field."""
        object.__setattr__(self, "basis", LimitBasis(self.basis))
        object.__setattr__(self, "unit", LimitUnit(self.unit))
        if not math.isfinite(self.amount) or self.amount < 0 or self.amount > 100_000:
            raise _unusable("amount: {amount!r} is not a life; give a number from 0 to 100000", amount=self.amount)
        if self.amount == 0 and self.basis not in (LimitBasis.FIXED_DATE, LimitBasis.FORECAST, LimitBasis.REJECT):
            raise _unusable("amount: a life of nothing; give a number above 0, or use a fixed date")
        wanted = _USE_UNITS.get(self.basis)
        if wanted is not None and self.unit is not wanted:
            raise _unusable(
                "unit: a limit in {basis} is counted in {wanted}, not in {unit}",
                basis=self.basis,
                wanted=wanted,
                unit=self.unit,
            )
        if wanted is None and self.unit not in (LimitUnit.MONTHS, LimitUnit.DAYS):
            raise _unusable(
                "unit: a limit from {basis} is counted in months or days, not in {unit}",
                basis=self.basis,
                unit=self.unit,
            )
        if wanted is None and self.amount != int(self.amount):
            raise _unusable("amount: {amount!r} {unit}; give whole {unit}", amount=self.amount, unit=self.unit)
        if (self.basis is LimitBasis.TEST_INTERVAL) != bool(self.test_kind):
            raise _unusable("test_kind: name the test for a test interval, and for nothing else")

    def describe(self) -> str:
        """The limit in words, for instance '12 months from opened' or '150 hours of use'."""
        if self.basis is LimitBasis.FIXED_DATE:
            return say("fixed date")
        if self.basis is LimitBasis.FORECAST:
            return say("forecast from its own calibrations")
        if self.basis is LimitBasis.REJECT:
            return say("rejected by a measurement")
        return _limit_words(self.basis, self.amount, self.unit, self.test_kind)


@cache
def _limit_words(basis: LimitBasis, amount: float, unit: LimitUnit, test_kind: str) -> str:
    counted = say("{amount:g} {unit}", amount=amount, unit=say(unit.value if amount != 1 else unit.value[:-1]))
    if basis in _USE_UNITS:
        return say("{amount} of use", amount=counted) if unit is LimitUnit.HOURS else counted
    if basis is LimitBasis.TEST_INTERVAL:
        return say("{amount} from the last {test_kind} test", amount=counted, test_kind=say(test_kind))
    if basis is LimitBasis.STORAGE:
        return say("{amount} in storage", amount=counted)
    return say("{amount} from {basis}", amount=counted, basis=say(basis.value))


_REJECT = LifeLimit(LimitBasis.REJECT, 0, LimitUnit.DAYS, say("the measurement itself, which ends a part at any age"))
_FORECAST = LifeLimit(
    LimitBasis.FORECAST, 0, LimitUnit.DAYS, say("calculated from the records; an estimate only shortens")
)


@dataclass(frozen=True, slots=True)
class Pace:
    """Expected use per day in a limit's own unit, with the assumption it rests on."""

    per_day: float
    assumption: str

    def __post_init__(self) -> None:
        """Refuse a pace that is not a number from 0 up."""
        _require_amount("per_day", self.per_day)


@dataclass(frozen=True, slots=True)
class LifeFacts:
    """What is known of one part; None is 'not known', never 'fine'.

    fitted: first day of the present fitting.
    in_store: the part is known to be in no slot, so that a life from fitting or in use has not begun to run.
    sealed: the part is known to be unopened, so that a life from opening has not begun.
    last_tests: date of the last test by kind where it was passed, under the name that not_passed gives where not.
    hours_used, dives_used, hires_used: use so far, in those units.
    pace: expected use per day for each of hours, dives and hires that is known.
    """

    made: MarkedDate | None = None
    opened: MarkedDate | None = None
    received: MarkedDate | None = None
    fitted: dt.date | None = None
    in_store: bool = False
    sealed: bool = False
    fixed_date: MarkedDate | None = None
    last_tests: Mapping[str, MarkedDate] = field(default_factory=dict)
    hours_used: float | None = None
    dives_used: float | None = None
    hires_used: float | None = None
    pace: Mapping[LimitUnit, Pace] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse facts that contradict each other."""
        if self.in_store and self.fitted is not None:
            raise _unusable("fitted: a part in store has no fitting; give one or the other")
        if self.sealed and self.opened is not None:
            raise _unusable("opened: a sealed part has no opening date; give one or the other")
        if self.fitted is not None:
            require_date("fitted", self.fitted)


class StampRule(StrEnum):
    """From which day of a stamped month or quarter a cylinder's test counts: the site's rule."""

    FIRST_DAY = "first day"
    LAST_DAY = "last day"


class LifeState(StrEnum):
    """Whether a limit has an end that can be dated."""

    DATED = "dated"
    UNKNOWN = "unknown"
    OPEN_ENDED = "open ended"


@dataclass(frozen=True, slots=True)
class LastGoodDay:
    """The last date, inclusive, on which one limit allows use.

    day: None where the state is unknown (a date or a pace is missing) or open ended (no use is expected).
    projected: the day rests on an expected pace and moves with it.
    why: the calculation in words.
    """

    basis: LimitBasis
    limit: LifeLimit
    day: dt.date | None
    projected: bool
    why: str
    state: LifeState = LifeState.DATED


@dataclass(frozen=True, slots=True)
class Governing:
    """The limit that ends first, and every limit that could not be dated.

    first: None where no limit has a date.
    unknown: limits with a missing date or pace; the true last good day may be earlier than `first` says.
    """

    first: LastGoodDay | None
    unknown: tuple[LastGoodDay, ...] = ()

    @property
    def day(self) -> dt.date | None:
        """Last good day of the limit that governs, None where none has a date."""
        return None if self.first is None else self.first.day

    def covers(self, last_day: dt.date) -> bool | None:
        """True where every limit lasts through `last_day`, False where one ends before, None where one is unknown."""
        if self.day is not None and self.day < last_day:
            return False
        return None if self.unknown else True


def anniversary(anchor: dt.date, amount: float, unit: LimitUnit) -> dt.date:
    """The day `amount` whole months or days after `anchor`, clamped to the month's end.

    Added in one step from the anchor, as python-dateutil's relativedelta does: 31 January plus 2 months is 31 March,
    though two steps of one month would give 28 March. Raises ValueError for another unit or a date beyond the calendar.
    """
    require_date("anchor", anchor)
    if unit not in (LimitUnit.MONTHS, LimitUnit.DAYS) or amount != int(amount):
        raise _unusable(
            "amount: {amount!r} {unit} cannot be added to a date; give whole months or days", amount=amount, unit=unit
        )
    try:
        return _months_after(anchor, int(amount)) if unit is LimitUnit.MONTHS else anchor + dt.timedelta(int(amount))
    except (ValueError, OverflowError) as error:
        raise _unusable(
            "amount: {amount:g} {unit} from {anchor} lies beyond the calendar", amount=amount, unit=unit, anchor=anchor
        ) from error


def _months_after(anchor: dt.date, months: int) -> dt.date:
    year, month = divmod(anchor.year * 12 + anchor.month - 1 + months, 12)
    return dt.date(year, month + 1, min(anchor.day, monthrange(year, month + 1)[1]))


def last_good_days(
    limits: Iterable[LifeLimit], facts: LifeFacts, on: dt.date, *, stamp_rule: StampRule = StampRule.FIRST_DAY
) -> tuple[LastGoodDay, ...]:
    """One last good day a limit, in the order given; a storage limit is left out while the part is fitted.

    on: the day from which use is projected.
    """
    require_date("on", on)
    return tuple(
        _last_good_day(limit, facts, on, stamp_rule)
        for limit in limits
        if not (limit.basis is LimitBasis.STORAGE and facts.fitted is not None)
    )


def governing(days: Iterable[LastGoodDay]) -> Governing:
    """The earliest of the given last good days, with the unknown ones beside it; the first given wins a tie."""
    listed = tuple(days)
    dated = [(each.day, place) for place, each in enumerate(listed) if each.day is not None]
    first = listed[min(dated)[1]] if dated else None
    return Governing(first, tuple(each for each in listed if each.state is LifeState.UNKNOWN))


def by_forecast(day: dt.date, measure: str) -> LastGoodDay:
    """The last good day that a part's own measurements foretell: never a rated life, and only ever the earlier end.

    measure: what is foretold to cross its limit, for instance 'linearity'.
    """
    why = say(
        "its own calibrations: the lower bound of {measure} meets its limit until {day}", measure=measure, day=day
    )
    return LastGoodDay(LimitBasis.FORECAST, limit=_FORECAST, day=day, projected=True, why=why)


def by_reject(rejected_on: dt.date, why: str) -> LastGoodDay:
    """The last good day of a part that a measurement rejected: the day before it, whatever its age."""
    return LastGoodDay(
        LimitBasis.REJECT, limit=_REJECT, day=rejected_on - dt.timedelta(days=1), projected=False, why=why
    )


def project_pace(
    *, booked: float | None, trailing_90: float | None, same_days_last_year: float | None, unit: LimitUnit
) -> Pace | None:
    """The highest of three uses per day, with the assumption in words; None where none is known.

    booked: what is booked over the next 90 days, per day; trailing_90: the 90 days before today;
    same_days_last_year: the next 90 days, a year ago. Common practice, no published source.
    """
    named = {
        say("what is booked"): booked,
        say("the trailing 90 days"): trailing_90,
        say("the same 90 days a year ago"): same_days_last_year,
    }
    known = {name: value for name, value in named.items() if value is not None}
    for name, value in known.items():
        _require_amount(say("pace from {name}", name=name), value)
    if not known:
        return None
    chosen = max(known, key=lambda name: known[name])
    others = strung(
        ", ",
        (
            strung(" ", (say(name), say("not known") if value is None else f"{value:.2f}"))
            for name, value in named.items()
            if name != chosen
        ),
    )
    return Pace(
        known[chosen],
        say(
            "{known:.2f} {unit} a day by {chosen}, the highest of three ({others})",
            known=known[chosen],
            unit=unit,
            chosen=say(chosen),
            others=others,
        ),
    )


def _last_good_day(limit: LifeLimit, facts: LifeFacts, on: dt.date, stamp_rule: StampRule) -> LastGoodDay:
    if limit.basis in _USE_UNITS:
        return _from_use(limit, facts, on)
    if limit.basis is LimitBasis.FIXED_DATE:
        return _from_fixed_date(limit, facts)
    if limit.basis is LimitBasis.FITTED and facts.in_store:
        return _not_begun(limit, say("in store: begins when it is fitted"))
    if limit.basis is LimitBasis.OPENED and facts.sealed:
        return _not_begun(limit, say("sealed: begins when it is opened"))
    anchor, words = _anchor(limit, facts, stamp_rule)
    if anchor is None:
        return _unknown(limit, say("{words}: {describe} cannot be calculated", words=words, describe=limit.describe()))
    day = anniversary(anchor, limit.amount, limit.unit) - dt.timedelta(days=1)
    return LastGoodDay(limit.basis, limit=limit, day=day, projected=False, why=_day_words(limit.describe(), words, day))


@lru_cache(20_000)
def _day_words(describe: str, words: str, day: dt.date) -> str:
    return say("{describe}, {words}, last valid day {day}", describe=describe, words=words, day=day)


def _anchor(limit: LifeLimit, facts: LifeFacts, stamp_rule: StampRule) -> tuple[dt.date | None, str]:
    if limit.basis is LimitBasis.STORAGE:
        if facts.made is None:
            return None, say("cure date not known")
        return facts.made.quarter_end, say("cured {made}, counted from the quarter's last day", made=facts.made)
    if limit.basis is LimitBasis.TEST_INTERVAL:
        return _test_anchor(limit, facts, stamp_rule)
    if limit.basis is LimitBasis.FITTED:
        return facts.fitted, say("fitted {fitted}", fitted=facts.fitted) if facts.fitted else say(
            "fitting date not known"
        )
    mark = {LimitBasis.MADE: facts.made, LimitBasis.OPENED: facts.opened, LimitBasis.RECEIVED: facts.received}
    marked = mark[limit.basis]
    if marked is None:
        return None, say("{basis} date not known", basis=limit.basis)
    return marked.first_day, say("{basis} {day}", basis=say(limit.basis.value), day=marked)


def not_passed(kind: str) -> str:
    """The name under which the last test of a kind stands among `last_tests` where it was not passed."""
    return f"{kind} not passed"


def _test_anchor(limit: LifeLimit, facts: LifeFacts, stamp_rule: StampRule) -> tuple[dt.date | None, str]:
    failed = facts.last_tests.get(not_passed(limit.test_kind))
    dated = [
        (mark.first_day if stamp_rule is StampRule.FIRST_DAY else mark.last_day, kind, mark)
        for kind, mark in facts.last_tests.items()
        if (kind == limit.test_kind or kind in limit.also_counts)
        # A test of another kind that was passed before does not make good one that was not passed since.
        and (failed is None or mark.first_day > failed.last_day)
    ]
    if not dated:
        lacking = say("no {test_kind} test on record", test_kind=say(limit.test_kind or ""))
        return None, lacking if failed is None else say(
            "{test_kind} test not passed {failed}", test_kind=say(limit.test_kind or ""), failed=failed
        )
    anchor, kind, mark = max(dated, key=lambda each: (each[0], each[1]))
    return anchor, say("{kind} test {mark}", kind=say(kind), mark=mark)


def _from_fixed_date(limit: LifeLimit, facts: LifeFacts) -> LastGoodDay:
    if facts.fixed_date is None:
        return _unknown(limit, say("fixed date not known"))
    # A month-only date could mean the month's first or last day: the first is never too late.
    day = facts.fixed_date.first_day
    return LastGoodDay(
        limit.basis,
        limit=limit,
        day=day,
        projected=False,
        why=say("marked with the fixed date {fixed_date}", fixed_date=facts.fixed_date),
    )


def _whole_days(lasts: float) -> int:
    """Whole days in a span; one that is whole but for the last digits of floating point counts as whole."""
    nearest = round(lasts)
    return nearest if abs(lasts - nearest) < 1e-9 * lasts else math.floor(lasts)


def _from_use(limit: LifeLimit, facts: LifeFacts, on: dt.date) -> LastGoodDay:
    used = {LimitUnit.HOURS: facts.hours_used, LimitUnit.DIVES: facts.dives_used, LimitUnit.HIRES: facts.hires_used}[
        limit.unit
    ]
    if used is None:
        return _unknown(limit, say("{unit} used so far not known", unit=limit.unit))
    _require_amount(f"{limit.unit}_used", used)
    left = limit.amount - used
    if left <= 0:
        why = say("{used:g} of {amount:g} {unit} used: none left", used=used, amount=limit.amount, unit=limit.unit)
        return LastGoodDay(limit.basis, limit=limit, day=on - dt.timedelta(days=1), projected=False, why=why)
    spent = say("{used:g} of {amount:g} {unit} used", used=used, amount=limit.amount, unit=limit.unit)
    if facts.in_store:
        return _not_begun(limit, say("{spent}; in store, so no more is used", spent=spent))
    pace = facts.pace.get(limit.unit)
    if pace is None:
        return _unknown(limit, say("{spent}; no pace known from which to project the rest", spent=spent))
    if pace.per_day * 36_525 <= left:
        why = say("{spent}; no end within a hundred years at {assumption}", spent=spent, assumption=pace.assumption)
        return LastGoodDay(limit.basis, limit=limit, day=None, projected=True, why=why, state=LifeState.OPEN_ENDED)
    days_left = _whole_days(left / pace.per_day)
    # The day on which the last of it goes is not good to its end, so the day before is the last good one.
    day = on + dt.timedelta(days=days_left - 1)
    return LastGoodDay(
        limit.basis,
        limit=limit,
        day=day,
        projected=True,
        why=say("{spent}; projected at {assumption}", spent=spent, assumption=pace.assumption),
    )


def _not_begun(limit: LifeLimit, why: str) -> LastGoodDay:
    return LastGoodDay(limit.basis, limit=limit, day=None, projected=False, why=why, state=LifeState.OPEN_ENDED)


def _unknown(limit: LifeLimit, why: str) -> LastGoodDay:
    return LastGoodDay(limit.basis, limit=limit, day=None, projected=False, why=why, state=LifeState.UNKNOWN)


def _unusable(sentence: str, **values: object) -> ValueError:
    return ValueError(say(sentence, **values))


def _require_amount(name: str, value: float) -> None:
    if not math.isfinite(value) or value < 0:
        raise _unusable("{name}: {value!r} is not a use; give a number from 0 up", name=name, value=value)
