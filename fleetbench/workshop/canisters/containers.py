"""Absorbent containers: received, opened, dated, counted anew; what uses them and when they run out."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from fleetbench.calc.canisters.stock import BookedFills, StockLine, booked_kg_a_day, run_out
from fleetbench.calc.core.plausible import CONTAINER_MASS
from fleetbench.records.canisters.lookups import (
    UseRecord,
    absorbent_type,
    read_canister_types,
    read_packings,
    read_stock_takes,
)
from fleetbench.records.canisters.reads import ContainerRecord, read_containers, read_ratings
from fleetbench.records.canisters.tables import Container, StockTake
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.reads import read_wanted
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.reads import LimitRecord, read_limits
from fleetbench.records.places.tables import Place
from fleetbench.workshop.canisters.packing import past_moment
from fleetbench.workshop.core.workplace import Day, Shop, day_of, figure, measured, require_person, required


@dataclass(frozen=True, slots=True)
class UseMonth:
    """Kilograms packed in one month from one lot; `2026-05`. unweighed: packings reckoned at the type's full mass."""

    month: str
    lot: str
    kg: float
    packings: int
    unweighed: int


@dataclass(frozen=True, slots=True)
class AbsorbentChoice:
    """An absorbent of the catalogue that can be received."""

    code: str
    name: str
    grade: str | None


@dataclass(frozen=True, slots=True)
class ContainerOutlook:
    """One container and how long it lasts; empty_on None where nothing is booked or its date ends it first.

    wasted_kg: what is left when it may no longer be used. usable_until: its last good day, or sooner where a canister
    type limits the hours since it was opened; None is not known. ended: why it may not be used, empty where it may.
    counted: the last stock-take in words, empty for none.
    """

    container: ContainerRecord
    usable_until: date | None
    ended: str
    empty_on: date | None
    wasted_kg: float
    counted: str


@dataclass(frozen=True, slots=True)
class AbsorbentStock:
    """What is in stock by container, the pace that is booked by grade (None where not known), and its use."""

    today: date
    pace_kg_a_day: dict[str, float | None]
    containers: tuple[ContainerOutlook, ...]
    use: tuple[UseMonth, ...]


def receive_container(
    shop: Shop,
    code: str,
    *,
    lot: str,
    kg: float,
    last_good_day: date | None = None,
    received_on: date | None = None,
    place_id: int | None = None,
) -> int:
    """The key of a container taken in, sealed. A last good day that is not known can be entered later.

    code: the absorbent's part type. last_good_day: as marked on the container, inclusive.
    """
    require_person(shop)
    said, mass = required("lot", lot), measured(CONTAINER_MASS, kg)
    if len(said) > 60:
        raise Refused("lot: is longer than 60 characters; enter it as it is marked")
    today = shop.today()
    arrived = received_on or today
    if arrived > today:
        raise Refused("received on: lies ahead; look at the date")
    if last_good_day is not None and last_good_day < arrived:
        raise Refused(f"last good day: {last_good_day} had passed when it was received; send it back")
    with shop.acting("receive absorbent", f"absorbent lot {said}") as act:
        if place_id is not None:
            act.get(Place, place_id, "place")
        row = Container(
            part_type_id=absorbent_type(act.session, code).id,
            lot=said,
            received_kg=mass,
            left_kg=mass,
            received_on=arrived,
            last_good_day=last_good_day,
            place_id=place_id,
        )
        return act.add(row).id


def open_container(shop: Shop, container_id: int, *, opened_at: datetime | None = None) -> None:
    """Record that a container was opened, from when its hours count."""
    require_person(shop)
    with shop.acting("open container", _about(shop, container_id)) as act:
        row = act.get(Container, container_id, "container")
        if row.opened_at is not None:
            raise Refused(f"container of lot {row.lot}: was opened before; its hours count from then")
        act.change(row, opened_at=past_moment("opened at", opened_at, act.at))


def date_container(shop: Shop, container_id: int, last_good_day: date) -> None:
    """Enter the last good day marked on a container; one that is known changes only to an earlier day."""
    require_person(shop)
    with shop.acting("date container", _about(shop, container_id)) as act:
        row = act.get(Container, container_id, "container")
        if row.last_good_day is not None and last_good_day > row.last_good_day:
            raise Refused(f"last good day: {row.last_good_day} is recorded; a later one is not taken")
        act.change(row, last_good_day=last_good_day)


def stock_take(shop: Shop, container_id: int, counted_kg: float, reason: str) -> None:
    """Correct a container's kilograms by what was weighed, with the reason; what the book said is kept."""
    person = require_person(shop)
    said = required("reason", reason)[:200]
    with shop.acting("stock-take", _about(shop, container_id)) as act:
        row = act.get(Container, container_id, "container")
        counted = figure("counted", counted_kg, 0, row.received_kg, "enter kilograms, at most what was received")
        act.add(
            StockTake(
                container_id=row.id,
                at=act.at,
                person_id=person,
                book_kg=row.left_kg,
                counted_kg=counted,
                reason=said,
            )
        )
        act.change(row, left_kg=counted)


