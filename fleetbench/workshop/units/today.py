"""The day at a glance, each line with its next act and the record on which it is done."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.hires.reads import WantingRecord, read_wanting
from fleetbench.records.units.reads import PromiseRecord
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.due.list import DueItem, list_due
from fleetbench.workshop.readiness.ready import Question, Readiness
from fleetbench.workshop.units.fleet import Fleet, whole_fleet
from fleetbench.workshop.units.list import Fit, UnitRow, Where, question_today, unit_row

WEEK = 7

Act = tuple[str, tuple[str, str]]
"""What is to be done, and what kind of record it is done on with its key."""


@dataclass(frozen=True, slots=True)
class GoingLine:
    """A unit that goes out or comes back; days_late above 0 for one that should be back.

    next_act: what is to be done, in words. act_on: what kind of record that is done on, and its key.
    """

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
    next_act: str
    act_on: tuple[str, str]


@dataclass(frozen=True, slots=True)
class BenchLine:
    """A unit that is here and asks for hands, with its next act."""

    row: UnitRow
    next_act: str
    act_on: tuple[str, str]


@dataclass(frozen=True, slots=True)
class ChooseLine:
    """A booking that begins within the week and lacks units; waiting: on the waiting line."""

    booking: str
    kind: str
    who: str | None
    starts_on: date
    ends_on: date
    lacking: int
    waiting: bool


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
    to_choose: tuple[ChooseLine, ...]
    not_inspected: tuple[BenchLine, ...]
    on_bench: tuple[BenchLine, ...]
    blocked: tuple[GoingLine, ...]
    runs_out: tuple[DueItem, ...]


def today_page(shop: Shop) -> TodayPage:
    """Today and the seven days from it; each unit stands in every group that concerns it."""
    fleet = whole_fleet(shop)
    with shop.database.reading() as connection:
        wanting = read_wanting(connection, fleet.day.today)
    return _Morning(fleet).page(list_due(shop, WEEK), wanting)


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

    def page(self, due: tuple[DueItem, ...], wanting: Iterable[WantingRecord]) -> TodayPage:
        out = [each for each in self._promises() if each.out_at is not None]
        coming = [each for each in self._promises() if each.out_at is None and each.ends_on >= self.today]
        return TodayPage(
            on=self.today,
            ring_the_renter=self._lines((each for each in out if self.rows[each.unit_id].fit is Fit.HOLD), self._ring),
            out_today=self._lines((each for each in coming if each.starts_on <= self.today), self._hand_over),
            out_this_week=self._lines(
                (each for each in coming if self.today < each.starts_on <= self.week), self._hand_over
            ),
            back_today=self._lines((each for each in out if each.ends_on == self.today), self._receive),
            back_this_week=self._lines((each for each in out if self.today < each.ends_on <= self.week), self._receive),
            late=self._lines((each for each in out if each.ends_on < self.today), self._ring_late),
            to_choose=tuple(self._choose(each) for each in wanting if each.starts_on <= self.week),
            not_inspected=self._where(Where.RECEIVED),
            on_bench=self._where(Where.BENCH),
            blocked=self._blocked(coming),
            runs_out=tuple(each for each in due if each.last_good_day is not None),
        )

    def _promises(self) -> tuple[PromiseRecord, ...]:
        return self.fleet.records.promises

    def _where(self, where: Where) -> tuple[BenchLine, ...]:
        return tuple(self._bench(row) for row in self.rows.values() if row.where is where)

    def _bench(self, row: UnitRow) -> BenchLine:
        if row.where is Where.RECEIVED:
            return BenchLine(row, "turn it round", ("turn-round", row.tag))
        card = self.readiness.turn_side.open_card(row.unit_id)
        if card is not None:
            act = f"go on with its turn-round, {card.settled} of {card.lines} done"
            return BenchLine(row, act, ("turn-round", row.tag))
        if row.open_tickets:
            return BenchLine(row, f"go on with ticket {row.open_tickets[0]}", ("ticket", row.open_tickets[0]))
        return BenchLine(row, self._first_remedy(row.unit_id) or "put it on its shelf", ("unit", row.tag))

    def _first_remedy(self, unit_id: int) -> str:
        """What clears the first stop of a unit, empty where nothing stops it."""
        unit = self.units[unit_id]
        answer = self.readiness.assess(unit, question_today(self.fleet, self.readiness, unit))
        return next((each.remedy.split(";")[0] for each in answer.stops if each.remedy), "")

    def _choose(self, booking: WantingRecord) -> ChooseLine:
        who = booking.renter_id if booking.renter_id is not None else booking.instructor_id
        return ChooseLine(
            booking.code, booking.kind, self.fleet.name(who), booking.starts_on, booking.ends_on, booking.lacking,
            booking.waiting_since is not None,
        )  # fmt: skip

    def _who(self, promise: PromiseRecord) -> str:
        diver = promise.renter_id if promise.renter_id is not None else promise.diver_id
        return self.fleet.name(diver if diver is not None else promise.instructor_id) or "the renter"

    def _ring(self, promise: PromiseRecord) -> Act:
        return f"ring {self._who(promise)}: it must not be dived", ("booking", promise.code)

    def _ring_late(self, promise: PromiseRecord) -> Act:
        return f"ring {self._who(promise)}: it should be back", ("booking", promise.code)

    def _receive(self, promise: PromiseRecord) -> Act:
        words = "receive it" if promise.ends_on <= self.today else f"receive it on {promise.ends_on}"
        return words, ("booking", promise.code)

    def _hand_over(self, promise: PromiseRecord) -> Act:
        row = self.rows[promise.unit_id]
        if row.where is Where.OUT:
            return "receive it first", ("booking", promise.code)
        if row.fit is Fit.HOLD:
            return self._first_remedy(promise.unit_id) or "clear what stops it", ("unit", row.tag)
        words = "hand it over" if promise.starts_on <= self.today else f"hand it over on {promise.starts_on}"
        return words, ("booking", promise.code)

    def _lines(
        self, promises: Iterable[PromiseRecord], next_act: Callable[[PromiseRecord], Act]
    ) -> tuple[GoingLine, ...]:
        found = ((each, self.rows[each.unit_id]) for each in promises)
        return tuple(self._line(each, row.fit, row.reasons, next_act(each)) for each, row in found)

    def _line(self, promise: PromiseRecord, fit: Fit, reasons: tuple[str, ...], act: Act) -> GoingLine:
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
            next_act=act[0],
            act_on=act[1],
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
                remedy = next((check.remedy.split(";")[0] for check in answer.stops if check.remedy), "")
                act = remedy or "clear what stops it", ("unit", self.rows[each.unit_id].tag)
                lines.append(self._line(each, Fit.HOLD, reasons, act))
        return tuple(lines)
