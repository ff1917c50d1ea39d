"""Acts at the hire desk: bookings, hand-overs on three ways, swaps, returns and their details, holds and recalls."""

from datetime import timedelta
from functools import partial
from random import Random

from sqlalchemy import select

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
from fleetbench.workshop.hires.edit import cancel_booking
from fleetbench.workshop.hires.extend import extend_hire, look_before_extending
from fleetbench.workshop.hires.fitness import BookUnfit
from fleetbench.workshop.hires.handback import HandBackEntry, RunBack, hand_back
from fleetbench.workshop.hires.handover import Accepting, Handing, hand_over, look_before
from fleetbench.workshop.hires.receive import Swapping, look_before_swap, receive, swap_items, swap_unit
from fleetbench.workshop.notices.acts import notice_done, recall_lot
from fleetbench.workshop.people.acts import change_pin, end_service, enter_person, reset_pin, set_pin
from fleetbench.workshop.units.holds import freeze_unit, lift_hold, note_near_miss, place_hold
from tests.independent.truth import Booking, Card, Hold, Line, Person, Ticket
from tests.machine.bench_acts import note_run, tasks_of
from tests.machine.scene import ReachedError, Scene

WAYS = ("assembled", "assembled", "kit", "kit", "not for diving")


def lines_of(s: Scene, code: str) -> dict[str, BookingUnit]:
    """The lines of a booking by unit, as they are recorded."""
    with s.shop.database.reading() as connection:
        query = (select(Unit.tag, BookingUnit.id, BookingUnit.diver_id).join(Unit, Unit.id == BookingUnit.unit_id)
                 .join(BookingRow, BookingRow.id == BookingUnit.booking_id)
                 .where(BookingRow.code == code, BookingUnit.received_at.is_(None)))  # fmt: skip
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


def _unfit_words(s: Scene, r: Random) -> BookUnfit | None:
    manager = s.staff["manager"]
    return BookUnfit("the part is on its way", manager, s.truth.people[manager].pin) if r.random() < 0.3 else None


def overlapping(s: Scene, unit: str, first: object, last: object, without: str = "") -> list[str]:
    """Bookings on which a unit is promised on any of these days."""
    today = s.shop.today()
    return [each.code for each in s.truth.bookings.values() if not each.cancelled and each.code != without
            for tag, line in each.lines.items() if tag == unit and line.back_at is None
            and each.first <= last and (max(each.last, today) if line.out_at else each.last) >= first]  # fmt: skip


def make_booking(s: Scene, r: Random, unit: str = "", *, now: bool = False) -> str | None:
    """A hire of a unit, or of any, from today or later; a unit that is promised is refused, an unfit one by itself."""
    today = s.shop.today()
    first = today + timedelta(days=0 if now or r.random() < 0.5 else r.randrange(1, 12))
    last = first + timedelta(days=r.randrange(0, 4))
    units = (unit,) if unit else (r.choice(s.truth.units),) if r.random() < 0.7 else ()
    person, unfit = s.person("book", r), _unfit_words(s, r)
    waits = not s.careful and r.random() < 0.2
    against = [f"{each} is promised to {code}" for each in units for code in overlapping(s, each, first, last)]
    against += [f"{each}: {why}" for each in units for why in lasting(s, each).items() if unfit is None]
    done = s.attempt("book", person, lambda shop: book(shop, BookingEntry(
        kind="hire", unit_type="TYPE-L", first=first, last=last, units=units, renter_id=r.choice(s.renters),
        planned_minutes=60.0, planned_water_c=12.0, unfit=unfit,
        when_full="wait" if waits else "refuse", harnesses=("M",), last_dives=(today - timedelta(days=20),),
    )), against=() if waits else against)  # fmt: skip
    if done is None:
        return None
    if done.waiting != bool(done.why_waiting) or (against and not done.waiting):
        raise ReachedError(f"{done.code} was promised although {'; '.join(against)}")
    renter = s.value(BookingRow.renter_id, BookingRow.code == done.code)
    s.truth.bookings[done.code] = Booking(done.code, first, last, renter, waits=done.waiting)
    note_lines(s, done.code)
    return done.code


