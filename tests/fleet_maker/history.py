"""The whole history of the centre: calendar, visits and dives put in order of time and played through."""

import datetime as dt
from collections import defaultdict
from itertools import chain
from typing import Any

import numpy as np

from tests.fleet_maker import ending, flaws, folk
from tests.fleet_maker.bench import MIN, Bench, Visit
from tests.fleet_maker.catalogue import B, C
from tests.fleet_maker.centre import DAY, INSTRUCTORS, MANAGER, Centre, Unit, at
from tests.fleet_maker.diving import Diving
from tests.fleet_maker.season import Booked, Fleet, assign, bookings, in_season
from tests.fleet_maker.sensing import day_number, readings
from tests.fleet_maker.sheets import Sheets
from tests.fleet_maker.stockroom import cell_lot, first_outfit

IDLE_DAYS = 88
FRESH_DAYS = 28
# Each year's failures of a centre of 14, as a chance a visit (about 250 visits a year): slot, chance, words.
FAILURES = (
    ("addition valve", 0.012, "Addition valve sticks when pressed"),
    ("oxygen first stage", 0.012, "Intermediate pressure creeps after lock-up"),
    ("solenoid", 0.004, "Solenoid does not close fully"),
    ("handset 2", 0.008, "Handset cable cracked at the gland"),
    ("counterlung", 0.008, "Counterlung leaks at a seam"),
    ("loop hoses", 0.012, "Loop hose perished at the clamp"),
    ("handset 1 battery", 0.012, "Battery contact corroded"),
)


def make_centre(units: int = 14, seed: int = 20260615, months: int = 26) -> Centre:
    """An invented centre of `units` units with `months` months of history before the stated day."""
    centre = Centre(units, seed, months)
    _units(centre, units)
    lines = _calendar(centre)
    _play(centre, lines)
    ending.finish(centre)
    centre.sheets.readings = readings(centre.shots, centre.cells, centre.stream("readings"))
    return centre


def make(units: int = 14, seed: int = 20260615, months: int = 26) -> Sheets:
    """The sheets of such a centre."""
    return make_centre(units, seed, months).sheets


def _units(centre: Centre, count: int) -> None:
    rng = centre.stream("units")
    back = round(count * 9 / 14)
    width = 2 if count < 100 else 4
    for i in range(count):
        kind = B if i < back else C
        number = i + 1 if kind == B else i - back + 1
        tag = f"{kind[-1]}-{number:0{width}d}"
        row = centre.sheets.row(
            "units", tag=tag, unit_type=kind, serial=f"{kind[-1]}{2000 + int(rng.integers(1, 7)) * 100 + i:05d}",
            owner="The centre" if i != 12 else "On loan from the club", place=f"Shelf {i % 3 + 1}",
            in_service_on=centre.first - int(rng.integers(40, 900)) * DAY, harness=("S", "M", "L")[i % 3],
            former_tag="RB4" if i == 3 else None,
        )  # fmt: skip
        unit = Unit(i, tag, kind, row)
        centre.units.append(unit)
        first_outfit(centre, unit)


def _calendar(centre: Centre) -> list[Booked]:
    rng = centre.stream("calendar")
    count = len(centre.units)
    popularity = np.exp(np.linspace(1.8, -1.5, count))[centre.stream("popular").permutation(count)]
    blocked = flaws.blocked() if count >= 14 else {}
    for unit, left, back in _winter_absences(centre):
        blocked.setdefault(unit, []).append((left, back))
    fleet = Fleet([unit.kind for unit in centre.units], popularity, blocked)
    quiet = (centre.stated, centre.stated) if count >= 14 else (centre.stated + 400 * DAY, centre.stated)
    booked = bookings(centre.first + 2 * DAY, centre.stated + 90 * DAY, centre.share, rng, quiet)
    if count >= 14:
        booked += flaws.forced_bookings()
    return assign(booked, fleet, rng)


def _winter_absences(centre: Centre) -> list[tuple[int, dt.date, dt.date]]:
    rng = centre.stream("absences")
    spans = []
    for year in range(centre.first.year, centre.stated.year):
        for unit in rng.choice(len(centre.units), max(1, round(2.5 * centre.share)), replace=False):
            left = dt.date(year, 12, 1) + int(rng.integers(0, 40)) * DAY
            back = left + int(rng.integers(21, 50)) * DAY
            if left > centre.first and back < centre.stated - 60 * DAY:
                spans.append((int(unit), left, back))
                centre.sheets.add(
                    "absences", unit=centre.units[unit].tag, place="Yearly service",
                    why="Yearly service by the maker's workshop",
                    left_at=at(left, 10), expected_on=back - 2 * DAY, back_at=at(back, 11, 30),
                )  # fmt: skip
    return spans


