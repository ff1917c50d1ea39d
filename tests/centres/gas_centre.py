"""The small invented centre with cylinders, first stages and a bailout regulator on its first unit, all sound.

Hydrostatic and visual intervals: BS EN ISO 18119:2018 guide intervals, second-hand. All else is invented.
"""

from datetime import date, timedelta
from typing import Any

from sqlalchemy import select

from fleetbench.records.core.transaction import Transaction
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType, PartTypeLife
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.units.tables import Slot
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.analyses import AnalysisEntry, record_analyses
from fleetbench.workshop.gas.fills import FillEntry, record_fills
from fleetbench.workshop.turn_rounds.handsets import record_batteries
from tests.centres.bench_centre import MANUAL
from tests.centres.kept_centres import kept
from tests.centres.ready_centre import Centre
from tests.centres.time_passes import let_pass

ROLES = {"oxygen": (3.0, 200.0), "diluent": (3.0, 232.0), "bailout": (7.0, 232.0)}
TYPES = {"oxygen": "CYL-O", "diluent": "CYL-D", "bailout": "CYL-B"}
TESTED = date(2025, 9, 1)
ASKED = {"oxygen": 100.0, "diluent": 21.0, "bailout": 21.0}
SHOWN = {"oxygen": 99.6, "diluent": 21.2, "bailout": 20.9}


class GasCentre(Centre):
    """The small centre with gas: cylinders by role in the first unit, and spares of each role."""

    @kept
    def __init__(self, workplace: Workplace, clock: Any) -> None:
        super().__init__(workplace, clock)
        self.cylinders: dict[str, int] = {}
        self.spares: dict[str, list[int]] = {role: [] for role in ROLES}
        with self.act() as act:
            self._types(act)
            for role in ROLES:
                self.cylinders[role] = self._cylinder(act, role, f"{role[0].upper()}-1")
                self._seat(act, self.cylinders[role], f"{role} cylinder")
                self.spares[role] = [self._cylinder(act, role, f"{role[0].upper()}-{n}") for n in (2, 3, 4, 5)]
            self.regulator = self._part(act, "REG-B", "RB-1")
            act.add(PartTest(part_id=self.regulator, kind="service", done_on=TESTED, passed=True, done_by="T1"))
            self._seat(act, self.regulator, "bailout regulator")
            self.diver = act.add(Person(code="R9", role="renter")).id
            act.add(PersonPrivate(person_id=self.diver, name="Petra Lohm", contact=None, note=None))

    def _types(self, act: Transaction) -> None:
        def kind(code: str, of: str, *tests: tuple[str, float]) -> PartType:
            row = act.add(PartType(code=code, name=of.capitalize(), kind=of, assembly=False, source=MANUAL))
            for test, months in tests:
                act.add(PartTypeLife(part_type_id=row.id, basis="test_interval", amount=months, unit="months",
                                     test=test, source=MANUAL))  # fmt: skip
            return row

        cylinder = (("hydrostatic", 60.0), ("visual", 30.0))
        kind("CYL-O", "oxygen cylinder", *cylinder, ("oxygen clean", 15.0))
        kind("CYL-D", "diluent cylinder", *cylinder)
        kind("CYL-B", "bailout cylinder", *cylinder)
        kind("REG-B", "bailout regulator", ("service", 12.0))
        for place, (name, of) in enumerate((("oxygen cylinder",) * 2, ("diluent cylinder",) * 2,
                                            ("bailout cylinder",) * 2, ("bailout regulator",) * 2), 10):  # fmt: skip
            act.add(Slot(unit_type_id=self.keys.centre.unit_type, name=name, kind=of, critical=False, ordinal=place,
                         oxygen_side=name == "oxygen cylinder"))  # fmt: skip

    def _part(self, act: Transaction, code: str, serial: str) -> int:
        kind = act.session.scalars(select(PartType).where(PartType.code == code)).one()
        owner = self.keys.centre.owner
        return act.add(Part(part_type_id=kind.id, serial=serial, owner_id=owner, made_on=date(2021, 3, 1))).id

    def _cylinder(self, act: Transaction, role: str, serial: str) -> int:
        part, (size, working) = self._part(act, TYPES[role], serial), ROLES[role]
        act.add(Cylinder(part_id=part, role=role, size_l=size, working_bar=working, marking=f"{role.upper()} 1"))
        kinds = ("hydrostatic", "visual", *(("oxygen clean",) if role == "oxygen" else ()))
        for test in kinds:
            act.add(PartTest(part_id=part, kind=test, done_on=TESTED, passed=True, done_by="Test house"))
        return part

    def _seat(self, act: Transaction, part: int, slot: str) -> None:
        found = act.session.scalars(select(Slot).where(Slot.name == slot)).one()
        act.add(Fitting(part_id=part, slot_id=found.id, unit_id=self.one, fitted_at=self.ago(60)))
        act.change(act.get(Part, part, "part"), state="fitted")

    def fill(self, role: str, **changed: Any) -> int:
        """A fill of the first unit's cylinder of a role."""
        working = ROLES[role][1]
        facts = {"part_id": self.cylinders[role], "oxygen_percent": ASKED[role], "start_bar": 40.0,
                 "end_bar": 0.93 * working, "batch": "B1", **changed}  # fmt: skip
        return record_fills(self.workplace, [FillEntry(**facts)])[0]

    def analyse(self, role: str, **changed: Any) -> int:
        """An analysis of the first unit's cylinder of a role."""
        facts = {"part_id": self.cylinders[role], "oxygen_percent": SHOWN[role],
                 "analyser_id": self.keys.centre.analyser, **changed}  # fmt: skip
        return record_analyses(self.workplace, [AnalysisEntry(**facts)])[0].analysis_id

    @kept
    def make_ready(self) -> None:
        """Fill and analyse all three, and read the battery, an hour apart."""
        for role in ROLES:
            self.fill(role)
        self.clock.advance(minutes=30)
        for role in ROLES:
            self.analyse(role)
        record_batteries(self.workplace, "LK-01", {"handset 1 battery": 3.9})
        self.clock.advance(minutes=30)

    def later(self, **step: float) -> None:
        """Let time pass."""
        let_pass(self.workplace, self.clock, int(step.pop("days", 0)))
        self.clock.advance(**step)

    def last(self) -> date:
        """The last day of a hire of three days."""
        return self.today + timedelta(days=2)
