"""The day at a glance."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.readiness import HandoverKind
from fleetbench.records.read_use import PromiseRecord
from fleetbench.workshop.due import DueItem, list_due
from fleetbench.workshop.fleet import Fleet, whole_fleet
from fleetbench.workshop.ready import Question, Readiness
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.units import Fit, UnitRow, Where, unit_row

WEEK = 7


@dataclass(frozen=True, slots=True)
class GoingLine:
    """A unit that goes out or comes back; days_late above 0 for one that should be back."""

    unit: str
    booking: str
    kind: str
    diver: str | None
    starts_on: date
    ends_on: date
    hand_over: str | None
    where: Where
    fit: Fit
    reasons: tuple[str, ...]
    days_late: int


@dataclass(frozen=True, slots=True)
class TodayPage:
    """What goes out, comes back, is late, lies on the bench, blocks the next booking and runs out this week.

    ring_the_renter: units that are out and on hold; they come first.
    """

    on: date
    ring_the_renter: tuple[GoingLine, ...]
    out_today: tuple[GoingLine, ...]
    out_this_week: tuple[GoingLine, ...]
    back_today: tuple[GoingLine, ...]
    back_this_week: tuple[GoingLine, ...]
    late: tuple[GoingLine, ...]
    not_inspected: tuple[UnitRow, ...]
    on_bench: tuple[UnitRow, ...]
    blocked: tuple[GoingLine, ...]
    runs_out: tuple[DueItem, ...]


def today_page(shop: Shop) -> TodayPage:
    """Today and the seven days from it; each unit stands in every group that concerns it."""
    fleet = whole_fleet(shop)
    return _Morning(fleet).page(list_due(shop, WEEK))


class _Morning:
    """The fleet as it is this morning."""

    def __init__(self, fleet: Fleet) -> None:
        self.fleet = fleet
        self.today = fleet.day.today
        self.week = self.today + timedelta(days=WEEK)
        self.readiness = Readiness(fleet)
        rows = (unit_row(fleet, self.readiness, unit) for unit in fleet.records.units)
        self.rows = {row.unit_id: row for row in rows}
        self.units = {unit.unit_id: unit for unit in fleet.records.units}

    def page(self, due: tuple[DueItem, ...]) -> TodayPage:
        out = [each for each in self._promises() if each.out_at is not None]
        coming = [each for each in self._promises() if each.out_at is None and each.ends_on >= self.today]
        return TodayPage(
            on=self.today,
            ring_the_renter=self._lines(each for each in out if self.rows[each.unit_id].fit is Fit.HOLD),
            out_today=self._lines(each for each in coming if each.starts_on <= self.today),
            out_this_week=self._lines(each for each in coming if self.today < each.starts_on <= self.week),
            back_today=self._lines(each for each in out if each.ends_on == self.today),
            back_this_week=self._lines(each for each in out if self.today < each.ends_on <= self.week),
            late=self._lines(each for each in out if each.ends_on < self.today),
            not_inspected=self._where(Where.RECEIVED),
            on_bench=self._where(Where.BENCH),
            blocked=self._blocked(coming),
            runs_out=tuple(each for each in due if each.last_good_day is not None),
        )

    def _promises(self) -> tuple[PromiseRecord, ...]:
        return self.fleet.records.promises

    def _where(self, where: Where) -> tuple[UnitRow, ...]:
        return tuple(row for row in self.rows.values() if row.where is where)

    def _lines(self, promises: Iterable[PromiseRecord]) -> tuple[GoingLine, ...]:
        found = ((each, self.rows[each.unit_id]) for each in promises)
        return tuple(self._line(each, row.fit, row.reasons) for each, row in found)

    def _line(self, promise: PromiseRecord, fit: Fit, reasons: tuple[str, ...]) -> GoingLine:
        row = self.rows[promise.unit_id]
        diver = promise.diver_id if promise.diver_id is not None else promise.renter_id
        late = (self.today - promise.ends_on).days if promise.out_at is not None else 0
        return GoingLine(
            unit=row.tag,
            booking=promise.code,
            kind=promise.kind,
            diver=self.fleet.name(diver),
            starts_on=promise.starts_on,
            ends_on=promise.ends_on,
            hand_over=promise.hand_over,
            where=row.where,
            fit=fit,
            reasons=reasons,
            days_late=max(0, late),
        )

    def _blocked(self, coming: Iterable[PromiseRecord]) -> tuple[GoingLine, ...]:
        """The next booking of each unit, where something stops the unit through its last day as things stand now."""
        lines, seen = [], set()
        for each in coming:
            if each.unit_id in seen:
                continue
            seen.add(each.unit_id)
            first = max(each.starts_on, self.today)
            question = Question(first, each.ends_on, HandoverKind.KIT)
            answer = self.readiness.assess(self.units[each.unit_id], question)
            if answer.verdict != "ready":
                reasons = tuple(f"{check.check}: {check.evidence}" for check in answer.stops)
                lines.append(self._line(each, Fit.HOLD, reasons))
        return tuple(lines)
