"""Parts taken in: one by serial or many by lot, with what is marked on them, or set aside where they cannot be used."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.kinds import PartState, PlaceKind, ShelfEvent
from fleetbench.calc.parts.life import LifeFacts, governing, last_good_days
from fleetbench.records.bench.lookups import RecordSession
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.lookups import (
    centres_own,
    orders_standing,
    part_type_by_code,
    places_of_kind,
    serial_taken,
)
from fleetbench.records.parts.reads import read_lives
from fleetbench.records.parts.tables import Part, PartEvent, PartType
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.upkeep.lookups import notices_on_part
from fleetbench.workshop.core.workplace import Workplace, figure, figure_or_none, require_person, required
from fleetbench.workshop.parts.lives import USE_BASES, life_limit, marked

MOST_AT_ONCE = 500
LONGEST_MARK = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What came with the parts; dates as marked on them, None is not known.

    made, opened: opened None means sealed. fixed: a use-by date printed on the part. received_on: today where None.
    owner_id: the centre where None. price: of one piece. firmware: as shown or marked.
    """

    lot: str | None = None
    made: MarkedDate | None = None
    opened: MarkedDate | None = None
    fixed: MarkedDate | None = None
    received_on: date | None = None
    owner_id: int | None = None
    place_id: int | None = None
    supplier: str | None = None
    price: float | None = None
    firmware: str | None = None


@dataclass(frozen=True, slots=True)
class Received:
    """Keys of the parts taken in, and for each reason why they were set aside or what is not known, a sentence."""

    part_ids: tuple[int, ...]
    set_aside: tuple[str, ...]
    warnings: tuple[str, ...]


def receive_serials(workplace: Workplace, code: str, serials: Iterable[str], delivery: Delivery) -> Received:
    """Take in parts that have a serial each, as scanned or typed.

    What is past its life already, or under a stopping notice, is set aside in quarantine with the reason. Refused for a
    serial that is empty, doubled or recorded before, and for dates that contradict each other.
    """
    said = [_mark("serial", serial) for serial in serials]
    if not said:
        raise Refused(say("serial: none given; scan or type at least one"))
    doubled = next((serial for serial in said if said.count(serial) > 1), None)
    if doubled is not None:
        raise Refused(say("serial {doubled}: stands twice in this delivery; scan each part once", doubled=doubled))
    return _receive(workplace, code, said, delivery)


def receive_lot(workplace: Workplace, code: str, lot: str, quantity: int, delivery: Delivery) -> Received:
    """Take in a number of alike parts of one lot without serials of their own, counted as pieces."""
    whole = int(figure("quantity", quantity, 1, MOST_AT_ONCE, "give the number of pieces"))
    if whole != quantity:
        raise Refused(say("quantity: {quantity:g} is not a whole number of pieces; count them", quantity=quantity))
    given = replace(delivery, lot=_mark("lot", lot))
    return _receive(workplace, code, [None] * whole, given)


def _receive(workplace: Workplace, code: str, serials: Sequence[str | None], delivery: Delivery) -> Received:
    require_person(workplace)
    today = workplace.today()
    arrived = _arrived(delivery, today)
    with workplace.transaction("receive parts", f"part type {code}") as act:
        kind = part_type_by_code(act.session, code)
        if kind.stocked_in != "piece":
            raise Refused(
                say(
                    "part type {code}: is stocked in {unit}; receive it as a container", code=code, unit=kind.stocked_in
                )
            )
        for serial in serials:
            if serial is not None and serial_taken(act.session, kind.id, serial):
                raise Refused(
                    say(
                        "serial {serial}: a {kind} with it is recorded; look it up instead",
                        serial=serial,
                        kind=kind.name,
                    )
                )
        fresh = _fresh_part(act, kind, delivery, arrived)
        against, warnings = reasons_to_set_aside(act.session, fresh, kind, today)
        if against:
            boxes = places_of_kind(act.session, PlaceKind.QUARANTINE)
            fresh.state, fresh.place_id = PartState.QUARANTINE, boxes[0].id if boxes else fresh.place_id
        keys = [_add(act, fresh, serial, against) for serial in serials]
        arrived_within(act, kind.id, len(keys))
    return Received(tuple(keys), against, warnings)


