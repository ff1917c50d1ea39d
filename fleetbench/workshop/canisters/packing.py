"""Packing a canister and what becomes of the fill: given to a diver, closed up, flooded, thrown away.

Each act is one transaction and one journal entry about the canister, so that they read as one story.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.canisters.packing import PackFacts, drawn_g, net_mass_g, net_u_g, why_not_packable
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.plausible import EMPTY_MASS, FILLED_MASS, Tool
from fleetbench.calc.notices.scope import Marks, Weight, covers_part
from fleetbench.calc.parts.kinds import GONE, PartState
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.canisters.lookups import (
    OpenSession,
    canister_by_key,
    canister_by_serial,
    last_emptied,
    last_filled,
    last_tare,
    limits_of_type,
    line_of,
    newest_container,
    rating_rows_of,
    runs_that_count,
    standing_fill,
    unit_with_part,
)
from fleetbench.records.canisters.reads import ContainerRecord, read_containers
from fleetbench.records.canisters.tables import Container, Fill, FillEvent
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import diver_of_line
from fleetbench.records.hires.reads import read_promises
from fleetbench.records.notices.reads import NoticeScopeRecord, read_notice_scopes
from fleetbench.records.parts.tables import Part, PartType
from fleetbench.records.upkeep.lookups import name_of, open_holds
from fleetbench.workshop.bench.equipment import equipment_in_use, list_equipment, tool_chosen, tools_for
from fleetbench.workshop.core.workplace import Workplace, measured_or_none, require_person, require_read_with, required
from fleetbench.workshop.parts.fit import label
from fleetbench.workshop.turn_rounds.ticks import tick

WHY_DISCARDED = ("hire over", "used up", "hours passed", "flooded", "not used", "packed badly")
"""Reasons offered on keys; any other may be written out. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class ContainerChoice:
    """A container that may be packed from; why_not: the reason where it may not."""

    container: ContainerRecord
    why_not: str


@dataclass(frozen=True, slots=True)
class HireChoice:
    """A hire of the unit in which the canister sits, still to come or out."""

    line_id: int
    booking: str
    diver_id: int | None
    diver: str
    starts_on: date
    ends_on: date


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """A scale of the register; net_u_g: expanded uncertainty of a mass weighed on it empty and filled.

    in_date: None where no last good day is recorded.
    """

    equipment_id: int
    name: str
    net_u_g: float | None
    in_date: bool | None


@dataclass(frozen=True, slots=True)
class PackChoices:
    """What stands ready when a canister is to be packed, so that nothing is typed twice.

    tare_g, filled_g: as weighed last, None where it never was. container_id, line_id, scale_id: what is proposed, None
    for nothing.
    """

    part_id: int
    canister: str
    part_type: str
    unit: str | None
    holds: str | None
    min_mass_g: float | None
    full_mass_g: float | None
    tare_g: float | None
    containers: tuple[ContainerChoice, ...]
    hires: tuple[HireChoice, ...]
    container_id: int | None
    line_id: int | None
    scales: tuple[ScaleChoice, ...] = ()
    scale_id: int | None = None
    filled_g: float | None = None


@dataclass(frozen=True, slots=True)
class Packed:
    """What one packing did; mass_g None is not weighed. left_kg: in the container, by the book.

    warnings: what was not done or not known, in sentences.
    """

    fill_id: int
    canister: str
    mass_g: float | None
    lot: str
    left_kg: float
    opened_container: bool
    warnings: tuple[str, ...]


