"""Acts at the hire desk: bookings, hand-overs on three ways, swaps, returns and their details, holds and recalls."""

from collections.abc import Sequence
from datetime import date, timedelta
from random import Random

from sqlalchemy import select

from fleetbench.calc.hires.log import RunBack
from fleetbench.records.hires.tables import Booking as BookingRow
from fleetbench.records.hires.tables import BookingTerms, BookingUnit
from fleetbench.records.units.tables import Hold as HoldRow
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.hires.availability import Move, move_promise
from fleetbench.workshop.hires.booking import (
    BookingEntry,
    book,
    move_booking,
    put_unit_on,
    take_off_waiting,
)
from fleetbench.workshop.hires.edit import cancel_booking, extend_hire, look_before_extending
from fleetbench.workshop.hires.fitness import BookUnfit
from fleetbench.workshop.hires.handback import HandBackEntry, hand_back
from fleetbench.workshop.hires.handover import Accepting, Handing, hand_over, look_before
from fleetbench.workshop.hires.receive import Swapping, look_before_swap, receive, swap_items, swap_unit
from fleetbench.workshop.notices.acts import notice_done, recall_lot
from fleetbench.workshop.people.acts import change_pin, end_service, enter_person, reset_pin, see_paper, set_pin
from fleetbench.workshop.units.holds import freeze_unit, lift_hold, note_near_miss, place_hold
from tests.independent.truth import Booking, Card, Hold, Line, Person, Ticket
from tests.machine.bench_acts import note_run, tasks_of
from tests.machine.scene import ReachedError, Scene

BY_HAND = ("manual", "incident", "cell")
"""Kinds of hold that are lifted by hand; any other by what it asks for."""

WAYS = ("assembled", "assembled", "kit", "kit", "not for diving")


def lines_of(s: Scene, code: str) -> dict[str, BookingUnit]:
    """The lines of a booking by unit, as they are recorded."""
    with s.workplace.database.reading() as connection:
        query = (select(Unit.tag, BookingUnit.id, BookingUnit.diver_id).join(Unit, Unit.id == BookingUnit.unit_id)
                 .join(BookingRow, BookingRow.id == BookingUnit.booking_id)
                 .where(BookingRow.code == code, BookingUnit.received_at.is_(None),
                        BookingUnit.taken_off_at.is_(None)))  # fmt: skip
        return {tag: (key, diver) for tag, key, diver in connection.execute(query)}


def note_lines(s: Scene, code: str) -> None:
    """Put the units that are on a booking now into the truth, with their keys and divers."""
    booking = s.truth.bookings[code]
    found = lines_of(s, code)
    for tag, (key, diver) in found.items():
        line = booking.lines.get(tag)
        if line is None or line.key != key:
            booking.lines[tag] = Line(key, diver)
    for tag in [each for each, line in booking.lines.items() if line.out_at is None and each not in found]:
        del booking.lines[tag]


def manager_says(s: Scene) -> BookUnfit:
    """A manager's decision to promise what is not fit yet."""
    manager = s.staff["manager"]
    return BookUnfit("the part is on its way", manager, s.truth.people[manager].pin)


def _unfit_words(s: Scene, r: Random) -> BookUnfit | None:
    return manager_says(s) if r.random() < 0.3 else None


def overlapping(s: Scene, unit: str, first: object, last: object, without: str = "") -> list[str]:
    """Bookings on which a unit is promised on any of these days."""
    today = s.workplace.today()
    return [each.code for each in s.truth.bookings.values() if not each.cancelled and each.code != without
            for tag, line in each.lines.items() if tag == unit and line.back_at is None
            and each.first <= last and (max(each.last, today) if line.out_at else each.last) >= first]  # fmt: skip


