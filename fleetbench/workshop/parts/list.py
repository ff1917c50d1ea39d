"""Parts where they sit, with the limit of life that governs each."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fleetbench.calc.core.languages import say, say_ref, strung
from fleetbench.calc.parts.condition import PartCondition
from fleetbench.calc.parts.life import Governing, LastGoodDay, governing
from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import (
    FittingRecord,
    PartPlaceRecord,
    PartRecord,
    PartTestRecord,
    PartTypeRecord,
    SlotRecord,
    read_fitted,
    read_fittings_of,
    read_once_fitted,
    read_part_place,
    read_part_types,
    read_parts,
    read_slots,
)
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.units.reads import read_holds, read_unit_tags
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.parts.conditions import read_condition_book, root_unit
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS, book_of, marked
from fleetbench.workshop.units.fleet import Fleet, Seat


class LifeWord(StrEnum):
    """How a part stands against its limits of life."""

    GOOD = "good"
    DUE_SOON = "due soon"
    PAST = "past"
    UNKNOWN = "unknown"
    NO_LIMIT = "no limit recorded"
    EMPTY = "empty"


@dataclass(frozen=True, slots=True)
class FittedPart:
    """One slot of a unit with what sits in it, in tree order; `depth` 0 is the unit's own slot.

    part_id, part, condition: None where the slot is empty. part: serial, or lot, or the record's number.
    basis: the word of the limit that governs (fleetbench.calc.parts.life.LimitBasis). why: the calculation in words.
    """

    depth: int
    slot_id: int
    slot: str
    slot_kind: str
    critical: bool
    flow_place: int | None
    oxygen_side: bool
    part_id: int | None
    part: str | None
    part_type: str | None
    lot: str | None
    firmware: str | None
    host: str | None
    fitted_on: date | None
    last_good_day: date | None
    projected: bool
    basis: str | None
    why: str
    state: LifeWord
    condition: PartCondition | None = None


@dataclass(frozen=True, slots=True)
class FittingLine:
    """A part sat in a slot from one moment to another."""

    unit: str | None
    host: str | None
    slot: str
    fitted_at: datetime
    removed_at: datetime | None
    why_removed: str | None
    ticket: str | None
    removal_ticket: str | None


@dataclass(frozen=True, slots=True)
class PartPage:
    """One part with every limit of life, where it has been, its tests and its holds, and its condition."""

    part: PartRecord
    kind: PartTypeRecord
    lies: PartPlaceRecord
    unit: str | None
    slot: str | None
    made: str | None
    opened: str | None
    hours: float
    dives: int
    hires: int
    last_good_day: date | None
    basis: str | None
    limits: tuple[LastGoodDay, ...]
    fittings: tuple[FittingLine, ...]
    tests: tuple[PartTestRecord, ...]
    holds: tuple[str, ...]
    units_touched: tuple[str, ...]
    condition: PartCondition


def life_word(life: Governing, today: date, *, limited: bool) -> LifeWord:
    """How a life stands today; a limit that cannot be dated is unknown unless another one is past already."""
    left = (life.day - today).days if life.day is not None else None
    if left is not None and left < 0:
        return LifeWord.PAST
    if life.unknown:
        return LifeWord.UNKNOWN
    if not limited:
        return LifeWord.NO_LIMIT
    return LifeWord.DUE_SOON if left is not None and left <= DUE_SOON_DAYS else LifeWord.GOOD


def fitted_part(fleet: Fleet, seat: Seat, unit_id: int) -> FittedPart:
    """One slot with what sits in it and the limit that governs."""
    part, fitting, life = seat.part, seat.fitting, fleet.life(seat, unit_id)
    told = life.first or (life.unknown[0] if life.unknown else None)
    limited = part is not None and part.part_type_id in fleet.book.limits
    return FittedPart(
        depth=seat.depth,
        slot_id=seat.slot.slot_id,
        slot=seat.slot.name,
        slot_kind=seat.slot.kind,
        critical=seat.slot.critical,
        flow_place=seat.slot.flow_place,
        oxygen_side=seat.slot.oxygen_side,
        part_id=part.part_id if part else None,
        part=part.label if part else None,
        part_type=fleet.catalogue.part_types[part.part_type_id].name if part else None,
        lot=part.lot if part else None,
        firmware=part.firmware if part else None,
        host=seat.host.label if seat.host else None,
        fitted_on=fleet.day.of(fitting.fitted_at) if fitting else None,
        last_good_day=life.day,
        projected=life.first.projected if life.first else False,
        basis=str(told.basis) if told else None,
        why=why_words(life) if part else say("nothing fitted"),
        state=life_word(life, fleet.day.today, limited=limited) if part else LifeWord.EMPTY,
        condition=fleet.conditions.of(part, fitting, life) if part else None,
    )


def why_words(life: Governing) -> str:
    """The calculation of the limit that governs, and what is not known beside it."""
    told = ([life.first.why] if life.first else []) + [each.why for each in life.unknown]
    return strung("; ", told)


def part_page(workplace: Workplace, part_id: int) -> PartPage:
    """One part with its limits, fittings, tests and holds; NotFound for an unknown key."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_parts(connection, part_id=part_id)
        place = read_part_place(connection, part_id)
        if not found or place is None:
            raise NotFound(say("part {part_id}: not recorded; look it up with find", part_id=part_id))
        part = found[0]
        kinds, slots = read_part_types(connection), read_slots(connection)
        lives, own = read_life_records(connection, (part_id,)), read_fittings_of(connection, (part_id,))
        fitted, tags = read_fitted(connection), read_unit_tags(connection)
        holds = read_holds(connection)
        numbers = read_ticket_numbers(connection)
        book, once = book_of(lives, day, own), read_once_fitted(connection, (part_id,))
        conditions = read_condition_book(connection, book, kinds, (part_id,), fitted)
    now = next((each for each in own if each.removed_at is None), None)
    use = book.use
    sits = {each.part_id: each for each, _ in fitted}
    unit_id = root_unit(now, sits)
    labels = {each.part_id: each.label for _, each in fitted}
    days = book.last_good_days(part, now.fitted_at if now else None, unit_id, ever_fitted=part_id in once)
    life = governing(days)
    used = use.of_part(part_id)
    return PartPage(
        part=part,
        kind=kinds[part.part_type_id],
        lies=place,
        unit=tags.get(unit_id) if unit_id is not None else None,
        slot=slots[now.slot_id].name if now else None,
        made=marked_words(part.made_on, part.made_precision),
        opened=marked_words(part.opened_on, part.opened_precision),
        hours=used.hours,
        dives=used.dives,
        hires=used.hires,
        last_good_day=life.day,
        basis=str(life.first.basis) if life.first else None,
        limits=days,
        fittings=tuple(fitting_line(each, slots, tags, labels, numbers) for each in reversed(own)),
        tests=tuple(reversed(lives.tests)),
        holds=tuple(each.reason for each in holds if each.part_id == part_id),
        units_touched=tuple(sorted({tags[each] for each in use.units_of(part_id)})),
        condition=conditions.of(part, now, life),
    )


def fitting_line(
    fitting: FittingRecord,
    slots: dict[int, SlotRecord],
    tags: dict[int, str],
    labels: dict[int, str],
    numbers: dict[int, str],
) -> FittingLine:
    """One fitting in words."""
    return FittingLine(
        tags.get(fitting.unit_id) if fitting.unit_id is not None else None,
        host=labels.get(fitting.host_part_id, say_ref("part {ref}", fitting.host_part_id))
        if fitting.host_part_id
        else None,
        slot=slots[fitting.slot_id].name,
        fitted_at=fitting.fitted_at,
        removed_at=fitting.removed_at,
        why_removed=fitting.why_removed,
        ticket=numbers.get(fitting.ticket_id) if fitting.ticket_id is not None else None,
        removal_ticket=numbers.get(fitting.removal_ticket_id) if fitting.removal_ticket_id is not None else None,
    )


def marked_words(day: date | None, precision: str) -> str | None:
    """A marked date as it is marked, None where there is none."""
    mark = marked(day, precision)
    return str(mark) if mark is not None else None
