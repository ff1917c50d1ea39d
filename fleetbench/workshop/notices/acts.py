"""Safety notices and recalls: recorded, everything they touch put on hold in one act, done unit by unit."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.calc.notices.scope import Order, Scope, natural_order
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.notices.reads import (
    NoticeRecord,
    ScopeRecord,
    done_on,
    hold_mark,
    notice_holds,
    notice_numbered,
    read_done,
    read_notices,
    read_notices_done,
    read_scopes,
    read_type_names,
)
from fleetbench.records.notices.tables import Notice, NoticeDone, NoticeScope
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Shop, one_word, require_person, required
from fleetbench.workshop.notices.touched import NoticeBook, Touched, TouchedUnit

COVERS = ("unit type", "part type", "lot", "serials", "firmware")
WEIGHTS = ("stop", "advise")


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeEntry:
    """A notice as it is entered. weight: `stop` or `advise`; by_when: the last day for the action, None is at once."""

    number: str
    issued_on: date
    title: str
    text: str
    action: str
    scopes: tuple[Scope, ...]
    by_when: date | None = None
    weight: str = "stop"


@dataclass(frozen=True, slots=True)
class NoticeAnswer:
    """What one act on a notice found and put on hold; keys of the holds."""

    number: str
    touched: Touched
    holds: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NotDone:
    """A unit on which a notice's action is not done. why: what in it is named. late: by_when has passed."""

    number: str
    title: str
    action: str
    weight: str
    by_when: date | None
    late: bool
    unit: str
    place: str | None
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoticeRow:
    """One notice with how far it is: units it names now, on how many it is done; pieces in stock that it names."""

    notice_id: int
    number: str
    issued_on: date
    title: str
    action: str
    weight: str
    by_when: date | None
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

    number: str
    issued_on: date
    title: str
    text: str
    action: str
    weight: str
    by_when: date | None
    scopes: tuple[str, ...]
    touched: Touched
    done: tuple[DoneLine, ...] = ()
    not_done: tuple[str, ...] = ()


def record_notice(shop: Shop, entry: NoticeEntry, *, hold: bool = False) -> NoticeAnswer:
    """Record a notice and tell everything that it touches; hold: put what carries it now on hold in the same act.

    Refused for a number that is recorded, a notice that covers nothing, and dates that contradict each other.
    """
    person, today = require_person(shop), shop.today()
    _check(entry, today)
    with shop.acting("record notice", f"notice {entry.number.strip()}") as act:
        _refuse_unknown_types(entry, read_type_names(act.session.connection()))
        if notice_numbered(act.session, entry.number.strip()) is not None:
            raise Refused(f"notice {entry.number}: is recorded; look it up, or enter the new one's own number")
        row = act.add(
            Notice(number=entry.number.strip(), issued_on=entry.issued_on, title=entry.title.strip(),
                   text=entry.text.strip(), action=entry.action.strip(), by_when=entry.by_when, weight=entry.weight)
        )  # fmt: skip
        for scope in entry.scopes:
            act.add(NoticeScope(notice_id=row.id, covers=scope.covers, first=scope.first.strip(),
                                last=(scope.last or "").strip() or None))  # fmt: skip
        touched = NoticeBook(act.session.connection(), today).touched(entry.scopes)
        holds = _hold_all(act, row, touched, person) if hold else ()
        return NoticeAnswer(row.number, touched, holds)


def recall_lot(
    shop: Shop, lot: str, reason: str, *, number: str = "", action: str = "take it out and set it aside"
) -> NoticeAnswer:
    """Recall a lot in one act: a stopping notice on it, and a hold on every part and unit that carries it now.

    number: of the maker's notice; `RECALL` with the lot where there is none. Units that carried it before are told with
    their days and divers, and stopped by nothing. Refused where nothing of that lot was ever recorded.
    """
    said, today = required("lot", lot), shop.today()
    scope = Scope("lot", said)
    what_lot_touched(shop, said)
    entry = NoticeEntry(
        number=number.strip() or f"RECALL {said}", issued_on=today, title=f"Recall of lot {said}",
        text=required("reason", reason), action=action, scopes=(scope,), by_when=None, weight="stop",
    )  # fmt: skip
    return record_notice(shop, entry, hold=True)