def make_booking(s: Scene, r: Random, unit: str = "", *, now: bool = False) -> str | None:
    """A hire of a unit, or of any, from today or later; a unit that is promised is refused, an unfit one by itself."""
    today = s.workplace.today()
    first = today + timedelta(days=0 if now or r.random() < 0.5 else r.randrange(1, 12))
    last = first + timedelta(days=r.randrange(0, 4))
    units = (unit,) if unit else (r.choice(s.truth.units),) if r.random() < 0.7 else ()
    person, unfit = s.person("book", r), _unfit_words(s, r)
    waits = not s.careful and r.random() < 0.2
    against = [f"{each} is promised to {code}" for each in units for code in overlapping(s, each, first, last)]
    against += [f"{each}: {why}" for each in units for why in lasting(s, each).items() if unfit is None]
    done = s.attempt("book", person, lambda workplace: book(workplace, BookingEntry(
        kind="hire", unit_type="TYPE-L", first=first, last=last, units=units, renter_id=r.choice(s.renters),
        planned_minutes=60.0, planned_water_c=12.0, unfit=unfit,
        when_full="wait" if waits else "refuse", harnesses=("M",), last_dives=(today - timedelta(days=20),),
    )), against=() if waits else against)  # fmt: skip
    if done is None:
        return None
    if done.waiting != bool(done.why_waiting) or (against and not done.waiting):
        raise ReachedError(f"{done.code} was promised although {'; '.join(against)}")
    renter = s.value(BookingRow.renter_id, BookingRow.code == done.code)
    s.truth.bookings[done.code] = Booking(done.code, first, last, renter, waits=done.waiting, divers=(renter,))
    note_lines(s, done.code)
    return done.code


def book_several(s: Scene, r: Random, units: Sequence[str], last_in: int) -> str | None:
    """A course with two students and its instructor, or a hire of two divers, from today on."""
    today, course = s.workplace.today(), len(units) > 2
    last, person = today + timedelta(days=last_in), s.person("book", r)
    instructor = s.staff["instructor"] if course else None
    divers = s.renters if instructor is None else (*s.renters, instructor)
    against = [f"{each} is promised to {code}" for each in units for code in overlapping(s, each, today, last)]
    against += [f"{each}: {why}" for each in units for why in lasting(s, each).items()]
    done = s.attempt("book", person, lambda workplace: book(workplace, BookingEntry(
        kind="course" if course else "hire", unit_type="TYPE-L", first=today, last=last, units=tuple(units),
        renter_id=None if course else s.renters[0], instructor_id=instructor, divers=s.renters, spares=0,
        planned_minutes=60.0, planned_water_c=12.0, harnesses=("M", "M", "L"),
        last_dives=(today - timedelta(days=20),) * len(divers),
    )), against=against, named="book several")  # fmt: skip
    if done is None:
        return None
    s.truth.bookings[done.code] = Booking(done.code, today, last, s.renters[0], divers=divers)
    note_lines(s, done.code)
    return str(done.code)


def book_ahead(s: Scene, r: Random, first: date, wanted: int, *, waits: bool) -> str | None:
    """A hire of some units of the type, none of them chosen; it stands on the waiting list where it must."""
    renter = r.choice(s.renters)
    done = s.attempt("book", s.person("book", r), lambda workplace: book(workplace, BookingEntry(
        kind="hire", unit_type="TYPE-L", first=first, last=first, wanted=wanted, renter_id=renter,
        planned_minutes=60.0, when_full="wait" if waits else "refuse", unfit=None if waits else manager_says(s),
    )), named="book ahead")  # fmt: skip
    if done is None:
        return None
    s.truth.bookings[done.code] = Booking(done.code, first, first, renter, waits=done.waiting, divers=(renter,))
    s.done["book to wait"] += done.waiting
    return str(done.code)


def lasting(s: Scene, unit: str) -> dict[str, str]:
    """What makes a unit unfit for days to come, that no ordinary turn-round clears."""
    found = s.truth.unfit(unit)
    if found.get("holds") == "its turn-round is not finished" or found.get("holds", "").startswith("received"):
        found.pop("holds")
    ordinary = ("workshop calibration", "one-way valves and loop", "bailout or mouthpiece valve",
                "intermediate pressure and gas addition")  # fmt: skip
    return {check: why for check, why in found.items() if check not in ordinary}


def change_booking(s: Scene, r: Random) -> None:
    """A booking is moved, extended, cancelled, given another unit, or taken off the waiting list."""
    today = s.workplace.today()
    coming = [each for each in s.truth.bookings.values() if not each.cancelled]
    if s.likely(r):
        coming = [each for each in coming if each.last >= today and not _back(each)] or coming
    if not coming:
        make_booking(s, r)
        return
    booking = r.choice(coming)
    {"move": _move, "cancel": cancel, "put on": _put_on, "waiting": off_the_list, "extend": extend, "drag": _drag}[
        r.choice(("move", "cancel", "put on", "waiting", "extend", "extend", "drag"))
    ](s, r, booking)


