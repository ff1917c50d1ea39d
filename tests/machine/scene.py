"""A small centre, the truth beside it, and one way to try an act: done, or refused with nothing changed.

Four units, tested and calibrated, with cylinders to fill, the first with a bailout too; parts and absorbent in stock; a
technician, a manager, an instructor and two renters.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

from sqlalchemy import func, select

from fleetbench.records.bench.tables import BenchTest, TestEquipment
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.parts.tables import Fitting, PartTest, PartType
from fleetbench.records.parts.tables import Part as PartRow
from fleetbench.records.tickets.tables import Disinfection
from fleetbench.records.turn_rounds.tables import TurnRound
from fleetbench.records.units.tables import Slot, Unit
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.lives import store_calculated
from fleetbench.workshop.turn_rounds.baths import enter_agent
from tests.centres.bench_centre import part
from tests.centres.gas_centre import ROLES, TESTED, GasCentre
from tests.centres.hire_centre import HireCentre
from tests.centres.kept_centres import kept
from tests.centres.pins import give_pin
from tests.independent.truth import (
    LOCK_UP,
    MAY,
    RELEASE,
    SLOTS,
    Booking,
    Cylinder,
    Judged,
    Line,
    Part,
    Person,
    Tested,
    Truth,
)

UNITS = ("LK-01", "LK-02", "LK-03", "LK-04")
STOCK = (("C-NEW", "cell", "L9"), ("C-OLD", "cell", "L0"), ("C-UNDATED", "cell", "L0"), ("V-NEW", "one-way valve", ""),
         ("H-SPARE", "head", ""), ("CAN-SPARE", "canister", ""))  # fmt: skip
MORE = tuple((f"C-N{n}", "cell", f"L{n}") for n in range(11, 27)) + tuple(
    (f"V-N{n}", "one-way valve", "") for n in range(6)) + tuple(
    (f"M-N{n}", "mouthpiece valve", "") for n in range(3))  # fmt: skip
STAGES = {"oxygen first stage": "O1", "diluent first stage": "D1"}
UNDATED = ("C-OLD", "C-UNDATED")
PINS = {"manager": "2468", "technician": "1357", "instructor": ""}


class ReachedError(AssertionError):
    """The program and the truth do not agree."""


class MachineCentre(HireCentre):
    """The centre at the hire desk, its units with cylinders, and more parts in stock."""

    _types, _part, _cylinder, _seat = GasCentre._types, GasCentre._part, GasCentre._cylinder, GasCentre._seat

    @kept
    def __init__(self, workplace: Workplace, clock: Any) -> None:
        super().__init__(workplace, clock, units=len(UNITS))
        give_pin(workplace, self.keys.centre.technician, PINS["technician"])
        self.make_fit(*UNITS)
        self.agent = enter_agent(workplace.as_person(self.manager), "Agent A", "1 %", 10, "invented label",
                                 use_within_hours=24)  # fmt: skip
        with self.act() as act:
            self._types(act)
            for number, tag in enumerate(UNITS, 1):
                self.one = self.units[tag]
                for role in ROLES if number == 1 else ("oxygen", "diluent"):
                    self._seat(act, self._cylinder(act, role, f"{role[0].upper()}-{number}"), f"{role} cylinder")
            self.one = self.units[UNITS[0]]
            regulator = self._part(act, "REG-B", "RB-1")
            act.add(PartTest(part_id=regulator, kind="service", done_on=TESTED, passed=True, done_by="T1"))
            self._seat(act, regulator, "bailout regulator")
            for serial, kind, lot in MORE:
                code = {"cell": "CELL-L", "one-way valve": "OWV-L", "mouthpiece valve": "MPV-L"}[kind]
                part(act, code, serial, self.keys.centre.owner, lot=lot or None, state="stock",
                     made_on=self.today - timedelta(days=30))  # fmt: skip
            self._gas_side(act)
        store_calculated(workplace)

    def _gas_side(self, act: Any) -> None:
        """First stages, which held at both ends of the supply, and instruments that stay in date."""
        later, centre = self.today + timedelta(days=900), self.keys.centre
        self.gauge = act.add(TestEquipment(kind="gauge", name="Bench gauge", serial="GA-1", uncertainty=0.05,
                                           unit="bar", last_good_day=later)).id  # fmt: skip
        for each in act.session.scalars(select(TestEquipment)):
            act.change(each, last_good_day=later)
        for place, (slot, serial) in enumerate(STAGES.items(), 15):
            kind = act.add(PartType(code=f"FS-{serial}", name=slot.capitalize(), kind=slot, assembly=False,
                                    source="invented manual"))  # fmt: skip
            act.add(Slot(unit_type_id=centre.unit_type, name=slot, kind=slot, critical=False, ordinal=place))
            for tag in UNITS:
                self.one = self.units[tag]
                stage = self._part(act, kind.code, f"{serial}-{tag}")
                self._seat(act, stage, slot)
                for supply in (200.0, 50.0):
                    act.add(BenchTest(unit_id=self.one, part_id=stage, kind="intermediate pressure", value=9.2,
                                      unit="bar", supply_bar=supply, held=True, watched_minutes=5.0, result="pass",
                                      equipment_id=self.gauge, at=self._before(1),
                                      person_id=centre.technician))  # fmt: skip

    def act(self) -> Any:
        """An act of any kind."""
        return self.workplace.transaction("write", "test")

    def ago(self, days: float) -> datetime:
        """The moment so many days ago."""
        return self.clock() - timedelta(days=days)


@dataclass(slots=True)
class Store:
    """A container of absorbent as hands remember it: its lot, about how much is left, and when it was opened."""

    lot: str
    kg: float
    opened: datetime | None = None


class Scene:
    """The centre, the truth, the clock, and what was tried so far."""

    def __init__(self, database: Database, clock: Any) -> None:
        workplace = Workplace(database, clock)
        self.clock = clock
        self.centre = MachineCentre(workplace, clock)
        self.workplace = workplace
        self.done: Counter[str] = Counter()
        self.refused: Counter[str] = Counter()
        self.log: list[str] = []
        self.step = self.written = self.looked = self.asked = 0
        self.every, self.asked_at, self.counted = False, clock(), Counter[str]()
        self.careful = False
        self.keys = self.centre.keys
        with database.reading() as connection:
            self.part_ids = {serial: key for key, serial in connection.execute(select(PartRow.id, PartRow.serial))}
        self.serials = {key: serial for serial, key in self.part_ids.items()}
        self.stores = {
            self.keys.sealed: Store("F-2", 20.0),
            self.keys.open_one: Store("F-1", 6.0, clock() - timedelta(days=2)),
        }
        self.staff = {"technician": self.keys.centre.technician, "manager": self.centre.manager,
                      "instructor": self.centre.instructor}  # fmt: skip
        self.renters = (self.keys.renter, self.keys.other)
        self.truth = self._begin()
        self.desk = workplace.as_person(self.staff["manager"])
        self.before = {"tests": self.value(func.max(BenchTest.id)) or 0,
                       "calibrations": self.value(func.max(Calibration.id)) or 0,
                       "baths": self.value(func.max(Disinfection.id)) or 0}  # fmt: skip

    def _begin(self) -> Truth:
        now = self.clock()
        truth = Truth(now, UNITS)
        for role, key in self.staff.items():
            truth.people[key] = Person(role, pin=PINS[role], papers=role != "instructor")
        for key in self.renters:
            truth.people[key] = Person("renter")
        fitted_at = now - timedelta(days=60)
        for unit in UNITS:
            for slot, kind in SLOTS["unit"].items():
                code = {"head": "HEAD-L", "loop set": "LOOP-L", "canister": "CAN-L"}.get(slot, "BATT-L")
                self._known(truth, f"{code}-{unit}", kind, unit, slot, fitted_at)
                for inner, of in SLOTS.get(kind, {}).items():
                    serial = f"C-{unit}-{inner[-1]}" if of == "cell" else f"{inner[:3]}-{unit}"
                    lot = f"L{inner[-1]}" if of == "cell" else ""
                    self._known(truth, serial, of, f"{code}-{unit}", inner, fitted_at, lot)
        for serial, kind, lot in STOCK + MORE:
            truth.parts[serial] = Part(serial, kind, lot)
        for number, unit in enumerate(UNITS, 1):
            for role in ROLES if number == 1 else ("oxygen", "diluent"):
                serial = f"{role[0].upper()}-{number}"
                self._known(truth, serial, f"{role} cylinder", unit, f"{role} cylinder", fitted_at)
                truth.cylinders[serial] = Cylinder(role)
            for slot, serial in STAGES.items():
                self._known(truth, f"{serial}-{unit}", slot, unit, slot, fitted_at)
        self._known(truth, "RB-1", "bailout regulator", UNITS[0], "bailout regulator", fitted_at)
        for unit in UNITS:
            self._shown_fit(truth, unit, now)
        today, diver = self.workplace.today(), self.renters[0]
        line = Line(self.keys.line, diver)
        truth.bookings["H-7"] = Booking("H-7", today, today + timedelta(days=2), diver, {UNITS[0]: line},
                                        divers=(diver,))  # fmt: skip
        return truth

    @staticmethod
    def _known(truth: Truth, serial: str, kind: str, host: str, slot: str, at: datetime, lot: str = "") -> None:
        truth.parts[serial] = Part(serial, kind, lot, host, slot, "fitted", at)

    @staticmethod
    def _shown_fit(truth: Truth, unit: str, now: datetime) -> None:
        at = now - timedelta(hours=1)
        truth.tests[unit] = [Tested(at, kind, way, "pass", 0) for kind, way in (*RELEASE, ("mouthpiece valve", ""))]
        truth.calibrated[unit] = [(now - timedelta(hours=2), 0, True)]
        truth.batteries[unit] = (at, True)
        for each in truth.inside(unit):
            if each.kind in STAGES:
                each.judged += [Judged(at, kind, "pass", 0) for kind in LOCK_UP]
            if each.kind == "cell":
                each.judged.append(Judged(now - timedelta(hours=2), "calibration", "pass", 0, at_pot=True))

    @contextmanager
    def with_care(self) -> Iterator[None]:
        """Within a chain of acts the right hands do each, so that it mostly gets to its end."""
        before, self.careful = self.careful, True
        try:
            yield
        finally:
            self.careful = before

    # trying

    def entries(self) -> int:
        """How many acts the journal holds."""
        with self.workplace.database.reading() as connection:
            return int(connection.scalar(select(func.count()).select_from(Journal)) or 0)

    def person(self, act: str, r: Random, *, wrong: float = 0.08, signs: bool = False) -> int:
        """Somebody who may do the act, now and then somebody who may not. signs: who may sign for it, too."""
        everybody = sorted(self.truth.people)
        may = [key for key in everybody if self.truth.people[key].role in MAY[act] and self.truth.people[key].active
               and (not signs or self.truth.people[key].signs())]  # fmt: skip
        if (r.random() < wrong and not self.careful) or not may:
            return r.choice(everybody)
        return r.choice(may)

    def likely(self, r: Random) -> bool:
        """Whether to choose what the act is for, rather than anything at all."""
        return self.careful or r.random() < 0.7

    def attempt(
        self, act: str, person: int, call: Callable[[Workplace], Any], *, against: Any = (), named: str = ""
    ) -> Any:
        """What the act gave, True for nothing; None where it was refused.

        against: why it must be refused. named: under which name it is counted, where one permit covers several.
        """
        self.clock.advance(minutes=1)
        self.truth.now = self.clock()
        who = self.truth.people[person]
        reasons = [*([] if who.role in MAY[act] and who.active else [f"{who.role} may not"]), *against]
        before, named = self.entries(), named or act
        try:
            found = call(self.workplace.as_person(person))
        except (Refused, NotFound) as refusal:
            self.refused[named] += 1
            self.log.append(f"  {named} by {who.role}: refused: {str(refusal)[:240]}")
            if self.entries() != before:
                raise ReachedError(f"{act} was refused, but something was written: {refusal}") from refusal
            return None
        self.log.append(f"  {named} by {who.role}: done")
        self.written += 1
        if reasons:
            raise ReachedError(f"{named} was done although {'; '.join(map(str, reasons))}")
        self.done[named] += 1
        return True if found is None else found

    def must(self, act: str, person: int, call: Callable[[Workplace], Any]) -> Any:
        """The same of an act that nothing stands against."""
        found = self.attempt(act, person, call)
        if found is None and self.truth.people[person].role in MAY[act] and self.truth.people[person].active:
            raise ReachedError(f"{act} was refused although nothing is against it: {self.log[-1]}")
        return found

    # what only the records can say

    def value(self, column: Any, *where: Any) -> Any:
        """One value of one row."""
        with self.workplace.database.reading() as connection:
            return connection.scalar(select(column).where(*where))

    def state_of(self, serial: str) -> str:
        """The state that the records give a part on the shelf."""
        return str(self.value(PartRow.state, PartRow.serial == serial))

    def outcomes_of(self, serial: str) -> list[int]:
        """Keys of the calibration outcomes of a cell."""
        with self.workplace.database.reading() as connection:
            query = select(CalibrationOutcome.id).where(CalibrationOutcome.part_id == self.part_ids[serial])
            return list(connection.scalars(query))

    def where_is(self, serial: str) -> tuple[str, str] | None:
        """What holds a part and in which slot, by the records; None on the shelf."""
        with self.workplace.database.reading() as connection:
            row = connection.execute(
                select(Unit.tag, Fitting.host_part_id, Slot.name)
                .join(Slot, Slot.id == Fitting.slot_id)
                .outerjoin(Unit, Unit.id == Fitting.unit_id)
                .where(Fitting.part_id == self.part_ids[serial], Fitting.removed_at.is_(None))
            ).one_or_none()
        return None if row is None else (row[0] or self.serials[row[1]], row[2])

    def newest_card(self, tag: str) -> int:
        """The card of a unit that was opened last."""
        with self.workplace.database.reading() as connection:
            query = select(func.max(TurnRound.id)).where(TurnRound.unit_id == self.centre.units[tag])
            return int(connection.scalar(query) or 0)
