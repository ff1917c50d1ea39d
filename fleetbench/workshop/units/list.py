"""Units as lists and pages show them: where each is, how fit, what runs out next, and which steps are open on it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import cast

from fleetbench.calc.bench.leak_places import LeakPlace
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict, WorkState
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.kinds import PlaceKind
from fleetbench.calc.parts.life import Governing
from fleetbench.calc.readiness.judge import USUAL_WAY, Assessment, HandoverKind
from fleetbench.calc.readiness.lane import CellToReplace, NextStep, lane
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.canisters.reads import FillRecord
from fleetbench.records.cells.reads import OutcomeRecord
from fleetbench.records.core.errors import NotFound
from fleetbench.records.hires.reads import CallRecord, read_calls
from fleetbench.records.parts.lives import read_shelf_places
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.turn_rounds.lookups import lines_of_card
from fleetbench.records.turn_rounds.reads import CardRecord
from fleetbench.records.units.history import HistoryRecords, read_history
from fleetbench.records.units.reads import HoldRecord, UnitRecord, read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.bench.valves import places_of
from fleetbench.workshop.canisters.absorbent import with_a_diver
from fleetbench.workshop.cells.outlook import ReaderShown
from fleetbench.workshop.cells.spread import propose_spread
from fleetbench.workshop.core.known import FEW
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.gas.oxygen_side import UnitCylinder, unit_cylinders
from fleetbench.workshop.parts.list import FittedPart, fitted_part
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS, item_of, marked
from fleetbench.workshop.readiness.ready import Question, Readiness
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, batteries_of
from fleetbench.workshop.units.fleet import Fleet, Seat, judged_units, whole_fleet
from fleetbench.workshop.units.history import HistoryLine, history_lines


class Where(StrEnum):
    """Where a unit is, derived from records."""

    RECEIVED = "here, not inspected"
    BENCH = "on bench"
    SHELF = "on shelf"
    OUT = "out"
    AWAY = "away"
    RETIRED = "retired"
    CALCULATED = "being calculated"


class Fit(StrEnum):
    """How fit a unit is, derived from records."""

    READY = "ready"
    DUE_SOON = "due soon"
    HOLD = "hold"
    CALCULATED = "being calculated"
    """Not judged yet: nothing is known, and so it is in no state in which a unit could leave."""


@dataclass(frozen=True, slots=True)
class NextBooking:
    """The next (or present) promise of a unit."""

    code: str
    kind: str
    starts_on: date
    ends_on: date
    diver: str | None


@dataclass(frozen=True, slots=True)
class NextDue:
    """What runs out first on a unit; last_good_day None where it is not known."""

    item: str
    slot: str
    last_good_day: date | None
    days_left: int | None
    projected: bool


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One unit in the list.

    where_words: booking and return day while out, place and expected day while away, place while here.
    way: how it is to leave next, for which it was judged.
    reasons: every stop in words (holds among them). advises: what to look at, but for hand-over work still to do and
    what a manager accepted; accepted: how many of those stand. hours: loop hours in all.
    """

    unit_id: int
    tag: str
    former_tag: str | None
    unit_type: str
    build: str
    serial: str | None
    owner: str
    where: Where
    where_words: str
    fit: Fit
    reasons: tuple[str, ...]
    advises: tuple[str, ...]
    next_booking: NextBooking | None
    next_due: NextDue | None
    hours: float
    dives: int
    hires: int
    open_tickets: tuple[str, ...]
    harness: str | None
    in_service: MarkedDate | None
    retired_on: date | None
    accepted: int = 0
    way: HandoverKind = USUAL_WAY

    @property
    def pending(self) -> bool:
        """Whether it is not judged yet, so that only what is recorded of the unit itself stands in it."""
        return self.fit is Fit.CALCULATED


@dataclass(frozen=True, slots=True)
class CellLine:
    """One cell position with the last outcome since the cell was fitted there; shown where a page asked for it."""

    position: str
    part: PartRecord | None
    last_good_day: date | None
    basis: str | None
    outcome: OutcomeRecord | None
    verdict: str | None
    finding: str | None
    shown: tuple[ReaderShown, ...] = ()


@dataclass(frozen=True, slots=True)
class FillLine:
    """The fill in a unit's canister; minutes_left None while a diver has it."""

    fill: FillRecord
    packed_by: str | None
    diver: str | None
    used_share: float
    minutes_left: float | None
    rule: str
    reason: str


@dataclass(frozen=True, slots=True)
class UnitPage:
    """Everything on one unit's page; history newest first."""

    row: UnitRow
    place: str | None
    manual: str
    assessment: Assessment
    fitted: tuple[FittedPart, ...]
    cells: tuple[CellLine, ...]
    fill: FillLine | None
    holds: tuple[tuple[HoldRecord, str | None], ...]
    history: tuple[HistoryLine, ...]
    cylinders: tuple[UnitCylinder, ...] = ()
    batteries: tuple[BatteryLine, ...] = ()
    card: CardRecord | None = None
    leaks: tuple[LeakPlace, ...] = ()
    calls: tuple[CallRecord, ...] = ()


