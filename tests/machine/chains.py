"""Chains whose first steps prepare an act that chance alone would hardly ever see done; and every step's weight."""

from collections.abc import Callable
from datetime import timedelta
from random import Random

from tests.machine import bench_acts as bench
from tests.machine import card_acts as card
from tests.machine import hire_acts as hire
from tests.machine import rare_acts as rare
from tests.machine.scene import Scene


def fit_ones(s: Scene, r: Random, count: int, without: str = "") -> list[str]:
    """Units that are here, turned round and made fit, as many as are wanted and can be."""
    here = [tag for tag in s.truth.units if not s.truth.out(tag) and tag != without and not s.truth.frozen(tag)]
    r.shuffle(here)
    found: list[str] = []
    for tag in sorted(here, key=lambda each: s.truth.open_card(each) is not None):
        if s.truth.open_card(tag):
            card.turn_round(s, r, tag)
        if s.truth.unfit(tag) or r.random() < 0.5:
            card.service(s, r, tag)
        if not s.truth.unfit(tag):
            found.append(tag)
        if len(found) == count:
            break
    return found


def swap(s: Scene, r: Random) -> None:
    """A unit that is out fails, and one that was made fit goes in its place."""
    out = [tag for tag in s.truth.units if s.truth.out(tag)]
    if not out:
        card.hire_out(s, r)
        out = [tag for tag in s.truth.units if s.truth.out(tag)]
    if not out:
        return
    failed = r.choice(out)
    found, others = s.truth.out(failed), fit_ones(s, r, 1, failed)
    if found is None or not others:
        return
    booking, line = found
    other, way = others[0], r.choice(("assembled", "kit"))
    for code in hire.overlapping(s, other, s.workplace.today(), max(booking.last, s.workplace.today()), booking.code):
        hire.cancel(s, r, s.truth.bookings[code])
    card.ready_canister(s, r, other, way, line.diver)
    hire.swap(s, r, failed, other, way)


def several(s: Scene, r: Random) -> None:
    """A course of two students and their instructor, or two friends, leave with a unit each in one act."""
    wanted = r.choice((2, 2, 3))
    for tag in s.truth.units:
        if s.truth.out(tag) and sum(not s.truth.out(each) for each in s.truth.units) < wanted:
            hire.bring_back(s, r, tag)
    units = fit_ones(s, r, wanted)
    if len(units) < wanted:
        return
    days, today = r.randrange(1, 3), s.workplace.today()
    for tag in units:
        for code in hire.overlapping(s, tag, today, today + timedelta(days=days)):
            hire.cancel(s, r, s.truth.bookings[code])
    code = hire.book_several(s, r, units, days)
    if code is None:
        return
    booking, way = s.truth.bookings[code], r.choice(("assembled", "kit"))
    for tag, diver in zip(units, booking.divers, strict=False):
        card.ready_canister(s, r, tag, way, booking.lines[tag].diver or diver)
    hire.hand_all(s, r, booking, units, way)


def extend(s: Scene, r: Random) -> None:
    """A hire that is out is made longer, while its unit is fit."""
    if not any(s.truth.out(tag) for tag in s.truth.units):
        card.hire_out(s, r)
    hire.extend(s, r)


def wait(s: Scene, r: Random) -> None:
    """All units are booked on a far day, another booking waits, the first is cancelled, and the other is promised."""
    first = s.workplace.today() + timedelta(days=60 + r.randrange(200))
    all_of = hire.book_ahead(s, r, first, len(s.truth.units), waits=False)
    waiting = hire.book_ahead(s, r, first, r.choice((1, 2)), waits=True)
    if r.random() < 0.3 and waiting:
        hire.off_the_list(s, r, s.truth.bookings[waiting])
    if all_of:
        hire.cancel(s, r, s.truth.bookings[all_of])
    if waiting and s.truth.bookings[waiting].waits:
        hire.off_the_list(s, r, s.truth.bookings[waiting])
    for code in (waiting, all_of):
        if code and not s.truth.bookings[code].cancelled:
            hire.cancel(s, r, s.truth.bookings[code])