def _back(booking: Booking) -> bool:
    return bool(booking.lines) and all(line.back_at is not None for line in booking.lines.values())


def _gone(booking: Booking) -> list[str]:
    return [tag for tag, line in booking.lines.items() if line.out_at is not None and line.back_at is None]


def _move(s: Scene, r: Random, booking: Booking) -> None:
    first = booking.first + timedelta(days=r.randrange(-2, 6))
    last = first + timedelta(days=r.randrange(0, 4))
    if s.likely(r):
        booking = next((each for each in s.truth.bookings.values() if not each.cancelled and not each.waits
                        and each.last >= s.workplace.today() and all(not line.out_at and not lasting(s, tag)
                                                                for tag, line in each.lines.items())),
                       booking)  # fmt: skip
        first = s.workplace.today() + timedelta(days=r.randrange(0, 40))
        last = first + timedelta(days=r.randrange(0, 2))
    against = [f"{tag} is promised to {code}" for tag, line in booking.lines.items() if line.back_at is None
               for code in overlapping(s, tag, max(first, s.workplace.today()), last, booking.code)]  # fmt: skip
    against += ["over"] if last < s.workplace.today() else []
    against += ["its units are out"] if _gone(booking) and (first != booking.first or last > booking.last) else []
    if s.attempt("move booking", s.person("move booking", r), lambda workplace: move_booking(
            workplace, booking.code, first, last, unfit=_unfit_words(s, r)), against=against):  # fmt: skip
        booking.first, booking.last = first, last


def _drag(s: Scene, r: Random, booking: Booking) -> None:
    tags = [tag for tag, line in booking.lines.items() if line.back_at is None]
    if not tags:
        return
    tag, to = r.choice(tags), r.choice(s.truth.units)
    against = ["it is out"] if tag in _gone(booking) and to != tag else []
    against += [f"{to} is promised to {code}" for code in overlapping(
        s, to, max(booking.first, s.workplace.today()), booking.last, booking.code)]  # fmt: skip
    if s.attempt("move booking", s.person("move booking", r), lambda workplace: move_promise(
            workplace, Move(booking.code, tag, to, booking.first, booking.last), unfit=_unfit_words(s, r)),
            against=against):  # fmt: skip
        note_lines(s, booking.code)


def cancel(s: Scene, r: Random, booking: Booking) -> None:
    """A booking is cancelled, unless its units are out."""
    if not s.careful and s.likely(r) and _gone(booking):
        booking = next((each for each in s.truth.bookings.values() if not each.cancelled and not each.lines), booking)
    if s.attempt("cancel booking", s.person("cancel booking", r), lambda workplace: cancel_booking(
            workplace, booking.code, reason="asked by telephone"),
                 against=("units are out",) if _gone(booking) else ()):  # fmt: skip
        booking.cancelled = True


def _put_on(s: Scene, r: Random, booking: Booking) -> None:
    tag, unfit = r.choice(s.truth.units), _unfit_words(s, r)
    free = [
        (each, unit)
        for each in s.truth.bookings.values()
        if not each.cancelled and each.last >= s.workplace.today() and not _back(each)
        for unit in s.truth.units
        if unit not in each.lines
        and not overlapping(
            s, unit, min(each.first, s.workplace.today()), max(each.last, s.workplace.today()), each.code
        )
    ]
    if free and s.likely(r):
        booking, tag = r.choice(free)
    on = tag in booking.lines and booking.lines[tag].back_at is None
    against = [f"{tag} is on it"] if on else []
    # Where all that is on it leaves not for diving, what joins it does too.
    undived = {line.way for line in booking.lines.values()} == {"not for diving"}
    against += [] if unfit or undived else [f"{tag}: {why}" for why in lasting(s, tag).items()]
    days = max(booking.first, min(s.workplace.today(), booking.last)), max(booking.last, s.workplace.today())
    against += [f"{tag} is promised to {code}" for code in overlapping(s, tag, *days, booking.code)]
    if s.attempt("put unit on booking", s.person("put unit on booking", r),
                 lambda w: put_unit_on(w, booking.code, tag, unfit=unfit), against=against):  # fmt: skip
        note_lines(s, booking.code)
        booking.waits = _still_waits(s, booking.code)