def lasting(s: Scene, unit: str) -> dict[str, str]:
    """What makes a unit unfit for days to come, that no ordinary turn-round clears."""
    found = s.truth.unfit(unit)
    if found.get("holds") == "its turn-round is not finished" or found.get("holds", "").startswith("received"):
        found.pop("holds")
    ordinary = ("workshop calibration", "one-way valves and loop", "bailout or mouthpiece valve")
    return {check: why for check, why in found.items() if check not in ordinary}


def change_booking(s: Scene, r: Random) -> None:
    """A booking is moved, extended, cancelled, given another unit, or taken off the waiting list."""
    coming = [each for each in s.truth.bookings.values() if not each.cancelled]
    if not coming:
        make_booking(s, r)
        return
    booking = r.choice(coming)
    {"move": _move, "cancel": _cancel, "put on": _put_on, "waiting": _waiting, "extend": _extend, "drag": _drag}[
        r.choice(("move", "cancel", "put on", "waiting", "extend", "extend", "drag"))
    ](s, r, booking)


def _gone(booking: Booking) -> list[str]:
    return [tag for tag, line in booking.lines.items() if line.out_at is not None and line.back_at is None]


def _move(s: Scene, r: Random, booking: Booking) -> None:
    first = booking.first + timedelta(days=r.randrange(-2, 6))
    last = first + timedelta(days=r.randrange(0, 4))
    against = [f"{tag} is promised to {code}" for tag, line in booking.lines.items() if line.back_at is None
               for code in overlapping(s, tag, max(first, s.shop.today()), last, booking.code)]  # fmt: skip
    against += ["over"] if last < s.shop.today() else []
    against += ["its units are out"] if _gone(booking) and (first != booking.first or last > booking.last) else []
    if s.attempt("move booking", s.person("move booking", r), lambda shop: move_booking(
            shop, booking.code, first, last, unfit=_unfit_words(s, r)), against=against):  # fmt: skip
        booking.first, booking.last = first, last


def _drag(s: Scene, r: Random, booking: Booking) -> None:
    tags = [tag for tag, line in booking.lines.items() if line.back_at is None]
    if not tags:
        return
    tag, to = r.choice(tags), r.choice(s.truth.units)
    against = ["it is out"] if tag in _gone(booking) and to != tag else []
    against += [f"{to} is promised to {code}" for code in overlapping(
        s, to, max(booking.first, s.shop.today()), booking.last, booking.code)]  # fmt: skip
    if s.attempt("move booking", s.person("move booking", r), lambda shop: move_promise(
            shop, Move(booking.code, tag, to, booking.first, booking.last), unfit=_unfit_words(s, r)),
            against=against):  # fmt: skip
        note_lines(s, booking.code)


def _cancel(s: Scene, r: Random, booking: Booking) -> None:
    cancel = partial(cancel_booking, code=booking.code, reason="asked by telephone")
    if s.attempt("cancel booking", s.person("cancel booking", r), cancel,
                 against=("units are out",) if _gone(booking) else ()):  # fmt: skip
        booking.cancelled = True


def _put_on(s: Scene, r: Random, booking: Booking) -> None:
    tag = r.choice(s.truth.units)
    unfit = _unfit_words(s, r)
    on = tag in booking.lines and booking.lines[tag].back_at is None
    against = [f"{tag} is on it"] if on else []
    against += [] if unfit else [f"{tag}: {why}" for why in lasting(s, tag).items()]
    days = max(booking.first, min(s.shop.today(), booking.last)), max(booking.last, s.shop.today())
    against += [f"{tag} is promised to {code}" for code in overlapping(s, tag, *days, booking.code)]
    if s.attempt("put unit on booking", s.person("put unit on booking", r),
                 lambda shop: put_unit_on(shop, booking.code, tag, unfit=unfit), against=against):  # fmt: skip
        note_lines(s, booking.code)
        booking.waits = _still_waits(s, booking.code)