def log_run(s: Scene, r: Random) -> None:
    """A run of a fill that stands in a unit."""
    seated = [(tag, part.serial) for tag in s.truth.units if (part := s.truth.sits(tag, "canister"))]
    if not seated:
        return
    _, canister = r.choice(seated)
    standing = s.truth.standing_fill(canister)
    if standing and standing[1].spent(s.clock()):
        bench.spoil(s, r, canister)
    if s.truth.standing_fill(canister) is None:
        bench.pack(s, r, canister)
    s.clock.advance(hours=2)
    bench.run(s, r, canister)


def release(s: Scene, r: Random) -> None:
    """A part of the shelf is set aside and released again; or one that came out for a fault, once it was measured."""
    cells = [part for tag in s.truth.units if not s.truth.out(tag) for part in s.truth.inside(tag)
             if part.kind == "cell"]  # fmt: skip
    if cells and r.random() < 0.4:
        part = r.choice(cells)
        unit = s.truth.unit_of(part) or ""
        host, slot = part.host or "", part.slot
        bench.remove(s, r, part.serial, r.choice(("fault", "low output")))
        bench.shelf(s, r, part.serial, "release")
        bench.fit_to_test(s, r, unit, (host, slot, "cell"), part.serial)
        bench.calibrate(s, r, unit, "sound, with pot")
        bench.remove(s, r, part.serial, r.choice(("fault", "age")))
        bench.shelf(s, r, part.serial, "release")
        return
    stock = [part.serial for part in s.truth.parts.values() if part.state == "stock" and part.host is None
             and part.kind in ("cell", "one-way valve", "mouthpiece valve")]  # fmt: skip
    aside = [part.serial for part in s.truth.parts.values() if part.state == "quarantine" and part.host is None]
    gone = [each for each in aside if s.truth.parts[each].rejected() or s.truth.parts[each].fault]
    if gone and r.random() < 0.5:
        bench.shelf(s, r, r.choice(gone), "gone")
        return
    if stock and (not aside or r.random() < 0.5):
        serial = r.choice(stock)
        bench.shelf(s, r, serial, "aside")
        aside = [serial]
        if r.random() < 0.4:
            bench.shelf(s, r, serial, "undo")
            bench.shelf(s, r, serial, "aside")
    if aside:
        bench.shelf(s, r, r.choice(aside), "release")


def undo(s: Scene, r: Random) -> None:
    """A part is fitted by mistake, and the fitting is taken back at once."""
    unit = r.choice(s.truth.units)
    where = [each for each in s.truth.slots(unit) if each[2] in ("cell", "one-way valve", "mouthpiece valve")]
    if where and bench.fit(s, r, unit, r.choice(where)):
        bench.undo_fit(s, r, unit)


def sign(s: Scene, r: Random) -> None:
    """A ticket is opened, worked on, signed by one where two are asked for, and then by two."""
    here = [tag for tag in s.truth.units if not s.truth.frozen(tag)]
    if not here:
        return
    key = card.ticket(s, r, r.choice(here)) if r.random() < 0.5 else hire.near_miss(s, r)
    if not key or s.truth.frozen(s.truth.tickets[key].unit):
        return
    unit = s.truth.tickets[key].unit
    if s.truth.untested(unit):
        bench.release_tests(s, r, unit, sound=True)
    for _ in s.truth.tickets[key].tasks:
        card.task(s, r, key)
    if r.random() < 0.5:
        card.sign(s, r, key, alone=True)
    if not s.truth.tickets[key].signed:
        card.settle_ticket(s, r, key)


def recalled(s: Scene, r: Random) -> None:
    """A lot of one cell is recalled while the cell sits in a unit; the action is done, and the cell comes out."""
    unit = r.choice(s.truth.units)
    where = [each for each in s.truth.slots(unit) if each[2] == "cell"]
    fresh = [part for part in s.truth.parts.values() if part.state == "stock" and part.serial.startswith("C-N")
             and part.lot not in s.truth.recalls.values() and not part.rejected()]  # fmt: skip
    if not where or not fresh:
        hire.recall(s, r)
        return
    part, seat = r.choice(fresh), r.choice(where)
    bench.fit(s, r, unit, seat, part.serial)
    number = hire.recall(s, r, part.lot)
    if number:
        hire.notice(s, r, number, unit)
    if part.host is not None:
        bench.remove(s, r, part.serial, "age")