def _still_waits(s: Scene, code: str) -> bool:
    key = s.value(BookingRow.id, BookingRow.code == code)
    return s.value(BookingTerms.waiting_since, BookingTerms.booking_id == key) is not None


def off_the_list(s: Scene, r: Random, booking: Booking) -> None:
    """A booking, mostly one that waits, is taken off the waiting list where enough units are free."""
    waits = [each for each in s.truth.bookings.values() if each.waits and not each.cancelled]
    booking = r.choice(waits) if waits and not booking.waits else booking
    if s.attempt("take off waiting list", s.person("take off waiting list", r),
                 lambda workplace: (take_off_waiting(workplace, booking.code), True),
                 against=() if booking.waits else ("does not wait",)):  # fmt: skip
        booking.waits = False


def _against_longer(s: Scene, booking: Booking, last: date) -> list[str]:
    gone = _gone(booking)
    against = [] if gone else ["none is out"]
    against += [f"{tag}: {why}" for tag in gone if booking.lines[tag].way != "not for diving"
                for why in s.truth.unfit(tag).items()]  # fmt: skip
    return against + [f"{tag} is promised to {code}" for tag in gone
                      for code in overlapping(s, tag, s.workplace.today(), last, booking.code)]  # fmt: skip


def extend(s: Scene, r: Random, booking: Booking | None = None) -> None:
    """A hire whose units are out is made longer; refused where one of them is not fit, or promised to others."""
    days = 1 if s.careful else r.randrange(1, 4)
    out = [each for each in s.truth.bookings.values() if _gone(each)]
    sound = [each for each in out if not _against_longer(
        s, each, max(each.last, s.workplace.today()) + timedelta(days=days))]  # fmt: skip
    if out or booking is None:
        booking = r.choice(sound if sound and s.likely(r) else out or list(s.truth.bookings.values()))
    last = max(booking.last, s.workplace.today()) + timedelta(days=days)
    against = _against_longer(s, booking, last)
    person = s.person("move booking", r)
    try:
        looks = look_before_extending(s.workplace.as_person(person), booking.code, last)
    except Exception:
        looks = ()
    accepting = [Accepting(look.unit, check, last, "seen") for look in looks for check in look.to_accept]
    if s.attempt("move booking", person, lambda workplace: extend_hire(
            workplace, booking.code, last, accepting=accepting, **manager(s)), against=against,
            named="extend hire"):  # fmt: skip
        booking.last = last


def manager(s: Scene) -> dict[str, object]:
    """The manager by PIN."""
    return {"manager_id": s.staff["manager"], "pin": s.truth.people[s.staff["manager"]].pin}


def hand(s: Scene, r: Random, code: str = "", tag: str = "", way: str = "") -> None:
    """A unit leaves on a booking, on one of three ways; advices are accepted by the manager."""
    today = s.workplace.today()
    begun = [(each, each_tag) for each in s.truth.bookings.values() if not each.cancelled
             and each.first <= today for each_tag, line in each.lines.items() if line.out_at is None]  # fmt: skip
    if not code:
        if not begun:
            made = make_booking(s, r, now=True)
            if made is None or not s.truth.bookings[made].lines:
                return
            begun = [(s.truth.bookings[made], next(iter(s.truth.bookings[made].lines)))]
        booking, tag = r.choice(begun)
    else:
        booking = s.truth.bookings[code]
    hand_all(s, r, booking, (tag,), way)


