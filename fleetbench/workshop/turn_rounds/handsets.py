"""Handsets between two divers: which firmware they carry, which a type allows, and how they were left.

Batteries of a unit's devices with their voltage readings, taken for all devices in one act.

record_batteries(workplace, tag, {slot: volts})   what was read, judged against each type's replace voltage
battery_lines(workplace, tag)                     each device's battery as its records leave it
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.plausible import BATTERY, typed_twice
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.parts.life import LimitBasis
from fleetbench.records.bench.lookups import limit_rows, seats_of
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.bench.tables import BenchTest, TestEquipment
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import unit_type_by_code
from fleetbench.records.places.reads import LimitRecord
from fleetbench.records.places.tables import Limit
from fleetbench.records.turn_rounds.reads import read_approved_firmware, read_last_looks
from fleetbench.records.turn_rounds.tables import ApprovedFirmware, FirmwareChange
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.tests import FINDING_ROOM, MeasuredLimits, answer_of, tick_lines, ticket_at_hand
from fleetbench.workshop.core.workplace import Workplace, measured, require_person, require_read_with, required
from fleetbench.workshop.units.fleet import Fleet, Seat, one_unit, plan_in, unit_of_tag

LONGEST_VERSION = 30


@dataclass(frozen=True, slots=True)
class HandsetLine:
    """One handset of a unit: its firmware, None not known, and whether the type's list has it."""

    slot: str
    part_id: int | None
    part: str | None
    firmware: str | None
    on_list: bool


@dataclass(frozen=True, slots=True)
class HandsetDesk:
    """A unit's handsets, the versions its type allows, and how they were last left; None is not on record."""

    unit: str
    handsets: tuple[HandsetLine, ...]
    allowed: tuple[str, ...]
    reset_at: datetime | None
    previous_data: str | None
    previous_at: datetime | None


def handset_desk(workplace: Workplace, tag: str) -> HandsetDesk:
    """A unit's handsets as the records leave them; NotFound for an unknown tag."""
    with workplace.database.reading() as connection:
        unit = unit_of_tag(connection, tag)
        seats = tuple(plan_in(connection, unit.unit_id).of_unit(unit))
        allowed = tuple(
            each.version for each in read_approved_firmware(connection) if each.unit_type_id == unit.unit_type_id
        )
        looks = read_last_looks(connection, unit.unit_id)
    told = [each for each in looks if each.previous_data is not None]
    return HandsetDesk(
        unit.tag,
        handsets=tuple(_line(seats, allowed)),
        allowed=allowed,
        reset_at=max((each.at for each in looks if each.settings_reset), default=None),
        previous_data=told[-1].previous_data if told else None,
        previous_at=told[-1].at if told else None,
    )


def _line(seats: Iterable[Seat], allowed: tuple[str, ...]) -> list[HandsetLine]:
    return [
        HandsetLine(
            seat.slot.name,
            part_id=seat.part.part_id if seat.part is not None else None,
            part=seat.part.label if seat.part is not None else None,
            firmware=seat.part.firmware if seat.part is not None else None,
            on_list=seat.part is not None and seat.part.firmware in allowed,
        )
        for seat in seats
        if seat.slot.kind == "handset"
    ]


def previous_data_told(workplace: Workplace, tag: str) -> tuple[str, ...]:
    """A sentence for the next diver where the last one's data was left in the handsets; empty where it was cleared."""
    desk = handset_desk(workplace, tag)
    if desk.previous_data in (None, "cleared"):
        return ()
    return (say("the handsets still hold the last diver's decompression and oxygen-exposure data: look at it first"),)