def incident(s: Scene, r: Random) -> None:
    """A unit is frozen, something is tried on it, and a manager lifts what was held, or leaves it for later."""
    hire.incident(s, r)
    card.finding(s, r)
    if r.random() < 0.7:
        for key in [key for key, what in sorted(s.truth.holds.items()) if what.kind == "incident"]:
            hire.lift(s, r, key)


def flood(s: Scene, r: Random) -> None:
    """A flood is found on the bench, on a unit with or without an open card; the card is worked through mostly."""
    here = [tag for tag in s.truth.units if not s.truth.out(tag) and not s.truth.frozen(tag)]
    if not here:
        return
    tag = r.choice(here)
    card.open_by_hand(s, r, tag, flooded=True)
    if r.random() < 0.6:
        card.turn_round(s, r, tag)


def back(s: Scene, r: Random) -> None:
    """A unit comes back, and the details of its return are noted."""
    out = [tag for tag in s.truth.units if s.truth.out(tag)]
    if out:
        hire.bring_back(s, r, r.choice(out))
    hire.details(s, r)


def staff(s: Scene, r: Random) -> None:
    """Somebody changes their role, has a paper seen, and signs what they may."""
    hire.change_role(s, r)
    others = hire.extra(s)
    if others and r.random() < 0.5:
        hire.see(s, r, r.choice(others))
    if r.random() < 0.4:
        hire.people(s, r)


def _with_care(chain: Callable[[Scene, Random], None]) -> Callable[[Scene, Random], None]:
    def careful(s: Scene, r: Random) -> None:
        with s.with_care():
            chain(s, r)

    return careful


ACTS = {
    "calibrate": (2, bench.calibrate), "release tests": (2, bench.release_tests), "bench test": (3, bench.bench_test),
    "intermediate pressure": (2, bench.intermediate), "batteries": (2, bench.batteries), "fit": (3, bench.fit),
    "remove": (1, bench.remove), "move": (3, bench.move), "undo fitting": (1, bench.undo_fit),
    "shelf": (4, bench.shelf), "pack": (3, bench.pack), "give": (3, bench.give), "run": (2, bench.run),
    "spoil": (2.5, bench.spoil), "container": (1.2, bench.container), "gas": (3, bench.gas), "clean": (1, bench.clean),
    "book": (4, hire.make_booking), "change booking": (7, hire.change_booking), "hand over": (5, hire.hand),
    "receive": (3, hire.bring_back), "hand back": (2, hire.details), "swap": (2, hire.swap), "hold": (1.2, hire.hold),
    "incident": (0.2, hire.incident), "near miss": (0.3, hire.near_miss), "lift": (3, hire.lift),
    "recall": (0.3, hire.recall), "notice done": (0.5, hire.notice), "people": (3.5, hire.people),
    "open card": (2.5, card.open_by_hand), "tick": (6, card.tick), "bath": (2, card.bath), "dry": (2, card.dry),
    "finding": (1.5, card.finding), "finish": (2, card.finish), "ticket": (1, card.ticket), "task": (2, card.task),
    "sign": (2, card.sign), "time": (5, card.pass_time), "service": (1.5, _with_care(card.service)),
    "turn round": (4, _with_care(card.turn_round)), "hire out": (7, _with_care(card.hire_out)),
    "swap prepared": (3, _with_care(swap)), "several": (4.5, _with_care(several)), "extend": (2, _with_care(extend)),
    "wait": (1.8, _with_care(wait)), "log run": (1.5, _with_care(log_run)), "release": (3.5, _with_care(release)),
    "undo prepared": (2, _with_care(undo)), "sign prepared": (2, _with_care(sign)),
    "recall prepared": (1.2, _with_care(recalled)), "incident prepared": (1, _with_care(incident)),
    "flood": (1.2, _with_care(flood)), "back": (2, _with_care(back)), "staff": (1, staff),
    "edit": (2.5, rare.edit), "not collected": (2, rare.not_collected), "restore": (0.5, rare.restore),
    "take off": (1.6, rare.take_off), "fact": (1.5, rare.correct_fact), "warranty": (2.5, rare.warranty),
    "leave line": (2, rare.leave_line), "import": (1.5, rare.small_import),
}  # fmt: skip
"""Every step with its weight; chains are heavy, so that units really leave."""