def pack_choices(workplace: Workplace, canister: int | str) -> PackChoices:
    """What is proposed for packing a canister, by its key or serial."""
    now, today = workplace.clock(), workplace.today()
    scales = scale_choices(workplace)
    with workplace.database.read_session() as session:
        part, kind = canister_of(session, canister)
        limits = limits_of_type(session, kind.id)
        unit = unit_with_part(session, part.id)
        fill = standing_fill(session, part.id)
        facts = _facts(session, part, kind, at=now, on=today)
        containers = _container_choices(session, facts)
        hires = _hire_choices(session, unit.id) if unit is not None else ()
        usable = next((each.container.container_id for each in containers if not each.why_not), None)
        near = next((each for each in hires if each.starts_on <= today + timedelta(days=1)), None)
        return PackChoices(
            part_id=part.id, canister=label(part), part_type=kind.name, unit=unit.tag if unit is not None else None,
            holds=fill_name(fill) if fill is not None else None, min_mass_g=limits.get("minimum mass"),
            full_mass_g=limits.get("full mass"), tare_g=last_tare(session, part.id), containers=containers,
            hires=hires, container_id=usable,
            line_id=near.line_id if near is not None and near.diver_id is not None else None, scales=scales,
            filled_g=last_filled(session, part.id),
            scale_id=tool_chosen([each.equipment_id for each in scales], equipment_in_use(workplace)),
        )  # fmt: skip


def scale_choices(workplace: Workplace) -> tuple[ScaleChoice, ...]:
    """The scales of the register, those in date first."""
    return tuple(
        ScaleChoice(
            row.tool.equipment_id,
            f"{row.tool.name} {row.tool.serial}",
            net_u_g(row.instrument("g").uncertainty),
            row.in_date,
        )
        for row in tools_for(list_equipment(workplace), Tool.SCALE, "g")
    )


def pack_canister(
    workplace: Workplace,
    canister: int | str,
    container: int | str,
    *,
    tare_g: float | None = None,
    filled_g: float | None = None,
    looked_at: bool | None = None,
    diver_id: int | None = None,
    line_id: int | None = None,
    packed_at: datetime | None = None,
    scale_id: int | None = None,
) -> Packed:
    """Pack a canister from a container; its stock goes down, and it is opened where it was sealed.

    canister: key or serial. container: key, or the lot. tare_g, filled_g: the empty and the filled canister, both or
    neither; neither is recorded as not weighed. A scale set to zero with the empty canister on it has a tare of 0.
    looked_at: seal, seat, spacer and spring; None is not said. line_id: the hire it is for, whose diver it gets.
    scale_id: on what it was weighed, from the register; its uncertainty counts against the least mass.
    Raises Refused with every reason against it: still filled, wrong grade, expired or recalled lot, under the least
    mass or not shown to hold it, not enough left.
    """
    person = require_person(workplace)
    if (tare_g is None) != (filled_g is None):
        raise Refused(say("mass: weigh the canister both empty and filled, or say that it was not weighed"))
    tare = measured_or_none(EMPTY_MASS, tare_g)
    filled = measured_or_none(FILLED_MASS, filled_g)
    for name, mass_given in ((say("filled mass"), filled), (say("empty mass"), tare)):
        require_read_with(name, mass_given, scale_id)
    zone = workplace.zone()
    scale = _scale(workplace, scale_id) if filled is not None else None
    mass_u = scale.net_u_g if scale is not None else None
    subject = _subject_of(workplace, canister)
    with workplace.transaction("pack canister", subject) as act:
        part, kind = canister_of(act.session, canister)
        store = _container(act.session, container)
        at = past_moment("packed at", packed_at, act.at)
        mass = net_mass_g(filled, tare)
        day = at.astimezone(zone).date()
        facts = _facts(act.session, part, kind, store=store, at=at, on=day, mass_g=mass, mass_u_g=mass_u)
        refuse(why_not_packable(facts))
        drawn = drawn_g(facts) or 0.0
        opens = store.opened_at is None
        act.change(store, left_kg=round(store.left_kg - drawn / 1000, 6), **({"opened_at": at} if opens else {}))
        diver, line = _for_whom(act, diver_id, line_id)
        fill = act.add(Fill(part_id=part.id, container_id=store.id, packed_at=at, packed_by_id=person, tare_g=tare,
            filled_g=filled, mass_g=mass, scale_id=scale.equipment_id if scale is not None else None,
            mass_u_g=mass_u, checked=looked_at, diver_id=diver, booking_unit_id=line))  # fmt: skip
        return Packed(
            fill.id,
            canister=label(part),
            mass_g=mass,
            lot=store.lot,
            left_kg=store.left_kg,
            opened_container=opens,
            warnings=_warnings(facts, looked_at, scale),
        )


