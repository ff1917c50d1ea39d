"""Acts that chance alone would hardly ever see done: bookings edited and brought back, facts corrected, parts scrapped,
sent back and taken back, card lines left out, files imported."""

import tempfile
from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

from sqlalchemy import func, select

from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Part as PartRow
from fleetbench.workshop.hires.booking import BookingEntry
from fleetbench.workshop.hires.edit import cancel_booking, edit_booking, entry_of, restore_booking, take_unit_off
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.acts import scrap_part, send_back, take_back, undo_last
from fleetbench.workshop.places.amend import correct
from tests.independent.truth import Booking, Part
from tests.machine import bench_acts as bench
from tests.machine import card_acts as card
from tests.machine import hire_acts as hire
from tests.machine.scene import ReachedError, Scene
from tests.workshop.small_folder import write_folder

# bookings


def edit(s: Scene, r: Random, booking: Booking | None = None) -> None:
    """Days, minutes, divers or the renter of a booking are others from now on, or nothing is."""
    kept = [each for each in s.truth.bookings.values() if not each.cancelled and each.last >= s.workplace.today()
            and not all(line.back_at for line in each.lines.values())]  # fmt: skip
    booking = booking or r.choice(kept if kept and s.likely(r) else list(s.truth.bookings.values()))
    old, _ = entry_of(s.workplace, booking.code)
    what = r.choice(("days", "days", "minutes", "renter", "renter", "friend", "nothing"))
    new = _edited(s, r, booking, old, what)
    new = replace(new, unfit=None if r.random() < 0.3 else hire.manager_says(s))
    done = s.attempt(
        "edit booking",
        s.person("edit booking", r),
        lambda workplace: edit_booking(workplace, booking.code, new),
        against=_against_edit(s, booking, old, new),
    )
    if done is None:
        return
    s.log.append(f"    {booking.code} {what}: {done.changed}")
    booking.first, booking.last = new.first, new.last
    if old.kind == "course":
        return
    left = {*booking.divers} - {*new.divers}
    heirs = [each for each in new.divers if each not in booking.divers]
    for line in sorted(booking.lines.values(), key=lambda one: one.key):
        if line.diver in left:
            line.diver = heirs.pop(0) if heirs else None
    booking.renter, booking.divers = new.renter_id or booking.renter, new.divers


def _edited(s: Scene, r: Random, booking: Booking, old: BookingEntry, what: str) -> BookingEntry:
    if what == "days":
        out = any(line.out_at for line in booking.lines.values())
        first = old.first if out and s.likely(r) else s.workplace.today() + timedelta(days=r.randrange(0, 30))
        return replace(old, first=first, last=max(first, s.workplace.today()) + timedelta(days=r.randrange(0, 3)))
    if what == "minutes":
        return replace(old, planned_minutes=float(r.randrange(20, 150)))
    other = next((each for each in s.renters if each not in old.divers), None)
    if old.kind == "course" or other is None or what == "nothing":
        return old
    if what == "friend":
        return replace(old, divers=(*old.divers, other), wanted=max(old.wanted or 1, len(old.divers) + 1))
    return replace(old, renter_id=other, divers=(other,), harnesses=(), last_dives=())


def _against_edit(s: Scene, booking: Booking, old: BookingEntry, new: BookingEntry) -> list[str]:
    gone, today = [line for line in booking.lines.values() if line.out_at], s.workplace.today()
    away = any(line.back_at is None for line in gone)
    against = ["cancelled"] if booking.cancelled else []
    against += ["nothing is changed"] if replace(new, unfit=old.unfit) == old else []
    against += ["units are out since another day"] if gone and new.first != old.first else []
    against += ["units are out in this name"] if gone and new.renter_id != old.renter_id else []
    against += ["to be extended, while units are out"] if away and new.last > old.last else []
    left = {*booking.divers} - {*new.divers} if old.kind != "course" else set()
    against += ["a unit is or was out with one who would leave"] if any(line.diver in left for line in gone) else []
    if (new.first, new.last) == (old.first, old.last):
        return against
    against += ["it is over by then"] if new.last < today else []
    first = max(new.first, today) if away else new.first
    here = [tag for tag, line in booking.lines.items() if line.back_at is None]
    return against + [f"{tag} is promised to {code}" for tag in here
                      for code in hire.overlapping(s, tag, first, new.last, booking.code)]  # fmt: skip


