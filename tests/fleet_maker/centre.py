"""The centre as it stands at any moment of its history: people, units, parts in their slots, cells, shelves."""

import datetime as dt
import zlib
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from dateutil.relativedelta import relativedelta

from tests.fleet_maker import catalogue, folk
from tests.fleet_maker.sensing import Cell, Shot
from tests.fleet_maker.sheets import Marked, Row, Sheets
from tests.fleet_maker.weather import Weather

STATED_DAY = dt.date(2026, 6, 15)
DAY = dt.timedelta(days=1)
TECHNICIANS, MANAGER, INSTRUCTORS = ("T1", "T2"), "M1", ("I1", "I2", "I3", "I4", "I5")


def at(day: dt.date, hour: int, minute: int = 0) -> dt.datetime:
    """That local time of that day."""
    return dt.datetime.combine(day, dt.time(hour, minute))


@dataclass
class Part:
    """One part with what its lives hang on."""

    row: Row
    code: str
    made: dt.date | None = None
    opened: dt.date | None = None
    fixed: dt.date | None = None
    fitted: dt.datetime | None = None
    fitting: Row | None = None
    tests: dict[str, Row] = field(default_factory=dict)
    used: dict[str, float] = field(default_factory=lambda: {"hours": 0.0, "dives": 0.0, "hires": 0.0})
    inner: dict[str, "Part"] = field(default_factory=dict)
    cell: int | None = None

    @property
    def record(self) -> str:
        """The centre's own number of the part."""
        return str(self.row["record"])


@dataclass
class Unit:
    """One unit and what sits in it."""

    index: int
    tag: str
    kind: str
    row: Row
    slots: dict[str, Part] = field(default_factory=dict)
    offsets: tuple[float, ...] = ()
    last_visit: dt.date = dt.date.min
    last_pot: dt.date = dt.date.min
    tested: dict[str, dt.date] = field(default_factory=dict)

    @property
    def heads_cells(self) -> list[Part]:
        """Its cells in the order of their positions."""
        return [self.slots["head"].inner[f"cell {n}"] for n in (1, 2, 3)]

    def all_parts(self) -> list[tuple[Part | None, str, Part]]:
        """Host (None for the unit itself), slot name and part, hosts first."""
        found: list[tuple[Part | None, str, Part]] = []
        for slot, part in self.slots.items():
            found.append((None, slot, part))
            found += [(part, inner_slot, inner) for inner_slot, inner in part.inner.items()]
        return found


