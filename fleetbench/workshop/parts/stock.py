"""Stock by part type."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.parts.condition import Condition
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.records.canisters.reads import ContainerRecord, read_containers, read_ratings
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import (
    PartRecord,
    PartTypeRecord,
    count_fitted,
    read_once_fitted,
    read_part_types,
    read_parts,
)
from fleetbench.records.places.reads import read_limits
from fleetbench.workshop.canisters.containers import hours_by_grade, usable_until
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.parts.conditions import read_condition_book
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.lives import LifeBook, book_of

EXPIRING_DAYS = 90
"""An end of life on the shelf this near counts as expiring; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class StockRow:
    """One part type: pieces (or kilograms) on hand, usable today, ending within 90 days, and fitted.

    usable: in stock, neither rejected nor on hold, and inside every limit that is known to bind it on the shelf.
    unknown: of an unknown life, or left undecided when measured. quarantine: set aside, rejected or on hold.
    reserved: pieces that open tickets will take, reserved_for: for what, a line each.
    """

    part_type_id: int
    code: str
    part_type: str
    kind: str
    stocked_in: str
    on_hand: float
    usable: float
    expiring: float
    expired: float
    unknown: float
    quarantine: float
    fitted: int
    lead_days: int | None
    pack_size: float | None
    price: float | None
    first_to_expire: date | None
    reserved: int = 0
    reserved_for: tuple[str, ...] = ()

    @property
    def free(self) -> float:
        """Usable and not reserved; under nought by what is short."""
        return self.usable - self.reserved


@known_once
def list_stock(workplace: Workplace) -> tuple[StockRow, ...]:
    """Every part type with what lies in stock of it; absorbent in kilograms by container."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        types = read_part_types(connection)
        parts = read_parts(connection, states=("stock", "quarantine"))
        book = book_of(read_life_records(connection), day)
        once, fitted = read_once_fitted(connection), count_fitted(connection)
        conditions = read_condition_book(connection, book, types)
        containers, limits = read_containers(connection), read_limits(connection)
        grades = {row.part_type_id: row.grade for row in read_ratings(connection)}
    hours, reserved = hours_by_grade(limits, grades), defaultdict[int, list[str]](list)
    for each in list_reservations(workplace):
        reserved[each.part_type_id].append(each.words)
    tallies: dict[int, _Tally] = defaultdict(lambda: _Tally(day.today))
    for part in parts:
        life = _shelf_life(book, part, part.part_id in once)
        tallies[part.part_type_id].add_part(life, conditions.of(part, None, life).state)
    for container in containers:
        until = usable_until(container, hours.get(container.grade or ""), day)
        tallies[container.part_type_id].add_container(container, until)
    rows = (_row(kind, tallies[key], fitted.get(key, 0), tuple(reserved[key])) for key, kind in types.items())
    return tuple(sorted(rows, key=lambda row: (row.kind, row.part_type)))


def _shelf_life(book: LifeBook, part: PartRecord, ever_fitted: bool) -> Governing:
    return governing(book.last_good_days(part, ever_fitted=ever_fitted))


@dataclass(slots=True)
class _Tally:
    """What lies on the shelf of one part type, counted against today."""

    today: date
    on_hand: float = 0.0
    usable: float = 0.0
    expiring: float = 0.0
    expired: float = 0.0
    unknown: float = 0.0
    quarantine: float = 0.0
    first: date | None = None

    def add_part(self, life: Governing, found: Condition) -> None:
        if found.gravity >= Condition.SET_ASIDE.gravity:
            self.quarantine += 1
            return
        self._add(1.0, life.day, bool(life.unknown) or found is Condition.UNDECIDED)

    def add_container(self, container: ContainerRecord, until: date | None) -> None:
        self._add(container.left_kg, until, until is None)

    def _add(self, amount: float, last: date | None, unknown: bool) -> None:
        self.on_hand += amount
        if last is not None and last < self.today:
            self.expired += amount
            return
        if unknown:
            self.unknown += amount
            return
        self.usable += amount
        if last is not None:
            self.first = last if self.first is None else min(self.first, last)
            if last <= self.today + timedelta(days=EXPIRING_DAYS):
                self.expiring += amount


def _row(kind: PartTypeRecord, tally: _Tally, fitted: int, reserved_for: tuple[str, ...]) -> StockRow:
    return StockRow(
        part_type_id=kind.part_type_id,
        code=kind.code,
        part_type=kind.name,
        kind=kind.kind,
        stocked_in=kind.stocked_in,
        on_hand=tally.on_hand,
        usable=tally.usable,
        expiring=tally.expiring,
        expired=tally.expired,
        unknown=tally.unknown,
        quarantine=tally.quarantine,
        fitted=fitted,
        lead_days=kind.lead_days,
        pack_size=kind.pack_size,
        price=kind.price,
        first_to_expire=tally.first,
        reserved=len(reserved_for),
        reserved_for=reserved_for,
    )
