"""Absorbent containers: received, opened, dated, counted anew; what uses them and when they run out.

The need of absorbent in kilograms, at the pace that is booked or was used, whichever is higher.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from statistics import median

from fleetbench.calc.canisters.packing import BookedFills, StockLine, booked_kg_a_day, run_out
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.core.plausible import CONTAINER_MASS
from fleetbench.calc.parts.demand import Need, bunching, steady_need
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
from fleetbench.records.parts.reads import PartTypeRecord, read_part_types
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.reads import LimitRecord, read_limits
from fleetbench.records.places.tables import Place
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.canisters.packing import past_moment
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, figure, measured, require_person, required


@dataclass(frozen=True, slots=True)
class UseMonth:
    """Kilograms packed in one month from one lot; `2026-05`. unweighed: packings calculated at the type's full mass."""

    month: str
    lot: str
    kg: float
    packings: int
    unweighed: int


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
    workplace: Workplace,
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
    require_person(workplace)
    said, mass = required("lot", lot), measured(CONTAINER_MASS, kg)
    if len(said) > 60:
        raise Refused(say("lot: is longer than 60 characters; enter it as it is marked"))
    today = workplace.today()
    arrived = received_on or today
    if arrived > today:
        raise Refused(say("received on: lies ahead; look at the date"))
    if last_good_day is not None and last_good_day < arrived:
        raise Refused(say("last valid day: {day} had passed when it was received; send it back", day=last_good_day))
    with workplace.transaction("receive absorbent", f"absorbent lot {said}") as act:
        if place_id is not None:
            act.get(Place, place_id, "place")
        row = Container(
            part_type_id=absorbent_type(act.session, code).id,
            lot=said,
            received_kg=mass,
            left_kg=float(mass),
            received_on=arrived,
            last_good_day=last_good_day,
            place_id=place_id,
        )
        return act.add(row).id


def open_container(workplace: Workplace, container_id: int, *, opened_at: datetime | None = None) -> None:
    """Record that a container was opened, from when its hours count."""
    require_person(workplace)
    with workplace.transaction("open container", _about(workplace, container_id)) as act:
        row = act.get(Container, container_id, "container")
        if row.opened_at is not None:
            raise Refused(say("container of lot {lot}: was opened before; its hours count from then", lot=row.lot))
        act.change(row, opened_at=past_moment("opened at", opened_at, act.at))


def date_container(workplace: Workplace, container_id: int, last_good_day: date) -> None:
    """Enter the last good day marked on a container; one that is known changes only to an earlier day."""
    require_person(workplace)
    with workplace.transaction("date container", _about(workplace, container_id)) as act:
        row = act.get(Container, container_id, "container")
        if row.last_good_day is not None and last_good_day > row.last_good_day:
            raise Refused(say("last valid day: {day} is recorded; a later one is not taken", day=row.last_good_day))
        act.change(row, last_good_day=last_good_day)


def stock_take(workplace: Workplace, container_id: int, counted_kg: float, reason: str) -> None:
    """Correct a container's kilograms by what was weighed, with the reason; what the book said is kept."""
    person = require_person(workplace)
    said = required("reason", reason)[:200]
    with workplace.transaction("stock-take", _about(workplace, container_id)) as act:
        row = act.get(Container, container_id, "container")
        counted = figure("counted", counted_kg, 0, row.received_kg, "enter {unit}, at most what was received", KILOGRAM)
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


def absorbent_stock(workplace: Workplace, *, months: int = 13) -> AbsorbentStock:
    """Containers with something left and when they run out at the booked pace, and use by lot and month.

    A fixed number of statements, whatever the size of the fleet.
    """
    day = day_of(workplace)
    since = day.midnight(_months_before(day.today, months - 1))
    with workplace.database.reading() as connection:
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
        who = names.get(take.person_id or 0, say("not recorded"))
        counted[take.container_id] = say(
            "{at:%Y-%m-%d}, {who}: {counted}, {recorded} on record ({reason})",
            at=take.at.astimezone(day.zone),
            who=who,
            counted=KILOGRAM.words(take.counted_kg),
            recorded=KILOGRAM.number(take.book_kg),
            reason=take.reason,
        )
    hours = hours_by_grade(limits, grades)
    ends = {each.container_id: usable_until(each, hours.get(each.grade or ""), day) for each in containers}
    return AbsorbentStock(
        day.today,
        paces,
        _outlooks(containers, ends, paces, day.today, counted),
        use_by_month(packings, masses, lambda at: at.astimezone(day.zone).date()),
    )