def _play(centre: Centre, booked: list[Booked]) -> None:
    bench, diving = Bench(centre), Diving(centre)
    for code in ("CELL-A", "CELL-C"):
        for days in (20, 6):
            cell_lot(centre, code, centre.first - days * DAY)
    clients = Clients(centre)
    for _, phase, item in _events(centre, booked):
        if phase == 0:
            _visit(centre, bench, item)
        else:
            _hand_out(centre, diving, clients, item)


def _events(centre: Centre, booked: list[Booked]) -> list[tuple[dt.date, int, Any]]:
    visits: dict[tuple[int, dt.date], Visit] = {}
    starts: dict[int, list[dt.date]] = defaultdict(list)
    ends: dict[int, list[dt.date]] = defaultdict(list)
    for booking in booked:
        for index in booking.units:
            starts[index].append(booking.starts)
            ends[index].append(booking.ends)
    extra = flaws.extra_visits() if len(centre.units) >= 14 else []
    for unit in centre.units:
        out = set(starts[unit.index])
        visits[unit.index, centre.first] = Visit(unit, centre.first, first=True)
        for end in ends[unit.index]:
            day = end + DAY
            if day < centre.stated:
                visits[unit.index, day] = Visit(unit, day, received=at(end, 16, 40), out_same_day=day in out)
        for index, day in extra:
            if index == unit.index and day > centre.first and (index, day) not in visits:
                visits[index, day] = Visit(unit, day)
        _idle_checks(centre, unit, visits, starts[unit.index], ends[unit.index])
        _checks_before_hire(centre, unit, visits, starts[unit.index])
    by_day: dict[dt.date, list[Visit]] = defaultdict(list)
    for visit in visits.values():
        by_day[visit.day].append(visit)
    for group in by_day.values():
        group.sort(key=lambda v: (not v.out_same_day, flaws.order_on_bench(v.unit.index, v.day), v.unit.index))
        for i, visit in enumerate(group):
            visit.place_in_day = i
    events: list[tuple[dt.date, int, Any]] = [(v.day, 0, v) for group in by_day.values() for v in group]
    events += [(booking.starts, 1, booking) for booking in booked]
    return sorted(events, key=lambda event: event[:2])


def _idle_checks(centre: Centre, unit: Unit, visits: dict[tuple[int, dt.date], Visit], starts: list[dt.date],
                 ends: list[dt.date]) -> None:  # fmt: skip
    away = [(row["left_at"].date(), row["back_at"].date()) for row in centre.sheets.rows["absences"]
            if row["unit"] == unit.tag]  # fmt: skip
    days = sorted(day for index, day in visits if index == unit.index)
    for this, following in zip(days, [*days[1:], centre.stated], strict=True):
        day = this + IDLE_DAYS * DAY
        while day < following - 20 * DAY:
            out = any(start <= day <= end for start, end in zip(starts, ends, strict=True))
            if not out and not any(left <= day <= back for left, back in away):
                visits[unit.index, day] = Visit(unit, day)
            day += IDLE_DAYS * DAY


def _checks_before_hire(centre: Centre, unit: Unit, visits: dict[tuple[int, dt.date], Visit],
                        starts: list[dt.date]) -> None:  # fmt: skip
    """A unit that stood for four weeks is looked at the day before it goes out."""
    days = sorted(day for index, day in visits if index == unit.index)
    for start in sorted(starts):
        before = [day for day in days if day <= start]
        if start < centre.stated and before and (start - before[-1]).days > FRESH_DAYS:
            visits.setdefault((unit.index, start - DAY), Visit(unit, start - DAY))


def _visit(centre: Centre, bench: Bench, visit: Visit) -> None:
    scripted = len(centre.units) >= 14
    if scripted:
        visit.wants = dict(flaws.wants(visit.unit.index, visit.day))
        for n, (unit, days, wants) in enumerate(flaws.FLOATING):
            key = f"floating {n}"
            if unit == visit.unit.index and visit.day >= flaws.day(days) and key not in visit.unit.tested:
                visit.unit.tested[key] = visit.day
                visit.wants.update(wants)
        near_end = visit.day >= flaws.STEADY_FROM and visit.unit.index < 14
        visit.wants.setdefault("no failures", near_end and visit.unit.index in {4, 6, 7, 11, 12})
        if visit.day >= flaws.day(-8):
            visit.wants.update(complete=True)
            visit.wants.setdefault("no failures", visit.unit.index < 14)
    _chance_failures(bench, visit)
    _script_cells(centre, bench, visit)
    record = bench.visit(visit)
    _received_hold(centre, visit, record)


def _chance_failures(bench: Bench, visit: Visit) -> None:
    failed = [(slot, words) for slot, chance, words in FAILURES if bench.fate.random() < chance]
    leak = bench.fate.random() < 0.012
    if visit.first or visit.day >= flaws.day(-12):
        return
    failed = [(slot, words) for slot, words in failed if slot in visit.unit.slots or slot == "loop hoses"]
    if failed:
        visit.wants.setdefault("failed parts", failed)
    if leak:
        visit.wants.setdefault(
            "leaking valve", "inhale one-way valve" if bench.fate.random() < 0.5 else "exhale one-way valve"
        )


