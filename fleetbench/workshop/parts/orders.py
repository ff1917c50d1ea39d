"""What to order, by when and how much: from what is fitted, what fails, what lies on the shelf, what tickets take.

What to fetch from the shelf for the work of chosen days: oldest usable first, and what is short.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.parts.demand import (
    OrderPlan,
    OrderRules,
    plan_order,
)
from fleetbench.calc.parts.kinds import PartState
from fleetbench.calc.parts.life import LifeLimit, LimitBasis
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts import lives as reads
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.lookups import orders_standing, read_coming, read_places, read_suppliers
from fleetbench.records.parts.reads import PartTypeRecord, read_part_types, read_parts
from fleetbench.records.parts.tables import PartOrder
from fleetbench.workshop.canisters.containers import AbsorbentNeed, absorbent_needs
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.parts.counted import OTHERS
from fleetbench.workshop.parts.demand import (
    HORIZON_DAYS,
    DemandForecast,
    ages_on_arrival,
    forecast_need,
    in_days,
    list_reservations,
    no_need,
)
from fleetbench.workshop.parts.lives import limits_by_type
from fleetbench.workshop.parts.stock import ShelfPiece, usable_pieces

SERVICE_LEVEL = 0.95
"""Chance that stock lasts from an order to its arrival; common practice, no published source."""

LEAD_DAYS_UNKNOWN = 21
"""Calculated where no lead time is recorded, and said; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One part type: what is there, what is expected to be needed, and what to order; absorbent in kilograms.

    usable: may be fitted today. reserved: pieces that open tickets will take, part of the need. expiring: ends on the
    shelf within the horizon. need: pieces expected through the horizon, of which due by their last good days and
    failures. undated: fitted parts whose last good day is not known; they are not in the need.
    order_on: None where nothing is to order. late_by: days by which even an order of today comes too late.
    why: what the figures rest on, a sentence each. supplier: of the newest piece of the type of which one is recorded.
    """

    part_type_id: int
    code: str
    part_type: str
    kind: str
    stocked_in: str
    on_hand: float
    usable: float
    reserved: int
    expiring: float
    need: float
    due: float
    failures: float
    undated: int
    safety: float
    short_on: date | None
    order_on: date | None
    late_by: int
    quantity: float
    packs: int
    pack_size: float
    capped: bool
    lead_days: int
    cost: float | None
    why: tuple[str, ...]
    supplier: str | None = None


def order_list(
    workplace: Workplace,
    *,
    horizon_days: int = HORIZON_DAYS,
    service_level: float = SERVICE_LEVEL,
    on: date | None = None,
) -> tuple[OrderLine, ...]:
    """Every part type, those to order first, by the day of ordering; then the rest by name.

    A fixed number of statements. ValueError for a horizon or service level out of reason.
    """
    day = day_of(workplace, on)
    forecasts = forecast_need(workplace, horizon_days=horizon_days, on=on)
    with workplace.database.reading() as connection:
        types, lives = read_part_types(connection), read_life_records(connection)
        pieces = usable_pieces(connection, types, lives, day)
        parts = read_parts(connection)
        kits: dict[int, int] = defaultdict(int)
        for kit in reads.read_kits(connection):
            kits[kit.part_type_id] += kit.least
        absorbent = absorbent_needs(connection, types, day, horizon_days)
        coming, suppliers = read_coming(connection), read_suppliers(connection)
    limits, ages = limits_by_type(lives.limits), ages_on_arrival(parts)
    on_hand = Counter(part.part_type_id for part in parts if part.state == PartState.STOCK)
    lines = [
        _line(
            kind, forecasts.get(key), pieces.get(key, []), on_hand[key], kits.get(key, 0),
            _shelf_days(limits.get(key, ()), ages.get(key)), day, horizon_days, service_level, coming.get(key, ()),
        )
        for key, kind in types.items()
        if kind.stocked_in == "piece"
    ]  # fmt: skip
    lines += [_absorbent_line(types[key], need, day, horizon_days, service_level) for key, need in absorbent.items()]
    lines = [replace(line, supplier=suppliers.get(line.part_type_id)) for line in lines]
    return tuple(sorted(lines, key=lambda line: (line.order_on or date.max, -line.late_by, line.part_type)))


def _shelf_days(limits: Iterable[LifeLimit], usual_age: int | None) -> int | None:
    """How long a newly bought piece may lie before it ends or its life in service is cut short; None for no end."""
    listed = tuple(limits)
    age = usual_age or 0
    service = [in_days(each) for each in listed if each.basis in (LimitBasis.FITTED, LimitBasis.OPENED)]
    days = [in_days(each) - age for each in listed if each.basis is LimitBasis.STORAGE]
    days += [in_days(each) - age - min(service, default=0) for each in listed if each.basis is LimitBasis.MADE]
    return max(1, min(days)) if days else None


def _line(
    kind: PartTypeRecord, forecast: DemandForecast | None, pieces: list[ShelfPiece], on_hand: int, kit_least: int,
    shelf_days: int | None, day: Day, horizon_days: int, service_level: float,
    coming: Sequence[tuple[date, int]],
) -> OrderLine:  # fmt: skip
    if forecast is None:
        forecast = no_need(horizon_days)
    lead = LEAD_DAYS_UNKNOWN if kind.lead_days is None else kind.lead_days
    pack = kind.pack_size or 1.0
    need = forecast.need
    ends = [(1.0, (piece.last_good_day - day.today).days if piece.last_good_day else None) for piece in pieces]
    rules = OrderRules(lead, pack_size=pack, shelf_days=shelf_days, least=kit_least, service_level=service_level)
    # What is on order is not ordered twice; it counts as there, and its day is told beside.
    plan = plan_order(need, ends + [(float(count), None) for _, count in coming], rules)
    told = [say("{count} on order, expected {comes}", count=count, comes=comes) for comes, count in coming]
    expiring = sum(1.0 for _, end in ends if end is not None and end <= horizon_days)
    price = kind.price
    return OrderLine(
        kind.part_type_id, code=kind.code, part_type=kind.name, kind=kind.kind, stocked_in=kind.stocked_in,
        on_hand=float(on_hand), usable=float(len(pieces)),
        reserved=forecast.reserved, expiring=expiring, need=need.expected, due=need.due, failures=need.failures,
        undated=forecast.undated,
        safety=plan.safety, short_on=_day(day, plan.short_in), order_on=_day(day, plan.order_in), late_by=plan.late_by,
        quantity=plan.quantity, packs=plan.packs, pack_size=pack,
        capped=plan.capped, lead_days=lead,
        cost=plan.quantity * price if price is not None and plan.order_in is not None else None,
        why=(*told, *_reasons(kind, forecast, plan, lead, shelf_days, kit_least, service_level)),
    )  # fmt: skip


def _absorbent_line(
    kind: PartTypeRecord, absorbent: AbsorbentNeed, day: Day, horizon_days: int, service_level: float
) -> OrderLine:
    lead = LEAD_DAYS_UNKNOWN if kind.lead_days is None else kind.lead_days
    unit, pack = absorbent.bunch_kg, kind.pack_size or 1.0
    rules = OrderRules(
        lead, pack_size=pack / unit, shelf_days=absorbent.shelf_days, least=0, service_level=service_level
    )
    plan = plan_order(absorbent.need, absorbent.lying, rules)
    quantity, price = plan.packs * pack, kind.price
    forecast = DemandForecast(absorbent.need, 0, 0, "")
    told = [
        *absorbent.words,
        *_supply_reasons(kind, forecast, plan, lead, absorbent.shelf_days, service_level, lost=plan.lost * unit),
    ]
    return OrderLine(
        kind.part_type_id, code=kind.code, part_type=kind.name, kind=kind.kind, stocked_in=kind.stocked_in,
        on_hand=absorbent.on_hand_kg, usable=absorbent.usable_kg,
        reserved=0, expiring=absorbent.expiring_kg, need=absorbent.kg_a_day * horizon_days, due=0.0, failures=0.0,
        undated=0, safety=plan.safety * unit,
        short_on=_day(day, plan.short_in), order_on=_day(day, plan.order_in), late_by=plan.late_by, quantity=quantity,
        packs=plan.packs, pack_size=pack, capped=plan.capped,
        lead_days=lead, cost=quantity * price if price is not None and plan.order_in is not None else None,
        why=tuple(told),
    )  # fmt: skip


def _day(day: Day, ahead: int | None) -> date | None:
    return None if ahead is None else day.today + timedelta(days=ahead)


def _reasons(
    kind: PartTypeRecord, forecast: DemandForecast, plan: OrderPlan, lead: int, shelf_days: int | None, kit_least: int,
    service_level: float,
) -> Iterable[str]:  # fmt: skip
    yield say("failures: {forecast}", forecast=forecast.words)
    if kit_least:
        yield say("{count} more must lie in kits", count=kit_least)
    if forecast.undated:
        yield say(
            "{undated} fitted with a date that is not known: not in the need, look at them first",
            undated=forecast.undated,
        )
    yield from _supply_reasons(kind, forecast, plan, lead, shelf_days, service_level, lost=plan.lost)


def _supply_reasons(
    kind: PartTypeRecord,
    forecast: DemandForecast,
    plan: OrderPlan,
    lead: int,
    shelf_days: int | None,
    service_level: float,
    *,
    lost: float,
) -> Iterable[str]:
    if kind.lead_days is None:
        yield say("lead time not recorded: {lead} days assumed", lead=lead)
    yield say(
        "stock meets the need through {count} days with a chance of {service_level:.0%}",
        count=len(forecast.need.by_day) - 1,
        service_level=service_level,
    )
    if plan.capped and plan.order_in is not None:
        yield say(
            "cut to what is used within {shelf_days} days of arrival: more would end on the shelf",
            shelf_days=shelf_days,
        )
    if lost >= 0.5:
        said = KILOGRAM.words(math.floor(lost + 0.5)) if kind.stocked_in == "kg" else f"{math.floor(lost + 0.5)}"
        yield say("{said} on the shelf end before they are expected to be needed", said=said)
    if plan.order_in is not None and plan.late_by:
        yield say("an order of today comes {days} days too late", days=plan.late_by)


def lead_days(kind: PartTypeRecord) -> int:
    """Days from an order of a part type to its arrival; what is not recorded is taken as usual."""
    return kind.lead_days if kind.lead_days is not None else LEAD_DAYS_UNKNOWN


def pieces_left(workplace: Workplace) -> Counter[int]:
    """Of each part type the pieces on the shelf and on order, less those that open tickets reserve."""
    day, reserved = day_of(workplace), Counter(each.part_type_id for each in list_reservations(workplace))
    with workplace.database.reading() as connection:
        pieces = usable_pieces(connection, read_part_types(connection), read_life_records(connection), day)
        coming = {key: sum(count for _, count in listed) for key, listed in read_coming(connection).items()}
    left = Counter({key: len(listed) for key, listed in pieces.items()})
    left.update(coming)
    left.subtract(reserved)
    return left


def order_within(
    act: Transaction, needed: Mapping[int, int], left: Mapping[int, int], today: date, made_for: str
) -> tuple[str, ...]:
    """Write the orders of what is needed beyond what is left, in whole packs; each in words."""
    types, told = read_part_types(act.session.connection()), []
    for key, count in sorted(needed.items()):
        short = count - max(0, left.get(key, 0))
        if short <= 0:
            continue
        kind = types[key]
        pack = max(1, math.ceil(kind.pack_size or 1))
        pieces, comes = math.ceil(short / pack) * pack, today + timedelta(days=lead_days(kind))
        act.add(
            PartOrder(part_type_id=key, pieces=pieces, ordered_at=act.at, ordered_by_id=act.person_id,
                      expected_on=comes, made_for=made_for)
        )  # fmt: skip
        told.append(say("{pieces} {kind}, expected {comes}", pieces=pieces, kind=kind.name, comes=comes))
    return tuple(told)


def cancel_orders_within(act: Transaction, made_for: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Cancel what a booking or plan ordered: in words the orders cancelled, and those of which pieces came."""
    types = read_part_types(act.session.connection())
    off: list[str] = []
    kept: list[str] = []
    for order in orders_standing(act.session, made_for=made_for):
        words = f"{order.pieces} {types[order.part_type_id].name}"
        (kept if order.arrived else off).append(words)
        if not order.arrived:
            act.change(order, cancelled_at=act.at)
    return tuple(off), tuple(kept)


