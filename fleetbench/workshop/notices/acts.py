"""Safety notices and recalls: recorded, everything they touch put on hold in one act, done unit by unit."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.notices.scope import Covered, Covers, NoticeFacts, Order, Weight, natural_order
from fleetbench.calc.parts.kinds import PartState
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.notices.reads import (
    done_on,
    hold_mark,
    notice_holds,
    notice_numbered,
    read_done,
    read_notice_scopes,
    read_notices,
    read_notices_done,
    read_type_names,
)
from fleetbench.records.notices.tables import Notice, NoticeDone, NoticeScope
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Workplace, one_word, require_person, required
from fleetbench.workshop.notices.touched import NoticeBook, Touched, TouchedUnit


@dataclass(frozen=True, slots=True)
class NoticeAnswer:
    """What one act on a notice found and put on hold; keys of the holds."""

    number: str
    touched: Touched
    holds: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NotDone:
    """A unit on which a notice's action is not done. late: the last day for it has passed."""

    notice: NoticeFacts
    unit: TouchedUnit
    late: bool


@dataclass(frozen=True, slots=True)
class NoticeRow:
    """One notice with how far it is: units it names now, on how many it is done; pieces in stock that it names."""

    notice: NoticeFacts
    units: int
    not_done: tuple[str, ...]
    in_stock: int


@dataclass(frozen=True, slots=True)
class DoneLine:
    """A notice's action was done on a unit."""

    unit: str
    at: datetime
    person: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class NoticePage:
    """One notice with everything it touches. scopes: what it covers, in words.

    done: the units on which its action was done; not_done: those that it names now and that are left.
    """

    notice: NoticeFacts
    scopes: tuple[str, ...]
    touched: Touched
    done: tuple[DoneLine, ...] = ()
    not_done: tuple[str, ...] = ()


def record_notice(
    workplace: Workplace, notice: NoticeFacts, scopes: Sequence[Covered], *, hold: bool = False
) -> NoticeAnswer:
    """Record a notice and tell everything that it touches; hold: put what carries it now on hold in the same act.

    Refused for a number that is recorded, a notice that covers nothing, and dates that contradict each other.
    """
    person, today = require_person(workplace), workplace.today()
    _check(notice, scopes, today)
    with workplace.transaction("record notice", f"notice {notice.number.strip()}") as act:
        _refuse_unknown_types(scopes, read_type_names(act.session.connection()))
        if notice_numbered(act.session, notice.number.strip()) is not None:
            raise Refused(
                say("notice {number}: is recorded; look it up, or enter the new one's own number", number=notice.number)
            )
        row = act.add(
            Notice(number=notice.number.strip(), issued_on=notice.issued_on, title=notice.title.strip(),
                   text=notice.text.strip(), action=notice.action.strip(), by_when=notice.by_when,
                   weight=notice.weight)
        )  # fmt: skip
        for scope in scopes:
            act.add(NoticeScope(notice_id=row.id, covers=scope.covers, first=scope.first.strip(),
                                last=(scope.last or "").strip() or None))  # fmt: skip
        touched = NoticeBook(act.session.connection(), today).touched(scopes)
        holds = _hold_all(act, row, touched, person) if hold else ()
        return NoticeAnswer(row.number, touched, holds)


def recall_lot(
    workplace: Workplace, lot: str, reason: str, *, number: str = "", action: str = "remove it and set it aside"
) -> NoticeAnswer:
    """Recall a lot in one act: a stopping notice on it, and a hold on every part and unit that carries it now.

    number: of the maker's notice; `RECALL` with the lot where there is none. Units that carried it before are told with
    their days and divers, and stopped by nothing. Refused where nothing of that lot was ever recorded.
    """
    said, today = required("lot", lot), workplace.today()
    what_lot_touched(workplace, said)
    notice = NoticeFacts(
        number=number.strip() or f"RECALL {said}", issued_on=today, title=in_row(f"Recall of lot {said}"),
        text=required("reason", reason), action=action,
    )  # fmt: skip
    return record_notice(workplace, notice, (Covered(Covers.LOT, said),), hold=True)


def hold_for_notice(workplace: Workplace, number: str) -> NoticeAnswer:
    """Put on hold, in one act, every part and unit that carries what a notice names and that it does not hold yet."""
    person, today = require_person(workplace), workplace.today()
    with workplace.transaction("hold for notice", f"notice {number}") as act:
        row = notice_numbered(act.session, number)
        if row is None:
            raise NotFound(say("notice {number}: not recorded; record it first", number=number))
        connection = act.session.connection()
        touched = NoticeBook(connection, today).touched(_scopes(connection)[row.id])
        holds = _hold_all(act, row, touched, person)
        if not holds:
            raise Refused(
                say("notice {number}: everything that carries it now is on hold for it already", number=number)
            )
        return NoticeAnswer(row.number, touched, holds)