def absorbent_choices(workplace: Workplace) -> tuple[PartTypeRecord, ...]:
    """Every absorbent in the catalogue: part types counted in kilograms, by name."""
    with workplace.database.reading() as connection:
        types = read_part_types(connection).values()
    return tuple(sorted((each for each in types if each.stocked_in == "kg"), key=lambda each: each.name))


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
        UseMonth(month, lot=lot, kg=kg, packings=int(count), unweighed=int(unweighed))
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
        return say("no last valid day is known")
    if container.last_good_day < today:
        return say("past its last valid day")
    return say("opened too long ago") if until is not None and until < today else ""


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
            usable_until=until[each.container_id],
            ended=_ended(each, until[each.container_id], today),
            empty_on=ends[each.container_id].empty_on,
            wasted_kg=ends[each.container_id].wasted_kg,
            counted=counted.get(each.container_id, ""),
        )
        for each in containers
    )


def _about(workplace: Workplace, container_id: int) -> str:
    with workplace.database.read_session() as session:
        row = session.get(Container, container_id)
        return (
            say("absorbent lot {lot}", lot=row.lot)
            if row is not None
            else say("container {container_id}", container_id=container_id)
        )


def _months_before(day: date, months: int) -> date:
    index = day.year * 12 + day.month - 1 - months
    return date(index // 12, index % 12 + 1, 1)


WEEKS = 52
BACK_DAYS = 90
"""Days of use looked back at, now and a year ago, as for every limit by use."""


@dataclass(frozen=True, slots=True)
class AbsorbentNeed:
    """What of one absorbent is there and is needed. need: in bunches of bunch_kg; lying: (bunches, days until its end).

    kg_a_day: the pace calculated with. shelf_days: how long a container bought today may lie, None where none tells.
    words: what the pace rests on, a sentence each.
    """

    need: Need
    bunch_kg: float
    lying: tuple[tuple[float, int | None], ...]
    on_hand_kg: float
    usable_kg: float
    expiring_kg: float
    kg_a_day: float
    shelf_days: int | None
    words: tuple[str, ...]


def absorbent_needs(
    connection: Connection, types: Mapping[int, PartTypeRecord], day: Day, horizon_days: int
) -> dict[int, AbsorbentNeed]:
    """The need of every absorbent by part type; where several are of a grade, of which most lies in stock carries it.

    A fixed number of statements.
    """
    containers, limits = read_containers(connection), read_limits(connection)
    grades = {row.part_type_id: row.grade for row in read_ratings(connection)}
    masses, hours = full_masses(limits), hours_by_grade(limits, grades)
    canisters = read_canister_types(connection)
    packings = read_packings(connection, day.midnight(day.today - timedelta(days=365 + BACK_DAYS)))
    booked: dict[str, list[BookedFills]] = defaultdict(list)
    for each in read_wanted(connection, day.today):
        canister = canisters.get(each.unit_type_id)
        if canister is not None:
            mass = masses.get(canister)
            fills = BookedFills(each.starts_on, each.ends_on, each.units_wanted, mass / 1000 if mass else None)
            booked[grades.get(canister, "")].append(fills)
    of_type: dict[int, list[ContainerRecord]] = defaultdict(list)
    for container in containers:
        of_type[container.part_type_id].append(container)
    found = {}
    for key, kind in types.items():
        if kind.stocked_in != "kg":
            continue
        grade = kind.grade or ""
        alike = [other for other, each in types.items() if each.stocked_in == "kg" and (each.grade or "") == grade]
        carries = max(alike, key=lambda other: (sum(each.left_kg for each in of_type[other]), -other)) == key
        used = [each for each in packings if grades.get(each.part_type_id, "") == grade] if carries else []
        pace = _Pace(used, masses, booked.get(grade, []) if carries else [], day, horizon_days)
        ends = {each.container_id: usable_until(each, hours.get(grade), day) for each in of_type[key]}
        found[key] = _need(of_type[key], ends, pace, day, horizon_days)
    return found


def absorbent_there(
    connection: Connection, types: Mapping[int, PartTypeRecord], unit_type_id: int, on: date, day: Day
) -> tuple[int | None, str]:
    """Fills that can be packed on a day to come, from what is there now, less what is expected to be packed before.

    Only containers that may still be packed from on that day count. None where a fill's mass or grade is not known; and
    in words.
    """
    canister = read_canister_types(connection).get(unit_type_id)
    limits = read_limits(connection)
    grades = {row.part_type_id: row.grade for row in read_ratings(connection)}
    mass = full_masses(limits).get(canister) if canister is not None else None
    if canister is None or mass is None or canister not in grades:
        return None, say("how much absorbent a fill takes is not recorded")
    grade, hours = grades[canister], hours_by_grade(limits, grades)
    of_grade = {key for key, each in types.items() if each.stocked_in == "kg" and (each.grade or "") == grade}
    lasting = [
        each.left_kg
        for each in read_containers(connection)
        if each.part_type_id in of_grade
        and (until := usable_until(each, hours.get(grade), day)) is not None
        and until >= on
    ]
    ahead = max(0, (on - day.today).days)
    pace = sum(
        need.kg_a_day for key, need in absorbent_needs(connection, types, day, max(1, ahead)).items() if key in of_grade
    )
    left = max(0.0, sum(lasting) - pace * ahead)
    fills = int(left / (mass / 1000) + 1e-9)
    fill, there = KILOGRAM.words(mass / 1000), KILOGRAM.words(left, 1)
    return fills, say(
        "absorbent for {fills} fills of {fill} on {on}, {there} left by then",
        fills=fills,
        fill=fill,
        on=on,
        there=there,
    )


class _Pace:
    """Kilograms a day: the highest of what is booked, the last 90 days, and the 90 days to come as they were last year.

    Common practice, no published source.
    """

    def __init__(
        self, used: Iterable[UseRecord], masses: Mapping[int, float], booked: Iterable[BookedFills], day: Day, days: int
    ) -> None:
        self._by_day: dict[date, float] = defaultdict(float)
        grams: list[float] = []
        for each in used:
            full = masses.get(each.part_type_id, 0.0)
            mass = each.mass_g if each.mass_g is not None else full
            self._by_day[day.of(each.packed_at)] += mass / 1000
            grams.append(max(mass, full))
        today = day.today
        last = self._between(today - timedelta(days=BACK_DAYS), today) / BACK_DAYS
        year_ago = self._between(today - timedelta(days=365), today - timedelta(days=365 - days)) / days
        known = booked_kg_a_day(booked, today, days)
        paces = {
            say("booked"): known or 0.0,
            say("the last {days} days", days=BACK_DAYS): last,
            say("the same days last year"): year_ago,
        }
        self.what = max(paces, key=lambda name: paces[name])
        self.kg_a_day = paces[self.what]
        self.fill_kg = max(grams, default=0.0) / 1000 or 2.5
        said = strung(", ", (strung(" ", (name, KILOGRAM.number(kg, 2))) for name, kg in paces.items()))
        self.words = [say("{unit} a day: {paces}; the highest is used", unit=KILOGRAM.word, paces=said)]
        if known is None:
            self.words.append(say("a canister's full mass is not recorded: its bookings are not in the pace"))

    def _between(self, first: date, until: date) -> float:
        return sum(kg for on, kg in self._by_day.items() if first <= on < until)

    def bunch(self, today: date) -> float:
        """Fills that are used together, from the weeks of the last year in fills."""
        starts = [today - timedelta(weeks=number) for number in range(1, WEEKS + 1)]
        return bunching([self._between(start, start + timedelta(weeks=1)) / self.fill_kg for start in starts])


def _need(
    containers: list[ContainerRecord], ends: Mapping[int, date | None], pace: _Pace, day: Day, horizon_days: int
) -> AbsorbentNeed:
    today, bunch = day.today, pace.bunch(day.today)
    unit = pace.fill_kg * bunch
    lying, usable, expiring = [], 0.0, 0.0
    for each in containers:
        end = ends[each.container_id]
        if end is None or end < today or each.left_kg <= 0:
            continue
        left = (end - today).days
        lying.append((each.left_kg / unit, left))
        usable += each.left_kg
        expiring += each.left_kg if left <= horizon_days else 0.0
    shelf = [(e.last_good_day - e.received_on).days for e in containers if e.last_good_day and e.received_on]
    words = [
        *pace.words,
        say(
            "used in bunches of about {bunch:.1f} fills of {mass}, as the last year's weeks show",
            bunch=bunch,
            mass=KILOGRAM.words(float(f"{pace.fill_kg:.2g}")),
        ),
    ]
    return AbsorbentNeed(
        steady_need(pace.kg_a_day / unit, horizon_days), bunch_kg=unit, lying=tuple(lying),
        on_hand_kg=sum(e.left_kg for e in containers), usable_kg=usable,
        expiring_kg=expiring, kg_a_day=pace.kg_a_day, shelf_days=max(1, int(median(shelf))) if shelf else None,
        words=tuple(words),
    )  # fmt: skip