def hand_all(s: Scene, r: Random, booking: Booking, tags: Sequence[str], way: str = "") -> bool:
    """Units of one booking leave in one act, each with a diver of its own; all of them, or none."""
    way, person, today = way or r.choice(WAYS), s.person("hand over", r), s.workplace.today()
    left = [each for each in booking.divers if each not in {line.diver for line in booking.lines.values()}]
    handings, thrown, against, accepting = [], [], [], []
    last = max(booking.last, today)
    for tag in tags:
        line = booking.lines[tag]
        own = line.diver if line.diver is not None else left.pop(0) if left else booking.renter
        diver = r.choice(s.renters) if not s.careful and r.random() < 0.1 else own
        fill = s.truth.fill_in(tag)
        throw = fill is not None and way == "kit" and r.random() < 0.4
        handing = Handing(unit=tag, kind=way, diver_id=diver, harness="M", accessories=4, absorbent_kg=30.0,
                          fill_discarded=throw)  # fmt: skip
        if fill and throw:
            thrown.append((tag, fill[1]))
            fill[1].gone = True
        handings.append(handing)
        against += [f"{tag}: {why}" for why in s.truth.not_for(tag, way, diver).items()]
        against += [f"{tag} is out"] if s.truth.out(tag) else []
        look = look_before(s.workplace.as_person(person), tag, booking.code, way, handing.along)
        accepting += [Accepting(tag, check, last, "looked at it") for check in look.to_accept]
    against += ["cancelled"] if booking.cancelled else ["begins later"] if booking.first > today else []
    done = s.attempt("hand over", person, lambda workplace: hand_over(
        workplace, booking.code, handings, accepting=accepting, **manager(s)), against=against)  # fmt: skip
    if done is None:
        for _, one in thrown:
            one.gone = False
        return False
    s.done[f"hand over as {way}"] += 1
    s.done["hand over several"] += len(tags) > 1
    s.truth.emptied |= {tag: s.truth.now for tag, _ in thrown}
    for handing in handings:
        line = booking.lines[handing.unit]
        line.out_at, line.way, line.diver = s.truth.now, way, handing.diver_id
    return True


def bring_back(s: Scene, r: Random, tag: str = "") -> None:
    """A unit that is out comes back, now and then flooded or with a fault; one that is here does not."""
    out = [each for each in s.truth.units if s.truth.out(each)]
    tag = tag or r.choice(out if out and r.random() < 0.9 else s.truth.units)
    flooded, fault, missing = r.random() < 0.1, r.random() < 0.1, r.random() < 0.1
    found = s.truth.out(tag)
    person = s.person("receive", r)
    call = lambda w: receive(w, tag, wet=True, flooded=flooded, fault=fault, missing=missing)  # noqa: E731
    frozen = s.truth.frozen(tag)
    if found is None or frozen:
        done = s.attempt("receive", person, call, against=() if found else ("it is not out",))
    else:
        done = s.must("receive", person, call)
    if done is not None and found is not None:
        note_back(s, tag, found[1], flooded=flooded, critical=flooded or fault, ticket=done.ticket_id)


def note_back(s: Scene, tag: str, line: Line, *, flooded: bool, critical: bool, ticket: int | None) -> None:
    """A return as the truth keeps it: on hold, its card begun, its fill wet where it was flooded."""
    line.back_at = s.truth.returned[tag] = s.truth.now
    fill = s.truth.fill_in(tag)
    if flooded and fill:
        fill[1].wet = True
    note_card(s, tag, flooded=flooded)
    if ticket is not None:
        s.truth.tickets[ticket] = Ticket(tag, critical, s.truth.now, tasks_of(s.workplace, ticket))


def note_card(s: Scene, tag: str, *, flooded: bool) -> None:
    """The card that a return or hands opened, or began again."""
    open_now = s.truth.open_card(tag)
    if open_now is not None:
        open_now[1].opened, open_now[1].ticked = s.truth.now, {}
        open_now[1].flooded = s.truth.now if flooded else open_now[1].flooded
    else:
        s.truth.cards[s.newest_card(tag)] = Card(tag, s.truth.now, s.truth.now if flooded else None)
    note_holds(s)


def note_holds(s: Scene) -> list[int]:
    """Holds that were placed since they were last read."""
    with s.workplace.database.reading() as connection:
        tags = dict(connection.execute(select(Unit.id, Unit.tag)).all())
        rows = connection.execute(select(HoldRow.id, HoldRow.kind, HoldRow.unit_id, HoldRow.part_id).where(
            HoldRow.lifted_at.is_(None))).all()  # fmt: skip
    new = [row for row in rows if row[0] not in s.truth.holds]
    for key, kind, unit_id, part_id in new:
        s.truth.holds[key] = Hold(kind, tags.get(unit_id, ""), s.serials.get(part_id, "") or "")
    return [row[0] for row in new]