def notice_page(workplace: Workplace, number: str) -> NoticePage:
    """A recorded notice with everything that it touches; NotFound for a number that is not recorded."""
    with workplace.database.reading() as connection:
        found = next((each for each in read_notices(connection) if each.notice.number == number), None)
        if found is None:
            raise NotFound(say("notice {number}: not recorded; check the number", number=number))
        scopes = _scopes(connection)[found.notice_id]
        book = NoticeBook(connection, workplace.today())
        touched, records = book.touched(scopes), read_done(connection, found.notice_id)
        names = read_names(connection)
    said = tuple(
        say("{covers} {first} to {last}", covers=say(s.covers), first=s.first, last=s.last)
        if s.last
        else strung(" ", (say(s.covers), s.first))
        for s in scopes
    )
    done = {each.unit_id: each for each in records}
    return NoticePage(
        found.notice,
        scopes=said,
        touched=touched,
        done=tuple(DoneLine(book.units[e.unit_id].tag, e.at, names.get(e.person_id), e.note) for e in records),
        not_done=tuple(u.unit for u in touched.units if u.now and book.in_service(u.unit_id) and u.unit_id not in done),
    )


def scope_choices(workplace: Workplace) -> tuple[tuple[str, str, str], ...]:
    """(`unit type` or `part type`, code, name) of everything that a notice may name by its type."""
    with workplace.database.reading() as connection:
        return read_type_names(connection)


def what_scopes_touch(workplace: Workplace, scopes: Sequence[Covered]) -> Touched:
    """Every part, unit and hire that these scopes touch, before a notice of them is recorded."""
    with workplace.database.reading() as connection:
        return NoticeBook(connection, workplace.today()).touched(scopes)


def what_lot_touched(workplace: Workplace, lot: str) -> Touched:
    """Every part, unit and hire that a lot touched, before a recall is decided on."""
    said = required("lot", lot)
    touched = what_scopes_touch(workplace, (Covered(Covers.LOT, said),))
    if not touched.parts and not touched.containers:
        raise NotFound(say("lot {said}: no part and no container of it was ever recorded; check the mark", said=said))
    return touched


def what_notice_touches(workplace: Workplace, number: str) -> Touched:
    """Everything that a recorded notice touches now."""
    return notice_page(workplace, number).touched


def notice_done(workplace: Workplace, number: str, tag: str, note: str = "") -> tuple[int, ...]:
    """Record that a notice's action was done on a unit; returns the keys of its holds on the unit that this lifted.

    Holds on the parts themselves stay, so that a unit that still holds a recalled part does not go out.
    """
    person, today = require_person(workplace), workplace.today()
    with workplace.transaction("notice done", f"unit {tag}") as act:
        row = notice_numbered(act.session, number)
        if row is None:
            raise NotFound(say("notice {number}: not recorded; check the number", number=number))
        unit = unit_by_tag(act.session, tag)
        if done_on(act.session, row.id, unit.id) is not None:
            raise Refused(say("notice {number}: is done on unit {tag} already", number=number, tag=unit.tag))
        holds = notice_holds(act.session, row.number, unit_id=unit.id)
        connection = act.session.connection()
        touched = {each.unit_id for each in NoticeBook(connection, today).touched(_scopes(connection)[row.id]).units}
        if unit.id not in touched and not holds:
            raise Refused(say("notice {number}: does not touch unit {tag}; check the tag", number=number, tag=unit.tag))
        act.add(NoticeDone(notice_id=row.id, unit_id=unit.id, at=act.at, person_id=person, note=note.strip() or None))
        for held in holds:
            act.change(held, lifted_at=act.at, lifted_by_id=person, lift_reason=f"notice {row.number} done")
        return tuple(held.id for held in holds)


def list_notices(workplace: Workplace) -> tuple[NoticeRow, ...]:
    """Every notice, newest first, with the units on which it is not done."""
    today = workplace.today()
    with workplace.database.reading() as connection:
        book, done = NoticeBook(connection, today), read_notices_done(connection)
        scopes = _scopes(connection)
        rows = []
        for each in read_notices(connection):
            touched = book.touched(scopes[each.notice_id])
            now = [unit for unit in touched.units if unit.now and book.in_service(unit.unit_id)]
            left = tuple(unit.unit for unit in now if (each.notice_id, unit.unit_id) not in done)
            stock = sum(part.state == PartState.STOCK for part in touched.parts)
            rows.append(NoticeRow(each.notice, len(now), left, stock))
    return tuple(rows)


