"""Stock by part type, and the cylinders."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.parts.condition import Condition
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.records.canisters.reads import ContainerRecord, read_containers, read_ratings
from fleetbench.records.gas.reads import read_cylinders
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import (
    PartRecord,
    PartTypeRecord,
    count_fitted,
    read_fitted,
    read_once_fitted,
    read_part_types,
    read_parts,
    read_slots,
)
from fleetbench.records.places.reads import read_limits
from fleetbench.records.units.reads import read_unit_tags
from fleetbench.workshop.canisters.containers import hours_by_grade, usable_until
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Shop, day_of
from fleetbench.workshop.parts.conditions import read_condition_book, root_unit
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.list import life_word
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


@dataclass(frozen=True, slots=True)
class CylinderRow:
    """One cylinder: where it is, what was filled into it last and what an analyser said since."""

    part_id: int
    serial: str
    role: str
    size_l: float
    working_bar: float
    material: str | None
    marking: str | None
    unit: str | None
    slot: str | None
    place: str | None
    filled_at: datetime | None
    end_bar: float | None
    oxygen_asked: float | None
    helium_asked: float | None
    oxygen_percent: float | None
    helium_percent: float | None
    analysed_at: datetime | None
    analysis: str
    last_good_day: date | None
    basis: str | None
    life_state: str


@known_once
def list_stock(shop: Shop) -> tuple[StockRow, ...]:
    """Every part type with what lies in stock of it; absorbent in kilograms by container."""
    day = day_of(shop)
    with shop.database.reading() as connection:
        types = read_part_types(connection)
        parts = read_parts(connection, states=("stock", "quarantine"))
        book = book_of(read_life_records(connection), day)
        once, fitted = read_once_fitted(connection), count_fitted(connection)
        conditions = read_condition_book(connection, book, types)
        containers, limits = read_containers(connection), read_limits(connection)
        grades = {row.part_type_id: row.grade for row in read_ratings(connection)}
    hours, reserved = hours_by_grade(limits, grades), defaultdict[int, list[str]](list)
    for each in list_reservations(shop):
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


@known_once
def list_cylinders(shop: Shop) -> tuple[CylinderRow, ...]:
    """Every cylinder that is not scrapped, by unit, slot and serial."""
    day = day_of(shop)
    with shop.database.reading() as connection:
        cylinders = read_cylinders(connection)
        parts = {each.part_id: each for each in read_parts(connection, states=("stock", "fitted", "quarantine"))}
        book = book_of(read_life_records(connection), day)
        sits = {fitting.part_id: fitting for fitting, _ in read_fitted(connection)}
        slots, tags = read_slots(connection), read_unit_tags(connection)
    rows = []
    for each in cylinders:
        part, fitting = parts.get(each.part_id), sits.get(each.part_id)
        if part is None:
            continue
        unit_id = root_unit(fitting, sits)
        life = book.governing(part, fitting.fitted_at if fitting else None, unit_id)
        rows.append(
            CylinderRow(
                part_id=each.part_id,
                serial=part.label,
                role=each.role,
                size_l=each.size_l,
                working_bar=each.working_bar,
                material=each.material,
                marking=each.marking,
                unit=tags.get(unit_id) if unit_id is not None else None,
                slot=slots[fitting.slot_id].name if fitting else None,
                place=each.place,
                filled_at=each.filled_at,
                end_bar=each.end_bar,
                oxygen_asked=each.oxygen_asked,
                helium_asked=each.helium_asked,
                oxygen_percent=None if each.stale else each.oxygen_percent,
                helium_percent=None if each.stale else each.helium_percent,
                analysed_at=each.analysed_at,
                analysis="not analysed since the fill" if each.stale else "analysed",
                last_good_day=life.day,
                basis=str(life.first.basis) if life.first else None,
                life_state=life_word(life, day.today, limited=part.part_type_id in book.limits),
            )
        )
    return tuple(sorted(rows, key=lambda row: (row.unit is None, row.unit or "", row.slot or "", row.serial)))


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
