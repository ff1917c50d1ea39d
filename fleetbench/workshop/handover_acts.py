"""Units leave and return: handed over after every check, received at once, and the details noted afterwards."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.readiness import CHECKS, Assessment, HandoverKind
from fleetbench.records.act import Act
from fleetbench.records.act_reads import next_ticket_number, open_holds, unit_by_tag
from fleetbench.records.canisters import Fill, FillEvent
from fleetbench.records.errors import NotFound, Refused
from fleetbench.records.hire_reads import (
    active_people,
    booking_by_code,
    canister_in,
    fill_at,
    hand_back_of,
    line_out,
    lines_of,
    open_hand_back_ticket,
    read_acceptances,
    read_returns_without_details,
)
from fleetbench.records.hires import Acceptance, Booking, BookingUnit, HandBack, HandOver, HireNote
from fleetbench.records.packing_reads import line_of, standing_fill
from fleetbench.records.people import Person
from fleetbench.records.read_people import read_names
from fleetbench.records.read_units import read_units
from fleetbench.records.readiness_facts import read_fleet
from fleetbench.records.tickets import Disinfection, Finding, Task, Ticket
from fleetbench.records.units import Hold, Unit
from fleetbench.workshop.booking_acts import put_on_within
from fleetbench.workshop.centre import Day, day_of
from fleetbench.workshop.figures import figure, figure_or_none
from fleetbench.workshop.fleet import Fleet
from fleetbench.workshop.pins import check_pin
from fleetbench.workshop.ready import Question, Readiness, assess_unit
from fleetbench.workshop.runs import RunEntry, fill_of, note_run
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.ticket_work import required, somebody

LONGEST_ACCEPTANCE_DAYS = 90
"""An acceptance is looked at again after a quarter of a year: common practice, no published source."""

TURN_ROUND = "back and not inspected: the turn-round is to do"


@dataclass(frozen=True, slots=True, kw_only=True)
class Handing:
    """One unit to hand over; diver None keeps whoever the booking names. Counts and sums None: not noted."""

    unit: str
    kind: str
    diver_id: int | None = None
    harness: str | None = None
    accessories: int | None = None
    deposit: float | None = None


@dataclass(frozen=True, slots=True)
class Accepting:
    """A manager accepts the advice of one check on one unit, with a reason, through a last day inclusive."""

    unit: str
    check: str
    until: date
    reason: str


@dataclass(frozen=True, slots=True)
class HandoverLook:
    """What the desk sees before a hand-over: the answer as of now, and the advices that nobody has accepted yet."""

    unit: str
    assessment: Assessment
    to_accept: tuple[str, ...]
    standing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StandingAcceptance:
    """One acceptance that stands today, for the manager's count."""

    unit: str
    check: str
    until: date
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class ReceivedUnit:
    """What was received: its booking's line, and the ticket opened, None where none was needed."""

    line_id: int
    unit: str
    booking: str
    days_late: int
    ticket_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunBack:
    """One run of a canister as the daily log states it; figures None are not known, which counts as the worst row."""

    minutes: float
    dives: int = 1
    coldest_c: float | None = None
    deepest_m: float | None = None
    seen_at_6m_bar: float | None = None
    started_at: datetime | None = None
    fill_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandBackEntry:
    """The details of one unit's return, a row of the grid; loop minutes and dives None are summed from the runs."""

    line_id: int
    loop_minutes: float | None = None
    dives: int | None = None
    runs: tuple[RunBack, ...] = ()
    remarks: str = ""
    faults: str = ""
    missing: str = ""
    damaged: bool | None = None
    deposit_back: float | None = None


@dataclass(frozen=True, slots=True)
class OpenReturn:
    """A unit that was received and whose details are to note."""

    line_id: int
    unit: str
    booking: str
    diver: str


@dataclass(frozen=True, slots=True)
class HandedBack:
    """What was noted of one return; unlogged: minutes that no fill on record could be charged with."""

    line_id: int
    unit: str
    runs: int
    unlogged_minutes: float
    ticket_id: int | None