def not_collected(s: Scene, r: Random) -> None:
    """A booking is cancelled, or nobody came for it; mostly it is brought back."""
    coming = [each for each in s.truth.bookings.values() if not each.cancelled and not each.waits
              and not any(line.out_at for line in each.lines.values())]  # fmt: skip
    if not coming or r.random() < 0.2:
        made = hire.make_booking(s, r, now=r.random() < 0.6)
        coming = [s.truth.bookings[made]] if made else coming or list(s.truth.bookings.values())
    booking, no_show = r.choice(coming), r.random() < 0.6
    gone = [line for line in booking.lines.values() if line.out_at]
    against = ["cancelled"] if booking.cancelled else []
    against += ["units are out"] if any(line.back_at is None for line in gone) else []
    against += ["it begins later"] if no_show and booking.first > s.workplace.today() else []
    against += ["units of it left"] if no_show and gone else []
    if s.attempt("cancel booking", s.person("cancel booking", r), lambda workplace: cancel_booking(
            workplace, booking.code, reason="no word", ended_as="no-show" if no_show else "cancelled"),
            against=against, named="no-show" if no_show else ""):  # fmt: skip
        booking.cancelled = True
    if r.random() < 0.8:
        restore(s, r, booking)


def restore(s: Scene, r: Random, booking: Booking | None = None) -> None:
    """A cancelled booking is brought back with its units, where they are free."""
    ended = [each for each in s.truth.bookings.values() if each.cancelled]
    booking = booking or r.choice(ended or list(s.truth.bookings.values()))
    unfit = hire.manager_says(s) if r.random() < 0.6 else None
    here = [tag for tag, line in booking.lines.items() if line.back_at is None]
    against = [] if booking.cancelled else ["not cancelled"]
    against += ["over"] if booking.last < s.workplace.today() else []
    against += [f"{tag} is promised to {code}" for tag in here for code in hire.overlapping(
        s, tag, max(booking.first, s.workplace.today()), booking.last, booking.code)]  # fmt: skip
    if s.attempt("restore booking", s.person("restore booking", r),
                 lambda workplace: restore_booking(workplace, booking.code, unfit=unfit), against=against):  # fmt: skip
        booking.cancelled = False


def take_off(s: Scene, r: Random) -> None:
    """A unit that has not left is taken off a booking, which lacks one then."""
    promised = [(each, tag) for each in s.truth.bookings.values() if not each.cancelled
                for tag, line in each.lines.items() if line.out_at is None or r.random() < 0.1]  # fmt: skip
    if not promised:
        hire.make_booking(s, r)
        return
    booking, tag = r.choice(promised)
    against = ["it has left"] if booking.lines[tag].out_at else []
    if s.attempt("take unit off booking", s.person("take unit off booking", r), lambda workplace: take_unit_off(
            workplace, booking.code, tag, "asked for one fewer"), against=against):  # fmt: skip
        del booking.lines[tag]


# parts and facts


def correct_fact(s: Scene, r: Random) -> None:
    """The lot of a part was mistyped, or its price; a lot under recall concerns what carries it from now on."""
    key = {serial: s.part_ids[serial] for serial in s.truth.parts}
    part = r.choice([each for each in s.truth.parts.values() if each.kind in ("cell", "one-way valve")])
    price = r.random() < 0.3
    lots = ["L31", "L32", *s.truth.recalls.values()]
    lot = r.choice(lots) if s.likely(r) else part.lot
    given: dict[str, Any] = {"price": str(r.randrange(50, 90))} if price else {"lot": lot}
    against = ["nothing was changed"] if not price and lot == part.lot else []
    done = s.attempt("correct stock record", s.person("correct stock record", r), lambda workplace: correct(
        workplace, "parts", key[part.serial], given, "mistyped"), against=against)  # fmt: skip
    if done is not None and not price:
        s.log.append(f"    lot of {part.serial}: {part.lot} is {lot}")
        part.lot = lot


