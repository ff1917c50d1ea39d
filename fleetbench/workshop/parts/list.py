"""Parts where they sit, with the limit of life that governs each; and the life of one part as it is recorded."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from enum import StrEnum

from fleetbench.calc.core.languages import say, say_ref, strung
from fleetbench.calc.parts.condition import PartCondition
from fleetbench.calc.parts.kinds import PartState, ShelfEvent
from fleetbench.calc.parts.life import Governing, LastGoodDay, governing
from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.lookups import PartEventRecord, ProofRecord, read_part_events, read_part_readings
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
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.units.reads import HoldRecord, read_holds, read_unit_tags
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
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


EVENT_WORDS: dict[str, str] = {
    ShelfEvent.RECEIVED: say("received"),
    ShelfEvent.OPENED: say("opened"),
    ShelfEvent.MOVED: say("moved"),
    ShelfEvent.QUARANTINE: say("set aside"),
    ShelfEvent.RELEASED: say("released"),
    ShelfEvent.SENT_BACK: say("sent back"),
    ShelfEvent.CAME_BACK: say("came back"),
    ShelfEvent.SCRAPPED: say("scrapped"),
    ShelfEvent.USED_UP: say("used up"),
    ShelfEvent.NOT_FOUND: say("not found when counted"),
    ShelfEvent.FOUND: say("found when counted"),
    ShelfEvent.UNDONE: say("taken back"),
}


@dataclass(frozen=True, slots=True)
class PartHappening:
    """One thing that happened. marked: only the day, month or quarter is known. result: a verdict where there is one.

    kind: `life`, `event`, `fitting`, `reading`, `test` or `hold`.
    """

    at: datetime
    kind: str
    words: str
    person: str | None = None
    result: str | None = None
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Stay:
    """A part sat in a slot. until: None while it sits there."""

    where: str
    since: datetime
    until: datetime | None
    why_removed: str | None


@dataclass(frozen=True, slots=True)
class PartStory:
    """Everything in order of time, newest first. begins: the earliest day known of it.

    can: acts that its state allows, by the name of their function. unit, slot: where it sits now, None for no unit.
    """

    part_id: int
    part: str
    state: str
    today: date
    begins: date
    last_good_day: date | None
    why: str
    stays: tuple[Stay, ...]
    lines: tuple[PartHappening, ...]
    readings: tuple[ProofRecord, ...]
    can: tuple[str, ...]
    unit: str | None = None
    slot: str | None = None


def part_story(workplace: Workplace, part_id: int) -> PartStory:
    """The life of one part; NotFound for an unknown key. A fixed number of statements."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_parts(connection, part_id=part_id)
        if not found:
            raise NotFound(say("part {part_id}: not recorded; look it up with find", part_id=part_id))
        part, names = found[0], read_names(connection)
        own, slots, tags = (
            read_fittings_of(connection, (part_id,)), read_slots(connection), read_unit_tags(connection),
        )  # fmt: skip
        fitted = read_fitted(connection)
        lives, once = read_life_records(connection, (part_id,)), read_once_fitted(connection, (part_id,))
        events, readings = read_part_events(connection, part_id), read_part_readings(connection, part_id)
        holds = [hold for hold in read_holds(connection) if hold.part_id == part_id]
        hosts = read_parts(connection, assemblies=True)
    sits = {each.part_id: each for each, _ in fitted}
    now = sits.get(part_id)
    labels = {each.part_id: each.label for each in hosts}
    stays = tuple(_stay(each, slots[each.slot_id].name, tags, labels) for each in own)
    unit_id = root_unit(now, sits)
    at = now.fitted_at if now else None
    life = governing(book_of(lives, day, own).last_good_days(part, at, unit_id, ever_fitted=part_id in once))
    lines = [
        *_marks(part, events, day), *_events(events, names), *_moves(stays, own, names), *_readings(readings, names),
        *_tests(lives.tests, day), *_holds(holds),
    ]  # fmt: skip
    lines.sort(key=lambda line: line.at, reverse=True)
    begins = min((day.of(line.at) for line in lines), default=day.today)
    return PartStory(
        part_id, part=part.label, state=part.state, today=day.today, begins=begins, last_good_day=life.day,
        why=why_words(life), stays=stays, lines=tuple(lines),
        readings=readings, can=acts_for(part, events), unit=tags.get(unit_id) if unit_id is not None else None,
        slot=slots[now.slot_id].name if now is not None else None,
    )  # fmt: skip