def open_returns(shop: Shop) -> tuple[OpenReturn, ...]:
    """The rows of the hand-back grid: every unit received whose details nobody has noted, oldest first."""
    with shop.database.reading() as connection:
        found, names = read_returns_without_details(connection), read_names(connection)
    return tuple(
        OpenReturn(line, unit, code, names.get(diver, "") if diver is not None else "")
        for line, unit, code, diver in found
    )


def look_before(shop: Shop, tag: str, code: str, kind: str) -> HandoverLook:
    """Every check of a unit as of now and through the end of its booking, with what a manager has to accept."""
    day = day_of(shop)
    with shop.database.looking() as session:
        booking = booking_by_code(session, code)
        last = max(booking.ends_on, day.today)
        accepted = read_acceptances(session.connection(), last)
    answer = assess_unit(shop, tag, day.today, last, HandoverKind(kind), at_act=True)
    stands = {each.check_name for each in accepted if each.unit == tag}
    advised = [each.check for each in answer.advises]
    return HandoverLook(
        tag,
        answer,
        tuple(each for each in advised if each not in stands),
        tuple(each for each in advised if each in stands),
    )


def hand_over(
    shop: Shop,
    code: str,
    handings: Sequence[Handing],
    *,
    accepting: Sequence[Accepting] = (),
    manager_id: int | None = None,
    pin: str = "",
) -> tuple[int, ...]:
    """The keys of the lines on which units left, a whole course in one act.

    Each unit is assessed as of now through the booking's last day. A stop refuses, unless the unit leaves
    `not for diving`; an advice must be accepted by a manager: whoever is at the desk, or another by PIN.
    Raises Refused with every reason of every unit.
    """
    person = somebody(shop)
    day = day_of(shop)
    if not handings:
        raise Refused("units: none is chosen; choose what goes out")
    with shop.acting("hand over", f"booking {code}") as act:
        booking = booking_by_code(act.session, code)
        if booking.cancelled_at is not None:
            raise Refused(f"booking {code}: is cancelled; book it anew")
        if booking.starts_on > day.today:
            raise Refused(f"booking {code}: begins on {booking.starts_on}; move its first day before handing over")
        last = max(booking.ends_on, day.today)
        _accept(act, accepting, manager_id, pin, last, day.today)
        reasons: list[str] = []
        lines: list[int] = []
        for each in handings:
            line, against = _hand_one(act, booking, each, day, person)
            reasons += against
            lines.append(line.id)
        if reasons:
            raise Refused("; ".join(reasons))
        return tuple(lines)


def standing_acceptances(shop: Shop) -> tuple[StandingAcceptance, ...]:
    """Every acceptance that stands today, newest first: how many there are is the manager's count."""
    today = shop.today()
    with shop.database.reading() as connection:
        found, names = read_acceptances(connection, today), read_names(connection)
    return tuple(
        StandingAcceptance(each.unit, each.check_name, each.until, names.get(each.person_id, ""), each.reason)
        for each in found
    )


