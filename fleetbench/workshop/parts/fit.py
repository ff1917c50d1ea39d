"""Fitting: a part goes into a slot and the old one comes out, in one act."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from operator import itemgetter
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.parts.condition import condition
from fleetbench.calc.parts.kinds import OpeningKind, PartState, ShelfEvent
from fleetbench.calc.parts.life import LifeFacts, LimitBasis, governing, last_good_days
from fleetbench.calc.people.permits import INSTRUCTORS_FIT
from fleetbench.records.bench.lookups import (
    RecordSession,
    SlotContent,
    inner_seats,
    matrix_of,
    open_stop_notices,
    readers_of_type,
    seats_of,
)
from fleetbench.records.bench.tables import Opening
from fleetbench.records.cells.reads import read_last_outcomes
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.lives import BACK_TO_STOCK
from fleetbench.records.parts.lookups import fitted_beside, part_types_of_slot
from fleetbench.records.parts.reads import (
    read_first_fitted,
    read_lives,
    read_part_tests,
    read_parts,
)
from fleetbench.records.parts.tables import WHY_REMOVED, Fitting, Part, PartEvent, PartType
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import fitting_of, lives_of, part_by_serial, unit_by_tag
from fleetbench.workshop.cells.outlook import HeadCell, refresh_forecasts, shared_in_head
from fleetbench.workshop.core.workplace import Day, Workplace, one_word, require, require_person
from fleetbench.workshop.parts.conditions import facts_of_part
from fleetbench.workshop.parts.lives import (
    USE_BASES,
    calendar_last_good,
    last_passed,
    life_limit,
    marked,
    without_fitting,
)
from fleetbench.workshop.tickets.work import open_one
from fleetbench.workshop.turn_rounds.ticks import loop_opened

WHY_OUT = ("age", "low output", "fault", "service", "moved")
"""The five reasons on five keys at the bench; the records know two more."""

OPENS_LOOP = frozenset((
    "head", "cell", "loop set", "one-way valve", "mouthpiece valve", "bailout valve", "mouthpiece", "hose",
    "counterlung", "relief valve", "addition valve", "solenoid", "injector", "oxygen first stage",
    "diluent first stage",
    "carbon dioxide sensor", "canister temperature probe", "water trap", "inflator",
))  # fmt: skip
"""Kinds whose change opens the loop or a gas side as workshop work, so that the release tests must follow: common
practice, no published source."""

ROUTINE = frozenset(("canister", "oxygen cylinder", "diluent cylinder", "bailout cylinder", "drive gas cylinder"))
"""Kinds that a diver changes too; the diver's own checks follow."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """What one act of fitting did; last_good_day is the earliest calendar limit, None where none can be dated.

    opening: workshop, routine or None. warnings: what is not known of the part, in sentences. told: what its records
    and its neighbours' say that must be known at the fit. to_test: it went in only to be measured.
    """

    fitting_id: int
    part: str
    slot: str
    old_part: str | None
    last_good_day: date | None
    last_good_basis: str | None
    opening: str | None
    warnings: tuple[str, ...]
    told: tuple[str, ...] = ()
    to_test: bool = False


@dataclass(frozen=True, slots=True)
class SlotLine:
    """One slot of a unit or of an assembly fitted in it, with what sits there; `depth` 0 is the unit's own slot."""

    slot: str
    kind: str
    critical: bool
    depth: int
    part: str | None
    part_type: str | None


def slot_lines(workplace: Workplace, tag: str) -> tuple[SlotLine, ...]:
    """Every slot of a unit in tree order, with what sits there now."""
    with workplace.database.read_session() as session:
        return tuple(
            SlotLine(
                seat.slot.name,
                kind=seat.slot.kind,
                critical=seat.slot.critical,
                depth=seat.depth,
                part=label(seat.part) if seat.part is not None else None,
                part_type=seat.part_type.name if seat.part_type is not None else None,
            )
            for seat in seats_of(session, unit_by_tag(session, tag))
        )


def stock_of_kind(workplace: Workplace, kind: str) -> tuple[tuple[str, int], ...]:
    """Name and key of parts of a kind in stock, by name; whether one may be fitted is answered when it is."""
    with workplace.database.reading() as connection:
        found = read_parts(connection, kind=kind, states=("stock",))
    listed = ((each.label, each.part_id) for each in found)
    return tuple(sorted(listed, key=itemgetter(0)))