def _spare_cell(s: Scene, r: Random) -> Part | None:
    """A cell that was calibrated, on the shelf; one is taken out of a unit where there is none."""
    shelf = [each for each in s.truth.parts.values() if each.kind == "cell" and each.host is None
             and each.state in ("stock", "quarantine") and s.outcomes_of(each.serial)]  # fmt: skip
    if shelf:
        return r.choice(shelf)
    fitted = [each for tag in s.truth.units if not s.truth.out(tag) and not s.truth.frozen(tag)
              for each in s.truth.inside(tag) if each.kind == "cell" and s.outcomes_of(each.serial)]  # fmt: skip
    if not fitted:
        return None
    part = r.choice(fitted)
    bench.remove(s, r, part.serial, "fault")
    return part if part.host is None else None


def warranty(s: Scene, r: Random) -> None:
    """A cell is sent back with its readings and comes back, or is scrapped, and the last of it is undone."""
    part = _spare_cell(s, r)
    if part is None:
        bench.shelf(s, r, kind="undo")
        return
    key, sent = s.part_ids[part.serial], r.random() < 0.55
    proofs, before = s.outcomes_of(part.serial)[:1], part.state
    act = "send part back" if sent else "scrap part"
    if not s.attempt(act, s.person(act, r), lambda w: send_back(w, key, "weak", outcomes=proofs) if sent else (
            scrap_part(w, key, "spent")) or 1):  # fmt: skip
        return
    part.state = "sent back" if sent else "scrapped"
    bench.fit(s, r, r.choice(s.truth.units), None, part.serial)
    if r.random() < 0.7:
        if s.attempt("undo", s.person("undo", r), lambda workplace: undo_last(workplace, key, "typing error")):
            part.state = before
            same = s.state_of(part.serial)
            if same != before:
                raise ReachedError(f"{part.serial} was {before}, and is {same} after {act} was undone")
    elif s.attempt("take part back", s.person("take part back", r), lambda w: take_back(w, key, "refused"),
                   against=() if sent else ("it was scrapped",)):  # fmt: skip
        part.state = "quarantine"


# cards and files


def leave_line(s: Scene, r: Random) -> None:
    """A line of a card is left out with a reason, where one may be, and something is found beside it."""
    if card.a_card(s, r) is None:
        card.open_by_hand(s, r)
    found = card.a_card(s, r)
    if found is None:
        return
    if r.random() < 0.6:
        to_do = [(line, step) for line, step, state in card.lines(s, found[0]) if state == "to do"]
        may = [line for line, step in to_do if step not in card.NEVER_LEFT]
        if may:
            card.leave(s, r, found, r.choice(may))
    card.found_beside(s, r, found)


def small_import(s: Scene, r: Random) -> None:
    """A folder with one new cell, by the manager with their PIN or by another without it, once or twice."""
    rows: dict[str, list[dict[str, str]]] = defaultdict(list)
    serial, boss = f"C-I{len(s.truth.parts)}", s.staff["manager"]
    if r.random() < 0.15:
        serial = r.choice(sorted(each.serial for each in s.truth.parts.values() if each.kind == "cell"))
    last: date = s.workplace.today() - timedelta(days=20)
    rows["parts"].append({"record": f"PRT-{serial}", "part_type": "CELL-L", "serial": serial, "lot": "L41",
                          "owner": "the centre",
                          "made_on": str(last), "state": "stock"})  # fmt: skip
    right = s.likely(r)
    person = boss if right else s.person("import", r)
    pin = s.truth.people[boss].pin if right else r.choice(("", "000000"))
    against = [] if right else ["the PIN is not the manager's"]
    against += ["its serial is recorded"] if serial in s.truth.parts else []
    with tempfile.TemporaryDirectory() as folder:
        write_folder(Path(folder), rows)
        done = s.attempt("import", person, lambda workplace: _written(import_folder(workplace, folder, pin=pin)),
                         against=against)  # fmt: skip
    if done is None:
        return
    with s.workplace.database.reading() as connection:
        key = connection.scalar(select(func.max(PartRow.id)).where(PartRow.serial == serial))
    s.part_ids[serial], s.serials[key] = key, serial
    s.truth.parts[serial] = Part(serial, "cell", "L41")


def _written(report: Any) -> Any:
    if not report.written:
        raise Refused("; ".join(f"{each.sheet} {each.row} {each.column}: {each.message}" for each in report.faults))
    return report