def details(s: Scene, r: Random) -> None:
    """The details of a return: its minutes, its runs, what was found."""
    lines = [(each, tag, line) for each in s.truth.bookings.values() for tag, line in each.lines.items()
             if line.out_at is not None]  # fmt: skip
    lines = [each for each in lines if each[2].back_at and not each[2].detailed] or lines
    if not lines:
        return
    _booking, tag, line = r.choice(lines)
    fill = s.truth.fill_in(tag)
    mine = fill if fill and line.back_at and fill[1].packed_at < line.back_at else None
    minutes, runs, earliest = 0.0, (), None
    if mine and line.back_at and line.out_at and r.random() < 0.7:
        minutes = float(r.choice((30, 60, 100)))
        room = (line.back_at - max(line.out_at, mine[1].packed_at)).total_seconds() / 60
        begun = line.back_at - timedelta(minutes=minutes) if r.random() < 0.5 and room > minutes else None
        runs = (RunBack(minutes=minutes, fill_id=mine[0], started_at=begun),)
        earliest = begun or max(mine[1].packed_at, line.out_at)
    faults = "breathes hard" if r.random() < 0.1 else ""
    against = [] if line.back_at else ["not received yet"]
    against += ["noted already"] if line.detailed else []
    done = s.attempt("hand back", s.person("hand back", r), lambda workplace: hand_back(
        workplace, [HandBackEntry(line_id=line.key, runs=runs, faults=faults)]), against=against)  # fmt: skip
    if done is None:
        return
    line.detailed = True
    if runs and mine and done[0].runs:
        note_run(s, mine[1], minutes, earliest, line.diver)
    if mine and not s.truth.frozen(tag) and mine[1].line in (None, line.key):
        mine[1].gone = True
    if done[0].ticket_id is not None and done[0].ticket_id not in s.truth.tickets:
        s.truth.tickets[done[0].ticket_id] = Ticket(
            tag, bool(faults), s.truth.now, tasks_of(s.workplace, done[0].ticket_id)
        )
    elif done[0].ticket_id is not None and faults:
        s.truth.tickets[done[0].ticket_id].critical = True


def swap(s: Scene, r: Random, failed: str = "", other: str = "", way: str | None = None) -> None:
    """A unit fails with its diver and another goes out in its place, from the shelf or as a spare."""
    out = [each for each in s.truth.units if s.truth.out(each)]
    if not out:
        return
    failed, other = failed or r.choice(out), other or r.choice(s.truth.units)
    found = s.truth.out(failed)
    if found is None or other == failed:
        return
    booking, line = found
    way = r.choice(("assembled", "kit", "")) if way is None else way
    person = s.person("swap unit", r)
    canisters = [each.key for each in swap_items(s.workplace, failed, other) if each.name == "canister"]
    exchanged = frozenset(canisters) if canisters and not s.careful and r.random() < 0.6 else frozenset()
    swapping = Swapping(failed=failed, instead=other, reason="cell 2 jumps", exchanged=exchanged, kind=way or None)
    mine = booking.lines.get(other)
    leaves = way or (mine.way if mine else "") or line.way or "assembled"
    seats = [(s.truth.sits(each, "canister"), then) for each, then in ((failed, other), (other, failed))]
    if exchanged:
        _seat_canisters(seats)
    taken = s.truth.out(other)
    against = ["it is out with another"] if taken and (taken[0] is not booking or taken[1].diver is not None) else []
    s.truth.now = s.clock() + timedelta(minutes=1)
    against += [f"{other}: {why}" for why in s.truth.not_for(other, leaves, line.diver).items()]
    against += [f"{other} is promised to {code}" for code in overlapping(
        s, other, s.workplace.today(), max(booking.last, s.workplace.today()), booking.code)]  # fmt: skip
    try:
        look = look_before_swap(s.workplace.as_person(person), swapping).to_accept
    except Exception:
        look = ()
    last = max(booking.last, s.workplace.today())
    accepting = [Accepting(other, check, last, "seen") for check in look]
    done = s.attempt("swap unit", person, lambda workplace: swap_unit(
        workplace, swapping, accepting=accepting, **manager(s)), against=against)  # fmt: skip
    if done is None:
        if exchanged:
            _seat_canisters([(part, failed if then == other else other) for part, then in seats])
        return
    note_back(s, failed, line, flooded=False, critical=True, ticket=done.ticket_id)
    note_lines(s, booking.code)
    new = booking.lines[other]
    new.diver, new.out_at = line.diver, new.out_at or s.truth.now
    new.way = leaves if taken is None else new.way


def _seat_canisters(seats: list[tuple[object, str]]) -> None:
    for part, host in seats:
        if part is not None:
            part.host = host


# holds, incidents, recalls, people