def hold_for_notice(shop: Shop, number: str) -> NoticeAnswer:
    """Put on hold, in one act, every part and unit that carries what a notice names and that it does not hold yet."""
    person, today = require_person(shop), shop.today()
    with shop.acting("hold for notice", f"notice {number}") as act:
        row = notice_numbered(act.session, number)
        if row is None:
            raise NotFound(f"notice {number}: not recorded; record it first")
        connection = act.session.connection()
        scopes = [Scope(s.covers, s.first, s.last) for s in read_scopes(connection) if s.notice_id == row.id]
        touched = NoticeBook(connection, today).touched(scopes)
        holds = _hold_all(act, row, touched, person)
        if not holds:
            raise Refused(f"notice {number}: everything that carries it now is on hold for it already")
        return NoticeAnswer(row.number, touched, holds)


def notice_page(shop: Shop, number: str) -> NoticePage:
    """A recorded notice with everything that it touches; NotFound for a number that is not recorded."""
    with shop.database.reading() as connection:
        found = next((each for each in read_notices(connection) if each.number == number), None)
        if found is None:
            raise NotFound(f"notice {number}: not recorded; check the number")
        scopes = [Scope(s.covers, s.first, s.last) for s in read_scopes(connection) if s.notice_id == found.notice_id]
        book = NoticeBook(connection, shop.today())
        touched, records = book.touched(scopes), read_done(connection, found.notice_id)
        names = read_names(connection)
    said = tuple(f"{s.covers} {s.first}{f' to {s.last}' if s.last else ''}" for s in scopes)
    done = {each.unit_id: each for each in records}
    return NoticePage(
        found.number, found.issued_on, found.title, found.text, found.action, found.weight, found.by_when, said,
        touched,
        tuple(DoneLine(book.units[e.unit_id].tag, e.at, names.get(e.person_id), e.note) for e in records),
        tuple(u.unit for u in touched.units if u.now and book.in_service(u.unit_id) and u.unit_id not in done),
    )  # fmt: skip


def scope_choices(shop: Shop) -> tuple[tuple[str, str, str], ...]:
    """(`unit type` or `part type`, code, name) of everything that a notice may name by its type."""
    with shop.database.reading() as connection:
        return read_type_names(connection)


def what_lot_touched(shop: Shop, lot: str) -> Touched:
    """Every part, unit and hire that a lot touched, before anybody decides on a recall."""
    said = required("lot", lot)
    with shop.database.reading() as connection:
        touched = NoticeBook(connection, shop.today()).touched((Scope("lot", said),))
    if not touched.parts and not touched.containers:
        raise NotFound(f"lot {said}: no part and no container of it was ever recorded; check the mark")
    return touched


def what_notice_touches(shop: Shop, number: str) -> Touched:
    """Everything that a recorded notice touches now."""
    return notice_page(shop, number).touched


def notice_done(shop: Shop, number: str, tag: str, note: str = "") -> tuple[int, ...]:
    """Record that a notice's action was done on a unit; returns the keys of its holds on the unit that this lifted.

    Holds on the parts themselves stay, so that a unit that still holds a recalled part does not go out.
    """
    person, today = require_person(shop), shop.today()
    with shop.acting("notice done", f"unit {tag}") as act:
        row = notice_numbered(act.session, number)
        if row is None:
            raise NotFound(f"notice {number}: not recorded; check the number")
        unit = unit_by_tag(act.session, tag)
        if done_on(act.session, row.id, unit.id) is not None:
            raise Refused(f"notice {number}: is done on unit {unit.tag} already")
        holds = notice_holds(act.session, row.number, unit_id=unit.id)
        connection = act.session.connection()
        scopes = [Scope(s.covers, s.first, s.last) for s in read_scopes(connection) if s.notice_id == row.id]
        touched = {each.unit_id for each in NoticeBook(connection, today).touched(scopes).units}
        if unit.id not in touched and not holds:
            raise Refused(f"notice {number}: does not touch unit {unit.tag}; check the tag")
        act.add(NoticeDone(notice_id=row.id, unit_id=unit.id, at=act.at, person_id=person, note=note.strip() or None))
        for held in holds:
            act.change(held, lifted_at=act.at, lifted_by_id=person, lift_reason=f"notice {row.number} done")
        return tuple(held.id for held in holds)


def list_notices(shop: Shop) -> tuple[NoticeRow, ...]:
    """Every notice, newest first, with the units on which it is not done."""
    today = shop.today()
    with shop.database.reading() as connection:
        book, done = NoticeBook(connection, today), read_notices_done(connection)
        scopes = _scopes_by_notice(read_scopes(connection))
        rows = []
        for notice in read_notices(connection):
            touched = book.touched(scopes.get(notice.notice_id, ()))
            now = [each for each in touched.units if each.now and book.in_service(each.unit_id)]
            left = tuple(each.unit for each in now if (notice.notice_id, each.unit_id) not in done)
            stock = sum(part.state == "stock" for part in touched.parts)
            rows.append(
                NoticeRow(notice.notice_id, notice.number, notice.issued_on, notice.title, notice.action,
                          notice.weight, notice.by_when, len(now), left, stock)
            )  # fmt: skip
    return tuple(rows)