def receive(
    shop: Shop,
    tag: str,
    *,
    wet: bool | None,
    flooded: bool | None,
    fault: bool | None,
    missing: bool | None = None,
) -> ReceivedUnit:
    """A unit is back: it goes on hold with its turn-round to do; a flood or a fault opens a ticket.

    None is not looked at or not known. Raises Refused for a unit that is not out.
    """
    person = somebody(shop)
    today = shop.today()
    with shop.acting("receive", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        line = line_out(act.session, unit.id)
        if line is None:
            raise Refused(f"unit {unit.tag}: is not out; check the tag, or look it up with find")
        return receive_within(act, unit, line, person, today, wet=wet, flooded=flooded, fault=fault, missing=missing)


def receive_within(
    act: Act,
    unit: Unit,
    line: BookingUnit,
    person: int,
    today: date,
    *,
    wet: bool | None,
    flooded: bool | None,
    fault: bool | None,
    missing: bool | None = None,
) -> ReceivedUnit:
    """The same within an act that is under way, such as a swap."""
    booking = act.get(Booking, line.booking_id, "booking")
    act.change(line, received_at=act.at, received_by_id=person, wet=wet, flooded=flooded, fault=fault)
    if not any(each.kind == "received" for each in open_holds(act.session, unit_id=unit.id)):
        act.add(Hold(unit_id=unit.id, kind="received", reason=TURN_ROUND, placed_at=act.at, placed_by_id=person))
    if flooded:
        _wet_fill(act, unit, person)
    said = [words for words, true in (("flooded", flooded), ("a fault is reported", fault),
                                      ("something is missing", missing)) if true]  # fmt: skip
    ticket = _open_ticket(act, unit, person, today, f"Back from {booking.code}: {', '.join(said)}",
                          critical=bool(flooded or fault), flooded=bool(flooded)) if said else None  # fmt: skip
    late = max(0, (today - booking.ends_on).days)
    return ReceivedUnit(line.id, unit.tag, booking.code, late, ticket)


def turned_round(
    shop: Shop, tag: str, *, agent: str, strength: str, contact_minutes: float, rinsed: bool, dry: bool
) -> int:
    """The key of the disinfection that ends a turn-round; the hold of the return is lifted with it."""
    person = somebody(shop)
    figure("contact time", contact_minutes, 0.1, 1440, "enter the minutes in the bath, as the agent's maker states")
    with shop.acting("turn-round done", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        if line_out(act.session, unit.id) is not None:
            raise Refused(f"unit {unit.tag}: is out; receive it first")
        row = act.add(
            Disinfection(
                unit_id=unit.id,
                at=act.at,
                agent=required("agent", agent)[:80],
                strength=required("strength", strength)[:40],
                contact_minutes=contact_minutes,
                rinsed=rinsed,
                dry_at=act.at if dry else None,
                person_id=person,
            )
        )
        for hold in open_holds(act.session, unit_id=unit.id):
            if hold.kind == "received":
                act.change(hold, lifted_at=act.at, lifted_by_id=person, lift_reason="turn-round done")
        return row.id


def hand_back(shop: Shop, entries: Sequence[HandBackEntry]) -> tuple[HandedBack, ...]:
    """What was noted of each return, the whole grid in one act or nothing of it.

    Runs go into the ledger of the fill that stood in the canister at their time; minutes count for every fitted part.
    The fill of the hire is thrown away. A fault, damage or a missing accessory opens a ticket or is added to the one
    that the return opened. Remarks go where they can be erased.
    """
    person = somebody(shop)
    today = shop.today()
    if not entries:
        raise Refused("hand-back: no row is filled in; enter at least one unit")
    with shop.acting("hand back", f"{len(entries)} units") as act:
        done, faults = [], []
        for each in entries:
            try:
                done.append(_back_one(act, each, person, today))
            except Refused as refusal:
                faults.append(str(refusal))
        if faults:
            raise Refused("; ".join(faults))
        return tuple(done)


def assess_within(act: Act, tag: str, first: date, last: date, kind: HandoverKind, day: Day) -> Assessment:
    """The answer for a unit at the act itself, read in the act's own transaction."""
    connection = act.session.connection()
    found = read_units(connection, tag)
    if not found:
        raise NotFound(f"unit {tag}: no unit has this tag; check the tag or look it up with find")
    fleet = Fleet(read_fleet(connection, found[0]), day)
    return Readiness(fleet).assess(found[0], Question(first, last, kind, at_act=True))


def reasons_against(act: Act, unit: Unit, last: date, kind: HandoverKind, day: Day) -> list[str]:
    """Every stop, and every advice that no manager has accepted through the last day; empty where it may go."""
    answer = assess_within(act, unit.tag, day.today, last, kind, day)
    accepted = {each.check_name for each in read_acceptances(act.session.connection(), last) if each.unit_id == unit.id}
    stops = [f"unit {unit.tag}: {each.check}: {each.evidence}; {each.remedy}" for each in answer.stops]
    return stops + [
        f"unit {unit.tag}: {each.check}: {each.evidence}; a manager may accept this with a reason and a last day"
        for each in answer.advises
        if each.check not in accepted
    ]


def _hand_one(act: Act, booking: Booking, each: Handing, day: Day, person: int) -> tuple[BookingUnit, list[str]]:
    unit = unit_by_tag(act.session, each.unit)
    try:
        kind = HandoverKind(each.kind)
    except ValueError:
        words = ", ".join(HandoverKind)
        raise Refused(f"unit {unit.tag}: hand-over kind {each.kind!r} is not known; choose {words}") from None
    out = line_out(act.session, unit.id)
    if out is not None:
        raise Refused(f"unit {unit.tag}: is out already; receive it first")
    mine = [row for row in lines_of(act.session, booking.id) if row.unit_id == unit.id and row.received_at is None]
    line = mine[0] if mine else put_on_within(act, booking, unit, day.today)
    if each.diver_id is not None and each.diver_id not in active_people(act.session, [each.diver_id]):
        raise Refused(f"unit {unit.tag}: its diver is not recorded or no longer active; choose from the list")
    diver = each.diver_id if each.diver_id is not None else line.diver_id
    if diver is None and booking.kind == "hire":
        diver = booking.renter_id
    against = reasons_against(act, unit, max(booking.ends_on, day.today), kind, day)
    figure_or_none("accessories", each.accessories, 0, 100, "enter how many go along, or leave it out")
    figure_or_none("deposit", each.deposit, 0, 100_000, "enter the sum, or leave it out")
    act.change(line, diver_id=diver, hand_over=str(kind), out_at=act.at, out_by_id=person)
    act.add(
        HandOver(
            booking_unit_id=line.id,
            at=act.at,
            person_id=person,
            harness=(each.harness or "").strip()[:20] or None,
            accessories=each.accessories,
            deposit=each.deposit,
        )
    )
    return line, against


def _accept(
    act: Act, accepting: Sequence[Accepting], manager_id: int | None, pin: str, last: date, today: date
) -> None:
    if not accepting:
        return
    at_desk = act.person_id
    manager = act.get(Person, manager_id if manager_id is not None else at_desk, "manager")
    if manager.role != "manager" or not manager.active:
        raise Refused("manager: only an active manager may accept an advice")
    if manager.id != at_desk:
        check_pin(manager, pin)
    for each in accepting:
        if each.check not in {row.check for row in CHECKS}:
            raise Refused(f"check: {each.check!r} is not known; choose an advice from the list")
        if each.until < last:
            raise Refused(f"accepted until: {each.until} is before the last day {last}; give that day or a later one")
        if each.until > today + timedelta(days=LONGEST_ACCEPTANCE_DAYS):
            raise Refused(f"accepted until: is more than {LONGEST_ACCEPTANCE_DAYS} days ahead; give an earlier day")
        act.add(
            Acceptance(
                unit_id=unit_by_tag(act.session, each.unit).id,
                check_name=each.check,
                until=each.until,
                at=act.at,
                person_id=manager.id,
                reason=required("reason", each.reason)[:300],
            )
        )


def _open_ticket(
    act: Act, unit: Unit, person: int, today: date, reason: str, *, critical: bool, flooded: bool = False
) -> int:
    ticket = act.add(
        Ticket(
            year=today.year,
            number=next_ticket_number(act.session, today.year),
            unit_id=unit.id,
            cause="hand-back",
            reason=reason,
            critical=critical,
            opened_at=act.at,
            opened_by_id=person,
            minutes=0.0,
        )
    )
    if flooded:
        text = "Test in full after the flood, as the maker's manual asks"
        act.add(Task(ticket_id=ticket.id, ordinal=1, text=text, state="to do", critical=True, times_put_off=0))
    return ticket.id


def _wet_fill(act: Act, unit: Unit, person: int) -> None:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is not None and fill.wetted_at is None:
        act.change(fill, wetted_at=act.at)
        act.add(FillEvent(fill_id=fill.id, kind="flooded", at=act.at, person_id=person, note="as received"))


def _back_one(act: Act, entry: HandBackEntry, person: int, today: date) -> HandedBack:
    line, booking = line_of(act.session, entry.line_id)
    unit = act.get(Unit, line.unit_id, "unit")
    if line.received_at is None:
        raise Refused(f"unit {unit.tag}: is not received yet; receive it first")
    if hand_back_of(act.session, line.id) is not None:
        raise Refused(f"unit {unit.tag}: the details of {booking.code} are noted already; correct a run in Canisters")
    minutes, dives = _totals(unit, entry)
    logged = _log_runs(act, unit, line, entry)
    act.change(line, loop_minutes=minutes, dives=dives)
    missing = entry.missing.strip()
    act.add(
        HandBack(
            booking_unit_id=line.id,
            at=act.at,
            person_id=person,
            missing=missing[:300] or None,
            damaged=entry.damaged,
            deposit_back=figure_or_none("deposit back", entry.deposit_back, 0, 100_000, "enter the sum, or leave it"),
        )
    )
    if entry.remarks.strip():
        act.add(HireNote(booking_unit_id=line.id, at=act.at, text=entry.remarks.strip()))
    ticket = _ticket_of_return(act, unit, line, booking, entry, person, today)
    _throw_fill_away(act, unit, line, person)
    return HandedBack(line.id, unit.tag, len(entry.runs), max(0.0, (minutes or 0.0) - logged), ticket)


def _totals(unit: Unit, entry: HandBackEntry) -> tuple[float | None, int | None]:
    minutes, dives = entry.loop_minutes, entry.dives
    ran = sum(each.minutes for each in entry.runs)
    if minutes is None and entry.runs:
        minutes = ran
    if dives is None and entry.runs:
        dives = sum(each.dives for each in entry.runs)
    figure_or_none(f"unit {unit.tag}: loop minutes", minutes, 0, 30_000, "enter the minutes of the whole hire")
    figure_or_none(f"unit {unit.tag}: dives", dives, 0, 300, "enter the dives of the whole hire")
    if minutes is not None and ran > minutes + 0.5:
        raise Refused(f"unit {unit.tag}: loop minutes: {minutes:g} is less than its runs, {ran:g}; look at both")
    return minutes, dives


def _log_runs(act: Act, unit: Unit, line: BookingUnit, entry: HandBackEntry) -> float:
    """Minutes that went into the ledger; runs without a start are laid end to end before the return.

    A student of a kit packs fills that nobody here recorded: such a run counts for the unit's parts and for no fill.
    """
    logged = 0.0
    canister = canister_in(act.session, unit.id)
    ends = line.received_at or act.at
    for run in reversed(entry.runs):
        started = run.started_at or ends - timedelta(minutes=run.minutes)
        ends = started
        if line.out_at is not None and started < line.out_at:
            raise Refused(f"unit {unit.tag}: a run begins before the unit left; look at its minutes or its start")
        if canister is None:
            continue
        fill: Fill | None
        if run.fill_id is not None:
            fill = fill_of(act, canister, run.fill_id)
        else:
            fill = fill_at(act.session, canister.id, started)
        if fill is None:
            continue
        diver = line.diver_id if line.diver_id is not None else fill.diver_id
        note_run(
            act,
            canister,
            fill,
            RunEntry(
                minutes=run.minutes,
                dives=run.dives,
                started_at=started,
                coldest_c=run.coldest_c,
                deepest_m=run.deepest_m,
                diver_id=diver,
                line_id=line.id,
                unit=unit.tag,
                seen_at_6m_bar=run.seen_at_6m_bar,
            ),
        )
        logged += run.minutes
    return logged


def _ticket_of_return(
    act: Act, unit: Unit, line: BookingUnit, booking: Booking, entry: HandBackEntry, person: int, today: date
) -> int | None:
    said = [words for words in (
        entry.faults.strip(),
        "damaged" if entry.damaged else "",
        f"missing: {entry.missing.strip()}" if entry.missing.strip() else "",
    ) if words]  # fmt: skip
    if not said:
        return None
    critical = bool(entry.faults.strip() or entry.damaged)
    known = open_hand_back_ticket(act.session, unit.id, line.received_at or act.at)
    if known is None:
        return _open_ticket(act, unit, person, today, f"Back from {booking.code}: {'; '.join(said)}", critical=critical)
    for words in said:
        act.add(Finding(ticket_id=known.id, at=act.at, person_id=person, text=words))
    if critical and not known.critical:
        act.change(known, critical=True)
    return known.id


def _throw_fill_away(act: Act, unit: Unit, line: BookingUnit, person: int) -> None:
    """A fill belongs to one diver and one hire: what is left of it goes. A fill packed since is another's."""
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is None or (line.received_at is not None and fill.packed_at > line.received_at):
        return
    if fill.booking_unit_id in (None, line.id):
        act.change(fill, discarded_at=act.at, discarded_by_id=person, why_discarded="hand-back")
