"""A booking changed after it was made: edited, a unit taken off, cancelled, not collected, and brought back.

A hire is made longer while its units are out: what runs out before the new last day is said before it is done.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from itertools import chain
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.hires.availability import Span
from fleetbench.calc.hires.promises import BookingKind, HireState
from fleetbench.calc.readiness.judge import Leaving
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import (
    booking_by_code,
    diver_rows_of,
    lines_of,
    signed_lines,
    terms_of,
    unit_type_by_code,
)
from fleetbench.records.hires.tables import Booking, BookingDiver, BookingUnit
from fleetbench.records.people.tables import Person
from fleetbench.records.units.tables import Unit, UnitType
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, in_words, require_person, with_theirs
from fleetbench.workshop.hires.booking import (
    BookingEntry,
    Freed,
    Promises,
    checked,
    checked_days,
    is_waiting,
    lines_still_out,
    move_within,
    open_booking,
    price_terms,
    promised_within,
    spares,
    stated,
    that_fit_now,
    units_wanted,
)
from fleetbench.workshop.hires.fitness import BookUnfit
from fleetbench.workshop.hires.handover import Accepting, accept_within
from fleetbench.workshop.readiness.leaving import LeavingLook, look_within
from fleetbench.workshop.readiness.ready import leaving_way

LONGEST_REASON = 200


@dataclass(frozen=True, slots=True)
class EditedBooking:
    """What an edit changed, in words, and the units whose pages were signed before it and must be signed again."""

    code: str
    changed: tuple[str, ...]
    sign_again: tuple[str, ...]


def entry_of(workplace: Workplace, code: str) -> tuple[BookingEntry, dict[int, str]]:
    """A booking as it was asked for, to be edited, and the codes of the people it names; NotFound for another code."""
    with workplace.database.read_session() as session:
        entry = _entry_in(session, booking_by_code(session, code))
        named = [each for each in (entry.renter_id, entry.instructor_id, *entry.divers) if each is not None]
        people = [session.get(Person, each) for each in named]
        return entry, {each.id: each.code for each in people if each is not None}


def _entry_in(session: Any, booking: Booking) -> BookingEntry:
    terms, divers = terms_of(session, booking.id), diver_rows_of(session, booking.id)
    kind = session.get(UnitType, booking.unit_type_id)
    units = [session.get(Unit, each.unit_id) for each in lines_of(session, booking.id)]
    teaches = [
        each for each in divers if booking.kind == BookingKind.COURSE and each.person_id == booking.instructor_id
    ]
    students = [each for each in divers if each not in teaches]
    return BookingEntry(
        kind=booking.kind,
        unit_type=kind.code if kind is not None else "",
        first=booking.starts_on,
        last=booking.ends_on,
        units=tuple(each.tag for each in units if each is not None),
        wanted=booking.units_wanted,
        renter_id=booking.renter_id,
        instructor_id=booking.instructor_id,
        divers=tuple(each.person_id for each in students),
        spares=terms.spares if terms is not None else None,
        planned_minutes=booking.planned_minutes,
        planned_depth_m=booking.planned_depth_m,
        planned_water_c=booking.planned_water_c,
        bailout=terms.bailout if terms is not None else None,
        diluent_oxygen=terms.diluent_oxygen if terms is not None else None,
        diluent_helium=terms.diluent_helium if terms is not None else None,
        # The instructor dives too, and states both after the students.
        harnesses=tuple(each.harness or "" for each in (*students, *teaches)),
        last_dives=tuple(each.last_dive_on for each in (*students, *teaches)),
        altitude_m=terms.altitude_m if terms is not None else None,
        price_terms=(terms.price_terms or "") if terms is not None else "",
    )


TOGETHER = {
    "first day": ("first",), "last day": ("last",), "renter": ("renter_id",),
    "divers": ("instructor_id", "divers", "harnesses", "last_dives"), "spare units": ("spares",),
    "loop minutes": ("planned_minutes",), "depth": ("planned_depth_m",), "water": ("planned_water_c",),
    "bailout": ("bailout",), "diluent": ("diluent_oxygen", "diluent_helium"),
    "altitude of the dive site": ("altitude_m",), "price terms": ("price_terms",),
}  # fmt: skip
"""What of a booking two desks may change each for itself: its word, and the fields that make sense together alone."""
MERGED = tuple(chain.from_iterable(TOGETHER.values()))


def _merged(act: Transaction, booking: Booking, entry: BookingEntry, seen: BookingEntry) -> BookingEntry:
    """The entry with what another desk saved since it was opened, where this one left it as it was seen."""
    now = _entry_in(act.session, booking)
    entry = replace(entry, wanted=now.wanted) if entry.wanted == seen.wanted else entry
    mine, began, theirs = ({name: getattr(each, name) for name in MERGED} for each in (entry, seen, now))
    about, shown = say("booking {code}", code=booking.code), partial(_shown, act)
    return replace(entry, **with_theirs(about, mine, began, theirs, TOGETHER, shown=shown, plain=_plain))


def _plain(value: Any) -> Any:
    """A list without what is not stated at its end, anything else as it is."""
    if not isinstance(value, tuple):
        return value
    stated = [place for place, each in enumerate(value, 1) if each not in ("", None)]
    return value[: stated[-1]] if stated else ()


PEOPLE = ("renter_id", "instructor_id", "divers")


def _shown(act: Transaction, values: Mapping[str, Any]) -> str:
    words: dict[str, Any] = {}
    for name, value in values.items():
        for place, each in enumerate(value if isinstance(value, tuple) else (value,)):
            person = act.session.get(Person, each) if name in PEOPLE and each is not None else None
            words[f"{name} {place}"] = person.code if person is not None else each
    return in_words(words)


def edit_booking(
    workplace: Workplace, code: str, entry: BookingEntry, seen: BookingEntry | None = None
) -> EditedBooking:
    """What was changed; Refused where the new days or numbers cannot be promised, or a unit is out that it touches.

    Its units stay on it: put one on or take one off for itself. Days and numbers are judged as those of a new booking.
    seen: the booking as it was when its user began to change it; what another desk saved since stays, and Clash is
    raised where both changed the same.
    """
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("edit booking", f"booking {code}") as act:
        booking = open_booking(act, code)
        lines = lines_of(act.session, booking.id)
        on_it = [act.get(Unit, each.unit_id, "unit").tag for each in lines]
        entry = _merged(act, booking, entry, seen) if seen is not None else entry
        entry = replace(entry, units=tuple(on_it))
        _fits_what_is_out(act, booking, entry)
        checked(act, entry)
        wanted = units_wanted(entry)
        changed = _new_terms(act, booking, entry, wanted)
        changed += _new_divers(act, booking, entry)
        if not changed:
            raise Refused(say("booking {code}: nothing is changed; change a field, or cancel", code=code))
        if {"first day", "last day", "units wanted"} & set(changed):
            _promise_again(act, booking, entry, wanted, today, day)
        signed = signed_lines(act.session, [each.id for each in lines])
        again = [tag for tag, each in zip(on_it, lines, strict=True) if each.id in signed]
        return EditedBooking(code, tuple(changed), tuple(again))


def _fits_what_is_out(act: Transaction, booking: Booking, entry: BookingEntry) -> None:
    if entry.kind != booking.kind or unit_type_by_code(act.session, entry.unit_type).id != booking.unit_type_id:
        raise Refused(say("what and unit type: stay as booked; cancel the booking and book again for another"))
    gone = any(each.out_at is not None for each in lines_of(act.session, booking.id))
    if gone and entry.first != booking.starts_on:
        raise Refused(
            say("first day: units are out since {starts_on}; only its last day can change", starts_on=booking.starts_on)
        )
    if gone and (entry.renter_id, entry.instructor_id) != (booking.renter_id, booking.instructor_id):
        raise Refused(say("renter, instructor: units are out in this name; receive them first"))
    if entry.last > booking.ends_on and lines_still_out(act, booking):
        raise Refused(say("last day: units are out; choose Extend, which assesses them through the new last day"))


def _new_terms(act: Transaction, booking: Booking, entry: BookingEntry, wanted: int) -> list[str]:
    names = {
        "starts_on": ("first day", entry.first), "ends_on": ("last day", entry.last),
        "units_wanted": ("units wanted", wanted), "renter_id": ("renter", entry.renter_id),
        "instructor_id": ("instructor", entry.instructor_id),
        "planned_minutes": (say("loop minutes"), entry.planned_minutes), "planned_depth_m": ("depth",
            entry.planned_depth_m),
        "planned_water_c": ("water", entry.planned_water_c),
    }  # fmt: skip
    of_terms = {
        "spares": (say("spare units"), spares(entry)), "bailout": ("bailout", entry.bailout),
        "diluent_oxygen": ("diluent", entry.diluent_oxygen), "diluent_helium": ("diluent", entry.diluent_helium),
        "altitude_m": (say("altitude of the dive site"), entry.altitude_m),
        "price_terms": (say("price terms"), price_terms(entry)),
    }  # fmt: skip
    changed: list[str] = []
    for row, fields in ((booking, names), (terms_of(act.session, booking.id), of_terms)):
        new = {name: value for name, (_words, value) in fields.items() if row and getattr(row, name) != value}
        if row is not None and new:
            act.change(row, **new)
            changed += [fields[name][0] for name in new]
    return list(dict.fromkeys(changed))


def _new_divers(act: Transaction, booking: Booking, entry: BookingEntry) -> list[str]:
    """'divers' where they are others, or state something else; a unit of one who left goes to one who came."""
    lone = (entry.renter_id,) if entry.renter_id is not None and entry.kind == BookingKind.HIRE else ()
    divers = entry.divers or lone
    wanted = [*divers, *((entry.instructor_id,) if entry.kind == BookingKind.COURSE and entry.instructor_id else ())]
    rows = {each.person_id: each for each in diver_rows_of(act.session, booking.id)}
    left = [each for person, each in rows.items() if person not in wanted]
    came = [person for person in wanted if person not in rows]
    changed = bool(left or came)
    for each in left:
        act.change(each, left_at=act.at)
    for place, person in enumerate(wanted, 1):
        harness, dived = stated(entry, place)
        if person not in rows:
            act.add(BookingDiver(booking_id=booking.id, person_id=person, ordinal=place, harness=harness,
                                 last_dive_on=dived))  # fmt: skip
            continue
        new = {"ordinal": place, "harness": harness, "last_dive_on": dived}
        new = {name: value for name, value in new.items() if getattr(rows[person], name) != value}
        if new:
            act.change(rows[person], **new)
            changed = True
    _units_of_those_who_left(act, booking, {each.person_id for each in left}, came)
    return ["divers"] if changed else []


def _units_of_those_who_left(act: Transaction, booking: Booking, left: set[int], came: list[int]) -> None:
    heirs = list(came)
    for line in lines_of(act.session, booking.id):
        if line.diver_id not in left:
            continue
        if line.out_at is not None:
            tag = act.get(Unit, line.unit_id, "unit").tag
            raise Refused(
                say("divers: unit {tag} is or was out with one who would leave; receive or swap it first", tag=tag)
            )
        act.change(line, diver_id=heirs.pop(0) if heirs else None)


def _promise_again(act: Transaction, booking: Booking, entry: BookingEntry, wanted: int, today: date, day: Day) -> None:
    out = bool(lines_still_out(act, booking))
    span = checked_days(max(entry.first, today) if out else entry.first, entry.last, today)
    promises = Promises(act.session, today, without=booking.id, day=day)
    named = [
        act.get(Unit, each.unit_id, "unit").tag
        for each in lines_of(act.session, booking.id)
        if each.received_at is None
    ]
    asked = len(named) if is_waiting(act, booking) else max(wanted, len(named))
    promised_within(act, booking, promises, replace(span, name=booking.code), asked, named, entry.unfit)


def take_unit_off(workplace: Workplace, code: str, tag: str, reason: str) -> Freed:
    """Take a unit that has not left off a booking; returns who on the waiting list has fit units now."""
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("take unit off booking", f"booking {code}") as act:
        booking, line = open_booking(act, code), _line_to_take_off(act, code, tag)
        act.change(line, taken_off_at=act.at, taken_off_for=_reason(reason), diver_id=line.diver_id)
        act.session.flush()
        return that_fit_now(act, booking, today, day)


def _line_to_take_off(act: Transaction, code: str, tag: str) -> BookingUnit:
    booking, unit = booking_by_code(act.session, code), unit_by_tag(act.session, tag)
    line = next((each for each in lines_of(act.session, booking.id) if each.unit_id == unit.id), None)
    if line is None:
        raise Refused(say("unit {tag}: is not on booking {code}; choose one of its units", tag=tag, code=code))
    if line.out_at is not None:
        raise Refused(say("unit {tag}: has left on booking {code}; receive it, or swap it", tag=tag, code=code))
    return line


def cancel_booking(workplace: Workplace, code: str, reason: str, *, ended_as: str = HireState.CANCELLED) -> Freed:
    """End a booking of which nothing is out; returns who on the waiting list has fit units now, who comes first.

    A no-show is one whose first day has come and of which nothing ever left.
    """
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("cancel booking", f"booking {code}") as act:
        booking = open_booking(act, code)
        lines = lines_of(act.session, booking.id)
        if any(each.out_at is not None and each.received_at is None for each in lines):
            raise Refused(say("booking {code}: units are out; receive them first, or move its last day", code=code))
        if ended_as == HireState.NO_SHOW and booking.starts_on > today:
            raise Refused(
                say(
                    "booking {code}: begins on {starts_on}; cancel it, or wait until that day",
                    code=code,
                    starts_on=booking.starts_on,
                )
            )
        if ended_as == HireState.NO_SHOW and any(each.out_at is not None for each in lines):
            raise Refused(say("booking {code}: units of it left; it was collected", code=code))
        act.change(booking, cancelled_at=act.at, ended_as=HireState(ended_as), ended_for=_reason(reason))
        return that_fit_now(act, booking, today, day)


def restore_booking(workplace: Workplace, code: str, *, unfit: BookUnfit | None = None) -> str:
    """Bring a cancelled booking back with its units, where they are still free and fit; the code."""
    require_person(workplace)
    today, day = workplace.today(), day_of(workplace)
    with workplace.transaction("restore booking", f"booking {code}") as act:
        booking = booking_by_code(act.session, code)
        if booking.cancelled_at is None:
            raise Refused(say("booking {code}: is not cancelled; nothing is to do", code=code))
        span = checked_days(booking.starts_on, booking.ends_on, today)
        lines = lines_of(act.session, booking.id)
        named = [act.get(Unit, each.unit_id, "unit").tag for each in lines if each.received_at is None]
        promises = Promises(act.session, today, without=booking.id, day=day)
        wanted = len(named) if is_waiting(act, booking) else max(booking.units_wanted, len(named))
        act.change(booking, cancelled_at=None, ended_as=None, ended_for=None)
        first = max(span.first, today)
        promised_within(act, booking, promises, Span(first, span.last, code), wanted, named, unfit)
        return code


def _reason(text: str) -> str:
    text = text.strip()
    if not text:
        raise Refused(say("reason: is empty; say why, in a few words"))
    if len(text) > LONGEST_REASON:
        raise Refused(say("reason: has {count} letters; shorten it to {most}", count=len(text), most=LONGEST_REASON))
    return text


# longer while its units are out


@dataclass(frozen=True, slots=True)
class Extended:
    """A hire that ends later now; units: those that are out, whose sheets name the last day as it was before."""

    code: str
    last: date
    units: tuple[str, ...]


def extend_hire(
    workplace: Workplace,
    code: str,
    last: date,
    *,
    accepting: Sequence[Accepting] = (),
    manager_id: int | None = None,
    pin: str = "",
) -> Extended:
    """Let the units of a booking that are out stay with their divers through another last day.

    Each is assessed through that day: a stop refuses, an advice must be accepted by a manager. Raises Refused with
    every reason, also where one of the units is promised to others, or none is out.
    """
    require_person(workplace)
    with workplace.transaction("move booking", f"booking {code}") as act:
        accept_within(act, accepting, manager_id, pin, last, workplace.today())
        looks = _extend_within(workplace, act, code, last)
        against = [words for look in looks for words in look.reasons]
        if against:
            raise Refused(strung("; ", against))
        return Extended(code, last, tuple(look.unit for look in looks))


def look_before_extending(workplace: Workplace, code: str, last: date) -> tuple[LeavingLook, ...]:
    """Every check of the units that are out on a booking, through another last day; nothing is recorded."""
    with workplace.trying("move booking", f"booking {code}") as act:
        return _extend_within(workplace, act, code, last)


def _extend_within(workplace: Workplace, act: Transaction, code: str, last: date) -> tuple[LeavingLook, ...]:
    booking, day = booking_by_code(act.session, code), day_of(workplace)
    if last <= booking.ends_on:
        raise Refused(say("last day: the hire ends on {ends_on} as it is; give a later day", ends_on=booking.ends_on))
    gone = lines_still_out(act, booking)
    if not gone:
        raise Refused(say("booking {code}: none of its units is out; hand them over first", code=code))
    move_within(act, code, booking.starts_on, last, day.today)
    return tuple(
        look_within(
            act, act.get(Unit, each.unit_id, "unit"), booking, leaving_way(each.hand_over), day,
            Leaving.EXTENSION,
        )
        for each in gone
    )  # fmt: skip
