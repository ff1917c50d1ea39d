"""Every limit of life of a part, reckoned from the records for one day."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.calc.life import (
    Governing,
    LastGoodDay,
    LifeFacts,
    LifeLimit,
    LimitBasis,
    LimitUnit,
    MarkedDate,
    Pace,
    Precision,
    governing,
    last_good_days,
)
from fleetbench.records.read_parts import LifeRecord, PartRecord, PartTestRecord
from fleetbench.workshop.centre import Day
from fleetbench.workshop.use import UseBook

ALSO_COUNTS = {"visual": ("hydrostatic",)}
"""A hydrostatic test includes the internal visual; common practice, no published source."""

USE_BASES = frozenset((LimitBasis.HOURS, LimitBasis.DIVES, LimitBasis.HIRES))
DUE_SOON_DAYS = 14
"""An end of life this near is `due soon`; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class LifeBook:
    """What is needed to reckon any part's life: limits by part type, last tests by part, and use."""

    day: Day
    limits: Mapping[int, tuple[LifeLimit, ...]]
    tests: Mapping[int, Mapping[str, MarkedDate]]
    use: UseBook

    def last_good_days(
        self,
        part: PartRecord,
        fitted_at: datetime | None = None,
        unit_id: int | None = None,
        *,
        ever_fitted: bool = False,
    ) -> tuple[LastGoodDay, ...]:
        """One last good day for each limit of the part; fitted_at None for a part in no slot.

        ever_fitted: it sat somewhere before, so it cannot be sealed and an opening date that is missing is not known.
        """
        limits = self.limits.get(part.part_type_id, ())
        if not limits:
            return ()
        counts_use = any(limit.basis in USE_BASES for limit in limits)
        sealed = fitted_at is None and part.opened_on is None and not ever_fitted
        facts = self._facts(part, fitted_at, unit_id, counts_use, sealed)
        return last_good_days(limits, facts, self.day.today)

    def governing(
        self, part: PartRecord, fitted_at: datetime | None = None, unit_id: int | None = None
    ) -> Governing:
        """The limit that ends first, and those that cannot be dated."""
        return governing(self.last_good_days(part, fitted_at, unit_id))

    def _facts(
        self, part: PartRecord, fitted_at: datetime | None, unit_id: int | None, counts_use: bool, sealed: bool
    ) -> LifeFacts:
        use = self.use.of_part(part.part_id) if counts_use else None
        pace: Mapping[LimitUnit, Pace] = self.use.pace(unit_id) if counts_use and fitted_at is not None else {}
        return LifeFacts(
            made=marked(part.made_on, part.made_precision),
            opened=marked(part.opened_on, part.opened_precision),
            received=marked(part.received_on, "day"),
            fitted=self.day.of(fitted_at) if fitted_at is not None else None,
            in_store=fitted_at is None,
            sealed=sealed,
            fixed_date=marked(part.fixed_on, part.fixed_precision),
            last_tests=self.tests.get(part.part_id, {}),
            hours_used=use.hours if use else None,
            dives_used=float(use.dives) if use else None,
            hires_used=float(use.hires) if use else None,
            pace=pace,
        )


def marked(day: date | None, precision: str) -> MarkedDate | None:
    """The date with the precision that is marked, None where there is none."""
    return MarkedDate(day, Precision(precision)) if day is not None else None


def limits_by_type(records: Iterable[LifeRecord]) -> dict[int, tuple[LifeLimit, ...]]:
    """The limits of each part type, in the order entered."""
    listed: dict[int, list[LifeLimit]] = defaultdict(list)
    for each in records:
        listed[each.part_type_id].append(life_limit(each))
    return {part_type_id: tuple(limits) for part_type_id, limits in listed.items()}


def life_limit(record: LifeRecord) -> LifeLimit:
    """One recorded limit in the form that is reckoned with."""
    basis = LimitBasis(record.basis)
    test = (record.test or "") if basis is LimitBasis.TEST_INTERVAL else ""
    return LifeLimit(basis, record.amount, LimitUnit(record.unit), record.source, test, ALSO_COUNTS.get(test, ()))


def last_passed(records: Iterable[PartTestRecord]) -> dict[int, dict[str, MarkedDate]]:
    """The date of the last test of each kind by part; a last test that failed leaves none, since it never passes."""
    found: dict[int, dict[str, MarkedDate]] = defaultdict(dict)
    for each in records:
        if each.passed:
            found[each.part_id][each.kind] = MarkedDate(each.done_on, Precision(each.precision))
        else:
            found[each.part_id].pop(each.kind, None)
    return dict(found)


def item_of(limit: LifeLimit) -> str:
    """What is to be done when the limit ends: the test it asks for, or `replace`."""
    if limit.basis is not LimitBasis.TEST_INTERVAL:
        return "replace"
    named = limit.test_kind in ("service", "oxygen clean", "calibration")
    return limit.test_kind if named else f"{limit.test_kind} test"