def hold(s: Scene, r: Random) -> None:
    """A hold is placed by hand."""
    tag = r.choice(s.truth.units)
    done = s.attempt(
        "place hold", s.person("place hold", r), lambda workplace: place_hold(workplace, tag, "strap torn")
    )
    if done is not None:
        s.truth.holds[done] = Hold("manual", tag)


def incident(s: Scene, r: Random) -> None:
    """An incident freezes a unit and what was packed or filled beside it."""
    tag = r.choice(s.truth.units)
    against = ("frozen already",) if s.truth.frozen(tag) else ()
    done = s.attempt("place hold", s.person("place hold", r), lambda workplace: freeze_unit(
        workplace, tag, "diver felt unwell"), against=against, named="freeze unit")  # fmt: skip
    if done is not None and done.hold_id not in note_holds(s):
        raise ReachedError(f"the incident of {tag} holds nothing")


def near_miss(s: Scene, r: Random) -> int:
    """Something that could have hurt: a ticket that holds, and that two must sign."""
    tag = r.choice(s.truth.units)
    done = s.attempt(
        "near miss", s.person("near miss", r), lambda workplace: note_near_miss(workplace, tag, "wrong switch")
    )
    if done is not None:
        tasks = tasks_of(s.workplace, done)
        s.truth.tickets[done] = Ticket(tag, True, s.truth.now, tasks, second=set(tasks))
    return done or 0


def lift(s: Scene, r: Random, key: int = 0) -> None:
    """A hold is lifted by somebody who may, where it is lifted by hand."""
    if not s.truth.holds:
        return
    by_hand = [each for each, what in sorted(s.truth.holds.items()) if what.kind in BY_HAND]
    key = key or r.choice(by_hand if by_hand and s.likely(r) else sorted(s.truth.holds))
    what = s.truth.holds[key]
    act = "lift incident hold" if what.kind == "incident" else "lift hold"
    against = () if what.kind in BY_HAND else (f"a {what.kind} hold is lifted by its own work",)
    if s.attempt(act, s.person(act, r), lambda workplace: lift_hold(workplace, key, "looked at it"), against=against):
        del s.truth.holds[key]


def recall(s: Scene, r: Random, lot: str = "") -> str:
    """A lot is recalled: everything that carries it is held."""
    known = [each.lot for each in s.truth.parts.values() if each.lot and each.lot[1:].isdigit() and len(each.lot) > 2]
    fresh = [each for each in known if each not in s.truth.recalls.values()]
    wide = r.choice(("L0", "L9", "L1", "L3", "F-1", "F-2"))
    lot = lot or (r.choice(fresh) if fresh and r.random() < 0.85 else wide)
    number = f"RECALL {lot}"
    against = ("recalled already",) if number in s.truth.recalls else ()
    now = [unit for unit in s.truth.units if lot in s.truth.lots_in(unit)]
    done = s.attempt("record notice", s.person("record notice", r),
                     lambda workplace: recall_lot(workplace, lot, "may fail"), against=against)  # fmt: skip
    if done is None:
        return ""
    s.truth.recalls[number] = lot
    for key in note_holds(s):
        s.truth.holds[key].notice = number
    held = {each.unit for each in s.truth.holds.values() if each.notice == number}
    if set(now) - held:
        raise ReachedError(f"{number} left {sorted(set(now) - held)} free, which carry it")
    return number


def notice(s: Scene, r: Random, number: str = "", tag: str = "") -> None:
    """A recall's action is done on a unit; holds on the parts stay."""
    if not s.truth.recalls:
        return
    open_ones = [(each, unit) for each, lot in s.truth.recalls.items() for unit in s.truth.units
                 if (each, unit) not in s.truth.notices_done and lot in s.truth.lots_in(unit)]  # fmt: skip
    if open_ones and not number and s.likely(r):
        number, tag = r.choice(open_ones)
    number, tag = number or r.choice(sorted(s.truth.recalls)), tag or r.choice(s.truth.units)
    against = ("done already",) if (number, tag) in s.truth.notices_done else ()
    done = s.attempt("notice done", s.person("notice done", r),
                     lambda workplace: (notice_done(workplace, number, tag),), against=against)  # fmt: skip
    if done is None:
        return
    s.truth.notices_done.add((number, tag))
    for key in done[0]:
        lifted = s.truth.holds.pop(key)
        if (lifted.notice, lifted.unit) != (number, tag):
            raise ReachedError(f"{number} done on {tag} lifted {lifted}")