def list_units(workplace: Workplace) -> tuple[UnitRow, ...]:
    """Every unit by tag; retired ones stand in it with their day."""
    fleet = whole_fleet(workplace)
    readiness = Readiness(fleet)
    return tuple(unit_row(fleet, readiness, unit) for unit in fleet.records.units)


def units_at_once(workplace: Workplace) -> tuple[UnitRow, ...]:
    """The same where it takes no time; else every unit by tag, not judged yet."""
    with workplace.database.reading() as connection:
        units = read_units(connection)
    if len(units) - judged_units(workplace) <= FEW:
        return list_units(workplace)
    return tuple(map(_not_judged, units))


def _not_judged(unit: UnitRecord) -> UnitRow:
    return UnitRow(
        unit_id=unit.unit_id, tag=unit.tag, former_tag=unit.former_tag, unit_type=unit.unit_type, build=unit.build,
        serial=unit.serial, owner=unit.owner, where=Where.CALCULATED, where_words="", fit=Fit.CALCULATED, reasons=(),
        advises=(), next_booking=None, next_due=None, hours=0.0, dives=0, hires=0, open_tickets=(),
        harness=unit.harness, in_service=marked(unit.in_service_on, unit.in_service_precision or "day"),
        retired_on=unit.retired_on,
    )  # fmt: skip


def units_within(connection: Connection, day: Day) -> tuple[UnitRow, ...]:
    """The same as a connection sees them, such as that of an act of which nothing is to stay."""
    fleet = Fleet(read_fleet(connection), day)
    readiness = Readiness(fleet)
    return tuple(unit_row(fleet, readiness, unit) for unit in fleet.records.units)


