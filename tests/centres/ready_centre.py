"""The small invented centre, its units calibrated, tested and fit to leave, and hands to break one thing at a time."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import event, select

from fleetbench.calc.readiness.judge import Assessment, HandoverKind
from fleetbench.records.bench.tables import BenchTest, Opening
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.schema import Base
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Part, PartType, PartTypeLife
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.tickets.tables import Disinfection, Task, Ticket
from fleetbench.records.units.tables import Hold, Slot, Unit
from fleetbench.workshop.core.known import forget
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.ready import Question, Readiness
from fleetbench.workshop.units.fleet import whole_fleet
from tests.centres.absorbent_centre import AbsorbentKeys, write_absorbent
from tests.centres.kept_centres import kept
from tests.centres.sound_unit import write_beside_calibration, write_papers, write_turned_round
from tests.centres.writing_acts import WRITING_ACTS

assert WRITING_ACTS  # granted on import, where no test runs too

RELEASE = (("one-way valve", "inhale"), ("one-way valve", "exhale"), ("loop negative", None), ("loop positive", None))


class Centre:
    """The small centre in a workplace, with what was written and hands that write more."""

    @kept
    def __init__(self, workplace: Workplace, clock: Any) -> None:
        self.clock = clock
        self.keys: AbsorbentKeys = write_absorbent(workplace, clock)
        self.workplace = workplace.as_person(self.keys.centre.technician)
        self.one, self.two = self.keys.centre.units
        for unit_id in (self.one, self.two):
            self.calibrate(unit_id, 2)
            for kind, direction in RELEASE:
                self.test(unit_id, kind, direction, 2)
            battery = self.part(f"BATT-L-{self.tag(unit_id)}")
            self.test(unit_id, "battery voltage", None, 2, value=3.9, unit="V", part_id=battery)
            self.test(unit_id, "mouthpiece valve", None, 2)
        with self.act() as act:
            for unit_id in (self.one, self.two):
                write_turned_round(act, self.keys.centre.unit_type, unit_id, self.ago(2), self.keys.centre.technician)
            write_papers(act, self.keys.centre.unit_type, self.today, technician=(self.keys.centre.technician,),
                         diver=(self.keys.renter, self.keys.other))  # fmt: skip

    @property
    def today(self) -> date:
        """The site's day."""
        return self.workplace.today()

    def ago(self, days: float) -> datetime:
        """The moment so many days before the clock's."""
        found: datetime = self.clock() - timedelta(days=days)
        return found

    def add(self, *rows: Base) -> Any:
        """Write rows in one act; returns the key of the last."""
        with self.workplace.transaction("write", "test") as act:
            for row in rows:
                act.add(row)
            return rows[-1].id  # type: ignore[attr-defined]

    def change(self, kind: type[Base], key: int, **values: Any) -> None:
        """Change one row in an act."""
        with self.workplace.transaction("change", "test") as act:
            act.change(act.get(kind, key, "row"), **values)

    @contextmanager
    def act(self) -> Iterator[Transaction]:
        """An act of any kind."""
        with self.workplace.transaction("write", "test") as act:
            yield act

    def person(self, code: str, role: str, name: str) -> int:
        """A person with a name."""
        with self.act() as act:
            found = act.add(Person(code=code, role=role))
            act.add(PersonPrivate(person_id=found.id, name=name))
            return found.id

    def part(self, serial: str) -> int:
        """The key of the part with this serial."""
        with self.workplace.database.reading() as connection:
            return int(connection.scalar(select(Part.id).where(Part.serial == serial)) or 0)

    def part_type(self, code: str) -> int:
        """The key of the part type with this code."""
        with self.workplace.database.reading() as connection:
            return int(connection.scalar(select(PartType.id).where(PartType.code == code)) or 0)

    def slot(self, name: str) -> int:
        """The key of the slot with this name."""
        with self.workplace.database.reading() as connection:
            return int(connection.scalar(select(Slot.id).where(Slot.name == name)) or 0)

    def life(self, code: str, basis: str, amount: float, unit: str, test: str | None = None) -> None:
        """One more limit of life of a part type."""
        kind = self.part_type(code)
        self.add(PartTypeLife(part_type_id=kind, basis=basis, amount=amount, unit=unit, test=test, source="invented"))

    def tag(self, unit_id: int) -> str:
        """The unit's tag."""
        with self.workplace.database.reading() as connection:
            return str(connection.scalar(select(Unit.tag).where(Unit.id == unit_id)))

    def calibrate(
        self, unit_id: int, days_ago: float, verdict: str = "pass", made: str = "workshop", cell: int = 2
    ) -> int:
        """A calibration of all three cells that passed, but for one of them."""
        tag = self.tag(unit_id)
        cells = [self.part(f"C-{tag}-{number}") for number in (1, 2, 3)]
        with self.act() as act:
            row = act.add(
                Calibration(
                    unit_id=unit_id, person_id=self.keys.centre.technician, at=self.ago(days_ago), made=made,
                    pressure_mbar=1008.0, pressure_source="measured", temperature_c=21.0, head="dry", vented="yes",
                    settled="yes", oxygen_shown_percent=99.6,
                )
            )  # fmt: skip
            for number, part_id in enumerate(cells, 1):
                said = verdict if number == cell else "pass"
                act.add(
                    CalibrationOutcome(
                        calibration_id=row.id, part_id=part_id, slot_id=self.keys.centre.cell_slots[number - 1],
                        verdict=said, linearity=99.0 + number, expanded_u=1.1, margin=3.0, air_mv=10.0 + number,
                        oxygen_mv=50.0, reader_gap_bar=0.01, verified_up_to_bar=1.0, finding=f"{said}: invented",
                        next_step="none",
                    )
                )  # fmt: skip
            if made == "workshop":
                write_beside_calibration(act, row.id, unit_id, tag, row.at)
            return row.id

    def test(
        self, unit_id: int, kind: str, direction: str | None, days_ago: float, result: str = "pass", **more: Any
    ) -> int:
        """A bench test."""
        return int(
            self.add(
                BenchTest(
                    unit_id=unit_id, kind=kind, direction=direction, at=self.ago(days_ago), held=result == "pass",
                    result=result, person_id=self.keys.centre.technician, **more,
                )
            )
        )  # fmt: skip

    def hold(self, **about: Any) -> int:
        """A manual hold."""
        facts = {"kind": "manual", "reason": "strap torn", "placed_at": self.ago(1), **about}
        return int(self.add(Hold(placed_by_id=self.keys.centre.manager, **facts)))

    def ticket(self, unit_id: int, number: int = 1, *, critical: bool = True, **more: Any) -> int:
        """A ticket, open unless said otherwise."""
        facts = {"cause": "by hand", "reason": "strange noise", "opened_at": self.ago(1), "minutes": 0.0, **more}
        opener = self.keys.centre.technician
        return int(
            self.add(Ticket(year=2026, number=number, unit_id=unit_id, critical=critical, opened_by_id=opener, **facts))
        )

    def task(self, ticket_id: int, state: str, *, critical: bool = True, times: int = 0) -> int:
        """A task of a ticket."""
        return int(
            self.add(
                Task(
                    ticket_id=ticket_id, ordinal=1, text="look at the seal", critical=critical, state=state,
                    times_put_off=times, put_off_reason="no seal" if state == "put off" else None,
                )
            )
        )  # fmt: skip

    def book(self, unit_id: int, first: int, last: int, code: str, **more: Any) -> int:
        """A hire of a unit from one day to another, counted from today; returns the line's key."""
        line = {name: more.pop(name) for name in ("out_at", "received_at", "loop_minutes", "dives") if name in more}
        with self.act() as act:
            booking = act.add(
                Booking(
                    kind="hire", code=code, unit_type_id=self.keys.centre.unit_type, units_wanted=1,
                    starts_on=self.today + timedelta(days=first), ends_on=self.today + timedelta(days=last),
                    renter_id=self.keys.other, **more,
                )
            )  # fmt: skip
            hand_over = "assembled" if "out_at" in line else None
            return act.add(
                BookingUnit(
                    booking_id=booking.id, unit_id=unit_id, diver_id=self.keys.other, hand_over=hand_over, **line
                )
            ).id

    def pack(self, days_ago: float = 0.1, **more: Any) -> int:
        """A full fill in the first unit's canister."""
        weighed = {"mass_g": 2500.0, "mass_u_g": 6.0}
        facts = {**weighed, "container_id": self.keys.open_one, "packed_at": self.ago(days_ago), **more}
        return int(self.add(Fill(part_id=self.part("CAN-L-LK-01"), checked=True, **facts)))

    def run(self, unit_id: int, fill_id: int, days_ago: float, minutes: float, **more: Any) -> int:
        """A use of a fill."""
        facts = {"clock": "loop", "dives": 1, "coldest_c": 14.0, "deepest_m": 18.0, **more}
        return int(
            self.add(Run(fill_id=fill_id, unit_id=unit_id, started_at=self.ago(days_ago), minutes=minutes, **facts))
        )

    def clean(self, unit_id: int, days_ago: float) -> int:
        """A disinfection, found dry after a night."""
        return int(
            self.add(
                Disinfection(
                    unit_id=unit_id, at=self.ago(days_ago), agent="bath", strength="50 ppm", contact_minutes=5,
                    rinsed=True, dry_at=min(self.ago(days_ago) + timedelta(hours=14), self.ago(0)),
                )
            )
        )  # fmt: skip

    def open_loop(self, unit_id: int, days_ago: float, kind: str = "workshop") -> int:
        """An opening of the loop."""
        return int(self.add(Opening(unit_id=unit_id, at=self.ago(days_ago), kind=kind, what="head off")))


@contextmanager
def counted(workplace: Workplace) -> Iterator[list[str]]:
    """The statements of a workplace that knows nothing yet, meanwhile; BEGIN and its like are not counted."""
    forget(workplace.database)
    seen: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if statement.startswith(("SELECT", "WITH")):
            seen.append(statement)

    event.listen(workplace.database.engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(workplace.database.engine, "before_cursor_execute", note)


def assess_all(workplace: Workplace, first: date, last: date, kind: HandoverKind) -> dict[str, Assessment]:
    """The same of every unit, by tag, with one reading of the records."""
    readiness = Readiness(whole_fleet(workplace))
    question = Question(first, last, kind)
    return {unit.tag: readiness.assess(unit, question) for unit in readiness.fleet.records.units}