def arrived_within(act: Transaction, part_type_id: int, pieces: int) -> None:
    """Take pieces that came off what is on order, the order that was expected first before all others."""
    for order in orders_standing(act.session, part_type_id=part_type_id):
        here = min(pieces, order.pieces - order.arrived)
        if here:
            act.change(order, arrived=order.arrived + here)
        pieces -= here


def _add(act: Transaction, like: Part, serial: str | None, against: tuple[str, ...]) -> int:
    columns = [column.key for column in Part.__table__.columns if column.key not in ("id", "serial", "ref", "version")]
    part = act.add(Part(**{key: getattr(like, key) for key in columns}, serial=serial))
    reason = "; ".join(against)[:300] or None
    act.add(
        PartEvent(part_id=part.id, kind=ShelfEvent.RECEIVED, at=act.at, person_id=act.person_id, place_id=part.place_id,
                  reason=reason)
    )  # fmt: skip
    return part.id


def _fresh_part(act: Transaction, kind: PartType, delivery: Delivery, arrived: date) -> Part:
    owner = act.get(Owner, delivery.owner_id, "owner") if delivery.owner_id else centres_own(act.session)
    if owner is None:
        raise Refused(say("owner: none is recorded; enter the centre as an owner first {door}", door=door("owner")))
    if delivery.place_id is not None:
        act.get(Place, delivery.place_id, "place")
    supplier = (delivery.supplier or "").strip()[:120] or None
    part = Part(
        part_type_id=kind.id, lot=_mark("lot", delivery.lot) if delivery.lot else None, received_on=arrived,
        owner_id=owner.id, place_id=delivery.place_id, state="stock", supplier=supplier,
        price=figure_or_none("price", delivery.price, 0, 1_000_000, "give the price of one piece"),
        firmware=(delivery.firmware or "").strip()[:30] or None,
    )  # fmt: skip
    for name, mark in (("made", delivery.made), ("opened", delivery.opened), ("fixed", delivery.fixed)):
        setattr(part, f"{name}_on", mark.date if mark else None)
        setattr(part, f"{name}_precision", mark.precision.value if mark else "day")
    return part


def reasons_to_set_aside(
    session: RecordSession, part: Part, kind: PartType, today: date
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Why a part on the shelf cannot be used, and what is not known of its life; both in sentences."""
    against = [
        say("notice {number} stops it: {action}", number=notice.number, action=notice.action)
        for notice in notices_on_part(session, part, kind)
    ]
    limits = [life_limit(row) for row in read_lives(session.connection()) if row.part_type_id == kind.id]
    facts = LifeFacts(
        made=marked(part.made_on, part.made_precision),
        opened=marked(part.opened_on, part.opened_precision),
        received=marked(part.received_on, "day"),
        fixed_date=marked(part.fixed_on, part.fixed_precision),
        in_store=True,
        sealed=part.opened_on is None,
    )
    # A cylinder's tests and hours are entered after it is received: only what is marked on the part is asked here.
    asked = [limit for limit in limits if limit.basis not in USE_BASES and not limit.test_kind]
    life = governing(last_good_days(asked, facts, today))
    if life.first is not None and life.day is not None and life.day < today:
        against.append(say("past its last valid day: {why}", why=life.first.why))
    return tuple(against), tuple(each.why for each in life.unknown)


def _arrived(delivery: Delivery, today: date) -> date:
    arrived = delivery.received_on or today
    if arrived > today:
        raise Refused(say("received on: {arrived} lies ahead; look at the date", arrived=arrived))
    made, opened = delivery.made, delivery.opened
    if made is not None and made.first_day > arrived:
        raise Refused(
            say("made: {made} lies after it was received on {arrived}; look at the mark", made=made, arrived=arrived)
        )
    if opened is not None and opened.first_day > today:
        raise Refused(say("opened: {opened} lies ahead; look at the date", opened=opened))
    if made is not None and opened is not None and opened.last_day < made.first_day:
        raise Refused(say("opened: {opened} lies before it was made, {made}; look at both", opened=opened, made=made))
    return arrived


def _mark(field: str, text: str) -> str:
    said = required(field, text)
    if len(said) > LONGEST_MARK:
        raise Refused(
            say(
                "{field}: is longer than {most} characters; enter it as it is marked",
                field=say(field),
                most=LONGEST_MARK,
            )
        )
    return said