def people(s: Scene, r: Random) -> None:
    """Somebody is entered, leaves, changes to another role, gets or changes a PIN, or has a paper seen."""
    {"enter": enter, "leave": leave, "role": change_role, "PIN": _change_pin, "reset": _reset, "paper": see}[
        r.choice(("enter", "leave", "role", "PIN", "PIN", "reset", "reset", "paper"))
    ](s, r)


def extra(s: Scene) -> list[int]:
    """Staff who came later."""
    return [key for key, one in s.truth.people.items() if key not in (*s.staff.values(), *s.renters) and one.active]


def enter(s: Scene, r: Random, role: str = "") -> int:
    """Somebody new; mostly with a PIN, which is set beside the manager."""
    code, role = f"S{len(s.truth.people)}", role or r.choice(("technician", "instructor", "manager"))
    boss = s.staff["manager"]
    done = s.attempt("enter staff", s.person("enter staff", r),
                     lambda workplace: enter_person(workplace, code, role, f"Invented {code}"))  # fmt: skip
    if done is None:
        return 0
    s.truth.people[done] = Person(role)
    pin = s.truth.people[boss].pin if s.likely(r) else "000000"
    if s.attempt("set PIN", boss, lambda workplace: set_pin(workplace, done, "3579", manager_id=boss, manager_pin=pin),
                 against=() if pin != "000000" else ("the manager's PIN is wrong",)):  # fmt: skip
        s.truth.people[done].pin = "3579"
    else:
        s.clock.advance(hours=2)
    return int(done)


def see(s: Scene, r: Random, key: int = 0) -> None:
    """A technician's paper is seen by a manager, never by its owner where there is another."""
    staff = [each for each, one in s.truth.people.items() if one.role != "renter"]
    key = key or r.choice(extra(s) or staff)
    person, managers = s.person("see staff papers", r), [o for o in s.truth.people.values() if o.role == "manager"]
    against = ("of their own",) if person == key and sum(each.active for each in managers) > 1 else ()
    if s.attempt("see staff papers", person, lambda workplace: see_paper(
            workplace, key, "technician", unit_type="TYPE-L", seen_on=s.workplace.today(), valid_until=None),
            against=against):  # fmt: skip
        s.truth.people[key].papers = True


def leave(s: Scene, r: Random, key: int = 0) -> None:
    """Somebody who came later leaves; the last manager does not."""
    others = extra(s)
    key = key or (r.choice(others) if others and r.random() < 0.8 else s.staff["manager"])
    last = [each for each, one in s.truth.people.items() if one.role == "manager" and one.active] == [key]
    if key in s.staff.values() and not last:
        return
    if s.attempt("end service", s.person("end service", r), lambda workplace: end_service(workplace, key),
                 against=("the last manager",) if last else ()):  # fmt: skip
        s.truth.people[key].active = False


def change_role(s: Scene, r: Random) -> None:
    """Somebody takes another role: they are entered again under another code, and the first entry ends."""
    others = extra(s)
    old = r.choice(others) if others else enter(s, r)
    if not old:
        return
    roles = [role for role in ("technician", "instructor", "manager") if role != s.truth.people[old].role]
    if not enter(s, r, r.choice(roles)):
        return
    leave(s, r, old)
    s.done["change role"] += not s.truth.people[old].active


def _change_pin(s: Scene, r: Random) -> None:
    key = s.staff["technician"]
    old = s.truth.people[key].pin
    new, said = r.choice(("1357", "8642")), old if r.random() < 0.8 else "000000"
    against = [] if said == old and old else ["the old one is wrong"]
    if s.attempt("change PIN", key, lambda workplace: change_pin(workplace, key, said, new), against=against):
        s.truth.people[key].pin = new


def _reset(s: Scene, r: Random) -> None:
    key, boss = s.staff["technician"], s.staff["manager"]
    pin = s.truth.people[boss].pin
    if s.attempt(
        "reset PIN", s.person("reset PIN", r, wrong=0.0), lambda workplace: reset_pin(workplace, key, pin=pin)
    ):
        s.truth.people[key].pin = ""
        s.clock.advance(hours=2)
        if s.attempt(
            "set PIN", boss, lambda workplace: set_pin(workplace, key, "1357", manager_id=boss, manager_pin=pin)
        ):
            s.truth.people[key].pin = "1357"
