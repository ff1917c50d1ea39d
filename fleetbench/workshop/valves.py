"""Valves and regulators with their last tests.

list_valves(shop) -> tuple[ValveRow, ...]
valve_page(shop, unit_tag, slot_id) -> ValvePage
"""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.workshop.parts import LifeWord, LimitLine

VALVE_KINDS = (
    "one-way valve",
    "mouthpiece valve",
    "bailout valve",
    "addition valve",
    "relief valve",
    "injector",
    "solenoid",
    "oxygen first stage",
    "diluent first stage",
)


@dataclass(frozen=True, slots=True)
class TestLine:
    """One bench test."""

    __test__ = False

    test_id: int
    at: datetime
    kind: str
    direction: str | None
    result: str
    held: bool | None
    watched_minutes: float | None
    value: float | None
    unit: str | None
    supply_bar: float | None
    person: str | None
    equipment: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class ValveRow:
    """One valve's slot with the part in it and the last test that speaks of it.

    test_state: `fresh`, `due soon`, `stale`, `failed`, `undecided` or `not tested`; not_tested since a workshop
    opening counts as not tested. trend: (site's date, measured value) oldest first.
    """

    unit: str
    slot_id: int
    slot: str
    slot_kind: str
    part_id: int | None
    part: str | None
    part_type: str | None
    fitted_on: date | None
    last_good_day: date | None
    basis: str | None
    life_state: LifeWord
    test_kind: str
    last_test: TestLine | None
    test_last_good_day: date | None
    test_state: str
    trend: tuple[tuple[date, float], ...]


@dataclass(frozen=True, slots=True)
class ValvePage:
    """One valve with every test that speaks of it, newest first, and its limits of life."""

    row: ValveRow
    opened_at: datetime | None
    opened_what: str | None
    tests: tuple[TestLine, ...]
    limits: tuple[LimitLine, ...]