def give_fill(
    workplace: Workplace, canister: int | str, *, diver_id: int | None = None, line_id: int | None = None
) -> int:
    """Say for which diver, and on which hire, the fill is; returns its key. A used one stays with its diver."""
    person = require_person(workplace)
    with workplace.transaction("give fill", _subject_of(workplace, canister)) as act:
        part, _ = canister_of(act.session, canister)
        fill = _held(act.session, part)
        diver, line = _for_whom(act, diver_id, line_id)
        if diver is None:
            raise Refused(say("diver: is missing; choose for whom the fill is"))
        used = bool(runs_that_count(act.session, fill.id))
        if used and (fill.diver_id not in (None, diver) or fill.booking_unit_id not in (None, line)):
            raise Refused(say("{fill}: was used by another diver or on another hire; pack a fresh one",
                fill=fill_name(fill)))  # fmt: skip
        act.change(fill, diver_id=diver, booking_unit_id=line)
        _event(act, fill, "given", person, diver_id=diver, line_id=line)
        return fill.id


def close_up(workplace: Workplace, canister: int | str, *, note: str | None = None) -> int:
    """Close up a partly used canister against the air; returns the fill's key. No hour is won by it."""
    person = require_person(workplace)
    with workplace.transaction("close up canister", _subject_of(workplace, canister)) as act:
        part, _ = canister_of(act.session, canister)
        fill = _held(act.session, part)
        act.change(fill, closed_up_at=act.at)
        _event(act, fill, "closed up", person, note=note)
        return fill.id


def mark_flooded(workplace: Workplace, canister: int | str, *, note: str | None = None) -> int:
    """Record that the fill was flooded or wetted beyond breath, which spends it; returns its key."""
    person = require_person(workplace)
    with workplace.transaction("canister flooded", _subject_of(workplace, canister)) as act:
        part, _ = canister_of(act.session, canister)
        fill = _held(act.session, part)
        if fill.wetted_at is None:
            act.change(fill, wetted_at=act.at)
        _event(act, fill, "flooded", person, note=note)
        return fill.id


def discard_fill(workplace: Workplace, canister: int | str, why: str) -> int:
    """Throw the fill away with a reason; returns its key. What was thrown away is never packed again."""
    person = require_person(workplace)
    said = required("reason", why)
    if len(said) > 200:
        raise Refused(say("reason: is longer than 200 characters; say it shorter"))
    with workplace.transaction("discard fill", _subject_of(workplace, canister)) as act:
        part, _ = canister_of(act.session, canister)
        fill = _held(act.session, part)
        act.change(fill, discarded_at=act.at, discarded_by_id=person, why_discarded=said)
        unit = unit_with_part(act.session, part.id)
        if unit is not None:
            tick(act, unit.id, Step.ABSORBENT, in_row(f"{fill_name(fill)} discarded"))
        return fill.id


def canister_of(session: OpenSession, canister: int | str) -> tuple[Part, PartType]:
    """The canister by its key or serial, with its type; NotFound for a part that is none."""
    return canister_by_serial(session, canister) if isinstance(canister, str) else canister_by_key(session, canister)


def fill_name(fill: Fill) -> str:
    """What a fill is called: its record number, else its key, as on its label."""
    return fill.ref or f"FILL-{fill.id}"


def subject(part: Part) -> str:
    """What journal entries about a canister are about."""
    return f"canister {label(part)}"[:120]


def refuse(reasons: Sequence[str]) -> None:
    """Nothing where there is no reason; Refused with all of them otherwise."""
    if reasons:
        raise Refused(strung("; ", reasons))