@dataclass(frozen=True, slots=True)
class FetchRow:
    """One part type: pieces wanted, which to take from where in their order, and how many are short.

    wanted_for: unit and slot of each piece. take: as many as are wanted, those that end first on the shelf at the head.
    """

    part_type_id: int
    code: str
    part_type: str
    wanted: int
    wanted_for: tuple[str, ...]
    take: tuple[ShelfPiece, ...]
    short: int


def fetch_list(
    workplace: Workplace, items: Iterable[DueItem], through: date, on: date | None = None
) -> tuple[FetchRow, ...]:
    """What to fetch for those due items that end by replacing a part and fall on or before a day, by part type.

    A piece is taken only where it is usable through the last day, and never out of a kit or van. An item whose day is
    not known is not among them: its date is to be found first. A fixed number of statements.
    """
    day = day_of(workplace, on)
    ending: dict[int, DueItem] = {}
    for item in items:
        falls = item.last_good_day is not None and item.last_good_day <= through
        if item.item == "replace" and item.part_id is not None and falls:
            ending.setdefault(item.part_id, item)
    with workplace.database.reading() as connection:
        types = read_part_types(connection)
        pieces = usable_pieces(connection, types, read_life_records(connection), day)
        elsewhere = {place.name for place in read_places(connection) if place.kind in OTHERS}
        type_of = {part.part_id: part.part_type_id for part in read_parts(connection, states=("fitted",))}
    wanted: dict[int, list[DueItem]] = defaultdict(list)
    for part_id, item in ending.items():
        if part_id in type_of:
            wanted[type_of[part_id]].append(item)
    rows = []
    for key, listed in wanted.items():
        good = [
            each
            for each in pieces.get(key, ())
            if (each.last_good_day is None or each.last_good_day >= through) and each.place not in elsewhere
        ]
        take = tuple(good[: len(listed)])
        where = tuple(strung(", ", filter(None, (item.unit or say("in store"), item.slot))) for item in listed)
        kind = types[key]
        rows.append(
            FetchRow(
                key,
                code=kind.code,
                part_type=kind.name,
                wanted=len(listed),
                wanted_for=where,
                take=take,
                short=len(listed) - len(take),
            )
        )
    return tuple(sorted(rows, key=lambda row: row.part_type))