def fit_part(
    workplace: Workplace,
    part: int | str,
    tag: str,
    slot: str,
    *,
    why_old: str | None = None,
    ticket_id: int | None = None,
    to_test: bool = False,
) -> Fitted:
    """Fit a part from stock into a unit's slot, or into a slot of an assembly fitted in it; the old part comes out.

    part: key or serial. slot: by name, as `cell 1` or `inhale one-way valve`. why_old: one of the records' reasons,
    asked for where a part sits there. A sealed part whose type has a life from opening is opened today.
    to_test: a cell that is rejected or set aside goes in only to be calibrated; it stays what it is until a calibration
    in limits, and stops the unit meanwhile.
    Raises Refused where the part may not be fitted, with the remedy.
    """
    person = require_person(workplace)
    today = workplace.today()
    with workplace.transaction("fit part", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        seat = seat_named(act.session, unit, slot)
        require_right(act, seat)
        new = act.get(Part, part, "part") if isinstance(part, int) else part_by_serial(act.session, part.strip())
        kind = act.get(PartType, new.part_type_id, "part type")
        told = refuse_unfit(act, unit, seat, new, kind, workplace, to_test=to_test)
        require_ticket_of(act, unit, ticket_id)
        opens = new.opened_on is None and any(
            life.basis == LimitBasis.OPENED for life in lives_of(act.session, kind.id)
        )
        _note_leaves(act, new, unit, seat, told if to_test else (), opens=opens)
        if opens:
            act.change(new, opened_on=today, opened_precision="day")
        last_day, basis, warnings = life_when_fitted(act.session, new, kind, today)
        old = None
        if seat.fitting is not None and seat.part is not None:
            if why_old is None:
                raise Refused(
                    say(
                        "reason: say why {label} is removed from {slot}: {words}",
                        label=label(seat.part),
                        slot=slot,
                        words=strung(", ", map(say, WHY_OUT)),
                    )
                )
            old = label(seat.part)
            take_out(act, seat.fitting, seat.part, why_old, person, ticket_id)
        act.change(new, state="fitted", place_id=None)
        row = Fitting(
            part_id=new.id,
            slot_id=seat.slot.id,
            unit_id=seat.unit_id,
            host_part_id=seat.host_part_id,
            fitted_at=act.at,
            fitted_by_id=person,
            ticket_id=ticket_id,
            last_good_day=last_day,
            last_good_basis=basis,
        )
        fitting_id = act.add(row).id
        keep_forecast(act, new)
        opening = note_opening(act, unit, seat, "replaced" if old else "fitted", person, ticket_id)
        return Fitted(
            fitting_id,
            part=label(new),
            slot=slot,
            old_part=old,
            last_good_day=last_day,
            last_good_basis=basis,
            opening=opening,
            warnings=warnings,
            told=told,
            to_test=to_test,
        )


def keep_forecast(act: Transaction, part: Part) -> None:
    """Keep, where a cell was just seated, what its own calibrations forecast; nothing for any other part."""
    if act.get(PartType, part.part_type_id, "part type").kind == "cell":
        refresh_forecasts(act, (part.id,))


def remove_part(workplace: Workplace, tag: str, slot: str, *, why: str, ticket_id: int | None = None) -> str:
    """Take the part out of a unit's slot and leave the slot empty; returns what came out."""
    person = require_person(workplace)
    with workplace.transaction("remove part", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        seat = seat_named(act.session, unit, slot)
        require_right(act, seat)
        if seat.fitting is None or seat.part is None:
            raise Refused(say("slot {slot}: nothing sits there on unit {tag}; look again", slot=slot, tag=unit.tag))
        require_ticket_of(act, unit, ticket_id)
        take_out(act, seat.fitting, seat.part, why, person, ticket_id)
        note_opening(act, unit, seat, "removed", person, ticket_id)
        return label(seat.part)


def seat_named(session: RecordSession, unit: Unit, slot: str) -> SlotContent:
    """The unit's own slot of that name, or the one in an assembly fitted in it; NotFound or Refused otherwise."""
    seats = seats_of(session, unit)
    named = [seat for seat in seats if seat.slot.name.casefold() == slot.strip().casefold()]
    if not named:
        listed = strung(", ", (seat.slot.name for seat in seats))
        raise NotFound(
            say(
                "slot {slot}: unit {tag} has none of that name; it has {listed}", slot=slot, tag=unit.tag, listed=listed
            )
        )
    if len(named) > 1:
        raise Refused(
            say(
                "slot {slot}: stands in several assemblies of unit {tag}; scan the assembly first",
                slot=slot,
                tag=unit.tag,
            )
        )
    return named[0]


def label(part: Part) -> str:
    """What a part is called: its serial, else its lot, else its record's number."""
    return part.serial or (say("lot {lot}", lot=part.lot) if part.lot else part.ref or say("part {key}", key=part.id))


def life_when_fitted(
    session: RecordSession, part: Part, kind: PartType, today: date
) -> tuple[date | None, str | None, tuple[str, ...]]:
    """Calendar last good day and basis of a part fitted today, with a warning for each limit that cannot be dated.

    Refused where a limit has ended already, on the shelf or once fitted.
    """
    recorded = [life_limit(row) for row in read_lives(session.connection()) if row.part_type_id == kind.id]
    limits = [limit for limit in recorded if limit.basis not in USE_BASES]
    tests = last_passed(read_part_tests(session.connection(), (part.id,)))
    known = LifeFacts(
        made=marked(part.made_on, part.made_precision),
        opened=marked(part.opened_on, part.opened_precision),
        received=marked(part.received_on, "day"),
        fixed_date=marked(part.fixed_on, part.fixed_precision),
        last_tests=tests.get(part.id, {}),
    )
    on_shelf = last_good_days(limits, replace(known, in_store=True, sealed=part.opened_on is None), today)
    ended = [each for each in on_shelf if each.day is not None and each.day < today]
    first_fitted = read_first_fitted(session.connection(), (part.id,))
    once = first_fitted.get(part.id)
    zone = ZoneInfo(centre_timezone(session.connection()) or "UTC")
    worn = replace(known, fitted=min(today, once.astimezone(zone).date()) if once is not None else today)
    in_place = last_good_days(limits, worn, today)
    if once is None and part.id in first_fitted:
        datable = without_fitting(limits)
        nowhere = last_good_days([each for each in limits if each not in datable], known, today)
        in_place, limits = (*last_good_days(datable, worn, today), *nowhere), list(datable)
    ended += [each for each in in_place if each.day is not None and each.day < today and each not in ended]
    if ended:
        first = min(ended, key=lambda each: each.day or today)
        raise Refused(
            say("part {label}: past its last valid day ({why}); choose another", label=label(part), why=first.why)
        )
    unknown = governing(in_place).unknown
    day, basis = calendar_last_good(limits, worn)
    return day, basis, tuple(strung(": ", (label(part), each.why)) for each in unknown)


def refuse_unfit(
    act: Transaction, unit: Unit, seat: SlotContent, part: Part, kind: PartType, workplace: Workplace, *,
    sits: bool = False,
    to_test: bool = False,
) -> tuple[str, ...]:  # fmt: skip
    """What is told of a part that may go in; else Refused with all that stands against it, each with its remedy.

    sits: it comes straight out of another slot, so that it need not lie in stock. to_test: as in fit_part.
    """
    name = label(part)
    reasons: list[str] = []
    if unit.retired_on is not None:
        reasons.append(say("unit {tag}: is retired; nothing can be fitted to it", tag=unit.tag))
    made_for = part_types_of_slot(act.session, seat.slot.id)
    reasons += _does_not_take(made_for, seat, part, kind)
    if to_test and kind.kind != "cell":
        reasons.append(
            say(
                "part {name}: is a {kind}; only a cell needs a head to be tested, record its test instead",
                name=name,
                kind=say(kind.kind),
            )
        )
    allowed = (PartState.STOCK, *((PartState.FITTED,) if sits else ()), *((PartState.QUARANTINE,) if to_test else ()))
    if part.state not in (*allowed, PartState.QUARANTINE):
        where = (
            say("sits in another slot; remove it there first")
            if fitting_of(act.session, part.id)
            else say("book it in")
        )
        reasons.append(
            say("part {name}: is {state}, not in stock; {where}", name=name, state=say(part.state), where=where)
        )
    told: list[str] = []
    day = Day(act.at, workplace.today(), workplace.zone())
    inside = [(part, kind), *((each.part, each.part_type) for each in inner_seats(act.session, part, kind))]
    for held, held_kind in inside:
        if held is None or held_kind is None:
            continue
        found = condition(facts_of_part(act.session.connection(), day, held.id))
        notices = [
            say("notice {number} stops it; {action}", number=notice.number, action=notice.action)
            for notice in open_stop_notices(act.session, unit, held, held_kind)
        ]
        against = [words for words in found.against if not words.startswith(("notice ", "past its "))]
        measured = to_test and held is part
        told += against if measured else []
        reasons += [
            say("part {label}: {words}", label=label(held), words=words)
            for words in (*([] if measured else against), *notices)
        ]
        told += [words if held is part else strung(": ", (label(held), words)) for words in found.told]
    reasons += _unread_head(act.session, unit, kind)
    if reasons:
        raise Refused(strung("; ", reasons))
    if kind.kind == "cell":
        told += _beside(act, seat, part)
    if not made_for:
        told.append(say("which part types {slot} is made for is not recorded: look in the manual", slot=seat.slot.name))
    return tuple(dict.fromkeys(told))


def _beside(act: Transaction, seat: SlotContent, part: Part) -> Iterator[str]:
    """What a cell shares with those that stay in its head, and that it is its first time in one."""
    others = [each for each in fitted_beside(act.session, seat.host_part_id) if each[0].id != part.id]
    staying = [(held, slot) for held, slot in others if slot.id != seat.slot.id]
    own = HeadCell(part.id, seat.slot.name, part.lot, _first_day(part))
    shared = shared_in_head([own, *(HeadCell(h.id, s.name, h.lot, _first_day(h)) for h, s in staying)]).get(part.id)
    if shared is not None:
        yield say("{shared}: cells of one lot or age can fail of one cause at one time", shared=shared)
    if not read_last_outcomes(act.session.connection(), (part.id,)):
        yield say("its first calibration is still to come: judge it with care, there is nothing to compare")


def _first_day(part: Part) -> date | None:
    made = marked(part.made_on, part.made_precision)
    return made.first_day if made is not None else None


def _does_not_take(made_for: Sequence[PartType], seat: SlotContent, part: Part, kind: PartType) -> Sequence[str]:
    if kind.kind != seat.slot.kind:
        return (
            say(
                "part {label}: is a {kind}, the slot {slot} takes a {wanted}",
                label=label(part),
                kind=say(kind.kind),
                slot=seat.slot.name,
                wanted=say(seat.slot.kind),
            ),
        )
    if not made_for or kind.id in {each.id for each in made_for}:
        return ()
    listed = strung(" or ", (f"{each.name} ({each.code})" for each in made_for))
    return (
        say(
            "part {label}: is {kind} ({code}), the slot {slot} is made for {listed}",
            label=label(part),
            kind=kind.name,
            code=kind.code,
            slot=seat.slot.name,
            listed=listed,
        ),
    )


def _note_leaves(
    act: Transaction, part: Part, unit: Unit, seat: SlotContent, stands: Sequence[str], *, opens: bool
) -> None:
    """Write down where a part came from and that it was opened for this, so that an undo can put both back."""
    place = f"{unit.tag}, {seat.slot.name}"
    into = in_row(f"to be tested in {place}" if stands else f"to be fitted into {place}")
    if opens or stands or part.place_id is not None:
        act.add(
            PartEvent(
                part_id=part.id,
                kind=ShelfEvent.OPENED if opens else ShelfEvent.MOVED,
                at=act.at,
                person_id=act.person_id,
                state_before=part.state,
                place_before_id=part.place_id,
                reason="; ".join((into, *stands))[:300],
            )
        )


def _unread_head(session: RecordSession, unit: Unit, kind: PartType) -> Sequence[str]:
    """A head whose cell slots no reader of the unit type reads belongs to another build."""
    if kind.kind != "head":
        return ()
    readers = readers_of_type(session, unit.unit_type_id)
    read = {slot_id for _reader, slot_id in matrix_of(session, [reader.id for reader in readers])}
    own = {seat.slot.id for seat in inner_seats(session, None, kind) if seat.slot.kind == "cell"}
    if not read or not own or read & own:
        return ()
    return (
        say(
            "part type {code}: no handset of this unit type reads its cells; fit a head of the right type",
            code=kind.code,
        ),
    )


def require_ticket_of(act: Transaction, unit: Unit, ticket_id: int | None) -> None:
    """Nothing where a ticket is open and of this unit, or none is given; Refused otherwise."""
    if ticket_id is not None and open_one(act, ticket_id).unit_id != unit.id:
        raise Refused(say("ticket: is of another unit; choose an open ticket of unit {tag}", tag=unit.tag))


def require_right(act: Transaction, seat: SlotContent) -> None:
    """Nothing where whoever is at the bench may work on this slot; Refused otherwise."""
    if seat.slot.kind not in INSTRUCTORS_FIT:
        require(act, "fit other than a cell")


def take_out(act: Transaction, fitting: Fitting, part: Part, why: str, person: int, ticket_id: int | None) -> None:
    """End a fitting within an act; the part goes to stock or waits set aside, by why it came out."""
    one_word("reason", why, WHY_REMOVED)
    act.change(fitting, removed_at=act.at, removed_by_id=person, removal_ticket_id=ticket_id, why_removed=why)
    act.change(part, state=PartState.STOCK if why in BACK_TO_STOCK else PartState.QUARANTINE)


def note_opening(
    act: Transaction, unit: Unit, seat: SlotContent, did: str, person: int, ticket_id: int | None
) -> str | None:
    """Write down that work on this slot opened the loop; the kind of opening, None where it opens nothing."""
    kind = OpeningKind.ROUTINE if seat.slot.kind in ROUTINE else None
    kind = OpeningKind.WORKSHOP if seat.slot.kind in OPENS_LOOP else kind
    if kind is not None:
        what = f"{seat.slot.name} {did}"
        act.add(Opening(unit_id=unit.id, at=act.at, kind=kind, what=what, person_id=person, ticket_id=ticket_id))
    if kind is OpeningKind.WORKSHOP:
        loop_opened(act, unit)
    return kind
