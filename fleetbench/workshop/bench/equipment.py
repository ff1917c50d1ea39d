"""The register of test equipment: what there is, how well it measures, and until when it is good."""

import math
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from fleetbench.calc.bench.half_done import SESSION_LASTS
from fleetbench.calc.bench.measured import Instrument
from fleetbench.calc.bench.meter import ANSWER_UNITS, query_fault
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import POUND, PSI
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import DueState, due_state
from fleetbench.calc.readiness.judge import EquipmentFact
from fleetbench.records.bench.reads import (
    CALIBRATION,
    EquipmentRecord,
    UsedRecord,
    equipment_with_serial,
    read_equipment,
    read_in_use,
    read_last_uses,
)
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.core.workplace import Day, Workplace, figure_or_none, one_word, require_person, required

DUE_SOON_DAYS = 30
"""Days before its last good day from which a piece is due soon: common practice, no published source."""

UNITS_OF: dict[str, tuple[str, ...]] = {
    Tool.ANALYSER: ("%",),
    Tool.BAROMETER: ("mbar",),
    Tool.HYGROMETER: ("%",),
    Tool.THERMOMETER: ("C",),
    Tool.BENCH_METER: ("mV", "V"),
    Tool.GAUGE: ("bar", "mbar"),
    Tool.MANOMETER: ("mbar", "bar"),
    Tool.SCALE: ("g", "kg"),
    Tool.PRESSURE_POT: ("bar",),
    Tool.FLOW_METER: ("L/min", "mL/min", "L", "mL"),
    Tool.REFERENCE_CELL: ("mV",),
    Tool.ANALYSER_CELL: ("mV",),
    Tool.HELIUM_ANALYSER: ("%",),
}
"""Units in which each kind states its uncertainty and digit, the usual one first."""

_SIZES: tuple[dict[str, float], ...] = (
    {"Pa": 1.0, "hPa": 1e2, "mbar": 1e2, "kPa": 1e3, "bar": 1e5, "psi": float(PSI) * 1e5},
    {"g": 1.0, "kg": 1e3, "lb": float(POUND) * 1e3},
    {"mL/min": 1.0, "L/min": 1e3},
    {"mL": 1.0, "L": 1e3},
    {"mV": 1.0, "V": 1e3},
)
"""How large units of one kind are against each other."""


@dataclass(frozen=True, slots=True)
class EquipmentRow:
    """One piece of test equipment in the register.

    uncertainty: standard, of one reading; digit: what its last place stands for; both in unit, None not recorded.
    state: unknown where no last good day is recorded.
    """

    tool: EquipmentRecord
    state: DueState
    last_used_at: datetime | None

    @property
    def in_date(self) -> bool | None:
        """Whether it is in date; None where no last good day is recorded."""
        return None if self.tool.last_good_day is None else self.state is not DueState.PAST

    def instrument(self, unit: str) -> Instrument:
        """How well it reads in that unit; its figures are not known where they stand in another kind of unit."""
        factor = factor_between(self.tool.unit, unit)
        return Instrument(
            f"{self.tool.name} {self.tool.serial}",
            None if self.tool.uncertainty is None or factor is None else self.tool.uncertainty * factor,
            None if self.tool.digit is None or factor is None else self.tool.digit * factor,
            self.in_date,
        )


def list_equipment(workplace: Workplace) -> tuple[EquipmentRow, ...]:
    """The whole register by kind and name."""
    today = workplace.today()
    with workplace.database.reading() as connection:
        found, used = read_equipment(connection), read_last_uses(connection)
    return tuple(_row(each, used.get(each.equipment_id), today) for each in found)


def equipment_in_use(workplace: Workplace) -> tuple[int, ...]:
    """Keys of what the person at the bench measured with in this session of two hours, the last one first."""
    if workplace.person_id is None:
        return ()
    with workplace.database.reading() as connection:
        return read_in_use(connection, workplace.person_id, workplace.clock() - SESSION_LASTS)


def tools_for(equipment: Iterable[EquipmentRow], kind: str, unit: str) -> tuple[EquipmentRow, ...]:
    """The pieces of a kind that can read in a unit, those in date first, then those that show that very unit.

    One that states no unit is listed too: what it lacks is said where it is chosen.
    """
    fit = (
        row
        for row in equipment
        if row.tool.kind == kind and (row.tool.unit is None or factor_between(row.tool.unit, unit))
    )
    return tuple(sorted(fit, key=lambda row: (row.in_date is not True, row.tool.unit != unit)))


def tool_chosen(fit: Sequence[int], in_use: Iterable[int]) -> int | None:
    """Key of the piece that stands ready: the one used last in this session, else the only one; None to be asked."""
    return next((key for key in in_use if key in fit), fit[0] if len(fit) == 1 else None)


def equipment_facts(used: Iterable[UsedRecord], seated: Container[int], day: Day) -> tuple[EquipmentFact, ...]:
    """What readiness asks of the equipment used for what is in force on one unit, each piece and record once.

    seated: keys of the parts that sit in the unit; what was measured on a part that has left it bears on nothing. A
    piece counts as in date by the last good day on its newest certificate.
    """
    facts: dict[EquipmentFact, None] = {}
    for each in used:
        if each.part_id is not None and each.part_id not in seated:
            continue
        in_date = None if each.last_good_day is None else day.of(each.at) <= each.last_good_day
        cells = each.made == CALIBRATION
        known = each.uncertainty is not None and each.unit is not None
        facts[EquipmentFact(f"{each.name} {each.serial}, {each.made}", cells, in_date, uncertainty_known=known)] = None
    return tuple(facts)


