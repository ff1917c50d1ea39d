"""Every limit of life of a part, calculated from the records for one day.

Calendar limits of fitted parts: the last good day kept on a fitting, and a new calculation to compare it with.

calendar_last_good(limits, facts) -> (day, basis)      the one rule for what stands on a fitting
refresh_lives(act, part_ids)                           after a test, an opening or a changed limit, in the same act
rebuild_lives(workplace) -> list[LifeDifference]       what is kept and is not what the records say, forecasts too
store_calculated(workplace) -> int                      the same, corrected in one act
keep_anew(workplace) -> Workplace                      what an older program did not keep, calculated once
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.cells.readings import MadeBy
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.core.wall_time import MarkedDate, Precision, no_doubt
from fleetbench.calc.parts.condition import Judgement, reject_words, standing_reject
from fleetbench.calc.parts.life import (
    Governing,
    LastGoodDay,
    LifeFacts,
    LifeLimit,
    LimitBasis,
    LimitUnit,
    by_forecast,
    by_reject,
    governing,
    last_good_days,
    not_passed,
)
from fleetbench.records.core.database import calculated
from fleetbench.records.core.transaction import Transaction, last_entry
from fleetbench.records.parts.lives import JudgementRecord, LifeRecords
from fleetbench.records.parts.reads import (
    FittingRecord,
    LifeRecord,
    PartRecord,
    PartTestRecord,
    TestRow,
    as_day,
    read_first_fitted,
    read_fitted,
    read_kept_forecasts,
    read_kept_lives,
    read_lives,
    read_part_tests,
)
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.planted import move_back_what_lies_ahead
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.cells.outlook import calculate_forecasts, refresh_forecasts
from fleetbench.workshop.core.workplace import Day, Workplace, require_person
from fleetbench.workshop.people.acts import check_pin
from fleetbench.workshop.units.use import UseBook, use_of, wears_alike

ALSO_COUNTS = {"visual": ("hydrostatic",)}
"""A hydrostatic test includes the internal visual; common practice, no published source."""

USE_BASES = frozenset((LimitBasis.HOURS, LimitBasis.DIVES, LimitBasis.HIRES))
TestMark = tuple[Any, str]
"""The day of a test as the database gives it, and its precision."""

_NO_TESTS: Mapping[str, TestMark] = {}

FEW = 500
"""So many parts are read by their keys; of more, all are read, since a statement holds only so many keys."""

DUE_SOON_DAYS = 14
"""An end of life this near is `due soon`; common practice, no published source."""


class LifeBook:
    """What is needed to calculate any part's life: limits by part type, last tests by part, and use.

    Parts of one type that were made, opened or fitted on the same day end alike, so each calendar limit is calculated
    once for every different anchor.
    """

    def __init__(
        self,
        day: Day,
        limits: Mapping[int, tuple[LifeLimit, ...]],
        tests: Mapping[int, Mapping[str, TestMark]],
        use: UseBook,
        first_fitted: Mapping[int, datetime | None] | None = None,
        forecasts: Mapping[int, tuple[date, str]] | None = None,
        judgements: Mapping[int, tuple[Judgement, ...]] | None = None,
    ) -> None:
        self.day = day
        self.judgements = judgements or {}
        # A periodic test that was not passed ends its own interval below.
        found = ((part_id, standing_reject(listed, periodic=False)) for part_id, listed in self.judgements.items())
        self.rejects = {part_id: reject for part_id, reject in found if reject is not None}
        self.forecasts = forecasts or {}
        first = first_fitted or {}
        self._first_fitted = {part_id: day.of(at) for part_id, at in first.items() if at is not None}
        self._since_unknown = frozenset(part_id for part_id, at in first.items() if at is None)
        # Cylinders of all sizes share their intervals: equal limits are made one, so that each is calculated once.
        same: dict[LifeLimit, LifeLimit] = {}
        self.limits = {key: tuple(same.setdefault(each, each) for each in listed) for key, listed in limits.items()}
        self.use = use
        self._tests = tests
        self._calculated: dict[Hashable, LastGoodDay] = {}

    def last_good_days(
        self,
        part: PartRecord,
        fitted_at: datetime | None = None,
        unit_id: int | None = None,
        *,
        ever_fitted: bool = False,
        rejects: bool = True,
    ) -> tuple[LastGoodDay, ...]:
        """One last good day for each limit of the part, and last what its own measurements say: a reject or a forecast.

        fitted_at: None for a part in no slot.
        rejects: whether a reject that stands ends it, where no check of its own asks for that.
        ever_fitted: it sat somewhere before, so it cannot be sealed and an opening date that is missing is not known.
        """
        fitted = self.day.of(fitted_at) if fitted_at is not None else None
        sealed = fitted is None and part.opened_on is None and not ever_fitted
        days = []
        for limit in self.limits.get(part.part_type_id, ()):
            if limit.basis is LimitBasis.STORAGE and fitted is not None:
                continue
            if limit.basis in USE_BASES:
                days.append(self._by_use(limit, part.part_id, fitted, unit_id))
            else:
                days.append(self._by_calendar(limit, part, fitted, sealed))
        reject = self.rejects.get(part.part_id) if rejects else None
        if reject is not None:
            days.append(by_reject(self.day.of(reject.at), reject_words(reject)))
        elif part.part_id in self.forecasts:
            days.append(by_forecast(*self.forecasts[part.part_id]))
        return tuple(days)

    def governing(self, part: PartRecord, fitted_at: datetime | None = None, unit_id: int | None = None) -> Governing:
        """The limit that ends first, and those that cannot be dated."""
        return governing(self.last_good_days(part, fitted_at, unit_id))

    def tests_of(self, part_id: int) -> Mapping[str, MarkedDate]:
        """The last test of a part by kind, one that was not passed under the name that calc.life.not_passed gives."""
        return {kind: _mark(as_day(day), precision) for kind, (day, precision) in self._tests.get(part_id, {}).items()}

    def _by_use(self, limit: LifeLimit, part_id: int, fitted: date | None, unit_id: int | None) -> LastGoodDay:
        if part_id in self._since_unknown:
            return last_good_days((limit,), LifeFacts(), self.day.today)[0]
        use = self.use.of_part(part_id)
        facts = LifeFacts(
            fitted=fitted, in_store=fitted is None, hours_used=use.hours, dives_used=float(use.dives),
            hires_used=float(use.hires), pace=self.use.pace(unit_id) if fitted is not None else {},
        )  # fmt: skip
        return last_good_days((limit,), facts, self.day.today)[0]

    def _by_calendar(self, limit: LifeLimit, part: PartRecord, fitted: date | None, sealed: bool) -> LastGoodDay:
        basis = limit.basis
        anchor: Hashable
        if basis is LimitBasis.TEST_INTERVAL:
            anchor = self._test_anchor(limit, part.part_id)
        elif basis is LimitBasis.FITTED:
            anchor = self._since(part.part_id, fitted), part.part_id in self._since_unknown
        elif basis is LimitBasis.OPENED:
            anchor = part.opened_on, part.opened_precision, sealed
        elif basis is LimitBasis.FIXED_DATE:
            anchor = part.fixed_on, part.fixed_precision
        elif basis is LimitBasis.RECEIVED:
            anchor = part.received_on
        else:
            anchor = part.made_on, part.made_precision
        key = id(limit), anchor
        known = self._calculated.get(key)
        if known is None:
            known = last_good_days((limit,), self._facts(limit, part, fitted, sealed), self.day.today)[0]
            self._calculated[key] = known
        return known

    def _since(self, part_id: int, fitted: date | None) -> date | None:
        """The day from which a life from fitting runs: the first ever, since taking a part out makes it no younger."""
        if part_id in self._since_unknown:
            return None
        first = self._first_fitted.get(part_id)
        return first if fitted is None else min(fitted, first or fitted)

    def _test_anchor(self, limit: LifeLimit, part_id: int) -> Hashable:
        """The test that a test interval counts from; all that might where a month or quarter is marked."""
        tests = self._tests.get(part_id, _NO_TESTS)
        if not_passed(limit.test_kind) in tests:
            return tuple(tests.items())
        kinds = (limit.test_kind, *limit.also_counts)
        marks = [(*tests[kind], kind) for kind in kinds if kind in tests]
        if any(precision != Precision.DAY for _, precision, _ in marks):
            return tuple(marks)
        return max(marks, default=None)

    def _facts(self, limit: LifeLimit, part: PartRecord, fitted: date | None, sealed: bool) -> LifeFacts:
        """What one limit is calculated from; a test interval hangs on the tests alone."""
        if limit.basis is LimitBasis.TEST_INTERVAL:
            return LifeFacts(fitted=fitted, in_store=fitted is None, last_tests=self.tests_of(part.part_id))
        # Only a life from fitting runs on from the first place; on the shelf the limit of storage counts again.
        since = self._since(part.part_id, fitted) if limit.basis is LimitBasis.FITTED else fitted
        return LifeFacts(
            made=marked(part.made_on, part.made_precision), opened=marked(part.opened_on, part.opened_precision),
            received=marked(part.received_on, "day"), fitted=since,
            in_store=since is None and part.part_id not in self._since_unknown, sealed=sealed,
            fixed_date=marked(part.fixed_on, part.fixed_precision),
        )  # fmt: skip


def marked(day: date | None, precision: str) -> MarkedDate | None:
    """The date with the precision that is marked, None where there is none."""
    return _mark(day, precision) if day is not None else None


def limits_by_type(records: Iterable[LifeRecord]) -> dict[int, tuple[LifeLimit, ...]]:
    """The limits of each part type, in the order entered."""
    listed: dict[int, list[LifeLimit]] = defaultdict(list)
    for each in records:
        listed[each.part_type_id].append(life_limit(each))
    return {part_type_id: tuple(limits) for part_type_id, limits in listed.items()}


def life_limit(record: LifeRecord) -> LifeLimit:
    """One recorded limit in the form that is calculated with."""
    basis = LimitBasis(record.basis)
    test = (record.test or "") if basis is LimitBasis.TEST_INTERVAL else ""
    return LifeLimit(
        basis, amount=record.amount, unit=LimitUnit(record.unit), source=record.source, test_kind=test,
        also_counts=ALSO_COUNTS.get(test, ()),
    )  # fmt: skip


def last_passed(records: Iterable[PartTestRecord]) -> dict[int, dict[str, MarkedDate]]:
    """The date of the last test of each kind by part; one that failed stands under the name that not_passed gives."""
    found: dict[int, dict[str, MarkedDate]] = defaultdict(dict)
    for each in records:
        now, before = (each.kind, not_passed(each.kind)) if each.passed else (not_passed(each.kind), each.kind)
        found[each.part_id][now] = _mark(each.done_on, each.precision)
        found[each.part_id].pop(before, None)
    return dict(found)


@lru_cache(maxsize=8192)
def _mark(day: date, precision: str) -> MarkedDate:
    """The same marked date for the same mark, since tests are done in rounds of many parts on one day."""
    return MarkedDate(day, Precision(precision))


def item_of(limit: LifeLimit) -> str:
    """What is to be done when the limit ends: the test it asks for, or `replace`."""
    if limit.basis is not LimitBasis.TEST_INTERVAL:
        return "replace"
    named = limit.test_kind in ("service", "oxygen clean", "calibration")
    return limit.test_kind if named else say("{kind} test", kind=say(limit.test_kind))


def book_of(
    records: LifeRecords,
    day: Day,
    more_fittings: Iterable[FittingRecord] = (),
    before: tuple[LifeRecords, LifeBook] | None = None,
) -> LifeBook:
    """The book of one day; more_fittings: of parts whose use is asked for though no limit counts it.

    before: other records and their book of the same day; what it was calculated from and is the same is taken over.
    """
    if before is not None and not more_fittings:
        was, book = before
        if records == was:
            return book
        use = book.use if wears_alike(records, was) else None
        judgements = book.judgements if records.judgements == was.judgements else None
    else:
        use, judgements = None, None
    limits, tests = limits_by_type(records.limits), last_test_marks(records.test_rows)
    return LifeBook(
        day, limits, tests, use or use_of(records, day, more_fittings), records.first_fitted, records.forecasts,
        judgements_of(records.judgements, day) if judgements is None else judgements,
    )  # fmt: skip


def judgements_of(records: Iterable[JudgementRecord], day: Day) -> dict[int, tuple[Judgement, ...]]:
    """What measurements said, by part; where only a day is known, a pass counts from its start, a reject to its end."""
    found: dict[int, list[Judgement]] = defaultdict(list)
    for each in records:
        verdict, at = Verdict(each.verdict), each.at
        if at is None and each.done_on is not None:
            at = day.midnight(each.done_on + timedelta(days=1 if verdict is Verdict.REJECT else 0))
        if at is not None:
            found[each.part_id].append(
                Judgement(
                    each.series, at=at, verdict=verdict, words=each.finding, source=each.source,
                    diver=each.made == MadeBy.DIVER,
                    limited_from_bar=each.limited_from_bar, verified_up_to_bar=each.verified_up_to_bar,
                    outcome_id=each.outcome_id, test_id=each.test_id, calibration_id=each.calibration_id,
                )
            )  # fmt: skip
    return {part_id: tuple(listed) for part_id, listed in found.items()}


def last_test_marks(rows: Iterable[TestRow]) -> dict[int, dict[str, TestMark]]:
    """The last test of each kind by part, as the database gives its day; as in `last_passed` where it failed."""
    found: dict[int, dict[str, TestMark]] = defaultdict(dict)
    for part_id, kind, done_on, precision, passed, _ in rows:
        of_part = found[part_id]
        if passed:
            of_part[kind] = done_on, precision
            of_part.pop(not_passed(kind), None)
        else:
            of_part[not_passed(kind)] = done_on, precision
            of_part.pop(kind, None)
    return found


Kept = tuple[date | None, str | None]
"""Last good day and basis as they stand on a fitting."""


@dataclass(frozen=True, slots=True)
class LifeDifference:
    """A fitting whose kept last good day is not what the records give."""

    fitting_id: int
    part: str
    kept: Kept
    follows: Kept

    def __str__(self) -> str:
        """The difference in one line."""
        kept, follows = (
            strung("", (str(day or say("none")), " (", basis or say("no limit"), ")"))
            for day, basis in (self.kept, self.follows)
        )
        return say(
            "fitting {number} of {part}: {kept} is kept, {calculated} follows from the records",
            number=self.fitting_id,
            part=self.part,
            kept=kept,
            calculated=follows,
        )


@dataclass(frozen=True, slots=True)
class CalendarBook:
    """Limits by part type, tests by part and the site's zone: enough to calculate any fitted part's calendar limits."""

    limits: Mapping[int, tuple[LifeLimit, ...]]
    tests: Mapping[int, Mapping[str, MarkedDate]]
    zone: ZoneInfo
    first_fitted: Mapping[int, datetime | None]

    def of(self, part: PartRecord, fitted_at: datetime) -> Kept:
        """Last good day and basis of a part fitted at that moment; a life from fitting runs from its first one."""
        once = self.first_fitted.get(part.part_id, fitted_at)
        fitted = min(fitted_at, once or fitted_at).astimezone(self.zone).date()
        facts = LifeFacts(
            made=marked(part.made_on, part.made_precision),
            opened=marked(part.opened_on, part.opened_precision),
            received=marked(part.received_on, "day"),
            fitted=fitted,
            fixed_date=marked(part.fixed_on, part.fixed_precision),
            last_tests=self.tests.get(part.part_id, {}),
        )
        limits = self.limits.get(part.part_type_id, ())
        return calendar_last_good(limits if once is not None else without_fitting(limits), facts)


def without_fitting(limits: Iterable[LifeLimit]) -> tuple[LifeLimit, ...]:
    """The limits that do not count from fitting: all that can be dated where its first day is not known."""
    return tuple(limit for limit in limits if limit.basis is not LimitBasis.FITTED)


def calendar_last_good(limits: Iterable[LifeLimit], facts: LifeFacts) -> Kept:
    """The earliest dated calendar limit of a fitted part and its basis; (None, None) where none can be dated.

    Limits of use move with today and with bookings and are left out; what is unknown is told where lives are read.
    """
    calendar = [limit for limit in limits if limit.basis not in USE_BASES]
    if facts.fitted is None:
        raise ValueError(say("fitted: only a fitted part has a last valid day to keep; give its first day there"))
    first = governing(last_good_days(calendar, facts, facts.fitted)).first
    return (first.day, first.basis.value) if first is not None else (None, None)


def calendar_book(connection: Connection, parts: tuple[int, ...] | None = None) -> CalendarBook:
    """What calendar limits hang on, of all parts or of given ones, as it is recorded now; four statements."""
    zone = ZoneInfo(centre_timezone(connection) or "UTC")
    limits, tests = limits_by_type(read_lives(connection)), last_passed(read_part_tests(connection, parts))
    return CalendarBook(limits, tests, zone, read_first_fitted(connection, parts))


def refresh_lives(act: Transaction, part_ids: Iterable[int]) -> int:
    """How many open fittings of these parts got another last good day, noted in the act."""
    wanted = set(part_ids)
    connection = act.session.connection()
    few = tuple(wanted) if len(wanted) <= FEW else None
    book = calendar_book(connection, few)
    changed = 0
    for fitting, part in read_fitted(connection, parts=few):
        if part.part_id not in wanted:
            continue
        row = act.get(Fitting, fitting.fitting_id, "fitting")
        day, basis = book.of(part, fitting.fitted_at)
        if (row.last_good_day, row.last_good_basis) != (day, basis):
            act.change(row, last_good_day=day, last_good_basis=basis)
            changed += 1
    return changed


def rebuild_lives(workplace: Workplace) -> list[LifeDifference]:
    """Every open fitting whose kept last good day or forecast differs from a new calculation; empty where all agree."""
    with workplace.database.reading() as connection:
        book = calendar_book(connection)
        kept = read_kept_lives(connection)
        found = [
            LifeDifference(fitting.fitting_id, part.label, kept[fitting.fitting_id], calculated)
            for fitting, part in read_fitted(connection)
            if (calculated := book.of(part, fitting.fitted_at)) != kept[fitting.fitting_id]
        ]
        foretold = read_kept_forecasts(connection)
        for fitting, part, (day, measure) in calculate_forecasts(connection):
            before = foretold.pop(fitting.fitting_id, (None, None))
            if before != (day, measure):
                found.append(_of_forecast(fitting.fitting_id, part.label, before, (day, measure)))
        found += [
            _of_forecast(key, say("a cell never calibrated"), each, (None, None)) for key, each in foretold.items()
        ]
        return found


def keep_anew(workplace: Workplace) -> Workplace:
    """The same workplace; where its tables were upgraded, with last valid days and forecasts calculated again.

    An older program kept no forecast, or kept days by an older rule: without this a cell would pass on its age alone
    until its next calibration. The program itself does it, since nobody can sign in or mend a clock before it is done.
    """
    if workplace.database.upgraded:
        with workplace.database.read_session() as session:
            last = last_entry(session).at
        store_calculated(Workplace(workplace.database, lambda: no_doubt(workplace.clock(), last)))
        calculated(workplace.database)
    return workplace


def brought_up(where: str, clock: Callable[[], datetime], *, backup: bool) -> tuple[bool, str]:
    """Whether an older database was brought up, and what it did not keep calculated; and what `open_database` told."""
    with closing(open_database(where, create=False, backup=backup)) as database:
        was_older = database.upgraded
        keep_anew(Workplace(database, clock))
        return was_older, database.told


def store_calculated(workplace: Workplace) -> int:
    """How many stored last valid days and forecasts differed and now are as calculated, noted in one act."""
    found = rebuild_lives(workplace)
    if found:
        with workplace.transaction("calculate again", f"{len(found)} fittings") as act:
            refresh_lives(act, {part.part_id for _, part in read_fitted(act.session.connection())})
            refresh_forecasts(act)
    return len(found)


def correct_clock(workplace: Workplace, *, pin: str = "") -> int:
    """Confirm that this computer's clock is right; how many records dated after it were given an earlier time.

    Each gets the earliest time that it can have been made at, in the order of recording; its entry stays as it is.
    pin: of the manager who confirms it, where they have one; without, a centre whose clock is wrong from the first day
    could set none. Raises Refused for anyone but a manager.
    """
    manager, zone = require_person(workplace), workplace.zone()
    with workplace.transaction("correct clock", "clock") as act:
        person = act.get(Person, manager, "manager")
        if person.pin_digest:
            check_pin(person, pin)
        moved = move_back_what_lies_ahead(act, zone)
        if moved:
            act.session.flush()
            refresh_lives(act, {part.part_id for _, part in read_fitted(act.session.connection())})
            refresh_forecasts(act)
        return moved


def _of_forecast(fitting_id: int, part: str, kept: Kept, follows: Kept) -> LifeDifference:
    told = [
        (day, say("forecast of {measure}", measure=say(measure)) if measure else say("no forecast"))
        for day, measure in (kept, follows)
    ]
    return LifeDifference(fitting_id, part, *told)