class Centre:
    """Everything the generator knows while it writes the history."""

    def __init__(self, units: int, seed: int, months: int) -> None:
        self.seed, self.stated = seed, STATED_DAY
        self.first = STATED_DAY - relativedelta(months=months)
        self.months = months
        self.sheets = Sheets()
        self.weather = Weather(self.first - 40 * DAY, (self.stated - self.first).days + 200, self.stream("weather"))
        self.cells: list[Cell] = []
        self.shots: list[Shot] = []
        self.units: list[Unit] = []
        self.stock: dict[str, list[Part]] = {}
        self.serials: dict[str, int] = {}
        self.lots: dict[str, int] = {}
        self.share = units / 14
        self.parts_rng = self.stream("parts")
        self.lives: dict[str, list[tuple[str, float, str]]] = {}
        for code, basis, amount, _, test, _ in catalogue.LIVES:
            self.lives.setdefault(code, []).append((basis, amount, test))
        self.equipment: dict[str, str] = {}
        self._reference_sheets()
        self._staff()

    def stream(self, name: str) -> np.random.Generator:
        """A random stream of its own for each subject, so that a change in one does not stir the others."""
        return np.random.default_rng([self.seed, zlib.crc32(name.encode())])

    def _reference_sheets(self) -> None:
        add = self.sheets.add
        self.sheets.row(
            "centre", name="Kelpgarden Bay Dive Centre (invented)", code="KB", timezone="Europe/Athens", altitude_m=12,
            usual_water_c=20, usual_depth_m=20, telephone="+00 000 555 0142",
            stated_day=self.stated, emergency_telephone="112",
        )  # fmt: skip
        for name, kind in catalogue.OWNERS:
            add("owners", name=name, kind=kind)
        for name, kind in catalogue.PLACES:
            add("places", name=name, kind=kind)
        values: tuple[Any, ...]
        for values in catalogue.UNIT_TYPES:
            self.sheets.row("unit_types", **_named("unit_types", values))
        for code, values in catalogue.PART_TYPES.items():
            self.sheets.row("part_types", **_named("part_types", (code, *values)))
        for ordinal, (kind, name, count) in enumerate(catalogue.ACCESSORIES, 1):
            add("accessories", unit_type=kind, name=name, count=count, ordinal=ordinal)
        for place, code, least in catalogue.KIT_CONTENTS:
            add("kit_contents", place=place, part_type=code, least=least)
        for values in (*catalogue.LIVES, *catalogue.LATER_LIVES):
            add("part_type_lives", **_named("part_type_lives", values))
        for values in catalogue.LIMITS:
            add("limits", **_named("limits", values))
        for kind, name, serial, uncertainty, digit, unit, days in catalogue.EQUIPMENT:
            self.equipment[name] = add(
                "equipment", kind=kind, name=name, serial=serial, uncertainty=uncertainty, digit=digit, unit=unit,
                last_good_day=self.stated + days * DAY,
            )  # fmt: skip
        for part_type, water, depth, rate, minutes in catalogue.RATINGS:
            add(
                "rating_rows", part_type=part_type, grade="fine", water_c=water, depth_m=depth, co2_l_min=rate,
                minutes=minutes, source="invented manual of the canister",
            )  # fmt: skip
        self._slots_and_readers()

    def _slots_and_readers(self) -> None:
        add = self.sheets.add
        made: dict[tuple[str, str], str] = {}
        for column, table in (("unit_type", catalogue.UNIT_SLOTS), ("assembly_type", catalogue.ASSEMBLY_SLOTS)):
            for owner, slots in table.items():
                for ordinal, (name, code, kind, critical, flow, oxygen) in enumerate(slots, 1):
                    made[owner, name] = add(
                        "slots", name=name, kind=kind, critical=critical, ordinal=ordinal, flow_place=flow,
                        oxygen_side=oxygen, **{column: owner},
                    )  # fmt: skip
                    add("slot_part_types", slot=made[owner, name], part_type=code)
        for unit_type, later in catalogue.LATER_SLOTS.items():
            for ordinal, (name, code, kind, critical, flow, oxygen) in enumerate(
                later, len(catalogue.UNIT_SLOTS[unit_type]) + 1
            ):
                slot = add("slots", name=name, kind=kind, critical=critical, ordinal=ordinal, flow_place=flow,
                           oxygen_side=oxygen, unit_type=unit_type)  # fmt: skip
                add("slot_part_types", slot=slot, part_type=code)
        for unit_type, names in catalogue.READERS.items():
            head = "HEAD-B" if unit_type == catalogue.B else "HEAD-C"
            for ordinal, name in enumerate(names, 1):
                reader = add(
                    "readers", unit_type=unit_type, slot=name, name=name, kind="handset", ordinal=ordinal,
                    zero_offset_mv=0.1,
                )  # fmt: skip
                for n in (1, 2, 3):
                    add("reader_cells", reader=reader, cell_slot=made[head, f"cell {n}"], shows="mV", resolution=0.1)

    def _staff(self) -> None:
        roles = [(code, "technician") for code in TECHNICIANS] + [(MANAGER, "manager")]
        roles += [(code, "instructor") for code in INSTRUCTORS]
        rng = self.stream("staff")
        self.names = folk.draw(len(roles), rng)
        for (code, role), name in zip(roles, self.names, strict=True):
            self.person(code, role, name)
            kind = "technician" if role == "technician" else "instructor"
            for unit_type in (catalogue.B, catalogue.C):
                if role != "manager":
                    self.sheets.add(
                        "qualifications", person=code, unit_type=unit_type, kind=kind, seen_by=MANAGER,
                        seen_on=self.first - int(rng.integers(10, 200)) * DAY,
                        valid_until=self.stated + int(rng.integers(25, 500)) * DAY,
                    )  # fmt: skip

    def person(self, code: str, role: str, name: str) -> str:
        """The code of a person new on the list."""
        number = len(self.sheets.rows["people"]) + 1
        self.sheets.add(
            "people", code=code, role=role, name=name, contact=f"person{number}@mail.invalid", active=True,
        )  # fmt: skip
        return code

    def technician(self, day: dt.date) -> str:
        """Who is at the bench that day."""
        return TECHNICIANS[0] if day.weekday() < 4 else TECHNICIANS[1]

    def last_good(self, part: Part) -> dt.date | None:
        """The earliest calendar end of a fitted part's life, None where it has none; the centre's own calculation."""
        ends = []
        for basis, amount, test in self.lives.get(part.code, ()):
            anchor = {
                "made": part.made, "opened": part.opened, "fitted": part.fitted and part.fitted.date(),
                "test_interval": part.tests[test]["done_on"] if test in part.tests else None,
            }.get(basis)  # fmt: skip
            if basis == "fixed_date" and part.fixed:
                ends.append(part.fixed)
            elif anchor is not None:
                ends.append(_anniversary(anchor, int(amount)) - DAY)
        return min(ends, default=None)

    def use_left(self, part: Part) -> float:
        """The smallest share of an hours, dives or hires limit that is left, 1 where there is none."""
        shares = [
            1 - part.used[basis] / amount for basis, amount, _ in self.lives.get(part.code, ()) if basis in part.used
        ]
        return min(shares, default=1.0)


@lru_cache(maxsize=50_000)
def _anniversary(anchor: dt.date, months: int) -> dt.date:
    return anchor + relativedelta(months=months)


def _named(sheet: str, values: tuple[Any, ...]) -> Row:
    from tests.fleet_maker.sheets import COLUMNS

    names = [name for name in COLUMNS[sheet].split(",") if name != "record"]
    return dict(zip(names, values, strict=True))


def month_mark(day: dt.date | None) -> Marked | None:
    """The date as stamped with month and year only."""
    return None if day is None else Marked(day.replace(day=1), "month")
