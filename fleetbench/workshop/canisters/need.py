"""The need of absorbent in kilograms, at the pace that is booked or was used, whichever is higher."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from fleetbench.calc.canisters.stock import BookedFills, booked_kg_a_day
from fleetbench.calc.parts.demand import Need, bunching, steady_need
from fleetbench.records.canisters.lookups import UseRecord, read_canister_types, read_packings
from fleetbench.records.canisters.reads import ContainerRecord, read_containers, read_ratings
from fleetbench.records.hires.reads import read_wanted
from fleetbench.records.parts.reads import PartTypeRecord
from fleetbench.records.places.reads import read_limits
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.canisters.containers import full_masses, hours_by_grade, usable_until
from fleetbench.workshop.core.workplace import Day

WEEKS = 52
BACK_DAYS = 90
"""Days of use looked back at, now and a year ago, as for every limit by use."""


@dataclass(frozen=True, slots=True)
class AbsorbentNeed:
    """What of one absorbent is there and is needed. need: in bunches of bunch_kg; lying: (bunches, days until its end).

    kg_a_day: the pace reckoned with. shelf_days: how long a container bought today may lie, None where none tells.
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
        paces = {"booked": known or 0.0, f"the last {BACK_DAYS} days": last, "the same days last year": year_ago}
        self.what = max(paces, key=lambda name: paces[name])
        self.kg_a_day = paces[self.what]
        self.fill_kg = max(grams, default=0.0) / 1000 or 2.5
        said = ", ".join(f"{name} {kg:.2f}" for name, kg in paces.items())
        self.words = [f"kilograms a day: {said}; the highest is reckoned with"]
        if known is None:
            self.words.append("a canister's full mass is not recorded: its bookings are not in the pace")

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
        f"used in bunches of about {bunch:.1f} fills of {pace.fill_kg:.2g} kg, as the last year's weeks show",
    ]
    return AbsorbentNeed(
        steady_need(pace.kg_a_day / unit, horizon_days), unit, tuple(lying), sum(e.left_kg for e in containers), usable,
        expiring, pace.kg_a_day, max(1, int(median(shelf))) if shelf else None, tuple(words),
    )  # fmt: skip