def units_not_done(workplace: Workplace) -> tuple[NotDone, ...]:
    """Every unit on which a notice's action is not done: stopping ones first, then by the last day for the action."""
    today = workplace.today()
    found: list[NotDone] = []
    with workplace.database.reading() as connection:
        book, done = NoticeBook(connection, today), read_notices_done(connection)
        scopes = _scopes(connection)
        for each in read_notices(connection):
            late = each.notice.by_when is not None and each.notice.by_when < today
            found += [
                NotDone(each.notice, unit, late)
                for unit in book.touched(scopes[each.notice_id]).units
                if unit.now and book.in_service(unit.unit_id) and (each.notice_id, unit.unit_id) not in done
            ]
    return tuple(sorted(found, key=_by_weight))


def _by_weight(left: NotDone) -> tuple[int, date, str, str]:
    notice = left.notice
    return list(Weight).index(Weight(notice.weight)), notice.by_when or date.min, notice.number, left.unit.unit


def _scopes(connection: Connection) -> dict[int, list[Covered]]:
    """What each notice covers, by its key."""
    found: dict[int, list[Covered]] = defaultdict(list)
    for each in read_notice_scopes(connection):
        found[each.notice_id].append(each.scope)
    return found


def _check(notice: NoticeFacts, scopes: Sequence[Covered], today: date) -> None:
    for field in ("number", "title", "text", "action"):
        required(field, getattr(notice, field))
    if len(notice.number.strip()) > 60 or len(notice.title.strip()) > 200:
        raise Refused(say("notice: a number has at most 60 characters and a title 200; shorten it"))
    one_word("weight", notice.weight, tuple(Weight))
    if notice.issued_on > today:
        raise Refused(say("issued on: {issued_on} lies ahead; look at the date", issued_on=notice.issued_on))
    if notice.by_when is not None and notice.by_when < notice.issued_on:
        raise Refused(say("by when: {by_when} lies before it was issued; look at both", by_when=notice.by_when))
    if not scopes:
        raise Refused(say("scope: covers nothing; name a unit type, part type, lot, span of serials or firmware"))
    for scope in scopes:
        one_word("scope", scope.covers, tuple(Covers))
        if len(required(scope.covers, scope.first)) > 60 or len(scope.last or "") > 60:
            raise Refused(
                say("{field}: is longer than 60 characters; enter it as it is marked", field=say(scope.covers))
            )


def _refuse_unknown_types(scopes: Iterable[Covered], types: Iterable[tuple[str, str, str]]) -> None:
    """Refused where a type is misspelt: such a notice would cover nothing, and nobody would see it."""
    known: dict[str, set[Order]] = {}
    for what, code, name in types:
        known.setdefault(what, set()).update((natural_order(code), natural_order(name)))
    for scope in scopes:
        if scope.covers.endswith("type") and natural_order(scope.first) not in known.get(scope.covers, set()):
            raise Refused(
                say(
                    "{thing} {first}: is not recorded; check the code, or bring the type in first",
                    thing=say(scope.covers),
                    first=scope.first,
                )
            )


def _hold_all(act: Transaction, notice: Notice, touched: Touched, person: int) -> tuple[int, ...]:
    """Keys of new holds on what would_hold names, but for what this notice holds already."""
    held = notice_holds(act.session, notice.number)
    units, parts = {hold.unit_id for hold in held}, {hold.part_id for hold in held}
    mark = hold_mark(notice.number)
    keys = []
    for unit in touched.units_now:
        if unit.unit_id not in units:
            more = in_row(f" and {len(unit.why) - 4} more") if len(unit.why) > 4 else ""
            why = "; ".join(unit.why[:4])
            keys.append(_hold(act, f"{mark}{notice.title}; {why}{more}", person, unit_id=unit.unit_id))
    others = [part.part_id for part in touched.parts_here if part.part_id not in parts]
    return (*keys, *(_hold(act, f"{mark}{notice.title}", person, part_id=each) for each in others))


def _hold(act: Transaction, reason: str, person: int, *, unit_id: int | None = None, part_id: int | None = None) -> int:
    row = Hold(unit_id=unit_id, part_id=part_id, kind="notice", reason=reason, placed_at=act.at, placed_by_id=person)
    return act.add(row).id