def acts_for(part: PartRecord, events: tuple[PartEventRecord, ...]) -> tuple[str, ...]:
    """Which acts a part's state allows; the acts themselves look again."""
    acts: list[str] = []
    if part.opened_on is None and part.state in (PartState.STOCK, PartState.QUARANTINE, PartState.FITTED):
        acts.append("open_part")
    if part.state in (PartState.STOCK, PartState.QUARANTINE, PartState.FITTED):
        acts.append("record_test")
    if part.state == PartState.STOCK:
        acts += ["move_parts", "quarantine_part"]
    if part.state == PartState.QUARANTINE:
        acts.append("release_part")
    if part.state in (PartState.STOCK, PartState.QUARANTINE):
        acts += ["send_back", "scrap_part"]
    if part.state == PartState.SENT_BACK:
        acts.append("take_back")
    if events and part.state != PartState.FITTED and events[-1].kind not in (ShelfEvent.RECEIVED, ShelfEvent.UNDONE):
        acts.append("undo_last")
    return tuple(acts)


def _stay(fitting: FittingRecord, slot: str, tags: dict[int, str], labels: dict[int, str]) -> Stay:
    host = labels.get(fitting.host_part_id or 0) or say_ref("part {ref}", fitting.host_part_id)
    where = tags.get(fitting.unit_id or 0) or host
    return Stay(strung(", ", (where, slot)), fitting.fitted_at, fitting.removed_at, fitting.why_removed)


def _marks(part: PartRecord, events: tuple[PartEventRecord, ...], day: Day) -> Iterator[PartHappening]:
    told = {event.kind for event in events}
    dated = (
        ("made", part.made_on, part.made_precision),
        ("received", part.received_on if "received" not in told else None, "day"),
        ("opened", part.opened_on if "opened" not in told else None, part.opened_precision),
    )
    for word, on, precision in dated:
        mark = marked(on, precision)
        if mark is not None:
            yield PartHappening(_noon(mark.first_day, day), "life", f"{word} {mark}", marked=True)


def _noon(on: date, day: Day) -> datetime:
    return datetime.combine(on, time(12), tzinfo=day.zone)


def _events(events: tuple[PartEventRecord, ...], names: dict[int, str]) -> Iterator[PartHappening]:
    for event in events:
        words = EVENT_WORDS[event.kind]
        if event.place:
            where = (
                say("into {place}", place=event.place)
                if event.kind == ShelfEvent.RECEIVED
                else say("to {place}", place=event.place)
            )
            words = strung(", ", (words, where))
        if event.reason:
            words = strung(": ", (words, event.reason))
        yield PartHappening(event.at, "event", words, names.get(event.person_id or 0))


def _moves(stays: tuple[Stay, ...], own: tuple[FittingRecord, ...], names: dict[int, str]) -> Iterator[PartHappening]:
    for stay, fitting in zip(stays, own, strict=True):
        yield PartHappening(
            stay.since, "fitting", say("fitted: {where}", where=stay.where), names.get(fitting.fitted_by_id or 0)
        )
        if stay.until is not None:
            where = strung(", ", (stay.where, *([say(stay.why_removed)] if stay.why_removed else [])))
            by = names.get(fitting.removed_by_id or 0)
            yield PartHappening(stay.until, "fitting", say("removed: {where}", where=where), by)


def _readings(readings: tuple[ProofRecord, ...], names: dict[int, str]) -> Iterator[PartHappening]:
    for each in readings:
        said = strung(": ", (say(each.kind), *([each.words] if each.words else [])))
        yield PartHappening(
            each.at, kind="reading", words=said, person=names.get(each.person_id or 0), result=each.result
        )


def _tests(tests: tuple[PartTestRecord, ...], day: Day) -> Iterator[PartHappening]:
    for each in tests:
        result = "pass" if each.passed else "failed"
        yield PartHappening(
            _noon(each.done_on, day),
            kind="test",
            words=say("{kind} test", kind=say(each.kind)),
            person=each.done_by,
            result=result,
            marked=True,
        )


def _holds(holds: list[HoldRecord]) -> Iterator[PartHappening]:
    for each in holds:
        yield PartHappening(each.placed_at, "hold", say("hold placed: {reason}", reason=each.reason), each.placed_by)