def unit_page(workplace: Workplace, tag: str) -> UnitPage:
    """Everything on one unit's page; NotFound for a tag (or former tag) that is not recorded."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_units(connection, tag)
        if not found:
            raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
        unit = found[0]
        fleet = Fleet(read_fleet(connection, unit), day)
        history = read_history(connection, unit.unit_id)
        leaks, calls = places_of(connection, unit.unit_id), read_calls(connection, unit_id=unit.unit_id)
    return replace(_page(fleet, unit, history), leaks=leaks, calls=calls)


def _page(fleet: Fleet, unit: UnitRecord, history: HistoryRecords) -> UnitPage:
    readiness = Readiness(fleet)
    fitted = fitted_parts(fleet, unit.unit_id)
    return UnitPage(
        row=unit_row(fleet, readiness, unit),
        place=unit.place,
        manual=unit.manual,
        assessment=readiness.assess(unit, question_today(fleet, readiness, unit)),
        fitted=fitted,
        cells=cell_lines(fleet, readiness, unit.unit_id),
        fill=fill_line(fleet, readiness, unit.unit_id),
        holds=tuple((hold, _held_part(fleet, hold, unit.unit_id)) for hold in history.holds),
        history=history_lines(history, fleet.catalogue.names, fleet.day.zone),
        cylinders=unit_cylinders(fleet, readiness.gas_side, unit.unit_id),
        batteries=batteries_of(fleet, unit.unit_id, unit.unit_type_id),
        card=readiness.turn_side.open_card(unit.unit_id),
    )


def fitted_parts(fleet: Fleet, unit_id: int) -> tuple[FittedPart, ...]:
    """Every slot of a unit in tree order."""
    return tuple(fitted_part(fleet, seat, unit_id) for seat in fleet.seats(unit_id))


def question_today(fleet: Fleet, readiness: Readiness, unit: UnitRecord) -> Question:
    """What is asked of a unit on lists: fit to leave today as its booking says, or to stay with its diver."""
    today = fleet.day.today
    out = readiness.is_out(unit.unit_id)
    last = max(out.ends_on, today) if out is not None else today
    return Question(today, last, readiness.way(unit.unit_id), running=out is not None)


def unit_row(fleet: Fleet, readiness: Readiness, unit: UnitRecord) -> UnitRow:
    """One unit in the list."""
    answer = readiness.assess(unit, question_today(fleet, readiness, unit))
    key = "row", unit.unit_id
    before = fleet.answers.get(key)
    if before is None or before[0] != answer:
        before = fleet.answers[key] = answer, _unit_row(fleet, readiness, unit, answer)
    return cast("UnitRow", before[1])


def _unit_row(fleet: Fleet, readiness: Readiness, unit: UnitRecord, answer: Assessment) -> UnitRow:
    use = fleet.book.use.of_unit(unit.unit_id)
    due = next_due(fleet, unit.unit_id)
    where, words = where_is(fleet, readiness, unit)
    return UnitRow(
        unit_id=unit.unit_id,
        tag=unit.tag,
        former_tag=unit.former_tag,
        unit_type=unit.unit_type,
        build=unit.build,
        serial=unit.serial,
        owner=unit.owner,
        where=where,
        where_words=words,
        fit=fit_of(answer, due),
        reasons=tuple(strung(": ", (each.check, each.evidence)) for each in answer.stops),
        advises=tuple(
            strung(": ", (each.check, each.evidence))
            for each in answer.advises
            if each.to_do_minutes is None and not each.accepted
        ),
        accepted=len(answer.accepted),
        next_booking=_next_booking(fleet, unit.unit_id),
        next_due=due,
        hours=use.hours,
        dives=use.dives,
        hires=use.hires,
        open_tickets=tuple(ticket_number(each.year, each.number) for each in readiness.open_tickets(unit.unit_id)),
        harness=unit.harness,
        in_service=marked(unit.in_service_on, unit.in_service_precision or "day"),
        retired_on=unit.retired_on,
        way=answer.kind,
    )


def fit_of(answer: Assessment, due: NextDue | None) -> Fit:
    """How fit a unit is: held by any stop, due soon where something ends within 14 days or cannot be dated."""
    if answer.verdict != "ready":
        return Fit.HOLD
    soon = due is not None and (due.days_left is None or due.days_left <= DUE_SOON_DAYS)
    return Fit.DUE_SOON if soon else Fit.READY


def fit_words(fit: Fit, way: HandoverKind, where: Where) -> str:
    """How fit a unit is, and for which way of leaving that was judged: `ready as assembled`, `hold as kit`."""
    if where in (Where.OUT, Where.RETIRED, Where.CALCULATED):
        return fit
    if way is HandoverKind.NOT_FOR_DIVING:
        return say("leaves not for diving: not judged")
    return say("{fit} as {way}", fit=fit, way=way)


def where_is(fleet: Fleet, readiness: Readiness, unit: UnitRecord) -> tuple[Where, str]:
    """Where a unit is, and words on it.

    On the bench is what has an open critical ticket or lies at a bench; a cosmetic ticket leaves a unit on its shelf.
    """
    today = fleet.day.today
    if unit.retired_on is not None and unit.retired_on <= today:
        return Where.RETIRED, say("since {retired_on}", retired_on=unit.retired_on)
    out = readiness.is_out(unit.unit_id)
    if out is not None:
        return Where.OUT, say("{code}, back {ends_on}", code=out.code, ends_on=out.ends_on)
    away = readiness.away(unit.unit_id)
    if away is not None:
        expected = (
            say("back {expected_on}", expected_on=away.expected_on) if away.expected_on else say("return not known")
        )
        return Where.AWAY, strung(", ", (away.place or say("place not known"), away.why, expected))
    card = readiness.turn_side.open_card(unit.unit_id)
    begun = (
        [say("turn-round, {settled} of {lines} done", settled=card.settled, lines=card.lines)]
        if card is not None and card.settled
        else []
    )
    tickets = [each for each in readiness.open_tickets(unit.unit_id) if each.critical]
    back = readiness.last_return(unit.unit_id)
    taken_up = back is not None and any(each.opened_at >= back.received_at for each in tickets)
    if readiness.not_inspected(unit.unit_id) and not taken_up and not begun:
        return Where.RECEIVED, unit.place or ""
    if begun or tickets or unit.place_kind == PlaceKind.BENCH:
        numbers = (ticket_number(each.year, each.number) for each in tickets)
        return Where.BENCH, strung(", ", (*begun, *numbers)) or (unit.place or "")
    return Where.SHELF, unit.place or say("place not known")


def next_due(fleet: Fleet, unit_id: int) -> NextDue | None:
    """What runs out first of a unit's parts; what cannot be dated comes first of all."""
    found = [(seat, fleet.life(seat, unit_id)) for seat in fleet.seats(unit_id)]
    unknown = [(seat, life) for seat, life in found if life.unknown]
    dated = [(seat, life) for seat, life in found if life.day is not None]
    past = [(seat, life) for seat, life in dated if life.day is not None and life.day < fleet.day.today]
    if unknown and not past:
        seat, life = unknown[0]
        return NextDue(
            item_of(life.unknown[0].limit), slot=seat.slot.name, last_good_day=None, days_left=None, projected=False
        )
    if not dated:
        return None
    seat, life = min(dated, key=lambda each: each[1].day or date.max)
    return _dated(fleet, seat, life)