def _still_waits(s: Scene, code: str) -> bool:
    key = s.value(BookingRow.id, BookingRow.code == code)
    return s.value(BookingTerms.waiting_since, BookingTerms.booking_id == key) is not None


def _waiting(s: Scene, r: Random, booking: Booking) -> None:
    waits = [each for each in s.truth.bookings.values() if each.waits and not each.cancelled]
    booking = r.choice(waits) if waits else booking
    if s.attempt("take off waiting line", s.person("take off waiting line", r),
                 lambda shop: (take_off_waiting(shop, booking.code), True),
                 against=() if booking.waits else ("does not wait",)):  # fmt: skip
        booking.waits = False


def _extend(s: Scene, r: Random, booking: Booking) -> None:
    out = [each for each in s.truth.bookings.values() if _gone(each)]
    booking = r.choice(out) if out else booking
    last = max(booking.last, s.shop.today()) + timedelta(days=r.randrange(1, 4))
    gone = _gone(booking)
    against = [] if gone else ["none is out"]
    against += [f"{tag}: {why}" for tag in gone if booking.lines[tag].way != "not for diving"
                for why in s.truth.unfit(tag).items()]  # fmt: skip
    person = s.person("move booking", r)
    try:
        looks = look_before_extending(s.shop.as_person(person), booking.code, last)
    except Exception:
        looks = ()
    accepting = [Accepting(look.unit, check, last, "seen") for look in looks for check in look.to_accept]
    if s.attempt("move booking", person, lambda shop: extend_hire(
            shop, booking.code, last, accepting=accepting, **manager(s)), against=against):  # fmt: skip
        booking.last = last


def manager(s: Scene) -> dict[str, object]:
    """The manager by PIN."""
    return {"manager_id": s.staff["manager"], "pin": s.truth.people[s.staff["manager"]].pin}


def hand(s: Scene, r: Random, code: str = "", tag: str = "", way: str = "") -> None:
    """A unit leaves on a booking, on one of three ways; advices are accepted by the manager."""
    today = s.shop.today()
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
    way, person = way or r.choice(WAYS), s.person("hand over", r)
    line = booking.lines[tag]
    other = not s.careful and r.random() < 0.1
    diver = r.choice(s.renters) if other else line.diver if line.diver is not None else booking.renter
    throw = s.truth.fill_in(tag) is not None and way == "kit" and r.random() < 0.4
    handing = Handing(unit=tag, kind=way, diver_id=diver, harness="M", accessories=4, absorbent_kg=30.0,
                      fill_discarded=throw)  # fmt: skip
    fill = s.truth.fill_in(tag)
    if throw and fill:
        fill[1].gone = True
    against = [f"{tag}: {why}" for why in s.truth.not_for(tag, way, diver).items()]
    against += ["it is out"] if s.truth.out(tag) else []
    against += ["cancelled"] if booking.cancelled else ["begins later"] if booking.first > today else []
    look = look_before(s.shop.as_person(person), tag, booking.code, way, handing.along)
    last = max(booking.last, today)
    accepting = [Accepting(tag, check, last, "looked at it") for check in look.to_accept]
    done = s.attempt("hand over", person, lambda shop: hand_over(
        shop, booking.code, [handing], accepting=accepting, **manager(s)), against=against)  # fmt: skip
    if done is None:
        if throw and fill:
            fill[1].gone = False
        return
    s.done[f"hand over as {way}"] += 1
    if throw:
        s.truth.emptied[tag] = s.truth.now
    line.out_at, line.way, line.diver = s.truth.now, way, diver