def add_equipment(
    workplace: Workplace,
    *,
    kind: str,
    name: str,
    serial: str,
    uncertainty: float | None,
    unit: str | None,
    last_good_day: date | None,
    digit: float | None = None,
) -> int:
    """The key of a new piece in the register; None is not known, and then nothing measured with it can pass in full.

    Raises Refused naming the field: a kind or unit not known, a figure not above nought, a serial that is there.
    """
    require_person(workplace)
    one_word("kind", kind, tuple(Tool))
    _unit_for(kind, unit, uncertainty, digit)
    said, number = required("name", name), required("serial", serial)
    with workplace.transaction("add test equipment", f"{kind} {number}") as act:
        if equipment_with_serial(act.session, number) is not None:
            raise Refused(say("serial: {number} is in the register already; look it up there", number=number))
        row = TestEquipment(
            kind=kind, name=said, serial=number, uncertainty=uncertainty, unit=unit, last_good_day=last_good_day,
            digit=digit,
        )  # fmt: skip
        return act.add(row).id


def certify_equipment(
    workplace: Workplace,
    equipment_id: int,
    *,
    last_good_day: date | None,
    uncertainty: float | None,
    digit: float | None,
) -> None:
    """Write down what a new certificate says of a piece: its last good day, uncertainty and digit."""
    require_person(workplace)
    with workplace.transaction("certify test equipment", f"test equipment {equipment_id}") as act:
        row = act.get(TestEquipment, equipment_id, "test equipment")
        _unit_for(row.kind, row.unit, uncertainty, digit)
        act.change(row, last_good_day=last_good_day, uncertainty=uncertainty, digit=digit)


def connect_equipment(
    workplace: Workplace,
    equipment_id: int,
    *,
    address: str | None,
    query: str | None = None,
    answer_unit: str | None = None,
    range_low: float | None = None,
    range_high: float | None = None,
    idn: str | None = None,
) -> None:
    """Write down how a piece is read by itself; without an address it is read by itself no more.

    idn: what it answered to *IDN? when it was asked. Raises Refused naming the field and the remedy.
    """
    require_person(workplace)
    with workplace.transaction("connect test equipment", f"test equipment {equipment_id}") as act:
        row = act.get(TestEquipment, equipment_id, "test equipment")
        if not (address or "").strip():
            act.change(row, **dict.fromkeys(CONNECTION))
            return
        given = {
            "address": (address or "").strip(), "query": (query or "").strip(), "answer_unit": answer_unit,
            "range_low": range_low, "range_high": range_high, "idn": idn,
        }  # fmt: skip
        for field, remedy in connection_faults({**given, "unit": row.unit, "digit": row.digit}):
            raise Refused(strung(": ", (_SPOKEN.get(field, field), remedy)))
        act.change(row, **given)


CONNECTION = ("address", "query", "answer_unit", "range_low", "range_high", "idn")
"""What is recorded of a piece that is read by itself; all of it, or nothing."""
_SPOKEN = {"answer_unit": say("unit of its answers"), "range_high": say("range"), "idn": say("meter")}


def connection_faults(row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What stands against reading a piece by itself as its row says, as (column, remedy); nothing without any of it.

    Typed or brought by a file, a query is only sent when it asks for one reading and nothing else.
    """
    if all(row.get(column) in (None, "") for column in CONNECTION):
        return
    if not row.get("address"):
        yield "address", say("is missing; enter where it is reached, or leave all of its connection empty")
    if row.get("unit") is None or row.get("digit") is None:
        yield "unit", say("the register lacks its unit or resolution; enter its certificate first")
    query, unit = row.get("query") or "", row.get("answer_unit")
    if fault := query_fault(query) if query else say("is missing; enter it"):
        yield "query", fault
    if unit not in ANSWER_UNITS:
        yield (
            "answer_unit",
            say("{unit!r} is not known; choose one of {units}", unit=unit or "", units=strung(", ", ANSWER_UNITS)),
        )
    elif row.get("unit") is not None and factor_between(unit, row["unit"]) is None:
        yield "answer_unit", say("{unit} does not fit {other}; choose another", unit=unit, other=row["unit"])
    low, high = row.get("range_low"), row.get("range_high")
    if low is None or high is None or not low < high:
        yield "range_high", say("enter the lowest and the highest figure that it measures, in its unit")
    if not row.get("idn"):
        yield "idn", say("ask it first, so that no other can answer for it")


def answer_units(unit: str | None) -> tuple[str, ...]:
    """The units in which a meter may answer whose figures stand in this unit."""
    return tuple(each for each in ANSWER_UNITS if unit is not None and factor_between(each, unit) is not None)


def factor_between(unit: str | None, wanted: str) -> float | None:
    """What a figure in one unit is multiplied by to stand in another; None where they are of different kinds."""
    if unit == wanted:
        return 1.0
    return next((each[unit] / each[wanted] for each in _SIZES if unit in each and wanted in each), None)


def _unit_for(kind: str, unit: str | None, uncertainty: float | None, digit: float | None) -> None:
    figure_or_none("uncertainty", uncertainty, math.ulp(0.0), 1000, "enter the standard uncertainty, above zero")
    figure_or_none("digit", digit, math.ulp(0.0), 1000, "enter what the last place of its display stands for")
    if unit is None:
        if uncertainty is not None or digit is not None:
            raise Refused(say("unit: is missing; say in which unit uncertainty and digit stand"))
        return
    one_word("unit", unit, UNITS_OF[kind])


def _row(record: EquipmentRecord, used: datetime | None, today: date) -> EquipmentRow:
    return EquipmentRow(record, due_state(record.last_good_day, today, DUE_SOON_DAYS), used)
