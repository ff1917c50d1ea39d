"""Calendar limits of fitted parts: the last good day kept on a fitting, and a reckoning anew to compare it with.

calendar_last_good(limits, facts) -> (day, basis)      the one rule for what stands on a fitting
refresh_lives(act, part_ids)                           after a test, an opening or a changed limit, in the same act
rebuild_lives(shop) -> list[LifeDifference]            what is kept and is not what the records say, forecasts too
keep_anew(shop) -> Shop                                the shop, what an older program did not keep reckoned once
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetbench.calc.parts.life import LifeFacts, LifeLimit, MarkedDate, governing, last_good_days
from fleetbench.records.core.act import Act
from fleetbench.records.parts.kept_lives import read_kept_forecasts, read_kept_lives
from fleetbench.records.parts.reads import PartRecord, read_first_fitted, read_fitted, read_lives, read_part_tests
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.table_facts import Connection
from fleetbench.workshop.cells.cell_forecasts import reckon_forecasts, refresh_forecasts
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.life_book import USE_BASES, last_passed, limits_by_type, marked

Kept = tuple[date | None, str | None]
"""Last good day and basis as they stand on a fitting."""


@dataclass(frozen=True, slots=True)
class LifeDifference:
    """A fitting whose kept last good day is not what the records give."""

    fitting_id: int
    part: str
    kept: Kept
    reckoned: Kept

    def __str__(self) -> str:
        """The difference in one line."""
        kept, reckoned = (f"{day or 'none'} ({basis or 'no limit'})" for day, basis in (self.kept, self.reckoned))
        return f"fitting {self.fitting_id} of {self.part}: {kept} is kept, {reckoned} follows from the records"


@dataclass(frozen=True, slots=True)
class CalendarBook:
    """Limits by part type, tests by part and the site's zone: enough to reckon any fitted part's calendar limits."""

    limits: Mapping[int, tuple[LifeLimit, ...]]
    tests: Mapping[int, Mapping[str, MarkedDate]]
    zone: ZoneInfo
    first_fitted: Mapping[int, datetime]

    def of(self, part: PartRecord, fitted_at: datetime) -> Kept:
        """Last good day and basis of a part fitted at that moment; a life from fitting runs from its first one."""
        first = min(fitted_at, self.first_fitted.get(part.part_id, fitted_at))
        fitted = first.astimezone(self.zone).date()
        facts = LifeFacts(
            made=marked(part.made_on, part.made_precision),
            opened=marked(part.opened_on, part.opened_precision),
            received=marked(part.received_on, "day"),
            fitted=fitted,
            fixed_date=marked(part.fixed_on, part.fixed_precision),
            last_tests=self.tests.get(part.part_id, {}),
        )
        return calendar_last_good(self.limits.get(part.part_type_id, ()), facts)


def calendar_last_good(limits: Iterable[LifeLimit], facts: LifeFacts) -> Kept:
    """The earliest dated calendar limit of a fitted part and its basis; (None, None) where none can be dated.

    Limits of use move with today and with bookings and are left out; what is unknown is told where lives are read.
    """
    calendar = [limit for limit in limits if limit.basis not in USE_BASES]
    if facts.fitted is None:
        raise ValueError("fitted: only a fitted part has a last good day to keep; give its first day there")
    first = governing(last_good_days(calendar, facts, facts.fitted)).first
    return (first.day, first.basis.value) if first is not None else (None, None)


def calendar_book(connection: Connection) -> CalendarBook:
    """What calendar limits hang on, as it is recorded now; four statements."""
    zone = ZoneInfo(centre_timezone(connection) or "UTC")
    limits, tests = limits_by_type(read_lives(connection)), last_passed(read_part_tests(connection))
    return CalendarBook(limits, tests, zone, read_first_fitted(connection))


def refresh_lives(act: Act, part_ids: Iterable[int]) -> int:
    """How many open fittings of these parts got another last good day, noted in the act."""
    wanted = set(part_ids)
    connection = act.session.connection()
    book = calendar_book(connection)
    changed = 0
    for fitting, part in read_fitted(connection):
        if part.part_id not in wanted:
            continue
        row = act.get(Fitting, fitting.fitting_id, "fitting")
        day, basis = book.of(part, fitting.fitted_at)
        if (row.last_good_day, row.last_good_basis) != (day, basis):
            act.change(row, last_good_day=day, last_good_basis=basis)
            changed += 1
    return changed


def rebuild_lives(shop: Shop) -> list[LifeDifference]:
    """Every open fitting whose kept last good day or forecast differs from a new reckoning; empty where all agree."""
    with shop.database.reading() as connection:
        book = calendar_book(connection)
        kept = read_kept_lives(connection)
        found = [
            LifeDifference(fitting.fitting_id, part.label, kept[fitting.fitting_id], reckoned)
            for fitting, part in read_fitted(connection)
            if (reckoned := book.of(part, fitting.fitted_at)) != kept[fitting.fitting_id]
        ]
        foretold = read_kept_forecasts(connection)
        for fitting, part, (day, measure) in reckon_forecasts(connection):
            before = foretold.pop(fitting.fitting_id, (None, None))
            if before != (day, measure):
                found.append(_of_forecast(fitting.fitting_id, part.label, before, (day, measure)))
        found += [_of_forecast(key, "a cell never calibrated", each, (None, None)) for key, each in foretold.items()]
        return found


def keep_anew(shop: Shop) -> Shop:
    """The same shop; where its tables were just upgraded, with last good days and forecasts reckoned and kept anew.

    An older program kept no forecast, or kept days by an older rule: without this a cell would pass on its age alone
    until its next calibration.
    """
    if shop.database.upgraded and (found := rebuild_lives(shop)):
        with shop.as_person(None).acting("keep anew", f"{len(found)} fittings") as act:
            refresh_lives(act, {part.part_id for _, part in read_fitted(act.session.connection())})
            refresh_forecasts(act)
    return shop


def _of_forecast(fitting_id: int, part: str, kept: Kept, reckoned: Kept) -> LifeDifference:
    told = [(day, f"forecast of {measure}" if measure else "no forecast") for day, measure in (kept, reckoned)]
    return LifeDifference(fitting_id, part, *told)