def bring_back(s: Scene, r: Random, tag: str = "") -> None:
    """A unit that is out comes back, now and then flooded or with a fault; one that is here does not."""
    out = [each for each in s.truth.units if s.truth.out(each)]
    tag = tag or r.choice(out if out and r.random() < 0.9 else s.truth.units)
    flooded, fault, missing = r.random() < 0.1, r.random() < 0.1, r.random() < 0.1
    found = s.truth.out(tag)
    person = s.person("receive", r)
    call = lambda shop: receive(shop, tag, wet=True, flooded=flooded, fault=fault, missing=missing)  # noqa: E731
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
        s.truth.tickets[ticket] = Ticket(tag, critical, s.truth.now, tasks_of(s.shop, ticket))


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
    with s.shop.database.reading() as connection:
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
    done = s.attempt("hand back", s.person("hand back", r), lambda shop: hand_back(
        shop, [HandBackEntry(line_id=line.key, runs=runs, faults=faults)]), against=against)  # fmt: skip
    if done is None:
        return
    line.detailed = True
    if runs and mine and done[0].runs:
        note_run(s, mine[1], minutes, earliest, line.diver)
    if mine and not s.truth.frozen(tag) and mine[1].line in (None, line.key):
        mine[1].gone = True
    if done[0].ticket_id is not None and done[0].ticket_id not in s.truth.tickets:
        s.truth.tickets[done[0].ticket_id] = Ticket(tag, bool(faults), s.truth.now, tasks_of(s.shop, done[0].ticket_id))
    elif done[0].ticket_id is not None and faults:
        s.truth.tickets[done[0].ticket_id].critical = True


def swap(s: Scene, r: Random) -> None:
    """A unit fails with its diver and another goes out in its place, from the shelf or as a spare."""
    out = [each for each in s.truth.units if s.truth.out(each)]
    if not out:
        return
    failed, other = r.choice(out), r.choice(s.truth.units)
    found = s.truth.out(failed)
    if found is None or other == failed:
        return
    booking, line = found
    way = r.choice(("assembled", "kit", ""))
    person = s.person("swap unit", r)
    canisters = [each.key for each in swap_items(s.shop, failed, other) if each.name == "canister"]
    exchanged = frozenset(canisters) if canisters and r.random() < 0.6 else frozenset()
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
        s, other, s.shop.today(), max(booking.last, s.shop.today()), booking.code)]  # fmt: skip
    try:
        look = look_before_swap(s.shop.as_person(person), swapping).to_accept
    except Exception:
        look = ()
    last = max(booking.last, s.shop.today())
    accepting = [Accepting(other, check, last, "seen") for check in look]
    done = s.attempt("swap unit", person, lambda shop: swap_unit(
        shop, swapping, accepting=accepting, **manager(s)), against=against)  # fmt: skip
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
    done = s.attempt("place hold", s.person("place hold", r), lambda shop: place_hold(shop, tag, "strap torn"))
    if done is not None:
        s.truth.holds[done] = Hold("manual", tag)


def incident(s: Scene, r: Random) -> None:
    """An incident freezes a unit and what was packed or filled beside it."""
    tag = r.choice(s.truth.units)
    against = ("frozen already",) if s.truth.frozen(tag) else ()
    done = s.attempt("place hold", s.person("place hold", r),
                     lambda shop: freeze_unit(shop, tag, "diver felt unwell"), against=against)  # fmt: skip
    if done is not None and done.hold_id not in note_holds(s):
        raise ReachedError(f"the incident of {tag} holds nothing")


def near_miss(s: Scene, r: Random) -> None:
    """Something that could have hurt: a ticket that holds."""
    tag = r.choice(s.truth.units)
    done = s.attempt("near miss", s.person("near miss", r), lambda shop: note_near_miss(shop, tag, "wrong switch"))
    if done is not None:
        s.truth.tickets[done] = Ticket(tag, True, s.truth.now, tasks_of(s.shop, done))


def lift(s: Scene, r: Random, key: int = 0) -> None:
    """A hold is lifted by somebody who may, where it is lifted by hand."""
    if not s.truth.holds:
        return
    key = key or r.choice(sorted(s.truth.holds))
    what = s.truth.holds[key]
    act = "lift incident hold" if what.kind == "incident" else "lift hold"
    against = () if what.kind in ("manual", "incident") else (f"a {what.kind} hold is lifted by its own work",)
    if s.attempt(act, s.person(act, r), lambda shop: lift_hold(shop, key, "looked at it"), against=against):
        del s.truth.holds[key]


