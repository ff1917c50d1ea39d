"""What the course board and the receipt of a return say, and what was filled into the fields of a printed form."""

import ctypes
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from types import ModuleType

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.readiness.judge import USUAL_WAY, HandoverKind
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import booking_by_code, divers_of, hand_back_of, hand_over_of, terms_of
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.reads import UnitRecord
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.hires.handover import AccessoryLine, counted_along
from fleetbench.workshop.hires.list import BookingRow, hire_lines, one_booking
from fleetbench.workshop.readiness.ready import Question, Readiness, leaving_way
from fleetbench.workshop.units.fleet import whole_fleet


@dataclass(frozen=True, slots=True)
class BoardUnit:
    """One unit on a board: who dives it (None is the spare), how it leaves, its state, and what stands in the way."""

    unit: str
    who: str | None
    leaves: str
    harness: str | None
    state: str
    why: str


@dataclass(frozen=True, slots=True)
class Board:
    """One course or booking as a board; without: who has no unit yet."""

    booking: BookingRow
    spares: int
    rows: tuple[BoardUnit, ...]
    without: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReturnFacts:
    """One return as its receipt states it; None is not noted."""

    record: str
    unit: str
    booking: str
    renter: str | None
    starts_on: date
    ends_on: date
    received_at: datetime
    received_by: str | None
    days_late: int
    deposit: float | None
    deposit_back: float | None
    loop_minutes: float | None
    dives: int | None
    damaged: bool | None
    missing: str | None
    accessories: tuple[AccessoryLine, ...]


def course_board(workplace: Workplace, code: str) -> Board:
    """A booking's units with who dives them and what stands in the way through its last day; NotFound for no code."""
    row, lines = one_booking(workplace, code), hire_lines(workplace, code)
    readiness = Readiness(whole_fleet(workplace))
    units = {each.tag: each for each in readiness.fleet.records.units}
    today = readiness.fleet.day.today
    first = max(row.booking.starts_on, today)
    with workplace.database.read_session() as session:
        booking = booking_by_code(session, code)
        divers, terms = divers_of(session, booking.id), terms_of(session, booking.id)
        names = read_names(session.connection())
    rows = []
    for line in lines:
        state = "back" if line.line.received_at else "out" if line.line.out_at else say("to go")
        way = leaving_way(line.line.hand_over)
        asked = HandoverKind.KIT if line.line.out_at else way
        question = Question(
            first, max(row.booking.ends_on, first), asked, running=line.line.out_at is not None, booking=code
        )
        why = "" if line.line.received_at else _in_the_way(readiness, units[line.line.unit], question)
        harness = units[line.line.unit].harness
        rows.append(
            BoardUnit(
                line.line.unit,
                who=line.diver,
                leaves=line.line.hand_over or say("{way}, not chosen yet", way=say(USUAL_WAY.value)),
                harness=harness,
                state=state,
                why=why,
            )
        )
    served = {line.diver for line in lines}
    without = tuple(names[each] for each in divers if names.get(each) not in served)
    return Board(row, terms.spares if terms is not None else 0, tuple(rows), without)


def _in_the_way(readiness: Readiness, unit: UnitRecord, question: Question) -> str:
    answer = readiness.assess(unit, question)
    if answer.stops:
        return say("stop: {checks}", checks=strung(", ", (each.check for each in answer.stops)))
    if answer.advises:
        return say("advise: {checks}", checks=strung(", ", (each.check for each in answer.advises)))
    return "nothing"


def return_facts(workplace: Workplace, line_id: int) -> ReturnFacts:
    """What is noted of one return; Refused while the unit is not received."""
    today = day_of(workplace)
    with workplace.database.read_session() as session:
        line = session.get(BookingUnit, line_id)
        if line is None:
            raise NotFound(say("hire line {line_id}: not recorded; choose one from the list", line_id=line_id))
        unit, booking = session.get(Unit, line.unit_id), session.get(Booking, line.booking_id)
        assert unit is not None and booking is not None  # both are foreign keys
        if line.received_at is None:
            raise Refused(say("unit {tag}: is not received yet; receive it first", tag=unit.tag))
        names = read_names(session.connection())
        out, back = hand_over_of(session, line.id), hand_back_of(session, line.id)
        diver = line.diver_id if line.diver_id is not None else booking.renter_id
        facts = ReturnFacts(
            record=line.ref or say("hire line {line_id}", line_id=line.id),
            unit=unit.tag,
            booking=booking.code,
            renter=names.get(diver) if diver is not None else None,
            starts_on=booking.starts_on,
            ends_on=booking.ends_on,
            received_at=line.received_at,
            received_by=names.get(line.received_by_id) if line.received_by_id is not None else None,
            days_late=max(0, (today.of(line.received_at) - booking.ends_on).days),
            deposit=out.deposit if out is not None else None,
            deposit_back=back.deposit_back if back is not None else None,
            loop_minutes=line.loop_minutes,
            dives=line.dives,
            damaged=back.damaged if back is not None else None,
            missing=back.missing if back is not None else None,
            accessories=(),
        )
    return replace(facts, accessories=counted_along(workplace, line_id))


def form_fields(name: str, data: bytes) -> dict[str, str]:
    """The fields of a PDF form with what was filled in; Refused where it cannot be read."""
    # PDF reading is loaded by the user who reads a form
    import pypdfium2
    from pypdfium2 import raw

    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as fault:
        raise Refused(say("{name}: cannot be read as PDF; save the filled form again", name=name)) from fault
    try:
        document.init_forms()
        if document.formenv is None:
            return {}
        return {key: value for page in document for key, value in _page_fields(raw, document.formenv.raw, page.raw)}
    finally:
        document.close()


def _page_fields(raw: ModuleType, form: object, page: object) -> Iterator[tuple[str, str]]:
    for place in range(raw.FPDFPage_GetAnnotCount(page)):
        field = raw.FPDFPage_GetAnnot(page, place)
        name = _field_text(raw.FPDFAnnot_GetFormFieldName, form, field)
        yield name, _field_text(raw.FPDFAnnot_GetFormFieldValue, form, field)
        raw.FPDFPage_CloseAnnot(field)


def _field_text(get: Callable[..., int], form: object, field: object) -> str:
    """A text of UTF-16 that the library writes, of which it first tells how many bytes it needs."""
    size = get(form, field, None, 0)
    buffer = (ctypes.c_ushort * (size // 2 + 1))()
    get(form, field, buffer, size)
    return bytes(buffer)[: max(0, size - 2)].decode("utf-16-le", "replace")