def past_moment(field: str, asked: datetime | None, now: datetime) -> datetime:
    """The moment asked for, now where none is; Refused for one without a zone or ahead of now."""
    if asked is None:
        return now
    if asked.tzinfo is None:
        raise Refused(say("{field}: give its zone", field=say(field)))
    if asked > now:
        raise Refused(say("{field}: lies ahead; look at the time", field=say(field)))
    return asked


def _subject_of(workplace: Workplace, canister: int | str) -> str:
    with workplace.database.read_session() as session:
        return subject(canister_of(session, canister)[0])


def _held(session: OpenSession, part: Part) -> Fill:
    fill = standing_fill(session, part.id)
    if fill is None:
        raise Refused(say("canister {label}: holds no fill; pack it first", label=label(part)))
    return fill


def _container(session: OpenSession, container: int | str) -> Container:
    row = newest_container(session, container.strip()) if isinstance(container, str) else None
    row = row or (session.get(Container, container) if isinstance(container, int) else None)
    if row is None:
        raise NotFound(say("container {container}: none of this lot has anything left; receive it first",
            container=container))  # fmt: skip
    return row


def _scale(workplace: Workplace, scale_id: int | None) -> ScaleChoice | None:
    if scale_id is None:
        return None
    found = next((each for each in scale_choices(workplace) if each.equipment_id == scale_id), None)
    if found is None:
        raise Refused(say("scale: what was chosen is no scale of the register; choose one, or leave it empty"))
    return found


def _facts(
    session: OpenSession,
    part: Part,
    kind: PartType,
    *,
    at: datetime,
    on: date,
    store: Container | None = None,
    mass_g: float | None = None,
    mass_u_g: float | None = None,
) -> PackFacts:
    limits = limits_of_type(session, kind.id)
    fill = standing_fill(session, part.id)
    absorbent = session.get(PartType, store.part_type_id) if store is not None else None
    more = [say("canister {label}: on hold: {reason}", label=label(part),
        reason=hold.reason) for hold in open_holds(session, part_id=part.id)]  # fmt: skip
    if part.state in (PartState.QUARANTINE, *GONE):
        more.append(say("canister {label}: is {state}; take another, or book it in again first", label=label(part),
            state=say(part.state)))  # fmt: skip
    if store is not None:
        types = (absorbent.code, absorbent.name) if absorbent is not None else ()
        more += recalled(read_notice_scopes(session.connection()), store.lot, types)
    return PackFacts(
        canister=label(part),
        at=at,
        on=on,
        holds=fill_name(fill) if fill is not None else None,
        emptied_at=last_emptied(session, part.id),
        grades=frozenset(row.grade for row in rating_rows_of(session, kind.id)),
        grade=absorbent.grade if absorbent is not None else None,
        lot=store.lot if store is not None else "",
        lot_last_good_day=store.last_good_day if store is not None else None,
        opened_at=store.opened_at if store is not None else None,
        left_kg=store.left_kg if store is not None else 0.0,
        mass_g=mass_g,
        mass_u_g=mass_u_g,
        min_mass_g=limits.get("minimum mass"),
        full_mass_g=limits.get("full mass"),
        hours_since_opened=limits.get("hours since opened"),
        more=tuple(more),
    )


def recalled(notices: Iterable[NoticeScopeRecord], lot: str, types: tuple[str, ...]) -> tuple[str, ...]:
    """A sentence for each stopping notice that covers an absorbent's lot or type, such as a recall."""
    marks = Marks(lot=lot, types=types)
    found = (each for each in notices if each.notice.weight == Weight.STOP)
    covering = (each.notice for each in found if covers_part(each.scope, marks))
    return tuple(dict.fromkeys(say("lot {lot}: notice {number}, {title}; choose another", lot=lot,
        number=each.number, title=each.title) for each in covering))  # fmt: skip


