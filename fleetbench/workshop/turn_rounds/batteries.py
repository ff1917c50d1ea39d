"""Batteries of a unit's devices with their voltage readings, taken for all devices in one act.

record_batteries(shop, tag, {slot: volts})        what was read, judged against each type's replace voltage
battery_lines(shop, tag)                          each device's battery as its records leave it
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.plausible import BATTERY
from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.bench.equipment import TestEquipment
from fleetbench.records.bench.lookups import limit_rows, seats_of
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.errors import Refused
from fleetbench.records.places.reads import LimitRecord
from fleetbench.records.places.tables import Limit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.tests import FINDING_ROOM, Bounds, answer_of, tick_lines, ticket_at_hand
from fleetbench.workshop.core.figures import measured
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import somebody
from fleetbench.workshop.units.fleet import Fleet, Seat, one_unit

VOLTAGE = "battery voltage"
REPLACE = "battery voltage low"
"""Name of the limit under which a battery is replaced, of its part type, the unit type or the centre."""



@dataclass(frozen=True, slots=True)
class BatteryLine:
    """One device's battery, in its slot; replace_volts: under which it is replaced. None is not known.

    replaced_by_life: its part type states how long it may stay fitted, so that no general limit of days counts.
    """

    device: str
    part_id: int | None
    part: str | None
    volts: float | None
    read_at: datetime | None
    replace_volts: float | None
    fitted_at: datetime | None
    replaced_by_life: bool = False
    slot: str = ""


@dataclass(frozen=True, slots=True)
class BatteryAnswer:
    """A reading as recorded, with its answer and ground."""

    test_id: int
    device: str
    verdict: Verdict
    sentence: str


def record_batteries(
    shop: Shop,
    tag: str,
    volts: Mapping[str, float],
    *,
    equipment_id: int | None = None,
    ticket_id: int | None = None,
) -> tuple[BatteryAnswer, ...]:
    """What was read of a unit's batteries, by slot, all in one act; each ticks the open ticket's line that names it.

    equipment_id: the meter, None where each device shows its own. Refused for a slot that holds no battery.
    """
    somebody(shop)
    if not volts:
        raise Refused("volts: none given; read at least one battery")
    for slot, value in volts.items():
        measured(BATTERY, value, slot)
    with shop.acting("read batteries", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        ticket = ticket_at_hand(act, unit, ticket_id)
        tool = act.get(TestEquipment, equipment_id, "meter") if equipment_id is not None else None
        if tool is not None and tool.unit != "V":
            raise Refused(f"meter: {tool.name} is not recorded to read volts; choose one that does")
        seats = {seat.slot.name: seat for seat in seats_of(act.session, unit) if "battery" in seat.slot.kind}
        answers = []
        for slot, value in volts.items():
            part = seats[slot].part if slot in seats else None
            if part is None:
                raise Refused(f"slot {slot}: unit {unit.tag} has no battery in a slot of that name; check the name")
            limits = limit_rows(act.session, part_type_ids=(part.part_type_id,))
            limits += limit_rows(act.session, unit_type_id=unit.unit_type_id)
            answer = answer_of(
                VOLTAGE,
                held=None,
                watched_minutes=None,
                value=value,
                expanded_u=_expanded_u(tool),
                bounds=_bounds(limits),
                loop_limit=None,
            )
            row = act.add(
                BenchTest(
                    unit_id=unit.id, part_id=part.id, kind=VOLTAGE, at=act.at, person_id=shop.person_id,
                    ticket_id=ticket.id if ticket is not None else None, equipment_id=equipment_id, value=value,
                    unit="V", result=answer.verdict.value, finding=answer.sentence[:FINDING_ROOM],
                )
            )  # fmt: skip
            tick_lines(act, unit, row)
            answers.append(BatteryAnswer(row.id, slot, answer.verdict, answer.sentence))
        return tuple(answers)


def battery_lines(shop: Shop, tag: str) -> tuple[BatteryLine, ...]:
    """Each device's battery of a unit; NotFound for an unknown unit."""
    fleet = one_unit(shop, tag)
    return batteries_of(fleet, fleet.records.units[0].unit_id, fleet.records.units[0].unit_type_id)


def batteries_of(
    fleet: Fleet, unit_id: int, unit_type_id: int, tests: Iterable[BenchTestRecord] | None = None
) -> tuple[BatteryLine, ...]:
    """Each device's battery of a unit, in order of its slots; a reading counts only since the battery was fitted.

    tests: of the unit, looked up where None.
    """
    mine = [each for each in (fleet.records.tests if tests is None else tests) if each.unit_id == unit_id]
    read = [each for each in mine if each.kind == VOLTAGE]
    seats = [seat for seat in fleet.seats(unit_id) if "battery" in seat.slot.kind]
    return tuple(_line(fleet, seat, read, unit_type_id, alone=len(seats) == 1) for seat in seats)


def _line(fleet: Fleet, seat: Seat, read: Sequence[BenchTestRecord], unit_type_id: int, *, alone: bool) -> BatteryLine:
    part, fitting = seat.part, seat.fitting
    if part is None or fitting is None:
        return BatteryLine(seat.slot.name, None, None, None, None, None, None, slot=seat.slot.name)
    own = [
        each
        for each in read
        if each.at >= fitting.fitted_at and each.value is not None
        and (each.part_id == part.part_id or (each.part_id is None and alone))
    ]  # fmt: skip
    last = max(own, key=lambda each: (each.at, each.test_id), default=None)
    return BatteryLine(
        device=seat.slot.name.removesuffix(" battery"),
        part_id=part.part_id,
        part=part.label,
        volts=last.value if last is not None else None,
        read_at=last.at if last is not None else None,
        replace_volts=_replace_volts(fleet.catalogue.limits, part.part_type_id, unit_type_id),
        fitted_at=fitting.fitted_at,
        replaced_by_life=any(limit.basis == "fitted" for limit in fleet.book.limits.get(part.part_type_id, ())),
        slot=seat.slot.name,
    )


def _replace_volts(limits: Iterable[LimitRecord], part_type_id: int, unit_type_id: int) -> float | None:
    """The nearest limit: the battery's own type, then the unit type, then the centre."""
    named = [each for each in limits if each.name == REPLACE]
    wanted = (
        [each for each in named if each.part_type_id == part_type_id],
        [each for each in named if each.unit_type_id == unit_type_id],
        [each for each in named if each.unit_type_id is None and each.part_type_id is None],
    )
    return next((found[0].amount for found in wanted if found), None)


def _bounds(limits: Sequence[Limit]) -> Bounds:
    named = [each for each in limits if each.name == REPLACE]
    ranked = sorted(named, key=lambda each: (each.part_type_id is None, each.unit_type_id is None))
    if not ranked:
        return Bounds()
    return Bounds(low=ranked[0].amount, source=ranked[0].source)


def _expanded_u(tool: TestEquipment | None) -> float | None:
    """A device's own display is taken at its word where no meter is named: common practice, no published source."""
    if tool is None:
        return 0.0
    return None if tool.uncertainty is None else 2.0 * tool.uncertainty