def _script_cells(centre: Centre, bench: Bench, visit: Visit) -> None:
    head = visit.unit.slots["head"].inner
    today = day_number(visit.day)
    for slot, (kind, limit, before, after) in visit.wants.get("fail", {}).items():
        cell = centre.cells[head[slot].cell or 0]
        cell.kind, cell.limit_bar = kind, limit
        cell.from_day, cell.full_day = today - before, today - after
    for slot, (kind, limit) in visit.wants.get("fail and replace", {}).items():
        index = head[slot].cell or 0
        bench.fail_day[index] = (today - 1, kind)
        visit.wants["exact limit"] = limit
    if visit.wants.get("one lot"):
        bench.one_lot(visit)


def _received_hold(centre: Centre, visit: Visit, record: str) -> None:
    if visit.received:
        person = centre.technician(visit.received.date())
        signed = None if visit.wants.get("leave open") else visit.start + 50 * MIN
        centre.sheets.add(
            "holds", unit=visit.unit.tag, kind="received", reason="Back from a diver: turn-round to do",
            placed_at=visit.received, placed_by=person, lifted_at=signed,
            lifted_by=centre.technician(visit.day) if signed else None,
            lift_reason=f"Turn-round done, {record}" if signed else None,
        )  # fmt: skip


class Clients:
    """Renters and students as they come."""

    def __init__(self, centre: Centre) -> None:
        self.centre = centre
        self.rng = centre.stream("clients")
        first = folk.draw(40_000 if centre.share > 3 else 700, self.rng)
        self.names = chain(first, folk.without_end(centre.stream("more clients")))
        self.renters: list[str] = []
        self.count = 0

    def new(self, role: str, unit_type: str, day: dt.date) -> str:
        """A person's code, known to the centre from that day on."""
        self.count += 1
        code = f"{'R' if role == 'renter' else 'S'}{self.count:04d}"
        name = next(name for name in self.names if name not in self.centre.names)
        self.centre.person(code, role, name)
        if role == "renter" and self.rng.random() < 0.92:
            self.centre.sheets.add(
                "qualifications", person=code, unit_type=unit_type, kind="diver",
                seen_on=min(day - int(self.rng.integers(0, 12)) * DAY, self.centre.stated), seen_by=MANAGER,
            )  # fmt: skip
        return code

    def renter(self, unit_type: str, day: dt.date) -> str:
        """A renter, one in three of them known from before."""
        if self.renters and self.rng.random() < 0.33:
            return self.renters[int(self.rng.integers(0, len(self.renters)))]
        self.renters.append(self.new("renter", unit_type, day))
        return self.renters[-1]


def _hand_out(centre: Centre, diving: Diving, clients: Clients, booking: Booked) -> None:
    rng = clients.rng
    number = len(centre.sheets.rows["bookings"]) + 1
    code = f"{ {'hire': 'H', 'course': 'K', 'try day': 'D'}[booking.kind] }{booking.starts:%y}-{number:04d}"
    future = booking.starts >= centre.stated
    renter = clients.renter(booking.unit_type, booking.starts) if booking.kind == "hire" else None
    instructor = INSTRUCTORS[number % len(INSTRUCTORS)] if booking.kind != "hire" else None
    centre.sheets.add(
        "bookings", kind=booking.kind, code=code, unit_type=booking.unit_type, starts_on=booking.starts,
        ends_on=booking.ends,
        units_wanted=booking.wanted if future else len(booking.units), renter=renter, instructor=instructor,
        planned_minutes=booking.planned_minutes, planned_depth_m=booking.depth,
        planned_water_c=round(centre.weather.water_on(booking.starts)) if in_season(booking.starts) else 14,
        planned_co2_l_min=1.35,
    )  # fmt: skip
    if future and rng.random() < 0.08:
        centre.sheets.rows["bookings"][-1]["cancelled_at"] = at(centre.stated - 4 * DAY, 12)
        return
    for i, index in enumerate(booking.units):
        unit = centre.units[index]
        if future:
            if rng.random() < 0.8:
                centre.sheets.add("hire_lines", booking=code, unit=unit.tag, diver=renter)
            continue
        diver = renter if renter and i == 0 else instructor if i == 0 else None
        diver = diver or clients.new("student" if instructor else "renter", booking.unit_type, booking.starts)
        same_day = unit.last_visit == booking.starts
        out_at = at(booking.starts, 15, 30) if same_day else at(booking.starts, 7, 45)
        story = {}
        if booking.forced and len(centre.units) >= 14:
            story = {flaws.B3: {"overrun": True, "keep fill": True}, flaws.C1: {"keep fill": True}}.get(index, {})
        diving.line(unit, booking, code, diver or MANAGER, out_at, dict(story))