def _dated(fleet: Fleet, seat: Seat, life: Governing) -> NextDue | None:
    if life.first is None or life.first.day is None:
        return None
    left = (life.first.day - fleet.day.today).days
    return NextDue(
        item_of(life.first.limit),
        slot=seat.slot.name,
        last_good_day=life.first.day,
        days_left=left,
        projected=life.first.projected,
    )


def _next_booking(fleet: Fleet, unit_id: int) -> NextBooking | None:
    for each in fleet.promises.get(unit_id, ()):
        if each.ends_on >= fleet.day.today or each.out_at is not None:
            diver = each.diver_id if each.diver_id is not None else each.renter_id
            return NextBooking(
                each.code, kind=each.kind, starts_on=each.starts_on, ends_on=each.ends_on, diver=fleet.name(diver)
            )
    return None


def cell_lines(fleet: Fleet, readiness: Readiness, unit_id: int) -> tuple[CellLine, ...]:
    """Each cell position with the worst that stands since the cell was fitted there."""
    return tuple(_cell_line(fleet, readiness, seat, unit_id) for seat in readiness.cell_seats(unit_id))


def _cell_line(fleet: Fleet, readiness: Readiness, seat: Seat, unit_id: int) -> CellLine:
    life = fleet.life(seat, unit_id)
    fact = readiness.cell(seat, unit_id)
    return CellLine(
        position=seat.slot.name,
        part=seat.part,
        last_good_day=None if life.unknown else life.day,
        basis=str(life.first.basis) if life.first else None,
        outcome=readiness.telling(seat),
        verdict=str(fact.verdict) if fact.verdict is not None else None,
        finding=fact.why or None if fact.verdict is not None else None,
    )


def fill_line(fleet: Fleet, readiness: Readiness, unit_id: int) -> FillLine | None:
    """The fill in a unit's canister with what is left of it for the unit's next dive, None for an empty canister."""
    seat = next((each for each in fleet.seats(unit_id) if each.slot.kind == "canister" and each.part), None)
    fill = readiness.absorbent.fills.get(seat.part.part_id) if seat is not None and seat.part is not None else None
    if seat is None or seat.part is None or fill is None or fill.discarded_at is not None:
        return None
    left = readiness.absorbent.left(seat.part, fleet.day, readiness.next_promise(unit_id))
    out = readiness.is_out(unit_id)
    away = with_a_diver(out.code, out.out_at, fleet.day) if out is not None and out.out_at is not None else ""
    return FillLine(
        fill=fill,
        packed_by=fleet.name(fill.packed_by_id),
        diver=fleet.name(fill.diver_id),
        used_share=left.used_share,
        minutes_left=None if away else left.minutes,
        rule=left.rule,
        reason=away or left.reason,
    )


def _held_part(fleet: Fleet, hold: HoldRecord, unit_id: int) -> str | None:
    labels = {seat.part.part_id: seat.part.label for seat in fleet.seats(unit_id) if seat.part is not None}
    return labels.get(hold.part_id, say("part {part_id}", part_id=hold.part_id)) if hold.part_id is not None else None


def next_steps(workplace: Workplace, page: UnitPage) -> tuple[NextStep, ...]:
    """What is to be done on the unit that its page tells of, next step first; stock is asked where a cell must go.

    Nothing is done at the bench on a unit that is not here.
    """
    if page.row.where in (Where.OUT, Where.AWAY, Where.RETIRED):
        return ()
    card = (page.card.settled, page.card.lines) if page.card is not None else None
    cells, waits = tuple(_cells(workplace, page)), False
    if cells and page.card is not None:
        with workplace.database.read_session() as session:
            lines = lines_of_card(session, page.card.card_id)
        waits = next((each.step for each in lines if each.state == WorkState.TO_DO), "") in (
            Step.CALIBRATE,
            Step.CALIBRATE_AGAIN,
        )
    return lane(
        page.assessment.checks,
        card=card,
        cells=cells,
        tickets=page.row.open_tickets,
        waits_for_cells=waits,
        holds=[hold.kind for hold, _ticket in page.holds],
    )


def _cells(workplace: Workplace, page: UnitPage) -> Iterator[CellToReplace]:
    gone = [each for each in page.cells if each.part is None or each.verdict == Verdict.REJECT]
    if not gone:
        return
    offered = {line.position: line for line in propose_spread(workplace).lines if line.unit == page.row.tag}
    with workplace.database.reading() as connection:
        places = read_shelf_places(connection)
    for each in gone:
        why = (
            say("{label} is rejected: {value}", label=each.part.label, value=each.finding or say("see its calibration"))
            if each.part
            else say("it is empty")
        )
        line = offered.get(each.position)
        if line is None:
            yield CellToReplace(each.position, why)
        else:
            cell = line.cell.part
            yield CellToReplace(each.position, why, cell.label, places.get(cell.part_id))