def units_not_done(shop: Shop) -> tuple[NotDone, ...]:
    """Every unit on which a notice's action is not done: stopping ones first, then by the last day for the action."""
    today = shop.today()
    found: list[NotDone] = []
    with shop.database.reading() as connection:
        book, done = NoticeBook(connection, today), read_notices_done(connection)
        scopes = _scopes_by_notice(read_scopes(connection))
        for notice in read_notices(connection):
            found += [
                _not_done(notice, unit, today)
                for unit in book.touched(scopes.get(notice.notice_id, ())).units
                if unit.now and book.in_service(unit.unit_id) and (notice.notice_id, unit.unit_id) not in done
            ]
    return tuple(
        sorted(found, key=lambda each: (WEIGHTS.index(each.weight), each.by_when or date.min, each.number, each.unit))
    )


def _not_done(notice: NoticeRecord, unit: TouchedUnit, today: date) -> NotDone:
    late = notice.by_when is not None and notice.by_when < today
    return NotDone(
        notice.number, notice.title, notice.action, notice.weight, notice.by_when, late, unit.unit, unit.place, unit.why
    )


def _scopes_by_notice(records: Iterable[ScopeRecord]) -> dict[int, tuple[Scope, ...]]:
    found: dict[int, tuple[Scope, ...]] = {}
    for each in records:
        found[each.notice_id] = (*found.get(each.notice_id, ()), Scope(each.covers, each.first, each.last))
    return found


def _check(entry: NoticeEntry, today: date) -> None:
    for field in ("number", "title", "text", "action"):
        required(field, getattr(entry, field))
    if len(entry.number.strip()) > 60 or len(entry.title.strip()) > 200:
        raise Refused("notice: a number has at most 60 characters and a title 200; shorten it")
    one_word("weight", entry.weight, WEIGHTS)
    if entry.issued_on > today:
        raise Refused(f"issued on: {entry.issued_on} lies ahead; look at the date")
    if entry.by_when is not None and entry.by_when < entry.issued_on:
        raise Refused(f"by when: {entry.by_when} lies before it was issued; look at both")
    if not entry.scopes:
        raise Refused("scope: covers nothing; name a unit type, part type, lot, span of serials or firmware")
    for scope in entry.scopes:
        one_word("scope", scope.covers, COVERS)
        if len(required(scope.covers, scope.first)) > 60 or len(scope.last or "") > 60:
            raise Refused(f"{scope.covers}: is longer than 60 characters; enter it as it is marked")


def _refuse_unknown_types(entry: NoticeEntry, types: Iterable[tuple[str, str, str]]) -> None:
    """Refused where a type is misspelt: such a notice would cover nothing, and nobody would see it."""
    known: dict[str, set[Order]] = {}
    for what, code, name in types:
        known.setdefault(what, set()).update((natural_order(code), natural_order(name)))
    for scope in entry.scopes:
        if scope.covers.endswith("type") and natural_order(scope.first) not in known.get(scope.covers, set()):
            raise Refused(f"{scope.covers} {scope.first}: is not recorded; check the code, or bring the type in first")


def _hold_all(act: Act, notice: Notice, touched: Touched, person: int) -> tuple[int, ...]:
    """Keys of new holds on what would_hold names, but for what this notice holds already."""
    held = notice_holds(act.session, notice.number)
    units, parts = {hold.unit_id for hold in held}, {hold.part_id for hold in held}
    mark = hold_mark(notice.number)
    keys = []
    for unit in touched.units_now:
        if unit.unit_id not in units:
            why = "; ".join(unit.why[:4]) + (f" and {len(unit.why) - 4} more" if len(unit.why) > 4 else "")
            keys.append(_hold(act, f"{mark}{notice.title}; {why}", person, unit_id=unit.unit_id))
    others = [part.part_id for part in touched.parts_here if part.part_id not in parts]
    return (*keys, *(_hold(act, f"{mark}{notice.title}", person, part_id=each) for each in others))


def _hold(act: Act, reason: str, person: int, *, unit_id: int | None = None, part_id: int | None = None) -> int:
    row = Hold(unit_id=unit_id, part_id=part_id, kind="notice", reason=reason, placed_at=act.at, placed_by_id=person)
    return act.add(row).id
