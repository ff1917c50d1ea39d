"""The gas side of a unit: cylinders, the oxygen side part by part, what is serviced by interval, and batteries.

unit_gas(workplace, tag)              all of it at once
unit_cylinders(fleet, side, unit_id)  the cylinders in the unit
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.core.languages import strung
from fleetbench.calc.gas.cylinders import CleanStatus
from fleetbench.records.bench.reads import read_equipment
from fleetbench.records.gas.reads import read_cleanings, read_kept_clean
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.units.reads import UnitRecord
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.clean import OxygenSidePart
from fleetbench.workshop.gas.state import GasDepths, GasState, against_words, tests_last, unanalysed_words, unread_words
from fleetbench.workshop.readiness.gas import GasSide
from fleetbench.workshop.readiness.ready import Readiness
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, batteries_of
from fleetbench.workshop.units.fleet import Fleet, Seat, one_unit


@dataclass(frozen=True, slots=True)
class UnitCylinder:
    """One cylinder in a unit; figures None are not known.

    said: what is against its gas or missing, empty where nothing is. clean: its status where it needs one.
    """

    slot: str
    part: PartRecord
    state: GasState
    depths: GasDepths
    next_test: date | None
    clean: CleanStatus | None
    said: tuple[str, ...]


def unit_cylinders(fleet: Fleet, side: GasSide, unit_id: int) -> tuple[UnitCylinder, ...]:
    """Every cylinder in a unit, in order of its slots."""
    found = []
    for seat, state in side.states(unit_id):
        if seat.part is None or seat.fitting is None:
            continue
        against = (words for words, _ in against_words(state))
        found.append(
            UnitCylinder(
                slot=seat.slot.name,
                part=seat.part,
                state=state,
                depths=side.book.depths(state),
                next_test=tests_last(fleet.book.last_good_days(seat.part, seat.fitting.fitted_at, unit_id)),
                clean=side.book.clean_where_kept(seat.part.part_id),
                said=tuple(filter(None, (*against, unanalysed_words(state), unread_words(state)))),
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class GasSideService:
    """A part that is serviced by interval: last done, last good day (None not known), its calculation and source."""

    slot: str
    part_id: int
    serial: str
    last_good_day: date | None
    done: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class UnitGas:
    """The gas side of a unit; meters: key and name of what reads volts."""

    tag: str
    unit_type: str
    today: date
    cylinders: tuple[UnitCylinder, ...]
    oxygen_side: tuple[OxygenSidePart, ...]
    services: tuple[GasSideService, ...]
    batteries: tuple[BatteryLine, ...]
    meters: tuple[tuple[int, str], ...]


def unit_gas(workplace: Workplace, tag: str) -> UnitGas:
    """The gas side of a unit by its tag; NotFound for an unknown one."""
    fleet = one_unit(workplace, tag)
    unit = fleet.records.units[0]
    side = Readiness(fleet).gas_side
    with workplace.database.reading() as connection:
        meters = [each for each in read_equipment(connection) if each.unit == "V"]
    return UnitGas(
        tag=unit.tag,
        unit_type=unit.unit_type,
        today=fleet.day.today,
        cylinders=unit_cylinders(fleet, side, unit.unit_id),
        # Those that must be clean stand first: they are what is asked about.
        oxygen_side=tuple(sorted(_oxygen_side(fleet, side, unit.unit_id), key=lambda each: not each.kept)),
        services=tuple(line for seat in fleet.seats(unit.unit_id) for line in _services(fleet, seat, unit)),
        batteries=batteries_of(fleet, unit.unit_id, unit.unit_type_id),
        meters=tuple((each.equipment_id, f"{each.name} {each.serial}") for each in meters),
    )


def _oxygen_side(fleet: Fleet, side: GasSide, unit_id: int) -> Iterator[OxygenSidePart]:
    for seat in fleet.seats(unit_id):
        if seat.part is None:
            continue
        kept = side.book.must_be_clean(seat.part.part_id)
        if kept or seat.slot.oxygen_side:
            status = side.book.clean(seat.part.part_id)
            yield OxygenSidePart(
                seat.slot.name, part_id=seat.part.part_id, part=seat.part.label, kept=kept, status=status
            )


def _services(fleet: Fleet, seat: Seat, unit: UnitRecord) -> Iterator[GasSideService]:
    if seat.part is None or seat.fitting is None:
        return
    done = fleet.book.tests_of(seat.part.part_id).get("service")
    for each in fleet.book.last_good_days(seat.part, seat.fitting.fitted_at, unit.unit_id):
        if each.limit.test_kind == "service":
            yield GasSideService(
                seat.slot.name, part_id=seat.part.part_id, serial=seat.part.label, last_good_day=each.day,
                done=str(done) if done else "", why=each.why,
                source=each.limit.source,
            )  # fmt: skip


def keeps_clean(workplace: Workplace, part_id: int) -> bool:
    """Whether a part must be oxygen-clean, or ever was."""
    with workplace.database.reading() as connection:
        return bool(read_kept_clean(connection, (part_id,)) or read_cleanings(connection, (part_id,)))


def fitted_in(workplace: Workplace, tag: str) -> tuple[tuple[int, str], ...]:
    """Key and 'slot, serial' of every part that sits in a unit, in tree order; NotFound for an unknown unit."""
    fleet = one_unit(workplace, tag)
    seats = fleet.seats(fleet.records.units[0].unit_id)
    return tuple(
        (seat.part.part_id, strung(", ", (seat.slot.name, seat.part.label))) for seat in seats if seat.part is not None
    )