def _container_choices(session: OpenSession, facts: PackFacts) -> tuple[ContainerChoice, ...]:
    """Containers with something left: those that may be packed from first, opened before sealed, oldest date first."""
    choices = []
    notices = read_notice_scopes(session.connection())
    for each in read_containers(session.connection()):
        stands = PackFacts(
            canister=facts.canister,
            at=facts.at,
            on=facts.on,
            holds=None,
            emptied_at=None,
            grades=facts.grades,
            grade=each.grade,
            lot=each.lot,
            lot_last_good_day=each.last_good_day,
            opened_at=each.opened_at,
            left_kg=each.left_kg,
            mass_g=facts.min_mass_g,
            full_mass_g=facts.full_mass_g if facts.full_mass_g is not None else 1.0,
            hours_since_opened=facts.hours_since_opened,
            more=recalled(notices, each.lot, (session.get_one(PartType, each.part_type_id).code, each.part_type)),
        )
        why = strung("; ", why_not_packable(stands))
        choices.append(ContainerChoice(each, why))
    choices.sort(
        key=lambda each: (
            bool(each.why_not),
            each.container.opened_at is None,
            each.container.last_good_day or date.max,
        )
    )
    return tuple(choices)


def _hire_choices(session: OpenSession, unit_id: int) -> tuple[HireChoice, ...]:
    choices = []
    for promise in read_promises(session.connection(), (unit_id,)):
        diver = diver_of_line(session, *line_of(session, promise.line_id))
        name = name_of(session, diver) if diver is not None else say("diver not recorded")
        choices.append(
            HireChoice(
                promise.line_id,
                booking=promise.code,
                diver_id=diver,
                diver=name,
                starts_on=promise.starts_on,
                ends_on=promise.ends_on,
            )
        )
    return tuple(choices)


def _for_whom(act: Transaction, diver_id: int | None, line_id: int | None) -> tuple[int | None, int | None]:
    """Diver and hire of a fill; a hire says whose it is where only one can be meant."""
    if line_id is None:
        return diver_id, None
    line, booking = line_of(act.session, line_id)
    if line.received_at is not None or booking.cancelled_at is not None:
        raise Refused(say("hire {code}: is over; choose another, or nobody yet", code=booking.code))
    theirs = diver_of_line(act.session, line, booking)
    if diver_id is not None and theirs is not None and diver_id != theirs:
        raise Refused(say("diver: hire {code} is another diver's; choose diver and hire that belong together",
            code=booking.code))  # fmt: skip
    return (diver_id if diver_id is not None else theirs), line.id


def _event(
    act: Transaction,
    fill: Fill,
    kind: str,
    person: int,
    *,
    diver_id: int | None = None,
    line_id: int | None = None,
    note: str | None = None,
) -> None:
    act.add(
        FillEvent(
            fill_id=fill.id,
            kind=kind,
            at=act.at,
            person_id=person,
            diver_id=diver_id,
            booking_unit_id=line_id,
            note=(note or "").strip()[:200] or None,
        )
    )


def _warnings(facts: PackFacts, looked_at: bool | None, scale: ScaleChoice | None) -> tuple[str, ...]:
    said = []
    if facts.mass_g is None:
        said.append(say("Not weighed: readiness will advise against it."))
    elif scale is None:
        said.append(say("The scale is not recorded: readiness will advise against it."))
    elif scale.net_u_g is None:
        said.append(say("{scale}: its uncertainty is not recorded; enter it {door}.", scale=scale.name,
            door=door("equipment figures")))  # fmt: skip
    if scale is not None and scale.in_date is not True:
        said.append(say("{scale}: not known to be in date; readiness will advise against what it weighed.",
            scale=scale.name))  # fmt: skip
    if looked_at is not True:
        said.append(say("Seal, seat, spacer and spring: not looked at."))
    if facts.min_mass_g is None:
        said.append(say("The canister type states no least mass; enter it from the manual {door}.", door=door("limit")))
    return tuple(said)