def load_firmware(workplace: Workplace, tag: str, versions: Mapping[str, str]) -> tuple[int, ...]:
    """The keys of the changes of firmware of a unit's handsets, by slot, all in one act.

    A change asks for a new calibration and a new test of alarms. Refused for a slot that holds no handset.
    """
    person = require_person(workplace)
    if not versions:
        raise Refused(say("firmware: none given; enter what each handset shows"))
    with workplace.transaction("load firmware", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        seats = {seat.slot.name: seat for seat in seats_of(act.session, unit) if seat.slot.kind == "handset"}
        written = []
        for slot, version in versions.items():
            said = required(say("{slot}: firmware", slot=slot), version)
            if len(said) > LONGEST_VERSION:
                raise Refused(
                    say(
                        "{slot}: firmware: is longer than {most} characters; enter the version alone",
                        slot=slot,
                        most=LONGEST_VERSION,
                    )
                )
            part = seats[slot].part if slot in seats else None
            if part is None:
                raise Refused(
                    say(
                        "slot {slot}: unit {tag} has no handset in a slot of that name; check the name",
                        slot=slot,
                        tag=unit.tag,
                    )
                )
            if part.firmware == said:
                continue
            before = part.firmware
            act.change(part, firmware=said)
            change = FirmwareChange(part_id=part.id, at=act.at, before=before, after=said, person_id=person)
            written.append(act.add(change).id)
        if not written:
            raise Refused(
                say("unit {tag}: every handset carries this firmware already; nothing was recorded", tag=unit.tag)
            )
        return tuple(written)


def approve_firmware(workplace: Workplace, unit_type: str, version: str, source: str) -> int:
    """The key of a firmware version that handsets of a unit type may carry from now on."""
    said = required("version", version)[:LONGEST_VERSION]
    with workplace.transaction("approve firmware", f"unit type {unit_type}") as act:
        kind = unit_type_by_code(act.session, unit_type)
        known = [each.version for each in read_approved_firmware(act.session.connection())
                 if each.unit_type_id == kind.id]  # fmt: skip
        if said in known:
            raise Refused(say("version: {version} is on the list of {code} already", version=said, code=kind.code))
        row = ApprovedFirmware(unit_type_id=kind.id, version=said, source=required("source", source)[:300])
        return act.add(row).id


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
    workplace: Workplace,
    tag: str,
    volts: Mapping[str, float],
    *,
    equipment_id: int | None = None,
    ticket_id: int | None = None,
    kept: str = "",
) -> tuple[BatteryAnswer, ...]:
    """What was read of a unit's batteries, by slot, all in one act; each ticks the open ticket's line that names it.

    equipment_id: the meter, None where each device shows its own. kept: what was asked about and kept. Refused for a
    slot that holds no battery.
    """
    require_person(workplace)
    if not volts:
        raise Refused(say("volts: none given; read at least one battery"))
    for slot, value in volts.items():
        measured(BATTERY, value, slot)
        require_read_with(slot, value, equipment_id)
    with workplace.transaction("read batteries", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        ticket = ticket_at_hand(act, unit, ticket_id)
        tool = act.get(TestEquipment, equipment_id, "meter") if equipment_id is not None else None
        if tool is not None and tool.unit != "V":
            raise Refused(say("meter: {tool} is not recorded to read volts; choose one that does", tool=tool.name))
        seats = {seat.slot.name: seat for seat in seats_of(act.session, unit) if "battery" in seat.slot.kind}
        answers = []
        for slot, value in volts.items():
            part = seats[slot].part if slot in seats else None
            if part is None:
                raise Refused(
                    say(
                        "slot {slot}: unit {tag} has no battery in a slot of that name; check the name",
                        slot=slot,
                        tag=unit.tag,
                    )
                )
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
                    unit_id=unit.id, part_id=part.id, kind=VOLTAGE, at=act.at, person_id=workplace.person_id,
                    ticket_id=ticket.id if ticket is not None else None, equipment_id=equipment_id, value=value,
                    unit="V", result=answer.verdict.value, finding=answer.sentence[:FINDING_ROOM],
                    note="; ".join(filter(None, (kept, typed_twice(BATTERY, value)))) or None,
                )
            )  # fmt: skip
            tick_lines(act, unit, row)
            answers.append(BatteryAnswer(row.id, slot, answer.verdict, answer.sentence))
        return tuple(answers)


def battery_lines(workplace: Workplace, tag: str) -> tuple[BatteryLine, ...]:
    """Each device's battery of a unit; NotFound for an unknown unit."""
    fleet = one_unit(workplace, tag)
    return batteries_of(fleet, fleet.records.units[0].unit_id, fleet.records.units[0].unit_type_id)


def batteries_of(
    fleet: Fleet, unit_id: int, unit_type_id: int, tests: Iterable[BenchTestRecord] | None = None
) -> tuple[BatteryLine, ...]:
    """Each device's battery of a unit, in order of its slots; a reading counts only since the battery was fitted.

    tests: of the unit, looked up where None.
    """
    known = fleet.tests.get(unit_id, ()) if tests is None else tests
    read = [each for each in known if each.unit_id == unit_id and each.kind == VOLTAGE]
    seats = [seat for seat in fleet.seats(unit_id) if "battery" in seat.slot.kind]
    return tuple(_battery_line(fleet, seat, read, unit_type_id, alone=len(seats) == 1) for seat in seats)


def _battery_line(
    fleet: Fleet, seat: Seat, read: Sequence[BenchTestRecord], unit_type_id: int, *, alone: bool
) -> BatteryLine:
    part, fitting = seat.part, seat.fitting
    if part is None or fitting is None:
        return BatteryLine(
            seat.slot.name,
            part_id=None,
            part=None,
            volts=None,
            read_at=None,
            replace_volts=None,
            fitted_at=None,
            slot=seat.slot.name,
        )
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
        replaced_by_life=any(
            limit.basis == LimitBasis.FITTED for limit in fleet.book.limits.get(part.part_type_id, ())
        ),
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


def _bounds(limits: Sequence[Limit]) -> MeasuredLimits:
    named = [each for each in limits if each.name == REPLACE]
    ranked = sorted(named, key=lambda each: (each.part_type_id is None, each.unit_type_id is None))
    if not ranked:
        return MeasuredLimits()
    return MeasuredLimits(low=ranked[0].amount, source=ranked[0].source)


def _expanded_u(tool: TestEquipment | None) -> float | None:
    """A device's own display is taken at its word where no meter is named: common practice, no published source."""
    if tool is None:
        return 0.0
    return None if tool.uncertainty is None else 2.0 * tool.uncertainty