def recall(s: Scene, r: Random) -> None:
    """A lot is recalled: everything that carries it is held."""
    lot = r.choice(("L0", "L9", "L1", "L3", "F-1", "F-2"))
    number = f"RECALL {lot}"
    against = ("recalled already",) if number in s.truth.recalls else ()
    now = [unit for unit in s.truth.units if lot in s.truth.lots_in(unit)]
    done = s.attempt("record notice", s.person("record notice", r),
                     lambda shop: recall_lot(shop, lot, "may fail"), against=against)  # fmt: skip
    if done is None:
        return
    s.truth.recalls[number] = lot
    for key in note_holds(s):
        s.truth.holds[key].notice = number
    held = {each.unit for each in s.truth.holds.values() if each.notice == number}
    if set(now) - held:
        raise ReachedError(f"{number} left {sorted(set(now) - held)} free, which carry it")


def notice(s: Scene, r: Random) -> None:
    """A recall's action is done on a unit; holds on the parts stay."""
    if not s.truth.recalls:
        return
    number, tag = r.choice(sorted(s.truth.recalls)), r.choice(s.truth.units)
    against = ("done already",) if (number, tag) in s.truth.notices_done else ()
    done = s.attempt("notice done", s.person("notice done", r),
                     lambda shop: (notice_done(shop, number, tag),), against=against)  # fmt: skip
    if done is None:
        return
    s.truth.notices_done.add((number, tag))
    for key in done[0]:
        lifted = s.truth.holds.pop(key)
        if (lifted.notice, lifted.unit) != (number, tag):
            raise ReachedError(f"{number} done on {tag} lifted {lifted}")


def people(s: Scene, r: Random) -> None:
    """Somebody is entered, leaves, or changes a PIN."""
    what = r.choice(("enter", "leave", "PIN", "reset"))
    if what == "enter" and len(s.truth.people) < 9:
        code, role = f"S{len(s.truth.people)}", r.choice(("technician", "instructor", "manager"))
        done = s.attempt("enter staff", s.person("enter staff", r),
                         lambda shop: enter_person(shop, code, role, f"Invented {code}"))  # fmt: skip
        if done is not None:
            s.truth.people[done] = Person(role)
    elif what == "leave":
        extra = [key for key in s.truth.people if key not in s.staff.values() and key not in s.renters]
        key = r.choice(extra) if extra else s.staff["manager"]
        against = [] if key in extra and s.truth.people[key].active else ["the last manager, or gone"]
        managers = [each for each in s.truth.people.values() if each.role == "manager" and each.active]
        if key not in extra and len(managers) > 1:
            return
        if s.attempt("end service", s.person("end service", r), lambda shop: end_service(shop, key), against=against):
            s.truth.people[key].active = False
    elif what == "PIN":
        key = s.staff["technician"]
        old = s.truth.people[key].pin
        new, said = r.choice(("1357", "8642")), old if r.random() < 0.8 else "000000"
        against = [] if said == old and old else ["the old one is wrong"]
        if s.attempt("change PIN", key, lambda shop: change_pin(shop, key, said, new), against=against):
            s.truth.people[key].pin = new
    else:
        _reset(s, r)


def _reset(s: Scene, r: Random) -> None:
    key, boss = s.staff["technician"], s.staff["manager"]
    pin = s.truth.people[boss].pin
    if s.attempt("reset PIN", s.person("reset PIN", r, wrong=0.0), lambda shop: reset_pin(shop, key, pin=pin)):
        s.truth.people[key].pin = ""
        s.clock.advance(hours=2)
        if s.attempt("set PIN", boss, lambda shop: set_pin(shop, key, "1357", manager_id=boss, manager_pin=pin)):
            s.truth.people[key].pin = "1357"
