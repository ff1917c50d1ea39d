"""The invented centre at the hire desk: two units, a third of their type, people, and units fit to leave."""

from datetime import date, timedelta
from typing import Any

from sqlalchemy import select

from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.parts.tables import Part
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.canisters.packing import pack_canister
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.absorbent_centre import AbsorbentKeys, write_absorbent
from tests.centres.bench_centre import _unit
from tests.centres.kept_centres import kept
from tests.centres.pins import give_pin
from tests.centres.sound_unit import write_beside_calibration, write_mouthpiece_test, write_papers, write_turned_round

RELEASE = (("one-way valve", "inhale"), ("one-way valve", "exhale"), ("loop negative", None), ("loop positive", None))


class HireCentre:
    """A workplace with units, and hands that make them fit."""

    @kept
    def __init__(self, workplace: Workplace, clock: Any, units: int = 2) -> None:
        self.clock = clock
        self.keys: AbsorbentKeys = write_absorbent(workplace, clock)
        centre = self.keys.centre
        self.manager = centre.manager
        self.workplace = workplace.as_person(centre.technician)
        for number in range(3, units + 1):
            with self.workplace.transaction("write", "test") as act:
                _unit(act, centre, f"LK-{number:02d}", clock())
        with self.workplace.database.reading() as connection:
            self.units = {tag: key for key, tag in connection.execute(select(Unit.id, Unit.tag).order_by(Unit.tag))}
        give_pin(workplace, self.manager, "2468")
        self.instructor = self.person("I1", "instructor", "Pell Aster")
        with self.workplace.transaction("write", "test") as act:
            write_papers(act, centre.unit_type, self.today, technician=(centre.technician,),
                         instructor=(self.instructor,), diver=(self.keys.renter, self.keys.other))  # fmt: skip

    @property
    def today(self) -> date:
        """The site's day."""
        return self.workplace.today()

    def day(self, number: int) -> date:
        """A day counted from today."""
        return self.today + timedelta(days=number)

    def person(self, code: str, role: str, name: str) -> int:
        """Somebody new."""
        with self.workplace.transaction("write", "test") as act:
            person = act.add(Person(code=code, role=role, erased_at=None))
            act.add(PersonPrivate(person_id=person.id, name=name, contact=None, note=None))
            return person.id

    def rows(self, kind: type[Any]) -> list[Any]:
        """Every row of a table."""
        with self.workplace.database.read_session() as session:
            found = list(session.scalars(select(kind).order_by(kind.id)))
            session.expunge_all()
            return found

    @kept
    def make_fit(self, *tags: str, pack: bool = False) -> None:
        """Calibrate and test units, so that nothing stops them."""
        for tag in tags or tuple(self.units):
            self._calibrate(tag)
            for kind, direction in RELEASE:
                with self.workplace.transaction("write", "test") as act:
                    act.add(BenchTest(unit_id=self.units[tag], kind=kind, direction=direction, at=self._before(1),
                                      held=True, result="pass", person_id=self.keys.centre.technician))  # fmt: skip
            with self.workplace.transaction("write", "test") as act:
                write_mouthpiece_test(act, self.units[tag], self._before(1), self.keys.centre.technician)
                centre = self.keys.centre
                write_turned_round(act, centre.unit_type, self.units[tag], self._before(1), centre.technician)
            self._read_battery(tag)
            if pack:
                pack_canister(
                    self.workplace, f"CAN-L-{tag}", self.keys.sealed, tare_g=1000.0, filled_g=3500.0, looked_at=True
                )

    def _read_battery(self, tag: str) -> None:
        with self.workplace.transaction("write", "test") as act:
            battery = act.session.scalar(select(Part.id).where(Part.serial == f"BATT-L-{tag}"))
            act.add(BenchTest(unit_id=self.units[tag], part_id=battery, kind="battery voltage", at=self._before(1),
                              value=3.9, unit="V", result="pass", person_id=self.keys.centre.technician))  # fmt: skip

    def _before(self, hours: float) -> Any:
        return self.clock() - timedelta(hours=hours)

    def _calibrate(self, tag: str) -> None:
        with self.workplace.database.reading() as connection:
            cells = [connection.scalar(select(Part.id).where(Part.serial == f"C-{tag}-{n}")) for n in (1, 2, 3)]
        with self.workplace.transaction("write", "test") as act:
            row = act.add(
                Calibration(
                    unit_id=self.units[tag], person_id=self.keys.centre.technician, at=self._before(2),
                    made="workshop", pressure_mbar=1008.0, pressure_source="measured", temperature_c=21.0, head="dry",
                    vented="yes", settled="yes", oxygen_shown_percent=99.6,
                )
            )  # fmt: skip
            for number, part_id in enumerate(cells):
                act.add(
                    CalibrationOutcome(
                        calibration_id=row.id, part_id=part_id, slot_id=self.keys.centre.cell_slots[number],
                        verdict="pass", linearity=100.0, expanded_u=1.1, margin=3.0, air_mv=10.0 + number,
                        oxygen_mv=50.0, reader_gap_bar=0.01, verified_up_to_bar=1.0, finding="pass: invented",
                        next_step="none",
                    )
                )  # fmt: skip
            write_beside_calibration(act, row.id, self.units[tag], tag, row.at)