def absorbent_stock(shop: Shop, *, months: int = 13) -> AbsorbentStock:
    """Containers with something left and when they run out at the booked pace, and use by lot and month.

    A fixed number of statements, whatever the size of the fleet.
    """
    day = day_of(shop)
    since = day.midnight(_months_before(day.today, months - 1))
    with shop.database.reading() as connection:
        containers = read_containers(connection)
        limits, ratings = read_limits(connection), read_ratings(connection)
        wanted, types = read_wanted(connection, day.today), read_canister_types(connection)
        packings = read_packings(connection, since)
        takes, names = read_stock_takes(connection), read_names(connection)
    masses = full_masses(limits)
    grades = {row.part_type_id: row.grade for row in ratings}
    booked: dict[str, list[BookedFills]] = defaultdict(list)
    for each in wanted:
        canister = types.get(each.unit_type_id)
        if canister is not None:
            mass = masses.get(canister)
            fills = BookedFills(each.starts_on, each.ends_on, each.units_wanted, mass / 1000 if mass else None)
            booked[grades.get(canister, "")].append(fills)
    paces = {grade: booked_kg_a_day(fills, day.today) for grade, fills in booked.items()}
    counted = {}
    for take in reversed(takes):
        who = names.get(take.person_id or 0, "not recorded")
        counted[take.container_id] = (
            f"{take.at.astimezone(day.zone):%Y-%m-%d}, {who}: {take.counted_kg:g} kg, "
            f"{take.book_kg:g} by the book ({take.reason})"
        )
    hours = hours_by_grade(limits, grades)
    ends = {each.container_id: usable_until(each, hours.get(each.grade or ""), day) for each in containers}
    return AbsorbentStock(
        day.today,
        paces,
        _outlooks(containers, ends, paces, day.today, counted),
        use_by_month(packings, masses, lambda at: at.astimezone(day.zone).date()),
    )


def absorbent_choices(shop: Shop) -> tuple[AbsorbentChoice, ...]:
    """Every absorbent in the catalogue: part types counted in kilograms, by name."""
    with shop.database.reading() as connection:
        types = read_part_types(connection).values()
    found = (AbsorbentChoice(each.code, each.name, each.grade) for each in types if each.stocked_in == "kg")
    return tuple(sorted(found, key=lambda each: each.name))


def full_masses(limits: Iterable[LimitRecord]) -> dict[int, float]:
    """Full mass in grams of each canister type that states one."""
    return {
        limit.part_type_id: limit.amount
        for limit in limits
        if limit.part_type_id is not None and limit.name == "full mass"
    }


def use_by_month(
    packings: Sequence[UseRecord], masses: dict[int, float], day_at: Callable[[datetime], date]
) -> tuple[UseMonth, ...]:
    """Kilograms by month and lot; a fill that was not weighed counts as a full one."""
    sums: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0.0, 0, 0])
    for each in packings:
        mass = each.mass_g if each.mass_g is not None else masses.get(each.part_type_id, 0.0)
        entry = sums[f"{day_at(each.packed_at):%Y-%m}", each.lot or "lot not recorded"]
        entry[0] += mass / 1000
        entry[1] += 1
        entry[2] += each.mass_g is None
    return tuple(
        UseMonth(month, lot, kg, int(count), int(unweighed))
        for (month, lot), (kg, count, unweighed) in sorted(sums.items())
    )


def usable_until(container: ContainerRecord, hours: float | None, day: Day) -> date | None:
    """The last day on which a container may be packed from: its last good day, or the last whole day of its hours.

    hours: since it was opened, the strictest of the canister types that take its grade; None where none limits them.
    """
    last = container.last_good_day
    if last is None or hours is None or container.opened_at is None:
        return last
    over = container.opened_at.astimezone(UTC) + timedelta(hours=hours)
    return min(last, over.astimezone(day.zone).date() - timedelta(days=1))


def hours_by_grade(limits: Iterable[LimitRecord], grades: dict[int, str]) -> dict[str, float]:
    """The fewest hours since a container was opened that canister types of a grade allow."""
    found: dict[str, float] = {}
    for limit in limits:
        if limit.name == "hours since opened" and limit.part_type_id in grades:
            grade = grades[limit.part_type_id]
            found[grade] = min(limit.amount, found.get(grade, limit.amount))
    return found


def _ended(container: ContainerRecord, until: date | None, today: date) -> str:
    if container.last_good_day is None:
        return "no last good day is known"
    if container.last_good_day < today:
        return "past its last good day"
    return "opened too long ago" if until is not None and until < today else ""


def _outlooks(
    containers: Sequence[ContainerRecord],
    until: dict[int, date | None],
    paces: dict[str, float | None],
    today: date,
    counted: dict[int, str],
) -> tuple[ContainerOutlook, ...]:
    ends = {}
    for grade in {each.grade for each in containers}:
        lines = [
            StockLine(each.container_id, each.left_kg, each.opened_at is not None, until[each.container_id])
            for each in containers
            if each.grade == grade
        ]
        ends.update({end.key: end for end in run_out(lines, paces.get(grade or ""), today)})
    return tuple(
        ContainerOutlook(
            each,
            until[each.container_id],
            _ended(each, until[each.container_id], today),
            ends[each.container_id].empty_on,
            ends[each.container_id].wasted_kg,
            counted.get(each.container_id, ""),
        )
        for each in containers
    )


def _about(shop: Shop, container_id: int) -> str:
    with shop.database.looking() as session:
        row = session.get(Container, container_id)
        return f"absorbent lot {row.lot}" if row is not None else f"container {container_id}"


def _months_before(day: date, months: int) -> date:
    index = day.year * 12 + day.month - 1 - months
    return date(index // 12, index % 12 + 1, 1)
