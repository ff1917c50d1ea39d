"""The invented centre with units that come back from divers, an agent to disinfect with, and hands at the bench."""

from copy import copy
from dataclasses import replace
from datetime import timedelta
from typing import Any

from sqlalchemy import func, select

from fleetbench.calc.turn_rounds.card import BY_RECORD, Step
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import Journal
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.turn_rounds.tables import HandsetLook, TurnRound, TurnRoundLine
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.bench.tests import WatchedLoop, record_release, record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.turn_rounds.baths import Bathed, disinfect, enter_agent, mark_dry
from fleetbench.workshop.turn_rounds.card import line_done
from fleetbench.workshop.turn_rounds.handsets import record_batteries
from fleetbench.workshop.turn_rounds.ticks import tick_calibration
from tests.centres.hire_centre import HireCentre
from tests.centres.pins import give_pin


class TurnRoundBench:
    """Units LK-01 and LK-02, out and back as asked for."""

    def __init__(self, workplace: Workplace, clock: Any) -> None:
        self.clock = clock
        self.centre = HireCentre(workplace, clock)
        self.workplace = self.centre.workplace
        self.technician = self.centre.keys.centre.technician
        self.boss = workplace.as_person(self.centre.manager)
        give_pin(workplace, self.technician, "1357")
        self.agent = enter_agent(self.boss, "Agent A", "1 %", 10, "invented label", use_within_hours=24)
        self._codes = 0

    def moved(self, database: Database, clock: Any) -> "TurnRoundBench":
        """The same bench over a copy of its database, with a clock of its own."""
        other = copy(self)
        other.clock, other.centre = clock, copy(self.centre)
        other.centre.clock = clock
        other.workplace = other.centre.workplace = replace(self.workplace, database=database, clock=clock)
        other.boss = replace(self.boss, database=database, clock=clock)
        return other

    def rows(self, kind: type[Any]) -> list[Any]:
        """Every row of a table."""
        return self.centre.rows(kind)

    def entries(self) -> int:
        """How many journal entries there are."""
        with self.workplace.database.reading() as connection:
            return int(connection.scalar(select(func.count()).select_from(Journal)) or 0)

    def out(self, *tags: str) -> None:
        """Let units be out on a hire since an hour."""
        for tag in tags:
            self._codes += 1
            with self.workplace.transaction("write", "test") as act:
                booking = act.add(
                    Booking(kind="hire", code=f"T-{self._codes}", unit_type_id=self.centre.keys.centre.unit_type,
                            units_wanted=1, starts_on=self.centre.today, ends_on=self.centre.today,
                            renter_id=self.centre.keys.other)
                )  # fmt: skip
                act.add(
                    BookingUnit(booking_id=booking.id, unit_id=self.centre.units[tag], hand_over="kit",
                                diver_id=self.centre.keys.other, out_at=self.clock() - timedelta(hours=1))
                )  # fmt: skip

    def out_and_back(self, *tags: str, flooded: bool = False) -> None:
        """Let units come back from a hire, just now."""
        self.out(*tags)
        for tag in tags:
            receive(self.workplace, tag, wet=True, flooded=flooded, fault=False)

    def card(self, tag: str = "LK-01") -> int:
        """The key of a unit's card."""
        return max(int(row.id) for row in self.rows(TurnRound) if row.unit_id == self.centre.units[tag])

    def lines(self, tag: str = "LK-01") -> list[TurnRoundLine]:
        """The lines of a unit's card."""
        return [row for row in self.rows(TurnRoundLine) if row.turn_round_id == self.card(tag)]

    def line(self, step: Step, tag: str = "LK-01") -> TurnRoundLine:
        """The line of a step."""
        return next(row for row in self.lines(tag) if row.step == step)

    def state(self, tag: str, step: Step) -> str:
        """The state of a step's line."""
        return self.line(step, tag).state

    def tick(self, step: Step, note: str = "", tag: str = "LK-01") -> None:
        """Tick a line by hand."""
        line_done(self.workplace, self.line(step, tag).id, note)

    def bath(self, *tags: str, agent: int | None = None, **changed: Any) -> Bathed:
        """A bath of ten minutes in what was mixed an hour ago, of loops that were stripped before."""
        waiting = [tag for tag in tags if self.state(tag, Step.STRIP) == "to do"]
        for tag in waiting:
            self.tick(Step.STRIP, tag=tag)
        if waiting and "in_at" not in changed:
            self.clock.advance(minutes=changed.get("contact_minutes", 10.0))
        facts = {"mixed_at": self.clock() - timedelta(hours=1), "contact_minutes": 10.0, "rinsed": True, **changed}
        return disinfect(self.workplace, tags, agent or self.agent, **facts)

    def release(self, tag: str = "LK-01") -> None:
        """Valves and loop are tested and hold."""
        held = WatchedLoop(held=True, minutes=3)
        record_release(self.workplace, tag, inhale=True, exhale=True, negative=held, positive=held)

    def works(self, kind: str, tag: str = "LK-01") -> None:
        """A test of something that works."""
        record_test(self.workplace, tag, kind, held=True)

    def calibrate(self, tag: str) -> None:
        """A workshop calibration that passes, two hours later, with what follows from it."""
        self.clock.advance(hours=2, minutes=1)
        self.centre._calibrate(tag)
        with self.workplace.transaction("write", "test") as act:
            act.add(HandsetLook(unit_id=self.centre.units[tag], at=self.clock() - timedelta(days=400)))
            tick_calibration(act, act.get(Unit, self.centre.units[tag], "unit"))

    def looks(self) -> list[HandsetLook]:
        """Looks at handsets that say something."""
        return [row for row in self.rows(HandsetLook) if row.settings_reset is not None or row.previous_data]

    def do_everything(self, tag: str) -> None:
        """Every line in bench order, the night's drying between, leaving only what another day must bring."""
        for line in self.lines(tag):
            step = Step(line.step)
            if step is Step.DISINFECT:
                self.clock.advance(minutes=15)
                self.bath(tag)
            elif step is Step.DRY:
                self.clock.advance(hours=18)
                mark_dry(self.workplace, [tag])
            elif step is Step.TESTS:
                self.release(tag)
            elif step is Step.BATTERIES:
                record_batteries(self.workplace, tag, {"handset 1 battery": 3.9})
            elif step is Step.CALIBRATE:
                self.calibrate(tag)
            elif step not in BY_RECORD and self.state(tag, step) == "to do":
                self.tick(step, tag=tag)

    def part(self, serial: str) -> int:
        """The key of the part with this serial."""
        with self.workplace.database.reading() as connection:
            return int(connection.scalar(select(Part.id).where(Part.serial == serial)) or 0)
